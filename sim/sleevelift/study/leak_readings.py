"""What pressure-decay readings say of one leak: area and gap with interval, which picture they decide for, what it does to a run.

    "rod: 6.9 bara to 6.7 bara in 300 s, 20 cm3"  ->  Measured  ->  Answered (orifice, gap, liquid)  ->  values of the case

One reading fits an orifice and a gap alike; the two differ several-fold in the liquid they pass. Readings at two pressures
decide: for the picture whose intervals have something in common. The hazard counts the worse of the two, its upper end.
"""

import math
import re
from collections.abc import Sequence
from typing import NamedTuple

from sleevelift import units
from sleevelift.case.gases import ADMITTED, plain_name
from sleevelift.case.leaks import gas_of_check
from sleevelift.case.schema import Case
from sleevelift.case.walk import info_at, split, value_at
from sleevelift.glands import gas_pressure
from sleevelift.sizing.leakage import (
    Found,
    Gap,
    Gas,
    Reading,
    choked_factor,
    gap_flow,
    gap_of_reading,
    liquid_area_of_gap,
    liquid_gap_flow,
    orifice_of_reading,
)
from sleevelift.study.leak_points import Point, points
from sleevelift.study.leak_sheet import Rig
from sleevelift.study.values import refused

FORM = '"rod: 6.9 bara to 6.7 bara in 300 s, 20 cm3", and a gas after another comma where it is another than the sheet\'s'
_FORM = re.compile(r"\s*(\w+)\s*:\s*(.+?)\s+to\s+(.+?)\s+in\s+([^,]+),\s*([^,]+?)\s*(?:,\s*([\w ]+?)\s*)?$")
OPTION = "--measured"


class Measured(NamedTuple):
    """One reading of one leak."""

    text: str
    point: Point
    reading: Reading
    gas: Gas


class Answered(NamedTuple):
    """What all readings of one leak say."""

    point: Point
    readings: list[Measured]
    areas: list[Found]
    """m2 effective, as an orifice, one a reading"""
    gaps: list[Found]
    """m, as a gap"""
    decided: str
    """orifice, gap, or empty: both fit, or neither"""
    words: str
    liquid: tuple[float, float] | None
    """kg/s of the propellant at its inlet pressure: as an orifice, as a gap; None: gas only"""
    service: tuple[float, float]
    """m2, effective area in service: as an orifice, as a gap; the upper end of the readings"""


def _number(text: str, kind: str, case: Case, whole: str) -> float:
    try:
        return units.read_quantity(text, kind, case.ambient.pressure).si
    except units.UnitError as error:
        raise refused(f"{OPTION} {whole}", f"{text}: {error}") from None


def measured_of(case: Case, text: str, rig: Rig) -> Measured:
    """A reading as it stands on the command line. CaseError with its rule where it cannot be used."""
    match = _FORM.match(text)
    if match is None:
        raise refused(f"{OPTION} {text}", f"must be like {FORM}")
    name, start, end, time, volume, gas = match.groups()
    known = {point.seal: point for point in points(case)}
    if name not in known:
        raise refused(f"{OPTION} {text}", f"{name}: must be one of {', '.join(known)}")
    p0, p1 = _number(start, "pressure", case, text), _number(end, "pressure", case, text)
    seconds, room = _number(time, "time", case, text), _number(volume, "volume", case, text)
    if not case.ambient.pressure < p0:
        raise refused(f"{OPTION} {text}", "must begin above ambient pressure")
    if not case.ambient.pressure <= p1 <= p0:
        raise refused(f"{OPTION} {text}", "must end between ambient pressure and where it began")
    if not (seconds > 0.0 and room > 0.0):
        raise refused(f"{OPTION} {text}", "time and volume must be above 0")
    own = plain_name(gas) if gas else rig.gas
    if own not in ADMITTED:
        raise refused(f"{OPTION} {text}", f"{gas}: must be one of {', '.join(ADMITTED)}")
    T = case.ambient.temperature
    reading = Reading(p0, p1, seconds, room, T, rig.gauge_error, rig.temperature_error)
    return Measured(text, known[name], reading, gas_of_check(own, T, p0))


