"""Channels of a test stand: which trace of the model each instrument reads, and where it sits.

    channels_of(case) -> (Channel, ...)      those that the case's kind has; the valve command is the sequencer's own

A channel reads one trace of `sleevelift.trajectory.UNITS`. What the model traces and no usual instrument reads (flows through the
slots, forces, unburned masses) is no channel.
"""

from typing import NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.ratings import limit_of, parts

KINDS = ("dry", "cold-flow", "hot")
"""Kinds of test, in the order in which they are made."""


class Channel(NamedTuple):
    """One instrument."""

    trace: str
    title: str
    where: str
    part: str
    """pressurised part whose rating bounds it (`ratings.Part.name`); empty: none"""
    kinds: tuple[str, ...] = KINDS


CHANNELS = (
    Channel("bottle_pressure", "bottle pressure", "on the bottle, ahead of the regulator", "bottle"),
    Channel("supply_pressure", "supply pressure", "just ahead of the solenoid valve", "supply line"),
    Channel("tube_pressure", "tube pressure", "in the tube, near the solenoid valve", "tube"),
    Channel(
        "lift_chamber_pressure",
        "lift-chamber pressure",
        "flush, or on the shortest tap: it adds dead volume",
        "lift chamber",
    ),
    Channel("spring_side_pressure", "spring-side pressure", "on the spring's side, away from the vent", "spring side"),
    Channel("lift", "lift", "contactless, zeroed on the seat", ""),
    Channel(
        "oxidizer_manifold_pressure",
        "oxidizer manifold pressure",
        "clean for oxygen, rated for its cold",
        "oxidizer manifold",
        ("cold-flow", "hot"),
    ),
    Channel(
        "fuel_manifold_pressure", "fuel manifold pressure", "at the manifold, bled of gas", "fuel manifold", ("cold-flow", "hot")
    ),
    Channel("oxidizer_line_flow", "oxidizer line flow", "feed line, straight length as its maker asks", "", ("cold-flow", "hot")),
    Channel("fuel_line_flow", "fuel line flow", "feed line, straight length as its maker asks", "", ("cold-flow", "hot")),
    Channel("chamber_pressure", "chamber pressure", "at the chamber wall, on a short cooled tap", "chamber", ("hot",)),
)


def channels_of(case: Case) -> tuple[Channel, ...]:
    """The channels of a case of its kind; the bottle's where its supply has one."""
    bottled = case.supply.kind in ("bottle", "regulator")
    return tuple(one for one in CHANNELS if case.case.kind in one.kinds and (bottled or one.trace != "bottle_pressure"))


BEHIND_RELIEF = ("supply line", "tube", "lift chamber")
"""Parts that the relief valve of the supply line protects."""


def rating_of(channel: Channel, case: Case) -> tuple[float, str] | None:
    """(highest pressure that the part behind a channel may see, Pa absolute, what that is); None where nothing is given."""
    for part in parts({}, case):
        if part.name == channel.part:
            return limit_of(part, case)
    return None


def bound_of(channel: Channel, case: Case) -> tuple[float, str] | None:
    """The same, or the set pressure of the relief valve ahead of that part where it opens below; None where there is no rating:
    a relief valve says nothing of what a part stands."""
    rating, relief = rating_of(channel, case), case.supply.relief_pressure
    if rating is not None and relief is not None and channel.part in BEHIND_RELIEF and relief < rating[0]:
        return relief, "relief valve opens"
    return rating


def highest_of(channel: Channel, case: Case, peaks: dict[str, float | None]) -> float | None:
    """Highest pressure (Pa absolute) of the part behind a channel: of the runs (`peaks`: measure -> highest) and of the stated
    ranges of what feeds it, whichever is more; None where it is no pressure or is not known."""
    for part in parts(peaks, case):
        if part.name == channel.part:
            ranges = next(p.peak for p in parts({}, case) if p.name == channel.part)
            known = [p for p in (part.peak, ranges) if p is not None]
            return max(known) if known else None
    return None


def steepest(time: np.ndarray, values: np.ndarray) -> float | None:
    """Time (s) in which a trace would run through its whole span at its steepest; None for a trace that does not move.

    >>> round(steepest(np.array([0.0, 1.0, 1.1, 2.0]), np.array([0.0, 0.0, 5.0, 5.0])), 3)
    0.1
    """
    steps = np.diff(time)
    moving = steps > 0.0
    span = float(np.ptp(values))
    if span <= 0.0 or not moving.any():
        return None
    slope = float(np.max(np.abs(np.diff(values)[moving] / steps[moving])))
    return span / slope if slope > 0.0 else None
