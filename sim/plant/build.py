"""Case -> Plant: the only place where geometry and ratings become coefficients.

A `Plant` is the record of `params`, the row of curves it points into, the gas table and the scales of the states. Everything
is plain arithmetic on the case's SI numbers; nothing here is integrated.
"""

from collections.abc import Callable, Mapping
from functools import lru_cache
from itertools import chain
from math import cos, inf, nan, pi, sin, sqrt
from operator import itemgetter
from typing import Any, NamedTuple

import numpy as np

from sim.case.schema import Case
from sim.case.schema_chamber import Chamber, Igniter, Limits
from sim.case.schema_gas import (
    Ambient,
    CaseTable,
    Component,
    Gas,
    LiftChamber,
    QuickExhaust,
    Run,
    Solenoid,
    SpringSide,
    Supply,
    Tube,
)
from sim.case.schema_gas import Coil as CoilTable
from sim.case.schema_liquid import Bench, Propellant, Seat, Slots
from sim.case.schema_machine import Seal, Seals, Sleeve, Spring
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
from sim.physics.sleeve import AxialAreas, axial_areas
from sim.physics.slots import OBROUND, RECTANGULAR, ROUND, clearance_losses, hot_clearance
from sim.physics.solenoid import Coil, Schedule, ValveTimes, opening_schedule
from sim.physics.spring import MOVING_SHARE
from sim.plant.completion import complete
from sim.plant.layout import places
from sim.plant.mixture_table import cold_c_star, mixture_curve
from sim.plant.params import (
    BOTTLE_SUPPLY,
    CHAMBER,
    COLD_FLOW,
    CONSTANT_SUPPLY,
    DRY,
    GAS_SIDE,
    HOT,
    IGNITION,
    INSTANTS,
    LINE,
    REGULATED_SUPPLY,
    SUPPLY,
    TABLE_SUPPLY,
)
from sim.plant.rest_gas import expansion, gas_name, gas_state_tuple, gas_table, hot_enthalpy_terms, wave_delay
from sim.plant.sections import Curves, Sections

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
FLOOR_SPEED, LEAST_SPEED = 0.07, 0.01
"""-, m/s. The error of a speed smaller than this share of the speed that the spring alone gives the sleeve over its stroke, or than
the latter, is measured against it (the sizes of the other states: `completion`)."""
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


BLOCKED = (0.0, ORIFICE_LAW, 0.5)
"""The `RESTRICTION` of a path that is not there."""

_orders: dict[int, tuple[int, Callable[[dict[str, Any]], tuple[Any, ...]]]] = {}
"""Kind of a record by its address (kinds are constants) -> number of its values, what puts them in its order."""


def in_order(values: dict[str, Any], kind: np.dtype[np.void]) -> tuple[Any, ...]:
    """The values of a record of this kind in its own order, to be put in at once: much quicker than one by one."""
    order = _orders.get(id(kind))
    if order is None:
        names = kind.names or ()
        order = _orders[id(kind)] = (len(names), itemgetter(*names))
    assert len(values) == order[0], "every number of a record is given"
    return order[1](values)


def restriction_of(
    orifice: float | None, cd: float | None, component: Component | None
) -> tuple[float, float, float]:
    """(Cd A m2, b, m) of an orifice or a component; nothing given: a blocked path."""
    if component is not None:
        return area_of_conductance(component.conductance), component.critical_ratio, component.subsonic_index
    if orifice is None:
        return BLOCKED
    return (cd if cd is not None else 1.0) * pi / 4.0 * orifice**2, ORIFICE_LAW, 0.5


def as_component(restriction: tuple[float, float, float]) -> tuple[float, float]:
    """(C, b) of a restriction, an orifice counted with the critical ratio of air."""
    area, b, _ = restriction
    return conductance_of_area(area), ORIFICE_CRITICAL_RATIO if b < 0.0 else b


def tube_restrictions(tube: Tube) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Restriction from valve to lift chamber and back: the tube, in series with the port where there is one."""
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


class Commands(NamedTuple):
    """Commands and what the valve makes of them, as curves of the record."""

    schedule: Schedule
    known: frozenset[float]
    """every instant of a command or of a knot of the valve's opening"""
    energize: float
    """first command on, s; nan without any"""
    deenergize: float
    """last command off, s; nan without any"""
    edges: tuple[float, ...]
    """pairs (instant, 1 on / 0 off)"""
    effects: tuple[float, ...]
    """triples (instant of effect, 1 opens / 0 shuts, instant of its command)"""
    valve: tuple[float, ...]
    """pairs (instant, opening fraction)"""


