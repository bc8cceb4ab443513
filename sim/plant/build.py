"""Case -> Plant: the only place where geometry and ratings become coefficients.

A `Plant` is the record of `params`, the row of curves it points into, the gas table and the scales of the states. Everything
is plain arithmetic on the case's SI numbers; nothing here is integrated.
"""

from math import cos, inf, nan, pi, sin
from typing import Any, NamedTuple

import numpy as np

from sim.case.schema import Case
from sim.case.schema_gas import Component
from sim.case.schema_liquid import Propellant
from sim.case.schema_machine import Seal
from sim.constants import AIR_GAS_CONSTANT, STANDARD_GRAVITY
from sim.physics.feed_line import critical_damping, ringing_period
from sim.physics.restriction import (
    ORIFICE_CRITICAL_RATIO,
    ORIFICE_LAW,
    area_of_conductance,
    conductance_of_area,
    series_component,
    tube_component,
)
from sim.physics.sleeve import axial_areas
from sim.physics.slots import OBROUND, RECTANGULAR, ROUND, clearance_losses, hot_clearance
from sim.physics.solenoid import Coil, Schedule, ValveTimes, opening_schedule
from sim.physics.spring import MOVING_SHARE
from sim.plant.layout import floors, places
from sim.plant.mixture_table import cold_c_star, mixture_curve
from sim.plant.params import (
    BOTTLE_SUPPLY,
    CHAMBER,
    COLD_FLOW,
    CONSTANT_SUPPLY,
    DRY,
    HOT,
    INSTANTS,
    LINE,
    PLANT,
    REGULATED_SUPPLY,
    TABLE_SUPPLY,
)
from sim.plant.rest_gas import GasName, gas_name, gas_state_tuple, gas_table, hot_enthalpy_terms, wave_delay
from sim.plant.static import closed_leak, reference_flows

KINDS = {"dry": DRY, "cold-flow": COLD_FLOW, "hot": HOT}
SHAPES = {"rectangular": RECTANGULAR, "round": ROUND, "obround": OBROUND}
SUPPLIES = {
    "constant": CONSTANT_SUPPLY,
    "table": TABLE_SUPPLY,
    "bottle": BOTTLE_SUPPLY,
    "regulator": REGULATED_SUPPLY,
}

HORIZON = 1.0
"""s. Without a given end a run is cut this long after its last known instant, if it has not settled before."""
SETTLE_LEAST = 5e-3
"""s. A closed valve is watched at least this long before the run may end."""
SETTLE_PERIODS = 2.0
"""-. Periods of the lines' free oscillation a closed valve is watched for: later peaks are lower."""


class Plant(NamedTuple):
    """What one run needs."""

    record: Any
    """one-element array of `PLANT`."""
    tables: np.ndarray
    """(n,) curves."""
    gas: np.ndarray
    """flat gas table."""
    floors: np.ndarray
    """(n_core,) size below which a state no longer counts, in its own unit."""
    schedule: Schedule
    """what the commands make of the valve."""


class Curves:
    """Collects curves of any length into one row."""

    def __init__(self) -> None:
        self.values: list[float] = []

    def add(self, numbers: list[float], per_entry: int) -> tuple[int, int]:
        """Append; (start, number of entries)."""
        start = len(self.values)
        self.values.extend(numbers)
        return start, len(numbers) // per_entry


def in_order(values: dict[str, Any], kind: np.dtype[np.void]) -> tuple[Any, ...]:
    """The values of a record of this kind in its own order, to be put in at once: much quicker than one by one."""
    assert len(values) == len(kind.names or ()), "every number of a record is given"
    return tuple(values[name] for name in kind.names or ())


def restriction_of(
    orifice: float | None, cd: float | None, component: Component | None
) -> tuple[float, float, float]:
    """(Cd A m2, b, m) of an orifice or a component; nothing given: a blocked path."""
    if component is not None:
        return area_of_conductance(component.conductance), component.critical_ratio, component.subsonic_index
    if orifice is None:
        return 0.0, ORIFICE_LAW, 0.5
    return (cd if cd is not None else 1.0) * pi / 4.0 * orifice**2, ORIFICE_LAW, 0.5


