"""Small systems with closed forms, bound to the integrator: a ball, a block on a belt, a mass with dry friction, and
others.

All of them live in one set of compiled functions, told apart by the first number of `par`, so that they compile once.
Every toy has at most 4 states, two modes (`discrete_state`), two memory values, one signal and two guards.
"""

import math
from typing import NamedTuple

import numpy as np
from sleevelift.integrate.loop import integrator
from sleevelift.integrate.status import Status
from sleevelift.integrate.workspace import Trajectory, trajectory, workspace, workspace_dtype
from sleevelift.jit import kernel

STATES, MODES, MEMORY, SIGNALS, GUARDS = 4, 2, 2, 1, 2

BALL = 0
"""Height, speed; par: gravity, restitution, rest speed. Mode 1: at rest."""
FRICTION = 1
"""Mass on a spring with dry friction: place, speed; par: mass, rate, running and breakaway force. Mode 0 stuck, 1 or -1
the direction of sliding."""
BELT = 2
"""Block on a belt, held by a spring: place, speed; par: mass, rate, running and breakaway force, belt speed. Mode 0
sticking, 1 slipping."""
STROKE = 3
"""Mass against a preloaded spring: place, speed; par: mass, rate, preload, driving force, stroke. Ends at the
stroke."""
LINE = 4
"""Liquid column: speed; par: density, length, pressure difference, loss, speed to reach. Ends there."""
PROTHERO_ROBINSON = 5
"""y' = -rate (y - sin t) + cos t, solution sin t whatever the rate; par: rate. Prothero and Robinson, Math. Comp. 28,
1974."""
GROWTH = 6
"""y' = y cos t, solution exp(sin t); its integral and that of 2 t y as quadratures."""
ROBERTSON = 7
"""Robertson's chemical kinetics, three states; quadrature: the integral of the first."""
VAN_DER_POL = 8
"""y'' = mu (1 - y^2) y' - y; par: mu."""
DIP = 9
"""y' = 1, a guard that is below zero only near an instant: (y - middle)^2 - half width^2; par: middle, half width."""
TWO_CLOCKS = 10
"""Two states falling at rate 1 from their start, a guard each; each stops at zero. Mode i: 1 once it has."""
CHATTER = 11
"""A guard whose jump leaves it below zero: y' = -1, g = y."""
SWITCHED = 12
"""y' = mode - y, the mode toggled at time events; par: number of instants, then the instants."""
EDGE = 13
"""y' = -1; outside the model's range below par[1]."""
SPIRAL = 14
"""Circular motion at rate par[1] with the exact solution (cos, sin): two states."""
RATTLE = 15
"""The ball on a shaken table: its weight swings; par: gravity, restitution, rest speed, swing (relative), its rate."""


@kernel
def rhs(t, y, discrete_state, event_memory, par, dy, outputs):
    """Derivative of the toy `par[0]`; the signal is its first state."""
    kind = int(par[0])
    if outputs.shape[0] > 0:
        outputs[0] = y[0]
    if kind == BALL:
        dy[0] = y[1]
        dy[1] = -par[1] if discrete_state[0] == 0 else 0.0
    elif kind == RATTLE:
        dy[0] = y[1]
        dy[1] = -par[1] * (1.0 + par[4] * math.sin(par[5] * t)) if discrete_state[0] == 0 else 0.0
    elif kind == FRICTION:
        dy[0] = y[1]
        dy[1] = (-par[2] * y[0] - discrete_state[0] * par[3]) / par[1] if discrete_state[0] != 0 else 0.0
    elif kind == BELT:
        dy[0] = y[1]
        dy[1] = (-par[2] * y[0] + par[3]) / par[1] if discrete_state[0] == 1 else 0.0
    elif kind == STROKE:
        dy[0] = y[1]
        dy[1] = (par[4] - par[3] - par[2] * y[0]) / par[1]
    elif kind == LINE:
        dy[0] = (par[3] / par[1] - 0.5 * (1.0 + par[4]) * y[0] * abs(y[0])) / par[2]
    elif kind == PROTHERO_ROBINSON:
        dy[0] = -par[1] * (y[0] - math.sin(t)) + math.cos(t)
    elif kind == GROWTH:
        dy[0] = y[0] * math.cos(t)
        dy[1] = y[0]
        dy[2] = 2.0 * t * y[0]
    elif kind == ROBERTSON:
        dy[0] = -0.04 * y[0] + 1e4 * y[1] * y[2]
        dy[1] = 0.04 * y[0] - 1e4 * y[1] * y[2] - 3e7 * y[1] * y[1]
        dy[2] = 3e7 * y[1] * y[1]
        dy[3] = y[0]
    elif kind == VAN_DER_POL:
        dy[0] = y[1]
        dy[1] = par[1] * (1.0 - y[0] * y[0]) * y[1] - y[0]
    elif kind == DIP:
        dy[0] = 1.0
    elif kind == TWO_CLOCKS:
        dy[0] = -1.0 if discrete_state[0] == 0 else 0.0
        dy[1] = -1.0 if discrete_state[1] == 0 else 0.0
    elif kind == SWITCHED:
        dy[0] = discrete_state[0] - y[0]
    elif kind == SPIRAL:
        dy[0] = -par[1] * y[1]
        dy[1] = par[1] * y[0]
    else:
        dy[0] = -1.0
        return 1 if kind == EDGE and y[0] < par[1] else 0
    return 0


