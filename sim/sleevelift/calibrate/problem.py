"""The misfit of a case to what was measured, as numbers that least squares can work on.

    p = (u of each free value, correction of each trace's clock in ms, lag of each channel in ms, zero of a channel in noise widths)
    residual = (model - measured) / noise,   one per sample, per measured number, and per clock whose offset is known

Free values are differenced by runs (steps far above the solver's noise), all of them at once where there are threads; clocks and
lags without a run.
"""

import math
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from typing import Any, NamedTuple

import numpy as np

from sleevelift.calibrate.data import NOTHING_KNOWN, Experiment, Settings, number_of_run, of_channel
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
LEAST_KEPT = 8
"""Runs that are kept beside those of one Jacobian."""
Run = tuple[Signals, Grid | None] | None
"""What a run left, and its signals on a grid; None of one that cannot be made."""


CLOCK, LAG, ZERO = "clock", "lag", "zero"
ZERO_SHARE = 0.1
"""-. Of a channel's span: by how much its zero may be off where nothing is said (guess)."""


class Nuisance(NamedTuple):
    """A clock, a lag or a zero: not of the case, but found with it. Number in ms (of a clock beyond what was found before the fit),
    of a zero in noise widths of its channel."""

    what: str
    """CLOCK, LAG or ZERO"""
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
        self._runs: dict[tuple[int, bytes], Run] = {}
        self._most_kept = LEAST_KEPT + len(self.tests) * (2 * len(self.free) + 1)
        self.runs_made = 0

    # ------------------------------------------------------------------------------------ parameters

    def _nuisances(self, settings: Settings) -> list[Nuisance]:
        found = []
        for k, test in enumerate(self.tests):
            if test.series:
                reach = 50.0 if not math.isfinite(test.clock.sigma) else max(10.0 * test.clock.sigma / MILLI, 0.01)
                found.append(Nuisance(CLOCK, f"clock of {test.name}", k, -1, 0.0, -reach, reach))
            for i, one in enumerate(test.series):
                if of_channel(settings.lag, one) is None:
                    found.append(Nuisance(LAG, f"lag of {one.header}", k, i, FIRST_LAG, 0.0, LONGEST_LAG))
            for i, one in enumerate(test.series):
                most = of_channel(settings.zero, one)
                if most is not None:
                    wide = (most or ZERO_SHARE * one.span) / one.sigma
                    found.append(Nuisance(ZERO, f"zero of {one.header}", k, i, 0.0, -wide, wide))
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

    def _key(self, p: np.ndarray, test: int) -> tuple[int, bytes]:
        return test, p[[k for k, one in enumerate(self.free) if one.owner is None or one.owner == test]].tobytes()

    def _made(self, p: np.ndarray, test: int) -> Run:
        """Run of one test with these free values, made anew."""
        names = self.tests[test].quantities
        found = signals(self.tests[test].case, self.changes(p, test), names, self._admitted[test])
        return None if found is None else (found, gridded(found.time, found.values) if names else None)

    def run(self, p: np.ndarray, test: int) -> Run:
        """Run of one test with these free values; the last ones are kept."""
        key = self._key(p, test)
        if key not in self._runs:
            self._keep({key: self._made(p, test)})
        return self._runs[key]

    def _keep(self, made: Mapping[tuple[int, bytes], Run]) -> None:
        self.runs_made += len(made)
        self._runs |= made
        for key in list(self._runs)[: max(0, len(self._runs) - self._most_kept)]:
            del self._runs[key]

    def make_runs(self, wanted: Sequence[tuple[np.ndarray, int]], pool: Executor) -> None:
        """Make the runs of (p, test) that are not there, all at once."""
        missing = {key: one for one in wanted if (key := self._key(*one)) not in self._runs and self._needs_run(one[1])}
        self._keep(dict(zip(missing, pool.map(lambda one: self._made(*one), missing.values()))))

    def _needs_run(self, test: int) -> bool:
        return bool(self.tests[test].series) or any(one.across is None for one in self.tests[test].numbers)

    def _sensor(self, p: np.ndarray, what: str, test: int, series: int = -1) -> float | None:
        """Number of a clock, lag or zero; None where it is not found."""
        for k, one in enumerate(self.nuisances):
            if one.what == what and one.test == test and one.series == series:
                return float(p[self.n_free + k])
        return None

    def _lag(self, p: np.ndarray, test: int, series: int) -> float:
        """s."""
        found = self._sensor(p, LAG, test, series)
        known = of_channel(self.known_lags, self.tests[test].series[series])
        return found * MILLI if found is not None else known or 0.0

    def clock_offset(self, p: np.ndarray, test: int) -> float:
        """s."""
        return self.tests[test].clock.offset + (self._sensor(p, CLOCK, test) or 0.0) * MILLI

    def zero(self, p: np.ndarray, test: int, series: int) -> float:
        """SI: what a channel shows above what is there, always."""
        return (self._sensor(p, ZERO, test, series) or 0.0) * self.tests[test].series[series].sigma

    def model(self, p: np.ndarray, test: int, series: int) -> np.ndarray:
        """What the model says a channel shows, (n,), SI; NaN of a run that cannot be made."""
        one = self.tests[test].series[series]
        run = self.run(p, test)
        if run is None or run[1] is None or one.quantity not in run[1].values:
            return np.full(len(one.value), np.nan)
        shown = seen(run[1], one.quantity, one.bins, self.clock_offset(p, test), self._lag(p, test, series))
        zero = self.zero(p, test, series)
        return shown + zero if zero else shown

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

    def jacobian(self, p: np.ndarray, both: bool = True, pool: Executor | None = None) -> np.ndarray:
        """d residuals / d p, (n_residuals, n_parameters). both: differences to both sides, else to one, good enough to find the
        way. pool: threads that make its runs."""
        low, high = self.bounds()
        places = self.places()
        base = np.concatenate([self._part(p, test, series) for test, series, _ in places])
        out = np.zeros((len(base), len(p)))
        sides = [self._sides(p, k, low, high, both) for k in range(len(p))]
        if pool is not None:
            ends = [(end, test) for k in range(self.n_free) for end in sides[k] for test in self._tests_of(k)]
            self.make_runs(ends, pool)
        for k, (down, up) in enumerate(sides):
            for test, series, place in places:
                if test in self._tests_of(k) and self._moves(k, series):
                    lower = base[place] if down[k] == p[k] else self._part(down, test, series)
                    out[place, k] = (self._part(up, test, series) - lower) / (up[k] - down[k])
        return out

    def _sides(self, p: np.ndarray, k: int, low: np.ndarray, high: np.ndarray, both: bool) -> tuple[np.ndarray, np.ndarray]:
        """The two points between which parameter k is differenced."""
        step = STEP if k < self.n_free else SENSOR_STEP
        up, down = p.copy(), p.copy()
        up[k], down[k] = min(p[k] + step, high[k]), max(p[k] - step, low[k])
        if not both and up[k] > p[k]:
            down[k] = p[k]
        return down, up

    def _tests_of(self, k: int) -> Sequence[int]:
        """The tests that parameter k speaks to."""
        if k >= self.n_free:
            return (self.nuisances[k - self.n_free].test,)
        owner = self.free[k].owner
        return range(len(self.tests)) if owner is None else (owner,)

    def _moves(self, k: int, series: int) -> bool:
        """Whether parameter k moves this channel (-1: numbers, -2: clock) of a test that it speaks to."""
        if k < self.n_free:
            return series != -2
        mine = self.nuisances[k - self.n_free]
        return series != -1 if mine.what == CLOCK else mine.series == series

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
