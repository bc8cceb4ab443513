"""The half-section in numbers: what is to scale is the case's own, parts do not cross, no plotting library is needed."""

import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from sleevelift.case.read import load_case, with_values
from sleevelift.physics.sleeve import axial_areas
from sleevelift.section import outlines
from sleevelift.section.coils import coil_centres, place_along
from sleevelift.section.stack import annulus_radius, stack_of

ROOT = Path(__file__).resolve().parents[2]
NAMES = sorted(path.stem for path in (ROOT / "cases").glob("*.toml"))


def case_of(name):
    return load_case(ROOT / "cases" / f"{name}.toml")


def radii_at(outline, z):
    """Radii at which an outline crosses a station (even-odd)."""
    out = []
    for (z1, r1), (z2, r2) in zip(outline, [*outline[1:], outline[0]]):
        if (z1 <= z < z2) or (z2 <= z < z1):
            out.append(r1 + (r2 - r1) * (z - z1) / (z2 - z1))
    return sorted(out)


def clears(stack, lift, slack):
    """Whether the sleeve stays inside the housing and outside the post at every station."""
    sleeve, housing = outlines.sleeve(stack, lift), outlines.housing(stack)
    for z in np.linspace(stack.z.tip, stack.z.end, 1501) + 1e-9:
        s, h = radii_at(sleeve, z), radii_at(housing, z)
        if s and h and s[-1] > h[0] + slack:
            return False
        if s and s[0] < stack.r.post - slack:
            return False
    return True


@pytest.mark.parametrize("name", NAMES)
def test_the_sleeve_crosses_neither_housing_nor_post_shut_or_open(name):
    stack = stack_of(case_of(name))
    for lift in (0.0, 0.5 * stack.stroke, stack.stroke):
        assert clears(stack, lift, 1e-9)
    assert not clears(stack, -0.2 * stack.stroke, 1e-9), "it would go through its seat: the test sees a crossing"


VARIANTS = [
    {"seat.edge": "sleeve"},
    {"seat.edge": "sleeve", "seat.spigot_length": 0.0, "seat.half_angle": 0.4},
    {"seat.half_angle": 1.3},
    {"seat.half_angle": 0.3},
    {"seat.annulus_area": 60e-6},
    {"sleeve.rod_diameter": 0.019},
    {"lift_chamber.dead_volume": 50e-6},
    {"sleeve.stroke": 0.004},
    {"seals.post.cord": 0.005, "seals.piston.cord": 0.005},
]


@pytest.mark.parametrize("changes", VARIANTS, ids=str)
def test_other_shapes_do_not_cross_either(changes):
    stack = stack_of(with_values(case_of("hot_start"), changes))
    for lift in (0.0, stack.stroke):
        assert clears(stack, lift, 1e-9)


def test_diameters_slots_and_volumes_are_the_case_s():
    case = case_of("hot_start")
    stack, s = stack_of(case), case.sleeve
    drawn = [2.0 * r for r in (stack.r.post, stack.r.nose, stack.r.seat, stack.r.rod, stack.r.piston)]
    assert drawn == pytest.approx([s.post_diameter, s.nose_diameter, s.seat_diameter, s.rod_diameter, s.piston_diameter])
    assert stack.windows == ((0.1e-3, pytest.approx(1.9e-3)),)
    area = axial_areas(*drawn).lift
    assert (stack.z.under - stack.z.chamber) * area == pytest.approx(case.lift_chamber.dead_volume)
    ring = math.pi * (stack.r.annulus**2 - stack.r.nose**2)
    assert ring == pytest.approx(case.seat.annulus_area) and annulus_radius(0.02, 0.0) == 0.01
    assert stack.z.seat - stack.z.spigot_end == pytest.approx(case.seat.spigot_length)
    assert stack.z.cap - stack.z.top == pytest.approx(case.spring.free_length - case.spring.preload / case.spring.rate)


def test_a_spring_leaves_the_spring_side_its_volume():
    """The hot case's own three numbers: room around the coils (two closed forms) against the stated 14 cm3, rounded to 0.5."""
    case = case_of("hot_start")
    stack = stack_of(case)
    c = stack.coils
    room = math.pi * (stack.r.piston**2 - stack.r.post**2) * (stack.z.cap - stack.z.top)
    wire = 0.25 * math.pi * c.wire**2 * math.pi * c.mean * c.total
    assert room - wire == pytest.approx(case.spring_side.volume, abs=0.5e-6)


def test_pushes_are_the_axial_areas():
    """Rings between the radii of the five surfaces have the areas of the force balance, and cancel."""
    case = case_of("nose_trap")
    s = case.sleeve
    areas = axial_areas(s.post_diameter, s.nose_diameter, s.seat_diameter, s.rod_diameter, s.piston_diameter)
    rows = outlines.pushes(stack_of(case))
    for push in rows:
        assert math.pi * (push.outer**2 - push.inner**2) == pytest.approx(getattr(areas, push.name))
    assert sum((1 if p.opens else -1) * (p.outer**2 - p.inner**2) for p in rows) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("length", [57.6e-3, 60e-3, 79.5e-3])
def test_coils_are_as_many_as_given_and_do_not_cross(length):
    """12 coils of 4.8 mm touch at 57.6 mm (EN 13906-1, ground ends: total coils x wire), and at no greater length cross."""
    wire, active, total = 4.8e-3, 10.0, 12.0
    shut, other = coil_centres(length, wire, active, total), coil_centres(length, wire, active, total, True)
    assert len(shut) == len(other) == 12
    assert min(np.diff(shut)) >= wire * (1 - 1e-9) and min(np.diff(other)) >= wire * (1 - 1e-9)
    assert place_along(0.0, length, wire, active, total) == 0.0
    assert place_along(total, length, wire, active, total) == pytest.approx(length)
    if length == 57.6e-3:
        assert np.diff(shut) == pytest.approx(np.full(11, wire))


def test_what_a_case_does_not_give_is_said():
    dry, hot = stack_of(case_of("dry_bench")), stack_of(case_of("hot_start"))
    assert any("seat and cone" in text for text in dry.assumed) and not any("seat and cone" in text for text in hot.assumed)
    assert dry.windows == () and any("groove" in text for text in hot.assumed)
    bare = with_values(case_of("dry_bench"), {"spring.wire_diameter": None, "spring.free_length": None, "spring.rate": 4e4})
    assert stack_of(bare).coils is None and "length of the spring" in stack_of(bare).assumed
    long = stack_of(with_values(case_of("hot_start"), {"lift_chamber.dead_volume": 50e-6}))
    assert any("shortened" in text for text in long.notes)
    wide = stack_of(with_values(case_of("hot_start"), {"seat.annulus_area": 60e-6}))
    assert any("undercut" in text for text in wide.notes)


def test_no_plotting_library_is_needed():
    code = "import sys; from sleevelift.section import outlines, stack, coils; print('matplotlib' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT / "sim")
    assert found.stdout.strip() == "False"
