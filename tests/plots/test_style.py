"""Placement, text and saving of a page."""

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sleevelift.plots import style


@given(st.lists(st.floats(0.0, 100.0), min_size=1, max_size=25))
def test_spread_marks_keep_order_distance_and_page(places):
    places = sorted(places)
    gap = min(4.6, 100.0 / max(len(places) - 1, 1))
    at = style.spread(places, 4.6, 0.0, 100.0)
    assert len(at) == len(places)
    assert all(b - a >= gap - 1e-9 for a, b in zip(at, at[1:]))
    assert at[0] >= -1e-9 and at[-1] <= 100.0 + 1e-9


def test_marks_that_have_room_stay_where_they_are():
    assert style.spread([10.0, 30.0, 50.0], 4.6, 0.0, 100.0) == pytest.approx([10.0, 30.0, 50.0])


def test_two_marks_at_one_place_part_evenly():
    assert style.spread([50.0, 50.0], 4.0, 0.0, 100.0) == pytest.approx([48.0, 52.0])


@given(st.floats(-1e9, 1e9), st.floats(0.0, 1e9))
def test_an_axis_has_width_and_holds_its_values(low, reach):
    a, b = style.padded(low, low + reach)
    assert a < b and a <= low and b >= low + reach


def test_a_page_is_a4_and_no_text_is_below_8_points(tmp_path):
    page = style.Page()
    page.save(tmp_path / "empty.png")
    header = (tmp_path / "empty.png").read_bytes()[:24]
    assert header[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(header[16:20], "big") == round(210 / 25.4 * 150)
    assert int.from_bytes(header[20:24], "big") == round(297 / 25.4 * 150)
    assert min(style.SMALL, style.NORMAL, style.LARGE, style.TITLE) >= 8.0


def test_a_failed_save_leaves_the_old_picture_and_nothing_else(tmp_path, monkeypatch):
    target = tmp_path / "start.png"
    target.write_bytes(b"old")
    page = style.Page()
    monkeypatch.setattr(page.figure, "savefig", lambda *a, **k: (_ for _ in ()).throw(OSError("disk full")))
    with pytest.raises(OSError, match="disk full"):
        page.save(target)
    assert target.read_bytes() == b"old" and list(tmp_path.iterdir()) == [target]


def test_text_breaks_within_its_column():
    page = style.Page()
    lines = page.lines_of("a sentence of several words and one" + "W" * 200, 50.0, 8.5, most=50)
    assert len(lines) > 3 and all(page.width_of(line, 8.5) <= 50.0 for line in lines)


def test_unknown_characters_become_boxes():
    assert style.drawable("a\U0001f680b") == "a\u25a1b"


def test_matplotlib_settings_are_left_as_they_were():
    import matplotlib

    before = dict(matplotlib.rcParams)
    with style.look():
        assert matplotlib.rcParams["font.size"] == style.NORMAL
    assert dict(matplotlib.rcParams) == before


def test_naming_the_pictures_does_not_import_matplotlib():
    code = "import sys, sleevelift.plots; sys.exit('matplotlib' in sys.modules or 'numba' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def _luminance(colour):
    """Relative luminance of an sRGB colour (WCAG 2.1, definition of relative luminance)."""
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("name", "OXIDIZER FUEL LIFT_GAS TUBE SUPPLY SPRING_SIDE CHAMBER MIXTURE ALARM GOOD INK".split())
def test_every_line_stands_out_from_paper(name):
    """At least 3:1 against white (WCAG 2.1, 1.4.11 graphical objects)."""
    assert 1.05 / (_luminance(getattr(style, name)) + 0.05) >= 3.0
