"""The command `sleevelift`.

    run CASE...   the whole transient: table on screen, result.json, traces.csv, pictures, page
    check CASE    the static answer, without a run
    cycles CASE   how many cycles the bottle holds
    size NAPKIN   a first cut: from a dozen wishes to a complete case
    bench-case HOT  the same valve dry or in cold flow, as a case of its own
    new FILE      a starter case or napkin;  show CASE  every value in use;  schema  the case format for editors

Exit codes: 0 done (failed checks are findings), 1 a computation failed, 2 unusable input or output place, 3 a check
failed and --strict was given, 130 interrupted. Of several cases the worst counts, in the order 2, 1, 3, 0. Every heavy
import stands inside the command that needs it, so that help comes at once.
"""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sleevelift.bench_command import add_bench_command
from sleevelift.calibrate.command import add_fit_command
from sleevelift.command import (
    EXIT_DONE,
    EXIT_INTERRUPTED,
    EXIT_STRICT,
    EXIT_UNUSABLE,
    compiled,
    guarded,
    loaded,
    moving_line,
    note,
    os_fault,
    prepare_gas,
)
from sleevelift.cycles_command import cycles_command
from sleevelift.options import CaseArgument, ForceOption, JsonOption, SetOption, UnitsOption
from sleevelift.run_command import run
from sleevelift.size_command import add_size_command
from sleevelift.stand.commands import add_stand_commands
from sleevelift.study.commands import add_study_commands

if TYPE_CHECKING:
    from sleevelift.case.schema import Case

NAPKIN = "napkin"
"""Kind of `new` that is no case: what `size` begins from."""
app = typer.Typer(
    name="sleevelift",
    help="Transient simulator of a gas-lifted sleeve valve in a bipropellant injector.",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def printed_version(wanted: bool) -> None:
    """Print the version and leave."""
    if wanted:
        import sleevelift

        print(f"sleevelift {sleevelift.__version__}")
        raise typer.Exit()


@app.callback()
def common(
    version: Annotated[bool, typer.Option("--version", help="Print the version.", callback=printed_version, is_eager=True)] = False,
) -> None:
    """Transient simulator of a gas-lifted sleeve valve in a bipropellant injector."""


app.command()(run)


@app.command()
def check(
    case: CaseArgument,
    as_json: JsonOption = False,
    strict: Annotated[bool, typer.Option("--strict", help="Exit 3 if a margin or finding fails.")] = False,
    values: SetOption = None,
    units: UnitsOption = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Also draw the half-section to scale: section.png, section.svg.")
    ] = None,
) -> None:
    """The static answer, without a run.

    Forces, margins over their ranges, throttle table, spring, seat, stored energy, each with its verdict and remedy.
    """

    def action() -> int:
        from sleevelift.gas_tables import GasError

        read = loaded(case, values or (), units)
        try:
            prepare_gas(read)
        except GasError as error:
            note(f"{case.name}: {error}")
            return EXIT_UNUSABLE
        with compiled(read.name, "check"), moving_line(f"{read.name}: checking ..."):
            from sleevelift.static_answer.answer import static_report

            report = static_report(read.read_in("metric") if as_json else read)
        if as_json:
            from sleevelift.report.files import NUMBERS, json_text, provenance

            print(
                json_text({"numbers": NUMBERS, **report._asdict(), "failed": report.failed, "provenance": provenance(read)}), end=""
            )
        else:
            from sleevelift.report.screen import console
            from sleevelift.report.static_screen import print_static

            print_static(console(), report, read.reader)
        if out is not None:
            drawn = ", ".join(path.name for path in drawing(read, out))
            note(f"Written to {out}: {drawn}")
        return EXIT_STRICT if strict and report.failed else EXIT_DONE

    guarded(action)


app.command("cycles")(cycles_command)


def drawing(case: "Case", folder: Path) -> list[Path]:
    """The half-section, drawn into a folder; OSError where it cannot be written."""
    from sleevelift.plots.section import write_section
    from sleevelift.report.files import made_folder, staged

    made_folder(folder)
    with staged(folder) as stage:
        return [folder / path.name for path in write_section(case, stage)]


@app.command()
def show(
    case: CaseArgument,
    as_json: JsonOption = False,
    unsure: Annotated[
        bool, typer.Option("--unsure", help="Only what is seldom known: value or default in use, usual range, source.")
    ] = False,
    values: SetOption = None,
    units: UnitsOption = None,
) -> None:
    """Every value the program will use.

    As written, in SI, and whether given, default or derived.
    """

    def action() -> int:
        from sleevelift.case.show import case_rows

        read = loaded(case, values or (), units)
        if unsure:
            from sleevelift.report.unsure import print_unsure

            print_unsure(read, as_json)
        elif as_json:
            from sleevelift.report.files import json_text

            print(json_text(case_rows(read.read_in("metric"))), end="")
        else:
            from sleevelift.report.screen import WIDE, console, print_rows

            print_rows(console(plain_width=WIDE), read.name, case_rows(read), read)
        return EXIT_DONE

    guarded(action)


@app.command()
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Case file to write.", show_default=False)],
    kind: Annotated[str, typer.Option("--kind", help="dry, cold-flow, hot, or napkin (for size).", show_default=False)],
    force: ForceOption = False,
) -> None:
    """Write a commented starter case that runs as it is, or a napkin to size one from."""

    def action() -> int:
        from sleevelift.case.cautions import CAUTION
        from sleevelift.case.starter import KINDS, starter_case
        from sleevelift.report.files import write_text_atomically

        if kind not in (*KINDS, NAPKIN):
            note(f"--kind {kind}: must be one of {', '.join((*KINDS, NAPKIN))}")
            return EXIT_UNUSABLE
        if kind == NAPKIN:
            from sleevelift.first_cut.napkin import STARTER as text
        else:
            text = starter_case(kind)
        if file.is_dir():
            note(f"{file}: is a directory")
            return EXIT_UNUSABLE
        try:
            write_text_atomically(file, text, overwrite=force)
        except FileExistsError:
            note(f"{file}: is there already; --force replaces it")
            return EXIT_UNUSABLE
        except OSError as error:
            note(f"{file}: cannot be written: {os_fault(error)}")
            return EXIT_UNUSABLE
        following = f"size {file} --out CASE.toml" if kind == NAPKIN else f"check {file}, then sleevelift run {file}"
        print(f"Written: {file}. Next: sleevelift {following}")
        print(CAUTION)
        return EXIT_DONE

    guarded(action)


@app.command()
def schema() -> None:
    """Print the JSON Schema of the case file (for editors)."""

    def action() -> int:
        from sleevelift.case.json_schema import case_json_schema
        from sleevelift.report.files import json_text

        print(json_text(case_json_schema()), end="")
        return EXIT_DONE

    guarded(action)


add_study_commands(app)
add_size_command(app)
add_fit_command(app)
add_bench_command(app)
add_stand_commands(app)


def main() -> None:
    """Entry point of the command."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")
    try:
        app()
    except KeyboardInterrupt:
        note("\nInterrupted.")
        sys.exit(EXIT_INTERRUPTED)


if __name__ == "__main__":
    main()
