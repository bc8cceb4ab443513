"""The ends of the case's ranges that the margins of a plant are worked out at."""

from collections.abc import Mapping
from typing import Any

from sleevelift.case.schema import Case
from sleevelift.case.schema_chamber import Limits
from sleevelift.case.schema_gas import Supply
from sleevelift.case.schema_liquid import Bench, Purge, Seat
from sleevelift.case.schema_machine import Seal, Seals
from sleevelift.plant.sections import Curves

COMMON_PATHS = "seals.friction_factor", "seals.breakaway_ratio"
OWN_PATHS = {
    seal: tuple(f"seals.{seal}.{name}" for name in ("friction_factor", "squeeze_friction", "pressure_coefficient"))
    for seal in ("post", "rod", "piston")
}
"""What moves the breakaway of each seal: the factors of all, its own."""
ANY_OWN_PATH = frozenset(path for own in OWN_PATHS.values() for path in own)


def over(path: str, nominal: float, ranges: Mapping[str, tuple[float, float]]) -> tuple[float, float]:
    """Ends of a value's range over its nominal, -; 1, 1 without a range."""
    if path not in ranges or not nominal > 0.0:
        return 1.0, 1.0
    low, high = ranges[path]
    return low / nominal, high / nominal


def range_factors(seals: Seals, ranges: Mapping[str, tuple[float, float]]) -> tuple[float, float, float, float, float, float]:
    """Least and greatest breakaway over its nominal, from every range that touches it, -, of post, rod and piston seal."""
    low, high = over(COMMON_PATHS[0], seals.friction_factor, ranges)
    ratio_low, ratio_high = over(COMMON_PATHS[1], seals.breakaway_ratio, ranges)
    low *= ratio_low
    high *= ratio_high
    if ANY_OWN_PATH.isdisjoint(ranges):
        return low, high, low, high, low, high
    parts = ("post", seals.post), ("rod", seals.rod), ("piston", seals.piston)
    own = [factor for seal, part in parts for factor in own_factors(part, seal, ranges)]
    return low * own[0], high * own[1], low * own[2], high * own[3], low * own[4], high * own[5]


def own_factors(part: Seal, seal: str, ranges: Mapping[str, tuple[float, float]]) -> tuple[float, float]:
    """The share of one seal's own ranges: its factor's, times the widest of squeeze and pressure coefficient."""
    factor, squeeze, coefficient = OWN_PATHS[seal]
    low, high = over(factor, part.friction_factor, ranges)
    ratios = [
        over(path, nominal, ranges)
        for path, nominal in ((squeeze, part.squeeze_friction), (coefficient, part.pressure_coefficient))
        if nominal > 0.0 and path in ranges
    ]
    if ratios:
        low *= min(ratio[0] for ratio in ratios)
        high *= max(ratio[1] for ratio in ratios)
    return low, high


DRY_LINE = (0.0, 0.0)
"""Stands for the fuel line of a case without one."""


def counted_paths(case: Case) -> frozenset[str]:
    """Paths whose ranges the margins of this case take the ends of."""
    fuel = "bench.fuel_side_pressure" if case.fuel is None else "fuel.inlet_pressure"
    gas = {"supply.bottle_pressure"} if case.supply.kind == "bottle" else {"supply.pressure", "supply.bottle_pressure"}
    purge = ("fuel.purge.pressure",) if case.fuel is not None and case.fuel.purge is not None else ()
    return frozenset((*COMMON_PATHS, *ANY_OWN_PATH, *gas, fuel, *purge, "seat.jet_factor"))


def fill_ranges(
    record: Any, curves: Curves, ranges: Mapping[str, tuple[float, float]], s: Supply, bench: Bench, fuel_line: tuple[float, float],
    seat: Seat | None, seals: Seals, limits: Limits, purge: Purge | None,
) -> None:  # fmt: skip
    """Extremes of gas, fuel pressure (`fuel_line` ends with the highest at the inlet, Pa), friction and jet for the margins.

    purge: that of the fuel's manifold, whose pressure counts as the highest where it is.
    """
    path = "supply.bottle_pressure" if s.kind == "bottle" else "supply.pressure"
    if s.kind == "table":
        assert s.table is not None, "the reader asks for the table of a tabled supply"
        work = max(s.table.pressure)
    elif s.kind == "bottle":
        work = s.bottle_pressure or 0.0
    else:
        work = s.pressure or 0.0
        if s.kind == "regulator":
            work = min(work, s.bottle_pressure or work)
    gas_low, gas_high = ranges.get(path, (work, work))
    if s.kind == "regulator" and s.bottle_pressure is not None:
        bottle_low, bottle_high = ranges.get("supply.bottle_pressure", (s.bottle_pressure, s.bottle_pressure))
        gas_low, gas_high = min(gas_low, bottle_low), min(gas_high, bottle_high)
    if fuel_line is DRY_LINE:
        fuel_path, fuel = "bench.fuel_side_pressure", bench.fuel_side_pressure
    else:
        fuel_path, fuel = "fuel.inlet_pressure", fuel_line[1]
    fuel_low, fuel_high = ranges.get(fuel_path, (fuel, fuel))
    if purge is not None:
        fuel_high = max(fuel_high, ranges.get("fuel.purge.pressure", (purge.pressure, purge.pressure))[1])
    jet = seat.jet_factor if seat is not None else 1.0
    jet_low, jet_high = ranges.get("seat.jet_factor", (jet, jet))
    factors = range_factors(seals, ranges)
    record["ranges"] = gas_low, gas_high, work, fuel_low, fuel_high, *factors, jet_low, jet_high, limits.lift_area_factor
