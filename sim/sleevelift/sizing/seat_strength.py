"""The metal seat held against its material and against practice: contact, land, load per length, angles, sealing, blows.

    axial force F on the seat line of diameter d, land of width w along the cone, half-angle a from the axis

Assumptions: even load, elastic contact, no friction on the cone; nose and seat of one strength (the softer counts). What it
does not predict: the leak itself, which roughness, waviness and dirt decide, and wear over many closings. Sources: Johnson,
Contact Mechanics (1985) for first yield; the band of load per length is common practice, no source: design data of metal
seats for rocket valves are collected in RPL-TDR-64-68 (1964), AFRPL-TR-66-147 (1966) and NASA SP-8094 (1973), whose numbers
were not at hand.
"""

import math
from typing import NamedTuple

from sleevelift.sizing.seat_load import land_stress, load_per_length

YIELD_FACTOR = 1.67
"""-. Peak Hertz pressure of a line contact over the yield stress at which the material first yields below the surface (Tresca;
1.79 by von Mises). Johnson (1985), section 6.1."""

LOAD_BAND = (5e3, 50e3)
"""N/m. Load per length of seat line at which lapped metal seats are made to seal: 5 to 50 N/mm. Common practice, no source."""


class SeatStrength(NamedTuple):
    """One seat line under one force."""

    load: float
    """N/m, axial force per length of seat line"""
    land: float | None
    """Pa, mean normal stress on the land; None without a land"""
    land_share: float | None
    """-, of the yield stress; None where either is not known"""
    peak_share: float | None
    """-, of the peak pressure at which yielding begins; None where not known"""


def seat_strength(
    force: float, diameter: float, half_angle: float, land_width: float | None, peak: float | None, yield_stress: float | None
) -> SeatStrength:
    """Load and stresses of a seat under an axial force (N) against its yield stress (Pa).

    peak: peak contact pressure (Pa, `seat_load.line_contact`) of a rounded edge, None where the edge's radius is not known.
    """
    load = load_per_length(force, diameter)
    land = None if land_width is None else land_stress(force, diameter, land_width, half_angle)
    return SeatStrength(
        load,
        land,
        None if land is None or yield_stress is None else land / yield_stress,
        None if peak is None or yield_stress is None else peak / (YIELD_FACTOR * yield_stress),
    )


class AngleMismatch(NamedTuple):
    """What a nose and a seat of different angle do."""

    diameter: float
    """m, of the edge of the land that then touches"""
    opening: float
    """m, gap at the other edge of the land"""
    area_change: float
    """m2, by which the area that fuel pressure opens with grows (the nose's shrinks by as much)"""


def angle_mismatch(seat_diameter: float, land_width: float, nose_half_angle: float, seat_half_angle: float) -> AngleMismatch:
    """Where a nose and a seat of different half-angles touch, from the drawing's seat diameter in the middle of the land.

    A nose blunter than its seat (larger half-angle) touches at the land's outer edge, a sharper one at the inner. The gap at the
    other edge is w tan(difference). Angles in rad from the axis.
    """
    difference = nose_half_angle - seat_half_angle
    shift = land_width * math.sin(seat_half_angle)
    if difference == 0.0 or land_width <= 0.0:
        return AngleMismatch(seat_diameter, 0.0, 0.0)
    diameter = seat_diameter + math.copysign(shift, difference)
    area = 0.25 * math.pi * (seat_diameter**2 - diameter**2)
    return AngleMismatch(diameter, land_width * math.tan(abs(difference)), area)


def sealing_preload(load: float, seat_diameter: float, opening_force: float, weight: float) -> float:
    """Preload (N) that presses the shut seat with a load per length (N/m) against what opens it (N): q pi d + F_open - weight."""
    return load * math.pi * seat_diameter + opening_force - weight


def closing_energy(mass: float, speed: float) -> float:
    """Energy (J) of one closing that the seat takes: m v^2/2 at contact, the moving mass with a third of the spring's."""
    return 0.5 * mass * speed * speed
