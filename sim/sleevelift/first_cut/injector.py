"""Post, slots, seat, lap, spigot and stroke from the flows and drops.

    effective area Cd A = w/sqrt(2 rho dp)        post bore: velocity head a small share of the drop
    stroke = max(lap + slot height + overtravel, spigot + what the seat gap needs)
    lap and spigot: the sleeve needs the wanted lead from the slots' edge to the spigot's end

The spigot's length is a guess until the simulator has run (`finish`); the annulus is set so that the fuel's flow at full lift is
the rated one (`actuation.trimmed`). Momentum ratio (radial jet over axial sheet, both as mass flow times velocity) and blockage
factor (slots' width over the post's rim) are printed and not used.
"""

import math
from typing import NamedTuple

from sleevelift.case.quantity import read_value
from sleevelift.first_cut.engine import Engine
from sleevelift.first_cut.napkin import Napkin
from sleevelift.first_cut.sheet import GUESS, PRACTICE, Sheet, mm

SLOT_DISCHARGE, SEAT_DISCHARGE, ANNULUS_DISCHARGE = 0.65, 0.70, 0.75
"""-. Sharp-edged slots, seat gap, annulus: common practice, no source."""
BORE_HEAD = 0.03
"""-. Velocity head in the post's bore over the drop of the slots."""
LEAST_POST, LEAST_WALL, LEAST_NOSE, LEAST_SEAT = 3.0e-3, 0.6e-3, 0.5e-3, 0.4e-3
"""m. Post; walls of post and skirt; radial width of the nose: what a lathe makes. Common practice, no source."""
WALL_SHARE, NOSE_SHARE, SEAT_SHARE = 0.08, 0.045, 0.03
"""-. The same over the post's bore or diameter."""
LEAST_SLOT, LEAST_SLOT_WIDTH = 0.4e-3, 0.3e-3
"""m. Height and width of a slot that wire or a cutter makes."""
FEWEST, FEWEST_TALL = 3, 2
"""Slots in a row; where a slow ramp asks for tall ones two that face each other will do."""
LEAST_LAP, LAP_SHARE = 0.10e-3, 0.06
OVERTRAVEL_SHARE = 0.05
SEAT_GAP_SHARE = 2.0
"""-. Seat gap at full lift over the fuel's whole effective area: the gap then takes a quarter of the drop, the annulus the rest."""
TRAVEL_SHARE = 0.2
"""-. Share of the opening time in which the sleeve travels, for a first guess of its speed."""
LONGEST_SPIGOT = 0.6
"""-. Of the stroke."""
CLEARANCE, CLEARANCE_SHARE = 5e-6, 0.0003
"""m, and over the diameter: radial, lapped."""
FINEST, ARRIVED = 2e-6, 0.05
"""m: finest clearance of a lapped pair that slides (common practice, no source); -: share of the flow that counts as arrived."""
METAL, ROOM_TEMPERATURE = "316", 293.15
"""Stainless steel for post and sleeve; K."""
BLOCKAGE_SOURCE = "N w/(pi d), 0.3 to 0.7 usual: public design notes of a student group (Portland State Aerospace Society)"
MOMENTUM_SOURCE = "w_o v_o/(w_f v_f): the same notes"


class Injector(NamedTuple):
    """Geometry of the wet side, SI, rounded as a drawing is."""

    post: float
    nose: float
    seat: float
    slots: int
    slot_height: float
    slot_width: float
    lap: float
    spigot: float
    stroke: float
    fuel_area: float
    """m2, effective, of seat gap and annulus in series"""
    oxidizer_area: float
    """m2, effective"""


def tenth(length: float) -> float:
    """A length (m) rounded up to 0.1 mm."""
    return math.ceil(round(length * 1e4, 6)) / 1e4


def hundredth(length: float) -> float:
    """A length (m) rounded to 0.01 mm."""
    return round(length * 1e5) / 1e5


def _pinned(napkin: Napkin, path: str, otherwise: float) -> float:
    """The pinned length (m) at a path, else the one worked out."""
    raw = napkin.pins.get(path)
    return otherwise if raw is None else read_value(raw, "length", napkin.wishes.ambient_pressure).value


