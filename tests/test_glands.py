"""Glands of a case against their bounds: the three that must fail, the one that holds, and what is not given."""

from pathlib import Path

import pytest
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text
from sleevelift.checks import checks
from sleevelift.glands import gland_answers, gland_verdicts, material_warnings

TEXT = (Path(__file__).resolve().parents[1] / "cases" / "hot_start.toml").read_text()
PISTON = 'piston = { squeeze_friction = "70 N/m", pressure_coefficient = 0.03, cord = "1.78 mm" }'
POST = 'post = { squeeze_friction = "70 N/m", pressure_coefficient = 0.03, cord = "1.78 mm" }'
CORD = 2.62


def with_seal(line, keys, cord=CORD, more=""):
    """The hot case with one seal's table changed; `more`: a table after [seals]."""
    assert line in TEXT
    name = line.split(" ", 1)[0]
    new = f'{name} = {{ squeeze_friction = "70 N/m", pressure_coefficient = 0.03, cord = "{cord} mm", {keys} }}'
    return case_from_text(TEXT.replace(line, new).replace("[oxidizer] ", f"{more}\n[oxidizer] ", 1))


def piston(squeeze, width=3.6, **keys):
    """A ring of 2.62 mm cord in the piston's groove, its depth set for a squeeze of the unstretched cord."""
    floor = 29.2 - 2.0 * CORD * (1.0 - squeeze)
    more = "".join(f", {key} = {value}" for key, value in keys.items())
    return with_seal(PISTON, f'ring = "120", groove_diameter = "{floor:.5f} mm", groove_width = "{width} mm"{more}')


def verdict(case, name):
    return next(v for v in gland_verdicts(case) if v.name == name)


@pytest.mark.parametrize(
    "case, words",
    [
        (piston(0.07), "squeeze falls to"),
        (piston(0.50), "squeeze reaches"),
        (piston(0.195, width=2.62, duty='"static"'), "% of its gland"),
        (piston(0.15, extrusion_gap='"0.6 mm"', hardness="70"), "extrusion gap"),
        (piston(0.15, material='"FKM"', gland_temperature='"100 K"'), "glass"),
    ],
    ids=["7 % squeeze", "50 % squeeze", "97 % fill", "wide gap", "cold rubber"],
)
def test_a_gland_outside_its_bounds_fails_a_check(case, words):
    """Every bound crossed once, in the run's checks and in the static answer alike."""
    found = [check for check in checks({}, "opened-and-closed", case) if check.name == "gland_piston"]
    assert len(found) == 1 and not found[0].passed
    assert words in found[0].advice and "To change:" in found[0].advice


def test_the_nominal_fill_of_the_full_gland_is_97_per_cent():
    """Closed form: (pi/4) cord^2 over depth x width; size 120 (25.07 mm inside) is not stretched by a floor of 24.98 mm."""
    case = piston(0.195, width=2.62, duty='"static"')
    answer = next(a for a in gland_answers(case) if a.seal == "piston")
    expected = 3.14159265 / 4 * (0.103 * 25.4) ** 2 / (CORD * 0.805 * 2.62)  # cord 0.103 in
    assert answer.cold.fill.nominal == pytest.approx(expected, rel=1e-4)
    assert expected == pytest.approx(0.97, abs=0.005)
    assert not any("squeeze" in fault for fault in answer.faults)


def test_a_usual_gland_holds_and_says_what_it_did_not_look_at():
    said = verdict(piston(0.14), "gland_piston")
    assert said.passed is True and "inside its bounds" in said.advice
    assert "not looked at: material, extrusion gap" in said.advice


def test_a_seal_without_a_ring_is_not_said_to_hold():
    case = case_from_text(TEXT)
    assert [v.passed for v in gland_verdicts(case)] == [None] * 4
    assert all("no gland given" in v.advice for v in gland_verdicts(case))
    assert not any(check.name.startswith("gland") for check in checks({}, "opened-and-closed", case))


def test_rubber_beside_liquid_oxygen_is_warned_of_and_fails_in_the_cold():
    case = with_seal(POST, 'material = "NBR"', cord=1.78)
    assert any("post" in text and "burns in oxygen" in text for text in material_warnings(case))
    said = verdict(case, "gland_post")
    assert said.passed is False and "90 K" in said.advice


def test_plastic_beside_liquid_oxygen_is_warned_of_and_serves():
    case = with_seal(POST, 'material = "PTFE"', cord=1.78)
    assert any("after an ignition test" in text for text in material_warnings(case))
    assert verdict(case, "gland_post").passed is None


def test_a_face_seal_is_squeezed_by_its_depth_alone():
    """Closed form: squeeze 1 - depth/cord of an unstretched ring, size 124 (31.42 mm inside) in a groove 36.66 mm outside."""
    flange = '[seals.flange]\ncord = "2.62 mm"\nring = "124"\ngroove_diameter = "36.66 mm"\ngroove_width = "3.6 mm"\n'
    good = case_from_text(TEXT.replace("[oxidizer] ", flange + 'groove_depth = "2.0 mm"\n[oxidizer] ', 1))
    answer = next(a for a in gland_answers(good) if a.seal == "flange")
    assert answer.cold.squeeze.nominal == pytest.approx(1.0 - 2.0 / 2.616, abs=2e-3)  # cord 0.103 in
    assert verdict(good, "gland_flange").passed is True
    deep = case_from_text(TEXT.replace("[oxidizer] ", flange + 'groove_depth = "2.4 mm"\n[oxidizer] ', 1))
    assert verdict(deep, "gland_flange").passed is False


@pytest.mark.parametrize(
    "keys, words",
    [
        ('ring = "999", groove_width = "3.6 mm", groove_depth = "2.2 mm"', "no size code"),
        ('ring = "011", groove_width = "3.6 mm", groove_depth = "2.2 mm"', "cord of 1.78 mm"),
        ('ring = "120", groove_depth = "2.2 mm"', "groove_width"),
        ('ring = "120", groove_width = "3.6 mm"', "or groove_depth"),
        ('material = "RUBBER"', "must be one of NBR"),
        ('groove_depth = "2.2 mm", groove_diameter = "24.0 mm"', "give one of the two"),
        ('ring = "120", groove_width = "3.6 mm", groove_diameter = "28.9 mm"', "no gland"),
    ],
)
def test_half_a_gland_is_refused_with_its_rule(keys, words):
    with pytest.raises(CaseError) as refusal:
        with_seal(PISTON, keys)
    assert len(refusal.value.lines()) == 1 and words in str(refusal.value)
