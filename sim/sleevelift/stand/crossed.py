"""A measured trace held against the abort limits of its card: which was crossed, when, by which sample.

    held(bands, test) -> (Held, ...)       one for each limit of `abort.aborts`

Every sample counts as it stands in the file, neither averaged nor thinned: a sequencer without a filter trips on one. A limit is
armed longer, at both ends, by twice the clock's error, so that it is rather called crossed; where no command was measured those
with an instant are not held at all, since the clock was moved to fit. What was not measured is not held, and nothing here says that
a rig is safe: a limit that was not crossed was not crossed by what was seen.
"""

import math
from typing import Any, NamedTuple

import numpy as np

from sleevelift.calibrate.data import Experiment
from sleevelift.measured.trace import Channel
from sleevelift.reader import Reader
from sleevelift.shown import milliseconds as ms
from sleevelift.stand.abort import STALE, Abort, IgniterTimes, aborts
from sleevelift.stand.bands import Bands
from sleevelift.stand.card_rows import armed_text, bound_text, cell, page_unit

CLOCK_WIDTH = 2.0
"""-. Standard deviations of the clock by which a limit is armed longer."""
USUAL_STEPS = 1.5
"""-. Usual steps between samples above which one is a loss of data, where it is longer than `STALE` too."""
NO_TIMES = IgniterTimes(None, None, None, None, None, "the igniter's window stands on the card")


class Crossing(NamedTuple):
    """Where one channel crosses a limit first."""

    header: str
    sample: int
    """number of the sample in its column, from 1, empty cells not counted"""
    file_time: float
    """s, as the file counts"""
    after: float
    """s after the first on command"""
    value: float
    """SI; of a loss of data s without a sample"""
    samples: int
    """how many are beyond the limit while it is armed"""


class Held(NamedTuple):
    """One limit, held against what was measured."""

    abort: Abort
    not_held: str
    """why it could not be held; empty where it was"""
    crossings: tuple[Crossing, ...]
    """of each channel that crosses it, the earliest first"""

    @property
    def watched(self) -> bool:
        """Whether it could be held at all."""
        return not self.not_held


def _armed(one: Abort, after: np.ndarray, by: float) -> np.ndarray:
    """(n,) whether a limit is armed at these times, s after T0."""
    low = -math.inf if one.begins is None else one.begins - by
    high = math.inf if one.ends is None else one.ends + by
    if one.begins is not None and one.begins == one.ends:  # decided at one instant: the first sample from there on
        first = int(np.searchsorted(after, low))
        return np.arange(len(after)) == first
    return (after >= low) & (after <= high)


def _first(one: Abort, channel: Channel, after: np.ndarray, beyond: np.ndarray, value: np.ndarray) -> Crossing | None:
    places = np.flatnonzero(beyond)
    if not len(places):
        return None
    k = int(places[0])
    return Crossing(channel.header, k + 1, float(channel.time[k]), float(after[k]), float(value[k]), len(places))


def _lost(one: Abort, channel: Channel, after: np.ndarray) -> Crossing | None:
    """The first sample that comes too late after the one before it."""
    steps = np.diff(channel.time, prepend=channel.time[:1])
    usual = float(np.median(steps[1:])) if len(steps) > 1 else 0.0
    return _first(one, channel, after, steps > max(STALE, USUAL_STEPS * usual), steps)


def held_one(one: Abort, channels: list[Channel], offset: float, by: float) -> Held:
    """One limit. offset: s, the file's time at T0. by: s that it is armed longer at both ends; infinite where T0 is not known."""
    if one.blank:
        return Held(one, "no limit: not held", ())
    if math.isinf(by) and not (one.begins is None and one.ends is None):
        return Held(one, "no command was measured, so its instants are not known: NOT HELD", ())
    found, measured = [], False
    for channel in channels:
        after = channel.time - offset
        if not one.channel:  # of the whole recording
            measured = measured or bool(len(after))
            crossing = _lost(one, channel, after)
        elif channel.quantity == one.channel:
            armed = _armed(one, after, by)
            measured = measured or bool(armed.any())
            beyond = np.zeros(len(after), dtype=bool)
            if one.high is not None:
                beyond |= channel.value > one.high
            if one.low is not None:
                beyond |= channel.value < one.low
            crossing = _first(one, channel, after, beyond & armed, channel.value)
        else:
            continue
        found += [crossing] if crossing is not None else []
    crossings = tuple(sorted(found, key=lambda crossing: crossing.after))
    return Held(one, "" if measured else "NOT MEASURED while armed: not held", crossings)


def held(bands: Bands, test: Experiment) -> tuple[Held, ...]:
    """Every limit of the card against a test, those that are called by a person left out."""
    igniter = NO_TIMES if bands.case.case.kind == "hot" else None
    watched = [one for one in aborts(bands, igniter) if one.channel or one.name == "loss of data"]
    with_limits = {one.channel for one in watched if one.channel}
    channels = [] if test.trace is None else [one for one in test.trace.channels if one.quantity in with_limits]
    by = CLOCK_WIDTH * test.clock.sigma
    return tuple(held_one(one, channels, test.clock.offset + bands.origin, by) for one in watched)


# ------------------------------------------------------------------------------------------------ in words


def found_text(one: Held, crossing: Crossing, reader: Reader) -> str:
    """What crossed a limit, when, and by which sample."""
    if one.abort.channel:
        value = f"{cell(crossing.value, one.abort.unit, reader)} {page_unit(one.abort.unit, reader)}"
    else:
        value = f"{1e3 * crossing.value:.3g} ms without a sample"
    several = f", {crossing.samples} samples" if crossing.samples > 1 else ", one sample"
    place = f"sample {crossing.sample}, {crossing.file_time:.6g} s of the file"
    return f"CROSSED at {ms(crossing.after)}: {value} ({crossing.header}; {place}{several})"


def verdict(one: Held, reader: Reader) -> str:
    """What is said of a limit."""
    if one.not_held:
        return one.not_held
    return "; ".join(found_text(one, crossing, reader) for crossing in one.crossings) or "not crossed"


def limit_rows(limits: tuple[Held, ...], reader: Reader) -> list[tuple[str, ...]]:
    """Limit, abort when, armed, found: those that were crossed first, then those that could not be held."""
    order = sorted(limits, key=lambda one: (not one.crossings, one.watched))
    return [(one.abort.name, bound_text(one.abort, reader), armed_text(one.abort), verdict(one, reader)) for one in order]


def tail_of(limits: tuple[Held, ...]) -> str:
    """What the one sentence of the answer says of abort limits."""
    crossed = sorted((one for one in limits if one.crossings), key=lambda one: one.crossings[0].after)
    if crossed:
        names = ", ".join(f"{one.abort.name} at {ms(one.crossings[0].after)}" for one in crossed)
        return f" ABORT LIMITS of the card crossed: {names}."
    count = sum(one.watched for one in limits)
    left = len(limits) - count
    more = f"; {left} could not be held" if left else ""
    return f" Of {len(limits)} abort limits of the card {count} were held and not crossed{more}. That does not make the rig safe."


def as_data(limits: tuple[Held, ...]) -> list[dict[str, Any]]:
    """For JSON, SI."""
    return [
        {
            "limit": one.abort.name, "channel": one.abort.channel, "low": one.abort.low, "high": one.abort.high,
            "unit": one.abort.unit, "armed": [one.abort.begins, one.abort.ends], "held": one.watched,
            "not_held": one.not_held or None,
            "crossings": [crossing._asdict() for crossing in one.crossings],
        }
        for one in limits
    ]  # fmt: skip
