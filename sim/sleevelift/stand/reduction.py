"""A cold flow reduced: measured flow, pressures and lift give the effective area of slots and fuel passage over lift.

    steady_windows(trace, ...) -> windows in which all stands still        A = w/sqrt(2 rho dp)
    reduced(case, trace, errors) -> [Side, ...]      points over lift, each with an interval of 95 %

Only windows in which lift, drop and flow stand still, and did so in the window before, count: a flow meter lags, and what fills or
leaves a manifold is no flow through the opening. Windows at one lift are one point. Its interval takes the spread of its windows,
and the errors of flow, drop and lift as given, all at once (root of the sum of squares). What is measured of the oxidizer is slots
and lapped clearance together, of the fuel seat gap and annulus in series: `opening` takes the case's own clearance and annulus off.
"""

import math
from typing import NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.measured.trace import Channel, Trace
from sleevelift.plant.liquid_sections import clearance_at_running
from sleevelift.sizing.leakage import Gap, liquid_area_of_gap
from sleevelift.study.values import refused

SIDES = ("oxidizer", "fuel")
SAME_LIFT = 0.01
"""-. Of the stroke: windows nearer than this are one point, and lift stands still within it."""
STILL = 0.005
"""-. By which drop, and flow over the largest flow, may change from one half of a window to the other: what an instrument that
settles within a window then lacks is below a hundredth."""
LEAST_SAMPLES = 6
"""Samples of a window."""
NORMAL_95 = 1.96
"""-. Standard deviations of a normal distribution within which 95 % lie on either side."""
LEAST_DROP = 3.0
"""-. Times its error, below which a drop says nothing of an area."""


class Errors(NamedTuple):
    """What the instruments may be off by (95 %), and how long they take."""

    flow: float = 0.01
    """-, of the reading"""
    pressure: float = 1e4
    """Pa, of a pressure drop"""
    lift: float = 1e-5
    """m"""
    settle: float = 0.05
    """s, length of a window"""


class Window(NamedTuple):
    """A span in which everything stands still; means, SI."""

    time: float
    lift: float
    flow: float
    drop: float
    manifold: float
    back: float


class Point(NamedTuple):
    """An effective area at one lift, SI; interval of 95 %."""

    lift: float
    area: float
    low: float
    high: float
    flow: float
    drop: float
    manifold: float
    back: float
    windows: int
    opening: float
    """of slots or seat gap alone; NaN where the annulus alone passes less than was measured"""
    opening_low: float
    opening_high: float
    """infinite where only a least value is known"""


class Side(NamedTuple):
    """One side of a cold flow."""

    name: str
    points: tuple[Point, ...]
    windows: int
    """windows that stood still"""
    looked_at: int


def on(channel: Channel, time: np.ndarray) -> np.ndarray:
    """(n,) a channel at other times, SI; NaN outside of it."""
    return np.interp(time, channel.time, channel.value, left=np.nan, right=np.nan)


def stands(values: np.ndarray, room: float) -> bool:
    """Whether the values (n,) of a window stand still within `room`, noise apart: the means of its halves differ by no more."""
    half = len(values) // 2
    first, last = values[:half], values[-half:]
    noise = math.sqrt((float(np.var(first)) + float(np.var(last))) / half)
    return abs(float(last.mean() - first.mean())) <= room + 3.0 * noise


