"""A sequencer on paper: what it has seen so far, the instants that follow, and what it sees next.

instants()   every step that is fixed, s            commands()   what the parts are told, in time order
look(view)   fixes what is seen first of all that is waited for          read_again(view)   lets instants follow their readings
"""

from collections.abc import Mapping
from math import inf
from typing import NamedTuple, Protocol

from sleevelift.case.conditions import Condition, failed_of
from sleevelift.case.parts import known_parts, stuck_part
from sleevelift.case.schema import Case
from sleevelift.case.schema_sequence import GO_ON, STAY, SequenceTable
from sleevelift.case.walk import value_at
from sleevelift.sequence.items import Abort, Item, aborts_of, items_of

Commands = tuple[tuple[str, bool, float], ...]
"""(part, on, instant in s) in time order."""


SAME = 1e-9
"""s. Instants closer than this are one: events of a run are located so."""


class Sees(Protocol):
    """A run as the sensors see it."""

    def first(self, condition: Condition, begin: float) -> float:
        """First instant from `begin` on at which a condition is seen to hold, s; inf: never."""
        ...


class Seen(NamedTuple):
    """What a step or an abort has waited for."""

    begins: float
    """s, from when on it is waited for"""
    event: float
    """s, the event or reading itself; inf where the time limit came first"""
    instant: float
    """s, at which it is seen, or the wait is over"""


class Started(NamedTuple):
    """The abort that came."""

    abort: Abort
    seen: Seen
    step: str
    """key of the step whose time limit started it; empty: its own condition did"""


