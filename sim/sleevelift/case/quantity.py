"""Fields of the case file: what a value with a unit is to pydantic.

    preload: Force = key("closing force of the spring on the seat", ge=0.0, because="the valve is held closed by it")

`Force` is a float in SI after validation. In the file it is a string with a unit ("770 N"), or a table that also
carries its range: `{ value = "770 N", plus_minus = "5 %" }` or `{ value = "770 N", low = "740 N", high = "800 N" }`.
The per cent counts from the number as written. `Number` is a plain number, or a table of plain numbers.
"""

import math
from typing import Annotated, Any, NamedTuple, Self

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from sleevelift import units
from sleevelift.reader import METRIC, Reader

DERIVED = math.nan
"""Stands in a field that is filled from other fields after validation. No file can give it: NaN is refused."""

RANGE_KEYS = frozenset({"value", "plus_minus", "low", "high"})


SMALLEST, LARGEST = 1e-18, 1e18
"""Sizes of a value in SI units, other than 0, that a case file may state."""


class Context(NamedTuple):
    """What a value needs to know of the rest of the file while it is read."""

    ambient_pressure: float
    """Pa absolute; NaN while the ambient pressure itself is read"""
    already_si: bool = False
    """true when a finished case is checked again: values are SI numbers, not texts"""


class ReadValue(NamedTuple):
    """One value of the file with its range, SI."""

    value: float
    low: float
    high: float
    has_range: bool
    per_cent: bool
    """the range was given in per cent"""
    gauge: bool
    """the pressure was given above ambient"""
    unit: str
    """unit as written ("" for a plain number)"""


class QuantityFault(ValueError):
    """A value that cannot be read; `where` is the key inside a range table ("" for the value itself)."""

    def __init__(self, rule: str, where: str = "", given: Any = None) -> None:
        super().__init__(rule)
        self.rule, self.where, self.given = rule, where, given


def _single(raw: Any, kind: str, ambient_pressure: float) -> units.Reading:
    """One number or one text, without range."""
    if kind == "number":
        if isinstance(raw, bool) or not isinstance(raw, int | float):
            raise QuantityFault("must be a plain number, without quotes or unit")
        try:
            value = float(raw)
        except OverflowError:
            value = math.inf
        if not math.isfinite(value):
            raise QuantityFault("must be a finite number")
        return _within_reason(units.Reading(value, value, "", False))
    if not isinstance(raw, str):
        examples = units.KINDS[kind].examples
        if isinstance(raw, int | float) and not isinstance(raw, bool):
            raise QuantityFault(f"needs a unit: a text such as {examples}")
        raise QuantityFault(f"must be a text with a number and a unit, such as {examples}")
    try:
        return _within_reason(units.read_quantity(raw, kind, ambient_pressure))
    except units.UnitError as error:
        raise QuantityFault(str(error)) from None


def _within_reason(reading: units.Reading) -> units.Reading:
    """The reading, unless its size is beyond anything physical, where products and powers of it leave a double's range."""
    if reading.si != 0.0 and not SMALLEST <= abs(reading.si) <= LARGEST:
        raise QuantityFault(f"must be 0 or between {SMALLEST:g} and {LARGEST:g} in SI units")
    return reading


def _half_width(raw: Any, centre: units.Reading, kind: str, ambient_pressure: float) -> tuple[float, bool]:
    """Half the width of a range, SI, and whether it was given in per cent (of the number as written)."""
    difference = units.RANGE_KIND.get(kind, kind)
    try:
        if isinstance(raw, str) and raw.strip().endswith("%"):
            per_cent = _single_per_cent(raw)
            number = abs(centre.number) * per_cent / 100.0
            if kind == "number":
                return number, True
            plain_unit = centre.unit[:-1] if kind == "pressure" else centre.unit
            return number * units.unit(plain_unit).factor, True
        width = _single(raw, difference, ambient_pressure).si
    except QuantityFault as fault:
        raise QuantityFault(fault.rule + ', or a percentage such as "20 %"', "plus_minus", raw) from None
    if width < 0.0:
        raise QuantityFault("must be at least 0 (it goes both ways from the value)", "plus_minus", raw)
    return width, False


def _single_per_cent(raw: str) -> float:
    try:
        per_cent = float(raw.strip()[:-1]) if len(raw) <= units.LONGEST_TEXT else math.nan
    except ValueError:
        per_cent = math.nan
    if not math.isfinite(per_cent) or per_cent < 0.0:
        raise QuantityFault("must be a percentage of at least 0")
    return per_cent


