"""The hybrid loop: steps between events, jumps at them. Generic; knows no valve.

Rules
-----
1. A guard fires on g > 0 -> g <= 0 in (t0, t1], located on the dense output (`events`).
2. Guards come from the current mode only (an inactive one reads +1), so the one just fired is not listed again.
3. A reset is pure: (t, y-, mode) -> (y+, mode). Both points are kept in the stored trajectory, at one instant.
4. After a jump the derivative is computed afresh, the step size starts afresh, and every new guard must be >= 0: one below
   zero fires at once. Simultaneous events run in a fixed order, the lowest index first, until no mode changes, with a cap.
5. Known instants are step targets, not guards: a step ends exactly there, then `at_target` may change state and mode.
6. Too many events in a window is a status, not a hang.
7. Nothing raises: a status comes back, and the last stored point says when, in which mode and at which state.

The system is seven compiled functions, pure but for the arrays they are said to fill; `disc` are integers (modes), `memo`
numbers that change only at events, `par` whatever the system needs:

    rhs(t, y, disc, memo, par, dy, sig) -> int           fills dy (n,) and the signals sig; not 0: outside the model's range
    jacobian(t, y, disc, memo, par, J, dfdt) -> int      fills J (n, n_core) and the explicit time derivative dfdt (n,)
    guards(t, y, disc, memo, par, sig, g)                fills g (n_guards,), sig being the signals at (t, y)
    reset(t, y, disc, memo, par, which) -> int           applies the jump of guard `which` to y, disc, memo; not 0: cannot
    next_target(t, disc, memo, par) -> float             the next known instant after t, inf if none
    at_target(t, y, disc, memo, par) -> int              1: something changed (a restart), 0: nothing did, else: cannot
    finished(t, y, disc, memo, par, sig) -> bool         whether the run may end here

States that nothing depends on (quadratures) come last in y: n_core of the n states count in J's columns and in the error
norm. A system is bound once, at import, and run by a cached kernel that names it:

    _integrate = integrator(rhs, jacobian, guards, reset, next_target, at_target, finished)

    @kernel
    def run(t, t_end, y, disc, memo, par, w, t_out, y_out, disc_out, sig_out, dense_out, event_time, event_which, event_disc):
        return _integrate(t, t_end, y, ...)
"""

import math
from collections.abc import Callable

from sim.integrate.control import AFTER_FAILURE, error_norm, first_step, growth_accepted, growth_rejected
from sim.integrate.dense import dense_coefficients, restrict_dense
from sim.integrate.events import NOTHING, event_fraction_of, first_fired, first_negative, may_dip
from sim.integrate.linear import make_plan, pattern_grew
from sim.integrate.status import (
    BUFFER_FULL,
    FINISHED,
    OUT_OF_RANGE,
    REACHED_END,
    RESET_FAILED,
    STEP_TOO_SMALL,
    TOO_MANY_EVENTS,
    TOO_MANY_STEPS,
)
from sim.integrate.step import STEP_DONE, STEP_LEFT_RANGE, rosenbrock_step_of
from sim.integrate.store import copied, log_after, log_before, started, store_dense, store_point
from sim.integrate.tableau import STAGES
from sim.integrate.workspace import LOOK_ALWAYS, LOOK_IF_NEAR, TARGET
from sim.jit import generic

RUNNING = -1
"""Not a status: the run goes on."""
NOT_INSIDE = 2.0
"""Not a fraction of a step: no guard fires in it."""
SMALLEST_STEP = 16.0 * 2.220446049250313e-16
"""Relative to t: a few spacings of doubles, below which the clock does not resolve the stages."""
SMALLEST_INSTANT = 1e-15
"""The same at t = 0 (s)."""
NEAR_TARGET = 1.05
"""A step this much longer than the controller asks for is taken if it reaches the target: no crumb is left before it."""


@generic
def fitted_step(h, room):
    """The step (s) to try where the controller wants `h` and the target is `room` away: two halves, not one and a crumb."""
    if h * NEAR_TARGET >= room:
        return room
    return 0.5 * room if h * 2.0 > room else h


@generic
def too_small(w, h):
    """Whether the clock does not resolve a step of `h` (s) at time t."""
    return h < SMALLEST_STEP * abs(w.t) + SMALLEST_INSTANT


@generic
def next_step(w, step, growth):
    """The step (s) wanted after an accepted one of size `step`; one cut short by a target does not hold the next back."""
    return max(w.h, step * growth) if step < w.h and growth >= 1.0 else step * growth


