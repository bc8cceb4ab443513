"""Sequences of whole runs: instants from the run itself, holds, aborts, failed sensors, lost power, batches, what is written."""

import csv
import json
from functools import lru_cache

import numpy as np
import pytest
from runs import CASES, changed, shipped, shipped_case
from sleevelift import simulate, simulate_many, with_values
from sleevelift.case.read import case_from_text
from sleevelift.plots.words import answer
from sleevelift.report.result_files import write_results
from sleevelift.run import with_instants
from sleevelift.sequence.findings import NOT_LOOKED_AT, STOP_CAUTION
from sleevelift.sequence.resolve import CLAIM, DONE

SAME_TIME = 1e-6
"""s. Interpolation between samples of a trace, at 30 bar/ms or so."""
SEQUENCED = "sequenced_start"


def instant(result, name, abort=""):
    (step,) = [step for step in result.sequence.steps if step.name == name and step.abort == abort]
    return step.instant


def text_with(text):
    return case_from_text((CASES / "hot_start.toml").read_text(encoding="utf-8") + text, "hot_start")


def step(**values):
    return "\n[[sequence.step]]\n" + "".join(f'{key} = "{value}"\n' for key, value in values.items())


@lru_cache(maxsize=1)
def after_light():
    """The hot start, its igniter off 20 ms after light-off is seen, which takes 5 ms."""
    case = text_with(step(part="igniter", do="off", when="light-off", detection_delay="5 ms", delay="20 ms"))
    return case, simulate(case)


def test_a_step_after_light_off_follows_the_light_off_of_its_own_run():
    case, result = after_light()
    lit = result.measures["light_off"]
    (done,) = [step for step in result.sequence.steps if step.name == "igniter off"]
    assert done.event == pytest.approx(lit, abs=1e-9)
    assert done.instant == pytest.approx(lit + 0.025, abs=1e-9) and done.instant >= done.event + 0.025 - 1e-12
    assert result.case.igniter.off == (done.instant,) and result.case.sequence is None
    assert result.measures["opening_time"] == pytest.approx(shipped("hot_start").measures["opening_time"], abs=CLAIM)
    assert [event.what for event in result.timeline if event.instant == done.instant] == ["igniter off"]


def test_the_run_is_that_of_its_own_instants_and_comes_twice_the_same():
    case, result = after_light()
    alone, again = simulate(result.case), simulate(case)
    assert alone.measures == result.measures == again.measures
    assert again.sequence.steps == result.sequence.steps


def test_a_reading_crosses_where_its_trace_does():
    result = shipped(SEQUENCED)
    (hold,) = [step for step in result.sequence.steps if step.name == "pressure is there"]
    t, p = result.traces["time"], result.traces["chamber_pressure"]
    above = int(np.flatnonzero(p > 5e5)[0])
    crossing = np.interp(5e5, p[above - 1 : above + 1], t[above - 1 : above + 1])
    assert hold.event == pytest.approx(crossing, abs=SAME_TIME)
    assert hold.instant == pytest.approx(hold.event + 0.005, abs=1e-12)
    assert instant(result, "stop") == pytest.approx(hold.instant + 0.6, abs=1e-12)
    assert result.measures["deenergize_time"] == instant(result, "stop")
    assert result.sequence.settled and result.sequence.abort is None
    (check,) = [check for check in result.checks if check.name == "sequence"]
    assert check.passed and NOT_LOOKED_AT in result.warnings and STOP_CAUTION in result.warnings


def test_instants_given_in_steps_and_in_short_form_are_the_same_run():
    plain = shipped("hot_start")
    text = (CASES / "hot_start.toml").read_text(encoding="utf-8")
    for line in ('on = ["0.1 s"]  ', 'off = ["0.8 s"] ', 'on = ["0.05 s"] '):
        (found,) = [whole for whole in text.splitlines() if whole.startswith(line)]
        text = text.replace(found + "\n", "")
    text += step(part="solenoid", do="off", at="0.8 s") + step(part="igniter", do="on", at="50 ms")
    text += step(part="solenoid", do="on", after="igniter on", delay="50 ms")
    result = simulate(case_from_text(text, "hot_start"))
    assert result.measures == plain.measures and result.outcome == plain.outcome
    assert {check.name for check in result.checks} == {"sequence", *(check.name for check in plain.checks)}


