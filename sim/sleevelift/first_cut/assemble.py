"""A sheet becomes a case: sleeve, spring, seals, volumes and the rest, around the actuation that was found.

Sizes that only follow: moving mass of a steel sleeve of three rod diameters, spring cavity of the seated spring's length, dead
volume of a few strokes, vent that leaves no cushion. Each is a guess with its rule beside it.
"""

import math
from typing import NamedTuple

from sleevelift.case.read import case_from_text
from sleevelift.case.schema import Case
from sleevelift.first_cut import gas_path, rings
from sleevelift.first_cut.actuation import Actuation
from sleevelift.first_cut.compose import case_text
from sleevelift.first_cut.engine import Engine
from sleevelift.first_cut.injector import Injector
from sleevelift.first_cut.napkin import Napkin
from sleevelift.first_cut.sheet import GUESS, PRACTICE, Sheet, drilled, mm
from sleevelift.first_cut.spring import CLEARANCE, WIRE, Wound
from sleevelift.first_cut.supply import put_supply

STEEL = 7900.0
"""kg/m3. Stainless steel."""
SLEEVE_LENGTH, FLANGE = 3.0, 0.3
"""-. Length of the sleeve over rod diameter, thickness of its flange over piston diameter: guesses."""
NO_SPRING_LENGTH = 3.0
"""-. Length of the spring's cavity over rod diameter before there is a spring."""


class Moving(NamedTuple):
    """What the actuation asks of sleeve and spring, SI."""

    rod: float
    piston: float
    preload: float
    rate_share: float
    """k x stroke over preload"""
    spring: Wound | None


class Static(NamedTuple):
    """A sleeve whose margins are held, or the nearest."""

    case: Case
    text: str
    moving: Moving
    path: gas_path.Path
    found: Actuation


def moving_mass(inj: Injector, moving: Moving) -> float:
    """kg. A steel tube from post to rod and a flange to the piston."""
    tube = 0.25 * math.pi * (moving.rod**2 - inj.post**2) * SLEEVE_LENGTH * moving.rod
    flange = 0.25 * math.pi * (moving.piston**2 - moving.rod**2) * FLANGE * moving.piston
    return STEEL * (tube + flange)


def spring_side(inj: Injector, moving: Moving) -> float:
    """m3. The cavity around the post, as long as the seated spring, less its wire."""
    length, wire, outer = NO_SPRING_LENGTH * moving.rod, 0.0, moving.piston
    if moving.spring is not None:
        s = moving.spring
        length = s.state.length_seated
        wire = 0.25 * math.pi**2 * s.wire**2 * s.mean * s.total
        outer = max(outer, s.mean + s.wire)
    top = 0.25 * math.pi * (moving.piston**2 - inj.post**2)
    return max(0.25 * math.pi * (outer**2 - inj.post**2) * length - wire, 2.0 * top * inj.stroke)


def assembled(napkin: Napkin, engine: Engine, inj: Injector, moving: Moving, path: gas_path.Path, sheet: Sheet) -> tuple[Case, str]:
    """The case and its text. CaseError where pinned values make no case."""
    wishes = napkin.wishes
    note = "A first cut from a napkin: no design release. Guesses are marked as such."
    sheet.put("case.title", '"' + wishes.title.replace("\\", "/").replace('"', "'") + '"', "napkin")
    sheet.put("case.kind", '"hot"', "start, run and stop")
    sheet.put("case.invented", "true", "until its numbers come from drawings, datasheets and tests")
    sheet.put("case.units", f'"{wishes.units}"', "napkin, or --units: what is printed, drawn and written")
    sheet.put("case.note", f'"{note}"', "carried into the report")
    sheet.put("ambient.pressure", f'"{wishes.ambient_pressure * 1e-5:.6g} bara"', "napkin, or standard atmosphere")
    sheet.put("ambient.temperature", '"293.15 K"', "20 degC, reference of ISO 8778")
    gas_path.put_path(napkin, path, sheet)
    filled = 0.25 * math.pi * (path.tube**2 * gas_path.TUBE_LENGTH + (moving.piston**2 - moving.rod**2) * inj.stroke)
    _put_sleeve(inj, moving, sheet)
    _put_spring(inj, moving, sheet)
    _put_seals(engine, inj, moving, sheet)
    lift = 0.25 * math.pi * (moving.piston**2 - moving.rod**2)
    dead, why = gas_path.dead_volume(lift, inj.stroke), f"{gas_path.DEAD_VOLUME:g} strokes: {PRACTICE}; measure it"
    if path.dead_volume is not None and path.dead_volume > dead:
        dead, why = path.dead_volume, "a pocket that slows the sleeve to the wanted opening time: less pools before it lights"
    sheet.put("lift_chamber.dead_volume", f'"{dead * 1e6:.3g} cm3"', why)
    sheet.put(
        "lift_chamber.wall_area", f'"{6.0 * (dead + lift * inj.stroke) ** (2 / 3) * 1e4:.3g} cm2"', "a cube of its volume, a guess"
    )
    put_supply(napkin, path, filled + dead, sheet)
    top = 0.25 * math.pi * (moving.piston**2 - inj.post**2)
    sheet.put("spring_side.volume", f'"{spring_side(inj, moving) * 1e6:.4g} cm3"', "cavity of the seated spring less its wire")
    vent = gas_path.vent_orifice(top, napkin.reader)
    sheet.put("spring_side.vent_orifice", drilled(vent), "large enough not to cushion: a drill")
    sheet.put("spring_side.vent_discharge_coefficient", "0.70", PRACTICE)
    sheet.put("igniter.on", '["0.05 s"]', "burning before the command: test sequence")
    sheet.put("igniter.delay", '"3 ms"', "from both propellants in the chamber; " + GUESS)
    _put_limits(napkin, sheet)
    sheet.pin(napkin.pins)
    text = case_text(sheet)
    return case_from_text(text, napkin.name), text


