"""Where machine code is cached: a folder for each set of kernel sources and versions.

The folder is, in this order,

    $NUMBA_CACHE_DIR/kernels-<key>, the user's cache folder: $XDG_CACHE_HOME (or ~/.cache)/sleevelift/kernels-<key>,
    <temporary folder>/sleevelift-<user>/kernels-<key>

the first that can be written; the package itself is never written to.
"""

import contextlib
import hashlib
import os
import platform
import re
import shutil
import tempfile
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parents[1]
_IMPORT = re.compile(r"^\s*(?:from|import)\s+sleevelift\.([\w.]+)", re.MULTILINE)
"""A line that imports a module of this package."""
KEEP_FOLDERS = 4
"""Folders of other sources or versions that stay beside this one: a checkout or two, an environment or two."""
KEEP_SECONDS = 3600.0
"""A folder started from within this time (s) stays: a run may still be writing there."""


def _module_file(name: str) -> Path | None:
    """The file of the module `sleevelift.<name>`, if there is one."""
    path = _PACKAGE.joinpath(*name.split("."))
    for candidate in (path.with_suffix(".py"), path / "__init__.py"):
        if candidate.is_file():
            return candidate
    return None


def kernel_sources() -> dict[Path, bytes]:
    """Every file of the package that defines kernels, and every one those import: constants are frozen into code."""
    texts = {path: path.read_bytes() for path in sorted(_PACKAGE.rglob("*.py"))}
    waiting = [path for path, text in texts.items() if b"from sleevelift.jit import" in text]
    waiting += sorted(Path(__file__).resolve().parent.glob("*.py"))
    found: dict[Path, bytes] = {}
    while waiting:
        path = waiting.pop()
        if path in found:
            continue
        found[path] = texts[path]
        for name in _IMPORT.findall(texts[path].decode("utf-8")):
            imported = _module_file(name)
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


def _candidate_bases() -> list[Path]:
    """Folders that may hold the cache, the preferred one first."""
    bases = []
    if os.environ.get("NUMBA_CACHE_DIR"):
        bases.append(Path(os.environ["NUMBA_CACHE_DIR"]))
    user_cache = os.environ.get("XDG_CACHE_HOME") or os.path.join(os.path.expanduser("~"), ".cache")
    bases.append(Path(user_cache) / "sleevelift")
    user = str(os.getuid()) if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")
    bases.append(Path(tempfile.gettempdir()) / f"sleevelift-{user}")
    return bases


def _usable(folder: Path) -> bool:
    """Whether `folder` exists or can be made, belongs to this user, and can be written."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if hasattr(os, "getuid") and folder.stat().st_uid != os.getuid():
            return False
        with tempfile.NamedTemporaryFile(dir=folder):
            pass
        os.utime(folder)
    except OSError:
        return False
    return True


def cache_folder(key: str) -> Path | None:
    """The folder for this key, made if need be and marked as used now; None where nothing can be written."""
    for base in _candidate_bases():
        folder = base / f"kernels-{key}"
        if _usable(folder):
            return folder
    return None


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
    """Where this process keeps machine code, or None."""
    folder = cache_folder(cache_key(kernel_sources(), _versions()))
    if folder is not None:
        prune_folders(folder)
    return folder
