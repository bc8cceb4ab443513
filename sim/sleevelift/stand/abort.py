"""Abort limits of a test: what a sequencer watches, between which instants, and what it must do.

    aborts(bands, igniter) -> [Abort, ...]       times from the first on command (T0), pressures absolute, SI

A pressure's set point stands half way between the highest that any run shows and what the part may see (or the relief valve's
set pressure), and no more than a quarter above the former, so that it neither trips on a good test nor waits for the rating;
where no rating is given there is no set point, and the card leaves a blank that must be filled before the test. Nothing here
replaces the relief valve: an abort acts a closing time later, and a surge is over before.
"""

import math
from typing import NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.ratings import absolute
from sleevelift.shown import stop_begins, valve_shuts
from sleevelift.stand.bands import Bands
from sleevelift.stand.channels import Channel, bound_of, highest_of

HALF = 0.5
"""-. Share of the room between expected and allowed at which a limit is set."""
SEATED_BELOW = 0.02
"""-. Share of the stroke below which the sleeve counts as seated on a lift sensor, and above 1 minus which as fully open."""
ABOVE = 0.25
"""-. Share of the highest expected pressure by which a limit is above it at most (common practice, no source)."""
LATE = 0.10
"""-. By which an instant may be later than the latest of all runs before it is an abort (common practice, no source)."""
STALE = 5e-3
"""s without a new sample that are a loss of data (common practice, no source)."""
MISSING = "no rating is given in the case: find it and write it in before the test"


class Abort(NamedTuple):
    """One limit that a sequencer watches."""

    name: str
    channel: str
    """trace of the channel; empty: the whole recording"""
    begins: float | None
    """s after T0; None: from the first pressure in the rig"""
    ends: float | None
    """s after T0; None: until the rig is proven vented"""
    low: float | None
    """abort below; None: not watched, or a blank"""
    high: float | None
    """abort above"""
    unit: str
    action: str
    why: str
    blank: bool = False
    """its limit must be written in before the test"""


class IgniterTimes(NamedTuple):
    """What the igniter's window says, s after T0; None: there is no such instant."""

    on_by: float | None
    light_expected: float | None
    decide_by: float | None
    off_by: float | None
    holds: bool | None
    words: str


def off_actions(case: Case) -> str:
    """What an abort after the on command is, by the kind of test."""
    if case.case.kind == "dry":
        return "off command; vent the actuation gas"
    if case.case.kind == "cold-flow":
        return "off command; shut the run valves; vent"
    return "igniter off and inhibited; off command; shut the run valves; purge with inert gas; vent"


def worst(bands: Bands, name: str) -> float | None:
    """The highest value of a measure in any run, SI; None where it never happened."""
    values = bands.batch.measures[name]
    there = values[np.isfinite(values)]
    return float(there.max()) if len(there) else None


def peaks(bands: Bands) -> dict[str, float | None]:
    """Measure -> highest value of any run, the nominal one among them."""
    out: dict[str, float | None] = {}
    for name, own in bands.nominal.measures.items():
        known = [value for value in (own, worst(bands, name)) if value is not None]
        out[name] = max(known) if known else None
    return out


def pressure_aborts(bands: Bands) -> list[Abort]:
    """A high limit for every pressure."""
    out = []
    found = peaks(bands)
    for channel in bands.channels:
        expected = highest_of(channel, bands.case, found)
        if not channel.part or expected is None:
            continue
        out.append(_pressure_abort(channel, expected, bands.case))
    return out


def _pressure_abort(channel: Channel, expected: float, case: Case) -> Abort:
    rating = bound_of(channel, case)
    name, action = f"{channel.title} high", off_actions(case)
    seen = f"up to {absolute(expected, case.reader)} expected"
    if rating is None:
        return Abort(name, channel.trace, None, None, None, None, "Pa", action, f"{seen}; {MISSING}", True)
    allowed, word = rating
    if expected >= allowed:
        why = f"{seen}, NOT below the {word} of {absolute(allowed, case.reader)}: no test as it stands"
        return Abort(name, channel.trace, None, None, None, allowed, "Pa", action, why)
    half, above = HALF * (allowed - expected), ABOVE * expected
    rule = "half way to" if half <= above else f"{100 * ABOVE:.0f} % above; it may see"
    why = f"{seen}; {rule} {absolute(allowed, case.reader)}, {word}"
    return Abort(name, channel.trace, None, None, None, expected + min(half, above), "Pa", action, why)


def late(instant: float) -> float:
    """An instant after its command, by LATE later."""
    return instant * (1.0 + LATE)


def motion_aborts(bands: Bands) -> list[Abort]:
    """The sleeve lifts without a command, hangs, or stays open."""
    case = bands.case
    stroke, origin = case.sleeve.stroke, bands.origin
    shut, full = SEATED_BELOW * stroke, (1.0 - SEATED_BELOW) * stroke
    delays = bands.batch.measures["valve_delay"]
    earliest: float | None = float(np.nanmin(delays)) if np.isfinite(delays).any() else 0.0
    before = {"dry": "vent", "cold-flow": "shut the run valves; vent", "hot": "igniter inhibited; shut the run valves; vent"}
    why = f"{100 * SEATED_BELOW:.0f} % of the stroke before the solenoid valve can have shifted"
    if not np.isfinite(bands.batch.measures["fill_delay"]).any():
        earliest, why = None, "no run lifts: any lift is another article than the case"
    out = [
        Abort("lifts without a command", "lift", None, earliest, None, shut, "m", f"no on command; {before[case.case.kind]}", why)
    ]
    off = next((t for t in case.solenoid.off if t > origin), None)
    opening, closing = worst(bands, "opening_time"), worst(bands, "closing_time")
    if opening is not None and (off is None or late(opening) < off - origin):
        why = f"the latest of all runs is at full lift after {1e3 * opening:.1f} ms, {100 * LATE:.0f} % added"
        ends = None if off is None else off - origin
        out.append(Abort("not at full lift, or falls back", "lift", late(opening), ends, full, None, "m", off_actions(case), why))
    if off is not None and closing is not None:
        begins = off - origin + late(closing)
        again = next((t - origin for t in case.solenoid.on if t > off), None)
        why = f"the latest of all runs is seated {1e3 * closing:.1f} ms after the off command, {100 * LATE:.0f} % added"
        action = "it does not obey the off command: isolate and vent the actuation gas"
        action += "" if case.case.kind == "dry" else "; shut the run valves"
        if again is None or begins < again:
            out.append(Abort("does not close", "lift", begins, again, None, shut, "m", action, why))
    return out


