"""The hybrid loop: steps between events, jumps at them. Generic; knows no valve.

Rules
-----
1. A guard fires on g > 0 -> g <= 0 in (t0, t1], located on the dense output (`events`); very early in the first step after a
   jump it is looked for in a shorter step, whose dense output is fine enough.
2. Guards come from the current mode only (an inactive one reads +1), so the one just fired is not listed again.
3. A reset is pure: (t, y-, mode) -> (y+, mode). Both points are kept in the stored trajectory, at one instant.
4. After a jump the derivative is computed afresh, the step size starts afresh, and every new guard must be >= 0: one
   below zero fires at once. Simultaneous events run in a fixed order, the lowest index first, until no mode changes,
   with a cap.
5. Time events are step targets, not guards: a step ends exactly there, then `at_target` may change state and mode.
6. Too many events in a window is a status, not a hang.
7. Nothing raises: a status comes back, and the last stored point says when, in which mode and at which state.

The system is seven compiled functions, pure but for the arrays they are said to fill; `discrete_state` are integers (modes),
`event_memory` numbers that change only at events, `par` whatever the system needs:

    rhs(t, y, discrete_state, event_memory, par, dy, outputs) -> int
        fills dy (n,) and the signals outputs, unless that has no length (between the ends of a step); not 0: out of range
    jacobian(t, y, discrete_state, event_memory, par, J, dfdt) -> int
        fills J (n, n_core) and the explicit time derivative dfdt (n,)
    guards(t, y, discrete_state, event_memory, par, outputs, g)
        fills g (n_guards,), outputs being the signals at (t, y)
    reset(t, y, discrete_state, event_memory, par, which) -> int
        applies the jump of guard `which` to y, discrete_state, event_memory; not 0: cannot
    next_target(t, discrete_state, event_memory, par) -> float
        the next time event after t, inf if none
    at_target(t, y, discrete_state, event_memory, par) -> int
        1: something changed (a restart), 0: nothing did, else: cannot
    finished(t, y, discrete_state, event_memory, par, outputs) -> bool
        whether the run may end here

The loop does not call them; it says what it needs next (a request, see `phases`), and `integrator` makes the small loop
that grants the requests of one system:

    settle: derivative, guards at (t, y) --> a guard < 0: jump, settle again
      | none                                      ^
    finished? --> over                            |
      | no                                        |
    aim at the next time event                 |
      |                                           |
    prepare: Jacobian, plan  <--------------------|---------------+
      |                                           |               |
    step (`step`), search (`events`), advance --> event: jump     |
      | no event                                                  |
    finished? --> over;  at a time event --> action --> changed: settle; else aim, prepare

States that nothing depends on (quadratures) come last in y: n_core of the n states count in J's columns and in the
error norm. A system is bound once, at import, and run by a cached kernel that names it:

    _integrate = integrator(rhs, jacobian, guards, reset, next_target, at_target, finished)

    @kernel
    def run(t, t_end, y, discrete_state, event_memory, par, w, t_out, y_out, discrete_out, outputs_out, dense_out, event_time, ...):
        return _integrate(t, t_end, y, discrete_state, event_memory, par, w, t_out, ...)
"""

import math
from collections.abc import Callable

from sleevelift.integrate.control import first_step
from sleevelift.integrate.dense import dense_coefficients, interpolate, restrict_dense
from sleevelift.integrate.events import (
    NOTHING,
    ask_inside,
    first_fired,
    first_negative,
    look_sooner,
    looks_inside,
    narrow,
    too_early,
)
from sleevelift.integrate.linear import pattern_grew
from sleevelift.integrate.phases import (
    AIMING,
    ARRIVING,
    AT_TARGET,
    BEGINNING,
    DERIVATIVE,
    DERIVATIVE_AND_GUARDS,
    ENDING,
    GO_ON,
    JACOBIAN,
    LEFT_RANGE,
    NEXT_TARGET,
    NO_RESET,
    NO_ROOM,
    OVER,
    POINT,
    PREPARING,
    RESET,
    RESETTING,
    SEARCHING,
    SETTLING,
    STAGING,
    STORED,
    STORED_AND_FINISHED,
    STORING,
)
from sleevelift.integrate.status import FINISHED, OUT_OF_RANGE, REACHED_END, RESET_FAILED, TOO_MANY_EVENTS, TOO_MANY_STEPS
from sleevelift.integrate.step import begin_step, stage_answered, step_back, take_step
from sleevelift.integrate.store import given_back, log_after, log_before, started, store_point
from sleevelift.integrate.symbolic_factorization import plan_elimination
from sleevelift.integrate.workspace import TARGET
from sleevelift.jit import generic


