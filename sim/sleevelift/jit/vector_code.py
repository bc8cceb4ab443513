"""What the functions of `vectors` compile to, and the array at a pointer."""

from typing import Any

from llvmlite import ir
from numba import extending as _extending
from numba import types as _types
from numba.core import cgutils as _code_generation
from numba.np import arrayobj as _array_objects

from sleevelift.jit.vectors import add_scaled_row, combine_rows, masked_size, patch_slopes, patch_sum, scale_row

intrinsic: Any = _extending.intrinsic
overload: Any = _extending.overload
cgutils: Any = _code_generation
types: Any = _types
_arrays: Any = _array_objects

DOUBLE: Any = ir.DoubleType()
INDEX: Any = ir.IntType(32)
FUSED = ("contract", "reassoc", "nsz")
"""A product and a sum may become one instruction."""


def array_place(context: Any, builder: Any, kind: Any, array: Any, offset: Any) -> Any:
    """Pointer to the entry at a flat offset of an array."""
    data = context.make_array(kind)(context, builder, value=array).data
    return builder.gep(data, [offset])


def _row(context: Any, builder: Any, kind: Any, array: Any, i: Any) -> Any:
    """Pointer to row i of a matrix nested in a record."""
    return array_place(context, builder, kind, array, builder.mul(i, ir.Constant(i.type, kind.shape[1])))


VECTOR: Any = ir.VectorType(DOUBLE, 4)
"""What is held in one register."""


def _pieces(context: Any, builder: Any, kind: Any, array: Any, i: Any) -> list[Any]:
    """Pointers to the vectors that make up row i of a matrix nested in a record."""
    start = _row(context, builder, kind, array, i)
    return [builder.gep(start, [ir.Constant(INDEX, k)]) for k in range(0, kind.shape[1], 4)]


def read_vector(builder: Any, pointer: Any) -> Any:
    """The vector at a pointer, aligned as doubles are."""
    return builder.load(builder.bitcast(pointer, VECTOR.as_pointer()), align=8)


def write_vector(builder: Any, pointer: Any, vector: Any) -> None:
    """Write a vector at a pointer to doubles."""
    builder.store(vector, builder.bitcast(pointer, VECTOR.as_pointer()), align=8)


def spread(builder: Any, number: Any) -> Any:
    """A vector with one number in all places."""
    nothing = ir.Constant(VECTOR, ir.Undefined)
    first = builder.insert_element(nothing, number, ir.Constant(INDEX, 0))
    return builder.shuffle_vector(first, nothing, ir.Constant(ir.VectorType(INDEX, 4), [0] * 4))


def _sum(builder: Any, vector: Any) -> Any:
    """Sum of a vector's numbers, pairwise."""
    halves = [ir.Constant(ir.VectorType(INDEX, 2), places) for places in ([0, 1], [2, 3])]
    pair = builder.fadd(*(builder.shuffle_vector(vector, vector, half) for half in halves), flags=FUSED)
    numbers = [builder.extract_element(pair, ir.Constant(INDEX, place)) for place in range(2)]
    return builder.fadd(*numbers, flags=FUSED)


def times_plus(builder: Any, a: Any, b: Any, c: Any) -> Any:
    """The vector a b + c."""
    return builder.fadd(builder.fmul(a, b, flags=FUSED), c, flags=FUSED)


def _zeros(builder: Any, count: int) -> list[Any]:
    """Variables for so many vectors, at zero."""
    places = [cgutils.alloca_once(builder, VECTOR) for _ in range(count)]
    for place in places:
        builder.store(ir.Constant(VECTOR, [ir.Constant(DOUBLE, 0.0)] * 4), place)
    return places


@intrinsic
def array_at(typing_context: Any, pointer: Any, sizes: Any) -> Any:
    """The array of these sizes at a pointer, rows first; it belongs to the caller."""
    kind = types.Array(pointer.dtype, sizes.count, "C")

    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        array = context.make_array(signature.return_type)(context, builder)
        size = ir.Constant(ir.IntType(64), context.get_abi_sizeof(context.get_data_type(kind.dtype)))
        shape = cgutils.unpack_tuple(builder, arguments[1])
        strides = [size]
        for length in shape[:0:-1]:
            strides.insert(0, builder.mul(strides[0], length))
        data = builder.bitcast(arguments[0], context.get_data_type(kind.dtype).as_pointer())
        _arrays.populate_array(array, data=data, shape=shape, strides=strides, itemsize=size, meminfo=None)
        return array._getvalue()

    return kind(pointer, sizes), code


