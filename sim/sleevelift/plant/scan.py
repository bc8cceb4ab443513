"""From a stored trajectory to the named numbers of `names`, in compiled code, so that a batch need not keep trajectories.

A run is read pulse by pulse. A pulse begins at an on command and ends at the next, or with the run; the first also holds what
came before. Its part of the trajectory begins at the last point before its command. Each definition quotes its threshold. A
number that did not happen is nan; `sleevelift.measures` says why in words.
"""

from typing import Any, NamedTuple

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.plant.balances import balance_measures
from sleevelift.plant.crossings import LAST_RISE, crossing, point_before
from sleevelift.plant.flow_measures import CROSSINGS, extremes, first_shut, flow_measures
from sleevelift.plant.ignition_measures import ignition_measures, inflow_measures
from sleevelift.plant.margins import static_margins
from sleevelift.plant.names import PLACE
from sleevelift.plant.params import BOTTLE_SUPPLY, REGULATED_SUPPLY
from sleevelift.plant.purge_measures import purge_measures
from sleevelift.plant.quantities import LIFT
from sleevelift.plant.rod_leak import chamber_volume
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet
from sleevelift.plant.stop_measures import stop_measures

FULL_LIFT = 0.98
"""-. Within 2 % of full lift counts as full."""
QUANTITIES = np.array([LIFT], dtype=np.int64)
"""Quantities looked at here, as data."""

LEFT_GAS_RANGE, LIFTED_EARLY, NEVER_SHIFTED, NEVER_BROKE_AWAY, HUNG = range(5)
OPENED_CLOSED, NO_OFF, NOT_CLOSED, CUT_SHORT, FAILED, CRUSHED = range(5, 11)
OUTCOMES = (
    "left-gas-range",
    "lifted-without-command",
    "valve-never-shifted",
    "never-broke-away",
    "hung-part-way",
    "opened-and-closed",
    "opened-no-off-command",
    "did-not-close",
    "cut-short",
    "failed",
    "cushion-crushed",
)
"""In the order in which the first that applies is the outcome, but for the last three: `cut-short` stands for one that the horizon
leaves open, `failed` is a computation that could not go on, `cushion-crushed` stands for left-gas-range where it was the last gas
of a lift chamber full of liquid."""
CUSHION_PRESSURE, CUSHION_TEMPERATURE, CUSHION_LIQUID = 300e5, 600.0, 0.5
"""Pa, K, -. Gas that left its range so near to its upper ends, with so much of the chamber full of liquid, was a cushion."""
ON, OFF, UNTIL, OPENS, RELEASES = range(5)
"""Of a pulse, see `params.INSTANTS`."""
PULSE_OUTCOME, BEGINS_LIFTED, BEGINS_LIT, PULSE_END = range(4)
N_PULSE_STATE = 4
"""What is kept of a pulse beside its measures, integers; PULSE_END: points of the trajectory up to its end."""

P_ENERGIZE_TIME = PLACE["energize_time"]
P_VALVE_DELAY = PLACE["valve_delay"]
P_FILL_DELAY = PLACE["fill_delay"]
P_TRAVEL_TIME = PLACE["travel_time"]
P_OPENING_TIME = PLACE["opening_time"]
P_BREAKAWAY_PRESSURE = PLACE["breakaway_pressure"]
P_STOP_IMPACT_SPEED = PLACE["stop_impact_speed"]
P_DEENERGIZE_TIME = PLACE["deenergize_time"]
P_RELEASE_DELAY = PLACE["release_delay"]
P_VENT_DELAY = PLACE["vent_delay"]
P_RETURN_TIME = PLACE["return_time"]
P_CLOSING_TIME = PLACE["closing_time"]
P_SEAT_IMPACT_SPEED = PLACE["seat_impact_speed"]
P_SEAT_BOUNCES = PLACE["seat_bounces"]
P_SEALING_LOAD = PLACE["sealing_load"]
P_GAS_PER_CYCLE = PLACE["gas_per_cycle"]
P_GAS_USED = PLACE["gas_used"]
P_LIQUID_AT_COMMAND = PLACE["liquid_at_command"]
P_ROD_LEAKED = PLACE["rod_leaked"]
P_GAS_INTO_FUEL_LINE = PLACE["gas_into_fuel_line"]
P_SUPPLY_AT_COMMAND = PLACE["supply_at_command"]
P_BOTTLE_AT_COMMAND = PLACE["bottle_at_command"]
P_STORED_GAS_ENERGY = PLACE["stored_gas_energy"]
P_STEPS = PLACE["steps"]


