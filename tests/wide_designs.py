"""Seeded valid designs over the whole practical range, far from the shipped cases.

    wide_design(number) -> (name, case)     the same case for the same number, checked as a file is

A shipped case is redrawn: orifices 0.3 to 10 mm, gas volumes 1 to 200 cm3, sleeves of 0.02 to 5 kg, gas of 3 to 300
bar from helium to argon, any tilt of the axis, restitution 0 to 0.95, friction from none to more than the spring can
beat. The spring is drawn about what the gas can lift, so that each outcome comes up; all sizes are drawn evenly in
their logarithm.
"""

from __future__ import annotations

from math import exp, log, pi
from typing import Any

import numpy as np
from runs import shipped_with_supply
from sleevelift.case.change import with_values
from sleevelift.case.read import CaseError

SEED = 20250117
KINDS = ("dry_bench", "cold_flow", "hot_start", "dry_bench")
GASES = ("helium", "nitrogen", "air", "argon")
BAR = 1e5
HIGHEST_BOTTLE = 330 * BAR
"""A regulator's bottle stays below the end of the gas tables."""
MOST_DRAWS = 200
"""Draws until one is valid; more means that the ranges contradict the checks of a case."""


class Draw:
    """Random numbers of one design."""

    def __init__(self, number: int) -> None:
        self.generator = np.random.default_rng([SEED, number])

    def between(self, low: float, high: float) -> float:
        """Even between two values."""
        return float(self.generator.uniform(low, high))

    def size(self, low: float, high: float) -> float:
        """Even in the logarithm."""
        return exp(self.between(log(low), log(high)))

    def one_of(self, *choices: Any) -> Any:
        """One of some values."""
        return choices[int(self.generator.integers(len(choices)))]


def _supply(case: Any, draw: Draw) -> tuple[dict[str, Any], float]:
    """(keys of the supply, gas pressure at the valve in Pa)."""
    pressure = draw.size(3 * BAR, 300 * BAR)
    if case.supply.kind == "bottle":
        return {"supply.bottle_pressure": pressure, "supply.bottle_volume": draw.size(0.01e-3, 10e-3)}, pressure
    values: dict[str, Any] = {"supply.pressure": pressure}
    if case.supply.kind == "regulator":
        values |= {
            "supply.bottle_pressure": min(pressure * draw.between(1.05, 4.0), HIGHEST_BOTTLE),
            "supply.bottle_volume": draw.size(0.1e-3, 10e-3),
            "supply.droop_band": pressure * draw.size(0.01, 0.2),
            "supply.regulator_orifice": draw.size(0.3e-3, 10e-3),
            "supply.plenum_volume": draw.size(1e-6, 200e-6),
        }
    return values, pressure


def _gas_side(draw: Draw) -> dict[str, Any]:
    """Valve, tube, volumes, walls and leaks."""
    return {
        "gas.name": draw.one_of(*GASES),
        "solenoid.fill_orifice": draw.size(0.3e-3, 10e-3),
        "solenoid.exhaust_orifice": draw.size(0.3e-3, 10e-3),
        "solenoid.open_dead_time": draw.between(0.0, 0.03),
        "solenoid.open_stroke_time": draw.size(1e-4, 0.02),
        "solenoid.close_dead_time": draw.between(0.0, 0.03),
        "solenoid.close_stroke_time": draw.size(1e-4, 0.02),
        "tube.length": draw.size(0.02, 5.0),
        "tube.bore": draw.size(1e-3, 12e-3),
        "lift_chamber.dead_volume": draw.size(1e-6, 200e-6),
        "lift_chamber.wall_area": draw.one_of(0.0, draw.size(1e-4, 200e-4)),
        "lift_chamber.wall_coefficient": draw.size(20.0, 2000.0),
        "tube.wall_area": draw.one_of(0.0, draw.size(1e-4, 200e-4)),
        "spring_side.volume": draw.size(1e-6, 200e-6),
        "spring_side.vent_orifice": draw.size(0.3e-3, 10e-3),
        "seals.piston_leak_area": draw.one_of(0.0, draw.size(1e-9, 1e-6)),
    }


