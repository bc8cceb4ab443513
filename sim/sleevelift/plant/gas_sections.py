"""The gas side of a plant as `sections` makes it: commands, valve, supply, tube, lift chamber, spring side, vents and leaks."""

from functools import lru_cache
from math import inf, nan, pi
from typing import Any, NamedTuple

from sleevelift.case.schema_gas import Coil as CoilTable
from sleevelift.case.schema_gas import Gas, LiftChamber, QuickExhaust, Solenoid, SpringSide, Supply, Tube
from sleevelift.case.schema_liquid import Propellant
from sleevelift.case.schema_machine import Seals
from sleevelift.case.schema_run import Ambient, Run
from sleevelift.physics.sleeve import FORCES, AxialAreas, coefficient
from sleevelift.physics.solenoid import Coil, Schedule, ValveTimes, edges_in_order, opening_schedule
from sleevelift.plant.gas_rows import GAS_NODES, FlowNumbers, GasTables, flow_numbers, node_slots, slots
from sleevelift.plant.params import (
    ALWAYS,
    AMBIENT,
    BOTTLE_SUPPLY,
    BY_POST,
    BY_QUICK,
    BY_REGULATOR,
    BY_SHUTTLE_HOME,
    CHAMBER,
    CONSTANT_SUPPLY,
    FUEL_SIDE,
    LIFT,
    MOST_FLOWS,
    N_SLOT,
    REGULATED_SUPPLY,
    SOURCE,
    SUPPLY,
    TABLE_SUPPLY,
    TUBE,
)
from sleevelift.plant.reservoir_state import expansion, gas_name, gas_state_tuple, wave_delay
from sleevelift.plant.sections import Curves
from sleevelift.plant.state import B_GAS_MASS, S_EXHAUST, S_PORT, S_QUICK

SUPPLIES = {
    "constant": CONSTANT_SUPPLY,
    "table": TABLE_SUPPLY,
    "bottle": BOTTLE_SUPPLY,
    "regulator": REGULATED_SUPPLY,
}


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
    pulses: tuple[float, ...]
    """fives (on, its off, next on, fill port opens, exhaust port opens)"""
    valve: tuple[float, ...]
    """pairs (instant, opening fraction)"""


def commands_to_valve(
    record: Any, curves: Curves, on: tuple[float, ...], off: tuple[float, ...], open_dead: float | None, open_stroke: float,
    close_dead: float | None, close_stroke: float, c: CoilTable | None, tube: Tube, ambient: Ambient, gas: Gas,
) -> Commands:  # fmt: skip
    """Opening fraction of the solenoid valve over time, and the commands behind it."""
    coil = None
    if c is not None:
        coil = Coil(c.inductance, c.resistance, c.supply_voltage, c.pull_in_current, c.drop_out_current, c.clamp_voltage)
    delay = wave_delay(tube, ambient, gas_name(gas))
    times = ValveTimes(open_dead or 0.0, open_stroke, close_dead or 0.0, close_stroke, delay)
    return commands_of(on, off, times, coil)


def pulses_of(edges: list[tuple[float, bool]], schedule: Schedule) -> tuple[float, ...]:
    """Fives of each pulse: an on command, its off, the next on (inf: none), and the instants at which these two take effect.

    nan: does not happen. Without any on command there is one pulse that never begins.
    """
    if not edges:
        return nan, nan, inf, nan, nan
    takes = {(t, opens): effect for effect, opens, t in schedule.effects}
    out: list[float] = []
    for i in range(0, len(edges), 2):
        on = edges[i][0]
        off = edges[i + 1][0] if i + 1 < len(edges) else nan
        following = edges[i + 2][0] if i + 2 < len(edges) else inf
        out += [on, off, following, takes.get((on, True), nan), takes.get((off, False), nan)]
    return tuple(out)


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
        pulses_of(edges_in_order(on, off), schedule),
        tuple(v for pair in zip(schedule.times, schedule.openings) for v in pair),
    )


