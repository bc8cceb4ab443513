"""The command `run`: cases from the command to closed again, their numbers on screen, their results in a folder each."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

import typer

from sleevelift.command import (
    DEFAULT_FOLDER,
    EXIT_DONE,
    EXIT_FAILED,
    EXIT_INTERRUPTED,
    EXIT_STRICT,
    EXIT_UNUSABLE,
    SEVERITY,
    compiled,
    loaded,
    note,
    os_fault,
    prepare_gas,
    program_fault,
    read_time,
    working,
)
from sleevelift.options import CasesArgument, SetOption, UnitsOption

if TYPE_CHECKING:
    from rich.console import Console

    from sleevelift.case.schema import Case
    from sleevelift.report.screen import Line
    from sleevelift.result import Result


class RunSettings(NamedTuple):
    """What all cases of one call share."""

    pictures: bool
    strict: bool
    timeline: bool
    end: str | None
    tolerance: float | None
    values: Sequence[str] = ()
    units: str | None = None


def with_settings(case: "Case", settings: RunSettings) -> "Case":
    """The case with end and tolerance from the command line. CaseError where they cannot be used."""
    changes: dict[str, Any] = {}
    if settings.end is not None:
        changes["run.end"] = read_time(settings.end)
    if settings.tolerance is not None:
        changes["run.tolerance"] = settings.tolerance
    if not changes:
        return case
    from sleevelift.case.read import with_values

    return with_values(case, changes, check=True)


def computed(case: "Case") -> "Result":
    """Run a case, with a line on what is being done."""
    from sleevelift.run import simulate

    prepare_gas(case)
    with compiled(case.name, "run"), working(f"{case.name}: running ..."):
        return simulate(case)


class Done(NamedTuple):
    """One case of a call, done."""

    line: "Line"
    files: list[Path]


def run_one(path: Path, folder: Path, out: "Console", settings: RunSettings) -> Done:
    """Run one case file and write its results. Never raises but for an interrupt."""
    from sleevelift.case.read import CaseError
    from sleevelift.gas_tables import GasError
    from sleevelift.report.files import made_folder, remove_if_empty
    from sleevelift.report.screen import Line

    def refused(line: str, code: int, outcome: str) -> Done:
        note(line)
        return Done(Line(path.stem, outcome, None, None, None, code), [])

    made: list[Path] = []
    try:
        case = with_settings(loaded(path, settings.values, settings.units), settings)
        try:
            made = made_folder(folder)
        except OSError as error:
            return refused(f"{folder}: cannot be written: {os_fault(error)}", EXIT_UNUSABLE, "no place to write")
        return finished(computed(case), folder, out, settings)
    except (CaseError, GasError) as error:
        return refused(str(error), EXIT_UNUSABLE, "unusable")
    except OSError as error:
        return refused(f"{folder}: results not written: {os_fault(error)}", EXIT_FAILED, "not written")
    except Exception as error:
        return refused(f"{path.name}: {program_fault(error)}", EXIT_FAILED, "fault of the program")
    finally:
        remove_if_empty(made)


def finished(result: "Result", folder: Path, out: "Console", settings: RunSettings) -> Done:
    """Write and print one result."""
    from sleevelift.measures import UNFINISHED
    from sleevelift.report.files import NotPrinted, shown_path, silence_output
    from sleevelift.report.result_files import write_results
    from sleevelift.report.screen import Line, print_result

    with working(f"{result.case.name}: writing ..."):
        written = write_results(result, folder, pictures=settings.pictures, at_once=True)
    not_printed = None
    try:
        print_result(out, result, timeline=settings.timeline)
        out.print()
        out.print(f"Written to {shown_path(folder)}: {', '.join(path.name for path in written.files)}", markup=False)
        if written.removed:
            names = ", ".join(path.name for path in written.removed)
            out.print(f"Removed there, of an earlier run: {names}", markup=False)
    except OSError as error:
        silence_output()
        not_printed = NotPrinted(error, folder, written.files)
        note(str(not_printed))
    if written.picture_fault:
        note(f"{result.case.name}: the pictures could not be drawn: {written.picture_fault}")
    failed = sum(not check.passed for check in result.checks)
    code = EXIT_DONE
    if settings.strict and failed:
        code = EXIT_STRICT
    if result.failure is not None or result.outcome in UNFINISHED or written.picture_fault or not_printed:
        code = EXIT_FAILED
    if result.failure is not None:
        note(f"{result.case.name}: {result.failure}")
    m = result.measures
    line = Line(result.case.name, result.outcome, m["opening_time"], m["closing_time"], failed, code)
    return Done(line, written.files)


def run(
    cases: CasesArgument,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="DIR",
            help="Where results go: DIR for one case, DIR/<case> for several. Without it: results/<case>.",
        ),
    ] = None,
    no_pictures: Annotated[bool, typer.Option("--no-pictures", help="Numbers only: no pictures, no page.")] = False,
    strict: Annotated[bool, typer.Option("--strict", help="Exit 3 if a check fails.")] = False,
    timeline: Annotated[bool, typer.Option("--timeline", help="Also print what happened, instant by instant.")] = False,
    end: Annotated[
        str | None, typer.Option("--end", metavar="TIME", help='End of the run, with its unit, such as "0.5 s".')
    ] = None,
    tolerance: Annotated[
        float | None, typer.Option("--tolerance", help="Relative tolerance of a step instead of the case's.")
    ] = None,
    values: SetOption = None,
    units: UnitsOption = None,
) -> None:  # fmt: skip
    """Run cases from the command to closed again.

    Prints opening, closing, flow, ignition, margins and checks; writes result.json, traces.csv, pictures and a page.
    """
    from sleevelift.report.files import distinct_names
    from sleevelift.report.screen import console, print_overview

    settings = RunSettings(not no_pictures, strict, timeline, end, tolerance, values or (), units)
    screen = console()
    folders = [(out or DEFAULT_FOLDER) / name for name in distinct_names([path.stem for path in cases])]
    if out is not None and len(cases) == 1:
        folders = [out]
    done: list[Done] = []
    try:
        for path, folder in zip(cases, folders):
            done.append(run_one(path, folder, screen, settings))
    except KeyboardInterrupt:
        interrupted(cases, done)
    if len(cases) > 1:
        print_overview(screen, [one.line for one in done])
    raise typer.Exit(max((one.line.exit_code for one in done), key=SEVERITY.index))


def interrupted(cases: list[Path], done: list[Done]) -> None:
    """Say what an interrupt left, and leave."""
    kept = ", ".join(str(one.files[0].parent) for one in done if one.files)
    left = ", ".join(path.name for path in cases[len(done) :])
    words = f"results are whole in {kept}" if kept else "no results were written"
    note(f"\nInterrupted: {words}; not done: {left}. No half-written file was left.")
    raise typer.Exit(EXIT_INTERRUPTED)