def commands_to_valve(
    record: Any, curves: Curves, on: tuple[float, ...], off: tuple[float, ...], open_dead: float | None, open_stroke: float,
    close_dead: float | None, close_stroke: float, c: CoilTable | None, tube: Tube, ambient: Ambient, gas: Gas,
) -> Commands:  # fmt: skip
    """Opening fraction of the solenoid valve over time, and the commands behind it."""
    coil = None
    if c is not None:
        coil = Coil(
            c.inductance, c.resistance, c.supply_voltage, c.pull_in_current, c.drop_out_current, c.clamp_voltage
        )
    delay = wave_delay(tube, ambient, gas_name(gas))
    times = ValveTimes(open_dead or 0.0, open_stroke, close_dead or 0.0, close_stroke, delay)
    return commands_of(on, off, times, coil)


@lru_cache(maxsize=256)
def commands_of(on: tuple[float, ...], off: tuple[float, ...], times: ValveTimes, coil: Coil | None) -> Commands:
    """The valve's schedule and what the record says of it, made once for the many runs that share it."""
    schedule = opening_schedule(on, off, times, coil)
    edges = sorted([(t, 1.0) for t in on] + [(t, 0.0) for t in off])
    return Commands(
        schedule,
        frozenset([*on, *off, *schedule.times]),
        min(on, default=nan),
        max(off, default=nan),
        tuple(v for edge in edges for v in edge),
        tuple(v for e in schedule.effects for v in (e[0], float(e[1]), e[2])),
        tuple(v for pair in zip(schedule.times, schedule.openings) for v in pair),
    )


def fill_head(record: Any, curves: Curves, table: CaseTable, ambient: Ambient, bench: Bench) -> None:
    """Kind and pressures around."""
    record["kind"] = KINDS[table.kind]
    record["ambient_pressure"] = ambient.pressure
    record["fuel_side_pressure"] = bench.fuel_side_pressure


def fill_index(record: Any, curves: Curves, place: dict[str, int]) -> None:
    """Places of the states."""
    record["index"] = tuple(place.values())


def areas_of(record: Any, curves: Curves, s: Sleeve) -> AxialAreas:
    """The sleeve's areas along the axis."""
    return axial_areas(s.post_diameter, s.nose_diameter, s.seat_diameter, s.rod_diameter, s.piston_diameter)


def fill_sleeve(record: Any, curves: Curves, s: Sleeve, spring: Spring, areas: AxialAreas) -> None:
    """Masses, areas, spring and impacts."""
    mass = s.moving_mass + MOVING_SHARE * spring.mass
    record["sleeve"] = (
        mass,
        mass * STANDARD_GRAVITY * cos(s.axis_tilt),
        s.stroke,
        *areas,
        s.restitution_stop,
        s.restitution_seat,
        s.rest_speed,
        spring.preload,
        spring.rate,
        s.seat_diameter,
    )


def seal_numbers(seal: Seal, diameter: float, factor: float) -> tuple[float, float, float, float]:
    """Diameter, squeeze, pressure coefficient and cord of one seal, all friction factors multiplied in."""
    f = factor * seal.friction_factor
    return diameter, seal.squeeze * f, seal.pressure_coefficient * f, seal.cord


def fill_friction(record: Any, curves: Curves, s: Seals, d: Sleeve) -> None:
    """Seals and the law of dry friction."""
    record["friction"] = (
        seal_numbers(s.post, d.post_diameter, s.friction_factor),
        seal_numbers(s.rod, d.rod_diameter, s.friction_factor),
        seal_numbers(s.piston, d.piston_diameter, s.friction_factor),
        s.breakaway_ratio,
        s.falling_speed,
        s.viscous,
        1 if s.post_seal_faces == "chamber" else 0,
    )


