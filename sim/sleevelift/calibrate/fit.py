"""A fit from its tests to its verdict: several starts, the best judged, values at the end of their range let go once.

fit(tests, free) -> Fit
"""

from collections.abc import Sequence
from concurrent.futures import Executor
from typing import NamedTuple

import numpy as np

from sleevelift.calibrate.data import NOTHING_KNOWN, Experiment, Settings
from sleevelift.calibrate.free import Free, wider
from sleevelift.calibrate.judge import Verdict, judged, value_interval
from sleevelift.calibrate.problem import CLOCK, ZERO, Problem
from sleevelift.calibrate.solve import STARTS, Ended, fitted, from_start, is_rival, to_end
from sleevelift.scheduler import threads, workers_by_default
from sleevelift.study.store import ALONE, Work


class Value(NamedTuple):
    """A fitted value, SI."""

    free: Free
    before: float
    fitted: float
    low: float
    high: float
    """ends of its 90 % interval, cut to its range"""
    at_end: str
    """"low" or "high" where it ends at an end of its range, else empty"""
    open: bool
    """whether the data do not determine it"""
    beyond: float | None
    """where it would go if it might leave its range; None where it does not want to"""

    @property
    def unusual(self) -> bool:
        """Whether it, or where it would go, lies outside its usual range."""
        where = self.fitted if self.beyond is None else self.beyond
        low, high = self.free.usual
        slack = 1e-3 * (high - low)
        return not low - slack <= where <= high + slack


class Fit(NamedTuple):
    """What a fit came to."""

    problem: Problem
    p: np.ndarray
    before: np.ndarray
    """parameters of the case as it stands, with the clocks and lags of the fit"""
    values: tuple[Value, ...]
    verdict: Verdict
    ended: tuple[Ended, ...]
    runs: int

    @property
    def elsewhere(self) -> int:
        """Starts that ended in another place and worse."""
        return sum(not is_rival(one, self.ended[0]) for one in self.ended)

    def sensor(self, k: int) -> float:
        """Clock or lag k as found, ms: of a clock the file's time less the run's. Of a zero SI."""
        one = self.problem.nuisances[k]
        here = float(self.p[len(self.problem.free) + k])
        if one.what == CLOCK:
            return 1e3 * self.problem.tests[one.test].clock.offset + here
        return here * self.sensor_size(k)

    def sensor_size(self, k: int) -> float:
        """What one is of clock, lag (ms) or zero k (SI), as it is said."""
        one = self.problem.nuisances[k]
        return self.problem.tests[one.test].series[one.series].sigma if one.what == ZERO else 1.0

    @property
    def explained(self) -> bool:
        """Whether the model explains the tests with values in their ranges."""
        return self.verdict.explained and not any(one.unusual for one in self.values)


def _let_go(
    tests: Sequence[Experiment], free: Sequence[Free], settings: Settings, best: np.ndarray, ends: Sequence[str], pool: Executor
) -> np.ndarray:
    """Values, SI, (n_free,), of a fit from the best one in which those at an end may go on."""
    loose = [wider(one) if end else one for one, end in zip(free, ends)]
    start = [one.scaled(old.value(float(u))) for one, old, u in zip(loose, free, best)]
    near = from_start(tests, loose, settings, np.concatenate([start, best[len(free) :]]), pool)
    found = to_end(tests, loose, settings, near.p, pool)
    return np.array([one.value(float(u)) for one, u in zip(loose, found.p)])


def fit(
    tests: Sequence[Experiment], free: Sequence[Free], settings: Settings = NOTHING_KNOWN, work: Work = ALONE, seed: int = 0,
    starts: int = STARTS, let_go: bool = True,
) -> Fit:  # fmt: skip
    """Fit the free values to the tests and judge the outcome."""
    problem = Problem(tests, free, settings)
    with threads(work.workers or workers_by_default()) as pool:
        ended = fitted(tests, free, settings, work, seed, starts, pool)
        p = ended[0].p
        verdict = judged(problem, p, pool)
        ends = [one.at_end for one in verdict.intervals[: len(free)]]
        gone = _let_go(tests, free, settings, p, ends, pool) if let_go and any(ends) else None
    values = []
    for k, one in enumerate(free):
        fitted_value, low, high = value_interval(problem, verdict, k)
        beyond = None
        if gone is not None and ends[k] and abs(gone[k] - fitted_value) > 0.01 * (one.high - one.low):
            beyond = float(gone[k])
        mine = verdict.intervals[k]
        values.append(Value(one, one.start, fitted_value, low, high, ends[k], bool(mine.open), beyond))
    before = np.concatenate([problem.start()[: len(free)], p[len(free) :]])
    return Fit(problem, p, before, tuple(values), verdict, tuple(ended), problem.runs_made + sum(one.runs for one in ended))
