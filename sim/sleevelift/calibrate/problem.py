"""The misfit of a case to what was measured, as numbers that least squares can work on.

    p = (u of each free value, correction of each trace's clock in ms, lag of each channel in ms)
    residual = (model - measured) / noise,   one per sample, per measured number, and per clock whose offset is known

Free values are differenced by runs (both sides, steps far above the solver's noise), clocks and lags without one.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from sleevelift.calibrate.data import NOTHING_KNOWN, Experiment, Settings, number_of_run
from sleevelift.calibrate.free import Free
from sleevelift.calibrate.runs import Signals, signals
from sleevelift.calibrate.sensor import Grid, gridded, seen
from sleevelift.case.lane_check import LaneCheck

STEP = 4e-3
"""-. Step of u in differences: at a tolerance of 1e-5 a run moves by less than a thousandth of what that moves it."""
SENSOR_STEP = 0.02
"""ms. Step of clocks and lags in differences."""
LONGEST_LAG = 20.0
"""ms. A sensor that is slower is no sensor for a valve."""
FIRST_LAG = 0.3
"""ms. Where a lag begins."""
MISSED = 30.0
"""-. Residual of a number that did not happen, and of a run that cannot be made: in noise widths."""
MILLI = 1e-3


class Nuisance(NamedTuple):
    """A clock or a lag: not of the case, but found with it. Number in ms; of a clock beyond what was found before the fit."""

    name: str
    test: int
    series: int
    """-1 of a clock"""
    start: float
    low: float
    high: float


class Problem:
    """Misfit of tests to what they measured, over free values and sensors."""

    def __init__(self, tests: Sequence[Experiment], free: Sequence[Free], settings: Settings = NOTHING_KNOWN) -> None:
        self.tests, self.free = list(tests), list(free)
        self.nuisances = self._nuisances(settings)
        self.known_lags = settings.lag
        self._admitted = [LaneCheck(test.case) for test in self.tests]
        self._runs: dict[tuple[int, bytes], tuple[Signals, Grid | None] | None] = {}
        self.runs_made = 0

    # ------------------------------------------------------------------------------------ parameters

    def _nuisances(self, settings: Settings) -> list[Nuisance]:
        found = []
        for k, test in enumerate(self.tests):
            if test.series:
                reach = 50.0 if not math.isfinite(test.clock.sigma) else max(10.0 * test.clock.sigma / MILLI, 0.01)
                found.append(Nuisance(f"clock of {test.name}", k, -1, 0.0, -reach, reach))
            for i, one in enumerate(test.series):
                if one.header not in settings.lag and one.quantity not in settings.lag:
                    found.append(Nuisance(f"lag of {one.header}", k, i, FIRST_LAG, 0.0, LONGEST_LAG))
        return found

    @property
    def n_free(self) -> int:
        """Free values of the case; clocks and lags follow them."""
        return len(self.free)

    def start(self) -> np.ndarray:
        """Parameters of the case as it stands."""
        return np.array([one.scaled(one.start) for one in self.free] + [one.start for one in self.nuisances])

    def bounds(self) -> tuple[np.ndarray, np.ndarray]:
        """Lowest and highest of each parameter."""
        low = [0.0] * self.n_free + [one.low for one in self.nuisances]
        high = [1.0] * self.n_free + [one.high for one in self.nuisances]
        return np.array(low), np.array(high)

    def changes(self, p: np.ndarray, test: int) -> dict[str, float]:
        """Values of the case of one test, SI."""
        return {
            one.path: float(one.value(float(p[k]))) for k, one in enumerate(self.free) if one.owner is None or one.owner == test
        }

    # ------------------------------------------------------------------------------------------- runs

    def run(self, p: np.ndarray, test: int) -> tuple[Signals, Grid | None] | None:
        """Run of one test with these free values; the last few are kept."""
        mine = [k for k, one in enumerate(self.free) if one.owner is None or one.owner == test]
        key = test, p[mine].tobytes()
        if key not in self._runs:
            if len(self._runs) > 64:
                self._runs.clear()
            names = self.tests[test].quantities
            found = signals(self.tests[test].case, self.changes(p, test), names, self._admitted[test])
            self.runs_made += 1
            self._runs[key] = None if found is None else (found, gridded(found.time, found.values) if names else None)
        return self._runs[key]

    def _lag(self, p: np.ndarray, test: int, series: int) -> float:
        """s."""
        for k, one in enumerate(self.nuisances):
            if one.test == test and one.series == series:
                return float(p[self.n_free + k]) * MILLI
        header, quantity = self.tests[test].series[series].header, self.tests[test].series[series].quantity
        return self.known_lags.get(header, self.known_lags.get(quantity, 0.0))

    def clock_offset(self, p: np.ndarray, test: int) -> float:
        """s."""
        for k, one in enumerate(self.nuisances):
            if one.test == test and one.series == -1:
                return self.tests[test].clock.offset + float(p[self.n_free + k]) * MILLI
        return self.tests[test].clock.offset

    def model(self, p: np.ndarray, test: int, series: int) -> np.ndarray:
        """What the model says a channel shows, (n,), SI; NaN of a run that cannot be made."""
        one = self.tests[test].series[series]
        run = self.run(p, test)
        if run is None or run[1] is None or one.quantity not in run[1].values:
            return np.full(len(one.value), np.nan)
        return seen(run[1], one.quantity, one.bins, self.clock_offset(p, test), self._lag(p, test, series))

    # -------------------------------------------------------------------------------------- residuals

    def series_residual(self, p: np.ndarray, test: int, series: int) -> np.ndarray:
        """(n,), in noise widths."""
        one = self.tests[test].series[series]
        rest = (self.model(p, test, series) - one.value) / one.sigma
        return np.where(np.isfinite(rest), rest, MISSED)

    def number_residuals(self, p: np.ndarray, test: int) -> np.ndarray:
        """Of each measured number, in its standard deviations."""
        numbers = self.tests[test].numbers
        run = self.run(p, test) if any(one.across is None for one in numbers) else None
        found = [number_of_run(self.tests[test].case, run[0] if run else None, self.changes(p, test), one) for one in numbers]
        rest = [(value - one.value) / one.sigma for value, one in zip(found, numbers)]
        return np.array([r if math.isfinite(r) else MISSED for r in rest])

    def clock_residual(self, p: np.ndarray, test: int) -> np.ndarray:
        """Of the clock, where its offset is known, (1,); else (0,)."""
        clock = self.tests[test].clock
        if not self.tests[test].series or not math.isfinite(clock.sigma):
            return np.zeros(0)
        return np.array([(self.clock_offset(p, test) - clock.offset) / clock.sigma])

    def residuals(self, p: np.ndarray) -> np.ndarray:
        """All of them: test by test, channels, numbers, clock."""
        return np.concatenate([self._part(p, test, series) for test, series, _ in self.places()])

    def places(self) -> list[tuple[int, int, slice]]:
        """(test, channel, where its residuals stand); channel -1: numbers, -2: clock."""
        found, at = [], 0
        for k, test in enumerate(self.tests):
            sizes = [(i, len(one.value)) for i, one in enumerate(test.series)]
            known = bool(test.series) and math.isfinite(test.clock.sigma)
            for i, size in [*sizes, (-1, len(test.numbers)), (-2, int(known))]:
                found.append((k, i, slice(at, at + size)))
                at += size
        return found

    def slopes(self, p: np.ndarray) -> np.ndarray:
        """The Jacobian from one side each: half the runs, good enough to find the way."""
        return self.jacobian(p, both=False)

    def jacobian(self, p: np.ndarray, both: bool = True) -> np.ndarray:
        """d residuals / d p, (n_residuals, n_parameters). both: differences to both sides."""
        base = self.residuals(p)
        out = np.zeros((len(base), len(p)))
        low, high = self.bounds()
        places = self.places()
        for k in range(len(p)):
            step = STEP if k < self.n_free else SENSOR_STEP
            up, down = p.copy(), p.copy()
            up[k], down[k] = min(p[k] + step, high[k]), max(p[k] - step, low[k])
            if not both and up[k] > p[k]:
                down[k] = p[k]
            if k < self.n_free:
                lower = base if down[k] == p[k] else self.residuals(down)
                out[:, k] = (self.residuals(up) - lower) / (up[k] - down[k])
                continue
            mine = self.nuisances[k - self.n_free]
            for test, series, place in places:
                if test == mine.test and (series == mine.series or mine.series == -1):
                    lower = base[place] if down[k] == p[k] else self._part(down, test, series)
                    out[place, k] = (self._part(up, test, series) - lower) / (up[k] - down[k])
        return out

    def _part(self, p: np.ndarray, test: int, series: int) -> np.ndarray:
        """The residuals of one place."""
        if series == -1:
            return self.number_residuals(p, test)
        return self.clock_residual(p, test) if series == -2 else self.series_residual(p, test, series)


def values_of(problem: Problem, p: np.ndarray) -> dict[str, Any]:
    """path -> value, SI, of the shared values; those of one trace as path@test."""
    return {
        one.path if one.owner is None else f"{one.path}@{problem.tests[one.owner].name}": float(one.value(float(u)))
        for one, u in zip(problem.free, p)
    }


def as_mapping(free: Sequence[Free], p: np.ndarray) -> Mapping[str, float]:
    """path -> value, SI, of the shared values alone."""
    return {one.path: float(one.value(float(u))) for one, u in zip(free, p) if one.owner is None}
