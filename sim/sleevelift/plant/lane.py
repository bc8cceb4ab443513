"""Lanes in one compiled call: of each start, run, side branch, measures."""

from typing import Any, NamedTuple

import numpy as np

from sleevelift.integrate.status import BUFFER_FULL, FINISHED, OUT_OF_RANGE, REACHED_END
from sleevelift.jit import bare_kernel
from sleevelift.plant.balances import balances
from sleevelift.plant.crossings import interpolated, point_before
from sleevelift.plant.flow_measures import rises
from sleevelift.plant.ignition_measures import Pool
from sleevelift.plant.kernel import integrate
from sleevelift.plant.modes import at_target
from sleevelift.plant.names import PLACE
from sleevelift.plant.rhs import rhs
from sleevelift.plant.scan import (
    ON,
    OPENED_CLOSED,
    PULSE_END,
    PULSE_OUTCOME,
    UNTIL,
    Events,
    Whole,
    part_of,
    pool_closed_before,
    pulse_of,
    pulses_reached,
    scan_pulse,
    scan_run,
)
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet
from sleevelift.plant.static import initial_state, leaked_in_all, set_segments

ENERGY_ERROR = PLACE["energy_error"]
STANDING_TOLERANCE = 0.01
"""-. Of the run's tolerance: that of the lift chamber's flooding before it. What gas a full chamber shuts in is decided in a short
while, and all that follows hangs on it."""
LEAST_INTERVAL = 2e-5
"""s. Steps longer than this get points in between in the traces."""


@bare_kernel
def copied(source, target):
    """Copy one vector into another."""
    for i in range(target.shape[0]):
        target[i] = source[i]


@bare_kernel
def finer(w, factor):
    """Multiply the tolerances of a run."""
    w.rtol *= factor
    for i in range(w.atol.shape[0]):
        w.atol[i] *= factor


class Lane(NamedTuple):
    """What a run works in."""

    y: Any
    discrete_state: Any
    event_memory: Any
    w: Any
    """workspace"""
    arrays: Any
    """that it leaves: t, y, discrete state, signals, dense output, then instants, guards and discrete states of its events"""


class Sheets(NamedTuple):
    """What a run is read into."""

    out: Any
    """(N_MEASURE,) measures of the first pulse"""
    more: Any
    """(pulses - 1, N_MEASURE) of the others"""
    states: Any
    """(pulses, N_PULSE_STATE) integers of each"""


@bare_kernel
def integrated(start, end, par, lane):
    """Run a lane from `start` to `end`, s; the status."""
    t_out, y_out, discrete_out, outputs_out, dense_out, event_time, event_which, event_discrete = lane.arrays
    return integrate(
        start, end, lane.y, lane.discrete_state, lane.event_memory, par, lane.w,
        t_out, y_out, discrete_out, outputs_out, dense_out, event_time, event_which, event_discrete,
    )  # fmt: skip


@bare_kernel
def stand(par, lane):
    """Let fuel leak past the rod seal while the propellants stand at the closed valve, before the run begins; the status.

    The lift chamber at t = 0 is what it comes to, by the same laws, valve off, from the given start; a run begins earlier where the
    sleeve lifts in that time. What it cannot know is not followed: tables before their first instant.
    """
    plant, tables, gas, scratch = par
    y, discrete_state, event_memory, w = lane.y, lane.discrete_state, lane.event_memory, lane.w
    stood = plant.rod.stood
    if plant.rod.present == 0 or not stood > 0.0:
        return FINISHED
    discrete_state[D_STANDING] = 1
    discrete_state[D_DAMPED] = 1
    set_segments(-stood, discrete_state, plant, tables)
    finer(w, STANDING_TOLERANCE)
    status = integrated(-stood, 0.0, par, lane)
    t_out, outputs_out = lane.arrays[0], lane.arrays[3]
    finer(w, 1.0 / STANDING_TOLERANCE)
    last = max(w.points - 1, 0)
    balance = plant.index.core
    event_memory[M_STOOD] = stood
    event_memory[M_PASSED] = y[plant.index.rod + B_LIQUID_OUT] - t_out[last] * outputs_out[last, S_LIQUID_OUT]
    if discrete_state[D_MODE] != SEATED:
        event_memory[M_STOOD] = t_out[last] + stood
        event_memory[M_PASSED] = y[plant.index.rod + B_LIQUID_OUT]
    for i in range(balance, y.shape[0]):
        y[i] = 0.0
    y[plant.index.speed] = 0.0
    discrete_state[D_STANDING] = 0
    discrete_state[D_DAMPED] = 0
    discrete_state[D_LEFT] = 0
    discrete_state[D_MODE] = SEATED
    event_memory[M_LAST_CHANGE] = 0.0
    set_segments(0.0, discrete_state, plant, tables)
    w.points = 0
    w.events = 0
    return status