def fill_supply(record: Any, curves: Curves, s: Supply, ambient: Ambient, gas: Gas) -> dict[str, Any]:
    """Source of the actuation gas; its values by name."""
    T = s.temperature
    blank = (0.0, 0.0, T, 1e5, T)
    values: dict[str, Any] = {
        "kind": SUPPLIES[s.kind],
        "state": (0.0,) * 6,
        "table": (0, 0),
        "temperature": T,
        "set_pressure": 0.0,
        "droop_band": 0.0,
        "regulator": BLOCKED,
        "plenum": blank,
        "bottle": blank,
    }
    if s.kind == "constant":
        assert s.pressure is not None, "the reader asks for the pressure of a constant supply"
        values["state"] = gas_state_tuple(s.pressure, T, gas_name(gas))
    elif s.kind == "table":
        assert s.table is not None, "the reader asks for the table of a tabled supply"
        values["table"] = curves.add([v for pair in zip(s.table.time, s.table.pressure) for v in pair], 2)
    else:
        assert s.bottle_volume is not None and s.bottle_pressure is not None, "the reader asks for the bottle"
        wall = s.wall_coefficient * s.bottle_wall_area
        values["bottle"] = (s.bottle_volume, wall, ambient.temperature, s.bottle_pressure, T)
    if s.kind == "regulator":
        assert s.pressure is not None and s.plenum_volume is not None, "the reader asks for the regulator"
        values["set_pressure"] = s.pressure
        values["droop_band"] = s.droop_band
        values["regulator"] = restriction_of(s.regulator_orifice, s.regulator_discharge_coefficient, None)
        wall = s.wall_coefficient * s.plenum_wall_area
        start = min(s.pressure, s.bottle_pressure or s.pressure)
        values["plenum"] = (s.plenum_volume, wall, ambient.temperature, start, T)
    record["supply"] = in_order(values, SUPPLY)
    return values


def node_of(part: LiftChamber | SpringSide, volume: float) -> tuple[float, float, float, float, float]:
    """The numbers of `NODE` of a chamber with gas at rest."""
    return volume, part.wall_coefficient * part.wall_area, part.wall_temperature, part.pressure, part.temperature


def tube_node(tube: Tube, amb: Ambient) -> tuple[float, float, float, float, float]:
    """The numbers of `NODE` of the tube."""
    volume = pi / 4.0 * tube.bore**2 * tube.length
    return volume, tube.wall_coefficient * tube.wall_area, amb.temperature, amb.pressure, amb.temperature


def fill_gas_side(
    record: Any, curves: Curves, s: Solenoid, tube: Tube, lift: LiftChamber, side: SpringSide, amb: Ambient, seals: Seals,
    quick: QuickExhaust | None, run: Run, gas: Gas, commands: Commands,
) -> dict[str, Any]:  # fmt: skip
    """Valve, tube, lift chamber, spring side, vents and leaks; their values by name."""
    inward, outward = tube_restrictions(tube)
    quick_vent = BLOCKED
    if quick is not None:
        quick_vent = restriction_of(quick.vent_orifice, quick.vent_discharge_coefficient, quick.vent_component)
    values = {
        "fill": restriction_of(s.fill_orifice, s.fill_discharge_coefficient, s.fill_component),
        "exhaust": restriction_of(s.exhaust_orifice, s.exhaust_discharge_coefficient, s.exhaust_component),
        "tube": tube_node(tube, amb),
        "port_in": inward,
        "port_out": outward,
        "lift": node_of(lift, lift.dead_volume),
        "spring": node_of(side, side.volume),
        "vent": restriction_of(side.vent_orifice, side.vent_discharge_coefficient, side.vent_component),
        "quick": 0 if quick is None else 1,
        "cracking": 1.0 if quick is None else quick.cracking_pressure,
        "quick_vent": quick_vent,
        "piston_leak": seals.piston_leak_area * seals.piston_leak_discharge_coefficient,
        "post_leak": seals.post_leak_area * seals.post_leak_discharge_coefficient,
        "ambient": gas_state_tuple(amb.pressure, amb.temperature, gas_name(gas)),
        "straight_above": run.straight_above,
        "valve": curves.add(commands.valve, 2),
    }
    record["gas"] = in_order(values, GAS_SIDE)
    return values


