"""Steady curves against lift: areas, flows, forces, worst-case margins. Values only, nothing is drawn here.

    lift 0 ... stroke -> Throttle (areas, flows, mixture ratio, chamber pressure)
                      -> Balance  (what opens, what holds, breakaway; N, opening positive)
                      -> Margin   (worst case over the stated ranges)

Each number comes from the functions the run itself and its static margins use. Pressures are absolute; forces are those
of pressures above ambient, the spring side at ambient.
"""

from typing import NamedTuple

import numpy as np

from sleevelift.measures import says_nothing
from sleevelift.plant.build import Plant
from sleevelift.plant.margins import CLOSING, CLOSING_UNLIT, FUEL_LOSS, FULL_LIFT
from sleevelift.plant.state import FUEL
from sleevelift.static_answer import kernels
from sleevelift.static_answer.margins import margin_numbers

POINTS = 161
"""Lifts over the stroke."""
LEAST_DROP = 1.0
"""Pa. Below this pressure drop no effective area is taken from a flow."""


class Throttle(NamedTuple):
    """The valve as a throttle, in steady flow at the highest inlet pressures; arrays over `lift`."""

    lift: np.ndarray
    """m"""
    slots: np.ndarray
    """Cd A of the slots, m2"""
    gap: np.ndarray
    """Cd A of the seat gap, m2"""
    annulus: float
    """Cd A of the annulus, m2; 0: none"""
    fuel_passage: np.ndarray
    """w/sqrt(2 rho dp) of the whole fuel passage, m2"""
    oxidizer: dict[str, np.ndarray]
    """state of the chamber ("unlit", "lit") -> kg/s"""
    fuel: dict[str, np.ndarray]
    chamber: dict[str, np.ndarray]
    """Pa absolute"""


def lifts(plant: Plant) -> np.ndarray:
    """Lifts from seat to stop, m."""
    return np.linspace(0.0, float(plant.record[0]["sleeve"]["stroke"]), POINTS)


def chamber_states(plant: Plant) -> tuple[str, ...]:
    """States of the combustion chamber that the case can have."""
    return ("unlit", "lit") if plant.record[0]["chamber"]["hot"] else ("unlit",)


def rows_at(plant: Plant, x: np.ndarray, gas_pressure: float, lit: bool) -> np.ndarray:
    """Rows of `kernels.throttle_rows` at lifts x, m, with `gas_pressure`, Pa absolute, in the lift chamber."""
    rows = np.zeros((len(x), kernels.N_ROW))
    kernels.throttle_rows(plant.record, plant.tables, x, 1 if lit else 0, float(gas_pressure), rows)
    return rows


def throttle(plant: Plant) -> Throttle:
    """Areas, and steady flows where the case has propellants."""
    record = plant.record[0]
    x, ambient = lifts(plant), float(record["ambient_pressure"])
    rows = {state: rows_at(plant, x, ambient, state == "lit") for state in chamber_states(plant)}
    unlit, annulus = rows["unlit"], float(record["seat"]["annulus"])
    slots, gap, passage = unlit[:, kernels.R_SLOT], unlit[:, kernels.R_GAP], np.zeros_like(x)
    if not record["liquids"]["lines"]:
        return Throttle(x, np.zeros_like(x), gap, annulus, passage, {}, {}, {})
    drop = np.maximum(unlit[:, kernels.R_FUEL_P] - float(record["chamber"]["back"]), LEAST_DROP)
    passage = unlit[:, kernels.R_FUEL] / np.sqrt(2.0 * float(record["lines"][FUEL]["rho"]) * drop)
    columns = kernels.R_OXIDIZER, kernels.R_FUEL, kernels.R_CHAMBER
    oxidizer, fuel, chamber = ({state: row[:, column] for state, row in rows.items()} for column in columns)
    return Throttle(x, slots, gap, annulus, passage, oxidizer, fuel, chamber)


class Balance(NamedTuple):
    """Forces on the sleeve at rest against lift, N, at actuation pressures and nominal friction."""

    lift: np.ndarray
    """m"""
    opens: np.ndarray
    """gas, fuel less the jet's reaction, gap and chamber pressure"""
    holds: np.ndarray
    """spring and weight"""
    breakaway: np.ndarray
    """friction to overcome in either direction"""


def balance(plant: Plant, gas_pressure: float, lit: bool) -> Balance:
    """Forces with `gas_pressure` (Pa absolute) in the lift chamber; fuel after its line's loss at that lift."""
    x = lifts(plant)
    rows = rows_at(plant, x, gas_pressure, lit)
    return Balance(x, rows[:, kernels.R_OPENS], rows[:, kernels.R_HOLDS], rows[:, kernels.R_BREAKAWAY])


def first_hang_up(b: Balance) -> tuple[float, float] | None:
    """(lift m, missing force N) where a rising sleeve first finds too little force; None where none does."""
    excess = b.opens - b.holds - b.breakaway
    short = np.flatnonzero(excess <= 0.0)
    return (float(b.lift[short[0]]), float(-excess[short].min())) if len(short) else None


def first_hang_down(b: Balance) -> tuple[float, float] | None:
    """(lift m, missing force N) where a falling sleeve first finds too little force; None where none does."""
    excess = b.holds - b.opens - b.breakaway
    short = np.flatnonzero(excess <= 0.0)
    return (float(b.lift[short[-1]]), float(-excess[short].min())) if len(short) else None


class Margin(NamedTuple):
    """A worst-case margin over the stroke."""

    name: str
    lift: np.ndarray
    """m"""
    value: np.ndarray
    """-; nan where its denominator is not positive"""
    least: float
    least_at: float
    """m"""


def stroke_margins(plant: Plant) -> list[Margin]:
    """The margins that change with lift, over the stated ranges."""
    record = plant.record[0]
    numbers = margin_numbers(plant.record, plant.tables)
    x = lifts(plant)
    rows = np.zeros((kernels.N_LEAST, len(x)))
    kernels.margin_rows(plant.record, plant.tables, numbers.event_memory, x, rows)
    kinds = {"full lift": FULL_LIFT, "fuel lost": FUEL_LOSS, "closing, unlit": CLOSING_UNLIT}
    if record["chamber"]["hot"]:
        kinds["closing, lit"] = CLOSING
    out = []
    for name, which in kinds.items():
        least, at = numbers.least[which].tolist()
        if which == CLOSING_UNLIT and says_nothing(least, record):
            continue
        out.append(Margin(name, x, rows[which], least, at))
    return out
