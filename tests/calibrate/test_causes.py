"""Single causes of a measured number, and what tells them apart."""

import numpy as np
import pytest
from invented_stand import ROOT, case
from sleevelift import simulate, with_values
from sleevelift.calibrate.causes import Candidate, candidates, crossing, found
from sleevelift.calibrate.data import measured_number
from sleevelift.calibrate.tell_apart import told_apart
from sleevelift.cli import app
from typer.testing import CliRunner

DRY = ROOT / "cases" / "dry_bench.toml"
AMONG = ("solenoid.open_dead_time", "lift_chamber.dead_volume", "sleeve.moving_mass")


@pytest.fixture(scope="module")
def search():
    return found(case(), measured_number(case(), "opening_time=72 ms +- 1 ms"), only=AMONG)


def test_each_cause_gives_the_number_that_was_measured(search):
    assert {cause.candidate.path for cause in search.causes} == set(AMONG[:2])
    for cause in search.causes:
        run = simulate(with_values(case(), {cause.candidate.path: cause.value}), with_traces=False)
        assert run.measures["opening_time"] == pytest.approx(72e-3, abs=2e-5)


def test_a_dead_time_adds_itself(search):
    """Opening is later by what the dead time is longer; its interval is the number's own."""
    cause = next(one for one in search.causes if one.candidate.path == AMONG[0])
    assert cause.value - 8e-3 == pytest.approx(72e-3 - search.before, abs=2e-5)
    assert cause.half == pytest.approx(1e-3, rel=0.02)
    assert cause.s == pytest.approx(np.log(cause.value / 8e-3) / np.log(30e-3 / 8e-3), rel=1e-6) and cause.word == "usual"


def test_a_value_that_cannot_explain_it_is_not_a_cause(search):
    """A sleeve ten per cent heavier is later by far less than a millisecond."""
    assert not any(one.candidate.path == "sleeve.moving_mass" for one in search.causes)


def test_pressure_tells_a_late_valve_from_a_large_volume(search):
    """A late valve shifts the rise, a large volume makes it slower: the armature's dip and any pressure there tell them apart; the
    supply, held by its regulator, does not."""
    told = told_apart(case(), search.causes)
    apart = {one.sensor.quantity: one.apart for one in told.seen}
    assert told.pairs == 1 and apart["lift_chamber_pressure"] == apart["valve_opening"] == 1 and apart["supply_pressure"] == 0
    efforts = [one.sensor.effort for one in told.seen if one.apart == 1]
    assert efforts == sorted(efforts)


def test_widths_of_the_usual_range():
    one = Candidate("x", "number", "-", 2.0, 1.0, 8.0, True)
    assert [one.value(s) for s in (-1.0, 0.0, 0.5, 1.0)] == pytest.approx([1.0, 2.0, 4.0, 8.0])
    leak = Candidate("x", "area", "mm2", 0.0, 0.0, 1e-8, True)
    assert leak.value(2.0) == pytest.approx(2e-8)


def test_the_crossing_nearest_to_the_case():
    s = np.array([-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0])
    assert crossing(s, np.array([-1.0, 1.0, 2.0, 1.0, 0.5, -1.0, 3.0])) == (1.0, 2.0)
    assert crossing(s, np.array([-1.0, np.nan, 2.0, 1.0, 0.5, 1.0, 3.0])) is None


def test_candidates_are_values_of_the_machine():
    paths = {one.path for one in candidates(case())}
    assert {"solenoid.fill_orifice", "tube.bore", "spring.preload", "seals.outside_leak_area"} <= paths
    assert not any(part in path for path in paths for part in ("rated", "relief", "limits", "run.", "ambient"))


def test_the_command(tmp_path):
    options = ["--among", ",".join(AMONG), "--out", str(tmp_path)]
    said = CliRunner().invoke(app, ["causes", str(DRY), "--measured", "opening_time=72 ms", *options])
    assert said.exit_code == 0, said.output
    assert said.output.startswith("opening_time 72.000 ms measured, 65.74")
    assert "ms in the case: 2 single values would explain it within the usual" in said.output
    assert "14.25 ms" in said.output and "1 % taken" in said.output
    for wrong, words in (("opening_time", "must be like"), ("opening_time=72 mm", "must be a time")):
        refused = CliRunner().invoke(app, ["causes", str(DRY), "--measured", wrong, *options])
        assert refused.exit_code == 2 and words in refused.output
    refused = CliRunner().invoke(app, ["causes", str(DRY), "--measured", "opening_time=72 ms", "--among", "run.tolerance"])
    assert refused.exit_code == 2 and "not among the values" in refused.output
