"""What the chart of a sequence draws: commands as steps at their instants, levels over the stretch in which they are looked for."""

import numpy as np
import pytest
from runs import shipped, shipped_case
from sleevelift import simulate, with_values
from sleevelift.plots.sequence_chart import chart_window, looks_of, part_panels, with_commands, with_edges

NAME = "sequenced_start"


def test_commands_are_steps_even_where_the_part_does_not_obey():
    result = simulate(with_values(shipped_case(NAME), {"sequence.failed_part": "igniter stuck off"}))
    drawn = with_commands(result)
    t, command = drawn.traces["time"], drawn.traces["command of igniter"]
    assert list(command[t == 0.05]) == [0.0, 1.0] and not result.case.igniter.on
    assert np.all(np.diff(t) >= 0.0) and set(np.unique(command)) == {0.0, 1.0}
    assert np.all(drawn.traces["command of solenoid"][(t > 0.1) & (t < 0.17)] == 1.0)


def test_edges_do_not_move_a_trace():
    t = np.array([0.0, 1.0, 1.0, 2.0])
    out = with_edges({"time": t, "x": np.array([0.0, 1.0, 5.0, 6.0])}, [1.0, 1.5, 3.0])
    assert list(out["time"]) == [0.0, 1.0, 1.0, 1.5, 1.5, 2.0] and list(out["x"]) == [0.0, 1.0, 5.0, 5.5, 5.5, 6.0]


def test_levels_stand_over_the_stretch_in_which_they_are_looked_for():
    result = shipped(NAME)
    steps = {step.name: step.instant for step in result.sequence.steps if not step.abort}
    hold, watch = looks_of(result.sequence, 1.0)
    assert hold[1:3] == (steps["start"], steps["pressure is there"]) and not hold[4]
    assert watch[1] == pytest.approx(steps["pressure is there"] + 0.05) and watch[2] == steps["stop"] and watch[4]
    assert [panel.title for panel in part_panels(result, result.sequence)] == ["Solenoid valve", "Igniter"]
    window = chart_window(result, result.sequence)
    assert [mark.instant for mark in window.marks] == sorted(steps.values())


def test_levels_of_one_reading_stand_in_one_entry_of_the_legend():
    """Two steps and an abort look at it: a line for steps and one for aborts, in the reader's unit."""
    from matplotlib.figure import Figure
    from sleevelift.case.conditions import condition_of
    from sleevelift.plots.instants import start_window
    from sleevelift.plots.sequence_chart import _draw_looks

    looks = [
        (condition_of("chamber_pressure above 5 bara", 101325.0), 0.1, 0.2, 0.16, False),
        (condition_of("chamber_pressure below 2 bara", 101325.0), 0.7, 0.9, None, False),
        (condition_of("chamber_pressure below 8 bara", 101325.0), 0.3, 0.7, None, True),
    ]
    result = shipped("sequenced_start")
    handles = _draw_looks(looks, "pressure", result.case.reader)([Figure().subplots()], result, start_window(result))
    assert [handle.get_label() for handle in handles] == ["step: above 5, below 2 bara", "abort: below 8 bara"]
