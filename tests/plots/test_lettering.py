"""Words drawn as outlines against matplotlib's own text, which lays out and renders each text by itself."""

from itertools import product

import matplotlib
import numpy as np
import pytest
from sleevelift.plots import lettering, style

KERNED = "AVAT To. Yp (x) [bar]"
TEXTS = ("Opens in 62.989 ms: electrical 10.292 + fill 43.005", "-0.25", KERNED, "gjpqy|", "Ünité °C µm ⌀29.2 ≤ Δp", "l")
SIZES = (style.SMALL, style.NORMAL, style.LARGE, style.TITLE)
OVERHANG = 0.6
"""em. matplotlib's width is that of the ink, ours that of the advances: the first and last letter leave white."""
ROUNDED = 1.0
"""px. Kernings of a line are whole pixels here, so that hinting holds; matplotlib's are not."""


def canvas():
    page = style.Page()
    return page, page.canvas.get_renderer()


@pytest.mark.parametrize(("size", "bold"), list(product(SIZES, (False, True))))
def test_width_and_height_are_those_of_matplotlib(size, bold):
    with style.look():
        _, renderer = canvas()
        for text in TEXTS:
            width, height, descent = renderer.get_text_width_height_descent(text, style.face(size, bold), False)
            line = lettering.line(text, size, bold, style.DPI)
            em = size * style.DPI / 72.0
            assert width - ROUNDED <= lettering.width(text, size, bold, style.DPI) <= width + OVERHANG * em, text
            assert line.width == pytest.approx(lettering.width(text, size, bold, style.DPI))
            assert line.ascent >= height - descent - 0.1 and line.descent >= descent - 0.1, text


@pytest.mark.parametrize("upwards", [False, True])
@pytest.mark.parametrize("va", ["baseline", "top", "bottom", "center", "center_baseline"])
@pytest.mark.parametrize("ha", ["left", "center", "right"])
def test_a_word_stands_where_matplotlib_puts_it(ha, va, upwards):
    x, y = 400.0, 700.0
    with style.look():
        page, renderer = canvas()
        width, height = page.figure.bbox.width, page.figure.bbox.height
        for text in TEXTS[:3]:
            look = {"ha": ha, "va": va, "rotation": 90.0 if upwards else 0.0, "rotation_mode": "anchor"}
            theirs = page.figure.text(x / width, y / height, text, fontsize=style.NORMAL, **look).get_window_extent(renderer)
            ours = lettering.word(text, x, y, style.NORMAL, style.DPI, ha=ha, va=va, upwards=upwards).extent
            assert ours == pytest.approx((theirs.x0, theirs.y0, theirs.x1, theirs.y1), abs=4.5), text


def ink(page, tmp_path, name):
    """Darkness of each pixel, 0 to 1."""
    from PIL import Image

    with Image.open(page.save(tmp_path / name)) as image:
        return 1.0 - np.asarray(image.convert("L"), dtype=float) / 255.0


def near(dark):
    """Where there is ink within a pixel."""
    out = dark.copy()
    for axis, step in product((0, 1), (-1, 1)):
        out |= np.roll(dark, step, axis)
    return out


@pytest.mark.parametrize("upwards", [False, True])
def test_letters_look_as_matplotlib_draws_them(upwards, tmp_path):
    if upwards and matplotlib.__version_info__[:2] < (3, 11):
        pytest.skip("before 3.11 matplotlib turned the picture of a text, not its letters")
    with style.look():
        ours, theirs = style.Page(), style.Page()
        for row, (text, size) in enumerate(product([text for text in TEXTS if text != KERNED], SIZES)):
            place = (20.0 + 7.0 * row, 200.0) if upwards else (20.0, 20.0 + 7.0 * row)
            ours.text(*place, text, size, upwards=upwards, va="baseline")
            look = {"rotation": 90.0 if upwards else 0.0, "rotation_mode": "anchor", "va": "baseline", "color": style.INK}
            theirs.figure.text(*theirs.place(*place), text, fontsize=size, **look)
        a, b = ink(ours, tmp_path, "a.png"), ink(theirs, tmp_path, "b.png")
    assert a.sum() == pytest.approx(b.sum(), rel=0.02)
    for one, other in ((a, b), (b, a)):
        dark = one > 0.6
        assert dark.sum() > 5000 and (dark & ~near(other > 0.2)).sum() < 0.01 * dark.sum()


@pytest.mark.parametrize("text", ["\u05e9\u05dc\u05d5\u05dd", "\u0645\u0631\u062d\u0628\u0627", "e\u0301"])
def test_what_must_be_shaped_is_left_to_matplotlib(text):
    assert not lettering.plain(f"case {text}")
    with style.look():
        page = style.Page()
        page.text(20.0, 20.0, f"case {text}")
        assert page.width_of(f"case {text}", style.NORMAL) > page.width_of("case", style.NORMAL)
    assert not page.words and len(page.figure.texts) == 1


def test_plain_text():
    assert all(lettering.plain(text) for text in TEXTS)


def test_bare_axes_place_curves_where_axes_do():
    """The same points, limits and autoscaled limits as matplotlib's axes; no ticks are made for it."""
    from sleevelift.plots import ruled

    with style.look():
        page = style.Page()
        bare, whole = ruled.panel(page, 20.0, 30.0, 100.0, 50.0).axes, page.axes(20.0, 30.0, 100.0, 50.0)
        for axes in (bare, whole):
            axes.set_xlim(0.0, 3.0)
            axes.plot([0.0, 1.0, 4.0], [2.0, -1.0, 7.0])
        assert bare.get_ylim() == whole.get_ylim() and bare.get_xlim() == whole.get_xlim()
        points = [(0.5, 1.0), (2.5, 3.0)]
        assert bare.transData.transform(points) == pytest.approx(whole.transData.transform(points))
        assert "majorTicks" not in vars(bare.xaxis) and "minorTicks" not in vars(bare.yaxis)
