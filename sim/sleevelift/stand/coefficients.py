"""What the reduced areas make of the case: a table of area over lift that it takes, and the discharge coefficients that best fit.

    table_of(case, side) -> Table | None        slots: [slots.table];  fuel: [seat.table], beside the annulus of `case`
    fits_of(case, side)  -> [Fit, ...]           factors on the case's own areas, and whether their shape then fits

Seat gap and annulus lie in series: 1/A^2 = 1/(k gap)^2 + 1/N^2, so over several lifts both factors show, by least squares.

The areas in a table are geometric: the effective ones over the coefficient that stands beside them. Intervals of a factor take the
errors of all points as one (an instrument is off in the same sense everywhere), so they are wide rather than narrow.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from sleevelift.case.read import with_values
from sleevelift.case.schema import Case
from sleevelift.plant.build import build
from sleevelift.stand.reduction import Point, Side
from sleevelift.static_answer.curves import throttle

LEAST_POINTS = 4
"""Lifts of which a table is made: with fewer it would say more between them than was measured."""


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
    annulus: float | None = None
    """coefficient of the annulus that the table was taken beside; None: the case's own"""


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


def _joint(points: Sequence[Point], gap: np.ndarray, areas: np.ndarray, weight: np.ndarray) -> tuple[float, float] | None:
    """(factor on the case's gap areas (n,), effective area of the annulus, m2) of total areas (n,); None where they do not say.

    1/A^2 = (1/k^2)/gap^2 + 1/N^2: a straight line in 1/gap^2, least squares.
    """
    if len(points) < LEAST_POINTS or not (areas > 0.0).all():
        return None
    matrix = np.column_stack([gap**-2.0, np.ones(len(gap))]) * weight[:, None]
    (slope, rest), *_ = np.linalg.lstsq(matrix, areas**-2.0 * weight, rcond=None)
    return (float(slope**-0.5), float(rest**-0.5)) if slope > 0.0 and rest > 0.0 else None


def _both(case: Case, side: Side) -> list[Fit]:
    """Coefficients of seat gap and annulus together, from all lifts past the spigot; none where they cannot be told apart."""
    seat = case.seat
    assert seat is not None and seat.annulus_area is not None, "asked for a case with an annulus"
    curves = throttle(build(case))
    points = [p for p in side.points if p.lift > seat.spigot_length and p.low > 0.0]
    lift = np.array([p.lift for p in points])
    gap = np.interp(lift, curves.lift, curves.gap)
    area, low, high = (np.array([getattr(p, name) for p in points]) for name in ("area", "low", "high"))
    half = 0.5 * (high - low)
    weight = area**3 / (2.0 * half) if len(points) else half
    found = [_joint(points, gap, values, weight) for values in (area, low, high)]
    if any(one is None for one in found):
        return []
    (k, n), *ends = [one for one in found if one is not None]
    fitted = ((k * gap) ** -2.0 + n**-2.0) ** -0.5
    misfit = np.abs(area - fitted) / half
    worst = int(np.argmax(misfit))
    quality = float(misfit[worst]), float(lift[worst]), len(points)
    cd, at = seat.discharge_coefficient, seat.annulus_area
    spans = [sorted((k, *(one[0] for one in ends))), sorted((n, *(one[1] for one in ends)))]
    before = 1.0 if seat.annulus_discharge_coefficient is None else seat.annulus_discharge_coefficient
    return [
        Fit("seat.discharge_coefficient", cd, k * cd, spans[0][0] * cd, spans[0][2] * cd, *quality),
        Fit("seat.annulus_discharge_coefficient", before, n / at, spans[1][0] / at, spans[1][2] / at, *quality),
    ]


def fits_of(case: Case, side: Side) -> list[Fit]:
    """The coefficients that best fit a side; none where the points do not say."""
    assert case.seat is not None and case.slots is not None, "asked for a case with slots and seat"
    if side.name == "fuel" and case.seat.annulus_area is not None and case.seat.table is None:
        return _both(case, side)
    curves = throttle(build(case))
    points = list(side.points)
    if side.name == "oxidizer":
        own = np.interp([p.lift for p in points], curves.lift, curves.slots)
        key = "slots.row.*.discharge_coefficient" if case.slots.table is None else "slots.discharge_coefficient"
    else:
        points = [p for p in points if p.lift > case.seat.spigot_length]
        own = np.interp([p.lift for p in points], curves.lift, curves.gap) - case.seat.leak_area
        key = "seat.discharge_coefficient"
    found = _factor(points, own) if points else None
    if found is None:
        return []
    k, low, high, worst, lift = found
    cd = own_coefficient(case, side.name)
    return [Fit(key, cd, k * cd, low * cd, high * cd, worst, lift, len(points))]


def with_annulus(case: Case, fits: Sequence[Fit]) -> tuple[Case, float | None]:
    """(the case with the annulus that was measured, its coefficient) where the gap then fits and it is one; else as it is."""
    for fit in fits:
        if fit.key == "seat.annulus_discharge_coefficient" and fit.fits and 0.0 < fit.value <= 1.0:
            return with_values(case, {fit.key: fit.value}, check=False), fit.value
    return case, None