def stop_of(bands: Bands) -> float | None:
    """s after T0 of the first off command, or of a run valve's shutting before it; None without either."""
    off = next((t for t in bands.case.solenoid.off if t > bands.origin), None)
    again = next((t for t in bands.case.solenoid.on if t > bands.origin), math.inf)
    stop = stop_begins(valve_shuts(bands.case), bands.origin, off, again)
    return None if stop is None else stop - bands.origin


def flow_aborts(bands: Bands) -> list[Abort]:
    """Hot: fuel lost while oxidizer flows, and a chamber that went out."""
    case = bands.case
    if case.case.kind != "hot":
        return []
    out = []
    off = stop_of(bands)
    opening, light = worst(bands, "opening_time"), worst(bands, "light_off")
    chamber = bands.batch.measures["steady_chamber_pressure"]
    if opening is None or light is None or not np.isfinite(chamber).any():
        return []
    begins = late(max(opening, light - bands.origin))
    if off is not None and begins >= off:
        return []
    at = (bands.time >= begins) & (bands.time <= (off if off is not None else bands.time[-1]))
    for side, danger in (("fuel", "oxidizer alone on hot metal"), ("oxidizer", "hot gas may run back into the manifold")):
        lowest = float(np.min(bands.extremes(f"{side}_manifold_pressure")[0][at]))
        highest_chamber = float(np.nanmax(chamber))
        if lowest > highest_chamber:
            why = f"{side} lost ({danger}): half way from the lowest of any run to the highest steady chamber pressure"
            limit = highest_chamber + HALF * (lowest - highest_chamber)
            out.append(
                Abort(
                    f"{side} manifold pressure low",
                    f"{side}_manifold_pressure",
                    begins,
                    off,
                    limit,
                    None,
                    "Pa",
                    off_actions(case),
                    why,
                )
            )
    limit = case.ambient.pressure + HALF * (float(np.nanmin(chamber)) - case.ambient.pressure)
    why = "the chamber has gone out and fills with both propellants: half the lowest steady pressure of any run"
    out.append(Abort("chamber pressure low", "chamber_pressure", begins, off, limit, None, "Pa", off_actions(case), why))
    return out


LIT_SHARE = 0.25
"""-. Share of the lowest steady chamber pressure above ambient at which the chamber counts as lit (common practice, no source)."""


def lit_level(bands: Bands) -> float | None:
    """Chamber pressure at which it counts as lit, Pa absolute; None where no run lights."""
    steady = bands.batch.measures["steady_chamber_pressure"]
    ambient = bands.case.ambient.pressure
    return ambient + LIT_SHARE * (float(np.nanmin(steady)) - ambient) if np.isfinite(steady).any() else None


def latest_lit(bands: Bands, level: float) -> float | None:
    """When the slowest run has reached that chamber pressure, s after T0; None where one never does."""
    pressure = bands.channel_runs("chamber_pressure")[:, bands.time >= 0.0]
    above = pressure >= level
    if not above.any(axis=1).all():
        return None
    return float(bands.time[bands.time >= 0.0][above.argmax(axis=1)].max())


def igniter_aborts(bands: Bands, igniter: IgniterTimes | None) -> list[Abort]:
    """Hot: no light by the instant at which the slowest run is lit, and whether that is in time."""
    if igniter is None:
        return []
    action, level = off_actions(bands.case), lit_level(bands)
    decide = None if level is None else latest_lit(bands, level)
    if decide is None:
        why = f"not every run lights; {igniter.words}"
        return [Abort("no light", "chamber_pressure", None, None, None, None, "Pa", action, why, True)]
    why = f"{100 * LIT_SHARE:.0f} % of the lowest steady pressure, when the slowest run has reached it; {igniter.words}"
    if igniter.decide_by is not None and decide > igniter.decide_by:
        why += ": TOO LATE to keep the pool allowable; prove the igniter burning before the on command"
    return [Abort("no light", "chamber_pressure", decide, decide, level, None, "Pa", action, why)]


def aborts(bands: Bands, igniter: IgniterTimes | None = None) -> list[Abort]:
    """Every abort limit, the general ones first."""
    case = bands.case
    always = [
        Abort(
            "loss of data",
            "",
            None,
            None,
            None,
            None,
            "",
            off_actions(case),
            f"{1e3 * STALE:.0f} ms without a new sample on a channel with a limit, or no recording: what is not seen is not safe",
        ),
        Abort("anyone calls abort", "", None, None, None, None, "", off_actions(case), "no reason is asked"),
    ]
    return [*always, *motion_aborts(bands), *igniter_aborts(bands, igniter), *flow_aborts(bands), *pressure_aborts(bands)]
