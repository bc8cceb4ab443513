"""Many runs at once: each lane is what it is alone, whatever stands beside it in its group."""

import numpy as np
import sleevelift.run
from runs import shipped_case
from sleevelift import simulate
from sleevelift.batch import GROUP, NOT_BUILT, run_group, simulate_many
from sleevelift.case.read import with_values
from sleevelift.integrate.status import Status
from sleevelift.plant.build import build
from sleevelift.run import lent_buffers

NAMES = ("dry_bench", "hot_start", "helium_lift", "cold_flow", "hot_start", "late_igniter", "bottle_blowdown")
"""Dry and hot cases, nitrogen and helium, one repeated at a finer tolerance (`hammer` below), side by side."""
COLD = {"supply.temperature": 150.0}
"""Gas that cools below the range of its table as it expands."""


def numbers(result):
    """Measures of a run as a lane has them."""
    return np.array([np.nan if value is None else value for value in result.measures.values()])


def test_a_lane_is_what_it_is_alone():
    cases = [shipped_case(name) for name in (*NAMES, "hammer", *reversed(NAMES))]
    batch = simulate_many(cases[0], cases, workers=2)
    for lane, case in enumerate(cases):
        alone = simulate(case)
        assert batch.outcomes[lane] == alone.outcome
        together = np.array([values[lane] for values in batch.measures.values()])
        assert list(batch.measures) == list(alone.measures)
        np.testing.assert_array_equal(together, numbers(alone))
        assert {name: bool(passed[lane]) for name, passed in batch.checks.items() if not np.isnan(passed[lane])} == {
            check.name: check.passed for check in alone.checks
        }


def test_a_lane_that_fails_says_why_and_leaves_the_others_alone():
    case = shipped_case("dry_bench")
    overrides = [{}, COLD, {}, COLD, {"seals.friction_factor": 1.1}, {"no.such": 1.0}, {"no.such": 1.0}, COLD, {}]
    batch = simulate_many(case, overrides, workers=1)
    cold = simulate(with_values(case, COLD))
    assert cold.outcome == "left-gas-range" and cold.failure
    assert [batch.failures.get(lane) for lane in (1, 3, 7)] == [cold.failure] * 3
    assert all(batch.failures[lane].startswith("not run: ") and batch.status[lane] == NOT_BUILT for lane in (5, 6))
    for lane in (0, 2, 4, 8):
        alone = simulate(with_values(case, overrides[lane]))
        assert lane not in batch.failures
        assert batch.measures["opening_time"][lane] == alone.measures["opening_time"]


def test_values_of_a_lane_are_checked_as_those_of_a_file():
    """An orifice of -1 m is a fault with its name, not a time; a text is read as a file's."""
    case = shipped_case("dry_bench")
    orifice = "solenoid.fill_orifice"
    own = case.solenoid.fill_orifice
    batch = simulate_many(case, [{orifice: -1.0}, {orifice: f"{1e3 * own!r} mm"}, {orifice: "1 bar", "spring.preload": "-1 N"}])
    assert [int(status) == NOT_BUILT for status in batch.status] == [True, False, True]
    assert "[solenoid] fill_orifice" in batch.failures[0] and "must be above 0" in batch.failures[0]
    assert len(batch.failures[2].splitlines()) == 2
    assert batch.measures["opening_time"][1] == simulate(case).measures["opening_time"]


def test_room_for_points_grows_inside_a_group(monkeypatch):
    case = shipped_case("hot_start")
    overrides = [{}, {"spring.preload": 800.0}, {"run.end": 0.9}, {}]
    before = simulate_many(case, overrides, workers=1)
    for name, room in (("FIRST_POINTS", 20), ("SIDE_POINTS", 5), ("FIRST_EVENTS", 3), ("_spare", {})):
        monkeypatch.setattr(sleevelift.run, name, room)
    after = run_group(case, overrides)
    for lane, row in enumerate(after):
        np.testing.assert_array_equal(row.values, [values[lane] for values in before.measures.values()])


def test_a_lane_beyond_all_room_is_given_up_alone(monkeypatch):
    case = shipped_case("hot_start")
    steps = simulate(case).statistics["points"]
    for name, room in (("FIRST_POINTS", steps + 20), ("MOST_POINTS", steps + 20), ("_spare", {})):
        monkeypatch.setattr(sleevelift.run, name, room)
    long = {"run.end": 3.0}
    rows = run_group(case, [{}, long, {}, long])
    assert [row.status for row in rows] == [Status.FINISHED, Status.BUFFER_FULL, Status.FINISHED, Status.BUFFER_FULL]
    assert [row.outcome for row in rows] == ["opened-and-closed", "failed"] * 2
    np.testing.assert_array_equal(rows[0].values, rows[2].values)
    assert rows[1].failure and rows[0].failure is None


def test_groups_of_any_size_have_the_same_digits():
    case = shipped_case("dry_bench")
    overrides = [{"spring.preload": 700.0 + 5.0 * lane} for lane in range(2 * GROUP + 3)]
    together = np.array(list(simulate_many(case, overrides, workers=2).measures.values()))
    alone = np.array([run_group(case, [override])[0].values for override in overrides]).T
    np.testing.assert_array_equal(together, alone)


def test_arrays_are_lent_to_one_at_a_time():
    plant = build(shipped_case("dry_bench"))
    with lent_buffers(plant) as one, lent_buffers(plant) as other:
        assert one is not other
    with lent_buffers(plant) as again:
        assert again is one or again is other
