"""The seat of a case against its metal and its limits: by hand, and each limit crossed once."""

import math
from pathlib import Path

import pytest
from sleevelift.case.read import case_from_text
from sleevelift.checks import checks
from sleevelift.constants import STANDARD_GRAVITY
from sleevelift.seat_verdicts import seat_verdicts

TEXT = (Path(__file__).resolve().parents[1] / "cases" / "hot_start.toml").read_text()
LOAD, SPEED = 5083.7, 0.48
"""N/m and m/s: some load of the shut seat and some closing speed."""


def hot(seat="", limits=""):
    text = TEXT.replace("[seat]\n", f"[seat]\n{seat}\n", 1).replace("[limits]\n", f"[limits]\n{limits}\n", 1)
    return case_from_text(text)


def row(case, name, load=LOAD, speed=SPEED):
    return next(v for v in seat_verdicts(case, load, speed, ran=True) if v.name == name)


def made(case, name):
    found = {"sealing_load": LOAD, "seat_impact_speed": SPEED, "steps": 1.0}
    return next(check for check in checks(found, "opened-and-closed", case) if check.name == name)


def test_the_land_is_judged_under_the_whole_spring():
    """By hand: (770 N + weight of 165 g and a third of 66 g)/(pi 19 mm 0.2 mm sin 45 deg) = 91.4 MPa."""
    force = 770.0 + (0.165 + 0.066 / 3.0) * STANDARD_GRAVITY
    stress = force / (math.pi * 19e-3 * 0.2e-3 * math.sin(math.radians(45.0)))
    assert stress == pytest.approx(91.4e6, rel=1e-3)
    for strength, holds in (("100 MPa", True), ("90 MPa", False)):
        found = row(hot(f'yield_stress = "{strength}"'), "seat_land_stress")
        assert found.value == pytest.approx(stress, rel=1e-9) and found.passed is holds
        assert made(hot(f'yield_stress = "{strength}"'), "seat_land_stress").passed is holds


def test_without_a_strength_nothing_is_said_to_hold():
    found = row(hot(), "seat_land_stress")
    assert found.passed is None and "yield_stress" in found.advice
    assert not any(check.name.startswith("seat_land") for check in checks({}, "opened-and-closed", hot()))


@pytest.mark.parametrize("load, word", [(4000.0, "below"), (20000.0, "inside"), (60000.0, "above")])
def test_the_load_stands_beside_its_band_and_is_not_judged_by_it(load, word):
    found = row(hot(), "seat_load", load=load)
    assert word in found.advice and "no source" in found.advice and found.passed is None


def test_a_nose_of_another_angle_moves_the_line_and_the_fuels_push():
    """By hand: 46 on 45 deg, land 0.2 mm: line at 19.141 mm, gap 3.49 um, area -4.24 mm2, at 27 bar above ambient -11.4 N."""
    found = row(hot('nose_half_angle = "46 deg"'), "seat_angles")
    area = 0.25 * math.pi * (19.0**2 - 19.14142**2)
    assert found.value == pytest.approx(3.49e-6, rel=1e-3)
    assert f"{area * 1e-6 * (28.0e5 - 101325.0):+.1f} N" in found.advice and "outer" in found.advice
    assert "not known" in row(hot(), "seat_angles").advice


def test_preload_for_sealing_is_what_leaves_the_wanted_load():
    """Closed form: more load wanted by dq takes dq pi d more preload."""
    asked = hot(limits='sealing_load_at_least = "8 N/mm"')
    found = row(asked, "sealing_preload")
    assert found.value == pytest.approx(770.0 + (8000.0 - LOAD) * math.pi * 19e-3)
    assert found.passed is False and "To change" in found.advice
    assert row(hot(), "sealing_preload").passed is None


def test_energy_of_a_closing_against_its_limit():
    """187 g at 0.48 m/s: 21.5 mJ."""
    energy = 0.5 * 0.187 * SPEED**2
    for limit, holds in (("30 mJ", True), ("20 mJ", False)):
        check = made(hot(limits=f'seat_impact_energy_at_most = "{limit}"'), "seat_impact_energy")
        assert check.value == pytest.approx(energy, rel=1e-9) and check.passed is holds
    never = row(hot(limits='seat_impact_energy_at_most = "30 mJ"'), "seat_impact_energy", speed=None)
    assert never.passed is False and "not known" in never.advice


def test_a_bare_edge_is_judged_and_an_edge_behind_a_land_is_not():
    """An edge of 0.1 mm reaches about 2.5 GPa: more than any spring steel's 1.67 x yield stress."""
    edge = hot('yield_stress = "500 MPa"')
    edge = edge.model_copy(update={"seat": edge.seat.model_copy(update={"edge_radius": 1e-4})})
    assert row(edge, "seat_contact_stress").passed is None and row(edge, "seat_land_stress").passed is True
    bare = edge.model_copy(update={"seat": edge.seat.model_copy(update={"land_width": None})})
    assert row(bare, "seat_contact_stress").passed is False
