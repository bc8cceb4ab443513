"""What the functions of `packed` compile to, for one number and for four."""

import operator
from collections.abc import Callable
from typing import Any

from llvmlite import ir
from numba import extending as _extending
from numba import types as _types
from numba.core import cgutils as _code_generation
from numba.core import typeconv as _typeconv
from numba.core.typing import templates as _templates

from sleevelift.jit import packed, vectors
from sleevelift.jit.vector_code import DOUBLE, FUSED, INDEX, VECTOR, array_place, read_vector, spread, times_plus, write_vector

types: Any = _types
cgutils: Any = _code_generation
lower: Any = _extending.lower_builtin
lower_cast: Any = _extending.lower_cast
infer_global: Any = _templates.infer_global
Template: Any = _templates.AbstractTemplate
signature: Any = _templates.signature
Conversion: Any = _typeconv.Conversion  # type: ignore[attr-defined]
Model: Any = _extending.models.PrimitiveModel
register_model: Any = _extending.register_model

BITS: Any = ir.VectorType(ir.IntType(64), 4)
FLAGS: Any = ir.VectorType(ir.IntType(1), 4)


class PackedType(types.Type):  # type: ignore[misc]
    """Four numbers in a register; one number stands for four equal ones."""

    def __init__(self) -> None:
        super().__init__(name="packed")

    def can_convert_from(self, typing_context: Any, other: Any) -> Any:
        """A number is taken as four equal ones."""
        return Conversion.safe if isinstance(other, types.Number) else None

    def unify(self, typing_context: Any, other: Any) -> Any:
        """Two branches, of which one gives a number, give four."""
        return self if isinstance(other, types.Number) else None


class MaskType(types.Type):  # type: ignore[misc]
    """A condition on four numbers: all bits set where it holds."""

    def __init__(self) -> None:
        super().__init__(name="mask")


PACKED, MASK = PackedType(), MaskType()
NUMBER: Any = types.float64
TRUTH: Any = types.boolean


@register_model(PackedType)
class _PackedModel(Model):  # type: ignore[misc]
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, VECTOR)


@register_model(MaskType)
class _MaskModel(Model):  # type: ignore[misc]
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, BITS)


@lower_cast(types.Number, PackedType)
def _spread_number(context: Any, builder: Any, given: Any, wanted: Any, value: Any) -> Any:
    return spread(builder, context.cast(builder, value, given, NUMBER))


def _typed(function: Any, result: Any, *parameters: Any, one: tuple[Any, ...] | None = None) -> None:
    """Give `function` these types for four numbers and, as `one` (result, parameters), for one."""

    class _Typing(Template):  # type: ignore[misc]
        def generic(self, arguments: Any, keywords: Any) -> Any:
            if len(arguments) != len(parameters) or keywords:
                return None
            if PACKED in arguments or MASK in arguments:
                return signature(result, *parameters)
            if one is None or not all(isinstance(kind, types.Number | types.Boolean) for kind in arguments):
                return None
            return signature(*one)

    _Typing.key = function
    infer_global(function)(_Typing)


Code = Callable[..., Any]


def _lowered(function: Any, parameters: tuple[Any, ...], code: Code) -> None:
    """Compile `function` of such parameters to what `code(builder, *values)` builds."""

    def build(context: Any, builder: Any, outputs: Any, arguments: Any) -> Any:
        return code(builder, *arguments)

    lower(function, *parameters)(build)


def _mask(builder: Any, flags: Any) -> Any:
    return builder.sext(flags, BITS)


def _flags(builder: Any, mask: Any) -> Any:
    return builder.icmp_signed("!=", mask, ir.Constant(BITS, [0] * 4))


def _operators() -> None:
    """Sums, products and comparisons of four numbers with four or with one."""
    for function, name in (
        (operator.add, "fadd"), (operator.sub, "fsub"), (operator.mul, "fmul"), (operator.truediv, "fdiv"),
        (operator.iadd, "fadd"), (operator.isub, "fsub"), (operator.imul, "fmul"), (operator.itruediv, "fdiv"),
    ):  # fmt: skip
        _typed(function, PACKED, PACKED, PACKED)
        _lowered(function, (PACKED, PACKED), lambda builder, a, b, name=name: getattr(builder, name)(a, b, flags=FUSED))
    _typed(operator.neg, PACKED, PACKED)
    _lowered(operator.neg, (PACKED,), lambda builder, a: builder.fneg(a))
    for function, sign in ((operator.lt, "<"), (operator.le, "<="), (operator.gt, ">"), (operator.ge, ">="), (operator.eq, "==")):
        _typed(function, MASK, PACKED, PACKED)
        _lowered(function, (PACKED, PACKED), lambda builder, a, b, sign=sign: _mask(builder, builder.fcmp_ordered(sign, a, b)))
    for function, name in ((operator.and_, "and_"), (operator.or_, "or_")):
        _typed(function, MASK, MASK, MASK)
        _lowered(function, (MASK, MASK), lambda builder, a, b, name=name: getattr(builder, name)(a, b))


