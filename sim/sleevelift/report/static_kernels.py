"""The compiled part of the static answer: margins over their ranges, and steady flow and forces along the stroke.

One call each on a one-lane plant; what they leave is laid out by the constants below. Everything is computed by the
rooms that the run uses.
"""

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.physics.sleeve import jet_force
from sleevelift.plant.margins import (
    CLOSING,
    CLOSING_UNLIT,
    FUEL_LOSS,
    FULL_LIFT,
    LEAST,
    MOST,
    NOMINAL,
    breakaway,
    holding_force,
    least_over_stroke,
    opening_fuel_pressure,
    static_margins,
)
from sleevelift.plant.state import M_STEADY_CHAMBER
from sleevelift.plant.static import references, steady_side, steady_state
from sleevelift.plant.wet_side import fuel_injector, wet_side

R_LIFT, R_SLOT, R_GAP, R_OXIDIZER, R_FUEL, R_CHAMBER, R_GAP_P, R_FUEL_P, R_JET, R_NET, R_BREAKAWAY = range(11)
N_ROW = 11
"""A row of the throttle table: lift m; Cd A of slots and seat gap m2; flows kg/s; chamber, gap and fuel manifold
pressure Pa absolute; closing force of the jet N; net force without friction and nominal breakaway N, actuation gas."""

N_LEAST = 4
"""Margins that are least somewhere along the stroke, in the order of `margins`."""


@bare_kernel
def margin_numbers(lanes, tables, event_memory, margins, least, pressures):
    """Fill `margins` (N_MEASURE,) and, for each margin over the stroke, least (N_LEAST, 2): value and lift m.

    pressures (3,): fuel pressure to open above ambient, Pa: least friction and most gas, nominal, the opposite.
    event_memory (N_MEMO,) takes the reference flows.
    """
    plant = lanes[0]
    if plant.oxidizer.present != 0:
        references(event_memory, plant, tables)
    static_margins(margins, event_memory, plant, tables)
    for which in range(N_LEAST):
        if which == CLOSING and plant.chamber.hot == 0:
            least[which, 0] = np.nan
            least[which, 1] = np.nan
        else:
            value, lift = least_over_stroke(which, event_memory, plant, tables)
            least[which, 0] = value
            least[which, 1] = lift
    r = plant.ranges
    pressures[0] = opening_fuel_pressure(LEAST, r.gas_high, plant)
    pressures[1] = opening_fuel_pressure(NOMINAL, r.gas_work, plant)
    pressures[2] = opening_fuel_pressure(MOST, r.gas_low, plant)


@bare_kernel
def throttle_rows(lanes, tables, lifts, lit, rows):
    """Fill rows (n, N_ROW) with steady flow and forces at each of `lifts`, m; `lit` 1: with the chamber burning."""
    plant = lanes[0]
    amb = plant.ambient_pressure
    p_l = plant.ranges.gas_work
    for i in range(len(lifts)):
        x = lifts[i]
        p_c = plant.chamber.back
        p_o = p_c
        p_f = plant.fuel_side_pressure
        if plant.oxidizer.present != 0:
            p_c = steady_state(x, lit != 0, plant.oxidizer.inlet_high, plant.fuel.inlet_high, plant, tables)[2]
            p_o = steady_side(True, x, plant.oxidizer.inlet_high, p_c, plant, tables)[1]
            p_f = steady_side(False, x, plant.fuel.inlet_high, p_c, plant, tables)[1]
        w_o, w_f, p_i, jet, net, run, slot, gap = wet_side(x, p_l, amb, p_o, p_f, p_c, plant, tables)
        row = rows[i]
        row[R_LIFT] = x
        row[R_SLOT] = slot
        row[R_GAP] = gap
        row[R_OXIDIZER] = w_o
        row[R_FUEL] = w_f
        row[R_CHAMBER] = p_c
        row[R_GAP_P] = p_i
        row[R_FUEL_P] = p_f
        row[R_JET] = jet
        row[R_NET] = net
        row[R_BREAKAWAY] = plant.friction.ratio * run


@bare_kernel
def closing_forces(lanes, tables, event_memory, lift, lit, out):
    """Fill out (3,), N, with the worst forces of closing at a lift, gas lost: spring and weight, pressure, friction."""
    plant = lanes[0]
    r = plant.ranges
    s = plant.sleeve
    amb = plant.ambient_pressure
    p_c = event_memory[M_STEADY_CHAMBER] if lit != 0 else amb
    p_f = r.fuel_high
    w, p_i, _ = fuel_injector(lift, p_f, p_c, plant.seat, plant.fuel, tables)
    jet = 0.0
    if plant.fuel.present != 0:
        jet = jet_force(max(0.0, -r.jet_low), w, p_f, p_i, plant.fuel.rho, plant.seat.cos_angle)
    out[0] = holding_force(lift, plant)
    out[1] = (p_f - amb) * s.fuel_opening_area + jet + (p_i - amb) * s.nose_area + (p_c - amb) * s.face_area
    out[2] = breakaway(MOST, lift, amb, p_f, p_c, plant)


@bare_kernel
def opening_breakaway(lanes):
    """Worst breakaway of the opening from the seat, N: least gas and fuel pressure, most friction."""
    plant = lanes[0]
    return breakaway(MOST, 0.0, plant.ranges.gas_low, plant.ranges.fuel_low, plant.chamber.back, plant)


ORDER = (FULL_LIFT, FUEL_LOSS, CLOSING, CLOSING_UNLIT)
"""What the rows of `least` are."""
