"""Reading a stored trajectory: when a signal crosses a level, and how far it went between two points.

A trajectory is the tuple (t, y, discrete_state, outputs, dense, count, inside): stored points, the dense coefficients of the
step ending at
each, and a vector to hold a state inside a step. Two points at one instant are the two sides of a jump.
"""

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.plant.margins import surge_margin
from sleevelift.plant.modes import scratch_views
from sleevelift.plant.rhs import rhs
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

CROSSING_TOLERANCE = 1e-10
"""s. Width to which a crossing is bracketed."""
CROSSING_LIMIT = 60
PARTS = 4
"""Parts of each of the two steps beside a stored extreme, at whose ends it is looked for; then at the vertex of a parabola."""
EDGE_HALVINGS = 20
"""Halvings to where a quantity begins to count: a millionth of a step."""
LEAST = -1e300
"""Where a quantity does not count."""


@bare_kernel
def interpolated(s, y0, y1, k, n, out):
    """Fill `out` (n,) with the dense output at the fraction s of a stored step from y0 to y1 (`sleevelift.integrate.dense`)."""
    rest = 1.0 - s
    for i in range(n):
        out[i] = rest * y0[i] + s * (y1[i] + rest * (k[0, i] + s * (k[1, i] + s * k[2, i])))


@bare_kernel
def signals_inside(k, s, trajectory, event_memory, par):
    """(status, signals) at the fraction s of the step that ends at point k; status nonzero: cannot be evaluated."""
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    interpolated(s, ys[k - 1], ys[k], dense[k], y.shape[0], y)
    dy, outputs = scratch_views(y, par[3])
    return rhs(t[k - 1] + s * (t[k] - t[k - 1]), y, discrete_state[k - 1], event_memory, par, dy, outputs), outputs


@bare_kernel
def crossing_instant(k, signal, level, trajectory, event_memory, par):
    """Instant at which `signal` crosses `level` between points k-1 and k, s (it is known to)."""
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    h = t[k] - t[k - 1]
    if h <= 0.0:
        return t[k]
    lo = 0.0
    hi = 1.0
    f_lo = stored_outputs[k - 1, signal] - level
    f_hi = stored_outputs[k, signal] - level
    side = 0
    for _ in range(CROSSING_LIMIT):
        if (hi - lo) * h <= CROSSING_TOLERANCE or f_hi == f_lo:
            break
        s = (lo * f_hi - hi * f_lo) / (f_hi - f_lo)
        s = min(max(s, lo + 0.01 * (hi - lo)), hi - 0.01 * (hi - lo))
        status, outputs = signals_inside(k, s, trajectory, event_memory, par)
        if status != 0:
            break
        f = outputs[signal] - level
        if (f > 0.0) == (f_hi > 0.0):
            hi = s
            f_hi = f
            f_lo *= 0.5 if side > 0 else 1.0
            side = 1
        else:
            lo = s
            f_lo = f
            f_hi *= 0.5 if side < 0 else 1.0
            side = -1
    return t[k - 1] + hi * h


FIRST_RISE, LAST_RISE, LAST_FALL = 0, 1, 2
"""Which crossing `crossing` looks for."""


@bare_kernel
def crossing(kind, signal, level, start, end, trajectory, event_memory, par):
    """Instant, s, at which `signal` crosses `level` in [start, end]; nan if it does not.

    FIRST_RISE: the first time it is at the level or above (already above at the start: the start). LAST_RISE: the last time it
    rises to it. LAST_FALL: the last time it falls below it; nan where it ends above.
    """
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    found = -1
    for k in range(1, count):
        if t[k] < start or t[k] > end:
            continue
        above = stored_outputs[k, signal] >= level
        before = stored_outputs[k - 1, signal] >= level
        if kind == LAST_FALL:
            if before and not above:
                found = k
        elif above and not before:
            found = k
            if kind == FIRST_RISE:
                break
        elif kind == FIRST_RISE and above:
            return max(t[k - 1], start)
    if found < 0 or (kind == LAST_FALL and stored_outputs[count - 1, signal] >= level):
        return np.nan
    return crossing_instant(found, signal, level, trajectory, event_memory, par)


@bare_kernel
def last_lift_rise(level, start, end, trajectory, par):
    """Instant of the last upward crossing of lift through `level` in [start, end], s; nan if none."""
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    i = par[0].index.lift_height
    for k in range(count - 1, 0, -1):
        if t[k] > end or t[k] < start:
            continue
        if ys[k, i] >= level and ys[k - 1, i] < level:
            lo = 0.0
            hi = 1.0
            for _ in range(CROSSING_LIMIT):
                if (hi - lo) * (t[k] - t[k - 1]) <= CROSSING_TOLERANCE:
                    break
                s = 0.5 * (lo + hi)
                interpolated(s, ys[k - 1], ys[k], dense[k], y.shape[0], y)
                if y[i] >= level:
                    hi = s
                else:
                    lo = s
            return t[k - 1] + hi * (t[k] - t[k - 1])
    return np.nan


SURGE = 100
RATIO_MOST = 101
RATIO_LEAST = 102
BOTH_SHARE = 103
"""Quantities beside the signals themselves that `quantity` evaluates; all but BOTH_SHARE are looked at for their maximum."""


