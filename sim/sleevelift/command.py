"""What the commands share: exit codes, lines for the person, a moving line, what goes wrong as one line per fault.

Imports stand inside functions here and in every module of a command: help and version must come without the numerical libraries,
which take longer to load than they do.
"""

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from sleevelift.case.schema import Case
    from sleevelift.reader import UnitsName

EXIT_DONE, EXIT_FAILED, EXIT_UNUSABLE, EXIT_STRICT, EXIT_INTERRUPTED = 0, 1, 2, 3, 130
SEVERITY = (EXIT_DONE, EXIT_STRICT, EXIT_FAILED, EXIT_UNUSABLE)
"""Exit codes, the worst last."""
TRACEBACK_SWITCH = "SLEEVELIFT_TRACEBACK"
"""Environment variable that shows the whole traceback of a fault of the program."""
DEFAULT_FOLDER = Path("results")
LONG_COMPILATION = 5.0
"""s. A first run that took longer than this has compiled; the time is told."""
USUAL_COMPILATION = "once, half a minute to two minutes"
"""What a first compilation takes, measured on two cores, idle and busy."""


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
        note(f"{name}: compiling the kernels for the first {layout} after an install or update")
        note(f"{name}: {USUAL_COMPILATION} ...")
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


def loaded(path: Path, values: Sequence[str] = (), units: str | None = None) -> "Case":
    """The case of a file, with values and the reader's units set on the command line. CaseError where it cannot be used."""
    from sleevelift.case.read import load_case

    case = load_case(path, units_name(units))
    if not values:
        return case
    from sleevelift.case.change import with_texts

    return with_texts(case, values)


def units_name(text: str | None) -> "UnitsName | None":
    """The units of `--units`; None: those of the case."""
    return None if text is None else "inch" if text == "inch" else "metric"


def read_time(text: str) -> float:
    """A time on the command line, s. CaseError where it is none."""
    from sleevelift.case.faults import CaseError, Fault
    from sleevelift.units import UnitError, read_quantity

    try:
        return read_quantity(text, "time", 0.0).si
    except UnitError as error:
        raise CaseError([Fault((), str(error))], f"--end {text}") from None


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
