"""The half-section as a picture: to a scale of the list, no text over another or off the page, for any size of valve."""

import xml.etree.ElementTree as tree
from itertools import combinations
from pathlib import Path

import pytest
from sleevelift.case.read import load_case, with_values
from sleevelift.plots import section, section_sheet
from sleevelift.plots.section_sheet import SCALES, metric, scale_that_fits, scale_words

ROOT = Path(__file__).resolve().parents[2]
POWERS = {
    "tube.bore": 1, "lift_chamber.dead_volume": 3, "spring_side.volume": 3, "spring_side.vent_orifice": 1,
    "sleeve.post_diameter": 1,
    "sleeve.nose_diameter": 1, "sleeve.seat_diameter": 1, "sleeve.rod_diameter": 1, "sleeve.piston_diameter": 1, "sleeve.stroke": 1,
    "spring.wire_diameter": 1, "spring.mean_diameter": 1, "spring.free_length": 1, "spring.preload": 2, "seals.post.cord": 1,
    "seals.rod.cord": 1, "seals.piston.cord": 1, "slots.clearance": 1, "slots.row.0.height": 1, "slots.row.0.width": 1,
    "slots.row.0.lap": 1, "seat.land_width": 1, "seat.spigot_length": 1, "seat.spigot_clearance": 1, "seat.annulus_area": 2,
    "fuel.manifold_volume": 3,
}  # fmt: skip
"""Lengths of the hot case and the power of the scale that each goes with."""


def scaled(factor):
    """The hot case, larger or smaller in every length: thrust goes with the area, 2.5 kN to 50 N at 0.141, 50 kN at 4.47."""
    case = load_case(ROOT / "cases" / "hot_start.toml")
    changes = {}
    for path, power in POWERS.items():
        value = case
        for part in path.split("."):
            value = value[int(part)] if part.isdigit() else getattr(value, part)
        changes[path] = value * factor**power
    return with_values(case, changes)


CASES = {
    "hot": lambda: scaled(1.0),
    "50 N": lambda: scaled(0.141),
    "50 kN": lambda: scaled(4.47),
    "dry": lambda: load_case(ROOT / "cases" / "dry_bench.toml"),
    "wide nose": lambda: load_case(ROOT / "cases" / "nose_trap.toml"),
}


@pytest.fixture
def kept(monkeypatch):
    """Every sheet that is drawn."""
    sheets = []

    class Kept(section_sheet.Sheet):
        def __init__(self):
            super().__init__()
            sheets.append(self)

    monkeypatch.setattr(section, "Sheet", Kept)
    return sheets


@pytest.mark.parametrize("name", CASES)
def test_it_reads_whatever_the_size(name, kept, tmp_path):
    files = section.write_section(CASES[name](), tmp_path)
    assert [path.name for path in files] == ["section.png", "section.svg"] == sorted(p.name for p in tmp_path.iterdir())
    assert tree.parse(files[1]).getroot().tag.endswith("svg")
    sheet = kept[0]
    renderer = sheet.canvas.get_renderer()
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in sheet.axes.texts]
    page = sheet.figure.bbox
    for text, box in boxes:
        assert page.x0 <= box.x0 and box.x1 <= page.x1 and page.y0 <= box.y0 and box.y1 <= page.y1, f"{text!r} is cut off"
    over = [(a, b) for (a, one), (b, other) in combinations(boxes, 2) if one.padded(-1).overlaps(other.padded(-1))]
    assert not over
    words = " ".join(text for text, _ in boxes)
    for word in ("Scale", "Assumed, not given", "dimensions in mm", "stroke", "p_c", "p_i", "p_f", "p_l", "p_s", "spring"):
        assert word in words, word


def test_lengths_are_those_of_the_reader(kept, tmp_path):
    """A reader's own writing of numbers is used for every dimension."""

    def inches(value, unit):
        return (f"{value / 0.0254:.4g}", "in") if unit == "m" else metric(value, unit)

    section.write_section(CASES["hot"](), tmp_path, inches)
    words = [t.get_text() for t in kept[0].axes.texts]
    assert any("dimensions in inches." in text for text in words) and "stroke 0.07874" in words and "⌀1.15 piston" in words


def test_scales():
    """Recommended scales of ISO 5455, table 1: 50:1 to 1:1 and 1:2 to 1:10 000 in steps of 1, 2, 5 (here to 1:1000)."""
    listed = [50, 20, 10, 5, 2, 1, 1 / 2, 1 / 5, 1 / 10, 1 / 20, 1 / 50, 1 / 100, 1 / 200, 1 / 500, 1 / 1000]
    assert all(any(k == pytest.approx(one) for k in SCALES) for one in listed)
    assert scale_that_fits(0.1, 0.02, 205.0, 100.0) == 2.0 and scale_that_fits(0.1, 0.06, 500.0, 100.0) == 1.0
    assert [scale_words(k) for k in (2.0, 1.0, 0.4, 0.2)] == ["2:1", "1:1", "1:2.5", "1:5"]