def slot_height(total: float, rim: float, taller: float) -> float:
    """Height (m) of slots of area `total` (m2) that take `rim` (m) of the post's rim, `taller` times as high: a slower ramp.

    No taller than two slots of the least width allow.
    """
    height = max(LEAST_SLOT, total / rim)
    return max(height, min(taller * height, total / (FEWEST_TALL * LEAST_SLOT_WIDTH)))


def injector(
    napkin: Napkin, engine: Engine, sheet: Sheet, *, spigot: float | None = None, taller: float = 1.0, more_lap: float = 0.0
) -> Injector:  # fmt: skip
    """The wet side. `spigot` (m): its length where the simulator has said it; `taller`: factor on the slots' height."""
    wishes, oxidizer, fuel, r = napkin.wishes, engine.oxidizer, engine.fuel, napkin.reader
    area_o = oxidizer.flow / math.sqrt(2.0 * oxidizer.state.density * oxidizer.drop)
    area_f = fuel.flow / math.sqrt(2.0 * fuel.state.density * fuel.drop)
    speed = math.sqrt(2.0 * BORE_HEAD * oxidizer.drop / oxidizer.state.density)
    bore = math.sqrt(4.0 * oxidizer.flow / (math.pi * oxidizer.state.density * speed))
    post = tenth(max(LEAST_POST, bore + 2.0 * max(LEAST_WALL, WALL_SHARE * bore)))
    post = _pinned(napkin, "sleeve.post_diameter", post)
    nose = _pinned(napkin, "sleeve.nose_diameter", tenth(post + 2.0 * max(LEAST_NOSE, NOSE_SHARE * post)))
    seat = _pinned(napkin, "sleeve.seat_diameter", tenth(nose + 2.0 * max(LEAST_SEAT, SEAT_SHARE * post)))
    how = f"bore {r.text('length', bore)} at {r.text('speed', speed, '.2g')}: {BORE_HEAD:.0%} of the drop"
    sheet.step("post", r.text("length", post), how, PRACTICE)
    total = area_o / SLOT_DISCHARGE
    height = slot_height(total, wishes.blockage * math.pi * post, taller)
    width = total / height
    count = max(FEWEST if taller == 1.0 else FEWEST_TALL, min(24, round(width / height), int(width / LEAST_SLOT_WIDTH)))
    height = max(hundredth(height), 1e-5)
    each = max(math.ceil(round(width / count * 1e5, 6)) / 1e5, 1e-5)  # rather wide: the line's loss trims the flow
    sheet.step(
        "slots", f"{count} of {r.number('length', each):.3g} x {r.text('length', height, '.3g')}",
        f"Cd A {r.text('area', area_o, '.3g')} = w/sqrt(2 rho dp), Cd {SLOT_DISCHARGE}",
        "orifice equation",
    )  # fmt: skip
    lap = hundredth(max(LEAST_LAP, LAP_SHARE * height) + more_lap)
    over = hundredth(max(LEAST_LAP, OVERTRAVEL_SHARE * height))
    gap = SEAT_GAP_SHARE * area_f / (SEAT_DISCHARGE * math.pi * seat)
    open_to = max(lap + height + over, 1.5 * gap)
    if spigot is None:
        reach = open_to * wishes.oxidizer_lead / (TRAVEL_SHARE * wishes.opening_time)
        spigot = min(lap + 0.05 * height + reach, LONGEST_SPIGOT * open_to)
    spigot = hundredth(_pinned(napkin, "seat.spigot_length", spigot))
    stroke = hundredth(_pinned(napkin, "sleeve.stroke", max(open_to, spigot + gap)))
    sheet.step(
        "stroke", r.text("length", stroke, ".3g"),
        f"lap {r.number('length', lap):.3g} + slot {r.number('length', height):.3g} + overtravel {r.text('length', over, '.2g')}, "
        f"or spigot {r.number('length', spigot):.3g} + seat gap",
        "geometry",
    )  # fmt: skip
    _printed(sheet, engine, count * each / (math.pi * post))
    found = Injector(post, nose, seat, count, height, each, lap, spigot, stroke, area_f, SLOT_DISCHARGE * count * each * height)
    _put(sheet, found)
    coldest = min(oxidizer.temperature, ROOM_TEMPERATURE)
    for part in ("post", "sleeve"):
        sheet.put(f"slots.{part}_material", f'"{METAL}"', "post and sleeve of one metal shrink alike: " + PRACTICE)
    sheet.put("slots.clearance_temperature", f'"{ROOM_TEMPERATURE:g} K"', "lapped in a room")
    sheet.put("slots.running_temperature", f'"{coldest:g} K"', "both as cold as the oxidizer")
    return found


