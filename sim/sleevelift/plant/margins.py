"""Static force margins over the stated ranges (MODEL.md, section 7): worst case of friction, pressure and jet factor.

Pressures here are relative to ambient where they push, absolute where friction is evaluated. "Least" is over the whole stroke,
the gap pressure following the lift, because it rises faster than the spring: the least is often part-way, and there the
sleeve hangs. A margin whose denominator is not positive is nan.
"""

from math import isnan

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.physics.friction import breakaway_force, running_forces
from sleevelift.physics.sleeve import HOLDS, LESSENS, OPENS, above, force_on_side, net_slope
from sleevelift.plant.names import PLACE
from sleevelift.plant.state import FUEL, M_STEADY_CHAMBER, OXIDIZER, S_CHAMBER_P, S_FUEL_P, S_GAP_P, S_LIFT_P, S_RUN, S_SPRING_P
from sleevelift.plant.static import steady_side
from sleevelift.plant.wet_side import fuel_injector, fuel_jet, post_seal_share, seal_drops

COARSE, FINE, ROUNDS = 50, 10, 2
"""Lifts looked at over the stroke, then around the least one, and how often."""

LEAST, NOMINAL, MOST = 0, 1, 2
"""Which end of the friction range."""

FULL_LIFT, FUEL_LOSS, CLOSING, CLOSING_UNLIT = 0, 1, 2, 3
"""Margins that are least somewhere along the stroke."""

SEAT_ROUNDS, SEAT_TOLERANCE = 50, 1e-12
"""How often the share of fuel pressure that a leaking seat lets through is looked for again, and when it counts as found, -."""
NO_SLOPE = 1e-9
"""-. A force that rises by less than this share of the fuel opening area never gets anywhere."""
LARGE = 1e300
"""-. A margin over nothing."""

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
    p_o = plant.lines[OXIDIZER].inlet_high if plant.liquids.lines != 0 else p_c
    share = post_seal_share(lift, plant)
    factors = (
        factor_of(end, r.post_low, r.post_high),
        factor_of(end, r.rod_low, r.rod_high),
        factor_of(end, r.piston_low, r.piston_high),
    )
    return breakaway_force(running_forces(seal_drops(share, p_o, p_f, p_l, plant.ambient_pressure, p_c), factors, f.seals), f.ratio)


@bare_kernel
def at_ambient(lift, plant):
    """Causes of the forces with every pressure at ambient, Pa, no jet, at a lift, m."""
    amb = plant.ambient_pressure
    return amb, amb, amb, amb, amb, 0.0, lift


@bare_kernel
def holding(causes, plant):
    """What holds the sleeve down without friction, N, pressures above ambient: spring, weight, spring side."""
    return -force_on_side(HOLDS, above(causes, plant.ambient_pressure), plant.forces)


@bare_kernel
def lifting(causes, plant):
    """What opens less what lessens that, N, pressures above ambient: all forces that do not hold."""
    rising = above(causes, plant.ambient_pressure)
    return force_on_side(OPENS, rising, plant.forces) + force_on_side(LESSENS, rising, plant.forces)


@bare_kernel
def margin(numerator, denominator):
    """numerator/denominator - 1; nan where the denominator is not positive."""
    return numerator / denominator - 1.0 if denominator > 0.0 else np.nan


@bare_kernel
def seated_gap_pressure(p_f, plant, tables):
    """Pressure behind the closed seat, Pa, at fuel pressure p_f, chamber at ambient: ambient unless the seat leaks."""
    amb = plant.ambient_pressure
    return fuel_injector(0.0, p_f, amb, plant, tables)[1]


@bare_kernel
def by_fuel(p_f, plant, tables):
    """Causes of the forces on the closed sleeve, Pa, at fuel pressure p_f alone, all else at ambient."""
    amb = plant.ambient_pressure
    return amb, p_f, seated_gap_pressure(p_f, plant, tables), amb, amb, 0.0, 0.0


@bare_kernel
def with_gas(p_l, causes):
    """The same causes with the lift chamber at p_l, Pa."""
    return p_l, causes[1], causes[2], causes[3], causes[4], causes[5], causes[6]


@bare_kernel
def usual_gas(which, plant):
    """Lift-chamber pressure, Pa, at which a margin along the stroke is taken: least, most, or none."""
    if which == FULL_LIFT:
        return plant.ranges.gas_low
    if which == FUEL_LOSS:
        return plant.ranges.gas_high
    return plant.ambient_pressure


