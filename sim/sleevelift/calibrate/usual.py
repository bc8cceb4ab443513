"""Between what a value usually lies, where a case states no range: the usual range of its key, else of drawings and datasheets.

What keys say of themselves (`case.usual`) goes before; the rows here are tolerances of what is drawn or bought (common
practice, no source). A row is (path, low, high, times its own value): `True` in the last place means factors on the value in the
case. The first row that fits counts; `*` stands for any part of a name.
"""

from fnmatch import fnmatchcase
from typing import NamedTuple

from sleevelift.case.usual import usual_range as of_key

USUAL = (
    ("solenoid.open_dead_time", 2e-3, 30e-3, False),
    ("solenoid.close_dead_time", 2e-3, 50e-3, False),
    ("solenoid.*_stroke_time", 0.5e-3, 15e-3, False),
    ("*discharge_coefficient", 0.5, 0.95, False),
    ("*_orifice", 0.93, 1.07, True),
    ("lift_chamber.dead_volume", 0.7, 2.5, True),
    ("*volume", 0.8, 1.4, True),
    ("spring.preload", 0.9, 1.1, True),
    ("spring.*diameter", 0.985, 1.015, True),
    ("spring.*coils", 0.97, 1.03, True),
    ("spring.*", 0.9, 1.1, True),
    ("seals.friction_factor", 0.4, 2.5, False),
    ("seals.breakaway_ratio", 1.0, 3.0, False),
    ("seals.*friction_factor", 0.4, 2.5, True),
    ("seals.*friction", 0.4, 2.5, True),
    ("seals.*pressure_coefficient", 0.3, 3.0, True),
    ("seals.*cord", 0.97, 1.03, True),
    ("seals.stribeck_velocity", 0.2, 5.0, True),
    ("seals.viscous", 0.2, 5.0, True),
    ("seals.*leak_area", 0.1, 10.0, True),
    ("tube.conductance", 0.6, 1.2, True),
    ("tube.*", 0.95, 1.05, True),
    ("*wall_coefficient", 0.3, 3.0, True),
    ("supply.droop_band", 0.3, 3.0, True),
    ("*pressure", 0.93, 1.07, True),
    ("sleeve.*_diameter", 0.99, 1.01, True),
    ("sleeve.moving_mass", 0.9, 1.1, True),
    ("sleeve.stroke", 0.95, 1.05, True),
    ("slots.clearance", 0.4, 2.5, True),
    ("*clearance", 0.4, 2.5, True),
    ("slots.row*.lap", 0.5, 2.0, True),
    ("slots.row*", 0.95, 1.05, True),
    ("seat.spigot_length", 0.85, 1.15, True),
    ("seat.annulus_area", 0.9, 1.1, True),
    ("seat.half_angle", 0.97, 1.03, True),
    ("seat.jet_factor", 0.5, 1.5, True),
    ("*line_bore", 0.95, 1.05, True),
    ("*line_length", 0.8, 1.25, True),
    ("*wall_area", 0.7, 1.5, True),
    ("*bulk_modulus", 0.3, 1.05, True),
    ("*viscosity", 0.7, 1.4, True),
    ("*density", 0.98, 1.02, True),
    ("*rated_flow", 0.95, 1.05, True),
    ("*rated_loss", 0.6, 1.6, True),
    ("chamber.throat_area", 0.97, 1.03, True),
    ("chamber.combustion_time_constant", 0.3, 3.0, True),
    ("chamber.efficiency", 0.85, 1.0, False),
    ("igniter.delay", 0.2, 5.0, True),
    ("*temperature", 0.97, 1.03, True),
)
ELSE = (0.5, 2.0)
"""Factors on a value of which nothing is known: a guess."""


class Usual(NamedTuple):
    """A usual range."""

    low: float
    high: float
    known: bool
    """false where nothing is known of it and half to twice its value is taken"""


def usual_range(path: str, value: float) -> Usual:
    """The usual range of a value of a case, SI.

    >>> usual_range("spring.preload", 1000.0)
    Usual(low=900.0, high=1100.0, known=True)
    """
    known = of_key(path, value)
    if known is not None:
        return Usual(min(known.low, value), max(known.high, value), True)
    for pattern, low, high, factors in USUAL:
        if fnmatchcase(path, pattern):
            ends = (low * value, high * value) if factors else (min(low, value), max(high, value))
            return Usual(min(ends), max(ends), True)
    return Usual(min(ELSE[0] * value, ELSE[1] * value), max(ELSE[0] * value, ELSE[1] * value), False)
