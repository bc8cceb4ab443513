"""Parts that would cross: what the case's own numbers put in one place, though each of them is allowed.

      cylinder   |=============================|      r_piston
      spring     |  (O)   (O)   (O)   (O)      |      mean radius +- wire/2, around the post, within cylinder or cup
      post       |_____________________________|      r_post

Only what a case gives is held against each other: walls that it does not give may be as thick or thin as they must be.
"""

import math

from sleevelift.case.check_parts import Faults, refused
from sleevelift.case.facts import Facts
from sleevelift.case.schema_liquid import MOST_SLOT_ROWS

SHAPES = ("rectangular", "round", "obround")
LEAST_DEPTH = 0.5
"""-. A groove is at least this share of its cord deep (a seal is squeezed, not crushed)."""
STEPS = 40
"""Heights at which rows of slots that lie beside each other are added up."""


def spring_clears_post_and_cylinder(facts: Facts) -> Faults:
    """The coils go around the post and into the cylinder, or a cup of their own."""
    say = facts.length
    wire = facts.numbers("spring.mean_diameter", "spring.wire_diameter")
    if not wire or not wire[0] > 2.0 * wire[1]:
        return
    inside, outside = wire[0] - wire[1], wire[0] + wire[1]
    post, piston = facts.get("sleeve.post_diameter"), facts.get("sleeve.piston_diameter")
    if post is not None and inside <= post:
        rule = f"leaves the coils {say(inside)} inside: they cut into the post ({say(post)}), around which the spring stands"
        yield refused(facts, "spring.mean_diameter", rule)
    cup = facts.get("spring.cup_diameter")
    room, where = (piston, "cylinder") if cup is None else (cup, "cup")
    if room is not None and outside >= room:
        rule = f"makes the coils {say(outside)} outside: they cut into the {where} ({say(room)}), in which the spring stands"
        if cup is None:
            rule += "; one that stands in a wider cup of its own has a cup_diameter"
        yield refused(facts, "spring.mean_diameter", rule)


def rings_leave_sleeve(facts: Facts) -> Faults:
    """The grooves in the sleeve end within it: the post ring's goes outwards from the bore, the piston ring's inwards."""
    say = facts.length
    sizes = facts.numbers("sleeve.post_diameter", "sleeve.piston_diameter")
    if not sizes or not sizes[0] < sizes[1]:
        return
    clearance = facts.get("slots.clearance") or 0.0
    wall = 0.5 * (sizes[1] - sizes[0])
    for ring, start, outwards in (("post", "the post", True), ("piston", "the cylinder", False)):
        table = f"seals.{ring}"
        cord, depth, floor = (facts.get(f"{table}.{name}") for name in ("cord", "groove_depth", "groove_diameter"))
        diameter = sizes[0] if ring == "post" else sizes[1]
        if floor is not None and (floor > diameter) != outwards:
            continue  # the groove is in the other part
        key = "groove_depth" if depth is not None else "groove_diameter" if floor is not None else "cord"
        if depth is None and floor is not None:
            depth = 0.5 * abs(floor - diameter)
        if depth is None and cord is None:
            continue
        least = LEAST_DEPTH * cord if depth is None else depth
        room = wall if ring == "post" else wall - clearance
        if least >= room:
            what = f"its groove, at least {say(least)} deep" if key == "cord" else f"the groove, {say(least)} deep"
            rule = f"{what} from {start}, must end within the sleeve, whose wall at the piston is {say(room)}"
            yield refused(facts, f"{table}.{key}", rule)


def chord(shape: str, height: float, width: float, at: float) -> float:
    """Width of a slot around the post, m, at a height (m) above its lowest point; 0 outside it."""
    if not 0.0 < at < height:
        return 0.0
    if shape == "rectangular":
        return width
    if shape == "round" or width >= height:  # round ends at the sides
        straight = 0.0 if shape == "round" else width - height
        return straight + 2.0 * math.sqrt(at * (height - at))
    edge = min(at, height - at)
    return width if edge >= 0.5 * width else 2.0 * math.sqrt(edge * (width - edge))


def rows_of_slots_leave_post(facts: Facts) -> Faults:
    """Rows that lie at the same height fit around the post together."""
    say = facts.length
    post = facts.get("sleeve.post_diameter")
    rows = []
    for number in range(min(facts.count("slots.row"), MOST_SLOT_ROWS)):
        row = f"slots.row.{number}"
        values = [facts.get(f"{row}.{name}") for name in ("lap", "height", "count", "shape")]
        width = facts.get(f"{row}.width") if facts.has(f"{row}.width") else values[1]
        if post is None or width is None or any(value is None for value in values) or values[3] not in SHAPES:
            return
        if values[2] * width >= math.pi * post:
            return  # told elsewhere
        rows.append((values[0], values[1], values[2], values[3], width))
    for number, (lap, height, *_) in enumerate(rows):
        heights = [lap + height * (i + 0.5) / STEPS for i in range(STEPS)]
        taken = [sum(n * chord(shape, h, w, at - low) for low, h, n, shape, w in rows[: number + 1]) for at in heights]
        if max(taken, default=0.0) >= math.pi * post:
            at = heights[taken.index(max(taken))]
            rule = (
                f"at a lift of {say(at)} this row and those before it take {say(max(taken))} around a post of "
                f"{say(math.pi * post)}: they run into each other"
            )
            yield refused(facts, f"slots.row.{number}.lap", rule)


def spigot_clears_nose(facts: Facts) -> Faults:
    """The spigot is no narrower than the nose below it."""
    say = facts.length
    sizes = facts.numbers("sleeve.nose_diameter", "sleeve.seat_diameter", "seat.spigot_clearance")
    if not sizes or not facts.get("seat.spigot_length") or not sizes[0] < sizes[1]:
        return
    spigot = sizes[1] - 2.0 * sizes[2]
    post = facts.get("sleeve.post_diameter")
    if spigot < sizes[0] and (post is None or spigot > post):
        nose = say(sizes[0])
        rule = f"leaves a spigot of {say(spigot)}, narrower than the nose below it ({nose}), which then is the narrower gap"
        yield refused(facts, "seat.spigot_clearance", rule)
