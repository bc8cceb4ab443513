"""Static force margins over the stated ranges (MODEL.md, section 7): worst case of friction, pressure and jet factor.

Pressures here are relative to ambient where they push, absolute where friction is evaluated. "Least" is over the whole stroke,
the gap pressure following the lift, because it rises faster than the spring: the least is often part-way, and there the
sleeve hangs. A margin whose denominator is not positive is nan.
"""

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.physics.friction import running_force
from sleevelift.physics.sleeve import jet_force
from sleevelift.physics.slots import uncovered_share
from sleevelift.plant.names import PLACE
from sleevelift.plant.state import M_STEADY_CHAMBER
from sleevelift.plant.static import steady_side
from sleevelift.plant.wet_side import SEAL_PASSES_OVER, fuel_injector

COARSE, FINE, ROUNDS = 50, 10, 2
"""Lifts looked at over the stroke, then around the least one, and how often."""

LEAST, NOMINAL, MOST = 0, 1, 2
"""Which end of the friction range."""

FULL_LIFT, FUEL_LOSS, CLOSING, CLOSING_UNLIT = 0, 1, 2, 3
"""Margins that are least somewhere along the stroke."""

FIXED_POINT_LIMIT = 200
FIXED_POINT_TOLERANCE = 1e-12

P_PRELOAD = PLACE["preload"]
P_FUEL_OPENING_FORCE = PLACE["fuel_opening_force"]
P_LIFT_FORCE = PLACE["lift_force"]
P_OPENING_MARGIN = PLACE["opening_margin"]
P_FULL_LIFT_MARGIN = PLACE["full_lift_margin"]
P_NO_FUEL_MARGIN = PLACE["no_fuel_margin"]
P_FUEL_ALONE_MARGIN = PLACE["fuel_alone_margin"]
P_FUEL_LOSS_MARGIN = PLACE["fuel_loss_margin"]
P_CLOSING_MARGIN = PLACE["closing_margin"]
P_CLOSING_MARGIN_UNLIT = PLACE["closing_margin_unlit"]
P_FUEL_PRESSURE_TO_OPEN = PLACE["fuel_pressure_to_open"]
P_REQUIRED_LIFT_AREA = PLACE["required_lift_area"]


@bare_kernel
def factor_of(end, low, high):
    """Factor on a seal's nominal breakaway."""
    if end == LEAST:
        return low
    if end == MOST:
        return high
    return 1.0


@bare_kernel
def breakaway(end, lift, p_l, p_f, p_c, plant):
    """Breakaway force, N, at absolute pressures, oxidizer manifold at its highest inlet pressure, spring side at ambient."""
    f = plant.friction
    r = plant.ranges
    p_s = plant.ambient_pressure
    p_post = p_c
    if plant.oxidizer.present != 0 and f.post_faces_chamber == 0:
        p_o = plant.oxidizer.inlet_high
        p_post = p_o + uncovered_share(lift, plant.slots.first_lap, SEAL_PASSES_OVER) * (p_c - p_o)
    post = running_force(f.post.diameter, f.post.squeeze_friction, f.post.pressure_coefficient, f.post.cord, p_post - p_s)
    rod = running_force(f.rod.diameter, f.rod.squeeze_friction, f.rod.pressure_coefficient, f.rod.cord, p_f - p_l)
    piston = running_force(f.piston.diameter, f.piston.squeeze_friction, f.piston.pressure_coefficient, f.piston.cord, p_l - p_s)
    total = post * factor_of(end, r.post_low, r.post_high)
    total += rod * factor_of(end, r.rod_low, r.rod_high)
    total += piston * factor_of(end, r.piston_low, r.piston_high)
    return f.ratio * total


@bare_kernel
def holding_force(lift, plant):
    """Spring and weight, N."""
    return plant.sleeve.preload + plant.sleeve.rate * lift + plant.sleeve.weight


@bare_kernel
def margin(numerator, denominator):
    """numerator/denominator - 1; nan where the denominator is not positive."""
    return numerator / denominator - 1.0 if denominator > 0.0 else np.nan


@bare_kernel
def full_lift_at(lift, event_memory, plant, tables):
    """Opening over closing force, - 1, at a lift on the way up: least gas and fuel, most friction, unlit."""
    r = plant.ranges
    amb = plant.ambient_pressure
    p_c = plant.chamber.back
    p_f = r.fuel_low
    w = 0.0
    p_i = p_c
    if plant.fuel.present != 0:
        w, p_f = steady_side(False, lift, r.fuel_low, p_c, plant, tables)
        w, p_i, _ = fuel_injector(lift, p_f, p_c, plant.seat, plant.fuel, tables)
    else:
        _, p_i, _ = fuel_injector(lift, p_f, p_c, plant.seat, plant.fuel, tables)
    s = plant.sleeve
    jet = 0.0
    if plant.fuel.present != 0:
        jet = jet_force(r.jet_high, w, p_f, p_i, plant.fuel.rho, plant.seat.cos_angle)
    up = (r.gas_low - amb) * s.lift_area + (p_f - amb) * s.fuel_opening_area - jet + (p_i - amb) * s.nose_area
    down = holding_force(lift, plant) + breakaway(MOST, lift, r.gas_low, p_f, p_c, plant)
    return margin(up, down)