def accepted_step_of(rhs: Callable[..., int], guards: Callable[..., None]) -> Callable[..., int]:
    """Steps of the system with this right-hand side and these guards."""
    rosenbrock_step = rosenbrock_step_of(rhs)

    @generic
    def derivative_at_end(w, par):
        """Fill f1, sig1 and g1 at the end of the step; not 0 where that is outside the model's range."""
        w.rhs_calls += 1
        y1 = w.y1[: w.J.shape[0]]
        if rhs(w.t1, y1, w.disc[:], w.memo[:], par, w.f1[: w.J.shape[0]], w.sig1[:]) != 0:
            return 1
        guards(w.t1, y1, w.disc[:], w.memo[:], par, w.sig1[:], w.g1[:])
        return 0

    @generic
    def accepted_step(w, par):
        """Try steps from (t, y) until one is accepted, up to t1 with y1, f1, sig1, g1; RUNNING or a status."""
        rejected = False
        while True:
            step = fitted_step(min(w.h, w.largest_step), w.target - w.t)
            w.t1 = w.target if step == w.target - w.t else w.t + step
            result = rosenbrock_step(w, step, par)
            w.rhs_calls += STAGES - 1
            error = error_norm(w) if result == STEP_DONE else math.nan
            if error <= 1.0:
                if derivative_at_end(w, par) == 0:
                    growth = growth_accepted(error, w.error_before)
                    w.h = next_step(w, step, min(growth, 1.0) if rejected else growth)
                    w.error = error
                    w.steps += 1
                    return RUNNING
                error = math.nan
                result = STEP_LEFT_RANGE
            rejected = True
            w.rejected += 1
            w.h = step * (growth_rejected(error) if error > 1.0 else AFTER_FAILURE)
            if too_small(w, w.h):
                return OUT_OF_RANGE if result == STEP_LEFT_RANGE else STEP_TOO_SMALL
            if w.steps + w.rejected >= w.step_cap:
                return TOO_MANY_STEPS

    return accepted_step  # type: ignore[no-any-return]


def event_in_step_of(rhs: Callable[..., int], guards: Callable[..., None]) -> Callable[..., float]:
    """The look for events in a step of the system with this right-hand side and these guards."""
    guards_inside, event_fraction = event_fraction_of(rhs, guards)

    @generic
    def event_in_step(w, par):
        """Fraction of the accepted step at which a guard fires, NOT_INSIDE, or -1.0 where the search cannot go on.

        With a fraction up to 1 the state there is in y_in, its signals in sig1, g1 tells which fired, and k is filled.
        """
        upper = 1.0
        if first_fired(w.g0[:], w.g1[:]) == NOTHING:
            if not (w.look_inside == LOOK_ALWAYS or (w.look_inside == LOOK_IF_NEAR and may_dip(w))):
                return NOT_INSIDE
            upper = 0.5
        dense_coefficients(w)
        if upper < 1.0:
            if guards_inside(w, upper, par) != 0:
                return -1.0
            if first_fired(w.g0[:], w.g[:]) == NOTHING:
                return NOT_INSIDE
            copied(w.g[:], w.g1[:])
            copied(w.sig[:], w.sig1[:])
        copied(w.g0[:], w.g_lo[:])
        return event_fraction(w, upper, par)

    return event_in_step  # type: ignore[no-any-return]


def settle_of(
    rhs: Callable[..., int], guards: Callable[..., None], jump: Callable[..., int], ended: Callable[..., int]
) -> Callable[..., int]:
    """Fresh starts of the system with these functions."""

    @generic
    def settle(w, par, points, log):
        """Start afresh at (t, y): derivative, signals, stored point; guards below zero fire until none is.

        RUNNING, or the status that ends the run.
        """
        for _ in range(w.event_cap):
            w.rhs_calls += 1
            y = w.y[: w.J.shape[0]]
            outside = rhs(w.t, y, w.disc[:], w.memo[:], par, w.f0[: w.J.shape[0]], w.sig0[:]) != 0
            if not store_point(w, points):
                return BUFFER_FULL
            if outside:
                return OUT_OF_RANGE
            guards(w.t, y, w.disc[:], w.memo[:], par, w.sig0[:], w.g0[:])
            which = first_negative(w.g0[:])
            if which == NOTHING:
                return ended(w, par)
            status = jump(w, par, which, log)
            if status != RUNNING:
                return status
        return TOO_MANY_EVENTS

    return settle  # type: ignore[no-any-return]


def jumps_of(
    reset: Callable[..., int], at_target: Callable[..., int], next_target: Callable[..., float]
) -> tuple[Callable[..., int], Callable[..., tuple[int, bool]], Callable[..., None]]:
    """What happens at a guard, at a known instant, and the look for the next one, with these functions."""

    @generic
    def jump(w, par, which, log):
        """Apply the jump of guard `which` and log it; RUNNING, or the status that ends the run."""
        status = log_before(w, which, log)
        if status != RUNNING:
            return status
        if reset(w.t, w.y[: w.J.shape[0]], w.disc[:], w.memo[:], par, which) != 0:
            return RESET_FAILED
        log_after(w, log)
        return RUNNING

    @generic
    def arrive(w, par, log):
        """Let a known instant act: (RUNNING or the status that ends the run, whether anything changed and was logged)."""
        status = log_before(w, TARGET, log)
        if status != RUNNING:
            return status, False
        changed = at_target(w.t, w.y[: w.J.shape[0]], w.disc[:], w.memo[:], par)
        if changed == 0:
            w.events -= 1
            return RUNNING, False
        log_after(w, log)
        return (RUNNING if changed == 1 else RESET_FAILED), True

    @generic
    def aim(w, par):
        """Set the next instant a step must end at."""
        w.target = min(next_target(w.t, w.disc[:], w.memo[:], par), w.t_end)

    return jump, arrive, aim


