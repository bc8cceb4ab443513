"""Curve of c*^2 and g over the oxidizer fraction, from a chamber's table over O/F and cold vapour at both ends."""

from functools import lru_cache
from math import sqrt

import numpy as np

from sleevelift.case.schema_liquid import Propellant
from sleevelift.constants import GAS_CONSTANT
from sleevelift.physics.combustion import gamma_squared


def pchip_slopes(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Slopes at the knots of the monotone piecewise cubic (Fritsch and Carlson 1980, Fritsch and Butland 1984).

    The same as `scipy.interpolate.PchipInterpolator` (tested against it); kept here so that a run need not import scipy.
    """
    h = np.diff(x)
    d = np.diff(y) / h
    m = np.zeros_like(x)
    if len(x) == 2:
        return np.full_like(x, d[0])
    w1, w2 = 2.0 * h[1:] + h[:-1], h[1:] + 2.0 * h[:-1]
    inner = np.zeros(len(x) - 2)
    same = d[1:] * d[:-1] > 0.0
    inner[same] = (w1 + w2)[same] / (w1[same] / d[:-1][same] + w2[same] / d[1:][same])
    m[1:-1] = inner
    for end, (h0, h1, d0, d1) in ((0, (h[0], h[1], d[0], d[1])), (-1, (h[-1], h[-2], d[-1], d[-2]))):
        slope = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
        if np.sign(slope) != np.sign(d0):
            slope = 0.0
        elif np.sign(d0) != np.sign(d1) and abs(slope) > 3.0 * abs(d0):
            slope = 3.0 * d0
        m[end] = slope
    return m


def cubic_rows(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """(intervals, 4) coefficients, highest power first, of the monotone cubic in (x - left end)."""
    h = np.diff(x)
    d = np.diff(y) / h
    m = pchip_slopes(x, y)
    return np.column_stack([(m[:-1] + m[1:] - 2.0 * d) / h**2, (3.0 * d - 2.0 * m[:-1] - m[1:]) / h, m[:-1], y[:-1]])


@lru_cache(maxsize=256)
def mixture_curve(
    o_f: tuple[float, ...],
    c_star: tuple[float, ...],
    g: tuple[float, ...],
    efficiency: float,
    cold_fuel: float,
    cold_oxidizer: float,
) -> np.ndarray:
    """Flat curve (shared, read-only) of c*^2 and g over the oxidizer fraction.

    The efficiency acts on the table's entries, not on the cold ends.
    """
    f = np.array([0.0, *(r / (1.0 + r) for r in o_f), 1.0])
    c2 = np.array([cold_fuel**2, *((efficiency * c) ** 2 for c in c_star), cold_oxidizer**2])
    full_g = tuple(g) if len(g) == len(o_f) else tuple(g) * len(o_f)
    exponents = np.array([full_g[0], *full_g, full_g[-1]])
    rows = np.column_stack([f[:-1], cubic_rows(f, c2), cubic_rows(f, exponents)])
    flat: np.ndarray = rows.ravel()
    flat.flags.writeable = False
    return flat


def cold_c_star(given: float | None, part: Propellant, g: float) -> float:
    """c* of cold vapour, m/s: given, or sqrt(R_u T_inlet/(molar mass Gamma^2))."""
    if given is not None:
        return given
    assert part.molar_mass is not None, "the reader asks for a molar mass or a cold c*"
    return vapour_c_star(part.temperature, part.molar_mass, g)


@lru_cache(maxsize=256)
def vapour_c_star(temperature: float, molar_mass: float, g: float) -> float:
    """c*, m/s, of vapour at a temperature, K, of this molar mass, kg/mol, and exponent."""
    return sqrt(GAS_CONSTANT * temperature / (molar_mass * float(gamma_squared(g))))
