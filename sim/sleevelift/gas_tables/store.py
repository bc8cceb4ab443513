"""Keep the tables of gases in the user's cache folder; believe no file that is not exactly what this program wrote.

    <cache>/sleevelift/gas_nitrogen.npz
        header    JSON text: format, gas, CoolProp version, hash of the builder's source, facts of the gas, SHA-256
        table     float64, little-endian

A file is used only if its format, gas, builder's source, CoolProp version and checksum are this program's; any other
(cut short, damaged, foreign, from another version) counts as absent and is written anew. Written beside and moved
into place, so a reader never sees half a file and two writers do no harm. No object is ever unpickled.

Folders, the first that can be written: XDG_CACHE_HOME or, on Windows, LOCALAPPDATA, or ~/.cache; then one of the
user's own in the system's temporary folder. If none can, the table is simply not kept.
"""

import hashlib
import json
import os
import sys
import tempfile
from importlib import metadata
from pathlib import Path
from typing import Any, NamedTuple
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

FORMAT = 1
"""Version of the file's layout."""

FOLDER = "sleevelift"


class Stored(NamedTuple):
    """A table and the facts of its gas, as kept."""

    table: NDArray[np.float64]
    facts: dict[str, Any]


def folders() -> list[Path]:
    """Where tables may be, best first."""
    if os.environ.get("XDG_CACHE_HOME"):
        home = Path(os.environ["XDG_CACHE_HOME"])
    elif sys.platform == "win32" and os.environ.get("LOCALAPPDATA"):
        home = Path(os.environ["LOCALAPPDATA"])
    else:
        home = Path(os.path.expanduser("~")) / ".cache"
    user = str(os.getuid()) if hasattr(os, "getuid") else "user"
    return [home / FOLDER, Path(tempfile.gettempdir()) / f"{FOLDER}-{user}"]


def signature() -> dict[str, Any]:
    """What a file must say of itself to be this program's: format, CoolProp version, hash of the sources that fill
    it."""
    sources = hashlib.sha256()
    for name in ("build.py", "layout.py"):
        sources.update((Path(__file__).parent / name).read_bytes())
    return {"format": FORMAT, "coolprop": metadata.version("CoolProp"), "builder": sources.hexdigest()}


def checksum(table: NDArray[np.float64], about: dict[str, Any]) -> str:
    """SHA-256 of the table and of everything its header says."""
    digest = hashlib.sha256(json.dumps(about, sort_keys=True).encode())
    digest.update(np.ascontiguousarray(table, dtype="<f8").tobytes())
    return digest.hexdigest()


def read(gas: str) -> Stored | None:
    """The stored table of `gas`, or None if there is none to be trusted."""
    expected = signature() | {"gas": gas}
    for folder in folders():
        if not _is_ours(folder):
            continue
        try:
            with np.load(_file(folder, gas), allow_pickle=False) as kept:
                header = json.loads(str(kept["header"][()]))
                table = np.ascontiguousarray(kept["table"], dtype=np.float64)
            about = header["about"]
            if (
                all(about[key] == value for key, value in expected.items())
                and table.ndim == 1
                and header["sha256"] == checksum(table, about)
            ):
                return Stored(table, dict(about["facts"]))
        except (OSError, ValueError, KeyError, TypeError, EOFError, BadZipFile, NotImplementedError):
            continue
    return None


def write(gas: str, stored: Stored) -> Path | None:
    """Keep a table in the first folder that takes it; where, or None."""
    about = signature() | {"gas": gas, "facts": stored.facts}
    header = json.dumps({"about": about, "sha256": checksum(stored.table, about)})
    for folder in folders():
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            if not _is_ours(folder):
                continue
            handle, temporary = tempfile.mkstemp(dir=folder, prefix=f"gas_{gas}-", suffix=".tmp")
            try:
                with os.fdopen(handle, "wb") as file:
                    np.savez(file, header=np.array(header), table=stored.table.astype("<f8"))
                os.replace(temporary, _file(folder, gas))
            except BaseException:
                Path(temporary).unlink(missing_ok=True)
                raise
            return _file(folder, gas)
        except OSError:
            continue
    return None


def _file(folder: Path, gas: str) -> Path:
    """The file of a gas; `gas` is a plain word."""
    return folder / f"gas_{gas}.npz"


def _is_ours(folder: Path) -> bool:
    """Whether a folder may be used: in the shared temporary folder only one of the user's own."""
    if folder.parent != Path(tempfile.gettempdir()) or not hasattr(os, "getuid"):
        return True
    try:
        return not folder.is_symlink() and folder.stat().st_uid == os.getuid()
    except OSError:
        return False