def _sleeve(case: Any, draw: Draw, pressure: float, fuel_pressure: float) -> dict[str, Any]:
    """Mass, spring, friction, stops; the spring is drawn about the forces of gas and fuel."""
    sleeve = case.sleeve
    preload = pressure * 0.25 * pi * (sleeve.piston_diameter**2 - sleeve.rod_diameter**2) * draw.size(0.1, 1.1)
    if fuel_pressure > 0.0:
        preload += fuel_pressure * 0.25 * pi * (sleeve.rod_diameter**2 - sleeve.seat_diameter**2) * draw.between(0.8, 1.4)
    friction = draw.one_of(0.0, draw.size(1e-3, 3.0) * preload, draw.size(1e-3, 0.3) * preload)
    squeeze_friction = friction / (pi * (sleeve.post_diameter + sleeve.rod_diameter + sleeve.piston_diameter))
    values: dict[str, Any] = {
        "sleeve.moving_mass": draw.size(0.02, 5.0),
        "sleeve.axis_tilt": draw.between(0.0, pi),
        "sleeve.restitution_stop": draw.between(0.0, 0.95),
        "sleeve.restitution_seat": draw.between(0.0, 0.95),
        "spring.preload": preload,
        "spring.rate": preload / sleeve.stroke * draw.size(1e-3, 1.0),
        "spring.mass": draw.size(5e-3, 0.5),
        "spring.free_length": None,
        "seals.breakaway_ratio": draw.between(1.0, 2.5),
        "seals.stribeck_velocity": draw.one_of(0.0, draw.size(1e-3, 0.1)),
        "seals.viscous": draw.one_of(0.0, draw.size(1.0, 500.0)),
        "seals.friction_factor": 1.0,
    }
    pressed = draw.one_of(0.0, draw.size(0.003, 0.15))
    for seal in ("post", "rod", "piston"):
        values[f"seals.{seal}.squeeze_friction"] = squeeze_friction
        values[f"seals.{seal}.pressure_coefficient"] = pressed if friction > 0.0 else 0.0
    return values


def _liquids(case: Any, draw: Draw) -> dict[str, Any]:
    """Throttle, lines, manifolds, passages; chamber and igniter of a hot case."""
    values: dict[str, Any] = {
        "slots.clearance": draw.size(2e-6, 20e-6),
        "slots.eccentricity": draw.between(0.0, 1.0),
        "slots.row.lap": draw.between(0.0, 0.5e-3),
        "seat.spigot_length": draw.one_of(0.0, draw.between(0.1e-3, 1.0e-3)),
        "seat.spigot_clearance": draw.size(3e-6, 30e-6),
        "seat.annulus_area": draw.size(8e-6, 60e-6),
        "seat.jet_factor": draw.between(-1.0, 1.0),
        "seals.post_seal_faces": draw.one_of("oxidizer", "chamber"),
    }
    for side in ("oxidizer", "fuel"):
        values |= {
            f"{side}.inlet_pressure": draw.size(20 * BAR, 60 * BAR),
            f"{side}.manifold_volume": draw.size(1e-6, 200e-6),
            f"{side}.line_length": draw.size(0.1, 5.0),
            f"{side}.dribble_volume": draw.one_of(0.0, draw.size(0.1e-6, 5e-6)),
        }
    if case.chamber is None:
        for side in ("oxidizer", "fuel"):
            values[f"{side}.trapped_gas_volume"] = draw.one_of(0.0, draw.size(0.01e-6, 5e-6))
        values["bench.back_pressure"] = draw.one_of(101325.0, draw.size(1.2 * BAR, 15 * BAR))
    else:
        values |= {
            "seals.post_leak_area": draw.one_of(0.0, draw.size(1e-9, 1e-7)),
            "igniter.delay": draw.between(0.0, 0.05),
            "igniter.rise": draw.one_of(0.0, 0.04),
            "chamber.combustion_time_constant": draw.size(0.2e-3, 5e-3),
            "chamber.volume": draw.size(0.3e-3, 5e-3),
        }
    return values


def _commands(case: Any, draw: Draw) -> dict[str, Any]:
    """One pulse, long or too short, or two, or a valve left on."""
    on, held = 0.02, draw.between(0.1, 0.4)
    style = draw.between(0.0, 1.0)
    if style < 0.65:
        ons, offs = (on,), (on + held,)
    elif style < 0.8:
        gap = draw.between(0.01, 0.1)
        ons, offs = (on, on + held + gap), (on + held, on + 2 * held + gap)
    elif style < 0.95:
        ons, offs = (on,), (on + draw.between(0.005, 0.08),)
    else:
        ons, offs = (on,), ()
    values: dict[str, Any] = {"solenoid.on": ons, "solenoid.off": offs}
    if case.igniter is not None:
        values["igniter.on"] = (draw.between(0.0, 0.1),)
    return values


def wide_design(number: int) -> tuple[str, Any]:
    """The number-th design; draws that the checks of a case refuse are drawn again, from the same stream."""
    draw = Draw(number)
    kind, supply = KINDS[number % len(KINDS)], draw.one_of("regulator", "constant", "bottle")
    case = shipped_with_supply(kind, supply)
    refusal = ""
    for _ in range(MOST_DRAWS):
        keys, pressure = _supply(case, draw)
        liquids = _liquids(case, draw) if case.fuel is not None else {}
        sleeve = _sleeve(case, draw, pressure, liquids.get("fuel.inlet_pressure", 0.0))
        values = {**keys, **_gas_side(draw), **liquids, **sleeve, **_commands(case, draw)}
        try:
            return f"{kind} {number} {supply}", with_values(case, values, check=True)
        except CaseError as error:
            refusal = str(error)
    raise AssertionError(f"design {number}: no valid draw in {MOST_DRAWS}; the last was refused: {refusal}")
