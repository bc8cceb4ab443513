"""What a sensor makes of a signal: first-order lag, a clock of its own, averages over several samples.

    y' = (x - y) / lag;    t of the file = t of the run + offset

A signal is put on a grid of equal steps, where the lag is a recursion that is exact for straight lines between grid points.
"""

from typing import NamedTuple

import numpy as np

GRID_STEP = 1e-4
"""s. Steps of the grid, at most `MOST_STEPS` of them: a fifth of the shortest events of a valve."""
MOST_STEPS = 16384
NOTHING_LEFT = 1e-18
"""-. Share of a value that is left of it behind a lag, below which it is forgotten."""
SAME_EDGE = 1e-6
"""-. Of a span: two edges that are nearer are one."""


class Behind(NamedTuple):
    """A signal behind a lag, and its integral."""

    lag: float
    """s"""
    y: np.ndarray
    """(n,) SI"""
    area: np.ndarray
    """(n,) SI times a step of the grid, from its start"""


class Grid:
    """Signals of a run at equal steps from its start."""

    def __init__(self, start: float, step: float, values: dict[str, np.ndarray]) -> None:
        self.start, self.step = start, step
        """s of the run, s"""
        self.values = values
        """quantity -> (n,), SI"""
        self._behind: dict[str, Behind] = {}

    def behind(self, name: str, lag: float) -> Behind:
        """A signal behind a lag (s): the last one of each is kept, since a clock is moved more often than a lag."""
        kept = self._behind.get(name)
        if kept is None or kept.lag != lag:
            y = lagged(self.values[name], self.step, lag)
            area = np.empty(len(y))
            area[0] = 0.0
            np.cumsum(0.5 * (y[1:] + y[:-1]), out=area[1:])
            kept = self._behind[name] = Behind(lag, y, area)
        return kept


class Bins(NamedTuple):
    """When a channel was sampled: single samples, or averages over samples that follow one another. s of the file."""

    start: np.ndarray
    end: np.ndarray
    """the same as `start` of single samples"""

    @property
    def middle(self) -> np.ndarray:
        """Middle of each."""
        return 0.5 * (self.start + self.end)


def gridded(time: np.ndarray, signals: dict[str, np.ndarray]) -> Grid:
    """Signals of a run on equal steps."""
    span = float(time[-1] - time[0])
    count = int(np.clip(np.ceil(span / GRID_STEP), 2, MOST_STEPS))
    t = np.linspace(time[0], time[-1], count + 1)
    return Grid(float(time[0]), span / count, {name: np.interp(t, time, x) for name, x in signals.items()})


def lagged(x: np.ndarray, step: float, lag: float) -> np.ndarray:
    """A signal behind a first-order lag, (n,), at rest before it begins. lag in s; 0 passes it on."""
    if lag < 0.02 * step:
        return x
    a = float(np.exp(-step / lag))
    mean = (1.0 - a) * lag / step
    b_now, b_before = 1.0 - mean, mean - a
    y = np.empty(len(x))
    y[0] = x[0]
    y[1:] = b_now * x[1:] + b_before * x[:-1]
    # y[k] - a y[k - 1] = what is there now: each pass sums over twice as many points (Hillis and Steele, Comm. ACM 29, 1986, 1170).
    # scipy.signal has such filters, but loads in half a second; a product of matrices starts threads that take longer than the runs
    reach, left = 1, a
    while reach < len(y) and left > NOTHING_LEFT:
        y[reach:] += left * y[:-reach]
        reach, left = 2 * reach, left * left
    return y


def _integral(s: np.ndarray, y: np.ndarray, area: np.ndarray) -> np.ndarray:
    """Integral of a signal from its start to s, (n,), rising, in steps of the grid; held before it begins and after its end."""
    last = len(y) - 1
    inside = np.clip(s, 0.0, last)
    place = np.minimum(inside.astype(np.int64), last - 1)
    part = inside - place
    first = y.take(place)
    out = area.take(place) + part * (first + 0.5 * part * (y.take(place + 1) - first))
    if len(s) and s.min() < 0.0:
        out += np.minimum(s, 0.0) * y[0]
    if len(s) and s.max() > last:
        out += np.maximum(s - last, 0.0) * y[-1]
    return out


def seen(grid: Grid, name: str, bins: Bins, offset: float, lag: float) -> np.ndarray:
    """What a sensor with this lag shows, (n_bins,), SI. Before the run begins and after it ends the signal is held."""
    _, y, area = grid.behind(name, lag)
    first = (bins.start - offset - grid.start) / grid.step
    if bins.end is bins.start:
        return np.interp(first, np.arange(len(y)), y)
    second = (bins.end - offset - grid.start) / grid.step
    wide = second - first
    if len(first) > 1 and np.abs(second[:-1] - first[1:]).max() < SAME_EDGE * wide.min():  # each begins where the last one ends
        rise = np.diff(_integral(np.append(first, second[-1]), y, area))
    else:
        rise = _integral(second, y, area) - _integral(first, y, area)
    return rise / wide
