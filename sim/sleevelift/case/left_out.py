"""Values that a file may leave out although they are absent in other cases: what stands in their place, and when.

    with_left_out(raw)    the raw file with these filled in; what was filled is no value of the file (its origin is "default")

The reason of each stands beside its key in the schema. No dimension, no friction and no ignition delay is among
them: those are never guessed.
"""

from typing import Any, NamedTuple


class LeftOut(NamedTuple):
    """A value taken where its table has one key and not another."""

    table: str
    key: str
    where: str
    """key beside it that must be given; "" for the table alone"""
    unless: str
    """key or table beside it that must not be given; "" for none"""
    text: Any
    """as a file would have it"""


HOLE = 0.7
"""-. Discharge coefficient of a drilled hole for gas. Common practice, no source."""
LEFT_OUT = (
    LeftOut("solenoid", "fill_discharge_coefficient", "fill_orifice", "fill_component", HOLE),
    LeftOut("solenoid", "exhaust_discharge_coefficient", "exhaust_orifice", "exhaust_component", HOLE),
    LeftOut("tube", "port_discharge_coefficient", "port_orifice", "port_component", HOLE),
    LeftOut("quick_exhaust", "vent_discharge_coefficient", "vent_orifice", "vent_component", HOLE),
    LeftOut("spring_side", "vent_discharge_coefficient", "vent_orifice", "vent_component", HOLE),
    LeftOut("supply", "regulator_discharge_coefficient", "regulator_orifice", "", HOLE),
    LeftOut("solenoid", "open_dead_time", "", "coil", "8 ms"),
    LeftOut("solenoid", "close_dead_time", "", "coil", "10 ms"),
    LeftOut("seat", "annulus_discharge_coefficient", "annulus_area", "", 0.75),
    LeftOut("slots", "discharge_coefficient", "table", "", 0.65),
)
LEFT_OUT_PATHS = frozenset(f"{one.table}.{one.key}" for one in LEFT_OUT)


def with_left_out(raw: dict[str, Any]) -> dict[str, Any]:
    """The raw file with what it leaves out; the file itself where there is nothing to fill."""
    filled: dict[str, Any] = {}
    for one in LEFT_OUT:
        table = filled.get(one.table, raw.get(one.table))
        if not isinstance(table, dict) or one.key in table or one.unless in table or (one.where and one.where not in table):
            continue
        filled[one.table] = {**table, one.key: one.text}
    return {**raw, **filled} if filled else raw
