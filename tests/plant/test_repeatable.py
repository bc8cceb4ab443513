"""The same digits twice, on one thread or many; and times that hold against a hundredth of the tolerance."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from runs import CASES, shipped, shipped_case
from sleevelift import simulate

NAMES = ("dry_bench", "cold_flow", "hot_start", "hammer", "helium_lift", "bottle_blowdown")


def digits(name):
    """Every measure and trace of a run, as bytes."""
    result = simulate(shipped_case(name))
    numbers = [np.nan if v is None else v for v in result.measures.values()]
    return np.array(numbers).tobytes() + b"".join(np.ascontiguousarray(trace).tobytes() for trace in result.traces.values())


def test_same_digits_twice():
    assert [digits(name) for name in NAMES] == [digits(name) for name in NAMES]


def test_same_digits_on_many_threads():
    alone = [digits(name) for name in NAMES]
    with ThreadPoolExecutor(8) as pool:
        together = list(pool.map(digits, NAMES * 4))
    assert together == alone * 4


def test_digits_do_not_depend_on_the_run_before():
    """Arrays are reused between runs: what a longer or failed run left in them does not show."""
    first = digits("dry_bench")
    for name in ("fuel_lost", "priming_surge", "weak_battery"):
        digits(name)
    assert digits("dry_bench") == first


@pytest.mark.parametrize("name", ["hot_start", "dry_bench"])
def test_plans_kept_from_other_runs_do_not_show(name):
    """A new thread has arrays of its own, with no plan of elimination kept; another has met the patterns of other cases before."""
    with ThreadPoolExecutor(1) as fresh:
        alone = fresh.submit(digits, name).result()
    with ThreadPoolExecutor(1) as used:
        for other in ("hammer", "helium_lift", "nose_trap", "bottle_blowdown", "late_igniter"):
            used.submit(digits, other).result()
        assert used.submit(digits, name).result() == alone


TEN_MICROSECONDS = 1e-5


@pytest.mark.parametrize("name", sorted(path.stem for path in CASES.glob("*.toml")))
def test_times_hold_against_a_hundredth_of_the_tolerance(name):
    result = shipped(name)
    tight = shipped(name, 0.01 * shipped_case(name).run.tolerance)
    assert tight.outcome == result.outcome
    for measure in ("opening_time", "closing_time"):
        if result.measures[measure] is None:
            assert tight.measures[measure] is None
        else:
            assert result.measures[measure] == pytest.approx(tight.measures[measure], abs=TEN_MICROSECONDS), measure
