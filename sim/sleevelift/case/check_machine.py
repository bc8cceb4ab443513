"""Checks between the keys of what moves: diameters, volumes, spring, seals."""

import math

from sleevelift.case.check_parts import Faults, missing, refused
from sleevelift.case.facts import Facts
from sleevelift.sizing.spring_design import solid_length, spring_rate

SMALLEST_VOLUME = 1e-10
"""m3. The smallest gas volume that a case may have anywhere."""
DIAMETERS = ("post_diameter", "nose_diameter", "seat_diameter", "rod_diameter", "piston_diameter")


def diameters_in_order(facts: Facts) -> Faults:
    """post < nose <= seat <= rod < piston; nose = seat only with the contact edge on the sleeve."""
    say = facts.length
    for smaller, larger in zip(DIAMETERS, DIAMETERS[1:]):
        sizes = facts.numbers(f"sleeve.{smaller}", f"sleeve.{larger}")
        if not sizes:
            continue
        may_equal = larger in ("seat_diameter", "rod_diameter")
        if sizes[1] < sizes[0] or (sizes[1] == sizes[0] and not may_equal):
            relation = "at least" if may_equal else "larger than"
            rule = f"must be {relation} {smaller} ({say(sizes[0])}): post < nose <= seat <= rod < piston"
            yield refused(facts, f"sleeve.{larger}", rule)
    cone = facts.numbers("sleeve.nose_diameter", "sleeve.seat_diameter")
    if cone and cone[0] == cone[1] and facts.get("seat.edge") == "seat":
        yield refused(facts, "seat.edge", 'must be "sleeve" where nose and seat diameter are equal (there is no cone on the nose)')


def spring_side_keeps_volume(facts: Facts) -> Faults:
    """The spring side is not used up at full lift."""
    sizes = facts.numbers("spring_side.volume", "sleeve.piston_diameter", "sleeve.post_diameter", "sleeve.stroke")
    if not sizes:
        return
    volume, piston, post, stroke = sizes
    swept = 0.25 * math.pi * (piston**2 - post**2) * stroke
    if volume - swept < SMALLEST_VOLUME:
        rule = f"must be larger than what the piston sweeps up to full lift, {facts.reader.text('volume', swept)}"
        yield refused(facts, "spring_side.volume", rule)


def spring_known(facts: Facts) -> Faults:
    """Rate and mass are given, or the wire from which they follow."""
    if not facts.has("spring"):
        return
    wire = ("wire_diameter", "mean_diameter", "active_coils")
    if not facts.has("spring.rate") and not all(facts.has(f"spring.{name}") for name in wire):
        yield missing("spring.rate", "is missing: give it, or wire_diameter, mean_diameter and active_coils")
    wire = ("wire_diameter", "mean_diameter", "total_coils")
    if not facts.has("spring.mass") and not all(facts.has(f"spring.{name}") for name in wire):
        yield missing("spring.mass", "is missing: give it, or wire_diameter, mean_diameter and total_coils")


def _rate(facts: Facts) -> float | None:
    """N/m, given or from the wire."""
    rate: float | None = facts.get("spring.rate")
    if rate is not None or facts.has("spring.rate"):
        return rate
    names = ("wire_diameter", "mean_diameter", "active_coils", "shear_modulus")
    wire = facts.numbers(*(f"spring.{name}" for name in names))
    return spring_rate(wire[0], wire[1], wire[2], wire[3]) if wire else None


def spring_fits(facts: Facts) -> Faults:
    """Coils in order; full lift lies above the solid length."""
    say = facts.length
    sizes = facts.numbers("spring.wire_diameter", "spring.mean_diameter")
    if sizes and not sizes[1] > 2.0 * sizes[0]:
        rule = f"must be more than twice wire_diameter ({say(sizes[0])}): a spring index of 2 cannot be wound"
        yield refused(facts, "spring.mean_diameter", rule)
    coils = facts.numbers("spring.active_coils", "spring.total_coils")
    if coils and coils[1] < coils[0]:
        yield refused(facts, "spring.total_coils", f"must be at least active_coils ({coils[0]:g})")
    lengths = facts.numbers("spring.free_length", "spring.preload", "sleeve.stroke")
    rate = _rate(facts)
    if not lengths or rate is None or not rate > 0.0:
        return
    free, preload, stroke = lengths
    compressed = free - preload / rate - stroke
    wire = facts.numbers("spring.total_coils", "spring.wire_diameter")
    solid = solid_length(wire[0], wire[1]) if wire else 0.0
    if compressed < solid or compressed <= 0.0:
        taken = preload / rate + stroke
        rule = (
            f"is too short: preload / rate ({say(preload / rate)}) and stroke ({say(stroke)}) leave {say(compressed)} at full "
            f"lift, and the coils touch at {say(solid)}; it takes more than {say(solid + taken)}, or less preload or stroke"
        )
        yield refused(facts, "spring.free_length", rule)


def seals_known(facts: Facts) -> Faults:
    """Friction of each seal is given, or its groove and hardness."""
    say = facts.length
    for seal in ("post", "rod", "piston"):
        table = f"seals.{seal}"
        if not facts.has(table):
            continue
        given = [name for name in ("squeeze_friction", "pressure_coefficient") if facts.has(f"{table}.{name}")]
        gland = [name for name in ("groove_depth", "hardness") if facts.has(f"{table}.{name}")]
        if len(given) != 2 and len(gland) != 2:
            yield missing(table, "needs squeeze_friction and pressure_coefficient, or groove_depth and hardness")
        rubbing = facts.numbers(f"sleeve.{seal}_diameter", f"{table}.cord")
        if rubbing and not rubbing[1] < 0.5 * rubbing[0]:
            yield refused(facts, f"{table}.cord", f"must be below half of {seal}_diameter ({say(rubbing[0])})")
        sizes = facts.numbers(f"{table}.cord", f"{table}.groove_depth")
        if sizes and not 0.5 * sizes[0] <= sizes[1] < sizes[0]:
            rule = f"must be below the cord ({say(sizes[0])}) and at least half of it (a seal is squeezed, not crushed)"
            yield refused(facts, f"{table}.groove_depth", rule)
        width = facts.numbers(f"{table}.cord", f"{table}.groove_width")
        if width and width[1] < width[0]:
            yield refused(facts, f"{table}.groove_width", f"must be at least the cord ({say(width[0])})")
        if facts.has(f"{table}.leak_clearance") != facts.has(f"{table}.leak_length"):
            yield missing(table, "needs leak_clearance and leak_length together, or neither")
