"""Run valves as parts of a sequence: the same run as by their own instants, the order of the stop, their faults."""

from functools import lru_cache

import pytest
from runs import CASES, shipped, shipped_case
from sleevelift import simulate, simulate_many, with_values
from sleevelift.case.read import case_from_text
from sleevelift.sequence.resolve import DONE, LATE, commanded
from sleevelift.study.fault_list import Fault
from sleevelift.study.faults import changed_case, judged
from sleevelift.study.run_store import kept_runs
from sleevelift.study.sequence_faults import sequence_faults
from sleevelift.study.store import ALONE

STOP = """
[[sequence.step]]
name = "stop"
part = "solenoid"
do = "off"
at = "0.8 s"
[[sequence.step]]
name = "oxidizer shut"
part = "oxidizer.valve"
do = "close"
after = "stop"
delay = "20 ms"
[[sequence.step]]
name = "fuel shut"
part = "fuel.valve"
do = "close"
after = "stop"
when = "seated"
detection_delay = "5 ms"
delay = "20 ms"
"""


@lru_cache(maxsize=1)
def stopped():
    """The fuel-rich stop with its off instants as steps; the fuel's valve follows the sleeve onto its seat."""
    text = (CASES / "fuel_rich_stop.toml").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("off = ")]
    return case_from_text("\n".join(lines) + "\n" + STOP, "fuel_rich_stop")


def test_valves_close_by_steps_as_by_their_own_instants():
    """The sleeve is shut before the fuel's valve moves, so that up to there it is the same run."""
    result, plain = simulate(stopped()), shipped("fuel_rich_stop")
    for name in ("opening_time", "closing_time", "shutdown_oxidizer_lag", "peak_oxidizer_manifold", "last_fuel"):
        assert result.measures[name] == pytest.approx(plain.measures[name], rel=1e-6, abs=1e-6), name
    seated = result.measures["deenergize_time"] + result.measures["closing_time"]
    (step,) = [step for step in result.sequence.steps if step.name == "fuel shut"]
    assert step.event == pytest.approx(seated, abs=1e-6) and step.instant == pytest.approx(seated + 0.025, abs=1e-6)
    assert result.case.fuel.valve.off == (step.instant,) and result.case.fuel.valve.on == ()


def test_the_order_of_the_stop_decides_which_propellant_is_last():
    """The later the oxidizer's valve, the later its last; once the sleeve is first, oxidizer is last as without a valve."""
    batch = simulate_many(stopped(), [{"sequence.step.1.delay": wait} for wait in (0.0, 0.02, 0.04, 0.2)])
    lag = batch.measures["shutdown_oxidizer_lag"]
    assert lag[0] < lag[1] < lag[2] < lag[3] and lag[1] < 0.0 < lag[3]
    assert lag[3] == pytest.approx(shipped("hot_start").measures["shutdown_oxidizer_lag"], rel=0.05)
    assert list(batch.checks["shutdown_oxidizer_lag"]) == [1.0, 1.0, *(float(one <= 0.0) for one in lag[2:])]


def test_without_power_valves_that_stand_open_shut_and_stuck_ones_stay():
    power = simulate(with_values(stopped(), {"sequence.power_lost": 0.5}))
    assert [(part, on, t) for part, on, t in power.sequence.commands if "valve" in part] == [
        ("oxidizer.valve", False, 0.5), ("fuel.valve", False, 0.5)
    ]  # fmt: skip
    stuck = simulate(with_values(stopped(), {"sequence.failed_part": "oxidizer.valve stuck on"}))
    assert stuck.case.oxidizer.valve.off == () and stuck.measures["shutdown_oxidizer_lag"] > 0.0


@pytest.mark.parametrize(
    ("name", "last"), [("oxidizer run valve stuck open", "oxidizer"), ("oxidizer run valve stuck shut", "fuel")]
)
def test_faults_of_a_feed_valve(name, last):
    case = shipped_case("fuel_rich_stop")
    (fault,) = [Fault(*row) for row in sequence_faults(case) if row[0] == name]
    nominal = kept_runs([case], ALONE)[0]
    made = changed_case(fault, case, nominal)
    assert not isinstance(made, str)
    row = judged(fault, kept_runs([made], ALONE)[0], nominal)
    assert row.last_propellant.startswith(last) and row.ends_closed and row.verdict != "safe"


def test_run_valves_are_charted_without_a_sequence_too():
    """Their own instants are what the parts are told; solenoid valve and igniter alone are in the pictures of start and stop."""
    told = commanded(shipped_case("fuel_rich_stop"), None, 2.0)
    assert [(part, on) for part, on, _ in told.commands if part.endswith("valve")] == [
        ("oxidizer.valve", False),
        ("fuel.valve", False),
    ]
    assert all(step.state == DONE for step in told.steps) and told.abort is None
    assert commanded(shipped_case("hot_start"), None, 2.0) is None
    broken_off = commanded(shipped_case("fuel_rich_stop"), None, 0.81)
    assert [step.state for step in broken_off.steps if step.instant > 0.81] == [LATE, LATE]


def test_faults_of_a_purge():
    """It does not come, its supply falls off, its check valve leaks back: the last is named though it cannot be run."""
    case = shipped_case("purged_stop")
    rows = {row[0]: Fault(*row) for row in sequence_faults(case)}
    nominal = kept_runs([case], ALONE)[0]
    weak = changed_case(rows["supply of the oxidizer purge at half its pressure"], case, nominal)
    assert weak.oxidizer.purge.pressure == pytest.approx(0.5 * case.oxidizer.purge.pressure)
    gone = changed_case(rows["oxidizer purge does not come"], case, nominal)
    left = [run.measures["residual_oxidizer_at_end"] for run in map(simulate, (case, weak, gone))]
    assert left[0] <= left[1] < left[2]
    back = changed_case(rows["check valve of the oxidizer purge leaks back"], case, nominal)
    assert back == "not looked at: what runs back into a purge line"
    row = judged(rows["oxidizer purge does not come"], kept_runs([gone], ALONE)[0], nominal)
    assert row.verdict == "degraded" and "of oxidizer is left in its manifold instead of" in row.reason
