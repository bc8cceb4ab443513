"""What is wrong with a case file, one line per fault, all of them at once.

hot_start.toml [spring] preload = "-12 N": must be at least 0 N (the valve is held closed by it)
"""

from typing import Any, NamedTuple

from sim.units import shown

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


def given_text(value: Any) -> str:
    """A value of a TOML file, as it may stand there, cut to one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return shown(value)
    if isinstance(value, int) and abs(value) >= 10**40:
        return f"a whole number of {value.bit_length()} bits"
    if isinstance(value, dict):
        inside = ", ".join(
            f"{shown(str(name), 20)[1:-1]} = {given_text(part)}" for name, part in list(value.items())[:4]
        )
        return "{ " + inside + (", ..." if len(value) > 4 else "") + " }" if value else "{}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(given_text(part) for part in value[:4]) + (", ..." if len(value) > 4 else "") + "]"
    return shown(value)


class CaseError(Exception):
    """A case that cannot be used. `faults` holds every fault, `str()` one line for each."""

    def __init__(self, faults: list[Fault], file: str = "") -> None:
        self.faults = list(faults)
        self.file = shown(file, 200).strip('"') if file else ""
        super().__init__("\n".join(self.lines()))

    def lines(self) -> list[str]:
        """One line per fault, at most `MOST_LINES` and a count of the rest."""
        lines = list(dict.fromkeys(fault.line(self.file) for fault in self.faults))
        hidden = len(lines) - MOST_LINES
        return lines if hidden <= 0 else [*lines[:MOST_LINES], f"{self.file}: and {hidden} more faults".lstrip(": ")]
