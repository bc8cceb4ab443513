"""The case of a first cut in its reader's units: the same values, to the last digits, with the comments as they are.

    24.3 mm -> 0.956692913385827 in     2.1844 mm -> #44     3.175 mm -> 1/8 in

What the napkin pinned stays as it was pinned. Times, angles and what else both readers read in one unit stay too. A number has as
many digits as it takes to read the same value back: a first cut was proved with these numbers, not with rounded ones.
"""

import math
import tomllib
from typing import Any

from sleevelift import units
from sleevelift.case.read import case_from_text
from sleevelift.case.schema import Case
from sleevelift.case.walk import KeyInfo, info_at, keys_of, split, values
from sleevelift.drills import NUMBER_DRILLS_INCH
from sleevelift.first_cut.compose import COMMENT_COLUMN, LISTS
from sleevelift.first_cut.sheet import PINNED, toml_value
from sleevelift.reader import METRIC, Reader
from sleevelift.study.rewrite import HEADER, KEY, without_comment

SAME = 1e-12
"""-. Relative difference of two values that are one."""
INCH = 0.0254
"""m"""
FRACTIONS = 64
"""An inch is divided so far on a drill."""


def same(a: float, b: float) -> bool:
    """Whether two values are one, but for the last digits."""
    return math.isclose(a, b, rel_tol=SAME, abs_tol=1e-18)


def named_length(length: float) -> str | None:
    """A length (m) as a case file reads it by name: a number drill, or a fraction of an inch; None where it is none.

    >>> named_length(2.1844e-3), named_length(3.175e-3), named_length(3.2e-3)
    ('#44', '1/8 in', None)
    """
    for number, size in enumerate(NUMBER_DRILLS_INCH, 1):
        if same(length, size * INCH):
            return f"#{number}"
    parts = length / INCH * FRACTIONS
    whole = round(parts)
    if not 0 < whole < FRACTIONS or not same(parts, whole):
        return None
    shared = math.gcd(whole, FRACTIONS)
    return f"{whole // shared}/{FRACTIONS // shared} in"


def text_in(reader: Reader, raw: str, kind: str, ambient: float) -> str:
    """A value of the file, such as "12.7 mm", in the reader's unit; as it is where that is his already, or cannot be read back."""
    reading = units.read_quantity(raw, kind, ambient)
    if kind == "pressure" and reading.gauge:
        unit = reader.unit("gauge pressure")
    else:
        unit = reader.fitting(kind, reading.si)
    theirs = {step.unit for step in METRIC.sentences.get(kind, ())}
    if not unit or unit == reading.unit or unit in theirs or reading.unit in {step.unit for step in reader.sentences.get(kind, ())}:
        return raw
    if kind == "length" and (name := named_length(reading.si)) is not None:
        return name
    number = units.in_unit(reading.si, unit, kind, ambient)
    for digits in range(4, 18):
        text = f"{number:.{digits}g} {unit}"
        if same(units.read_quantity(text, kind, ambient).si, reading.si):
            return text
    return raw


def value_in(reader: Reader, raw: Any, kind: str, ambient: float) -> Any:
    """A TOML value: a text, a list of them, or a value with its range."""
    if isinstance(raw, str):
        return text_in(reader, raw, kind, ambient)
    if isinstance(raw, list):
        return [value_in(reader, one, kind, ambient) for one in raw]
    if not isinstance(raw, dict):
        return raw
    wide = units.RANGE_KIND.get(kind, kind)
    return {
        name: one if isinstance(one, str) and one.strip().endswith("%")
        else value_in(reader, one, wide if name == "plus_minus" else kind, ambient)
        for name, one in raw.items()
    }  # fmt: skip


def key_in(reader: Reader, raw: Any, info: KeyInfo, ambient: float) -> Any:
    """What stands at a key: a value, or a table in braces with keys of its own."""
    if info.table is not None and isinstance(raw, dict):
        known = keys_of(info.table)
        return {name: key_in(reader, one, known[name], ambient) if name in known else one for name, one in raw.items()}
    return raw if info.quantity is None or info.quantity.kind == "number" else value_in(reader, raw, info.quantity.kind, ambient)


def restated(text: str, case: Case) -> str:
    """The text of a case in its reader's units. Read back it is the same case: that is made sure of."""
    reader = case.reader
    if reader.name == METRIC.name:
        return text
    table, lines = "", []
    own = text.splitlines()
    for before, line in zip(["", *own], own):
        header, entry = HEADER.match(line), KEY.match(line)
        if header:
            table = f"{header.group(2)}.0" if header.group(2) in LISTS else header.group(2)
        info = info_at(split(f"{table}.{entry.group(2)}")) if entry and not line.startswith("#") else None
        if entry is None or info is None or PINNED in line or PINNED in before:
            lines.append(line)
            continue
        try:
            value, rest = without_comment(entry.group(4))
            raw = tomllib.loads(f"x = {value}")["x"]
        except tomllib.TOMLDecodeError:  # a text or list of several lines: no quantity of a first cut is one
            lines.append(line)
            continue
        new = key_in(reader, raw, info, case.ambient.pressure)
        if new == raw:
            lines.append(line)
            continue
        assignment, comment = f"{entry.group(2)} = {toml_value(new)}", rest.strip()
        if comment and len(assignment) >= COMMENT_COLUMN:
            lines += [comment, assignment]
        else:
            lines.append(f"{assignment:<{COMMENT_COLUMN}}{comment}".rstrip())
    found = "\n".join(lines) + "\n"
    again = values(case_from_text(found, case.name))
    for path, one in values(case).items():
        assert _alike(one, again[path]), f"{path} reads back as another value: {one} and {again[path]}"
    return found


def _alike(a: Any, b: Any) -> bool:
    """Whether two values of a case are one, derived ones to what their formulas make of the last digits."""
    if isinstance(a, float) and isinstance(b, float):
        return math.isclose(a, b, rel_tol=1e3 * SAME, abs_tol=1e-18) or (math.isnan(a) and math.isnan(b))
    if isinstance(a, tuple) and isinstance(b, tuple):
        return len(a) == len(b) and all(map(_alike, a, b))
    return bool(a == b)