def fill_packed(numbers: np.ndarray, supply: dict[str, Any], gas: dict[str, Any], areas: AxialAreas) -> None:
    """Nodes and restrictions side by side (`params.PACKED`, flat), from the values of `fill_supply` and `fill_gas_side`."""
    fourth = gas["tube"]
    if supply["kind"] in (REGULATED_SUPPLY, BOTTLE_SUPPLY):
        fourth = supply["plenum" if supply["kind"] == REGULATED_SUPPLY else "bottle"]
    volume, wall, wall_temperature, _, _ = zip(gas["tube"], gas["lift"], gas["spring"], fourth)
    swept = 0.0, areas.lift, -areas.top, 0.0
    leak = gas["piston_leak"], ORIFICE_LAW, 0.5
    out = tuple(zip(gas["exhaust"], gas["port_in"], leak, gas["vent"]))
    back = tuple(zip(gas["exhaust"], gas["port_out"], leak, gas["vent"]))
    post_leak = gas["post_leak"], ORIFICE_LAW, 0.5
    other = tuple(zip(gas["fill"], supply["regulator"], gas["quick_vent"], post_leak))
    numbers[:] = [*volume, *swept, *wall, *wall_temperature, *chain(*out, *back, *other, *other)]


def fill_stored_energy(
    record: Any, curves: Curves, supply: dict[str, Any], tube: Tube, lift: LiftChamber, side: SpringSide, amb: Ambient, gas: Gas
) -> None:
    """Stored energy of the nodes' first filling, J: isentropic expansion to ambient; 0 for those that start no higher."""
    nodes = [tube_node(tube, amb), node_of(lift, lift.dead_volume), node_of(side, side.volume)]
    if supply["kind"] == REGULATED_SUPPLY:
        nodes.append(supply["plenum"])
    if supply["kind"] in (REGULATED_SUPPLY, BOTTLE_SUPPLY):
        nodes.append(supply["bottle"])
    record["stored_gas_energy"] = sum(
        volume * expansion(pressure, temperature, amb.pressure, gas_name(gas))
        for volume, _, _, pressure, temperature in nodes
        if pressure > amb.pressure * (1.0 + 1e-9) and volume > 0.0
    )


def fill_line(record: Any, curves: Curves, side: str, part: Propellant, swept: float) -> tuple[float, float]:
    """One feed line with its manifold and passage; volume is manifold plus line. (Free period, s; highest inlet pressure, Pa)."""
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
    return period, highest


def fill_oxidizer(record: Any, curves: Curves, part: Propellant) -> tuple[float, float]:
    """`fill_line` of the oxidizer."""
    return fill_line(record, curves, "oxidizer", part, 0.0)


def fill_fuel(record: Any, curves: Curves, part: Propellant, areas: AxialAreas) -> tuple[float, float]:
    """`fill_line` of the fuel, whose pressure helps the sleeve up."""
    return fill_line(record, curves, "fuel", part, areas.assist)


def running_clearance(slots: Slots, sleeve: Sleeve) -> float:
    """`clearance_at_running` of these tables."""
    return hot_clearance(slots.clearance, sleeve.post_diameter, slots.post_contraction or 0.0, slots.sleeve_contraction or 0.0)


def clearance_at_running(case: Case) -> float:
    """Radial clearance between post and sleeve at running temperature, m (not above 0: it has closed up)."""
    slots = case.slots
    assert slots is not None, "only cases with propellants have slots"
    return running_clearance(slots, case.sleeve)


def fill_slots(record: Any, curves: Curves, slots: Slots | None, sleeve: Sleeve, liquid: Propellant | None) -> None:
    """Oxidizer slots, or their measured table, and the clearance at running temperature."""
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
    density, viscosity = (0.0, 0.0) if liquid is None else (liquid.density, liquid.viscosity)
    losses = clearance_losses(
        sleeve.post_diameter, running_clearance(slots, sleeve), slots.eccentricity, slots.clearance_discharge_coefficient,
        density, viscosity,
    )  # fmt: skip
    record["slots"] = (curves.add(rows, 6), measured, cd, first, slots.minimum_length, *losses)


def fill_seat(record: Any, curves: Curves, seat: Seat | None, sleeve: Sleeve) -> None:
    """Seat gap, pilot, annulus and jet; a dry case without a seat has no annulus, so its gap sees the chamber."""
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
        sleeve.seat_diameter,
        sleeve.nose_diameter,
        sin(seat.half_angle),
        cos(seat.half_angle),
        seat.discharge_coefficient,
        pilot,
        seat.pilot_clearance or 0.0,
        annulus,
        seat.jet_factor,
    )


_mixtures: dict[tuple[int, float, float], tuple[Chamber, tuple[np.ndarray, np.ndarray, float]]] = {}
"""Curves of chambers by their address: looking up a long table by its numbers takes longer than all the rest of `fill_chamber`."""


