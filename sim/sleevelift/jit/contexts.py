"""The compiler's contexts as kernels see them: what has been found once is remembered.

The compiler asks for the type and the code of each operation several times and looks through all that it knows each time. Kernels
repeat a few hundred of them ten thousand times. A view shares with the compiler's own context all that is declared; its answers are
the same. Nothing is asked of the compiler's own contexts but to be looked at, and nobody else gets a view. See `whole` for what
follows where an inside of the compiler's is not there.
"""

import operator
from typing import Any

from numba import types as _types
from numba.core import cpu as _cpu
from numba.core.typing import context as _typing_context

from sleevelift.jit.arrays import code_of, from_record

types: Any = _types
UsualTyping: Any = _typing_context.Context
UsualTarget: Any = _cpu.CPUContext
NAME: Any = types.StringLiteral
BUILTIN = type(len)
PLAIN_OPERATIONS = frozenset(
    getattr(operator, name)
    for name in "getitem setitem add sub mul truediv floordiv mod neg lt le gt ge eq ne iadd isub imul itruediv".split()
)
"""Operations on numbers and arrays that mean the same for a constant as for any number of its type."""


PLAIN_ARGUMENTS: Any = (types.Number, types.Boolean, types.Array, types.BaseTuple)


def _without_constants(function: Any, arguments: tuple[Any, ...]) -> tuple[Any, ...]:
    """Types of arguments, those of constants as those of plain numbers where that makes no difference."""
    if not isinstance(function, types.Function) or function.typing_key not in PLAIN_OPERATIONS:
        return arguments
    if isinstance(arguments[0], types.BaseTuple):  # which of its parts is taken makes a difference
        return arguments
    plain = tuple(types.unliteral(kind) for kind in arguments)
    return plain if all(isinstance(kind, PLAIN_ARGUMENTS) for kind in plain) else arguments


class Typing(UsualTyping):  # type: ignore[misc]
    """What operations and attributes give, by the types they are applied to."""

    __slots__ = ("calls", "attributes", "values")

    def __init__(self, of: Any) -> None:  # shares what `of` knows, so that base classes have nothing to set up
        self.__dict__.update(of.__dict__)
        self.calls: dict[Any, Any] = {}
        self.attributes: dict[Any, Any] = {}
        self.values: dict[Any, Any] = {}

    def refresh(self) -> None:
        """Look for new declarations, once for a kernel and all that it calls."""
        if not len(self.callstack):
            super().refresh()

    def resolve_function_type(self, function: Any, arguments: Any, keywords: Any) -> Any:
        """Signature of a call or an operation; None if there is none."""
        if type(function) is BUILTIN:
            function = self._lookup_global(function) or function
        if keywords or not isinstance(function, types.Type | str):
            return super().resolve_function_type(function, arguments, keywords)
        arguments = _without_constants(function, tuple(arguments))
        key = function, arguments, tuple(map(type, arguments))  # a constant may stand for itself: 1 is not True
        try:
            found = self.calls.get(key, self)
        except TypeError:  # a constant that has no hash
            return super().resolve_function_type(function, arguments, keywords)
        if found is self:
            found = super().resolve_function_type(function, arguments, keywords)
            if found is not None or isinstance(function, str):
                self.calls[key] = found
        return found

    def resolve_setitem(self, target: Any, index: Any, value: Any) -> Any:
        """Signature of an assignment to an entry."""
        return self.resolve_function_type(self.resolve_value_type(operator.setitem), (target, index, value), {})

    def resolve_getattr(self, kind: Any, name: str) -> Any:
        """Type of an attribute; of a module, which may change, it is not remembered."""
        if isinstance(kind, types.Module):
            return super().resolve_getattr(kind, name)
        found = self.attributes.get((kind, name))
        if found is None:
            found = super().resolve_getattr(kind, name)
            if found is not None:
                self.attributes[kind, name] = found
        return found

    def resolve_value_type(self, value: Any) -> Any:
        """Type of a constant; remembered for Python's own functions."""
        if type(value) is not BUILTIN:
            return super().resolve_value_type(value)
        if value not in self.values:
            self.values[value] = super().resolve_value_type(value)
        return self.values[value]


