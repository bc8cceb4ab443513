"""The test in time: commands of the case and what should be seen after them, with the span in which the runs show it.

steps_of(bands, igniter) -> [Step, ...]      s after the first on command (T0), in order
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from sleevelift.case.parts import known_parts
from sleevelift.case.schema import Case
from sleevelift.case.walk import value_at
from sleevelift.run import with_instants
from sleevelift.sequence.items import aborts_of, items_of
from sleevelift.stand.abort import Abort, IgniterTimes
from sleevelift.stand.bands import Bands


class Step(NamedTuple):
    """One line of the sequence."""

    instant: float
    """s after T0; of what is seen the median of the runs"""
    low: float | None
    """P1 of the runs; None: a command, at its instant"""
    high: float | None
    what: str
    seen_on: str
    """channel, or who does it"""
    command: bool


SEEN = (
    (("energize_time", "valve_delay"), "lift-chamber pressure begins to rise", "lift-chamber pressure"),
    (("energize_time", "valve_delay", "fill_delay"), "sleeve leaves its seat", "lift"),
    (("first_oxidizer",), "oxidizer enters the chamber", "oxidizer manifold pressure falls"),
    (("first_fuel",), "fuel enters the chamber", "fuel manifold pressure falls"),
    (("light_off",), "chamber lights", "chamber pressure rises"),
    (("energize_time", "opening_time"), "full lift", "lift"),
    (("deenergize_time", "release_delay"), "lift-chamber pressure begins to fall", "lift-chamber pressure"),
    (("deenergize_time", "release_delay", "vent_delay"), "sleeve moves down", "lift"),
    (("last_fuel",), "last fuel", "fuel manifold pressure"),
    (("last_oxidizer",), "last oxidizer", "oxidizer manifold pressure"),
    (("deenergize_time", "closing_time"), "seated for good", "lift"),
)
"""(measures whose sum is the instant of the run, what, where it is seen)."""


def seen_steps(bands: Bands) -> list[Step]:
    """What the runs show, in order; what happened in none is left out."""
    out = []
    for names, what, channel in SEEN:
        values = np.sum([bands.batch.measures[name] for name in names], axis=0) - bands.origin
        values = values[np.isfinite(values)]
        if len(values):
            p1, p50, p99 = np.percentile(values, (1.0, 50.0, 99.0)).tolist()
            some = "" if len(values) == bands.complete else f" (in {len(values)} of {bands.complete} runs)"
            out.append(Step(p50, p1, p99, what + some, channel, False))
    return out


def command_steps(bands: Bands) -> list[Step]:
    """The commands of the case."""
    case, origin = bands.case, bands.origin
    out = [
        Step(t - origin, None, None, "ON command" if t == origin else "on command again", "sequencer", True)
        for t in case.solenoid.on
    ]
    out += [Step(t - origin, None, None, "OFF command", "sequencer", True) for t in case.solenoid.off]
    if case.igniter is not None:
        out += [Step(t - origin, None, None, "igniter on, as the case has it", "sequencer", True) for t in case.igniter.on]
        out += [Step(t - origin, None, None, "igniter off", "sequencer", True) for t in case.igniter.off]
    for part in known_parts():
        table = value_at(case, part.name) if part.name not in ("solenoid", "igniter") else None
        if table is not None:
            words = ("opens", "shuts") if part.valve else ("on", "off")
            out += [Step(t - origin, None, None, f"{part.title} {words[0]}", "sequencer", True) for t in table.on]
            out += [Step(t - origin, None, None, f"{part.title} {words[1]}", "sequencer", True) for t in table.off]
    return out


def limit_steps(watched: Sequence[Abort], igniter: IgniterTimes | None) -> list[Step]:
    """Instants by which something must have been done or seen."""
    out = []
    if igniter is not None and igniter.on_by is not None:
        out.append(
            Step(igniter.on_by, None, None, "latest igniter on that burns before both propellants are there", "window", False)
        )
    for one in watched:
        if one.begins is not None and one.name in ("no light", "not at full lift, or falls back", "does not close"):
            what = {"no light": "not lit", "does not close": "not seated"}.get(one.name, "not at full lift")
            out.append(Step(one.begins, None, None, f"ABORT if {what}", "sequencer", True))
    return out


def waits_of(case: Case) -> list[Step]:
    """Holds and watched aborts of the case's own sequence, instants s of the run without a fault; none in a case without one."""
    if case.sequence is None:
        return []
    found = with_instants(case)
    instants = {step.name: step.instant for step in found.steps if not step.abort}
    out = []
    for item in items_of(case):
        if item.condition is not None and (instant := instants[item.name]) is not None:
            limit = "" if item.limit is None else f", at most {1e3 * item.limit:.4g} ms, then {item.otherwise}"
            out.append(Step(instant, None, None, f"{item.name}: {item.condition.text} seen{limit}", "sequencer", True))
    for abort in aborts_of(case):
        begins = 0.0 if abort.armed_after is None else instants.get(abort.armed_after)
        if abort.condition is not None and begins is not None:
            words = f"ABORT {abort.name} armed: {abort.condition.text}"
            out.append(Step(begins + abort.armed_delay, None, None, words, "sequencer", True))
    return out


def steps_of(bands: Bands, watched: Sequence[Abort], igniter: IgniterTimes | None, waits: Sequence[Step] = ()) -> list[Step]:
    """The whole sequence; a command stands before what is seen at the same instant. waits: of the case's own sequence."""
    own = [step._replace(instant=step.instant - bands.origin) for step in waits]
    steps = [*command_steps(bands), *own, *seen_steps(bands), *limit_steps(watched, igniter)]
    return sorted(steps, key=lambda step: (step.instant, not step.command))