def test_no_light_runs_into_the_time_limit_and_its_abort():
    case = with_values(shipped_case(SEQUENCED), {"igniter.rise": 5.0})
    result = simulate(case)
    abort = result.sequence.abort
    assert result.measures["light_off"] is None
    assert abort.name == "no light" and abort.instant == pytest.approx(0.170, abs=1e-12)
    assert result.measures["deenergize_time"] == abort.instant and result.case.igniter.off == (abort.instant,)
    said = answer(result)
    assert said.tone == "alarm" and said.outcome.startswith("ABORTED, no light, 70.000 ms after the first on command")
    assert "sequence" in said.failed and "ABORTED" in repr(result)
    states = {step.name: step.state for step in result.sequence.steps if not step.abort}
    assert states["pressure is there"] == "not seen within its time limit: abort" and states["stop"] == "dropped by the abort"


def test_a_flame_that_goes_out_in_the_run_aborts_it():
    """The fuel's inlet falls to ambient at 0.5 s: chamber pressure below 8 bara is seen 5 ms after it is, and the sleeve shut."""
    text = (CASES / f"{SEQUENCED}.toml").read_text(encoding="utf-8")
    (line,) = [line for line in text.splitlines() if line.startswith("inlet_pressure") and "plus" in line or "28.0 bara" in line]
    lost = '[fuel.inlet_table]\ntime = ["0 s", "0.5 s", "0.51 s"]\npressure = ["27 bara", "27 bara", "1.01325 bara"]\n\n[slots]\n'
    result = simulate(case_from_text(text.replace(line + "\n", "").replace("[slots]\n", lost, 1), SEQUENCED))
    abort = result.sequence.abort
    assert abort.name == "flame out" and 0.5 < abort.event < 0.56 and abort.instant == pytest.approx(abort.event + 0.005)
    t, p = result.traces["time"], result.traces["chamber_pressure"]
    assert np.interp(abort.event - 1e-4, t, p) > 8e5 > np.interp(abort.event + 1e-4, t, p)
    assert instant(result, "stop") is None and instant(result, "solenoid off", "flame out") == abort.instant


def test_a_step_that_waits_for_what_never_comes_is_named_first():
    case = text_with(step(name="late", part="igniter", do="off", when="chamber_pressure above 50 bara") + step(
        part="solenoid", do="on", after="late", delay="1 s"))  # fmt: skip
    result = simulate(case)
    assert [step.name for step in result.sequence.not_done] == ["late", "solenoid on 2"]
    assert result.sequence.not_done[1].state == '"late" did not come'
    said = answer(result)
    assert said.outcome.startswith("2 STEPS OF THE SEQUENCE DID NOT COME") and said.tone == "alarm"
    assert any("chamber_pressure above 50 bara was not seen" in warning for warning in result.warnings)


@pytest.mark.parametrize(
    ("sensor", "abort"),
    [("chamber_pressure low", "no light"), ("chamber_pressure high", None), ("fuel_flow high", None)],
)
def test_failed_sensors_are_what_the_sequence_sees(sensor, abort):
    result = simulate(with_values(shipped_case(SEQUENCED), {"sequence.failed_sensor": sensor}))
    assert (None if result.sequence.abort is None else result.sequence.abort.name) == abort
    hold = instant(result, "pressure is there")
    if sensor == "chamber_pressure high":
        assert hold == pytest.approx(0.105), "seen at once, before anything burns"
    if sensor == "fuel_flow high":
        assert hold == instant(shipped(SEQUENCED), "pressure is there")


def test_power_and_sequencer_lost():
    case = shipped_case(SEQUENCED)
    power = simulate(with_values(case, {"sequence.power_lost": 0.3}))
    assert power.case.solenoid.off == (0.3,) and power.outcome == "opened-and-closed"
    assert {step.state for step in power.sequence.not_done} == {"no power any more"}
    gone = simulate(with_values(case, {"sequence.sequencer_lost": 0.3}))
    assert gone.case.solenoid.off == () and gone.outcome == "opened-no-off-command"
    assert "DID NOT COME" in answer(gone).outcome


