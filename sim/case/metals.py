"""How much post and sleeve shrink on cooling: linear contraction of a few metals.

Strain from 293 K to T, in units of 1e-5:  a + b T + c T^2 + d T^3 (+ e T^4), fitted by NIST for 4 to 300 K; below the
metal's lower end the strain is constant, above 300 K the slope at 293 K is carried on (used for room temperatures only).
"""

from typing import NamedTuple

REFERENCE = 293.0
"""K, where the strain is zero."""
WARMEST = 300.0
"""K, end of the fits."""
HOTTEST = 500.0
"""K, end of the straight extension."""


class Metal(NamedTuple):
    coefficients: tuple[float, float, float, float, float]
    lowest: float
    """K, below which the fit gives a constant"""


METALS = {
    "stainless steel 304": Metal((-2.9554e2, -3.9811e-1, 9.2683e-3, -2.0261e-5, 1.7127e-8), 23.0),
    "aluminium 6061": Metal((-4.1277e2, -3.0389e-1, 8.7696e-3, -9.9821e-6, 0.0), 18.0),
    "inconel 718": Metal((-2.366e2, -2.218e-1, 5.601e-3, -7.164e-6, 0.0), 16.0),
    "titanium 6al-4v": Metal((-1.711e2, -2.171e-1, 4.841e-3, -7.202e-6, 0.0), 24.0),
}


def strain(metal: str, temperature: float) -> float:
    """Length at the temperature over length at 293 K, minus 1 (negative when colder)."""
    entry = METALS[metal]
    at = min(max(temperature, entry.lowest), WARMEST)
    value = sum(factor * at**power for power, factor in enumerate(entry.coefficients))
    if temperature > WARMEST:
        slope = sum(power * factor * REFERENCE ** (power - 1) for power, factor in enumerate(entry.coefficients) if power)
        value += slope * (temperature - WARMEST)
    return 1e-5 * value


def contraction(metal: str, from_temperature: float, to_temperature: float) -> float:
    """Strain by which the metal shrinks on the way, positive when it cools."""
    return strain(metal, from_temperature) - strain(metal, to_temperature)