@kernel
def jacobian(t, y, discrete_state, event_memory, par, J, dfdt):
    """Derivatives of `rhs` by hand."""
    kind = int(par[0])
    for i in range(J.shape[0]):
        dfdt[i] = 0.0
        for j in range(J.shape[1]):
            J[i, j] = 0.0
    if kind == BALL or kind == RATTLE or kind == FRICTION or kind == BELT or kind == STROKE:
        J[0, 1] = 1.0
        if kind == RATTLE and discrete_state[0] == 0:
            dfdt[1] = -par[1] * par[4] * par[5] * math.cos(par[5] * t)
        elif kind == STROKE or ((kind == FRICTION or kind == BELT) and discrete_state[0] != 0):
            J[1, 0] = -par[2] / par[1]
    elif kind == LINE:
        J[0, 0] = -(1.0 + par[4]) * abs(y[0]) / par[2]
    elif kind == PROTHERO_ROBINSON:
        J[0, 0] = -par[1]
        dfdt[0] = par[1] * math.cos(t) - math.sin(t)
    elif kind == GROWTH:
        J[0, 0] = math.cos(t)
        J[1, 0] = 1.0
        J[2, 0] = 2.0 * t
        dfdt[0] = -y[0] * math.sin(t)
        dfdt[2] = 2.0 * y[0]
    elif kind == ROBERTSON:
        J[0, 0] = -0.04
        J[0, 1] = 1e4 * y[2]
        J[0, 2] = 1e4 * y[1]
        J[1, 0] = 0.04
        J[1, 1] = -1e4 * y[2] - 6e7 * y[1]
        J[1, 2] = -1e4 * y[1]
        J[2, 1] = 6e7 * y[1]
        J[3, 0] = 1.0
    elif kind == VAN_DER_POL:
        J[0, 1] = 1.0
        J[1, 0] = -2.0 * par[1] * y[0] * y[1] - 1.0
        J[1, 1] = par[1] * (1.0 - y[0] * y[0])
    elif kind == SWITCHED:
        J[0, 0] = -1.0
    elif kind == SPIRAL:
        J[0, 1] = -par[1]
        J[1, 0] = par[1]
    return 0


@kernel
def guards(t, y, discrete_state, event_memory, par, outputs, g):
    """Guards of the toy's current mode; the others stand at +1."""
    kind = int(par[0])
    g[0] = 1.0
    g[1] = 1.0
    if (kind == BALL or kind == RATTLE) and discrete_state[0] == 0:
        g[0] = outputs[0]
    elif kind == FRICTION:
        g[0] = discrete_state[0] * y[1] if discrete_state[0] != 0 else par[4] - abs(par[2] * y[0])
    elif kind == BELT:
        g[0] = par[5] - y[1] if discrete_state[0] == 1 else par[4] - par[2] * y[0]
    elif (kind == STROKE or kind == LINE) and discrete_state[0] == 0:
        g[0] = par[5] - y[0]
    elif kind == DIP and discrete_state[0] == 0:
        g[0] = (y[0] - par[1]) ** 2 - par[2] ** 2
    elif kind == TWO_CLOCKS:
        for i in range(2):
            g[i] = y[i] if discrete_state[i] == 0 else 1.0
    elif kind == CHATTER:
        g[0] = y[0]


