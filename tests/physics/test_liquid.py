"""Liquid through an orifice: Bernoulli away from zero, a straight line through it."""

import math

import pytest
from sleevelift.physics.liquid import JOINT_PRESSURE, orifice_liquid_flow


@pytest.mark.parametrize("dp", [1e5, 20e5])
def test_bernoulli_away_from_zero(dp):
    """Relative difference (dp_0/dp)^2/4, as the room says."""
    exact = 1e-5 * math.sqrt(2.0 * 1000.0 * dp)
    got = orifice_liquid_flow(1e-5, 1000.0, dp)
    assert got == pytest.approx(exact, rel=0.3 * (JOINT_PRESSURE / dp) ** 2 + 1e-15)
    assert got / exact - 1.0 == pytest.approx(-0.25 * (JOINT_PRESSURE / dp) ** 2, rel=1e-2, abs=1e-14)


def test_odd_and_straight_through_zero():
    assert orifice_liquid_flow(1e-5, 1000.0, 0.0) == 0.0
    for dp in (1.0, 1e3, 1e6):
        assert orifice_liquid_flow(1e-5, 1000.0, -dp) == -orifice_liquid_flow(1e-5, 1000.0, dp)
    slope = 1e-5 * math.sqrt(2.0 * 1000.0) / math.sqrt(JOINT_PRESSURE)
    assert orifice_liquid_flow(1e-5, 1000.0, 1.0) == pytest.approx(slope, rel=1e-6)
