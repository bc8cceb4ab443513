"""Gas in a manifold: pressure law, its limits and derivatives, the energy it balances, the gap law."""

from math import inf, log, pi

import numpy as np
import pytest
from sleevelift.physics.feed_line import compression_energy, manifold_pressure
from sleevelift.physics.manifold_gas import (
    energy_beside_gas,
    gap_numbers,
    orifice_and_gap,
    potential,
    pressure_beside_gas,
    rest_of_cavity,
)
from sleevelift.physics.restriction import orifice_flow
from sleevelift.sizing.leakage import Gap, gap_flow
from sleevelift.sizing.leakage import Gas as LeakGas

BULK, VOLUME, VAPOUR, REFERENCE = 0.935e9, 40e-6, 0.995e5, 1.01325e5
STIFFNESS = BULK / VOLUME


def law(z, content, cavity=0):
    return pressure_beside_gas(z, content, cavity, STIFFNESS, VAPOUR)


@pytest.mark.parametrize("z", [1e-9, 3e-8, 1e-7])
def test_without_gas_it_is_the_law_of_the_liquid_to_the_digit(z):
    assert law(z, 0.0)[0] == manifold_pressure(z, 0, STIFFNESS, VAPOUR)
    assert law(-z, 0.0, 1)[0] == manifold_pressure(-z, 1, STIFFNESS, VAPOUR)


def test_without_liquid_it_is_the_gas_law():
    """Full of gas (z = -V and what the liquid's stiffness makes of it): p V = m R T."""
    content = 12e5 * VOLUME
    z = (12e5 - VAPOUR) / STIFFNESS - VOLUME
    assert law(z, content)[0] == pytest.approx(12e5, rel=1e-9)


@pytest.mark.parametrize("z", [-39e-6, -1e-6, -1e-9, 0.0, 1e-9, 5e-8])
@pytest.mark.parametrize("pressure", [2e5, 25e5])
def test_one_pressure_for_gas_and_liquid(z, pressure):
    """Gas volume by the gas law is what the squeezed liquid leaves; the derivatives are those of the law, without cancellation."""
    gas_volume = (pressure - VAPOUR) / STIFFNESS - z
    if gas_volume <= 0.0:
        return
    content = pressure * gas_volume
    p, by_z, by_content = law(z, content)
    assert p == pytest.approx(pressure, rel=1e-9)
    d_z, d_c = 1e-6 * max(abs(z), 1e-9), 1e-6 * content
    assert by_z == pytest.approx((law(z + d_z, content)[0] - law(z - d_z, content)[0]) / (2 * d_z), rel=1e-4)
    assert by_content == pytest.approx((law(z, content + d_c)[0] - law(z, content - d_c)[0]) / (2 * d_c), rel=1e-5)


def test_a_cavity_opens_where_the_gas_alone_has_the_vapour_pressure():
    content = 3.0
    z = rest_of_cavity(content, VAPOUR)
    assert law(z, content)[0] == pytest.approx(VAPOUR, rel=1e-9)
    assert -z * VAPOUR == pytest.approx(content, rel=1e-12)


def test_energy_is_what_pressure_and_potential_do():
    """Along any path of z and m the change of energy is the integral of p dz + R T ln(p/p_0) dm; a cavity too."""
    rt = 6e5
    s = np.linspace(0.0, 1.0, 20001)
    for z, m, cavity in (
        (-5e-6 + 4.9e-6 * s, 1e-6 + 4e-6 * s**2, 0),
        (2e-8 - 3e-5 * s, 1e-5 * (1.0 - 0.7 * s), 0),
        (-3e-5 - 5e-6 * s, 1e-6 * (1.0 - s), 1),
    ):
        p = np.array([law(a, b * rt, cavity)[0] for a, b in zip(z, m)])
        mu = np.array([potential(each, rt, REFERENCE) for each in p])
        work = np.trapezoid(p, z) + np.trapezoid(mu, m)
        ends = [energy_beside_gas(z[k], m[k] * rt, p[k], cavity, STIFFNESS, VAPOUR, REFERENCE) for k in (0, -1)]
        assert ends[1] - ends[0] == pytest.approx(work, rel=1e-5)


def test_energy_without_gas_is_that_of_the_liquid():
    for z in (1e-8, 1e-7):
        p = law(z, 0.0)[0]
        found = energy_beside_gas(z, 0.0, p, 0, STIFFNESS, VAPOUR, REFERENCE)
        assert found == pytest.approx(compression_energy(z, p, VOLUME, BULK, VAPOUR, 0.0, 1.4, REFERENCE), rel=1e-12)
    content = 2.0
    z = rest_of_cavity(content, VAPOUR)
    apart = [energy_beside_gas(z, content, VAPOUR, cavity, STIFFNESS, VAPOUR, REFERENCE) for cavity in (0, 1)]
    assert apart[0] == pytest.approx(apart[1], rel=1e-12)


def test_potential_is_isothermal_work():
    """A kilogram squeezed from p_0 to p at constant temperature takes R T ln(p/p_0) (any text of thermodynamics)."""
    assert potential(15e5, 6e5, 1e5) == pytest.approx(6e5 * log(15.0))


def test_gap_is_that_of_the_leak_checks():
    """Laminar with slip, against the room of leak checks at the same gap; the mouth limits it where the gap is short."""
    d, c, e, length, mu, R, T = 16e-3, 5e-6, 0.4, 1e-3, 1.76e-5, 296.8, 293.15
    gap, slip = gap_numbers(d, c, e, mu, R * T)
    p1, p2 = 6e5, 1e5
    found = orifice_and_gap(0.0, 0.0, gap, slip, length, -1.0, inf, 0, p1, p2, p1 / (R * T), 1.4, 0.995)[0]
    expected = gap_flow(Gap(d, c, length, e), p1, p2, T, LeakGas(8.31446261815324 / R, 1.4, mu)).flow
    assert found == pytest.approx(expected, rel=1e-3)
    mouth = 0.7 * pi * d * c
    short = orifice_and_gap(0.0, 0.0, gap, slip, 1e-9, -1.0, mouth, 0, p1, p2, p1 / (R * T), 1.4, 0.995)[0]
    assert short == pytest.approx(orifice_flow(mouth, p1, p1 / (R * T), 1.4, p2, 0.995), rel=1e-12)


@pytest.mark.parametrize("in_turn", [0, 1])
@pytest.mark.parametrize("ratio", [0.3, 0.8, 0.999])
def test_slopes_of_orifice_and_gap(in_turn, ratio):
    gap, slip = gap_numbers(16e-3, 7e-6, 0.0, 2e-5, 6e5)
    x = np.array([12e5, 12e5 * ratio, 3e-4, 2.0])

    def flow(v, area=3e-6, widening=0.01, start=2e-4, length=4e-4):
        at = area + widening * (v[2] - 3e-4), widening, gap, slip, start + length - v[2], -1.0, 3e-7, in_turn
        return orifice_and_gap(*at, v[0], v[1], v[3], 1.66, 0.995)

    got = flow(x)
    for k, j in ((0, 1), (1, 2), (2, 3), (3, 4)):
        step = np.zeros(4)
        step[k] = 1e-6 * x[k]
        slope = (flow(x + step)[0] - flow(x - step)[0]) / (2.0 * step[k])
        assert got[j] == pytest.approx(slope, rel=2e-4, abs=1e-9 * got[0] / x[k]), k
