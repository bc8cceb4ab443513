"""What enters the chamber in the stop, what burns of it and what is left, from a stored trajectory.

    off command, or a run valve shuts ----- last fuel ----- last oxidizer -----            the first of the two begins the stop
    |------------ fuel_in_stop -----------|                                 unburned_*_at_end: at the end of the pulse
    |------------ oxidizer_in_stop ---------------------------|
                                          | oxidizer_alone    |             also between two spells of fuel

Amounts are integrals over the dense output: Simpson's rule in each step, whose middle is evaluated; a step in which the oxidizer
comes to be alone, or ceases to be, or may do so between the three, in `PARTS` with the edges on straight lines. Flow back into an
injector counts as none. What leaks past the closed sleeve after a propellant's last instant is not in it: that is a rate,
`closed_leak_*`.
"""

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.plant.crossings import interpolated
from sleevelift.plant.modes import scratch_views
from sleevelift.plant.names import PLACE
from sleevelift.plant.rhs import rhs
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

P_LAST_OXIDIZER = PLACE["last_oxidizer"]
P_LAST_FUEL = PLACE["last_fuel"]
P_OXIDIZER_IN_STOP = PLACE["oxidizer_in_stop"]
P_FUEL_IN_STOP = PLACE["fuel_in_stop"]
P_OXIDIZER_ALONE_IN_STOP = PLACE["oxidizer_alone_in_stop"]
P_BURNED_IN_STOP = PLACE["burned_in_stop"]
P_UNBURNED_OXIDIZER_AT_END = PLACE["unburned_oxidizer_at_end"]
P_UNBURNED_FUEL_AT_END = PLACE["unburned_fuel_at_end"]


@bare_kernel
def entering(y, outputs, lit, event_memory, plant):
    """(oxidizer, fuel into the chamber kg/s, how far oxidizer is there and fuel is not kg/s, burning kg/s) of one instant."""
    burning = 0.0
    if plant.chamber.hot != 0 and lit:
        unburned = max(y[plant.index.unburned_oxidizer], 0.0) + max(y[plant.index.unburned_fuel], 0.0)
        burning = unburned / plant.chamber.combustion_time_constant
    alone = min(outputs[S_OXIDIZER] - event_memory[M_LEVEL_O], event_memory[M_LEVEL_F] - outputs[S_FUEL])
    return max(outputs[S_OXIDIZER], 0.0), max(outputs[S_FUEL], 0.0), alone, burning


@bare_kernel
def entering_in_step(k, s, trajectory, event_memory, par):
    """`entering` at the fraction s of the step that ends at point k; nothing flows where it cannot be evaluated."""
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    lit = discrete_state[k - 1, D_LIT] != 0
    if s <= 0.0:
        return entering(ys[k - 1], stored_outputs[k - 1], lit, event_memory, par[0])
    if s >= 1.0:
        return entering(ys[k], stored_outputs[k], lit, event_memory, par[0])
    interpolated(s, ys[k - 1], ys[k], dense[k], y.shape[0], y)
    dy, outputs = scratch_views(y, par[3])
    if rhs(t[k - 1] + s * (t[k] - t[k - 1]), y, discrete_state[k - 1], event_memory, par, dy, outputs) != 0:
        return 0.0, 0.0, -1.0, 0.0
    return entering(y, outputs, lit, event_memory, par[0])


@bare_kernel
def counted(width, flow_lo, flow_hi, c_lo, c_hi):
    """Amount of a flow over a width, trapezoid, of the part where c, a straight line, is not negative."""
    if c_lo < 0.0 and c_hi < 0.0:
        return 0.0
    if c_lo >= 0.0 and c_hi >= 0.0:
        return 0.5 * width * (flow_lo + flow_hi)
    share = c_lo / (c_lo - c_hi)
    edge = flow_lo + share * (flow_hi - flow_lo)
    if c_lo >= 0.0:
        return 0.5 * width * share * (flow_lo + edge)
    return 0.5 * width * (1.0 - share) * (edge + flow_hi)


PARTS = 16
"""Parts of a step in which the oxidizer comes to be alone: the fuel of a ringing line passes its level twice in a step."""


