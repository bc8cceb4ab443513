"""Lanes in one compiled call: of each start, run, side branch, measures."""

import numpy as np

from sleevelift.integrate.status import BUFFER_FULL, OUT_OF_RANGE
from sleevelift.jit import bare_kernel
from sleevelift.plant.crossings import interpolated, point_before
from sleevelift.plant.kernel import integrate
from sleevelift.plant.modes import at_target
from sleevelift.plant.names import PLACE
from sleevelift.plant.rhs import rhs
from sleevelift.plant.scan import balances, scan
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet
from sleevelift.plant.static import initial_state

ENERGY_ERROR = PLACE["energy_error"]
LEAST_INTERVAL = 2e-5
"""s. Steps longer than this get points in between in the traces."""


@bare_kernel
def copied(source, target):
    """Copy one vector into another."""
    for i in range(target.shape[0]):
        target[i] = source[i]


@bare_kernel
def start(y, discrete_state, event_memory, par):
    """Fill the state at t = 0, time events at 0 applied; 0, or the place code of a node that starts outside the table."""
    place = initial_state(y, discrete_state, event_memory, par)
    if place != 0:
        return place
    targets = par[0].instants.targets
    if targets.count > discrete_state[D_TARGET] and par[1][targets.start] <= 0.0:
        at_target(0.0, y, discrete_state, event_memory, par)
    return 0


@bare_kernel
def latest_light_off(event_memory, par, w, trajectory, side, y2, disc2, memo2):
    """(status, instant) at which the same run, never lit, reaches the allowable pressure; nan if it does not.

    `trajectory` is the main run's, `side` the arrays of the side run, y2, disc2, memo2 its state. It starts at light-off.
    """
    t, ys, discs, stored_outputs, dense, count, inside = trajectory
    plant, tables, gas, scratch = par
    if plant.chamber.hot == 0 or not plant.chamber.allowable < 1e300:
        return 0, np.nan
    if event_memory[M_ALLOWABLE] == event_memory[M_ALLOWABLE] or not event_memory[M_LIGHT] == event_memory[M_LIGHT]:
        return 0, event_memory[M_ALLOWABLE]
    light = event_memory[M_LIGHT]
    k = point_before(light, trajectory)
    copied(ys[k], y2)
    copied(discs[k], disc2)
    copied(event_memory, memo2)
    memo2[M_LIGHT] = np.nan
    disc2[D_BRANCH] = 1
    disc2[D_LIT] = 0
    if t[k] < light:
        return 0, np.nan
    at_target(light, y2, disc2, memo2, par)
    s_t, s_y, s_disc, s_sig, s_dense, s_et, s_ew, s_ed = side
    status = integrate(light, plant.instants.end, y2, disc2, memo2, par, w, s_t, s_y, s_disc, s_sig, s_dense, s_et, s_ew, s_ed)
    return status, memo2[M_ALLOWABLE]


@bare_kernel
def solve_lane(par, y, discrete_state, event_memory, inside, side_y, side_discrete_state, side_event_memory, w, side_w, out,
main, side):
    """Run one lane and fill `out` with its measures: (status, outcome index).

    `main` and `side` are the arrays of the run and of the side run. A node that starts outside the gas table gives status
    OUT_OF_RANGE with no points.
    """
    w.points = 0
    w.events = 0
    if start(y, discrete_state, event_memory, par) != 0:
        out[:] = np.nan
        return OUT_OF_RANGE, 0
    t_out, y_out, disc_out, sig_out, dense_out, event_time, event_which, event_disc = main
    status = integrate(
        0.0, par[0].instants.end, y, discrete_state, event_memory, par, w,
        t_out, y_out, disc_out, sig_out, dense_out, event_time, event_which, event_disc,
    )  # fmt: skip
    if status == BUFFER_FULL or w.points == 0:
        out[:] = np.nan
        return status, 0
    trajectory = (t_out, y_out, disc_out, sig_out, dense_out, w.points, inside)
    side_status, latest = latest_light_off(event_memory, par, side_w, trajectory, side, side_y, side_discrete_state,
    side_event_memory)
    if side_status == BUFFER_FULL:
        out[:] = np.nan
        return side_status, 0
    good = status <= 1
    outcome = scan(out, good, w.events, w.steps, latest, (event_time, event_which, event_disc), trajectory, event_memory, par)
    return status, outcome


@bare_kernel
def set_tolerance(w, floors, rtol):
    """Relative tolerance of a run, and with the sizes of its states the absolute ones."""
    w.rtol = rtol
    for i in range(floors.shape[0]):
        w.atol[i] = floors[i] * rtol


@bare_kernel
def solve_lanes(
    first, count, rtol, energy_allowed, refinement, finest, lanes, curves, tables, gas, floors, answers, used, outs,
    scratch, y, discrete_state, event_memory, inside, side_y, side_discrete_state, side_event_memory, w, side_w,
    t_out, y_out, disc_out, sig_out, dense_out, event_time, event_which, event_disc,
    s_t, s_y, s_disc, s_sig, s_dense, s_et, s_ew, s_ed,
):  # fmt: skip
    """Run lanes `first` to `count` - 1 of one layout, one by one: (number of the next to be run, whether it found no room).

    It stops behind a lane that did not come to its end, so that the caller can look at what it left, and before one for which
    the arrays for points and events have no room.

    One row a lane: lanes of `PLANT`; curves where in `tables` its row of curves begins; floors (n_core,). Filled: answers
    (4,) status, outcome index, points, events; used the relative tolerance; outs (N_MEASURE,).

    rtol: nan is each lane's own. A lane whose energy balance misses `energy_allowed` is run again with its tolerance times
    `refinement`, as long as that is no smaller than `finest`.
    """
    main = (t_out, y_out, disc_out, sig_out, dense_out, event_time, event_which, event_disc)
    side = (s_t, s_y, s_disc, s_sig, s_dense, s_et, s_ew, s_ed)
    for k in range(first, count):
        par = (lanes[k], tables[curves[k] :], gas, scratch)
        out = outs[k]
        used[k] = rtol if rtol == rtol else lanes[k].instants.tolerance
        while True:
            set_tolerance(w, floors[k], used[k])
            set_tolerance(side_w, floors[k], used[k])
            status, outcome = solve_lane(
                par, y, discrete_state, event_memory, inside, side_y, side_discrete_state, side_event_memory, w, side_w, out,
                main, side
            )
            if not (out[ENERGY_ERROR] > energy_allowed and used[k] * refinement >= finest):
                break
            used[k] *= refinement
        answers[k, 0] = status
        answers[k, 1] = outcome
        answers[k, 2] = w.points
        answers[k, 3] = w.events
        if status == BUFFER_FULL:
            return k, True
        if status > 1:
            return k + 1, False
    return count, False


@bare_kernel
def balance_sheet(lanes, event_memory, t_out, y_out, disc_out, sig_out, dense_out, points):
    """`scan.balances` of a stored run."""
    return balances((t_out, y_out, disc_out, sig_out, dense_out, points, event_memory), event_memory, lanes[0])


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
    lanes, tables, gas, dy, event_memory, t_out, y_out, disc_out, sig_out, dense_out, points, inside, t, y, discrete_state, outputs
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
                copied(disc_out[k - 1], discrete_state[row])
                if rhs(at, y[row], discrete_state[row], event_memory, par, dy, outputs[row]) != 0:
                    copied(sig_out[k - 1], outputs[row])
                row += 1
        t[row] = t_out[k]
        copied(y_out[k], y[row])
        copied(disc_out[k], discrete_state[row])
        copied(sig_out[k], outputs[row])
        row += 1
