"""How a run of the integrator ended: a code inside compiled code, a sentence outside.

Nothing raises inside compiled code. The loop returns one of these integers; the time, the modes and the state it
stopped at are the last stored point.
"""

from enum import IntEnum


class Status(IntEnum):
    """Why the integrator stopped; `sentence` says it in words."""

    FINISHED = 0
    REACHED_END = 1
    OUT_OF_RANGE = 2
    STEP_TOO_SMALL = 3
    TOO_MANY_EVENTS = 4
    TOO_MANY_STEPS = 5
    BUFFER_FULL = 6
    RESET_FAILED = 7

    @property
    def sentence(self) -> str:
        """One sentence for a person."""
        return _SENTENCES[self]

    @property
    def good(self) -> bool:
        """Whether the run came to the end it was asked for."""
        return self in (Status.FINISHED, Status.REACHED_END)


_SENTENCES = {
    Status.FINISHED: "The run met its own criterion for the end.",
    Status.REACHED_END: "The run reached the end time.",
    Status.OUT_OF_RANGE: "The state left the range of the model, and no smaller step keeps it inside.",
    Status.STEP_TOO_SMALL: "The tolerance could not be held at the smallest step the clock resolves.",
    Status.TOO_MANY_EVENTS: "Events followed each other faster than the cap allows: the modes chatter.",
    Status.TOO_MANY_STEPS: "The cap on steps was reached before the end.",
    Status.BUFFER_FULL: "The arrays for points or events are full: enlarge them and run again.",
    Status.RESET_FAILED: "The jump of an event or of a time event reported that it cannot be applied.",
}

RUNNING = -1
"""Not a status: the run goes on."""

# The same codes as plain integers, for compiled code.
FINISHED = int(Status.FINISHED)
REACHED_END = int(Status.REACHED_END)
OUT_OF_RANGE = int(Status.OUT_OF_RANGE)
STEP_TOO_SMALL = int(Status.STEP_TOO_SMALL)
TOO_MANY_EVENTS = int(Status.TOO_MANY_EVENTS)
TOO_MANY_STEPS = int(Status.TOO_MANY_STEPS)
BUFFER_FULL = int(Status.BUFFER_FULL)
RESET_FAILED = int(Status.RESET_FAILED)
