"""Beside the half-section: slots, annulus and seat enlarged, shut and open, and the sleeve alone with what presses on it."""

import math
from typing import Any

from sleevelift.physics.sleeve import axial_areas
from sleevelift.plots.section_sheet import SECTION_HEIGHT, Drawing, apart, scale_that_fits, scale_words
from sleevelift.plots.section_view import DOUBLE_CHAIN, LOOKS, THICK, View, draw_machine, stroke, thin_line
from sleevelift.plots.style import FUEL, INK, NORMAL, OXIDIZER, SMALL
from sleevelift.section.outlines import Push, pushes, sleeve
from sleevelift.section.stack import Stack

TOP, FOOT, WIDTH = 132.0, 181.0, 86.0
"""mm from the top of the page; width of one enlarged view."""
POST_TALL, LABELS_TALL = 12.5, 20.0
"""mm. What an enlarged view shows of the post's wall, with dimensions in it, and of what lies above the seat, with texts in it."""
NAMES_WIDE = 54.0
"""mm. Room for names between two narrow views."""
LABEL = 4.3
"""mm. From one text to the next."""
FIRST, GAP = 10.0, 5.0
"""mm. Left edge of the first; between the two."""
AREAS_LEFT, AREAS_RIGHT = 192.0, 289.0
"""mm. The sleeve alone and its table."""
SLEEVE_TALL = 17.0
"""mm. Greatest height of the sleeve alone."""
WORDS = {
    "face": ("face", "chamber, p_c"),
    "nose": ("nose", "seat to annulus, p_i"),
    "fuel_opening": ("fuel opening", "fuel manifold, p_f"),
    "lift": ("lift", "actuation gas, p_l"),
    "top": ("top", "gas of the spring side, p_s"),
}
"""Area -> its name, what presses on it."""


def detail_box(s: Stack) -> tuple[float, float, float, float]:
    """(lowest, highest station, smallest, largest radius) of what is enlarged, m."""
    low, high = -0.3 * s.z.face, s.z.seat + min(0.6 * (s.z.rod_start - s.z.seat), s.z.seat) + 0.25 * s.stroke
    inner = s.r.post_bore + 0.35 * (s.r.post - s.r.post_bore)
    return low, high, inner, s.r.seat + 0.35 * (s.r.seat - inner)


def draw_details(d: Drawing) -> float:
    """Skirt, slots, annulus, seat and nose, shut and open; their scale."""
    low, high, _, _ = detail_box(d.stack)
    tall, post, seat = FOOT - TOP, d.stack.r.post, d.stack.r.seat
    scale = scale_that_fits(high - low, seat - post, WIDTH, tall - POST_TALL - LABELS_TALL)
    wide = 1e3 * scale * (high - low)
    base = SECTION_HEIGHT - FOOT
    for number, (lift, letter, word) in enumerate(((0.0, "A", "shut"), (d.stack.stroke, "B", "open"))):
        beside = 2.0 * wide + NAMES_WIDE <= 2.0 * WIDTH + GAP
        left = FIRST + number * (WIDTH + GAP) + (number if beside else 0.5) * (WIDTH - wide)
        view = View(d.sheet.axes, left - 1e3 * scale * low, base + POST_TALL - 1e3 * scale * post, 1e3 * scale)
        view.clip_to(left, base, wide, tall)
        draw_machine(view, d.stack, lift, +1, d.case.oxidizer is not None)
        d.sheet.text(left, base + tall + 1.2, f"{letter} ({scale_words(scale)}), {word}", NORMAL, weight="bold", va="bottom")
        if lift == 0.0:
            _shut(d, view, left + wide + 4.0 if beside else left + 2.5, beside, base)
        else:
            _open(d, view, base, left + wide)
    return scale


def _along(d: Drawing, view: View, low: float, high: float, y: float, start: float, text: str) -> None:
    """A dimension along the axis at height y, its extension lines from the radius `start`; outside arrows where it is short."""
    a, b = view.x(low), view.x(high)
    for x in (a, b):
        thin_line(view.axes, [(x, view.y(start)), (x, y - 0.8)])
    wide = d.sheet.width_of(text, SMALL)
    if b - a > wide + 5.0:
        view.arrow_both(a, y, b, y)
        d.sheet.text(0.5 * (a + b), y, text, SMALL, ha="center", va="center", box=d.sheet.white)
        return
    if b - a > 5.0:
        view.arrow_both(a, y, b, y)
    else:
        view.arrow(a - 4.0, y, a, y)
        view.arrow(b + 4.0, y, b, y)
    d.sheet.text(b + 4.6, y, text, SMALL, va="center", box=d.sheet.white)


