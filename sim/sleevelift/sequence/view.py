"""What the sensors of a sequence show along a run: from when on a condition holds.

Signals are those of the run at its stored points and between them on the dense output. A crossing between two of these is looked
for in the step it lies in, divided into FINE parts, and between two of them on a straight line. A run that is over stays as it
ended.
"""

from math import inf

import numpy as np

from sleevelift.case.conditions import Condition
from sleevelift.case.schema import Case
from sleevelift.plant.build import Plant
from sleevelift.plant.lane import refine, refined_points
from sleevelift.plant.scan import FULL_LIFT
from sleevelift.plant.state import (
    ARRIVED,
    D_FIRST_F,
    D_FIRST_O,
    D_LIT,
    D_MODE,
    N_DISCRETE,
    N_SIGNAL,
    S_CHAMBER_P,
    S_FUEL,
    S_FUEL_P,
    S_LIFT_P,
    S_OXIDIZER,
    S_OXIDIZER_P,
    S_SPRING_P,
    S_SUPPLY_P,
    S_TUBE_P,
    SEATED,
)
from sleevelift.trajectory import INSIDE, Raw

SIGNALS = {
    "supply_pressure": S_SUPPLY_P,
    "tube_pressure": S_TUBE_P,
    "lift_chamber_pressure": S_LIFT_P,
    "spring_side_pressure": S_SPRING_P,
    "oxidizer_manifold_pressure": S_OXIDIZER_P,
    "fuel_manifold_pressure": S_FUEL_P,
    "oxidizer_flow": S_OXIDIZER,
    "fuel_flow": S_FUEL,
    "chamber_pressure": S_CHAMBER_P,
}
"""Sensor -> signal of the right-hand side."""
FINE = 64
"""Parts of a step in which a crossing is looked for."""


class Samples:
    """Time, states, discrete states and signals of a stretch of a run, stored points and `inside` between each two."""

    def __init__(self, raw: Raw, plant: Plant, first: int, last: int, inside: int) -> None:
        t, y, discrete, outputs, dense = (
            a[first : last + 1] for a in (raw.t, raw.y, raw.discrete_state, raw.outputs, raw.dense)
        )  # fmt: skip
        points = len(t)
        total = refined_points(t, points, inside)
        self.t = np.empty(total)
        self.y = np.empty((total, raw.y.shape[1]))
        self.discrete = np.empty((total, N_DISCRETE), dtype=np.int64)
        self.outputs = np.zeros((total, N_SIGNAL))
        refine(
            plant.record, plant.tables, plant.gas, np.zeros(raw.y.shape[1]), raw.event_memory,
            t, y, discrete, outputs, dense, points, inside, self.t, self.y, self.discrete, self.outputs,
        )  # fmt: skip


class View:
    """A run as the sensors see it."""

    def __init__(self, case: Case, raw: Raw, plant: Plant) -> None:
        self.raw, self.plant = raw, plant
        self.stroke = case.sleeve.stroke
        self.end = float(raw.t[-1]) if len(raw.t) else 0.0
        self._all: Samples | None = None

    def _excess(self, samples: Samples, condition: Condition) -> np.ndarray:
        """How far a condition is fulfilled along samples, positive where it is."""
        discrete, event = samples.discrete, condition.event
        lift = samples.y[:, int(self.plant.record[0]["index"]["lift_height"])]
        if event in ("light-off", "flame out"):
            return np.where((discrete[:, D_LIT] != 0) == (event == "light-off"), 1.0, -1.0)
        if event in ("first oxidizer", "first fuel"):
            return np.where(discrete[:, D_FIRST_O if event == "first oxidizer" else D_FIRST_F] == ARRIVED, 1.0, -1.0)
        if event in ("seated", "leaves seat"):
            return np.where((discrete[:, D_MODE] == SEATED) == (event == "seated"), 1.0, -1.0)
        if event == "full lift":
            return np.asarray(lift - FULL_LIFT * self.stroke)
        values = lift if condition.sensor == "lift" else samples.outputs[:, SIGNALS[condition.sensor]]
        return (1.0 if condition.rises else -1.0) * (values - condition.level)

    def _crossing(self, condition: Condition, before: float, after: float) -> float:
        """Instant between two samples at which a condition comes true, s."""
        if not after > before:
            return after
        k = int(np.searchsorted(self.raw.t, before, side="right"))
        fine = Samples(self.raw, self.plant, k - 1, k, FINE - 1)
        excess = self._excess(fine, condition)
        here = np.flatnonzero((excess > 0.0) & (fine.t > before))
        if not len(here) or here[0] == 0:
            return after
        j = int(here[0])
        low, high = excess[j - 1], excess[j]
        share = 1.0 if low > 0.0 or high <= low else -low / (high - low)
        return float(fine.t[j - 1] + share * (fine.t[j] - fine.t[j - 1]))

    def first(self, condition: Condition, begin: float) -> float:
        """First instant from `begin` on at which a reading is beyond its level, or an event comes about, s; inf: never."""
        if not len(self.raw.t):
            return inf
        if self._all is None:
            self._all = Samples(self.raw, self.plant, 0, len(self.raw.t) - 1, INSIDE)
        t, excess = self._all.t, self._excess(self._all, condition)
        if condition.event:
            risen = np.flatnonzero((excess[1:] > 0.0) & (excess[:-1] <= 0.0)) + 1
            later = [float(self._crossing(condition, t[j - 1], t[j])) for j in risen if t[j] >= begin]
            return next((instant for instant in later if instant >= begin), inf)
        if begin >= t[-1]:
            return begin if excess[-1] > 0.0 else inf
        i = int(np.searchsorted(t, begin, side="right")) - 1
        share = (begin - t[i]) / (t[i + 1] - t[i])
        if excess[i] + share * (excess[i + 1] - excess[i]) > 0.0:
            return begin
        here = np.flatnonzero(excess[i + 1 :] > 0.0)
        if not len(here):
            return inf
        j = i + 1 + int(here[0])
        return max(begin, self._crossing(condition, t[j - 1], t[j]))
