"""Words as outlines: measured letter by letter, all of a page drawn in one stroke.

    x, y -> +--------------------+  ascent
            | F a i l e d        |
            +--------------------+  baseline
            +--------------------+  descent      all in pixels of the picture, y up

matplotlib lays a text out and renders every letter of it anew each time it is measured or drawn, which takes longer than all the
curves of a page. Here each letter is read from the font once a size, with the hinting that matplotlib asks for, and the outlines of
all words are one collection of paths. Widths are sums of the font's advances and kernings, heights those of matplotlib's layout.

What must be shaped (right to left, combining marks) is not for this room: `plain` says so, and matplotlib's own text serves.
"""

import unicodedata
from collections.abc import Sequence
from functools import cache, lru_cache
from typing import Any, NamedTuple

import numpy as np

UNITS = 64.0
"""Units of the font's numbers in a pixel."""
HINTED_FINER = 8.0
"""Before version 3.11 matplotlib hints letters this many times finer across, and its advances are so stretched."""
TALL_AND_DEEP = "lp"
"""Every line is at least as high as these letters, as matplotlib has it."""


class Letter(NamedTuple):
    """One letter of one size."""

    place: int
    """in the font"""
    advance: float
    """px to the next"""
    points: np.ndarray
    """(n, 2) px from its place on the baseline"""
    codes: np.ndarray
    """(n,) what each point is, as in a path"""


class Line(NamedTuple):
    """A line of text, px."""

    width: float
    ascent: float
    """above the baseline"""
    descent: float
    """below it"""
    points: np.ndarray
    codes: np.ndarray


class Box(NamedTuple):
    """What stands behind a word."""

    pad: float
    """of the size of the font"""
    fill: str
    edge: str = "none"
    width: float = 0.0
    """pt. Of its edge"""
    circle: bool = False

    def patch(self) -> dict[str, Any]:
        """The same for matplotlib's own text."""
        shape = "circle" if self.circle else "square"
        return {"boxstyle": f"{shape},pad={self.pad}", "facecolor": self.fill, "edgecolor": self.edge, "linewidth": self.width}


class Word(NamedTuple):
    """A line of text at its place."""

    text: str
    points: np.ndarray
    codes: np.ndarray
    colour: str
    extent: tuple[float, float, float, float]
    """px: left, foot, right, head, without its box"""
    box: Box | None
    size: float
    """px. Of the font"""


@lru_cache(maxsize=4096)
def plain(text: str) -> bool:
    """Whether the letters stand side by side as they are written."""
    return text.isascii() or not any(
        unicodedata.bidirectional(c) in ("R", "AL", "AN") or unicodedata.category(c)[0] == "M" for c in text
    )


class Face(NamedTuple):
    """A font of one size. Our own: matplotlib turns those it shares."""

    font: Any
    hinting: Any
    kerning: Any
    """which kind of it"""
    units: float
    """units of an advance in a pixel"""


