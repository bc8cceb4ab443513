"""Instants of a sequence's steps, found by running.

    fixed steps -> run -> earliest thing seen, or time limit -> fixes one more -> run ... until nothing is left and nothing moves

What a run does up to the first step that is not fixed does not depend on that step, and no delay is negative: so what is seen
first in it is seen so in the end, and each pass fixes at least one thing. Then every reading that fixed something is read again
in the last run; the integrator ends a step at each command, so a reading may move by its error, and instants follow until they
stand still.
"""

from collections.abc import Callable
from math import inf, isfinite
from typing import NamedTuple

from sleevelift.case.conditions import Condition
from sleevelift.case.derive import replaced
from sleevelift.case.parts import known_parts
from sleevelift.case.schema import Case
from sleevelift.case.walk import split, value_at
from sleevelift.sequence.items import Item, items_of
from sleevelift.sequence.sequencer import SAME, Commands, Sees, Sequencer

CLAIM = 10e-6
"""s. What a run claims of an instant: readings that move by more from pass to pass do not stand still."""
SETTLING = 5
"""Passes in which instants may follow their readings once everything is fixed."""
DONE, DROPPED, UNUSED, LATE = "done", "dropped by the abort", "of an abort that did not come", "after the end of the run"
GAVE_UP = "not seen within its time limit: abort"
NO_POWER, NO_SEQUENCER = "no power any more", "no sequencer any more"


class Step(NamedTuple):
    """One step as it went."""

    name: str
    abort: str
    """abort whose step it is; empty: of the sequence itself"""
    part: str
    do: str
    instant: float | None
    """s of the run; None: it was never done"""
    begins: float | None
    """s of the run from which it waits; None: never"""
    event: float | None
    """s of the run at which what it waits for came about; None: nothing, or never"""
    limit: float | None
    """s of the run at which the wait ends; None: no limit"""
    state: str
    """done, or why it was not"""
    waits_for: str
    """what it comes from, in words"""


class Aborted(NamedTuple):
    """The abort that came."""

    name: str
    instant: float
    """s of the run"""
    event: float | None
    """s of the run, of what it watched"""
    why: str


class Resolution(NamedTuple):
    """A sequence with its instants."""

    case: Case
    """the case as written"""
    fixed: Case
    """the same with instants for steps: it can be run, and runs the same"""
    commands: Commands
    """what the parts are told"""
    steps: tuple[Step, ...]
    abort: Aborted | None
    passes: int
    """runs it took"""
    moved: float
    """s, how far readings still moved in the last pass"""

    @property
    def settled(self) -> bool:
        """Whether instants stand still within what a run claims of them."""
        return self.moved <= CLAIM

    @property
    def not_done(self) -> tuple[Step, ...]:
        """Steps that did not come, but for those that an abort is there to drop or to do."""
        return tuple(step for step in self.steps if step.state not in (DONE, DROPPED, UNUSED, GAVE_UP))

    def until(self, end: float) -> "Resolution":
        """The same of a run that broke off at `end`, s (inf: it did not): what was due later was not done."""
        steps = tuple(
            step._replace(state=LATE) if step.state == DONE and step.instant is not None and step.instant > end else step
            for step in self.steps
        )
        return self._replace(steps=steps)


def with_commands(case: Case, commands: Commands) -> Case:
    """The case with these instants in its parts' own tables, and no sequence."""
    new = case.with_key("sequence", None)
    origin = dict(case.origin)
    for part in known_parts():
        if value_at(case, part.name) is None:
            continue
        for name, turns_on in (("on", True), ("off", False)):
            instants = tuple(t for part_name, on, t in commands if part_name == part.name and on == turns_on)
            new = replaced(new, (*split(part.name), name), instants)
            if instants:
                origin[f"{part.name}.{name}"] = "given"
    new._origin = origin
    return new


def resolved(case: Case, run: Callable[[Case], Sees]) -> Resolution:
    """The sequence of a case with its instants; `run(case)` gives a run as the sensors see it."""
    sequencer = Sequencer(case)
    commands = sequencer.obeyed()
    view = run(with_commands(case, commands))
    passes, settling, moved = 1, 0, 0.0
    while True:
        if not sequencer.look(view):
            moved = sequencer.read_again(view)
            settling += 1
            if moved <= SAME or moved == inf or settling > SETTLING:
                break
        after = sequencer.obeyed()
        if after != commands:
            commands = after
            view = run(with_commands(case, commands))
            passes += 1
    told, done = (
        tuple(command for command in commands if case.run.end is None or command[2] < case.run.end)
        for commands in (sequencer.commands(), sequencer.obeyed())
    )
    return Resolution(case, with_commands(case, done), told, _steps(sequencer, case), _aborted(sequencer), passes, moved)


