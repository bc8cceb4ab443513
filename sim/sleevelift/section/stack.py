"""Radii and stations along the axis of a valve, from the case's own numbers; what a case does not give is assumed and said.

    z = 0 at the skirt's end with the valve shut, opening positive; all in m

     tip  0  face    seat  rod_start  gland      chamber  under  top                  cap  end
      |   |   |        |       |        |           |       |     |                     |   |
     post  skirt  annulus  nose cone  rod in the gland  lift chamber  piston    spring   end cap

A case gives diameters, stroke, slots, seat, annulus, spring, rings and volumes, but no wall thickness and no length of any part:
those are shares of the piston's diameter here (`WALLS`), chosen so that a drawing of the valve can be read.
"""

import math
from typing import NamedTuple

from sleevelift.case.schema import Case
from sleevelift.case.schema_machine import Seal
from sleevelift.physics.sleeve import axial_areas
from sleevelift.sizing.spring_design import minimum_gaps, solid_length

GLAND_WALL, SHORT_WALL, OUTER_WALL, CAP_WALL = 0.05, 0.02, 0.08, 0.14
"""-. Walls beside a groove, smallest lengths, housing, end cap, as shares of the piston's diameter: assumed."""
POST_BORE = 0.66
"""-. Bore of the post as a share of its diameter: assumed."""
MANIFOLD_DEPTH, MANIFOLD_LENGTH = 0.10, 0.24
"""-. What is drawn of the fuel manifold, as shares of the piston's diameter: assumed."""
GROOVE_DEPTH, GROOVE_WIDTH = 0.85, 1.4
"""-. Groove of a ring whose gland is not given, over its cord: assumed (common practice, no source)."""
LONGEST_CHAMBER = 1.0
"""-. The lift chamber is drawn no longer than that, over the piston's diameter."""
ASSUMED_HALF_ANGLE = math.pi / 4
"""rad. Of the seat where a case has none."""


class Groove(NamedTuple):
    """A groove and the cord in it, m."""

    cord: float
    depth: float
    width: float


class Radii(NamedTuple):
    """m, from the axis outwards."""

    post_bore: float
    post: float
    sleeve_bore: float
    nose: float
    spigot: float
    """of the seat where there is no spigot"""
    seat: float
    annulus: float
    """outer radius of the annulus below the seat"""
    rod: float
    piston: float
    spring: float
    """of the room the spring stands in: the cylinder, or a cup of its own"""
    manifold: float
    housing: float


class Stations(NamedTuple):
    """m along the axis with the valve shut."""

    tip: float
    face: float
    """the housing's face at the chamber"""
    annulus_end: float
    bore_start: float
    cone_low: float
    """where the nose's cone leaves the skirt"""
    spigot_end: float
    seat: float
    neck: float
    """end of the edge's cylinder, where the edge is on the sleeve; else the seat"""
    rod_start: float
    gland: float
    chamber: float
    under: float
    """underside of the piston"""
    top: float
    cap: float
    end: float
    post_end: float


class Coils(NamedTuple):
    """The spring's wire, m."""

    wire: float
    mean: float
    active: float
    total: float


class Stack(NamedTuple):
    """All that an outline needs."""

    r: Radii
    z: Stations
    stroke: float
    edge_on_sleeve: bool
    half_angle: float
    windows: tuple[tuple[float, float], ...]
    """lowest and highest station of each row of slots"""
    post_groove: Groove
    post_groove_at: float
    """middle of the groove in the sleeve's bore"""
    rod_groove: Groove
    rod_groove_at: float
    piston_groove: Groove
    piston_groove_at: float
    coils: Coils | None
    assumed: tuple[str, ...]
    """what the case does not give"""
    notes: tuple[str, ...]
    """what of the case is drawn otherwise than given"""


def groove_of(seal: Seal, diameter: float) -> Groove:
    """Groove as given (by depth, or by its floor against the rubbing diameter, m), else in proportion to the cord."""
    depth = GROOVE_DEPTH * seal.cord if seal.groove_depth is None else seal.groove_depth
    if seal.groove_depth is None and seal.groove_diameter is not None:
        depth = 0.5 * abs(seal.groove_diameter - diameter)
    width = GROOVE_WIDTH * seal.cord if seal.groove_width is None else seal.groove_width
    return Groove(seal.cord, depth, width)


def grooves_of(case: Case) -> dict[str, Groove]:
    """The three sliding seals' grooves."""
    return {
        name: groove_of(getattr(case.seals, name), getattr(case.sleeve, f"{name}_diameter")) for name in ("post", "rod", "piston")
    }