@bare_kernel
def may_change(a, m, b):
    """Whether a quantity of these values at start, middle and end of a step changes its sign there, or their parabola does."""
    if (a >= 0.0) != (m >= 0.0) or (m >= 0.0) != (b >= 0.0):
        return True
    bend = a - 2.0 * m + b
    slope = 0.5 * (b - a)
    if abs(slope) >= abs(bend):
        return False
    vertex = m - 0.5 * slope * slope / bend
    return (vertex >= 0.0) != (m >= 0.0)


@bare_kernel
def alone_in(k, lo, hi, trajectory, event_memory, par):
    """Oxidizer, kg, that enters alone between two fractions of the step that ends at point k."""
    t = trajectory[0]
    width = (hi - lo) * (t[k] - t[k - 1]) / PARTS
    flow, _, c, _ = entering_in_step(k, lo, trajectory, event_memory, par)
    found = 0.0
    for i in range(1, PARTS + 1):
        next_flow, _, next_c, _ = entering_in_step(k, lo + (hi - lo) * i / PARTS, trajectory, event_memory, par)
        found += counted(width, flow, next_flow, c, next_c)
        flow, c = next_flow, next_c
    return found


@bare_kernel
def amounts(start, last_o, last_f, trajectory, event_memory, par):
    """(oxidizer up to last_o, fuel up to last_f, oxidizer alone up to last_o, burned up to the end), kg, from `start` on, s."""
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    oxidizer = fuel = alone = burned = 0.0
    for k in range(1, count):
        whole = t[k] - t[k - 1]
        if whole <= 0.0 or t[k] <= start:
            continue
        lo = max(start - t[k - 1], 0.0) / whole
        while lo < 1.0:
            # up to the end of the step, or to the first of the instants in it
            hi = 1.0
            for until in (last_o, last_f):
                end = (until - t[k - 1]) / whole
                if lo < end < hi:
                    hi = end
            a_o, a_f, a_c, a_b = entering_in_step(k, lo, trajectory, event_memory, par)
            m_o, m_f, m_c, m_b = entering_in_step(k, 0.5 * (lo + hi), trajectory, event_memory, par)
            b_o, b_f, b_c, b_b = entering_in_step(k, hi, trajectory, event_memory, par)
            width = (hi - lo) * whole
            middle = t[k - 1] + 0.5 * (lo + hi) * whole
            simpson = width * (a_o + 4.0 * m_o + b_o) / 6.0
            if middle < last_o:
                oxidizer += simpson
                if may_change(a_c, m_c, b_c):
                    alone += alone_in(k, lo, hi, trajectory, event_memory, par)
                elif m_c >= 0.0:
                    alone += simpson
            if middle < last_f:
                fuel += width * (a_f + 4.0 * m_f + b_f) / 6.0
            burned += width * (a_b + 4.0 * m_b + b_b) / 6.0
            lo = hi
    return oxidizer, fuel, alone, burned


@bare_kernel
def last_or_none(last, signal, level, start, trajectory):
    """Instant up to which a flow counts in the stop: its last; `start` where it never is above its level; nan where it goes on."""
    if happened(last):
        return last
    count = trajectory[5]
    return np.nan if trajectory[3][count - 1, signal] >= level else start


@bare_kernel
def stop_measures(out, stop, trajectory, event_memory, par):
    """Amounts of the stop, which begins at `stop`, s (inf: never); nothing in a dry case."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    plant = par[0]
    if plant.liquids.lines == 0:
        return
    hot = plant.chamber.hot != 0
    if hot:
        out[P_UNBURNED_OXIDIZER_AT_END] = max(ys[count - 1, plant.index.unburned_oxidizer], 0.0)
        out[P_UNBURNED_FUEL_AT_END] = max(ys[count - 1, plant.index.unburned_fuel], 0.0)
    if not stop < t[count - 1]:
        return
    last_o = last_or_none(out[P_LAST_OXIDIZER], S_OXIDIZER, event_memory[M_LEVEL_O], stop, trajectory)
    last_f = last_or_none(out[P_LAST_FUEL], S_FUEL, event_memory[M_LEVEL_F], stop, trajectory)
    oxidizer, fuel, alone, burned = amounts(stop, last_o, last_f, trajectory, event_memory, par)
    if happened(last_o):
        out[P_OXIDIZER_IN_STOP] = oxidizer
        out[P_OXIDIZER_ALONE_IN_STOP] = alone
    if happened(last_f):
        out[P_FUEL_IN_STOP] = fuel
    if hot:
        out[P_BURNED_IN_STOP] = burned