@bare_kernel
def full_lift_at(lift, p_l, p_s, plant, tables):
    """Opening over closing force, - 1, at a lift on the way up: this gas and spring side, Pa, least fuel, most friction, unlit."""
    r = plant.ranges
    amb = plant.ambient_pressure
    p_c = plant.chamber.back
    p_f = r.fuel_low
    if plant.liquids.lines != 0:
        _, p_f = steady_side(FUEL, lift, r.fuel_low, p_c, plant, tables)
    w, p_i, _ = fuel_injector(lift, p_f, p_c, plant, tables)
    causes = p_l, p_f, p_i, amb, p_s, fuel_jet(r.jet_high, w, p_f, p_i, plant), lift
    return margin(lifting(causes, plant), holding(causes, plant) + breakaway(MOST, lift, p_l, p_f, p_c, plant))


@bare_kernel
def fuel_loss_at(lift, p_l, plant):
    """Closing over opening force, - 1, with fuel lost, gas in the lift chamber at p_l, Pa."""
    amb = plant.ambient_pressure
    causes = p_l, amb, amb, amb, amb, 0.0, lift
    return margin(holding(causes, plant), lifting(causes, plant) + breakaway(MOST, lift, p_l, amb, amb, plant))


@bare_kernel
def closing_forces(lift, p_l, p_c, plant, tables):
    """(what holds, what opens, breakaway), N, at the highest fuel pressure, no line loss; p_l Pa: ambient with the gas lost."""
    r = plant.ranges
    amb = plant.ambient_pressure
    p_f = r.fuel_high
    w, p_i, _ = fuel_injector(lift, p_f, p_c, plant, tables)
    causes = p_l, p_f, p_i, p_c, amb, fuel_jet(min(0.0, r.jet_low), w, p_f, p_i, plant), lift
    return holding(causes, plant), lifting(causes, plant), breakaway(MOST, lift, p_l, p_f, p_c, plant)


@bare_kernel
def closing_at(lift, p_l, p_c, plant, tables):
    """Closing over opening force, - 1, of `closing_forces`."""
    holds, opens, friction = closing_forces(lift, p_l, p_c, plant, tables)
    return margin(holds, opens + friction)


@bare_kernel
def margin_at(which, lift, p_l, p_s, event_memory, plant, tables):
    """One of the stroke-dependent margins at a lift, lift chamber at p_l and (for full lift) spring side at p_s, Pa."""
    if which == FULL_LIFT:
        return full_lift_at(lift, p_l, p_s, plant, tables)
    if which == FUEL_LOSS:
        return fuel_loss_at(lift, p_l, plant)
    if which == CLOSING:
        return closing_at(lift, p_l, event_memory[M_STEADY_CHAMBER], plant, tables)
    return closing_at(lift, p_l, plant.ambient_pressure, plant, tables)


@bare_kernel
def least_over_stroke(which, p_l, p_s, event_memory, plant, tables):
    """(least of `margin_at` over the stroke, lift m where it is least); nan where some denominator is not positive."""
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
            m = margin_at(which, min(x, stroke), p_l, p_s, event_memory, plant, tables)
            if isnan(m):
                return np.nan, x
            if m < best:
                best = m
                at = min(x, stroke)
        low = at - width
        count = 2 * FINE
        width = width / FINE
    return best, at


@bare_kernel
def least_margin(which, event_memory, plant, tables):
    """`least_over_stroke` at its usual gas pressure, spring side at ambient."""
    return least_over_stroke(which, usual_gas(which, plant), plant.ambient_pressure, event_memory, plant, tables)


@bare_kernel
def opening_fuel_pressure(end, p_l, plant, tables):
    """Fuel pressure above ambient that opens the closed valve, Pa, with breakaway and gap pressure at that same pressure.

    A leaking seat lets a share of p_f - p_ambient through to the nose: the same at every pressure but behind a spigot, where it is
    looked for again at each pressure found (`opening_pressure_of_share`). nan: there is none.
    """
    amb = plant.ambient_pressure
    share = 0.0
    for _ in range(SEAT_ROUNDS):
        found = opening_pressure_of_share(end, p_l, share, plant)
        if not found > 0.0:
            return found
        got = (seated_gap_pressure(found + amb, plant, tables) - amb) / found
        if abs(got - share) <= SEAT_TOLERANCE:
            return found
        share = got
    return np.nan


