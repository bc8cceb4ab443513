"""Where each seal and seat of a case is leak-checked: port, volume, what stands open, what is collected, pressure at most.

    lift chamber  -> piston seal (spring side's vent), rod seal (fuel inlet), outside (film at flange and fittings)
    fuel side     -> rod seal (lift chamber's port), fuel seat (combustion chamber)
    oxidizer side -> post seal (spring side's vent), lapped slots (combustion chamber)

The sleeve must stay shut: test pressure x axial area is held below the spring at the bottom of its range and the weight, over 1 + a
stated margin, with no friction counted. Nothing here replaces the rating of whatever is pressurised.
"""

import math
from typing import NamedTuple

from sleevelift.case.schema import Case
from sleevelift.constants import STANDARD_GRAVITY
from sleevelift.seat_verdicts import moving_mass

TORN = 10.0
"""-. Reject over accept where nothing in the case says how much is too much (guess)."""
WIDER = 1.5
"""-. Clearance at which lapped slots are rejected over their own (guess)."""
DEFAULT_LENGTH = 1e-3
"""m. Length of a gap where the case gives none: about the contact of a seal (guess)."""


class Point(NamedTuple):
    """One leak and where it is checked."""

    seal: str
    side: str
    """what is pressurised"""
    port: str
    opened: str
    """what stands open meanwhile"""
    collect: str
    """where this leak alone comes out"""
    volume: float
    """m3, without the rig"""
    push: float
    """m2, axial area by which the test pressure opens the sleeve; 0: none"""
    rating: str
    """key of [limits]"""
    diameter: float
    """m, of the leak's gap"""
    length: float
    """m, of that gap"""
    liquid: str
    """oxidizer or fuel where it holds a liquid in service, else empty"""
    area_key: str
    """path of its area in the case; empty: the case has none"""
    cd_key: str
    """path of that area's discharge coefficient; empty: the area is effective"""
    largest: tuple[str, ...]
    """findings of the static answer that bound it"""


def _ring(outer: float, inner: float) -> float:
    return 0.25 * math.pi * (outer * outer - inner * inner)


def _feed_volume(case: Case, side: str) -> float:
    """Manifold and line, m3."""
    part = getattr(case, side)
    return float(part.manifold_volume + 0.25 * math.pi * part.line_bore**2 * part.line_length)


def _length(case: Case, seal: str) -> float:
    entry = getattr(case.seals, seal)
    return float(entry.leak_length or DEFAULT_LENGTH)


def points(case: Case) -> list[Point]:
    """Every leak of this case, in the order of the checks."""
    s, lift = case.sleeve, case.lift_chamber.dead_volume
    port, fuel_open = "port of the lift chamber, tube taken off", "fuel inlet and spring side's vent open"
    rated = "lift_chamber_rated_pressure"
    push = _ring(s.piston_diameter, s.rod_diameter)
    out = [
        Point("piston", "lift chamber", port, fuel_open, "vent of the spring side", lift, push, rated, s.piston_diameter,
              _length(case, "piston"), "", "seals.piston_leak_area", "seals.piston_leak_discharge_coefficient",
              ("largest_piston_leak",)),
        Point("outside", "lift chamber", port, fuel_open, "leak-check film at flange and fittings", lift, push, rated,
              s.piston_diameter, DEFAULT_LENGTH, "", "seals.outside_leak_area", "seals.outside_leak_discharge_coefficient",
              ("largest_lift_leak",)),
    ]  # fmt: skip
    if case.fuel is not None and case.seat is not None:
        push = _ring(s.rod_diameter, s.seat_diameter)
        common = ("fuel side", "fuel inlet", "port of the lift chamber and spring side's vent open")
        volume, rated = _feed_volume(case, "fuel"), "fuel_manifold_rated_pressure"
        land = case.seat.land_width or DEFAULT_LENGTH
        out += [
            Point("rod", *common, "port of the lift chamber", volume, push, rated, s.rod_diameter, _length(case, "rod"), "fuel",
                  "seals.rod_leak_area", "seals.rod_leak_discharge_coefficient",
                  ("largest_rod_leak_lit", "largest_rod_leak_unlit", "largest_rod_leak_seated")),
            Point("seat", *common, "combustion chamber, through a plug in the throat", volume, push, rated, s.seat_diameter, land,
                  "fuel", "seat.leak_area", "", ()),
        ]  # fmt: skip
    if case.oxidizer is not None and case.slots is not None:
        common = ("oxidizer side", "oxidizer inlet", "spring side's vent open")
        volume, rated = _feed_volume(case, "oxidizer"), "oxidizer_manifold_rated_pressure"
        lap = max(case.slots.minimum_length, min((row.lap for row in case.slots.row), default=0.0))
        out += [
            Point("post", *common, "vent of the spring side", volume, 0.0, rated, s.post_diameter, _length(case, "post"),
                  "oxidizer", "seals.post_leak_area", "seals.post_leak_discharge_coefficient", ()),
            Point("slots", *common, "combustion chamber, through a plug in the throat", volume, 0.0, rated, s.post_diameter, lap,
                  "oxidizer", "", "", ()),
        ]  # fmt: skip
    return out


def holding_force(case: Case) -> float:
    """Force that keeps the sleeve shut without friction, N: spring at the bottom of its range, and the weight."""
    low = case.ranges.get("spring.preload", (case.spring.preload,))[0]
    return low + moving_mass(case) * STANDARD_GRAVITY * math.cos(case.sleeve.axis_tilt)


def no_lift_pressure(case: Case, push: float, margin: float) -> float:
    """Highest test pressure, Pa absolute, that does not lift the sleeve with a margin (-) and no friction; inf where none does."""
    if push <= 0.0:
        return math.inf
    return case.ambient.pressure + max(holding_force(case), 0.0) / (push * (1.0 + margin))


class CheckPressure(NamedTuple):
    """The pressure of a check and what set it."""

    value: float
    """Pa absolute"""
    because: str
    rated: bool
    """whether the case gives a rating for what is pressurised"""


def pressure_to_use(case: Case, point: Point, wanted: float, margin: float) -> CheckPressure:
    """Least of the wanted pressure, the rating, and what does not lift the sleeve."""
    rating = getattr(case.limits, point.rating)
    limits = [(wanted, "as asked for"), (no_lift_pressure(case, point.push, margin), "more could lift the sleeve")]
    if rating is not None:
        limits.append((rating, "the rating"))
    value, because = min(limits)
    return CheckPressure(value, because, rating is not None)
