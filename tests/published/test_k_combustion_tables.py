"""Area k: c* and exponents from chemical equilibrium, closed-chamber pressures, against published and computed values.

The functions of `scripts/make_combustion_table.py`, which makes the shipped tables, are run live with Cantera.
"""

import math
import sys
from pathlib import Path

import pytest
from _record import held
from sleevelift.sizing.chamber import burned_pool_pressure, choked_flow_factor, perfect_gas_c_star, throat_area

sys.path.insert(0, str(Path(__file__).parents[2] / "scripts"))
pytest.importorskip("cantera")
import make_combustion_table as table  # noqa: E402

BAR = 1e5

COMPUTED = (
    "computed: Cantera 3.2.0, nasa_gas.yaml restricted to C, H, O, N neutral gas species, HP equilibrium with assigned "
    "enthalpies of the liquids, c* = p0/Gmax along the shifting isentrope"
)


@pytest.fixture(scope="module")
def gas():
    return table.equilibrium_gas()


# pair, O/F, c* in m/s, relative tolerance; source of each: COMPUTED, 20 bar
C_STAR = [
    pytest.param("oxygen", "ethanol", 1.0, 1575.6, 0.003, id="k-LOX-EtOH-1.0"),
    pytest.param("oxygen", "ethanol", 1.4, 1714.9, 0.003, id="k-LOX-EtOH-1.4"),
    pytest.param("oxygen", "ethanol", 1.6, 1719.2, 0.003, id="k-LOX-EtOH-1.6"),
    pytest.param("oxygen", "methane", 2.4, 1835.7, 0.003, id="k-LOX-CH4-2.4"),
    pytest.param("oxygen", "methane", 3.4, 1815.4, 0.003, id="k-LOX-CH4-3.4"),
    pytest.param("oxygen", "rp-1", 2.24, 1788.9, 0.003, id="k-LOX-RP1-2.24"),
    # gas at 298 K; the liquid, 16.53 kJ/mol lower, gives 1552.7 m/s (see the test below)
    pytest.param("nitrous-oxide-gas", "ethanol", 4.5, 1582.8, 0.004, id="k-N2O-EtOH-4.5"),
]


@pytest.mark.parametrize(("oxidizer", "fuel", "o_f", "c_star", "tolerance"), C_STAR)
def test_shifting_c_star(gas, oxidizer, fuel, o_f, c_star, tolerance, request):
    got = table.chamber_gas(oxidizer, fuel, o_f, 20 * BAR, gas).c_star
    key = request.node.callspec.id
    held(key, f"shifting c*, {oxidizer} and {fuel}, O/F {o_f}, 20 bar", COMPUTED, c_star, got, tolerance, "m/s")


# o_f, temperature K, molar mass g/mol, gamma_s; source of each: COMPUTED, same runs (beside oxygen and ethanol, 20 bar)
STATES = [(1.0, 2354.1, 18.411, 1.2259), (1.4, 3110.8, 21.578, 1.1456), (1.6, 3244.5, 22.705, 1.1278)]


@pytest.mark.parametrize(("o_f", "temperature", "molar_mass", "exponent"), STATES)
def test_chamber_state_of_oxygen_and_ethanol(gas, o_f, temperature, molar_mass, exponent):
    row = table.chamber_gas("oxygen", "ethanol", o_f, 20 * BAR, gas)
    held(
        f"k-T-{o_f}",
        f"chamber temperature, oxygen and ethanol, O/F {o_f}",
        COMPUTED,
        temperature,
        row.temperature,
        1e-4,
        "K",
    )
    assert row.molar_mass * 1e3 == pytest.approx(molar_mass, rel=1e-4)
    assert row.exponent == pytest.approx(exponent, abs=2e-4)  # given to four decimals, other step of the difference


