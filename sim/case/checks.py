"""What must hold between the keys of a case: geometry in order, lists increasing, tables that belong together.

Each check takes the facts and yields faults; it says nothing where a value that it needs is not known. The bounds of a
single key stand with the key (`schema_*`).
"""

import math
from collections.abc import Callable, Iterator
from difflib import get_close_matches
from typing import Any

from sim.case.facts import Facts
from sim.case.faults import Fault
from sim.case.gases import ADMITTED, HIGHEST_CRITICAL_TEMPERATURE, REFUSED, plain_name
from sim.case.schema_gas import HIGHEST_GAS_PRESSURE, LOWEST_GAS_PRESSURE
from sim.case.schema_liquid import MOST_SLOT_ROWS
from sim.case.walk import split
from sim.sizing.materials import COLDEST, HOTTEST, METALS
from sim.sizing.spring_design import solid_length, spring_rate

SMALLEST_VOLUME = 1e-10
"""m3. The smallest gas volume that a case may have anywhere."""
MILLIMETRE = 1e-3

Faults = Iterator[Fault]


def _fault(facts: Facts, path: str, rule: str) -> Fault:
    return Fault(split(path), rule, facts.written(path))


def _missing(path: str, rule: str) -> Fault:
    return Fault(split(path), rule)


def _mm(length: float) -> str:
    return f"{length / MILLIMETRE:.6g} mm"


# ---------------------------------------------------------------------------------------------------- which tables


PROPELLANT_TABLES = ("oxidizer", "fuel", "slots", "seat")


def tables_of_kind(facts: Facts) -> Faults:
    """A cold-flow case has propellants, a hot one a chamber too, a dry one neither."""
    kind = facts.get("case.kind")
    if kind in ("cold-flow", "hot"):
        for table in PROPELLANT_TABLES:
            if not facts.has(table):
                yield _missing(table, f"is missing (a {kind} case has both propellants)")
    if kind == "hot" and not facts.has("chamber"):
        yield _missing("chamber", "is missing (a hot case has a combustion chamber; without one its kind is cold-flow)")
    refused = {"dry": ("oxidizer", "fuel", "slots", "chamber", "igniter"), "cold-flow": ("chamber", "igniter")}
    for table in refused.get(kind, ()) if isinstance(kind, str) else ():
        if facts.has(table):
            what = "propellants" if table in ("oxidizer", "fuel", "slots") else "combustion"
            yield _missing(
                table, f"has no place here (a {kind} case has no {what}): take it out, or change [case] kind"
            )
    for path, only in (("bench.fuel_side_pressure", "dry"), ("bench.back_pressure", "cold-flow")):
        if facts.has(path) and kind is not None and kind != only:
            yield _fault(facts, path, f"has no place in a {kind} case (it belongs to {only} cases)")


# ---------------------------------------------------------------------------------------------------- gas


def gas_admitted(facts: Facts) -> Faults:
    """The gas is one whose properties are tabled."""
    name, model = facts.get("gas.name"), facts.get("gas.model")
    for path in ("gas.gamma", "gas.gas_constant"):
        if model == "real" and facts.has(path):
            yield _fault(facts, path, 'belongs to model = "perfect" only')
    if not isinstance(name, str):
        return
    plain = plain_name(name)
    if plain in ADMITTED:
        return
    if model == "perfect" and facts.has("gas.gamma") and facts.has("gas.gas_constant"):
        return
    admitted = ", ".join(ADMITTED)
    if plain in REFUSED:
        rule = (
            f"must be a gas with a critical point below {HIGHEST_CRITICAL_TEMPERATURE:g} K; this one has it at "
            f"{REFUSED[plain]:.0f} K and may condense on venting: {admitted}"
        )
    else:
        rule = f"must be one of {admitted}"
        if model == "perfect":
            rule += "; or give gamma and gas_constant of the perfect gas"
    yield _fault(facts, "gas.name", rule)


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
            yield _missing(f"supply.{name}", f'is missing (kind = "{kind}" needs it)')
    known = {*SUPPLY_KEYS[kind], *SUPPLY_EXTRAS.get(kind, ())}
    others = {name for names in (*SUPPLY_KEYS.values(), *SUPPLY_EXTRAS.values()) for name in names} - known
    for name in sorted(others):
        if facts.has(f"supply.{name}"):
            yield _fault(facts, f"supply.{name}", f'has no meaning with kind = "{kind}"')


