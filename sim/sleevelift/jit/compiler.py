"""Compiling: the part of `sleevelift.jit` that loads the compiler, only where there is something to compile.

With `whole`, `vector_code` and `packed_code`, the only files that mention numba.
"""

import contextlib
import os
import threading
from collections.abc import Callable, Iterator
from typing import Any

# LLVM's -O2, not -O3: less time to compile, the same speed within noise
os.environ.setdefault("NUMBA_OPT", "2")

import numba as _library  # noqa: E402 - numba reads its options when it is imported
import numba.np.linalg as _numba_linalg  # noqa: E402
from llvmlite import binding  # noqa: E402
from numba.core import compiler as _core_compiler  # noqa: E402
from numba.core import dispatcher as _dispatcher_module  # noqa: E402
from numba.core import registry as _registry  # noqa: E402

from sleevelift.cache_folder import can_be_written, is_trusted  # noqa: E402
from sleevelift.jit import whole  # noqa: E402
from sleevelift.jit.folder import file_lock, kernel_folder  # noqa: E402

_numba: Any = _library

# where numba came before this package, it would read the environment again, changed above, and forget the folder set here
_numba.config.reload_config()
KEEPS = (_folder := kernel_folder()) is not None and can_be_written(_folder)
"""Whether the compiler's own cache may be used; given a folder that it cannot write it would look for another."""
if KEEPS:
    _numba.config.CACHE_DIR = str(_folder)


def _may_be_used() -> bool:
    """Whether the folder is still nobody else's."""
    return _folder is not None and is_trusted(_folder)


_turn = threading.RLock()
_depth = 0


@contextlib.contextmanager
def turn_to_compile() -> Iterator[None]:
    """Hold the lock against other threads and processes, once however deep compilations nest."""
    global _depth
    with _turn, contextlib.ExitStack() as stack:
        folder = kernel_folder()
        if _depth == 0 and folder is not None:
            stack.enter_context(file_lock(folder))
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
from sleevelift.jit import packed_code as _packed_code  # noqa: E402, F401 - registers itself
from sleevelift.jit import vector_code as _vector_code  # noqa: E402 - registers itself

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
    "generic": {**BARE, "no_cpython_wrapper": True},
}


def _depth_now() -> int:
    """How deep compilations of kernels nest: 1 for the one called from Python."""
    return _depth


WHOLE = whole.available()
"""Whether kernels are compiled whole (`whole`)."""
if WHOLE:
    whole.install(_depth_now)


def dispatcher_of(function: Callable[..., Any], flavour: str) -> Any:
    """The numba dispatcher of a function, compiling under the lock that other processes wait for, whole where that can be."""
    dispatcher: Any = _numba.njit(**FLAVOURS[flavour])(function)
    cached = flavour != "generic" and KEEPS
    if WHOLE:
        whole.compile_whole(dispatcher, cached, _may_be_used)
    elif cached:
        whole.enable_cache(dispatcher, _may_be_used)
    compile_now = dispatcher.compile

    def compile_in_turn(signature: Any) -> Any:
        with turn_to_compile():
            return compile_now(signature)

    dispatcher.compile = compile_in_turn
    return dispatcher


RESULTS = {"float64": "f", "int64": "i", "bool": "b"}
"""What a stored kernel may give back, by its compiled name."""
ENTRY = """
def entry(result, {parameters}):
    value = kernel({arguments})
{results}
"""


_dispatcher: Any = _dispatcher_module
FunctionCompiler: Any = _dispatcher._FunctionCompiler
Compiler: Any = _core_compiler.Compiler


class _EntryCompiler(FunctionCompiler):  # type: ignore[misc]
    """Compiles a function that is called through its address, so that nothing of Python's is wanted in it."""

    def _customize_flags(self, flags: Any) -> Any:
        flags.no_cpython_wrapper = True
        flags.no_cfunc_wrapper = True
        flags.enable_pyobject = False
        return flags