def fill_supply(record: Any, curves: Curves, s: Supply) -> None:
    """Source of the actuation gas."""
    table = (0, 0)
    if s.kind == "table":
        assert s.table is not None, "the reader asks for the table of a tabled supply"
        table = curves.add([v for pair in zip(s.table.time, s.table.pressure) for v in pair], 2)
    regulated = s.kind == "regulator"
    set_pressure, droop_band = (s.pressure or 0.0, s.droop_band) if regulated else (0.0, 0.0)
    record["supply"] = SUPPLIES[s.kind], table, s.temperature, set_pressure, droop_band


NO_FLOW = FlowNumbers(0, 0, 0, 0, 0, 0, (0.0, 0.0), (0.0, 0.0), (0.0, 0.0))
"""A row that is not used."""
NodeNumbers = tuple[float, float, float, float, float]
"""Volume m3 at zero lift, h A of the wall W/K, wall temperature K, pressure Pa and temperature K at the start."""


def node_of(part: LiftChamber | SpringSide, volume: float) -> NodeNumbers:
    """The numbers of a chamber with gas at rest."""
    return volume, part.wall_coefficient * part.wall_area, part.wall_temperature, part.pressure, part.temperature


def node_numbers(s: Supply, tube: Tube, lift: LiftChamber, side: SpringSide, amb: Ambient) -> dict[str, NodeNumbers]:
    """Numbers of each gas node that a case has, by its name in `gas_rows.GAS_NODES`."""
    found = {
        "tube": (
            pi / 4.0 * tube.bore**2 * tube.length, tube.wall_coefficient * tube.wall_area,
            amb.temperature, amb.pressure, amb.temperature,
        ),
        "lift": node_of(lift, lift.dead_volume),
        "spring": node_of(side, side.volume),
    }  # fmt: skip
    if s.kind == "regulator":
        assert s.pressure is not None and s.plenum_volume is not None, "the reader asks for the regulator"
        wall = s.wall_coefficient * s.plenum_wall_area
        start = min(s.pressure, s.bottle_pressure or s.pressure)
        found["plenum"] = s.plenum_volume, wall, amb.temperature, start, s.temperature
    if s.kind in ("regulator", "bottle"):
        assert s.bottle_volume is not None and s.bottle_pressure is not None, "the reader asks for the bottle"
        wall = s.wall_coefficient * s.bottle_wall_area
        found["bottle"] = s.bottle_volume, wall, amb.temperature, s.bottle_pressure, s.temperature
    return found


def fill_nodes(
    record: Any, curves: Curves, place: dict[str, int], s: Supply, tube: Tube, lift: LiftChamber, side: SpringSide, amb: Ambient,
    areas: AxialAreas, gas: Gas, hot: bool, fuel_side: float | None,
) -> dict[str, NodeNumbers]:  # fmt: skip
    """Every gas node and boundary in its slot, and the states of gas that stay as they are; fuel_side: Pa, of gas there."""
    kind = SUPPLIES[s.kind]
    slot_of, found = node_slots(kind), node_numbers(s, tube, lift, side, amb)
    swept_by = {force.name: coefficient(force, areas) for force in FORCES if force.area}
    outside = place["core"] + B_GAS_MASS
    rows: list[list[float]] = [[0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, outside, 0, 0, 0, 0, 0] for _ in range(N_SLOT)]
    for code, node in enumerate(GAS_NODES, 1):
        if node.name in slot_of:
            volume, *rest = found[node.name]
            i = place[node.name]
            swept = swept_by[node.area] if node.area else 0.0
            rows[slot_of[node.name]] = [volume, swept, *rest, 0.0, 0.0, i, i, i + 1, 1, code, node.pressure]
    if len(slot_of) == SOURCE:
        rows[SOURCE] = rows[TUBE]
    if hot:
        rows[CHAMBER][9:12] = [place["gas_mass"], place["chamber"], 1]
    record["nodes"] = (*zip(*rows), len(slot_of), slots(kind)["inlet"])
    fixed = {AMBIENT: (amb.pressure, amb.temperature)}
    if s.kind == "constant":
        assert s.pressure is not None, "the reader asks for the pressure of a constant supply"
        fixed[SUPPLY] = s.pressure, s.temperature
    if fuel_side is not None:
        fixed[FUEL_SIDE] = fuel_side, amb.temperature
    states: list[tuple[float, ...]] = [(0.0,) * 8] * N_SLOT
    for slot, (p, T) in fixed.items():
        p, T, n, h, flux, r_star = gas_state_tuple(p, T, gas_name(gas))
        states[slot] = p, T, 0.0, n, h, flux, r_star, 0.0
    record["now"] = tuple(zip(*states))
    record["gradient"] = 0.0
    return found