def mixture_curves(chamber: Chamber, cold_fuel: float, cold_oxidizer: float) -> tuple[np.ndarray, np.ndarray, float]:
    """(real curve, ideal curve, O/F of the highest c*) of a chamber, given c* of cold vapour at both ends, m/s."""
    key = id(chamber), cold_fuel, cold_oxidizer
    known = _mixtures.get(key)
    if known is None:
        of, c = chamber.o_f, chamber.c_star
        real = mixture_curve(of, c, chamber.g, chamber.efficiency, cold_fuel, cold_oxidizer)
        ideal = mixture_curve(of, c, chamber.g, 1.0, cold_fuel, cold_oxidizer)
        if len(_mixtures) > 100:
            _mixtures.clear()
        # the chamber is kept so that its address stays its own
        known = _mixtures[key] = chamber, (real, ideal, of[max(range(len(c)), key=c.__getitem__)])
    return known[1]


def fill_chamber(
    record: Any, curves: Curves, table: CaseTable, bench: Bench, ambient: Ambient, gas: Gas, chamber: Chamber | None,
    oxidizer: Propellant | None, fuel: Propellant | None,
) -> None:  # fmt: skip
    """Combustion chamber, or the back pressure the liquids are discharged into."""
    back = bench.back_pressure if table.kind == "cold-flow" else ambient.pressure
    if chamber is None or oxidizer is None or fuel is None:
        record["chamber"]["back"] = back
        record["chamber"]["allowable"] = inf
        return
    g_first, g_last = chamber.g[0], chamber.g[-1]
    cold_fuel = cold_c_star(chamber.cold_c_star_fuel, fuel, g_first)
    cold_ox = cold_c_star(chamber.cold_c_star_oxidizer, oxidizer, g_last)
    real, ideal, best = mixture_curves(chamber, cold_fuel, cold_ox)
    of = chamber.o_f
    values = {
        "hot": 1,
        "back": back,
        "volume": chamber.volume,
        "throat": chamber.throat_area,
        "burn_time": chamber.burn_time,
        "gas_constant": chamber.gas_constant,
        "ambient_mass": ambient.pressure * chamber.volume / (AIR_GAS_CONSTANT * ambient.temperature),
        "curve": curves.add(real, 9),
        "ideal_curve": curves.add(ideal, 9),
        "best": best / (1.0 + best),
        "allowable": inf if chamber.allowable_pressure is None else chamber.allowable_pressure,
        "table_low": of[0] / (1.0 + of[0]),
        "table_high": of[-1] / (1.0 + of[-1]),
        "hot_enthalpy": curves.add(hot_enthalpy_terms(*gas_name(gas)), 1),
    }
    record["chamber"] = in_order(values, CHAMBER)


def igniter_windows(igniter: Igniter | None) -> list[float]:
    """Flat pairs (instant the flame is there, instant it is switched off) of the igniter."""
    if igniter is None:
        return []
    pairs: list[float] = []
    for on in igniter.on:
        later = [t for t in igniter.off if t > on]
        off = min(later) if later else inf
        if on + igniter.rise < off:
            pairs += [on + igniter.rise, off]
    return pairs


def fill_ignition(record: Any, curves: Curves, chamber: Chamber | None, igniter: Igniter | None) -> None:
    """When and whether the chamber lights."""
    if chamber is None or igniter is None:
        record["ignition"] = (0, nan, 0.0, (0, 0), 0.0, inf, 0.0)
        return
    values = {
        "possible": 1,
        "given": nan if igniter.light_off is None else igniter.light_off,
        "delay": igniter.delay or 0.0,
        "windows": curves.add(igniter_windows(igniter), 2),
        "mixture_low": 0.0 if igniter.ignitable_mixture is None else igniter.ignitable_mixture[0],
        "mixture_high": inf if igniter.ignitable_mixture is None else igniter.ignitable_mixture[1],
        "pool_oxidizer": 0.0,
    }
    record["ignition"] = in_order(values, IGNITION)


def known_instants(
    commands: Commands, supply: Supply, oxidizer: Propellant | None, fuel: Propellant | None, igniter: Igniter | None
) -> set[float]:
    """Every instant at which something is known to happen, s; `igniter` is None where there is nothing to light."""
    known = set(commands.known)
    for part in (oxidizer, fuel):
        if part is not None and part.inlet_table is not None:
            known.update(part.inlet_table.time)
    if supply.table is not None:
        known.update(supply.table.time)
    if igniter is not None:
        known.update(t for t in igniter_windows(igniter) if t < inf)
        if igniter.light_off is not None:
            known.add(igniter.light_off)
    return known


