"""Values that follow from others: spring rate from the wire, liquid properties from CoolProp, defaults from ambient.

A rule fills one path from its sources. Rules stand in an order in which every source comes before what needs it.
`derived` fills a case after validation; `derived_again` refills what depends on changed paths.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from sleevelift import combustion_tables
from sleevelift.case import liquids
from sleevelift.case.faults import CaseError, Fault
from sleevelift.case.gases import ADMITTED, plain_name
from sleevelift.case.quantity import Table
from sleevelift.case.schema import Case, Origin
from sleevelift.case.schema_gas import Component
from sleevelift.case.schema_liquid import MOST_SLOT_ROWS, Propellant
from sleevelift.case.schema_machine import Seal
from sleevelift.case.walk import split, value_at
from sleevelift.physics.tube import tube_component
from sleevelift.sizing.materials import contraction_between
from sleevelift.sizing.orifice_sizes import kv_of_cv, kv_to_component
from sleevelift.sizing.seal_gland import PRESSURE_OVER_MEASURED, SQUEEZE_OVER_MEASURED, seal_friction_coefficients
from sleevelift.sizing.spring_design import spring_rate, wire_mass

COMPONENTS = (
    "solenoid.fill_component",
    "solenoid.exhaust_component",
    "tube.port_component",
    "quick_exhaust.vent_component",
    "spring_side.vent_component",
)


class Rule(NamedTuple):
    """Fills `target` from `sources`."""

    target: str
    sources: tuple[str, ...]
    origin: Origin
    value: Callable[[Case], Any]
    because: str
    """how, for `show`"""


# ---------------------------------------------------------------------------------------------------- rules


def _from(path: str) -> Callable[[Case], Any]:
    return lambda case: value_at(case, path)


def _same(target: str, source: str, because: str) -> Rule:
    return Rule(target, (source,), "default", _from(source), because)


def _spring_rate(case: Case) -> float:
    spring = case.spring
    if spring.wire_diameter is None or spring.mean_diameter is None or spring.active_coils is None:
        return math.nan
    return spring_rate(spring.wire_diameter, spring.mean_diameter, spring.active_coils, spring.shear_modulus)


def _spring_mass(case: Case) -> float:
    spring = case.spring
    if spring.wire_diameter is None or spring.mean_diameter is None or spring.total_coils is None:
        return math.nan
    return wire_mass(spring.wire_diameter, spring.mean_diameter, spring.total_coils, spring.density)


def _gland_friction(seal: str, position: int) -> Callable[[Case], float]:
    def value(case: Case) -> float:
        entry: Seal = getattr(case.seals, seal)
        if entry.groove_depth is None or entry.hardness is None:
            return math.nan
        return seal_friction_coefficients(entry.cord, entry.groove_depth, entry.hardness)[position]

    return value


def _gas_number(name: str) -> Callable[[Case], float]:
    def value(case: Case) -> float:
        known = ADMITTED.get(plain_name(case.gas.name))
        return math.nan if known is None else float(getattr(known, name))

    return value


def working_inlet_pressure(propellant: Propellant) -> float:
    """Pa: the inlet pressure, or the highest of its table."""
    if propellant.inlet_pressure is not None:
        return propellant.inlet_pressure
    return max(propellant.inlet_table.pressure) if propellant.inlet_table is not None else math.nan


def _liquid_number(side: str, name: str) -> Callable[[Case], Any]:
    def value(case: Case) -> Any:
        feed: Propellant = getattr(case, side)
        if feed.liquid is None:
            return None if name == "molar_mass" else math.nan
        try:
            state = liquids.liquid_state(feed.liquid, feed.temperature, working_inlet_pressure(feed))
            return getattr(state, name)
        except liquids.LiquidError as error:
            raise CaseError([Fault((side, error.key), error.rule.said(case.reader))]) from None

    return value


def _shut_in(side: str) -> Callable[[Case], float]:
    def value(case: Case) -> float:
        feed: Propellant = getattr(case, side)
        back = case.bench.back_pressure if case.case.kind == "cold-flow" else case.ambient.pressure
        return max(back, feed.vapour_pressure)

    return value


def _component_number(path: str, position: int) -> Callable[[Case], float]:
    def value(case: Case) -> float:
        part: Component | None = value_at(case, path)
        if part is None or (part.kv is None and part.cv is None):
            return math.nan
        kv = part.kv if part.kv is not None else kv_of_cv(part.cv or math.nan)
        return kv_to_component(kv, part.terminal_pressure_ratio)[position]

    return value


def _contraction(part: str) -> Callable[[Case], float]:
    def value(case: Case) -> float:
        slots = case.slots
        assert slots is not None
        metal = getattr(slots, f"{part}_material")
        if metal is None or slots.clearance_temperature is None or slots.running_temperature is None:
            return 0.0
        return contraction_between(metal, slots.clearance_temperature, slots.running_temperature)

    return value


def _rated_ratio(case: Case) -> float | None:
    """Mixture ratio of the rated flows (-), or None."""
    flows = [None if feed is None else feed.rated_flow for feed in (case.oxidizer, case.fuel)]
    return None if flows[0] is None or flows[1] is None else flows[0] / flows[1]


def _table_pressure(case: Case) -> float | None:
    """Pa: steady chamber pressure at the rated flows, for the shipped table; None where no pair is named."""
    chamber, oxidizer, fuel = case.chamber, case.oxidizer, case.fuel
    if chamber is None or chamber.propellants is None or oxidizer is None or fuel is None:
        return None
    if oxidizer.rated_flow is None or fuel.rated_flow is None:
        return math.nan
    flows = oxidizer.rated_flow, fuel.rated_flow
    try:
        return combustion_tables.steady_pressure(chamber.propellants, *flows, chamber.throat_area, chamber.efficiency)
    except combustion_tables.PressureOutside as error:
        raise CaseError(
            [Fault(("chamber", "table_pressure"), f"{error.rule.said(case.reader)} (steady at the rated flows)")]
        ) from None


def _combustion(name: str) -> Callable[[Case], Any]:
    """A column of the shipped table of the named pair; the gas constant at the rated mixture ratio."""

    def value(case: Case) -> Any:
        chamber = case.chamber
        if chamber is None or chamber.propellants is None or chamber.table_pressure is None:
            return math.nan if name == "gas_constant" else None
        try:
            table = combustion_tables.table_at(chamber.propellants, chamber.table_pressure)
        except combustion_tables.PressureOutside as error:
            raise CaseError([Fault(("chamber", "table_pressure"), error.rule.said(case.reader))]) from None
        if name != "gas_constant":
            return getattr(table, name)
        ratio = _rated_ratio(case)
        return max(table.gas_constant) if ratio is None else table.gas_constant_at(ratio)

    return value


def _leak_area(seal: str) -> Callable[[Case], float]:
    def value(case: Case) -> float:
        seals = case.seals
        entry = None if seal == "outside" else getattr(seals, seal)
        if getattr(seals, f"{seal}_leak_check") is None and (entry is None or entry.leak_clearance is None):
            return 0.0
        from sleevelift.case.leaks import leak_area  # loads scipy, which a case without such a leak does not need

        return leak_area(case, seal)

    return value


def _leak_rules(*seals: str) -> list[Rule]:
    """Areas of these leaks from what a check showed, or from a gap; tight where the case gives neither."""
    rules = []
    for seal in seals:
        paths = [f"seals.{seal}_leak_check.{name}" for name in ("start", "end", "time", "volume", "gas", "taken_as")]
        paths += [f"seals.{seal}_leak_discharge_coefficient"]
        paths += [f"seals.{seal}.{name}" for name in ("leak_clearance", "leak_length") if seal != "outside"]
        if seal == "rod":
            paths += [f"fuel.{name}" for name in ("density", "viscosity", "inlet_pressure")]
        because = "from its leak check or its gap; tight where neither is given"
        rules.append(Rule(f"seals.{seal}_leak_area", tuple(paths), "derived", _leak_area(seal), because))
    return rules


TOLERANCE, TOLERANCE_WITH_RUN_VALVES = 2e-4, 5e-5
"""-. A sleeve that falls on liquid locked behind a run valve rebounds on a spring as stiff as the liquid: over 60 points of
the ranges of a purged stop, closing was up to 28 us off at 2e-4 and 10 us at 5e-5, at no more work, since fewer runs are repeated
for their energy."""


def _tolerance(case: Case) -> float:
    valves = any(side is not None and side.valve is not None for side in (case.oxidizer, case.fuel))
    return TOLERANCE_WITH_RUN_VALVES if valves else TOLERANCE


def _rules() -> tuple[Rule, ...]:
    ambient_pressure, ambient_temperature = "ambient.pressure", "ambient.temperature"
    rules = [
        Rule("gas.gamma", ("gas.name",), "default", _gas_number("gamma"), "the gas at room temperature and low pressure"),
        Rule("gas.gas_constant", ("gas.name",), "default", _gas_number("gas_constant"), "of the gas"),
        _same("supply.temperature", ambient_temperature, "the ambient temperature"),
        Rule(
            "tube.conductance",
            ("tube.length", "tube.bore"),
            "derived",
            lambda case: tube_component(case.tube.bore, case.tube.length)[0],
            "0.029 d^2/sqrt(L/d^1.25 + 510)",
        ),
        Rule(
            "tube.critical_ratio",
            ("tube.length", "tube.bore"),
            "derived",
            lambda case: tube_component(case.tube.bore, case.tube.length)[1],
            "474 C/d^2",
        ),
        Rule(
            "spring.rate",
            ("spring.wire_diameter", "spring.mean_diameter", "spring.active_coils", "spring.shear_modulus"),
            "derived",
            _spring_rate,
            "G d^4/(8 D^3 n)",
        ),
        Rule(
            "spring.mass",
            ("spring.wire_diameter", "spring.mean_diameter", "spring.total_coils", "spring.density"),
            "derived",
            _spring_mass,
            "density x section x length of the wire",
        ),
        Rule("run.tolerance", (), "default", _tolerance, "2e-4, with run valves 5e-5"),
        _same("chamber.purge.temperature", ambient_temperature, "the ambient temperature"),
        _same("bench.fuel_side_pressure", ambient_pressure, "the ambient pressure"),
        _same("bench.back_pressure", ambient_pressure, "the ambient pressure"),
    ]
    for side in ("lift_chamber", "spring_side"):
        rules.append(_same(f"{side}.wall_temperature", ambient_temperature, "the ambient temperature"))
        rules.append(_same(f"{side}.pressure", ambient_pressure, "the ambient pressure"))
        rules.append(_same(f"{side}.temperature", ambient_temperature, "the ambient temperature"))
    for path in COMPONENTS:
        sources: tuple[str, ...] = (f"{path}.kv", f"{path}.cv", f"{path}.terminal_pressure_ratio")
        for position, name in enumerate(("conductance", "critical_ratio")):
            value = _component_number(path, position)
            rules.append(Rule(f"{path}.{name}", sources, "derived", value, "from kv or cv, IEC 60534-2-1 at choked flow"))
    for seal in ("post", "rod", "piston"):
        sources = tuple(f"seals.{seal}.{name}" for name in ("cord", "groove_depth", "hardness"))
        for position, name in enumerate(("squeeze_friction", "pressure_coefficient")):
            value = _gland_friction(seal, position)
            rules.append(Rule(f"seals.{seal}.{name}", sources, "derived", value, "from cord, groove and hardness"))
    rules += _leak_rules("piston", "post", "outside")
    for side in ("oxidizer", "fuel"):
        sources = tuple(f"{side}.{name}" for name in ("liquid", "temperature", "inlet_pressure"))
        for name in ("density", "viscosity", "vapour_pressure", "bulk_modulus", "molar_mass"):
            rules.append(Rule(f"{side}.{name}", sources, "derived", _liquid_number(side, name), "CoolProp"))
        paths = ("bench.back_pressure", "ambient.pressure", f"{side}.vapour_pressure")
        because = "what the manifold discharges into, at least the vapour pressure"
        rules.append(Rule(f"{side}.valve.manifold_pressure", paths, "derived", _shut_in(side), because))
        rules.append(_same(f"{side}.purge.temperature", ambient_temperature, "the ambient temperature"))
        rules.append(_same(f"{side}.purge.gas_temperature", f"{side}.purge.temperature", "as it comes"))
        rules.append(_same(f"{side}.rated_density", f"{side}.density", "the density of this case"))
    rules += _leak_rules("rod")
    flows = ("chamber.propellants", "oxidizer.rated_flow", "fuel.rated_flow")
    rated = (*flows, "chamber.throat_area", "chamber.efficiency")
    rules.append(Rule("chamber.table_pressure", rated, "derived", _table_pressure, "steady at the rated flows"))
    for name in ("o_f", "c_star", "g"):
        sources = ("chamber.propellants", "chamber.table_pressure")
        rules.append(Rule(f"chamber.{name}", sources, "derived", _combustion(name), "shipped table of the pair"))
    sources = (*flows, "chamber.table_pressure")
    because = "shipped table of the pair, at the rated mixture ratio"
    rules.append(Rule("chamber.gas_constant", sources, "derived", _combustion("gas_constant"), because))
    for number in range(MOST_SLOT_ROWS):
        rules.append(_same(f"slots.row.{number}.width", f"slots.row.{number}.height", "as wide as high"))
    for part in ("post", "sleeve"):
        sources = (f"slots.{part}_material", "slots.clearance_temperature", "slots.running_temperature")
        because = "from the metal and the two temperatures; 0 where none is given"
        rules.append(Rule(f"slots.{part}_contraction", sources, "derived", _contraction(part), because))
    return tuple(rules)


RULES = _rules()


@lru_cache(maxsize=1)
def rule_numbers() -> dict[str, tuple[int, ...]]:
    """source path -> numbers of the rules that read it, in order."""
    found: dict[str, list[int]] = {}
    for number, rule in enumerate(RULES):
        for source in rule.sources:
            found.setdefault(source, []).append(number)
    return {source: tuple(numbers) for source, numbers in found.items()}


@lru_cache(maxsize=1)
def rule_of() -> dict[str, Rule]:
    """target path -> its rule."""
    return {rule.target: rule for rule in RULES}


# ---------------------------------------------------------------------------------------------------- filling


def replaced(table: Any, path: tuple[str | int, ...], value: Any) -> Any:
    """A copy of a table (or tuple of tables) with the value at a path replaced."""
    head, rest = path[0], path[1:]
    if isinstance(table, tuple):
        assert isinstance(head, int)
        entry = replaced(table[head], rest, value)
        return (*table[:head], entry, *table[head + 1 :])
    new = replaced(getattr(table, str(head)), rest, value) if rest else value
    copy: Table = table.with_key(str(head), new)
    return copy


def _is_open(case: Case, target: str) -> bool:
    """True where the target exists in this case and has no value yet."""
    try:
        value = value_at(case, target)
    except KeyError:
        return False
    if value is None:
        return target.endswith(FILLED_WHERE_ABSENT) and value_at(case, target.split(".")[0]) is not None
    return value == () or (isinstance(value, float) and math.isnan(value))


FILLED_WHERE_ABSENT = (".molar_mass", ".table_pressure")
"""Ends of the paths that may stay without a value, but have one where a rule knows it."""


def _is_known(value: Any) -> bool:
    """True for a finite number or a list."""
    return isinstance(value, tuple) or math.isfinite(value)


def derived(case: Case) -> tuple[Case, dict[str, Origin]]:
    """The case with every open value filled, and where each came from. CaseError where a value cannot be had."""
    origins: dict[str, Origin] = {}
    faults: list[Fault] = []
    lost: set[str] = set()
    for rule in RULES:
        if not _is_open(case, rule.target):
            continue
        if lost.intersection(rule.sources):
            continue
        try:
            value = rule.value(case)
        except CaseError as error:
            faults.extend(error.faults)
            lost.add(rule.target)
            continue
        if value is None:
            continue
        if not _is_known(value):
            faults.append(Fault(split(rule.target), f"is missing, and cannot be had ({rule.because})"))
            lost.add(rule.target)
            continue
        case = replaced(case, split(rule.target), value)
        origins[rule.target] = rule.origin
    if faults:
        raise CaseError(faults)
    return case, origins


CHART = {"squeeze_friction": SQUEEZE_OVER_MEASURED, "pressure_coefficient": PRESSURE_OVER_MEASURED}
"""Friction that follows from the chart -> chart over measured, -."""
CHART_SOURCES = ("cord", "groove_depth", "hardness")
"""Keys of a seal from which its friction follows."""
Ranges = dict[str, tuple[float, float]]


def chart_ranges(case: Case, origins: Mapping[str, Origin], ranges: Mapping[str, tuple[float, float]]) -> Ranges:
    """The ranges with those of friction from the chart: from the measured ring's share of it up to the chart itself.

    Not where the case states a range of its own for that seal's friction, and gone where the friction is given.
    """
    out = dict(ranges)
    for seal in ("post", "rod", "piston"):
        paths = [f"seals.{seal}.{name}" for name in CHART]
        stated = "seals.friction_factor" in ranges or f"seals.{seal}.friction_factor" in ranges
        for path, over in zip(paths, CHART.values()):
            if origins.get(path) != "derived":
                continue
            out.pop(path, None)
            if not stated:
                value = float(value_at(case, path))
                out[path] = value / over, value
    return out


def follows_chart(changed: Iterable[str]) -> bool:
    """Whether one of these keys moves friction that follows from the chart."""
    return any(path.startswith("seals.") and path.rsplit(".", 1)[1] in CHART_SOURCES for path in changed)


def following(changed: Iterable[str], origins: Mapping[str, Origin]) -> set[str]:
    """Paths whose values are filled again where these change: what was not given and depends on one of them."""
    waiting = list(changed)
    found: set[str] = set()
    while waiting:
        targets = {RULES[number].target for number in rule_numbers().get(waiting.pop(), ())} - found
        targets = {path for path in targets if origins.get(path) in ("default", "derived")}
        found |= targets
        waiting += targets
    return found


def derived_again(case: Case, changed: Iterable[str], origins: dict[str, Origin]) -> Case:
    """The case with everything filled again that was not given and depends on a changed path."""
    numbers = rule_numbers()
    waiting = sorted({number for path in changed for number in numbers.get(path, ())})
    done: set[int] = set()
    while waiting:
        number = waiting.pop(0)
        rule = RULES[number]
        if number in done or origins.get(rule.target) not in ("default", "derived"):
            continue
        done.add(number)
        value = rule.value(case)
        if value is not None and not _is_known(value):
            raise CaseError([Fault(split(rule.target), f"cannot be had ({rule.because})")])
        case = replaced(case, split(rule.target), value)
        waiting = sorted({*waiting, *numbers.get(rule.target, ())})
    return case