def _intrinsic(builder: Any, name: str, *values: Any) -> Any:
    """Call of the compiler's function of this name for the values' type."""
    kind = values[0].type
    suffix = "v4f64" if kind == VECTOR else "f64"
    function = cgutils.get_or_insert_function(builder.module, ir.FunctionType(kind, [kind] * len(values)), f"llvm.{name}.{suffix}")
    return builder.call(function, values, fastmath=FUSED)


def _builder_of(name: str) -> Code:
    return lambda builder, a: _intrinsic(builder, name, a)


def _smaller(builder: Any, a: Any, b: Any) -> Any:
    return builder.select(builder.fcmp_ordered("<", b, a), b, a)


def _larger(builder: Any, a: Any, b: Any) -> Any:
    return builder.select(builder.fcmp_ordered(">", b, a), b, a)


def _functions() -> None:
    """Functions that mean the same for one number and for four."""
    for function, name in (
        (packed.root, "sqrt"), (packed.logarithm, "log"), (packed.exponential, "exp"), (packed.size, "fabs"),
        (packed.whole, "floor"),
    ):  # fmt: skip
        _typed(function, PACKED, PACKED, one=(NUMBER, NUMBER))
        for kind in (PACKED, NUMBER):
            _lowered(function, (kind,), _builder_of(name))
    for two, code in ((packed.least, _smaller), (packed.most, _larger)):
        _typed(two, PACKED, PACKED, PACKED, one=(NUMBER, NUMBER, NUMBER))
        for kind in (PACKED, NUMBER):
            _lowered(two, (kind, kind), code)
    _typed(packed.choose, PACKED, MASK, PACKED, PACKED, one=(NUMBER, TRUTH, NUMBER, NUMBER))
    _lowered(packed.choose, (MASK, PACKED, PACKED), lambda builder, c, a, b: builder.select(_flags(builder, c), a, b))
    _lowered(packed.choose, (TRUTH, NUMBER, NUMBER), lambda builder, c, a, b: builder.select(c, a, b))


def _bits_of(builder: Any, mask: Any) -> Any:
    """A whole number with a bit for each place where the condition holds."""
    return builder.bitcast(_flags(builder, mask), ir.IntType(4))


def _first(builder: Any, mask: Any) -> Any:
    wide = builder.zext(builder.not_(_bits_of(builder, mask)), ir.IntType(64))
    bounded = builder.or_(wide, ir.Constant(ir.IntType(64), 16))
    return builder.cttz(bounded, ir.Constant(ir.IntType(1), 1))


def _questions() -> None:
    """What asks about all four at once."""
    none, every = ir.Constant(ir.IntType(4), 0), ir.Constant(ir.IntType(4), -1)
    for function in (packed.any_of, packed.all_of):
        _typed(function, TRUTH, MASK, one=(TRUTH, TRUTH))
        _lowered(function, (TRUTH,), lambda builder, c: c)
    _lowered(packed.any_of, (MASK,), lambda builder, c: builder.icmp_unsigned("!=", _bits_of(builder, c), none))
    _lowered(packed.all_of, (MASK,), lambda builder, c: builder.icmp_unsigned("==", _bits_of(builder, c), every))
    _typed(packed.first_without, types.intp, MASK)
    _lowered(packed.first_without, (MASK,), _first)


def _packing() -> None:
    """From numbers to four and back."""

    class _Pack(Template):  # type: ignore[misc]
        key = packed.pack

        def generic(self, arguments: Any, keywords: Any) -> Any:
            return signature(PACKED, NUMBER, NUMBER, NUMBER, NUMBER) if len(arguments) == 4 else None

    infer_global(packed.pack)(_Pack)

    def side_by_side(builder: Any, *values: Any) -> Any:
        whole = ir.Constant(VECTOR, ir.Undefined)
        for place, value in enumerate(values):
            whole = builder.insert_element(whole, value, ir.Constant(INDEX, place))
        return whole

    _lowered(packed.pack, (NUMBER,) * 4, side_by_side)
    _typed(packed.item, NUMBER, PACKED, types.intp)
    _lowered(packed.item, (PACKED, types.intp), lambda builder, v, place: builder.extract_element(v, place))

    class _Row(Template):  # type: ignore[misc]
        key = packed.pack_row

        def generic(self, arguments: Any, keywords: Any) -> Any:
            fits = len(arguments) == 1 and isinstance(arguments[0], types.Array)
            return signature(PACKED, arguments[0]) if fits else None

    infer_global(packed.pack_row)(_Row)

    @lower(packed.pack_row, types.Array)
    def row(context: Any, builder: Any, outputs: Any, arguments: Any) -> Any:
        zero = ir.Constant(ir.IntType(64), 0)
        return read_vector(builder, array_place(context, builder, outputs.args[0], arguments[0], zero))

    class _Put(Template):  # type: ignore[misc]
        key = packed.put_row

        def generic(self, arguments: Any, keywords: Any) -> Any:
            fits = len(arguments) == 2 and isinstance(arguments[0], types.Array)
            return signature(types.none, arguments[0], PACKED) if fits else None

    infer_global(packed.put_row)(_Put)

    @lower(packed.put_row, types.Array, PACKED)
    def put(context: Any, builder: Any, outputs: Any, arguments: Any) -> Any:
        zero = ir.Constant(ir.IntType(64), 0)
        write_vector(builder, array_place(context, builder, outputs.args[0], arguments[0], zero), arguments[1])
        return context.get_dummy_value()


