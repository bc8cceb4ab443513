"""Combustion chamber: factors, mixture curve, throat and the hard-start estimate."""

import math

import numpy as np
import pytest
from sleevelift.physics.combustion import (
    gamma_squared,
    hard_start_pressure,
    mixture,
    oxidizer_fraction,
    throat_flow,
)
from sleevelift.plant.mixture_table import cubic_rows, mixture_curve, pchip_slopes

O_F = (0.5, 1.0, 1.4, 2.0, 6.0)
C_STAR = (1200.0, 1575.0, 1715.0, 1680.0, 1330.0)
G = (1.16, 1.22, 1.14, 1.12, 1.16)
CURVE = np.array((7.0, *mixture_curve(O_F, C_STAR, G, 0.9, 390.0, 250.0)))
COUNT = len(O_F) + 1
P_AMB = 101325.0


def test_curve_passes_its_entries():
    """Efficiency squared on the table's entries, none on the cold ends; g at an end is the nearest entry's."""
    for o_f, c, g in zip(O_F, C_STAR, G):
        c2, exponent = mixture(o_f / (1.0 + o_f), CURVE, 1, COUNT)
        assert c2 == pytest.approx((0.9 * c) ** 2, rel=1e-12)
        assert exponent == pytest.approx(g, rel=1e-12)
    assert mixture(0.0, CURVE, 1, COUNT) == (pytest.approx(390.0**2), pytest.approx(G[0]))
    assert mixture(1.0, CURVE, 1, COUNT) == (pytest.approx(250.0**2), pytest.approx(G[-1]))
    assert mixture(-0.3, CURVE, 1, COUNT) == mixture(0.0, CURVE, 1, COUNT)
    assert mixture(1.3, CURVE, 1, COUNT) == mixture(1.0, CURVE, 1, COUNT)


def test_curve_overshoots_no_entry():
    values = [mixture(f, CURVE, 1, COUNT) for f in np.linspace(0.0, 1.0, 2001)]
    assert max(c2 for c2, _ in values) <= (0.9 * max(C_STAR)) ** 2 * (1.0 + 1e-12)
    assert min(c2 for c2, _ in values) >= 250.0**2 * (1.0 - 1e-12)
    assert min(g for _, g in values) >= min(G) - 1e-12


@pytest.mark.parametrize("seed", range(5))
def test_pchip_with_scipy(seed):
    """Slopes and values on random knots, flat and turning stretches included, against scipy."""
    from scipy.interpolate import PchipInterpolator

    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.uniform(0.01, 1.0, 12))
    y = rng.normal(size=12)
    y[4] = y[5]
    theirs = PchipInterpolator(x, y)
    assert pchip_slopes(x, y) == pytest.approx(theirs.derivative()(x), rel=1e-10, abs=1e-12)
    rows = cubic_rows(x, y)
    at = rng.uniform(x[0], x[-1], 200)
    k = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    s = at - x[k]
    got = ((rows[k, 0] * s + rows[k, 1]) * s + rows[k, 2]) * s + rows[k, 3]
    assert got == pytest.approx(theirs(at), rel=1e-10, abs=1e-12)


def test_pchip_of_two_points_is_a_line():
    assert list(pchip_slopes(np.array([1.0, 3.0]), np.array([2.0, 8.0]))) == [3.0, 3.0]


def test_fraction_is_clipped_and_has_a_default():
    assert oxidizer_fraction(3.0, 1.0, 0.6) == 0.75
    assert oxidizer_fraction(-1e-9, 1.0, 0.6) == 0.0
    assert oxidizer_fraction(1.0, -1e-9, 0.6) == 1.0
    assert oxidizer_fraction(0.0, 0.0, 0.6) == 0.6
    assert oxidizer_fraction(-1.0, -1.0, 0.6) == 0.6


def test_throat_is_continuous_and_shuts_at_ambient():
    """At choking the two branches meet; straight from 0.995 to 0 at p = p_amb; proportional to its area."""
    g, volume, mass = 1.2, 1e-3, 1e-3
    big = math.sqrt(gamma_squared(g))

    def flow(p, area=1e-3):
        return throat_flow(p, mass / volume, area, g, P_AMB, 0.995)

    critical = P_AMB / (2.0 / (g + 1.0)) ** (g / (g - 1.0))
    assert flow(critical * (1.0 + 1e-9)) == pytest.approx(flow(critical * (1.0 - 1e-9)), rel=1e-8)
    assert flow(P_AMB) == 0.0
    assert flow(P_AMB / 0.9975) == pytest.approx(0.5 * flow(P_AMB / 0.995), rel=3e-3)
    assert flow(20e5, 2e-3) == pytest.approx(2.0 * flow(20e5))
    assert flow(20e5) == pytest.approx(20e5 * 1e-3 * big / math.sqrt(20e5 * volume / mass), rel=1e-13)


def test_hard_start_estimate():
    """A power 1.03 of the pool's mass above 5 bar, ambient pressure without one, highest near the best mixture."""
    ideal = np.array(mixture_curve(O_F, C_STAR, G, 1.0, 390.0, 250.0))

    def over(o, f):
        return hard_start_pressure(o, f, 1e-3, P_AMB, ideal, 0, COUNT) - P_AMB

    assert over(0.0, 0.0) == 0.0 and over(-1e-6, 0.0) == 0.0
    assert over(2.8e-3, 2e-3) == pytest.approx(2.0**1.03 * over(1.4e-3, 1e-3), rel=1e-12)
    assert over(1.4e-4, 1e-4) == pytest.approx(2.0 * over(0.7e-4, 0.5e-4), rel=1e-12)
    m = 2.4e-3
    plain = 1.14 * m * gamma_squared(1.14) * 1715.0**2 / 1e-3
    assert over(1.4e-3, 1e-3) == pytest.approx(plain * (plain / 5e5) ** 0.03, rel=1e-12)
    assert over(1.4e-3, 1e-3) > over(0.5e-3, 1.9e-3) > 0.0


def test_gamma_squared_of_a_known_exponent():
    """Gamma(1.4) = 0.68473 (any gas-dynamics text)."""
    assert math.sqrt(gamma_squared(1.4)) == pytest.approx(0.68473, abs=1e-5)