def test_rp1311_example_8(gas):
    """k-RP1311-T and the same example's c*, molar mass and gamma_s.

    Published: McBride and Gordon, NASA RP-1311 Part II (1996), Example 8, liquid hydrogen and oxygen, O/F 5.55157,
    53.3172 bar: T 3383.845 K, c* 2332.34 m/s, M 12.716 g/mol, gamma_s 1.145 (read in public files that quote it).
    Cantera's polynomials differ from that program's: T is 0.13 % higher here.
    """
    row = table.chamber_gas("oxygen", "hydrogen", 5.55157, 53.3172 * BAR, gas)
    source = "published: McBride and Gordon, NASA RP-1311 Part II (1996), Example 8"
    held(
        "k-RP1311-T",
        "chamber temperature, hydrogen and oxygen, 53.3 bar",
        source,
        3383.845,
        row.temperature,
        0.002,
        "K",
    )
    held("k-RP1311-c", "its c*", source, 2332.34, row.c_star, 0.002, "m/s")
    assert row.molar_mass == pytest.approx(12.716e-3, rel=0.001)
    assert row.exponent == pytest.approx(1.145, abs=1e-3)


def test_closed_chamber_explosion_of_oxygen_and_ethanol(gas):
    """k-hard-LOXet-5.0. Computed: Cantera 3.2.0, UV equilibrium, U = H of the liquids, 5 kg/m3, O/F 1.4: 68.782 bar."""
    pressure = table.explosion_pressure("oxygen", "ethanol", 1.4, 5.0, gas)
    source = "computed: Cantera 3.2.0, UV equilibrium with U = H of the liquids, 5 kg/m3"
    held(
        "k-hard-LOXet-5.0",
        "pool of oxygen and ethanol burned at once, equilibrium",
        source,
        68.782,
        pressure / BAR,
        0.03,
        "bar",
    )
    # The estimate the program prints (c* and g of the 20 bar table): 68.5 bar by the same source.
    assert burned_pool_pressure(1714.9, 1.1457, 5.0) == pytest.approx(68.5 * BAR, rel=0.002)
    estimate = burned_pool_pressure(1714.9, 1.1457, 5.0) / BAR
    held("k-hard-LOXet-5.0-estimate", "the same, the program's estimate", source, 68.782, estimate, 0.03, "bar")


def test_closed_chamber_explosion_of_oxygen_and_methane(gas):
    """k-hard-LOXCH-5.0. Computed: Cantera 3.2.0, UV equilibrium, U = H of the liquids, 5 kg/m3, O/F 3.0: 78.494 bar."""
    pressure = table.explosion_pressure("oxygen", "methane", 3.0, 5.0, gas)
    source = "computed: Cantera 3.2.0, UV equilibrium with U = H of the liquids, 5 kg/m3"
    held(
        "k-hard-LOXCH-5.0",
        "pool of oxygen and methane burned at once, equilibrium",
        source,
        78.494,
        pressure / BAR,
        0.02,
        "bar",
    )
    row = table.chamber_gas("oxygen", "methane", 3.0, 20 * BAR, gas)
    estimate = burned_pool_pressure(row.c_star, row.exponent, 5.0) / BAR
    held("k-hard-LOXCH-5.0-estimate", "the same, the program's estimate", source, 78.494, estimate, 0.02, "bar")


def test_c_star_of_a_perfect_gas():
    """k-murug. Published: Murugaperumal, Gas Dynamics and Jet Propulsion, Example 7.2: 1502 m/s, 197.65 cm2."""
    c_star = perfect_gas_c_star(1.3, 287.0, 3500.0)
    assert c_star == pytest.approx(1502.0, rel=0.001)
    source = "published: Murugaperumal, Gas Dynamics and Jet Propulsion, Example 7.2"
    got = throat_area(50.004, c_star, 38e5) * 1e4
    held("k-murug-area", "throat area at 38 bar and 50.004 kg/s", source, 197.65, got, 0.001, "cm2")


# --- beyond the list -----------------------------------------------------------------------------------------------


