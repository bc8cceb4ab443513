"""Pictures of a run, drawn to be read at the bench: A4, colour-blind safe, units on every axis.

    write_pictures(result, folder) -> start.png, shutdown.png, throttle.png, forces.png, section.png, section.svg

and sequence.png of a case with a sequence or run valves.

Of several pulses start and shutdown are the first's; the first pulse that behaves otherwise has two of its own
(start-pulse-4.png, shutdown-pulse-4.png).

matplotlib is imported when a picture is drawn, not before.
"""

import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from sleevelift.sequence.resolve import commanded

if TYPE_CHECKING:
    from sleevelift.result import Result

PICTURES = ("start.png", "shutdown.png", "throttle.png", "forces.png", "section.png")
"""File names, in the order in which they answer the user."""
DRAWINGS = ("section.png", "section.svg")
"""The half-section, which needs no run."""

WITH_THE_SECTION = PICTURES[3:4]
"""What is drawn beside the half-section, which takes as long as three pages."""
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


Drawn = tuple[Callable[["Result", Path], Path], "Result", str]
"""(what draws a page, of which result, file name)."""


def pages_of(result: "Result") -> list[Drawn]:
    """The pages of a run, in the order of `PICTURES`, those of a later pulse and of its sequence last."""
    from sleevelift.plots.forces import write_forces
    from sleevelift.plots.pulses import otherwise, view
    from sleevelift.plots.sequence_chart import write_sequence
    from sleevelift.plots.throttle import write_throttle
    from sleevelift.plots.transient import write_start, write_stop

    first, other = view(result, 0), otherwise(result)
    pages: list[Drawn] = [
        (write, first, name) for write, name in zip((write_start, write_stop, write_throttle, write_forces), PICTURES)
    ]
    if other is not None:
        later = view(result, other)
        pages += [
            (write, later, f"{name}-pulse-{other + 1}.png") for write, name in ((write_start, "start"), (write_stop, "shutdown"))
        ]
    told = commanded(result.case, result.sequence, result.broke_off)
    if told is not None:
        pages.append((write_sequence, result._replace(sequence=told), SEQUENCE_PICTURE))
    return pages


def write_pictures(result: "Result", folder: Path | str, *, at_once: bool = False) -> list[Path]:
    """Write every picture of a run into `folder` (made if need be); the files, in the order of `PICTURES`, a later pulse's last.

    A picture is written beside its place and then moved there, so that a reader never meets half a file. at_once: half of them in
    a copy of this process (`side_by_side`), which only a caller may ask for who has no threads at work.
    """
    from sleevelift.plots.section import write_section
    from sleevelift.plots.side_by_side import side_by_side
    from sleevelift.plots.style import look

    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    pages = pages_of(result)

    def draw(some: Iterable[Drawn]) -> None:
        with look():
            for write, what, name in some:
                write(what, folder / name)

    def draw_the_rest() -> None:
        draw(page for page in pages if page[2] in WITH_THE_SECTION)
        write_section(result.case, folder)

    def draw_most() -> None:
        draw(page for page in pages if page[2] not in WITH_THE_SECTION)

    if at_once:
        import matplotlib.backends.backend_agg  # noqa: F401 before there are two processes that would load it
        import matplotlib.backends.backend_svg  # noqa: F401
        import matplotlib.figure  # noqa: F401

        side_by_side(draw_most, draw_the_rest)
    else:
        draw_most()
        draw_the_rest()
    return [folder / name for name in (*(name for _, _, name in pages), *DRAWINGS)]
