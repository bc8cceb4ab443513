"""The compiled part of the static answer: margins over their ranges, and steady flow and forces along the stroke.

One call each on a one-lane plant; what they leave is laid out by the constants below. Everything is computed by the
rooms that the run uses.
"""

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.physics.friction import breakaway_force
from sleevelift.physics.gas import OUTSIDE, gas_at
from sleevelift.physics.gas_node import node_state
from sleevelift.physics.restriction import flow_fraction
from sleevelift.physics.sleeve import N_FORCE, above, each_force
from sleevelift.plant.liquid_side import set_flows
from sleevelift.plant.margins import (
    CLOSING,
    CLOSING_UNLIT,
    FUEL_LOSS,
    FULL_LIFT,
    LEAST,
    MOST,
    NOMINAL,
    breakaway,
    by_fuel,
    closing_forces,
    holding,
    least_margin,
    least_over_stroke,
    lifting,
    margin_at,
    opening_fuel_pressure,
    static_margins,
    usual_gas,
    with_gas,
)
from sleevelift.plant.params import INTO_CHAMBER
from sleevelift.plant.state import FUEL, M_STEADY_CHAMBER, OXIDIZER
from sleevelift.plant.static import references, steady_side, steady_state
from sleevelift.plant.wet_side import wet_side

R_LIFT, R_SLOT, R_GAP, R_OXIDIZER, R_FUEL, R_CHAMBER, R_FUEL_P, R_NET, R_BREAKAWAY, R_OPENS, R_HOLDS, R_FORCES = range(12)
N_ROW = R_FORCES + N_FORCE
"""A row of the throttle table: lift m; Cd A of slots and seat gap m2; flows kg/s; chamber and fuel manifold Pa absolute; N: net
force without friction and nominal breakaway, what opens and what holds with pressures above ambient, then each of
`sleeve.FORCES`."""

N_LEAST = 4
"""Margins that are least somewhere along the stroke, in the order of `margins`."""


@bare_kernel
def margin_numbers(lanes, tables, event_memory, margins, least, pressures):
    """Fill `margins` (N_MEASURE,) and, for each margin over the stroke, least (N_LEAST, 2): value and lift m.

    pressures (3,): fuel pressure to open above ambient, Pa: least friction and most gas, nominal, the opposite.
    event_memory (N_MEMO,) takes the reference flows.
    """
    plant = lanes[0]
    if plant.liquids.lines != 0:
        references(event_memory, plant, tables)
    static_margins(margins, event_memory, plant, tables)
    for which in range(N_LEAST):
        if which == CLOSING and plant.chamber.hot == 0:
            least[which, 0] = np.nan
            least[which, 1] = np.nan
        else:
            value, lift = least_margin(which, event_memory, plant, tables)
            least[which, 0] = value
            least[which, 1] = lift
    r = plant.ranges
    pressures[0] = opening_fuel_pressure(LEAST, r.gas_high, plant, tables)
    pressures[1] = opening_fuel_pressure(NOMINAL, r.gas_work, plant, tables)
    pressures[2] = opening_fuel_pressure(MOST, r.gas_low, plant, tables)


