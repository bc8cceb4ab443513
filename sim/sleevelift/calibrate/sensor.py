"""What a sensor makes of a signal: first-order lag, a clock of its own, averages over several samples.

    y' = (x - y) / lag;    t of the file = t of the run + offset

A signal is put on a grid of equal steps, where the lag is a recursion that is exact for straight lines between grid points.
"""

from typing import NamedTuple

import numpy as np

GRID_STEP = 1e-4
"""s. Steps of the grid, at most `MOST_STEPS` of them: a fifth of the shortest events of a valve."""
MOST_STEPS = 16384


class Grid(NamedTuple):
    """Signals of a run at equal steps from its start."""

    start: float
    """s of the run"""
    step: float
    """s"""
    values: dict[str, np.ndarray]
    """quantity -> (n,), SI"""


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
    from scipy.signal import lfilter

    if lag < 0.02 * step:
        return x
    a = float(np.exp(-step / lag))
    mean = (1.0 - a) * lag / step
    b_now, b_before = 1.0 - mean, mean - a
    return np.asarray(lfilter([b_now, b_before], [1.0, -a], x, zi=[(1.0 - b_now) * x[0]])[0])


def seen(grid: Grid, name: str, bins: Bins, offset: float, lag: float) -> np.ndarray:
    """What a sensor with this lag shows, (n_bins,), SI. Before the run begins and after it ends the signal is held."""
    y = lagged(grid.values[name], grid.step, lag)
    last = len(y) - 1
    first = (bins.start - offset - grid.start) / grid.step
    if bins.end is bins.start:
        return np.interp(first, np.arange(last + 1), y)
    second = (bins.end - offset - grid.start) / grid.step
    area = np.concatenate([[0.0], np.cumsum(0.5 * (y[1:] + y[:-1]))])

    def integral(s: np.ndarray) -> np.ndarray:
        inside = np.clip(s, 0.0, last)
        place = np.minimum(inside.astype(np.int64), last - 1)
        part = inside - place
        cell = y[place] * part + 0.5 * (y[place + 1] - y[place]) * part**2
        return area[place] + cell + np.where(s < 0.0, s * y[0], np.where(s > last, (s - last) * y[-1], 0.0))

    return (integral(second) - integral(first)) / (second - first)
