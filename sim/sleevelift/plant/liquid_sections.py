"""The wet side of a plant: feed lines, slots, seat, combustion chamber and igniter, as `sections` makes them."""

from math import cos, inf, nan, pi, sin
from typing import Any

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.case.schema_chamber import Chamber, Igniter
from sleevelift.case.schema_gas import Gas
from sleevelift.case.schema_liquid import Bench, FeedValve, Propellant, Seat, Slots
from sleevelift.case.schema_machine import Sleeve
from sleevelift.case.schema_run import Ambient, CaseTable
from sleevelift.constants import AIR_GAS_CONSTANT
from sleevelift.physics.feed_line import critical_damping, ringing_period
from sleevelift.physics.manifold_gas import LEAST_PRESSURE
from sleevelift.physics.run_valve import share_over_time, travel_over_time
from sleevelift.physics.sleeve import AxialAreas
from sleevelift.physics.slots import OBROUND, RECTANGULAR, ROUND, clearance_losses, hot_clearance
from sleevelift.plant.mixture_table import cold_c_star, mixture_curve
from sleevelift.plant.params import (
    COMBUSTION_CHAMBER,
    IGNITION,
    LINE,
)
from sleevelift.plant.reservoir_state import gas_name, hot_enthalpy_terms
from sleevelift.plant.sections import Curves, in_order
from sleevelift.plant.state import FUEL, OXIDIZER
from sleevelift.sizing.orifice_sizes import KV_AREA, kv_of_cv

SHAPES = {"rectangular": RECTANGULAR, "round": ROUND, "obround": OBROUND}


IN_PROPORTION = [(0.0, 0.0), (1.0, 1.0)]
"""Share of a valve's area over its travel where no table is given."""


def valve_shares(valve: FeedValve) -> list[tuple[float, float]]:
    """Knots (instant s, share of the area that is open) of a run valve."""
    table = IN_PROPORTION if valve.travel is None else list(zip(valve.travel.travel, valve.travel.share))
    travel = travel_over_time(valve.on, valve.off, valve.opening_time, valve.closing_time, valve.open_at_start)
    return share_over_time(travel, table)


def valve_area(valve: FeedValve) -> float:
    """Effective area of the open run valve, m2: given, or of its Kv or Cv."""
    if valve.effective_area is not None:
        return valve.effective_area
    if valve.kv is not None:
        return KV_AREA * valve.kv
    assert valve.cv is not None, "the reader asks for one of the three"
    return KV_AREA * kv_of_cv(valve.cv)


PLACES = [
    {"flow_place": f"{name}_flow", "dribble_place": f"dribble_{name}", "unburned_place": f"unburned_{name}"}
    for name in ("oxidizer", "fuel")
]
"""States of each side, beside its manifold's, by their names in `params.INDEX`."""


def fill_line(record: Any, curves: Curves, side: int, part: Propellant, swept: float, place: dict[str, int]) -> tuple[float, float]:
    """One feed line with its manifold and passage; volume is manifold plus line. (Free period, s; highest inlet pressure, Pa)."""
    area = pi / 4.0 * part.line_bore**2
    inertance = part.line_length / area
    line_volume = part.line_length * area
    volume = part.manifold_volume + line_volume
    table, inlet = (0, 0), 0.0
    if part.inlet_table is not None:
        table = curves.add([v for pair in zip(part.inlet_table.time, part.inlet_table.pressure) for v in pair], 2)
        highest = max(part.inlet_table.pressure)
    else:
        assert part.inlet_pressure is not None, "the reader asks for an inlet pressure or a table"
        inlet = highest = part.inlet_pressure
    loss = 0.0
    if part.rated_flow is not None and part.rated_loss:
        loss = part.rated_loss / part.rated_flow**2 * part.rated_density / part.density
    period = ringing_period(inertance, volume, part.bulk_modulus, part.density)
    of_line = volume
    valve = part.valve
    beside_gas = part.purge is not None or (valve is not None and valve.start_gas is not None)
    run_valve = {"valve": (0, 0), "valve_area": 0.0, "check_valve": 0, "ahead_volume": 0.0, "locked": 0.0}
    if valve is not None:
        volume, of_line = part.manifold_volume, line_volume
        run_valve = {
            "valve": curves.add([v for knot in valve_shares(valve) for v in knot], 2),
            "valve_area": valve_area(valve),
            "check_valve": int(valve.check_valve),
            "ahead_volume": line_volume,
            "locked": max(valve.manifold_pressure, part.vapour_pressure),
        }
    values = {
        "present": 1,
        "rho": part.density,
        "mu": part.viscosity,
        "bulk": part.bulk_modulus,
        "vapour": max(part.vapour_pressure, LEAST_PRESSURE) if beside_gas else part.vapour_pressure,
        "inertance": inertance,
        "area_per_length": area / part.line_length,
        "loss": loss,
        "volume": volume,
        "stiffness": part.bulk_modulus / volume,
        "specific_volume": 1.0 / part.density,
        "trapped_gas": part.trapped_gas_volume,
        "trapped_gas_exponent": part.trapped_gas_exponent,
        "inlet": inlet,
        "inlet_high": highest,
        "table": table,
        "dribble_mass": part.density * part.dribble_volume,
        "dribble_time": part.dribble_time or 0.0,
        "swept": swept,
        "reference": part.rated_flow or 0.0,
        "period": period,
        "damping": critical_damping(ringing_period(inertance, of_line, part.bulk_modulus, part.density)),
        "end": side,
        **run_valve,
        **{name: place[state] for name, state in PLACES[side].items()},
    }
    record["lines"][side] = in_order(values, LINE)
    return period, highest


