"""Keep the tables of gases in the user's cache folder; believe no file that is not exactly what this program wrote.

    <cache>/gas_nitrogen-<hash of format, CoolProp and builder>.npz   =   checksum, then an npz of

        about     JSON text: format, gas, CoolProp version, hash of the builder's source, facts of the gas
        table     float64, little-endian

A file is used only if its format, gas, builder's source, CoolProp version and checksum are this program's; any other
(cut short, damaged, foreign) counts as absent and is written anew. Written whole or not at all, so a reader never sees half a
file and two writers do no harm. No object is ever unpickled. Where it lies and who may have written it: `sleevelift.cache_folder`.
"""

import hashlib
import io
import json
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import Any, NamedTuple
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from sleevelift.cache_folder import cache_folder, keep, kept

FORMAT = 2
"""Version of the file's layout."""


class Stored(NamedTuple):
    """A table and the facts of its gas, as kept."""

    table: NDArray[np.float64]
    facts: dict[str, Any]


@cache
def signature() -> dict[str, Any]:
    """What a file must say of itself to be this program's: format, CoolProp version, hash of the sources that fill
    it."""
    sources = hashlib.sha256()
    for name in ("build.py", "edges.py", "layout.py"):
        sources.update((Path(__file__).parent / name).read_bytes())
    return {"format": FORMAT, "coolprop": metadata.version("CoolProp"), "builder": sources.hexdigest()}


def file_of(gas: str) -> Path:
    """The file of a gas; `gas` is a plain word."""
    versions = hashlib.sha256(json.dumps(signature(), sort_keys=True).encode()).hexdigest()[:8]
    return cache_folder() / f"gas_{gas}-{versions}.npz"


def read(gas: str) -> Stored | None:
    """The stored table of `gas`, or None if there is none to be trusted."""
    content = kept(file_of(gas))
    if content is None:
        return None
    try:
        with np.load(io.BytesIO(content), allow_pickle=False) as parts:
            about = json.loads(str(parts["about"][()]))
            table = np.ascontiguousarray(parts["table"], dtype=np.float64)
        expected = signature() | {"gas": gas}
        if table.ndim == 1 and all(about[key] == value for key, value in expected.items()):
            return Stored(table, dict(about["facts"]))
    except (OSError, ValueError, KeyError, TypeError, IndexError, EOFError, RecursionError, BadZipFile, NotImplementedError):
        pass
    return None


def write(gas: str, stored: Stored) -> Path | None:
    """Keep a table; where, or None if that cannot be."""
    about = json.dumps(signature() | {"gas": gas, "facts": stored.facts})
    content = io.BytesIO()
    np.savez(content, about=np.array(about), table=stored.table.astype("<f8"))
    path = file_of(gas)
    return path if keep(path, content.getvalue()) else None