@bare_kernel
def meet_first_events(y, discrete_state, event_memory, par):
    """Apply the time events at t = 0."""
    targets = par[0].instants.targets
    if targets.count > discrete_state[D_TARGET] and par[1][targets.start] <= 0.0:
        at_target(0.0, y, discrete_state, event_memory, par)


@bare_kernel
def start(par, lane):
    """Fill the state at t = 0, time events at 0 applied: a status, OUT_OF_RANGE for a node that starts outside the table."""
    if initial_state(lane.y, lane.discrete_state, lane.event_memory, par) != 0:
        return OUT_OF_RANGE
    lane.event_memory[M_TOLERANCE] = lane.w.rtol
    status = stand(par, lane)
    if status > REACHED_END:
        return status
    meet_first_events(lane.y, lane.discrete_state, lane.event_memory, par)
    return FINISHED


@bare_kernel
def latest_light_off(pulse, light, event_memory, par, trajectory, side):
    """(status, instant) at which a pulse never lit reaches the allowable pressure; nan if it does not.

    `trajectory` is the pulse's part, light its first light-off (nan: none), `side` the lane of the side run. It starts at
    light-off and ends with the pulse.
    """
    t, ys, discs, stored_outputs, dense, count, inside = trajectory
    plant, tables, gas, scratch = par
    if plant.chamber.hot == 0 or not plant.chamber.allowable < 1e300:
        return 0, np.nan
    if t[0] > 0.0 and discs[0, D_ALLOWABLE] != 0:
        return 0, pulse[ON]
    reached = rises(D_ALLOWABLE, trajectory)
    if happened(reached) or not happened(light):
        return 0, reached
    k = point_before(light, trajectory)
    copied(ys[k], side.y)
    copied(discs[k], side.discrete_state)
    copied(event_memory, side.event_memory)
    side.event_memory[M_LIGHT] = np.nan
    side.event_memory[M_ALLOWABLE] = np.nan
    side.discrete_state[D_BRANCH] = 1
    side.discrete_state[D_LIT] = 0
    if t[k] < light:
        return 0, np.nan
    at_target(light, side.y, side.discrete_state, side.event_memory, par)
    status = integrated(light, min(plant.instants.end, pulse[UNTIL]), par, side)
    return status, side.event_memory[M_ALLOWABLE]


@bare_kernel
def scan_pulses(whole, par, lane, trajectory, side, sheets):
    """Read every pulse of a run: (status of the side runs, outcome index of the run, pulses).

    The outcome is that of the first pulse that did not open and close.
    """
    plant, tables, gas, scratch = par
    event_memory = lane.event_memory
    events = Events(lane.arrays[5], lane.arrays[6], lane.arrays[7], lane.w.events)
    sheets.out[:] = np.nan
    scan_run(sheets.out, lane.w.steps, trajectory, event_memory, plant, tables)
    for k in range(1, whole.pulses):
        copied(sheets.out, sheets.more[k - 1])
    outcome = OPENED_CLOSED
    for k in range(whole.pulses):
        pulse = pulse_of(k, plant, tables)
        part = part_of(k, pulse, trajectory)
        since = pulse[ON] - plant.instants.waiting
        if k > 0:
            since = pool_closed_before(pulse[ON], trajectory)
        escaped = leaked_in_all(since, pulse[ON], event_memory, plant, tables)
        light = rises(D_LIT, part)
        status, latest = latest_light_off(pulse, light, event_memory, par, part, side)
        if status == BUFFER_FULL:
            return status, 0, 0
        row = sheets.out if k == 0 else sheets.more[k - 1]
        scan_pulse(row, sheets.states[k], k, whole, Pool(light, escaped, latest), events, part, event_memory, par)
        sheets.states[k, PULSE_END] = part[5]
        if outcome == OPENED_CLOSED:
            outcome = sheets.states[k, PULSE_OUTCOME]
    return 0, outcome, whole.pulses


@bare_kernel
def solve_lane(par, lane, inside, side, sheets):
    """Run one lane and fill `sheets` with its pulses: (status, outcome index, pulses).

    `side`: the lane of the side run; inside: room to evaluate states in. A node that starts outside the gas table gives status
    OUT_OF_RANGE with no points.
    """
    w = lane.w
    w.points = 0
    w.events = 0
    sheets.out[:] = np.nan
    status = start(par, lane)
    if status > REACHED_END:
        return status, 0, 0
    plant = par[0]
    status = integrated(0.0, plant.instants.end, par, lane)
    if status == BUFFER_FULL or w.points == 0:
        return status, 0, 0
    t_out, y_out, discrete_out, outputs_out, dense_out = lane.arrays[:5]
    trajectory = (t_out, y_out, discrete_out, outputs_out, dense_out, w.points, inside)
    cut = status == REACHED_END and plant.instants.settle != 0
    whole = Whole(status <= 1, cut, pulses_reached(trajectory, plant, par[1]))
    side_status, outcome, pulses = scan_pulses(whole, par, lane, trajectory, side, sheets)
    if side_status == BUFFER_FULL:
        sheets.out[:] = np.nan
        return side_status, 0, 0
    return status, outcome, pulses


