"""The shut seat as a case gives it: load, stresses, angles that differ, what sealing asks of the preload, energy of a closing.

    Case + sealing load (N/m, shut, gas vented, feeds on) + impact speed -> SeatVerdict rows

Stresses are taken where they are highest: gas vented and feeds off, the spring at the top of its range and the weight alone on
the seat. The load that seals is taken where it is least: feeds on. What is not given is "not known", never "holds".
"""

import math
from typing import NamedTuple

from sleevelift.case.schema import Case
from sleevelift.case.schema_liquid import Seat
from sleevelift.constants import STANDARD_GRAVITY
from sleevelift.reader import METRIC, Reader
from sleevelift.sizing.seat_load import line_contact
from sleevelift.sizing.seat_strength import (
    LOAD_BAND,
    YIELD_FACTOR,
    angle_mismatch,
    closing_energy,
    sealing_preload,
    seat_strength,
)

SPRING_SHARE = 1.0 / 3.0
"""-. Of the spring's mass that moves with the sleeve (Rayleigh)."""
NOT_GIVEN = "not known"
CHANGE_STRESS = "To change: wider land or larger edge radius, harder metal, less preload"


class SeatVerdict(NamedTuple):
    """One number of the seat and what it is held against."""

    name: str
    value: float | None
    unit: str
    limit: float | None
    passed: bool | None
    """None: stated, not judged"""
    advice: str


def _weight(case: Case) -> float:
    """Axial part of the moving weight that presses the seat, N."""
    return moving_mass(case) * STANDARD_GRAVITY * math.cos(case.sleeve.axis_tilt)


def moving_mass(case: Case) -> float:
    """Sleeve with a third of its spring, kg."""
    return case.sleeve.moving_mass + SPRING_SHARE * case.spring.mass


def greatest_force(case: Case) -> float:
    """Axial force on the shut seat with gas and feeds off, N: preload at the top of its range, and the weight."""
    preload = case.ranges.get("spring.preload", (0.0, case.spring.preload))[1]
    return max(preload + _weight(case), 0.0)


def _stress(name: str, value: float | None, limit: float | None, what: str, missing: str) -> SeatVerdict:
    """A stress against its limit."""
    if value is None or limit is None:
        return SeatVerdict(name, value, "Pa", limit, None, f"{what}; {NOT_GIVEN} whether it holds: give [seat] {missing}")
    ok = value <= limit
    return SeatVerdict(name, value, "Pa", limit, ok, what if ok else f"{what}: it yields. {CHANGE_STRESS}")


def stress_verdicts(case: Case, seat: Seat) -> list[SeatVerdict]:
    """Mean stress on the land and peak contact stress of the edge against the yield stress."""
    force, d, strength = greatest_force(case), case.sleeve.seat_diameter, seat.yield_stress
    peak = None
    if seat.edge_radius is not None:
        E, nu = seat.elastic_modulus, seat.poisson
        peak = line_contact(force, d, seat.half_angle, seat.edge_radius, E, nu, E, nu).peak_stress
    found = seat_strength(force, d, seat.half_angle, seat.land_width, peak, strength)
    what = "mean normal stress on the land, gas and feeds off, against the yield stress"
    missing = " and ".join(n for n, v in (("land_width", seat.land_width), ("yield_stress", strength)) if v is None)
    land = _stress("seat_land_stress", found.land, strength, what, missing)
    what = f"peak contact stress of the edge against {YIELD_FACTOR} x the yield stress, where yielding begins below the surface"
    missing = " and ".join(n for n, v in (("edge_radius", peak), ("yield_stress", strength)) if v is None)
    limit = None if strength is None else YIELD_FACTOR * strength
    contact = _stress("seat_contact_stress", peak, limit, what, missing)
    if seat.land_width is not None and contact.passed is False:
        words = "as a bare edge; it yields until the land carries, which is judged for itself"
        contact = contact._replace(passed=None, advice=f"{what}, {words}")
    return [land, contact]


def load_verdict(sealing_load: float, reader: Reader = METRIC) -> SeatVerdict:
    """Load per length of seat line that seals against the band of practice: stated, the band has no source."""
    low, high = LOAD_BAND
    where = "below" if sealing_load < low else "above" if sealing_load > high else "inside"
    band = (
        f"{reader.span('line force', low, high, '.3g')}, at which lapped metal seats are made to seal (common practice, no source)"
    )
    return SeatVerdict("seat_load", sealing_load, "N/m", None, None, f"shut, gas vented, feeds on: {where} the band of {band}")


