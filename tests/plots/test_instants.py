"""What start and stop page show, against the timeline of the run."""

import pytest
from runs import instants, shipped
from sleevelift.plots.instants import rest_window, start_window, stop_window

CASES = (
    "hot_start",
    "dry_bench",
    "cold_flow",
    "weak_battery",
    "bottle_blowdown",
    "nose_trap",
    "priming_surge",
    "dry_interlock",
)


@pytest.mark.parametrize("name", CASES)
def test_windows_lie_in_the_run_and_hold_their_marks(name):
    result = shipped(name)
    windows = [start_window(result), stop_window(result) or rest_window(result)]
    for window in windows:
        assert 0.0 <= window.begin < window.end <= result.traces["time"][-1]
        at = [mark.instant for mark in window.marks]
        assert at == sorted(at) and all(window.begin <= t <= window.end for t in at)
        assert [mark.number for mark in window.marks] == list(range(1, len(at) + 1))
        if window.enlarged:
            low, high = window.enlarged
            assert window.begin <= low < high <= window.end and high - low < 0.5 * (window.end - window.begin)


def _mark(window, words):
    return next(mark.instant for mark in window.marks if words in mark.label)


def test_marks_of_the_hot_start_are_the_timelines():
    result = shipped("hot_start")
    start, stop = start_window(result), stop_window(result)
    for mark, event in (
        ("leaves its seat", "leaves its seat"),
        ("oxidizer enters", "oxidizer enters the chamber"),
        ("fuel enters", "fuel enters the chamber"),
        ("light-off; pooled", "chamber lights"),
        ("fill port", "fill port starts to open"),
    ):
        assert _mark(start, mark) == pytest.approx(instants(result, event)[0], abs=1e-9)
    assert _mark(stop, "moves down") == pytest.approx(instants(result, "breaks away downward")[0], abs=1e-9)
    assert _mark(stop, "seated for good") == pytest.approx(instants(result, "hits its seat and stays")[-1], abs=1e-9)
    assert _mark(stop, "exhaust port") == pytest.approx(instants(result, "exhaust port starts to open")[0], abs=1e-9)
    assert start.command == result.case.solenoid.on[0] and stop.command == result.case.solenoid.off[-1]


def test_the_start_page_shows_a_lift_before_the_command():
    result = shipped("priming_surge")
    window = start_window(result)
    early = instants(result, "leaves its seat")[0]
    assert early < window.command and window.begin < early
    assert _mark(window, "WITHOUT A COMMAND") == early


def test_a_sleeve_that_hangs_is_shown_up_to_the_off_command():
    result = shipped("bottle_blowdown")
    window = start_window(result)
    assert window.end >= result.case.solenoid.off[0]
