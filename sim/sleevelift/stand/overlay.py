"""A measured trace over the simulated band: which channel left its band P1 to P99, when, to which side, how far.

    overlaid(bands, test) -> Overlay        test: `calibrate.data.experiment` of the same case (clock, noise, measured commands)

A channel is outside where it is beyond the band by more than three standard deviations of its own noise, for three samples in a
row at least; the band is widened in time by twice the clock's error, and backward by three times the lag that the sensor may have
(a first-order lag has 95 % of a step after three). A single run leaves a pointwise band somewhere too, so each
channel is held against its like: the share of the runs that are outside for as long. What few runs do is a departure; the earliest
is the first place to look, since what comes after follows from it.
"""

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from sleevelift.calibrate.data import Experiment, Series, of_channel
from sleevelift.measured.trace import lost_data
from sleevelift.stand.bands import Bands

NOISE_WIDTH = 3.0
"""-. Standard deviations of the noise by which a sample may be outside."""
LEAST_SAMPLES = 3
"""Samples in a row that make a stretch, and the most inside that do not end one."""
CLOCK_WIDTH = 2.0
"""-. Standard deviations of the clock by which the band is widened in time."""
USUAL_LAG = 1e-3
"""s. That a sensor may have where nothing is given (common practice of pressure transmitters, no source)."""
LAGS = 3.0
"""-. Lags after which a first-order sensor shows a step (95 %)."""
RARE = 0.05
"""-. Share of the runs: what fewer of them do is a departure."""



class Stretch(NamedTuple):
    """A time in which a channel is outside its band; s after the first on command, SI."""

    begins: float
    ends: float
    above: bool
    """above the band; False: below"""
    worst: float
    """s: where it is farthest outside"""
    measured: float
    band: float
    """the end of the band there"""


class Laid(NamedTuple):
    """One measured channel over its band."""

    series: Series
    time: np.ndarray
    """(n,) s after the first on command, of the samples within the run"""
    value: np.ndarray
    """(n,) SI"""
    low: np.ndarray
    high: np.ndarray
    """(n,) the band at these times, SI"""
    stretches: tuple[Stretch, ...]
    outside: float
    """s, all stretches together"""
    share_of_runs: float
    """-, runs that are outside for as long"""
    lost: tuple[tuple[float, float], ...]
    """times without data"""

    @property
    def departs(self) -> bool:
        """Whether it does what few runs do."""
        return bool(self.stretches) and self.share_of_runs < RARE


class Overlay(NamedTuple):
    """A measured trace over the bands of its case."""

    bands: Bands
    test: Experiment
    channels: tuple[Laid, ...]
    not_measured: tuple[str, ...]
    """titles of channels of the card that the trace does not have"""
    not_compared: tuple[str, ...]
    """headers of measured channels that have no band"""

    @property
    def departures(self) -> list[Laid]:
        """Channels that do what few runs do, the earliest first."""
        return sorted((one for one in self.channels if one.departs), key=lambda one: one.stretches[0].begins)


def widened(time: np.ndarray, low: np.ndarray, high: np.ndarray, before: float, after: float) -> tuple[np.ndarray, np.ndarray]:
    """The band, (n,) each, where what is seen may be of up to `before` s earlier or `after` s later: its least and greatest there.

    >>> t = np.array([0.0, 1.0, 2.0, 3.0])
    >>> widened(t, np.array([0.0, 0.0, 5.0, 5.0]), np.array([1.0, 1.0, 6.0, 6.0]), 1.0, 0.0)[0].tolist()
    [0.0, 0.0, 0.0, 5.0]
    """
    first, last = np.searchsorted(time, time - before, "left"), np.searchsorted(time, time + after, "right")
    rows = list(zip(first.tolist(), last.tolist()))
    return np.array([low[a:b].min() for a, b in rows]), np.array([high[a:b].max() for a, b in rows])


def runs_of(flags: np.ndarray) -> list[tuple[int, int]]:
    """(first, last) of every stretch of flags, (n,) booleans; short pauses join, short stretches are left out.

    >>> runs_of(np.array([0, 1, 1, 1, 0, 1, 1, 0, 0, 0, 0, 1, 0], dtype=bool))
    [(1, 6)]
    """
    places = np.flatnonzero(flags)
    if not len(places):
        return []
    cuts = np.flatnonzero(np.diff(places) > LEAST_SAMPLES)
    groups = np.split(places, cuts + 1)
    return [(int(group[0]), int(group[-1])) for group in groups if len(group) >= LEAST_SAMPLES]


def stretches_of(time: np.ndarray, value: np.ndarray, low: np.ndarray, high: np.ndarray, slack: float) -> tuple[Stretch, ...]:
    """Where values (n,) are outside their band by more than `slack`, in order."""
    found = []
    for above, beyond in ((True, value - high), (False, low - value)):
        for first, last in runs_of(beyond > slack):
            k = first + int(np.argmax(beyond[first : last + 1]))
            end = float(high[k] if above else low[k])
            found.append(Stretch(float(time[first]), float(time[last]), above, float(time[k]), float(value[k]), end))
    return tuple(sorted(found))


def laid(bands: Bands, test: Experiment, series: Series, lag: float) -> Laid | None:
    """One channel over its band, its sensor lagging up to `lag` s; None where it has no sample within the run."""
    time = series.bins.middle - test.clock.offset - bands.origin
    inside = (time >= bands.time[0]) & (time <= bands.time[-1])
    time, value = time[inside], series.value[inside]
    if not len(time):
        return None
    low, _, high = bands.of(series.quantity)
    by = CLOCK_WIDTH * test.clock.sigma if math.isfinite(test.clock.sigma) else 0.0
    low, high = widened(bands.time, low, high, by + LAGS * lag, by)
    low, high = np.interp(time, bands.time, low), np.interp(time, bands.time, high)
    slack = NOISE_WIDTH * series.sigma
    found = stretches_of(time, value, low, high, slack)
    outside = sum(one.ends - one.begins for one in found)
    share = float(np.mean(durations(bands, series.quantity, time, slack, low, high) >= outside)) if found else 1.0
    return Laid(series, time, value, low, high, found, outside, share, lost_data(time))


def durations(bands: Bands, trace: str, time: np.ndarray, slack: float, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """(n_runs,) how long each run is outside the same band by the same rule, sampled as the measured one, s."""
    out = []
    for run in bands.channel_runs(trace):
        sampled = np.interp(time, bands.time, run)
        out.append(sum(one.ends - one.begins for one in stretches_of(time, sampled, low, high, slack)))
    return np.array(out)


def lag_of(series: Series, lags: Mapping[str, float]) -> float:
    """The lag that a channel's sensor may have, s: given by header or quantity, else USUAL_LAG."""
    known = of_channel(lags, series)
    return USUAL_LAG if known is None else known


def overlaid(bands: Bands, test: Experiment, lags: Mapping[str, float] = {}) -> Overlay:
    """A measured test over the bands of its case; `lags`: header or quantity -> s that the sensor may lag."""
    known = {channel.trace: channel.title for channel in bands.channels}
    compared = [series for series in test.series if series.quantity in known]
    channels = [one for series in compared if (one := laid(bands, test, series, lag_of(series, lags))) is not None]
    have = {one.series.quantity for one in channels}
    return Overlay(
        bands,
        test,
        tuple(channels),
        tuple(title for trace, title in known.items() if trace not in have),
        tuple(series.header for series in test.series if series.quantity not in have),
    )
