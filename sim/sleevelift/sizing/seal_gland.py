"""O-rings and their grooves: sizes, squeeze, stretch, fill with tolerances, and the friction of a sliding seal.

    F = pi d (f_squeeze + f_pressure * cord * dp)     running force (N, >= 0) opposing the motion, d the rubbing
    diameter

Assumptions: round cord, volume kept when stretched, groove with square corners, no swelling, no eccentricity.
Validity: room temperature, lubricated nitrile or fluorocarbon rubber of 60 to 90 Shore A; a spring-energised or cold
seal is none of these and wants its own measured numbers. Sources: ISO 3601-1 and -2, SAE AS568, SAE AS4716; friction:
see `squeeze_friction` and `pressure_friction`.
"""

import math
from typing import NamedTuple

INCH = 0.0254
"""m. Exact."""

POUND_PER_INCH = 4.4482216152605 / INCH
"""N/m. Exact: pound-force per inch."""

POUND_PER_SQUARE_INCH = 4.4482216152605 / INCH**2
"""Pa. Exact."""

CORD_TOLERANCE_MM = ((1.78, 0.08), (2.62, 0.09), (3.53, 0.10), (5.33, 0.13), (6.99, 0.15))
"""(section, +-tolerance) in mm. ISO 3601-1, as rtdygert.com/tolerances-for-metric-o-rings.html prints it."""

GROOVE_DEPTH_MM = {
    "dynamic": ((1.78, 1.45), (2.62, 2.25), (3.53, 3.10), (5.33, 4.70), (6.99, 6.10)),
    "static": ((1.78, 1.30), (2.62, 2.00), (3.53, 2.75), (5.33, 4.30), (6.99, 5.75)),
}
"""(section, radial depth of the gland) in mm: common seal-handbook values near those of ISO 3601-2, from memory."""

GROOVE_WIDTH_MM = ((1.78, 2.40), (2.62, 3.60), (3.53, 4.80), (5.33, 7.10), (6.99, 9.50))
"""(section, width without backup ring) in mm: the same."""

MAXIMUM_STRETCH = 0.05
"""-. Lasting stretch of the inside diameter. Common practice, ISO 3601-2 names 5 % (larger below 20 mm); from
memory."""

MINIMUM_STRETCH = -0.03
"""-. A ring wider than what carries it, pressed together all round by its groove in a bore: more than 3 % and it buckles out
(common practice, no source)."""

MAXIMUM_FILL = 0.90
"""-. Gland fill at most, to leave room for swelling and heat. Common practice (75 % aimed at), no source."""

SMALLEST_HARDNESS, GREATEST_HARDNESS = 60.0, 90.0
"""Shore A. Range of the chart; its fit falls to zero near 57 Shore A and may not be used below."""

SQUEEZE_OVER_MEASURED, PRESSURE_OVER_MEASURED = 2.4, 9.0
"""-. The chart's friction over that of the one measured ring (`tests/published/test_f_seals.py`): 119 against 51 N/m from squeeze,
four times (7 bar) to nine times (1 bar) from pressure. Another ring may lie lower still."""

DEFAULT_REFERENCE_PRESSURE = 3.0e6
"""Pa. Where the straight friction law is made to meet the chart's curve: 30 bar, the middle of an actuation gas's
range."""

