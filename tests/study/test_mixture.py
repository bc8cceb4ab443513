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


def test_the_stop_begins_where_a_run_valve_shuts_and_gaps_are_said():
    """The valves shut 65 and 50 ms before the sleeve is told to; as it comes down it pushes fuel out of the manifold once more."""
    result = shipped("valve_lead")
    shut, last = result.case.oxidizer.valve.off[0], result.case.fuel.valve.off[0] + result.case.fuel.valve.closing_time
    answer = mixture.mixture_study(shipped_case("valve_lead"))
    assert answer.data["stop"] == shut < result.measures["deenergize_time"] - 0.06
    kinds = [one["kind"] for one in answer.data["stretches"]]
    assert kinds == ["oxidizer alone", "oxidizer-rich", "fuel-rich", "fuel alone", "fuel alone"]
    assert answer.data["stretches"][3]["end"] == pytest.approx(last, abs=1e-3)
    stop = answer.sentence.split("Stop, ")[1]
    assert stop.count("fuel alone from") == 2 and "neither from" in stop and stop.endswith("it ends rich in fuel.")


def test_each_pulse_has_a_start_and_a_stop():
    """Two pulses alike: what is said of the first is said of it alone."""
    case = with_values(shipped_case("hot_start"), {"solenoid.on": (0.1, 0.5), "solenoid.off": (0.35, 0.75)})
    answer = mixture.mixture_study(case)
    found, once = answer.data["stretches"], ["oxidizer alone", "oxidizer-rich", "fuel-rich", "oxidizer-rich", "oxidizer alone"]
    assert [one["kind"] for one in found] == 2 * once
    first = answer.sentence.split("Of 2 pulses")[0]
    assert first.startswith("Pulse 1 of 2.") and first.count("oxidizer alone from") == 1
    assert "pulse 1, 2 ends rich in oxidizer" in answer.sentence
    assert [row[0] for row in answer.sheets[-1].rows] == ["1", "2"]
    assert answer.data["pulses"][1]["begin"] == 0.5 and answer.data["pulses"][1]["light"] > 0.5


def test_fuel_first_and_neither_are_said():
    """A bare cone passes fuel first; lit late, the pool's pressure keeps both out for some milliseconds."""
    assert mixture.mixture_study(shipped_case("bare_cone")).sentence.startswith("Start: fuel alone until")
    late = mixture.mixture_study(shipped_case("late_igniter")).sentence
    assert "fuel-rich until" in late and "neither until" in late.split("Stop")[0]


def test_what_only_an_instant_parts_is_one():
    """5 us of fuel alone between two stretches rich in fuel are none; at an on command stretches stay apart."""
    apart = [
        mixture.Stretch(0.0, 1.0, mixture.FUEL_RICH, 0.0, 1.0, 2.0),
        mixture.Stretch(1.0, 1.000005, mixture.FUEL_ALONE, 0.0, 0.0, 0.0),
        mixture.Stretch(1.000005, 2.0, mixture.FUEL_RICH, 0.5, 1.0, 2.0),
    ]  # fmt: skip
    assert mixture.without_short(apart, set()) == [mixture.Stretch(0.0, 2.0, mixture.FUEL_RICH, 0.5, 2.0, 4.0)]
    assert len(mixture.without_short(apart, {1.000005})) == 2


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
