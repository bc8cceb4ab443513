"""Instruments of a test: range, sampling rate and place of each channel, from what the runs show.

    sensors_of(bands, aborts) -> [Sensor, ...]

Range: the next of 1, 1.6, 2.5, 4, 6, 10 ... (ISO 3, R5) of the reader's unit above a quarter more than the highest of expected
value and abort limit, so that a limit is never at the end of a scale; a chamber's holds the hard-start estimate. Rate: at least
so many samples while the trace would run through its whole span at its steepest (nominal run); the next of 1, 2, 5, 10 kHz ...
above, 1 kHz at least (common practice, no source). What a tap or a flow meter damps is not in it: flow meters lag by tens of
milliseconds.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from sleevelift.reader import conversion
from sleevelift.stand.abort import Abort, peaks
from sleevelift.stand.bands import Bands
from sleevelift.stand.channels import Channel, highest_of, rating_of, steepest

R5 = (1.0, 1.6, 2.5, 4.0, 6.0)
"""Preferred numbers of ISO 3 series R5, rounded as gauges are (EN 837 has 0 to 1, 1.6, 2.5, 4, 6, 10 bar)."""
ABOVE = 1.25
"""-. Of the range over what must be read."""
SAMPLES = 10
"""Samples while a trace runs through its span at its steepest (common practice, no source)."""
LEAST_RATE, MOST_RATE = 1e3, 1e5
"""Hz."""
SHORTEST = 2e-4
"""s. Steps of the model that are shorter are the end of a knock or of a valve's travel, which no pressure tap follows."""


class Sensor(NamedTuple):
    """One instrument of the list, SI."""

    channel: Channel
    top: float
    """end of its range; its beginning is 0"""
    unit: str
    survives: float | None
    """Pa absolute it must stand without damage or leak: the rating of its part; None: not given"""
    rate: float
    """Hz, at least"""


def preferred(value: float, series: Sequence[float]) -> float:
    """The least of series x 10^k that is not below a positive value.

    >>> preferred(36.2, R5), preferred(1.0, R5), preferred(0.0025, (1.0, 2.0, 5.0))
    (40.0, 1.0, 0.005)
    """
    decade = 10.0 ** math.floor(math.log10(value) + 1e-12)
    return next((step * decade for step in series if step * decade >= value * (1.0 - 1e-6)), 10.0 * series[0] * decade)


STILL = 0.02
"""-. Share of its range below which a channel counts as still: its knocks are not what is measured."""


def rate_of(bands: Bands, trace: str, top: float) -> float:
    """Least sampling rate of a channel whose range ends at `top`, Hz. Flow meters are for steady flow: the least."""
    traces = bands.nominal.traces
    if trace.endswith("_flow") or float(np.ptp(traces[trace])) < STILL * top:
        return LEAST_RATE
    whole = steepest(traces["time"], traces[trace])
    wanted = 0.0 if whole is None else SAMPLES / max(whole, SHORTEST)
    return min(preferred(max(wanted, LEAST_RATE), (1.0, 2.0, 5.0)), MOST_RATE)


def sensors_of(bands: Bands, watched: Sequence[Abort]) -> list[Sensor]:
    """The instruments of a test, one per channel."""
    out = []
    found, reader = peaks(bands), bands.case.reader
    for channel in bands.channels:
        runs = bands.extremes(channel.trace)[1]
        most = [float(np.max(runs)), float(np.max(bands.nominal.traces[channel.trace]))]
        most += [one.high for one in watched if one.channel == channel.trace and one.high is not None]
        pressure = highest_of(channel, bands.case, found)
        most += [] if pressure is None else [pressure]
        if channel.trace == "chamber_pressure":  # a hard start is to be seen, and the estimate is no bound
            most += [value for value in [found.get("hard_start_pressure")] if value is not None]
        rating = rating_of(channel, bands.case)
        unit = {"lift": "m"}.get(channel.trace, "kg/s" if channel.trace.endswith("_flow") else "Pa")
        kind = {"m": "length", "kg/s": "flow"}.get(unit, "pressure")
        size, _ = conversion(reader.column(kind), kind)
        top = preferred(ABOVE * max(most) / size, R5) * size
        out.append(Sensor(channel, top, unit, None if rating is None else rating[0], rate_of(bands, channel.trace, top)))
    return out
