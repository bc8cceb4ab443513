"""Files written whole or not at all, names for them, JSON, and where a result comes from.

    content -> staged in a hidden folder beside the target -> one rename per file

A full disk, an interrupt or a fault while drawing therefore leaves an older set of files as it was. JSON holds no NaN
and no infinity (null stands there), so that any reader takes it; file names never come unchecked from a case's text.
"""

import contextlib
import json
import math
import os
import platform
import re
import secrets
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Protocol

LIBRARIES = ("numpy", "scipy", "numba", "llvmlite", "CoolProp", "pydantic", "pint", "matplotlib", "typer", "rich")
"""Libraries whose versions are stated with a result."""
LONGEST_NAME = 80
"""letters of a file name made from a case's name; file systems take 255 bytes."""
RESERVED = frozenset({"con", "prn", "aux", "nul", *(f"{port}{i}" for port in ("com", "lpt") for i in range(10))})
"""Names that are devices on Windows, whatever follows the first point."""
NUMBERS = "SI (m, kg, s, K, N, Pa absolute) where no unit stands beside a number; sentences are in the reader's units"
"""What JSON says of its numbers."""
RESULT_FILE, TRACES_FILE, PAGE_FILE, PULSES_FILE = "result.json", "traces.csv", "report.html", "pulses.csv"


def safe_name(text: str) -> str:
    """A file name from any text: letters, digits, `-`, `_`, inner points; never empty, hidden, a device or a path."""
    kept = re.sub(r"[^A-Za-z0-9._-]+", "_", text)[:LONGEST_NAME].strip("._-")
    if not kept:
        return "case"
    return f"case_{kept}" if kept.split(".")[0].lower() in RESERVED else kept


def distinct_names(names: Sequence[str]) -> list[str]:
    """A file name per case name, in order, none given twice: x, x-2, x-3 (case of letters does not count)."""
    taken: set[str] = set()
    out = []
    for name in names:
        base = safe_name(name)
        candidate, number = base, 1
        while candidate.lower() in taken:
            number += 1
            candidate = f"{base}-{number}"
        taken.add(candidate.lower())
        out.append(candidate)
    return out


def write_bytes_atomically(path: Path, content: bytes, *, overwrite: bool = True) -> None:
    """Write a file whole or not at all. OSError where that cannot be; FileExistsError where it is there already."""
    temporary = path.parent / f".{secrets.token_hex(8)}.tmp"
    try:
        with open(temporary, "xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if overwrite:
            os.replace(temporary, path)
        else:
            _place_new(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)


def _place_new(temporary: Path, path: Path) -> None:
    """Give a finished file its name unless that is taken; a hard link decides it in one step where there are links."""
    try:
        os.link(temporary, path)
    except FileExistsError:
        raise
    except OSError:
        if path.exists() or path.is_symlink():
            raise FileExistsError(17, "File exists", str(path)) from None
        os.replace(temporary, path)


def write_text_atomically(path: Path, text: str, *, overwrite: bool = True) -> None:
    """Write a text in UTF-8 whole or not at all; see `write_bytes_atomically`."""
    write_bytes_atomically(path, text.encode("utf-8"), overwrite=overwrite)


UNFINISHED = ".unfinished-"
"""Begin of the name of a hidden folder in which files are made."""
JUST_MADE = 10.0
"""s. So young a hidden folder may not be held yet by the process that made it."""


def _held(stage: Path) -> int | None:
    """A handle that holds a folder against other processes until it is closed, or the process ends however it does; None where
    it is held already, or there are no such locks."""
    try:
        import fcntl

        handle = os.open(stage, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    except (ImportError, AttributeError, OSError):
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        return None
    return handle


def remove_abandoned(folder: Path) -> None:
    """Take away hidden folders that a killed run left in `folder`: those that no process holds."""
    for stage in folder.glob(f"{UNFINISHED}*"):
        with contextlib.suppress(OSError):
            if time.time() - stage.lstat().st_mtime < JUST_MADE or (handle := _held(stage)) is None:
                continue
            shutil.rmtree(stage, ignore_errors=True)
            os.close(handle)


@contextlib.contextmanager
def staged(folder: Path) -> Iterator[Path]:
    """A hidden folder in `folder`: what is in it when the block ends well moves into `folder`, else it is removed."""
    remove_abandoned(folder)
    stage = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=folder))
    handle = _held(stage)
    try:
        yield stage
        for path in sorted(stage.iterdir()):
            os.replace(path, folder / path.name)
    finally:
        shutil.rmtree(stage, ignore_errors=True)
        if handle is not None:
            os.close(handle)


