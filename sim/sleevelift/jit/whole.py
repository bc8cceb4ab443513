"""Kernels compiled whole: what a kernel calls is optimised and turned into machine code once, inside it.

The compiler by itself optimises every function together with all that it calls, makes machine code of that, and does so
again at each caller up to the kernel. Here a function that is compiled because another one calls it is typed and lowered
only (its library is open), by the passes that kernels need (`lowering`) and with answers remembered (`contexts`); what Python
calls links all that it reaches, each once, and alone is optimised and emitted.

Nothing of the compiler's is replaced: kernels get a library and a list of passes of their own (subclasses), nobody else
does. This still leans on the compiler's insides, tried with numba 0.68.1: where this module cannot be imported or `works` says
no, kernels are compiled the usual way (`compiler`), with the same results, in twice the time.
"""

import math
from collections.abc import Callable
from typing import Any

import numba as _numba
from llvmlite import binding
from numba.core import codegen as _codegen
from numba.core import compiler as _compiler

from sleevelift.jit import vector_code
from sleevelift.jit.contexts import views
from sleevelift.jit.lowering import Manager

UsualLibrary: Any = _codegen.JITCodeLibrary
UsualCompiler: Any = _compiler.Compiler
types: Any = _numba.types


class _WithoutEngine:
    """What makes code, for a library that has no machine code and so no place for its environment."""

    def __init__(self, whole: Any) -> None:
        self._whole = whole

    def __getattr__(self, name: str) -> Any:
        return getattr(self._whole, name)

    def set_env(self, *_: Any) -> None:
        """Nothing: what only compiled code calls needs no environment."""


TOGETHER = 16
"""Libraries that are linked to each other first: linking takes as long as what is linked into is large."""


class Library(UsualLibrary):  # type: ignore[misc]
    """What a kernel is compiled to; an open one is only linked into others."""

    def __init__(self, maker: Any, name: str, is_open: bool) -> None:
        super().__init__(maker, name)
        self.is_open = is_open

    @property
    def codegen(self) -> Any:
        return _WithoutEngine(self._codegen) if self.is_open else self._codegen

    def add_linking_library(self, library: Any) -> None:
        self._linking_libraries.append(library)

    def add_llvm_module(self, ll_module: Any) -> None:
        self._final_module.link_in(ll_module)

    def get_pointer_to_function(self, name: str) -> Any:
        return 0 if self.is_open else super().get_pointer_to_function(name)

    def link(self) -> Any:
        """The module of this library with all that it reaches linked in and optimised together."""
        self._raise_if_finalized()
        libraries = reached(self)
        for start in range(0, len(libraries), TOGETHER):
            together = None
            for library in libraries[start : start + TOGETHER]:
                self._reload_init.update(library._reload_init)
                module = linkable(library)
                if together is None:
                    together = module
                else:
                    together.link_in(module)
            self._final_module.link_in(together)
        for function in self._final_module.functions:
            if not function.is_declaration and function.linkage == binding.Linkage.weak_odr:
                function.linkage = "linkonce_odr"
        self._optimize_final_module()
        self._final_module.verify()
        return self._final_module

    def finalize(self) -> None:
        self.link()
        self._finalize_final_module()


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


_MANAGER = Manager()


class Pipeline(UsualCompiler):  # type: ignore[misc]
    """Compiles by the passes of `lowering` what Python calls."""

    is_open = False

    def __init__(self, typingctx: Any, targetctx: Any, *others: Any, **named: Any) -> None:
        super().__init__(*views(typingctx, targetctx), *others, **named)

    def define_pipelines(self) -> list[Any]:
        state = self.state
        if state.library is None:
            state.library = Library(state.targetctx.codegen(), state.func_id.func_qualname, self.is_open)
            state.library.enable_object_caching()
        return [_MANAGER]


class OpenPipeline(Pipeline):
    """Compiles so what other compiled code calls."""

    is_open = True


RESULTS = {"float64": "f", "int64": "i", "bool": "b"}
"""What a stored kernel may give back, by its compiled name."""
ENTRY = """
def entry(result, {parameters}):
    value = kernel({arguments})
{results}
"""


