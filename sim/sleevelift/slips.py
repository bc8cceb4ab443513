"""Inputs that read well and are most likely slips: each in one sentence that says why it is odd.

`slips` are held against a case (its check fails); `doubts` are only said, since a sound design may have them.
"""

import math
from collections.abc import Mapping

from sleevelift.case.gases import plain_name
from sleevelift.case.schema import Case

Measures = Mapping[str, float | None]
OXIDIZERS = (
    "oxygen",
    "nitrousoxide",
    "fluorine",
    "hydrogenperoxide",
    "dinitrogentetroxide",
    "nitrogentetroxide",
    "air",
    "o2",
    "n2o",
    "lox",
)
FUELS = (
    "ethanol", "methanol", "methane", "ethane", "propane", "npropane", "butane", "nbutane", "isobutane", "npentane", "nhexane",
    "nheptane", "noctane", "nnonane", "ndecane", "nundecane", "ndodecane", "propylene", "ethylene", "acetone", "dimethylether",
    "hydrogen", "parahydrogen", "ammonia", "toluene", "benzene", "cyclohexane", "cyclopropane", "methylcyclohexane", "ch4", "c2h6",
    "h2", "nh3", "propanol", "isopropanol", "kerosene",
)  # fmt: skip
"""Names of CoolProp and of the trade, lower case, without signs between."""
FINEST_CLEARANCE = 1e-6
"""m. Radial; a lapped pair runs at some micrometres, and a ground surface is rough by some tenths of one (common practice, no
source)."""
COLDEST_ELASTOMER = 213.15
"""K. -60 degC: silicone, the most cold-hardy of the usual ring elastomers, is stiff below (from memory of seal handbooks)."""
FAST_LINE = 3.0
"""m/s. Feed lines of a stand are laid out for 1 to 3 m/s (common practice, no source)."""
WIDE_TUBE = 3.0
"""-. A tube that should not throttle passes at least this many times its orifices (common practice, no source)."""
ORIFICE_CONDUCTANCE = 0.6847 / (math.sqrt(287.0 * 293.15) * 1.185)
"""m3/(s Pa) per m2 of effective area: sonic conductance of ISO 6358-1 of an ideal orifice, air at 20 degC and 1 bar."""


def _plain(liquid: str | None) -> str:
    """A liquid's name without signs."""
    return "" if liquid is None else "".join(letter for letter in liquid.lower() if letter.isalnum())


def _swapped(case: Case) -> list[str]:
    out = []
    for side, part, others, what in (
        ("fuel", case.fuel, OXIDIZERS, "an oxidizer"),
        ("oxidizer", case.oxidizer, FUELS, "a fuel"),
    ):
        if part is not None and _plain(part.liquid) in others:
            out.append(f"[{side}] liquid is {part.liquid}, which is {what}: the two propellants are swapped, or the name is wrong")
    return out


def _orifices(case: Case) -> list[str]:
    bore, say = case.tube.bore, case.reader.text
    holes = [
        ("[solenoid] fill_orifice", case.solenoid.fill_orifice),
        ("[solenoid] exhaust_orifice", case.solenoid.exhaust_orifice),
        ("[tube] port_orifice", case.tube.port_orifice),
    ]
    return [
        f"{name} ({say('length', hole, '.3g')}) is wider than the tube it opens into ({say('length', bore, '.3g')}): the tube "
        "would be "
        "the orifice"
        for name, hole in holes
        if hole is not None and hole > bore
    ]


def _clearances(case: Case) -> list[str]:
    found = [("[slots] clearance", None if case.slots is None else case.slots.clearance)]
    if case.seat is not None and case.seat.spigot_length > 0.0:
        found.append(("[seat] spigot_clearance", case.seat.spigot_clearance))
    return [
        f"{name} is {case.reader.text('gap', gap, '.2g')}, finer than a lapped pair that still slides (some "
        f"{'um' if case.reader.unit('gap') == 'um' else 'tenths of a mil'}): is the unit right?"
        for name, gap in found
        if gap is not None and gap < FINEST_CLEARANCE
    ]


