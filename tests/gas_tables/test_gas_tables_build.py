"""The tables against CoolProp itself, between the nodes, over the whole range; what the range is; size and time."""

import math

import numpy as np
import pytest
from sleevelift.gas_tables import build, gas_facts, load_gas
from sleevelift.physics.gas import IN_RANGE, OUTSIDE, SUPERSATURATED, gas_state

MAIN = ["nitrogen", "helium", "air", "argon"]
OTHERS = ["oxygen", "neon", "carbon monoxide", "fluorine", "hydrogen", "parahydrogen", "orthohydrogen", "deuterium"]
HELIUM_VAPOUR = 0.45
"""Critical densities. Stated limit of helium's vapour below 1.05 T_crit (`HIGHEST_VAPOUR_DENSITY`)."""

P_AND_T, EXPONENT = 1e-5, 1e-4
"""-. Largest relative errors allowed (docs: gas, over the whole range)."""


class Reference:
    """CoolProp's own state at (rho, T), gas phase imposed, and its saturated vapour."""

    def __init__(self, name):
        import CoolProp.CoolProp as coolprop

        self.library, self.facts = coolprop, gas_facts(name)
        self.gas = coolprop.AbstractState("HEOS", self.facts.coolprop_name)
        self.gas.specify_phase(coolprop.iphase_gas)
        self.flash = coolprop.AbstractState("HEOS", self.facts.coolprop_name)

    def state(self, rho, T):
        self.gas.update(self.library.DmassT_INPUTS, rho, T)
        return self.gas.umass(), self.gas.p(), self.gas.rhomass() * self.gas.speed_sound() ** 2 / self.gas.p()

    def vapour(self, T):
        self.flash.update(self.library.QT_INPUTS, 1.0, T)
        return self.flash.rhomass()

    def melts(self, rho, T):
        """Whether the fluid would be frozen: only helium's range comes near its melting line."""
        if self.facts.name != "helium" or T > 8.0:
            return False
        return self.state(rho, T)[1] > self.flash.melting_line(self.library.iP, self.library.iT, T)

    def vapour_limit(self):
        return (HELIUM_VAPOUR if self.facts.name == "helium" else 1.0) * self.facts.critical_density


def error_and_status(reference, table, rho, T):
    """Relative errors of p, T, n in parts of what is allowed, and the status."""
    u, p, n = reference.state(rho, T)
    p_, T_, n_, status = gas_state(rho, u, table)
    return max(abs(p_ / p - 1.0) / P_AND_T, abs(T_ / T - 1.0) / P_AND_T, abs(n_ / n - 1.0) / EXPONENT), status


def random_states(reference, count, seed):
    """(rho, T) over the range: above saturation, or 1.05 T_crit; below the highest pressure and temperature."""
    facts, random = reference.facts, np.random.default_rng(seed)
    T_sat = np.linspace(facts.lowest_temperature, facts.critical_temperature * 0.9999, 400)
    rho_sat = np.array([reference.vapour(T) for T in T_sat])
    while count:
        rho = facts.critical_density * (
            math.exp(random.uniform(math.log(1e-5), math.log(4.0))) if random.random() < 0.5 else random.uniform(0, 4)
        )
        lowest = facts.critical_temperature * 1.05
        if rho < min(rho_sat[-1], reference.vapour_limit()):
            lowest = max(np.interp(rho, rho_sat, T_sat) + 0.02, facts.lowest_temperature)
        # cold states count most: cube the share
        T = lowest + (facts.highest_temperature - lowest) * random.random() ** 3
        u, p, n = reference.state(rho, T)
        if p < facts.highest_pressure and not reference.melts(rho, T):
            count -= 1
            yield rho, T


@pytest.mark.parametrize("name", MAIN)
def test_random_states_between_the_nodes(name):
    reference, table = Reference(name), load_gas(name)
    results = [error_and_status(reference, table, *state) for state in random_states(reference, 8000, seed=7)]
    assert all(status == IN_RANGE for _, status in results)
    assert max(error for error, _ in results) < 1.0


@pytest.mark.parametrize("name", OTHERS)
def test_other_gases_by_the_same_code(name):
    """Oxygen, the hydrogens and the rest are held to three times the main gases' bound."""
    reference, table = Reference(name), load_gas(name)
    results = [error_and_status(reference, table, *state) for state in random_states(reference, 2000, seed=8)]
    assert sum(status != IN_RANGE for _, status in results) == 0
    assert max(error for error, _ in results) < 3.0


@pytest.mark.parametrize("name", MAIN)
def test_saturated_vapour_line(name):
    reference, table = Reference(name), load_gas(name)
    facts = reference.facts
    for T in np.random.default_rng(3).uniform(facts.lowest_temperature, facts.critical_temperature, 500):
        try:
            rho = reference.vapour(T)
        except ValueError:
            continue  # air, a mixture taken as one substance, has no dew point in its last 0.1 K
        if rho < 0.995 * reference.vapour_limit():
            error, status = error_and_status(reference, table, rho, T)
            assert status == IN_RANGE and error < 1.0, (T, rho)


@pytest.mark.parametrize("name", MAIN)
def test_one_kilopascal_and_far_below(name):
    """Down to 1e-6 Pa and to no gas at all, up to 700 K."""
    reference, table = Reference(name), load_gas(name)
    facts = reference.facts
    for p in (1e3, 1.0, 1e-3, 1e-6):
        for T in (facts.lowest_temperature * 1.2, 100.0, 293.15, 699.9):
            rho = p / (facts.gas_constant * T)
            error, status = error_and_status(reference, table, rho, T)
            assert status == IN_RANGE and error < 1.0, (p, T)
    u = reference.state(1e-9, 293.15)[0]
    p, T, n, status = gas_state(0.0, u, table)
    assert (p, status) == (0.0, IN_RANGE)
    assert T == pytest.approx(293.15, rel=P_AND_T) and n == pytest.approx(facts.exponent, rel=EXPONENT)


@pytest.mark.parametrize("name", ["nitrogen", "air", "argon"])
def test_supersaturated_vapour(name):
    """To 5 K below saturation CoolProp's vapour, flagged; beyond nothing."""
    reference, table = Reference(name), load_gas(name)
    facts = reference.facts
    for T_sat in np.linspace(facts.lowest_temperature + 6.0, facts.critical_temperature - 12.0, 60):
        rho = reference.vapour(T_sat)
        for below in (0.1, 1.0, 3.0, 4.9):
            error, status = error_and_status(reference, table, rho, T_sat - below)
            assert status == SUPERSATURATED and error < 3.0, (T_sat, below, error)
        u, p, n = reference.state(rho, T_sat - 5.2)
        assert gas_state(rho, u, table)[3] == OUTSIDE
        assert all(math.isnan(value) for value in gas_state(rho, u, table)[:3])


@pytest.mark.parametrize("name", MAIN)
def test_beyond_the_upper_limits(name):
    reference, table = Reference(name), load_gas(name)
    for rho, T in ((1.0, 701.0), (reference.facts.critical_density, 700.0)):
        assert gas_state(rho, reference.state(rho, T)[0], table)[3] == OUTSIDE


@pytest.mark.parametrize("name", MAIN)
def test_size_and_what_is_built_is_what_is_stored(name):
    """At most 370 kB (8 to 16 for gas that condenses), and a table built anew is the stored one to the digit."""
    table = load_gas(name)
    assert table.nbytes <= 370_000
    np.testing.assert_array_equal(build.build_table(gas_facts(name).coolprop_name), table)
