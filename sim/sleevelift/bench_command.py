"""The command `bench-case`: a hot case's valve on a dry bench or in cold flow, as a case of its own."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sleevelift.command import EXIT_DONE, EXIT_UNUSABLE, compiled, guarded, loaded, note, os_fault, prepare_gas, working
from sleevelift.options import ForceOption, NewCaseOption, UnitsOption

if TYPE_CHECKING:
    from sleevelift.bench_case.answer import Wishes
    from sleevelift.case.schema import Case


def add_bench_command(app: typer.Typer) -> None:
    """Register `bench-case`."""
    app.command("bench-case")(bench_case)


def bench_case(
    hot: Annotated[Path, typer.Argument(metavar="HOT", help="Case file (TOML) of the hot test.", show_default=False)],
    kind: Annotated[str, typer.Option("--kind", help="dry or cold-flow.", show_default=False)],
    out: NewCaseOption,
    like: Annotated[
        str,
        typer.Option(
            "--like",
            help="Cold flow: what it keeps of the hot one: pressure-drop, reynolds, or inlet (feed pressures as they are).",
        ),
    ] = "pressure-drop",
    fluid: Annotated[
        str,
        typer.Option(
            "--fluid", help="Cold flow: liquid in place of the propellants, or an inert gas (then a dry case, flows stated)."
        ),
    ] = "Water",
    fuel_side: Annotated[
        str | None,
        typer.Option(
            "--fuel-side", metavar="PRESSURE", help='Inert gas on the fuel side, such as "20 bara"; dry: open without it.'
        ),
    ] = None,
    back_pressure: Annotated[
        str | None,
        typer.Option("--back-pressure", metavar="PRESSURE", help="Cold flow: what the liquids discharge into; ambient without it."),
    ] = None,
    margin: Annotated[
        float | None,
        typer.Option(
            "--margin", help="Least opening and full-lift margin, such as 0.1; without it the hot case's own, at most 0.1."
        ),
    ] = None,
    force: ForceOption = False,
    units: UnitsOption = None,
) -> None:
    """The bench cases of a hot case: the same valve dry, or in cold flow.

    Chooses pressures within the rated ones that the case gives, marks each changed number with its reason, and says what such a
    test can tell and what it cannot.
    """
    guarded(lambda: _written(hot, out, force, (kind, like, fluid, fuel_side, back_pressure, margin), units))


Options = tuple[str, str, str, str | None, str | None, float | None]


def _wishes(case: "Case", options: Options) -> "Wishes":
    """The options as numbers. CaseError with a line for each that is none."""
    from sleevelift.bench_case.answer import KINDS, LIKE, Wishes
    from sleevelift.bench_case.make import usual_margin
    from sleevelift.case.faults import CaseError, Fault
    from sleevelift.units import UnitError, read_quantity

    kind, like, fluid, fuel_side, back_pressure, margin = options
    faults, pressures = [], []
    for option, value, allowed in (("--kind", kind, KINDS), ("--like", like, LIKE)):
        if value not in allowed:
            faults.append(Fault((), f"{option} {value}: must be one of {', '.join(allowed)}"))
    for option, text in (("--fuel-side", fuel_side), ("--back-pressure", back_pressure)):
        try:
            pressures.append(None if text is None else read_quantity(text, "pressure", case.ambient.pressure).si)
        except UnitError as error:
            faults.append(Fault((), f"{option} {text}: {error}"))
    if margin is not None and not 0.0 <= margin <= 10.0:
        faults.append(Fault((), f"--margin {margin:g}: must be between 0 and 10 (0.1 is 10 %)"))
    if faults:
        raise CaseError(faults, "bench-case")
    least = max(case.limits.margin_at_least, 0.0) if margin is None else margin
    return Wishes(kind, usual_margin(case) if margin is None else margin, least, like, fluid, pressures[0], pressures[1])


def _written(hot: Path, out: Path, force: bool, options: Options, units: str | None) -> int:
    """The work of the command; the exit code. CaseError for unusable input."""
    from sleevelift.bench_case.make import proved, refuse, rows
    from sleevelift.bench_case.screen import compared, lines
    from sleevelift.report.files import write_text_atomically
    from sleevelift.run import simulate

    case = loaded(hot, (), units)
    text = hot.read_text(encoding="utf-8-sig")
    if out.is_dir():
        note(f"{out}: is a directory")
        return EXIT_UNUSABLE
    if (out.exists() or out.is_symlink()) and not force:
        note(f"{out}: is there already; --force replaces it")
        return EXIT_UNUSABLE
    prepare_gas(case)
    wishes = _wishes(case, options)
    refuse(case, wishes)
    with compiled(case.name, "run"), working(f"{case.name}: making its {wishes.kind} case ..."):
        answer, bench = proved(text, case, wishes)
        was = simulate(case, with_traces=False)
    for line in lines(answer, case.name, f"{wishes.kind} bench case"):
        print(line)
    sys.stdout.flush()
    if answer.text is None or bench is None:
        return EXIT_UNUSABLE
    print()
    for line in compared(rows(was, bench), (was.outcome, bench.outcome), case.reader):
        print(line)
    try:
        write_text_atomically(out, answer.text, overwrite=force)
    except FileExistsError:
        note(f"{out}: is there already; --force replaces it")
        return EXIT_UNUSABLE
    except OSError as error:
        note(f"{out}: cannot be written: {os_fault(error)}")
        return EXIT_UNUSABLE
    print(f"\nWritten: {out}. Next: sleevelift check {out}, then sleevelift run {out}")
    return EXIT_DONE
