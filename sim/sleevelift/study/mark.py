"""What numbers depend on beside the case: the program, its libraries, Python. Lanes of another mark are not mixed with these."""

import hashlib
import platform
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import sleevelift
from sleevelift.report.files import library_versions


@lru_cache(maxsize=1)
def program_mark() -> str:
    """Version of the program and a hash of its sources that make numbers."""
    root = Path(sleevelift.__file__).parent
    digest = hashlib.sha256()
    for path in sorted(root.rglob("*.py")):
        room = path.relative_to(root).parts[0]
        if room not in ("plots", "report", "study", "stand", "cli.py") and not room.endswith("command.py"):
            digest.update(path.read_bytes())
    return f"{sleevelift.__version__}+{digest.hexdigest()[:16]}"


LIBRARIES = ("numpy", "scipy", "numba", "llvmlite", "CoolProp")
"""Libraries that numbers depend on, beside the program's own sources."""


@lru_cache(maxsize=1)
def computing_mark() -> str:
    """Everything but the case that numbers depend on: the program, the libraries, Python."""
    known = library_versions()
    libraries = " ".join(f"{name} {known.get(name, 'absent')}" for name in LIBRARIES)
    return f"{program_mark()} {libraries} python {platform.python_version()}"


class OtherProgram(RuntimeError):
    """A worker of a cluster that computes with another version of the program, of a library or of Python."""


def marked(mark: str, make: Callable[..., Any], *arguments: Any) -> Any:
    """What `make` gives, on a worker that computes as the one who asks does. OtherProgram elsewhere: its numbers may be others."""
    own = computing_mark()
    if own != mark:
        raise OtherProgram(f"a worker has {own}; this is {mark}")
    return make(*arguments)