def read_value(raw: Any, kind: str, ambient_pressure: float) -> ReadValue:
    """A value of the file, with its range if it has one. QuantityFault names the rule that it breaks."""
    if not isinstance(raw, dict):
        reading = _single(raw, kind, ambient_pressure)
        return ReadValue(reading.si, reading.si, reading.si, False, False, reading.gauge, reading.unit)
    unknown = next((name for name in raw if name not in RANGE_KEYS), None)
    if unknown is not None:
        raise QuantityFault("is no key of a range: value with plus_minus, or with low and high", unknown, raw[unknown])
    if "value" not in raw:
        raise QuantityFault("needs a value beside its range", "value")
    try:
        centre = _single(raw["value"], kind, ambient_pressure)
    except QuantityFault as fault:
        raise QuantityFault(fault.rule, "value", raw["value"]) from None
    if "plus_minus" in raw:
        if "low" in raw or "high" in raw:
            raise QuantityFault("has plus_minus and low/high: give one of the two", "plus_minus", raw["plus_minus"])
        width, per_cent = _half_width(raw["plus_minus"], centre, kind, ambient_pressure)
        low, high = centre.si - width, centre.si + width
    else:
        per_cent = False
        low, high = (_bound(raw, end, centre, kind, ambient_pressure) for end in ("low", "high"))
    has_range = len(raw) > 1
    return ReadValue(centre.si, low, high, has_range, per_cent, centre.gauge, centre.unit)


def _bound(raw: dict[str, Any], end: str, centre: units.Reading, kind: str, ambient_pressure: float) -> float:
    """The low or high end of a range, SI; the value itself where that end is not given."""
    if end not in raw:
        return centre.si
    try:
        bound = _single(raw[end], kind, ambient_pressure).si
    except QuantityFault as fault:
        raise QuantityFault(fault.rule, end, raw[end]) from None
    if (bound > centre.si) if end == "low" else (bound < centre.si):
        side = "at most" if end == "low" else "at least"
        raise QuantityFault(f"must be {side} the value", end, raw[end])
    return bound


