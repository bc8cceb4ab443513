"""The command `sleevelift`.

    run CASE...   the whole transient: table on screen, result.json, traces.csv, pictures, page
    check CASE    the static answer, without a run
    cycles CASE   how many cycles the bottle holds
    size NAPKIN   a first cut: from a dozen wishes to a complete case
    new FILE      a starter case or napkin;  show CASE  every value in use;  schema  the case format for editors

Exit codes: 0 done (failed checks are findings), 1 a computation failed, 2 unusable input or output place, 3 a check
failed and --strict was given, 130 interrupted. Of several cases the worst counts, in the order 2, 1, 3, 0. Every heavy
import stands inside the command that needs it, so that help comes at once.
"""

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

import typer

if TYPE_CHECKING:
    from rich.console import Console

    from sleevelift.case.schema import Case
    from sleevelift.report.screen import Line
    from sleevelift.run import Result

EXIT_DONE, EXIT_FAILED, EXIT_UNUSABLE, EXIT_STRICT, EXIT_INTERRUPTED = 0, 1, 2, 3, 130
SEVERITY = (EXIT_DONE, EXIT_STRICT, EXIT_FAILED, EXIT_UNUSABLE)
"""Exit codes, the worst last."""
TRACEBACK_SWITCH = "SLEEVELIFT_TRACEBACK"
"""Environment variable that shows the whole traceback of a fault of the program."""
DEFAULT_FOLDER = Path("results")
LONG_COMPILATION = 5.0
"""s. A first run that took longer than this has compiled; the time is told."""
NAPKIN = "napkin"
"""Kind of `new` that is no case: what `size` begins from."""
USUAL_COMPILATION = "once, half a minute to two minutes"
"""What a first compilation takes, measured on two cores, idle and busy."""

app = typer.Typer(
    name="sleevelift",
    help="Transient simulator of a gas-lifted sleeve valve in a bipropellant injector.",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

CaseArgument = Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).", show_default=False)]
SetOption = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="PATH=VALUE",
        help='A value instead of the file\'s, such as "spring.preload=700 N" or "tube.bore=x 1.1" (a list: commas); repeatable.',
    ),
]
CasesArgument = Annotated[list[Path], typer.Argument(metavar="CASE...", help="Case files (TOML).", show_default=False)]


def note(text: str) -> None:
    """A line for the person, beside the results: on the error stream. Control characters of names are spelled out."""
    clean = "".join(letter if letter.isprintable() or letter == "\n" else f"\\x{ord(letter):02x}" for letter in text)
    print(clean, file=sys.stderr, flush=True)


def os_fault(error: OSError) -> str:
    """A fault of the operating system in words."""
    return (error.strerror or type(error).__name__).lower()