def _entry_source(kinds: tuple[Any, ...], results: int | None) -> tuple[str, list[Any]]:
    """(source of the function of C types that calls a kernel, types of its parameters)."""
    parameters, arguments, types = [], [], [_numba.types.CPointer(_numba.types.float64)]
    for place, kind in enumerate(kinds):
        name = f"a{place}"
        parameters.append(name)
        if kind in ("f", "i"):
            types.append(_numba.types.float64 if kind == "f" else _numba.types.int64)
            arguments.append(name)
            continue
        dtype, ndim = kind
        types.append(_numba.types.CPointer(_numba.from_dtype(dtype)))
        if ndim is None:
            arguments.append(f"array_at({name}, (1,))[0]")
            continue
        sizes = [f"{name}_{axis}" for axis in range(ndim)]
        parameters += sizes
        types += [_numba.types.int64] * ndim
        arguments.append(f"array_at({name}, ({', '.join(sizes)},))")
    if results is None:
        lines = ["    result[0] = value"]
    else:
        lines = [f"    result[{place}] = value[{place}]" for place in range(results)]
    text = ENTRY.format(parameters=", ".join(parameters), arguments=", ".join(arguments), results="\n".join(lines))
    return text, types


def _letters(return_type: Any) -> str | None:
    """What a return type is made of, letters of RESULTS, none for nothing; None if it cannot be stored."""
    if return_type == _numba.types.none:
        return ""
    parts = list(return_type) if isinstance(return_type, _numba.types.BaseTuple) else [return_type]
    names = [RESULTS.get(str(part)) for part in parts]
    return None if None in names else "".join(str(name) for name in names)


def _near_machine(codegen: Any) -> Any:
    """Maker of machine code for this processor whose parts lie close together, so that constants are read where they stand.

    The compiler's own takes a constant's whole address into a register first; `stored` keeps the parts together.
    """
    options: dict[str, Any] = {}
    codegen._customize_tm_options(options)
    options.update(reloc="pic", codemodel="small", opt=_numba.config.OPT)
    return binding.Target.from_triple(binding.get_process_triple()).create_target_machine(**options)


def machine_code(dispatcher: Any, kinds: tuple[Any, ...], arguments: tuple[Any, ...]) -> tuple[bytes, str, str, bool] | None:
    """(object file, name of its function, letters of the results, whether they are one number) of a kernel; None if it gives
    back what cannot be stored.

    The function is called as the compiler calls its own: places for the result it does not have and for an exception it does
    not raise, then the arguments; see `stored`.

    kinds: one per argument, "f", "i" or (dtype, dimensions; None for one record). Call it under `turn_to_compile`.
    """
    if not WHOLE:
        return None
    signature = tuple(
        _numba.types.Array(_numba.typeof(a).dtype, a.ndim, "C") if isinstance(k, tuple) and k[1] is not None else _numba.typeof(a)
        for a, k in zip(arguments, kinds)
    )
    signature = tuple(_numba.types.unliteral(kind) for kind in signature)
    dispatcher.compile(signature)
    return_type = dispatcher.overloads[signature].signature.return_type
    letters = _letters(return_type)
    if letters is None:
        return None
    single = len(letters) == 1 and not isinstance(return_type, _numba.types.BaseTuple)
    source, types = _entry_source(kinds, None if single else len(letters))
    space: dict[str, Any] = {"kernel": dispatcher, "array_at": _vector_code.array_at}
    exec(compile(source, f"<entry of {dispatcher.__name__}>", "exec"), space)
    target: Any = _registry.cpu_target
    compiled: Any = _EntryCompiler(space["entry"], target, dict(BARE), {}, Compiler).compile(types, _numba.types.none)
    library = compiled.library
    library._ensure_finalized()
    module = library._final_module
    return _near_machine(library._codegen).emit_object(module), compiled.fndesc.llvm_func_name, letters, single
