"""Case -> Plant: the only place where geometry and ratings become coefficients.

A `Plant` is the record of `params`, the row of curves it points into, the gas table and the scales of the states. Everything
is plain arithmetic on the case's SI numbers; nothing here is integrated.
"""

from math import cos, inf, sqrt
from typing import Any, NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.case.schema_chamber import Chamber, Igniter
from sleevelift.case.schema_gas import Supply
from sleevelift.case.schema_liquid import Bench, Propellant
from sleevelift.case.schema_machine import Seal, Seals, Sleeve, Spring
from sleevelift.case.schema_run import Ambient, CaseTable, Run
from sleevelift.constants import STANDARD_GRAVITY
from sleevelift.physics.sleeve import AxialAreas, axial_areas, coefficients
from sleevelift.physics.solenoid import Schedule
from sleevelift.physics.spring import MOVING_SHARE
from sleevelift.plant.gas_sections import (
    Commands,
    commands_to_valve,
    fill_flows,
    fill_nodes,
    fill_rod,
    fill_stored_energy,
    fill_supply,
    rod_leak_area,
)
from sleevelift.plant.inflow_section import fill_inflow, flows_in, purge_switches
from sleevelift.plant.layout import AHEAD, INFLOW, LEDGER, LIFT_LIQUID, MANIFOLD_GAS, ROD, places
from sleevelift.plant.liquid_rows import fill_liquid_rows
from sleevelift.plant.liquid_sections import (
    fill_chamber,
    fill_fuel,
    fill_ignition,
    fill_oxidizer,
    fill_seat,
    fill_slots,
    igniter_windows,
    valve_shares,
)
from sleevelift.plant.manifold_gas_sections import fill_manifold_gases, has_gas, windows_of
from sleevelift.plant.params import COLD_FLOW, DRY, HOT, INSTANTS
from sleevelift.plant.range_sections import DRY_LINE, fill_ranges
from sleevelift.plant.reservoir_state import gas_name, gas_table
from sleevelift.plant.sections import Curves, Sections, in_order
from sleevelift.plant.state_scales import complete

KINDS = {"dry": DRY, "cold-flow": COLD_FLOW, "hot": HOT}
FLOOR_SPEED, LEAST_SPEED = 0.07, 0.01
"""-, m/s. The error of a speed smaller than this share of the speed that the spring alone gives the sleeve over its stroke, or than
the latter, is measured against it (the sizes of the other states: `state_scales`)."""
LEAST_FALLING_SPEED = 1e-5
"""m/s. Friction that falls from breakaway to running over less than this falls at once: no step sees so narrow a fall (over
1e-7 m/s the shipped hot case opened half a millisecond late, with three times the friction at rest)."""
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


def fill_sleeve(record: Any, curves: Curves, s: Sleeve, spring: Spring, areas: AxialAreas, wet: bool) -> None:
    """Masses, spring, impacts and the forces along the axis."""
    mass = s.moving_mass + MOVING_SHARE * spring.mass
    weight = mass * STANDARD_GRAVITY * cos(s.axis_tilt)
    record["sleeve"] = (
        mass,
        weight,
        s.stroke,
        s.restitution_stop,
        s.restitution_seat,
        s.rest_speed,
        spring.preload,
        spring.rate,
        s.seat_diameter,
    )
    record["forces"] = coefficients(areas, spring.preload, spring.rate, weight, wet)


def seal_numbers(seal: Seal, diameter: float, factor: float) -> tuple[float, float, float, float]:
    """Diameter, squeeze, pressure coefficient and cord of one seal, all friction factors multiplied in."""
    f = factor * seal.friction_factor
    return diameter, seal.squeeze_friction * f, seal.pressure_coefficient * f, seal.cord


def fill_friction(record: Any, curves: Curves, s: Seals, d: Sleeve) -> None:
    """Seals and the law of dry friction."""
    record["friction"] = (
        [
            seal_numbers(s.post, d.post_diameter, s.friction_factor),
            seal_numbers(s.rod, d.rod_diameter, s.friction_factor),
            seal_numbers(s.piston, d.piston_diameter, s.friction_factor),
        ],
        s.breakaway_ratio,
        s.stribeck_velocity if s.stribeck_velocity >= LEAST_FALLING_SPEED else 0.0,
        s.viscous,
        1 if s.post_seal_faces == "chamber" else 0,
    )