@generic
def over(w, status):
    """End the run with this status."""
    w.status = status
    return OVER


@generic
def settle(w):
    """Start afresh at (t, y): ask for derivative, signals and guards there."""
    for i in range(w.y.shape[0]):
        w.y_at[i] = w.y[i]
    w.t_at = w.t
    w.restart = 1
    w.phase = SETTLING
    return DERIVATIVE_AND_GUARDS


@generic
def settled(w):
    """Have the fresh start stored; a guard below zero fires there."""
    for i in range(w.f0.shape[0]):
        w.f0[i] = w.f_at[i]
    for i in range(w.outputs0.shape[0]):
        w.outputs0[i] = w.outputs_at[i]
    for i in range(w.g0.shape[0]):
        w.g0[i] = w.g_at[i]
    w.outside = w.answer
    w.which = first_negative(w.g0) if w.outside == 0 else NOTHING
    w.settled += 1
    w.phase = STORING
    return POINT


@generic
def stored(w):
    """Go on from (t, y), a point of the trajectory now: jump, end, act at a time event, or step."""
    if w.answer == NO_ROOM:
        return OVER
    if w.outside != 0:
        return over(w, OUT_OF_RANGE)
    if w.which != NOTHING:
        w.phase = RESETTING
        return RESET if w.settled < w.event_cap else over(w, TOO_MANY_EVENTS)
    if w.answer == STORED_AND_FINISHED:
        return over(w, FINISHED)
    if w.t >= w.t_end:
        return over(w, REACHED_END)
    if w.steps + w.rejected >= w.step_cap:
        return over(w, TOO_MANY_STEPS)
    if w.restart != 0:
        return aim(w)
    return arrive(w) if w.t >= w.target else prepare(w)


@generic
def jumped(w):
    """After a jump: a time event that falls on it comes next, else the fresh start."""
    if w.answer != 0:
        return OVER if w.answer == NO_RESET else over(w, RESET_FAILED)
    w.restart = 1
    return arrive(w) if w.t >= w.target else settle(w)


@generic
def arrive(w):
    """Ask for the action of the time event reached."""
    w.phase = ARRIVING
    return AT_TARGET


@generic
def arrived(w):
    """After a time event: a fresh start if it, or a jump just before it, changed anything."""
    w.target = math.inf
    if w.answer == NO_RESET:
        return OVER
    if w.answer != 0 and w.answer != 1:
        return over(w, RESET_FAILED)
    return settle(w) if w.answer == 1 or w.restart != 0 else aim(w)


@generic
def aim(w):
    """Ask for the next time event."""
    w.phase = AIMING
    return NEXT_TARGET


@generic
def aimed(w):
    """Steps end at the time event found, or at the end of the run."""
    w.target = min(w.target, w.t_end)
    return prepare(w)


@generic
def prepare(w):
    """Ask for the Jacobian at (t, y)."""
    w.phase = PREPARING
    return JACOBIAN


@generic
def prepared(w):
    """Plan the elimination if its pattern grew; find a first step size after a jump."""
    if w.answer != 0:
        return over(w, OUT_OF_RANGE)
    if pattern_grew(w) or w.factorizations == 0:
        plan_elimination(w)
        w.factorizations += 1
    if w.restart != 0:
        w.h = min(w.h, first_step(w))
        w.h_before = math.inf
        w.just_rejected = 0
        w.starting = 1
        w.restart = 0
        for i in range(w.g0.shape[0]):
            w.g_before[i] = w.g0[i]
    w.phase = BEGINNING
    return GO_ON


@generic
def end_answered(w):
    """Take the step, unless its end is out of range; then look for events inside it."""
    if w.answer != 0:
        return step_back(w, math.nan, LEFT_RANGE)
    take_step(w)
    if looks_inside(w):
        return ask_inside(w)
    dense_coefficients(w)
    return advance(w, 1.0, NOTHING)


@generic
def inside_answered(w):
    """Go on with the search; where it ends advance to the event, or to the end of the step if there was none.

    An event that comes too early in a first step is looked for in a shorter one.
    """
    if w.answer != 0:
        w.steps -= 1
        return step_back(w, math.nan, LEFT_RANGE)
    if narrow(w):
        return ask_inside(w)
    if w.found == 0:
        return advance(w, 1.0, NOTHING)
    if too_early(w):
        return look_sooner(w)
    interpolate(w, w.hi)
    restrict_dense(w, w.hi)
    return advance(w, w.hi, first_fired(w.g0, w.g1))