def _shut(d: Drawing, view: View, left: float, beside: bool, base: float) -> None:
    """Lap and height of the slots; names from `left` on, in the view or beside it."""
    case, r = d.case, d.stack.r
    if case.slots is not None and case.slots.row:
        row = case.slots.row[0]
        _along(d, view, 0.0, row.lap, base + 3.0, r.post, f"lap {d.size(row.lap)}")
        _along(d, view, row.lap, row.lap + row.height, base + 8.2, r.post, d.size(row.height))
    for number, (text, station, radius) in enumerate(_shut_names(d)):
        y = SECTION_HEIGHT - TOP - 2.8 - LABEL * number
        x, target = view.x(station), (view.x(station), view.y(radius))
        line = [(left - 0.6, y), target] if beside else [(left + d.sheet.width_of(text, SMALL), y), (x, y), target]
        thin_line(view.axes, line, dot=True)
        d.sheet.text(left, y, text, SMALL, va="center", box=d.sheet.white)


def _shut_names(d: Drawing) -> list[tuple[str, float, float]]:
    """(text, station, radius) of what the enlarged view names, from the outermost inwards."""
    s, case, z, r = d.stack, d.case, d.stack.z, d.stack.r
    names: list[tuple[str, float, float]] = []
    if case.seat is not None:
        on_cone = (z.seat + 0.25 * (z.rod_start - z.seat), r.seat + 0.25 * (r.rod - r.seat))
        if s.edge_on_sleeve:
            rise = 0.25 * (z.neck - z.seat)
            on_cone = (z.seat + rise, r.seat + rise * math.tan(s.half_angle))
        names.append((f"half-angle {math.degrees(s.half_angle):.4g}\u00b0", *on_cone))
        edge = "sleeve" if s.edge_on_sleeve else "seat"
        land = f", land {d.size(case.seat.land_width)}" if case.seat.land_width else ""
        names.append((f"edge on the {edge}{land}", z.seat, r.seat))
        if case.seat.spigot_length and case.seat.spigot_clearance is not None:
            said = f"spigot {d.size(case.seat.spigot_length)}, clearance {d.size(case.seat.spigot_clearance)}"
            names.append((said, 0.5 * (z.spigot_end + z.seat), r.spigot))
        if case.seat.annulus_area is not None:
            said = f"annulus {d.whole(case.seat.annulus_area, 'm2')}, gap {d.size(r.annulus - r.nose)}"
            names.append((said, 0.5 * (z.face + z.annulus_end), 0.5 * (r.nose + r.annulus)))
    if case.slots is not None:
        names.append((f"clearance on the post {d.size(case.slots.clearance)}", 0.8 * z.face, r.post))
    return names


def _open(d: Drawing, view: View, base: float, right: float) -> None:
    """The stroke, from the skirt's place when shut, and where the propellants pass."""
    s, r = d.stack, d.stack.r
    view.patch(sleeve(s, 0.0), 1, facecolor="none", edgecolor=INK, linewidth=0.5, linestyle=DOUBLE_CHAIN, zorder=5.5)
    _along(d, view, 0.0, s.stroke, base + 3.0, r.nose, f"stroke {d.size(s.stroke)}")
    if d.case.oxidizer is None:
        return
    for low, high in s.windows[:1]:
        x = view.x(0.5 * (low + min(high, s.stroke)))
        y = max(view.y(r.nose + 0.6 * (r.nose - r.post)), view.y(r.nose) + 7.0)
        view.arrow(x, base + 6.0, x, y, OXIDIZER, 1.4)
        d.sheet.text(x, y + 1.0, "oxidizer", SMALL, ha="center", color=OXIDIZER, weight="bold", box=d.sheet.white)
    middle = 0.5 * (r.nose + r.annulus)
    view.arrow(view.x(s.z.annulus_end), view.y(middle), view.x(0.4 * s.z.face), view.y(middle), FUEL, 1.4)
    d.sheet.text(
        min(view.x(s.z.seat), right - 9.0),
        view.y(r.annulus + 1.2 * (r.annulus - r.nose)) + 3.0,
        "fuel",
        SMALL,
        color=FUEL,
        weight="bold",
        box=d.sheet.white,
    )


