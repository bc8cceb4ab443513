"""The cheapest measurement that tells causes apart: which sensor sees the most difference between their runs.

Each cause is run at its value; for each sensor and each pair of causes the greatest difference between the two runs is set against
what such a sensor resolves. Sensors are listed by their effort, the least first.
"""

from collections.abc import Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np

from sleevelift.calibrate.causes import Cause
from sleevelift.calibrate.runs import Signals, first_on, signals
from sleevelift.case.schema import Case

CERTAIN = 4.0
"""-. Times what a sensor resolves, from which two runs are told apart."""
STEP = 2e-4
"""s"""


class Sensor(NamedTuple):
    """Something that may be measured."""

    quantity: str
    title: str
    kind: str
    resolves: float
    """SI; of pressures a share of the highest in the runs: all of it guesses"""
    effort: int
    """1: there already or a clamp, 2: one pressure transmitter, 3: a displacement sensor or a flow meter"""


SENSORS = (
    Sensor("closing_time", "closing time, as the opening time was measured", "time", 1e-3, 1),
    Sensor("valve_opening", "coil current: its dips tell when the armature moves", "time", 0.5e-3, 1),
    Sensor("supply_pressure", "supply pressure, at the solenoid valve", "pressure", 0.005, 2),
    Sensor("tube_pressure", "pressure in the tube", "pressure", 0.005, 2),
    Sensor("lift_chamber_pressure", "pressure in the lift chamber", "pressure", 0.005, 2),
    Sensor("fuel_manifold_pressure", "fuel manifold pressure", "pressure", 0.005, 2),
    Sensor("oxidizer_manifold_pressure", "oxidizer manifold pressure", "pressure", 0.005, 2),
    Sensor("chamber_pressure", "chamber pressure", "pressure", 0.005, 2),
    Sensor("spring_side_pressure", "pressure on the spring's side", "pressure", 0.005, 2),
    Sensor("lift", "lift of the sleeve", "length", 20e-6, 3),
)


class Seen(NamedTuple):
    """What one sensor tells."""

    sensor: Sensor
    apart: int
    """pairs of causes that it tells apart"""
    weakest: float
    """difference of the pair that it tells apart least, in what it resolves"""
    instant: float
    """s of the run, where the causes differ most on the whole; NaN of single numbers"""
    values: tuple[float, ...]
    """SI, of each cause then"""


class Told(NamedTuple):
    """Every sensor, the best first."""

    seen: tuple[Seen, ...]
    pairs: int


def _first_movement(run: Signals, on: float) -> np.ndarray:
    """[s after the on command to the first movement of the solenoid valve, s from it to fully open]."""
    opening = run.values["valve_opening"]
    moving, done = np.flatnonzero(opening > 0.0), np.flatnonzero(opening >= 1.0)
    start = run.time[moving[0]] - on if len(moving) else np.nan
    return np.array([start, run.time[done[0]] - on if len(done) else np.nan])


def _rows(sensor: Sensor, runs: Sequence[Signals], on: float) -> tuple[np.ndarray, np.ndarray]:
    """(time (n,), what the sensor shows in each run (runs, n)); time NaN of single numbers. Empty where there is no such signal."""
    if sensor.quantity == "valve_opening":
        return np.full(2, np.nan), np.array([_first_movement(run, on) for run in runs])
    if sensor.kind == "time":
        return np.full(1, np.nan), np.array([[run.measures[sensor.quantity]] for run in runs])
    if any(sensor.quantity not in run.values for run in runs):
        return np.zeros(0), np.zeros((len(runs), 0))
    t = np.arange(0.0, max(float(run.time[-1]) for run in runs), STEP)
    return t, np.array([np.interp(t, run.time, run.values[sensor.quantity]) for run in runs])


def told_apart(case: Case, causes: Sequence[Cause]) -> Told:
    """Which sensor tells these causes apart."""
    names = tuple(one.quantity for one in SENSORS if one.kind != "time") + ("valve_opening",)
    made = [signals(case, {one.candidate.path: one.value}, names, checked=False) for one in causes]
    runs = [run for run in made if run is not None]
    if len(runs) < 2 or len(runs) < len(causes):
        return Told((), 0)
    on = first_on(case)
    pairs = list(combinations(range(len(runs)), 2))
    found = []
    for sensor in SENSORS:
        t, rows = _rows(sensor, runs, on)
        if not rows.size or not np.isfinite(rows).any():
            continue
        resolves = sensor.resolves * (float(np.nanmax(rows)) if sensor.kind == "pressure" else 1.0)
        differences = np.array([np.abs(rows[a] - rows[b]) for a, b in pairs]) / resolves
        differences = np.where(np.isfinite(differences), differences, np.where(_one_missing(rows, pairs), 2.0 * CERTAIN, 0.0))
        most = differences.max(axis=1)
        if not most.any():
            continue  # nothing moves there
        when = int(np.argmax(np.minimum(differences, 3.0 * CERTAIN).sum(axis=0)))
        found.append(Seen(sensor, int((most > CERTAIN).sum()), float(most.min()), float(t[when]), tuple(rows[:, when].tolist())))
    found.sort(key=lambda one: (-one.apart, one.sensor.effort, -one.weakest))
    return Told(tuple(found), len(pairs))


def _one_missing(rows: np.ndarray, pairs: Sequence[tuple[int, int]]) -> np.ndarray:
    """Where just one of a pair has the number."""
    known = np.isfinite(rows)
    return np.array([known[a] != known[b] for a, b in pairs])
