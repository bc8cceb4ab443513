"""Checks between the keys of the actuation side: gas, supply, restrictions, commands."""

from typing import Any

from sleevelift.case.check_parts import Faults, increases, missing, refused
from sleevelift.case.check_sequence import commanded
from sleevelift.case.facts import Facts
from sleevelift.case.gases import ADMITTED, HIGHEST_CRITICAL_TEMPERATURE, REFUSED, plain_name
from sleevelift.case.schema_gas import HIGHEST_GAS_PRESSURE
from sleevelift.case.schema_run import LOWEST_GAS_PRESSURE


def gas_admitted(facts: Facts) -> Faults:
    """The gas is one whose properties are tabled."""
    name, model = facts.get("gas.name"), facts.get("gas.model")
    for path in ("gas.gamma", "gas.gas_constant"):
        if model == "real" and facts.has(path):
            yield refused(facts, path, 'belongs to model = "perfect" only')
    if not isinstance(name, str):
        return
    plain = plain_name(name)
    if plain in ADMITTED:
        return
    if model == "perfect" and facts.has("gas.gamma") and facts.has("gas.gas_constant"):
        return
    admitted = ", ".join(ADMITTED)
    if plain in REFUSED:
        say = facts.reader.text
        rule = (
            f"must be a gas with a critical point below {say('temperature', HIGHEST_CRITICAL_TEMPERATURE, '.3g')}; this one has it "
            f"at {say('temperature', REFUSED[plain], '.0f')} and may condense on venting: {admitted}"
        )
    else:
        rule = f"must be one of {admitted}"
        if model == "perfect":
            rule += "; or give gamma and gas_constant of the perfect gas"
    yield refused(facts, "gas.name", rule)


SUPPLY_KEYS = {
    "constant": ("pressure",),
    "table": ("table",),
    "bottle": ("bottle_volume", "bottle_pressure"),
    "regulator": (
        "pressure",
        "bottle_volume",
        "bottle_pressure",
        "droop_band",
        "regulator_orifice",
        "regulator_discharge_coefficient",
        "plenum_volume",
    ),
}
SUPPLY_EXTRAS = {
    "bottle": ("bottle_wall_area", "wall_coefficient"),
    "regulator": ("bottle_wall_area", "plenum_wall_area", "wall_coefficient"),
}


def supply_complete(facts: Facts) -> Faults:
    """The supply has the keys of its kind, and no others."""
    kind = facts.get("supply.kind")
    if kind not in SUPPLY_KEYS:
        return
    for name in SUPPLY_KEYS[kind]:
        if not facts.has(f"supply.{name}"):
            yield missing(f"supply.{name}", f'is missing (kind = "{kind}" needs it)')
    known = {*SUPPLY_KEYS[kind], *SUPPLY_EXTRAS.get(kind, ())}
    others = {name for names in (*SUPPLY_KEYS.values(), *SUPPLY_EXTRAS.values()) for name in names} - known
    for name in sorted(others):
        if facts.has(f"supply.{name}"):
            yield refused(facts, f"supply.{name}", f'has no meaning with kind = "{kind}"')


def relief_complete(facts: Facts) -> Faults:
    """A relief valve has both its set pressure and its area, and is shut at the pressure it guards."""
    if facts.has("supply.relief_pressure") != facts.has("supply.relief_area"):
        yield missing("supply", "needs relief_pressure and relief_area together, or neither")
    kind = facts.get("supply.kind")
    path = "supply.bottle_pressure" if kind == "bottle" else "supply.pressure"
    guarded = facts.numbers("supply.relief_pressure", path)
    if guarded and not guarded[0] > guarded[1]:
        own = facts.reader.text("pressure", guarded[1], ".6g")
        rule = f"must be above {path.split('.')[1]} ({own}): else it blows at all times"
        yield refused(facts, "supply.relief_pressure", rule)


def supply_table_in_range(facts: Facts) -> Faults:
    """Every pressure of the table lies in the gas tables."""
    pressures = facts.get("supply.table.pressure")
    if not isinstance(pressures, tuple):
        return
    if any(not LOWEST_GAS_PRESSURE <= pressure <= HIGHEST_GAS_PRESSURE for pressure in pressures):
        span = facts.reader.span("pressure", LOWEST_GAS_PRESSURE, HIGHEST_GAS_PRESSURE, ".4g", " and ")
        rule = f"every entry must lie between {span} (the gas tables end there)"
        yield refused(facts, "supply.table.pressure", rule)