class Whole(NamedTuple):
    """What is known of a whole run."""

    good: bool
    """whether it could go on to its end"""
    cut: bool
    """whether the horizon ended it"""
    pulses: int
    """that began before it ended"""


class Events(NamedTuple):
    """Events of a run, or of a part of it."""

    instant: Any
    which: Any
    discrete_state: Any
    """before and after"""
    number: int


@bare_kernel
def lifts_off(i, events):
    """Whether event i is the sleeve leaving its seat from rest."""
    return events.discrete_state[i, 0, D_MODE] == SEATED and events.discrete_state[i, 1, D_MODE] == SLIDING_UP


@bare_kernel
def hits_stop(i, events):
    """Whether event i is an impact on the stop."""
    return events.which[i] == G_MODE_B and events.discrete_state[i, 0, D_MODE] == SLIDING_UP


@bare_kernel
def hits_seat(i, events):
    """Whether event i is an impact on the seat."""
    return events.which[i] == G_MODE_B and events.discrete_state[i, 0, D_MODE] == SLIDING_DOWN


@bare_kernel
def moves_down(i, events):
    """Whether event i is a breakaway or reversal downward (not a rebound from the stop)."""
    before, after = events.discrete_state[i, 0, D_MODE], events.discrete_state[i, 1, D_MODE]
    return after == SLIDING_DOWN and before != SLIDING_DOWN and not hits_stop(i, events)


@bare_kernel
def pulse_of(k, plant, tables):
    """Pulse k: (on, off, next on, fill port opens, exhaust port opens), s."""
    i = plant.instants.pulses.start + 5 * k
    return tables[i], tables[i + 1], tables[i + 2], tables[i + 3], tables[i + 4]


@bare_kernel
def first_event(instant, events):
    """Index of the first event at or after an instant."""
    lo = 0
    hi = events.number
    while lo < hi:
        middle = (lo + hi) // 2
        if events.instant[middle] < instant:
            lo = middle + 1
        else:
            hi = middle
    return lo


@bare_kernel
def impact_speeds(out, energize, off, events, trajectory, i_speed):
    """Fastest impacts on stop (after the on) and seat (after the off), and the rebounds from the seat."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    stop = np.nan
    seat = np.nan
    bounces = 0.0
    for i in range(events.number):
        at = events.instant[i]
        if hits_stop(i, events) and at >= energize:
            v = abs(ys[event_point(i, events, trajectory), i_speed])
            stop = v if not stop >= v else stop
        if hits_seat(i, events) and at >= off:
            v = abs(ys[event_point(i, events, trajectory), i_speed])
            seat = v if not seat >= v else seat
            if events.discrete_state[i, 1, D_MODE] == SLIDING_UP:
                bounces += 1.0
    out[P_STOP_IMPACT_SPEED] = stop
    out[P_SEAT_IMPACT_SPEED] = seat
    if happened(off):
        out[P_SEAT_BOUNCES] = bounces


@bare_kernel
def event_point(i, events, trajectory):
    """Index of the stored point just before event i (its state still before the jump)."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    at = events.instant[i]
    mode = events.discrete_state[i, 0, D_MODE]
    lo = 0
    hi = count - 1
    while lo < hi:
        middle = (lo + hi) // 2
        if t[middle] < at:
            lo = middle + 1
        else:
            hi = middle
    k = lo
    while k + 1 < count and t[k + 1] == at and discrete_state[k, D_MODE] != mode:
        k += 1
    return k


@bare_kernel
def opening_measures(out, pulse, begins_lifted, off, events, trajectory, event_memory, par):
    """Opening times; returns (first lift after the command, whether full lift was reached and held up to `off`).

    A pulse that begins with the sleeve lifted has none, but counts as lifted at its command.
    """
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    plant = par[0]
    energize = pulse[ON]
    out[P_ENERGIZE_TIME] = energize
    if not happened(energize):
        return np.nan, False
    out[P_VALVE_DELAY] = pulse[OPENS] - energize
    lift = energize if begins_lifted else np.nan
    for i in range(events.number):
        if not begins_lifted and lifts_off(i, events) and events.instant[i] >= energize:
            lift = events.instant[i]
            out[P_FILL_DELAY] = lift - pulse[OPENS]
            out[P_BREAKAWAY_PRESSURE] = stored_outputs[event_point(i, events, trajectory), S_LIFT_P]
            break
    if not happened(lift):
        return lift, False
    level = FULL_LIFT * plant.sleeve.stroke
    end = point_before(off, trajectory)
    if ys[end, plant.index.lift_height] < level:
        return lift, False
    full = crossing(CROSSINGS[LAST_RISE], QUANTITIES[0], level, lift, off, trajectory, event_memory, par)
    if happened(full) and not begins_lifted:
        out[P_TRAVEL_TIME] = full - lift
        out[P_OPENING_TIME] = full - energize
    return lift, True


