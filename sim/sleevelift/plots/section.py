"""The half-section of the valve, to scale, A4 across: shut above the axis, open below, the seat of both enlarged.

    write_section(case, folder) -> section.png, section.svg

By the ordinary conventions of engineering drawing: outlines thick, dimension, leader and hatching lines thin, axes long-dashed
dotted, other positions of a moving part long-dashed double-dotted (ISO 128-2); cut parts hatched, adjacent ones in different
directions, thin parts filled (ISO 128-3); dimension lines with arrows (ISO 129-1); scales of ISO 5455; springs as cut wires.
"""

from pathlib import Path
from typing import NamedTuple

from sleevelift.case.schema import Case
from sleevelift.plots.section_details import detail_box, draw_areas, draw_details
from sleevelift.plots.section_sheet import (
    BOTTOM,
    SECTION_HEIGHT,
    SECTION_WIDTH,
    Drawing,
    Sheet,
    Written,
    apart,
    scale_that_fits,
    scale_words,
    written_for,
)
from sleevelift.plots.section_view import LOOKS, View, draw_machine, thin_line
from sleevelift.plots.style import ALARM, FAINT, INK, INVENTED_BADGE, LARGE, NORMAL, OXIDIZER, SMALL, TITLE, look
from sleevelift.plots.words import CAUTION, KIND_WORDS, plain_text
from sleevelift.section.stack import Stack, installed_length, stack_of

SECTION_PICTURES = ("section.png", "section.svg")
LEFT, RIGHT = 46.0, 289.0
"""mm. Where the main view may lie; left of it stand the dimensions of diameters."""
FOOT_TOP = 21.5
"""mm from the foot of the page: the row of fluids."""
AXIS, HALF = 74.0, 37.0
"""mm from the top of the page: the main view's axis; half its greatest height."""


def write_section(case: Case, folder: Path, written: Written | None = None) -> list[Path]:
    """Write section.png and section.svg into a folder."""
    with look():
        drawing = Drawing(case, stack_of(case), Sheet(), written or written_for(case.reader))
        scale = _main_view(drawing)
        details = draw_details(drawing)
        draw_areas(drawing)
        _head(drawing, scale, details)
        _foot(drawing)
        return drawing.sheet.save(folder, SECTION_PICTURES)


# ------------------------------------------------------------------------------- main view


def _main_view(d: Drawing) -> float:
    """The whole valve; its scale."""
    s = d.stack
    low, high = s.z.tip, s.z.post_end
    scale = scale_that_fits(high - low, 2.0 * s.r.housing, RIGHT - LEFT - 22.0, 2.0 * HALF)
    origin = LEFT + 6.0 - 1e3 * scale * low
    view = View(d.sheet.axes, origin, SECTION_HEIGHT - AXIS, 1e3 * scale)
    wet = d.case.oxidizer is not None
    draw_machine(view, s, 0.0, +1, wet)
    draw_machine(view, s, s.stroke, -1, wet)
    _ports(d, view)
    view.axis(low, high)
    _diameters(d, view)
    _lengths(d, view)
    _circles(d, view)
    if wet:
        x = view.x(high)
        view.arrow(x + 11.0, view.middle + 3.0, x + 1.5, view.middle + 3.0, OXIDIZER, 1.4)
        d.sheet.text(x + 1.5, view.middle + 4.5, "oxidizer", SMALL, color=OXIDIZER, weight="bold")
    _names(d, view)
    return scale


def _circles(d: Drawing, view: View) -> None:
    """Thin circles with their letter around what is enlarged."""
    low, high, inner, outer = detail_box(d.stack)
    middle, radius = 0.5 * (low + high), 0.5 * (inner + outer)
    size = 1.06 * max(high - low, outer - inner)
    for side, letter, lift in ((1, "A", 0.0), (-1, "B", 0.0)):
        view.ellipse(middle + lift, radius, side, size, size, facecolor="none", edgecolor=INK, linewidth=0.5, zorder=7)
        x, y = view.x(middle - 0.40 * size), view.y(side * (radius + 0.42 * size))
        d.sheet.text(x, y, letter, NORMAL, weight="bold", ha="right", va="center", box=d.sheet.white)


def _ports(d: Drawing, view: View) -> None:
    """Gas port, vent and fuel inlet through the housing, on the shut side."""
    s, case = d.stack, d.case
    tube = case.tube.port_orifice or case.tube.bore
    height = s.z.under - s.z.chamber
    view.port(s.z.chamber + 0.5 * min(tube, height), min(tube, height), s.r.piston, s.r.housing, "lift")
    vent = case.spring_side.vent_orifice
    if vent:
        bore = min(vent, 0.5 * (s.z.cap - s.z.top))
        view.port(s.z.cap - 0.5 * bore, bore, s.r.spring, s.r.housing, "spring")
    room = s.z.gland - s.z.rod_start
    view.port(s.z.gland - 0.35 * room, 0.5 * room, s.r.manifold, s.r.housing, "fuel")


