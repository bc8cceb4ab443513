"""The leak-check sheet of a case, before any propellant: pressure, fall or bubbles to accept and to reject, and how long.

    Case + Rig (volume, gauge and temperature error, gas) -> Row per leak -> Answer (screen, leaks.csv, leaks.json, leaks.html)

Accept is what the case itself counts with; where it counts with none, a class VI seat of that diameter (a yardstick). Reject is the
largest leak with which it still opens and closes where the static answer has one, else ten times the accepted (guess). The wait
is the time in which a leak to reject shows three times the error of the fall.
"""

from collections.abc import Callable
from typing import NamedTuple

from sleevelift.case.gases import plain_name
from sleevelift.case.leaks import gas_of_check
from sleevelift.case.schema import Case
from sleevelift.case.walk import value_at
from sleevelift.plant.liquid_sections import clearance_at_running
from sleevelift.sizing.leakage import (
    Gap,
    Gas,
    Reading,
    bubbles_per_minute,
    decay_time,
    fall_error,
    gap_flow,
    orifice_flow,
    pressure_after,
    waiting_time,
)
from sleevelift.sizing.seat_load import CLASS_FRACTION, class_allowance, class_v_allowance, class_vi_allowance
from sleevelift.static_answer.answer import static_report
from sleevelift.study.leak_points import TORN, WIDER, CheckPressure, Point, points, pressure_to_use

LONGEST_WAIT = 1800.0
"""s. A fall that takes longer than that is not waited for: the leak is counted in bubbles (common practice, no source)."""
USUAL_WAIT, SHORTEST_WAIT = 60.0, 5.0
"""s. Of a reading, and the least that can be read by eye: what falls faster is measured as a flow (common practice, no source)."""
LARGEST_FALL = 0.2
"""-. Share of the pressure above ambient that an accepted leak may let go in the wait: beyond it the gauge says little (guess)."""
INERT = ("nitrogen", "helium", "argon", "neon")
"""Gases for leak checks: neither burn nor feed a fire."""


class Rig(NamedTuple):
    """What the check is made with."""

    pressure: float
    """Pa absolute, wanted"""
    volume: float
    """m3, gauge and hoses"""
    gauge_error: float
    """Pa, +-"""
    temperature_error: float
    """K, +-"""
    settle: float
    """s, between filling and the first reading"""
    margin: float
    """-, of the closed sleeve against the test pressure"""
    gas: str


def gas_of_case(case: Case) -> str:
    """The actuation gas where it is inert, else nitrogen."""
    name = plain_name(case.gas.name)
    return name if name in INERT else "nitrogen"


class Row(NamedTuple):
    """One leak of the sheet, SI."""

    seal: str
    side: str
    port: str
    opened: str
    collect: str
    volume: float
    """m3, rig included"""
    pressure: float
    """Pa absolute"""
    because: str
    rated: bool
    accept_flow: float
    """kg/s of the test gas"""
    reject_flow: float
    accept_of: str
    reject_of: str
    wait: float | None
    """s; None: the fall would take too long"""
    accept_fall: float | None
    """Pa in that time, the error counted: a leak as accepted never reads more"""
    reject_fall: float | None
    """Pa in that time, the error counted: a leak as rejected never reads less"""
    error: float
    """Pa, of the fall"""
    accept_bubbles: float
    """1/min, of 0.15 ml at ambient"""
    reject_bubbles: float


def _own_area(case: Case, point: Point) -> float:
    """Effective area that the case counts with, m2; 0 where it has none."""
    try:
        area = float(value_at(case, point.area_key) or 0.0) if point.area_key else 0.0
        return area * (float(value_at(case, point.cd_key)) if point.cd_key else 1.0)
    except (KeyError, AttributeError, TypeError):
        return 0.0


def largest_areas(case: Case) -> dict[str, float]:
    """Largest leaks of the static answer by name, m2 effective; those without a number are left out."""
    return {f.name: f.value for f in static_report(case).findings if f.name.startswith("largest_") and f.value is not None}


class _Limits(NamedTuple):
    accept: float
    """kg/s"""
    reject: float
    accept_of: str
    reject_of: str


