"""Feed line and manifold: the laws, their inverses, and the energy they store."""

import math

import pytest
from scipy.integrate import solve_ivp
from sleevelift.physics.feed_line import (
    compressed_volume,
    compression_energy,
    critical_damping,
    line_acceleration,
    manifold_pressure,
    ringing_period,
    trapped_gas_pressure,
)

V, B, PV, P0 = 3e-4, 1.06e9, 5.9e3, 101325.0


def test_liquid_law_and_its_cavity():
    assert manifold_pressure(0.0, 0, B / V, PV) == PV
    assert manifold_pressure(1e-6, 0, B / V, PV) == pytest.approx(PV + B * 1e-6 / V)
    assert manifold_pressure(-1e-6, 1, B / V, PV) == PV


@pytest.mark.parametrize("pocket", [0.0, 1e-7, 1e-5])
@pytest.mark.parametrize("p", [0.3e5, P0, 27e5, 150e5])
def test_compressed_volume_is_the_inverse(pocket, p):
    z = compressed_volume(p, V, B, PV, pocket, 1.4, P0)
    back = manifold_pressure(z, 0, B / V, PV) if pocket == 0.0 else trapped_gas_pressure(z, V, B, pocket, 1.4, P0)
    assert back == pytest.approx(p, rel=1e-10)


@pytest.mark.parametrize("pocket, n", [(0.0, 1.4), (1e-6, 1.4), (1e-6, 1.0), (1e-5, 1.2)])
def test_stored_energy_is_the_integral_of_pressure(pocket, n):
    from scipy.integrate import quad

    def pressure(z):
        return manifold_pressure(z, 0, B / V, PV) if pocket == 0.0 else trapped_gas_pressure(z, V, B, pocket, n, P0)

    z1, z2 = (compressed_volume(p, V, B, PV, pocket, n, P0) for p in (2e5, 40e5))
    work = quad(pressure, z1, z2, epsrel=1e-11)[0]
    stored = [compression_energy(z, pressure(z), V, B, PV, pocket, n, P0) for z in (z1, z2)]
    assert stored[1] - stored[0] == pytest.approx(work, rel=1e-8)


def test_energy_of_a_cavity():
    """Opening a cavity of 1 mm3 against the vapour takes p_v times its volume."""
    assert compression_energy(-1e-9, PV, V, B, PV, 0.0, 1.4, P0) == pytest.approx(-PV * 1e-9)


def test_small_pocket_is_no_pocket():
    """Without gas the liquid's law; the pocket's own counts from p0, the liquid's from the vapour pressure."""
    z = 2e-7
    stiff = P0 + B * z / V
    assert trapped_gas_pressure(z, V, B, 1e-13, 1.4, P0) == pytest.approx(stiff, rel=1e-5)


def test_pressure_rises_with_compression_over_a_wide_range():
    last = 0.0
    for z in (-5e-5, -1e-5, -1e-6, -1e-8, 0.0, 1e-8, 1e-6, 1e-5, 5e-5):
        p = trapped_gas_pressure(z, V, B, 1e-5, 1.4, P0)
        assert math.isfinite(p) and p > last
        last = p
    assert trapped_gas_pressure(0.0, V, B, 1e-5, 1.4, P0) == pytest.approx(P0, rel=1e-12)


def test_line_accelerates_against_its_loss():
    assert line_acceleration(27e5, 20e5, 0.0, 0.3, 1.0 / 650.0) == pytest.approx(7e5 / 650.0)
    assert line_acceleration(27e5, 20e5, 2e6, 0.3, 1.0 / 650.0) == pytest.approx((7e5 - 2e6 * 0.09) / 650.0)
    assert line_acceleration(20e5, 27e5, 2e6, -0.3, 1.0 / 650.0) == -line_acceleration(27e5, 20e5, 2e6, 0.3, 1.0 / 650.0)
    steady = math.sqrt(7e5 / 2e6)
    assert line_acceleration(27e5, 20e5, 2e6, steady, 1.0 / 650.0) == pytest.approx(0.0, abs=1e-9)


def test_period_scales():
    """Heavier column, larger or softer volume: slower."""
    one = ringing_period(650.0, V, B, 789.0)
    assert ringing_period(4.0 * 650.0, V, B, 789.0) == pytest.approx(2.0 * one)
    assert ringing_period(650.0, 4.0 * V, B, 789.0) == pytest.approx(2.0 * one)
    assert ringing_period(650.0, V, B / 4.0, 789.0) == pytest.approx(2.0 * one)


def test_critical_damping_against_its_closed_form():
    """A line let go from a swing z_0 returns as z_0 (1 + omega t) exp(-omega t), the double root of z'' + rate z' + omega^2 z
    (closed form), here integrated by scipy from the line's own law and manifold's: it never passes its rest."""
    inertance, rho, z_0 = 650.0, 789.0, 1e-6
    period = ringing_period(inertance, V, B, rho)
    rate, omega = critical_damping(period), 2.0 * math.pi / period

    def slopes(t, y):
        flow, z = y
        return [line_acceleration(0.0, manifold_pressure(z, 0, B / V, 0.0), 0.0, flow, 1.0 / inertance) - rate * flow, flow / rho]

    times = [0.1 * period, 0.5 * period, 2.0 * period]
    z = solve_ivp(slopes, (0.0, times[-1]), [0.0, z_0], t_eval=times, rtol=1e-10, atol=1e-16).y[1]
    assert z == pytest.approx([z_0 * (1.0 + omega * t) * math.exp(-omega * t) for t in times], rel=1e-6)
    assert z.min() > 0.0
