"""Barriers between fluids: counted by hand on the sketch of the machine (closed form)."""

from pathlib import Path

import pytest
from sleevelift import load_case
from sleevelift.barriers import CHAMBER, SPRING, barriers, escapes, joining, meetings, vents, warning
from sleevelift.case.read import case_from_text
from sleevelift.report.integrity import NOT_GIVEN, barrier_sheets

CASES = Path(__file__).resolve().parents[1] / "cases"


@pytest.fixture(scope="module")
def hot():
    return load_case(CASES / "hot_start.toml")


def find(found, fluids, place):
    return next(m for m in found if set(m.fluids) == set(fluids) and m.place == place)


def test_three_seals_part_the_propellants_in_the_spring_side(hot):
    """Fuel passes rod and piston seal, oxidizer the post seal; the spring side's vent takes both away."""
    meeting = find(meetings(hot), ("fuel", "oxidizer"), SPRING)
    assert set(meeting.seals) == {"rod seal", "piston seal", "post seal"} and not meeting.joined_by_two
    assert "vent of the spring side" in meeting.vents


def test_the_slots_are_no_seal(hot):
    """One failed fuel seat puts fuel beside the oxidizer that the lapped slots always let into the chamber."""
    meeting = find(meetings(hot), ("fuel", "oxidizer"), CHAMBER)
    assert meeting.seals == ("fuel seat",) and meeting.joined_by_two
    assert meeting in joining(hot)
    assert "fuel seat" in warning(hot) and "combustion chamber" in warning(hot)


def test_without_a_vent_it_is_not_named(hot):
    side = hot.spring_side.model_copy(update={"vent_orifice": 0.0, "vent_component": None})
    blocked = hot.model_copy(update={"spring_side": side})
    assert not any(m.place == "lift chamber" and set(m.fluids) == {"fuel", "oxidizer"} for m in meetings(hot))
    through = find(meetings(blocked), ("fuel", "oxidizer"), "lift chamber")  # oxidizer goes on where it cannot leave
    assert set(through.seals) == {"rod seal", "piston seal", "post seal"}
    assert all("vent of the spring side" not in m.vents for m in meetings(blocked))


def test_gas_leaves_by_the_piston_seal_or_the_flange(hot):
    ways = {escape.fluid: escape.seals for escape in escapes(hot)}
    assert len(ways["actuation gas"]) == 1 and len(ways["fuel"]) == 1
    assert ways["oxidizer"] == ()  # through the lapped slots and the nozzle


def test_a_dry_case_has_no_propellants_to_join():
    dry = load_case(CASES / "dry_bench.toml")
    assert joining(dry) == [] and warning(dry) is None
    assert [m.fluids for m in meetings(dry)] == []


def test_where_a_vent_ends_is_shown_as_the_case_says_it():
    """Free text of the case; a vent whose end is not given says so and is never left out."""
    text = (CASES / "hot_start.toml").read_text()
    said = case_from_text(text.replace("[spring_side]\n", '[spring_side]\nvent_to = "roof, apart from the fuel\'s"\n'))
    ends = {vent.name: vent.ends for vent in vents(said)}
    assert ends["vent of the spring side"] == "roof, apart from the fuel's"
    assert ends["exhaust port of the solenoid valve"] is None
    last = barrier_sheets(barriers(said))[-1]
    shown = {row[0]: row[-1] for row in last.rows}
    assert shown["vent of the spring side"].startswith("roof") and shown["exhaust port of the solenoid valve"] == NOT_GIVEN


def test_every_meeting_is_shown_with_its_seals(hot):
    found = barriers(hot)
    first = barrier_sheets(found)[0]
    assert len(first.rows) == len(found.meetings)
    assert [int(row[2]) for row in first.rows] == [len(m.seals) for m in found.meetings]


@pytest.mark.parametrize(
    ("name", "has"),
    [
        ("hot_start", "none."),
        ("empty_manifold", "the fuel's run valve."),
        ("purged_stop", "the oxidizer's run valve, the oxidizer's purge, the fuel's run valve, the fuel's purge."),
    ],
)
def test_what_must_part_them_besides_is_not_said_to_be_there(name, has):
    assert warning(load_case(CASES / f"{name}.toml")).endswith(f"Of these the case has {has}")