@cache
def _face(size: float, bold: bool, dpi: float) -> Face:
    """DejaVu Sans, which comes with matplotlib."""
    from matplotlib import __version_info__, ft2font
    from matplotlib.backends.backend_agg import get_hinting_flag
    from matplotlib.font_manager import FontProperties, findfont

    font = ft2font.FT2Font(findfont(FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")))
    font.set_size(size, dpi)
    hinting: Any = get_hinting_flag()  # type: ignore[no-untyped-call, unused-ignore]
    kernings = getattr(ft2font, "Kerning", None)
    stretched = HINTED_FINER if __version_info__[:2] < (3, 11) else 1.0
    return Face(font, hinting, 0 if kernings is None else kernings.DEFAULT, UNITS * stretched)


@cache
def _letter(letter: str, size: float, bold: bool, dpi: float) -> Letter:
    """A letter as the font has it."""
    face = _face(size, bold, dpi)
    glyph = face.font.load_char(ord(letter), flags=face.hinting)
    points, codes = face.font.get_path()
    return Letter(face.font.get_char_index(ord(letter)), glyph.horiAdvance / face.units, np.asarray(points), np.asarray(codes))


@cache
def _kerning(left: str, right: str, size: float, bold: bool, dpi: float) -> float:
    """px by which a letter stands farther from (negative: closer to) the one before it."""
    face = _face(size, bold, dpi)
    pair = _letter(left, size, bold, dpi).place, _letter(right, size, bold, dpi).place
    return float(face.font.get_kerning(*pair, face.kerning)) / UNITS


@lru_cache(maxsize=4096)
def width(text: str, size: float, bold: bool, dpi: float) -> float:
    """Width of a line of text, px. size: pt."""
    total = sum(_letter(letter, size, bold, dpi).advance for letter in text)
    return total + sum(_kerning(a, b, size, bold, dpi) for a, b in zip(text, text[1:]))


def line(text: str, size: float, bold: bool, dpi: float) -> Line:
    """A line of text from (0, 0) on. size: pt."""
    at, before = 0.0, ""
    places, letters = [], []
    for c in text:
        at += _kerning(before, c, size, bold, dpi) if before else 0.0
        letter = _letter(c, size, bold, dpi)
        places.append(at)
        letters.append(letter)
        at, before = at + letter.advance, c
    high, deep = _reach(letters)
    tallest, deepest = _reach([_letter(c, size, bold, dpi) for c in TALL_AND_DEEP])
    descent = max(deep, deepest)
    ascent = max(high + deep, tallest + deepest) - descent
    points = [letter.points + (place, 0.0) for place, letter in zip(places, letters) if len(letter.points)]
    codes = [letter.codes for letter in letters if len(letter.points)]
    if not points:
        return Line(at, ascent, descent, np.empty((0, 2)), np.empty(0, dtype=np.uint8))
    return Line(at, ascent, descent, np.concatenate(points), np.concatenate(codes))


def _reach(letters: Sequence[Letter]) -> tuple[float, float]:
    """(how far the letters reach above the baseline, below it), px."""
    inked = [letter.points[:, 1] for letter in letters if len(letter.points)]
    if not inked:
        return 0.0, 0.0
    return max(float(y.max()) for y in inked), -min(float(y.min()) for y in inked)


ACROSS = {"left": 0.0, "center": 0.5, "right": 1.0}
"""Share of the width that lies left of the given point."""


def word(
    text: str, x: float, y: float, size: float, dpi: float, *, ha: str = "left", va: str = "baseline", bold: bool = False,
    colour: str = "#000000", upwards: bool = False, box: Box | None = None,
) -> Word:  # fmt: skip
    """A line of text at (x, y), px from the lower left corner; ha, va: which point of it stands there, as in matplotlib.

    It begins at a whole pixel of the baseline, where the letters' hinting holds. upwards: read from below; point and alignment are
    turned with it.
    """
    one = line(text, size, bold, dpi)
    left = -ACROSS[ha] * one.width
    foot = {
        "baseline": 0.0,
        "top": -one.ascent,
        "bottom": one.descent,
        "center": 0.5 * (one.descent - one.ascent),
        "center_baseline": -0.5 * one.ascent,
    }[va]
    points = one.points
    corners = np.array([[left, foot - one.descent], [left + one.width, foot + one.ascent]])
    begin = np.array([left, foot])
    if upwards:
        turn = np.array([[0.0, 1.0], [-1.0, 0.0]])
        points, corners, begin = points @ turn, corners @ turn, begin @ turn
    at = np.round(begin + (x, y))
    corners = corners + (at - begin)
    (x0, y0), (x1, y1) = corners.min(axis=0), corners.max(axis=0)
    return Word(text, points + at, one.codes, colour, (float(x0), float(y0), float(x1), float(y1)), box, size * dpi / 72.0)


def _behind(one: Word, box: Box) -> Any:
    """The outline of what stands behind a word, px."""
    from matplotlib.path import Path

    x0, y0, x1, y1 = one.extent
    pad = box.pad * one.size
    if box.circle:
        return Path.circle((0.5 * (x0 + x1), 0.5 * (y0 + y1)), 0.5 * max(x1 - x0, y1 - y0) + pad)
    x0, y0, x1, y1 = x0 - pad, y0 - pad, x1 + pad, y1 + pad
    return Path([(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)], closed=True)


def drawn(words: Sequence[Word], transform: Any, zorder: float) -> Any:
    """All words, each over what stands behind it, as one collection. transform: from pixels to the figure's."""
    from matplotlib.collections import PathCollection
    from matplotlib.path import Path

    paths: list[Any] = []
    looks: list[tuple[str, str, float]] = []
    for one in words:
        if one.box is not None:
            paths.append(_behind(one, one.box))
            looks.append((one.box.fill, one.box.edge, one.box.width))
        if len(one.points):
            paths.append(Path(one.points, one.codes))
            looks.append((one.colour, "none", 0.0))
    fills, edges, widths = (list(column) for column in zip(*looks)) if looks else ([], [], [])
    collection = PathCollection(paths, facecolors=fills, edgecolors=edges, linewidths=widths, zorder=zorder)
    collection.set_transform(transform)
    collection.set_snap(False)
    return collection