def _put_sleeve(inj: Injector, moving: Moving, sheet: Sheet) -> None:
    sheet.put("sleeve.rod_diameter", mm(moving.rod), "fuel opening area: least lift area whose margins hold")
    sheet.put("sleeve.piston_diameter", mm(moving.piston), "lift area: the smallest whose margins reach the wanted one")
    mass = moving_mass(inj, moving)
    sheet.put("sleeve.moving_mass", f'"{mass * 1e3:.4g} g"', f"steel, {SLEEVE_LENGTH:g} rod diameters long, and a flange: a guess")
    sheet.put("sleeve.axis_tilt", '"0 deg"', "vertical, opening upward")
    sheet.put("sleeve.restitution_stop", "0.2", "metal on metal, " + GUESS)
    sheet.put("sleeve.restitution_seat", "0.2", "metal on metal, " + GUESS)


def _put_spring(inj: Injector, moving: Moving, sheet: Sheet) -> None:
    for name in ("rate", "mass", "wire_diameter", "mean_diameter", "active_coils", "total_coils", "free_length", "allowable_stress",
                 "shear_modulus", "cup_diameter"):  # fmt: skip
        sheet.values.pop(f"spring.{name}", None)
    sheet.put("spring.preload", f'"{moving.preload:.5g} N"', "least that shuts it in the worst case, with the wanted margin")
    if moving.spring is None:
        sheet.put("spring.rate", f'"{moving.rate_share * moving.preload / inj.stroke * 1e-3:.5g} N/mm"', "no wire found yet")
        sheet.put("spring.mass", '"0 g"', "no wire found yet")
        return
    s = moving.spring
    rule = "least rate that holds EN 13906-1"
    sheet.put("spring.wire_diameter", mm(s.wire), f"{WIRE}, nominal; {rule}")
    sheet.put(
        "spring.mean_diameter", mm(s.mean), "slips over the post" + ("; wider than the piston: a cup of its own" if s.cup else "")
    )
    if s.cup:
        bore = math.ceil((1.02 * (s.mean + s.wire) + 2.0 * CLEARANCE) * 1e4) / 1e4
        sheet.put("spring.cup_diameter", mm(bore), "coils, 2 % of their diameter and 0.5 mm all round")
    sheet.put("spring.active_coils", f"{s.active:g}", "quarter turns")
    sheet.put("spring.total_coils", f"{s.total:g}", "closed and ground ends")
    sheet.put("spring.free_length", mm(s.free_length), "preload with the gaps of EN 13906-1 at full lift")
    sheet.put("spring.shear_modulus", '"81.5 GPa"', f"{WIRE}, EN 13906-1, from memory")
    how = f"0.56 R_m less {s.impact_stress * 1e-6:.0f} MPa of impact, v sqrt(2 G rho)"
    sheet.put("spring.allowable_stress", f'"{(s.permissible - s.impact_stress) * 1e-6:.7g} MPa"', how)


def _put_seals(engine: Engine, inj: Injector, moving: Moving, sheet: Sheet) -> None:
    for name, diameter, temperature in (
        ("post", inj.post, engine.oxidizer.temperature),
        ("rod", moving.rod, engine.fuel.temperature),
        ("piston", moving.piston, 293.15),
    ):
        found = rings.seal(name, diameter, temperature)
        sheet.put(f"seals.{name}", found.text, found.comment)
    sheet.put("seals.breakaway_ratio", "1.3", GUESS)
    sheet.put("seals.stribeck_velocity", '"20 mm/s"', GUESS)
    sheet.put("seals.viscous", f'"{2000.0 * inj.post:.3g} N s/m"', "2 kN s/m2 of post diameter, " + GUESS)


def _put_limits(napkin: Napkin, sheet: Sheet) -> None:
    wishes = napkin.wishes
    sheet.put("limits.opening_time_at_most", f'"{wishes.opening_time * 1e3:.5g} ms"', "napkin")
    sheet.put("limits.oxidizer_lead_at_least", f'"{wishes.oxidizer_lead * 1e3:.5g} ms"', "napkin")
    sheet.put("limits.margin_at_least", f"{wishes.least_margin:g}", "napkin")
    sheet.put("limits.seat_impact_speed_at_most", f'"{wishes.seat_impact_speed:g} m/s"', "napkin, or a guess for a metal seat")