class Quantity:
    """Annotation of a float field: it is read as a quantity of this kind."""

    def __init__(self, kind: str) -> None:
        self.kind = kind
        self.si_unit = units.KINDS[kind].si_unit

    def _validated(self, raw: Any, info: ValidationInfo) -> float:
        context = info.context if isinstance(info.context, Context) else Context(math.nan)
        if context.already_si:
            if isinstance(raw, float | int) and not isinstance(raw, bool) and math.isfinite(raw):
                return float(raw)
            raise PydanticCustomError("quantity", "{rule}", {"rule": "must be a finite number", "where": ""})
        try:
            return read_value(raw, self.kind, context.ambient_pressure).value
        except QuantityFault as fault:
            details = {"rule": fault.rule, "where": fault.where, "given": fault.given}
            raise PydanticCustomError("quantity", "{rule}", details) from None

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_before_validator_function(self._validated, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Stands for the form in the file; `sleevelift.case.json_schema` puts `file_form` in its place."""
        return {QUANTITY_MARK: self.kind}


QUANTITY_MARK = "x-quantity"
_PER_CENT = {"type": "string", "pattern": r"^\s*[0-9.eE+-]+\s*%\s*$"}


def file_form(kind: str) -> dict[str, Any]:
    """JSON Schema of a value of this kind in the file: a text (or a number), or a table with its range."""
    if kind == "number":
        single: dict[str, Any] = {"type": "number"}
        width: dict[str, Any] = {"anyOf": [{"type": "number", "minimum": 0}, _PER_CENT]}
    else:
        number_drill = r"#\d+|" if kind == "length" else ""
        pattern = rf"^\s*({number_drill}[+-]?(\d|\.\d).*[A-Za-z)\d])\s*$"
        single = {"type": "string", "pattern": pattern, "maxLength": units.LONGEST_TEXT}
        width = {"anyOf": [_PER_CENT, {"type": "string", "pattern": pattern, "maxLength": units.LONGEST_TEXT}]}
    ranged = {
        "type": "object",
        "properties": {"value": single, "plus_minus": width, "low": single, "high": single},
        "required": ["value"],
        "additionalProperties": False,
    }
    return {"anyOf": [single, ranged], "description": f"{kind}, such as {units.KINDS[kind].examples}"}


Length = Annotated[float, Quantity("length")]
Area = Annotated[float, Quantity("area")]
Volume = Annotated[float, Quantity("volume")]
Mass = Annotated[float, Quantity("mass")]
Time = Annotated[float, Quantity("time")]
Angle = Annotated[float, Quantity("angle")]
Force = Annotated[float, Quantity("force")]
Stiffness = Annotated[float, Quantity("stiffness")]
LineForce = Annotated[float, Quantity("line force")]
Pressure = Annotated[float, Quantity("pressure")]
PressureDifference = Annotated[float, Quantity("pressure difference")]
Stress = Annotated[float, Quantity("stress")]
Temperature = Annotated[float, Quantity("temperature")]
Density = Annotated[float, Quantity("density")]
Viscosity = Annotated[float, Quantity("viscosity")]
Speed = Annotated[float, Quantity("speed")]
Flow = Annotated[float, Quantity("flow")]
Conductance = Annotated[float, Quantity("conductance")]
Current = Annotated[float, Quantity("current")]
Voltage = Annotated[float, Quantity("voltage")]
Resistance = Annotated[float, Quantity("resistance")]
Inductance = Annotated[float, Quantity("inductance")]
HeatTransfer = Annotated[float, Quantity("heat transfer coefficient")]
Damping = Annotated[float, Quantity("damping")]
MolarMass = Annotated[float, Quantity("molar mass")]
SpecificGasConstant = Annotated[float, Quantity("specific gas constant")]
Energy = Annotated[float, Quantity("energy")]
Number = Annotated[float, Quantity("number")]


class Table(BaseModel):
    """One table of the case file: closed for unknown keys, frozen once read."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def with_key(self, name: str, value: Any) -> Self:
        """A copy with one key replaced, unchecked: what `model_copy(update=...)` makes, in a third of the time."""
        new = type(self).__new__(type(self))
        put = object.__setattr__
        put(new, "__dict__", {**self.__dict__, name: value})
        put(new, "__pydantic_fields_set__", self.__pydantic_fields_set__ | {name})
        put(new, "__pydantic_extra__", None)
        private = self.__pydantic_private__
        put(new, "__pydantic_private__", None if private is None else dict(private))
        return new


PRACTICE = "common practice, no source"
"""What a usual range says of itself where it has no better."""


class Usual(NamedTuple):
    """Between what a value usually lies that nobody knows before it was measured."""

    low: float
    """SI; a factor on the value where `factor`"""
    high: float
    source: str = PRACTICE
    factor: bool = False


def key(meaning: str, *, default: Any = ..., reason: str = "", because: str = "", usual: Usual | None = None, **bounds: Any) -> Any:
    """A key of a table.

    meaning: what it is, for the person who fills it in. default: the value where the file has none (`DERIVED`: from
    other keys; None: the thing is absent), with the reason that the trade has for it. bounds: ge, gt, le, lt in SI,
    or min_length, max_length; because: why they hold, said in the refusal. usual: between what it usually lies, of a value that
    is seldom known.
    """
    notes: dict[str, Any] = {"because": because, "reason": reason}
    if usual is not None:
        notes["usual"] = list(usual)
    return Field(default, description=meaning, json_schema_extra=notes, **bounds)


def usual_of(field: FieldInfo) -> Usual | None:
    """The usual range of a key, or None."""
    extra = field.json_schema_extra
    found = extra.get("usual") if isinstance(extra, dict) else None
    return Usual(*found) if isinstance(found, list) else None  # type: ignore[arg-type]


def note_of(field: FieldInfo, name: str) -> str:
    """The `reason` or `because` of a key, or nothing."""
    extra = field.json_schema_extra
    return str(extra.get(name, "")) if isinstance(extra, dict) else ""


def usual_text(usual: Usual, kind: str, reader: Reader = METRIC) -> str:
    """A usual range in words: "2 to 30 ms", "0.7 to 2 times what was drawn, given or computed"."""
    if usual.factor:
        return f"{usual.low:g} to {usual.high:g} times what was drawn, given or computed"
    unit = "" if kind == "number" else reader.unit(kind) or units.KINDS[kind].si_unit
    ends = [units.in_unit(end, unit, kind) for end in (usual.low, usual.high)]
    return f"{ends[0]:.3g} to {ends[1]:.3g} {unit}".strip()


def quantity_of(field: FieldInfo) -> Quantity | None:
    """The quantity that a field (or each entry of its list) holds; None for texts, switches and tables."""
    for part in field.metadata:
        if isinstance(part, Quantity):
            return part
    return _quantity_in(field.annotation)


def _quantity_in(annotation: Any) -> Quantity | None:
    for part in getattr(annotation, "__metadata__", ()):
        if isinstance(part, Quantity):
            return part
    for argument in getattr(annotation, "__args__", ()):
        found = _quantity_in(argument)
        if found is not None:
            return found
    return None
