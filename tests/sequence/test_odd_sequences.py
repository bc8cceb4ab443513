"""Sequences that are right by the letter and odd: two commands at one instant, watches that never are, readings after the end."""

import pytest
from runs import CASES, shipped_case
from sleevelift import simulate, with_values
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text

TOLD_TWICE = """
[[sequence.step]]
name = "open"
part = "oxidizer.valve"
do = "open"
at = "0.3 s"
[[sequence.step]]
name = "shut at once"
part = "oxidizer.valve"
do = "close"
after = "open"
[[sequence.step]]
name = "shut again"
part = "oxidizer.valve"
do = "close"
after = "open"
delay = "0.1 s"
[[sequence.abort]]
name = "late"
when = "chamber_pressure below 8 bara"
armed_after = "shut again"
armed_until = "open"
[[sequence.abort.step]]
part = "solenoid"
do = "off"
"""


OPEN, OFF = (
    "open_at_start = true            # opened before the run: the manifold is primed and at line pressure",
    'off = ["0.82 s"]',
)


def shut_at_first(steps, off=""):
    """The fuel-rich stop, its oxidizer run valve shut when the run begins, with its own off instants and these steps."""
    whole = (CASES / "fuel_rich_stop.toml").read_text(encoding="utf-8")
    assert OPEN in whole and OFF in whole
    return case_from_text(whole.replace(OPEN, "").replace(OFF, off) + steps, "shut at first")


def test_of_two_commands_at_one_instant_the_later_counts_and_repeated_ones_are_named():
    result = simulate(shut_at_first(TOLD_TWICE))
    assert [told for told in result.sequence.commands if told[0] == "oxidizer.valve"] == []
    assert result.case.oxidizer.valve.on == result.case.oxidizer.valve.off == ()
    assert any('told open and close at one instant: the later in the list counts, "shut at once"' in w for w in result.warnings)
    assert any('so without effect: "shut again"' in w for w in result.warnings)
    assert any('"late" is never watched' in w for w in result.warnings)


def test_what_would_be_seen_after_a_given_end_is_not_seen():
    """The hold would give up at 170 ms: a run to 160 ms has not aborted, nor did the hold's limit come."""
    case = with_values(shipped_case("sequenced_start"), {"run.end": 0.16, "sequence.failed_sensor": "chamber_pressure low"})
    result = simulate(case)
    assert result.sequence.abort is None
    (step,) = [step for step in result.sequence.steps if step.name == "pressure is there"]
    assert step.instant is None and step.state == "chamber_pressure above 5 bara was not seen"
    assert simulate(with_values(case, {"run.end": 0.3})).sequence.abort.name == "no light"


def test_own_instants_and_steps_of_a_run_valve_are_one_list():
    """It is opened by a step and shut by its own instant; without the step that own instant would shut a valve that is shut."""
    step = '\n[[sequence.step]]\npart = "oxidizer.valve"\ndo = "open"\nat = "0.05 s"\n'
    valve = simulate(shut_at_first(step, OFF)).case.oxidizer.valve
    assert valve.on == (0.05,) and valve.off == (0.82,)
    with pytest.raises(CaseError, match="by turns"):
        shut_at_first("", OFF)