@bare_kernel
def closing_measures(out, pulse, lifted, events, trajectory):
    """Closing times after the off command; returns whether the sleeve is seated for good."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    off = pulse[OFF]
    out[P_DEENERGIZE_TIME] = off
    closed = discrete_state[count - 1, D_MODE] == SEATED
    if not happened(off):
        return closed
    release = pulse[RELEASES]
    out[P_RELEASE_DELAY] = release - off
    down = np.nan
    seated = np.nan
    for i in range(events.number):
        at = events.instant[i]
        if at < off:
            continue
        if moves_down(i, events) and not happened(down):
            down = at
        if events.discrete_state[i, 1, D_MODE] == SEATED and events.discrete_state[i, 0, D_MODE] != SEATED:
            seated = at
    if not lifted:
        return closed
    out[P_VENT_DELAY] = down - release
    if closed and happened(seated):
        out[P_RETURN_TIME] = seated - down
        out[P_CLOSING_TIME] = seated - off
    return closed


@bare_kernel
def gas_measures(out, pulse, trajectory, par):
    """Gas used in the pulse, what passed the rod seal, and the pressures it finds."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    plant, tables, gas, scratch = par
    core = plant.index.core
    kind = plant.supply.kind
    out[P_GAS_PER_CYCLE] = ys[count - 1, core + B_FILL] - ys[0, core + B_FILL]
    leaks = plant.rod.present != 0
    if leaks:
        rod = plant.index.rod
        out[P_ROD_LEAKED] = ys[count - 1, rod + B_ROD_LIQUID] - ys[0, rod + B_ROD_LIQUID]
        out[P_GAS_INTO_FUEL_LINE] = ys[count - 1, rod + B_ROD_GAS] - ys[0, rod + B_ROD_GAS]
    if happened(pulse[ON]):
        at = point_before(pulse[ON], trajectory)
        if leaks:
            out[P_LIQUID_AT_COMMAND] = ys[at, plant.index.lift_liquid]
        out[P_SUPPLY_AT_COMMAND] = stored_outputs[at, S_SUPPLY_P]
        if kind == REGULATED_SUPPLY or kind == BOTTLE_SUPPLY:
            out[P_BOTTLE_AT_COMMAND] = stored_outputs[at, S_BOTTLE_P]


@bare_kernel
def outcome_of(good, lifted_early, shifts, lift, reached, closed, off, judged_at_off, cut):
    """The first outcome of `OUTCOMES` that applies. cut: the horizon ended the run, so what it leaves open is not decided."""
    if not good:
        return LEFT_GAS_RANGE
    if lifted_early:
        return LIFTED_EARLY
    if not shifts:
        return NEVER_SHIFTED
    if not happened(lift):
        return CUT_SHORT if cut else NEVER_BROKE_AWAY
    if not reached:
        return CUT_SHORT if cut and not judged_at_off else HUNG
    if not happened(off):
        return NO_OFF
    if closed:
        return OPENED_CLOSED
    return CUT_SHORT if cut else NOT_CLOSED


@bare_kernel
def last_point_before(instant, t, count):
    """Index of the last stored point before an instant of a command, itself a point twice: the first of the two."""
    lo = 0
    hi = count
    while lo < hi:
        middle = (lo + hi) // 2
        if t[middle] < instant:
            lo = middle + 1
        else:
            hi = middle
    return min(lo, count - 1)