def supply_table_in_range(facts: Facts) -> Faults:
    """Every pressure of the table lies in the gas tables."""
    pressures = facts.get("supply.table.pressure")
    if not isinstance(pressures, tuple):
        return
    if any(not LOWEST_GAS_PRESSURE <= pressure <= HIGHEST_GAS_PRESSURE for pressure in pressures):
        rule = "every entry must lie between 1 kPa and 350 bar absolute (the gas tables end there)"
        yield _fault(facts, "supply.table.pressure", rule)


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
            yield _fault(facts, hole, f"is given beside {component}: give one of the two")
        elif needed and not facts.has(hole) and not facts.has(part):
            yield _missing(hole, f"is missing: give it with {coefficient}, or {component}")
        if facts.has(hole) and not facts.has(cd) and facts.get(hole) != 0.0:
            yield _missing(cd, f"is missing ({orifice} needs it)")
        if facts.has(cd) and not facts.has(hole):
            yield _fault(facts, cd, f"has no meaning without {orifice}")
        if facts.has(part):
            yield from _component_complete(facts, part)


def _component_complete(facts: Facts, part: str) -> Faults:
    """A component has C and b, or kv, or cv."""
    iso = [name for name in ("conductance", "critical_ratio") if facts.has(f"{part}.{name}")]
    other = [name for name in ("kv", "cv") if facts.has(f"{part}.{name}")]
    if len(iso) + 2 * len(other) != 2:
        yield _missing(part, "needs conductance with critical_ratio, or kv, or cv: one of the three")
    if facts.has(f"{part}.terminal_pressure_ratio") and not other:
        yield _fault(facts, f"{part}.terminal_pressure_ratio", "has no meaning without kv or cv")


# ---------------------------------------------------------------------------------------------------- commands


def _increases(values: Any) -> bool:
    return all(later > earlier for earlier, later in zip(values, values[1:]))


INCREASING = (
    "solenoid.on",
    "solenoid.off",
    "igniter.on",
    "igniter.off",
    "supply.table.time",
    "oxidizer.inlet_table.time",
    "fuel.inlet_table.time",
    "slots.table.lift",
    "seat.table.lift",
    "chamber.o_f",
)
PAIRED = (
    ("supply.table.time", "supply.table.pressure"),
    ("oxidizer.inlet_table.time", "oxidizer.inlet_table.pressure"),
    ("fuel.inlet_table.time", "fuel.inlet_table.pressure"),
    ("slots.table.lift", "slots.table.area"),
    ("seat.table.lift", "seat.table.area"),
    ("chamber.o_f", "chamber.c_star"),
    ("chamber.o_f", "chamber.g"),
)


def lists_increase(facts: Facts) -> Faults:
    """Instants, lifts and mixture ratios of a list increase."""
    for path in INCREASING:
        entries = facts.get(path)
        if isinstance(entries, tuple) and not _increases(entries):
            yield _fault(facts, path, "must increase from entry to entry")


def lists_pair(facts: Facts) -> Faults:
    """The columns of a table have as many entries as its first."""
    for first, second in PAIRED:
        left, right = facts.get(first), facts.get(second)
        if not isinstance(left, tuple) or not isinstance(right, tuple):
            continue
        if second == "chamber.g" and len(right) == 1:
            continue
        if len(left) != len(right):
            name = first.rsplit(".", 1)[1]
            yield _fault(facts, second, f"must have as many entries as {name}: {len(left)}, not {len(right)}")


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
        if not isinstance(on, tuple) or not isinstance(off, tuple) or not _increases(on) or not _increases(off):
            continue
        if table == "igniter" and not off:
            continue
        if not _alternate(on, off):
            yield _fault(facts, f"{table}.off", f"each off {what} must lie between its on and the next on")


