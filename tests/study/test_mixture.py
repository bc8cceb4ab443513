"""Mixture ratio over start and stop: stoichiometric ratios, stretches, crossings, and which propellant must be the last in."""

from functools import lru_cache

import numpy as np
import pytest
from runs import shipped, shipped_case
from sleevelift import simulate_many, with_values
from sleevelift.case.faults import CaseError
from sleevelift.checks import checks
from sleevelift.combustion_tables import pairs, stoichiometric_ratio
from sleevelift.study import mixture

OXYGEN, HYDROGEN, CARBON, NITROGEN = 15.999, 1.008, 12.011, 14.007
"""g/mol, standard atomic weights of IUPAC (2021), abridged."""


@pytest.mark.parametrize(
    ("pair", "fuel", "oxidizer_mass", "oxygen_atoms"),
    [
        ("oxygen/methane", (1, 4, 0), 2 * OXYGEN, 2),
        ("oxygen/ethanol", (2, 6, 1), 2 * OXYGEN, 2),
        ("oxygen/hydrogen", (0, 2, 0), 2 * OXYGEN, 2),
        ("nitrous-oxide/propane", (3, 8, 0), 2 * NITROGEN + OXYGEN, 1),
    ],
)
def test_stoichiometric_ratios_balance_the_atoms(pair, fuel, oxidizer_mass, oxygen_atoms):
    """C burns to CO2, H to H2O, N to N2: 2 c + h/2 - o atoms of oxygen for each molecule of fuel."""
    c, h, o = fuel
    needed = (2 * c + h / 2 - o) / oxygen_atoms * oxidizer_mass
    assert stoichiometric_ratio(pair) == pytest.approx(needed / (c * CARBON + h * HYDROGEN + o * OXYGEN), rel=2e-4)


def test_every_pair_has_one_and_liquids_find_theirs():
    assert all(0.5 < stoichiometric_ratio(pair) < 50.0 for pair in pairs())
    case = shipped_case("hot_start")
    assert mixture.stoichiometric_of(case) == stoichiometric_ratio("oxygen/ethanol")
    assert mixture.stoichiometric_of(case, 3.0) == 3.0
    assert mixture.stoichiometric_of(case.model_copy(update={"fuel": case.fuel.model_copy(update={"liquid": "Water"})})) is None


@lru_cache(maxsize=1)
def answered():
    return mixture.mixture_study(shipped_case("hot_start"))


def test_stretches_meet_the_measures_of_the_run():
    m, found = shipped("hot_start").measures, answered().data["stretches"]
    assert [one["kind"] for one in found] == ["oxidizer alone", "oxidizer-rich", "fuel-rich", "oxidizer-rich", "oxidizer alone"]
    assert found[0]["begin"] == pytest.approx(m["first_oxidizer"], abs=5e-6)
    assert found[0]["end"] == pytest.approx(m["first_fuel"], abs=5e-6)
    assert found[-1]["begin"] == pytest.approx(m["last_fuel"], abs=5e-6)
    assert found[-1]["end"] == pytest.approx(m["last_oxidizer"], abs=5e-6)
    assert found[-1]["lit"] == pytest.approx(found[-1]["end"] - found[-1]["begin"], abs=1e-9)
    steady = found[2]["oxidizer"] / found[2]["fuel"]
    assert steady == pytest.approx(m["steady_oxidizer_flow"] / m["steady_fuel_flow"], rel=0.01)


def test_masses_of_all_stretches_are_what_flows_in():
    traces, found = shipped("hot_start").traces, answered().data["stretches"]
    for side in ("oxidizer", "fuel"):
        t, flow = traces["time"], traces[f"{side}_flow"]
        inside = (t >= found[0]["begin"]) & (t <= found[-1]["end"])
        assert sum(one[side] for one in found) == pytest.approx(np.trapezoid(flow[inside], t[inside]), rel=1e-3)


def test_a_crossing_lies_on_a_straight_line():
    """o = 1, f from 0 to 1 in 1 s, S = 2: o = S f at 0.5 s."""
    t, (o, f) = mixture.with_crossings(np.array([0.0, 1.0]), [np.array([1.0, 1.0]), np.array([0.0, 1.0])], [np.array([1.0, -1.0])])
    assert list(t) == [0.0, 0.5, 1.0] and list(f) == [0.0, 0.5, 1.0] and list(o) == [1.0, 1.0, 1.0]


def test_the_sentence_says_on_what_it_lights_and_how_it_ends():
    """At light-off the pool holds 2.89 g of oxygen and 1.28 g of ethanol: more than 2.084 to 1, though the flows are fuel-rich by
    then."""
    sentence, m = answered().sentence, shipped("hot_start").measures
    assert m["pooled_oxidizer"] / m["pooled_fuel"] > stoichiometric_ratio("oxygen/ethanol")
    assert "OXIDIZER-RICH until" in sentence and sentence.endswith("it ends rich in oxidizer.")


def test_refusals():
    with pytest.raises(CaseError, match="it has no mixture"):
        mixture.mixture_study(shipped_case("dry_bench"))
    with pytest.raises(CaseError, match="give --stoichiometric"):
        mixture.mixture_study(shipped_case("cold_flow"))


@pytest.mark.parametrize(("wanted", "passed"), [("fuel", False), ("oxidizer", True)])
def test_the_last_in_is_held_against_what_is_wanted(wanted, passed):
    case = with_values(shipped_case("hot_start"), {"limits.last_in": wanted})
    found = shipped("hot_start")
    (check,) = [c for c in checks(found.measures, found.outcome, case) if c.name == "shutdown_oxidizer_lag"]
    assert check.passed is passed and check.value == found.measures["shutdown_oxidizer_lag"]
    assert ("run valve" in check.advice) is not passed
    assert list(simulate_many(case, [{}]).checks["shutdown_oxidizer_lag"]) == [float(passed)]
    unknown = [c for c in checks(found.measures | {"shutdown_oxidizer_lag": None}, found.outcome, case) if c.name == check.name]
    assert not unknown[0].passed and unknown[0].advice.startswith("not known")