@generic
def advance(w, fraction):
    """Move to the end of the step, or to the event at the fraction `fraction` of it; the guard that fires, or NOTHING."""
    which = NOTHING
    w.h_before = w.t1 - w.t
    if fraction > 1.0:
        w.t = w.t1
        copied(w.y1[:], w.y[:])
        copied(w.f1[:], w.f0[:])
    else:
        which = first_fired(w.g0[:], w.g1[:])
        restrict_dense(w, fraction)
        w.t = w.t + fraction * (w.t1 - w.t) if fraction < 1.0 else w.t1
        copied(w.y_in[:], w.y[:])
    copied(w.sig1[:], w.sig0[:])
    copied(w.g0[:], w.g_before[:])
    copied(w.g1[:], w.g0[:])
    w.error_before = w.error
    return which


@generic
def restarted(w):
    """A first step size for the start or after a jump; no step before it counts."""
    w.h = min(w.h, first_step(w))
    w.h_before = math.inf
    w.error_before = 1.0
    copied(w.g0[:], w.g_before[:])


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
    accepted_step = accepted_step_of(rhs, guards)
    event_in_step = event_in_step_of(rhs, guards)
    jump, arrive, aim = jumps_of(reset, at_target, next_target)

    @generic
    def ended(w, par):
        """FINISHED or REACHED_END where the run is over, else RUNNING."""
        if finished(w.t, w.y[: w.J.shape[0]], w.disc[:], w.memo[:], par, w.sig0[:]):
            return FINISHED
        return REACHED_END if w.t >= w.t_end else RUNNING

    settle = settle_of(rhs, guards, jump, ended)

    @generic
    def one_step(w, par, points):
        """Take a step, to its end or to the first event in it, and store the point: (RUNNING or a status, the guard)."""
        status = accepted_step(w, par)
        if status != RUNNING:
            return status, NOTHING
        fraction = event_in_step(w, par)
        if fraction < 0.0:
            w.h = (w.t1 - w.t) * AFTER_FAILURE
            return (OUT_OF_RANGE if too_small(w, w.h) else RUNNING), NOTHING
        if fraction > 1.0 and points[4].shape[0] > 0:
            dense_coefficients(w)
        which = advance(w, fraction)
        if not store_point(w, points):
            return BUFFER_FULL, which
        store_dense(w, points)
        return (ended(w, par) if which == NOTHING else RUNNING), which

    @generic
    def run(w, par, points, log):
        """Go on from (t, y) of the workspace until a status ends the run."""
        aim(w, par)
        status = settle(w, par, points, log)
        aim(w, par)
        restart = True
        while status == RUNNING:
            w.jacobian_calls += 1
            if jacobian(w.t, w.y[: w.J.shape[0]], w.disc[:], w.memo[:], par, w.J[:, :], w.dfdt[: w.J.shape[0]]) != 0:
                return OUT_OF_RANGE
            if pattern_grew(w):
                make_plan(w)
                w.plans += 1
            if restart:
                restarted(w)
            status, which = one_step(w, par, points)
            restart = which != NOTHING
            if status == RUNNING and restart:
                status = jump(w, par, which, log)
            if status == RUNNING and w.t >= w.target:
                status, changed = arrive(w, par, log)
                restart = restart or changed
                aim(w, par)
            if status == RUNNING and restart:
                status = settle(w, par, points, log)
                aim(w, par)
        return status

    @generic
    def integrate(
        t, t_end, y, disc, memo, par, w, t_out, y_out, disc_out, sig_out, dense_out, event_time, event_which, event_disc
    ):
        """Run the system from `t` to `t_end` (s) at most; a status of `status`.

        y (n,), disc (n_disc,) int64, memo (n_memo,): start on entry, end on return; par opaque; w of
        `workspace.workspace`; the rest of `workspace.trajectory`.
        """
        points = (t_out, y_out, disc_out, sig_out, dense_out)
        log = (event_time, event_which, event_disc)
        started(w, t, t_end, y, disc, memo)
        make_plan(w)
        status = run(w, par, points, log)
        copied(w.y[: y.shape[0]], y)
        copied(w.disc[:], disc)
        copied(w.memo[:], memo)
        return status

    return integrate  # type: ignore[no-any-return]