def fill_oxidizer(record: Any, curves: Curves, part: Propellant, place: dict[str, int]) -> tuple[float, float]:
    """`fill_line` of the oxidizer."""
    return fill_line(record, curves, OXIDIZER, part, 0.0, place)


def fill_fuel(record: Any, curves: Curves, part: Propellant, areas: AxialAreas, place: dict[str, int]) -> tuple[float, float]:
    """`fill_line` of the fuel, whose pressure helps the sleeve up."""
    return fill_line(record, curves, FUEL, part, areas.fuel_opening, place)


def running_clearance(slots: Slots, sleeve: Sleeve) -> float:
    """`clearance_at_running` of these tables."""
    return hot_clearance(slots.clearance, sleeve.post_diameter, slots.post_contraction or 0.0, slots.sleeve_contraction or 0.0)


def clearance_at_running(case: Case) -> float:
    """Radial clearance between post and sleeve at running temperature, m (not above 0: it has closed up)."""
    slots = case.slots
    assert slots is not None, "only cases with propellants have slots"
    return running_clearance(slots, case.sleeve)


def fill_slots(record: Any, curves: Curves, slots: Slots | None, sleeve: Sleeve, liquid: Propellant | None) -> None:
    """Oxidizer slots, or their measured table, and the clearance at running temperature."""
    if slots is None:
        return
    rows: list[float] = []
    for row in slots.row:
        width = row.width if row.width is not None else row.height
        rows += [float(row.count), SHAPES[row.shape], row.height, width, row.lap, row.discharge_coefficient]
    measured, cd, first = (0, 0), 1.0, min((row.lap for row in slots.row), default=0.0)
    if slots.table is not None:
        measured = curves.add([v for pair in zip(slots.table.lift, slots.table.area) for v in pair], 2)
        cd = slots.discharge_coefficient if slots.discharge_coefficient is not None else 1.0
        closed = [lift for lift, area in zip(slots.table.lift, slots.table.area) if area <= 0.0]
        first = max(closed, default=0.0)
    density, viscosity = (0.0, 0.0) if liquid is None else (liquid.density, liquid.viscosity)
    losses = clearance_losses(
        sleeve.post_diameter, running_clearance(slots, sleeve), slots.eccentricity, slots.clearance_discharge_coefficient,
        density, viscosity,
    )  # fmt: skip
    record["slots"] = (curves.add(rows, 6), measured, cd, first, slots.minimum_length, *losses)


def fill_seat(record: Any, curves: Curves, seat: Seat | None, sleeve: Sleeve) -> None:
    """Seat gap, spigot, annulus and jet; a dry case without a seat has no annulus, so its gap sees the chamber."""
    if seat is None:
        return
    measured = (0, 0)
    if seat.table is not None:
        measured = curves.add([v for pair in zip(seat.table.lift, seat.table.area) for v in pair], 2)
    annulus = 0.0
    if seat.annulus_area is not None:
        annulus = seat.annulus_area * (seat.annulus_discharge_coefficient or 1.0)
    spigot = seat.spigot_length if seat.spigot_clearance is not None else 0.0
    record["seat"] = (
        measured,
        1.0 if seat.edge == "sleeve" else 0.0,
        sleeve.seat_diameter,
        sleeve.nose_diameter,
        sin(seat.half_angle),
        cos(seat.half_angle),
        seat.discharge_coefficient,
        spigot,
        seat.spigot_clearance or 0.0,
        annulus,
        seat.jet_factor,
        seat.leak_area / seat.discharge_coefficient,
    )