def program_fault(error: Exception) -> str:
    """A fault of the program itself in one line."""
    if os.environ.get(TRACEBACK_SWITCH):
        import traceback

        traceback.print_exc()
    frame = error.__traceback__
    while frame is not None and frame.tb_next is not None:
        frame = frame.tb_next
    place = f"{Path(frame.tb_frame.f_code.co_filename).name}:{frame.tb_lineno}" if frame is not None else "?"
    words = " ".join(str(error).split())[:200]
    return (
        f"a fault of the program, not of your input: {type(error).__name__} at {place}: {words} "
        f"({TRACEBACK_SWITCH}=1 shows everything)"
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


# ------------------------------------------------------------------------ first compilation


@contextmanager
def compiled(name: str, layout: str) -> Iterator[None]:
    """Say before a first run that kernels are compiled, and afterwards how long that took.

    layout: what is compiled together; a mark in the kernels' cache folder, which changes with every edit or update,
    tells that it has been done.
    """
    import time

    from sleevelift.jit.folder import kernel_folder

    folder = kernel_folder()
    mark = None if folder is None else folder / f"ready-{layout}"
    first = mark is None or not mark.exists()
    if first:
        note(f"{name}: compiling the kernels (first {layout} after an install or update; {USUAL_COMPILATION}) ...")
    began = time.perf_counter()
    yield
    took = time.perf_counter() - began
    if first and took > LONG_COMPILATION:
        kept = "no folder to keep them in: every start compiles" if folder is None else f"kept in {folder}"
        note(f"{name}: compiled in {took:.0f} s ({kept})")
    if first and mark is not None:
        try:
            mark.touch()
        except OSError:
            pass


def prepare_gas(case: "Case") -> None:
    """Build the gas table if there is none yet, and say so."""
    if case.gas.model == "real":
        from sleevelift.gas_tables import load_gas

        load_gas(case.gas.name, progress=lambda sentence: note(f"{case.name}: {sentence}"))


@contextmanager
def moving_line(text: str) -> Iterator[None]:
    """On a terminal's error stream a line that counts the seconds while something takes its time; wiped away at the end."""
    if not sys.stderr.isatty():
        yield
        return
    import shutil
    import threading
    import time

    width = shutil.get_terminal_size().columns - 1
    began, ended = time.monotonic(), threading.Event()

    def tell() -> None:
        while not ended.wait(0.5):
            seconds = f" {time.monotonic() - began:.0f} s"
            print("\r" + text[: width - len(seconds)] + seconds, end="", file=sys.stderr, flush=True)

    teller = threading.Thread(target=tell, daemon=True)
    teller.start()
    try:
        yield
    finally:
        ended.set()
        teller.join()
        print("\r" + " " * width + "\r", end="", file=sys.stderr, flush=True)


@contextmanager
def working(text: str) -> Iterator[None]:
    """A line that counts the seconds while something is computed on a terminal, a plain line elsewhere."""
    if not sys.stderr.isatty():
        note(text)
    with moving_line(text):
        yield


# -------------------------------------------------------------------------------------- run


class RunSettings(NamedTuple):
    """What all cases of one call share."""

    pictures: bool
    strict: bool
    timeline: bool
    end: str | None
    tolerance: float | None
    values: Sequence[str] = ()


def loaded(path: Path, values: Sequence[str] = ()) -> "Case":
    """The case of a file, with values set on the command line. CaseError where it cannot be used."""
    from sleevelift.case.read import load_case

    case = load_case(path)
    if not values:
        return case
    from sleevelift.case.change import with_texts

    return with_texts(case, values)


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


def read_time(text: str) -> float:
    """A time on the command line, s. CaseError where it is none."""
    from sleevelift.case.faults import CaseError, Fault
    from sleevelift.units import UnitError, read_quantity

    try:
        return read_quantity(text, "time", 0.0).si
    except UnitError as error:
        raise CaseError([Fault((), str(error))], f"--end {text}") from None


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
        case = with_settings(loaded(path, settings.values), settings)
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
    from sleevelift.report.files import NotPrinted, shown_path, silence_output, write_results
    from sleevelift.report.screen import Line, print_result

    with working(f"{result.case.name}: writing ..."):
        written = write_results(result, folder, pictures=settings.pictures)
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
    if result.failure is not None or result.outcome in ("failed", "left-gas-range") or written.picture_fault or not_printed:
        code = EXIT_FAILED
    if result.failure is not None:
        note(f"{result.case.name}: {result.failure}")
    m = result.measures
    line = Line(result.case.name, result.outcome, m["opening_time"], m["closing_time"], failed, code)
    return Done(line, written.files)


@app.command()
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
) -> None:  # fmt: skip
    """Run cases from the command to closed again.

    Prints opening, closing, flow, ignition, margins and checks; writes result.json, traces.csv, pictures and a page.
    """
    from sleevelift.report.files import distinct_names
    from sleevelift.report.screen import console, print_overview

    settings = RunSettings(not no_pictures, strict, timeline, end, tolerance, values or ())
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


# ----------------------------------------------------------------------------------- others


def guarded(action: Callable[[], int]) -> None:
    """Do one thing and leave with its exit code; what goes wrong becomes one clear line per fault."""
    from sleevelift.case.read import CaseError

    try:
        code = action()
    except CaseError as error:
        note(str(error))
        code = EXIT_UNUSABLE
    except BrokenPipeError:
        raise
    except OSError as error:
        if error.filename is None:
            from sleevelift.report.files import silence_output

            silence_output()
        note(f"{error.filename or 'standard output'}: {os_fault(error)}")
        code = EXIT_UNUSABLE
    except KeyboardInterrupt:
        note("\nInterrupted: nothing was written.")
        code = EXIT_INTERRUPTED
    except typer.Exit:
        raise
    except Exception as error:
        note(program_fault(error))
        code = EXIT_FAILED
    raise typer.Exit(code)


