"""Compiling: the part of `sleevelift.jit` that loads the compiler, only where there is something to compile.

With `whole`, `vector_code` and `packed_code`, the only files that mention numba.
"""

import contextlib
import gc
import os
import threading
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any

# LLVM's -O2, not -O3: less time to compile, the same speed within noise
os.environ.setdefault("NUMBA_OPT", "2")

import numba as _library  # noqa: E402 - numba reads its options when it is imported

from sleevelift.cache_folder import can_be_written, is_trusted  # noqa: E402
from sleevelift.jit.folder import file_lock, kernel_folder  # noqa: E402

_numba: Any = _library

# where numba came before this package, it would read the environment again, changed above, and forget the folder set here
_numba.config.reload_config()
KEEPS = (_folder := kernel_folder()) is not None and can_be_written(_folder)
"""Whether the compiler's own cache may be used; given a folder that it cannot write it would look for another."""
if KEEPS:
    _numba.config.CACHE_DIR = str(_folder)

from sleevelift.jit import packed_code as _packed_code  # noqa: E402, F401 - registers itself
from sleevelift.jit import vector_code as _vector_code  # noqa: E402, F401 - registers itself

USUAL_SWITCH = "SLEEVELIFT_USUAL_COMPILATION"
"""Set to 1, kernels are compiled by the compiler's own ways only."""
OPTIONS: dict[str, Any] = {
    "nogil": True,
    "error_model": "numpy",
    "no_cfunc_wrapper": True,
    "fastmath": {"contract", "nsz", "arcp", "reassoc"},
}
"""Sums and products may be fused and reordered; infinities and NaN keep their meaning."""
BARE: dict[str, Any] = {**OPTIONS, "_nrt": False}
"""For functions that make no arrays."""
FLAVOURS: dict[str, dict[str, Any]] = {
    "kernel": OPTIONS,
    "bare": BARE,
    "inline": {**BARE, "forceinline": True},
    "generic": BARE,
}


_turn = threading.RLock()
_depth = 0


@contextlib.contextmanager
def turn_to_compile() -> Iterator[None]:
    """Hold the lock against other threads and processes, once however deep compilations nest.

    What the compiler makes mostly stays, so nothing is looked through for garbage meanwhile.
    """
    global _depth
    with _turn, contextlib.ExitStack() as stack:
        folder = kernel_folder()
        if _depth == 0:
            if folder is not None:
                stack.enter_context(file_lock(folder))
            if gc.isenabled():
                gc.disable()
                stack.callback(gc.enable)
        _depth += 1
        try:
            yield
        finally:
            _depth -= 1


def for_code(function: Callable[..., Any], flavour: str = "bare") -> Any:
    """What other compiled code calls of a function: without anything of Python's."""
    pipeline = {"pipeline_class": WHOLE.OpenPipeline} if WHOLE else {}
    return _in_turn(_numba.njit(no_cpython_wrapper=True, **FLAVOURS[flavour], **pipeline)(function))


def for_python(function: Callable[..., Any], flavour: str) -> Any:
    """What Python calls of a function, kept by the compiler's own cache."""
    pipeline = {"pipeline_class": WHOLE.Pipeline} if WHOLE else {}
    dispatcher: Any = _numba.njit(**FLAVOURS[flavour], **pipeline)(function)
    if flavour != "generic" and KEEPS:
        _enable_cache(dispatcher)
    return _in_turn(dispatcher)


def _in_turn(dispatcher: Any) -> Any:
    """The same, compiling under the lock that other processes wait for. Arguments that are literals at the call count as plain
    numbers, so that constants do not make a function of their own."""
    compile_now = dispatcher.compile

    def compile_in_turn(signature: Any) -> Any:
        if isinstance(signature, tuple):
            signature = tuple(_numba.types.unliteral(kind) for kind in signature)
        with turn_to_compile():
            return compile_now(signature)

    dispatcher.compile = compile_in_turn
    return dispatcher


def _enable_cache(dispatcher: Any) -> None:
    """Keep on disk what a dispatcher compiles, by the compiler's own cache, as a convenience: a full disk, a damaged file or a
    folder that may not be used any more means compiling, not an end."""
    try:
        dispatcher.enable_caching()
        its_cache = dispatcher._cache
        usual_load, usual_save = its_cache.load_overload, its_cache.save_overload
    except (OSError, RuntimeError, AttributeError):  # no place can be written, or another compiler's cache
        return

    def may_be_used() -> bool:
        return _folder is not None and is_trusted(_folder)

    def load_overload(*arguments: Any) -> Any:
        try:
            return usual_load(*arguments) if may_be_used() else None
        except Exception:  # whatever a damaged file makes of unpickling
            return None

    def save_overload(*arguments: Any) -> None:
        with contextlib.suppress(OSError):
            if may_be_used():
                usual_save(*arguments)

    its_cache.load_overload, its_cache.save_overload = load_overload, save_overload


WHOLE: ModuleType | None = None
"""`whole`, where kernels are compiled whole."""
generation = 0
"""Counts up when what has been compiled so far is to be compiled the usual way."""


def _choose() -> None:
    global WHOLE
    if os.environ.get(USUAL_SWITCH, "0") not in ("", "0"):
        return
    try:
        from sleevelift.jit import whole
    except Exception:  # a name that is not there any more, or no class to derive from
        return
    WHOLE = whole
    if not whole.works(for_code, for_python):
        WHOLE = None


def usual_from_now_on(error: Exception) -> bool:
    """Whether an error may come of compiling whole; if so the usual way is taken from now on."""
    global WHOLE, generation
    if WHOLE is None or isinstance(error, _numba.TypingError):
        return False
    WHOLE = None
    generation += 1
    return True


def machine_code(dispatcher: Any, kinds: tuple[Any, ...], arguments: tuple[Any, ...]) -> tuple[bytes, str, str, bool] | None:
    """`whole.machine_code` for the types of arguments; None where kernels are not compiled whole.

    Call it under `turn_to_compile`.
    """
    if WHOLE is None:
        return None
    types = _numba.types
    signature = tuple(
        types.Array(_numba.typeof(a).dtype, a.ndim, "C") if isinstance(k, tuple) and k[1] is not None else _numba.typeof(a)
        for a, k in zip(arguments, kinds)
    )
    made: tuple[bytes, str, str, bool] | None = WHOLE.machine_code(
        dispatcher, for_code, tuple(types.unliteral(kind) for kind in signature), kinds
    )
    return made


_choose()
