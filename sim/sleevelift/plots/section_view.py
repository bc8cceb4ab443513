"""One view of the half-section: from stations and radii (m) to places on the page (mm), and how parts and fluids look in it."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from sleevelift.plots import style
from sleevelift.plots.style import INK
from sleevelift.section import outlines
from sleevelift.section.coils import coil_centres
from sleevelift.section.outlines import Outline
from sleevelift.section.stack import Stack

THICK, THIN = 0.9, 0.4
"""pt. Outlines; dimension, leader and hatching lines: two to one, as ISO 128-2 asks."""
CHAIN = (0, (14, 3, 1.5, 3))
"""Axis: long-dashed dotted."""
DOUBLE_CHAIN = (0, (12, 3, 1.5, 3, 1.5, 3))
"""Another position of a moving part: long-dashed double-dotted."""


class Look(NamedTuple):
    """How a fluid is drawn."""

    word: str
    fill: str
    line: str
    hatch: str


LOOKS = {
    "oxidizer": Look("oxidizer", "#d6e6f5", style.OXIDIZER, "..."),
    "fuel": Look("fuel", "#f8e3cf", style.FUEL, "--"),
    "lift": Look("actuation gas", "#e4d9ee", style.LIFT_GAS, "oo"),
    "spring": Look("gas of the spring side, vented", "#efefd2", style.SPRING_SIDE, "o"),
    "chamber": Look("combustion chamber or outside", "#f8e6eb", "#d497a8", "+"),
}
METAL = {"housing": ("#e3e5e8", "////"), "sleeve": ("#f4f4f5", "\\\\\\\\"), "post": ("#d3d6da", "//////")}
"""Part -> fill, hatch: adjacent parts in different directions, the post closer."""


def thin_line(axes: Any, points: Sequence[tuple[float, float]], dot: bool = False) -> None:
    """A leader or extension line; dot: ends in a dot."""
    stroke(axes, [p[0] for p in points], [p[1] for p in points], linewidth=THIN, zorder=7, solid_capstyle="butt")
    if dot:
        stroke(axes, [points[-1][0]], [points[-1][1]], marker="o", markersize=2.0, zorder=8)


def stroke(axes: Any, x: Sequence[float], y: Sequence[float], **look: Any) -> None:
    """A line in ink. The limits of the axes are those of the page: nothing here is asked how far it reaches, which takes as long as
    drawing it."""
    from matplotlib.lines import Line2D

    axes.add_artist(Line2D(x, y, color=INK, **look))


class View:
    """Places of a view on the page: x = left + k z, y = axis + k r."""

    def __init__(self, axes: Any, left: float, axis: float, k: float) -> None:
        self.axes, self.left, self.middle, self.k = axes, left, axis, k
        self.clip: Any = None

    def x(self, z: float) -> float:
        """mm from the left edge of the page."""
        return self.left + self.k * z

    def y(self, r: float) -> float:
        """mm from the foot of the page; r signed: below the axis negative."""
        return self.middle + self.k * r

    def clip_to(self, left: float, foot: float, width: float, height: float) -> None:
        """Cut all that follows at a frame, drawn thin."""
        from matplotlib.patches import Rectangle

        frame = Rectangle((left, foot), width, height, facecolor="none", edgecolor=INK, linewidth=THIN, zorder=6)
        self.axes.add_artist(frame)
        self.clip = frame

    def patch(self, outline: Outline, side: int, **look: Any) -> None:
        """A closed area on one side of the axis."""
        from matplotlib.patches import Polygon

        points = [(self.x(z), self.y(side * r)) for z, r in outline]
        self._add(Polygon(points, **({"closed": True} | look)))

    def _add(self, patch: Any) -> None:
        self.axes.add_artist(patch)
        if self.clip is not None:
            patch.set_clip_path(self.clip)

    def fluid(self, kind: str, outline: Outline, side: int) -> None:
        """A space filled with a fluid."""
        one = LOOKS[kind]
        self.patch(outline, side, facecolor=one.fill, edgecolor=one.line, hatch=one.hatch, linewidth=0.0, zorder=1)

    def part(self, kind: str, outline: Outline, side: int, level: float, closed: bool = True) -> None:
        """A cut part: hatched thin, outlined thick; not closed: without an edge from the last point to the first (on the axis)."""
        fill, hatch = METAL[kind]
        self.patch(outline, side, facecolor=fill, edgecolor="#7b828c", hatch=hatch, linewidth=0.0, zorder=level)
        self.patch(
            outline, side, facecolor="none", edgecolor=INK, linewidth=THICK, zorder=level + 0.1, joinstyle="miter", closed=closed
        )

    def ellipse(self, z: float, r: float, side: int, along: float, across: float, **look: Any) -> Any:
        """An ellipse around a point on one side."""
        from matplotlib.patches import Ellipse

        patch = Ellipse((self.x(z), self.y(side * r)), self.k * along, self.k * across, **look)
        self._add(patch)
        return patch

    def axis(self, low: float, high: float) -> None:
        """The axis of rotation."""
        stroke(self.axes, [self.x(low) - 6.0, self.x(high) + 6.0], [self.middle] * 2, linewidth=0.5, linestyle=CHAIN, zorder=6)

    def port(self, z: float, bore: float, inner: float, outer: float, kind: str) -> None:
        """A drilled hole through a wall above the axis: filled with what it carries, its two sides thick."""
        self.fluid_over(kind, [(z - 0.5 * bore, inner), (z + 0.5 * bore, inner), (z + 0.5 * bore, outer), (z - 0.5 * bore, outer)])
        for edge in (z - 0.5 * bore, z + 0.5 * bore):
            stroke(self.axes, [self.x(edge)] * 2, [self.y(inner), self.y(outer)], linewidth=THICK, zorder=4.5)

    def fluid_over(self, kind: str, outline: Outline, side: int = 1, level: float = 4.4) -> None:
        """A hole in a part that is drawn already."""
        one = LOOKS[kind]
        self.patch(outline, side, facecolor=one.fill, edgecolor=one.line, hatch=one.hatch, linewidth=0.0, zorder=level)

    def arrow_both(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """A dimension line with arrows at both ends, mm."""
        self._arrow((x1, y1), (x2, y2), "<|-|>")

    def arrow(self, x1: float, y1: float, x2: float, y2: float, color: str = INK, width: float = THIN) -> None:
        """An arrow to the second point, mm."""
        self._arrow((x1, y1), (x2, y2), "-|>", color, width)

    def _arrow(self, a: tuple[float, float], b: tuple[float, float], kind: str, color: str = INK, width: float = THIN) -> None:
        from matplotlib.patches import FancyArrowPatch

        self.axes.add_artist(
            FancyArrowPatch(a, b, arrowstyle=f"{kind},head_length=3.2,head_width=0.9", shrinkA=0, shrinkB=0, linewidth=width,
                            color=color, zorder=8)
        )  # fmt: skip


def draw_machine(view: View, stack: Stack, lift: float, side: int, wet: bool) -> None:
    """Fluids, parts, rings and spring on one side of the axis (1 above, -1 below), the sleeve at a lift."""
    for fluid in outlines.fluids(stack, lift, wet):
        view.fluid(fluid.kind, fluid.outline, side)
    view.part("housing", outlines.housing(stack), side, 3.0)
    view.part("post", outlines.post(stack), side, 4.0, closed=False)
    for slot in outlines.slots(stack):
        view.fluid_over("oxidizer", slot, side, 4.3)
        view.patch(slot, side, facecolor="none", edgecolor=INK, linewidth=THICK, zorder=4.4)
    view.part("sleeve", outlines.sleeve(stack, lift), side, 4.6)
    for ring in outlines.rings(stack, lift):
        view.ellipse(ring.at, ring.radius, side, ring.along, ring.across, facecolor=INK, edgecolor=INK, linewidth=0.0, zorder=5)
    _draw_spring(view, stack, lift, side)


def _draw_spring(view: View, stack: Stack, lift: float, side: int) -> None:
    """Cut wires at their true places; a crossed-out room where the wire is not given."""
    from matplotlib.patches import Rectangle

    z, r = stack.z, stack.r
    first, length = z.top + lift, z.cap - z.top - lift
    if stack.coils is None:
        for ends in ((r.post, r.piston), (r.piston, r.post)):
            stroke(view.axes, [view.x(first), view.x(z.cap)], [view.y(side * e) for e in ends], linewidth=THIN, zorder=5)
        return
    c = stack.coils
    room = Rectangle((view.x(first), view.y(0.0)), view.k * length, side * view.k * r.spring, visible=False)
    for place in coil_centres(length, c.wire, c.active, c.total, side < 0):
        wire = view.ellipse(
            first + place, 0.5 * c.mean, side, c.wire, c.wire, facecolor="#ffffff", edgecolor=INK, hatch="/////", linewidth=THICK,
            zorder=5,
        )  # fmt: skip
        if view.clip is None:  # ground ends
            view.axes.add_artist(room)
            wire.set_clip_path(room)
