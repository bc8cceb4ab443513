"""The actuation pressure that opens a bench case, within the rated pressures that the case gives.

On a bench less helps the gas than in the hot test: without fuel pressure the gas alone must lift the sleeve. Looked for is the
least pressure of the supply at which the opening margin and the full-lift margin (worst of the stated ranges) both reach the
wanted one. It rises no higher than the lowest rated pressure of supply line, tube and lift chamber (and bottle); where one of
these has no rating, no pressure above the hot one is named as fit.
"""

import math
from typing import NamedTuple

from sleevelift.case.read import with_values
from sleevelift.case.schema import Case
from sleevelift.case.schema_gas import HIGHEST_GAS_PRESSURE
from sleevelift.plant.build import build
from sleevelift.ratings import ACTUATION, parts
from sleevelift.static_answer.margins import margin_numbers

RELIEF_ABOVE = 1.05
"""-. Least set pressure of a relief valve over the highest pressure of the supply: nearer it weeps (common practice, "
"no source)."""
ROUNDS = 40
"""Halvings of the bracket: to far below what a gauge reads."""


class GasPressure(NamedTuple):
    """What the bench's supply is set to."""

    value: float | None
    """Pa absolute; None: it does not open within the ratings"""
    needed: float | None
    """Pa absolute, what would open it; None: nothing that the gas tables hold"""
    hot: float
    """Pa absolute, as in the hot case"""
    margin: float
    """-, least of opening and full-lift margin at `value`, else at the highest pressure allowed"""
    highest: float
    """Pa absolute, what the ratings allow"""
    limit: str
    """what decides that, in words"""


def supply_path(case: Case) -> str:
    """The key that sets the pressure of the supply."""
    return {"bottle": "supply.bottle_pressure", "table": "supply.table.pressure"}.get(case.supply.kind, "supply.pressure")


def supply_pressure(case: Case) -> float:
    """The pressure of the supply, Pa absolute; of a table its highest."""
    if case.supply.table is not None and case.supply.kind == "table":
        return max(case.supply.table.pressure)
    value = case.supply.bottle_pressure if case.supply.kind == "bottle" else case.supply.pressure
    assert value is not None, "the reader asks for the pressure of each kind of supply"
    return value


def with_supply(case: Case, pressure: float) -> Case:
    """The case with its supply at another pressure, Pa absolute, its range moved along; a table is scaled above ambient."""
    path = supply_path(case)
    if case.supply.kind != "table":
        return with_values(case, {path: pressure}, check=False, move_ranges=True)
    assert case.supply.table is not None, "a tabled supply has its table"
    amb = case.ambient.pressure
    scale = (pressure - amb) / (supply_pressure(case) - amb)
    entries = tuple(amb + scale * (entry - amb) for entry in case.supply.table.pressure)
    return with_values(case, {path: entries}, check=False)


def opening(case: Case) -> float:
    """The least of opening and full-lift margin over the stated ranges, -; -1 where the gas does not push."""
    plant = build(case)
    found = margin_numbers(plant.record, plant.tables).by_name
    least = min(found["opening_margin"], found["full_lift_margin"])
    return least if math.isfinite(least) else -1.0


def top(case: Case, pressure: float) -> float:
    """The highest end of the supply's range with its pressure at this, Pa absolute."""
    path = supply_path(case)
    return pressure if path not in case.ranges else with_supply(case, pressure).ranges[path][1]


def below(case: Case, limit: float) -> float:
    """The pressure of the supply, Pa absolute, whose range ends at `limit`: a range is a difference or a share."""
    hot = supply_pressure(case)
    at_hot = top(case, hot)
    slope = (top(case, 2.0 * hot) - at_hot) / hot
    return hot + (limit - at_hot) / slope


def highest_allowed(case: Case) -> tuple[float, str]:
    """(highest pressure of the supply that its range and its relief valve leave within every rating, Pa absolute, "
    "what decides it)."""
    hot, text = supply_pressure(case), case.reader.text
    names = (*ACTUATION, "bottle") if case.supply.kind == "bottle" else ACTUATION
    rated = {part.name: part.rating for part in parts({}, case) if part.name in names}
    missing = [name for name, rating in rated.items() if rating is None]
    if missing:
        return hot, f"no rated pressure is given for {', '.join(missing)} ([limits]), so nothing above the hot case's own is named"
    known = {name: rating for name, rating in rated.items() if rating is not None}
    least = min(known, key=lambda name: known[name])
    room = known[least] / RELIEF_ABOVE if case.supply.relief_pressure is not None else known[least]
    allowed, words = below(case, room), f"rated pressure of the {least}, {text('pressure', known[least])}"
    words += ", less the supply's own range" if top(case, hot) > hot else ""
    words += ", less room for the relief valve" if case.supply.relief_pressure is not None else ""
    bottle = case.supply.bottle_pressure
    if case.supply.kind == "regulator" and bottle is not None and bottle < allowed:
        allowed, words = bottle, f"bottle pressure, {text('pressure', bottle)}, which feeds the regulator"
    if HIGHEST_GAS_PRESSURE < allowed:
        allowed, words = HIGHEST_GAS_PRESSURE, "end of the gas tables"
    return max(allowed, hot), words if allowed >= hot else f"{words}: below the hot case's own pressure, which stays"


def rounded_up(pressure: float, unit: float, base: float) -> float:
    """A pressure, Pa absolute, raised to two digits of its number in a unit of `unit` Pa that counts from `base` Pa absolute."""
    number = (pressure - base) / unit
    step = 10.0 ** (math.floor(math.log10(number)) - 1)
    return math.ceil(number / step - 1e-9) * step * unit + base


def least_pressure(case: Case, wanted: float, low: float, high: float) -> float | None:
    """Least pressure, Pa absolute, between low and high at which `opening` reaches `wanted`; None where it does not at high."""
    if opening(with_supply(case, high)) < wanted:
        return None
    if opening(with_supply(case, low)) >= wanted:
        return low
    for _ in range(ROUNDS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if opening(with_supply(case, middle)) >= wanted else (middle, high)
    return high


def gas_pressure(case: Case, wanted: float, least: float, unit: float, base: float) -> GasPressure:
    """The supply's pressure that opens the bench case with the wanted margin; the hot one where that does already, the highest
    allowed where that gives `least` and nothing gives more.

    unit, base: Pa of the unit that the case gives it in and where that counts from, for rounding.
    """
    hot = supply_pressure(case)
    highest, limit = highest_allowed(case)
    found = least_pressure(case, wanted, hot, highest)
    if found is not None:
        value = hot if found == hot else min(rounded_up(found, unit, base), highest)
        return GasPressure(value, found, hot, opening(with_supply(case, value)), highest, limit)
    at_most = opening(with_supply(case, highest))
    if at_most >= least:
        return GasPressure(highest, None, hot, at_most, highest, limit)
    needed = least_pressure(case, wanted, highest, HIGHEST_GAS_PRESSURE)
    return GasPressure(None, needed, hot, at_most, highest, limit)


def relief_setting(case: Case, pressure: float) -> float | None:
    """Set pressure of the relief valve, Pa absolute, for a supply at `pressure`: as far above it in proportion as in the hot case,
    within every rating. None where the case has no relief valve, or where its own setting does."""
    set_now, highest = case.supply.relief_pressure, top(case, pressure)
    if set_now is None or set_now >= RELIEF_ABOVE * highest:
        return None
    rated = min((part.rating for part in parts({}, case) if part.name in ACTUATION and part.rating is not None), default=math.inf)
    return min(max(set_now / top(case, supply_pressure(case)), RELIEF_ABOVE) * highest, rated)
