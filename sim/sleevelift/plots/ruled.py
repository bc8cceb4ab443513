"""Panels ruled in few strokes: frames, ticks with their numbers, titles and legends, drawn in mm of the page.

      title              legend
      +----------------------+
    n |                      | n        numbers n at the ticks; titles of the axes outside them
      +----------------------+
      n      n      n      n

matplotlib makes five objects for each tick and lays each of them out twice, which takes half the time of a page. Here its axes
carry only the curves; places and words of ticks come from its locator and formatter, and all frames and ticks of a page are one
collection of lines.
"""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from sleevelift.plots.style import GRID, HEIGHT, MM_PER_INCH, NORMAL, SMALL, WIDTH, Page

POINT = MM_PER_INCH / 72.0
"""mm."""
TICK, PAD, TITLE_PAD = 2.5 * POINT, 3.5 * POINT, 3.0 * POINT
"""mm. Length of a tick, from it to its number, from the numbers to the axis's title."""
ABOVE = 2.5 * POINT
"""mm. From the frame up to the foot of the panel's title and legend."""
HANDLE, HANDLE_PAD, COLUMN_PAD, HANDLE_HEIGHT = 2.2 * SMALL * POINT, 0.5 * SMALL * POINT, SMALL * POINT, 0.7 * SMALL * POINT
"""mm. Of a legend: length of a handle, from it to its text, between two entries, height of a patch."""
DIGIT_HEIGHT = 0.36
"""-. Half the height of a digit, of the font's size: numbers at the side stand in the middle of their ticks."""


class Ruler(NamedTuple):
    """How one side of a panel is ruled."""

    title: str = ""
    most: int = 5
    """intervals between ticks, at most"""
    steps: Sequence[float] | None = None
    """steps between ticks, times a power of ten; None: matplotlib's"""
    least: int = 2
    """ticks at least"""
    at: Sequence[float] | None = None
    """places of the ticks instead"""
    numbers: bool = True
    grid: bool = True


class Panel(NamedTuple):
    """Axes without rulings, and where they stand on the page, mm."""

    axes: Any
    left: float
    top: float
    width: float
    height: float

    @property
    def bottom(self) -> float:
        """mm from the page's upper edge."""
        return self.top + self.height

    @property
    def right(self) -> float:
        return self.left + self.width


def panel(page: Page, left: float, top: float, width: float, height: float, **kw: Any) -> Panel:
    """A panel in a rectangle, mm; its frame and rulings are drawn by `rule`, when its limits are settled."""
    from sleevelift.plots.bare_axes import BareAxes

    axes = page.axes(left, top, width, height, grid=False, axes_class=BareAxes, **kw)
    axes.set_axis_off()
    return Panel(axes, left, top, width, height)


def ticks(low: float, high: float, ruler: Ruler) -> tuple[np.ndarray, list[str], str]:
    """(places of ticks within low..high, their numbers, the power of ten that they are to be multiplied with or "")."""
    from matplotlib.ticker import MaxNLocator, ScalarFormatter

    places: Any
    if ruler.at is not None:
        places = np.asarray(ruler.at, dtype=float)
    else:
        options: dict[str, Any] = {} if ruler.steps is None else {"steps": list(ruler.steps)}
        places = MaxNLocator(ruler.most, min_n_ticks=ruler.least, **options).tick_values(low, high)
    slack = 1e-9 * (high - low)
    places = places[(places >= low - slack) & (places <= high + slack)]
    if not ruler.numbers:
        return places, [], ""
    formatter = ScalarFormatter(useOffset=False, useMathText=False)
    formatter.create_dummy_axis()
    axis: Any = formatter.axis
    axis.set_view_interval(low, high)
    return places, list(formatter.format_ticks(places)), str(formatter.get_offset())


