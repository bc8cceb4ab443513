"""What every command of a study does around it: load, compile, run with a progress bar, print, write, leave with a code.

Its imports stand inside functions, as in every module of a command: help must come at once.
"""

import os
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from sleevelift.command import (
    DEFAULT_FOLDER,
    EXIT_DONE,
    EXIT_FAILED,
    EXIT_INTERRUPTED,
    EXIT_UNUSABLE,
    note,
    prepare_gas,
    units_name,
)

if TYPE_CHECKING:
    from sleevelift.case.schema import Case
    from sleevelift.study.answer import Answer
    from sleevelift.study.store import Work

LINE_EVERY = 10.0
"""s. Between two lines of progress where there is no screen."""
LONG_START = 5.0
"""s. A first run that took longer has compiled; the time is told."""


@contextmanager
def working_on(what: str, folder: Path, workers: int | None, cluster: str | None) -> "Iterator[Work]":
    """How the lanes are computed, with a progress bar on the error stream."""
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    from sleevelift.report.screen import console
    from sleevelift.study.store import Work

    screen = console(error=True)
    if not screen.is_terminal:
        yield Work(folder, workers, LineProgress(what), cluster)
        return
    columns = TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn()
    with Progress(*columns, console=screen, transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield Work(folder, workers, lambda done, total: bar.update(task, completed=done, total=total), cluster)


class LineProgress:
    """Progress in lines, where there is no screen to draw a bar on."""

    def __init__(self, what: str) -> None:
        self.what, self.last = what, time.monotonic()

    def __call__(self, done: int, total: int) -> None:
        """A line now and then."""
        if time.monotonic() - self.last >= LINE_EVERY:
            self.last = time.monotonic()
            note(f"{self.what}: {done} of {total} runs")


def prepare(case: "Case") -> None:
    """Gas table and kernels ready before the bar starts. GasError where there is no such gas."""
    from sleevelift.batch import run_lane

    prepare_gas(case)
    began = time.perf_counter()
    run_lane(case, {})
    if time.perf_counter() - began > LONG_START:
        note(f"{case.name}: kernels ready after {time.perf_counter() - began:.0f} s")


def kept_text(folder: Path) -> str:
    """What is left of a study that has stopped."""
    from sleevelift.study.store import PARTS

    count = sum(1 for _ in (folder / PARTS).glob("*/*.npz"))
    if not count:
        return "nothing had been finished."
    return f"finished parts ({count}) are kept in {folder}; the same command goes on from there."


def study(
    paths: Sequence[Path], name: str, out: Path | None, make: "Callable[[list[Any], Path], Answer]", runs_too: bool = False,
    settings: Sequence[str] = (), units: str | None = None,
) -> None:  # fmt: skip
    """Load cases (and, if `runs_too`, finished runs from their folders), make one study, print, write, leave with a code.

    settings: "path=value" of each case instead of its file's. units: the reader's, likewise.
    """
    from sleevelift.case.change import with_texts
    from sleevelift.case.read import CaseError, load_case
    from sleevelift.case.schema import Case
    from sleevelift.gas_tables import GasError
    from sleevelift.report.files import NotPrinted, made_folder, remove_if_empty, safe_name, shown_path, silence_output
    from sleevelift.report.screen import WIDE, console
    from sleevelift.study.answer import deliver
    from sleevelift.study.cluster import ClusterLost
    from sleevelift.study.finished_run import read_run
    from sleevelift.study.store import leave_delivered
    from sleevelift.study.values import together

    folder = out or DEFAULT_FOLDER / f"{safe_name(paths[0].stem)}-{name}"
    code = EXIT_DONE
    made: list[Path] = []

    def loaded(path: Path) -> "Case":
        case = load_case(path, units_name(units))
        return with_texts(case, settings) if settings else case

    def entry_of(path: Path) -> Any:
        return read_run(path, units_name(units)) if runs_too and path.is_dir() else loaded(path)

    try:
        entries: list[Any] = together([partial(entry_of, path) for path in paths])
        made = made_folder(folder)
        for entry in entries:
            if isinstance(entry, Case):
                prepare(entry)
        began = time.time()
        deliver(make(entries, folder), folder, console(plain_width=WIDE))
        leave_delivered(folder, began)
    except (CaseError, GasError) as error:
        note(str(error))
        code = EXIT_UNUSABLE
    except NotPrinted as error:
        silence_output()
        note(str(error))
        code = EXIT_FAILED
    except BrokenPipeError:
        raise
    except ClusterLost as error:
        note(f"{error}; {kept_text(folder)}")
        code = EXIT_FAILED
    except OSError as error:
        inside = error.filename is None or Path(os.fsdecode(error.filename)).is_relative_to(folder)
        note(f"{shown_path(folder if inside else error.filename)}: {(error.strerror or type(error).__name__).lower()}")
        code = EXIT_UNUSABLE
    except KeyboardInterrupt:
        note(f"\nInterrupted: {kept_text(folder)}")
        code = EXIT_INTERRUPTED
    except Exception:
        note(f"Stopped by a fault of the program, told below; {kept_text(folder)}")
        raise
    finally:
        remove_if_empty(made)
    raise typer.Exit(code)