def fill_instants(
    record: Any, curves: Curves, commands: Commands, run: Run, supply: Supply, oxidizer: Propellant | None, fuel: Propellant | None,
    igniter: Igniter | None, *lines: tuple[float, float],
) -> None:  # fmt: skip
    """Commands, every known instant, and the end of the run; `lines` begin with the period of their free oscillation, s."""
    known = known_instants(commands, supply, oxidizer, fuel, igniter)
    end = run.end if run.end is not None else max(known, default=0.0) + HORIZON
    values = {
        "energize": commands.energize,
        "deenergize": commands.deenergize,
        "waiting": run.pressurised_before_command + commands.energize,
        "edges": curves.add(commands.edges, 2),
        "effects": curves.add(commands.effects, 3),
        "targets": curves.add(sorted(t for t in known if 0.0 <= t < end), 1),
        "end": end,
        "settle": 0 if run.end is not None else 1,
        "settle_time": max([SETTLE_LEAST, *(SETTLE_PERIODS * line[0] for line in lines)]),
        "tolerance": run.tolerance,
    }
    record["instants"] = in_order(values, INSTANTS)


COMMON_PATHS = "seals.friction_factor", "seals.breakaway_ratio"
OWN_PATHS = {
    seal: tuple(f"seals.{seal}.{name}" for name in ("friction_factor", "squeeze", "pressure_coefficient"))
    for seal in ("post", "rod", "piston")
}
SEAL_PATHS = {seal: frozenset((*COMMON_PATHS, *own)) for seal, own in OWN_PATHS.items()}
"""What moves the breakaway of each seal: the factors of all, its own."""


def range_factors(seals: Seals, seal: str, ranges: Mapping[str, tuple[float, float]]) -> tuple[float, float]:
    """Least and greatest breakaway of one seal over its nominal, from every range that touches it, -."""
    low = high = 1.0
    if SEAL_PATHS[seal].isdisjoint(ranges):
        return low, high
    part: Seal = getattr(seals, seal)
    factor, squeeze, coefficient = OWN_PATHS[seal]
    for path, nominal in (
        (COMMON_PATHS[0], seals.friction_factor),
        (COMMON_PATHS[1], seals.breakaway_ratio),
        (factor, part.friction_factor),
    ):
        if nominal > 0.0 and path in ranges:
            low *= ranges[path][0] / nominal
            high *= ranges[path][1] / nominal
    ratios = [
        (ranges[path][0] / nominal, ranges[path][1] / nominal)
        for path, nominal in (
            (squeeze, part.squeeze),
            (coefficient, part.pressure_coefficient),
        )
        if nominal > 0.0 and path in ranges
    ]
    if ratios:
        low *= min(r[0] for r in ratios)
        high *= max(r[1] for r in ratios)
    return low, high


DRY_LINE = (0.0, 0.0)
"""Stands for the fuel line of a case without one."""


def fill_ranges(
    record: Any, curves: Curves, ranges: Mapping[str, tuple[float, float]], s: Supply, bench: Bench, fuel_line: tuple[float, float],
    seat: Seat | None, seals: Seals, limits: Limits,
) -> None:  # fmt: skip
    """Extremes of gas, fuel pressure (`fuel_line` ends with the highest at the inlet, Pa), friction and jet for the margins."""
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
    gas_low, gas_high = ranges.get(path, (work, work))
    if fuel_line is DRY_LINE:
        fuel_path, fuel = "bench.fuel_side_pressure", bench.fuel_side_pressure
    else:
        fuel_path, fuel = "fuel.inlet_pressure", fuel_line[1]
    fuel_low, fuel_high = ranges.get(fuel_path, (fuel, fuel))
    jet = seat.jet_factor if seat is not None else 1.0
    jet_low, jet_high = ranges.get("seat.jet_factor", (jet, jet))
    factors = [f for seal in ("post", "rod", "piston") for f in range_factors(seals, seal, ranges)]
    record["ranges"] = (
        gas_low, gas_high, work, fuel_low, fuel_high, *factors, jet_low, jet_high, limits.lift_area_factor,
    )  # fmt: skip