@kernel
def reset(t, y, discrete_state, event_memory, par, which):
    """The jump of the toy's guard."""
    kind = int(par[0])
    event_memory[0] = t
    event_memory[1] += 1.0
    if kind == BALL or kind == RATTLE:
        y[0] = 0.0
        y[1] = -par[2] * y[1]
        if y[1] < par[3]:
            y[1] = 0.0
            discrete_state[0] = 1
    elif kind == FRICTION:
        force = par[2] * y[0]
        if discrete_state[0] == 0:
            discrete_state[0] = -1 if force > 0.0 else 1
        else:
            y[1] = 0.0
            discrete_state[0] = 0 if abs(force) <= par[4] else -discrete_state[0]
    elif kind == BELT:
        discrete_state[0] = 1 - discrete_state[0]
        y[1] = par[5]
    elif kind == TWO_CLOCKS:
        y[which] = 0.0
        discrete_state[which] = 1
    elif kind == CHATTER:
        y[0] = -1.0
    else:
        discrete_state[0] = 1
    return 0


@kernel
def next_target(t, discrete_state, event_memory, par):
    """The first of the SWITCHED instants after t."""
    if int(par[0]) == SWITCHED:
        for i in range(int(par[1])):
            if par[2 + i] > t:
                return par[2 + i]
    return math.inf


@kernel
def at_target(t, y, discrete_state, event_memory, par):
    """Toggle the mode of SWITCHED, but leave it alone at an instant that is a whole number of seconds."""
    if int(par[0]) != SWITCHED or t == math.floor(t):
        return 0
    discrete_state[0] = 1 - discrete_state[0]
    return 1


@kernel
def finished(t, y, discrete_state, event_memory, par, outputs):
    """Whether the toy has come to its end: at rest, at the stroke, at the speed."""
    kind = int(par[0])
    if kind == BALL or kind == RATTLE or kind == STROKE or kind == LINE:
        return discrete_state[0] == 1
    return kind == FRICTION and discrete_state[0] == 0 and event_memory[1] > 0.0


_integrate = integrator(rhs, jacobian, guards, reset, next_target, at_target, finished)
LAYOUT = workspace_dtype(STATES, STATES, MODES, MEMORY, SIGNALS, GUARDS)


@kernel
def run(
    t,
    t_end,
    y,
    discrete_state,
    event_memory,
    par,
    w,
    t_out,
    y_out,
    discrete_out,
    outputs_out,
    dense_out,
    event_time,
    event_which,
    event_discrete,
):
    """The compiled entry of the toys."""
    return _integrate(
        t,
        t_end,
        y,
        discrete_state,
        event_memory,
        par,
        w,
        t_out,
        y_out,
        discrete_out,
        outputs_out,
        dense_out,
        event_time,
        event_which,
        event_discrete,
    )


class Run(NamedTuple):
    """What a toy left: its status, its arrays cut to length, the workspace for its counters."""

    status: Status
    t: np.ndarray
    y: np.ndarray
    discrete_state: np.ndarray
    dense: np.ndarray
    event_time: np.ndarray
    event_which: np.ndarray
    event_discrete: np.ndarray
    w: np.void

    def at(self, t: float) -> np.ndarray:
        """State at an instant, on the dense output."""
        k = int(np.clip(np.searchsorted(self.t, t), 1, len(self.t) - 1))
        s = (t - self.t[k - 1]) / (self.t[k] - self.t[k - 1])
        k1, k2, k3 = self.dense[k]
        return (1 - s) * self.y[k - 1] + s * (self.y[k] + (1 - s) * (k1 + s * (k2 + s * k3)))


def solve(kind, y, parameters=(), t_end=10.0, atol=1e-9, n_core=None, discrete_state=(0, 0), room=20000, t=0.0, **settings) -> Run:
    """Run the toy `kind` from `y` to `t_end` with these settings of `workspace`."""
    n = len(y)
    w = workspace(LAYOUT, atol, n=n, n_core=n if n_core is None else n_core, **settings)
    arrays: Trajectory = trajectory(n, MODES, SIGNALS, room, room)
    modes = np.array(discrete_state, dtype=np.int64)
    par = np.array([kind, *parameters, 0.0], dtype=np.float64)
    status = run(t, t_end, np.array(y, dtype=np.float64), modes, np.zeros(MEMORY), par, w, *arrays)
    k, e = int(w["points"]), int(w["events"])
    return Run(
        Status(status),
        arrays.t_out[:k],
        arrays.y_out[:k],
        arrays.discrete_out[:k],
        arrays.dense_out[:k],
        arrays.event_time[:e],
        arrays.event_which[:e],
        arrays.event_discrete[:e],
        w,
    )