def run_covers_commands(facts: Facts) -> Faults:
    """A given end lies after the commands; without a command an end is needed."""
    end, on, off = facts.get("run.end"), facts.get("solenoid.on"), facts.get("solenoid.off")
    if not isinstance(on, tuple) or not isinstance(off, tuple):
        return
    last = max((*on, *off), default=0.0)
    if end is not None and not end > last:
        yield _fault(facts, "run.end", f"must lie after the last command of [solenoid], at {last:g} s")
    if not on and not facts.has("run.end"):
        yield _missing("run.end", "is missing (without an on command nothing else ends the run)")


def dead_times_or_coil(facts: Facts) -> Faults:
    """The dead times are given, or follow from a coil."""
    coil = facts.has("solenoid.coil")
    for name in ("open_dead_time", "close_dead_time"):
        path = f"solenoid.{name}"
        if coil and facts.has(path):
            yield _fault(facts, path, "is given beside [solenoid.coil], which decides it: give one of the two")
        if not coil and facts.has("solenoid") and not facts.has(path):
            yield _missing(path, "is missing: give it, or a [solenoid.coil]")
    currents = facts.numbers("solenoid.coil.drop_out_current", "solenoid.coil.pull_in_current")
    if currents and not currents[0] < currents[1]:
        rule = "must be below pull_in_current (a plunger that is home needs less to stay)"
        yield _fault(facts, "solenoid.coil.drop_out_current", rule)


# ---------------------------------------------------------------------------------------------------- machine

DIAMETERS = ("post_diameter", "nose_diameter", "seat_diameter", "rod_diameter", "piston_diameter")


def diameters_in_order(facts: Facts) -> Faults:
    """post < nose <= seat <= rod < piston; nose = seat only with the contact edge on the sleeve."""
    for smaller, larger in zip(DIAMETERS, DIAMETERS[1:]):
        sizes = facts.numbers(f"sleeve.{smaller}", f"sleeve.{larger}")
        if not sizes:
            continue
        may_equal = larger in ("seat_diameter", "rod_diameter")
        if sizes[1] < sizes[0] or (sizes[1] == sizes[0] and not may_equal):
            relation = "at least" if may_equal else "larger than"
            rule = f"must be {relation} {smaller} ({_mm(sizes[0])}): post < nose <= seat <= rod < piston"
            yield _fault(facts, f"sleeve.{larger}", rule)
    cone = facts.numbers("sleeve.nose_diameter", "sleeve.seat_diameter")
    if cone and cone[0] == cone[1] and facts.get("seat.edge") == "seat":
        yield _fault(
            facts, "seat.edge", 'must be "sleeve" where nose and seat diameter are equal (there is no cone on the nose)'
        )


def spring_side_keeps_volume(facts: Facts) -> Faults:
    """The spring side is not used up at full lift."""
    sizes = facts.numbers("spring_side.volume", "sleeve.piston_diameter", "sleeve.post_diameter", "sleeve.stroke")
    if not sizes:
        return
    volume, piston, post, stroke = sizes
    swept = 0.25 * math.pi * (piston**2 - post**2) * stroke
    if volume - swept < SMALLEST_VOLUME:
        rule = f"must be larger than what the piston sweeps up to full lift, {swept * 1e6:.4g} cm3"
        yield _fault(facts, "spring_side.volume", rule)


def spring_known(facts: Facts) -> Faults:
    """Rate and mass are given, or the wire from which they follow."""
    if not facts.has("spring"):
        return
    wire = ("wire_diameter", "mean_diameter", "active_coils")
    if not facts.has("spring.rate") and not all(facts.has(f"spring.{name}") for name in wire):
        yield _missing("spring.rate", "is missing: give it, or wire_diameter, mean_diameter and active_coils")
    wire = ("wire_diameter", "mean_diameter", "total_coils")
    if not facts.has("spring.mass") and not all(facts.has(f"spring.{name}") for name in wire):
        yield _missing("spring.mass", "is missing: give it, or wire_diameter, mean_diameter and total_coils")


