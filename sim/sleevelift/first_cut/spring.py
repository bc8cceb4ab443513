"""The closing spring: standard wire, quarter-turn coils, the least rate that holds EN 13906-1.

    corrected stress at full lift + v sqrt(2 G rho) <= 0.56 R_m      v: the sleeve's speed at impact (stress wave in the wire)
    uncorrected stress at solid length               <= 0.56 R_m
    gaps at full lift >= those of the standard, index 4 to 12, no buckling between parallel ends, slips over the post

The formulas stand in `sizing/spring_design.py`. The least rate because k x is force that the gas must add to hold full lift.
"""

import math
from typing import NamedTuple

from sleevelift.sizing import spring_design as design

WIRE = "EN 10270-1 SH"
INDEX = (4.0, 12.0)
"""-. Coiling without trouble; the standard allows 4 to 20."""
COILS = (3.0, 14.0)
"""-. Active coils looked at, in quarter turns."""
END_COILS = 2.0
"""-. Closed and ground ends."""
CLEARANCE = 0.5e-3
"""m. Radial, to the post inside and the cylinder outside, at least; and 2 % of the diameter."""
SLENDER = 4.0
"""-. Free length over mean diameter, at most: common practice, no source."""
CUPS = (1.15, 1.3, 1.5, 1.75, 2.0, 2.5)
"""-. Outer diameters of a spring cup over the piston, tried in this order where the spring does not fit the piston's bore."""
STEPS = 12
"""Mean diameters looked at per wire."""


class Wound(NamedTuple):
    """A spring that holds, SI."""

    wire: float
    mean: float
    active: float
    total: float
    free_length: float
    preload: float
    state: design.SpringState
    permissible: float
    """Pa"""
    impact_stress: float
    """Pa"""
    cup: bool
    """its outside is wider than the piston: it needs a cup of its own"""


def candidate(wire: float, mean: float, active: float, preload: float, stroke: float, speed: float) -> Wound | None:
    """A spring of these, if it keeps every rule."""
    grade = design.WIRES[WIRE]
    rate = design.spring_rate(wire, mean, active, grade.shear_modulus)
    free = math.ceil((_seated(wire, mean, active, stroke) + preload / rate) * 1e4) / 1e4
    state = design.spring_state(
        wire_diameter=wire, mean_diameter=mean, active_coils=active, total_coils=active + END_COILS, free_length=free,
        preload=preload, stroke=stroke, shear_modulus=grade.shear_modulus, elastic_modulus=grade.elastic_modulus,
        density=grade.density,
    )  # fmt: skip
    permissible = design.permissible_solid_stress(design.tensile_strength(WIRE, wire))
    impact = speed * math.sqrt(2.0 * grade.shear_modulus * grade.density)
    holds = (
        state.gap_left >= state.gap_needed
        and state.stress_solid <= permissible
        and state.stress_lifted + impact <= permissible
        and state.buckling_travel > preload / rate + stroke
        and free <= SLENDER * mean
    )
    return Wound(wire, mean, active, active + END_COILS, free, preload, state, permissible, impact, False) if holds else None


def _seated(wire: float, mean: float, active: float, stroke: float) -> float:
    """Shortest length seated (m): solid, the gaps of the standard, the stroke, a little to spare."""
    solid = design.solid_length(active + END_COILS, wire)
    return solid + 1.05 * design.minimum_gaps(wire, mean, active) + stroke


def wound(preload: float, stroke: float, post: float, piston: float, speed: float) -> Wound | None:
    """The spring of least rate for `preload` (N) and `stroke` (m) between post and piston (m), else in a wider cup; or None."""
    inner = 1.02 * post + 2.0 * CLEARANCE
    inside = 0.98 * piston - 2.0 * CLEARANCE
    for outer, cup in ((inside, False), *((share * piston, True) for share in CUPS)):
        best: Wound | None = None
        for wire in design.wire_diameters(0.3e-3, 20e-3):
            low, high = max(inner + wire, INDEX[0] * wire), min(outer - wire, INDEX[1] * wire)
            if low > high:
                continue
            for step in range(STEPS):
                mean = round((low + (high - low) * step / (STEPS - 1)) * 1e4) / 1e4
                best = _softer(best, wire, mean, preload, stroke, speed)
        if best is not None:
            return best._replace(cup=cup)
    return None


def _softer(best: Wound | None, wire: float, mean: float, preload: float, stroke: float, speed: float) -> Wound | None:
    """The softest spring of this wire and mean diameter if it is softer than `best`, else `best`."""
    active = COILS[1]
    grade = design.WIRES[WIRE]
    static = design.corrected_shear_stress(preload, wire, mean)
    if static > design.permissible_solid_stress(design.tensile_strength(WIRE, wire)):
        return best
    while active >= COILS[0]:
        if best is not None and design.spring_rate(wire, mean, active, grade.shear_modulus) >= best.state.rate:
            return best
        found = candidate(wire, mean, active, preload, stroke, speed)
        if found is not None:
            return found
        active -= 0.25
    return best
