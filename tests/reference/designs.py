"""Seeded valid designs around the shipped cases, for comparing the program with its twin.

    designs(count) -> [(name, case)]     the same designs for the same count, each checked as a file is

A design takes a shipped case and draws new gas, orifices, volumes, masses, spring, friction, seals, commands and, with
liquids, throttle and manifolds. Ranges are wide enough to reach most outcomes, near enough for most to open.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from runs import shipped_with_supply
from sleevelift.case.read import CaseError, with_values

SEED = 20240611
KINDS = ("dry_bench", "cold_flow", "hot_start")
HELD = {"dry_bench": 0.2, "cold_flow": 0.25, "hot_start": 0.3}
"""s between the commands: long enough to be full, short enough for a quick run."""
WORKING = {"dry": 65e5, "cold-flow": 31e5, "hot": 31e5}
"""Pa, gas pressure that the shipped cases work at."""


def _gas_side(case: Any, draw: np.random.Generator) -> dict[str, Any]:
    """Gas, supply, valve, tube and gas volumes."""

    def scaled(value: float, low: float, high: float) -> float:
        return float(value * np.exp(draw.uniform(np.log(low), np.log(high))))

    gas = str(draw.choice(["nitrogen", "helium", "argon"]))
    values: dict[str, Any] = {
        "gas.name": gas,
        "solenoid.fill_orifice": scaled(1.0e-3, 0.7, 2.5),
        "solenoid.exhaust_orifice": scaled(1.2e-3, 0.7, 2.5),
        "solenoid.open_dead_time": float(draw.uniform(0.002, 0.015)),
        "solenoid.open_stroke_time": float(draw.uniform(0.001, 0.008)),
        "solenoid.close_dead_time": float(draw.uniform(0.002, 0.015)),
        "solenoid.close_stroke_time": float(draw.uniform(0.001, 0.008)),
        "tube.length": scaled(0.8, 0.3, 2.0),
        "tube.bore": scaled(4e-3, 0.6, 1.6),
        "lift_chamber.dead_volume": scaled(1.5e-6, 0.5, 6.0),
        "lift_chamber.wall_area": scaled(12e-4, 0.5, 2.0),
        "spring_side.volume": scaled(14e-6, 0.5, 4.0),
        "spring_side.vent_orifice": scaled(4e-3, 0.3, 1.3),
        "spring_side.wall_area": float(draw.choice([0.0, 10e-4])),
        "seals.piston_leak_area": float(draw.choice([0.0, 0.02e-6, 0.1e-6])),
    }
    if gas == "argon":
        values["lift_chamber.wall_coefficient"] = 300.0
        values["tube.wall_area"] = 100e-4
    pressure = WORKING[case.case.kind] * float(draw.uniform(0.98, 1.35))
    if case.supply.kind == "bottle":
        values["supply.bottle_volume"] = scaled(0.3e-3, 0.5, 3.0)
        values["supply.bottle_pressure"] = 1.1 * pressure
    else:
        values["supply.pressure"] = pressure
    values["seals.outside_leak_area"] = float(draw.choice([0.0, 0.02e-6]))
    return values


def _sleeve(case: Any, draw: np.random.Generator) -> dict[str, Any]:
    """Mass, spring, friction, stops."""
    mass = 0.165 * float(np.exp(draw.uniform(np.log(0.4), np.log(4.0))))
    return {
        "sleeve.moving_mass": mass,
        "sleeve.axis_tilt": float(draw.choice([0.0, 1.2, np.pi])),
        "sleeve.restitution_stop": float(draw.uniform(0.0, 0.7)),
        "sleeve.restitution_seat": float(draw.uniform(0.0, 0.7)),
        "spring.preload": case.spring.preload * float(draw.uniform(0.85, 1.05)),
        "spring.rate": case.spring.rate * float(draw.uniform(0.5, 1.3)),
        "seals.breakaway_ratio": float(draw.uniform(1.0, 1.7)),
        "seals.stribeck_velocity": float(draw.choice([0.0, 5e-3, 20e-3, 60e-3])),
        "seals.viscous": float(draw.choice([0.0, 20.0, 40.0, 120.0])),
        "seals.friction_factor": float(draw.uniform(0.2, 1.4)),
    }


def _liquids(case: Any, draw: np.random.Generator) -> dict[str, Any]:
    """Throttle, lines and manifolds."""
    values: dict[str, Any] = {
        "slots.clearance": float(draw.uniform(3e-6, 12e-6)),
        "slots.eccentricity": float(draw.choice([0.0, 0.5, 1.0])),
        "slots.row.lap": float(draw.uniform(0.0, 0.3e-3)),
        "seat.spigot_length": float(draw.choice([0.0, 0.4e-3, 0.7e-3])),
        "seat.spigot_clearance": float(draw.uniform(5e-6, 15e-6)),
        "seat.annulus_area": float(draw.uniform(18e-6, 30e-6)),
        "seat.jet_factor": float(draw.choice([1.0, 0.5, -0.5])),
        "seals.post_seal_faces": str(draw.choice(["oxidizer", "chamber"], p=[0.8, 0.2])),
        "oxidizer.manifold_volume": float(draw.uniform(25e-6, 90e-6)),
        "fuel.manifold_volume": float(draw.uniform(25e-6, 90e-6)),
        "fuel.inlet_pressure": float(draw.uniform(25.5e5, 28e5)),
        "oxidizer.line_length": float(draw.uniform(0.3, 0.9)),
        "fuel.line_length": float(draw.uniform(0.3, 0.9)),
    }
    if case.case.kind == "cold-flow":
        values["fuel.trapped_gas_volume"] = float(draw.choice([0.0, 2e-6]))
        values["oxidizer.trapped_gas_volume"] = float(draw.choice([0.0, 2e-6]))
        values["bench.back_pressure"] = float(draw.choice([101325.0, 5e5]))
    values["oxidizer.dribble_volume"] = float(draw.choice([0.0, 1.5e-6]))
    values["fuel.dribble_volume"] = float(draw.choice([0.0, 0.8e-6]))
    shape = str(draw.choice(["rectangular", "round", "obround"]))
    values["slots.row.shape"] = shape
    if shape != "rectangular":
        values["slots.row.width"] = 1.8e-3 if shape == "round" else 2.4e-3
    if case.case.kind == "hot":
        values["seals.post_leak_area"] = float(draw.choice([0.0, 0.01e-6, 0.05e-6]))
        values["igniter.delay"] = float(draw.uniform(0.0, 5e-3))
        values["igniter.rise"] = float(draw.choice([0.0, 0.04]))
        if draw.random() < 0.3:
            values["igniter.ignitable_mixture"] = (0.5, 3.0)
        values["chamber.combustion_time_constant"] = float(draw.uniform(0.5e-3, 2e-3))
    values["seat.leak_area"] = float(draw.choice([0.0, 0.05e-6]))
    return values


def _commands(kind: str, draw: np.random.Generator) -> dict[str, Any]:
    """One pulse, or two, or one too short to open fully."""
    on, held = 0.02, HELD[kind]
    style = draw.random()
    if style < 0.7:
        ons, offs = (on,), (on + held,)
    elif style < 0.85:
        ons, offs = (on, on + held + 0.03), (on + held, on + 2 * held + 0.03)
    else:
        ons, offs = (on,), (on + float(draw.uniform(0.01, 0.06)),)
    values: dict[str, Any] = {"solenoid.on": ons, "solenoid.off": offs, "run.end": offs[-1] + 0.2}
    if kind == "hot_start":
        values["igniter.on"] = (on,)
    return values


def design(number: int) -> tuple[str, Any]:
    """The number-th design; invalid draws are drawn again, from the same stream."""
    draw = np.random.default_rng([SEED, number])
    kind = KINDS[number % len(KINDS)]
    supply = str(draw.choice(["regulator", "constant", "bottle"], p=[0.5, 0.3, 0.2]))
    case = shipped_with_supply(kind, supply)
    while True:
        values = {**_gas_side(case, draw), **_sleeve(case, draw), **_commands(kind, draw)}
        if kind != "dry_bench":
            values.update(_liquids(case, draw))
        try:
            return f"{kind} {number} {supply}", with_values(case, values, check=True)
        except CaseError:
            continue


def designs(count: int) -> list[tuple[str, Any]]:
    """The first `count` designs."""
    return [design(number) for number in range(count)]