def _rate(facts: Facts) -> float | None:
    """N/m, given or from the wire."""
    rate: float | None = facts.get("spring.rate")
    if rate is not None or facts.has("spring.rate"):
        return rate
    names = ("wire_diameter", "mean_diameter", "active_coils", "shear_modulus")
    wire = facts.numbers(*(f"spring.{name}" for name in names))
    return spring_rate(wire[0], wire[1], wire[2], wire[3]) if wire else None


def spring_fits(facts: Facts) -> Faults:
    """Coils in order; full lift lies above the solid length."""
    sizes = facts.numbers("spring.wire_diameter", "spring.mean_diameter")
    if sizes and not sizes[1] > 2.0 * sizes[0]:
        rule = f"must be more than twice wire_diameter ({_mm(sizes[0])}): a spring index of 2 cannot be wound"
        yield _fault(facts, "spring.mean_diameter", rule)
    coils = facts.numbers("spring.active_coils", "spring.total_coils")
    if coils and coils[1] < coils[0]:
        yield _fault(facts, "spring.total_coils", f"must be at least active_coils ({coils[0]:g})")
    lengths = facts.numbers("spring.free_length", "spring.preload", "sleeve.stroke")
    rate = _rate(facts)
    if not lengths or rate is None or not rate > 0.0:
        return
    free, preload, stroke = lengths
    compressed = free - preload / rate - stroke
    wire = facts.numbers("spring.total_coils", "spring.wire_diameter")
    solid = solid_length(wire[0], wire[1]) if wire else 0.0
    if compressed < solid or compressed <= 0.0:
        rule = (
            f"reaches beyond the spring: preload and stroke leave {_mm(compressed)} of length, and the coils touch at "
            f"{_mm(solid)}"
        )
        yield _fault(facts, "sleeve.stroke", rule)


def seals_known(facts: Facts) -> Faults:
    """Friction of each seal is given, or its groove and hardness."""
    for seal in ("post", "rod", "piston"):
        table = f"seals.{seal}"
        if not facts.has(table):
            continue
        given = [name for name in ("squeeze", "pressure_coefficient") if facts.has(f"{table}.{name}")]
        gland = [name for name in ("groove_depth", "hardness") if facts.has(f"{table}.{name}")]
        if len(given) != 2 and len(gland) != 2:
            yield _missing(table, "needs squeeze and pressure_coefficient, or groove_depth and hardness")
        sizes = facts.numbers(f"{table}.cord", f"{table}.groove_depth")
        if sizes and not 0.5 * sizes[0] <= sizes[1] < sizes[0]:
            rule = f"must be below the cord ({_mm(sizes[0])}) and at least half of it (a seal is squeezed, not crushed)"
            yield _fault(facts, f"{table}.groove_depth", rule)
        width = facts.numbers(f"{table}.cord", f"{table}.groove_width")
        if width and width[1] < width[0]:
            yield _fault(facts, f"{table}.groove_width", f"must be at least the cord ({_mm(width[0])})")
        if facts.has(f"{table}.leak_clearance") != facts.has(f"{table}.leak_length"):
            yield _missing(table, "needs leak_clearance and leak_length together, or neither")


# ---------------------------------------------------------------------------------------------------- propellants


