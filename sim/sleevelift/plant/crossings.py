"""Reading a stored trajectory on its dense output: the greatest of a quantity, and when one crosses a level.

A trajectory is the tuple (t, y, discrete_state, outputs, dense, count, inside): stored points, the dense coefficients of the
step ending at each, and a vector to hold a state inside a step. Two points at one instant are the two sides of a jump.

Stored points are where the step control wanted them, so an extreme, or the instant a quantity begins to count, mostly lies
inside a step. Every step of the window is asked whether its inside may matter, from what the stored points say:

    a step from value v1 to v2, one before it from v0, one after it to v3: a parabola v1 + (v2 - v1) s + A s (1 - s) reaches
    (A - |v2 - v1|)^2/(4 A) beyond the higher end where A > |v2 - v1|, else nowhere. A: the greater of the parabolas' through
    (v0, v1, v2) and (v1, v2, v3), times BEND_SAFETY; where jumps bound the step on both sides the step is looked into.

A step that may matter is evaluated at its middle, then, where that does not rule it out, at quarters; local extremes are refined
by parabolas in a bracket, edges by false position. Windows [start, end] are closed, in seconds.
"""

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.plant.modes import scratch_views
from sleevelift.plant.quantities import BOTH_FLOW, LEAST, ON_SEAT, WHILE_LIT, excess, quantity
from sleevelift.plant.rhs import rhs
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

CROSSING_TOLERANCE = 1e-10
"""s. Width to which a crossing is bracketed."""
CROSSING_LIMIT = 60
PARTS = 4
"""Parts of a step that may matter."""
BEND_SAFETY = 4.0
"""-. How much more a quantity is assumed to bend inside a step than the stored points about it say."""
RESOLUTION = 1e-6
"""-. Share of itself by which a greatest value must be beaten for a step to be looked into."""
REFINEMENTS = 10
"""Evaluations at most to refine one local extreme."""

FIRST_RISE, LAST_RISE, LAST_FALL = 0, 1, 2
"""Which crossing `crossing` looks for."""


@bare_kernel
def interpolated(s, y0, y1, k, n, out):
    """Fill `out` (n,) with the dense output at the fraction s of a stored step from y0 to y1 (`sleevelift.integrate.dense`)."""
    rest = 1.0 - s
    for i in range(n):
        out[i] = rest * y0[i] + s * (y1[i] + rest * (k[0, i] + s * (k[1, i] + s * k[2, i])))


@bare_kernel
def at_point(k, which, sign, condition, trajectory, event_memory, plant):
    """(sign times the quantity, excess of its condition) at a stored point."""
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    value = sign * quantity(which, ys[k], stored_outputs[k], plant)
    return value, excess(condition, stored_outputs[k], discrete_state[k], event_memory, plant)


@bare_kernel
def in_step(k, s, which, sign, condition, trajectory, event_memory, par):
    """(sign times the quantity, excess of its condition) at the fraction s of the step that ends at point k.

    LEAST, and as the excess -1, where it cannot be evaluated.
    """
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    interpolated(s, ys[k - 1], ys[k], dense[k], y.shape[0], y)
    dy, outputs = scratch_views(y, par[3])
    if rhs(t[k - 1] + s * (t[k] - t[k - 1]), y, discrete_state[k - 1], event_memory, par, dy, outputs) != 0:
        return LEAST, -1.0
    return sign * quantity(which, y, outputs, par[0]), excess(condition, outputs, discrete_state[k - 1], event_memory, par[0])


@bare_kernel
def at_fraction(k, s, which, sign, condition, trajectory, event_memory, par):
    """`in_step`, at the ends of the step what is stored there."""
    if s <= 0.0:
        return at_point(k - 1, which, sign, condition, trajectory, event_memory, par[0])
    if s >= 1.0:
        return at_point(k, which, sign, condition, trajectory, event_memory, par[0])
    return in_step(k, s, which, sign, condition, trajectory, event_memory, par)


@bare_kernel
def bend(v0, v1, v2, w1, w2):
    """c w2^2 of the parabola v = ... + c t^2 through three values, widths w1 and w2 between them; -1 where one is not positive."""
    if not (w1 > 0.0 and w2 > 0.0):
        return -1.0
    return abs((v2 - v1) / w2 - (v1 - v0) / w1) / (w1 + w2) * w2 * w2


@bare_kernel
def reach(bending, difference):
    """How far a parabola of such a bend over an interval reaches beyond the higher of its ends, which differ so much."""
    difference = abs(difference)
    if bending <= difference:
        return 0.0
    return (bending - difference) * (bending - difference) / (4.0 * bending)


