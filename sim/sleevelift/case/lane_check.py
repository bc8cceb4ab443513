"""Changed cases checked as a file is, at the price of what changed: what a batch can afford for each of its lanes.

    admitted = LaneCheck(case)
    admitted.changed({"spring.preload": 700.0})      the changed case, or CaseError with every fault

A check between keys that reads nothing of what changed reads what it read in the case itself, takes the same way and says the
same: nothing, because the case is valid. So it is enough to hold what changed (and what follows from it) against its bounds, and to
make again those checks that read some of it. Where one of them objects the whole check of a file is made, which finds the words.
"""

import contextlib
import math
from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple

from pydantic import BaseModel

from sleevelift.case.change import spelled_rows, with_values
from sleevelift.case.checks import CHECKS
from sleevelift.case.derive import following
from sleevelift.case.facts import Facts, facts_of_case
from sleevelift.case.faults import CaseError, Fault
from sleevelift.case.left_out import LEFT_OUT_PATHS
from sleevelift.case.schema import Case, book_of
from sleevelift.case.walk import KeyInfo, bound_fault, info_at, split, value_at


class _Reads(Facts):
    """Facts of a case that keep which paths were asked for."""

    def __init__(self, facts: Facts) -> None:
        super().__init__(facts.given, facts.raw, facts.tables, facts.words, facts.reader)
        self.paths: set[str] = set()

    def has(self, path: str) -> bool:
        self.paths.add(path)
        return super().has(path)

    def get(self, path: str) -> Any:
        self.paths.add(path)
        return super().get(path)


class _Changed(Facts):
    """Facts of a changed case, looked up when a check asks. Its tables are those of the case it comes from."""

    def __init__(self, case: Case, tables: set[str]) -> None:
        super().__init__({}, {}, tables)
        self.case = case
        self.origin = book_of(case)["_origin"]

    def _value(self, path: str) -> Any:
        try:
            value = value_at(self.case, path)
        except KeyError:
            return None
        is_table = isinstance(value, BaseModel) or (isinstance(value, tuple) and value and isinstance(value[0], BaseModel))
        return None if is_table else value

    def has(self, path: str) -> bool:
        stands = self.origin.get(path) == "given" or path in LEFT_OUT_PATHS
        return path in self.tables or (stands and self._value(path) is not None)

    def get(self, path: str) -> Any:
        value = self._value(path)
        return super().get(path) if value is None else value


class _Touched(NamedTuple):
    """What a set of changed paths may move."""

    given: list[tuple[str, KeyInfo]]
    derived: list[tuple[str, KeyInfo]]
    whole: bool
    """whether only the check of the whole case will do: texts, switches, lists"""
    checks: list[Callable[[Facts], Iterator[Fault]]]
    """those between keys that read some of it"""


def _in_bounds(value: float, info: KeyInfo) -> bool:
    return math.isfinite(value) and bound_fault(value, info.field) is None


class LaneCheck:
    """The changed cases of one valid case, each checked."""

    def __init__(self, case: Case) -> None:
        self.case = case
        facts = facts_of_case(case)
        self._tables = facts.tables
        self._reads = []
        for check in CHECKS:
            reads = _Reads(facts)
            list(check(reads))
            self._reads.append((check, frozenset(reads.paths)))
        self._touched: dict[frozenset[str], _Touched] = {}

    def changed(self, changes: Mapping[str, Any]) -> Case:
        """The case with these values, as `with_values` takes them; ranges move with them. CaseError with every fault."""
        if all(type(value) is float for value in changes.values()):
            with contextlib.suppress(CaseError, ValueError, ArithmeticError, TypeError):  # put into words by the whole check
                spelled = spelled_rows(self.case, changes)
                touched = self._touches(frozenset(spelled))
                if not touched.whole and all(_in_bounds(spelled[path], info) for path, info in touched.given):
                    new = with_values(self.case, changes, check=False, move_ranges=True)
                    if self._fits(new, touched):
                        return new
        return with_values(self.case, changes, move_ranges=True)

    def _fits(self, new: Case, touched: _Touched) -> bool:
        """Whether nothing is wrong with what follows from the changes, nor with what they make together."""
        for path, info in touched.derived:
            value = value_at(new, path)
            if isinstance(value, float) and not _in_bounds(value, info):
                return False
        facts = _Changed(new, self._tables)
        return not any(True for check in touched.checks for _ in check(facts))

    def _touches(self, paths: frozenset[str]) -> _Touched:
        touched = self._touched.get(paths)
        if touched is None:
            touched = self._touched[paths] = self._touched_by(paths)
        return touched

    def _touched_by(self, paths: frozenset[str]) -> _Touched:
        moved = set(paths)
        if "ambient.pressure" in moved:
            moved |= book_of(self.case)["_gauge"]
        moved |= following(moved, self.case.origin)
        known = [(path, info) for path in sorted(moved) if (info := info_at(split(path))) is not None]
        given = [(path, info) for path, info in known if path in paths]
        whole = len(given) < len(paths) or any(info.quantity is None or info.is_list for _, info in given)
        derived = [(path, info) for path, info in known if path not in paths]
        return _Touched(given, derived, whole, [check for check, reads in self._reads if reads & moved])