def annulus_radius(nose_diameter: float, area: float) -> float:
    """Outer radius, m, of a ring of that area (m2) around a skirt of that diameter (m).

    >>> round(2e3 * annulus_radius(0.0176, 22e-6), 3)
    18.378
    """
    return math.sqrt(0.25 * nose_diameter**2 + area / math.pi)


def installed_length(case: Case) -> tuple[float, str]:
    """(length of the spring with the valve shut, m; what was assumed for it, if anything)."""
    s = case.spring
    if s.free_length is not None:
        return s.free_length - s.preload / s.rate, ""
    if s.wire_diameter and s.mean_diameter and s.active_coils:
        total = s.total_coils or s.active_coils + 2.0
        least = solid_length(total, s.wire_diameter) + minimum_gaps(s.wire_diameter, s.mean_diameter, s.active_coils)
        return least + case.sleeve.stroke, "free length of the spring"
    return 1.5 * case.sleeve.piston_diameter + case.sleeve.stroke, "length of the spring"


def coils_of(case: Case) -> Coils | None:
    """The spring's wire where it is given; two closed ends where only active coils are."""
    s = case.spring
    if not (s.wire_diameter and s.mean_diameter and s.active_coils):
        return None
    return Coils(s.wire_diameter, s.mean_diameter, s.active_coils, s.total_coils or s.active_coils + 2.0)


def windows_of(case: Case) -> tuple[tuple[float, float], ...]:
    """Lowest and highest station of each row of slots, m."""
    if case.slots is None:
        return ()
    if case.slots.table is not None:
        lifts, areas = case.slots.table.lift, case.slots.table.area
        opened = [lift for lift, area in zip(lifts, areas) if area > areas[0]]
        closed = [lift for lift, area in zip(lifts, areas) if area <= areas[0]]
        return ((closed[-1], opened[-1]),) if opened and closed else ()
    return tuple((row.lap, row.lap + row.height) for row in case.slots.row)


def radii_of(case: Case) -> Radii:
    """Radii of every part."""
    s, size = case.sleeve, case.sleeve.piston_diameter
    clearance = case.slots.clearance if case.slots is not None else 0.0
    seat, area, spigot = 0.5 * s.seat_diameter, None, 0.0
    if case.seat is not None:
        area = case.seat.annulus_area
        spigot = case.seat.spigot_clearance or 0.0 if case.seat.spigot_length else 0.0
    annulus = annulus_radius(s.nose_diameter, area) if area is not None else max(seat, 0.5 * s.nose_diameter + SHORT_WALL * size)
    rod, piston = 0.5 * s.rod_diameter, 0.5 * s.piston_diameter
    manifold = rod + MANIFOLD_DEPTH * size
    spring = max(piston, 0.5 * (case.spring.cup_diameter or 0.0))
    outermost = max(manifold, spring, annulus, rod + grooves_of(case)["rod"].depth)
    return Radii(
        POST_BORE * 0.5 * s.post_diameter, 0.5 * s.post_diameter, 0.5 * s.post_diameter + clearance, 0.5 * s.nose_diameter,
        seat - spigot, seat, annulus, rod, piston, spring, manifold, outermost + OUTER_WALL * size,
    )  # fmt: skip


class _Front(NamedTuple):
    """Stations from the tip to the rod, and what makes them."""

    tip: float
    face: float
    annulus_end: float
    bore_start: float
    cone_low: float
    spigot_end: float
    seat: float
    neck: float
    rod_start: float


def _front(case: Case, r: Radii, half_angle: float, on_sleeve: bool, windows: tuple[tuple[float, float], ...]) -> _Front:
    """Stations of skirt, annulus, seat and nose."""
    size, stroke = case.sleeve.piston_diameter, case.sleeve.stroke
    spigot = case.seat.spigot_length if case.seat is not None else 0.0
    short, slope = SHORT_WALL * size, math.tan(half_angle)
    wall = r.post - r.post_bore
    face = max([stroke, *[high for _, high in windows]]) + 0.5 * short
    least = 0.0 if on_sleeve else max(min(r.annulus, r.seat) - r.nose, 0.0) / slope
    annulus_end = face + max(2.0 * short, least)
    bore_start = annulus_end + max(r.seat - r.annulus, 0.0) / slope
    room = short if spigot or not on_sleeve or r.annulus >= r.seat else 0.0
    seat = bore_start + room + spigot
    cone_low = seat - spigot - (0.0 if on_sleeve else (r.spigot - r.nose) / slope)
    neck = seat + (0.10 * size if on_sleeve else 0.0)
    rod_start = neck + (r.rod - r.seat) / (1.0 if on_sleeve else slope)
    return _Front(-wall - short, face, annulus_end, bore_start, cone_low, seat - spigot, seat, neck, rod_start)


