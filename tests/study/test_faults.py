"""Faults: a regulator that fails open, a sleeve seized at any lift, ratings, and what the verdict admits."""

import math

import pytest
from runs import shipped_case
from sleevelift import with_values
from sleevelift.study.fault_list import FAULTS, failed_open_pressure
from sleevelift.study.faults import CANNOT_HOLD, changed_case, fault_study, judged
from sleevelift.study.run_store import kept_runs
from sleevelift.study.store import ALONE


def fault(name):
    return next(one for one in FAULTS if one.name == name)


def row_of(case, name):
    nominal = kept_runs([case], ALONE)[0]
    made = changed_case(fault(name), case, nominal)
    assert not isinstance(made, str), made
    (run,) = kept_runs([made], ALONE)
    return judged(fault(name), run, nominal), run


def without(case, *limits):
    return case.model_copy(update={"limits": case.limits.model_copy(update=dict.fromkeys(limits))})


def test_a_failed_open_regulator_comes_to_the_relief_valve_or_to_the_bottle():
    """Both openings choked at one temperature: p A_relief = p_bottle C_d A_seat, never below the set pressure."""
    case = shipped_case("dry_bench")
    assert failed_open_pressure(case) == pytest.approx(72e5)
    none = case.model_copy(update={"supply": case.supply.model_copy(update={"relief_pressure": None, "relief_area": None})})
    assert failed_open_pressure(none) == pytest.approx(200e5)
    small = case.model_copy(update={"supply": case.supply.model_copy(update={"relief_area": 4e-6})})
    assert failed_open_pressure(small) == pytest.approx(200e5 * 0.8 * math.pi / 4.0 * (2e-3) ** 2 / 4e-6)
    assert failed_open_pressure(with_values(case, {"supply.kind": "constant"}, check=False)) is None


def test_a_regulator_that_fails_open_is_held_against_the_ratings():
    case = shipped_case("dry_bench")
    safe, run = row_of(case, "regulator fails open")
    assert run.measures["peak_supply_pressure"] == pytest.approx(72e5, rel=1e-5)
    assert safe.verdict == "safe" and "relief valve's flow" in safe.reason
    bare = case.model_copy(update={"supply": case.supply.model_copy(update={"relief_pressure": None, "relief_area": None})})
    bursts, run = row_of(bare, "regulator fails open")
    assert run.measures["peak_lift_chamber_pressure"] > 80e5
    assert bursts.verdict == "unsafe" and "lift chamber" in bursts.reason and "supply line" in bursts.reason
    limits = ("supply_line_rated_pressure", "tube_rated_pressure", "lift_chamber_rated_pressure")
    unknown, _ = row_of(without(bare, *limits), "regulator fails open")
    assert unknown.verdict == "not known" and "no rating given" in unknown.reason


@pytest.mark.parametrize("share", [25, 50, 75, 100])
def test_a_sleeve_seized_at_any_lift_stays_there(share):
    case = shipped_case("dry_bench")
    row, run = row_of(case, f"sleeve seized at {share} % of its stroke")
    assert row.verdict == "unsafe" and row.ends_closed is False and "only run valves" in row.reason
    assert run.traces["lift"][-1] == pytest.approx(0.01 * share * case.sleeve.stroke, rel=1e-9)


def test_the_verdict_says_what_was_tried_and_what_no_list_can_hold():
    answer = fault_study(shipped_case("dry_interlock"))
    assert CANNOT_HOLD in answer.notes
    assert "Fail-safe against all" not in answer.sentence
    assert {"regulator fails open", "sleeve seized at 50 % of its stroke"} <= {row[0] for row in answer.rows}
