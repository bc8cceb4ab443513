"""Tables of the case file for the sequence: steps, holds and aborts of everything commanded.

    [[sequence.step]]        what is done to which part, when: at an instant, after another step, when something is seen
    [[sequence.abort]]       a condition that is watched in a span; when it is seen, the steps left are dropped
    [[sequence.abort.step]]  what is done then

`on` and `off` of a part's own table are the short form of steps at given instants.
"""

from typing import Literal

from sleevelift.case.quantity import Table, Time, key
from sleevelift.case.schema_run import LONGEST_RUN, Instant

LONGEST_NAME = 60
LONGEST_CONDITION = 100
"""characters."""
MOST_STEPS = 200
"""steps of one list."""
MOST_ABORTS = 50
LONGEST_DETECTION = 100.0
"""s."""
GO_ON, STAY = "go on", "stay"
"""What a step may do at its time limit, beside starting an abort."""
START, CANNOT = "the start of the run", "a step cannot come before what it waits for"


class SequenceStep(Table):
    """One step: an action on a part, or a hold."""

    do: Literal["on", "off", "open", "close", "hold"] = key(
        "on or off of a part; open or close of a valve; hold: nothing but wait until something is seen"
    )
    part: str | None = key("the part, by the name of its table, such as solenoid or igniter", default=None, max_length=LONGEST_NAME)
    name: str | None = key(
        "name by which other steps speak of it; absent: part and action, such as solenoid on", default=None, max_length=LONGEST_NAME
    )
    at: Instant | None = key("instant, from the start of the run", default=None)
    after: str | None = key("the step, or the event, that it comes after", default=None, max_length=LONGEST_NAME)
    when: str | None = key(
        "what must be seen first: an event such as light-off, or a reading such as chamber_pressure above 5 bara",
        default=None,
        max_length=LONGEST_CONDITION,
    )
    detection_delay: Time = key(
        "from the event, or the reading, to its being seen: sensor, filter, scan",
        default=0.0,
        reason="seen at once",
        ge=0.0,
        le=LONGEST_DETECTION,
        because=CANNOT,
    )
    delay: Time = key("from there to the action", default=0.0, reason="at once", ge=0.0, le=LONGEST_RUN, because=CANNOT)
    limit: Time | None = key("longest wait for what must be seen", default=None, gt=0.0, le=LONGEST_RUN)
    otherwise: str | None = key(
        "what happens at that limit: go on (as if seen), stay (this step and what follows it never come), or the name of an abort",
        default=None,
        max_length=LONGEST_NAME,
    )


class SequenceAbort(Table):
    """What ends the sequence early: the steps left are dropped, its own are done. The first abort that is seen counts."""

    name: str = key("its name", min_length=1, max_length=LONGEST_NAME)
    when: str | None = key(
        "what starts it, as of a step; absent: only a step's time limit does", default=None, max_length=LONGEST_CONDITION
    )
    detection_delay: Time = key(
        "from there to its being seen", default=0.0, reason="seen at once", ge=0.0, le=LONGEST_DETECTION, because=CANNOT
    )
    armed_after: str | None = key("watched from this step on; absent: from the start", default=None, max_length=LONGEST_NAME)
    armed_delay: Time = key("so long after it", default=0.0, reason="at once", ge=0.0, le=LONGEST_RUN, because=CANNOT)
    armed_until: str | None = key("no more watched from this step on; absent: to the end", default=None, max_length=LONGEST_NAME)
    step: tuple[SequenceStep, ...] = key(
        "what is done, delays from the abort unless after another of its steps", default=(), max_length=MOST_STEPS
    )


class SequenceTable(Table):
    """Everything that is commanded, and what it waits for."""

    step: tuple[SequenceStep, ...] = key("the steps, in any order", default=(), max_length=MOST_STEPS)
    abort: tuple[SequenceAbort, ...] = key("the aborts", default=(), max_length=MOST_ABORTS)
    failed_sensor: str | None = key(
        "a sensor that has failed, to see what the sequence does then: its name and high or low, such as chamber_pressure low",
        default=None,
        max_length=LONGEST_NAME,
    )
    failed_part: str | None = key(
        "a part that does not obey: its name and stuck on (it ignores every off) or stuck off, such as solenoid stuck on",
        default=None,
        max_length=LONGEST_NAME,
    )
    power_lost: Instant | None = key("instant from which every part is without power and no step is done", default=None)
    sequencer_lost: Instant | None = key("instant from which no step is done and every part stays as commanded", default=None)