def feeds_complete(facts: Facts) -> Faults:
    """Each feed has an inlet, and a liquid or its properties."""
    for side in ("oxidizer", "fuel"):
        if not facts.has(side):
            continue
        inlets = [name for name in ("inlet_pressure", "inlet_table") if facts.has(f"{side}.{name}")]
        if len(inlets) != 1:
            yield _missing(side, "needs inlet_pressure or inlet_table, one of the two")
        if not facts.has(f"{side}.liquid"):
            for name in ("density", "viscosity", "vapour_pressure", "bulk_modulus"):
                if not facts.has(f"{side}.{name}"):
                    yield _missing(f"{side}.{name}", "is missing: give it, or name the liquid")
        if facts.has(f"{side}.rated_loss") and not facts.has(f"{side}.rated_flow"):
            yield _missing(f"{side}.rated_flow", "is missing (rated_loss is the loss at that flow)")
        volume = facts.get(f"{side}.passage_volume")
        if volume and not facts.has(f"{side}.passage_time") and not facts.has(f"{side}.rated_flow"):
            yield _missing(f"{side}.passage_time", "is missing: give it, or rated_flow (passage_volume drains with it)")


def slots_fit(facts: Facts) -> Faults:
    """Rows or a table; every row fits around the post and begins to open within the stroke."""
    if not facts.has("slots"):
        return
    rows = min(facts.count("slots.row"), MOST_SLOT_ROWS)
    if (rows > 0) == facts.has("slots.table"):
        yield _missing("slots", "needs [[slots.row]] or [slots.table], one of the two")
    if facts.has("slots.table") and not facts.has("slots.discharge_coefficient"):
        yield _missing("slots.discharge_coefficient", "is missing ([slots.table] needs it)")
    if rows and facts.has("slots.discharge_coefficient"):
        rule = "belongs to [slots.table]; each [[slots.row]] has its own"
        yield _fault(facts, "slots.discharge_coefficient", rule)
    stroke, post = facts.get("sleeve.stroke"), facts.get("sleeve.post_diameter")
    for number in range(rows):
        row = f"slots.row.{number}"
        lap, count = facts.get(f"{row}.lap"), facts.get(f"{row}.count")
        height, width, shape = (facts.get(f"{row}.{name}") for name in ("height", "width", "shape"))
        if lap is not None and stroke is not None and not lap < stroke:
            yield _fault(facts, f"{row}.lap", f"must be below the stroke ({_mm(stroke)}): the row never opens")
        if shape == "round" and width is not None and height is not None and width != height:
            yield _fault(facts, f"{row}.width", f"must equal height ({_mm(height)}) for round slots, or be left out")
        if shape in ("rectangular", "obround") and not facts.has(f"{row}.width"):
            yield _missing(f"{row}.width", f"is missing ({shape} slots need it)")
        across = width if facts.has(f"{row}.width") else height
        if post is None or across is None or not isinstance(count, int):
            continue
        if count * across >= math.pi * post:
            rule = f"{count} slots of {_mm(across)} do not fit around a post of {_mm(post)}"
            yield _fault(facts, f"{row}.count", rule)


def slot_metals_known(facts: Facts) -> Faults:
    """Metals are in the table, with the two temperatures; or the strains are given."""
    for part in ("post", "sleeve"):
        path, strain = f"slots.{part}_material", f"slots.{part}_contraction"
        metal = facts.get(path)
        if not isinstance(metal, str):
            continue
        if facts.has(strain):
            yield _fault(facts, strain, f"is given beside {part}_material: give one of the two")
            continue
        if metal not in METALS:
            close = get_close_matches(metal.lower()[:40], METALS, n=1)
            nearest = f"; nearest: {close[0]}" if close else ""
            rule = f"must be one of {', '.join(METALS)} (or give {part}_contraction){nearest}"
            yield _fault(facts, path, rule)
        for name in ("clearance_temperature", "running_temperature"):
            value = facts.get(f"slots.{name}")
            if not facts.has(f"slots.{name}"):
                yield _missing(f"slots.{name}", f"is missing ({part}_material needs it)")
            elif value is not None and not COLDEST <= value <= HOTTEST:
                yield _fault(
                    facts, f"slots.{name}", f"must be {COLDEST:g} to {HOTTEST:g} K (the table of metals ends there)"
                )