def as_component(restriction: tuple[float, float, float]) -> tuple[float, float]:
    """(C, b) of a restriction, an orifice counted with the critical ratio of air."""
    area, b, _ = restriction
    return conductance_of_area(area), ORIFICE_CRITICAL_RATIO if b < 0.0 else b


def tube_restrictions(case: Case) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Restriction from valve to lift chamber and back: the tube, in series with the port where there is one."""
    tube = case.tube
    c, b = tube.conductance, tube.critical_ratio
    if c is None or b is None:
        c, b = tube_component(tube.bore, tube.length)
    if tube.port_orifice is None and tube.port_component is None:
        alone = (area_of_conductance(c), b, 0.5)
        return alone, alone
    port_c, port_b = as_component(
        restriction_of(tube.port_orifice, tube.port_discharge_coefficient, tube.port_component)
    )
    inward = series_component(c, b, port_c, port_b)
    outward = series_component(port_c, port_b, c, b)
    return (area_of_conductance(inward[0]), inward[1], 0.5), (area_of_conductance(outward[0]), outward[1], 0.5)


def schedule_of(case: Case, gas: GasName) -> Schedule:
    """Opening fraction of the solenoid valve over time."""
    s = case.solenoid
    coil = None
    if s.coil is not None:
        c = s.coil
        coil = Coil(
            c.inductance, c.resistance, c.supply_voltage, c.pull_in_current, c.drop_out_current, c.clamp_voltage
        )
    times = ValveTimes(
        s.open_dead_time or 0.0, s.open_stroke_time, s.close_dead_time or 0.0, s.close_stroke_time, wave_delay(case, gas)
    )
    return opening_schedule(s.on, s.off, times, coil)


def fill_sleeve(record: Any, case: Case) -> None:
    """Masses, areas, spring and impacts."""
    s = case.sleeve
    areas = axial_areas(s.post_diameter, s.nose_diameter, s.seat_diameter, s.rod_diameter, s.piston_diameter)
    mass = s.moving_mass + MOVING_SHARE * case.spring.mass
    record["sleeve"] = (
        mass,
        mass * STANDARD_GRAVITY * cos(s.axis_tilt),
        s.stroke,
        *areas,
        s.restitution_stop,
        s.restitution_seat,
        s.rest_speed,
        case.spring.preload,
        case.spring.rate,
        s.seat_diameter,
    )


def seal_numbers(seal: Seal, diameter: float, factor: float) -> tuple[float, float, float, float]:
    """Diameter, squeeze, pressure coefficient and cord of one seal, all friction factors multiplied in."""
    f = factor * seal.friction_factor
    return diameter, seal.squeeze * f, seal.pressure_coefficient * f, seal.cord


def fill_friction(record: Any, case: Case) -> None:
    """Seals and the law of dry friction."""
    s, d = case.seals, case.sleeve
    record["friction"] = (
        seal_numbers(s.post, d.post_diameter, s.friction_factor),
        seal_numbers(s.rod, d.rod_diameter, s.friction_factor),
        seal_numbers(s.piston, d.piston_diameter, s.friction_factor),
        s.breakaway_ratio,
        s.falling_speed,
        s.viscous,
        1 if s.post_seal_faces == "chamber" else 0,
    )


def fill_supply(record: Any, case: Case, curves: Curves, gas: GasName) -> None:
    """Source of the actuation gas."""
    s = case.supply
    T = s.temperature
    out = record["supply"]
    out["kind"] = SUPPLIES[s.kind]
    out["temperature"] = T
    blank = (0.0, 0.0, T, 1e5, T)
    out["plenum"] = blank
    out["bottle"] = blank
    if s.kind == "constant":
        assert s.pressure is not None, "the reader asks for the pressure of a constant supply"
        out["state"] = gas_state_tuple(s.pressure, T, gas)
        return
    if s.kind == "table":
        assert s.table is not None, "the reader asks for the table of a tabled supply"
        out["table"] = curves.add([v for pair in zip(s.table.time, s.table.pressure) for v in pair], 2)
        return
    assert s.bottle_volume is not None and s.bottle_pressure is not None, "the reader asks for the bottle"
    wall = s.wall_coefficient * s.bottle_wall_area
    out["bottle"] = (s.bottle_volume, wall, case.ambient.temperature, s.bottle_pressure, T)
    if s.kind == "regulator":
        assert s.pressure is not None and s.plenum_volume is not None, "the reader asks for the regulator"
        out["set_pressure"] = s.pressure
        out["droop_band"] = s.droop_band
        out["regulator"] = restriction_of(s.regulator_orifice, s.regulator_discharge_coefficient, None)
        start = min(s.pressure, s.bottle_pressure)
        out["plenum"] = (
            s.plenum_volume,
            s.wall_coefficient * s.plenum_wall_area,
            case.ambient.temperature,
            start,
            T,
        )


def fill_gas_side(record: Any, case: Case, curves: Curves, gas: GasName, schedule: Schedule) -> None:
    """Valve, tube, lift chamber, spring side, vents and leaks."""
    s, tube, amb = case.solenoid, case.tube, case.ambient
    inward, outward = tube_restrictions(case)
    out = record["gas"]
    out["fill"] = restriction_of(s.fill_orifice, s.fill_discharge_coefficient, s.fill_component)
    out["exhaust"] = restriction_of(s.exhaust_orifice, s.exhaust_discharge_coefficient, s.exhaust_component)
    volume = pi / 4.0 * tube.bore**2 * tube.length
    out["tube"] = (volume, tube.wall_coefficient * tube.wall_area, amb.temperature, amb.pressure, amb.temperature)
    out["port_in"] = inward
    out["port_out"] = outward
    for name, part, size in (
        ("lift", case.lift_chamber, case.lift_chamber.dead_volume),
        ("spring", case.spring_side, case.spring_side.volume),
    ):
        out[name] = (
            size,
            part.wall_coefficient * part.wall_area,
            part.wall_temperature,
            part.pressure,
            part.temperature,
        )
    side = case.spring_side
    out["vent"] = restriction_of(side.vent_orifice, side.vent_discharge_coefficient, side.vent_component)
    quick = case.quick_exhaust
    out["quick"] = 0 if quick is None else 1
    out["cracking"] = 1.0
    if quick is not None:
        out["cracking"] = quick.cracking_pressure
        out["quick_vent"] = restriction_of(quick.vent_orifice, quick.vent_discharge_coefficient, quick.vent_component)
    seals = case.seals
    out["piston_leak"] = seals.piston_leak_area * seals.piston_leak_discharge_coefficient
    out["post_leak"] = seals.post_leak_area * seals.post_leak_discharge_coefficient
    out["ambient"] = gas_state_tuple(amb.pressure, amb.temperature, gas)
    out["straight_above"] = case.run.straight_above
    out["valve"] = curves.add([v for pair in zip(schedule.times, schedule.openings) for v in pair], 2)


def fill_line(record: Any, side: str, part: Propellant, curves: Curves, swept: float) -> None:
    """One feed line with its manifold and passage; volume is manifold plus line."""
    area = pi / 4.0 * part.line_bore**2
    inertance = part.line_length / area
    volume = part.manifold_volume + part.line_length * area
    table, inlet = (0, 0), 0.0
    if part.inlet_table is not None:
        table = curves.add([v for pair in zip(part.inlet_table.time, part.inlet_table.pressure) for v in pair], 2)
        highest = max(part.inlet_table.pressure)
    else:
        assert part.inlet_pressure is not None, "the reader asks for an inlet pressure or a table"
        inlet = highest = part.inlet_pressure
    loss = 0.0
    if part.rated_flow is not None and part.rated_loss:
        loss = part.rated_loss / part.rated_flow**2 * part.rated_density / part.density
    period = ringing_period(inertance, volume, part.bulk_modulus, part.density)
    values = {
        "present": 1,
        "rho": part.density,
        "mu": part.viscosity,
        "bulk": part.bulk_modulus,
        "vapour": part.vapour_pressure,
        "inertance": inertance,
        "area_per_length": area / part.line_length,
        "loss": loss,
        "volume": volume,
        "stiffness": part.bulk_modulus / volume,
        "specific_volume": 1.0 / part.density,
        "pocket": part.trapped_gas_volume,
        "pocket_exponent": part.trapped_gas_exponent,
        "inlet": inlet,
        "inlet_high": highest,
        "table": table,
        "passage_mass": part.density * part.passage_volume,
        "passage_time": part.passage_time or 0.0,
        "swept": swept,
        "reference": part.rated_flow or 0.0,
        "period": period,
        "damping": critical_damping(period),
    }
    record[side] = in_order(values, LINE)


def clearance_at_running(case: Case) -> float:
    """Radial clearance between post and sleeve at running temperature, m (not above 0: it has closed up)."""
    slots = case.slots
    assert slots is not None, "only cases with propellants have slots"
    return hot_clearance(
        slots.clearance, case.sleeve.post_diameter, slots.post_contraction or 0.0, slots.sleeve_contraction or 0.0
    )


def fill_slots(record: Any, case: Case, curves: Curves) -> None:
    """Oxidizer slots, or their measured table, and the clearance at running temperature."""
    slots = case.slots
    if slots is None:
        return
    rows: list[float] = []
    for row in slots.row:
        width = row.width if row.width is not None else row.height
        rows += [float(row.count), SHAPES[row.shape], row.height, width, row.lap, row.discharge_coefficient]
    measured, cd, first = (0, 0), 1.0, min((row.lap for row in slots.row), default=0.0)
    if slots.table is not None:
        measured = curves.add([v for pair in zip(slots.table.lift, slots.table.area) for v in pair], 2)
        cd = slots.discharge_coefficient if slots.discharge_coefficient is not None else 1.0
        closed = [lift for lift, area in zip(slots.table.lift, slots.table.area) if area <= 0.0]
        first = max(closed, default=0.0)
    line = record["oxidizer"]
    losses = clearance_losses(
        case.sleeve.post_diameter, clearance_at_running(case), slots.eccentricity, slots.clearance_discharge_coefficient,
        float(line["rho"]), float(line["mu"]),
    )  # fmt: skip
    record["slots"] = (curves.add(rows, 6), measured, cd, first, slots.minimum_length, *losses)


def fill_seat(record: Any, case: Case, curves: Curves) -> None:
    """Seat gap, pilot, annulus and jet; a dry case without a seat has no annulus, so its gap sees the chamber."""
    seat = case.seat
    if seat is None:
        return
    measured = (0, 0)
    if seat.table is not None:
        measured = curves.add([v for pair in zip(seat.table.lift, seat.table.area) for v in pair], 2)
    annulus = 0.0
    if seat.annulus_area is not None:
        annulus = seat.annulus_area * (seat.annulus_discharge_coefficient or 1.0)
    pilot = seat.pilot_length if seat.pilot_clearance is not None else 0.0
    record["seat"] = (
        measured,
        1.0 if seat.edge == "sleeve" else 0.0,
        case.sleeve.seat_diameter,
        case.sleeve.nose_diameter,
        sin(seat.half_angle),
        cos(seat.half_angle),
        seat.discharge_coefficient,
        pilot,
        seat.pilot_clearance or 0.0,
        annulus,
        seat.jet_factor,
    )


def fill_chamber(record: Any, case: Case, curves: Curves) -> None:
    """Combustion chamber, or the back pressure the liquids are discharged into."""
    back = case.bench.back_pressure if case.case.kind == "cold-flow" else case.ambient.pressure
    chamber = case.chamber
    record["chamber"]["back"] = back
    record["chamber"]["allowable"] = inf
    if chamber is None or case.oxidizer is None or case.fuel is None:
        return
    g_first, g_last = chamber.g[0], chamber.g[-1]
    cold_fuel = cold_c_star(chamber.cold_c_star_fuel, case.fuel, g_first)
    cold_ox = cold_c_star(chamber.cold_c_star_oxidizer, case.oxidizer, g_last)
    of, c = chamber.o_f, chamber.c_star
    real = mixture_curve(of, c, chamber.g, chamber.efficiency, cold_fuel, cold_ox)
    ideal = mixture_curve(of, c, chamber.g, 1.0, cold_fuel, cold_ox)
    best = of[max(range(len(c)), key=c.__getitem__)]
    values = {
        "hot": 1,
        "back": back,
        "volume": chamber.volume,
        "throat": chamber.throat_area,
        "burn_time": chamber.burn_time,
        "gas_constant": chamber.gas_constant,
        "ambient_mass": case.ambient.pressure * chamber.volume / (AIR_GAS_CONSTANT * case.ambient.temperature),
        "curve": curves.add(list(real), 9),
        "ideal_curve": curves.add(list(ideal), 9),
        "best": best / (1.0 + best),
        "allowable": inf if chamber.allowable_pressure is None else chamber.allowable_pressure,
        "table_low": of[0] / (1.0 + of[0]),
        "table_high": of[-1] / (1.0 + of[-1]),
        "hot_enthalpy": curves.add(list(hot_enthalpy_terms(*gas_name(case))), 1),
    }
    record["chamber"] = in_order(values, CHAMBER)


def igniter_windows(case: Case) -> list[float]:
    """Flat pairs (instant the flame is there, instant it is switched off) of the igniter."""
    igniter = case.igniter
    if igniter is None:
        return []
    pairs: list[float] = []
    for on in igniter.on:
        later = [t for t in igniter.off if t > on]
        off = min(later) if later else inf
        if on + igniter.rise < off:
            pairs += [on + igniter.rise, off]
    return pairs


def fill_ignition(record: Any, case: Case, curves: Curves) -> None:
    """When and whether the chamber lights."""
    out = record["ignition"]
    out["given"] = nan
    out["mixture_low"] = 0.0
    out["mixture_high"] = inf
    igniter = case.igniter
    if case.chamber is None or igniter is None:
        return
    out["possible"] = 1
    if igniter.light_off is not None:
        out["given"] = igniter.light_off
    out["delay"] = igniter.delay or 0.0
    out["windows"] = curves.add(igniter_windows(case), 2)
    if igniter.ignitable_mixture is not None:
        out["mixture_low"], out["mixture_high"] = igniter.ignitable_mixture


def fill_instants(record: Any, case: Case, curves: Curves, schedule: Schedule) -> None:
    """Commands, every known instant, and the end of the run."""
    s = case.solenoid
    edges = sorted([(t, 1.0) for t in s.on] + [(t, 0.0) for t in s.off])
    known = {t for t, _ in edges} | set(schedule.times)
    for part in (case.oxidizer, case.fuel):
        if part is not None and part.inlet_table is not None:
            known |= set(part.inlet_table.time)
    if case.supply.table is not None:
        known |= set(case.supply.table.time)
    if case.igniter is not None and case.chamber is not None:
        known |= {t for t in igniter_windows(case) if t < inf}
        if case.igniter.light_off is not None:
            known.add(case.igniter.light_off)
    last = max(known, default=0.0)
    end = case.run.end if case.run.end is not None else last + HORIZON
    targets = sorted(t for t in known if 0.0 <= t < end)
    periods = [float(record[side]["period"]) for side in ("oxidizer", "fuel") if record[side]["present"]]
    values = {
        "energize": min(s.on, default=nan),
        "deenergize": max(s.off, default=nan),
        "waiting": case.run.pressurised_before_command + min(s.on, default=nan),
        "edges": curves.add([v for edge in edges for v in edge], 2),
        "effects": curves.add([v for e in schedule.effects for v in (e[0], float(e[1]), e[2])], 3),
        "targets": curves.add(targets, 1),
        "end": end,
        "settle": 0 if case.run.end is not None else 1,
        "settle_time": max([SETTLE_LEAST, *(SETTLE_PERIODS * p for p in periods)]),
        "tolerance": case.run.tolerance,
    }
    record["instants"] = in_order(values, INSTANTS)


def range_factors(case: Case, seal: str) -> tuple[float, float]:
    """Least and greatest breakaway of one seal over its nominal, from every range that touches it, -."""
    low = high = 1.0
    ranges = case.ranges
    if not ranges:
        return low, high
    paths = ["seals.friction_factor", "seals.breakaway_ratio", f"seals.{seal}.friction_factor"]
    for path in paths:
        if path in ranges:
            nominal = value_at(case, path)
            if nominal > 0.0:
                low *= ranges[path][0] / nominal
                high *= ranges[path][1] / nominal
    own = [f"seals.{seal}.squeeze", f"seals.{seal}.pressure_coefficient"]
    ratios = [
        (ranges[p][0] / value_at(case, p), ranges[p][1] / value_at(case, p))
        for p in own
        if p in ranges and value_at(case, p) > 0.0
    ]
    if ratios:
        low *= min(r[0] for r in ratios)
        high *= max(r[1] for r in ratios)
    return low, high


def value_at(case: Case, path: str) -> float:
    """The SI number at a dotted path of the case."""
    here: Any = case
    for part in path.split("."):
        here = here[int(part)] if part.isdigit() else getattr(here, part)
    return float(here)


def fill_ranges(record: Any, case: Case) -> None:
    """Extremes of gas, fuel pressure, friction and jet for the static margins."""
    s = case.supply
    path = "supply.bottle_pressure" if s.kind == "bottle" else "supply.pressure"
    if s.kind == "table":
        assert s.table is not None, "the reader asks for the table of a tabled supply"
        work = max(s.table.pressure)
    elif s.kind == "bottle":
        work = s.bottle_pressure or 0.0
    else:
        work = s.pressure or 0.0
        if s.kind == "regulator":
            work = min(work, s.bottle_pressure or work)
    gas_low, gas_high = case.ranges.get(path, (work, work))
    if case.fuel is None:
        fuel_path, fuel = "bench.fuel_side_pressure", case.bench.fuel_side_pressure
    else:
        fuel_path, fuel = "fuel.inlet_pressure", float(record["fuel"]["inlet_high"])
    fuel_low, fuel_high = case.ranges.get(fuel_path, (fuel, fuel))
    jet = case.seat.jet_factor if case.seat is not None else 1.0
    jet_low, jet_high = case.ranges.get("seat.jet_factor", (jet, jet))
    factors = [f for seal in ("post", "rod", "piston") for f in range_factors(case, seal)]
    record["ranges"] = (
        gas_low, gas_high, work, fuel_low, fuel_high, *factors, jet_low, jet_high, case.limits.lift_area_factor,
    )  # fmt: skip


def build(case: Case) -> Plant:
    """The plant of a case."""
    gas = gas_name(case)
    lanes = np.zeros(PLANT.itemsize, dtype=np.uint8).view(PLANT)
    record = lanes[0]
    curves = Curves()
    schedule = schedule_of(case, gas)
    record["kind"] = KINDS[case.case.kind]
    record["ambient_pressure"] = case.ambient.pressure
    record["fuel_side_pressure"] = case.bench.fuel_side_pressure
    fill_sleeve(record, case)
    fill_friction(record, case)
    fill_supply(record, case, curves, gas)
    fill_gas_side(record, case, curves, gas, schedule)
    if case.oxidizer is not None and case.fuel is not None:
        fill_line(record, "oxidizer", case.oxidizer, curves, 0.0)
        fill_line(record, "fuel", case.fuel, curves, float(record["sleeve"]["assist_area"]))
    fill_slots(record, case, curves)
    fill_seat(record, case, curves)
    fill_chamber(record, case, curves)
    fill_ignition(record, case, curves)
    fill_instants(record, case, curves, schedule)
    fill_ranges(record, case)
    record["index"] = tuple(places(bool(record["oxidizer"]["present"])).values())
    core = places(bool(record["oxidizer"]["present"]))["core"]
    record["floors"] = curves.add([1.0] * core, 1)
    tables = np.array(curves.values)
    reference = complete_references(record, case, lanes, tables)
    sizes = floors(record, reference)
    tables[-core:] = sizes
    return Plant(lanes, tables, gas_table(*gas), sizes, schedule)


def complete_references(record: Any, case: Case, lanes: np.ndarray, tables: np.ndarray) -> tuple[float, float]:
    """Reference flows, kg/s: rated, or the static solution at full lift; also what else follows from steady flow.

    That is the passages' own time constants, and the pool of the closed leak before the command where it is to count.
    """
    if not record["oxidizer"]["present"]:
        return 1.0, 1.0
    w_o, w_f = reference_flows(lanes, tables)
    if case.run.count_pool_before_command and case.solenoid.on:
        waiting = float(record["instants"]["waiting"])
        record["ignition"]["pool_oxidizer"] = closed_leak(lanes, tables) * waiting
    for side, w in (("oxidizer", w_o), ("fuel", w_f)):
        line = record[side]
        if line["passage_mass"] > 0.0 and not line["passage_time"] > 0.0:
            line["passage_time"] = line["passage_mass"] / max(w, 1e-12)
    return w_o, w_f
