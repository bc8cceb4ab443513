"""The look of the pictures: an A4 page ruled in millimetres, palette, text, legends, saving.

    0,0 ------ 210 mm          places are (left, top) in mm from the upper left corner, as on paper
     |
    297 mm

The palette keeps apart for red-green and blue-yellow blindness by lightness as well as hue, and no meaning rests on
colour alone: lines differ in their dashes, areas in their hatching. Text is drawn as it is, never read as mathematics.
"""

import os
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from sleevelift.plots import lettering
from sleevelift.plots.words import plain_text

WIDTH, HEIGHT = 210.0, 297.0
"""mm. A4."""
DPI = 150
MM_PER_INCH = 25.4
PNG = {"compress_level": 3}
"""How hard a picture is packed: level 6 takes twice as long for a tenth less."""
SMALL, NORMAL, LARGE, TITLE = 8.0, 8.5, 10.5, 14.0
"""pt. Nothing is smaller than 8."""
LINE = 4.1
"""mm. Height of a line of normal text."""

INK, FAINT, GRID = "#1d2330", "#5d6572", "#dde1e7"
OXIDIZER, FUEL = "#1568b3", "#b4540a"
LIFT_GAS, TUBE, SUPPLY, SPRING_SIDE = "#5b2a86", "#1f9183", "#7b828c", "#8b8a12"
CHAMBER, MIXTURE, ALARM, GOOD = "#a3123a", "#30363f", "#b3261e", "#1b6b4a"
MOVING, STUCK, STOP = "#f6e3a1", "#dccbe6", "#cfe3ef"

DASHED, DOTTED, DASH_DOT = (0, (5, 2)), (0, (1.2, 1.6)), (0, (6, 2, 1.2, 2))
"""Line styles, in units of the line's width."""

INVENTED_BADGE = lettering.Box(0.35, "#ffffff", ALARM, 1.2)
"""Behind the label of an invented case."""
WORDS_LEVEL = 3.5
"""Level of the words of a page: above frames, ticks and what axes hold."""

LOOK: dict[str, Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": NORMAL,
    "text.usetex": False,
    "text.parse_math": False,
    "axes.unicode_minus": True,
    "axes.formatter.useoffset": False,
    "axes.edgecolor": FAINT,
    "axes.linewidth": 0.7,
    "axes.labelcolor": INK,
    "axes.labelsize": NORMAL,
    "axes.labelpad": 3.0,
    "axes.grid": False,
    "axes.axisbelow": True,
    "grid.color": GRID,
    "grid.linewidth": 0.6,
    "text.color": INK,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "xtick.color": FAINT,
    "ytick.color": FAINT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.major.size": 2.5,
    "ytick.major.size": 2.5,
    "hatch.linewidth": 0.35,
    "lines.linewidth": 1.3,
    "path.simplify_threshold": 0.05,
    "figure.facecolor": "#ffffff",
    "axes.facecolor": "#ffffff",
    "savefig.facecolor": "#ffffff",
}
"""matplotlib's settings, whatever the user's own file says."""


@contextmanager
def look() -> Iterator[None]:
    """Draw with this look, and leave matplotlib's settings as they were."""
    import matplotlib

    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        settings: Any = matplotlib.rcParams
        settings.update(LOOK)
        yield


def drawable(text: str) -> str:
    """`text` with a box for each character that the font lacks."""
    known = _characters()
    return "".join(c if ord(c) in known else "\u25a1" for c in plain_text(text))


@cache
def _characters() -> frozenset[int]:
    """What the font has."""
    from matplotlib.font_manager import findfont, get_font

    return frozenset(get_font(findfont(face(NORMAL))).get_charmap())


@cache
def face(size: float, bold: bool = False) -> Any:
    """The font of all texts, for measuring."""
    from matplotlib.font_manager import FontProperties

    return FontProperties(family="DejaVu Sans", size=size, weight="bold" if bold else "normal")


def width_of(canvas: Any, text: str, size: float, bold: bool = False) -> float:
    """Width of a line of text on a canvas, mm."""
    if lettering.plain(text):
        return lettering.width(text, size, bold, DPI) / DPI * MM_PER_INCH
    size_of = canvas.get_renderer().get_text_width_height_descent
    return float(size_of(text, face(size, bold), False)[0]) / DPI * MM_PER_INCH


def pixels_of(figure: Any) -> Any:
    """From pixels of the picture to those of whatever the figure is drawn as."""
    from matplotlib.transforms import Affine2D

    return Affine2D().scale(1.0 / DPI) + figure.dpi_scale_trans


