"""Fits of a case with a sequence: its steps move with the values, measured commands stand in their place."""

import math

import pytest
from runs import shipped, shipped_case
from sleevelift import with_values
from sleevelift.calibrate.data import measured_number, number_of_run, with_commands
from sleevelift.calibrate.runs import first_on, signals
from sleevelift.measured.trace import Edge
from sleevelift.run import in_short_form, simulate

SLOW = {"solenoid.fill_discharge_coefficient": 0.6}


def test_steps_that_wait_move_with_the_values_and_instants_count_from_the_command():
    """The run valves wait for the sleeve: filled more slowly, all comes later, by as much as in a run of the case so changed."""
    case = shipped_case("valve_lead")
    plain, slow = signals(case, {}, ()), signals(case, SLOW, ())
    run = simulate(with_values(case, SLOW)).measures
    for name in ("opening_time", "first_oxidizer", "first_fuel", "light_off"):
        assert slow.measures[name] == pytest.approx(run[name], abs=2e-5), name
        assert slow.measures[name] > plain.measures[name] + 5e-3, name
    number = measured_number(case, "first_fuel=91.7 ms +- 1 ms")
    assert number_of_run(case, plain, {}, number) == pytest.approx(shipped("valve_lead").measures["first_fuel"] - 0.1, abs=2e-5)
    assert first_on(case) == 0.1 and first_on(shipped_case("weak_battery")) == min(shipped_case("weak_battery").solenoid.on)


def test_measured_commands_stand_for_those_of_the_sequence():
    """The trace's clock is 2 s later; the same commands leave the case as it is, another off is run as measured."""
    case = shipped_case("sequenced_start")
    off = in_short_form(case).solenoid.off[0]
    same, clock, notes = with_commands(case, [Edge(2.1, True, 1e-4), Edge(2.0 + off, False, 1e-4)])
    assert same is case and clock.offset == pytest.approx(2.0) and notes == []
    other, clock, notes = with_commands(case, [Edge(2.1, True, 1e-4), Edge(2.4, False, 1e-4)])
    assert other.sequence is None and other.solenoid.off == (pytest.approx(0.4),) and other.igniter.on == (0.05,)
    assert "Commands as measured" in notes[0] and "its sequence commands" in notes[1]
    unknown, clock, _ = with_commands(case, [])
    assert unknown is case and math.isinf(clock.sigma)
