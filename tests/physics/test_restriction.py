"""Restrictions: limits, symmetry of the laws, continuity at choking and at the straight part, series."""

import math

import pytest
from sleevelift.constants import AIR_GAS_CONSTANT, ANR_DENSITY, ANR_TEMPERATURE
from sleevelift.physics.restriction import (
    area_of_conductance,
    choked_flux,
    component_flow,
    conductance_of_area,
    critical_density_ratio,
    ellipse_fraction,
    flow_fraction,
    flow_slopes,
    isentropic_density_ratio,
    orifice_flow,
    psi,
    restriction_flow,
    series_component,
    subsonic_fraction,
)
from sleevelift.physics.tube import tube_component

P, RHO, N = 50e5, 60.0, 1.45
STRAIGHT = 0.995


def test_no_flow_without_drop_or_area():
    assert orifice_flow(1e-6, P, RHO, N, P, STRAIGHT) == 0.0
    assert orifice_flow(1e-6, P, RHO, N, 1.2 * P, STRAIGHT) == 0.0
    assert orifice_flow(0.0, P, RHO, N, 1e5, STRAIGHT) == 0.0
    assert component_flow(1e-6, 0.3, 0.5, P, RHO, N, P, STRAIGHT) == 0.0


def test_flow_scales_with_area_pressure_and_density():
    """w = A sqrt(p rho) f(r, n): the dimensions of the law."""
    one = orifice_flow(1e-6, P, RHO, N, 0.8 * P, STRAIGHT)
    assert orifice_flow(3e-6, P, RHO, N, 0.8 * P, STRAIGHT) == pytest.approx(3.0 * one, rel=1e-14)
    assert orifice_flow(1e-6, 4.0 * P, RHO, N, 3.2 * P, STRAIGHT) == pytest.approx(2.0 * one, rel=1e-12)
    assert orifice_flow(1e-6, P, 9.0 * RHO, N, 0.8 * P, STRAIGHT) == pytest.approx(3.0 * one, rel=1e-12)


@pytest.mark.parametrize("n", [1.05, 1.3, 1.667, 2.2])
def test_continuous_and_smooth_at_choking(n):
    """The flow is greatest at r*, so value and slope join there."""
    _, r_star = choked_flux(1.0, 1.0, n)
    step = 1e-6
    assert subsonic_fraction(r_star + step, n, r_star) == pytest.approx(1.0, abs=1e-10)
    slope = (subsonic_fraction(r_star + 2.0 * step, n, r_star) - subsonic_fraction(r_star + step, n, r_star)) / step
    assert abs(slope) < 1e-4


@pytest.mark.parametrize("b", [-1.0, 0.0, 0.3, 0.6])
def test_straight_part_joins_and_ends_at_zero(b):
    _, r_star = choked_flux(1.0, 1.0, N)
    at = flow_fraction(STRAIGHT, N, r_star, b, 0.5, STRAIGHT)
    assert flow_fraction(STRAIGHT + 1e-12, N, r_star, b, 0.5, STRAIGHT) == pytest.approx(at, rel=1e-8)
    halfway = 0.5 * (1.0 + STRAIGHT)
    assert flow_fraction(halfway, N, r_star, b, 0.5, STRAIGHT) == pytest.approx(0.5 * at, rel=1e-12)
    assert flow_fraction(1.0, N, r_star, b, 0.5, STRAIGHT) == 0.0


@pytest.mark.parametrize("b", [-1.0, 0.25])
def test_flow_never_rises_with_back_pressure(b):
    _, r_star = choked_flux(1.0, 1.0, N)
    flows = [flow_fraction(k / 500.0, N, r_star, b, 0.5, STRAIGHT) for k in range(501)]
    assert all(later <= earlier + 1e-15 for earlier, later in zip(flows, flows[1:]))
    assert flows[0] == 1.0


def test_exponent_of_one_is_the_isothermal_nozzle():
    """n -> 1: choked at r = 1/sqrt(e), flux sqrt(p rho/e)."""
    flux, r_star = choked_flux(P, RHO, 1.0)
    assert flux == pytest.approx(math.sqrt(P * RHO / math.e), rel=1e-4)
    assert r_star == pytest.approx(math.exp(-0.5), rel=1e-4)


def test_small_drop_is_incompressible():
    """r -> 1: w = A sqrt(2 rho dp), compressibility gone."""
    dp = 1e-3 * P
    assert orifice_flow(1e-6, P, RHO, N, P - dp, 0.99999) == pytest.approx(1e-6 * math.sqrt(2.0 * RHO * dp), rel=2e-3)


def test_component_of_a_conductance_passes_the_standard_flow():
    """At the reference state, choked: C p rho_0 by definition."""
    area = area_of_conductance(1e-8)
    rho = 6e5 / (AIR_GAS_CONSTANT * ANR_TEMPERATURE)
    flow = component_flow(area, 0.3, 0.5, 6e5, rho, 1.4, 1e5, STRAIGHT)
    assert flow == pytest.approx(1e-8 * 6e5 * ANR_DENSITY, rel=1e-12)
    assert conductance_of_area(area) == pytest.approx(1e-8, rel=1e-14)


def test_ellipse_with_another_index_and_at_its_ends():
    assert ellipse_fraction(0.3, 0.3, 0.6) == 1.0
    assert ellipse_fraction(1.0, 0.3, 0.6) == 0.0
    assert ellipse_fraction(0.65, 0.3, 0.5) == pytest.approx(math.sqrt(0.75), rel=1e-14)
    assert ellipse_fraction(0.65, 0.3, 1.0) == pytest.approx(0.75, rel=1e-14)


