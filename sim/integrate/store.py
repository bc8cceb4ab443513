"""What a run writes down as it goes: its points, its events. Rows of the arrays of `workspace.Trajectory`."""

import math

from sim.integrate.linear import make_plan
from sim.integrate.status import BUFFER_FULL, RUNNING, TOO_MANY_EVENTS
from sim.jit import generic


@generic
def copied(source, target):
    """Copy `source` into `target`, both of one length."""
    for i in range(target.shape[0]):
        target[i] = source[i]


@generic
def started(w, t, t_end, y, disc, memo):
    """Put the start of a run into the workspace, counters at zero, no entry of the Jacobian seen."""
    w.t = t
    w.t_end = t_end
    w.h = t_end - t
    w.h_before = math.inf
    w.error_before = 1.0
    w.points = 0
    w.events = 0
    w.steps = 0
    w.rejected = 0
    w.rhs_calls = 0
    w.jacobian_calls = 0
    w.plans = 0
    w.pivoted = 0
    w.y[:] = 0.0
    w.f0[:] = 0.0
    w.f[:] = 0.0
    w.dfdt[:] = 0.0
    copied(y, w.y[: y.shape[0]])
    copied(disc, w.disc[:])
    copied(memo, w.memo[:])
    w.u[:, :] = 0.0
    w.planned[:, :] = 0
    make_plan(w)


@generic
def given_back(w, y, disc, memo):
    """Copy the state of the workspace into the caller's arrays."""
    copied(w.y[: y.shape[0]], y)
    copied(w.disc[:], disc)
    copied(w.memo[:], memo)


@generic
def store_point(w, points):
    """Store (t, y), modes and signals as the next point, with no dense output yet; False where the arrays are full."""
    t_out, y_out, disc_out, sig_out, dense_out = points
    row = w.points
    if row >= t_out.shape[0]:
        return False
    t_out[row] = w.t
    for i in range(y_out.shape[1]):
        y_out[row, i] = w.y[i]
    for i in range(disc_out.shape[1]):
        disc_out[row, i] = w.disc[i]
    for i in range(sig_out.shape[1]):
        sig_out[row, i] = w.sig0[i]
    if row < dense_out.shape[0]:
        for r in range(3):
            for i in range(dense_out.shape[2]):
                dense_out[row, r, i] = 0.0
    w.points = row + 1
    return True


@generic
def store_dense(w, points):
    """Store the dense output of the step that ends at the last point, if there is room for any."""
    dense_out = points[4]
    row = w.points - 1
    if row < dense_out.shape[0]:
        for r in range(3):
            for i in range(dense_out.shape[2]):
                dense_out[row, r, i] = w.k[r, i]


@generic
def log_before(w, which, log):
    """Log an event and the modes before it; RUNNING, or the status that ends the run."""
    event_time, event_which, event_disc = log
    row = w.events
    if row >= event_time.shape[0]:
        return BUFFER_FULL
    if row >= w.event_cap and w.t - event_time[row - w.event_cap] < w.event_window:
        return TOO_MANY_EVENTS
    event_time[row] = w.t
    event_which[row] = which
    for i in range(event_disc.shape[2]):
        event_disc[row, 0, i] = w.disc[i]
    w.events = row + 1
    return RUNNING


@generic
def log_after(w, log):
    """Complete the last event with the modes after it."""
    event_disc = log[2]
    for i in range(event_disc.shape[2]):
        event_disc[w.events - 1, 1, i] = w.disc[i]
