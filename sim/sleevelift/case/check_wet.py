"""Checks between the keys of the propellant sides and the combustion chamber."""

import math
from difflib import get_close_matches

from sleevelift.case.check_parts import Faults, increases, missing, refused
from sleevelift.case.check_sequence import commanded
from sleevelift.case.facts import Facts
from sleevelift.case.schema_liquid import MOST_SLOT_ROWS
from sleevelift.combustion_tables import mixture_ratios, pairs
from sleevelift.sizing.materials import COLDEST, HOTTEST, METALS


def feeds_complete(facts: Facts) -> Faults:
    """Each feed has an inlet, and a liquid or its properties."""
    for side in ("oxidizer", "fuel"):
        if not facts.has(side):
            continue
        inlets = [name for name in ("inlet_pressure", "inlet_table") if facts.has(f"{side}.{name}")]
        if len(inlets) != 1:
            yield missing(side, "needs inlet_pressure or inlet_table, one of the two")
        if not facts.has(f"{side}.liquid"):
            for name in ("density", "viscosity", "vapour_pressure", "bulk_modulus"):
                if not facts.has(f"{side}.{name}"):
                    yield missing(f"{side}.{name}", "is missing: give it, or name the liquid")
        if facts.has(f"{side}.rated_loss") and not facts.has(f"{side}.rated_flow"):
            yield missing(f"{side}.rated_flow", "is missing (rated_loss is the loss at that flow)")
        volume = facts.get(f"{side}.dribble_volume")
        if volume and not facts.has(f"{side}.dribble_time") and not facts.has(f"{side}.rated_flow"):
            yield missing(f"{side}.dribble_time", "is missing: give it, or rated_flow (dribble_volume drains with it)")


def run_valves_complete(facts: Facts) -> Faults:
    """A run valve has one rating, moves alternately from where it stands, and opens from nothing to all of its area. Where steps of
    the sequence move it too, its own instants are some of them: the sequence leaves out what changes nothing."""
    for side in ("oxidizer", "fuel"):
        path = f"{side}.valve"
        if not facts.has(path):
            continue
        ratings = [name for name in ("kv", "cv", "effective_area") if facts.has(f"{path}.{name}")]
        if len(ratings) != 1:
            yield missing(path, "needs kv, cv or effective_area, one of the three")
        on, off = facts.get(f"{path}.on"), facts.get(f"{path}.off")
        opened = facts.get(f"{path}.open_at_start")
        if isinstance(on, tuple) and isinstance(off, tuple):
            if not increases(on) or not increases(off):
                yield refused(facts, f"{path}.on" if not increases(on) else f"{path}.off", "the instants must increase")
            elif opened is not None and not commanded(facts, path) and not takes_turns(on, off, opened):
                first = "off comes first: it is open at the start" if opened else "on comes first: it is shut at the start"
                yield refused(facts, f"{path}.off" if off else f"{path}.on", f"the valve must open and shut by turns ({first})")
        travel, share = facts.get(f"{path}.travel.travel"), facts.get(f"{path}.travel.share")
        if isinstance(travel, tuple) and isinstance(share, tuple):
            if len(travel) != len(share):
                yield refused(facts, f"{path}.travel.share", f"must have as many entries as travel ({len(travel)})")
            elif not increases(travel) or travel[0] != 0.0 or travel[-1] != 1.0:
                yield refused(facts, f"{path}.travel.travel", "must increase from 0 to 1")
            elif share[0] != 0.0 or share[-1] != 1.0 or any(b < a for a, b in zip(share, share[1:])):
                yield refused(facts, f"{path}.travel.share", "must begin at 0, end at 1 and never fall")


def takes_turns(on: tuple[float, ...], off: tuple[float, ...], open_at_start: bool) -> bool:
    """Whether a valve that starts so opens and shuts by turns at these instants, s."""
    moves = sorted([(t, True) for t in on] + [(t, False) for t in off])
    wanted = [(k % 2 == 0) != open_at_start for k in range(len(moves))]
    return [opens for _, opens in moves] == wanted and len({t for t, _ in moves}) == len(moves)


