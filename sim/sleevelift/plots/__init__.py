"""Pictures of a run, drawn to be read at the bench: A4, colour-blind safe, units on every axis.

    write_pictures(result, folder) -> start.png, shutdown.png, throttle.png, forces.png, section.png, section.svg

and sequence.png of a case with a sequence or run valves.

Of several pulses start and shutdown are the first's; the first pulse that behaves otherwise has two of its own
(start-pulse-4.png, shutdown-pulse-4.png).

matplotlib is imported when a picture is drawn, not before.
"""

import re
from pathlib import Path
from typing import TYPE_CHECKING

from sleevelift.sequence.resolve import commanded

if TYPE_CHECKING:
    from sleevelift.result import Result

PICTURES = ("start.png", "shutdown.png", "throttle.png", "forces.png", "section.png")
"""File names, in the order in which they answer the user."""
DRAWINGS = ("section.png", "section.svg")
"""The half-section, which needs no run."""


SEQUENCE_PICTURE = "sequence.png"
"""File name of the chart of a sequence, of a case that has one."""
OF_A_PULSE = re.compile(r"(start|shutdown)-pulse-(\d+)\.png")
"""File names of the pictures of a later pulse."""


def pictures_in(folder: Path) -> list[str]:
    """File names of the pictures of a run that stand in a folder, in the order in which they answer the user."""
    if not folder.is_dir():
        return []
    names = [path.name for path in folder.iterdir()]
    later = sorted(name for name in names if OF_A_PULSE.fullmatch(name))
    order = (*PICTURES[:2], *sorted(later, key=lambda n: n[:2] == "sh"), SEQUENCE_PICTURE, *PICTURES[2:])
    return [name for name in order if name in names]


def write_pictures(result: "Result", folder: Path | str) -> list[Path]:
    """Write every picture of a run into `folder` (made if need be); the files, in the order of `PICTURES`, a later pulse's last.

    A picture is written beside its place and then moved there, so that a reader never meets half a file.
    """
    from sleevelift.plots.forces import write_forces
    from sleevelift.plots.pulses import otherwise, view
    from sleevelift.plots.section import write_section
    from sleevelift.plots.style import look
    from sleevelift.plots.throttle import write_throttle
    from sleevelift.plots.transient import write_start, write_stop

    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    writers = (write_start, write_stop, write_throttle, write_forces)
    first = view(result, 0)
    other = otherwise(result)
    with look():
        written = [write(first, folder / name) for write, name in zip(writers, PICTURES)]
        if other is not None:
            later = view(result, other)
            for write, name in zip(writers[:2], ("start", "shutdown")):
                written.append(write(later, folder / f"{name}-pulse-{other + 1}.png"))
        told = commanded(result.case, result.sequence, result.broke_off)
        if told is not None:
            from sleevelift.plots.sequence_chart import write_sequence

            written.append(write_sequence(result._replace(sequence=told), folder / SEQUENCE_PICTURE))
    return written + write_section(result.case, folder)