AS568_RUNS = {
    4: (
        0.070, 0.101, 0.114, 0.145, 0.176, 0.208, 0.239, 0.301, 0.364, 0.426, 0.489, 0.551, 0.614, 0.676, 0.739,
        0.801, 0.864, 0.926, 0.989, 1.051, 1.114, 1.176, 1.239, 1.301, 1.364, 1.489, 1.614, 1.739, 1.864, 1.989,
        2.114, 2.239, 2.364,
    ),
    102: (
        0.049, 0.081, 0.112, 0.143, 0.174, 0.206, 0.237, 0.299, 0.362, 0.424, 0.487, 0.549, 0.612, 0.674, 0.737,
        0.799, 0.862, 0.924, 0.987, 1.049, 1.112, 1.174, 1.237, 1.299, 1.362, 1.424, 1.487, 1.549, 1.612, 1.674,
        1.737, 1.799, 1.862, 1.925, 1.987, 2.050, 2.112, 2.175, 2.237,
    ),
    201: (
        0.171, 0.234, 0.296, 0.359, 0.421, 0.484, 0.546, 0.609, 0.671, 0.734, 0.796, 0.859, 0.921, 0.984, 1.046,
        1.109, 1.171, 1.234, 1.296, 1.359, 1.421, 1.484, 1.609, 1.734, 1.859, 1.984, 2.109, 2.234, 2.359, 2.484,
        2.609, 2.734, 2.859, 2.984, 3.109, 3.234, 3.359, 3.484, 3.609, 3.734, 3.859, 3.984, 4.109, 4.234, 4.359,
        4.484, 4.609, 4.734, 4.859, 4.984, 5.109, 5.234, 5.359, 5.484, 5.609, 5.734, 5.859, 5.984,
    ),
    309: (
        0.412, 0.475, 0.537, 0.600, 0.662, 0.725, 0.787, 0.850, 0.912, 0.975, 1.037, 1.100, 1.162, 1.225, 1.287,
        1.350, 1.475, 1.600, 1.725, 1.850, 1.975, 2.100, 2.225, 2.350, 2.475, 2.600, 2.725, 2.850, 2.975, 3.100,
        3.225,
    ),
}  # fmt: skip
"""First dash number of a run: inside diameters from there on, inches. SAE AS568, a subset up to about 80 mm (section 0.139 in: to
152 mm, in steps of 1/8 in from -222 on), from memory; eleven of them compared with unitcheatsheet.com/cheatsheets/o-ring-sizes.html
(`tests/published/test_f_seals.py`)."""

AS568_INCH = {first + place: inside for first, run in AS568_RUNS.items() for place, inside in enumerate(run)}
"""Dash number: inside diameter, inches."""

AS568_SECTION_INCH = {0: 0.070, 1: 0.103, 2: 0.139, 3: 0.210, 4: 0.275}
"""Hundreds of the dash number: section, inches. SAE AS568."""


class Span(NamedTuple):
    """Least, nominal and greatest of a quantity over its tolerances."""

    least: float
    nominal: float
    greatest: float


class Ring(NamedTuple):
    """An O-ring as made."""

    inside_diameter: float
    """m"""
    cord: float
    """m"""
    cord_tolerance: float
    """m, +-"""
    diameter_tolerance: float
    """m, +-"""


class Gland(NamedTuple):
    """The room a ring sits in: a groove in a piston (facing a bore) or in a bore (facing a rod)."""

    groove_diameter: float
    """m, of the groove's floor"""
    facing_diameter: float
    """m, of the surface the ring rubs on"""
    width: float
    """m"""
    diameter_tolerance: float = 0.0
    """m, +-, on both diameters"""
    width_tolerance: float = 0.0
    """m, +-"""


class GlandState(NamedTuple):
    """A ring in its gland."""

    squeeze: Span
    """-, of the stretched cord"""
    stretch: Span
    """-, of the inside diameter"""
    fill: Span
    """-, of the gland's cross-section"""


def cord_tolerance(cord: float) -> float:
    """+-tolerance (m) of a cord (m): ISO 3601-1's standard sections, in between the value of the next larger one.

    >>> round(cord_tolerance(2.62e-3) * 1e3, 3)
    0.09
    """
    for section, tolerance in CORD_TOLERANCE_MM:
        if cord * 1e3 <= section + 1e-6:
            return tolerance * 1e-3
    raise ValueError(f"cord {cord * 1e3:g} mm: ISO 3601-1's sections end at {CORD_TOLERANCE_MM[-1][0]} mm")


