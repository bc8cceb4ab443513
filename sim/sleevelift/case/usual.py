"""The numbers nobody knows: between what a value usually lies, and what a case says of it.

    usual_range("solenoid.open_dead_time")          UsualRange(0.002, 0.03, "common practice, no source")
    usual_range("tube.conductance", 8.4e-9)         factors on the value become ends
    unsure(case)  -> Unsure rows     outside(case) -> a sentence per value outside     with_usual_ranges(case) -> ranges to scatter

The ranges stand beside their keys in the schema (`quantity.Usual`). A given value with a range of its own keeps that. Usual ranges
never enter the margins by themselves: those take gas and fuel pressure, friction and jet factor over what the case states.
"""

from typing import NamedTuple

from sleevelift import units
from sleevelift.case.quantity import Usual, usual_of
from sleevelift.case.schema import Case, book_of
from sleevelift.case.show import case_rows
from sleevelift.case.walk import bound_fault, info_at, own_value, split, values


class UsualRange(NamedTuple):
    """A usual range, SI."""

    low: float
    high: float
    source: str


class Unsure(NamedTuple):
    """A value of a case that is seldom known."""

    path: str
    value: float
    origin: str
    written: str
    low: float
    """usual, SI"""
    high: float
    source: str
    own: tuple[float, float] | None
    """range that the case gives it"""

    @property
    def outside(self) -> bool:
        """Whether the value lies outside its usual range."""
        return not self.low <= self.value <= self.high


def _usual(path: str) -> Usual | None:
    info = info_at(split(path))
    return None if info is None or info.table is not None else usual_of(info.field)


def usual_range(path: str, value: float | None = None) -> UsualRange | None:
    """The usual range of a key, SI; None where the schema has none. value: own value of the case, where the range is factors on it
    (without one, or on 0, such a range is None)."""
    found = _usual(path)
    if found is None or (found.factor and value is None):
        return None
    if not found.factor or value is None:
        return UsualRange(found.low, found.high, found.source)
    ends = sorted((found.low * value, found.high * value))
    if ends[0] == ends[1]:  # factors on 0
        return None
    return UsualRange(ends[0], ends[1], found.source)


def unsure(case: Case) -> list[Unsure]:
    """Every value of the case that has a usual range, in the order of the schema."""
    out = []
    written = {row.path: row.user_value for row in case_rows(case)}
    for path, value in values(case).items():
        found = usual_range(path, value) if isinstance(value, float) else None
        if found is not None:
            out.append(Unsure(path, value, case.origin[path], written[path], *found, case.ranges.get(path)))
    return out


def said_range(case: Case, path: str, low: float, high: float) -> str:
    """A range of a key in the reader's units."""
    info = info_at(split(path))
    kind = info.quantity.kind if info is not None and info.quantity is not None else "number"
    unit = "" if kind == "number" else case.reader.unit(kind) or units.KINDS[kind].si_unit
    ends = [units.in_unit(end, unit, kind, case.ambient.pressure) for end in (low, high)]
    return f"{ends[0]:.3g} to {ends[1]:.3g} {unit}".strip()


def outside(case: Case) -> list[str]:
    """A sentence for each value outside its usual range."""
    return [
        f"Unusual: {one.path} is {one.written.strip(chr(34))}; it usually lies at {said_range(case, one.path, one.low, one.high)} "
        f"({one.source})."
        for one in unsure(case)
        if one.outside
    ]


SIZES = {"wall_coefficient": "wall_area", "trapped_gas_exponent": "trapped_gas_volume", "dribble_time": "dribble_volume"}
"""Key -> key beside it that gives it its size."""


def without_effect(case: Case, path: str) -> bool:
    """Whether a value does nothing in this case: of a wall, a leak, a pocket or a volume of no size."""
    table, name = path.rpartition(".")[::2]
    size = {"wall_coefficient": "wall_area", "trapped_gas_exponent": "trapped_gas_volume", "dribble_time": "dribble_volume"}.get(
        name
    )
    if path == "supply.wall_coefficient":
        return not (case.supply.bottle_wall_area or case.supply.plenum_wall_area)
    if table.endswith(".purge") and name == "discharge_coefficient":
        return own_value(case, f"{table}.effective_area") is not None
    if name.endswith("_leak_discharge_coefficient"):
        size = name.replace("_discharge_coefficient", "_area")
    return size is not None and not own_value(case, f"{table}.{size}")


def with_usual_ranges(case: Case, every: bool = False) -> Case:
    """The case whose values without a range of their own vary over their usual one: those that the file leaves out, or `every` one.

    An end that the key does not allow is drawn in to the value.
    """
    ranges = dict(case.ranges)
    for one in unsure(case):
        if one.own is not None or not (every or one.origin != "given") or without_effect(case, one.path):
            continue
        info = info_at(split(one.path))
        assert info is not None, "a key of the schema"
        low, high = (one.value if bound_fault(end, info.field) else end for end in (one.low, one.high))
        low, high = min(low, one.value), max(high, one.value)
        if high > low and own_value(case, one.path) is not None:
            ranges[one.path] = low, high
    new = case.model_copy()
    book_of(new)["_ranges"] = ranges
    return new
