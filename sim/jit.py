"""The one compile decorator and its cache folder; the only file that mentions numba.

Machine code is cached on disk. The folder is keyed by a hash of every source that can end up in it and by the versions
of numba, numpy and Python, because numba's own key is the hash of the defining file alone: after an edit of a callee in
another file the caller would go on with its old machine code. The folder is, in this order,

    $NUMBA_CACHE_DIR/kernels-<hash>, the user's cache folder: $XDG_CACHE_HOME (or ~/.cache)/sleevelift/kernels-<hash>,
    <temporary folder>/sleevelift-<user>/kernels-<hash>

the first that can be written; the package itself is never written to. Where none can be, kernels are compiled in every
process. Processes that start at once take turns at compiling (a lock file), so that the second finds what the first
left.
"""

import contextlib
import hashlib
import os
import platform
import re
import shutil
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

# LLVM's -O2, not -O3: a quarter less time to compile, the same speed within noise
os.environ.setdefault("NUMBA_OPT", "2")

import numba as _numba  # noqa: E402 - numba reads its options when it is imported
import numba.np.linalg as _numba_linalg  # noqa: E402
import numpy as _numpy  # noqa: E402

_PACKAGE = Path(__file__).resolve().parent
_IMPORT = re.compile(r"^\s*(?:from|import)\s+sim\.([\w.]+)", re.MULTILINE)
"""A line that imports a module of this package."""
KEEP_FOLDERS = 4
"""Folders of other sources or versions that stay beside this one: a checkout or two, an environment or two."""
KEEP_SECONDS = 3600.0
"""A folder started from within this time (s) stays: a run may still be writing there."""


def _module_file(name: str) -> Path | None:
    """The file of the module `sim.<name>`, if there is one."""
    path = _PACKAGE.joinpath(*name.split("."))
    for candidate in (path.with_suffix(".py"), path / "__init__.py"):
        if candidate.is_file():
            return candidate
    return None


def kernel_sources() -> dict[Path, bytes]:
    """Every file of the package that defines kernels, and every one those import: constants are frozen into code."""
    texts = {path: path.read_bytes() for path in sorted(_PACKAGE.rglob("*.py"))}
    waiting = [path for path, text in texts.items() if b"from sim.jit import" in text] + [Path(__file__).resolve()]
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


def cache_key(sources: dict[Path, bytes]) -> str:
    """Hash of the sources, their places in the package, and the versions that shape machine code."""
    digest = hashlib.sha256()
    digest.update(f"{_numba.__version__} {_numpy.__version__} {platform.python_version()}".encode())
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


CACHE_FOLDER = cache_folder(cache_key(kernel_sources()))
"""Where this process keeps machine code, or None."""
if CACHE_FOLDER is not None:
    _numba.config.CACHE_DIR = str(CACHE_FOLDER)  # type: ignore[attr-defined]
    prune_folders(CACHE_FOLDER)

_turn = threading.RLock()
_depth = 0


@contextlib.contextmanager
def _file_lock(folder: Path) -> Iterator[None]:
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


@contextlib.contextmanager
def _turn_to_compile() -> Iterator[None]:
    """Hold the lock against other threads and processes, once however deep compilations nest."""
    global _depth
    with _turn, contextlib.ExitStack() as stack:
        if _depth == 0 and CACHE_FOLDER is not None:
            stack.enter_context(_file_lock(CACHE_FOLDER))
        _depth += 1
        try:
            yield
        finally:
            _depth -= 1


def _without_blas() -> None:
    """Load numba's array functions without scipy.linalg (0.2 s), which they import only to see whether it is there.

    A compiled np.dot still finds it when it is first used.
    """

    def absent() -> None:
        raise ImportError("not looked for yet")

    present = _numba_linalg.ensure_blas
    _numba_linalg.ensure_blas = absent
    try:
        import numba.np.arraymath as arraymath

        arraymath._HAVE_BLAS = True
    finally:
        _numba_linalg.ensure_blas = present


_without_blas()

_OPTIONS: dict[str, Any] = {
    "nogil": True,
    "cache": CACHE_FOLDER is not None,
    "error_model": "numpy",
    "no_cfunc_wrapper": True,
}
_compiled = _numba.njit(**_OPTIONS)
_BARE: dict[str, Any] = {**_OPTIONS, "_nrt": False}
_compiled_bare = _numba.njit(**_BARE)


def _in_turn(dispatcher: Any) -> Any:
    """The dispatcher, compiling under the lock that other processes wait for."""
    compile_now = dispatcher.compile

    def compile_in_turn(signature: Any) -> Any:
        with _turn_to_compile():
            return compile_now(signature)

    dispatcher.compile = compile_in_turn
    return dispatcher


def kernel(function: Callable[..., Any]) -> Any:
    """Compile a function of plain numbers and arrays; released from the interpreter lock, cached on disk."""
    return _in_turn(_compiled(function))


def bare_kernel(function: Callable[..., Any]) -> Any:
    """A `kernel` that makes no arrays: it counts no references, which halves the cost of the right-hand side."""
    return _in_turn(_compiled_bare(function))


_GENERIC: dict[str, Any] = {**_BARE, "cache": False, "no_cpython_wrapper": True}
generic: Any = _numba.njit(**_GENERIC)
"""A function of workspaces and arrays that makes none, or one with a system's compiled functions bound in it. It has no
cache of its own: its machine code is stored with the cached kernel that calls it. It cannot be called from Python."""
