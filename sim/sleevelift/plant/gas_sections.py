"""The gas side of a plant as `sections` makes it: commands, valve, supply, tube, lift chamber, spring side, vents and leaks."""

from functools import lru_cache
from math import inf, nan, pi
from typing import Any, NamedTuple

import numpy as np

from sleevelift.case.schema_gas import (
    Ambient,
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
from sleevelift.case.schema_gas import Coil as CoilTable
from sleevelift.case.schema_machine import Seals
from sleevelift.physics.restriction import (
    ORIFICE_CRITICAL_RATIO,
    ORIFICE_LAW,
    area_of_conductance,
    conductance_of_area,
    series_component,
    tube_component,
)
from sleevelift.physics.sleeve import AxialAreas
from sleevelift.physics.solenoid import Coil, Schedule, ValveTimes, edges_in_order, opening_schedule
from sleevelift.plant.params import (
    BOTTLE_SUPPLY,
    CONSTANT_SUPPLY,
    GAS_SIDE,
    REGULATED_SUPPLY,
    SUPPLY,
    TABLE_SUPPLY,
)
from sleevelift.plant.reservoir_state import expansion, gas_name, gas_state_tuple, wave_delay
from sleevelift.plant.sections import Curves, in_order

SUPPLIES = {
    "constant": CONSTANT_SUPPLY,
    "table": TABLE_SUPPLY,
    "bottle": BOTTLE_SUPPLY,
    "regulator": REGULATED_SUPPLY,
}
BLOCKED = (0.0, ORIFICE_LAW, 0.5)
"""The `RESTRICTION` of a path that is not there."""


def restriction_of(orifice: float | None, cd: float | None, component: Component | None) -> tuple[float, float, float]:
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
    port_c, port_b = as_component(restriction_of(tube.port_orifice, tube.port_discharge_coefficient, tube.port_component))
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
        "laminar_above": run.laminar_above,
        "valve": curves.add(commands.valve, 2),
    }
    record["gas"] = in_order(values, GAS_SIDE)
    return values


def fill_packed(numbers: np.ndarray, supply: dict[str, Any], gas: dict[str, Any], areas: AxialAreas) -> None:
    """Nodes and restrictions side by side (`params.PACKED`, flat), from the values of `fill_supply` and `fill_gas_side`."""
    fourth = gas["tube"]
    if supply["kind"] in (REGULATED_SUPPLY, BOTTLE_SUPPLY):
        fourth = supply["plenum" if supply["kind"] == REGULATED_SUPPLY else "bottle"]
    (v1, w1, t1, *_), (v2, w2, t2, *_), (v3, w3, t3, *_), (v4, w4, t4, *_) = gas["tube"], gas["lift"], gas["spring"], fourth
    (a1, b1, m1), (a2, b2, m2), (a4, b4, m4) = gas["exhaust"], gas["port_in"], gas["vent"]
    ab, bb, mb = gas["port_out"]
    leak, post_leak = gas["piston_leak"], gas["post_leak"]
    (a5, b5, m5), (a6, b6, m6), (a7, b7, m7) = gas["fill"], supply["regulator"], gas["quick_vent"]
    other = (a5, a6, a7, post_leak, b5, b6, b7, ORIFICE_LAW, m5, m6, m7, 0.5)
    numbers[:] = (
        v1, v2, v3, v4, 0.0, areas.lift, -areas.top, 0.0, w1, w2, w3, w4, t1, t2, t3, t4,
        a1, a2, leak, a4, b1, b2, ORIFICE_LAW, b4, m1, m2, 0.5, m4,
        a1, ab, leak, a4, b1, bb, ORIFICE_LAW, b4, m1, mb, 0.5, m4,
        *other, *other,
    )  # fmt: skip


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
