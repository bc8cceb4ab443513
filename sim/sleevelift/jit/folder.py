"""Where machine code is cached: `kernels-<key>` in the user's cache folder, one for each set of kernel sources and versions.

Whether that may be used is decided in `sleevelift.cache_folder`; the package itself is never written to.
"""

import contextlib
import hashlib
import os
import platform
import re
import shutil
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from sleevelift.cache_folder import cache_folder, is_usable

_PACKAGE = Path(__file__).resolve().parents[1]
_IMPORT = re.compile(rb"\n[ \t]*(?:from|import)[ \t]+sleevelift\.([\w.]+)")
"""The end of a line before one that imports a module of this package."""
KEEP_FOLDERS = 4
"""Folders of other sources or versions that stay beside this one: a checkout or two, an environment or two."""
KEEP_SECONDS = 3600.0
"""A folder started from within this time (s) stays: a run may still be writing there."""


@cache
def _module_file(name: str) -> Path | None:
    """The file of the module `sleevelift.<name>`, if there is one."""
    path = _PACKAGE.joinpath(*name.split("."))
    for candidate in (path.with_suffix(".py"), path / "__init__.py"):
        if candidate.is_file():
            return candidate
    return None


def kernel_sources() -> dict[Path, bytes]:
    """Every file of the package that defines kernels, and every one those import: constants are frozen into code."""
    texts: dict[Path, bytes] = {}
    for folder, _, names in os.walk(_PACKAGE):
        for name in names:
            if name.endswith(".py"):
                place = os.path.join(folder, name)
                with open(place, "rb") as file:
                    texts[Path(place)] = file.read()
    waiting = [path for path, text in texts.items() if b"from sleevelift.jit import" in text]
    waiting += sorted(Path(__file__).resolve().parent.glob("*.py"))
    found: dict[Path, bytes] = {}
    while waiting:
        path = waiting.pop()
        if path in found:
            continue
        found[path] = texts[path]
        for module in set(_IMPORT.findall(b"\n" + texts[path])):
            imported = _module_file(module.decode())
            if imported is not None:
                waiting.append(imported)
    return dict(sorted(found.items()))


def cache_key(sources: dict[Path, bytes], versions: str) -> str:
    """Hash of the sources, their places in the package, and the versions that shape machine code."""
    digest = hashlib.sha256()
    digest.update(f"{versions} {platform.python_version()}".encode())
    for path, text in sources.items():
        digest.update(str(path.relative_to(_PACKAGE)).encode())
        digest.update(hashlib.sha256(text).digest())
    return digest.hexdigest()[:16]


def prune_folders(folder: Path) -> None:
    """Delete the caches beside `folder` but the newest few and those that may be in use."""
    others = []
    for other in folder.parent.glob("kernels-*"):
        with contextlib.suppress(OSError):
            if other != folder:
                others.append((other.stat().st_mtime, other))
    for used, other in sorted(others, reverse=True)[KEEP_FOLDERS:]:
        if time.time() - used > KEEP_SECONDS:
            shutil.rmtree(other, ignore_errors=True)


@contextlib.contextmanager
def file_lock(folder: Path) -> Iterator[None]:
    """Hold the lock file of `folder` against other processes; where locks do not work, do without."""
    try:
        import fcntl

        handle = open(folder / "lock", "w")
    except (ImportError, OSError):
        yield
        return
    with handle:
        with contextlib.suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield


def _versions() -> str:
    """Versions of the libraries that shape machine code, and how hard they are to try."""
    from importlib import metadata

    versions = " ".join(metadata.version(name) for name in ("numba", "llvmlite", "numpy"))
    return f"{versions} {os.environ.get('NUMBA_OPT', '2')}"


@cache
def kernel_folder() -> Path | None:
    """Where this process finds and keeps machine code, marked as used now; None where there is no folder to be trusted."""
    folder = cache_folder() / f"kernels-{cache_key(kernel_sources(), _versions())}"
    if not is_usable(folder):
        return None
    with contextlib.suppress(OSError):
        os.utime(folder)
    prune_folders(folder)
    return folder
