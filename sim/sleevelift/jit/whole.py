"""Kernels compiled whole: what a kernel calls is optimised and turned into machine code once, inside it.

The compiler by itself optimises every function together with all that it calls, makes machine code of that, and does so
again at each caller up to the kernel: over half of the time to compile a deep tree of small functions. Here a function
that is compiled because another one calls it (depth 2 and more) is typed and lowered only. The kernel called from
Python (depth 1) links all that it reaches, each once, and alone is optimised and emitted.

This reaches into the compiler's own classes. `available` says whether they look as expected; where they do not, functions
are compiled the usual way, with the same results, only slower.
"""

import inspect
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from llvmlite import binding
from numba import _dynfunc  # type: ignore[attr-defined]
from numba.core import caching, codegen, cpu, sigutils, types

Library: Any = codegen.CPUCodeLibrary
Context: Any = cpu.CPUContext
Null: Any = caching.NullCache
plain: Any = types.unliteral
normalized: Any = sigutils.normalize_signature

_depth_now: Callable[[], int] = lambda: 0  # noqa: E731 - replaced by `install`


def available() -> bool:
    """Whether the compiler's classes have the parts that are replaced here, with the parameters expected."""
    parts = {"_linking_libraries", "_final_module", "_reload_init"}
    methods = {
        "add_linking_library": ["self", "library"],
        "add_llvm_module": ["self", "ll_module"],
        "finalize": ["self"],
        "_get_module_for_linking": ["self"],
        "_optimize_final_module": ["self"],
        "_finalize_final_module": ["self"],
    }
    try:
        set_at_start = {*Library.__init__.__code__.co_names, *codegen.CodeLibrary.__init__.__code__.co_names}
        right = parts <= set_at_start and Library._finalized is False
        right &= all(list(inspect.signature(getattr(Library, name)).parameters) == known for name, known in methods.items())
        right &= list(inspect.signature(Context.get_executable).parameters) == ["self", "library", "fndesc", "env"]
    except (AttributeError, TypeError, ValueError):
        return False
    return right


def reached(library: Any) -> list[Any]:
    """The libraries that `library` calls, directly or through others not linked yet, each once."""
    found: dict[Any, None] = {}
    waiting = list(library._linking_libraries)
    while waiting:
        other = waiting.pop()
        if other not in found:
            found[other] = None
            if not other._finalized:
                waiting.extend(other._linking_libraries)
    return list(found)


def linkable(library: Any) -> Any:
    """A module of a library whose functions stay when linked, called already or not (`weak_odr`)."""
    module = (library._get_module_for_linking() if library._finalized else library._final_module).clone()
    for function in module.functions:
        if not function.is_declaration and function.linkage in (binding.Linkage.external, binding.Linkage.linkonce_odr):
            function.linkage = "weak_odr"
    return module


def install(depth_now: Callable[[], int]) -> None:
    """Replace the compiler's linking; `depth_now` says how deep compilations of kernels nest (0: none is under way)."""
    global _depth_now
    _depth_now = depth_now
    usual_add_library = Library.add_linking_library
    usual_add_module = Library.add_llvm_module
    usual_executable = Context.get_executable

    def add_linking_library(self: Any, library: Any) -> None:
        if depth_now() == 0:
            usual_add_library(self, library)
        else:
            self._linking_libraries.append(library)

    def add_llvm_module(self: Any, ll_module: Any) -> None:
        if depth_now() == 0:
            usual_add_module(self, ll_module)
        else:
            self._final_module.link_in(ll_module)

    def finalize(self: Any) -> None:
        self._raise_if_finalized()
        for library in reached(self):
            self._reload_init.update(library._reload_init)
            self._final_module.link_in(linkable(library))
        for function in self._final_module.functions:
            if not function.is_declaration and function.linkage == binding.Linkage.weak_odr:
                function.linkage = "linkonce_odr"
        self._optimize_final_module()
        self._final_module.verify()
        self._finalize_final_module()

    def get_executable(self: Any, library: Any, fndesc: Any, env: Any) -> Any:
        if depth_now() <= 1:
            return usual_executable(self, library, fndesc, env)
        name = fndesc.qualname.split(".")[-1]
        return _dynfunc.make_function(fndesc.lookup_module(), name, "called by compiled code only", 0, env, (library,))

    Library.add_linking_library = add_linking_library
    Library.add_llvm_module = add_llvm_module
    Library.finalize = finalize
    Context.get_executable = get_executable


def enable_cache(dispatcher: Any, may_be_used: Callable[[], bool]) -> None:
    """Keep on disk what a dispatcher compiles, by the compiler's own cache, as a convenience: a full disk, a damaged file or a
    folder that may not be used any more means compiling, not an end."""
    try:
        dispatcher.enable_caching()
    except (OSError, RuntimeError):  # no place can be written
        return
    its_cache = dispatcher._cache
    usual_load, usual_save = its_cache.load_overload, its_cache.save_overload

    def load_overload(*arguments: Any) -> Any:
        try:
            return usual_load(*arguments) if may_be_used() else None
        except Exception:  # whatever a damaged file makes of unpickling
            return None

    def save_overload(*arguments: Any) -> None:
        with suppress(OSError):
            if may_be_used():
                usual_save(*arguments)

    its_cache.load_overload, its_cache.save_overload = load_overload, save_overload


def compile_whole(dispatcher: Any, cached: bool, may_be_used: Callable[[], bool]) -> None:
    """Make a dispatcher leave what it compiles for another function's sake without machine code and out of the cache.

    cached: whether what it compiles for Python's sake is kept on disk, while `may_be_used` says so. `dispatcher` has no cache yet;
    looking for one costs a third of a millisecond a function, so only those called from Python do.

    Such code is compiled anew when the function is called from Python. Arguments that are literals at the call count as
    plain numbers, so that constants do not make a function of their own.
    """
    usual_compile, usual_add = dispatcher.compile, dispatcher.add_overload
    looked_for_cache = False
    without_code: set[tuple[Any, ...]] = set()

    def add_overload(result: Any) -> None:
        if _depth_now() > 1:
            arguments = tuple(result.signature.args)
            without_code.add(arguments)
            dispatcher.overloads[arguments] = result
        else:
            usual_add(result)

    def compile_now(signature: Any) -> Any:
        nonlocal looked_for_cache
        arguments = tuple(plain(kind) for kind in normalized(signature)[0])
        if _depth_now() > 1:
            own_cache, dispatcher._cache = dispatcher._cache, Null()
            try:
                return usual_compile(arguments)
            finally:
                dispatcher._cache = own_cache
        if arguments in without_code:
            without_code.remove(arguments)
            del dispatcher.overloads[arguments]
        if cached and not looked_for_cache:
            looked_for_cache = True
            enable_cache(dispatcher, may_be_used)
        return usual_compile(arguments)

    dispatcher.add_overload = add_overload
    dispatcher.compile = compile_now
