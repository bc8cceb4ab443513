"""Similarity: a machine scaled in all lengths, with times in proportion, does the same at the same dimensionless times.

Lengths and times x s at the same pressures, temperatures and speeds: areas and forces s^2, volumes and masses s^3,
spring rates and friction per length s, flows s^2, liquid viscosity s, dampers s^2. Perfect gas; axis level (weight
does not scale so)."""

import pytest
from runs import shipped_case
from sleevelift import simulate, with_values

POWERS = {
    "solenoid.fill_orifice": 1, "solenoid.exhaust_orifice": 1, "solenoid.open_dead_time": 1,
    "solenoid.open_stroke_time": 1, "solenoid.close_dead_time": 1, "solenoid.close_stroke_time": 1,
    "tube.length": 1, "tube.bore": 1, "tube.conductance": 2, "lift_chamber.dead_volume": 3, "lift_chamber.wall_area": 2,
    "spring_side.volume": 3, "spring_side.vent_orifice": 1, "sleeve.post_diameter": 1, "sleeve.nose_diameter": 1,
    "sleeve.seat_diameter": 1, "sleeve.rod_diameter": 1, "sleeve.piston_diameter": 1, "sleeve.stroke": 1,
    "sleeve.moving_mass": 3, "spring.preload": 2, "spring.rate": 1, "spring.mass": 3, "seals.viscous": 2,
    "seals.piston_leak_area": 2, "seals.outside_leak_area": 2, "supply.plenum_volume": 3, "supply.regulator_orifice": 1,
    "supply.bottle_volume": 3,
    "seals.post.squeeze_friction": 1, "seals.rod.squeeze_friction": 1, "seals.piston.squeeze_friction": 1,
    "seals.post.cord": 1, "seals.rod.cord": 1, "seals.piston.cord": 1,
}  # fmt: skip
WET = {
    f"{side}.{key}": power
    for side in ("oxidizer", "fuel")
    for key, power in (
        ("viscosity", 1), ("line_length", 1), ("line_bore", 1), ("rated_flow", 2), ("manifold_volume", 3),
    )
} | {
    "slots.clearance": 1, "slots.minimum_length": 1, "slots.row.0.height": 1, "slots.row.0.width": 1,
    "slots.row.0.lap": 1,
    "seat.spigot_length": 1, "seat.spigot_clearance": 1, "seat.annulus_area": 2,
}  # fmt: skip
HOT = {"chamber.volume": 3, "chamber.throat_area": 2, "chamber.combustion_time_constant": 1, "igniter.delay": 1, "igniter.rise": 1}


def value(case, path):
    here = case
    for part in path.split("."):
        here = here[int(part)] if part.isdigit() else getattr(here, part)
    return here


def levelled(name, **more):
    """A shipped case as similarity needs it: perfect gas, level axis, tube conductance given, no length that does not
    scale."""
    case = shipped_case(name)
    from sleevelift.physics.tube import tube_component

    c, b = tube_component(case.tube.bore, case.tube.length)
    values = {
        "gas.model": "perfect", "gas.gamma": 1.4, "gas.gas_constant": 296.8, "sleeve.axis_tilt": 1.5707963267948966,
        "tube.conductance": c, "tube.critical_ratio": b, "run.tolerance": 1e-6,
    }  # fmt: skip
    if case.fuel is not None:
        values |= {"seals.post_seal_faces": "chamber", "seals.post_leak_area": 0.0}
    return with_values(case, {**values, **more}, check=False)


def scaled(case, s):
    """The case s times as large, its commands s times as late."""
    powers = POWERS | (WET if case.fuel is not None else {}) | (HOT if case.chamber is not None else {})
    changes = {path: value(case, path) * s**power for path, power in powers.items()}
    changes |= {
        "solenoid.on": tuple(s * t for t in case.solenoid.on),
        "solenoid.off": tuple(s * t for t in case.solenoid.off),
        "run.end": s * (case.run.end or 0.6),
    }
    if case.igniter is not None:
        changes["igniter.on"] = tuple(s * t for t in case.igniter.on)
    return with_values(case, changes, check=False)


TIMES = ("opening_time", "closing_time", "fill_delay", "travel_time", "vent_delay", "return_time")
SAME = ("breakaway_pressure", "stop_impact_speed", "seat_impact_speed", "lowest_gas_temperature")


@pytest.mark.parametrize("name", ["dry_bench", "cold_flow", "hot_start"])
@pytest.mark.parametrize("s", [0.5, 3.0])
def test_scaled_machine_keeps_its_dimensionless_times(name, s):
    case = levelled(name, **{"run.end": 1.1})
    one, other = simulate(scaled(case, 1.0)), simulate(scaled(case, s))
    assert other.outcome == one.outcome == "opened-and-closed"
    # the wave through the tube scales; nothing else is fixed in time. What is left is the tolerance of the two runs.
    for measure in TIMES:
        assert other.measures[measure] / s == pytest.approx(one.measures[measure], abs=2e-6), measure
    for measure in SAME:
        assert other.measures[measure] == pytest.approx(one.measures[measure], rel=2e-3), measure
    if case.fuel is not None:
        for measure in ("steady_oxidizer_flow", "steady_fuel_flow"):
            assert other.measures[measure] / s**2 == pytest.approx(one.measures[measure], rel=1e-5), measure
        assert other.measures["oxidizer_lead"] / s == pytest.approx(one.measures["oxidizer_lead"], rel=1e-3)
    if case.chamber is not None:
        assert other.measures["hard_start_pressure"] == pytest.approx(one.measures["hard_start_pressure"], rel=1e-4)
