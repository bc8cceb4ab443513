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
from sleevelift.plant.liquid_side import gap_effective_area, slot_effective_area
from sleevelift.plant.margins import (
    CLOSING,
    CLOSING_UNLIT,
    FUEL_LOSS,
    FULL_LIFT,
    least_margin,
    margin_at,
    usual_gas,
)
from sleevelift.plant.state import FUEL, N_MEMO, OXIDIZER
from sleevelift.plant.static import references, steady_side, steady_state
from sleevelift.static_answer.kernels import N_ROW, R_BREAKAWAY, R_HOLDS, R_OPENS, throttle_rows

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


def throttle(plant: Plant) -> Throttle:
    """Areas, and steady flows where the case has propellants."""
    record, tables = plant.record[0], plant.tables
    x = lifts(plant)
    wet = bool(record["liquids"]["lines"])
    p_o, p_f = float(record["lines"][OXIDIZER]["inlet_high"]), float(record["lines"][FUEL]["inlet_high"])
    slots = np.array([slot_effective_area(a, record["slots"], tables) if wet else 0.0 for a in x])
    gap = np.array([gap_effective_area(a, record["seat"], tables) for a in x])
    passage = np.zeros_like(x)
    flows: dict[str, np.ndarray] = {}
    if wet:
        back, rho = float(record["chamber"]["back"]), float(record["lines"][FUEL]["rho"])
        unlit = np.array([steady_side(FUEL, a, p_f, back, record, tables) for a in x])
        drop = np.maximum(unlit[:, 1] - back, LEAST_DROP)
        passage = unlit[:, 0] / np.sqrt(2.0 * rho * drop)
        for state in chamber_states(plant):
            flows[state] = np.array([steady_state(a, state == "lit", p_o, p_f, record, tables) for a in x])
    oxidizer, fuel, chamber = ({state: f[:, i] for state, f in flows.items()} for i in range(3))
    return Throttle(x, slots, gap, float(record["seat"]["annulus"]), passage, oxidizer, fuel, chamber)


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
    rows = np.zeros((len(x), N_ROW))
    throttle_rows(plant.record, plant.tables, x, 1 if lit else 0, float(gas_pressure), rows)
    return Balance(x, rows[:, R_OPENS], rows[:, R_HOLDS], rows[:, R_BREAKAWAY])


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
    record, tables = plant.record[0], plant.tables
    event_memory = np.full(N_MEMO, np.nan)
    if record["liquids"]["lines"]:
        references(event_memory, record, tables)
    x = lifts(plant)
    kinds = {"full lift": FULL_LIFT, "fuel lost": FUEL_LOSS, "closing, unlit": CLOSING_UNLIT}
    if record["chamber"]["hot"]:
        kinds["closing, lit"] = CLOSING
    out = []
    for name, which in kinds.items():
        least, at = least_margin(which, event_memory, record, tables)
        if which == CLOSING_UNLIT and says_nothing(float(least), record):
            continue
        gas, ambient = float(usual_gas(which, record)), float(record["ambient_pressure"])
        values = np.array([margin_at(which, a, gas, ambient, event_memory, record, tables) for a in x])
        out.append(Margin(name, x, values, float(least), float(at)))
    return out
