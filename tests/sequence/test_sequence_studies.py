"""Studies of a case with a sequence: faults at every step and of every sensor, and what happens with no light."""

import pytest
from runs import shipped, shipped_case
from sleevelift import simulate, with_values
from sleevelift.case.change import with_texts
from sleevelift.case.faults import CaseError
from sleevelift.run import in_short_form
from sleevelift.stand.sequence import waits_of
from sleevelift.study.cycles import cycles
from sleevelift.study.fault_list import FAULTS, Fault
from sleevelift.study.faults import changed_case, judged
from sleevelift.study.no_light import no_light, words
from sleevelift.study.run_store import kept_runs
from sleevelift.study.sequence_faults import sensors_of, sequence_faults, worst_sensor
from sleevelift.study.store import ALONE
from sleevelift.study.values import axis_of

NAME = "sequenced_start"


def judged_of(name, case=None):
    case = case or shipped_case(NAME)
    (fault,) = [fault for fault in (*FAULTS, *(Fault(*row) for row in sequence_faults(case))) if fault.name == name]
    nominal, made = kept_runs([case], ALONE)[0], None
    made = changed_case(fault, case, nominal)
    assert not isinstance(made, str), made
    return judged(fault, kept_runs([made], ALONE)[0], nominal), simulate(made)


def test_the_list_has_every_step_and_every_sensor():
    names = {row[0] for row in sequence_faults(shipped_case(NAME))}
    done = [step.name for step in shipped(NAME).sequence.steps if step.instant is not None]
    assert {f"power lost at step {name}" for name in done} <= names
    assert {f"sequencer lost after step {name}" for name in done} <= names
    assert sensors_of(shipped_case(NAME)) == ["chamber_pressure"]
    assert {f"sensor failed {way}: chamber_pressure" for way in ("high", "low")} <= names
    assert sequence_faults(shipped_case("hot_start")) == [], "nothing of a sequence in a case without one"


@pytest.mark.parametrize(
    ("name", "verdict", "closed"),
    [
        ("power lost at step pressure is there", "degraded", True),
        ("sequencer lost after step start", "unsafe", False),
        ("sensor failed high: chamber_pressure, and no light-off", "unsafe", True),
        ("no electrical power mid-run", "degraded", True),
        ("solenoid stuck open after opening", "unsafe", False),
    ],
)
def test_verdicts_of_faults_of_a_sequence(name, verdict, closed):
    row, run = judged_of(name)
    assert (row.verdict, row.ends_closed) == (verdict, closed), row
    if "power" in name:
        assert len(run.case.solenoid.off) == 1 and "did not come" in row.reason


def test_power_lost_mid_run_is_lost_half_way_between_on_and_off():
    _, run = judged_of("no electrical power mid-run")
    plain = shipped(NAME).measures
    assert run.case.solenoid.off == (pytest.approx(0.5 * (plain["energize_time"] + plain["deenergize_time"])),)


def test_the_worst_sensor_is_named():
    rows = [
        ("solenoid slow", "unsafe", "x"),
        ("sensor failed low: flame", "unsafe", "y"),
        ("sensor failed high: flame", "safe", "z"),
    ]
    assert worst_sensor(rows) == "Worst of 2 runs with a failed sensor: sensor failed low: flame: unsafe, y."
    assert worst_sensor(rows[:1]) == ""


def test_no_light_is_too_late_where_the_pool_comes_to_the_allowable_pressure_first():
    """The pool passes 60 bara 62 ms after the command, closing takes 70: an abort at 70 ms is too late, one at 20 ms not."""
    case = shipped_case(NAME)
    late, _ = no_light(case, ALONE, 2, 0)
    assert late["too_late"] == late["n"] == 2 and late["abort"].instant == pytest.approx(0.17)
    assert "TOO LATE in 2 of 2 runs" in words(late)
    early, run = no_light(with_values(case, {"sequence.step.2.limit": 0.02}), ALONE, 2, 0)
    assert early["too_late"] == 0 and run.measures["latest_light_off"] is None
    assert "ends in time in all of 2 runs" in words(early)
    other, _ = no_light(with_values(case, {"sequence.step.2.otherwise": "go on"}, check=False), ALONE, 2, 0)
    assert other["abort"].name == "flame out" and "TOO LATE" in words(other), "the watch behind the hold sees it"
    assert "does NOT abort" in words(late | {"abort": None})


def test_the_window_is_laid_around_the_instants_without_a_fault():
    plain = in_short_form(shipped_case(NAME))
    assert plain.sequence is None and plain.solenoid.on == (0.1,) and plain.solenoid.off == shipped(NAME).case.solenoid.off
    assert with_values(plain, {"solenoid.off": (0.5,)}).igniter.on == (0.05,), "it is checked as a case that gives them"


def test_a_step_is_spoken_of_by_its_name():
    case = shipped_case(NAME)
    assert with_texts(case, ["sequence.step.stop.delay=0.3 s"]).sequence.step[4].delay == 0.3
    assert axis_of(case, "sequence.step.pressure is there.limit=20ms:80ms:4").path == "sequence.step.2.limit"
    with pytest.raises(CaseError, match="sequence.step"):
        with_texts(case, ["sequence.step.halt.delay=0.3 s"])


def test_commands_that_need_instants_take_those_without_a_fault():
    case = shipped_case(NAME)
    assert in_short_form(shipped_case("hot_start")) is not None and in_short_form(case).igniter.on == (0.05,)
    found = cycles(case, most=1)
    assert found.held == 1 and found.pulses[0].measures["opening_time"] == shipped(NAME).measures["opening_time"]
    waits = [(step.instant, step.what) for step in waits_of(case)]
    hold, watch = shipped(NAME).sequence.steps[2].instant, 0.05
    assert waits[0] == (hold, "pressure is there: chamber_pressure above 5 bara seen, at most 70 ms, then no light")
    assert waits[1] == (pytest.approx(hold + watch), "ABORT flame out armed: chamber_pressure below 8 bara")
