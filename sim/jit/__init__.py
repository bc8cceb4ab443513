"""The compile decorators; with `whole`, the only files that mention numba.

Machine code is cached on disk in a folder (`folder`) keyed by a hash of every source that can end up in it and by the
versions of numba, numpy and Python, because numba's own key is the hash of the defining file alone: after an edit of a
callee in another file the caller would go on with its old machine code. Where no folder can be written, kernels are
compiled in every process. Processes that start at once take turns at compiling (a lock file), so that the second finds
what the first left.
"""

import contextlib
import os
import threading
from collections.abc import Callable, Iterator
from typing import Any

# LLVM's -O2, not -O3: less time to compile, the same speed within noise
os.environ.setdefault("NUMBA_OPT", "2")

import numba as _numba  # noqa: E402 - numba reads its options when it is imported
import numba.np.linalg as _numba_linalg  # noqa: E402
import numpy as _numpy  # noqa: E402

from sim.jit import whole  # noqa: E402
from sim.jit.folder import cache_folder, cache_key, file_lock, kernel_sources, prune_folders  # noqa: E402

CACHE_FOLDER = cache_folder(cache_key(kernel_sources(), f"{_numba.__version__} {_numpy.__version__}"))
"""Where this process keeps machine code, or None."""
# where numba came before this package, it would read the environment again, changed above, and forget the folder set here
_numba.config.reload_config()  # type: ignore[no-untyped-call]
if CACHE_FOLDER is not None:
    _numba.config.CACHE_DIR = str(CACHE_FOLDER)  # type: ignore[attr-defined]
    prune_folders(CACHE_FOLDER)

_turn = threading.RLock()
_depth = 0


@contextlib.contextmanager
def _turn_to_compile() -> Iterator[None]:
    """Hold the lock against other threads and processes, once however deep compilations nest."""
    global _depth
    with _turn, contextlib.ExitStack() as stack:
        if _depth == 0 and CACHE_FOLDER is not None:
            stack.enter_context(file_lock(CACHE_FOLDER))
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
    "error_model": "numpy",
    "no_cfunc_wrapper": True,
    "fastmath": {"contract", "nsz", "arcp", "reassoc"},
}
"""Sums and products may be fused and reordered; infinities and NaN keep their meaning."""
_compiled = _numba.njit(**_OPTIONS)
_BARE: dict[str, Any] = {**_OPTIONS, "_nrt": False}
_compiled_bare = _numba.njit(**_BARE)
_compiled_inline = _numba.njit(**_BARE, forceinline=True)


def _depth_now() -> int:
    """How deep compilations of kernels nest: 1 for the one called from Python."""
    return _depth


WHOLE = whole.available()
"""Whether kernels are compiled whole (`whole`)."""
if WHOLE:
    whole.install(_depth_now)


def _in_turn(dispatcher: Any, cached: bool = CACHE_FOLDER is not None) -> Any:
    """The dispatcher, compiling under the lock that other processes wait for, whole where that can be."""
    if _numba.config.DISABLE_JIT:  # type: ignore[attr-defined]
        return dispatcher
    if WHOLE:
        whole.compile_whole(dispatcher, cached)
    elif cached:
        dispatcher.enable_caching()
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


def inline_kernel(function: Callable[..., Any]) -> Any:
    """A `bare_kernel` whose code stands wherever it is called: for what the right-hand side calls for every node and flow."""
    return _in_turn(_compiled_inline(function))


_GENERIC: dict[str, Any] = {**_BARE, "no_cpython_wrapper": True}
_compiled_generic = _numba.njit(**_GENERIC)


def generic(function: Callable[..., Any]) -> Any:
    """A function of workspaces and arrays that makes none, or one with a system's compiled functions bound in it.

    It has no cache of its own: its machine code is stored with the cached kernel that calls it. It cannot be called from
    Python.
    """
    return _in_turn(_compiled_generic(function), cached=False)