@bare_kernel
def quantity(which, outputs, event_memory, plant):
    """A signal, or one of the derived quantities: -surge margin, O/F, -O/F, least of the two flows over their reference."""
    if which == SURGE:
        return -surge_margin(outputs, plant)
    if which == RATIO_MOST or which == RATIO_LEAST:
        if outputs[S_FUEL] <= 0.0:
            return -1e300
        ratio = outputs[S_OXIDIZER] / outputs[S_FUEL]
        return ratio if which == RATIO_MOST else -ratio
    if which == BOTH_SHARE:
        return min(outputs[S_OXIDIZER] / event_memory[M_REFERENCE_O], outputs[S_FUEL] / event_memory[M_REFERENCE_F])
    return outputs[which]


@bare_kernel
def counts(which, k, start, end, trajectory, event_memory, plant):
    """Whether point k counts in the extreme of a quantity."""
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    if t[k] < start or t[k] > end:
        return False
    if which == SURGE:
        before = discrete_state[k, D_COMMANDED] == 0 and discrete_state[k, D_MODE] == SEATED
        return before or (discrete_state[k, D_ON] == 0 and discrete_state[k, D_CONTACT] != 0)
    if which == RATIO_MOST or which == RATIO_LEAST:
        return quantity(BOTH_SHARE, stored_outputs[k], event_memory, plant) >= 0.1
    return True


@bare_kernel
def value_inside(which, k, s, start, end, trajectory, event_memory, par):
    """A quantity at the fraction s of the step that ends at point k; LEAST where it does not count."""
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    at = t[k - 1] + s * (t[k] - t[k - 1])
    if at < start or at > end:
        return LEAST
    status, outputs = signals_inside(k, s, trajectory, event_memory, par)
    if status != 0:
        return LEAST
    if which == RATIO_MOST or which == RATIO_LEAST:
        if quantity(BOTH_SHARE, outputs, event_memory, par[0]) < 0.1:
            return LEAST
    elif which == SURGE and not counts(which, k - 1, start, end, trajectory, event_memory, par[0]):
        return LEAST
    return quantity(which, outputs, event_memory, par[0])


@bare_kernel
def value_at_edge(which, k, lo, hi, rises, start, end, trajectory, event_memory, par):
    """(fraction of the step, value) where a quantity begins (rises) or ceases to count between two fractions of step k."""
    value = LEAST
    at = lo
    for _ in range(EDGE_HALVINGS):
        s = 0.5 * (lo + hi)
        v = value_inside(which, k, s, start, end, trajectory, event_memory, par)
        if v > LEAST:
            value = v
            at = s
        if (v > LEAST) == rises:
            hi = s
        else:
            lo = s
    return at, value


@bare_kernel
def greatest(which, start, end, trajectory, event_memory, par):
    """(greatest value of a quantity over [start, end], its instant s); (nan, nan) if no point counts.

    Looked for among the stored points, then inside the two steps beside the best one: at the ends of PARTS parts, and at the
    vertex of the parabola through the greatest of those and its neighbours; and where in them it begins or ceases to count.
    """
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    plant = par[0]
    best = -1
    value = -np.inf
    for k in range(count):
        if counts(which, k, start, end, trajectory, event_memory, plant):
            v = quantity(which, stored_outputs[k], event_memory, plant)
            if v > value:
                value = v
                best = k
    if best < 0:
        return np.nan, np.nan
    instant = t[best]
    for k in range(best, min(best + 2, count)):
        if k == 0 or t[k] <= t[k - 1]:
            continue
        h = t[k] - t[k - 1]
        left = LEAST
        if counts(which, k - 1, start, end, trajectory, event_memory, plant):
            left = quantity(which, stored_outputs[k - 1], event_memory, plant)
        middle = left
        right = left
        top = 0.0
        before = 0.0
        crest = 0.0
        after = 0.0
        for i in range(1, PARTS + 1):
            # (left, middle, right): three values in a row, the last one new
            left = middle
            middle = right
            if i < PARTS:
                right = value_inside(which, k, i / PARTS, start, end, trajectory, event_memory, par)
            elif counts(which, k, start, end, trajectory, event_memory, plant):
                right = quantity(which, stored_outputs[k], event_memory, plant)
            else:
                right = LEAST
            if right > value:
                value = right
                instant = t[k - 1] + i / PARTS * h
            if (middle > LEAST) != (right > LEAST):
                # the quantity begins or ceases to count here, and may be greatest at that very instant
                s, v = value_at_edge(
                    which, k, (i - 1.0) / PARTS, i / PARTS, right > LEAST, start, end, trajectory, event_memory, par
                )
                if v > value:
                    value = v
                    instant = t[k - 1] + s * h
            if i > 1 and middle >= left and middle >= right and middle > LEAST:
                top = (i - 1.0) / PARTS
                before = left
                crest = middle
                after = right
        if top > 0.0 and before > LEAST and after > LEAST:
            bend = before - 2.0 * crest + after
            if bend < 0.0:
                s = top + 0.5 * (before - after) / (bend * PARTS)
                v = value_inside(which, k, s, start, end, trajectory, event_memory, par)
                if v > value:
                    value = v
                    instant = t[k - 1] + s * h
    return value, instant
