"""Reading a stored trajectory: when a signal crosses a level, and how far it went between two points.

A trajectory is the tuple (t, y, disc, sig, dense, count): stored points, the dense coefficients of the step ending at each.
Two points at one instant are the two sides of a jump.
"""

import numpy as np

from sim.jit import kernel
from sim.plant.rhs import rhs
from sim.plant.state import *  # noqa: F403 - the index names are this room's alphabet

CROSSING_TOLERANCE = 1e-10
"""s. Width to which a crossing is bracketed."""
CROSSING_LIMIT = 60
REFINEMENTS = 12
"""Points looked at in each of the two steps beside a stored extreme."""


@kernel
def interpolated(s, y0, y1, k, n, out):
    """Fill `out` (n,) with the dense output at the fraction s of a stored step from y0 to y1 (`sim.integrate.dense`)."""
    rest = 1.0 - s
    for i in range(n):
        out[i] = rest * y0[i] + s * (y1[i] + rest * (k[0, i] + s * (k[1, i] + s * k[2, i])))


@kernel
def signals_inside(k, s, trajectory, memo, par, y, dy, sig):
    """Fill y and sig at the fraction s of the step that ends at point k; 0, or nonzero where they cannot be evaluated."""
    t, ys, disc, sigs, dense, count = trajectory
    interpolated(s, ys[k - 1], ys[k], dense[k], y.shape[0], y)
    return rhs(t[k - 1] + s * (t[k] - t[k - 1]), y, disc[k - 1], memo, par, dy, sig)


@kernel
def crossing_instant(k, signal, level, trajectory, memo, par):
    """Instant at which `signal` crosses `level` between points k-1 and k, s (it is known to)."""
    t, ys, disc, sigs, dense, count = trajectory
    h = t[k] - t[k - 1]
    if h <= 0.0:
        return t[k]
    y = np.empty(ys.shape[1])
    dy = np.zeros(ys.shape[1])
    sig = np.zeros(N_SIGNAL)
    lo = 0.0
    hi = 1.0
    f_lo = sigs[k - 1, signal] - level
    f_hi = sigs[k, signal] - level
    side = 0
    for _ in range(CROSSING_LIMIT):
        if (hi - lo) * h <= CROSSING_TOLERANCE or f_hi == f_lo:
            break
        s = (lo * f_hi - hi * f_lo) / (f_hi - f_lo)
        s = min(max(s, lo + 0.01 * (hi - lo)), hi - 0.01 * (hi - lo))
        if signals_inside(k, s, trajectory, memo, par, y, dy, sig) != 0:
            break
        f = sig[signal] - level
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


@kernel
def first_rise(signal, level, start, end, trajectory, memo, par):
    """Instant of the first crossing from below `level` to it or above in [start, end], s; already above at start: start; nan."""
    t, ys, disc, sigs, dense, count = trajectory
    for k in range(count):
        if t[k] < start or t[k] > end:
            continue
        if sigs[k, signal] >= level:
            if k == 0 or t[k - 1] < start or sigs[k - 1, signal] >= level:
                return max(t[k], start)
            return crossing_instant(k, signal, level, trajectory, memo, par)
    return np.nan


@kernel
def last_rise(signal, level, start, end, trajectory, memo, par):
    """Instant of the last crossing from below `level` to it or above in [start, end], s; nan if none."""
    t, ys, disc, sigs, dense, count = trajectory
    for k in range(count - 1, 0, -1):
        if t[k] > end or t[k] < start:
            continue
        if sigs[k, signal] >= level and sigs[k - 1, signal] < level:
            return crossing_instant(k, signal, level, trajectory, memo, par)
    return np.nan


@kernel
def last_fall(signal, level, start, trajectory, memo, par):
    """Instant of the last crossing from `level` or above to below it after start, s; nan if none or if it ends above."""
    t, ys, disc, sigs, dense, count = trajectory
    if count == 0 or sigs[count - 1, signal] >= level:
        return np.nan
    for k in range(count - 1, 0, -1):
        if t[k] < start:
            break
        if sigs[k, signal] < level and sigs[k - 1, signal] >= level:
            return crossing_instant(k, signal, level, trajectory, memo, par)
    return np.nan