@bare_kernel
def step_reach(v0, v1, v2, v3, w0, w1, w2):
    """How far a quantity may reach inside a step beyond its ends v1 and v2, from the values and widths about it; inf: unknown."""
    known = max(bend(v0, v1, v2, w0, w1), bend(v3, v2, v1, w2, w1))
    return reach(BEND_SAFETY * known, v2 - v1) if known >= 0.0 else np.inf


@bare_kernel
def edge_in_step(k, lo, hi, c_lo, c_hi, which, sign, condition, level, trajectory, event_memory, par):
    """(fraction, value there) at which the excess of a condition, or the value over `level`, changes sign in [lo, hi] of step k.

    `level` nan: the condition's. c_lo and c_hi: excess at lo and hi, one below 0 and one not. The end of the bracket that counts.
    """
    t = trajectory[0]
    h = t[k] - t[k - 1]
    counted = hi if c_hi >= 0.0 else lo
    value = LEAST
    f_lo, f_hi = c_lo, c_hi
    side = 0
    for _ in range(CROSSING_LIMIT):
        if (hi - lo) * h <= CROSSING_TOLERANCE or f_hi == f_lo:
            break
        s = (lo * f_hi - hi * f_lo) / (f_hi - f_lo)
        s = min(max(s, lo + 0.01 * (hi - lo)), hi - 0.01 * (hi - lo))
        v, c = in_step(k, s, which, sign, condition, trajectory, event_memory, par)
        if v == LEAST:
            break
        f = c
        if happened(level):
            f = v - level
        if f >= 0.0:
            counted = s
            value = v
        if (f >= 0.0) == (c_hi >= 0.0):
            hi = s
            f_hi = f
            f_lo *= 0.5 if side > 0 else 1.0
            side = 1
        else:
            lo = s
            f_lo = f
            f_hi *= 0.5 if side < 0 else 1.0
            side = -1
    return counted, value


@bare_kernel
def refined(k, a, va, m, vm, b, vb, best, at, which, sign, condition, trajectory, event_memory, par):
    """(greatest value, its fraction of step k): `best` at `at`, or what a search by parabolas in the bracket (a, m, b) finds."""
    for _ in range(REFINEMENTS):
        left = (vm - va) / (m - a)
        right = (vb - vm) / (b - m)
        curve = (right - left) / (b - a)
        if not curve < 0.0:
            break
        # the parabola's slope at m is that of its chords, weighted crosswise
        slope = (left * (b - m) + right * (m - a)) / (b - a)
        s = m - 0.5 * slope / curve
        if not (a < s < b) or vm - 0.25 * slope * slope / curve <= max(best, vm) + RESOLUTION * abs(best) * 0.1:
            break
        if s == m:
            break
        v, c = in_step(k, s, which, sign, condition, trajectory, event_memory, par)
        if c < 0.0 or v == LEAST:
            break
        if v > best:
            best = v
            at = s
        if s < m:
            if v >= vm:
                b, vb, m, vm = m, vm, s, v
            else:
                a, va = s, v
        elif v >= vm:
            a, va, m, vm = m, vm, s, v
        else:
            b, vb = s, v
    return best, at


@bare_kernel
def parts_matter(v_lo, v_mid, v_hi, level):
    """Whether a quantity known at both ends and the middle of a step may exceed a level in one of its halves."""
    bending = 0.5 * BEND_SAFETY * abs(0.5 * (v_lo + v_hi) - v_mid)
    most = max(max(v_lo, v_mid) + reach(bending, v_mid - v_lo), max(v_mid, v_hi) + reach(bending, v_hi - v_mid))
    return most > level