def rule(page: Page, panel: Panel, x: Ruler | None, y: Ruler | None, *, right: bool = False, frame: bool = True) -> None:
    """Rule a panel whose limits are settled; right: `y` stands at the right side. None: no ticks there."""
    from matplotlib.collections import LineCollection

    strokes: list[list[tuple[float, float]]] = []
    (x_low, x_high), (y_low, y_high) = panel.axes.get_xlim(), panel.axes.get_ylim()
    grid: list[list[tuple[float, float]]] = []
    if x is not None:
        places, numbers, power = ticks(x_low, x_high, x)
        at = panel.left + (places - x_low) / (x_high - x_low) * panel.width
        strokes += [[(a, panel.bottom), (a, panel.bottom + TICK)] for a in at]
        for a, number in zip(at, numbers):
            page.text(a, panel.bottom + TICK + PAD, number, SMALL, ha="center")
        if x.title:
            below = TICK + PAD + TITLE_PAD + (SMALL * POINT if numbers else 0.0)
            page.text(panel.left + 0.5 * panel.width, panel.bottom + below, f"{x.title} {power}".rstrip(), NORMAL, ha="center")
        grid += [[(p, y_low), (p, y_high)] for p in places] if x.grid else []
    if y is not None:
        places, numbers, power = ticks(y_low, y_high, y)
        at = panel.bottom - (places - y_low) / (y_high - y_low) * panel.height
        side, out = (panel.right, 1.0) if right else (panel.left, -1.0)
        strokes += [[(side, a), (side + out * TICK, a)] for a in at]
        for a, number in zip(at, numbers):
            foot = a + DIGIT_HEIGHT * SMALL * POINT
            page.text(side + out * (TICK + PAD), foot, number, SMALL, ha="left" if right else "right", va="baseline")
        if y.title:
            widest = page.width_of(max(numbers, key=len), SMALL) if numbers else 0.0
            outside, middle = side + out * (TICK + PAD + widest + TITLE_PAD), panel.top + 0.5 * panel.height
            page.text(
                outside, middle, f"{y.title} {power}".rstrip(), NORMAL,
                ha="center", va="top" if right else "bottom", upwards=True,
            )  # fmt: skip
        grid += [[(x_low, p), (x_high, p)] for p in places] if y.grid else []
    if grid:
        panel.axes.add_collection(LineCollection(grid, colors=GRID, linewidths=0.6, zorder=0.5), autolim=False)
    if frame:
        corners = [(panel.left, panel.top), (panel.right, panel.top), (panel.right, panel.bottom), (panel.left, panel.bottom)]
        strokes.append([*corners, corners[0], corners[1]])
    page.strokes += strokes


def title(page: Page, panel: Panel, text: str) -> None:
    """Bold title above the left end of a panel."""
    page.text(panel.left, panel.top - ABOVE, text, NORMAL, va="baseline", weight="bold")


def legend(page: Page, panel: Panel, handles: Sequence[Any]) -> None:
    """Lines and patches with their labels on one row above the right end of a panel, clear of the curves."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch, Rectangle

    labels = [str(handle.get_label()) for handle in handles]
    widths = [page.width_of(label, SMALL) for label in labels]
    left = panel.right - 0.5 * ABOVE - sum(HANDLE + HANDLE_PAD + width for width in widths) - COLUMN_PAD * (len(handles) - 1)
    foot = panel.top - ABOVE
    for handle, label, width in zip(handles, labels, widths):
        if isinstance(handle, Patch):
            corner = page.place(left, foot)
            key: Any = Rectangle(corner, HANDLE / WIDTH, HANDLE_HEIGHT / HEIGHT)
        else:
            y = foot - 0.5 * HANDLE_HEIGHT
            ends = page.place(left, y), page.place(left + HANDLE, y)
            key = Line2D([ends[0][0], ends[1][0]], [ends[0][1], ends[1][1]])
        key.update_from(handle)
        key.set_transform(page.figure.transFigure)
        key.set_clip_on(False)
        page.figure.add_artist(key)
        page.text(left + HANDLE + HANDLE_PAD, foot, label, SMALL, va="baseline")
        left += HANDLE + HANDLE_PAD + width + COLUMN_PAD


def upright(axes: Any, at: Sequence[float], **look: Any) -> None:
    """Lines from the foot to the head of axes at some places of their x axis, in one stroke. look: of a `LineCollection`."""
    from matplotlib.collections import LineCollection

    lines = LineCollection([[(a, 0.0), (a, 1.0)] for a in at], transform=axes.get_xaxis_transform(), **look)
    axes.add_collection(lines, autolim=False)