@bare_kernel
def throttle_rows(lanes, tables, lifts, lit, p_l, rows):
    """Fill rows (n, N_ROW) with steady flow and forces at each of `lifts`, m; `lit` 1: with the chamber burning.

    p_l: pressure of the gas in the lift chamber, Pa; spring side at ambient.
    """
    plant = lanes[0]
    amb = plant.ambient_pressure
    for i in range(len(lifts)):
        x = lifts[i]
        p_c = plant.chamber.back
        p = plant.liquids.p
        p[OXIDIZER] = p_c
        p[FUEL] = plant.fuel_side_pressure
        if plant.liquids.lines != 0:
            p_o, p_f = plant.lines[OXIDIZER].inlet_high, plant.lines[FUEL].inlet_high
            p_c = steady_state(x, lit != 0, p_o, p_f, plant, tables)[2]
            p[OXIDIZER] = steady_side(OXIDIZER, x, p_o, p_c, plant, tables)[1]
            p[FUEL] = steady_side(FUEL, x, p_f, p_c, plant, tables)[1]
        p[INTO_CHAMBER] = p_c
        set_flows(x, plant, tables)
        causes, net, run = wet_side(x, p_l, amb, plant)
        oxidizer, fuel = plant.liquid_flows[OXIDIZER], plant.liquid_flows[FUEL]
        row = rows[i]
        row[R_LIFT] = x
        row[R_SLOT] = oxidizer.opening
        row[R_GAP] = fuel.opening
        row[R_OXIDIZER] = oxidizer.w
        row[R_FUEL] = fuel.w
        row[R_CHAMBER] = p_c
        row[R_FUEL_P] = p[FUEL]
        row[R_NET] = net
        row[R_BREAKAWAY] = breakaway_force(run, plant.friction.ratio)
        row[R_OPENS] = lifting(causes, plant)
        row[R_HOLDS] = holding(causes, plant)
        each_force(above(causes, amb), plant.forces, row[R_FORCES:])


@bare_kernel
def margin_rows(lanes, tables, event_memory, lifts, rows):
    """Fill rows (N_LEAST, n) with the margins along the stroke at each of `lifts`, m; event_memory as of `margin_numbers`."""
    plant = lanes[0]
    for which in range(N_LEAST):
        gas = usual_gas(which, plant)
        for i in range(len(lifts)):
            rows[which, i] = margin_at(which, lifts[i], gas, plant.ambient_pressure, event_memory, plant, tables)


@bare_kernel
def worst_closing(lanes, tables, event_memory, lift, lit, out):
    """Fill out (3,), N, with the worst forces of closing at a lift, gas lost: what holds, what opens, breakaway."""
    plant = lanes[0]
    p_c = event_memory[M_STEADY_CHAMBER] if lit != 0 else plant.ambient_pressure
    out[0], out[1], out[2] = closing_forces(lift, plant.ambient_pressure, p_c, plant, tables)


@bare_kernel
def margin_with_gas(lanes, tables, event_memory, which, p_l, p_s):
    """Least margin over the stroke, -, of those of `margins`, lift chamber at p_l and (for full lift) spring side at p_s, Pa.

    event_memory as `margin_numbers` leaves it. nan where nothing pushes the other way.
    """
    return least_over_stroke(which, p_l, p_s, event_memory, lanes[0], tables)[0]


@bare_kernel
def seated_left_over(lanes, tables, p_l):
    """What opens less what holds the closed sleeve, N, at least friction and highest fuel pressure, lift chamber at p_l, Pa."""
    plant = lanes[0]
    causes = with_gas(p_l, by_fuel(plant.ranges.fuel_high, plant, tables))
    friction = breakaway(LEAST, 0.0, p_l, plant.ranges.fuel_high, plant.chamber.back, plant)
    return lifting(causes, plant) - holding(causes, plant) - friction


@bare_kernel
def gas_passed(lanes, gas, flow, upstream, temperature, downstream):
    """Flow, kg/s, of row `flow` of the gas flows, wholly open, from upstream p, Pa, and T, K, to downstream p, Pa.

    0 where the gas is outside its range there.
    """
    plant = lanes[0]
    rho, u, status = gas_at(upstream, temperature, gas)
    if status == OUTSIDE or downstream >= upstream:
        return 0.0
    state = node_state(rho, rho * u, 1.0, gas)
    row = plant.flows[flow]
    return (
        row.area[0]
        * state[5]
        * flow_fraction(downstream / upstream, state[3], state[6], row.b[0], row.m[0], plant.gas.laminar_above)
    )


@bare_kernel
def opening_breakaway(lanes):
    """Worst breakaway of the opening from the seat, N: least gas and fuel pressure, most friction."""
    plant = lanes[0]
    return breakaway(MOST, 0.0, plant.ranges.gas_low, plant.ranges.fuel_low, plant.chamber.back, plant)


ORDER = (FULL_LIFT, FUEL_LOSS, CLOSING, CLOSING_UNLIT)
"""What the rows of `least` are."""