@bare_kernel
def look_into(k, lo, hi, best, at, which, sign, condition, trajectory, event_memory, par):
    """(greatest value, its instant) of `best` at `at` and of what counts between the fractions lo and hi of step k."""
    t = trajectory[0]
    v_lo, c_lo = at_fraction(k, lo, which, sign, condition, trajectory, event_memory, par)
    v_hi, c_hi = at_fraction(k, hi, which, sign, condition, trajectory, event_memory, par)
    v_mid, c_mid = in_step(k, 0.5 * (lo + hi), which, sign, condition, trajectory, event_memory, par)
    if (c_lo >= 0.0) == (c_mid >= 0.0) and (c_mid >= 0.0) == (c_hi >= 0.0):
        if c_mid >= 0.0:
            matters = parts_matter(v_lo, v_mid, v_hi, best + RESOLUTION * abs(best)) or parts_matter(-c_lo, -c_mid, -c_hi, 0.0)
        else:
            matters = parts_matter(c_lo, c_mid, c_hi, 0.0)
        if not matters:
            return best, at
    # the last two points in a row that count: (x, v) and before them (x_before, v_before); LEAST where there is none
    found = np.nan
    x = x_before = lo
    v = v_before = LEAST
    s_last, c_last = lo, c_lo
    for i in range(PARTS + 1):
        s = lo + (hi - lo) * i / PARTS
        if i == 0:
            now, c = v_lo, c_lo
        elif 2 * i == PARTS:
            now, c = v_mid, c_mid
        elif i == PARTS:
            now, c = v_hi, c_hi
        else:
            now, c = in_step(k, s, which, sign, condition, trajectory, event_memory, par)
        flips = (c >= 0.0) != (c_last >= 0.0)
        for end in range(2):
            # where it begins or ceases to count that edge is a point of its own, before this one
            if end == 0:
                if not flips:
                    continue
                new_x, new_v = edge_in_step(k, s_last, s, c_last, c, which, sign, condition, np.nan, trajectory, event_memory, par)
                if c >= 0.0:
                    v = v_before = LEAST
            else:
                if c < 0.0:
                    v = v_before = LEAST
                    continue
                new_x, new_v = s, now
            if new_v > best:
                best = new_v
                found = new_x
            if new_v > LEAST and v > LEAST and v_before > LEAST and x_before < x < new_x:
                best, found = refined(
                    k, x_before, v_before, x, v, new_x, new_v, best, found, which, sign, condition, trajectory, event_memory, par
                )
            x_before, v_before = x, v
            x, v = new_x, new_v
        s_last, c_last = s, c
    if happened(found):
        at = t[k - 1] + found * (t[k] - t[k - 1])
    return best, at


@bare_kernel
def first_point(start, trajectory):
    """Index of the first stored point at or after an instant."""
    t = trajectory[0]
    lo = 0
    hi = trajectory[5]
    while lo < hi:
        middle = (lo + hi) // 2
        if t[middle] < start:
            lo = middle + 1
        else:
            hi = middle
    return lo


