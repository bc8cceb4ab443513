"""The largest leaks with which the valve still opens and still closes, each alone, from the forces at rest.

    fuel --rod seal, A_r--> lift chamber --port and exhaust, A_x--> ambient      closes, stays shut: p_l low enough
    supply --fill, port--> lift chamber --A--> ambient or spring side --vent-->   opens fully: p_l high enough

Each is first the lift-chamber pressure p_l at which the worst margin of its kind is nothing (friction at that p_l, from rest at the
worst lift), then the leak at which the chamber settles there. Assumptions: steady, supply at its lowest and everything at supply
temperature; liquid in the rod seal's leak, or all of it evaporated where that is worse. Left out: a moving sleeve, which gets past
more; the chamber's pressure, which falls as the slots close, so that the lit figure is pessimistic. Sources: orifice laws and
series as in MODEL.md, section 3 and 5; gap: `sizing.leakage`.
"""

from collections.abc import Callable
from math import isnan, pi, sqrt
from typing import Any, NamedTuple

import numpy as np

from sleevelift.case.leaks import warmest_vapour
from sleevelift.case.schema import Case
from sleevelift.constants import GAS_CONSTANT
from sleevelift.physics.gas import gas_at
from sleevelift.plant.build import Plant
from sleevelift.plant.gas_rows import GAS_FLOWS
from sleevelift.plant.margins import CLOSING, CLOSING_UNLIT, FULL_LIFT
from sleevelift.reader import Reader
from sleevelift.sizing.leakage import Gap, choked_factor, liquid_area_of_gap
from sleevelift.static_answer import kernels
from sleevelift.static_answer.sign_change import sign_change

VAPOUR_EXPONENT = 1.1
"""-. Isentropic exponent of fuel vapour, at the low end of what fuels have (common practice, no source): it passes least."""
LEAST_GAP, GREATEST_GAP = 1e-9, 1e-3
"""m. Gaps that are looked for."""
GAP_DISCHARGE = 0.7
"""-. Of a gap taken as an orifice (short gap, common practice, no source)."""
ANY = "any: {verb} even with the lift chamber at {what} pressure"
NEGATIVE = "none: the margin is negative without a leak"


class LeakLimit(NamedTuple):
    """A largest leak."""

    name: str
    area: float | None
    """m2, effective; None: see `words`"""
    given: float | None
    """m2, effective, that the case has; None: it has no such key"""
    gap: float | None
    """m, radial height of an even gap all around that seal which lets the same through; None: no seal, or none that small"""
    check_flow: float | None
    """m3/s at ambient pressure and temperature, actuation gas at its pressure through that area: what a leak check shows"""
    words: str
    """why there is no number, or what the number is of and leaves out"""

    @property
    def held(self) -> bool | None:
        """Whether the case's own leak is no larger; None where one of the two is not there."""
        return None if self.given is None or self.area is None else self.given <= self.area


def told_of(leak: LeakLimit, gas: str, reader: Reader) -> str:
    """What a largest leak is, with the gap and the leak check that it stands for; gas: name of the actuation gas."""
    said = leak.words
    if leak.gap is not None:
        said += f"; as a gap {reader.text('gap', leak.gap, '.3g')} all around"
    if leak.check_flow is not None:
        said += f"; in a leak check {reader.text('gas flow', leak.check_flow, '.3g')} of {gas} (at ambient) from actuation pressure"
    return said


