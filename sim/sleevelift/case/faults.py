"""What is wrong with a case file, one line per fault, all of them at once.

hot_start.toml [spring] preload = "-12 N": must be at least 0 N (the valve is held closed by it)
"""

from datetime import date, time
from typing import Any, NamedTuple

from sleevelift.units import shown

MOST_LINES = 40
"""lines of one refusal; a file with more faults than that is not the file that was meant."""

NOTHING: Any = object()
"""Stands for: no value was given."""


class Fault(NamedTuple):
    """One fault: where, what was given, what is allowed."""

    path: tuple[str | int, ...]
    rule: str
    given: Any = NOTHING

    def line(self, file: str) -> str:
        """The fault as one line."""
        return " ".join(part for part in (file, self._place()) if part) + f": {self.rule}"

    def _place(self) -> str:
        """`[table] key = given`."""
        names = [shown(str(part), 40).strip('"') for part in self.path]
        entry = ""
        while names and names[-1].isdigit() and isinstance(self.path[len(names) - 1], int):
            entry = f" (entry {int(names.pop()) + 1})" + entry
        table = ".".join(names[:-1])
        is_table = isinstance(self.given, dict | list) and len(names) == 1 or len(self.path) == 1
        if is_table:
            return f"[{'.'.join(names)}]{entry}"
        place = f"[{table}] {names[-1]}{entry}" if table else "".join(names)
        return place if self.given is NOTHING else f"{place} = {given_text(self.given)}"


def given_text(value: Any, longest: int = 60, entries: int = 4) -> str:
    """A value of a TOML file, as it may stand there, in one line cut to so many letters and entries."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return shown(value, longest)
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, int) and abs(value) >= 10**40:
        return f"a whole number of {value.bit_length()} bits"
    if isinstance(value, dict):
        pairs = list(value.items())[:entries]
        inside = ", ".join(f"{shown(str(name), 20)[1:-1]} = {given_text(part, longest, entries)}" for name, part in pairs)
        return "{ " + inside + (", ..." if len(value) > entries else "") + " }" if value else "{}"
    if isinstance(value, list | tuple):
        inside = ", ".join(given_text(part, longest, entries) for part in value[:entries])
        return "[" + inside + (", ..." if len(value) > entries else "") + "]"
    return shown(value, longest)


def _entries_together(faults: list[Fault]) -> list[Fault]:
    """Faults with the same rule at entries of one list told once, by the first of them."""
    first: dict[tuple[tuple[str | int, ...], str], int] = {}
    told: list[Fault] = []
    more: dict[int, int] = {}
    for fault in faults:
        if not fault.path or not isinstance(fault.path[-1], int):
            told.append(fault)
            continue
        place = (fault.path[:-1], fault.rule)
        if place in first:
            more[first[place]] = more.get(first[place], 0) + 1
        else:
            first[place] = len(told)
            told.append(fault)
    for number, count in more.items():
        told[number] = told[number]._replace(rule=f"{told[number].rule} (and {count} more entries)")
    return told


class CaseError(Exception):
    """A case that cannot be used. `faults` holds every fault, `str()` one line for each."""

    def __init__(self, faults: list[Fault], file: str = "") -> None:
        self.faults = list(faults)
        self.file = shown(file, 200).strip('"') if file else ""
        super().__init__("\n".join(self.lines()))

    def lines(self) -> list[str]:
        """One line per fault, at most `MOST_LINES` and a count of the rest."""
        lines = list(dict.fromkeys(fault.line(self.file) for fault in _entries_together(self.faults)))
        hidden = len(lines) - MOST_LINES
        return (
            lines
            if hidden <= 0
            else [*lines[:MOST_LINES], f"{self.file}: and at least {hidden} more fault{'s' if hidden > 1 else ''}".lstrip(": ")]
        )
