"""Run valve of a feed line: from its on and off instants to the share of its area that is open, over time.

    command  on ______ off        travel 0 ... 1 at 1/opening_time, back at 1/closing_time, from where it is
    share = share(travel), linear or a table; flow: the liquid law of `liquid` through share x open area

Between the knots of `share_over_time` the share is linear, so that every step of a run is smooth. The valve's own dead time
stands in the instants. Valid while its actuator moves it at a constant speed whatever flows. Source: common practice, no source.
"""

from itertools import pairwise
from math import inf

from sleevelift.jit import bare_kernel
from sleevelift.physics.solenoid import ValveTimes, opening_schedule

ALL_OPEN = 1.0
"""-. Travel of an open valve."""


def travel_over_time(
    on: tuple[float, ...], off: tuple[float, ...], opening_time: float, closing_time: float, open_at_start: bool
) -> list[tuple[float, float]]:
    """Knots (instant s, travel) of lists of on and off instants, s.

    Before the first knot as at it; a valve that never moves has one knot.

    >>> [(round(t, 6), y) for t, y in travel_over_time((), (0.1,), 0.02, 0.05, True)]
    [(0.1, 1.0), (0.15, 0.0)]
    """
    long_ago = (-1.0 - opening_time,) if open_at_start else ()
    schedule = opening_schedule((*long_ago, *on), off, ValveTimes(0.0, opening_time, 0.0, closing_time, 0.0))
    knots = list(zip(schedule.times, schedule.openings))
    if open_at_start:
        knots = knots[2:] or [(0.0, ALL_OPEN)]
    return knots or [(0.0, 0.0)]


def share_at(travel: float, table: list[tuple[float, float]]) -> float:
    """Share of the area at a travel, by a table of (travel, share); straight lines between."""
    for (y0, s0), (y1, s1) in pairwise(table):
        if travel <= y1:
            return s0 + (s1 - s0) * (travel - y0) / (y1 - y0)
    return table[-1][1]


def share_over_time(knots: list[tuple[float, float]], table: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Knots (instant s, share of the area) of a travel, with one wherever the travel passes an entry of the table.

    >>> share_over_time([(1.0, 0.0), (2.0, 1.0)], [(0.0, 0.0), (0.5, 0.1), (1.0, 1.0)])
    [(1.0, 0.0), (1.5, 0.1), (2.0, 1.0)]
    """
    found: list[tuple[float, float]] = []
    for (t0, y0), (t1, y1) in pairwise(knots):
        passed = sorted(y for y, _ in table if min(y0, y1) < y < max(y0, y1))
        for y in passed if y1 > y0 else reversed(passed):
            found.append((t0 + (t1 - t0) * (y - y0) / (y1 - y0), share_at(y, table)))
        found.append((t1, share_at(y1, table)))
    return [(knots[0][0], share_at(knots[0][1], table)), *found]


@bare_kernel
def open_time(start, end, knots, first, count):
    """How long in [start, end], s, a valve is not wholly shut; `count` pairs (instant, share) in knots from `first`."""
    total = 0.0
    for i in range(count + 1):
        before = knots[first + 2 * max(i - 1, 0) + 1]
        after = knots[first + 2 * min(i, count - 1) + 1]
        if before > 0.0 or after > 0.0:
            begin = start if i == 0 else max(knots[first + 2 * (i - 1)], start)
            finish = end if i == count else min(knots[first + 2 * i], end)
            total += max(finish - begin, 0.0)
    return total


@bare_kernel
def shuts_after(start, knots, first, count):
    """First instant, s, from `start` on, at which a valve of these knots begins to shut; inf where it does not."""
    for i in range(count - 1):
        if knots[first + 2 * i] >= start and knots[first + 2 * i + 3] < knots[first + 2 * i + 1]:
            return knots[first + 2 * i]
    return inf