class NotPrinted(Exception):
    """Standard output did not take what was to be printed; `files` are those that were written before."""

    def __init__(self, error: OSError, folder: Path | None, files: Sequence[Path]) -> None:
        self.files = list(files)
        why = f"it could not be printed: {(error.strerror or type(error).__name__).lower()}"
        done = f"{shown_path(folder)}: results are written ({', '.join(path.name for path in files)}); " if files else ""
        super().__init__(done + why)


def silence_output() -> None:
    """Send what is still to be printed nowhere, after standard output has failed once."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def shown_path(path: Any) -> str:
    """A path as it may stand on a screen: control characters and line breaks spelled out."""
    return "".join(letter if letter.isprintable() else f"\\x{ord(letter):02x}" for letter in str(path))


def made_folder(folder: Path) -> list[Path]:
    """Make a folder and its parents and prove that it can be written; the folders that were made, deepest first.

    OSError where it cannot be made or written.
    """
    missing = []
    here = folder
    while not here.exists() and here != here.parent:
        missing.append(here)
        here = here.parent
    folder.mkdir(parents=True, exist_ok=True)
    try:
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError:
        remove_if_empty(missing)
        raise
    return missing


def remove_if_empty(folders: Sequence[Path]) -> None:
    """Take away folders that this program made and has put nothing in, deepest first."""
    for folder in folders:
        with contextlib.suppress(OSError):
            folder.rmdir()


def jsonable(value: Any) -> Any:
    """The value as JSON can hold it: numpy numbers as numbers, NaN and infinity as null, named tuples as tables."""
    if value is None or isinstance(value, bool | str | int):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if hasattr(value, "_asdict"):
        return {key: jsonable(part) for key, part in value._asdict().items()}
    if isinstance(value, Mapping):
        return {str(key): jsonable(part) for key, part in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [jsonable(part) for part in value]
    if hasattr(value, "tolist"):
        return jsonable(value.tolist())
    return str(value)


def json_text(value: Any) -> str:
    """JSON in plain ASCII, two blanks of indent, closed by a line end."""
    return json.dumps(jsonable(value), indent=2, allow_nan=False) + "\n"


def library_versions() -> dict[str, str]:
    """Version of each library in use; a missing one is left out."""
    from importlib.metadata import PackageNotFoundError, version

    out = {}
    for name in LIBRARIES:
        with contextlib.suppress(PackageNotFoundError):
            out[name] = version(name)
    return out


class Known(Protocol):
    """What a result's origin is told from: a case, or a run that was finished before."""

    @property
    def name(self) -> str: ...
    @property
    def sha256(self) -> str: ...
    @property
    def changes(self) -> Mapping[str, Any]: ...


def provenance(case: Known) -> dict[str, Any]:
    """Where a result comes from: program, libraries, machine, case, date."""
    import sleevelift

    return {
        "program": "sleevelift",
        "version": sleevelift.__version__,
        "libraries": library_versions(),
        "python": platform.python_version(),
        "platform": f"{platform.system()} {platform.release()} {platform.machine()}".strip(),
        "byte_order": sys.byteorder,
        "case": case.name,
        "case_sha256": case.sha256,
        "changed_after_reading": dict(case.changes),
        "date": datetime.now(UTC).isoformat(timespec="seconds"),
    }
