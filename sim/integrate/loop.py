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

from sim.integrate.control import first_step, too_small
from sim.integrate.dense import dense_coefficients, restrict_dense
from sim.integrate.events import NOT_INSIDE, NOT_SEEN, NOTHING, event_in_step_of, first_fired, first_negative
from sim.integrate.linear import make_plan, pattern_grew
from sim.integrate.status import (
    BUFFER_FULL,
    FINISHED,
    OUT_OF_RANGE,
    REACHED_END,
    RESET_FAILED,
    RUNNING,
    STEP_TOO_SMALL,
    TOO_MANY_EVENTS,
    TOO_MANY_STEPS,
)
from sim.integrate.step import LEFT_RANGE, REJECTED, attempt_of, step_back
from sim.integrate.store import copied, given_back, log_after, log_before, started, store_dense, store_point
from sim.integrate.workspace import TARGET
from sim.jit import generic


@generic
def restarted(w):
    """A first step size for the start or after a jump; no step before it counts."""
    w.h = min(w.h, first_step(w))
    w.h_before = math.inf
    w.error_before = 1.0
    w.just_rejected = 0
    copied(w.g0[:], w.g_before[:])


@generic
def advance(w, fraction):
    """Move to the end of the step, or to the event at the fraction `fraction` of it; the guard that fires, or NOTHING."""
    which = NOTHING
    w.h_before = w.t1 - w.t
    if fraction == NOT_INSIDE:
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
    return which


@generic
def gave_up(w):
    """The status where a rejected step may not be tried again, else RUNNING."""
    if too_small(w.h, w.t):
        return OUT_OF_RANGE if w.trouble == LEFT_RANGE else STEP_TOO_SMALL
    return TOO_MANY_STEPS if w.steps + w.rejected >= w.step_cap else RUNNING


def settle_of(
    rhs: Callable[..., int], guards: Callable[..., None], jump: Callable[..., int], ended: Callable[..., int]
) -> Callable[..., int]:
    """Fresh starts of the system with these functions."""

    @generic
    def settle(w, par, points, log):
        """Start afresh at (t, y): derivative, signals, stored point; guards below zero fire until none is.

        RUNNING, or the status that ends the run.
        """
        n = w.J.shape[0]
        for _ in range(w.event_cap):
            w.rhs_calls += 1
            outside = rhs(w.t, w.y[:n], w.disc[:], w.memo[:], par, w.f0[:n], w.sig0[:]) != 0
            if not store_point(w, points):
                return BUFFER_FULL
            if outside:
                return OUT_OF_RANGE
            guards(w.t, w.y[:n], w.disc[:], w.memo[:], par, w.sig0[:], w.g0[:])
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
    """What happens at a guard, what at a known instant, and the look for the next one, with these functions."""

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


def prepare_of(jacobian: Callable[..., int]) -> Callable[..., int]:
    """What a step from a new point needs, with this Jacobian."""

    @generic
    def prepare(w, par, restart):
        """Jacobian, plan, and after a jump the first step size, at (t, y); RUNNING or the status that ends the run."""
        n = w.J.shape[0]
        w.jacobian_calls += 1
        if jacobian(w.t, w.y[:n], w.disc[:], w.memo[:], par, w.J[:, :], w.dfdt[:n]) != 0:
            return OUT_OF_RANGE
        if pattern_grew(w):
            make_plan(w)
            w.plans += 1
        if restart:
            restarted(w)
        return RUNNING

    return prepare  # type: ignore[no-any-return]


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
    attempt = attempt_of(rhs, guards)
    event_in_step = event_in_step_of(rhs, guards)
    jump, arrive, aim = jumps_of(reset, at_target, next_target)
    prepare = prepare_of(jacobian)

    @generic
    def ended(w, par):
        """FINISHED or REACHED_END where the run is over, else RUNNING."""
        if finished(w.t, w.y[: w.J.shape[0]], w.disc[:], w.memo[:], par, w.sig0[:]):
            return FINISHED
        return REACHED_END if w.t >= w.t_end else RUNNING

    settle = settle_of(rhs, guards, jump, ended)

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
        aim(w, par)
        restart = True
        new_point = True
        status = RUNNING
        while True:
            if restart:
                status = settle(w, par, points, log)
                aim(w, par)
            if status == RUNNING and new_point:
                status = prepare(w, par, restart)
            if status != RUNNING:
                break
            restart = False
            new_point = False
            fraction = NOT_SEEN
            if attempt(w, par) != REJECTED:
                fraction = event_in_step(w, par)
                if fraction == NOT_SEEN:
                    step_back(w, w.t1 - w.t, math.nan, LEFT_RANGE)
            if fraction == NOT_SEEN:
                status = gave_up(w)
                continue
            if fraction == NOT_INSIDE and dense_out.shape[0] > 0:
                dense_coefficients(w)
            which = advance(w, fraction)
            if not store_point(w, points):
                status = BUFFER_FULL
                break
            store_dense(w, points)
            new_point = True
            if which == NOTHING:
                status = ended(w, par)
            else:
                status = jump(w, par, which, log)
                restart = True
            if status == RUNNING and w.t >= w.target:
                status, changed = arrive(w, par, log)
                restart = restart or changed
                aim(w, par)
            if status != RUNNING:
                break
        given_back(w, y, disc, memo)
        return status

    return integrate  # type: ignore[no-any-return]