@bare_kernel
def part_of(k, pulse, trajectory):
    """The part of a trajectory that pulse k is read from: from the point before its command to that before the next."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    first = last_point_before(pulse[ON], t, count) if k > 0 else 0
    end = last_point_before(pulse[UNTIL], t, count) + 1
    return t[first:end], ys[first:end], discrete_state[first:end], stored_outputs[first:end], dense[first:end], end - first, inside


@bare_kernel
def pulses_reached(trajectory, plant, tables):
    """Number of pulses that began before the run ended; 1 where there is no on command."""
    t = trajectory[0]
    end = t[trajectory[5] - 1]
    reached = 1
    while reached < plant.instants.pulses.count and pulse_of(reached, plant, tables)[ON] < end:
        reached += 1
    return reached


@bare_kernel
def pool_closed_before(instant, trajectory):
    """Instant, s, since which what leaks is kept apart from the pool at a command; the command itself where it is not."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    k = last_point_before(instant, t, count)
    if discrete_state[k, D_POOLING] != 0:
        return instant
    while k > 0 and discrete_state[k, D_POOLING] == 0:
        k -= 1
    return t[k]


@bare_kernel
def cushion_crushed(trajectory, plant):
    """Whether what left its range at the end was the gas of a lift chamber full of liquid, squeezed by the falling sleeve."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    if plant.rod.present == 0:
        return False
    end = count - 1
    if ys[end, plant.index.lift_liquid] < CUSHION_LIQUID * chamber_volume(ys[end, plant.index.lift_height], plant):
        return False
    return stored_outputs[end, S_LIFT_P] > CUSHION_PRESSURE or stored_outputs[end, S_LIFT_T] > CUSHION_TEMPERATURE


@bare_kernel
def scan_pulse(out, state, k, whole, pool, events, trajectory, event_memory, par):
    """Fill `out` with every measure of pulse k (nan: did not happen) and `state`.

    `trajectory` is the pulse's part, `events` those of the whole run.
    """
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    plant, tables, gas, scratch = par
    pulse = pulse_of(k, plant, tables)
    last = k == whole.pulses - 1
    begin = first_event(pulse[ON], events) if k > 0 else 0
    end = first_event(pulse[UNTIL], events)
    own = Events(events.instant[begin:end], events.which[begin:end], events.discrete_state[begin:end], end - begin)
    early = False
    if k == 0:
        for i in range(end):
            if lifts_off(i, own) and not own.instant[i] >= pulse[ON]:
                early = True
    begins_lifted = k > 0 and discrete_state[0, D_MODE] != SEATED
    shifts = happened(pulse[OPENS]) or (k > 0 and stored_outputs[0, S_VALVE] > 0.0)
    judged_at_off = happened(pulse[RELEASES])
    off = pulse[OFF] if judged_at_off else t[count - 1]
    shut = first_shut(pulse[ON], pulse[UNTIL], plant, tables)
    flows_off = min(off, shut)
    stop = min(off, shut) if judged_at_off else shut
    lift, reached = opening_measures(out, pulse, begins_lifted, flows_off, own, trajectory, event_memory, par)
    closed = closing_measures(out, pulse, happened(lift) or early, own, trajectory)
    impact_speeds(out, pulse[ON], pulse[OFF], own, trajectory, plant.index.speed)
    flow_measures(out, pulse, flows_off, trajectory, event_memory, par)
    stop_measures(out, stop, trajectory, event_memory, par)
    ignition_measures(out, pulse, flows_off, pool, trajectory, event_memory, par)
    inflow_measures(out, trajectory, plant)
    gas_measures(out, pulse, trajectory, par)
    if plant.gas_manifolds != 0:
        purge_measures(out, own, trajectory, plant)
    extremes(out, pulse[ON], flows_off, trajectory, event_memory, par)
    state[BEGINS_LIFTED] = 1 if begins_lifted else 0
    state[BEGINS_LIT] = 1 if k > 0 and discrete_state[0, D_LIT] != 0 else 0
    state[PULSE_OUTCOME] = outcome_of(
        whole.good or not last, early, shifts, lift, reached, closed, pulse[OFF], judged_at_off, whole.cut and last
    )
    if state[PULSE_OUTCOME] == LEFT_GAS_RANGE and cushion_crushed(trajectory, plant):
        state[PULSE_OUTCOME] = CRUSHED


@bare_kernel
def scan_run(out, steps, trajectory, event_memory, plant, tables):
    """Fill what a run has once: margins, stored energy, gas used, quality."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    static_margins(out, event_memory, plant, tables)
    out[P_SEALING_LOAD] = -stored_outputs[0, S_NET] / (np.pi * plant.sleeve.seat_diameter)
    out[P_STORED_GAS_ENERGY] = plant.stored_gas_energy
    out[P_GAS_USED] = ys[count - 1, plant.index.core + B_FILL]
    balance_measures(out, trajectory, event_memory, plant)
    out[P_STEPS] = steps
