"""The sheet of the half-section: A4 across, places in mm from the lower left corner; text, saving, labels kept apart."""

import os
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from sleevelift.case.schema import Case
from sleevelift.plots import lettering
from sleevelift.plots.lettering import Box
from sleevelift.plots.style import DPI, INK, MM_PER_INCH, NORMAL, PNG, drawable, pixels_of, width_of
from sleevelift.reader import METRIC, Reader
from sleevelift.section.stack import Stack

SECTION_WIDTH, SECTION_HEIGHT = 297.0, 210.0
"""mm. A4 across."""
BOTTOM = 5.0
"""mm. Foot of the last line."""
_STEPS = sorted(step * 10.0**power for power in range(4) for step in (1.0, 2.0, 2.5, 5.0))
SCALES = (*_STEPS[::-1], *[1.0 / step for step in _STEPS[1:]])
"""Paper over part: the scales of ISO 5455, extended by powers of ten as it allows, and 2.5 between them (common practice)."""
WORDS_LEVEL = 9
"""Level of words: over all else."""
SALT = "sleevelift"
"""Makes names inside an SVG the same in every drawing."""


class Sheet:
    """One A4 page, drawn in mm."""

    white = Box(0.12, "#ffffff")

    def __init__(self) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        size = (round(SECTION_WIDTH / MM_PER_INCH * DPI) / DPI, round(SECTION_HEIGHT / MM_PER_INCH * DPI) / DPI)
        self.figure = Figure(figsize=size, dpi=DPI)
        self.canvas: Any = FigureCanvasAgg(self.figure)
        self.axes: Any = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_xlim(0.0, SECTION_WIDTH)
        self.axes.set_ylim(0.0, SECTION_HEIGHT)
        self.axes.set_axis_off()
        self.words: list[lettering.Word] = []
        self.shaped: list[int] = []
        """texts of the axes that are no words"""

    def text(
        self, x: float, y: float, text: str, size: float = NORMAL, *, ha: str = "left", va: str = "baseline", color: str = INK,
        weight: str = "normal", upwards: bool = False, box: Box | None = None,
    ) -> None:  # fmt: skip
        """Text at (x, y), mm: a word for the picture, matplotlib's text for the drawing in vectors. upwards: read from below."""
        text = drawable(text)
        if lettering.plain(text):
            place, look = (x / MM_PER_INCH * DPI, y / MM_PER_INCH * DPI), {"bold": weight == "bold", "upwards": upwards}
            self.words.append(lettering.word(text, *place, size, DPI, ha=ha, va=va, colour=color, box=box, **look))
        else:
            self.shaped.append(len(self.axes.texts))
        self.axes.text(
            x, y, text, fontsize=size, ha=ha, va=va, color=color, weight=weight, parse_math=False, zorder=WORDS_LEVEL,
            rotation=90.0 if upwards else 0.0, rotation_mode="anchor", bbox=None if box is None else box.patch(),
        )  # fmt: skip

    def width_of(self, text: str, size: float) -> float:
        """Width of a line of text, mm."""
        return width_of(self.canvas, text, size)

    def lines_of(self, text: str, width: float, size: float) -> list[str]:
        """Text broken at blanks to a width, mm; a word that is wider is cut."""
        lines: list[str] = []
        for word in drawable(text).split():
            if lines and self.width_of(f"{lines[-1]} {word}", size) <= width:
                lines[-1] += f" {word}"
                continue
            lines.append("")
            for letter in word:
                if lines[-1] and self.width_of(lines[-1] + letter, size) > width:
                    lines.append("")
                lines[-1] += letter
        return lines

    def save(self, folder: Path, names: Sequence[str]) -> list[Path]:
        """Write the page under each name, in the format of its ending: a temporary file beside it, then moved over."""
        import matplotlib

        words = self.figure.add_artist(lettering.drawn(self.words, pixels_of(self.figure), WORDS_LEVEL))
        out = []
        for name in names:
            kind = name.rsplit(".", 1)[1]
            words.set_visible(kind == "png")
            for number, text in enumerate(self.axes.texts):
                text.set_visible(kind != "png" or number in self.shaped)
            metadata: dict[str, Any] = {"Software": None} if kind == "png" else {"Date": None, "Creator": None}
            handle, temporary = tempfile.mkstemp(prefix=".section-", suffix=f".{kind}", dir=folder)
            try:
                with os.fdopen(handle, "wb") as file, matplotlib.rc_context({"svg.hashsalt": SALT}):
                    packed: dict[str, Any] = {"pil_kwargs": PNG} if kind == "png" else {}
                    self.figure.savefig(file, format=kind, dpi=DPI, metadata=metadata, **packed)
                os.chmod(temporary, 0o644)
                os.replace(temporary, folder / name)
            except BaseException:
                Path(temporary).unlink(missing_ok=True)
                raise
            out.append(folder / name)
        return out


def apart(wanted: Sequence[float], widths: Sequence[float], low: float, high: float) -> list[float]:
    """Middles of labels (ascending) moved as little as need be so that none overlaps the next, within low to high.

    Labels that touch move together, around the mean of what they want.

    >>> apart([10.0, 12.0], [4.0, 4.0], 0.0, 100.0)
    [9.0, 13.0]
    """
    offsets = [sum(widths[:i]) + 0.5 * width for i, width in enumerate(widths)]
    blocks: list[list[float]] = []
    for want, offset in zip(wanted, offsets):
        blocks.append([want - offset, 1.0])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            value, weight = blocks.pop()
            blocks[-1] = [(blocks[-1][0] * blocks[-1][1] + value * weight) / (blocks[-1][1] + weight), blocks[-1][1] + weight]
    starts = [value for value, weight in blocks for _ in range(int(weight))]
    room = high - sum(widths)
    return [min(max(start, low), room) + offset for start, offset in zip(starts, offsets)]


Written = Callable[[float, str], tuple[str, str]]
"""(value in SI, SI unit) -> (number, unit) as the reader wants them; all lengths in one unit."""

KINDS = {"m": "length", "m2": "area", "m3": "volume", "N": "force", "N/m": "stiffness", "kg": "mass"}
"""SI unit -> kind of quantity."""


def written_for(reader: Reader) -> Written:
    """Four digits in the reader's units.

    >>> written_for(METRIC)(0.0192, "m")
    ('19.2', 'mm')
    """

    def written(value: float, unit: str) -> tuple[str, str]:
        shown = reader.number(KINDS[unit], value)
        return (f"{shown:.0f}" if 1e3 <= abs(shown) < 1e6 else f"{shown:.4g}"), reader.unit(KINDS[unit])

    return written


metric = written_for(METRIC)
"""mm, mm2, cm3, N, N/mm, g."""


def scale_that_fits(length: float, height: float, room: float, tall: float) -> float:
    """The largest scale at which length and height (m) stay within room and tall (mm)."""
    fits = [k for k in SCALES if 1e3 * k * length <= room and 1e3 * k * height <= tall]
    return fits[0] if fits else SCALES[-1]


def scale_words(scale: float) -> str:
    """2:1, 1:5."""
    return f"{scale:g}:1" if scale >= 1.0 else f"1:{1.0 / scale:g}"


class Drawing(NamedTuple):
    """What every part of the page needs."""

    case: Case
    stack: Stack
    sheet: Sheet
    written: Written

    def size(self, value: float) -> str:
        """A length without its unit, which the page states once."""
        return self.written(value, "m")[0]

    def whole(self, value: float, unit: str) -> str:
        """A number with its unit."""
        return " ".join(self.written(value, unit))