def angle_verdicts(case: Case, seat: Seat) -> list[SeatVerdict]:
    """Where a nose of another angle touches, and what that does to the fuel's push."""
    if seat.nose_half_angle is None or seat.land_width is None:
        missing = "land_width" if seat.nose_half_angle is not None else "nose_half_angle"
        words = f"{NOT_GIVEN} whether nose and seat touch along the whole land: give [seat] {missing}"
        return [SeatVerdict("seat_angles", None, "m", None, None, words)]
    found = angle_mismatch(case.sleeve.seat_diameter, seat.land_width, seat.nose_half_angle, seat.half_angle)
    if found.opening == 0.0:
        return [SeatVerdict("seat_angles", 0.0, "m", None, None, "nose and seat of one angle: they touch along the whole land")]
    pressure = 0.0
    if case.fuel is not None:
        own = case.fuel.inlet_pressure or max(case.fuel.inlet_table.pressure if case.fuel.inlet_table else (0.0,))
        pressure = case.ranges.get("fuel.inlet_pressure", (0.0, own))[1] - case.ambient.pressure
    edge = "outer" if found.diameter > case.sleeve.seat_diameter else "inner"
    push = found.area_change * pressure
    say = case.reader.text
    words = (
        f"nose and seat differ by {math.degrees(abs(seat.nose_half_angle - seat.half_angle)):.3g} deg: they touch at the land's "
        f"{edge} edge, {say('length', found.diameter, case.reader.fine)}, and gape by this much at the other; fuel then "
        "pushes with "
        f"{say('force', push, '+.1f')} more "
        "than the seat diameter of the case says: run it with that diameter"
    )
    return [SeatVerdict("seat_angles", found.opening, "m", None, None, words)]


def preload_verdict(case: Case, sealing_load: float) -> SeatVerdict:
    """Preload that sealing asks for, against the case's own."""
    wanted = case.limits.sealing_load_at_least
    load = LOAD_BAND[0] if wanted is None else wanted
    d = case.sleeve.seat_diameter
    weight = _weight(case)
    opening = case.spring.preload + weight - sealing_load * math.pi * d
    need = sealing_preload(load, d, opening, weight)
    of = "the load that [limits] asks for" if wanted is not None else "the lower end of the band (common practice, no source)"
    what = f"preload that leaves {case.reader.text('line force', load, '.3g')} on the seat, {of}; against the preload"
    if wanted is None:
        return SeatVerdict("sealing_preload", need, "N", case.spring.preload, None, what)
    ok = case.spring.preload >= need
    advice = what if ok else f"{what}: too little to seal. To change: more preload, narrower rod"
    return SeatVerdict("sealing_preload", need, "N", case.spring.preload, ok, advice)


def energy_verdict(case: Case, speed: float | None) -> SeatVerdict:
    """Energy of the hardest closing against its limit."""
    limit = case.limits.seat_impact_energy_at_most
    name = "seat_impact_energy"
    if speed is None:
        words = f"{NOT_GIVEN}: it follows from a run that closes"
        if limit is None:
            return SeatVerdict(name, None, "J", None, None, words)
        return SeatVerdict(name, None, "J", limit, False, f"{words}. To change: see why it did not close")
    energy = closing_energy(moving_mass(case), speed)
    what = "energy of one closing that the seat takes, sleeve and a third of the spring"
    if limit is None:
        return SeatVerdict(name, energy, "J", None, None, f"{what}; no seat_impact_energy_at_most is given")
    ok = energy <= limit
    remedy = "To change: smaller exhaust orifice, softer spring, less mass"
    return SeatVerdict(name, energy, "J", limit, ok, what if ok else f"{what}: above its limit. {remedy}")


def seat_verdicts(case: Case, sealing_load: float | None, speed: float | None, ran: bool) -> list[SeatVerdict]:
    """Every row of the seat; none in a case without one. ran: whether speed comes from a run (None: it never closed)."""
    if case.seat is None:
        return []
    out = stress_verdicts(case, case.seat)
    if sealing_load is not None:
        out += [load_verdict(sealing_load, case.reader), preload_verdict(case, sealing_load)]
    out += angle_verdicts(case, case.seat)
    energy = energy_verdict(case, speed)
    return [*out, energy if ran else energy._replace(passed=None)]