def _entry_source(kinds: tuple[Any, ...], results: int | None) -> tuple[str, list[Any]]:
    """(source of the function of C types that calls a kernel, types of its parameters)."""
    parameters, arguments, kinds_of_c = [], [], [types.CPointer(types.float64)]
    for place, kind in enumerate(kinds):
        name = f"a{place}"
        parameters.append(name)
        if kind in ("f", "i", "b"):
            kinds_of_c.append(types.float64 if kind == "f" else types.int64)
            arguments.append(f"{name} != 0" if kind == "b" else name)
            continue
        dtype, ndim = kind
        kinds_of_c.append(types.CPointer(_numba.from_dtype(dtype)))
        if ndim is None:
            arguments.append(f"array_at({name}, (1,))[0]")
            continue
        sizes = [f"{name}_{axis}" for axis in range(ndim)]
        parameters += sizes
        kinds_of_c += [types.int64] * ndim
        arguments.append(f"array_at({name}, ({', '.join(sizes)},))")
    if results is None:
        lines = ["    result[0] = value"]
    else:
        lines = [f"    result[{place}] = value[{place}]" for place in range(results)]
    text = ENTRY.format(parameters=", ".join(parameters), arguments=", ".join(arguments), results="\n".join(lines))
    return text, kinds_of_c


def _letters(return_type: Any) -> str | None:
    """What a return type is made of, letters of RESULTS, none for nothing; None if it cannot be stored."""
    if return_type == types.none:
        return ""
    parts = list(return_type) if isinstance(return_type, types.BaseTuple) else [return_type]
    names = [RESULTS.get(str(part)) for part in parts]
    return None if None in names else "".join(str(name) for name in names)


def _near_machine(maker: Any) -> Any:
    """Maker of machine code for this processor whose parts lie close together, so that constants are read where they stand.

    The compiler's own takes a constant's whole address into a register first; `stored` keeps the parts together.
    """
    options: dict[str, Any] = {}
    maker._customize_tm_options(options)
    options.update(reloc="pic", codemodel="small", opt=_numba.config.OPT)  # type: ignore[attr-defined]
    return binding.Target.from_triple(binding.get_process_triple()).create_target_machine(**options)


MachineCode = tuple[bytes, str, str, bool]


def machine_code(dispatcher: Any, of_function: Callable[[Any], Any], signature: tuple[Any, ...], kinds: Any) -> MachineCode | None:
    """(object file, name of its function, letters of the results, whether they are one number) of a kernel; None if it gives
    back what cannot be stored.

    The function is called as the compiler calls its own: places for the result it does not have and for an exception it does
    not raise, then the arguments; see `stored`. Kernel and function are compiled nested: the machine code is made here, once.

    of_function: the dispatcher of a plain function. kinds: one per argument, "f", "i", "b" or (dtype, dimensions; None for
    one record).
    """
    dispatcher.compile(signature)
    return_type = dispatcher.overloads[signature].signature.return_type
    letters = _letters(return_type)
    if letters is None:
        return None
    single = len(letters) == 1 and not isinstance(return_type, types.BaseTuple)
    source, parameters = _entry_source(kinds, None if single else len(letters))
    space: dict[str, Any] = {"kernel": dispatcher, "array_at": vector_code.array_at}
    exec(compile(source, f"<entry of {dispatcher.__name__}>", "exec"), space)
    entry = of_function(space["entry"])
    entry.compile(tuple(parameters))
    compiled = entry.overloads[tuple(parameters)]
    module = compiled.library.link()
    code = _near_machine(compiled.library._codegen).emit_object(module)
    return code, compiled.fndesc.llvm_func_name, letters, single


def _probe_inner(x: Any, down: Any) -> Any:
    return -math.sqrt(x) if down else math.sqrt(x)


def works(for_code: Callable[[Any], Any], for_python: Callable[[Any, str], Any]) -> bool:
    """Whether a function that calls another is compiled whole and gives the right numbers, where machine code is kept called as
    that is."""
    from sleevelift.jit import stored

    inner = for_code(_probe_inner)

    def outer(x: Any, down: Any) -> Any:
        return 1.0 + inner(x, down), x

    try:
        if not stored.POSSIBLE:
            return bool(for_python(outer, "generic")(4.0, True) == (-1.0, 4.0))
        made = machine_code(for_code(outer), for_code, (types.float64, types.boolean), ("f", "b"))
        return made is not None and stored.Code(*made, kinds=("f", "b"))((4.0, True)) == (-1.0, 4.0)
    except Exception:  # whatever a change of the compiler's insides makes of it
        return False