def root_between(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a function changes sign between two pressures, Pa."""
    return sign_change(function, low, high, 1e-6)


class Chamber:
    """What a plant says of its lift chamber: margins at a pressure of it, and flows into and out of it."""

    def __init__(self, case: Case, plant: Plant, event_memory: np.ndarray) -> None:
        self.case, self.plant, self.event_memory = case, plant, event_memory
        self.record = plant.record[0]
        self.ambient = float(self.record["ambient_pressure"])
        r = self.record["ranges"]
        self.gas_low, self.gas_work, self.fuel_high = float(r["gas_low"]), float(r["gas_work"]), float(r["fuel_high"])

    def margin(self, which: int, p_l: float, p_s: float | None = None) -> float:
        """Least margin over the stroke at a lift-chamber pressure, Pa."""
        at = self.ambient if p_s is None else p_s
        return float(kernels.margin_with_gas(self.plant.record, self.plant.tables, self.event_memory, which, p_l, at))

    def left_over(self, p_l: float) -> float:
        """What opens less what holds the closed sleeve, N, at the least friction and the highest fuel pressure."""
        return float(kernels.seated_left_over(self.plant.record, self.plant.tables, p_l))

    def row(self, name: str) -> int | None:
        """Row of a gas flow in the record; None: the plant does not have it."""
        signal = next(flow.signal for flow in GAS_FLOWS if flow.name == name)
        flows = self.record["flows"]
        return next((k for k in range(int(self.record["gas"]["flows"])) if flows[k]["signal"] == signal), None)

    def area(self, name: str, way: int = 0) -> float:
        """Effective area of a gas flow, m2, out (0) or back (1); 0 where it is not there."""
        k = self.row(name)
        return 0.0 if k is None else float(self.record["flows"][k]["area"][way])

    def flow(self, name: str, upstream: float, downstream: float) -> float:
        """Flow of a row wholly open, kg/s, from upstream (at supply temperature) to downstream, Pa."""
        k = self.row(name)
        if k is None:
            return 0.0
        T = self.case.supply.temperature
        return float(kernels.gas_passed(self.plant.record, self.plant.gas, k, upstream, T, downstream))

    def unit_flow(self, upstream: float, downstream: float) -> float:
        """Flow through an orifice of 1 m2 effective area, kg/s, the same way."""
        lanes = self.plant.record.copy()
        lanes[0]["flows"][0]["area"], lanes[0]["flows"][0]["b"] = 1.0, -1.0
        T = self.case.supply.temperature
        return float(kernels.gas_passed(lanes, self.plant.gas, 0, upstream, T, downstream))

    def fill_flow(self, p_l: float) -> float:
        """What fill port, tube and port pass at once into a lift chamber at p_l, kg/s, supply at its lowest."""
        supply = self.gas_low

        def apart(p_tube: float) -> float:
            return self.flow("fill", supply, p_tube) - self.flow("port", p_tube, p_l)

        return self.flow("fill", supply, root_between(apart, p_l, supply)) if p_l < supply else 0.0

    def vented(self, p_l: float) -> float:
        """Effective area by which liquid leaves the chamber, m2, exhaust open: port and exhaust in series, quick exhaust."""
        port, exhaust, quick = self.area("port", 1), self.area("exhaust"), self.area("quick exhaust")
        series = port * exhaust / sqrt(port * port + exhaust * exhaust) if port > 0.0 and exhaust > 0.0 else 0.0
        if quick <= 0.0:
            return series
        cracking = float(self.record["gas"]["cracking"])
        moved = min(max((p_l - self.ambient) / cracking, 0.0), 1.0)
        return moved * quick + (1.0 - moved) * series


def rod_leak(chamber: Chamber, p_l: float) -> tuple[float, str]:
    """(effective area, m2, at which fuel past the rod seal holds the vented chamber at p_l; which balance it is of)."""
    p_f, amb, outlet = chamber.fuel_high, chamber.ambient, chamber.vented(p_l)
    share = (p_l - amb) / (p_f - amb)
    liquid = outlet * sqrt(share / (1.0 - share))
    fuel = chamber.case.fuel
    assert fuel is not None, "asked of cases with propellants only"
    warmest, pressure = warmest_vapour(chamber.case)
    if not pressure > amb:
        return liquid, ""
    if fuel.molar_mass is None:
        return liquid, "the fuel may evaporate on the way, which takes far less leak: its molar mass is not given"
    vapour = choked_factor(VAPOUR_EXPONENT) * outlet * p_l
    vapour /= sqrt(GAS_CONSTANT / fuel.molar_mass * warmest) * sqrt(2.0 * fuel.density * (p_f - p_l))
    if vapour >= liquid:
        return liquid, ""
    return vapour, "the fuel may evaporate on the way (all of it: this figure); a run with liquid is not conservative"


def rod_gap(chamber: Chamber, area: float, p_l: float) -> float | None:
    """Even gap, m, around the rod that lets as much fuel through as an effective area, m2, into a chamber at p_l."""
    case = chamber.case
    fuel, seal = case.fuel, case.seals.rod
    length = seal.leak_length if seal.leak_length is not None else seal.cord
    assert fuel is not None, "asked of cases with propellants only"
    if length is None or fuel.viscosity is None:
        return None

    def apart(height: float) -> float:
        gap = Gap(case.sleeve.rod_diameter, height, length, 0.0, GAP_DISCHARGE)
        return liquid_area_of_gap(gap, chamber.fuel_high - p_l, fuel.density, fuel.viscosity) - area

    if not apart(LEAST_GAP) < 0.0 < apart(GREATEST_GAP):
        return None
    return sign_change(apart, LEAST_GAP, GREATEST_GAP, 1e-15)


def limit(
    chamber: Chamber, name: str, area: float | None, words: str, given: float | None = None, gap: float | None = None
) -> LeakLimit:
    """A largest leak with what a leak check shows of it: actuation gas at its pressure, to ambient."""
    flow = None
    if area is not None:
        flow = area * chamber.unit_flow(chamber.gas_work, chamber.ambient)
        ambient = chamber.case.ambient
        flow /= float(gas_at(ambient.pressure, ambient.temperature, chamber.plant.gas)[0])
    return LeakLimit(name, area, given, gap, flow, words)


def largest_rod_leaks(chamber: Chamber) -> list[LeakLimit]:
    """Fuel past the rod seal: still closes, lit and unlit, with the exhaust open; does not lift the closed sleeve."""
    kinds: list[tuple[str, Callable[[float], float], str, str]] = [
        (
            "largest_rod_leak_unlit", lambda p: chamber.margin(CLOSING_UNLIT, p), "it closes",
            "still closes, unlit, from rest at the worst lift",
        ),
        (
            "largest_rod_leak_seated", lambda p: -chamber.left_over(p), "it stays shut",
            "does not lift the closed sleeve, least friction",
        ),
    ]  # fmt: skip
    if chamber.case.case.kind == "hot":
        told = "still closes, lit, from rest at the worst lift; pessimistic: the chamber's pressure falls as it closes"
        kinds.insert(0, ("largest_rod_leak_lit", lambda p: chamber.margin(CLOSING, p), "it closes", told))
    out = []
    for name, spare, verb, told in kinds:
        bottom, top = spare(chamber.ambient), spare(chamber.fuel_high)
        if isnan(bottom) or not chamber.fuel_high > chamber.ambient:
            out.append(limit(chamber, name, None, "any: nothing opens it"))
        elif bottom < 0.0:
            out.append(limit(chamber, name, None, NEGATIVE))
        elif top >= 0.0 or isnan(top):
            out.append(limit(chamber, name, None, ANY.format(verb=verb, what="fuel")))
        else:
            p_l = root_between(spare, chamber.ambient, chamber.fuel_high)
            area, remark = rod_leak(chamber, p_l)
            told = f"fuel past the rod seal, exhaust open, fuel pressure at its highest: {told}" + (f". {remark}" if remark else "")
            out.append(limit(chamber, name, area, told, None, rod_gap(chamber, area, p_l)))
    return out


def settles(chamber: Chamber, which: str, p_l: float) -> tuple[float, float]:
    """(kg/s that the leak `which` must take for the lift chamber to stay at p_l, spring-side pressure then, Pa)."""
    if which == "outside":
        p_s = spring_pressure(chamber, lambda p: chamber.flow("piston leak", p_l, p), p_l)
        return chamber.fill_flow(p_l) - chamber.flow("piston leak", p_l, p_s), p_s
    w = chamber.fill_flow(p_l) - chamber.flow("outside leak", p_l, chamber.ambient)
    return w, spring_pressure(chamber, lambda p: w, p_l)


def spring_pressure(chamber: Chamber, enters: Callable[[float], float], highest: float) -> float:
    """Spring-side pressure, Pa, at which its vent passes what enters, at most `highest`."""

    def apart(p_s: float) -> float:
        return chamber.flow("vent", p_s, chamber.ambient) - enters(p_s)

    if apart(chamber.ambient) >= 0.0:
        return chamber.ambient
    return highest if apart(highest) <= 0.0 else root_between(apart, chamber.ambient, highest)


def largest_gas_leak(chamber: Chamber, which: str, given: float) -> LeakLimit:
    """Gas out of the lift chamber with which the valve still reaches full lift: `which` is "outside" or "piston"."""
    name = "largest_lift_leak" if which == "outside" else "largest_piston_leak"

    def spare(p_l: float) -> float:
        return chamber.margin(FULL_LIFT, p_l, settles(chamber, which, p_l)[1])

    amb, top = chamber.ambient, chamber.gas_low * (1.0 - 1e-9)
    if top <= amb or not spare(top) >= 0.0:
        return limit(chamber, name, None, NEGATIVE, given)
    if spare(amb * (1.0 + 1e-6)) >= 0.0:
        return limit(chamber, name, None, ANY.format(verb="it opens fully", what="ambient"), given)
    p_l = root_between(spare, amb * (1.0 + 1e-6), top)
    w, p_s = settles(chamber, which, p_l)
    downstream = amb if which == "outside" else p_s
    unit = chamber.unit_flow(p_l, downstream)
    if w <= 0.0 or unit <= 0.0:
        return limit(chamber, name, None, "none: the other leak alone keeps it from full lift", given)
    area = w / unit
    what = "to the outside" if which == "outside" else "past the piston seal"
    told = f"lift chamber {what}, fill port open, supply at its lowest: still reaches full lift, from rest at the worst lift"
    gap = None
    if which == "piston":
        gap = area / (GAP_DISCHARGE * pi * chamber.case.sleeve.piston_diameter)
        told += "; gap: at least that"
    return limit(chamber, name, area, told, given, gap)


def leak_limits(case: Case, plant: Plant, event_memory: Any) -> list[LeakLimit]:
    """Every largest leak of a case; event_memory as `kernels.margin_numbers` leaves it."""
    chamber = Chamber(case, plant, event_memory)
    out = largest_rod_leaks(chamber) if case.fuel is not None else []
    for which, name in (("outside", "outside leak"), ("piston", "piston leak")):
        out.append(largest_gas_leak(chamber, which, chamber.area(name)))
    return out
