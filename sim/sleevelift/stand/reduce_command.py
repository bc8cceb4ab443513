"""The command `reduce`: a cold flow gives the effective areas over lift, as tables and coefficients that a case takes."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sleevelift.options import BarometerOption, FolderOrCaseOption, SetOption, SkipBadOption, UnitsOption
from sleevelift.study.commands import seconds
from sleevelift.study.shell import study

if TYPE_CHECKING:
    from sleevelift.case.schema import Case
    from sleevelift.stand.coefficients import Table
    from sleevelift.stand.reduction import Errors
    from sleevelift.study.answer import Answer


def errors_of(flow: str, pressure: str, lift: str, settle: str) -> "Errors":
    """The instruments' errors of the options. CaseError with a line for each that is none."""
    from sleevelift.stand.reduction import Errors
    from sleevelift.study.values import refused, together
    from sleevelift.units import UnitError, read_quantity

    def share() -> float:
        number = flow.strip().removesuffix("%").strip()
        try:
            value = float(number) / (100.0 if flow.strip().endswith("%") else 1.0)
        except ValueError:
            value = -1.0
        if not 0.0 < value < 1.0:
            raise refused(f"--flow-error {flow}", 'must be a share of the reading, such as "1 %"')
        return value

    def quantity(text: str, kind: str, option: str) -> float:
        try:
            value = read_quantity(text, kind).si
        except UnitError as error:
            raise refused(f"{option} {text}", str(error)) from None
        if not value > 0.0:
            raise refused(f"{option} {text}", "must be above 0: no instrument is exact")
        return value

    def window() -> float:
        value = seconds(settle, "--settle")
        if not value:
            raise refused(f"--settle {settle}", "must be above 0 s")
        return value

    calls: list[Callable[[], Any]] = [share, partial(quantity, pressure, "pressure difference", "--pressure-error"),
             partial(quantity, lift, "length", "--lift-error"), window]  # fmt: skip
    return Errors(*together(calls))


def write_case(out: Path, file: Path, case: "Case", tables: "dict[str, Table]", why: str) -> str:
    """Write a case with the tables. CaseError where there is none to write, FileExistsError where the file is there."""
    from sleevelift.report.files import write_text_atomically
    from sleevelift.stand.reduced_case import with_tables
    from sleevelift.study.values import refused

    if not tables:
        raise refused(f"--out {out}", "no side was held at lifts enough for a table; the coefficients are on the screen")
    if case.changes:
        raise refused(f"--out {out}", "takes no --set: set the values in the file that is written")
    write_text_atomically(out, with_tables(file.read_text("utf-8-sig"), case.name, tables, why), overwrite=False)
    return f"Written: {out}, {case.name} with measured tables for {' and '.join(tables)}."


def reduce(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Cold-flow case (TOML) of the test.", show_default=False)],
    trace: Annotated[Path, typer.Argument(metavar="TRACE.csv", help="Measured flow, pressures and lift.", show_default=False)],
    hot: Annotated[
        Path | None, typer.Option("--for", metavar="HOT.toml", help="Hot case: what carries over to it; --out writes into it.")
    ] = None,
    flow_error: Annotated[str, typer.Option("--flow-error", help="Of the flow meters, 95 %, of the reading (guess).")] = "1 %",
    pressure_error: Annotated[str, typer.Option("--pressure-error", help="Of a drop, 95 % (guess).")] = "0.1 bar",
    lift_error: Annotated[str, typer.Option("--lift-error", help="Of the lift, 95 % (guess).")] = "0.01 mm",
    settle: Annotated[str, typer.Option("--settle", help="What the slowest instrument takes to settle.")] = "50 ms",
    column: Annotated[
        list[str] | None,
        typer.Option("--column", metavar="COLUMN=QUANTITY", help='"FM-1 [kg/s]=oxidizer_line_flow"; repeatable.'),
    ] = None,
    barometer: BarometerOption = None,
    skip_bad: SkipBadOption = False,
    settings: SetOption = None,
    units: UnitsOption = None,
    out: FolderOrCaseOption = None,
) -> None:
    """Reduce a cold flow: effective area of slots and seat over lift, with intervals, as a table the case takes."""
    file = out if out is not None and out.suffix == ".toml" else None
    paths = [case] if hot is None else [case, hot]

    def make(read: "list[Case]", folder: Path) -> "Answer":
        from sleevelift.calibrate.command import gauge_from, reading
        from sleevelift.stand.reduce_answer import reduce_answer, reduction_of
        from sleevelift.stand.reduction import reduced
        from sleevelift.study.values import refused, together

        cold, into = read[0], read[1] if len(read) > 1 else None

        def is_hot() -> Any:
            if into is not None and into.case.kind != "hot":
                raise refused(f"--for {hot}", f"is a {into.case.kind} case; a hot one is asked for")
            return into

        errors, *_ = together(
            [partial(errors_of, flow_error, pressure_error, lift_error, settle), partial(gauge_from, cold, barometer), is_hot]
        )
        measured = reading(trace, cold, column or [], barometer, skip_bad)
        found = reduction_of(cold, into, measured.name, errors, reduced(cold, measured, errors), measured.notes)
        answer = reduce_answer(found)
        if file is not None:
            target = (case, cold) if hot is None or into is None else (hot, into)
            answer.notes.insert(0, write_case(file, *target, found.tables, f"measured in {measured.name}"))
        return answer

    study(paths, "reduce", None if file is not None else out, make, settings=settings or (), units=units)