def slots_fit(facts: Facts) -> Faults:
    """Rows or a table; every row fits around the post and begins to open within the stroke."""
    say = facts.length
    if not facts.has("slots"):
        return
    rows = min(facts.count("slots.row"), MOST_SLOT_ROWS)
    if (rows > 0) == facts.has("slots.table"):
        yield missing("slots", "needs [[slots.row]] or [slots.table], one of the two")
    if facts.has("slots.table") and not facts.has("slots.discharge_coefficient"):
        yield missing("slots.discharge_coefficient", "is missing ([slots.table] needs it)")
    if rows and facts.has("slots.discharge_coefficient"):
        rule = "belongs to [slots.table]; each [[slots.row]] has its own"
        yield refused(facts, "slots.discharge_coefficient", rule)
    stroke, post = facts.get("sleeve.stroke"), facts.get("sleeve.post_diameter")
    for number in range(rows):
        row = f"slots.row.{number}"
        lap, count = facts.get(f"{row}.lap"), facts.get(f"{row}.count")
        height, width, shape = (facts.get(f"{row}.{name}") for name in ("height", "width", "shape"))
        if lap is not None and stroke is not None and not lap < stroke:
            yield refused(facts, f"{row}.lap", f"must be below the stroke ({say(stroke)}): the row never opens")
        if shape == "round" and width is not None and height is not None and width != height:
            yield refused(facts, f"{row}.width", f"must equal height ({say(height)}) for round slots, or be left out")
        if shape in ("rectangular", "obround") and not facts.has(f"{row}.width"):
            yield missing(f"{row}.width", f"is missing ({shape} slots need it)")
        across = width if facts.has(f"{row}.width") else height
        if post is None or across is None or not isinstance(count, int):
            continue
        if count * across >= math.pi * post:
            rule = f"{count} slots of {say(across)} do not fit around a post of {say(post)}"
            yield refused(facts, f"{row}.count", rule)


def slot_metals_known(facts: Facts) -> Faults:
    """Metals are in the table, with the two temperatures; or the strains are given."""
    for part in ("post", "sleeve"):
        path, strain = f"slots.{part}_material", f"slots.{part}_contraction"
        metal = facts.get(path)
        if not isinstance(metal, str):
            continue
        if facts.has(strain):
            yield refused(facts, strain, f"is given beside {part}_material: give one of the two")
            continue
        if metal not in METALS:
            close = get_close_matches(metal.lower()[:40], METALS, n=1)
            nearest = f"; nearest: {close[0]}" if close else ""
            rule = f"must be one of {', '.join(METALS)} (or give {part}_contraction){nearest}"
            yield refused(facts, path, rule)
        for name in ("clearance_temperature", "running_temperature"):
            value = facts.get(f"slots.{name}")
            if not facts.has(f"slots.{name}"):
                yield missing(f"slots.{name}", f"is missing ({part}_material needs it)")
            elif value is not None and not COLDEST <= value <= HOTTEST:
                span = facts.reader.span("temperature", COLDEST, HOTTEST)
                yield refused(facts, f"slots.{name}", f"must be {span} (the table of metals ends there)")


def seat_complete(facts: Facts) -> Faults:
    """Spigot and annulus have what they need; the spigot is shorter than the stroke."""
    say = facts.length
    if not facts.has("seat"):
        return
    length, stroke = facts.get("seat.spigot_length"), facts.get("sleeve.stroke")
    if length and stroke is not None and not length < stroke:
        yield refused(facts, "seat.spigot_length", f"must be below the stroke ({say(stroke)}): the spigot never leaves the seat")
    if length and not facts.has("seat.spigot_clearance"):
        yield missing("seat.spigot_clearance", "is missing (a spigot needs it)")
    if facts.has("seat.annulus_area") != facts.has("seat.annulus_discharge_coefficient"):
        yield missing("seat", "needs annulus_area and annulus_discharge_coefficient together, or neither")
    if facts.has("seat.table") and length:
        yield refused(facts, "seat.spigot_length", "has no meaning beside [seat.table], which gives the area")


def gaps_leave_metal(facts: Facts) -> Faults:
    """Clearances and the land fit between the diameters they lie between; diameters out of order are told elsewhere."""
    say = facts.length
    order = facts.numbers("sleeve.post_diameter", "sleeve.nose_diameter", "sleeve.seat_diameter")
    if order and not order[0] < order[1] <= order[2]:
        return
    post = facts.numbers("sleeve.post_diameter", "sleeve.nose_diameter", "slots.clearance")
    if post and not post[0] + 2.0 * post[2] < post[1]:
        bore = say(post[0] + 2.0 * post[2])
        rule = f"must leave the sleeve a wall: its bore, {bore}, must be below nose_diameter ({say(post[1])})"
        yield refused(facts, "slots.clearance", rule)
    spigot = facts.numbers("sleeve.post_diameter", "sleeve.seat_diameter", "seat.spigot_clearance")
    if spigot and not spigot[0] < spigot[1] - 2.0 * spigot[2]:
        rule = f"must leave a spigot, {say(max(spigot[1] - 2.0 * spigot[2], 0.0))}, around the post ({say(spigot[0])})"
        yield refused(facts, "seat.spigot_clearance", rule)
    land = facts.numbers("sleeve.nose_diameter", "sleeve.seat_diameter", "seat.half_angle", "seat.land_width")
    if land and land[0] < land[1] and 0.0 < land[2] <= math.pi / 2:
        cone = 0.5 * (land[1] - land[0]) / math.sin(land[2])
        if land[3] > cone:
            rule = f"must be at most the cone between seat and nose ({say(cone)} along its side)"
            yield refused(facts, "seat.land_width", rule)


