"""What the reduced areas make of the case: a table of area over lift that it takes, and the discharge coefficients that best fit.

    table_of(case, side) -> Table | None        slots: [slots.table];  fuel: [seat.table], the annulus stays as it is
    fit_of(case, side)   -> Fit | None           one factor on the case's own areas, and whether their shape then fits

The areas in a table are geometric: the effective ones over the coefficient that stands beside them. Intervals of a factor take the
errors of all points as one (an instrument is off in the same sense everywhere), so they are wide rather than narrow.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.plant.build import build
from sleevelift.stand.reduction import Point, Side, annulus_area, out_of_series
from sleevelift.static_answer.curves import throttle

LEAST_POINTS = 4
"""Lifts of which a table is made: with fewer it would say more between them than was measured."""
ANNULUS_RULES = 0.9
"""-. Share of the annulus above which a total says little of the gap: its error is five times as large there."""


class Table(NamedTuple):
    """A table for the case, SI."""

    lift: tuple[float, ...]
    area: tuple[float, ...]
    """geometric"""
    low: tuple[float, ...]
    high: tuple[float, ...]
    discharge_coefficient: float
    ends_at: float
    """m: the highest lift that was measured"""
    left_out: int
    """points of which only a least area is known"""


class Fit(NamedTuple):
    """One coefficient instead of a table."""

    key: str
    """of the case"""
    before: float
    value: float
    low: float
    high: float
    worst: float
    """-, largest misfit of a point, over half its interval"""
    worst_lift: float
    points: int

    @property
    def fits(self) -> bool:
        """Whether every point is within its interval."""
        return self.worst <= 1.0


def own_coefficient(case: Case, side: str) -> float:
    """Discharge coefficient of the case's slots (their rows by area) or seat."""
    assert case.slots is not None and case.seat is not None, "asked for a case with slots and seat"
    if side == "fuel":
        return case.seat.discharge_coefficient
    if case.slots.table is not None:
        return case.slots.discharge_coefficient or 1.0
    sizes = [row.count * row.height * (row.width or row.height) for row in case.slots.row]
    return float(np.average([row.discharge_coefficient for row in case.slots.row], weights=sizes))


def table_of(case: Case, side: Side) -> Table | None:
    """The table of a side; None of too few lifts. An area whose interval holds 0 is 0; the first lift is 0, shut."""
    cd = own_coefficient(case, side.name)
    known = [p for p in side.points if math.isfinite(p.opening)]
    if len(known) < LEAST_POINTS:
        return None
    rows = [(max(p.lift, 0.0), *((p.opening, p.opening_low, p.opening_high) if p.opening_low > 0.0 else
                                (0.0, 0.0, max(p.opening_high, 0.0)))) for p in known]  # fmt: skip
    if rows[0][0] <= 0.01 * case.sleeve.stroke:
        rows[0] = (0.0, *rows[0][1:])
    else:
        rows.insert(0, (0.0, 0.0, 0.0, 0.0))
    lift, area, low, high = (tuple(float(value) for value in column) for column in zip(*rows))

    def geometric(values: tuple[float, ...]) -> tuple[float, ...]:
        return tuple(value / cd for value in values)

    left_out = len(side.points) - len(known)
    return Table(lift, geometric(area), geometric(low), geometric(high), cd, known[-1].lift, left_out)


def _factor(points: Sequence[Point], own: np.ndarray) -> tuple[float, float, float, float, float] | None:
    """(factor, low, high, worst misfit over half an interval, its lift) of areas (n,) of the case against measured openings."""
    area = np.array([p.opening for p in points])
    low, high = np.array([p.opening_low for p in points]), np.array([p.opening_high for p in points])
    half = 0.5 * (high - low)
    good = np.isfinite(area) & np.isfinite(half) & (half > 0.0) & (own > 0.0)
    if not good.any():
        return None
    weight = own[good] / half[good] ** 2
    total = float((weight * own[good]).sum())
    k, k_low, k_high = (float((weight * values[good]).sum()) / total for values in (area, low, high))
    misfit = np.abs(area[good] - k * own[good]) / half[good]
    worst = int(np.argmax(misfit))
    return k, k_low, k_high, float(misfit[worst]), float(np.array([p.lift for p in points])[good][worst])


def fit_of(case: Case, side: Side) -> Fit | None:
    """The coefficient that best fits; None where the points do not say."""
    curves = throttle(build(case))
    assert case.seat is not None and case.slots is not None, "asked for a case with slots and seat"
    if side.name == "oxidizer":
        points = list(side.points)
        own = np.interp([p.lift for p in points], curves.lift, curves.slots)
        key = "slots.row.*.discharge_coefficient" if case.slots.table is None else "slots.discharge_coefficient"
    else:
        limit = ANNULUS_RULES * annulus_area(case)
        points = [p for p in side.points if p.area < limit and p.lift > case.seat.spigot_length]
        own = np.interp([p.lift for p in points], curves.lift, curves.gap) - case.seat.leak_area
        key = "seat.discharge_coefficient"
    if not points:
        return None
    found = _factor(points, own)
    if found is None:
        return None
    k, low, high, worst, lift = found
    cd = own_coefficient(case, side.name)
    return Fit(key, cd, k * cd, low * cd, high * cd, worst, lift, len(points))


def annulus_fit(case: Case, side: Side) -> Fit | None:
    """Coefficient of the annulus from the highest lift, the seat gap as the case has it; None where there is no annulus."""
    seat = case.seat
    assert seat is not None, "asked for a case with a seat"
    if side.name != "fuel" or seat.annulus_area is None or not side.points:
        return None
    top = side.points[-1]
    curves = throttle(build(case))
    gap = float(np.interp(top.lift, curves.lift, curves.gap))
    value, low, high = (out_of_series(a, gap) / seat.annulus_area for a in (top.area, top.low, top.high))
    if not math.isfinite(high) or top.area < 0.5 * annulus_area(case):
        return None
    return Fit("seat.annulus_discharge_coefficient", seat.annulus_discharge_coefficient or 1.0, value, low, high, 0.0, top.lift, 1)