def _limits(case: Case, point: Point, known: dict[str, float], p: float, gas: Gas) -> _Limits:
    """Flows to accept and to reject at a test pressure, Pa absolute."""
    amb, T = case.ambient.pressure, case.ambient.temperature
    if point.seal == "slots":
        assert case.slots is not None, "a point of cases with slots"
        slots = case.slots
        gap = Gap(point.diameter, max(clearance_at_running(case), 1e-9), point.length, slots.eccentricity,
                  slots.clearance_discharge_coefficient)  # fmt: skip
        wide = gap._replace(height=WIDER * gap.height)
        flows = [gap_flow(one, p, amb, T, gas).flow for one in (gap, wide)]
        return _Limits(flows[0], flows[1], "the case's own clearance", f"{WIDER:g} times that clearance (guess)")
    own = _own_area(case, point)
    if own > 0.0:
        accept, accept_of = orifice_flow(own, p, amb, T, gas), "what the case counts with"
    else:
        accept = class_vi_allowance(point.diameter) * amb / (gas.specific_constant * T)
        accept_of = "class VI of that diameter (yardstick: the case counts with no leak here)"
    bounds = {name: known[name] for name in point.largest if name in known}
    if not bounds:
        return _Limits(accept, TORN * accept, accept_of, f"{TORN:g} times the accepted (guess)")
    name = min(bounds, key=lambda one: bounds[one])
    reject = orifice_flow(bounds[name], p, amb, T, gas)
    if accept >= reject:
        accept, accept_of = reject / TORN, f"a tenth of the rejected (guess): {accept_of} is more than it bears"
    return _Limits(accept, reject, accept_of, name.replace("_", " "))


def _constant_area(flow: float, p: float, ambient: float, T: float, gas: Gas) -> Callable[[float], float]:
    """Flow over pressure of the orifice that passes `flow` (kg/s) at p."""
    area = flow / orifice_flow(1.0, p, ambient, T, gas)
    return lambda at: orifice_flow(area, at, ambient, T, gas)


def _wait(
    volume: float,
    p: float,
    accept: Callable[[float], float],
    apart: Callable[[float], float],
    amb: float,
    T: float,
    gas: Gas,
    error: float,
) -> float | None:
    """Time (s) after which accept and reject stand three times the error apart; None where a fall cannot tell them.

    Usually a minute, less where an accepted leak would have emptied the volume by then.
    """
    least = waiting_time(volume, p, apart, amb, T, gas, error)
    most = decay_time(volume, p, p - LARGEST_FALL * (p - amb), accept, T, gas)
    wait = max(least, min(USUAL_WAIT, most))
    return wait if SHORTEST_WAIT <= wait <= LONGEST_WAIT and wait <= max(3.0 * most, least) else None


def row_of(case: Case, point: Point, rig: Rig, known: dict[str, float]) -> Row:
    """One leak of the sheet."""
    amb, T = case.ambient.pressure, case.ambient.temperature
    pressure: CheckPressure = pressure_to_use(case, point, rig.pressure, rig.margin)
    p, volume = pressure.value, point.volume + rig.volume
    gas = gas_of_check(rig.gas, T, p)
    limits = _limits(case, point, known, p, gas)
    error = fall_error(Reading(p, p, 1.0, volume, T, rig.gauge_error, rig.temperature_error))
    accept, reject = (_constant_area(flow, p, amb, T, gas) for flow in (limits.accept, limits.reject))
    wait = _wait(volume, p, accept, _constant_area(limits.reject - limits.accept, p, amb, T, gas), amb, T, gas, error)
    falls: tuple[float | None, float | None] = None, None
    if wait is not None:
        accepted, rejected = (p - pressure_after(volume, p, wait, law, amb, T, gas) for law in (accept, reject))
        falls = accepted + error, rejected - error
    return Row(
        point.seal, point.side, point.port, point.opened, point.collect, volume, p, pressure.because, pressure.rated,
        limits.accept, limits.reject, limits.accept_of, limits.reject_of, wait, *falls, error,
        bubbles_per_minute(limits.accept, amb, T, gas), bubbles_per_minute(limits.reject, amb, T, gas),
    )  # fmt: skip


class Yardstick(NamedTuple):
    """What leak classes would allow at one seat or seal."""

    seal: str
    diameter: float
    """m"""
    class_v: float
    """m3/s of water at the highest pressure across it in service"""
    class_vi: float
    """m3/s of air or nitrogen at ambient"""
    shares: dict[str, float]
    """class -> kg/s of the rated flow; empty where it shuts no flow"""


def yardsticks(case: Case) -> list[Yardstick]:
    """Classes of ANSI/FCI 70-2 and IEC 60534-4 at each leak."""
    out = []
    for point in points(case):
        part = getattr(case, point.liquid) if point.liquid else None
        dp = max((part.inlet_pressure or max(part.inlet_table.pressure)) - case.ambient.pressure, 0.0) if part is not None else 0.0
        rated = part.rated_flow if part is not None and point.seal in ("seat", "slots") else None
        shares = {} if rated is None else {name: class_allowance(name, rated) for name in CLASS_FRACTION}
        out.append(
            Yardstick(
                point.seal, point.diameter, class_v_allowance(point.diameter, dp), class_vi_allowance(point.diameter), shares
            )  # fmt: skip
        )
    return out


def sheet_rows(case: Case, rig: Rig) -> list[Row]:
    """Every leak of the case, in the order of the checks."""
    known = largest_areas(case)
    return [row_of(case, point, rig, known) for point in points(case)]
