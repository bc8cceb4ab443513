"""Metals: how much they contract from room temperature, and what that does to a clearance.

    contraction e(T) = (L(293 K) - L(T))/L(293 K)     > 0 when colder, < 0 when hotter than 293 K

Assumptions: isotropic, stress free, evenly at temperature. Validity: 4 to 573 K; the alloys' scatter is some per
cent (given per metal). Sources: NIST Cryogenic Material Properties Database (Marquardt, Le and Radebaugh, 2000) for
polynomial fits (trc.nist.gov/cryogenics; the address of the copy that was read was not kept); the rest from memory, said per metal.
"""

from typing import NamedTuple

REFERENCE_TEMPERATURE = 293.0
"""K. Where the contraction is zero by definition (NIST, and most tables)."""

COLDEST, HOTTEST = 4.0, 573.15
"""K. Range of the table."""

FIT_UNIT = 1e-5
"""-. NIST's fits give the length change in units of 1e-5."""


class Metal(NamedTuple):
    """Thermal contraction of one metal: a fit or a table below 293 K, mean expansions above."""

    title: str
    fit: tuple[float, ...]
    """NIST: 1e5 (L - L293)/L293 = a + b T + c T^2 + ...; empty: the table"""
    plateau: tuple[float, float]
    """(temperature K below which the fit is replaced, its value there in 1e-5)"""
    cold: tuple[tuple[float, float], ...]
    """(K, contraction in 1e-5), falling to 0 at 293 K; empty: the fit"""
    expansion_373: float
    """1/K, mean from 293 to 373 K"""
    expansion_573: float
    """1/K, mean from 293 to 573 K"""
    uncertainty: float
    """-, of the contraction, one part of itself"""
    source: str


NIST = "NIST cryogenic database fit (trc.nist.gov/cryogenics, copy's address not kept); above 293 K handbook means, from memory"
NIST_COPPER = "NIST fit of the expansion coefficient of OFHC copper, integrated from 293 K; above 293 K from memory"
NBS = "Corruccini and Gniewek, NBS Monograph 29 (1961), from memory"
SCALED = "from memory, scaled from nickel; above 293 K btimetals.com, alloy 400 (14.2 to 366 K, 15.7 to 589 K)"
NO_PLATEAU = (0.0, 0.0)
AUSTENITIC_FIT = (-295.54, -0.39811, 9.2683e-3, -2.0261e-5, 1.7127e-8)
"""NIST's fit of 304; 316 differs by less than its 5 %."""

COPPER = (
    (4.0, 325.56), (20.0, 325.43), (40.0, 323.28), (60.0, 315.67), (77.0, 304.24), (100.0, 282.84), (125.0, 254.16),
    (150.0, 221.68), (175.0, 186.54), (200.0, 149.38), (225.0, 110.62), (250.0, 70.63), (275.0, 29.75),
)  # fmt: skip
BRASS = ((4.0, 384.0), (40.0, 380.0), (77.0, 353.0), (100.0, 326.0), (150.0, 253.0), (200.0, 169.0), (250.0, 80.0))
MONEL = ((4.0, 249.0), (40.0, 247.0), (77.0, 234.0), (100.0, 217.0), (150.0, 170.0), (200.0, 114.0), (250.0, 54.0))

METALS = {
    "304": Metal("stainless steel 304", AUSTENITIC_FIT, (23.0, -300.04), (), 17.2e-6, 17.8e-6, 0.05, NIST),
    "316": Metal("stainless steel 316", AUSTENITIC_FIT, (23.0, -300.04), (), 16.0e-6, 16.8e-6, 0.05, NIST),
    "6061": Metal(
        "aluminium 6061-T6",
        (-412.77, -0.30389, 8.7696e-3, -9.9821e-6),
        (18.0, -415.45),
        (),
        23.6e-6,
        25.2e-6,
        0.04,
        NIST,
    ),
    "718": Metal("nickel alloy 718", (-236.8, -0.212, 5.497e-3, -6.882e-6), (20.0, -238.87), (), 13.0e-6, 13.8e-6, 0.02, NIST),
    "ti-6al-4v": Metal(
        "titanium Ti-6Al-4V", (-171.1, -0.214, 4.807e-3, -7.111e-6), (24.0, -173.61), (), 8.6e-6, 9.2e-6, 0.02, NIST
    ),
    "copper": Metal("copper, oxygen free", (), NO_PLATEAU, COPPER, 17.0e-6, 17.7e-6, 0.02, NIST_COPPER),
    "brass": Metal("brass, 65 Cu 35 Zn", (), NO_PLATEAU, BRASS, 19.9e-6, 20.5e-6, 0.05, NBS),
    "monel": Metal("nickel-copper alloy 400", (), NO_PLATEAU, MONEL, 14.2e-6, 15.6e-6, 0.10, SCALED),
}
"""Names a case may give for `post_material` and `sleeve_material`."""


def _fit_contraction(metal: Metal, temperature: float) -> float:
    """Contraction (1e-5) of NIST's polynomial, zeroed at 293 K (the fit misses zero there by up to 0.1)."""

    def polynomial(T: float) -> float:
        return sum(coefficient * T**power for power, coefficient in enumerate(metal.fit))

    below, value = metal.plateau
    length_change = value if temperature < below else polynomial(temperature)
    return polynomial(REFERENCE_TEMPERATURE) - length_change


def _table_contraction(metal: Metal, temperature: float) -> float:
    """Contraction (1e-5) between the rows of the table, by monotone cubics (PCHIP)."""
    from scipy.interpolate import PchipInterpolator

    rows = (*metal.cold, (REFERENCE_TEMPERATURE, 0.0))
    return float(PchipInterpolator([row[0] for row in rows], [row[1] for row in rows])(temperature))


def _hot_contraction(metal: Metal, temperature: float) -> float:
    """Contraction (-, negative) above 293 K: the mean expansion runs linearly through its values at 373 and 573 K."""
    slope = (metal.expansion_573 - metal.expansion_373) / (573.15 - 373.15)
    mean = metal.expansion_373 + slope * (temperature - 373.15)
    return -mean * (temperature - REFERENCE_TEMPERATURE)


def contraction(material: str, temperature: float) -> float:
    """Strain (-) of `material` (a name of METALS) from 293 K to `temperature` (K), positive when it shrinks.

    KeyError for another name, ValueError outside 4 to 573 K.

    >>> round(contraction("304", 90.0) * 1e5), round(contraction("6061", 90.0) * 1e5)
    (270, 376)
    """
    metal = METALS[material]
    if not COLDEST <= temperature <= HOTTEST:
        raise ValueError(f"{metal.title} at {temperature:g} K: the table covers {COLDEST:g} to {HOTTEST:g} K")
    if temperature > REFERENCE_TEMPERATURE:
        return _hot_contraction(metal, temperature)
    return FIT_UNIT * (_fit_contraction(metal, temperature) if metal.fit else _table_contraction(metal, temperature))


def contraction_between(material: str, start: float, end: float) -> float:
    """Strain (-) of `material` from `start` to `end` (K), relative to its length at `start`, positive when it shrinks.

    (e(end) - e(start))/(1 - e(start)); zero for equal temperatures.
    """
    at_start = contraction(material, start)
    return (contraction(material, end) - at_start) / (1.0 - at_start)
