"""The compile decorators.

A kernel's machine code is kept on disk in a folder (`folder`) keyed by a hash of every source that can end up in it and by
the versions of numba, numpy and Python: after an edit of any of them the folder is another one. What is kept is called
without loading the compiler (`stored`); where nothing is kept yet, or an argument is of another kind than number, array
or record, the compiler is loaded (`compiler`) and compiles. Where no folder can be written, kernels are compiled in every
process. Processes that start at once take turns at compiling (a lock file), so that the second finds what the first left.

What is told to the compiler about vectors (`vector_code`, `packed_code`) leans on its insides. Where these cannot be loaded, or a
kernel cannot be compiled in either way, kernels run as the plain functions they are: the same numbers, far slower, and a line on
the error stream says so.

The modules beside this one are imported inside functions: what a warm start does not need, above all the compiler, is not loaded.
"""

import functools
import os
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sleevelift.jit.folder import kernel_folder

DISABLED = os.environ.get("NUMBA_DISABLE_JIT", "0") not in ("", "0")
"""Compiling switched off: kernels are the plain functions."""
_lock = threading.RLock()
_PACKAGE = Path(__file__).resolve().parents[1]
_without = False
"""Whether kernels run as plain functions, since they cannot be compiled."""


def _do_without(error: BaseException) -> None:
    """Run kernels as plain functions from now on, and say so once."""
    global _without
    if not _without:
        _without = True
        words = " ".join(str(error).split())[:120]
        print(
            f"the compiler cannot be used ({type(error).__name__}: {words}): everything runs as plain Python, far slower; numba "
            "0.63 to 0.68 were tried",
            file=sys.stderr, flush=True,
        )  # fmt: skip


def _compiler() -> Any:
    """The part that compiles; None where it cannot be loaded."""
    if _without:
        return None
    try:
        from sleevelift.jit import compiler
    except Exception as error:  # a name that is not there any more, whatever comes of it
        _do_without(error)
        return None
    return compiler


class Kernel:
    """A function that is compiled when it is first called. Other kernels call it as if it were compiled already."""

    def __init__(self, function: Callable[..., Any], flavour: str):
        functools.update_wrapper(self, function)
        self.py_func = function
        self._flavour = flavour
        self._code: dict[Any, Any] = {}
        self._latest: Any = None
        self._other: Any = None
        self._dispatchers: dict[tuple[str, int], Any] = {}
        # what stands outside the package is not in the folder's key
        self._kept = flavour != "generic" and Path(function.__code__.co_filename).is_relative_to(_PACKAGE)

    def _made(self, caller: str) -> Any:
        """The compiler's side of this kernel for who calls it; loads the compiler."""
        with _lock:
            from sleevelift.jit import compiler

            key = caller, compiler.generation
            if key not in self._dispatchers:
                maker = compiler.for_python if caller == "python" else compiler.for_code
                self._dispatchers[key] = maker(self.py_func, self._flavour)
            return self._dispatchers[key]

    @property
    def dispatcher(self) -> Any:
        """The compiler's side of this kernel that Python calls."""
        return self._made("python")

    @property
    def _numba_type_(self) -> Any:
        return self._made("code")._numba_type_

    def _by_compiler(self, arguments: tuple[Any, ...]) -> Any:
        """Call what the compiler makes and keeps by itself, or the plain function where it makes nothing of it."""
        for _ in range(2):
            compiler = _compiler()
            if compiler is None:
                break
            try:
                return self.dispatcher(*arguments)
            except Exception as error:
                if compiler.usual_from_now_on(error):
                    continue
                if not self._kept:
                    raise  # a user's own kernel, whose mistakes are told
                _do_without(error)
        from sleevelift.jit import plain

        return plain.called(self.py_func, arguments)

    @property
    def stats(self) -> Any:
        """What the compiler's own cache gave."""
        return self.dispatcher.stats

    def __call__(self, *arguments: Any) -> Any:
        if self._latest is not None:
            value = self._latest(arguments)
            if value is not self._other:
                return value
        if self._kept:
            from sleevelift.jit import stored

            found = stored.kinds_of(arguments)
            if found is not None:
                kinds, key = found
                if key not in self._code:
                    self._code[key] = self._loaded(kinds, key, arguments)
                code = self._code[key]
                if code is not None:
                    self._latest, self._other = code, stored.OTHER_KIND
                    return code(arguments)
        return self._by_compiler(arguments)

    def _loaded(self, kinds: tuple[Any, ...], key: tuple[Any, ...], arguments: tuple[Any, ...]) -> Any:
        """The code kept for such arguments, compiled and kept now if there is none; None if it cannot be kept."""
        from sleevelift.jit import stored

        folder = kernel_folder()
        if folder is None or not stored.POSSIBLE:
            return None
        name = f"{self.py_func.__module__}.{self.py_func.__qualname__}"
        with _lock:
            code = stored.read(folder, name, kinds, key)
            if code is not None:
                return code
            compiler = _compiler()
            if compiler is None:
                return None
            with compiler.turn_to_compile():
                code = stored.read(folder, name, kinds, key)  # another process may have been at it
                if code is not None:
                    return code
                try:
                    made = compiler.machine_code(self._made("code"), kinds, arguments)
                except Exception as error:
                    if not compiler.usual_from_now_on(error):
                        raise
                    made = None
                if made is None or not stored.write(folder, name, key, *made):
                    return None
            return stored.read(folder, name, kinds, key)


def _decorated(function: Callable[..., Any], flavour: str) -> Any:
    return function if DISABLED else Kernel(function, flavour)


def kernel(function: Callable[..., Any]) -> Any:
    """Compile a function of plain numbers and arrays; released from the interpreter lock, cached on disk."""
    return _decorated(function, "kernel")


def bare_kernel(function: Callable[..., Any]) -> Any:
    """A `kernel` that makes no arrays: it counts no references, which halves the cost of the right-hand side."""
    return _decorated(function, "bare")


def inline_kernel(function: Callable[..., Any]) -> Any:
    """A `bare_kernel` whose code stands wherever it is called: for what the right-hand side calls for every node and flow."""
    return _decorated(function, "inline")


def generic(function: Callable[..., Any]) -> Any:
    """A function of workspaces and arrays that makes none, or one with a system's compiled functions bound in it.

    It has no cache of its own: its machine code is stored with the cached kernel that calls it. It cannot be called from
    Python.
    """
    return _decorated(function, "generic")
