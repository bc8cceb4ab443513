"""The steps of a case as one flat list: those of its sequence, and its parts' own on and off instants.

Item(name, part, turns, at | after | event, condition, detection, delay, limit, otherwise)

begins --- seen (event + detection delay) --- done (+ delay)          limit counts from begins
"""

from typing import NamedTuple

from sleevelift.case.conditions import Condition, condition_of, event_named
from sleevelift.case.parts import HOLD, ON, known_parts
from sleevelift.case.schema import Case
from sleevelift.case.schema_sequence import SequenceStep, SequenceTable
from sleevelift.case.step_names import names_of, short_forms
from sleevelift.case.walk import value_at


class Item(NamedTuple):
    """One step."""

    key: str
    """its name, behind that of its abort"""
    name: str
    abort: str
    """abort whose step it is; empty: of the sequence itself"""
    part: str
    """table of the part; empty for a hold"""
    do: str
    """the action's word"""
    at: float | None
    """s of the run"""
    after: str | None
    """key of the step it comes after; None: the start of the run, or of the abort"""
    condition: Condition | None
    """what must be seen first"""
    detection: float
    """s, from there to its being seen"""
    delay: float
    """s, from there to the action"""
    limit: float | None
    """s, longest wait"""
    otherwise: str | None
    short: bool
    """whether it is an instant of the part's own table"""

    @property
    def turns_on(self) -> bool:
        """Whether its action switches on, or opens."""
        return self.do in ON


class Abort(NamedTuple):
    """What ends the sequence early."""

    name: str
    condition: Condition | None
    detection: float
    armed_after: str | None
    armed_delay: float
    armed_until: str | None
    steps: tuple[Item, ...]


def _key(abort: str, name: str) -> str:
    return f"{abort}: {name}" if abort else name


def _item(step: SequenceStep, name: str, abort: str, ambient: float) -> Item:
    after, when = step.after, step.when
    if after is not None and event_named(after) is not None:
        after, when = None, after
    return Item(
        key=_key(abort, name),
        name=name,
        abort=abort,
        part="" if step.do == HOLD else step.part or "",
        do=step.do,
        at=step.at,
        after=None if after is None else _key(abort, after),
        condition=None if when is None else condition_of(when, ambient),
        detection=step.detection_delay,
        delay=step.delay,
        limit=step.limit,
        otherwise=step.otherwise,
        short=False,
    )


def _items(steps: tuple[SequenceStep, ...], taken: list[str], abort: str, ambient: float) -> tuple[Item, ...]:
    names = names_of([(step.part, step.do, step.name) for step in steps], taken)
    return tuple(_item(step, name, abort, ambient) for step, name in zip(steps, names))


def own_instants(case: Case) -> list[Item]:
    """The steps that the parts' own tables give."""
    found = []
    for part in known_parts():
        table = value_at(case, part.name)
        if table is not None:
            found += short_forms(part.name, table.on, table.off)
    names = names_of([(part, action, None) for part, action, _ in found])
    return [
        Item(name, name, "", part, action, instant, None, None, 0.0, 0.0, None, None, True)
        for name, (part, action, instant) in zip(names, found)
    ]


def items_of(case: Case) -> tuple[Item, ...]:
    """Every step but those of aborts; the parts' own instants first."""
    own = own_instants(case)
    table = case.sequence or SequenceTable()
    return (*own, *_items(table.step, [item.name for item in own], "", case.ambient.pressure))


def aborts_of(case: Case) -> tuple[Abort, ...]:
    """Every abort."""
    ambient = case.ambient.pressure
    return tuple(
        Abort(
            name=abort.name,
            condition=None if abort.when is None else condition_of(abort.when, ambient),
            detection=abort.detection_delay,
            armed_after=abort.armed_after,
            armed_delay=abort.armed_delay,
            armed_until=abort.armed_until,
            steps=_items(abort.step, [], abort.name, ambient),
        )
        for abort in (case.sequence or SequenceTable()).abort
    )


def is_commanded(case: Case, part: str, on: bool) -> bool:
    """Whether the case switches a part on (or off), in its own table or in a step."""
    return any(item.part == part and item.turns_on == on for item in items_of(case))
