"""What kernels do most with arrays, in few instructions: read and write a number, take a row, take an array out of a record.

The compiler's own code for these writes the array's description into memory and reads each part of it back; its optimiser later
takes all of that away. Here the parts are taken from the description where it stands, which comes to the same. Other uses of
arrays (slices, other orders in memory) are the compiler's.
"""

import operator
from typing import Any

from llvmlite import ir
from numba import types as _types
from numba.core import cgutils as _cgutils
from numba.np import arrayobj as _array_objects

types: Any = _types
cgutils: Any = _cgutils
arrays: Any = _array_objects
PARTS = ("meminfo", "parent", "nitems", "itemsize", "data", "shape", "strides")
"""The parts of an array's description, in their order."""


class _Described:
    """An array's description and its parts."""

    def __init__(self, context: Any, builder: Any, kind: Any, value: Any) -> None:
        if context.data_model_manager[kind.as_array]._fields != PARTS:
            raise NotImplementedError("another description of arrays")
        self._builder, self._value = builder, value

    def part(self, name: str) -> Any:
        """A part as it stands."""
        return self._builder.extract_value(self._value, PARTS.index(name))

    def along(self, name: str, axis: int) -> Any:
        """Length or stride along an axis."""
        return self._builder.extract_value(self._value, [PARTS.index(name), axis])


def _indices_of(kind: Any) -> tuple[Any, ...] | None:
    """Types of the numbers by which an array is indexed; None if there is anything else among them."""
    kinds = tuple(kind.types) if isinstance(kind, types.BaseTuple) else (kind,)
    return kinds if kinds and all(isinstance(each, types.Integer) for each in kinds) else None


def _place(context: Any, builder: Any, array: _Described, kind: Any, index_kind: Any, index: Any) -> Any:
    """Pointer to an entry, or to the first of a row, of an array whose rows lie one behind the other."""
    kinds = _indices_of(index_kind) or ()
    values = [builder.extract_value(index, n) for n in range(len(kinds))] if isinstance(index_kind, types.BaseTuple) else [index]
    offset = None
    for axis in range(kind.ndim):
        if axis < len(kinds):
            number = kinds[axis]
            value = context.cast(builder, values[axis], number, types.intp if number.signed else types.uintp)
            if number.signed and not (isinstance(value, ir.Constant) and value.constant >= 0):
                below = builder.icmp_signed("<", value, ir.Constant(value.type, 0))
                value = builder.select(below, builder.add(value, array.along("shape", axis)), value)
        if offset is not None:
            offset = builder.mul(offset, array.along("shape", axis))
        if axis < len(kinds):
            offset = value if offset is None else builder.add(offset, value)
    return builder.gep(array.part("data"), [offset])


def _plain(kind: Any, index_kind: Any) -> bool:
    """Whether an array with such an index is what is dealt with here."""
    indices = isinstance(kind, types.Array) and kind.layout == "C" and not isinstance(kind.dtype, types.NestedArray)
    return indices and (numbers := _indices_of(index_kind)) is not None and len(numbers) <= kind.ndim


def _get(context: Any, builder: Any, signature: Any, values: Any) -> Any:
    """An entry."""
    kind, index_kind = signature.args
    array = _Described(context, builder, kind, values[0])
    place = _place(context, builder, array, kind, index_kind, values[1])
    return arrays.load_item(context, builder, kind, place)


def _row(context: Any, builder: Any, signature: Any, values: Any) -> Any:
    """The array of what an index leaves open."""
    kind, index_kind = signature.args
    array = _Described(context, builder, kind, values[0])
    given = len(_indices_of(index_kind) or ())
    size = context.get_constant(types.intp, 1)
    lengths = [array.along("shape", axis) for axis in range(given, kind.ndim)]
    for length in lengths:
        size = builder.mul(size, length, flags=["nsw"])
    parts = {
        "meminfo": array.part("meminfo"),
        "parent": array.part("parent"),
        "nitems": size,
        "itemsize": array.part("itemsize"),
        "data": _place(context, builder, array, kind, index_kind, values[1]),
        "shape": cgutils.pack_array(builder, lengths),
        "strides": cgutils.pack_array(builder, [array.along("strides", axis) for axis in range(given, kind.ndim)]),
    }
    result = ir.Constant(context.get_value_type(signature.return_type), ir.Undefined)
    for number, name in enumerate(PARTS):
        result = builder.insert_value(result, parts[name], number)
    return result


def _set(context: Any, builder: Any, signature: Any, values: Any) -> Any:
    """Write an entry."""
    kind, index_kind, value_kind = signature.args
    array = _Described(context, builder, kind, values[0])
    place = _place(context, builder, array, kind, index_kind, values[1])
    value = context.cast(builder, values[2], value_kind, kind.dtype)
    arrays.store_item(context, builder, kind, value, place)
    return context.get_dummy_value()


def code_of(function: Any, signature: Any) -> Any:
    """Code of an operation; None where that is the compiler's."""
    key, kinds = getattr(function, "typing_key", None), signature.args
    if key not in (operator.getitem, operator.setitem) or not _plain(*kinds[:2]):
        return None
    given, axes, result = len(_indices_of(kinds[1]) or ()), kinds[0].ndim, signature.return_type
    if key is operator.setitem:
        return _set if given == axes and isinstance(kinds[2], types.Number | types.Boolean) else None
    if not isinstance(result, types.Buffer):
        return _get if given == axes else None
    is_row = result.layout == "C" and given + result.ndim == axes and not isinstance(result, types.NestedArray)
    return _row if is_row else None


def from_record(context: Any, builder: Any, kind: Any, value: Any, name: str) -> Any:
    """The array that a record holds under a name."""
    context.sentry_record_alignment(kind, name)
    its = kind.typeof(name)
    _Described(context, builder, its, None)

    def numbers(values: Any) -> Any:
        kind_of_number = context.get_value_type(types.intp)
        return ir.Constant(ir.ArrayType(kind_of_number, len(values)), [ir.Constant(kind_of_number, each) for each in values])

    described = context.get_value_type(its)
    data = cgutils.get_record_member(builder, value, kind.offset(name), context.get_data_type(its.dtype))
    size = 1
    for length in its.shape:
        size *= length
    parts = [ir.Constant(part, None) for part in described.elements]
    parts[PARTS.index("nitems")] = context.get_constant(types.intp, size)
    parts[PARTS.index("itemsize")] = context.get_constant(types.intp, its.size)
    parts[PARTS.index("shape")] = numbers(its.shape)
    parts[PARTS.index("strides")] = numbers(its.strides)
    return builder.insert_value(ir.Constant(described, parts), data, PARTS.index("data"))