def spigot_clearance(seat: float, fuel_area: float) -> tuple[float, str]:
    """(radial clearance of the spigot in the seat (m), why): usual, or as fine as it can be lapped where the usual one leaks more
    than what counts as fuel that has arrived. `fuel_area`: m2, effective."""
    usual = max(CLEARANCE, CLEARANCE_SHARE * seat)
    if SEAT_DISCHARGE * math.pi * seat * usual <= ARRIVED * fuel_area:
        return usual, PRACTICE
    return FINEST, f"as fine as a pair can be lapped: at {usual * 1e6:.0f} um the fuel past the spigot would come first"


def _printed(sheet: Sheet, engine: Engine, blockage: float) -> None:
    """Momentum ratio and blockage factor."""
    radial, axial = (side.flow * math.sqrt(2.0 * side.drop / side.state.density) for side in (engine.oxidizer, engine.fuel))
    sheet.step("blockage factor", f"{blockage:.2f}", BLOCKAGE_SOURCE, "printed, not used")
    sheet.step("momentum ratio", f"{radial / axial:.2f}", MOMENTUM_SOURCE, "printed, not used")


def _put(sheet: Sheet, found: Injector) -> None:
    """The wet side into the sheet."""
    sheet.put("sleeve.post_diameter", mm(found.post), "bore by the oxidizer's speed, and a wall")
    sheet.put("sleeve.nose_diameter", mm(found.nose), "post and the skirt's wall, as thin as it can be: the chamber presses on it")
    sheet.put("sleeve.seat_diameter", mm(found.seat), "nose and a narrow cone: a wide nose is a trap")
    sheet.put("sleeve.stroke", mm(found.stroke), "lap, slots, overtravel; spigot and seat gap")
    clearance = max(CLEARANCE, CLEARANCE_SHARE * found.post)
    sheet.put("slots.clearance", f'"{clearance * 1e6:.1f} um"', "radial, lapped; at running temperature: " + PRACTICE)
    sheet.put("slots.minimum_length", mm(found.lap), "the lap, a guess")
    sheet.put("slots.clearance_discharge_coefficient", "0.7", PRACTICE)
    sheet.put("slots.row.count", f"{found.slots}", "about as wide as high")
    sheet.put("slots.row.shape", '"rectangular"', "a linear ramp")
    sheet.put("slots.row.height", mm(found.slot_height), "Cd A = w/sqrt(2 rho dp), at the wanted share of the rim")
    sheet.put("slots.row.width", mm(found.slot_width), "the same")
    sheet.put("slots.row.lap", mm(found.lap), f"at least {LEAST_LAP * 1e3:g} mm or {LAP_SHARE:.0%} of the slot: " + PRACTICE)
    sheet.put("slots.row.discharge_coefficient", f"{SLOT_DISCHARGE}", "sharp-edged slots; " + GUESS)
    sheet.put("seat.edge", '"seat"', "the nose carries the cone")
    sheet.put("seat.half_angle", '"45 deg"', PRACTICE)
    sheet.put("seat.discharge_coefficient", f"{SEAT_DISCHARGE}", GUESS)
    sheet.put("seat.land_width", '"0.2 mm"', PRACTICE)
    sheet.put("seat.spigot_length", mm(found.spigot), "holds the fuel back for the wanted lead")
    gap, why = spigot_clearance(found.seat, found.fuel_area)
    sheet.put("seat.spigot_clearance", f'"{gap * 1e6:.1f} um"', why)
    sheet.put("seat.annulus_area", f'"{found.fuel_area / ANNULUS_DISCHARGE * 1e6:.4g} mm2"', "rated fuel flow at full lift")
    sheet.put("seat.annulus_discharge_coefficient", f"{ANNULUS_DISCHARGE}", GUESS)
    sheet.put("seat.jet_factor", "1", "jet leaves along the cone, a guess")
