"""Thrust coefficient and area ratio: isentropic tables, momentum balance, limits."""

import math

import pytest
from sleevelift.sizing.chamber import choked_flow_factor
from sleevelift.sizing.nozzle import area_ratio, exit_pressure_ratio, thrust_coefficient


@pytest.mark.parametrize(("pressure", "area"), [(0.1278, 1.6875), (0.02722, 4.2346), (0.001890, 25.0)])
def test_area_ratio_of_isentropic_tables(pressure, area):
    """Published: NACA Report 1135 (1953), gamma 1.4: Mach 2, 3, 5: p/p0 0.1278, 0.02722, 0.001890; A/A* 1.6875, 4.2346, 25.000
    (from memory)."""
    assert area_ratio(pressure, 1.4) == pytest.approx(area, rel=1e-3)
    assert exit_pressure_ratio(area, 1.4) == pytest.approx(pressure, rel=2e-3)


@pytest.mark.parametrize("exponent", [1.12, 1.2, 1.4])
def test_adapted_thrust_is_exit_momentum(exponent):
    """Momentum balance: adapted, F = w v_e, so C_F = Gamma v_e/sqrt(R T) with v_e from the energy equation, c_p = g R/(g-1)."""
    ratio = 0.03
    coefficient, _ = thrust_coefficient(exponent, ratio, ratio)
    temperature_ratio = ratio ** ((exponent - 1.0) / exponent)
    speed = math.sqrt(2.0 * exponent / (exponent - 1.0) * (1.0 - temperature_ratio))
    assert coefficient == pytest.approx(choked_flow_factor(exponent) * speed, rel=1e-12)


def test_adapted_nozzle_is_the_best():
    """Limit (Sutton and Biblarz, chapter 3): at one ambient pressure thrust is greatest with p_e = p_a."""
    best, _ = thrust_coefficient(1.2, 0.05, 0.05)
    assert all(thrust_coefficient(1.2, exit_ratio, 0.05)[0] < best for exit_ratio in (0.02, 0.04, 0.06, 0.1))