@bare_kernel
def set_tolerance(w, floors, rtol):
    """Relative tolerance of a run, and with the sizes of its states the absolute ones."""
    w.rtol = rtol
    for i in range(floors.shape[0]):
        w.atol[i] = floors[i] * rtol


@bare_kernel
def solve_lanes(
    first, count, rtol, energy_allowed, refinement, finest, lanes, curves, tables, gas, floors, answers, used, outs, mores, states,
    scratch, y, discrete_state, event_memory, inside, side_y, side_discrete_state, side_event_memory, w, side_w,
    t_out, y_out, discrete_out, outputs_out, dense_out, event_time, event_which, event_discrete,
    s_t, s_y, s_discrete, s_outputs, s_dense, s_et, s_ew, s_ed,
):  # fmt: skip
    """Run lanes `first` to `count` - 1 of one layout, one by one: (number of the next to be run, whether it found no room).

    It stops behind a lane that did not come to its end, so that the caller can look at what it left, and before one for which
    the arrays for points and events have no room.

    One row a lane: lanes of `PLANT`; curves where in `tables` its row of curves begins; floors (n_core,). Filled: answers
    (5,) status, outcome index, points, events, pulses; used the relative tolerance; outs (N_MEASURE,) measures of the first
    pulse, mores (most pulses - 1, N_MEASURE) of the others, states (most pulses, N_PULSE_STATE) integers of each.

    rtol: nan is each lane's own. A lane whose energy balance misses `energy_allowed` is run again with its tolerance times
    `refinement`, as long as that is no smaller than `finest`.
    """
    main = (t_out, y_out, discrete_out, outputs_out, dense_out, event_time, event_which, event_discrete)
    lane = Lane(y, discrete_state, event_memory, w, main)
    beside = (s_t, s_y, s_discrete, s_outputs, s_dense, s_et, s_ew, s_ed)
    side = Lane(side_y, side_discrete_state, side_event_memory, side_w, beside)
    for k in range(first, count):
        par = (lanes[k], tables[curves[k] :], gas, scratch)
        out = outs[k]
        used[k] = rtol if happened(rtol) else lanes[k].instants.tolerance
        while True:
            set_tolerance(w, floors[k], used[k])
            set_tolerance(side_w, floors[k], used[k])
            status, outcome, pulses = solve_lane(par, lane, inside, side, Sheets(out, mores[k], states[k]))
            if not (out[ENERGY_ERROR] > energy_allowed and used[k] * refinement >= finest):
                break
            used[k] *= refinement
        answers[k, 0] = status
        answers[k, 1] = outcome
        answers[k, 2] = w.points
        answers[k, 3] = w.events
        answers[k, 4] = pulses
        if status == BUFFER_FULL:
            return k, True
        if status > 1:
            return k + 1, False
    return count, False


@bare_kernel
def balance_sheet(lanes, event_memory, t_out, y_out, discrete_out, outputs_out, dense_out, points):
    """`scan.balances` of a stored run."""
    return balances((t_out, y_out, discrete_out, outputs_out, dense_out, points, event_memory), event_memory, lanes[0])


@bare_kernel
def refined_points(t_out, points, inside):
    """Number of points with `inside` ones added to each step longer than LEAST_INTERVAL."""
    total = points
    for k in range(1, points):
        if t_out[k] - t_out[k - 1] > LEAST_INTERVAL:
            total += inside
    return total


@bare_kernel
def refine(
    lanes,
    tables,
    gas,
    dy,
    event_memory,
    t_out,
    y_out,
    discrete_out,
    outputs_out,
    dense_out,
    points,
    inside,
    t,
    y,
    discrete_state,
    outputs,
):
    """Fill t, y, discrete_state, outputs (sized by `refined_points`) with the stored points and those between, on the dense
    output."""
    par = (lanes[0], tables, gas, dy)
    row = 0
    for k in range(points):
        if k > 0 and t_out[k] - t_out[k - 1] > LEAST_INTERVAL:
            for i in range(inside):
                s = (i + 1.0) / (inside + 1.0)
                at = t_out[k - 1] + s * (t_out[k] - t_out[k - 1])
                interpolated(s, y_out[k - 1], y_out[k], dense_out[k], y_out.shape[1], y[row])
                t[row] = at
                copied(discrete_out[k - 1], discrete_state[row])
                if rhs(at, y[row], discrete_state[row], event_memory, par, dy, outputs[row]) != 0:
                    copied(outputs_out[k - 1], outputs[row])
                row += 1
        t[row] = t_out[k]
        copied(y_out[k], y[row])
        copied(discrete_out[k], discrete_state[row])
        copied(outputs_out[k], outputs[row])
        row += 1