def known_instants(
    commands: Commands, supply: Supply, oxidizer: Propellant | None, fuel: Propellant | None, chamber: Chamber | None,
    igniter: Igniter | None,
) -> set[float]:  # fmt: skip
    """Every instant at which something is known to happen, s; `igniter` is None where there is nothing to light."""
    known = set(commands.known)
    for part in (oxidizer, fuel):
        if part is not None and part.inlet_table is not None:
            known.update(part.inlet_table.time)
        if part is not None and part.valve is not None:
            known.update(t for t, _ in valve_shares(part.valve))
        if part is not None:
            known.update(t for t in windows_of(part.purge) if t < inf)
    if supply.table is not None:
        known.update(supply.table.time)
    if chamber is not None:
        known.update(purge_switches(chamber.purge))
    if igniter is not None:
        known.update(t for t in igniter_windows(igniter) if t < inf)
        if igniter.light_off is not None:
            known.add(igniter.light_off)
    return known


def fill_instants(
    record: Any, curves: Curves, commands: Commands, run: Run, supply: Supply, oxidizer: Propellant | None, fuel: Propellant | None,
    chamber: Chamber | None, igniter: Igniter | None, *lines: tuple[float, float],
) -> None:  # fmt: skip
    """Commands, every time event, and the end of the run; `lines` begin with the period of their free oscillation, s."""
    known = known_instants(commands, supply, oxidizer, fuel, chamber, igniter)
    end = run.end if run.end is not None else max(known, default=0.0) + run.horizon
    values = {
        "energize": commands.energize,
        "deenergize": commands.deenergize,
        "waiting": run.pressurised_before_command + commands.energize,
        "edges": curves.add(commands.edges, 2),
        "effects": curves.add(commands.effects, 3),
        "pulses": curves.add(commands.pulses, 5),
        "targets": curves.add(sorted(t for t in known if 0.0 <= t < end), 1),
        "end": end,
        "settle": 0 if run.end is not None else 1,
        "settle_time": max([SETTLE_LEAST, *(SETTLE_PERIODS * line[0] for line in lines)]),
        "tolerance": run.tolerance,
    }
    record["instants"] = in_order(values, INSTANTS)


def completed(
    lanes: np.ndarray, tables: np.ndarray, oxidizer: Propellant | None, fuel: Propellant | None, run: Run, commands: Commands
) -> np.ndarray:
    """Sizes of all states but the speed, (n_core,), after what follows from the reference flows was filled (`state_scales`)."""
    record = lanes[0]
    for side, line in enumerate((oxidizer, fuel)):
        if line is not None:  # what was completed for other reference flows is open again
            record["lines"][side]["dribble_time"] = line.dribble_time or 0.0
    record["ignition"]["count_pool"] = 1 if run.count_pool_before_command and commands.edges else 0
    sizes = np.empty(record["index"]["core"])
    complete(lanes, sizes, tables)
    return sizes


def size_of_speed(sleeve: Sleeve, spring: Spring) -> float:
    """Size of the sleeve's speed below which its error is measured against this, m/s."""
    mass = sleeve.moving_mass + MOVING_SHARE * spring.mass
    spring_speed = sqrt(sleeve.stroke * (2.0 * spring.preload + spring.rate * sleeve.stroke) / mass)
    return max(FLOOR_SPEED * spring_speed, LEAST_SPEED)


def optional_states(oxidizer: Propellant | None, fuel: Propellant | None, chamber: Chamber | None, seals: Seals) -> frozenset[str]:
    """States and balances that only some wet plants have: what stands ahead of run valves, gas in manifolds, fuel past the rod
    seal, gas into the chamber."""
    feeds = oxidizer, fuel
    found = [name for name, feed in zip(AHEAD, feeds) if feed is not None and feed.valve is not None]
    gases = [name for name, feed in zip(MANIFOLD_GAS, feeds) if has_gas(feed)]
    if gases:
        found += [*gases, LEDGER]
    if rod_leak_area(seals, fuel) > 0.0:
        found += [LIFT_LIQUID, ROD]
    return frozenset([*found, INFLOW] if flows_in(chamber, *feeds) else found)