def stack_of(case: Case) -> Stack:
    """The whole stack of a case."""
    s, size, r = case.sleeve, case.sleeve.piston_diameter, radii_of(case)
    windows = windows_of(case)
    half_angle = case.seat.half_angle if case.seat is not None else ASSUMED_HALF_ANGLE
    on_sleeve = case.seat.edge == "sleeve" if case.seat is not None else r.nose == r.seat
    f = _front(case, r, half_angle, on_sleeve, windows)
    grooves = grooves_of(case)
    wall = GLAND_WALL * size
    gland = max(f.rod_start + s.stroke + 0.4 * wall, f.seat + MANIFOLD_LENGTH * size)
    chamber = gland + 2.0 * wall + grooves["rod"].width
    area = axial_areas(s.post_diameter, s.nose_diameter, s.seat_diameter, s.rod_diameter, s.piston_diameter).lift
    true_height = case.lift_chamber.dead_volume / area
    height = min(true_height, LONGEST_CHAMBER * size)
    under = chamber + height
    in_flange = grooves["post"].depth + 0.5 * wall > r.rod - r.sleeve_bore
    extra = grooves["post"].width + wall if in_flange else 0.0
    top = under + extra + 2.0 * wall + grooves["piston"].width
    length, spring_assumed = installed_length(case)
    cap = top + length
    end = cap + CAP_WALL * size
    z = Stations(*f, gland, chamber, under, top, cap, end, end + GLAND_WALL * size * 2.0)
    at = under + wall + 0.5 * grooves["post"].width if in_flange else under - 0.5 * wall - 0.5 * grooves["post"].width
    return Stack(
        r, z, s.stroke, on_sleeve, half_angle, windows, grooves["post"], at, grooves["rod"],
        gland + wall + 0.5 * grooves["rod"].width, grooves["piston"], top - wall - 0.5 * grooves["piston"].width,
        coils_of(case), _assumed(case, spring_assumed), _notes(case, r, true_height > height),
    )  # fmt: skip


def _assumed(case: Case, spring: str) -> tuple[str, ...]:
    """What the case does not give and the drawing needs, in words."""
    out = ["bore of the post", "wall and length of housing, post, sleeve and piston", "places of ports and rings", "fuel manifold"]
    seals = [getattr(case.seals, name) for name in ("post", "rod", "piston")]
    if any(seal.groove_depth is None and seal.groove_diameter is None for seal in seals):
        out.append(f"grooves ({GROOVE_DEPTH:g} x {GROOVE_WIDTH:g} cords)")
    if case.seat is None:
        out.append("seat and cone (45 deg)")
    if case.seat is None or case.seat.annulus_area is None:
        out.append("bore under the seat")
    if case.spring.wire_diameter and case.spring.active_coils and not case.spring.total_coils:
        out.append("closed coils (two)")
    return tuple([*out, spring] if spring else out)


def _notes(case: Case, r: Radii, shortened: bool) -> tuple[str, ...]:
    """What is drawn otherwise than the numbers say, or cannot be drawn."""
    out = ["the stop is not drawn"]
    if r.spring > r.piston:
        out.append("the plate that carries a spring wider than the piston is not drawn")
    if shortened:
        out.append("lift chamber drawn shortened: its dead volume over the lift area is longer")
    if r.annulus > r.seat and case.seat is not None and case.seat.annulus_area is not None:
        out.append(
            "the annulus is wider than the seat: drawn undercut; the ring within the seat is narrower than the annulus given"
        )
    for name, outwards in (("post", True), ("rod", True), ("piston", False)):
        floor = getattr(case.seals, name).groove_diameter
        if floor is not None and (floor > getattr(case.sleeve, f"{name}_diameter")) != outwards:
            out.append(f"the {name} ring's groove lies on the other side of its rubbing line than drawn")
    if case.slots is not None and case.slots.table is not None:
        out.append("slots given as a table of areas: drawn as one window")
    if case.seat is not None and case.seat.table is not None:
        out.append("seat given as a table of areas: the cone as drawn is not what meters")
    return tuple(out)
