"""Events: which guard fires, and when.

A guard is a number that is positive while its mode may go on. It fires in a step when it goes from > 0 to <= 0, or from
exactly 0 (where a jump may leave it) to < 0. The instant is bracketed on the dense output until the bracket is shorter
than the tolerance; the event is taken at the bracket's upper end, where the guard has fired: what follows a reset never
sees a guard a hair above zero. Several guards may fire in one step: the earliest is looked for, and at its instant the
lowest index goes first.

The search is false position as Anderson and Bjorck keep it from creeping up from one side (BIT 13, 1973, from memory):
the value kept at one end twice in a row is scaled by 1 - (new value)/(last value) of the other end, or halved where that
is not positive. Where it is slow all the same, because a guard jumps as its mode wakes up, it bisects.
"""

import math

from sleevelift.integrate.dense import dense_coefficients, interpolate
from sleevelift.integrate.phases import BEGINNING, DERIVATIVE_AND_GUARDS, GO_ON, SEARCHING
from sleevelift.integrate.workspace import LOOK_ALWAYS, LOOK_IF_NEAR
from sleevelift.jit import generic

NOTHING = -1
"""No guard fired."""
SEARCH_CAP = 100
"""More halvings than the bits of a double: the search ends even for a guard that jumps."""
SLOW_CAP = 4
"""After so many trials that did not halve the bracket the next one does."""
DIP_SAFETY = 4.0
"""How much deeper than its curvature says a guard is assumed to dip inside a step before the middle is looked at."""
FIRST_DIP = 3.0
"""-. In the first step after a jump nothing is known of a guard's curvature: the middle is looked at where its lower end is below
this many times what it changed by. With both, 9 of 2000 random designs have events that are seen only where every middle is looked
at; with 2 and without this 23. It costs 0.5 % more right-hand sides over the hot case, every middle 9 %."""
EARLY, SHORTER = 0.05, 0.05
"""-. An event in the first 5 % of the first step after a jump is not believed: the step is taken again at twice the event's share
of it, at least at a twentieth. The dense output is as accurate as the whole step, which is coarse for what happened in so short a
time: a small rebound came back faster than it had left, and went on for ever."""
RESOLVED = 10.0
"""-. Steps of fewer tolerances of an event's instant are not taken again."""


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

    The parabola through the guard at the last three points dips below the chord by curvature h^2/8 at most; after a jump there
    are only two.
    """
    before, g0, g1 = w.g_before, w.g0, w.g1
    h = w.t1 - w.t
    if w.h_before == math.inf:
        for i in range(g0.shape[0]):
            if min(g0[i], g1[i]) < FIRST_DIP * abs(g1[i] - g0[i]):
                return True
        return False
    for i in range(g0.shape[0]):
        curvature = 2.0 * ((g1[i] - g0[i]) / h - (g0[i] - before[i]) / w.h_before) / (h + w.h_before)
        if curvature > 0.0 and min(g0[i], g1[i]) < DIP_SAFETY * curvature * h * h / 8.0:
            return True
    return False


@generic
def too_early(w):
    """Whether the event found at the fraction `hi` of the step is to be looked for in a shorter one."""
    return w.h_before == math.inf and w.hi < EARLY and w.step > RESOLVED * w.event_tolerance


@generic
def look_sooner(w):
    """Take the step back that was accepted, and take a shorter one: the event found comes in its first half, or nearly so."""
    w.steps -= 1
    w.rejected += 1
    w.h = max(2.0 * w.hi, SHORTER) * w.step
    w.phase = BEGINNING
    return GO_ON


@generic
def looks_inside(w):
    """Whether the step just taken must be searched; if so, the search is set up.

    It must where a guard fires between its ends, and where one may have dipped below zero between them.
    """
    fired = first_fired(w.g0, w.g1) != NOTHING
    if not fired and not (w.look_inside == LOOK_ALWAYS or (w.look_inside == LOOK_IF_NEAR and may_dip(w))):
        return False
    dense_coefficients(w)
    for i in range(w.g0.shape[0]):
        w.g_lo[i] = w.g0[i]
    w.found = 1 if fired else 0
    w.lo = 0.0
    w.hi = 1.0
    w.width = w.event_tolerance / (w.t1 - w.t)
    w.trials = 0
    w.moved = 0
    w.slow = 0
    return True


@generic
def false_position(w):
    """The earliest root of the guards that fire in (lo, hi), each taken as linear; well inside the bracket."""
    g_lo, g_hi, lo, hi = w.g_lo, w.g1, w.lo, w.hi
    earliest = hi
    for i in range(g_lo.shape[0]):
        if fires(g_lo[i], g_hi[i]):
            share = g_lo[i] / (g_lo[i] - g_hi[i]) if g_lo[i] > 0.0 else 0.5
            earliest = min(earliest, lo + (hi - lo) * share)
    margin = min(0.5 * w.width, 0.25 * (hi - lo))
    return min(max(earliest, lo + margin), hi - margin)


@generic
def kept_share(before, now):
    """Share of a guard's value at the end of the bracket that stays, when the other end moves from `before` to `now` again."""
    share = 1.0 - now / before if before != 0.0 else 0.5
    return share if share > 0.0 else 0.5


@generic
def ask_inside(w):
    """The request for derivative and guards at the next trial; without a guard known to fire that is the middle."""
    w.halved = 1 if w.found == 0 or w.slow >= SLOW_CAP else 0
    w.trial = 0.5 * (w.lo + w.hi) if w.halved != 0 else false_position(w)
    interpolate(w, w.trial)
    w.t_at = w.t + w.trial * (w.t1 - w.t)
    w.trials += 1
    w.phase = SEARCHING
    return DERIVATIVE_AND_GUARDS


@generic
def narrow(w):
    """Make the trial the upper or the lower end of the bracket; whether the search goes on.

    The bracket ends up with the guards' signs at its upper end in g1, the signals there in outputs1. Where the middle of an
    unfired step shows nothing, `found` stays 0 and the search ends.
    """
    g_lo, g_hi, g_at = w.g_lo, w.g1, w.g_at
    span = w.hi - w.lo
    upper = first_fired(g_lo, g_at) != NOTHING
    if not upper and w.found == 0:
        return False
    again = (upper and w.moved > 0) or (not upper and w.moved < 0)
    if upper:
        w.hi = w.trial
        w.found = 1
        w.moved = 1
        for i in range(w.outputs1.shape[0]):
            w.outputs1[i] = w.outputs_at[i]
        for i in range(g_at.shape[0]):
            if again:
                g_lo[i] *= kept_share(g_hi[i], g_at[i])
            g_hi[i] = g_at[i]
    else:
        w.lo = w.trial
        w.moved = -1
        for i in range(g_at.shape[0]):
            if again:
                g_hi[i] *= kept_share(g_lo[i], g_at[i])
            g_lo[i] = g_at[i]
    w.slow = 0 if w.halved != 0 or w.hi - w.lo <= 0.5 * span else w.slow + 1
    return w.hi - w.lo > w.width and w.trials < SEARCH_CAP