def test_exponent_agrees_with_its_definition_on_a_frozen_gas(gas):
    """Limit: cold air does not react, so the shifting exponent is c_p/c_v of the frozen gas (by Cantera)."""
    gas.TPX = 400.0, 20 * BAR, "O2:0.21, N2:0.79"
    frozen = gas.cp_mass / gas.cv_mass
    assert table.isentropic_exponent(gas) == pytest.approx(frozen, rel=1e-5)


def test_c_star_of_a_frozen_gas_is_the_perfect_gas_one(gas):
    """Limit: for a gas that does not react the isentrope search must give sqrt(R T)/Gamma.

    Nitrogen at 400 K; its c_p changes by 0.3 % over the expansion, hence the tolerance.
    """
    gas.TPX = 400.0, 20 * BAR, "N2:1"
    gamma, gas_constant = gas.cp_mass / gas.cv_mass, 8314.462618 / gas.mean_molecular_weight
    assert table.characteristic_velocity(gas) == pytest.approx(perfect_gas_c_star(gamma, gas_constant, 400.0), rel=1e-3)


def test_liquid_and_gaseous_oxidizer_differ_by_the_heat_of_evaporation(gas):
    """Conservation: per kilogram of mixture the enthalpies differ by 16.53 kJ/mol of nitrous oxide."""
    liquid, vapour = (
        table.mixture(table.REACTANTS[name], table.REACTANTS["ethanol"], 4.5) for name in ("nitrous-oxide", "nitrous-oxide-gas")
    )
    moles = (4.5 / 5.5) / 44.0128e-3
    assert vapour.enthalpy - liquid.enthalpy == pytest.approx(16_530.0 * moles, rel=1e-9)
    assert liquid.atoms == vapour.atoms


def test_pressure_hardly_moves_c_star(gas):
    """Limit: rich of stoichiometry (little dissociation at 2354 K) c* is the same at 10 and 40 bar to 0.1 %."""
    low, high = (table.chamber_gas("oxygen", "ethanol", 1.0, p * BAR, gas).c_star for p in (10.0, 40.0))
    assert low == pytest.approx(high, rel=1e-3)


def test_closed_chamber_pressure_per_pool(gas):
    """Limit: far lean (O/F 20) nothing dissociates, so p/m is the same at 2 and 8 kg/m3; near stoichiometry more
    pressure suppresses dissociation (Le Chatelier), so p/m rises with the pool."""
    low, high = (table.explosion_pressure("oxygen", "ethanol", 20.0, m, gas) / m for m in (2.0, 8.0))
    assert low == pytest.approx(high, rel=1e-4)
    low, high = (table.explosion_pressure("oxygen", "ethanol", 1.8, m, gas) / m for m in (2.0, 8.0))
    assert low < high


def test_choked_flow_factor_of_air():
    """Published: 0.68473 for gamma = 1.4 (gas-dynamics tables, from memory). Limit gamma -> 1: exp(-1/2)."""
    assert choked_flow_factor(1.4) == pytest.approx(0.68473, abs=5e-6)
    assert choked_flow_factor(1.0 + 1e-9) == pytest.approx(math.exp(-0.5), rel=1e-6)


def test_lines_read_back_as_toml():
    """The lines hold what the rows hold, and three lists of equal length; soot-forming rows are named."""
    import tomllib

    rows = table.combustion_table("oxygen", "ethanol", 20 * BAR, (0.3, 1.4, 20.0))
    text = table.toml_text("oxygen", "ethanol", 20 * BAR, rows)
    read = tomllib.loads(text)
    assert read["o_f"] == [0.3, 1.4, 20.0]
    assert read["c_star"] == [pytest.approx(row.c_star, abs=0.05) for row in rows]
    assert read["g"] == [pytest.approx(row.exponent, abs=5e-5) for row in rows]
    assert read["c_star_unit"] == "m/s"
    assert [row.carbon_condenses for row in rows] == [True, False, False]
    assert "it would form\n# at O/F 0.3: estimates" in text
