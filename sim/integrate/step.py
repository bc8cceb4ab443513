"""One step of Rodas5P: eight stages, each a right-hand side and a solve with the same matrix (formulas in `tableau`).

Generic: `attempt_of` binds the right-hand side. Nothing is allocated.
"""

import math
from collections.abc import Callable

from sim.integrate.control import AFTER_FAILURE, error_norm, fitted_step, growth_accepted, growth_rejected
from sim.integrate.linear import factor, solve
from sim.integrate.store import copied
from sim.integrate.tableau import ALPHA, GAMMA, STAGES, A, C, D
from sim.jit import generic

ACCEPTED, REJECTED = 0, 1
"""A step may be tried again, smaller, at once: nothing but the wanted step size has changed."""
NOTHING_WRONG, LEFT_RANGE, NOT_SOLVED = 0, 1, 2
"""Why a step was rejected, `trouble` in the workspace: its error, a stage outside the model's range, a singular matrix."""


@generic
def stage_sums(w, stage, h):
    """Fill y1 with the argument of the 0-based `stage`, y + sum A u, and b with sum C u / h + h D df/dt.

    All seven terms are always taken: coefficients of stages to come are 0, and their u finite (`clear_stages`). So there is
    one loop over the states, which the compiler turns into vector instructions.
    """
    weight = h * D[stage]
    a0, a1, a2, a3, a4, a5, a6 = A[stage, 0], A[stage, 1], A[stage, 2], A[stage, 3], A[stage, 4], A[stage, 5], A[stage, 6]
    c0, c1, c2, c3, c4, c5, c6 = C[stage, 0], C[stage, 1], C[stage, 2], C[stage, 3], C[stage, 4], C[stage, 5], C[stage, 6]
    per_h = 1.0 / h
    for i in range(w.y.shape[0]):
        u0, u1, u2, u3, u4, u5, u6 = w.u[0, i], w.u[1, i], w.u[2, i], w.u[3, i], w.u[4, i], w.u[5, i], w.u[6, i]
        w.y1[i] = w.y[i] + (((a0 * u0 + a1 * u1) + (a2 * u2 + a3 * u3)) + ((a4 * u4 + a5 * u5) + a6 * u6))
        history = ((c0 * u0 + c1 * u1) + (c2 * u2 + c3 * u3)) + ((c4 * u4 + c5 * u5) + c6 * u6)
        w.b[i] = history * per_h + weight * w.dfdt[i]


@generic
def clear_stages(w):
    """Zero the stage values: before the first step, and after a step that failed and may have left infinities."""
    w.u[:, :] = 0.0


@generic
def known_side(w, stage):
    """Complete the known side of the `stage` in u[stage]: b plus the right-hand side f."""
    for i in range(w.y.shape[0]):
        w.u[stage, i] = w.b[i] + w.f[i]


@generic
def add_last_stage(w):
    """Turn the argument of the last stage into the end of the step."""
    for i in range(w.y.shape[0]):
        w.y1[i] += w.u[STAGES - 1, i]


@generic
def step_on(w, step, error):
    """Book an accepted step of size `step`: ACCEPTED.

    The next one may grow as the error allows, but not at once after a rejection; a step cut short by a target does not
    hold it back.
    """
    growth = growth_accepted(error, w.error_before)
    if w.just_rejected != 0:
        growth = min(growth, 1.0)
    w.h = max(w.h, step * growth) if step < w.h and growth >= 1.0 else step * growth
    w.error_before = error
    w.just_rejected = 0
    w.steps += 1
    return ACCEPTED


@generic
def step_back(w, step, error, trouble):
    """Book a rejected step of size `step`, its error or its trouble: REJECTED."""
    w.h = step * (growth_rejected(error) if error > 1.0 else AFTER_FAILURE)
    w.trouble = trouble
    w.just_rejected = 1
    w.rejected += 1
    clear_stages(w)
    return REJECTED


def attempt_of(rhs: Callable[..., int], guards: Callable[..., None]) -> Callable[..., int]:
    """The step of the system with this right-hand side and these guards."""

    @generic
    def attempt(w, par):
        """Try one step from (t, y), of the wanted size h or up to the target; ACCEPTED or REJECTED.

        f0, J and dfdt hold the right-hand side and its derivatives at (t, y). An accepted step ends at t1 with y1, f1,
        sig1, g1, and its stage values in u; h is the step wanted next.
        """
        n = w.J.shape[0]
        step = fitted_step(min(w.h, w.largest_step), w.target - w.t)
        w.t1 = w.target if step == w.target - w.t else w.t + step
        inverse_shift = step * GAMMA
        if factor(w, 1.0 / inverse_shift) != 0:
            return step_back(w, step, math.nan, NOT_SOLVED)
        copied(w.f0[:], w.f[:])
        for stage in range(STAGES):
            stage_sums(w, stage, step)
            if stage > 0:
                w.rhs_calls += 1
                t = w.t + ALPHA[stage] * step
                if rhs(t, w.y1[:n], w.disc[:], w.memo[:], par, w.f[:n], w.sig[:]) != 0:
                    return step_back(w, step, math.nan, LEFT_RANGE)
            known_side(w, stage)
            solve(w, stage, inverse_shift)
        add_last_stage(w)
        error = error_norm(w)
        if not error <= 1.0:
            return step_back(w, step, error, NOTHING_WRONG)
        w.rhs_calls += 1
        if rhs(w.t1, w.y1[:n], w.disc[:], w.memo[:], par, w.f1[:n], w.sig1[:]) != 0:
            return step_back(w, step, math.nan, LEFT_RANGE)
        guards(w.t1, w.y1[:n], w.disc[:], w.memo[:], par, w.sig1[:], w.g1[:])
        return step_on(w, step, error)

    return attempt  # type: ignore[no-any-return]
