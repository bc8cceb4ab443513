"""`[chamber] propellants`: the shipped table of a pair at the rated chamber pressure."""

from pathlib import Path

import pytest
from sleevelift import combustion_tables, simulate
from sleevelift.case.change import with_texts, with_values
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text, load_case

HOT = (Path(__file__).parents[2] / "cases" / "hot_start.toml").read_text(encoding="utf-8")
OWN_TABLE = HOT[HOT.index("o_f = [") : HOT.index("[igniter]")]
BY_NAME = HOT.replace(OWN_TABLE, 'propellants = "oxygen/ethanol"\n\n').replace('gas_constant = "355 J/(kg K)"', "")


def test_the_named_table_is_read_at_the_rated_pressure():
    case = case_from_text(BY_NAME)
    expected = combustion_tables.table_at("oxygen/ethanol", case.chamber.table_pressure)
    assert (case.chamber.o_f, case.chamber.c_star, case.chamber.g) == expected[:3]
    assert case.chamber.gas_constant == pytest.approx(expected.gas_constant_at(0.658 / 0.507))
    assert case.origin["chamber.c_star"] == case.origin["chamber.table_pressure"] == "derived"


def test_a_run_by_name_is_the_run_with_the_lists():
    """The case's own lists are the same pair at 20 bar; the named ones at 18.3: 0.1 % of c*, far below what moves an opening."""
    named, listed = simulate(case_from_text(BY_NAME)), simulate(case_from_text(HOT))
    assert named.outcome == listed.outcome == "opened-and-closed"
    assert named.measures["opening_time"] == pytest.approx(listed.measures["opening_time"], abs=20e-6)


def test_the_table_follows_what_it_was_read_for():
    case = case_from_text(BY_NAME)
    wider = with_values(case, {"chamber.throat_area": 2.0 * case.chamber.throat_area})
    assert wider.chamber.table_pressure == pytest.approx(0.5 * case.chamber.table_pressure, rel=0.01)
    assert max(wider.chamber.c_star) < max(case.chamber.c_star)  # more dissociation at less pressure
    other = with_texts(case, ["chamber.propellants=oxygen/isopropanol"])
    assert other.chamber.c_star != case.chamber.c_star
    fixed = with_texts(case, ["chamber.table_pressure=40 bara"])
    assert fixed.chamber.c_star == combustion_tables.table_at("oxygen/ethanol", 40e5).c_star


FAULTS = [
    ('"oxygen/ethanol"', '"oxygen/etanol"', r"chamber\] propellants.*nearest: oxygen/ethanol"),
    ('propellants = "oxygen/ethanol"', "", r"chamber\] o_f: is missing: give it, or name the pair"),
    (
        'propellants = "oxygen/ethanol"',
        'propellants = "oxygen/ethanol"\ng = 1.2',
        r"chamber\] g = 1.2: is given beside propellants",
    ),
    ("1006 mm2", "10 mm2", r"table_pressure: must be between 2.5 and 160 bara.*not 18\d\d bara"),
    ('"0.507 kg/s"', '"0.02 kg/s"', r"propellants.*must bracket the mixture ratio of the rated flows"),
]


@pytest.mark.parametrize(("old", "new", "message"), FAULTS)
def test_faults_of_a_named_pair(old, new, message):
    assert old in BY_NAME
    with pytest.raises(CaseError, match=message):
        case_from_text(BY_NAME.replace(old, new))


def test_rated_flows_or_the_pressure_are_wanted():
    text = BY_NAME.replace('rated_flow = "0.658 kg/s"', "#").replace('rated_loss = "2.0 bar"', "#", 1)
    with pytest.raises(CaseError, match=r"table_pressure: is missing: give it, or both rated flows"):
        case_from_text(text)
    given = text.replace('propellants = "oxygen/ethanol"', 'propellants = "oxygen/ethanol"\ntable_pressure = "18 bara"')
    assert case_from_text(given).chamber.table_pressure == 18e5


def test_cases_without_a_pair_have_no_table_pressure():
    case = load_case(Path(__file__).parents[2] / "cases" / "hot_start.toml")
    assert case.chamber.table_pressure is None and case.chamber.propellants is None
