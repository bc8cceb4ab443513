"""The record and the curves of a plant, made section by section; a section of the last plant is taken over where it can be.

The runs of a study differ in a few values, so most of a plant is that of the run before. A section is made by a function of the
tables it is given and of nothing else. Tables of a case cannot be changed, only replaced, so where each is the very object that
the last plant of this thread was made from, the section is the same too.
"""

import threading
from collections.abc import Callable, Hashable, Sequence
from operator import itemgetter
from typing import Any

import numpy as np

from sleevelift.plant.params import PLANT


class Curves:
    """Collects curves of any length into one row."""

    def __init__(self) -> None:
        self.parts: list[tuple[int, np.ndarray | Sequence[float]]] = []
        """start and numbers of each"""
        self.length = 0

    def add(self, numbers: np.ndarray | Sequence[float], per_entry: int) -> tuple[int, int]:
        """Append; (start, number of entries)."""
        start = self.length
        if len(numbers):
            self.parts.append((start, numbers))
            self.length += len(numbers)
        return start, len(numbers) // per_entry

    def row(self, before: np.ndarray) -> np.ndarray:
        """All of them, float64 (length,); what was not added stands in `before`."""
        row = np.empty(self.length)
        common = min(len(before), self.length)
        row[:common] = before[:common]
        for start, part in self.parts:
            row[start : start + len(part)] = part
        return row


class _Made:
    """What a thread keeps of the last plant it made."""

    def __init__(self, form: Hashable) -> None:
        self.form = form
        self.record = np.zeros(PLANT.itemsize, dtype=np.uint8)
        self.row = np.empty(0)
        self.sections: dict[str, tuple[tuple[Any, ...], int, int, Any]] = {}
        """name -> sources, start and end of its curves, result"""


_local = threading.local()


class Sections:
    """A plant in the making. `form` says which tables there are: only a plant of the same form is taken from."""

    def __init__(self, form: Hashable) -> None:
        made: _Made | None = getattr(_local, "made", None)
        if made is None or made.form != form:
            made = _local.made = _Made(form)
        self._made = made
        self._bytes = made.record.copy()
        self.lanes = np.ndarray((1,), PLANT, self._bytes)
        # a view of the bytes takes twenty times as long
        self.record: Any = self.lanes[0]
        self.curves = Curves()
        self._row = made.row
        self._sections: dict[str, tuple[tuple[Any, ...], int, int, Any]] = {}

    def made(self, name: str, make: Callable[..., Any], *sources: Any) -> Any:
        """What `make(record, curves, *sources)` returns, which fills the section of the record, or returned for the last plant."""
        curves = self.curves
        start = curves.length
        known = self._made.sections.get(name)
        if known is not None and known[1] == start:
            for before, now in zip(known[0], sources):
                if before is not now:
                    break
            else:
                self._sections[name] = known
                curves.length = known[2]
                return known[3]
        result = make(self.record, curves, *sources)
        self._sections[name] = sources, start, curves.length, result
        return result

    def row(self) -> np.ndarray:
        """The row of curves, once all that add to it are made."""
        curves, made = self.curves, self._made
        row = curves.row(made.row)
        if curves.parts or curves.length != len(made.row):
            self._row = row.copy()
        return row

    def finished(self) -> np.ndarray:
        """The record, (1,) of `PLANT`; the next plant of this thread takes from it."""
        made = self._made
        made.record = self._bytes.copy()
        made.row = self._row
        made.sections = self._sections
        return self.lanes


_orders: dict[int, tuple[int, Callable[[dict[str, Any]], tuple[Any, ...]]]] = {}
"""Kind of a record by its address (kinds are constants) -> number of its values, what puts them in its order."""


def in_order(values: dict[str, Any], kind: np.dtype[np.void]) -> tuple[Any, ...]:
    """The values of a record of this kind in its own order, to be put in at once: much quicker than one by one."""
    order = _orders.get(id(kind))
    if order is None:
        names = kind.names or ()
        order = _orders[id(kind)] = (len(names), itemgetter(*names))
    assert len(values) == order[0], "every number of a record is given"
    return order[1](values)