@app.command()
def check(
    case: CaseArgument,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of tables.")] = False,
    strict: Annotated[bool, typer.Option("--strict", help="Exit 3 if a margin or finding fails.")] = False,
    values: SetOption = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Also draw the half-section to scale: section.png, section.svg.")
    ] = None,
) -> None:
    """The static answer, without a run.

    Forces, margins over their ranges, throttle table, spring, seat, stored energy, each with its verdict and remedy.
    """

    def action() -> int:
        from sleevelift.gas_tables import GasError

        read = loaded(case, values or ())
        try:
            prepare_gas(read)
        except GasError as error:
            note(f"{case.name}: {error}")
            return EXIT_UNUSABLE
        with compiled(read.name, "check"), moving_line(f"{read.name}: checking ..."):
            from sleevelift.report.static import static_report

            report = static_report(read)
        if as_json:
            from sleevelift.report.files import json_text, provenance

            print(json_text({**report._asdict(), "failed": report.failed, "provenance": provenance(read)}), end="")
        else:
            from sleevelift.report.screen import console, print_static

            print_static(console(), report)
        if out is not None:
            drawn = ", ".join(path.name for path in drawing(read, out))
            note(f"Written to {out}: {drawn}")
        return EXIT_STRICT if strict and report.failed else EXIT_DONE

    guarded(action)


SHOWN_FIRST, SHOWN_LAST = 5, 10
"""Pulses of a count of cycles that are shown, from its beginning and from its end."""


@app.command("cycles")
def cycles_command(
    case: CaseArgument,
    period: Annotated[
        str | None, typer.Option("--period", metavar="TIME", help='From on to on, such as "2 s"; without it twice the pulse.')
    ] = None,
    most: Annotated[int, typer.Option("--most", min=1, max=10000, help="Cycles after which it is left at that.")] = 1000,
    values: SetOption = None,
) -> None:
    """How many cycles the bottle holds.

    The first pulse, simulated again and again until one does not open and close.
    """

    def action() -> int:
        from sleevelift.report.screen import console, heading, print_pulses
        from sleevelift.shown import origin_of
        from sleevelift.study.cycles import cycles, sentence

        read = loaded(case, values or ())
        prepare_gas(read)
        with compiled(read.name, "run"), working(f"{read.name}: running ..."):
            found = cycles(read, period=None if period is None else read_time(period), most=most)
        out = console()
        heading(out, sentence(found))
        pulses = found.pulses[:SHOWN_FIRST] + found.pulses[SHOWN_FIRST:][-SHOWN_LAST:]
        origin = origin_of(read.solenoid.on)
        print_pulses(out, pulses, f"Pulses, the first and the last (on: from {origin.words})", origin)
        return EXIT_DONE

    guarded(action)


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
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of tables.")] = False,
    values: SetOption = None,
) -> None:
    """Every value the program will use.

    As written, in SI, and whether given, default or derived.
    """

    def action() -> int:
        from sleevelift.case.show import case_rows

        read = loaded(case, values or ())
        if as_json:
            from sleevelift.report.files import json_text

            print(json_text(case_rows(read)), end="")
        else:
            from sleevelift.report.screen import WIDE, console, print_rows

            print_rows(console(plain_width=WIDE), read.name, case_rows(read))
        return EXIT_DONE

    guarded(action)


@app.command()
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Case file to write.", show_default=False)],
    kind: Annotated[str, typer.Option("--kind", help="dry, cold-flow, hot, or napkin (for size).", show_default=False)],
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there.")] = False,
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


def add_studies() -> None:
    """Register the commands of the studies and of the first cut."""
    from importlib import import_module
    from importlib.util import find_spec

    if find_spec("sleevelift.study.commands") is not None:
        import_module("sleevelift.study.commands").add_study_commands(app)
    import_module("sleevelift.size_command").add_size_command(app)


add_studies()


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