def _with_place(code: Any) -> Any:
    """The same, called as the compiler does, who tells what line of the source it is for."""

    def called(*arguments: Any, loc: Any = None) -> Any:
        return code(*arguments)

    return called


class _Found:
    """The code of an operation, for one context."""

    __slots__ = ("_code", "_context", "_signature")

    def __init__(self, code: Any, context: Any, signature: Any) -> None:
        self._code, self._context, self._signature = code, context, signature

    def __call__(self, builder: Any, arguments: Any, loc: Any = None) -> Any:
        result = self._code(self._context, builder, self._signature, arguments, loc=loc)
        self._context.add_linking_libs(getattr(self._code, "libs", ()))
        return result

    def __getattr__(self, name: str) -> Any:
        return getattr(self._code, name)


class Target(UsualTarget):  # type: ignore[misc]
    """The code of operations, by their signatures, and the sizes of what they work on."""

    __slots__ = ("seen_typing", "code", "sizes")

    def __init__(self, of: Any, typing: Typing) -> None:  # as for `Typing`
        self.__dict__.update(of.__dict__)
        self.seen_typing = typing
        self.code: dict[Any, Any] = {}
        self.sizes: dict[str, int] = {}

    @property
    def typing_context(self) -> Any:
        """The view of types that belongs to this one."""
        return self.seen_typing

    def refresh(self) -> None:
        """Look for new declarations, once for a kernel and all that it calls."""
        if not len(self.seen_typing.callstack):
            super().refresh()

    def get_function(self, function: Any, signature: Any, _firstcall: bool = True) -> Any:
        """The code of an operation; where there is none yet, new declarations are looked for."""
        key = function, signature
        known = self.code.get(key)
        if known is None:
            known = self.code[key] = self._looked_up(function, signature)
        if not known:
            raise NotImplementedError(function)  # without the signature: records are long to write out
        return _Found(known[0], self, known[1])

    def _looked_up(self, function: Any, signature: Any) -> tuple[Any, ...]:
        """(code of an operation, its signature); nothing if an operation that has but a name has none: then another is tried."""
        own = code_of(function, signature)
        if own is not None:
            return _with_place(own), signature
        if function == "static_getitem" and isinstance(signature.args[0], types.Array) and not isinstance(signature.args[1], NAME):
            return ()
        try:
            found = super().get_function(function, signature, _firstcall=False)
        except NotImplementedError:
            if isinstance(function, str):
                return ()
            UsualTyping.refresh(self.seen_typing)
            super().refresh()
            found = super().get_function(function, signature, _firstcall=False)
        return found._imp, found._sig

    def get_getattr(self, kind: Any, name: str) -> Any:
        """The code that gives an attribute."""
        if not isinstance(kind, types.Record):
            return super().get_getattr(kind, name)
        if isinstance(kind.typeof(name), types.NestedArray):
            return from_record
        if types.Record not in self.code:  # one serves for all fields of all records
            self.code[types.Record] = super().get_getattr(kind, name)
        return self.code[types.Record]

    def declare_function(self, module: Any, description: Any) -> Any:
        """A function of another module, as this one knows it."""
        known = module.globals.get(description.mangled_name)
        return super().declare_function(module, description) if known is None else known

    def cast(self, builder: Any, value: Any, given: Any, wanted: Any) -> Any:
        """A value as another type has it."""
        return value if given is wanted else super().cast(builder, value, given, wanted)

    def get_abi_sizeof(self, kind: Any) -> int:
        """Bytes of a type of the machine's."""
        name = str(kind)
        if name not in self.sizes:
            self.sizes[name] = super().get_abi_sizeof(kind)
        return self.sizes[name]


_views: list[tuple[Any, Any, Typing, Target]] = []


def views(typing: Any, target: Any) -> tuple[Typing, Target]:
    """The views of two contexts, always the same ones."""
    for known_typing, known_target, its_typing, its_target in _views:
        if known_typing is typing and known_target is target:
            return its_typing, its_target
    seen = Typing(typing)
    _views.append((typing, target, seen, Target(target, seen)))
    return _views[-1][2:]