def test_series_limits():
    """A wide second component changes nothing; a wide first one leaves the second; order matters only through b."""
    c, b = series_component(1e-8, 0.3, 1e-2, 0.4)
    assert (c, b) == (pytest.approx(1e-8, rel=1e-9), pytest.approx(0.3, abs=1e-5))
    c, b = series_component(1e-2, 0.3, 1e-8, 0.4)
    assert (c, b) == (pytest.approx(1e-8, rel=1e-5), pytest.approx(0.4, abs=1e-5))


def test_two_equal_components_in_series_pass_less():
    c, b = series_component(1e-8, 0.4, 1e-8, 0.4)
    assert 0.5e-8 < c < 1e-8
    assert 0.0 < b < 0.4


def test_series_flow_within_one_per_cent():
    """The combination's (C, b) reproduces the two components' flow at every back pressure within 1 % of the choked
    flow."""
    from scipy.optimize import brentq

    c1, b1, c2, b2 = 1.5e-8, 0.35, 1e-8, 0.25
    c, b = series_component(c1, b1, c2, b2)
    for r in (0.05, 0.2, 0.4, 0.6, 0.8, 0.95):

        def residual(p, r=r):
            second = c2 * p * ellipse_fraction(r / p, b2, 0.5)
            return c1 * ellipse_fraction(p, b1, 0.5) - second

        p = brentq(residual, r, 1.0)
        exact = c1 * ellipse_fraction(p, b1, 0.5)
        assert c * ellipse_fraction(r, b, 0.5) == pytest.approx(exact, abs=0.01 * c)


def test_tube_limits():
    """A longer or narrower tube passes less; a short one tends to its bore as a nozzle with entry loss (b 0.6 at
    most)."""
    assert tube_component(4e-3, 2.0)[0] < tube_component(4e-3, 0.5)[0] < tube_component(6e-3, 0.5)[0]
    c, b = tube_component(4e-3, 1e-6)
    assert b == pytest.approx(474.0 * 0.029 / math.sqrt(510.0), rel=1e-3)
    assert conductance_of_area(math.pi / 4.0 * 16e-6) > c * 0.7


def test_psi_rises_with_the_exponent():
    values = [psi(n) for n in (1.0, 1.1, 1.4, 1.667, 2.5)]
    assert values == sorted(values)


@pytest.mark.parametrize("n", [0.9, 0.9951, 0.999, 1.001, 1.05, 1.135, 1.4, 5.0 / 3.0, 2.0, 2.5, 2.999999, 3.000001, 6.0, 13.0])
def test_critical_density_ratio_against_its_closed_form(n):
    """z^(1/(n-1)), z = 2/(n+1), on both sides of where its polynomial begins and ends."""
    exact = math.exp(math.log1p((1.0 - n) / (n + 1.0)) / (n - 1.0))
    assert critical_density_ratio(n, 2.0 / (n + 1.0)) == pytest.approx(exact, rel=1e-12 if n >= 1.0 else 3e-12)


def test_critical_density_ratio_at_an_exponent_of_one():
    """Its limit, exp(-1/2)."""
    assert critical_density_ratio(1.0, 1.0) == pytest.approx(math.exp(-0.5), rel=1e-12)


@pytest.mark.parametrize("b", [-1.0, 0.3])
@pytest.mark.parametrize("ratio", [0.2, 0.6, 0.9, 0.995, 0.9995])
def test_slopes_of_a_flow_against_differences(b, ratio):
    """By both pressures, density and exponent: choked, subsonic, and on the straight part near equal pressures.

    There the exponent hardly matters, and its slope is a small difference of large ones: good to a millionth of flow/n."""
    p1, rho1, n1, straight = 30e5, 35.0, 1.45, 0.999

    def flow(p, rho, n, p2):
        flux, star = choked_flux(p, rho, n)
        return restriction_flow(1e-6, b, 0.5, flux, star, p, n, p2, straight)

    at = (p1, rho1, n1, ratio * p1)
    flux, star = choked_flux(p1, rho1, n1)
    got = flow_slopes(1e-6, b, 0.5, flux, star, p1, rho1, n1, ratio * p1, straight)
    assert got[0] == pytest.approx(flow(*at), rel=1e-12)
    for place, slope in enumerate(got[1:]):
        step = 1e-6 * at[place]
        above = [v + (step if i == place else 0.0) for i, v in enumerate(at)]
        below = [v - (step if i == place else 0.0) for i, v in enumerate(at)]
        expected = (flow(*above) - flow(*below)) / (2.0 * step)
        assert slope == pytest.approx(expected, rel=1e-5, abs=1e-6 * got[0] / at[place])


@pytest.mark.parametrize("n", (0.9, 1.0, 1.24, 1.67, 3.0))
@pytest.mark.parametrize("r", (1e-3, 0.5, 0.95, math.nextafter(0.95, 1.0), 0.97, 0.995, 1.0 - 1e-9, 1.0))
def test_density_ratio_of_an_isentropic_flow(r, n):
    """r^(1/n) and ln r, to rounding, where it takes series (r above 0.95) and where it does not."""
    a, log_r = isentropic_density_ratio(r, n)
    assert a == pytest.approx(r ** (1.0 / n), rel=1e-14)
    assert log_r == pytest.approx(math.log(r), rel=1e-14, abs=0.0)