def draw_areas(d: Drawing) -> None:
    """The sleeve alone, shut, with arrows on its five axial areas, and the table of them."""
    s = d.stack
    base, inner = SECTION_HEIGHT - 156.0, 0.93 * s.r.post
    scale = scale_that_fits(s.z.top, s.r.piston - inner, AREAS_RIGHT - AREAS_LEFT - 24.0, SLEEVE_TALL)
    left = 0.5 * (AREAS_LEFT + AREAS_RIGHT) - 500.0 * scale * s.z.top
    view = View(d.sheet.axes, left, base - 1e3 * scale * inner, 1e3 * scale)
    view.part("sleeve", sleeve(s), 1, 4.6)
    title = f"What presses on the sleeve along its axis ({scale_words(scale)})"
    d.sheet.text(AREAS_LEFT, SECTION_HEIGHT - TOP + 1.2, title, NORMAL, weight="bold", va="bottom")
    rows = pushes(s)
    tails = [_arrows(view, push) for push in rows]
    y = base + 1e3 * scale * (s.r.piston - inner) + 3.6
    for push, (x, top), middle in zip(rows, tails, apart([x for x, _ in tails], [5.6] * len(rows), AREAS_LEFT, AREAS_RIGHT)):
        thin_line(view.axes, [(middle, y - 2.0), (x, top)])
        _balloon(d, middle, y, push.number)
    _table(d, rows)


def _arrows(view: View, push: Push) -> tuple[float, float]:
    """Arrows onto an area; (x, y) of the tail of the outermost, mm."""
    colour, way = LOOKS[push.kind].line if push.kind != "chamber" else "#a3123a", 1.0 if push.opens else -1.0
    wide = view.k * (push.outer - push.inner)
    count = max(1, min(6, int(wide / 2.2)))
    x, y = view.x(push.at), 0.0
    for number in range(count):
        share = (number + 0.5) / count
        y = view.y(push.inner + share * (push.outer - push.inner))
        view.arrow(x - way * 6.0, y, x, y, colour, 1.2)
    return x - way * 6.0, y


def _balloon(d: Drawing, x: float, y: float, number: int) -> None:
    """A number in a circle."""
    from matplotlib.patches import Circle

    d.sheet.axes.add_artist(Circle((x, y), 2.1, facecolor="#ffffff", edgecolor=INK, linewidth=0.6, zorder=8.5))
    d.sheet.text(x, y, str(number), SMALL, ha="center", va="center_baseline")


def _table(d: Drawing, rows: list[Push]) -> None:
    """Number, name, size, what presses, which way."""
    s = d.case.sleeve
    areas: Any = axial_areas(s.post_diameter, s.nose_diameter, s.seat_diameter, s.rod_diameter, s.piston_diameter)
    unit = d.written(1.0, "m2")[1]
    columns = (AREAS_LEFT, AREAS_LEFT + 6.0, AREAS_LEFT + 41.0, AREAS_LEFT + 44.0, AREAS_RIGHT)
    top = SECTION_HEIGHT - 160.5
    heads = ("", "area", unit, "pressed by", "acts")
    cells = [
        (
            str(p.number),
            WORDS[p.name][0],
            d.written(getattr(areas, p.name), "m2")[0],
            WORDS[p.name][1],
            "opens" if p.opens else "closes",
        )
        for p in rows
    ]
    for number, row in enumerate([heads, *cells]):
        y = top - 4.0 * number
        for place, (x, cell) in enumerate(zip(columns, row)):
            look: dict[str, Any] = {"ha": "right" if place in (2, 4) else "left", "weight": "bold" if number == 0 else "normal"}
            d.sheet.text(x, y, cell, SMALL, **look)
        stroke(d.sheet.axes, [AREAS_LEFT, AREAS_RIGHT], [y - 1.0] * 2, linewidth=THICK if number == 0 else 0.2)