def fill_flows(
    record: Any, curves: Curves, solenoid: Solenoid, tube: Tube, side: SpringSide, seals: Seals, quick: QuickExhaust | None,
    s: Supply, wet: bool, run: Run, commands: Commands,
) -> tuple[int, ...]:  # fmt: skip
    """Every gas flow that there is, and what opens them: rows of port, exhaust and quick exhaust (-1: none)."""
    kind = SUPPLIES[s.kind]
    flows = flow_numbers(GasTables(solenoid, tube, side, seals, quick, s, wet), kind)
    record["flows"] = [*flows, *[NO_FLOW] * (MOST_FLOWS - len(flows))]
    openings = record["openings"]
    openings["share"] = 0.0
    openings["share"][[ALWAYS, BY_SHUTTLE_HOME]] = 1.0
    openings["by_p"] = openings["by_lift"] = openings["by_t"] = 0.0
    openings["above"] = openings["below"] = AMBIENT
    openings["below"][BY_REGULATOR] = SOURCE
    openings["above"][[BY_QUICK, BY_SHUTTLE_HOME]], openings["below"][[BY_QUICK, BY_SHUTTLE_HOME]] = LIFT, TUBE
    record["gas"] = (
        0 if quick is None else 1,
        1.0 if quick is None else quick.cracking_pressure,
        1 if any(flow.opening == BY_POST for flow in flows) else 0,
        run.laminar_above,
        curves.add(commands.valve, 2),
        len(flows),
    )
    found = {flow.signal: k for k, flow in enumerate(flows)}
    return tuple(found.get(signal, -1) for signal in (S_PORT, S_EXHAUST, S_QUICK))


def rod_leak_area(seals: Seals, fuel: Propellant | None) -> float:
    """Effective area that fuel passes the rod seal by, m2; 0 where there is none: a dry case has gas there."""
    return seals.rod_leak_area * seals.rod_leak_discharge_coefficient if fuel is not None else 0.0


def fill_rod(
    record: Any, curves: Curves, seals: Seals, lift: LiftChamber, fuel: Propellant | None, gas: Gas, run: Run, rows: tuple[int, ...]
) -> None:
    """Fuel past the rod seal into the lift chamber; a dry case has gas there, a flow as any other."""
    area = rod_leak_area(seals, fuel)
    if fuel is None or not area > 0.0:
        record["rod"]["present"] = 0
        return
    stood = run.pressurised_before_command
    high = 1 if lift.port == "high" else 0
    record["rod"] = (1, high, *rows, area, stood, fuel.temperature, gas.gas_constant, *[0.0] * 8)


def fill_stored_energy(record: Any, curves: Curves, nodes: dict[str, NodeNumbers], amb: Ambient, gas: Gas) -> None:
    """Stored energy of the nodes' first filling, J: isentropic expansion to ambient; 0 for those that start no higher."""
    record["stored_gas_energy"] = sum(
        volume * expansion(pressure, temperature, amb.pressure, gas_name(gas))
        for volume, _, _, pressure, temperature in nodes.values()
        if pressure > amb.pressure * (1.0 + 1e-9) and volume > 0.0
    )
