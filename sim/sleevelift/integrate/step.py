"""One step of Rodas5P: eight stages, each a right-hand side and a solve with the same matrix (formulas in `tableau`).

    begin_step -> stage_answered (x 7) -> (the end is asked for) -> take_step: y1, f1, outputs1, g1, u
        ^---- step_back, smaller -----------------'

Functions go on until the system is needed and return the request (see `phases`).
"""

import math

from sleevelift.integrate.control import (
    AFTER_FAILURE,
    AFTER_SECOND_REJECTION,
    START_ERROR,
    error_norm,
    fitted_step,
    growth_accepted,
    growth_rejected,
    too_small,
)
from sleevelift.integrate.linear import factor, invert, solve
from sleevelift.integrate.phases import (
    BEGINNING,
    DERIVATIVE,
    DERIVATIVE_AND_GUARDS,
    ENDING,
    GO_ON,
    LEFT_RANGE,
    NO_TROUBLE,
    NOT_SOLVED,
    OVER,
    STAGING,
)
from sleevelift.integrate.status import OUT_OF_RANGE, STEP_TOO_SMALL, TOO_MANY_STEPS
from sleevelift.integrate.tableau import ALPHA, GAMMA, STAGES, A, C, D
from sleevelift.jit import generic
from sleevelift.jit.vectors import combine_rows


@generic
def stage_sums(w, stage):
    """Fill y_at with the argument of the 0-based `stage`, y + sum A u, and b with sum C u / h + h D df/dt."""
    y, y_at, dfdt, known = w.y, w.y_at, w.dfdt, w.b
    weight = w.step * D[stage]
    per_h = 1.0 / w.step
    combine_rows(y_at, A[stage], w.u, stage)
    combine_rows(known, C[stage], w.u, stage)
    for i in range(y.shape[0]):
        y_at[i] += y[i]
        known[i] = known[i] * per_h + weight * dfdt[i]


@generic
def begin_step(w):
    """Start a step from (t, y) of the size wanted, or up to the target; its first stage has its derivative, f0,
    already.

    J and dfdt are those of (t, y).
    """
    room = w.target - w.t
    w.step = fitted_step(min(w.h, w.largest_step), room)
    w.t1 = w.target if w.step == room else w.t + w.step
    factor(w, 1.0 / (w.step * GAMMA))
    if w.row_exchange == 0:
        invert(w, 1.0 / (w.step * GAMMA))
    for i in range(w.f0.shape[0]):
        w.f_at[i] = w.f0[i]
        w.b[i] = w.step * D[0] * w.dfdt[i]
    w.stage = 0
    w.answer = 0
    w.phase = STAGING
    return GO_ON


@generic
def stage_answered(w):
    """Solve the stage whose derivative stands in f_at and whose sums in b; ask for that of the next, or at the end."""
    if w.answer != 0:
        return step_back(w, math.nan, LEFT_RANGE)
    stage = w.stage
    for i in range(w.b.shape[0]):
        w.b[i] += w.f_at[i]
    solve(w, stage, 1.0 / (w.step * GAMMA))
    stage += 1
    if stage < STAGES:
        stage_sums(w, stage)
        w.stage = stage
        w.t_at = w.t + ALPHA[stage] * w.step
        return DERIVATIVE
    for i in range(w.y.shape[0]):
        w.y_at[i] += w.u[STAGES - 1, i]
    w.error = error_norm(w)
    if not w.error <= 1.0:
        return step_back(w, w.error, NO_TROUBLE if w.error > 1.0 else NOT_SOLVED)
    w.t_at = w.t1
    w.phase = ENDING
    return DERIVATIVE_AND_GUARDS


@generic
def take_step(w):
    """Accept the step whose end was asked for.

    The next one may grow as the error allows, but not at once after a rejection; a step cut short by a target does not
    hold it back.
    """
    for i in range(w.y1.shape[0]):
        w.y1[i] = w.y_at[i]
        w.f1[i] = w.f_at[i]
    for i in range(w.outputs1.shape[0]):
        w.outputs1[i] = w.outputs_at[i]
    for i in range(w.g1.shape[0]):
        w.g1[i] = w.g_at[i]
    if w.error > START_ERROR:
        w.starting = 0
    growth = growth_accepted(w.error, w.error_before, w.step, math.inf if w.starting != 0 else w.h_before)
    if w.just_rejected != 0:
        growth = min(growth, 1.0)
    w.h = max(w.h, w.step * growth) if w.step < w.h and growth >= 1.0 else w.step * growth
    w.error_before = w.error
    w.just_rejected = 0
    w.steps += 1


@generic
def step_back(w, error, trouble):
    """Book a rejected step, its error or its trouble: try again, smaller, or end the run.

    Leaving the range is an event too: it is narrowed down to the tolerance of events. A state that creeps along the range's edge, a
    rounding away from it, would else take steps of any smallness for ever.
    """
    factor = growth_rejected(error) if error > 1.0 else AFTER_FAILURE
    w.h = w.step * (min(factor, AFTER_SECOND_REJECTION) if w.just_rejected != 0 else factor)
    w.just_rejected = 1
    w.starting = 0
    w.rejected += 1
    left_range = trouble == LEFT_RANGE
    if too_small(w.h, w.t) or (left_range and w.h < w.event_tolerance):
        w.status = OUT_OF_RANGE if left_range else STEP_TOO_SMALL
        return OVER
    if w.steps + w.rejected >= w.step_cap:
        w.status = TOO_MANY_STEPS
        return OVER
    w.phase = BEGINNING
    return GO_ON
