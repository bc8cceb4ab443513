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

from sim.integrate.dense import dense_coefficients, interpolate
from sim.integrate.store import copied
from sim.integrate.workspace import LOOK_ALWAYS, LOOK_IF_NEAR
from sim.jit import generic

NOTHING = -1
"""No guard fired."""
NOT_INSIDE, NOT_SEEN = 2.0, -1.0
"""Not fractions of a step: no guard fires in it; the model cannot be evaluated inside it."""
SLOW_CAP = 3
"""After so many trials that did not halve the bracket the next one does: a guard may jump where its mode wakes up."""
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
def move_upper(w, again):
    """The guards at the trial become those at the upper end; where that end moves `again`, the lower ones are halved."""
    for i in range(w.g.shape[0]):
        w.g1[i] = w.g[i]
        w.g_lo[i] *= 0.5 if again else 1.0
    copied(w.sig[:], w.sig1[:])


@generic
def move_lower(w, again):
    """The guards at the trial become those at the lower end; where that end moves `again`, the upper ones are halved."""
    for i in range(w.g.shape[0]):
        w.g_lo[i] = w.g[i]
        w.g1[i] *= 0.5 if again else 1.0


def event_in_step_of(rhs: Callable[..., int], guards: Callable[..., None]) -> Callable[..., float]:
    """The search in a step of the system with this right-hand side and these guards."""

    @generic
    def event_in_step(w, par):
        """Fraction of the accepted step at which a guard has just fired, NOT_INSIDE, or NOT_SEEN: out of range inside it.

        With a fraction, the state there is in y_in, its signals in sig1, the signs of the guards in g1, and k is filled.
        """
        n = w.J.shape[0]
        found = first_fired(w.g0[:], w.g1[:]) != NOTHING
        if not found and not (w.look_inside == LOOK_ALWAYS or (w.look_inside == LOOK_IF_NEAR and may_dip(w))):
            return NOT_INSIDE
        dense_coefficients(w)
        copied(w.g0[:], w.g_lo[:])
        lo = 0.0
        hi = 1.0
        width = w.event_tolerance / (w.t1 - w.t)
        moved = 0
        slow = 0
        for _ in range(SEARCH_CAP):
            span = hi - lo
            if span <= width and found:
                break
            halve = slow >= SLOW_CAP or not found
            s = 0.5 * (lo + hi) if halve else next_fraction(w, lo, hi, min(0.5 * width, 0.25 * span))
            t = w.t + s * (w.t1 - w.t)
            interpolate(w, s)
            w.rhs_calls += 1
            if rhs(t, w.y_in[:n], w.disc[:], w.memo[:], par, w.f[:n], w.sig[:]) != 0:
                return NOT_SEEN
            guards(t, w.y_in[:n], w.disc[:], w.memo[:], par, w.sig[:], w.g[:])
            if first_fired(w.g_lo[:], w.g[:]) != NOTHING:
                move_upper(w, moved > 0)
                hi = s
                moved = 1
                found = True
            elif found:
                move_lower(w, moved < 0)
                lo = s
                moved = -1
            else:
                return NOT_INSIDE
            slow = 0 if halve or hi - lo <= 0.5 * span else slow + 1
        interpolate(w, hi)
        return hi

    return event_in_step  # type: ignore[no-any-return]