def _diameters(d: Drawing, view: View) -> None:
    """Diameters at the left, the smallest next to the view."""
    s = d.stack
    rows = (
        ("post", s.r.post, s.z.tip), ("nose", s.r.nose, 0.0), ("seat", s.r.seat, s.z.seat), ("rod", s.r.rod, s.z.gland),
        ("piston", s.r.piston, s.z.under),
    )  # fmt: skip
    first = view.x(s.z.tip) - 8.0
    for number, (name, radius, station) in enumerate(rows):
        x = first - 7.6 * number
        for side in (1, -1):
            y = view.y(side * radius)
            thin_line(view.axes, [(x - 1.0, y), (view.x(station), y)])
        view.arrow_both(x, view.y(-radius), x, view.y(radius))
        words = f"\u2300{d.size(2 * radius)} {name}"
        d.sheet.text(x - 0.6, SECTION_HEIGHT - AXIS, words, SMALL, ha="center", va="bottom", upwards=True, box=d.sheet.white)


def _lengths(d: Drawing, view: View) -> None:
    """Installed length of the spring shut and open, inside its room near the axis, and the stroke beside it."""
    s = d.stack
    assumed = " (assumed)" if installed_length(d.case)[1] else ""
    for side, lift, word in ((1, 0.0, "shut"), (-1, s.stroke, "open")):
        y = view.y(side * 0.55 * s.r.post_bore)
        low, high = view.x(s.z.top + lift), view.x(s.z.cap)
        for x in (low, high):
            thin_line(view.axes, [(x, view.y(side * s.r.post)), (x, y - side * 1.0)])
        view.arrow_both(low, y, high, y)
        text = f"spring, {word}, {d.size(s.z.cap - s.z.top - lift)}{assumed}"
        d.sheet.text(0.5 * (low + high), y, text, SMALL, ha="center", va="center", box=d.sheet.white)


def _spring_words(d: Drawing) -> str:
    """The spring in a few words."""
    spring, coils = d.case.spring, d.stack.coils
    force = f"{d.whole(spring.preload, 'N')}, {d.whole(spring.rate, 'N/m')}"
    if coils is None:
        return f"spring, {force} (wire not given)"
    free = f", free {d.size(spring.free_length)}" if spring.free_length else ""
    wound = f"{coils.total:g} coils ({coils.active:g} active)"
    return f"spring, wire {d.size(coils.wire)}, mean \u2300{d.size(coils.mean)}, {wound}{free}, {force}"


class Name(NamedTuple):
    """A text and the point that it names, m."""

    text: str
    z: float
    r: float


def _names(d: Drawing, view: View) -> None:
    """Names of parts and spaces on leaders, above the shut and below the open side."""
    s, case, z, r = d.stack, d.case, d.stack.z, d.stack.r
    tube = case.tube.port_orifice or case.tube.bore
    vent = case.spring_side.vent_orifice
    fuel = f", {d.whole(case.fuel.manifold_volume, 'm3')}" if case.fuel is not None else ""
    fuel_word = "fuel manifold" if case.fuel is not None else "fuel side (no propellants)"
    above = [
        Name("seat", z.bore_start, r.seat + 0.3 * (r.manifold - r.seat)),
        Name(f"{fuel_word}{fuel} (part)", z.gland - 0.35 * (z.gland - z.rod_start), 0.5 * (r.manifold + r.housing)),
        Name("rod ring", s.rod_groove_at, r.rod + 0.5 * s.rod_groove.depth),
        Name(f"gas port, \u2300{d.size(tube)}", z.chamber + 0.5 * min(tube, z.under - z.chamber), 0.5 * (r.piston + r.housing)),
        Name("piston ring", s.piston_groove_at, r.piston - 0.5 * s.piston_groove.depth),
        Name(_spring_words(d), z.top + 0.5 * (z.cap - z.top), _spring_point(s)),
    ]
    if vent:
        middle = z.cap - 0.5 * min(vent, 0.5 * (z.cap - z.top))
        above.append(Name(f"vent, \u2300{d.size(vent)}", middle, 0.5 * (r.spring + r.housing)))
    _leaders(d, view, above, 1)
    below = [
        Name("chamber" if case.chamber is not None else "outside", 1.4 * z.tip, 0.5 * (r.nose + r.housing)),
        Name("post", 0.5 * (z.tip + s.z.tip + r.post - r.post_bore), 0.8 * r.post_bore),
        Name("sleeve", z.gland + s.stroke, 0.5 * (r.post + r.rod)),
        Name(
            f"lift chamber, {d.whole(case.lift_chamber.dead_volume, 'm3')} shut",
            0.5 * (z.chamber + z.under),
            0.5 * (r.rod + r.piston),
        ),
        Name("post ring", s.post_groove_at + s.stroke, r.post + 0.5 * s.post_groove.depth),
        Name(
            f"spring side, {d.whole(case.spring_side.volume, 'm3')} shut",
            z.top + 0.55 * (z.cap - z.top),
            r.piston - 0.06 * r.piston,
        ),
        Name("housing", 0.5 * (z.cap + z.end), 0.5 * (r.post + r.housing)),
    ]
    for low, high in s.windows:
        below.append(Name(_slot_words(d, s.windows.index((low, high))), 0.5 * (low + high), 0.5 * (r.post_bore + r.post)))
    _leaders(d, view, below, -1)