@bare_kernel
def fuel_loss_at(lift, event_memory, plant, tables):
    """Closing over opening force, - 1, with fuel lost at highest gas."""
    r = plant.ranges
    amb = plant.ambient_pressure
    up = (r.gas_high - amb) * plant.sleeve.lift_area + breakaway(MOST, lift, r.gas_high, amb, amb, plant)
    return margin(holding_force(lift, plant), up)


@bare_kernel
def closing_at(lift, p_c, event_memory, plant, tables):
    """Closing over opening force, - 1, with the gas lost, at highest fuel pressure without line loss."""
    r = plant.ranges
    amb = plant.ambient_pressure
    s = plant.sleeve
    p_f = r.fuel_high
    w, p_i, _ = fuel_injector(lift, p_f, p_c, plant.seat, plant.fuel, tables)
    jet = 0.0
    if plant.fuel.present != 0:
        jet = jet_force(max(0.0, -r.jet_low), w, p_f, p_i, plant.fuel.rho, plant.seat.cos_angle)
    up = (p_f - amb) * s.fuel_opening_area + jet + (p_i - amb) * s.nose_area + (p_c - amb) * s.face_area
    return margin(holding_force(lift, plant), up + breakaway(MOST, lift, amb, p_f, p_c, plant))


@bare_kernel
def margin_at(which, lift, event_memory, plant, tables):
    """One of the stroke-dependent margins at a lift."""
    if which == FULL_LIFT:
        return full_lift_at(lift, event_memory, plant, tables)
    if which == FUEL_LOSS:
        return fuel_loss_at(lift, event_memory, plant, tables)
    if which == CLOSING:
        return closing_at(lift, event_memory[M_STEADY_CHAMBER], event_memory, plant, tables)
    return closing_at(lift, plant.ambient_pressure, event_memory, plant, tables)


@bare_kernel
def least_over_stroke(which, event_memory, plant, tables):
    """(least margin over the stroke, lift m where it is least); nan where some denominator is not positive."""
    stroke = plant.sleeve.stroke
    best = np.inf
    at = 0.0
    low = 0.0
    width = stroke / COARSE
    count = COARSE
    for _ in range(ROUNDS + 1):
        for i in range(count + 1):
            x = low + i * width
            if x < 0.0 or x > stroke * (1.0 + 1e-12):
                continue
            m = margin_at(which, min(x, stroke), event_memory, plant, tables)
            if m != m:
                return np.nan, x
            if m < best:
                best = m
                at = min(x, stroke)
        low = at - width
        count = 2 * FINE
        width = width / FINE
    return best, at


@bare_kernel
def opening_fuel_pressure(end, p_l, plant):
    """Fuel pressure above ambient that opens the closed valve, Pa, with the breakaway at that same pressure.

    (F_0 + breakaway + weight - p_l A_l)/A_a by fixed-point iteration (the breakaway changes slowly with pressure).
    """
    amb = plant.ambient_pressure
    s = plant.sleeve
    p = 0.0
    for _ in range(FIXED_POINT_LIMIT):
        force = holding_force(0.0, plant) + breakaway(end, 0.0, p_l, p + amb, plant.chamber.back, plant)
        following = (force - (p_l - amb) * s.lift_area) / s.fuel_opening_area
        done = abs(following - p) <= FIXED_POINT_TOLERANCE * (abs(p) + amb)
        p = following
        if done:
            break
    return p


@bare_kernel
def static_margins(out, event_memory, plant, tables):
    """Fill the forces and static margins (surge and sealing load follow from the run)."""
    r = plant.ranges
    s = plant.sleeve
    amb = plant.ambient_pressure
    fuel_work = plant.fuel_side_pressure
    if plant.fuel.present != 0:
        fuel_work = plant.fuel.inlet_high
    out[P_PRELOAD] = s.preload
    out[P_FUEL_OPENING_FORCE] = (fuel_work - amb) * s.fuel_opening_area
    out[P_LIFT_FORCE] = (r.gas_work - amb) * s.lift_area
    back = plant.chamber.back
    out[P_OPENING_MARGIN] = margin(
        (r.gas_low - amb) * s.lift_area + (r.fuel_low - amb) * s.fuel_opening_area,
        holding_force(0.0, plant) + breakaway(MOST, 0.0, r.gas_low, r.fuel_low, back, plant),
    )
    out[P_FULL_LIFT_MARGIN] = least_over_stroke(FULL_LIFT, event_memory, plant, tables)[0]
    out[P_NO_FUEL_MARGIN] = margin(
        holding_force(0.0, plant) + breakaway(LEAST, 0.0, r.gas_high, amb, back, plant), (r.gas_high - amb) * s.lift_area
    )
    out[P_FUEL_ALONE_MARGIN] = margin(holding_force(0.0, plant), (r.fuel_high - amb) * s.fuel_opening_area)
    out[P_FUEL_LOSS_MARGIN] = least_over_stroke(FUEL_LOSS, event_memory, plant, tables)[0]
    if plant.chamber.hot != 0:
        out[P_CLOSING_MARGIN] = least_over_stroke(CLOSING, event_memory, plant, tables)[0]
    out[P_CLOSING_MARGIN_UNLIT] = least_over_stroke(CLOSING_UNLIT, event_memory, plant, tables)[0]
    out[P_FUEL_PRESSURE_TO_OPEN] = opening_fuel_pressure(NOMINAL, r.gas_work, plant)
    if r.gas_work > amb:
        out[P_REQUIRED_LIFT_AREA] = r.lift_area_factor * (s.preload - out[P_FUEL_OPENING_FORCE]) / (r.gas_work - amb)
