"""Every measure at the default tolerance against a run at 1e-6, over the ranges of every shipped case.

Allowed is twice what MODEL.md section 8 claims for each kind of measure, in its own unit. Left out are points whose outcome or
number of bounces changes: there a threshold is met almost exactly (counted, at most MOST_BRANCHES). Of the others a
hundredth may lie outside, where a rebound more or less moves what follows (counted, and still within FARTHEST times)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from sleevelift.batch import simulate_many
from sleevelift.case.read import load_case
from sleevelift.plant.names import MEASURES
from sleevelift.study.odds import scaled, unit_points

CASES = sorted((Path(__file__).resolve().parents[2] / "cases").glob("*.toml"))
CONVERGED = 1e-6
FEW, MANY = 8, 500
MOST_BRANCHES = 0.02
MOST_OUTSIDE = 0.01
FARTHEST = 250.0

CLAIM_OF_UNIT = {
    "s": 10e-6,
    "m/s": 2e-3,
    "Pa": 2e3,
    "K": 0.02,
    "kg": 2e-6,
    "kg/s": 2e-5,
    "N": 1e-6,
    "N/m": 1e-3,
    "J": 1e-6,
    "m2": 1e-15,
}
"""Claim at the default tolerance, by the measure's unit."""
CLAIM = {
    "surge_margin": 5e-4,
    "surge_time": 100e-6,
    "mixture_ratio_min": 0.01,
    "mixture_ratio_max": 2e-3,
    "hard_start_pressure": 5e3,
    "gas_per_cycle": 1e-7,
    "reverse_oxidizer_flow": 3.5e-4,
    "reverse_fuel_flow": 2.5e-4,
    "seat_bounces": 0.5,
    "oxidizer_in_stop": 5e-6,
    "fuel_in_stop": 5e-6,
}
"""Where the unit's is not the measure's: a low is flat, so its instant is known worse than its depth; the mixture's edge lies
where the oxidizer flow rises by its own size in 30 us; flow back through an injector peaks within microseconds of light-off (over
200 points of late_igniter, 0.8 kg/s back: median 8e-5 kg/s, 1 in 10 beyond 3.3e-4, 1 in 100 beyond 6.5e-4, of fuel 4.6e-4, with
slopes by differences as by formula; 1e-4 was claimed). What enters in a stop is some tens of
grams, not the few of a pool: a ten-thousandth."""
EXACT = 1e-9
"""-. Of static margins, which do not come from the run."""
CLAIM_OF_CASE = {
    ("bottle_blowdown", "fill_delay"): 100e-6,
    ("nose_trap", "vent_delay"): 20e-6,
    ("sequenced_start", "steady_oxidizer_flow"): 1.5e-4,
    ("sequenced_start", "steady_fuel_flow"): 1.5e-4,
    ("stuck_feed_valve", "first_oxidizer"): 25e-6,
    ("stuck_feed_valve", "full_oxidizer"): 15e-6,
    ("stuck_feed_valve", "pooled_fuel"): 4e-6,
    ("stuck_feed_valve", "hard_start_pressure"): 10e3,
}
"""A starving bottle's pressure creeps up to breakaway; the trapped nose waits 200 ms for the chamber to vent; an aborting sequence
stops the run while its flow still rises by 100 kg/s2; with most friction the sleeve of the stuck valve creeps over its lap (1 of 40
points 42 us off, the next 11 us; at a tolerance of 1e-5 all within 1 us)."""
NOT_MEASURES_OF_THE_VALVE = {"steps", "gas_mass_error", "energy_error"}


def claim(case: str, name: str, unit: str) -> float:
    """What is claimed of a measure, in its unit."""
    return CLAIM_OF_CASE.get((case, name), CLAIM.get(name, CLAIM_OF_UNIT.get(unit, EXACT)))


def points_of(case, n: int) -> list[dict[str, float]]:
    """n points of the case's ranges; the case itself where it has none."""
    ranges = {path: ends for path, ends in sorted(case.ranges.items()) if ends[1] > ends[0]}
    return scaled(unit_points(len(ranges), n, 5, "lhs"), ranges) if ranges else [{}]


def compared(path: Path, n: int) -> list[str]:
    """What of a case is beyond its bounds."""
    case = load_case(path)
    points = points_of(case, n)
    ours = simulate_many(case, points, with_checks=False)
    true = simulate_many(case, points, tolerance=CONVERGED, with_checks=False)
    bounces = ours.measures["seat_bounces"], true.measures["seat_bounces"]
    same = (ours.outcomes == true.outcomes) & ((bounces[0] == bounces[1]) | (np.isnan(bounces[0]) & np.isnan(bounces[1])))
    faults = []
    if (~same).sum() > max(1, MOST_BRANCHES * len(points)):
        faults.append(f"{path.stem}: {(~same).sum()} of {len(points)} points change their branch")
    for measure in MEASURES:
        if measure.name in NOT_MEASURES_OF_THE_VALVE:
            continue
        a, b = ours.measures[measure.name][same], true.measures[measure.name][same]
        allowed = 2.0 * claim(path.stem, measure.name, measure.unit)
        error = np.abs(a - b)
        error[np.isnan(a) & np.isnan(b)] = 0.0
        outside = ~(error <= allowed)
        if outside.sum() > (MOST_OUTSIDE * len(points) if n > FEW else 0):
            how_many = f"{outside.sum()} of {len(points)} beyond {allowed:g} {measure.unit}"
            faults.append(f"{path.stem}: {measure.name} {how_many}, worst {error.max():g}")
        elif not np.all(error <= FARTHEST * allowed):
            faults.append(f"{path.stem}: {measure.name} {error.max():g} {measure.unit} apart")
    return faults


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_every_measure_has_converged(path: Path) -> None:
    assert not compared(path, FEW)


@pytest.mark.slow
@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_every_measure_has_converged_over_the_ranges(path: Path) -> None:
    assert not compared(path, MANY)


@pytest.mark.parametrize("tolerance", [None, 1e-4, 1e-6])
def test_edges_of_the_mixture_ratio_are_found(tolerance: float | None) -> None:
    """The greatest O/F of this point lies where fuel just passes 10 %, far from the greatest stored one (3.5)."""
    case = load_case(CASES[0].parent / "helium_lift.toml")
    found = simulate_many(case, [{"supply.pressure": 32e5}], tolerance=tolerance, with_checks=False)
    assert found.measures["mixture_ratio_max"][0] == pytest.approx(8.503, abs=4e-3)
    # regression of the run at 1e-6, 27 November 2026


def test_ramp_times_show_the_geometry() -> None:
    """Higher slots and a flatter seat take longer, or shorter, to open; what light-off does to the flow is another measure."""
    case = load_case(CASES[0].parent / "hot_start.toml")
    heights = [1.14e-3, 1.32e-3, 1.50e-3, 1.68e-3]
    slots = simulate_many(case, [{"slots.row.0.height": h} for h in heights], with_checks=False).measures["ramp_time_oxidizer"]
    assert np.all(np.diff(slots) > 0.05e-3)
    angles = np.radians([35.0, 45.0, 55.0])
    seats = simulate_many(case, [{"seat.half_angle": a} for a in angles], with_checks=False).measures["ramp_time_fuel"]
    assert np.all(np.abs(np.diff(seats)) > 10e-6)  # five times what the tolerance leaves
