"""Pictures of a run, drawn to be read at the bench: A4, colour-blind safe, units on every axis.

    write_pictures(result, folder) -> start.png, shutdown.png, throttle.png, forces.png

matplotlib is imported when a picture is drawn, not before.
"""

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sleevelift.run import Result

PICTURES = ("start.png", "shutdown.png", "throttle.png", "forces.png")
"""File names, in the order in which they answer the user."""


def write_pictures(result: "Result", folder: Path | str) -> list[Path]:
    """Write every picture of a run into `folder` (made if need be); the files, in the order of `PICTURES`.

    A picture is written beside its place and then moved there, so that a reader never meets half a file.
    """
    from sleevelift.plots.forces import write_forces
    from sleevelift.plots.style import look
    from sleevelift.plots.throttle import write_throttle
    from sleevelift.plots.transient import write_start, write_stop

    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    writers = (write_start, write_stop, write_throttle, write_forces)
    with look():
        return [write(result, folder / name) for write, name in zip(writers, PICTURES)]
