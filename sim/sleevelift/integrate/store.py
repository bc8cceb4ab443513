"""What a run writes down as it goes: its points, its events. Rows of the arrays of `workspace.Trajectory`."""

import math

from sleevelift.integrate.phases import NO_ROOM, STORED
from sleevelift.integrate.status import BUFFER_FULL, TOO_MANY_EVENTS
from sleevelift.jit import generic


@generic
def started(w, t, t_end, y, discrete_state, event_memory):
    """Put the start of a run into the workspace, counters at zero, no entry of the Jacobian seen."""
    w.t = t
    w.t_end = t_end
    w.h = t_end - t
    w.target = math.inf
    w.restart = 1
    w.settled = 0
    w.points = 0
    w.events = 0
    w.steps = 0
    w.rejected = 0
    w.rhs_calls = 0
    w.jacobian_calls = 0
    w.factorizations = 0
    w.slot = -1
    w.pivoted = 0
    w.used = 0
    w.used_quadrature = 0
    for i in range(w.y.shape[0]):
        w.y[i] = y[i] if i < w.n else 0.0
        w.f0[i] = 0.0
        w.f_at[i] = 0.0
        w.dfdt[i] = 0.0
        for stage in range(w.u.shape[0]):
            w.u[stage, i] = 0.0
    for i in range(w.discrete_state.shape[0]):
        w.discrete_state[i] = discrete_state[i]
    for i in range(w.event_memory.shape[0]):
        w.event_memory[i] = event_memory[i]
    for i in range(w.inverse.shape[0]):
        for j in range(w.inverse.shape[1]):
            w.inverse[i, j] = 0.0
    for i in range(w.J.shape[0]):
        for j in range(w.J.shape[1]):
            w.J[i, j] = 0.0
            w.unplanned[i, j] = 1.0


@generic
def given_back(w, y, discrete_state, event_memory):
    """Copy the state of the workspace into the caller's arrays."""
    for i in range(w.n):
        y[i] = w.y[i]
    for i in range(w.discrete_state.shape[0]):
        discrete_state[i] = w.discrete_state[i]
    for i in range(w.event_memory.shape[0]):
        event_memory[i] = w.event_memory[i]


@generic
def store_point(w, points):
    """Store (t, y), modes and signals as the next point; STORED or NO_ROOM.

    If a step ends there its dense output goes with it, where there is room for any.
    """
    t_out, y_out, discrete_out, outputs_out, dense_out = points
    row = w.points
    if row >= t_out.shape[0]:
        w.status = BUFFER_FULL
        return NO_ROOM
    w.points = row + 1
    t_out[row] = w.t
    for i in range(w.n):
        y_out[row, i] = w.y[i]
    for i in range(w.discrete_state.shape[0]):
        discrete_out[row, i] = w.discrete_state[i]
    for i in range(w.outputs0.shape[0]):
        outputs_out[row, i] = w.outputs0[i]
    if row < dense_out.shape[0]:
        keep = 1.0 if w.restart == 0 else 0.0
        for r in range(3):
            for i in range(w.n):
                dense_out[row, r, i] = keep * w.k[r, i]
    return STORED


@generic
def log_before(w, which, event_time, event_which, event_discrete):
    """Log an event and the modes before it; False where that ends the run (`status` says why)."""
    row = w.events
    if row >= event_time.shape[0]:
        w.status = BUFFER_FULL
        return False
    if row >= w.event_cap and w.t - event_time[row - w.event_cap] < w.event_window:
        w.status = TOO_MANY_EVENTS
        return False
    event_time[row] = w.t
    event_which[row] = which
    for i in range(w.discrete_state.shape[0]):
        event_discrete[row, 0, i] = w.discrete_state[i]
    w.events = row + 1
    return True


@generic
def log_after(w, event_discrete):
    """Complete the last event with the modes after it."""
    for i in range(w.discrete_state.shape[0]):
        event_discrete[w.events - 1, 1, i] = w.discrete_state[i]
