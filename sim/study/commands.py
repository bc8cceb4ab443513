"""Commands of the studies. Each prints its one-sentence answer first, then tables; --out DIR also writes CSV, JSON and picture.

Studies kept in a folder go on where they stopped when called again. Seeds are printed; results do not depend on the
number of workers.
"""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sim.study.shell import study, working_on

if TYPE_CHECKING:
    from sim.case.schema import Case
    from sim.study.answer import Answer

CaseArgument = Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).", show_default=False)]
OutOption = Annotated[
    Path | None,
    typer.Option(
        "--out", metavar="DIR", help="Folder for CSV, JSON, picture and finished chunks. Without it: results/<case>-<study>."
    ),
]
WorkersOption = Annotated[int | None, typer.Option("--workers", min=1, max=1024, help="Threads; all cores without it.")]
ClusterOption = Annotated[str | None, typer.Option("--cluster", metavar="ADDRESS", help="Address of a Dask scheduler.")]
SeedOption = Annotated[int, typer.Option("--seed", min=0, help="Seed of the random points.")]


def map_command(
    case: CaseArgument,
    vary: Annotated[
        list[str],
        typer.Option("--vary", metavar="PATH=LOW:HIGH:N", help="A value and its range, or PATH=drills:LOW:HIGH. Once or twice."),
    ],
    of: Annotated[list[str] | None, typer.Option("--of", metavar="MEASURE", help="Measure to show; repeatable.")] = None,
    out: OutOption = None,
    workers: WorkersOption = None,
    cluster: ClusterOption = None,
) -> None:
    """Map measures over one or two values of the case: curves or contours, failing regions hatched."""

    def make(cases: "list[Case]", folder: Path) -> "Answer":
        from sim.study.map import map_study
        from sim.study.values import axis_of, known_measures

        read = cases[0]
        axes = [axis_of(read, text) for text in vary]
        measures = known_measures(of or ["opening_time"], "--of")
        with working_on("map", folder, workers, cluster) as work:
            return map_study(read, axes, measures, work)

    study([case], "map", out, make)


COMMANDS: dict[str, Callable[..., Any]] = {"map": map_command}


def add_study_commands(app: typer.Typer) -> None:
    """Register the commands."""
    for name, command in COMMANDS.items():
        app.command(name)(command)