def _cold_elastomers(case: Case) -> list[str]:
    out = []
    for seal, side, part in (("post", "oxidizer", case.oxidizer), ("rod", "fuel", case.fuel)):
        ring, say = getattr(case.seals, seal), case.reader.text
        if part is None or ring.hardness is None or part.temperature >= COLDEST_ELASTOMER:
            continue
        out.append(
            f"[seals.{seal}] gives a hardness, so it is an elastomer, and it holds {side} at "
            f"{say('temperature', part.temperature, '.0f')}: below {say('temperature', COLDEST_ELASTOMER, '.0f')} every usual "
            "elastomer is glass and leaks; a spring-energised seal has no Shore "
            "hardness and "
            "needs a measured friction"
        )
    return out


def slips(case: Case) -> list[str]:
    """What cannot well be meant."""
    return [*_swapped(case), *_orifices(case), *_clearances(case), *_cold_elastomers(case)]


def _fast_lines(found: Measures, case: Case) -> list[str]:
    out = []
    for side in ("oxidizer", "fuel"):
        part, say = getattr(case, side), case.reader.text
        if part is None:
            continue
        flow = part.rated_flow or found.get(f"steady_{side}_flow") or 0.0
        speed = flow / (part.density * 0.25 * math.pi * part.line_bore**2)
        if speed > FAST_LINE:
            out.append(
                f"The {side} line of {say('length', part.line_bore, '.3g')} bore carries {say('speed', speed, '.3g')}, more "
                "than the "
                f"{say('speed', FAST_LINE, '.3g')} usual in feed lines (common practice, no source): if that is its radius, "
                "the bore "
                f"is {say('length', 2.0 * part.line_bore, '.3g')} and the speed {say('speed', speed / 4.0, '.3g')}."
            )
    return out


def _narrow_tube(case: Case) -> list[str]:
    s, tube = case.solenoid, case.tube
    holes = [
        (name, bore, cd)
        for name, bore, cd in (
            ("fill", s.fill_orifice, s.fill_discharge_coefficient),
            ("exhaust", s.exhaust_orifice, s.exhaust_discharge_coefficient),
        )
        if bore and cd is not None  # a port of no bore passes nothing
    ]
    if not holes:
        return []
    name, bore, cd = max(holes, key=lambda hole: hole[2] * hole[1] ** 2)
    ratio = tube.conductance / (ORIFICE_CONDUCTANCE * cd * 0.25 * math.pi * bore**2)
    if ratio >= WIDE_TUBE:
        return []
    say = case.reader.text
    return [
        f"The tube of {say('length', tube.bore, '.3g')} bore passes only {ratio:.2g} times what the {name} orifice does, so it and "
        "not the orifice "
        f"sets the times (usual: at least {WIDE_TUBE:g}, common practice, no source): if that is its radius, the bore is "
        f"{say('length', 2.0 * tube.bore, '.3g')}."
    ]


def doubts(found: Measures, case: Case) -> list[str]:
    """What may be meant but looks like a radius given for a bore."""
    return [*_fast_lines(found, case), *_narrow_tube(case)]


FLAMMABLE = ("hydrogen", "deuterium", "carbon monoxide")
OXIDIZING = ("oxygen", "air")


def gas_hazard(case: Case) -> str | None:
    """What the actuation gas does next to propellants, lubricant or people; None for an inert one."""
    gas = plain_name(case.gas.name)
    if gas in OXIDIZING:
        strength = "pure oxygen" if gas == "oxygen" else "compressed air (a fifth oxygen)"
        words = f"{strength} as actuation gas: filling heats it by compression, and grease, seals and metal dirt burn in it"
        if case.case.kind != "dry":
            words += (
                "; in the lift chamber it stands one rod seal away from the fuel, and what leaks across makes an explosive mixture"
            )
        return words + ". To change: take nitrogen, helium or argon"
    if gas in FLAMMABLE:
        words = f"{gas} as actuation gas burns: exhaust and spring-side vent blow an explosive mixture into the air"
        if case.case.kind != "dry":
            words += "; past the piston seal it meets what oxidizer leaks past the post seal"
        words += "; carbon monoxide kills at small shares of the air" if gas == "carbon monoxide" else ""
        return words + ". To change: take nitrogen, helium or argon"
    return None