class Sequencer:
    """The sequence of one case, while its instants are found."""

    def __init__(self, case: Case) -> None:
        table = case.sequence or SequenceTable()
        self.items = items_of(case)
        self.aborts = aborts_of(case)
        self.failed = failed_of(table.failed_sensor)
        self.stuck = stuck_part(table.failed_part)
        self.power_lost = table.power_lost
        self.end = inf if case.run.end is None else case.run.end
        """s, a given end of the run: what is seen from then on is not"""
        self.lost = min(t for t in (table.power_lost, table.sequencer_lost, inf) if t is not None)
        self.open = frozenset(
            part.name for part in known_parts() if getattr(value_at(case, part.name), "open_at_start", False)
        )  # fmt: skip
        """parts that stand open when the run begins"""
        self.seen: dict[str, Seen] = {}
        """step -> what it waited for"""
        self.started: Started | None = None

    def active(self) -> tuple[Item, ...]:
        """All steps that may come: with an abort its own too."""
        return self.items if self.started is None else (*self.items, *self.started.abort.steps)

    def _is_open(self, item: Item, instant: float) -> bool:
        """Whether a step may still be done at an instant."""
        dropped = self.started is not None and not item.abort and instant >= self.started.seen.instant
        return not dropped and instant < self.lost

    def begins(self, item: Item, instants: Mapping[str, float]) -> float | None:
        """Instant from which a step waits, s; None: not known."""
        if item.at is not None:
            return item.at
        if item.after is not None:
            return instants.get(item.after)
        return self.started.seen.instant if item.abort and self.started is not None else 0.0

    def instants(self) -> dict[str, float]:
        """Key -> instant of every step that is fixed, s."""
        of = {item.key: item for item in self.active()}
        found: dict[str, float] = {}
        tried: set[str] = set()

        def fix(item: Item) -> None:
            if item.key in tried:
                return
            tried.add(item.key)
            if item.after is not None:
                fix(of[item.after])
            begins, seen = self.begins(item, found), self.seen.get(item.key)
            if item.condition is not None:
                over = seen is not None and seen.event == inf and item.otherwise != GO_ON
                begins = None if begins is None or seen is None or over else seen.instant
            if begins is not None and self._is_open(item, begins + item.delay):
                found[item.key] = begins + item.delay

        for item in of.values():
            fix(item)
        return found

    def commands(self) -> Commands:
        """What is commanded; a repeated on or off is left out, and of two at one instant the first in the list: it has no time to
        act. Without power every part is off; at first too, unless it stands open."""
        instants = self.instants()
        edges = [(instants[item.key], item.part, item.turns_on) for item in self.active() if item.part and item.key in instants]
        if self.power_lost is not None:
            edges += [(self.power_lost, part.name, False) for part in known_parts()]
        out: list[tuple[str, bool, float]] = []
        state = dict.fromkeys(self.open, True)
        for t, part, on in sorted(edges, key=lambda edge: edge[0]):
            if state.get(part, False) != on:
                at_once = next((one for one in out if one[0] == part and t - one[2] <= SAME), None)
                if at_once is not None:
                    out.remove(at_once)
                else:
                    out.append((part, on, t))
                state[part] = on
        return tuple(out)

    def obeyed(self) -> Commands:
        """What the parts do of it: one that is stuck ignores every off, or every on."""
        return tuple((part, on, t) for part, on, t in self.commands() if (part, not on) != self.stuck)

    # -------------------------------------------------------------------------------- seeing

    def _first(self, view: Sees, condition: Condition, begin: float) -> float:
        """First instant at which a condition is shown, s; a failed sensor shows it at once or never."""
        if self.failed is not None and self.failed[0] == condition.sensor:
            return begin if self.failed[1] == condition.rises else inf
        return view.first(condition, begin)

    def _waited(self, view: Sees, item: Item, begins: float) -> Seen:
        """What a waiting step gets to see; at inf where it never does."""
        assert item.condition is not None, "a step that waits"
        event = self._first(view, item.condition, begins)
        limit = inf if item.limit is None else begins + item.limit
        seen = event + item.detection
        return Seen(begins, event, seen) if seen <= limit else Seen(begins, inf, limit)

    def _watched(self, view: Sees, abort: Abort, instants: Mapping[str, float]) -> Seen | None:
        """What an abort's watch sees while it is armed."""
        after = 0.0 if abort.armed_after is None else instants.get(abort.armed_after)
        if abort.condition is None or after is None:
            return None
        until = inf if abort.armed_until is None else instants.get(abort.armed_until, inf)
        begins = after + abort.armed_delay
        event = self._first(view, abort.condition, begins)
        return Seen(begins, event, event + abort.detection) if event + abort.detection < until else None

    def _waiting(self) -> list[tuple[Item, float]]:
        """(step, from when on) of all that wait for something, those that have seen it too."""
        instants = self.instants()
        return [
            (item, begins)
            for item in self.active()
            if item.condition is not None and (begins := self.begins(item, instants)) is not None
        ]

    def look(self, view: Sees) -> bool:
        """Fix what is seen, or given up, first of all that is waited for; False where nothing is left."""
        steps: list[tuple[float, Item, Seen]] = []
        for item, begins in self._waiting():
            if item.key not in self.seen and (item.abort or self.started is None):
                seen = self._waited(view, item, begins)
                if seen.instant < min(self.lost, self.end):
                    steps.append((seen.instant, item, seen))
        aborts: list[tuple[float, Abort, Seen]] = []
        if self.started is None:
            instants = self.instants()
            watched = [(abort, self._watched(view, abort, instants)) for abort in self.aborts]
            over = min(self.lost, self.end)
            aborts = [(seen.instant, abort, seen) for abort, seen in watched if seen is not None and seen.instant < over]
        first = min((row[0] for row in (*steps, *aborts)), default=inf)
        if first == inf:
            return False
        for instant, abort, seen in aborts:
            if instant == first:
                self.started = Started(abort, seen, "")
                return True
        _, item, seen = next(row for row in steps if row[0] == first)
        self.seen[item.key] = seen
        if seen.event == inf and item.otherwise not in (GO_ON, STAY):
            abort = next(abort for abort in self.aborts if abort.name == item.otherwise)
            self.started = Started(abort, seen, item.key)
        return True

    def read_again(self, view: Sees) -> float:
        """Read everything that fixed something again, and let it follow; how far it moved at most, s; inf: it is otherwise."""
        moved = 0.0
        for item, begins in self._waiting():
            before = self.seen.get(item.key)
            if before is None:
                continue
            now = self._waited(view, item, begins)
            if now.instant == inf or (now.event == inf) != (before.event == inf):
                return inf
            if abs(now.instant - before.instant) > SAME:
                self.seen[item.key] = now
                moved = max(moved, abs(now.instant - before.instant))
        if self.started is None:
            return moved
        abort, before, step = self.started
        again = self.seen.get(step) if step else self._watched(view, abort, self.instants())
        if again is None or again.instant == inf:
            return inf
        if abs(again.instant - before.instant) > SAME:
            self.started = Started(abort, again, step)
            moved = max(moved, abs(again.instant - before.instant))
        return moved
