"""Parts that would cross are named, one line each, from the case's own numbers; the shipped cases have none."""

import math
from pathlib import Path

import pytest
from sleevelift.case.check_geometry import chord
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text, load_case, with_values
from sleevelift.physics.slots import OBROUND, RECTANGULAR, ROUND, slot_area
from sleevelift.section.outlines import housing
from sleevelift.section.stack import stack_of

ROOT = Path(__file__).resolve().parents[2]
HOT = (ROOT / "cases" / "hot_start.toml").read_text(encoding="utf-8")
SECOND_ROW = """
[[slots.row]]
count = {count}
shape = "rectangular"
height = "1 mm"
width = "2.6 mm"
lap = "{lap} mm"
discharge_coefficient = 0.65

[seat]
"""


def changed(old: str, new: str) -> str:
    """The hot case with one text in place of another."""
    assert HOT.count(old) == 1, old
    return HOT.replace(old, new)


OLD_SEAL = 'pressure_coefficient = 0.03, cord = "1.78 mm" }    # spring'
NEW_SEAL = 'pressure_coefficient = 0.03, cord = "7 mm", groove_depth = "6.6 mm" }  # spring'
FAULTS = [
    # coils of 4.8 mm wire: 22.4 - 4.8 = 17.6 mm inside, 27.2 mm outside, between a post of 16 and a cylinder of 29.2 mm
    (changed('mean_diameter = "22.4 mm"', 'mean_diameter = "20.8 mm"'), "spring", "16 mm inside: they cut into the post (16 mm)"),
    (changed('mean_diameter = "22.4 mm"', 'mean_diameter = "24.4 mm"'), "spring", "29.2 mm outside: they cut into the cylinder"),
    (changed('mean_diameter = "22.4 mm"', 'mean_diameter = "28 mm"\ncup_diameter = "32.5 mm"'), "spring",
     "32.8 mm outside: they cut into the cup (32.5 mm)"),
    (changed(OLD_SEAL, NEW_SEAL), "post",
     "the groove, 6.6 mm deep from the post, must end within the sleeve, whose wall at the piston is 6.6 mm"),
    (changed("[seat]\n", SECOND_ROW.format(count=14, lap="0.5")), "row.1", "take 51 mm around a post of 50.2655 mm"),
    (changed('spigot_clearance = "7 um"', 'spigot_clearance = "0.75 mm"'), "spigot_clearance",
     "a spigot of 17.5 mm, narrower than the nose below it (17.6 mm)"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "place", "rule"), FAULTS)
def test_a_crossing_is_named(text, place, rule):
    with pytest.raises(CaseError) as told:
        case_from_text(text)
    lines = str(told.value).splitlines()
    mine = [line for line in lines if rule in line]
    assert len(mine) == 1 and place in mine[0], told.value


def test_rows_above_each_other_do_not_cross():
    """The same second row, clear of the first in height (0.1 to 1.9 mm), and a smaller one beside it."""
    text = changed("[seat]\n", SECOND_ROW.format(count=14, lap="1.95")).replace('stroke = "2.0 mm"', 'stroke = "3.0 mm"')
    assert len(case_from_text(text).slots.row) == 2
    assert len(case_from_text(changed("[seat]\n", SECOND_ROW.format(count=13, lap="0.5"))).slots.row) == 2


def test_the_piston_ring_must_end_within_the_flange():
    """Wall at the piston (29.2 - 16)/2 = 6.6 mm less the clearance of 0.005 mm."""
    old = 'cord = "1.78 mm" }  # the same'
    with pytest.raises(CaseError, match="seals.piston.*from the cylinder, must end within the sleeve.* 6.595 mm"):
        case_from_text(changed(old, 'cord = "7 mm", groove_depth = "6.6 mm" }'))
    assert case_from_text(changed(old, 'cord = "7 mm", groove_depth = "6.5 mm" }')).seals.piston.groove_depth == 6.5e-3


@pytest.mark.parametrize(
    "shape,height,width", [("rectangular", 2.0, 3.0), ("round", 2.0, 2.0), ("obround", 2.0, 3.0), ("obround", 3.0, 2.0)]
)
def test_width_of_a_slot_is_the_slope_of_its_area(shape, height, width):
    """Closed form: dA/ds of the uncovered area."""
    code = {"rectangular": RECTANGULAR, "round": ROUND, "obround": OBROUND}[shape]
    for at in (0.1, 0.6, 1.0, 1.5, height - 0.2):
        slope = (slot_area(code, height, width, at + 1e-6) - slot_area(code, height, width, at - 1e-6)) / 2e-6
        assert chord(shape, height, width, at) == pytest.approx(slope, rel=1e-4)
    assert chord(shape, height, width, -0.1) == chord(shape, height, width, height + 0.1) == 0.0
    assert math.isclose(chord(shape, height, width, 0.5 * height), width)


def test_no_shipped_case_has_parts_that_cross():
    for path in sorted((ROOT / "cases").glob("*.toml")):
        load_case(path)


def test_a_value_that_is_set_is_held_against_the_others_too():
    with pytest.raises(CaseError, match="cut into the post"):
        with_values(case_from_text(HOT), {"spring.mean_diameter": 0.0205}, check=True)


def test_a_wider_spring_stands_in_a_cup_of_its_own():
    """33.8 mm of coils in a cylinder of 29.2 mm are refused, in a cup of 36 mm not; the housing is drawn around it."""
    text = changed('mean_diameter = "22.4 mm"', 'mean_diameter = "28 mm"\ncup_diameter = "36 mm"')
    case = case_from_text(text.replace('free_length = "79.5 mm"', 'free_length = "110 mm"'))
    stack = stack_of(case)
    assert stack.r.spring == pytest.approx(18e-3) and stack.r.housing > stack.r.spring
    assert max(radius for _, radius in housing(stack)[:-2]) == pytest.approx(18e-3)
    assert any("plate" in note for note in stack.notes)
