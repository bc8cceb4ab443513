"""Liquids that CoolProp does not have: published points between the tables' entries, limits, refusals."""

import math

import pytest
from sleevelift.case import liquids, tabled_liquids


def test_vapour_pressure_of_isopropanol_at_25_degrees():
    """Published: Antoine equation of the NIST WebBook for 2-propanol gives 5.8 to 6.1 kPa at 298.15 K (from memory)."""
    assert 5.7e3 < tabled_liquids.state("Isopropanol", 298.15).vapour_pressure < 6.2e3


def test_isopropanol_and_its_mixture_with_water():
    """Limits: the mixture lies between alcohol and water in density and sound, and above both in viscosity (common knowledge)."""
    pure, mixed = tabled_liquids.state("Isopropanol", 293.15), tabled_liquids.state("Isopropanol-75", 293.15)
    assert pure.density < mixed.density < 998.2
    assert math.sqrt(pure.bulk_modulus / pure.density) < math.sqrt(mixed.bulk_modulus / mixed.density) < 1483.0
    assert mixed.viscosity > pure.viscosity > 1.002e-3


def test_kerosene_against_dodecane():
    """Computed: CoolProp's n-dodecane, the main part of kerosene surrogates: 7 % lighter, similar stiffness and viscosity."""
    from CoolProp.CoolProp import PropsSI

    rp1 = tabled_liquids.state("RP-1", 298.15)
    density, sound, viscosity = (PropsSI(what, "T", 298.15, "P", 101325, "n-Dodecane") for what in ("D", "A", "V"))
    assert 1.04 < rp1.density / density < 1.10
    assert 0.97 < math.sqrt(rp1.bulk_modulus / rp1.density) / sound < 1.05
    assert 1.0 < rp1.viscosity / viscosity < 1.8


def test_density_follows_the_bulk_modulus():
    """Definition: d rho/rho = dp/B."""
    low, high = (liquids.liquid_state("RP-1", 293.15, pressure) for pressure in (20e5, 60e5))
    assert high.density / low.density - 1.0 == pytest.approx(40e5 / low.bulk_modulus, rel=0.01)
    assert high.viscosity == low.viscosity


def test_capitals_do_not_matter():
    assert liquids.liquid_state("rp-1", 293.15, 20e5) == liquids.liquid_state("RP-1", 293.15, 20e5)


@pytest.mark.parametrize("name", tabled_liquids.names())
def test_a_temperature_outside_is_refused(name):
    with pytest.raises(liquids.LiquidError, match="must be between"):
        liquids.liquid_state(name, 500.0, 20e5)


def test_boiling_is_refused():
    with pytest.raises(liquids.LiquidError, match="no liquid at the inlet pressure"):
        liquids.liquid_state("Isopropanol", 330.0, 0.2e5)


def test_viscosity_of_nitrous_oxide_comes_from_the_table():
    """CoolProp has no model of it; density and vapour pressure are CoolProp's."""
    state = liquids.liquid_state("NitrousOxide", 263.15, 60e5)
    assert 0.103e-3 < state.viscosity < 0.142e-3
    assert state.density == pytest.approx(980.0, rel=0.03)  # CoolProp's order at 263 K


def test_an_unknown_liquid_names_the_nearest_tabled_one():
    with pytest.raises(liquids.LiquidError, match="nearest: Isopropanol"):
        liquids.liquid_state("Isopropanl", 293.15, 20e5)
