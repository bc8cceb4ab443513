"""Outlines of parts and fluids in the half-plane (z along the axis, r from it), m; the sleeve at any lift.

sleeve(stack, lift), housing(stack), post(stack) -> [(z, r), ...]     closed polygons, first point not repeated
fluids(stack, lift) -> [Fluid, ...]                                   drawn below the parts, which cover what they fill
pushes(stack) -> [Push, ...]                                          the five axial areas
"""

import math
from typing import NamedTuple

from sleevelift.section.stack import Groove, Stack

Outline = list[tuple[float, float]]


class Fluid(NamedTuple):
    """What fills a space."""

    kind: str
    """oxidizer, fuel, lift, spring or chamber"""
    outline: Outline


class Push(NamedTuple):
    """One of the five axial areas of the sleeve."""

    number: int
    name: str
    """a field of `AxialAreas`"""
    kind: str
    """of the fluid that presses"""
    pressure: str
    inner: float
    outer: float
    """radii, m"""
    at: float
    """station of the surface with the valve shut, m"""
    opens: bool


def _notch(at: float, width: float, surface: float, bottom: float) -> Outline:
    """A groove met while going up the axis along a surface: its corners."""
    low, high = at - 0.5 * width, at + 0.5 * width
    return [(low, surface), (low, bottom), (high, bottom), (high, surface)]


def sleeve(stack: Stack, lift: float = 0.0) -> Outline:
    """The sleeve: skirt, nose with cone or edge, rod, piston, with the grooves of piston and post ring."""
    r, z = stack.r, stack.z
    outer = [(0.0, r.nose), (z.cone_low, r.nose), (z.spigot_end, r.spigot), (z.seat, r.spigot), (z.seat, r.seat), (z.neck, r.seat)]
    outer += [(z.rod_start, r.rod), (z.under, r.rod), (z.under, r.piston)]
    outer += _notch(stack.piston_groove_at, stack.piston_groove.width, r.piston, r.piston - stack.piston_groove.depth)
    outer += [(z.top, r.piston), (z.top, r.sleeve_bore)]
    groove = _notch(stack.post_groove_at, stack.post_groove.width, r.sleeve_bore, r.post + stack.post_groove.depth)
    return _moved([*outer, *groove[::-1], (0.0, r.sleeve_bore)], lift)


def housing(stack: Stack) -> Outline:
    """The housing: annulus, seat, manifold, rod gland, cylinder, end cap."""
    r, z = stack.r, stack.z
    floor = z.seat if not stack.edge_on_sleeve else min(z.seat + 0.5 * (z.neck - z.seat), z.rod_start)
    inner = [(z.face, r.annulus), (z.annulus_end, r.annulus), (z.bore_start, r.seat), (z.seat, r.seat)]
    if stack.edge_on_sleeve:
        inner.append((floor, min(r.seat + (floor - z.seat) * math.tan(stack.half_angle), r.manifold)))
    inner += [(floor, r.manifold), (z.gland, r.manifold), (z.gland, r.rod)]
    inner += _notch(stack.rod_groove_at, stack.rod_groove.width, r.rod, r.rod + stack.rod_groove.depth)
    inner += [(z.chamber, r.rod), (z.chamber, r.piston)]
    if r.spring > r.piston:
        inner += [(z.top, r.piston), (z.top, r.spring)]
    inner += [(z.cap, r.spring), (z.cap, r.post), (z.end, r.post)]
    return [*inner, (z.end, r.housing), (z.face, r.housing)]


def post(stack: Stack) -> Outline:
    """The post, closed at its tip; slots are cut out of it by `slots`."""
    r, z = stack.r, stack.z
    inside = z.tip + (r.post - r.post_bore)
    return [(z.tip, 0.0), (z.tip, r.post), (z.post_end, r.post), (z.post_end, r.post_bore), (inside, r.post_bore), (inside, 0.0)]


