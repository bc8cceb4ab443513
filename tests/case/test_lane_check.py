"""Lanes of a batch are checked as a file is: the short check refuses what the whole one refuses, and nothing else."""

import pytest
from case_texts import DRY, HOT
from sleevelift.case import lane_check
from sleevelift.case.lane_check import LaneCheck
from sleevelift.case.read import CaseError, case_from_text, with_values
from sleevelift.case.walk import values


def outcome(make, changes):
    """(values of the changed case, None) or (None, the refusal)."""
    try:
        return values(make(changes)), None
    except CaseError as refusal:
        return None, str(refusal)


@pytest.mark.parametrize("text", [HOT, DRY], ids=["hot", "dry"])
def test_the_short_check_is_the_whole_one(text):
    """Each number of a case alone, at sizes that break bounds and sizes that do not fit to what stands beside."""
    case = case_from_text(text)
    admitted = LaneCheck(case)
    refused = 0
    for path, value in values(case).items():
        for factor in (-1.0, 0.4, 4.0) if isinstance(value, float) and value != 0.0 else ():
            changes = {path: factor * value}
            short, whole = (outcome(make, changes) for make in (admitted.changed, lambda given: with_values(case, given)))
            assert short == whole, changes
            refused += whole[1] is not None
    assert refused > 40


def test_changes_that_only_together_do_not_fit():
    """A thicker rod and a thicker post: each fits to the rest of the sleeve alone."""
    case = case_from_text(HOT)
    admitted = LaneCheck(case)
    sleeve = case.sleeve
    post = {"sleeve.post_diameter": 0.5 * (sleeve.post_diameter + sleeve.nose_diameter)}
    nose = {"sleeve.nose_diameter": 0.6 * sleeve.post_diameter + 0.4 * sleeve.nose_diameter}
    found = [outcome(admitted.changed, changes) for changes in (post, nose, post | nose)]
    assert found == [outcome(lambda given: with_values(case, given), changes) for changes in (post, nose, post | nose)]
    assert [refusal is None for _, refusal in found] == [True, True, False]


def test_ranges_move_as_in_a_batch():
    case = case_from_text(HOT)
    path = next(iter(case.ranges))
    changes = {path: 1.01 * values(case)[path]}
    assert LaneCheck(case).changed(changes).ranges == with_values(case, changes, move_ranges=True).ranges


def test_plain_numbers_cost_no_whole_check(monkeypatch):
    """The whole check is thirty times as long: only what the short one objects to, texts and lists take it."""
    case = case_from_text(HOT)
    admitted = LaneCheck(case)
    whole = []
    honest = lane_check.with_values
    monkeypatch.setattr(lane_check, "with_values", lambda *a, **k: whole.append(k.get("check", True)) or honest(*a, **k))
    admitted.changed({"spring.preload": 700.0, "solenoid.fill_orifice": 1.1e-3, "slots.row.lap": 1.1e-4})
    assert whole == [False]
    admitted.changed({"spring.preload": "700 N"})
    assert whole == [False, True]