def commanded(case: Case, found: Resolution | None, end: float) -> Resolution | None:
    """What the parts of a run that broke off at `end` (s; inf: it did not) are told: its sequence `found`; without one the parts'
    own instants, where more than solenoid valve and igniter have any; None where a chart would show no more than the curves do."""
    if found is not None or not any(item.part not in ("solenoid", "igniter") for item in items_of(case)):
        return found
    return resolved(case, _unseen).until(end)


def _unseen(case: Case) -> Sees:
    """A run that nobody looks at: the parts' own instants wait for nothing."""
    return _Unseen()


class _Unseen:
    def first(self, condition: Condition, begin: float) -> float:
        """Never."""
        return inf


def _finite(value: float | None) -> float | None:
    return value if value is not None and isfinite(value) else None


def _aborted(sequencer: Sequencer) -> Aborted | None:
    started = sequencer.started
    if started is None:
        return None
    abort, seen, step = started
    if step or abort.condition is None:
        item = next(item for item in sequencer.items if item.key == step)
        what = item.condition.text if item.condition is not None else ""
        return Aborted(abort.name, seen.instant, None, f"{what} was not seen within the time limit of {quoted(item.name)}")
    return Aborted(abort.name, seen.instant, _finite(seen.event), f"{abort.condition.text} was seen")


def _state(item: Item, sequencer: Sequencer, done: float | None, begins: float | None, case: Case) -> str:
    """Why a step was done, or not."""
    if done is not None:
        return DONE if case.run.end is None or done < case.run.end else LATE
    started, seen = sequencer.started, sequencer.seen.get(item.key)
    if started is not None and not item.abort:
        return GAVE_UP if started.step == item.key else DROPPED
    if sequencer.lost < inf and (begins is None or seen is None or seen.instant + item.delay >= sequencer.lost):
        return NO_POWER if sequencer.power_lost is not None else NO_SEQUENCER
    if item.condition is not None and begins is not None:
        if begins >= sequencer.end:
            return LATE
        over = item.limit is not None and begins + item.limit < sequencer.end
        return f"{item.condition.text} was not seen{' within its time limit' if over else ''}"
    return f"{quoted(item.after)} did not come" if item.after is not None else "it did not come"


def _ms(seconds: float) -> str:
    return f"{1e3 * seconds:.6g} ms"


def quoted(name: str) -> str:
    """A step's name as it stands in a sentence."""
    return f'"{name}"'


def waits_for(item: Item) -> str:
    """What a step comes from, in words; instants from the start of the run."""
    if item.at is not None:
        base = _ms(item.at)
    elif item.after is not None:
        base = quoted(item.after.removeprefix(f"{item.abort}: "))
    else:
        base = "the abort" if item.abort else "the start of the run"
    if item.condition is None:
        if item.at is not None:
            return f"at {_ms(item.at + item.delay)}"
        return f"{_ms(item.delay)} after {base}" if item.delay else f"with {base}"
    seen = f", seen {_ms(item.detection)} later" if item.detection else ""
    later = f"; {_ms(item.delay)} after that" if item.delay else ""
    return f"{item.condition.text}, looked for from {base}{seen}{later}"


def _steps(sequencer: Sequencer, case: Case) -> tuple[Step, ...]:
    """Every step as it went: those of the sequence, then those of each abort."""
    instants = sequencer.instants()
    out = []
    for item in (*sequencer.items, *(step for abort in sequencer.aborts for step in abort.steps)):
        active = not item.abort or (sequencer.started is not None and sequencer.started.abort.name == item.abort)
        begins = sequencer.begins(item, instants) if active else None
        seen, done = sequencer.seen.get(item.key), instants.get(item.key) if active else None
        state = _state(item, sequencer, done, begins, case) if active else UNUSED
        limit = None if begins is None or item.limit is None else begins + item.limit
        event = None if seen is None else _finite(seen.event)
        instant = done if state == DONE else None
        out.append(Step(item.name, item.abort, item.part, item.do, instant, begins, event, limit, state, waits_for(item)))
    return tuple(out)