_mixtures: dict[tuple[int, float, float], tuple[Chamber, tuple[np.ndarray, np.ndarray, float]]] = {}
"""Curves of chambers by their address: looking up a long table by its numbers takes longer than all the rest of `fill_chamber`."""


def mixture_curves(chamber: Chamber, cold_fuel: float, cold_oxidizer: float) -> tuple[np.ndarray, np.ndarray, float]:
    """(real curve, ideal curve, O/F of the highest c*) of a chamber, given c* of cold vapour at both ends, m/s."""
    key = id(chamber), cold_fuel, cold_oxidizer
    known = _mixtures.get(key)
    if known is None:
        of, c = chamber.o_f, chamber.c_star
        real = mixture_curve(of, c, chamber.g, chamber.efficiency, cold_fuel, cold_oxidizer)
        ideal = mixture_curve(of, c, chamber.g, 1.0, cold_fuel, cold_oxidizer)
        if len(_mixtures) > 100:
            _mixtures.clear()
        # the chamber is kept so that its address stays its own
        known = _mixtures[key] = chamber, (real, ideal, of[max(range(len(c)), key=c.__getitem__)])
    return known[1]


def fill_chamber(
    record: Any, curves: Curves, table: CaseTable, bench: Bench, ambient: Ambient, gas: Gas, chamber: Chamber | None,
    oxidizer: Propellant | None, fuel: Propellant | None,
) -> None:  # fmt: skip
    """Combustion chamber, or the back pressure the liquids are discharged into."""
    back = bench.back_pressure if table.kind == "cold-flow" else ambient.pressure
    if chamber is None or oxidizer is None or fuel is None:
        record["chamber"]["back"] = back
        record["chamber"]["allowable"] = inf
        return
    g_first, g_last = chamber.g[0], chamber.g[-1]
    cold_fuel = cold_c_star(chamber.cold_c_star_fuel, fuel, g_first)
    cold_ox = cold_c_star(chamber.cold_c_star_oxidizer, oxidizer, g_last)
    real, ideal, best = mixture_curves(chamber, cold_fuel, cold_ox)
    of = chamber.o_f
    values = {
        "hot": 1,
        "back": back,
        "volume": chamber.volume,
        "throat": chamber.throat_area,
        "combustion_time_constant": chamber.combustion_time_constant,
        "gas_constant": chamber.gas_constant,
        "ambient_mass": ambient.pressure * chamber.volume / (AIR_GAS_CONSTANT * ambient.temperature),
        "curve": curves.add(real, 9),
        "ideal_curve": curves.add(ideal, 9),
        "best": best / (1.0 + best),
        "allowable": inf if chamber.allowable_pressure is None else chamber.allowable_pressure,
        "table_low": of[0] / (1.0 + of[0]),
        "table_high": of[-1] / (1.0 + of[-1]),
        "hot_enthalpy": curves.add(hot_enthalpy_terms(*gas_name(gas)), 1),
    }
    record["chamber"] = in_order(values, COMBUSTION_CHAMBER)


def igniter_windows(igniter: Igniter | None) -> list[float]:
    """Flat pairs (instant the flame is there, instant it is switched off) of the igniter."""
    if igniter is None:
        return []
    pairs: list[float] = []
    for on in igniter.on:
        later = [t for t in igniter.off if t > on]
        off = min(later) if later else inf
        if on + igniter.rise < off:
            pairs += [on + igniter.rise, off]
    return pairs


def fill_ignition(record: Any, curves: Curves, chamber: Chamber | None, igniter: Igniter | None) -> None:
    """When and whether the chamber lights."""
    if chamber is None or igniter is None:
        record["ignition"] = (0, nan, 0.0, (0, 0), 0.0, inf, 0)
        return
    values = {
        "possible": 1,
        "given": nan if igniter.light_off is None else igniter.light_off,
        "delay": igniter.delay or 0.0,
        "windows": curves.add(igniter_windows(igniter), 2),
        "mixture_low": 0.0 if igniter.ignitable_mixture is None else igniter.ignitable_mixture[0],
        "mixture_high": inf if igniter.ignitable_mixture is None else igniter.ignitable_mixture[1],
        "count_pool": 0,
    }
    record["ignition"] = in_order(values, IGNITION)
