"""Look-up of a gas's state: gradients, inverse, limits, and consistency with thermodynamics that no table was told."""

import math

import numpy as np
import pytest
from sleevelift.gas_tables import gas_facts, load_gas
from sleevelift.physics.expansion import isentropic_work
from sleevelift.physics.gas import (
    IN_RANGE,
    OUTSIDE,
    SUPERSATURATED,
    gas_at,
    gas_enthalpy,
    gas_state,
    gas_state_gradient,
    perfect_gas,
    speed_of_sound,
)

MAIN = ["nitrogen", "helium", "air", "argon"]


def states(gas, count, seed):
    """Random (rho, u) inside the range, from p log-uniform over 1 kPa to 350 bar and T over 1.1 T_crit to 700 K."""
    random = np.random.default_rng(seed)
    T_crit = gas_facts(gas).critical_temperature
    found = []
    while len(found) < count:
        p, T = math.exp(random.uniform(math.log(1e3), math.log(349e5))), random.uniform(max(1.1 * T_crit, 12.0), 699.0)
        rho, u, status = gas_at(p, T, load_gas(gas))
        assert status == IN_RANGE, (p, T)
        found.append((rho, u))
    return found


@pytest.mark.parametrize("gas", [*MAIN, "perfect"])
def test_gradient_is_the_derivative_of_the_state(gas):
    """Central differences of `gas_state`, step 1e-5 of rho and of R 300 K: their error is some 1e-9 of the value."""
    table = perfect_gas(1.4, 287.0) if gas == "perfect" else load_gas(gas)
    for rho, u in states("nitrogen" if gas == "perfect" else gas, 300, seed=1):
        u = abs(u) if gas == "perfect" else u
        gradient = gas_state_gradient(rho, u, table)
        # the same spline, summed in another order: equal to rounding
        np.testing.assert_allclose(gradient[:3], gas_state(rho, u, table)[:3], rtol=1e-13)
        step_rho, step_u = 1e-5 * rho, 1e-5 * table[1] * 300.0
        up, down = gas_state(rho + step_rho, u, table), gas_state(rho - step_rho, u, table)
        above, below = gas_state(rho, u + step_u, table), gas_state(rho, u - step_u, table)
        for k in range(3):
            by_rho, by_u = gradient[3 + 2 * k], gradient[4 + 2 * k]
            allowed = 1e-6 * abs(gradient[k])
            assert abs((up[k] - down[k]) / 2e-5 - by_rho * rho) < allowed
            assert abs((above[k] - below[k]) / 2e-5 - by_u * step_u / 1e-5) < allowed


@pytest.mark.parametrize("gas", MAIN)
def test_speed_of_sound_follows_from_the_pressure_table(gas):
    """c^2 = dp/drho|u + (p/rho^2) dp/du|rho: the spline of n against derivatives of the spline of p, to 2e-4.

    (Closed form, from du = p drho/rho^2 at constant entropy. A spline's derivative is one order less accurate.)
    """
    table = load_gas(gas)
    for rho, u in states(gas, 500, seed=2):
        p, T, n, p_rho, p_u = gas_state_gradient(rho, u, table)[:5]
        assert n == pytest.approx(rho / p * (p_rho + p / rho**2 * p_u), rel=2e-4)


@pytest.mark.parametrize("gas", MAIN)
def test_pressure_and_temperature_obey_one_entropy(gas):
    """d(1/T)/drho|u = d(-p/(rho^2 T))/du|rho, both being the mixed derivative of s (ds = du/T - p drho/(rho^2 T))."""
    table = load_gas(gas)
    for rho, u in states(gas, 500, seed=3):
        p, T, n, p_rho, p_u, T_rho, T_u = gas_state_gradient(rho, u, table)[:7]
        left = -T_rho / T**2
        right = -(p_u / T - p * T_u / T**2) / rho**2
        assert abs(left - right) < 2e-4 * p * T_u / (rho * T) ** 2