class Page:
    """One A4 page."""

    def __init__(self) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        size = (round(WIDTH / MM_PER_INCH * DPI) / DPI, round(HEIGHT / MM_PER_INCH * DPI) / DPI)
        self.pixels = round(size[1] * DPI)
        """of the height"""
        self.figure = Figure(figsize=size, dpi=DPI)
        self.canvas: Any = FigureCanvasAgg(self.figure)
        self.strokes: list[list[tuple[float, float]]] = []
        """frames and ticks, each a line through points, mm"""
        self.words: list[lettering.Word] = []

    def place(self, left: float, top: float) -> tuple[float, float]:
        """A point, mm, as shares of the figure from its lower left corner."""
        return left / WIDTH, 1.0 - top / HEIGHT

    def axes(self, left: float, top: float, width: float, height: float, *, grid: bool = True, **kw: Any) -> Any:
        """Axes in a rectangle, mm."""
        place = (left / WIDTH, 1.0 - (top + height) / HEIGHT, width / WIDTH, height / HEIGHT)
        axes = self.figure.add_axes(place, **kw)
        if grid:
            axes.grid(True)
        return axes

    def text(
        self, left: float, top: float, text: str, size: float = NORMAL, *, ha: str = "left", va: str = "top", color: str = INK,
        weight: str = "normal", upwards: bool = False, box: lettering.Box | None = None,
    ) -> None:  # fmt: skip
        """Text whose upper left corner (or what `ha`, `va` say) is at (left, top), mm; upwards: read from below."""
        text, bold = drawable(text), weight == "bold"
        if not lettering.plain(text):
            turned: dict[str, Any] = {"rotation": 90.0 if upwards else 0.0, "rotation_mode": "anchor"}
            look = turned | {"color": color, "weight": weight, "bbox": None if box is None else box.patch(), "parse_math": False}
            self.figure.text(*self.place(left, top), text, ha=ha, va=va, fontsize=size, zorder=WORDS_LEVEL, **look)
            return
        x, y = left / MM_PER_INCH * DPI, self.pixels - top / MM_PER_INCH * DPI
        self.words.append(lettering.word(text, x, y, size, DPI, ha=ha, va=va, bold=bold, colour=color, upwards=upwards, box=box))

    def width_of(self, text: str, size: float, bold: bool = False) -> float:
        """Width of a line of text, mm."""
        return width_of(self.canvas, text, size, bold)

    def lines_of(self, text: str, width: float, size: float, bold: bool = False, most: int = 4) -> list[str]:
        """`text` broken to `width` mm, at most so many lines."""
        lines: list[str] = []
        for word in drawable(text).split():
            if lines and self.width_of(f"{lines[-1]} {word}", size, bold) <= width:
                lines[-1] += f" {word}"
            else:
                lines += self._pieces(word, width, size, bold)
        if len(lines) > most:
            lines = lines[:most]
            lines[-1] = lines[-1][:-3] + "..."
        return lines

    def _pieces(self, word: str, width: float, size: float, bold: bool) -> list[str]:
        """A word, cut where it is wider than the column."""
        pieces = [""]
        for c in word:
            if pieces[-1] and self.width_of(pieces[-1] + c, size, bold) > width:
                pieces.append("")
            pieces[-1] += c
        return pieces

    def paragraph(self, left: float, top: float, width: float, text: str, size: float = NORMAL, **kw: Any) -> float:
        """Broken text; returns the top of what follows, mm."""
        most = kw.pop("most", 4)
        for line in self.lines_of(text, width, size, kw.get("weight") == "bold", most):
            self.text(left, top, line, size, **kw)
            top += LINE * size / NORMAL
        return top

    def _draw_strokes(self) -> None:
        """Draw frames, ticks and words that have been collected, once."""
        from matplotlib.collections import LineCollection

        lines = [[self.place(*point) for point in stroke] for stroke in self.strokes]
        self.strokes = []
        look: dict[str, Any] = {"colors": FAINT, "linewidths": 0.7, "transform": self.figure.transFigure}
        self.figure.add_artist(LineCollection(lines, **look))
        self.figure.add_artist(lettering.drawn(self.words, pixels_of(self.figure), WORDS_LEVEL))

    def save(self, path: Path) -> Path:
        """Write the page as PNG: a temporary file beside it, then moved over."""
        self._draw_strokes()
        handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=".png", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as out:
                self.figure.savefig(out, format="png", dpi=DPI, metadata={"Software": None}, pil_kwargs=PNG)
            os.chmod(name, 0o644)
            os.replace(name, path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
        return path


def legend_above(axes: Any, handles: Sequence[Any], columns: int | None = None) -> None:
    """Legend on one row above the right end of the axes, clear of the curves."""
    axes.legend(
        handles=handles,
        loc="lower right",
        bbox_to_anchor=(1.0, 1.0),
        ncol=columns or max(len(handles), 1),
        frameon=False,
        fontsize=SMALL,
        handlelength=2.2,
        columnspacing=1.0,
        handletextpad=0.5,
        borderaxespad=0.15,
        borderpad=0.0,
    )


def panel_title(axes: Any, text: str) -> None:
    """Bold title above the left end of the axes."""
    axes.set_title(text, loc="left", fontsize=NORMAL, fontweight="bold", pad=2.5, parse_math=False)


LEAST_SPAN = 0.02
"""-. An axis spans at least this share of its values, so that a constant is drawn as one."""

NOTHING = 1e-30
"""Values smaller than this, whatever their unit, are drawn as zero on an axis from 0 to 1."""


def padded(low: float, high: float, share: float = 0.07) -> tuple[float, float]:
    """Limits of an axis around (low, high), never of no width.

    >>> padded(0.0, 100.0, 0.1), padded(0.0, 0.0, 0.1)
    ((-10.0, 110.0), (-0.1, 1.1))
    """
    size = max(abs(low), abs(high))
    if size < NOTHING:
        low, high, size = 0.0, 1.0, 1.0
    least = LEAST_SPAN * size
    if high - low < least:
        middle = 0.5 * (low + high)
        low, high = middle - 0.5 * least, middle + 0.5 * least
    return low - share * (high - low), high + share * (high - low)


def spread(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """`places` (ascending) moved as little as need be so that neighbours are `gap` apart within low..high.

    Blocks of touching marks stand around the mean of what they want, as in isotonic regression.
    """
    room = (high - low) / max(len(places) - 1, 1)
    gap = min(gap, room)
    blocks: list[list[float]] = []
    for i, place in enumerate(places):
        blocks.append([place - i * gap, 1.0])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            wanted, weight = blocks.pop()
            blocks[-1][0] = (blocks[-1][0] * blocks[-1][1] + wanted * weight) / (blocks[-1][1] + weight)
            blocks[-1][1] += weight
    base = [wanted for wanted, weight in blocks for _ in range(int(weight))]
    top = high - (len(places) - 1) * gap
    return [min(max(b, low), top) + i * gap for i, b in enumerate(base)]