def combustion_known(facts: Facts) -> Faults:
    """c* and g come from a named pair, or from the case's own table."""
    if not facts.has("chamber"):
        return
    own = [name for name in ("o_f", "c_star", "g") if facts.has(f"chamber.{name}")]
    if not facts.has("chamber.propellants"):
        for name in ("o_f", "c_star", "g"):
            if name not in own:
                yield missing(f"chamber.{name}", "is missing: give it, or name the pair by propellants")
        if facts.has("chamber.table_pressure"):
            yield refused(facts, "chamber.table_pressure", "belongs to propellants, a pair with a shipped table")
        if not facts.has("chamber.gas_constant"):
            yield missing("chamber.gas_constant", "is missing: give it, or name the pair by propellants")
        return
    for name in own:
        yield refused(facts, f"chamber.{name}", "is given beside propellants, whose table has it: give one of the two")
    pair = facts.get("chamber.propellants")
    if not isinstance(pair, str):
        return
    if pair not in pairs():
        close = get_close_matches(pair.lower(), pairs(), n=1, cutoff=0.5)
        rule = f"is no shipped pair; nearest: {close[0]}" if close else f"is no shipped pair; they are {', '.join(pairs())}"
        yield refused(facts, "chamber.propellants", rule)
        return
    flows = [facts.has(f"{side}.rated_flow") for side in ("oxidizer", "fuel")]
    if not facts.has("chamber.table_pressure") and facts.has("oxidizer") and facts.has("fuel") and not all(flows):
        yield missing(
            "chamber.table_pressure", "is missing: give it, or both rated flows (the table is read at a chamber pressure)"
        )


def mixture_bracketed(facts: Facts) -> Faults:
    """The table of c* brackets the steady mixture ratio, as far as the rated flows tell it."""
    pair = facts.get("chamber.propellants")
    ratios = mixture_ratios(pair) if pair in pairs() else facts.get("chamber.o_f")
    flows = facts.numbers("oxidizer.rated_flow", "fuel.rated_flow")
    if not isinstance(ratios, tuple) or len(ratios) < 2 or not flows:
        return
    ratio = flows[0] / flows[1]
    if not ratios[0] <= ratio <= ratios[-1]:
        span = f"the table goes from {ratios[0]:g} to {ratios[-1]:g}"
        rule = f"must bracket the mixture ratio of the rated flows, {ratio:.3g}; {span}"
        yield refused(facts, "chamber.propellants" if pair in pairs() else "chamber.o_f", rule)


def cold_vapour_known(facts: Facts) -> Faults:
    """c* of each cold vapour is given, or its molar mass, or the liquid."""
    if not facts.has("chamber"):
        return
    for side in ("oxidizer", "fuel"):
        known = (f"chamber.cold_c_star_{side}", f"{side}.molar_mass", f"{side}.liquid")
        if facts.has(side) and not any(facts.has(path) for path in known):
            yield missing(f"{side}.molar_mass", f"is missing: give it, or name the liquid, or give [chamber] cold_c_star_{side}")


def igniter_complete(facts: Facts) -> Faults:
    """Light-off at a given instant, or on with a delay."""
    if not facts.has("igniter"):
        return
    given = facts.has("igniter.light_off")
    for name in ("on", "delay"):
        if given and facts.has(f"igniter.{name}"):
            yield refused(facts, f"igniter.{name}", "is given beside light_off, which decides it: give one of the two")
        if not given and not facts.has(f"igniter.{name}") and not (name == "on" and commanded(facts, "igniter", "on")):
            yield missing(f"igniter.{name}", "is missing: give on and delay, or light_off")
    on = facts.get("igniter.on")
    if not given and facts.has("igniter.on") and on == ():
        yield refused(facts, "igniter.on", "needs an instant (without one, leave the table out: never lit)")
    mixture = facts.get("igniter.ignitable_mixture")
    if isinstance(mixture, tuple) and len(mixture) == 2 and not mixture[0] < mixture[1]:
        yield refused(facts, "igniter.ignitable_mixture", "must be the lowest, then the highest mixture ratio")