@pytest.mark.parametrize("gas", [*MAIN, "perfect"])
def test_state_from_pressure_and_temperature(gas):
    table = perfect_gas(1.4, 287.0) if gas == "perfect" else load_gas(gas)
    for rho, u in states("nitrogen" if gas == "perfect" else gas, 300, seed=4):
        u = abs(u) if gas == "perfect" else u
        p, T, n, status = gas_state(rho, u, table)
        rho_, u_, status = gas_at(p, T, table)
        assert status == IN_RANGE
        assert rho_ == pytest.approx(rho, rel=1e-8)
        assert u_ == pytest.approx(u, abs=1e-8 * table[1] * T)


@pytest.mark.parametrize("gas", ["nitrogen", "air", "argon"])
def test_state_of_vapour_from_pressure_and_temperature(gas):
    """Below the critical temperature: vapour up to the dew point, flagged vapour beyond it, then nothing."""
    import CoolProp.CoolProp as coolprop

    facts, table = gas_facts(gas), load_gas(gas)
    for T in np.linspace(facts.lowest_temperature + 8.0, facts.critical_temperature - 6.0, 20):
        p_dew = coolprop.PropsSI("P", "T", T, "Q", 1, facts.coolprop_name)
        rho, u, status = gas_at(0.999 * p_dew, T, table)
        assert status == IN_RANGE
        exact = coolprop.PropsSI("D", "T", T, "P|gas", 0.999 * p_dew, facts.coolprop_name)
        assert rho == pytest.approx(exact, rel=1e-4)
        assert gas_at(1.02 * p_dew, T, table)[2] == SUPERSATURATED
        assert gas_at(3.0 * p_dew, T, table)[2] == OUTSIDE


def test_refused_states_are_nan_and_do_not_crash():
    table, perfect = load_gas("nitrogen"), perfect_gas(1.4, 287.0)
    bad = [math.nan, math.inf, -math.inf, -1.0, 1e300, -1e300]
    for array in (table, perfect):
        for value in bad[:3]:
            assert gas_state(value, 2e5, array)[3] == OUTSIDE
            assert gas_state(1.0, value, array)[3] == OUTSIDE
            assert gas_at(value, 300.0, array)[2] == OUTSIDE and gas_at(1e5, value, array)[2] == OUTSIDE
        assert gas_state(-1.0, 2e5, array)[3] == OUTSIDE
        assert gas_at(-1.0, 300.0, array)[2] == OUTSIDE and gas_at(1e5, 0.0, array)[2] == OUTSIDE
    for rho in (*bad, 0.0, 1e-300, 1.0, 698.0, 1e4):
        for u in (*bad, 0.0, -1.5e5, 1e5, 5e5, 1e6):
            p, T, n, status = gas_state(rho, u, table)
            gradient = gas_state_gradient(rho, u, table)
            assert status == gradient[9]
            assert all(math.isfinite(value) == (status != OUTSIDE) for value in (p, T, n, *gradient[:9]))


def test_perfect_gas_closed_forms():
    """p = rho R T, u = R T/(gamma - 1), n = gamma, c^2 = gamma R T, h = gamma u."""
    gas, T, rho = perfect_gas(5.0 / 3.0, 2077.0), 250.0, 3.0
    u = 2077.0 * T / (2.0 / 3.0)
    p, T_, n, status = gas_state(rho, u, gas)
    assert (T_, n, status) == (pytest.approx(T), 5.0 / 3.0, IN_RANGE)
    assert p == pytest.approx(rho * 2077.0 * T)
    assert speed_of_sound(rho, u, gas)[0] == pytest.approx(math.sqrt(5.0 / 3.0 * 2077.0 * T))
    assert gas_enthalpy(rho, u, gas)[0] == pytest.approx(5.0 / 3.0 * u)
    for gamma, R in ((1.0, 287.0), (1.4, 0.0), (math.nan, 287.0)):
        with pytest.raises(ValueError, match="gamma"):
            perfect_gas(gamma, R)