def steady_windows(
    time: np.ndarray, lift: np.ndarray, flow: np.ndarray, manifold: np.ndarray, back: np.ndarray, stroke: float, errors: Errors
) -> tuple[list[Window], int]:
    """(windows that stand still and follow one that does at the same lift, windows looked at). Arrays (n,), SI."""
    known = np.isfinite(lift) & np.isfinite(flow) & np.isfinite(manifold) & np.isfinite(back)
    time, lift, flow, manifold, back = (one[known] for one in (time, lift, flow, manifold, back))
    if not len(time):
        return [], 0
    drop = manifold - back
    places = np.floor((time - time[0]) / errors.settle).astype(np.int64)
    cuts = np.flatnonzero(np.diff(places)) + 1
    most = float(np.max(np.abs(flow)))
    found, before, looked = [], None, 0
    for rows in np.split(np.arange(len(time)), cuts):
        if len(rows) < LEAST_SAMPLES:
            before = None
            continue
        looked += 1
        x, w, dp = lift[rows], flow[rows], drop[rows]
        still = (
            stands(x, SAME_LIFT * stroke) and stands(w, STILL * most) and stands(dp, STILL * abs(float(dp.mean())))
        )  # fmt: skip
        now = Window(float(time[rows].mean()), float(x.mean()), float(w.mean()), float(dp.mean()), float(manifold[rows].mean()),
                     float(back[rows].mean())) if still else None  # fmt: skip
        settled = before is not None and now is not None and abs(now.lift - before.lift) <= SAME_LIFT * stroke
        if now is not None and settled and now.drop > LEAST_DROP * errors.pressure:
            found.append(now)
        before = now
    return found, looked


def grouped(windows: list[Window], stroke: float) -> list[list[Window]]:
    """Windows of one lift together, by rising lift."""
    groups: list[list[Window]] = []
    for one in sorted(windows, key=lambda w: w.lift):
        if groups and one.lift - groups[-1][0].lift <= SAME_LIFT * stroke:
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups


class _Raw(NamedTuple):
    lift: float
    area: float
    error: float
    """95 %, without the lift's"""
    flow: float
    drop: float
    manifold: float
    back: float
    windows: int


def _raw(group: list[Window], density: float, errors: Errors) -> _Raw:
    areas = np.array([w.flow / math.sqrt(2.0 * density * w.drop) for w in group])
    means = [float(np.mean([getattr(w, name) for w in group])) for name in ("lift", "flow", "drop", "manifold", "back")]
    area, count = float(areas.mean()), len(group)
    spread = NORMAL_95 * float(areas.std(ddof=1)) / math.sqrt(count) if count > 1 else 0.0
    given = abs(area) * math.hypot(errors.flow, 0.5 * errors.pressure / means[2])
    return _Raw(means[0], area, math.hypot(spread, given), means[1], means[2], means[3], means[4], count)


def clearance_area(case: Case, lift: float, drop: float) -> float:
    """Effective area of the lapped clearance beside the slots, m2, as the case has it at a lift (m) and drop (Pa)."""
    assert case.slots is not None and case.oxidizer is not None, "asked for a case with slots"
    slots, liquid = case.slots, case.oxidizer
    if slots.table is not None:
        lap = max((x for x, a in zip(slots.table.lift, slots.table.area) if a <= 0.0), default=0.0)
    else:
        lap = min((row.lap for row in slots.row), default=0.0)
    length = max(lap - lift, slots.minimum_length)
    gap = Gap(case.sleeve.post_diameter, max(clearance_at_running(case), 1e-9), length, slots.eccentricity,
              slots.clearance_discharge_coefficient)  # fmt: skip
    return liquid_area_of_gap(gap, drop, liquid.density, liquid.viscosity)


def annulus_area(case: Case) -> float:
    """Effective area of the annulus below the seat, m2; infinite where there is none."""
    assert case.seat is not None, "asked for a case with a seat"
    area = case.seat.annulus_area
    return math.inf if area is None else area * (case.seat.annulus_discharge_coefficient or 1.0)


def out_of_series(total: float, other: float) -> float:
    """What, in series with `other`, gives `total`, m2: 1/A^2 = 1/total^2 - 1/other^2; infinite where total is not below other.

    >>> out_of_series(3.0, 5.0), out_of_series(5.0, 4.0), out_of_series(-1.0, 4.0)
    (3.75, inf, 0.0)
    """
    if total <= 0.0:
        return 0.0
    if total >= other:
        return math.inf
    return total / math.sqrt(1.0 - (total / other) ** 2)