@bare_kernel
def point_before(instant, trajectory):
    """Index of the last stored point at or before an instant; the first of two at one instant."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    best = 0
    for k in range(count):
        if t[k] > instant:
            break
        if k == 0 or t[k] > t[best]:
            best = k
    return best


@bare_kernel
def best_point(which, sign, condition, start, end, trajectory, event_memory, plant):
    """(greatest value of sign times a quantity over the stored points of a window, its instant); LEAST where none counts."""
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    best = LEAST
    at = np.nan
    for k in range(first_point(start, trajectory), count):
        if t[k] > end:
            break
        v, c = at_point(k, which, sign, condition, trajectory, event_memory, plant)
        if c >= 0.0 and v > best:
            best = v
            at = t[k]
    return best, at


@bare_kernel
def greatest(which, sign, condition, start, end, trajectory, event_memory, par):
    """(greatest value of sign times a quantity while its condition is met in [start, end], its instant s); nan if it never is.

    which: a signal or a quantity; sign 1, or -1 for the least. See the head of this room for how it is looked for.
    """
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    plant = par[0]
    best, at = best_point(which, sign, condition, start, end, trajectory, event_memory, plant)
    first = max(first_point(start, trajectory), 1)
    v0 = v1 = v2 = v3 = c0 = c1 = c2 = c3 = 0.0
    ready = -1
    for k in range(first, count):
        if t[k - 1] >= end:
            break
        if t[k] <= t[k - 1] or t[k] <= start:
            continue
        if ready == k - 1:
            v0, v1, v2 = v1, v2, v3
            c0, c1, c2 = c1, c2, c3
        else:
            v0, c0 = at_point(max(k - 2, 0), which, sign, condition, trajectory, event_memory, plant)
            v1, c1 = at_point(k - 1, which, sign, condition, trajectory, event_memory, plant)
            v2, c2 = at_point(k, which, sign, condition, trajectory, event_memory, plant)
        v3, c3 = at_point(min(k + 1, count - 1), which, sign, condition, trajectory, event_memory, plant)
        ready = k
        if c1 < 0.0 and (condition == ON_SEAT or condition == WHILE_LIT):
            continue
        w0 = t[k - 1] - t[max(k - 2, 0)]
        w1 = t[k] - t[k - 1]
        w2 = t[min(k + 1, count - 1)] - t[k]
        cut = t[k - 1] < start or t[k] > end
        matters = cut
        if condition == BOTH_FLOW and not matters:
            # an edge inside, or one that the condition may cross and come back over
            matters = (c1 >= 0.0) != (c2 >= 0.0) or min(abs(c1), abs(c2)) < step_reach(c0, c1, c2, c3, w0, w1, w2)
        if not matters and (c1 >= 0.0 or c2 >= 0.0):
            matters = max(v1, v2) + step_reach(v0, v1, v2, v3, w0, w1, w2) > best + RESOLUTION * abs(best)
        if matters:
            lo = max(start - t[k - 1], 0.0) / w1
            hi = min(end - t[k - 1], w1) / w1
            best, at = look_into(k, lo, hi, best, at, which, sign, condition, trajectory, event_memory, par)
    if happened(at):
        return best, at
    return np.nan, np.nan


@bare_kernel
def crossing_in_step(k, lo, hi, rises, last, which, level, always, trajectory, event_memory, par):
    """Instant of the first, or last, crossing of a level in the wanted direction between two fractions of step k; nan if none."""
    t = trajectory[0]
    found = np.nan
    s_before = lo
    before = at_fraction(k, lo, which, 1.0, always, trajectory, event_memory, par)[0] - level
    for i in range(1, PARTS + 1):
        s = lo + (hi - lo) * i / PARTS
        now = at_fraction(k, s, which, 1.0, always, trajectory, event_memory, par)[0] - level
        if (now >= 0.0) != (before >= 0.0) and (now >= 0.0) == rises:
            edge = edge_in_step(k, s_before, s, before, now, which, 1.0, always, level, trajectory, event_memory, par)[0]
            found = t[k - 1] + edge * (t[k] - t[k - 1])
            if not last:
                break
        s_before, before = s, now
    return found


@bare_kernel
def may_cross(k, which, level, trajectory, plant):
    """Whether a quantity crosses a level in the step that ends at point k, or may cross it and come back."""
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    v1 = quantity(which, ys[k - 1], stored_outputs[k - 1], plant)
    v2 = quantity(which, ys[k], stored_outputs[k], plant)
    if (v1 >= level) != (v2 >= level):
        return True
    near = min(abs(v1 - level), abs(v2 - level))
    before = max(k - 2, 0)
    after = min(k + 1, count - 1)
    v0 = quantity(which, ys[before], stored_outputs[before], plant)
    v3 = quantity(which, ys[after], stored_outputs[after], plant)
    return near < step_reach(v0, v1, v2, v3, t[k - 1] - t[before], t[k] - t[k - 1], t[after] - t[k])


@bare_kernel
def jump_crosses(k, rises, which, level, trajectory, plant):
    """Whether a quantity jumps over a level, in the wanted direction, between two points of one instant."""
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    before = quantity(which, ys[k - 1], stored_outputs[k - 1], plant) >= level
    after = quantity(which, ys[k], stored_outputs[k], plant) >= level
    return before != after and after == rises


@bare_kernel
def ends_above(which, level, end, trajectory, plant):
    """Whether a quantity is at a level or above at the last stored point of a window."""
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    k = count - 1
    while k > 0 and t[k] > end:
        k -= 1
    return quantity(which, ys[k], stored_outputs[k], plant) >= level


@bare_kernel
def crossing(kind, which, level, start, end, trajectory, event_memory, par):
    """Instant, s, at which a quantity crosses `level` in [start, end]; nan if it does not.

    FIRST_RISE: the first time it is at the level or above (already above at the start: the start). LAST_RISE: the last time it
    rises to it. LAST_FALL: the last time it falls below it; nan where it ends above.
    """
    t, ys, discrete_state, stored_outputs, dense, count, y = trajectory
    plant = par[0]
    if kind == LAST_FALL and ends_above(which, level, end, trajectory, plant):
        return np.nan
    first = first_point(start, trajectory)
    if kind == FIRST_RISE and first < count and t[first] <= end:
        if quantity(which, ys[first], stored_outputs[first], plant) >= level and t[first] <= start:
            return start
    rises = kind != LAST_FALL
    last = kind != FIRST_RISE
    always = kind - kind  # ALWAYS, as a plain number: a literal would have all below compiled once more
    low = max(first, 1)
    top = low
    while top < count - 1 and (t[top] < end or t[top + 1] <= end):
        top += 1
    for i in range(low, top + 1):
        k = top + low - i if last else i
        if t[k - 1] > end or t[k] < start:
            continue
        w = t[k] - t[k - 1]
        if w <= 0.0:
            if jump_crosses(k, rises, which, level, trajectory, plant):
                return t[k]
            continue
        lo = max(start - t[k - 1], 0.0) / w
        hi = min(end - t[k - 1], w) / w
        if lo < hi and may_cross(k, which, level, trajectory, plant):
            found = crossing_in_step(k, lo, hi, rises, last, which, level, always, trajectory, event_memory, par)
            if happened(found):
                return found
    return np.nan
