"""Gas node: its state, its wall heat, and the energy an expansion sets free."""

import math

import pytest
from sleevelift.gas_tables import load_gas
from sleevelift.physics.gas import content_place, gas_at, gas_state, perfect_gas
from sleevelift.physics.gas_node import expansion_energy, node_state, wall_heat

PERFECT = perfect_gas(1.4, 296.8)


def test_state_of_a_perfect_gas_node():
    """p = m R T/V, h = cp T, n = gamma, and the choked flux of that state."""
    m, T, V = 2e-3, 310.0, 1e-4
    p, temperature, rho, n, h, flux, r_star, status = node_state(m, m * 296.8 / 0.4 * T, V, PERFECT)
    assert status == 0
    assert p == pytest.approx(m * 296.8 * T / V, rel=1e-14)
    assert temperature == pytest.approx(T, rel=1e-14)
    assert rho == m / V
    assert n == 1.4
    assert h == pytest.approx(1.4 / 0.4 * 296.8 * T, rel=1e-14)
    assert flux == pytest.approx(p / math.sqrt(296.8 * T) * 0.6847314563772704, rel=1e-12)
    assert r_star == pytest.approx((2.0 / 2.4) ** 3.5, rel=1e-12)


@pytest.mark.parametrize("mass, volume", [(0.0, 1e-4), (-1e-6, 1e-4), (1e-3, 0.0), (1e-3, -1e-5), (math.nan, 1e-4)])
def test_empty_or_inverted_nodes_are_outside(mass, volume):
    assert node_state(mass, 100.0, volume, PERFECT)[7] == 2


@pytest.mark.parametrize("gas", (load_gas("nitrogen"), load_gas("helium"), perfect_gas(1.4, 296.8)), ids=("N2", "He", "perfect"))
@pytest.mark.parametrize("volume", (2e-7, 5e-5, 2e-3))
def test_a_node_is_placed_by_its_density_and_energy(gas, volume):
    """Its three quotients, taken in one division, are m/V and U/m to rounding; the state is that of rho and u."""
    rho, u, status = gas_at(31e5, 250.0, gas)
    mass = rho * volume
    placed = content_place(mass, mass * u, volume, gas)
    assert placed[0] == pytest.approx(mass / volume, rel=1e-15)
    assert placed[1] == pytest.approx(u, rel=1e-15)
    state = node_state(mass, mass * u, volume, gas)
    p, T, n, _ = gas_state(rho, u, gas)
    assert (state[0], state[1], state[3]) == pytest.approx((p, T, n), rel=1e-13)
    assert state[4] == pytest.approx(u + p / rho, rel=1e-13)


def test_node_is_extensive():
    """Twice the mass and energy in twice the volume is the same state."""
    gas = load_gas("nitrogen")
    rho, u, _ = gas_at(40e5, 280.0, gas)
    one = node_state(rho * 1e-5, rho * u * 1e-5, 1e-5, gas)
    two = node_state(rho * 2e-5, rho * u * 2e-5, 2e-5, gas)
    assert two == pytest.approx(one, rel=1e-12)
    assert one[0] == pytest.approx(40e5, rel=1e-9)
    assert one[1] == pytest.approx(280.0, rel=1e-9)


def test_wall_heat_flows_down_the_temperature():
    assert wall_heat(0.12, 293.15, 253.15) == pytest.approx(4.8)
    assert wall_heat(0.12, 293.15, 333.15) == pytest.approx(-4.8)
    assert wall_heat(0.12, 293.15, 293.15) == 0.0
    assert wall_heat(0.0, 293.15, 100.0) == 0.0


def test_expansion_energy_limits():
    """None at or below the end pressure; small expansions set free rho (u - u) ~ dp^2-free work p dV = dp p/(n p)."""
    gas = load_gas("nitrogen")
    assert expansion_energy(1e5, 300.0, 1e5, gas) == 0.0
    assert expansion_energy(0.5e5, 300.0, 1e5, gas) == 0.0
    small = expansion_energy(1.001e5, 300.0, 1e5, gas)
    assert small == pytest.approx(0.001e5 / 1.4, rel=2e-3)
    assert expansion_energy(200e5, 300.0, 1e5, gas) > expansion_energy(100e5, 300.0, 1e5, gas)


def test_expansion_energy_does_not_depend_on_its_steps():
    """Expanding in two stages sets free the same, counted per volume of the start: the second stage starts at rho_2."""
    whole = expansion_energy(50e5, 300.0, 1e5, PERFECT)
    first = expansion_energy(50e5, 300.0, 10e5, PERFECT)
    T2 = 300.0 * (10.0 / 50.0) ** (0.4 / 1.4)
    ratio = (50.0 / 300.0) / (10.0 / T2)
    second = expansion_energy(10e5, T2, 1e5, PERFECT) * ratio
    assert first + second == pytest.approx(whole, rel=1e-4)
