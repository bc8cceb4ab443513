"""The static margins over their ranges, each worst, nominal and best, and the margins by the rule of a standard.

The numbers are those of `kernels.margin_numbers`; here they get names, limits and advice.
"""

from typing import Any, NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.margin_words import MARGINS, deciding_ends
from sleevelift.measures import drop_empty_margins, reason
from sleevelift.physics.sleeve import FORCES
from sleevelift.plant.build import Plant
from sleevelift.plant.names import N_MEASURE, NAMES
from sleevelift.plant.state import FUEL, N_MEMO
from sleevelift.ratings import spelled
from sleevelift.sizing import force_rules
from sleevelift.static_answer import kernels
from sleevelift.static_answer.records import RuleMargin, StaticMargin

STROKE_MARGINS = ("full_lift_margin", "fuel_loss_margin", "closing_margin", "closing_margin_unlit")
"""Measure of each row of `least`, in the order of `kernels.ORDER`."""
RUN_ONLY = "follows from a run: see the run command"


class MarginNumbers(NamedTuple):
    """What the compiled margins left."""

    by_name: dict[str, float]
    least: np.ndarray
    pressures: np.ndarray
    event_memory: np.ndarray


def margin_numbers(lanes: Any, tables: np.ndarray) -> MarginNumbers:
    """Margins of one set of ranges; nan where there is none."""
    event_memory, margins = np.zeros(N_MEMO), np.full(N_MEASURE, np.nan)
    least, pressures = np.full((kernels.N_LEAST, 2), np.nan), np.full(3, np.nan)
    kernels.margin_numbers(lanes, tables, event_memory, margins, least, pressures)
    drop_empty_margins(margins, lanes[0])
    return MarginNumbers(dict(zip(NAMES, margins.tolist())), least, pressures, event_memory)


def nominal_lanes(plant: Plant, case: Case) -> Any:
    """The plant with every range shrunk to its nominal value."""
    lanes = plant.record.copy()
    r = lanes[0]["ranges"]
    fuel = lanes[0]["fuel_side_pressure"] if case.fuel is None else lanes[0]["lines"][FUEL]["inlet_high"]
    r["gas_low"] = r["gas_high"] = r["gas_work"]
    r["fuel_low"] = r["fuel_high"] = fuel
    for seal in ("post", "rod", "piston"):
        r[f"{seal}_low"] = r[f"{seal}_high"] = 1.0
    r["jet_low"] = r["jet_high"] = 1.0 if case.seat is None else case.seat.jet_factor
    return lanes


def turned_lanes(plant: Plant) -> Any:
    """The plant with every range turned round, so that the worst case becomes the best."""
    lanes = plant.record.copy()
    r = lanes[0]["ranges"]
    for name in ("gas", "fuel", "post", "rod", "piston", "jet"):
        r[f"{name}_low"], r[f"{name}_high"] = float(r[f"{name}_high"]), float(r[f"{name}_low"])
    return lanes


def number(value: float) -> float | None:
    """The number, or None where it is not finite."""
    return float(value) if np.isfinite(value) else None


def static_margins(case: Case, plant: Plant, worst: MarginNumbers) -> list[StaticMargin]:
    """Every margin of the static check."""
    nominal = margin_numbers(nominal_lanes(plant, case), plant.tables)
    best = margin_numbers(turned_lanes(plant), plant.tables)
    limit = case.limits.margin_at_least
    found: dict[str, float | None] = {name: number(value) for name, value in worst.by_name.items()}
    out = []
    for name, (meaning, remedy) in MARGINS.items():
        value = found[name]
        lift = None
        if name in STROKE_MARGINS:
            lift = number(worst.least[STROKE_MARGINS.index(name), 1]) if value is not None else None
        passed = None if value is None else value >= limit
        if name == "surge_margin":
            advice = RUN_ONLY
        elif value is None:
            advice = reason(name, "", {**found, "steps": 0}, case)
        else:
            advice = "" if passed else spelled(remedy, case)
        if value is not None:
            meaning = f"{meaning}; {deciding_ends(name, case)}"
        row = StaticMargin(
            name, value, number(nominal.by_name[name]), number(best.by_name[name]), lift, limit, passed, meaning, advice
        )
        out.append(row)
    return out


def area_of(plant: Plant, name: str) -> float:
    """An axial area of the sleeve, m2, by its name in `AxialAreas`."""
    row = next(i for i, force in enumerate(FORCES) if force.area == name)
    return abs(float(plant.record[0]["forces"]["slope"][row]))


def motorization_rule(case: Case, plant: Plant, worst: MarginNumbers) -> list[RuleMargin]:
    """Margins by ECSS-E-ST-33-01C clause 4.7.5.3, opening from the seat and closing where its margin is least."""
    record = plant.record[0]
    s, r, amb = record["sleeve"], record["ranges"], float(record["ambient_pressure"])
    lit = case.case.kind == "hot"
    row = STROKE_MARGINS.index("closing_margin" if lit else "closing_margin_unlit")
    lift = float(worst.least[row, 1])
    closing = np.zeros(3)
    kernels.worst_closing(plant.record, plant.tables, worst.event_memory, lift, 1 if lit else 0, closing)
    weight = float(s["weight"])
    gas = (float(r["gas_low"]) - amb) * area_of(plant, "lift")
    fuel_opening = (float(r["fuel_low"]) - amb) * area_of(plant, "fuel_opening")
    friction = float(kernels.opening_breakaway(plant.record))
    out = []
    for measured, factors in ((False, "calculated"), (True, "measured")):
        opening = force_rules.opening_rule_margin(gas, fuel_opening, float(s["preload"]), weight, friction, measured)
        out.append(RuleMargin("opening", factors, opening))
        spring = float(closing[0]) - weight
        shut = force_rules.closing_rule_margin(spring, max(float(closing[1]), 0.0), weight, float(closing[2]), measured)
        out.append(RuleMargin("closing, lit" if lit else "closing", factors, shut))
    return out


def stated_ranges(plant: Plant) -> dict[str, tuple[float, float]]:
    """The ranges that the margins are taken over."""
    r = plant.record[0]["ranges"]
    factors = [(float(r[f"{seal}_low"]), float(r[f"{seal}_high"])) for seal in ("post", "rod", "piston")]
    return {
        "gas_pressure": (float(r["gas_low"]), float(r["gas_high"])),
        "fuel_pressure": (float(r["fuel_low"]), float(r["fuel_high"])),
        "friction_factor": (min(low for low, _ in factors), max(high for _, high in factors)),
        "jet_factor": (float(r["jet_low"]), float(r["jet_high"])),
    }
