"""Area k: c* and exponents from chemical equilibrium, closed-chamber pressures, against published and computed values.

The functions of `scripts/make_combustion_table.py`, which makes the shipped tables, are run live with Cantera.
"""

import math
import sys
from pathlib import Path

import numpy as np
import pytest
from _record import held
from sleevelift import combustion_tables
from sleevelift.sizing.chamber import choked_flow_factor, throat_area

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
    53.3172 bar: T 3383.845 K, c* 2332.34 m/s, M 12.716 g/mol, gamma_s 1.145 (output read in markleader/cea,
    docs/source/examples/rocket/example8.rst).
    Cantera's polynomials differ from that program's: T is 0.13 % higher here.
    """
    row = table.chamber_gas("oxygen", "hydrogen", 5.55157, 53.3172 * BAR, gas)
    source = "published: McBride and Gordon, NASA RP-1311 Part II (1996), Example 8, in markleader/cea, docs/source/examples/rocket"
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


POOLS = [
    ("oxygen", "ethanol", (0.6, 1.0, 1.4, 2.0)),
    ("oxygen", "methane", (2.0, 3.0, 4.0)),
    ("oxygen", "rp-1", (1.5, 2.6)),
    ("nitrous-oxide-gas", "ethanol", (2.5, 4.5)),
]
"""Pairs and mass ratios, rich to lean of the best."""


@pytest.mark.parametrize(("oxidizer", "fuel", "ratios"), POOLS)
@pytest.mark.parametrize("bar", [10.0, 20.0, 60.0])
def test_the_printed_hard_start_errs_high(gas, oxidizer, fuel, ratios, bar):
    """The program's estimate, of a table made at so many bar, against equilibrium from 1 to 20 kg/m3: never low."""
    from sleevelift.physics.combustion import hard_start_pressure
    from sleevelift.plant.mixture_table import mixture_curve

    for ratio in ratios:
        row = table.chamber_gas(oxidizer, fuel, ratio, bar * BAR, gas)
        curve = np.array(mixture_curve((0.3, 20.0), (row.c_star,) * 2, (row.exponent,) * 2, 1.0, row.c_star, row.c_star))
        for pool in (1.0, 3.0, 10.0, 20.0):
            fuel_mass = pool / (1.0 + ratio)
            got = hard_start_pressure(pool - fuel_mass, fuel_mass, 1.0, 0.0, curve, 0, len(curve) // 9)
            over = got / table.explosion_pressure(oxidizer, fuel, ratio, pool, gas) - 1.0
            assert 0.0 <= over <= 0.14, (ratio, pool, over)


def test_c_star_of_a_perfect_gas():
    """k-murug. Published: Murugaperumal, Gas Dynamics and Jet Propulsion, Example 7.2: 1502 m/s, 197.65 cm2."""
    c_star = math.sqrt(287.0 * 3500.0) / choked_flow_factor(1.3)
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
    perfect = math.sqrt(gas_constant * 400.0) / choked_flow_factor(gamma)
    assert table.characteristic_velocity(gas) == pytest.approx(perfect, rel=1e-3)


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


# --- the shipped tables ----------------------------------------------------------------------------------------------

FOOT = 0.3048
PSI = 6894.757


def test_hydrogen_and_oxygen_at_1000_psia():
    """k-pair-LOX-LH2. Published: example output of NASA's equilibrium program, liquid hydrogen and oxygen, 1000 psia, O/F 6:
    T 3483.35 K, M 13.458, gamma_s 1.1401, c* 7560.0 ft/s (read in the documentation of a public wrapper, Standard Examples)."""
    table_of_pair = combustion_tables.table_at("oxygen/hydrogen", 1000 * PSI)
    source = "published: example output of NASA's equilibrium program, LH2 and LOX, 1000 psia, O/F 6"
    got = table_of_pair.c_star_at(6.0)
    held("k-pair-LOX-LH2-c", "shipped table, hydrogen and oxygen, c*", source, 7560.0 * FOOT, got, 0.003, "m/s")
    assert table_of_pair.g_at(6.0) == pytest.approx(1.1401, abs=2e-3)
    assert table_of_pair.gas_constant_at(6.0) == pytest.approx(8314.46 / 13.458, rel=2e-3)
    assert combustion_tables.interpolated(table_of_pair.o_f, table_of_pair.temperature, 6.0) == pytest.approx(3483.35, rel=3e-3)


def test_decomposed_peroxide(gas):
    """k-peroxide. Published: output of NASA's equilibrium program in a public course work, hydrogen peroxide (100 %, liquid)
    alone, 2.0265 bar: T 1274.54 K, M 22.676, c* 1037.7 m/s. A wrong enthalpy of the liquid would show: 1 kJ/mol is 18 K."""
    pure = table.mixture(table.REACTANTS["peroxide"], table.REACTANTS["ethanol"], 1e9)
    table.set_chamber_state(gas, pure, 2.0265 * BAR)
    source = "published: output of NASA's equilibrium program, hydrogen peroxide, 2 atm (public course work)"
    held("k-peroxide-T", "temperature of decomposed peroxide", source, 1274.54, gas.T, 0.002, "K")
    held("k-peroxide-c", "its c*", source, 1037.7, table.characteristic_velocity(gas), 0.002, "m/s")
    assert gas.mean_molecular_weight == pytest.approx(22.676, rel=1e-4)


HANDBOOK = "from memory: Sutton and Biblarz, Rocket Propulsion Elements, theoretical performance of propellant pairs, 1000 psia"


@pytest.mark.parametrize(("pair", "o_f", "c_star"), [("oxygen/rp-1", 2.56, 1800.0), ("oxygen/hydrogen", 4.02, 2432.0)])
def test_handbook_c_star(pair, o_f, c_star):
    """From memory: shifting equilibrium at 1000 psia. The handbook's older thermodynamic data and rounding: 1 %."""
    got = combustion_tables.table_at(pair, 1000 * PSI).c_star_at(o_f)
    held(f"k-handbook-{pair}", f"shipped table, {pair}, O/F {o_f}, c*", HANDBOOK, c_star, got, 0.01, "m/s")


BETWEEN = [
    ("oxygen", "ethanol", 1.45, 14.0), ("nitrous-oxide", "propane", 8.1, 28.3), ("peroxide-90", "rp-1", 6.7, 56.0),
    ("oxygen", "methane", 3.1, 110.0), ("nitrous-oxide", "isopropanol-75", 4.0, 3.5), ("peroxide-90", "hydrogen", 14.0, 7.0),
]  # fmt: skip


@pytest.mark.parametrize(("oxidizer", "fuel", "o_f", "bar"), BETWEEN)
def test_between_the_pressures_and_ratios_of_a_table(gas, oxidizer, fuel, o_f, bar):
    """Computed: equilibrium at the pressure and ratio themselves (COMPUTED). c* of the interpolated table within 0.3 %, g 0.005."""
    row = table.chamber_gas(oxidizer, fuel, o_f, bar * BAR, gas)
    shipped = combustion_tables.table_at(f"{oxidizer}/{fuel}", bar * BAR)
    key = f"k-between-{oxidizer}-{fuel}"
    held(key, f"shipped {oxidizer}/{fuel} between its entries, c*", COMPUTED, row.c_star, shipped.c_star_at(o_f), 0.003, "m/s")
    assert shipped.g_at(o_f) == pytest.approx(row.exponent, abs=0.005)
    assert shipped.gas_constant_at(o_f) == pytest.approx(8.314462618 / row.molar_mass, rel=0.005)


@pytest.mark.parametrize("pair", combustion_tables.pairs())
def test_shipped_rows_are_what_the_script_makes(gas, pair):
    """Computed (COMPUTED): one entry of each file, near the highest c*, at 20 bar; and every number of the file is plausible."""
    oxidizer, fuel = pair.split("/")
    shipped = combustion_tables.table_at(pair, 20 * BAR)
    best = max(range(len(shipped.o_f)), key=shipped.c_star.__getitem__)
    row = table.chamber_gas(oxidizer, fuel, shipped.o_f[best], 20 * BAR, gas)
    assert shipped.c_star[best] == pytest.approx(row.c_star, abs=0.06)
    assert shipped.g[best] == pytest.approx(row.exponent, abs=6e-5)
    stoichiometric = table.stoichiometric_ratio(table.REACTANTS[oxidizer], table.REACTANTS[fuel])
    assert 0.144 * stoichiometric < shipped.o_f[best] < 1.05 * stoichiometric  # the highest c* is inside the table, rich of it
    low, high = combustion_tables.pressure_range(pair)
    assert (low, high) == (2.5 * BAR, 160 * BAR)
    for pressure in (low, 5 * BAR, 20 * BAR, high):
        entries = combustion_tables.table_at(pair, pressure)
        assert all(1.05 < g < 1.4 for g in entries.g) and all(500 < c < 2700 for c in entries.c_star)
    assert len(combustion_tables.pairs()) == len(table.OXIDIZERS) * len(table.FUELS)


def test_a_pressure_outside_is_refused():
    for pressure in (2.49 * BAR, 161 * BAR):
        with pytest.raises(combustion_tables.PressureOutside, match=r"between 2.5 and 160 bara"):
            combustion_tables.table_at("oxygen/ethanol", pressure)


def test_steady_pressure_is_what_the_throat_passes():
    """Definition of c*: p A = w eta c*(O/F, p)."""
    pressure = combustion_tables.steady_pressure("oxygen/ethanol", 0.658, 0.507, 1006e-6, 0.93)
    c_star = combustion_tables.table_at("oxygen/ethanol", pressure).c_star_at(0.658 / 0.507)
    assert pressure == pytest.approx(1.165 * 0.93 * c_star / 1006e-6, rel=1e-6)
    assert 18.0 * BAR < pressure < 18.6 * BAR


def test_enthalpy_of_liquid_propane():
    """Computed: -104.68 kJ/mol of the gas at 298.15 K (NIST WebBook, from memory), cooled and condensed by CoolProp."""
    from CoolProp.CoolProp import PropsSI

    gas_at_298 = PropsSI("HMOLAR", "T", 298.15, "P", 1.0, "Propane")
    liquid = PropsSI("HMOLAR", "T", 231.08, "Q", 0, "Propane")
    expected = -104_680.0 + liquid - gas_at_298
    held(
        "k-h-propane",
        "enthalpy of liquid propane at 231 K",
        "computed: CoolProp",
        expected,
        table.PURE["propane"].enthalpy,
        0.003,
        "J/mol",
    )


def test_enthalpy_of_liquid_isopropanol():
    """Published: -272.7 kJ/mol of the gas (Perry's Chemical Engineers' Handbook, as public tables quote it) less 45.4 kJ/mol of
    evaporation at 298 K (from memory)."""
    source = "published: Perry's Handbook, -272.70 kJ/mol of the gas; 45.4 kJ/mol of evaporation from memory"
    held(
        "k-h-isopropanol", "enthalpy of liquid isopropanol", source, -318_100.0, table.PURE["isopropanol"].enthalpy, 0.002, "J/mol"
    )
