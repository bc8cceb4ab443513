"""Events: which guard fires, and when.

A guard is a number that is positive while its mode may go on. It fires in a step when it goes from > 0 to <= 0, or from
exactly 0 (where a jump may leave it) to < 0. The instant is bracketed on the dense output until the bracket is shorter
than the tolerance; the event is taken at the bracket's upper end, where the guard has fired: what follows a reset never sees
a guard a hair above zero. Several guards may fire in one step: the earliest is looked for, and at its instant the lowest
index goes first.

The search is the Illinois form of false position (Dowell and Jarratt, BIT 11, 1971): the value kept at one end twice in
a row is halved.
"""

from collections.abc import Callable

from sim.integrate.dense import interpolate
from sim.jit import generic

NOTHING = -1
"""No guard fired."""
SEARCH_CAP = 80
"""More halvings than the bits of a double: the search ends even for a guard that jumps."""
DIP_SAFETY = 2.0
"""How much deeper than its curvature says a guard is assumed to dip inside a step before the middle is looked at."""


@generic
def fires(before, after):
    """Whether a guard going from `before` to `after` fires."""
    return (before > 0.0 and after <= 0.0) or (before == 0.0 and after < 0.0)


@generic
def first_fired(before, after):
    """Lowest index of a guard that fires, or NOTHING."""
    for i in range(before.shape[0]):
        if fires(before[i], after[i]):
            return i
    return NOTHING


@generic
def first_negative(g):
    """Lowest index of a guard below zero, or NOTHING."""
    for i in range(g.shape[0]):
        if g[i] < 0.0:
            return i
    return NOTHING


@generic
def may_dip(w):
    """Whether a guard positive at both ends of a step may have been below zero inside it.

    The parabola through the guard at the last three points dips below the chord by curvature h^2/8 at most.
    """
    h = w.t1 - w.t
    for i in range(w.g0.shape[0]):
        curvature = 2.0 * ((w.g1[i] - w.g0[i]) / h - (w.g0[i] - w.g_before[i]) / w.h_before) / (h + w.h_before)
        if curvature > 0.0 and min(w.g0[i], w.g1[i]) < DIP_SAFETY * curvature * h * h / 8.0:
            return True
    return False


@generic
def next_fraction(w, lo, hi, margin):
    """Where to look next in (lo, hi): the earliest root by false position, at least `margin` inside the bracket."""
    earliest = hi
    for i in range(w.g.shape[0]):
        if fires(w.g_lo[i], w.g1[i]):
            root = lo + (hi - lo) * w.g_lo[i] / (w.g_lo[i] - w.g1[i]) if w.g_lo[i] > 0.0 else 0.5 * (lo + hi)
            earliest = min(earliest, root)
    return min(max(earliest, lo + margin), hi - margin)


@generic
def bracket_above(w, repeated):
    """The guards at the trial become those at the upper end; where that end moved twice running, the lower is halved."""
    for i in range(w.g.shape[0]):
        w.g1[i] = w.g[i]
        w.g_lo[i] *= 0.5 if repeated else 1.0
    for i in range(w.sig.shape[0]):
        w.sig1[i] = w.sig[i]


@generic
def bracket_below(w, repeated):
    """The guards at the trial become those at the lower end; where that end moved twice running, the upper is halved."""
    for i in range(w.g.shape[0]):
        w.g_lo[i] = w.g[i]
        w.g1[i] *= 0.5 if repeated else 1.0


def event_fraction_of(rhs: Callable[..., int], guards: Callable[..., None]) -> tuple[Callable[..., int], Callable[..., float]]:
    """Guards inside a step, and the search in it, of the system with this right-hand side and these guards."""

    @generic
    def guards_inside(w, s, par):
        """Fill y_in, sig and g at the fraction `s` of the step; not 0 where the model cannot be evaluated there."""
        t = w.t + s * (w.t1 - w.t)
        interpolate(w, s)
        w.rhs_calls += 1
        if rhs(t, w.y_in[: w.J.shape[0]], w.disc[:], w.memo[:], par, w.f[: w.J.shape[0]], w.sig[:]) != 0:
            return 1
        guards(t, w.y_in[: w.J.shape[0]], w.disc[:], w.memo[:], par, w.sig[:], w.g[:])
        return 0

    @generic
    def event_fraction(w, upper, par):
        """Fraction of the step at which the first guard has just fired, or -1.0 where the model cannot be evaluated inside.

        On entry g_lo and g1 hold the guards at the start and at the fraction `upper`, at least one firing between them, and
        sig1 the signals there. On return y_in holds the state at the event, sig1 the signals, g1 the signs of the guards.
        """
        lo = 0.0
        hi = upper
        width = w.event_tolerance / (w.t1 - w.t)
        side = 0
        for _ in range(SEARCH_CAP):
            if hi - lo <= width:
                break
            s = next_fraction(w, lo, hi, min(0.5 * width, 0.25 * (hi - lo)))
            if guards_inside(w, s, par) != 0:
                return -1.0
            if first_fired(w.g_lo[:], w.g[:]) != NOTHING:
                bracket_above(w, side > 0)
                hi = s
                side = 1
            else:
                bracket_below(w, side < 0)
                lo = s
                side = -1
        interpolate(w, hi)
        return hi

    return guards_inside, event_fraction