@intrinsic
def _add_scaled_row(typing_context: Any, matrix: Any, i: Any, j: Any, weight: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        array, target, source, factor = arguments
        kind = signature.args[0]
        factors = spread(builder, factor)
        targets = _pieces(context, builder, kind, array, target)
        sources = [read_vector(builder, piece) for piece in _pieces(context, builder, kind, array, source)]
        sums = [times_plus(builder, factors, more, read_vector(builder, piece)) for more, piece in zip(sources, targets)]
        for piece, total in zip(targets, sums):
            write_vector(builder, piece, total)
        return context.get_dummy_value()

    return types.void(matrix, types.intp, types.intp, types.float64), code


@intrinsic
def _scale_row(typing_context: Any, matrix: Any, i: Any, weight: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        array, row, factor = arguments
        factors = spread(builder, factor)
        for piece in _pieces(context, builder, signature.args[0], array, row):
            write_vector(builder, piece, builder.fmul(factors, read_vector(builder, piece), flags=FUSED))
        return context.get_dummy_value()

    return types.void(matrix, types.intp, types.float64), code


@intrinsic
def _combine_rows(typing_context: Any, out: Any, weights: Any, matrix: Any, count: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        out_kind, weights_kind, kind, _ = signature.args
        out_, weights_, array, rows = arguments
        totals = _zeros(builder, kind.shape[1] // 4)
        with cgutils.for_range(builder, rows) as loop:
            weight = spread(builder, builder.load(array_place(context, builder, weights_kind, weights_, loop.index)))
            for total, piece in zip(totals, _pieces(context, builder, kind, array, loop.index)):
                builder.store(times_plus(builder, weight, read_vector(builder, piece), builder.load(total)), total)
        for k, total in enumerate(totals):
            place = array_place(context, builder, out_kind, out_, ir.Constant(rows.type, 4 * k))
            write_vector(builder, place, builder.load(total))
        return context.get_dummy_value()

    return types.void(out, weights, matrix, types.intp), code


@intrinsic
def _masked_size(typing_context: Any, matrix: Any, mask: Any, count: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        kind, mask_kind, _ = signature.args
        array, mask_, rows = arguments
        bits = ir.VectorType(ir.IntType(64), 4)
        all_but_sign = ir.Constant(bits, [0x7FFFFFFFFFFFFFFF] * 4)
        totals = _zeros(builder, kind.shape[1] // 4)
        with cgutils.for_range(builder, rows) as loop:
            shares = _pieces(context, builder, mask_kind, mask_, loop.index)
            for total, piece, share in zip(totals, _pieces(context, builder, kind, array, loop.index), shares):
                size = builder.and_(builder.bitcast(read_vector(builder, piece), bits), all_but_sign)
                more = times_plus(builder, builder.bitcast(size, VECTOR), read_vector(builder, share), builder.load(total))
                builder.store(more, total)
        whole = builder.load(totals[0])
        for total in totals[1:]:
            whole = builder.fadd(whole, builder.load(total), flags=FUSED)
        return _sum(builder, whole)

    return types.float64(matrix, mask, types.intp), code


@intrinsic
def _patch_sum(typing_context: Any, table: Any, k: Any, step: Any, v: Any, w: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        kind = signature.args[0]
        array, place, step_, rows, along = arguments
        total = ir.Constant(VECTOR, [ir.Constant(DOUBLE, 0.0)] * 4)
        weights = ir.Constant(VECTOR, ir.Undefined)
        for m in range(4):
            row = read_vector(builder, array_place(context, builder, kind, array, place))
            total = times_plus(builder, spread(builder, builder.extract_value(rows, m)), row, total)
            place = builder.add(place, step_)
            weights = builder.insert_element(weights, builder.extract_value(along, m), ir.Constant(INDEX, m))
        return _sum(builder, builder.fmul(total, weights, flags=FUSED))

    return types.float64(table, types.uint64, types.uint64, v, w), code


@intrinsic
def _patch_slopes(typing_context: Any, table: Any, k: Any, step: Any, v: Any, v_slope: Any, w: Any, w_slope: Any) -> Any:
    result = types.UniTuple(types.float64, 3)

    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        kind = signature.args[0]
        array, place, step_, rows, row_slopes, along, along_slopes = arguments
        total = by_row = ir.Constant(VECTOR, [ir.Constant(DOUBLE, 0.0)] * 4)
        weights = slopes = ir.Constant(VECTOR, ir.Undefined)
        for m in range(4):
            row = read_vector(builder, array_place(context, builder, kind, array, place))
            total = times_plus(builder, spread(builder, builder.extract_value(rows, m)), row, total)
            by_row = times_plus(builder, spread(builder, builder.extract_value(row_slopes, m)), row, by_row)
            place = builder.add(place, step_)
            here = ir.Constant(INDEX, m)
            weights = builder.insert_element(weights, builder.extract_value(along, m), here)
            slopes = builder.insert_element(slopes, builder.extract_value(along_slopes, m), here)
        pairs = ((total, weights), (by_row, weights), (total, slopes))
        sums = [_sum(builder, builder.fmul(values, share, flags=FUSED)) for values, share in pairs]
        return context.make_tuple(builder, signature.return_type, sums)

    return result(table, types.uint64, types.uint64, v, v_slope, w, w_slope), code


@overload(add_scaled_row, strict=False, inline="always")
def _compiled_add_scaled_row(matrix: Any, i: Any, j: Any, weight: Any) -> Any:
    return lambda matrix, i, j, weight: _add_scaled_row(matrix, i, j, weight)


@overload(scale_row, strict=False, inline="always")
def _compiled_scale_row(matrix: Any, i: Any, weight: Any) -> Any:
    return lambda matrix, i, weight: _scale_row(matrix, i, weight)


@overload(combine_rows, strict=False, inline="always")
def _compiled_combine_rows(out: Any, weights: Any, matrix: Any, count: Any) -> Any:
    return lambda out, weights, matrix, count: _combine_rows(out, weights, matrix, count)


@overload(masked_size, strict=False, inline="always")
def _compiled_masked_size(matrix: Any, mask: Any, count: Any) -> Any:
    return lambda matrix, mask, count: _masked_size(matrix, mask, count)


@overload(patch_sum, strict=False, inline="always")
def _compiled_patch_sum(table: Any, k: Any, step: Any, v: Any, w: Any) -> Any:
    return lambda table, k, step, v, w: _patch_sum(table, k, step, v, w)


@overload(patch_slopes, strict=False, inline="always")
def _compiled_patch_slopes(table: Any, k: Any, step: Any, v: Any, v_slope: Any, w: Any, w_slope: Any) -> Any:
    return lambda table, k, step, v, v_slope, w, w_slope: _patch_slopes(table, k, step, v, v_slope, w, w_slope)
