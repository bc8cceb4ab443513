"""A run whose energy balance stays open is repeated more finely, and says so; a tolerance asked for is kept."""

from pathlib import Path

import pytest
from sleevelift.batch import run_lane
from sleevelift.case.read import load_case
from sleevelift.plant.names import PLACE
from sleevelift.run import ENERGY_ALLOWED, REFINEMENT, simulate
from wide_designs import wide_design

CASES = Path(__file__).resolve().parent.parent / "cases"
REBOUNDS = 265
"""A random design that rebounds between seat and stop some hundred times, every knock adding its error."""


def test_an_open_balance_is_closed_by_a_finer_run():
    case = wide_design(REBOUNDS)[1]
    coarse = simulate(case, tolerance=case.run.tolerance, with_traces=False)
    assert coarse.measures["energy_error"] > ENERGY_ALLOWED, "this design no longer needs a repetition: choose another"
    assert not any("repeated" in line for line in coarse.warnings)
    fine = simulate(case, with_traces=False)
    assert fine.measures["energy_error"] <= ENERGY_ALLOWED
    finer = [REFINEMENT * case.run.tolerance, REFINEMENT**2 * case.run.tolerance]
    assert any(f"the run was repeated at {tolerance:g}" in line for line in fine.warnings for tolerance in finer)
    assert fine.statistics["steps"] > coarse.statistics["steps"]


def test_a_batch_does_the_same_as_a_single_run():
    case = wide_design(REBOUNDS)[1]
    row = run_lane(case, case, with_checks=False)
    assert row.values[PLACE["closing_time"]] == simulate(case, with_traces=False).measures["closing_time"]


@pytest.mark.parametrize("name", ["hot_start", "dry_bench"])
def test_an_ordinary_run_is_not_repeated(name):
    case = load_case(CASES / f"{name}.toml")
    once = simulate(case, tolerance=case.run.tolerance, with_traces=False)
    assert simulate(case, with_traces=False).statistics == once.statistics