@kernel
def last_lift_rise(level, start, end, trajectory, par):
    """Instant of the last upward crossing of lift through `level` in [start, end], s; nan if none."""
    t, ys, disc, sigs, dense, count = trajectory
    i = par[0].index.lift_height
    y = np.empty(ys.shape[1])
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


@kernel
def quantity(which, sig, memo, plant):
    """A signal, or one of the derived quantities: -surge margin, O/F, -O/F, least of the two flows over their reference."""
    if which == SURGE:
        s = plant.sleeve
        hold = s.preload + s.weight + plant.friction.ratio * sig[S_RUN] * plant_least_friction(plant) + sig[S_SPRING_P] * s.top_area
        lift = (
            sig[S_FUEL_P] * s.assist_area
            + sig[S_LIFT_P] * s.lift_area
            + sig[S_GAP_P] * s.nose_area
            + sig[S_CHAMBER_P] * s.face_area
        )
        return 1.0 - hold / lift if lift > 0.0 else -1e300
    if which == RATIO_MOST or which == RATIO_LEAST:
        if sig[S_FUEL] <= 0.0:
            return -1e300
        ratio = sig[S_OXIDIZER] / sig[S_FUEL]
        return ratio if which == RATIO_MOST else -ratio
    if which == BOTH_SHARE:
        return min(sig[S_OXIDIZER] / memo[M_REFERENCE_O], sig[S_FUEL] / memo[M_REFERENCE_F])
    return sig[which]


@kernel
def plant_least_friction(plant):
    """Least over nominal breakaway of the three seals, weighted equally, -: the margin's least friction."""
    r = plant.ranges
    return min(r.post_low, min(r.rod_low, r.piston_low))


@kernel
def counts(which, k, start, end, trajectory, memo, plant):
    """Whether point k counts in the extreme of a quantity."""
    t, ys, disc, sigs, dense, count = trajectory
    if t[k] < start or t[k] > end:
        return False
    if which == SURGE:
        before = disc[k, D_COMMANDED] == 0 and disc[k, D_MODE] == SEATED
        return before or (disc[k, D_ON] == 0 and disc[k, D_CONTACT] != 0)
    if which == RATIO_MOST or which == RATIO_LEAST:
        return quantity(BOTH_SHARE, sigs[k], memo, plant) >= 0.1
    return True


@kernel
def greatest(which, start, end, trajectory, memo, par):
    """(greatest value of a quantity over [start, end], its instant s); (nan, nan) if no point counts.

    Looked for among the stored points, then inside the two steps beside the best one.
    """
    t, ys, disc, sigs, dense, count = trajectory
    plant = par[0]
    best = -1
    value = -np.inf
    for k in range(count):
        if counts(which, k, start, end, trajectory, memo, plant):
            v = quantity(which, sigs[k], memo, plant)
            if v > value:
                value = v
                best = k
    if best < 0:
        return np.nan, np.nan
    instant = t[best]
    y = np.empty(ys.shape[1])
    dy = np.zeros(ys.shape[1])
    sig = np.zeros(N_SIGNAL)
    for k in range(best, min(best + 2, count)):
        if k == 0 or t[k] <= t[k - 1]:
            continue
        for i in range(1, REFINEMENTS):
            s = i / REFINEMENTS
            at = t[k - 1] + s * (t[k] - t[k - 1])
            if at < start or at > end:
                continue
            if signals_inside(k, s, trajectory, memo, par, y, dy, sig) != 0:
                continue
            if which == RATIO_MOST or which == RATIO_LEAST:
                if quantity(BOTH_SHARE, sig, memo, plant) < 0.1:
                    continue
            elif which == SURGE and not counts(which, k - 1, start, end, trajectory, memo, plant):
                continue
            v = quantity(which, sig, memo, plant)
            if v > value:
                value = v
                instant = at
    return value, instant
