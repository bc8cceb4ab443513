"""Arguments and options that several commands take: one name, one meaning and one help text each."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class Units(StrEnum):
    """What `--units` takes."""

    METRIC = "metric"
    INCH = "inch"


CaseArgument = Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).", show_default=False)]
CasesArgument = Annotated[list[Path], typer.Argument(metavar="CASE...", help="Case files (TOML).", show_default=False)]
SetOption = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="PATH=VALUE",
        help='A value instead of the file\'s, such as "spring.preload=700 N" or "tube.bore=x 1.1" (a list: commas); repeatable.',
    ),
]
UnitsOption = Annotated[
    Units | None,
    typer.Option(
        "--units",
        help="Units of what is shown and of CSV files, instead of the case's own [case] units; JSON stays SI.",
        show_default=False,
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON instead of tables.")]
ForceOption = Annotated[bool, typer.Option("--force", help="Replace a file that is there.")]
NewCaseOption = Annotated[Path, typer.Option("--out", metavar="CASE", help="Case file to write.", show_default=False)]
OutOption = Annotated[
    Path | None,
    typer.Option(
        "--out", metavar="DIR", help="Folder for CSV, JSON, picture and finished chunks. Without it: results/<case>-<study>."
    ),
]
FolderOrCaseOption = Annotated[
    Path | None, typer.Option("--out", metavar="DIR|CASE.toml", help="Folder for CSV, JSON and picture; or the case to write.")
]
WorkersOption = Annotated[int | None, typer.Option("--workers", min=1, max=1024, help="Threads; all cores without it.")]
ClusterOption = Annotated[
    str | None,
    typer.Option(
        "--cluster", metavar="ADDRESS", help="Dask scheduler, tcp://host:8786. Only one that you trust: it passes code (pickles)."
    ),
]
SeedOption = Annotated[int, typer.Option("--seed", min=0, help="Seed of the random points.")]
IgniterScatterOption = Annotated[str, typer.Option("--igniter-scatter", metavar="TIME", help="Of light-off, either way.")]
DetectionDelayOption = Annotated[str, typer.Option("--detection-delay", metavar="TIME", help="No light to off command.")]
BarometerOption = Annotated[
    str | None, typer.Option("--barometer", help="What gauge pressures count from; else [trace] barometer, else ambient.")
]
SkipBadOption = Annotated[bool, typer.Option("--skip-bad", help="Cells that are no number are gaps instead of faults.")]