def completed(
    lanes: np.ndarray, tables: np.ndarray, oxidizer: Propellant | None, fuel: Propellant | None, run: Run, commands: Commands
) -> np.ndarray:
    """Sizes of all states but the speed, (n_core,), after what follows from the reference flows was filled (`completion`)."""
    record = lanes[0]
    for name, line in (("oxidizer", oxidizer), ("fuel", fuel)):
        if line is not None:  # what was completed for other reference flows is open again
            record[name]["passage_time"] = line.passage_time or 0.0
    record["ignition"]["pool_oxidizer"] = 0.0
    sizes = np.empty(record["index"]["core"])
    complete(lanes, sizes, tables, 1 if run.count_pool_before_command and commands.edges else 0)
    return sizes


def size_of_speed(sleeve: Sleeve, spring: Spring) -> float:
    """Size of the sleeve's speed below which its error is measured against this, m/s."""
    mass = sleeve.moving_mass + MOVING_SHARE * spring.mass
    spring_speed = sqrt(sleeve.stroke * (2.0 * spring.preload + spring.rate * sleeve.stroke) / mass)
    return max(FLOOR_SPEED * spring_speed, LEAST_SPEED)


def form_of(case: Case) -> tuple[Any, ...]:
    """Which tables there are: what decides which parts of the record are filled."""
    optional = case.oxidizer, case.fuel, case.slots, case.seat, case.chamber, case.igniter
    return case.case.kind, *(table is None for table in optional)


def build(case: Case) -> Plant:
    """The plant of a case."""
    plant = Sections(form_of(case))
    made = plant.made
    ambient, gas, sleeve, solenoid, supply = case.ambient, case.gas, case.sleeve, case.solenoid, case.supply
    tube, lift, side, seals = case.tube, case.lift_chamber, case.spring_side, case.seals
    oxidizer, fuel, chamber, bench, run = case.oxidizer, case.fuel, case.chamber, case.bench, case.run
    wet = oxidizer is not None and fuel is not None
    place = places(wet)
    made("head", fill_head, case.case, ambient, bench)
    made("index", fill_index, place)
    commands = made(
        "commands", commands_to_valve, solenoid.on, solenoid.off, solenoid.open_dead_time, solenoid.open_stroke_time,
        solenoid.close_dead_time, solenoid.close_stroke_time, solenoid.coil, tube, ambient, gas,
    )  # fmt: skip
    areas = made("areas", areas_of, sleeve)
    made("sleeve", fill_sleeve, sleeve, case.spring, areas)
    made("friction", fill_friction, seals, sleeve)
    source = made("supply", fill_supply, supply, ambient, gas)
    gas_side = made(
        "gas", fill_gas_side, solenoid, tube, lift, side, ambient, seals, case.quick_exhaust, run, gas, commands
    )
    made("packed", lambda record, curves, *parts: fill_packed(plant.numbers("packed"), *parts), source, gas_side, areas)
    made("energy", fill_stored_energy, source, tube, lift, side, ambient, gas)
    lines: list[tuple[float, float]] = []
    if wet:
        lines = [made("oxidizer", fill_oxidizer, oxidizer), made("fuel", fill_fuel, fuel, areas)]
    made("slots", fill_slots, case.slots, sleeve, oxidizer)
    made("seat", fill_seat, case.seat, sleeve)
    made("chamber", fill_chamber, case.case, bench, ambient, gas, chamber, oxidizer, fuel)
    made("ignition", fill_ignition, chamber, case.igniter)
    igniter = case.igniter if chamber is not None else None
    made("instants", fill_instants, commands, run, supply, oxidizer, fuel, igniter, *lines)
    fuel_line = lines[1] if wet else DRY_LINE
    made("ranges", fill_ranges, case.ranges, supply, bench, fuel_line, case.seat, seals, case.limits)
    tables = plant.row()
    known = made(
        "sizes", lambda record, curves, *_: completed(plant.lanes, tables, oxidizer, fuel, run, commands),
        place, case.case, ambient, bench, gas, sleeve, tube, lift, side, supply, oxidizer, fuel, case.slots, case.seat, chamber,
        case.igniter, run, commands,
    )  # fmt: skip
    sizes = known.copy()
    sizes[place["speed"]] = size_of_speed(sleeve, case.spring)
    return Plant(plant.finished(), tables, gas_table(*gas_name(gas)), sizes, commands.schedule)