def form_of(case: Case) -> tuple[Any, ...]:
    """Which tables there are: what decides which parts of the record are filled."""
    optional = case.oxidizer, case.fuel, case.slots, case.seat, case.chamber, case.igniter
    states = optional_states(case.oxidizer, case.fuel, case.chamber, case.seals)
    return case.case.kind, states, *(table is None for table in optional)


def build(case: Case) -> Plant:
    """The plant of a case."""
    plant = Sections(form_of(case))
    made = plant.made
    ambient, gas, sleeve, solenoid, supply = case.ambient, case.gas, case.sleeve, case.solenoid, case.supply
    tube, lift, side, seals = case.tube, case.lift_chamber, case.spring_side, case.seals
    oxidizer, fuel, chamber, bench, run = case.oxidizer, case.fuel, case.chamber, case.bench, case.run
    wet = oxidizer is not None and fuel is not None
    place = places(wet, optional_states(oxidizer, fuel, chamber, seals))
    made("head", fill_head, case.case, ambient, bench)
    made("index", fill_index, place)
    commands = made(
        "commands", commands_to_valve, solenoid.on, solenoid.off, solenoid.open_dead_time, solenoid.open_stroke_time,
        solenoid.close_dead_time, solenoid.close_stroke_time, solenoid.coil, tube, ambient, gas,
    )  # fmt: skip
    areas = made("areas", areas_of, sleeve)
    made("sleeve", fill_sleeve, sleeve, case.spring, areas, wet)
    made("friction", fill_friction, seals, sleeve)
    made("supply", fill_supply, supply)
    fuel_side = bench.fuel_side_pressure if not wet and seals.rod_leak_area > 0.0 else None
    nodes = made("nodes", fill_nodes, place, supply, tube, lift, side, ambient, areas, gas, case.chamber is not None, fuel_side)
    rows = made("flows", fill_flows, solenoid, tube, side, seals, case.quick_exhaust, supply, wet, run, commands)
    made("rod", fill_rod, seals, lift, fuel, gas, run, rows)
    made("energy", fill_stored_energy, nodes, ambient, gas)
    lines: list[tuple[float, float]] = []
    if wet:
        lines = [made("oxidizer", fill_oxidizer, oxidizer, place), made("fuel", fill_fuel, fuel, areas, place)]
    made("liquid rows", fill_liquid_rows, place, wet, oxidizer, fuel, areas)
    made("gases", fill_manifold_gases, place, ambient, sleeve, case.slots, case.seat, oxidizer, fuel)
    made("slots", fill_slots, case.slots, sleeve, oxidizer)
    made("seat", fill_seat, case.seat, sleeve)
    made("chamber", fill_chamber, case.case, bench, ambient, gas, chamber, oxidizer, fuel)
    made("inflow", fill_inflow, chamber, oxidizer, fuel)
    made("ignition", fill_ignition, chamber, case.igniter)
    igniter = case.igniter if chamber is not None else None
    made("instants", fill_instants, commands, run, supply, oxidizer, fuel, chamber, igniter, *lines)
    fuel_line = lines[1] if wet else DRY_LINE
    purge = None if fuel is None else fuel.purge
    made("ranges", fill_ranges, case.ranges, supply, bench, fuel_line, case.seat, seals, case.limits, purge)
    tables = plant.row()
    known = made(
        "sizes", lambda record, curves, *_: completed(plant.lanes, tables, oxidizer, fuel, run, commands),
        place, case.case, ambient, bench, gas, sleeve, tube, lift, side, supply, oxidizer, fuel, case.slots, case.seat, chamber,
        case.igniter, run, commands, seals,
    )  # fmt: skip
    sizes = known.copy()
    sizes[place["speed"]] = size_of_speed(sleeve, case.spring)
    return Plant(plant.finished(), tables, gas_table(*gas_name(gas)), sizes, commands.schedule)