@generic
def advance(w, fraction, which):
    """Move to the end of the step, or to guard `which` firing at this fraction of it, and have the point stored."""
    at_event = which != NOTHING
    w.h_before = w.t1 - w.t
    w.t = w.t + fraction * w.h_before if fraction < 1.0 else w.t1
    for i in range(w.y.shape[0]):
        w.y[i] = w.y_at[i] if at_event else w.y1[i]
        w.f0[i] = w.f1[i]
    for i in range(w.outputs0.shape[0]):
        w.outputs0[i] = w.outputs1[i]
    for i in range(w.g0.shape[0]):
        w.g_before[i] = w.g0[i]
        w.g0[i] = w.g1[i]
    w.settled = 0
    w.outside = 0
    w.which = which
    w.phase = STORING
    return POINT


@generic
def next_request(w):
    """Go on from the system's answer to the last request until the next one, or OVER."""
    request = GO_ON
    while request == GO_ON:
        phase = w.phase
        if phase == STAGING:
            request = stage_answered(w)
        elif phase == ENDING:
            request = end_answered(w)
        elif phase == STORING:
            request = stored(w)
        elif phase == PREPARING:
            request = prepared(w)
        elif phase == BEGINNING:
            request = begin_step(w)
        elif phase == SEARCHING:
            request = inside_answered(w)
        elif phase == SETTLING:
            request = settled(w)
        elif phase == RESETTING:
            request = jumped(w)
        elif phase == ARRIVING:
            request = arrived(w)
        else:
            request = aimed(w)
    return request


def integrator(
    rhs: Callable[..., int],
    jacobian: Callable[..., int],
    guards: Callable[..., None],
    reset: Callable[..., int],
    next_target: Callable[..., float],
    at_target: Callable[..., int],
    finished: Callable[..., bool],
) -> Callable[..., int]:
    """The integrator of the system of these seven compiled functions; compiled with the kernel that calls it."""

    @generic
    def integrate(
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
        """Run the system from `t` to `t_end` (s) at most; a status of `status`.

        y (n,), discrete_state (n_discrete,) int64, event_memory (n_memo,): start on entry, end on return; par opaque; w of
        `workspace.workspace`; the rest of `workspace.trajectory`.
        """
        points = (t_out, y_out, discrete_out, outputs_out, dense_out)
        started(w, t, t_end, y, discrete_state, event_memory)
        y_now, y_at, f_at, dfdt, J = w.y[: w.n], w.y_at[: w.n], w.f_at[: w.n], w.dfdt[: w.n], w.J[: w.n]
        modes, kept, outputs0, outputs_at, g_at = w.discrete_state[:], w.event_memory[:], w.outputs0[:], w.outputs_at[:], w.g_at[:]
        no_signals = w.outputs_at[:0]
        request = settle(w)
        while request != OVER:
            while request == DERIVATIVE:
                w.rhs_calls += 1
                w.answer = rhs(w.t_at, y_at, modes, kept, par, f_at, no_signals)
                request = stage_answered(w)
            if request == OVER:
                break
            if request == DERIVATIVE_AND_GUARDS:
                w.rhs_calls += 1
                w.answer = rhs(w.t_at, y_at, modes, kept, par, f_at, outputs_at)
                if w.answer == 0:
                    guards(w.t_at, y_at, modes, kept, par, outputs_at, g_at)
            elif request == JACOBIAN:
                w.jacobian_calls += 1
                w.answer = jacobian(w.t, y_now, modes, kept, par, J, dfdt)
            elif request == POINT:
                w.answer = store_point(w, points)
                if w.answer == STORED and w.which == NOTHING and finished(w.t, y_now, modes, kept, par, outputs0):
                    w.answer = STORED_AND_FINISHED
            elif request == NEXT_TARGET:
                w.target = next_target(w.t, modes, kept, par)
            elif request != GO_ON:
                if not log_before(w, w.which if request == RESET else TARGET, event_time, event_which, event_discrete):
                    w.answer = NO_RESET
                elif request == RESET:
                    w.answer = reset(w.t, y_now, modes, kept, par, w.which)
                    log_after(w, event_discrete)
                else:
                    w.answer = at_target(w.t, y_now, modes, kept, par)
                    log_after(w, event_discrete)
                    w.events -= w.answer == 0
            request = next_request(w)
        given_back(w, y, discrete_state, event_memory)
        return w.status

    return integrate
