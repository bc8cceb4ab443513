"""Accept limits of a test: per measure what the runs show, what the case itself asks, and the instrument it is read from.

    accepted(bands) -> [Accept, ...]      low..high = P1..P99 of the runs (a peak: up to P99), narrowed by the case's own limits

A result outside says that the case is not the article: no further test before it is explained. A result inside proves no more
than that nothing was seen. The instrument's own error is not in the limits: it is taken off them where they are used.
"""

from typing import NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.plant.names import UNITS
from sleevelift.ratings import limit_of, parts
from sleevelift.shown import INSTANTS
from sleevelift.stand.bands import LEAST_RUNS, Bands


class Read(NamedTuple):
    """A measure that a stand can read."""

    name: str
    source: str
    """channels it is read from"""
    kinds: tuple[str, ...] = ("dry", "cold-flow", "hot")


WET, HOT = ("cold-flow", "hot"), ("hot",)
READ = (
    Read("supply_at_command", "supply pressure at T0"),
    Read("valve_delay", "T0 to first rise of the lift-chamber pressure"),
    Read("fill_delay", "from there to first lift"),
    Read("breakaway_pressure", "lift-chamber pressure at first lift"),
    Read("travel_time", "lift: first movement to 98 % for good"),
    Read("opening_time", "T0 to 98 % of full lift for good"),
    Read("oxidizer_lead", "first fall of both manifold pressures, or high-speed video", WET),
    Read("steady_oxidizer_flow", "oxidizer line flow before the off command", WET),
    Read("steady_fuel_flow", "fuel line flow before the off command", WET),
    Read("light_off", "first rise of the chamber pressure", HOT),
    Read("steady_chamber_pressure", "chamber pressure before the off command", HOT),
    Read("release_delay", "off command to first fall of the lift-chamber pressure"),
    Read("vent_delay", "from there to first movement down"),
    Read("return_time", "from there to seated for good"),
    Read("closing_time", "off command to seated for good"),
    Read("shutdown_oxidizer_lag", "manifold pressures, or high-speed video", WET),
    Read("peak_lift_chamber_pressure", "lift-chamber pressure"),
    Read("peak_oxidizer_manifold", "oxidizer manifold pressure", WET),
    Read("peak_fuel_manifold", "fuel manifold pressure", WET),
    Read("peak_chamber_pressure", "chamber pressure", HOT),
)
"""In the order in which they happen."""


class Accept(NamedTuple):
    """One measure of the card, SI; instants count from the first on command."""

    name: str
    unit: str
    source: str
    p1: float
    p50: float
    p99: float
    low: float | None
    """accepted from; None: the runs do not tell"""
    high: float | None
    why: str
    """what set the limits; empty: P1 to P99 of the runs, P99 alone of a peak"""
    happened: int
    """runs in which it happened"""
    runs: int


def case_limits(name: str, case: Case) -> tuple[float | None, float | None]:
    """(least, most) that the case itself asks of a measure, SI; None: nothing."""
    limits = case.limits
    if name in ("opening_time", "closing_time"):
        return None, getattr(limits, f"{name}_at_most")
    if name == "oxidizer_lead":
        return 0.0 if limits.oxidizer_lead_at_least is None else limits.oxidizer_lead_at_least, None
    if name.startswith("peak_"):
        rated = next((limit_of(part, case) for part in parts({}, case) if part.check == name), None)
        return None, None if rated is None else rated[0]
    for side in ("oxidizer", "fuel"):
        part = getattr(case, side)
        if name == f"steady_{side}_flow" and case.case.kind == "hot" and part is not None and part.rated_flow is not None:
            band = limits.steady_flow_band
            return part.rated_flow * (1.0 - band), part.rated_flow * (1.0 + band)
    return None, None


def accepted(bands: Bands) -> list[Accept]:
    """The accept limits of a test, in the order in which they are read; measures that never happened are left out."""
    out = []
    case, total = bands.case, bands.complete
    for one in READ:
        values = bands.batch.measures[one.name]
        values = values[np.isfinite(values)] - (bands.origin if one.name in INSTANTS else 0.0)
        if case.case.kind not in one.kinds or not len(values):
            continue
        p1, p50, p99 = np.percentile(values, (1.0, 50.0, 99.0)).tolist()
        low, high, why = None if one.name.startswith("peak_") else p1, p99, ""
        least, most = case_limits(one.name, case)
        if total < LEAST_RUNS or p1 == p99:
            low, high = least, most
            why = "no spread known" if not bands.ranges or total < LEAST_RUNS else "no range of the case moves it"
            why += ": the case's own limit" if (least, most) != (None, None) else ": write it in"
        if least is not None and low is not None and least > low:
            low, why = least, "the case's own limit below"
        if most is not None and high is not None and most < high:
            high, why = most, "the case's own limit above"
        if low is not None and high is not None and low > high:
            low, high, why = least, most, "the runs do not meet the case's own limit"
        out.append(Accept(one.name, UNITS[one.name], one.source, p1, p50, p99, low, high, why, len(values), total))
    return out
