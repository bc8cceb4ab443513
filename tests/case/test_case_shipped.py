"""The shipped cases: they load, say that they are invented, and explain every number."""

from pathlib import Path

import pytest
from case_texts import CASES
from sleevelift.case.read import load_case

STORIES = {
    "dry_bench": "dry",
    "dry_interlock": "dry",
    "cold_flow": "cold-flow",
    "hot_start": "hot",
    "helium_lift": "hot",
    "bottle_blowdown": "dry",
    "weak_battery": "dry",
    "fuel_lost": "hot",
    "nose_trap": "hot",
    "priming_surge": "cold-flow",
    "bare_cone": "hot",
    "late_igniter": "hot",
    "hammer": "cold-flow",
    "sequenced_start": "hot",
    "fuel_rich_stop": "hot",
    "stuck_feed_valve": "hot",
    "purged_stop": "hot",
    "valve_lead": "hot",
    "empty_manifold": "hot",
}


def test_the_stories_are_all_there() -> None:
    assert {path.stem for path in CASES.glob("*.toml")} == set(STORIES)


@pytest.mark.parametrize("name", STORIES)
def test_loads_and_is_labelled_invented(name: str) -> None:
    case = load_case(CASES / f"{name}.toml")
    assert case.case.kind == STORIES[name]
    assert case.case.invented
    assert "invented" in case.case.title
    assert "INVENTED" in (CASES / f"{name}.toml").read_text(encoding="utf-8")
    assert case.case.note


@pytest.mark.parametrize("path", sorted(CASES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_number_has_a_comment(path: Path) -> None:
    """Single-line keys with a number carry a comment; columns of a table have one above."""
    inside_list, heading_comment = False, False
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.endswith("["):
            inside_list = True
        elif line == "]":
            inside_list = False
        elif line.startswith("["):
            heading_comment = "#" in line
        elif "=" in line and not line.startswith("#") and not inside_list and line.split("=")[0].strip() != "title":
            numbers = any(letter.isdigit() for letter in line.split("=", 1)[1])
            assert "#" in line or heading_comment or not numbers, line


@pytest.mark.parametrize("name", [name for name, kind in STORIES.items() if kind == "hot"])
def test_hot_cases_reach_from_0_3_to_20(name: str) -> None:
    """The table of c* and g spans what a start passes through, and the ranges of the margins are there."""
    case = load_case(CASES / f"{name}.toml")
    assert case.chamber is not None
    assert case.chamber.o_f[0] <= 0.3 and case.chamber.o_f[-1] >= 20.0
    assert len(case.chamber.g) == len(case.chamber.o_f)
    assert "seals.friction_factor" in case.ranges and "supply.pressure" in case.ranges