RESTRICTIONS = (
    # table, orifice, discharge coefficient, component, needed
    ("solenoid", "fill_orifice", "fill_discharge_coefficient", "fill_component", True),
    ("solenoid", "exhaust_orifice", "exhaust_discharge_coefficient", "exhaust_component", True),
    ("tube", "port_orifice", "port_discharge_coefficient", "port_component", False),
    ("quick_exhaust", "vent_orifice", "vent_discharge_coefficient", "vent_component", True),
    ("spring_side", "vent_orifice", "vent_discharge_coefficient", "vent_component", True),
)


def restrictions_given_once(facts: Facts) -> Faults:
    """Each restriction is a hole with its coefficient, or a component, not both."""
    for table, orifice, coefficient, component, needed in RESTRICTIONS:
        if not facts.has(table):
            continue
        hole, part, cd = f"{table}.{orifice}", f"{table}.{component}", f"{table}.{coefficient}"
        if facts.has(hole) and facts.has(part):
            yield refused(facts, hole, f"is given beside {component}: give one of the two")
        elif needed and not facts.has(hole) and not facts.has(part):
            yield missing(hole, f"is missing: give it with {coefficient}, or {component}")
        if facts.has(hole) and not facts.has(cd) and facts.get(hole) != 0.0:
            yield missing(cd, f"is missing ({orifice} needs it)")
        if facts.has(cd) and not facts.has(hole):
            yield refused(facts, cd, f"has no meaning without {orifice}")
        if facts.has(part):
            yield from _component_complete(facts, part)


def _component_complete(facts: Facts, part: str) -> Faults:
    """A component has C and b, or kv, or cv."""
    iso = [name for name in ("conductance", "critical_ratio") if facts.has(f"{part}.{name}")]
    other = [name for name in ("kv", "cv") if facts.has(f"{part}.{name}")]
    if len(iso) + 2 * len(other) != 2:
        yield missing(part, "needs conductance with critical_ratio, or kv, or cv: one of the three")
    if facts.has(f"{part}.terminal_pressure_ratio") and not other:
        yield refused(facts, f"{part}.terminal_pressure_ratio", "has no meaning without kv or cv")


def _alternate(on: Any, off: Any) -> bool:
    """True where each off stands between its on and the next one; the last off may be left out."""
    if len(off) not in (len(on), len(on) - 1):
        return False
    after = all(end > start for start, end in zip(on, off))
    return after and all(end < start for end, start in zip(off, on[1:]))


def commands_alternate(facts: Facts) -> Faults:
    """Each off command follows its on command; the last off may be left out."""
    for table, what in (("solenoid", "command"), ("igniter", "switching")):
        on, off = facts.get(f"{table}.on"), facts.get(f"{table}.off")
        if not isinstance(on, tuple) or not isinstance(off, tuple) or not increases(on) or not increases(off):
            continue
        if table == "igniter" and not off or commanded(facts, table):
            continue
        if not _alternate(on, off):
            yield refused(facts, f"{table}.off", f"each off {what} must lie between its on and the next on")


def run_covers_commands(facts: Facts) -> Faults:
    """A given end lies after the commands; without a command an end is needed."""
    end, on, off = facts.get("run.end"), facts.get("solenoid.on"), facts.get("solenoid.off")
    if not isinstance(on, tuple) or not isinstance(off, tuple):
        return
    last = max((*on, *off), default=0.0)
    if end is not None and not end > last:
        yield refused(facts, "run.end", f"must lie after the last command of [solenoid], at {last:g} s")
    given = facts.has("solenoid.on") and not commanded(facts, "solenoid", "on")
    if given and not on and not facts.has("run.end"):
        yield missing("run.end", "is missing (without an on command nothing else ends the run)")


def dead_times_or_coil(facts: Facts) -> Faults:
    """The dead times are given, or follow from a coil."""
    coil = facts.has("solenoid.coil")
    for name in ("open_dead_time", "close_dead_time"):
        path = f"solenoid.{name}"
        if coil and facts.has(path):
            yield refused(facts, path, "is given beside [solenoid.coil], which decides it: give one of the two")
        if not coil and facts.has("solenoid") and not facts.has(path):
            yield missing(path, "is missing: give it, or a [solenoid.coil]")
    currents = facts.numbers("solenoid.coil.drop_out_current", "solenoid.coil.pull_in_current")
    if currents and not currents[0] < currents[1]:
        rule = "must be below pull_in_current (a plunger that is home needs less to stay)"
        yield refused(facts, "solenoid.coil.drop_out_current", rule)
