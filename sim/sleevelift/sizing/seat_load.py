"""A metal seat: load on its line, stress on its land, contact stress, and the leak that classes allow.

    axial closing force F (N, >= 0, pressing the nose on the seat) -> normal force N = F/sin(half_angle) on the cone

Assumptions: frictionless cone, load even around the seat line, elastic contact. The half-angle is measured from the
axis. What a seat really leaks follows from its roughness and waviness under load and is not predicted here: `leakage`
gives a gap from a measured leak. Sources: Johnson, Contact Mechanics (1985); ANSI/FCI 70-2 and IEC 60534-4.
"""

import math
from typing import NamedTuple

STEEL_MODULUS = 200e9
"""Pa. Steel, common textbook value."""

STEEL_POISSON = 0.3
"""-. The same."""

CLASS_FRACTION = {"II": 5e-3, "III": 1e-3, "IV": 1e-4}
"""-. Leak / rated flow of the classes that are a share of it. ANSI/FCI 70-2, IEC 60534-4."""

CLASS_V = 5e-4 * 1e-6 / 60.0 / 0.0254 / 6894.757293168
"""m3/s of water per m of port diameter and Pa: 5e-4 ml/min per inch and psi. ANSI/FCI 70-2, read at
scribd.com/document/377252138."""

CLASS_VI = (
    (25e-3, 0.15), (38e-3, 0.30), (51e-3, 0.45), (64e-3, 0.60), (76e-3, 0.90), (102e-3, 1.70), (152e-3, 4.00),
    (203e-3, 6.75),
)  # fmt: skip
"""(port diameter m, ml/min of air or nitrogen at 3.5 bar or the operating difference, the less). ANSI/FCI 70-2,
memory."""

MILLILITRE_PER_MINUTE = 1e-6 / 60.0
"""m3/s. Exact."""


class LineContact(NamedTuple):
    """A Hertz line contact."""

    peak_stress: float
    """Pa"""
    half_width: float
    """m"""


def load_per_length(force: float, seat_diameter: float) -> float:
    """Axial load per length of seat line (N/m): F/(pi d). What seat practice compares (tens of N/mm for metal on
    metal).

    >>> round(load_per_length(500.0, 0.019))
    8377
    """
    return force / (math.pi * seat_diameter)


def normal_load_per_length(force: float, seat_diameter: float, half_angle: float) -> float:
    """Load per length of seat line normal to the cone (N/m): F/(pi d sin a), half-angle a in rad from the axis."""
    return force / (math.pi * seat_diameter * math.sin(half_angle))


def land_stress(force: float, mean_diameter: float, land_width: float, half_angle: float) -> float:
    """Mean normal stress on a conical land (Pa): F/(pi d w sin a), the width w (m) measured along the cone.

    Equilibrium of the axial force with pressure on the cone, no friction.

    >>> round(land_stress(150.0, 10e-3, 0.2e-3, math.radians(45.0)) / 1e6, 3)
    33.762
    """
    return normal_load_per_length(force, mean_diameter, half_angle) / land_width


def contact_modulus(modulus_1: float, poisson_1: float, modulus_2: float, poisson_2: float) -> float:
    """E* (Pa) of 1/E* = (1 - nu_1^2)/E_1 + (1 - nu_2^2)/E_2. Johnson (1985), eq. 4.4."""
    return 1.0 / ((1.0 - poisson_1**2) / modulus_1 + (1.0 - poisson_2**2) / modulus_2)


def line_contact(
    force: float,
    seat_diameter: float,
    half_angle: float,
    radius: float,
    modulus_1: float = STEEL_MODULUS,
    poisson_1: float = STEEL_POISSON,
    modulus_2: float = STEEL_MODULUS,
    poisson_2: float = STEEL_POISSON,
) -> LineContact:
    """Hertz contact of a rounded edge of `radius` (m, in the axial plane) on a cone, around the seat line.

    p_0 = sqrt(N' E*/(pi R)), half width a = 2 N'/(pi p_0), N' the normal load per length. The cone's own curvature
    and the seat line's are left out (both much larger than R in the axial plane). Source: Johnson (1985), eqs. 4.43
    to 4.45.
    """
    line_load = normal_load_per_length(force, seat_diameter, half_angle)
    modulus = contact_modulus(modulus_1, poisson_1, modulus_2, poisson_2)
    peak = math.sqrt(line_load * modulus / (math.pi * radius))
    if peak == 0.0:
        return LineContact(0.0, 0.0)
    return LineContact(peak, 2.0 * line_load / (math.pi * peak))


def class_allowance(leak_class: str, rated_flow: float) -> float:
    """Leak allowed by class II, III or IV: a share of the rated flow, in its unit. ANSI/FCI 70-2, IEC 60534-4."""
    return CLASS_FRACTION[leak_class] * rated_flow


def class_v_allowance(port_diameter: float, pressure_difference: float) -> float:
    """Water leak allowed by class V (m3/s): 5e-4 ml/min per inch of port and psi. Diameter in m, dp in Pa. ANSI/FCI
    70-2.

    IEC 60534-4 rounds the same to 1.8e-7 l/h per mm and kPa, 5 % more.
    """
    return CLASS_V * port_diameter * pressure_difference


def class_vi_allowance(port_diameter: float) -> float:
    """Gas leak allowed by class VI (m3/s of air or nitrogen), by the next larger port of the table; soft seats.

    ANSI/FCI 70-2, read at scribd.com/document/327483112. ValueError for ports above the table.
    """
    for diameter, allowance in CLASS_VI:
        if port_diameter <= diameter * (1.0 + 1e-9):
            return allowance * MILLILITRE_PER_MINUTE
    raise ValueError(f"port {port_diameter * 1e3:g} mm: the class VI table ends at {CLASS_VI[-1][0] * 1e3:g} mm")