def _mixed(builder: Any, a: Any, b: Any, places: list[int]) -> Any:
    """A vector of numbers of two others, those of the second counted from 4."""
    return builder.shuffle_vector(a, b, ir.Constant(ir.VectorType(INDEX, 4), places))


def _turned(builder: Any, rows: list[Any]) -> list[Any]:
    """The columns of four vectors."""
    a, b, c, d = rows
    low = _mixed(builder, a, b, [0, 4, 2, 6]), _mixed(builder, c, d, [0, 4, 2, 6])
    high = _mixed(builder, a, b, [1, 5, 3, 7]), _mixed(builder, c, d, [1, 5, 3, 7])
    return [_mixed(builder, x, y, places) for places in ([0, 1, 4, 5], [2, 3, 6, 7]) for x, y in (low, high)]


def _sums(builder: Any, rows: list[Any]) -> Any:
    """The sums of four vectors' numbers, side by side."""
    a, b, c, d = rows
    first = builder.fadd(_mixed(builder, a, b, [0, 4, 2, 6]), _mixed(builder, a, b, [1, 5, 3, 7]), flags=FUSED)
    second = builder.fadd(_mixed(builder, c, d, [0, 4, 2, 6]), _mixed(builder, c, d, [1, 5, 3, 7]), flags=FUSED)
    low, high = _mixed(builder, first, second, [0, 1, 4, 5]), _mixed(builder, first, second, [2, 3, 6, 7])
    return builder.fadd(low, high, flags=FUSED)


class _Patches:
    """Rows of four patches of a table, each weighted and added up."""

    def __init__(self, context: Any, builder: Any, kind: Any, table: Any, places: Any, step: Any) -> None:
        self.builder = builder
        self.rows = []
        for number in range(4):
            place = builder.extract_value(places, number)
            rows = []
            for _ in range(4):
                rows.append(read_vector(builder, array_place(context, builder, kind, table, place)))
                place = builder.add(place, step)
            self.rows.append(rows)

    def weighted(self, weights: Any) -> list[Any]:
        """For each patch the sum of its rows, each times its weight."""
        totals = []
        for number, rows in enumerate(self.rows):
            total = ir.Constant(VECTOR, [ir.Constant(DOUBLE, 0.0)] * 4)
            for m, row in enumerate(rows):
                weight = self.builder.extract_element(self.builder.extract_value(weights, m), ir.Constant(INDEX, number))
                total = times_plus(self.builder, spread(self.builder, weight), row, total)
            totals.append(total)
        return totals

    def summed(self, totals: list[Any], along: Any) -> Any:
        """The sums of such rows, each number times its weight along them."""
        turned = _turned(self.builder, [self.builder.extract_value(along, n) for n in range(4)])
        return _sums(self.builder, [self.builder.fmul(a, b, flags=FUSED) for a, b in zip(totals, turned)])


def _patching() -> None:
    """Four patches of a table at once."""
    four_places, four_weights = types.UniTuple(types.uint64, 4), types.UniTuple(PACKED, 4)

    class _Sums(Template):  # type: ignore[misc]
        key = vectors.patch_sums

        def generic(self, arguments: Any, keywords: Any) -> Any:
            return signature(PACKED, arguments[0], four_places, types.uint64, four_weights, four_weights)

    class _Slopes(Template):  # type: ignore[misc]
        key = vectors.patches_slopes

        def generic(self, arguments: Any, keywords: Any) -> Any:
            weights = [four_weights] * 4
            return signature(types.UniTuple(PACKED, 3), arguments[0], four_places, types.uint64, *weights)

    infer_global(vectors.patch_sums)(_Sums)
    infer_global(vectors.patches_slopes)(_Slopes)

    @lower(vectors.patch_sums, types.Array, four_places, types.uint64, four_weights, four_weights)
    def sums(context: Any, builder: Any, outputs: Any, arguments: Any) -> Any:
        table, places, step, across, along = arguments
        patches = _Patches(context, builder, outputs.args[0], table, places, step)
        return patches.summed(patches.weighted(across), along)

    @lower(vectors.patches_slopes, types.Array, four_places, types.uint64, *[four_weights] * 4)
    def slopes(context: Any, builder: Any, outputs: Any, arguments: Any) -> Any:
        table, places, step, across, across_slope, along, along_slope = arguments
        patches = _Patches(context, builder, outputs.args[0], table, places, step)
        totals, by_row = patches.weighted(across), patches.weighted(across_slope)
        values = [patches.summed(totals, along), patches.summed(by_row, along), patches.summed(totals, along_slope)]
        return context.make_tuple(builder, outputs.return_type, values)


_operators()
_functions()
_questions()
_packing()
_patching()