def diameter_tolerance(inside_diameter: float) -> float:
    """+-tolerance (m) of an inside diameter (m): 0.009 d^0.95 + 0.11 mm (d in mm). ISO 3601-1 class B, from memory."""
    return (0.009 * (inside_diameter * 1e3) ** 0.95 + 0.11) * 1e-3


def standard_ring(dash: int) -> Ring:
    """The ring of an AS568 dash number. KeyError for one that is not in the table.

    >>> ring = standard_ring(116)
    >>> round(ring.inside_diameter * 1e3, 2), round(ring.cord * 1e3, 2)
    (18.72, 2.62)
    """
    inside, cord = AS568_INCH[dash] * INCH, AS568_SECTION_INCH[dash // 100] * INCH
    return Ring(inside, cord, cord_tolerance(cord), diameter_tolerance(inside))


def stretch(ring_inside_diameter: float, groove_diameter: float) -> float:
    """Stretch of the inside diameter on the groove's floor (-): groove/ring - 1; negative: the ring is loose."""
    return groove_diameter / ring_inside_diameter - 1.0


def stretched_cord(cord: float, stretch: float) -> float:
    """Cord diameter (m) after a stretch (-): cord/sqrt(1 + stretch), volume kept. No stretch, no change: also if
    loose."""
    return cord / math.sqrt(1.0 + max(0.0, stretch))


def squeeze(cord: float, groove_depth: float) -> float:
    """Squeeze (-): 1 - depth/cord, the depth measured to the facing surface, clearance included; never below 0 (no
    contact).

    >>> round(squeeze(2.62e-3, 2.05e-3), 5)
    0.21756
    """
    return max(0.0, 1.0 - groove_depth / cord)


def gland_fill(cord: float, groove_depth: float, groove_width: float) -> float:
    """Share of the gland's cross-section the ring takes (-): (pi/4) cord^2/(depth width).

    >>> round(gland_fill(2.62e-3, 2.05e-3, 3.6e-3), 5)
    0.73053
    """
    return 0.25 * math.pi * cord**2 / (groove_depth * groove_width)


def groove_depth(gland: Gland) -> float:
    """Radial room for the cord (m): half the difference of the two diameters (the clearance counts as depth)."""
    return 0.5 * abs(gland.facing_diameter - gland.groove_diameter)


def carrying_diameter(gland: Gland) -> float:
    """Diameter that stretches the ring (m): the groove's floor in a piston, the rod where the groove is in a bore."""
    return min(gland.groove_diameter, gland.facing_diameter)


def _squeeze_and_fill(cord: float, elongation: float, depth: float, width: float) -> tuple[float, float]:
    """(squeeze, fill) of a cord (m) under a stretch (-) in a gland of `depth` and `width` (m)."""
    section = stretched_cord(cord, elongation)
    return squeeze(section, depth), gland_fill(section, depth, width)


def gland_state(ring: Ring, gland: Gland) -> GlandState:
    """Squeeze, stretch and fill with their least and greatest values over all tolerances.

    Worst cases: the thinnest cord in the deepest gland, the thickest in the shallowest. Each diameter tolerance
    moves the depth by half of itself. ISO 3601-2 practice.
    """
    depth, slack = groove_depth(gland), gland.diameter_tolerance  # two diameters, half of each tolerance
    carrier = carrying_diameter(gland)
    elongation = Span(
        stretch(ring.inside_diameter + ring.diameter_tolerance, carrier - slack),
        stretch(ring.inside_diameter, carrier),
        stretch(ring.inside_diameter - ring.diameter_tolerance, carrier + slack),
    )
    thin, thick = ring.cord - ring.cord_tolerance, ring.cord + ring.cord_tolerance
    loose = _squeeze_and_fill(thin, elongation.greatest, depth + slack, gland.width + gland.width_tolerance)
    nominal = _squeeze_and_fill(ring.cord, elongation.nominal, depth, gland.width)
    tight = _squeeze_and_fill(thick, elongation.least, depth - slack, gland.width - gland.width_tolerance)
    return GlandState(Span(loose[0], nominal[0], tight[0]), elongation, Span(loose[1], nominal[1], tight[1]))


def standard_groove(cord: float, duty: str = "dynamic") -> tuple[float, float]:
    """(depth, width) of a usual groove (m) for one of the standard cords (m); `duty` "dynamic" or "static".

    Common seal-handbook values near ISO 3601-2, from memory. KeyError for another duty, ValueError for another cord.
    """
    for (section, depth), (_, width) in zip(GROOVE_DEPTH_MM[duty], GROOVE_WIDTH_MM):
        if abs(cord * 1e3 - section) < 0.01:  # mm: inch sizes rounded to hundredths
            return depth * 1e-3, width * 1e-3
    raise ValueError(f"cord {cord * 1e3:g} mm: standard sections are {', '.join(str(s) for s, _ in GROOVE_WIDTH_MM)} mm")


def squeeze_friction(squeeze: float, hardness: float) -> float:
    """Running friction per length of rubbing line from squeeze alone (N/m), lubricated.

    f = (-0.884 + 0.0206 H - 0.0001 H^2) s pounds per inch, H hardness in Shore A (60 to 90), s squeeze in per cent:
    a fit of the chart that seal handbooks print (0.68 lb/in at 10 % and 70 Shore A). Source: L. J. Martini,
    Practical Seal Design (1984), from memory. The measured ring of `tests/published/test_f_seals.py` has less than
    half of it (51 against 119 N/m). ValueError outside 60 to 90 Shore A.
    """
    if not SMALLEST_HARDNESS <= hardness <= GREATEST_HARDNESS:
        raise ValueError(f"hardness {hardness:g} Shore A: the friction chart covers {SMALLEST_HARDNESS:g} to 90")
    slope = -0.884 + 0.0206 * hardness - 0.0001 * hardness**2  # lb/in per per cent of squeeze
    return slope * squeeze * 100.0 * POUND_PER_INCH


def pressure_friction(pressure_difference: float) -> float:
    """Running friction per projected area of the seal (Pa) from the pressure across it (Pa): 0.545 dp^0.61, in psi.

    A fit of the chart that seal handbooks print, to about 200 bar. Source: L. J. Martini, Practical Seal Design
    (1984), from memory. Measured rings lie well below it: see `seal_friction_coefficients`.
    """
    psi = max(0.0, pressure_difference) / POUND_PER_SQUARE_INCH
    return 0.545 * psi**0.61 * POUND_PER_SQUARE_INCH


def seal_friction_coefficients(
    cord: float, groove_depth: float, hardness: float, reference_pressure: float = DEFAULT_REFERENCE_PRESSURE
) -> tuple[float, float]:
    """(f_squeeze in N/m, f_pressure dimensionless) of F = pi d (f_squeeze + f_pressure cord dp), running, lubricated.

    From the handbook charts: f_squeeze from squeeze 1 - depth/cord and hardness (Shore A); f_pressure the chart's
    chord from 0 to `reference_pressure` (Pa), its area the diameter's circumference times the groove depth. The
    charts are for sizing, on the high side: 2.3 times the measured squeeze friction and four (7 bar) to nine (1 bar)
    times the measured pressure friction of the pneumatic ring in `tests/published/test_f_seals.py`. Give a measured
    force where there is one, a range otherwise.

    >>> [round(c, 3) for c in seal_friction_coefficients(1.78e-3, 1.45e-3, 70.0)]
    [220.778, 0.042]
    """
    chord = pressure_friction(reference_pressure) / reference_pressure
    return squeeze_friction(squeeze(cord, groove_depth), hardness), chord * groove_depth / cord


def running_force(diameter: float, cord: float, f_squeeze: float, f_pressure: float, pressure_difference: float) -> float:
    """F = pi d (f_squeeze + f_pressure cord |dp|) (N), the law the simulation uses; `diameter` of the rubbing
    surface (m)."""
    return math.pi * diameter * (f_squeeze + f_pressure * cord * abs(pressure_difference))