def opening_of(case: Case, side: str, lift: float, area: float, drop: float) -> float:
    """Effective area of slots or seat gap alone, m2, of what was measured at a lift."""
    if side == "oxidizer":
        return area - clearance_area(case, lift, drop)
    assert case.seat is not None, "asked for a case with a seat"
    return out_of_series(area, annulus_area(case)) - case.seat.leak_area


def points_of(case: Case, side: str, windows: list[Window], errors: Errors) -> tuple[Point, ...]:
    """A point per lift, by rising lift."""
    liquid = case.oxidizer if side == "oxidizer" else case.fuel
    assert liquid is not None, "asked for a case with both sides"
    raw = [_raw(group, liquid.density, errors) for group in grouped(windows, case.sleeve.stroke)]
    lifts, areas = np.array([r.lift for r in raw]), np.array([r.area for r in raw])
    slope = np.gradient(areas, lifts) if len(raw) > 1 else np.zeros(len(raw))
    out = []
    for one, steep in zip(raw, slope.tolist()):
        error = math.hypot(one.error, abs(steep) * errors.lift)
        low, high = one.area - error, one.area + error
        own, least, most = (opening_of(case, side, one.lift, a, one.drop) for a in (one.area, low, high))
        out.append(Point(one.lift, one.area, low, high, one.flow, one.drop, one.manifold, one.back, one.windows,
                         own if math.isfinite(own) else math.nan, least, most))  # fmt: skip
    return tuple(out)


def reopened(case: Case, side: Side) -> Side:
    """A side whose openings alone are those beside the clearance and annulus of another case."""

    def anew(p: Point) -> Point:
        own, least, most = (opening_of(case, side.name, p.lift, a, p.drop) for a in (p.area, p.low, p.high))
        return p._replace(opening=own if math.isfinite(own) else math.nan, opening_low=least, opening_high=most)

    return side._replace(points=tuple(anew(p) for p in side.points))


def channel_of(trace: Trace, quantity: str) -> Channel:
    """The channel of a quantity. CaseError where it is missing or there are several."""
    found = trace.of(quantity)
    if len(found) == 1:
        return found[0]
    if not found:
        raise refused(trace.path.name, f"has no {quantity}: name its column with --column NAME={quantity}")
    names = ", ".join(one.header for one in found)
    raise refused(trace.path.name, f'holds {quantity} more than once ({names}): map all but one with --column "NAME=unused"')


def reduced(case: Case, trace: Trace, errors: Errors) -> list[Side]:
    """Both sides, as far as their flow was measured. CaseError where nothing can be reduced."""
    if case.slots is None or case.seat is None or case.oxidizer is None or case.fuel is None or case.case.kind != "cold-flow":
        raise refused(case.name, f"is a {case.case.kind} case: a cold flow is reduced with its cold-flow case")
    sides = [side for side in SIDES if trace.of(f"{side}_line_flow")]
    if not sides:
        raise refused(trace.path.name, "has neither oxidizer_line_flow nor fuel_line_flow: name a column with --column")
    lift = channel_of(trace, "lift")
    out = []
    for side in sides:
        flow, manifold = channel_of(trace, f"{side}_line_flow"), channel_of(trace, f"{side}_manifold_pressure")
        back = trace.of("chamber_pressure")
        constant = case.bench.back_pressure if case.bench.back_pressure is not None else case.ambient.pressure
        behind = on(back[0], flow.time) if back else np.full(len(flow.time), constant)
        windows, looked = steady_windows(
            flow.time, on(lift, flow.time), flow.value, on(manifold, flow.time), behind, case.sleeve.stroke, errors
        )
        out.append(Side(side, points_of(case, side, windows, errors), len(windows), looked))
    if not any(side.points for side in out):
        rule = "lift, flow and pressures never stand still for two windows: hold each lift longer, or give a shorter --settle"
        raise refused(trace.path.name, rule)
    return out