def slots(stack: Stack) -> list[Outline]:
    """The rows of slots where the section plane cuts them."""
    return [_box(low, high, stack.r.post_bore, stack.r.post) for low, high in stack.windows]


def _box(low: float, high: float, inner: float, outer: float) -> Outline:
    return [(low, inner), (high, inner), (high, outer), (low, outer)]


def _spring_side(stack: Stack, lift: float) -> Outline:
    """Around the spring, from the sleeve's top to the cap; a cup of its own begins where the top stands shut."""
    r, z = stack.r, stack.z
    if r.spring <= r.piston:
        return _box(z.top + lift, z.cap, r.post, r.piston)
    top = [(z.top + lift, r.post), (z.top + lift, r.piston), (z.top, r.piston), (z.top, r.spring)]
    return _moved([*top, (z.cap, r.spring), (z.cap, r.post)], 0.0)


def _moved(outline: Outline, lift: float) -> Outline:
    """Along the axis by the lift; points that coincide once."""
    out: Outline = []
    for place, radius in outline:
        point = (place + lift, radius)
        if not out or point != out[-1]:
            out.append(point)
    return out


def fluids(stack: Stack, lift: float, wet: bool) -> list[Fluid]:
    """What fills each space at a lift; wet: with propellants. Below the seat stands the chamber, once open the fuel."""
    r, z = stack.r, stack.z
    inside, margin = z.tip + (r.post - r.post_bore), 0.5 * (z.face - z.tip)
    below = "fuel" if lift > 0.0 and wet else "chamber"
    out = [
        Fluid(
            "chamber",
            [
                (z.tip - margin, 0.0),
                (z.tip, 0.0),
                (z.tip, r.post),
                (z.face, r.post),
                (z.face, r.housing),
                (z.tip - margin, r.housing),
            ],
        ),
        Fluid(below, _box(z.face, z.seat, r.post, max(r.annulus, r.seat))),
        Fluid("fuel", _box(z.seat, z.gland, r.post, r.manifold)),
        Fluid("lift", _box(z.chamber, z.under + lift, r.rod, r.piston)),
        Fluid("spring", _spring_side(stack, lift)),
    ]
    if wet:
        out.append(Fluid("oxidizer", _box(inside, z.post_end, 0.0, r.post_bore)))
    return out


def pushes(stack: Stack) -> list[Push]:
    """The five axial areas, from the chamber's end to the spring's."""
    r, z = stack.r, stack.z
    return [
        Push(1, "face", "chamber", "p_c", r.post, r.nose, 0.0, True),
        Push(2, "nose", "chamber", "p_i", r.nose, r.seat, 0.5 * (z.cone_low + z.spigot_end), True),
        Push(3, "fuel_opening", "fuel", "p_f", r.seat, r.rod, 0.5 * (z.neck + z.rod_start), True),
        Push(4, "lift", "lift", "p_l", r.rod, r.piston, z.under, True),
        Push(5, "top", "spring", "p_s", r.post, r.piston, z.top, False),
    ]


class Ring(NamedTuple):
    """A ring in its groove: an ellipse of the cord's section, m."""

    name: str
    at: float
    radius: float
    along: float
    """diameter along the axis"""
    across: float


def rings(stack: Stack, lift: float) -> list[Ring]:
    """The three rings, squeezed to their groove's depth at constant section; no wider than the groove."""
    r = stack.r

    def ring(name: str, groove: Groove, at: float, surface: float, outwards: bool) -> Ring:
        across = min(groove.depth, groove.cord)
        along = min(groove.cord**2 / across, groove.width)
        return Ring(name, at, surface + (0.5 if outwards else -0.5) * across, along, across)

    return [
        ring("post", stack.post_groove, stack.post_groove_at + lift, r.post, True),
        ring("rod", stack.rod_groove, stack.rod_groove_at, r.rod, True),
        ring("piston", stack.piston_groove, stack.piston_groove_at + lift, r.piston, False),
    ]
