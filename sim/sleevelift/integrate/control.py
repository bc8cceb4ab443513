"""How long the next step is: error norm, step-size control, the first step after a restart.

The error of a step is measured against scale_i = atol_i + rtol max(|y0_i|, |y1_i|) over the core states; quadratures do
not steer. The estimate u_8 is of order 4, so it shrinks as h^5.
Step sizes follow a digital filter: a liquid's ringing makes the error swing with its phase, and the elementary
controller answers each low with a step that is then rejected. Over the shipped cases the filter costs 17 % fewer
right-hand sides at the same error of the events' instants than PI control (a third of the rejections).
Source: Soderlind, Digital filters in adaptive time-stepping, ACM Transactions on Mathematical Software 29 (2003), H211b.
"""

import math

from sleevelift.integrate.tableau import STAGES
from sleevelift.jit import generic

SAFETY = 0.8
"""Aim below the tolerance, so that most steps are accepted: the filter rests at an error of SAFETY^10 = 0.11. With 0.9 (0.35) a
sixth of the hot case's steps were rejected, a third of them by a hair. 0.84 costs 2 % less and has twice the error in opening (p99
4.4 against 2.0 us over 600 scattered hot designs), over wide random designs both are alike."""
SHRINK_MOST, GROW_MOST = 0.1, 6.0
"""Bounds on the change from one step to the next: outside them the estimate is no longer trusted."""
ORDER_OF_ESTIMATE = 5.0
"""The estimate shrinks as h^5."""
FILTER = 4.0
"""Weight of the past in the filter, b of H211b; 3 to 6 do as well."""
START_ERROR = 0.1
"""Until a step's error passes this, or a step is rejected, a start goes on and steps grow as the last error alone allows: after a
jump the filter would feel its way up too slowly (hot case 2 %, dry case 7 % fewer right-hand sides)."""
SMALLEST_ERROR = 1e-6
"""Errors below this count as this: growth is bounded anyway, and the logarithm of 0 is avoided."""
AFTER_FAILURE = 0.25
"""Change of the step where a stage left the range of the model or the linear system could not be solved."""
AFTER_SECOND_REJECTION = 0.5
"""Largest change where the step before was rejected too: there is a kink in the step, where the estimate falls much slower than
h^5. Halving gets over it; a fifth fewer rejected steps over the hot case."""
SMALLEST_STEP = 16.0 * 2.220446049250313e-16
"""Relative to t: a few spacings of doubles, below which the clock does not resolve the stages."""
SMALLEST_INSTANT = 1e-15
"""The same at t = 0 (s)."""
NEAR_TARGET = 1.05
"""A step this much longer than wanted is taken if it reaches the target: no crumb is left before it."""
ERROR_CONSTANT = 1e-3
"""Size of the fifth-order error term in `first_step`; chosen on the toys for few steps and few rejections."""
REACH = 100.0
"""Tolerances a first step may move the solution by its slope: a hundredth of y at a relative tolerance of 1e-4. A rebound
through a few tolerances is then still resolved; ten times as much costs more in rejected steps than it gains."""


@generic
def error_norm(w):
    """Root mean square of u_8 / (atol + rtol max(|y|, |y1|)) over the core states; not a number if any part is.

    y1 stands in y_at, where the derivative at the end is asked for next; b is scratch by then.
    """
    u, y, y1, atol, square = w.u, w.y, w.y_at, w.atol, w.b
    for i in range(w.n_core):
        ratio = u[STAGES - 1, i] / (atol[i] + w.rtol * max(abs(y[i]), abs(y1[i])))
        square[i] = ratio * ratio
    total = 0.0
    for i in range(w.n_core):
        total += square[i]
    return math.sqrt(total / w.n_core)


@generic
def growth_accepted(error, error_before, step, step_before):
    """Factor on the step size after an accepted step of this error norm, and the one before it; step_before inf: a start.

    SAFETY (e e_before)^(-1/(b k)) (h/h_before)^(-1/b), k = 5; SAFETY e^(-1/k) after a start.
    """
    now = math.log(max(error, SMALLEST_ERROR))
    if step_before == math.inf:
        factor = SAFETY * math.exp(-now / ORDER_OF_ESTIMATE)
    else:
        both = now + math.log(max(error_before, SMALLEST_ERROR))
        factor = SAFETY * math.exp(-(both / ORDER_OF_ESTIMATE + math.log(step / step_before)) / FILTER)
    return min(max(factor, SHRINK_MOST), GROW_MOST)


@generic
def growth_rejected(error):
    """Factor on the step size after a rejected step with this error norm (above 1)."""
    return max(SAFETY * error ** (-1.0 / ORDER_OF_ESTIMATE), SHRINK_MOST)


@generic
def first_step(w):
    """A first step size (s) from y' = f and y'' = J f + df/dt, both at hand when a step starts.

    With scaled norms d1 = |y'| and d2 = |y''|, the solution moves like amplitude d1^2/d2 and rate d2/d1; its
    fifth-order error is about ERROR_CONSTANT (h d2/d1)^5 d1^2/d2, which is set to 1. Never below sqrt(2/d2), which
    moves y by one tolerance through y'' alone, nor beyond a change of REACH tolerances through y'.
    """
    J, f, y, dfdt, atol = w.J, w.f0, w.y, w.dfdt, w.atol
    d1 = 0.0
    d2 = 0.0
    for i in range(w.n_core):
        second = dfdt[i]
        for j in range(w.n_core):
            second += J[i, j] * f[j]
        scale = atol[i] + w.rtol * abs(y[i])
        d1 += (f[i] / scale) ** 2
        d2 += (second / scale) ** 2
    d1 = math.sqrt(d1 / w.n_core)
    d2 = math.sqrt(d2 / w.n_core)
    if not d2 > 0.0:
        return REACH / d1 if d1 > 0.0 else math.inf
    smallest = math.sqrt(2.0 / d2)
    if not d1 > 0.0:
        return smallest
    h = d1 / d2 * (d2 / (ERROR_CONSTANT * d1 * d1)) ** (1.0 / ORDER_OF_ESTIMATE)
    return max(min(h, REACH / d1), smallest)


@generic
def fitted_step(h, room):
    """The step (s) to try where the controller wants `h` and the target is `room` away: two halves before one and a
    crumb."""
    if h * NEAR_TARGET >= room:
        return room
    return 0.5 * room if h * 2.0 > room else h


@generic
def too_small(h, t):
    """Whether the clock does not resolve a step of `h` (s) at time `t`."""
    return h < SMALLEST_STEP * abs(t) + SMALLEST_INSTANT
