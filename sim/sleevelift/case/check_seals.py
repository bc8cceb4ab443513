"""Checks between the keys of glands: a ring that exists, a groove that is whole and is where the sleeve is."""

from sleevelift.case.check_parts import Faults, missing, refused
from sleevelift.case.facts import Facts
from sleevelift.case.gases import ADMITTED, plain_name
from sleevelift.sizing.gland_bounds import ring_of_code
from sleevelift.sizing.seal_materials import MATERIALS

SEALS = ("post", "rod", "piston", "flange")
SAME_LENGTH = 0.03e-3
"""m. Sizes in inches and in rounded millimetres that name the same thing differ by less."""


def glands_whole(facts: Facts) -> Faults:
    """A ring is one of the tables, its cord the seal's; its groove has width and depth; the material has a code."""
    for seal in SEALS:
        table = f"seals.{seal}"
        if not facts.has(table):
            continue
        material = facts.get(f"{table}.material")
        if isinstance(material, str) and material not in MATERIALS:
            yield refused(facts, f"{table}.material", f"must be one of {', '.join(MATERIALS)}")
        yield from _ring(facts, table)
        yield from _groove(facts, table, seal)


def _ring(facts: Facts, table: str) -> Faults:
    say = facts.length
    code = facts.get(f"{table}.ring")
    if not isinstance(code, str):
        return
    try:
        ring = ring_of_code(code)
    except ValueError as error:
        yield refused(facts, f"{table}.ring", str(error).split("' ", 1)[-1])
        return
    cord = facts.get(f"{table}.cord")
    if cord is not None and abs(cord - ring.cord) > SAME_LENGTH:
        yield refused(facts, f"{table}.cord", f"must be the ring's: {code} has a cord of {say(round(ring.cord, 5))}")
    if not facts.has(f"{table}.groove_width"):
        yield missing(f"{table}.groove_width", "is missing (the gland of a ring has one)")
    if table.endswith("flange"):
        for name in ("groove_depth", "groove_diameter"):
            if not facts.has(f"{table}.{name}"):
                yield missing(f"{table}.{name}", "is missing (the gland of a face seal has one)")
    elif not facts.has(f"{table}.groove_diameter") and not facts.has(f"{table}.groove_depth"):
        yield missing(f"{table}.groove_diameter", "is missing: give it, or groove_depth")


def _groove(facts: Facts, table: str, seal: str) -> Faults:
    """Floor and depth of a groove fit each other and the sleeve."""
    say = facts.length
    if seal == "flange":
        return
    sizes = facts.numbers(f"{table}.groove_diameter", f"sleeve.{seal}_diameter")
    if not sizes:
        return
    floor, facing = sizes
    cord, depth = facts.get(f"{table}.cord"), facts.get(f"{table}.groove_depth")
    room = 0.5 * abs(facing - floor)
    if cord is not None and not 0.3 * cord <= room <= 2.0 * cord:
        rule = f"leaves {say(room)} to {seal}_diameter ({say(facing)}) for a cord of {say(cord)}: no gland"
        yield refused(facts, f"{table}.groove_diameter", rule)
    elif depth is not None and abs(depth - room) > SAME_LENGTH:
        rule = f"is {say(depth)} deep by groove_depth, and {say(room)} by {seal}_diameter ({say(facing)}): give one of the two"
        yield refused(facts, f"{table}.groove_diameter", rule)


def leaks_given_once(facts: Facts) -> Faults:
    """A leak is an area, or what a check showed, or a gap; a check falls, and not below ambient, with a known gas."""
    for seal in ("piston", "post", "outside"):
        area, check, gap = f"seals.{seal}_leak_area", f"seals.{seal}_leak_check", f"seals.{seal}.leak_clearance"
        given = [path for path in (area, check, gap) if facts.has(path)]
        if len(given) > 1 and area in given:
            others = " and ".join(path.removeprefix("seals.") for path in given if path != area)
            yield refused(facts, area, f"is given beside {others}: give one of them")
        elif len(given) > 1:
            yield refused(facts, gap, f"is given beside {seal}_leak_check: give one of the two")
        if facts.has(check):
            yield from _falls(facts, check)


def _falls(facts: Facts, check: str) -> Faults:
    sizes, ambient = facts.numbers(f"{check}.start", f"{check}.end"), facts.get("ambient.pressure")
    if sizes and not sizes[1] <= sizes[0]:
        yield refused(facts, f"{check}.end", "must be no more than start (the volume leaks to ambient)")
    elif sizes and ambient is not None and not ambient <= sizes[1]:
        yield refused(facts, f"{check}.end", "must be at least the ambient pressure it leaks to")
    gas = facts.get(f"{check}.gas")
    if isinstance(gas, str) and plain_name(gas) not in ADMITTED:
        yield refused(facts, f"{check}.gas", f"must be one of {', '.join(ADMITTED)}")