def gap_form(case: Case, point: Point) -> Gap:
    """The gap that a point's leak would be: its diameter and length, no height yet."""
    eccentricity = case.slots.eccentricity if point.seal == "slots" and case.slots is not None else 0.0
    return Gap(point.diameter, 1e-6, point.length, eccentricity)


def _common(found: Sequence[Found]) -> bool:
    """Whether all intervals have something in common."""
    return max(one.low for one in found) <= min(one.high for one in found)


def _decided(areas: Sequence[Found], gaps: Sequence[Found], readings: Sequence[Measured]) -> tuple[str, str]:
    """(picture that the readings decide for or empty, in words)."""
    starts = [one.reading.start for one in readings]
    if len(readings) < 2 or max(starts) < 1.3 * min(starts):
        return "", "one pressure fits a hole and a gap alike: a second reading at another pressure decides"
    hole, gap = _common(areas), _common(gaps)
    if hole and gap:
        return "", "both fit within the errors: longer readings, or pressures further apart, decide"
    if hole or gap:
        return ("orifice", "a hole: a gap would have leaked differently at the other pressure") if hole else (
            "gap", "a gap: a hole would have leaked differently at the other pressure")  # fmt: skip
    return "", "neither fits: a seal that moves, another leak, or a temperature that was not steady"


def _inlet(case: Case, side: str) -> float:
    part = getattr(case, side)
    own = part.inlet_pressure or max(part.inlet_table.pressure)
    return float(case.ranges.get(f"{side}.inlet_pressure", (0.0, own))[1])


def answered(case: Case, readings: Sequence[Measured]) -> Answered:
    """All readings of one leak."""
    point, amb = readings[0].point, case.ambient.pressure
    form = gap_form(case, point)
    areas = [orifice_of_reading(one.reading, amb, one.gas) for one in readings]
    gaps = [gap_of_reading(one.reading, amb, one.gas, form) for one in readings]
    decided, words = _decided(areas, gaps, readings)
    area = max(one.high for one in areas)
    height = max(one.high for one in gaps)
    liquid = None
    if point.liquid:
        part = getattr(case, point.liquid)
        dp = max(_inlet(case, point.liquid) - amb, 0.0)
        wide = form._replace(height=height)
        as_gap = liquid_gap_flow(wide, dp, part.density, part.viscosity) if height > 0.0 else 0.0
        liquid = area * math.sqrt(2.0 * part.density * dp), as_gap
        service = area, liquid_area_of_gap(wide, dp, part.density, part.viscosity) if dp > 0.0 and height > 0.0 else 0.0
    else:
        p, gas = gas_pressure(case), readings[0].gas
        T = case.ambient.temperature
        flow = gap_flow(form._replace(height=height), p, amb, T, gas).flow if height > 0.0 else 0.0
        service = area, flow * math.sqrt(gas.specific_constant * T) / (choked_factor(gas.exponent) * p)
    return Answered(point, list(readings), areas, gaps, decided, words, liquid, service)


def area_to_use(found: Answered) -> tuple[float, str]:
    """(effective area m2, which picture): the decided one, else the worse of the two."""
    if found.decided:
        return found.service[0 if found.decided == "orifice" else 1], found.decided
    place = 0 if found.service[0] >= found.service[1] else 1
    return found.service[place], ("orifice", "gap")[place]


def change_of(case: Case, point: Point, area: float) -> dict[str, float] | None:
    """The values of the case that hold an effective area (m2); None where the simulation has no such leak."""
    if not point.area_key or info_at(split(point.area_key)) is None:
        return None
    cd = float(value_at(case, point.cd_key)) if point.cd_key else 1.0
    return {point.area_key: area / cd}


def together_by_leak(readings: Sequence[Measured]) -> list[list[Measured]]:
    """Readings of one leak together, in the order in which they were given."""
    found: dict[str, list[Measured]] = {}
    for one in readings:
        found.setdefault(one.point.seal, []).append(one)
    return list(found.values())