@pytest.mark.parametrize("gas", MAIN)
def test_thin_gas_is_perfect(gas):
    """p/(rho R T) -> 1 and n -> c_p/c_v in proportion to the density (second virial coefficient)."""
    facts, table = gas_facts(gas), load_gas(gas)
    previous = math.inf
    for p in (1e5, 1e4, 1e3, 1e2):
        rho, u, _ = gas_at(p, 293.15, table)
        n = gas_state(rho, u, table)[2]
        off = abs(p / (rho * facts.gas_constant * 293.15) - 1.0)
        assert off < 0.15 * previous or off < 1e-6
        previous = off
    assert n == pytest.approx(facts.exponent, rel=1e-5)


def test_stored_energy_of_a_perfect_gas():
    """w = R T/(gamma - 1) (1 - (p_2/p_1)^((gamma - 1)/gamma)); none if already at or below the end pressure."""
    gas = perfect_gas(1.4, 296.8)
    exact = 296.8 * 293.15 / 0.4 * (1.0 - (101325.0 / 30e5) ** (0.4 / 1.4))
    assert isentropic_work(30e5, 293.15, 101325.0, gas)[0] == pytest.approx(exact, rel=1e-8)
    assert isentropic_work(101325.0, 293.15, 101325.0, gas) == (0.0, IN_RANGE)
    assert isentropic_work(5e4, 293.15, 101325.0, gas)[0] == 0.0


@pytest.mark.parametrize(
    ("gas", "p", "T", "status", "tolerance"),
    [
        ("nitrogen", 30e5, 293.15, IN_RANGE, 1e-6),
        ("helium", 350e5, 293.15, IN_RANGE, 1e-6),
        ("air", 10e5, 300.0, IN_RANGE, 1e-6),
        ("argon", 10e5, 293.15, IN_RANGE, 1e-6),
        # condensing: the table's end of the isentrope, then equilibrium at the same entropy
        ("argon", 30e5, 293.15, SUPERSATURATED, 1e-5),
        ("nitrogen", 200e5, 293.15, SUPERSATURATED, 1e-5),
        ("nitrogen", 350e5, 293.15, SUPERSATURATED, 1e-5),
        ("argon", 200e5, 293.15, SUPERSATURATED, 1e-5),
        ("oxygen", 200e5, 290.0, SUPERSATURATED, 1e-5),
        ("air", 350e5, 250.0, SUPERSATURATED, 1e-5),
        ("air", 200e5, 200.0, SUPERSATURATED, 1e-5),
        # cold and dense: near the critical temperature, and ending as liquid alone
        ("nitrogen", 30e5, 130.0, SUPERSATURATED, 1e-5),
        ("nitrogen", 350e5, 135.0, SUPERSATURATED, 2e-4),
        ("argon", 300e5, 170.0, SUPERSATURATED, 1e-5),
    ],
)
def test_stored_energy_against_equilibrium_expansion(gas, p, T, status, tolerance):
    """u_1 - u(s_1, 1 atm) of CoolProp, two-phase where it condenses (air: a mixture taken as one substance)."""
    import CoolProp.CoolProp as coolprop

    fluid = gas_facts(gas).coolprop_name
    entropy = coolprop.PropsSI("S", "P", p, "T", T, fluid)
    exact = coolprop.PropsSI("U", "P", p, "T", T, fluid) - coolprop.PropsSI("U", "P", 101325.0, "S", entropy, fluid)
    work, found = isentropic_work(p, T, 101325.0, load_gas(gas))
    assert found == status
    assert work == pytest.approx(exact, rel=tolerance)


def test_twice_continuous_across_cells():
    """Along a line through many cells the slope of n changes by no jump: C2, so the largest second difference stays
    bounded as the step shrinks (a kink's would grow as 1/step)."""
    table = load_gas("nitrogen")

    def roughness(points):
        rho, u = np.linspace(1.0, 250.0, points), np.linspace(1.9e5, 2.2e5, points)
        slope = np.array([gas_state_gradient(r, e, table)[7] for r, e in zip(rho, u)])
        return np.max(np.abs(np.diff(slope))) * points

    assert roughness(16000) < 1.2 * roughness(4000)
