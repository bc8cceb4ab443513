"""A case file with some values replaced: the text stays as it is, comments too.

    rewritten(text, case, {"solenoid.fill_orifice": 1.2e-3})   ->  fill_orifice = "1.2 mm"         # drawing ...

A value with a range is written as its value alone with its range moved along. The new text is read again and compared with
what was asked for, so that a file that cannot be rewritten is refused and never wrong.
"""

import math
import re
import tomllib
from collections.abc import Mapping
from typing import Any

from sleevelift import units
from sleevelift.case.read import case_from_text, with_values
from sleevelift.case.schema import Case
from sleevelift.case.walk import split, value_at
from sleevelift.study.values import kind_of, refused, unit_text

CLOSE = 1e-9
"""-. Relative difference up to which the rewritten value is the one asked for."""
DIGITS = 12
"""Digits of a rewritten number: more than any drawing, fewer than the noise of unit conversion."""
NO_RANGES: Mapping[str, tuple[float, float]] = {}
HEADER = re.compile(r"\s*(\[\[?)\s*([\w.\-]+)\s*\]\]?\s*(?:#.*)?$")
KEY = re.compile(r"(\s*)([\w\-.]+)(\s*=\s*)(.*)$")
"""Lines of a file that begin a table, and that give a key."""


def without_comment(rest: str) -> tuple[str, str]:
    """(value, what follows it) of the right-hand side of a line."""
    wanted = tomllib.loads(f"x = {rest}")["x"]
    for end in range(1, len(rest) + 1):
        try:
            if tomllib.loads(f"x = {rest[:end]}")["x"] == wanted and (end == len(rest) or rest[end] in " \t#"):
                return rest[:end], rest[end:]
        except tomllib.TOMLDecodeError:
            continue
    return rest, ""


def _quantity(si: float, unit: str, kind: str, ambient: float) -> str:
    """A value as TOML: a text with its unit, or a number."""
    number = f"{units.in_unit(si, unit, kind, ambient):.{DIGITS}g}"
    return f'"{number} {unit}"' if unit else (number if any(c in number for c in ".en") else f"{number}.0")


def _unit_of(raw: Any, kind: str) -> str:
    """The unit that a value in the file is written in."""
    text = raw.get("value") if isinstance(raw, dict) else raw
    return unit_text(text, kind) if isinstance(text, str) else ("" if kind == "number" else units.KINDS[kind].si_unit)


def _new_value(case: Case, moved: Case, path: str, raw: Any, ends: tuple[float, float] | None = None) -> str:
    """TOML of the new value, with a range where `ends` (SI) are given or the old one had one."""
    kind, ambient = kind_of(case, path), case.ambient.pressure
    unit = _unit_of(raw, kind)
    value = _quantity(value_at(moved, path), unit, kind, ambient)
    if ends is None and (path not in moved.ranges or not isinstance(raw, dict)):
        return value
    low, high = (_quantity(end, unit, kind, ambient) for end in ends or moved.ranges[path])
    return f"{{ value = {value}, low = {low}, high = {high} }}"


def _places(lines: list[str]) -> dict[str, int]:
    """path -> line of every key at the start of a line; headers as `table.`."""
    found: dict[str, int] = {}
    counts: dict[str, int] = {}
    table = ""
    for number, line in enumerate(lines):
        header = HEADER.match(line)
        if header:
            table = header.group(2)
            if header.group(1) == "[[":
                counts[table] = counts.get(table, -1) + 1
                table = f"{table}.{counts[table]}"
            found.setdefault(f"{table}.", number)
            continue
        entry = KEY.match(line)
        if entry:
            found.setdefault(f"{table}.{entry.group(2)}", number)
    return found


def rewritten(
    text: str, case: Case, changes: Mapping[str, float], ranges: Mapping[str, tuple[float, float]] = NO_RANGES, why: str = "chosen"
) -> str:
    """The text with the values (SI) replaced. CaseError where a value has no line of its own.

    ranges: path -> (low, high), SI, that are to stand beside values of `changes`. why: comment beside a key that is new, and beside
    one with such a range, since the old one speaks of the old value.
    """
    lines = text.splitlines()
    moved = with_values(case, changes, move_ranges=True, check=False)
    spelled = {path: value for path, value in moved.changes.items() if path not in case.changes or path in changes}
    for path in spelled:
        places = _places(lines)
        table, _, key = path.rpartition(".")
        if path in places:
            entry = KEY.match(lines[places[path]])
            assert entry is not None, "the place of a key is a line with a key"
            value, rest = without_comment(entry.group(4))
            raw = tomllib.loads(f"x = {value}")["x"]
            new_value = _new_value(case, moved, path, raw, _ends(ranges, path))
            if _ends(ranges, path) is not None:
                old = rest.strip().lstrip("# ")
                rest = f"   # {why}; before: {value.strip()}{', ' if old else ''}{old}"
            lines[places[path]] = f"{entry.group(1)}{entry.group(2)}{entry.group(3)}{new_value}{rest}"
        elif f"{table}." in places:
            new_line = f"{key} = {_new_value(case, moved, path, None, _ends(ranges, path))}    # {why}"
            lines.insert(places[f"{table}."] + 1, new_line)
        else:
            raise refused(path, "has no line of its own in the case file, so it cannot be replaced there")
    new = "\n".join(lines) + "\n"
    again = case_from_text(new, case.name)
    for path, value in spelled.items():
        found = value_at(again, path)
        if not math.isclose(float(found), float(value), rel_tol=CLOSE, abs_tol=1e-15):
            raise refused(path, f"could not be replaced in the case file (line of {split(path)[-1]})")
        ends = _ends(ranges, path)
        read = again.ranges.get(path, (math.nan, math.nan))
        if ends is not None and not all(math.isclose(a, b, rel_tol=CLOSE) for a, b in zip(ends, read)):
            raise refused(path, "could not be given its range in the case file")
    return new


def _ends(ranges: Mapping[str, tuple[float, float]], path: str) -> tuple[float, float] | None:
    """The range of a path, or of all rows that it belongs to."""
    return ranges.get(path, ranges.get(".".join(part for part in path.split(".") if not part.isdigit())))