def seat_complete(facts: Facts) -> Faults:
    """Pilot and annulus have what they need; the pilot is shorter than the stroke."""
    if not facts.has("seat"):
        return
    length, stroke = facts.get("seat.pilot_length"), facts.get("sleeve.stroke")
    if length and stroke is not None and not length < stroke:
        yield _fault(
            facts, "seat.pilot_length", f"must be below the stroke ({_mm(stroke)}): the pilot never leaves the seat"
        )
    if length and not facts.has("seat.pilot_clearance"):
        yield _missing("seat.pilot_clearance", "is missing (a pilot needs it)")
    if facts.has("seat.annulus_area") != facts.has("seat.annulus_discharge_coefficient"):
        yield _missing("seat", "needs annulus_area and annulus_discharge_coefficient together, or neither")
    if facts.has("seat.table") and length:
        yield _fault(facts, "seat.pilot_length", "has no meaning beside [seat.table], which gives the area")


# ---------------------------------------------------------------------------------------------------- chamber


def mixture_bracketed(facts: Facts) -> Faults:
    """The table of c* brackets the steady mixture ratio, as far as the rated flows tell it."""
    ratios = facts.get("chamber.o_f")
    flows = facts.numbers("oxidizer.rated_flow", "fuel.rated_flow")
    if not isinstance(ratios, tuple) or len(ratios) < 2 or not flows:
        return
    ratio = flows[0] / flows[1]
    if not ratios[0] <= ratio <= ratios[-1]:
        span = f"the table goes from {ratios[0]:g} to {ratios[-1]:g}"
        rule = f"must bracket the mixture ratio of the rated flows, {ratio:.3g}; {span}"
        yield _fault(facts, "chamber.o_f", rule)


def cold_vapour_known(facts: Facts) -> Faults:
    """c* of each cold vapour is given, or its molar mass, or the liquid."""
    if not facts.has("chamber"):
        return
    for side in ("oxidizer", "fuel"):
        known = (f"chamber.cold_c_star_{side}", f"{side}.molar_mass", f"{side}.liquid")
        if facts.has(side) and not any(facts.has(path) for path in known):
            yield _missing(
                f"{side}.molar_mass", f"is missing: give it, or name the liquid, or give [chamber] cold_c_star_{side}"
            )


def igniter_complete(facts: Facts) -> Faults:
    """Light-off at a given instant, or on with a delay."""
    if not facts.has("igniter"):
        return
    given = facts.has("igniter.light_off")
    for name in ("on", "delay"):
        if given and facts.has(f"igniter.{name}"):
            yield _fault(facts, f"igniter.{name}", "is given beside light_off, which decides it: give one of the two")
        if not given and not facts.has(f"igniter.{name}"):
            yield _missing(f"igniter.{name}", "is missing: give on and delay, or light_off")
    on = facts.get("igniter.on")
    if not given and facts.has("igniter.on") and on == ():
        yield _fault(facts, "igniter.on", "needs an instant (without one, leave the table out: never lit)")
    mixture = facts.get("igniter.ignitable_mixture")
    if isinstance(mixture, tuple) and len(mixture) == 2 and not mixture[0] < mixture[1]:
        yield _fault(facts, "igniter.ignitable_mixture", "must be the lowest, then the highest mixture ratio")


CHECKS: tuple[Callable[[Facts], Faults], ...] = (
    tables_of_kind,
    gas_admitted,
    supply_complete,
    supply_table_in_range,
    restrictions_given_once,
    lists_increase,
    lists_pair,
    commands_alternate,
    run_covers_commands,
    dead_times_or_coil,
    diameters_in_order,
    spring_side_keeps_volume,
    spring_known,
    spring_fits,
    seals_known,
    feeds_complete,
    slots_fit,
    slot_metals_known,
    seat_complete,
    mixture_bracketed,
    cold_vapour_known,
    igniter_complete,
)


def consistency_faults(facts: Facts) -> list[Fault]:
    """Every fault between keys."""
    return [fault for check in CHECKS for fault in check(facts)]