def test_each_lane_of_a_batch_finds_its_own_instants():
    case = shipped_case(SEQUENCED)
    lanes = [{}, {"igniter.delay": 6e-3}, {"igniter.rise": 5.0}, {"sequence.step.4.delay": 0.3}, {"sequence.step.4.delay": -1.0}]
    batch = simulate_many(case, lanes)
    for lane, values in enumerate(lanes[:4]):
        alone = simulate(with_values(case, values))
        assert batch.measures["deenergize_time"][lane] == alone.measures["deenergize_time"]
        assert batch.measures["closing_time"][lane] == alone.measures["closing_time"]
    assert list(batch.checks["sequence"][:4]) == [1.0, 1.0, 0.0, 1.0]
    assert "must be at least 0" in batch.failures[4]


def test_what_is_written(tmp_path):
    result = shipped(SEQUENCED)
    written = write_results(result, tmp_path, pictures=False)
    assert "sequence.csv" in {path.name for path in written.files}
    rows = list(csv.DictReader((tmp_path / "sequence.csv").open(encoding="utf-8")))
    hold = next(row for row in rows if row["step"] == "pressure is there")
    assert hold["condition"] == "chamber_pressure above 5 bara" and float(hold["limit [s]"]) == 0.07
    assert hold["at the limit"] == "no light" and float(hold["time in this run [s]"]) == instant(result, "pressure is there")
    kept = json.loads((tmp_path / "result.json").read_text(encoding="utf-8"))
    assert kept["sequence"]["abort"] is None and kept["sequence"]["settled"] is True
    assert {"sequence.step.2.when", "sequence.abort.1.armed_until"} <= {row["path"] for row in kept["inputs"]}
    write_results(shipped("hot_start"), tmp_path, pictures=False)
    assert not (tmp_path / "sequence.csv").exists(), "a folder shows one run"


def test_a_second_start_waits_for_the_first_stop_and_has_its_own_light_off():
    """An event counts from the step it is looked for after: the second light-off, not the first."""
    case = text_with(
        step(name="again", part="solenoid", do="on", after="solenoid off", when="seated", delay="0.3 s")
        + step(
            name="lit again", do="hold", after="again", when="light-off", detection_delay="2 ms", limit="0.2 s", otherwise="stay"
        )
        + step(name="end", part="solenoid", do="off", after="lit again", delay="0.1 s")
    )
    result = simulate(case)
    first, second = result.pulses
    seated = first.measures["deenergize_time"] + first.measures["closing_time"]
    assert instant(result, "again") == pytest.approx(seated + 0.3, abs=CLAIM) and len(result.pulses) == 2
    assert instant(result, "lit again") == pytest.approx(second.measures["light_off"] + 0.002, abs=1e-9)
    assert second.measures["deenergize_time"] == instant(result, "end") == pytest.approx(instant(result, "lit again") + 0.1)
    assert result.outcome == "opened-and-closed" and result.sequence.settled


def test_steps_after_a_run_broke_off_did_not_come():
    """Cold argon condenses in the plenum before the off command: no step after that is called done, and the check fails."""
    case = changed(text_with(step(part="igniter", do="off", at="0.9 s")), gas__name="argon", supply__temperature=170.0)
    result = simulate(case)
    assert result.outcome == "left-gas-range" and result.broke_off < 0.8
    assert not any(step.state == DONE for step in result.sequence.steps if step.instant > result.broke_off)
    check = next(check for check in result.checks if check.name == "sequence")
    assert not check.passed and "did not come" in check.advice
    assert not simulate_many(case, [{}]).checks["sequence"][0]


@pytest.mark.parametrize("name", ["sequenced_start", "valve_lead"])
def test_the_case_with_its_instants_can_be_changed(name):
    """Instants that steps gave are the case's own then: changing another key asks for none of them again."""
    written = shipped_case(name)
    fixed = with_instants(written).fixed
    assert with_values(fixed, {"run.end": 1.0}).solenoid.on == fixed.solenoid.on
    assert written.origin["solenoid.on"] == "default"