@bare_kernel
def opening_pressure_of_share(end, p_l, share, plant):
    """`opening_fuel_pressure` where the gap behind the seat is at this share of the fuel pressure above ambient, Pa.

    What is left over, opening - holding - breakaway, rises with p_f by A (fuel opening area and share of the nose area) plus the
    rod seal's slope B while p_f < p_l, by A - B beyond: two straight lines that meet at p_f = p_l, of which one passes zero. None
    where more fuel pressure adds more friction than force (A <= B), nor where the sleeve opens without any (a root at or below 0 Pa
    absolute).
    """
    amb = plant.ambient_pressure
    causes = p_l, p_l, amb + share * (p_l - amb), amb, amb, 0.0, 0.0
    friction = breakaway(end, 0.0, p_l, p_l, plant.chamber.back, plant)
    left_over = lifting(causes, plant) - holding(causes, plant) - friction
    area = net_slope((0.0, 1.0, share, 0.0, 0.0, 0.0, 0.0), plant.forces)
    seal_slope = (breakaway(end, 0.0, p_l, p_l + amb, plant.chamber.back, plant) - friction) / amb
    slope = area + seal_slope if left_over >= 0.0 else area - seal_slope
    if not slope > NO_SLOPE * area:
        return np.nan
    p_f = p_l - left_over / slope
    return p_f - amb if p_f > 0.0 else np.nan


@bare_kernel
def static_margins(out, event_memory, plant, tables):
    """Fill the forces and static margins (surge and sealing load follow from the run)."""
    r = plant.ranges
    amb = plant.ambient_pressure
    back = plant.chamber.back
    fuel_work = plant.fuel_side_pressure
    if plant.liquids.lines != 0:
        fuel_work = plant.lines[FUEL].inlet_high
    rest = at_ambient(0.0, plant)
    hold = holding(rest, plant)
    preload = plant.sleeve.preload
    out[P_PRELOAD] = preload
    out[P_FUEL_OPENING_FORCE] = lifting((amb, fuel_work, amb, amb, amb, 0.0, 0.0), plant)
    out[P_LIFT_FORCE] = lifting((r.gas_work, amb, amb, amb, amb, 0.0, 0.0), plant)
    out[P_OPENING_MARGIN] = margin(
        lifting(with_gas(r.gas_low, by_fuel(r.fuel_low, plant, tables)), plant),
        hold + breakaway(MOST, 0.0, r.gas_low, r.fuel_low, back, plant),
    )
    out[P_FULL_LIFT_MARGIN] = least_margin(FULL_LIFT, event_memory, plant, tables)[0]
    out[P_NO_FUEL_MARGIN] = margin(
        hold + breakaway(LEAST, 0.0, r.gas_high, amb, back, plant), lifting((r.gas_high, amb, amb, amb, amb, 0.0, 0.0), plant)
    )
    out[P_FUEL_ALONE_MARGIN] = margin(hold, lifting(by_fuel(r.fuel_high, plant, tables), plant))
    out[P_FUEL_LOSS_MARGIN] = least_margin(FUEL_LOSS, event_memory, plant, tables)[0]
    if plant.chamber.hot != 0:
        out[P_CLOSING_MARGIN] = least_margin(CLOSING, event_memory, plant, tables)[0]
    out[P_CLOSING_MARGIN_UNLIT] = least_margin(CLOSING_UNLIT, event_memory, plant, tables)[0]
    out[P_FUEL_PRESSURE_TO_OPEN] = opening_fuel_pressure(NOMINAL, r.gas_work, plant, tables)
    if r.gas_work > amb:
        out[P_REQUIRED_LIFT_AREA] = r.lift_area_factor * (preload - out[P_FUEL_OPENING_FORCE]) / (r.gas_work - amb)


@bare_kernel
def surge_margin(outputs, plant):
    """Holding over opening force, - 1, of the closed sleeve at these signals, absolute pressures.

    The least friction of any seal counts for all; LARGE where nothing opens.
    """
    causes = outputs[S_LIFT_P], outputs[S_FUEL_P], outputs[S_GAP_P], outputs[S_CHAMBER_P], outputs[S_SPRING_P], 0.0, 0.0
    r = plant.ranges
    least = min(r.post_low, min(r.rod_low, r.piston_low))
    hold = breakaway_force(outputs[S_RUN] * least, plant.friction.ratio) - force_on_side(HOLDS, causes, plant.forces)
    opens = force_on_side(OPENS, causes, plant.forces)
    return hold / opens - 1.0 if opens > 0.0 else LARGE