def _slot_words(d: Drawing, number: int) -> str:
    """A row of slots in a few words."""
    assert d.case.slots is not None, "it has windows"
    if d.case.slots.table is not None:
        return "slots, by a table"
    row = d.case.slots.row[number]
    across = f" x {d.size(row.width)}" if row.shape != "round" else ""
    return f"{row.count} {row.shape} slots, {d.size(row.height)}{across}"


def _spring_point(s: Stack) -> float:
    """Radius at which the spring's leader ends, m."""
    return 0.5 * s.coils.mean if s.coils is not None else 0.5 * (s.r.post + s.r.piston)


def _leaders(d: Drawing, view: View, rows: list[Name], side: int) -> None:
    """Texts in two rows outside the view, each with a leader that ends in a dot on what it names.

    The leaders of the outer row pass the inner one between its texts.
    """
    edge = view.y(side * d.stack.r.housing) + side * 3.0
    rows = sorted(rows, key=lambda name: name.z)
    wanted = [view.x(name.z) for name in rows]
    widths = [d.sheet.width_of(name.text, SMALL) + 4.0 for name in rows]
    low, high = 8.0, SECTION_WIDTH - 8.0
    inner = apart(wanted, [width if i % 2 == 0 else 2.0 for i, width in enumerate(widths)], low, high)
    outer = dict(zip(range(1, len(rows), 2), apart(inner[1::2], widths[1::2], low, high)))
    for i, name in enumerate(rows):
        middle, y = outer.get(i, inner[i]), edge + side * (6.6 if i % 2 else 2.0)
        half = 0.5 * widths[i] - 2.0
        pass_at = inner[i] if i % 2 else min(max(wanted[i], middle - half), middle + half)
        foot = min(max(pass_at, middle - half), middle + half)
        points = [(foot, y - side * 0.4), (pass_at, edge), (view.x(name.z), view.y(side * name.r))]
        thin_line(view.axes, points, dot=True)
        d.sheet.text(middle, y, name.text, SMALL, ha="center", va="bottom" if side > 0 else "top", box=d.sheet.white)


# -------------------------------------------------------------------------------- words


def _head(d: Drawing, scale: float, details: float) -> None:
    """Title, case, scale, INVENTED label."""
    case, sheet = d.case, d.sheet
    sheet.text(8.0, SECTION_HEIGHT - 8.0, "Half-section: shut above the axis, open below", TITLE, weight="bold", va="top")
    unit = d.written(1.0, "m")[1]
    line = f"{KIND_WORDS[case.case.kind]}, case {plain_text(case.name, 60)}. "
    line += f"Scale {scale_words(scale)} on A4, details {scale_words(details)}; dimensions in {'inches' if unit == 'in' else unit}."
    top, size, room = 15.0, LARGE, SECTION_WIDTH - 16.0
    title = sheet.lines_of(plain_text(case.case.title, 200), room, LARGE)
    if len(title) > 1:
        top, size, title = 14.4, SMALL, sheet.lines_of(plain_text(case.case.title, 200), room, SMALL)
    for words, high, colour in [*[(words, size, INK) for words in title[:2]], (sheet.lines_of(line, room, SMALL)[0], SMALL, FAINT)]:
        sheet.text(8.0, SECTION_HEIGHT - top, words, high, va="top", color=colour)
        top += 0.48 * high if high == LARGE else 3.3
    if case.case.invented:
        sheet.text(SECTION_WIDTH - 9.0, SECTION_HEIGHT - 9.0, "INVENTED: nobody's hardware", NORMAL, ha="right", va="top",
                   weight="bold", color=ALARM, box=INVENTED_BADGE)  # fmt: skip


def _foot(d: Drawing) -> None:
    """Fluids by hatch, colour and word; what is assumed; the caution."""
    from matplotlib.patches import Rectangle

    sheet, x, y = d.sheet, 10.0, FOOT_TOP
    wet = d.case.oxidizer is not None
    for kind, one in LOOKS.items():
        if kind == "oxidizer" and not wet:
            continue
        word = one.word
        if kind == "chamber":
            word = "combustion chamber" if d.case.chamber is not None else "outside"
        if kind == "fuel" and not wet:
            word = "fuel side, no propellant"
        sheet.axes.add_artist(Rectangle((x, y), 8.0, 3.4, facecolor=one.fill, edgecolor=one.line, hatch=one.hatch, linewidth=0.6))
        sheet.text(x + 9.5, y + 0.4, word, SMALL)
        x += 15.0 + sheet.width_of(word, SMALL)
    said = f"To scale: what the case gives. Assumed, not given: {', '.join(d.stack.assumed)}. Also: {'; '.join(d.stack.notes)}."
    for number, line in enumerate(sheet.lines_of(said, SECTION_WIDTH - 20.0, SMALL)):
        sheet.text(10.0, y - 4.0 - 3.7 * number, line, SMALL)
    sheet.text(SECTION_WIDTH / 2, BOTTOM, CAUTION, SMALL, ha="center", va="bottom", color=FAINT)
