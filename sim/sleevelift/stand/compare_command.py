"""The command `compare`: cases or finished runs side by side, or a measured trace over the band of its case."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sleevelift.command import EXIT_UNUSABLE, note
from sleevelift.options import (
    BarometerOption,
    ClusterOption,
    OutOption,
    SeedOption,
    SetOption,
    SkipBadOption,
    UnitsOption,
    WorkersOption,
)
from sleevelift.study.commands import compare_command
from sleevelift.study.shell import study, working_on

if TYPE_CHECKING:
    from sleevelift.case.schema import Case
    from sleevelift.study.answer import Answer

TRACE_ENDS = (".csv", ".txt", ".tsv", ".dat")
"""How the names of measured files end."""


def compare(
    entries: Annotated[
        list[Path],
        typer.Argument(
            metavar="CASE CASE... | CASE TRACE.csv", help="Cases (TOML) or folders that runs left; or a case and a trace.",
            show_default=False,
        ),
    ],
    column: Annotated[
        list[str] | None,
        typer.Option("--column", metavar="COLUMN=QUANTITY", help='Of a trace: "PT-3 [psig]=lift_chamber_pressure"; repeatable.'),
    ] = None,
    barometer: BarometerOption = None,
    lag: Annotated[
        list[str] | None,
        typer.Option("--lag", metavar="CHANNEL=TIME", help='Lag that a sensor may have: "lift=0.2 ms"; else 1 ms.'),
    ] = None,
    skip_bad: SkipBadOption = False,
    n: Annotated[int, typer.Option("--n", help="Runs over the case's ranges, for the band.")] = 400,
    seed: SeedOption = 0,
    settings: SetOption = None,
    units: UnitsOption = None,
    out: OutOption = None,
    workers: WorkersOption = None,
    cluster: ClusterOption = None,
) -> None:  # fmt: skip
    """Cases or runs side by side; or a measured trace over the simulated band: what left it, and when."""
    traces = [path for path in entries if path.suffix.lower() in TRACE_ENDS]
    if not traces:
        compare_command(entries, settings, units, out, workers, cluster)
        return
    cases = [path for path in entries if path not in traces]
    if len(cases) != 1 or len(traces) != 1:
        note(f"compare: takes cases, or one case and one measured trace; given are {len(cases)} cases and {len(traces)} traces")
        raise typer.Exit(EXIT_UNUSABLE)

    def make(read: "list[Case]", folder: Path) -> "Answer":
        from sleevelift.calibrate.command import sensor_numbers, tests_of
        from sleevelift.calibrate.data import Settings
        from sleevelift.stand.bands import bands_of
        from sleevelift.stand.overlay import overlaid
        from sleevelift.stand.overlay_answer import overlay_answer

        lags = sensor_numbers(read[0], lag or [], "--lag")
        (test,) = tests_of([(cases[0], traces)], read, column or [], barometer, skip_bad, [], Settings())
        with working_on("compare", folder, workers, cluster) as work:
            return overlay_answer(overlaid(bands_of(test.case, n, seed, work), test, lags))

    study(cases, "compare", out, make, settings=settings or (), units=units)
