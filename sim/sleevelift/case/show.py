"""Every value that the program uses for a case: in SI, in the user's unit, and where it comes from.

The user's unit of a value that the file does not give is the unit that the file uses most for that kind of quantity,
else a customary one.
"""

from collections import Counter
from typing import Any, NamedTuple

from sleevelift import units
from sleevelift.case.derive import rule_of
from sleevelift.case.faults import given_text
from sleevelift.case.quantity import note_of, usual_of, usual_text
from sleevelift.case.schema import Case, Origin
from sleevelift.case.walk import KeyInfo, info_at, split, values
from sleevelift.reader import Reader

CUSTOMARY = {
    "length": "mm",
    "area": "mm2",
    "volume": "cm3",
    "mass": "g",
    "time": "ms",
    "angle": "deg",
    "stiffness": "N/mm",
    "pressure": "bara",
    "pressure difference": "bar",
    "stress": "GPa",
    "viscosity": "mPa s",
    "molar mass": "g/mol",
}
"""kind -> unit, where SI's own is unhandy."""


class Row(NamedTuple):
    """One value of a case."""

    path: str
    si_value: Any
    """float, text, switch or tuple; None: absent"""
    si_unit: str
    """"-" for plain numbers, "" for texts and switches"""
    user_value: str
    """the same in the user's unit ("absent" where there is none)"""
    origin: Origin
    meaning: str
    reason: str
    """why this default, or how it was derived; empty for a given value"""
    range: tuple[float, float] | None
    """low and high, SI, if it was given with a range"""


def case_rows(case: Case) -> list[Row]:
    """One row per value, in the order of the schema."""
    usual = _usual_units(case)
    return [_row(case, path, value, usual) for path, value in values(case).items()]


def si_text(row: Row) -> str:
    """The value in SI with its range; nothing for texts, switches and tables."""
    value = row.si_value
    if value is None or isinstance(value, bool | str):
        return ""
    unit = "" if row.si_unit in ("", "-") else f" {row.si_unit}"
    if isinstance(value, tuple | list):
        shown = ", ".join(f"{part:.6g}" if isinstance(part, float) else str(part) for part in value[:4])
        more = f", ... {len(value)} in all" if len(value) > 4 else ""
        return f"{shown}{more}{unit}"
    if not isinstance(value, int | float):
        return ""
    text = f"{value:.6g}{unit}"
    return text if row.range is None else f"{text} ({row.range[0]:.6g} to {row.range[1]:.6g})"


def uniform_text(row: Row, case: Case) -> str:
    """The value in SI with its range for the metric reader, else in the reader's units; nothing for texts, switches and tables."""
    kind = _kind(row.path)
    unit = case.reader.unit(kind)
    if case.reader.name == "metric" or not unit or row.si_value is None:
        return si_text(row)

    def number(si: float) -> str:
        return f"{units.in_unit(si, unit, kind, case.ambient.pressure):.5g}"

    if isinstance(row.si_value, tuple | list):
        more = f", ... {len(row.si_value)} in all" if len(row.si_value) > 4 else ""
        return f"{', '.join(number(part) for part in row.si_value[:4])}{more} {unit}"
    text = f"{number(row.si_value)} {unit}"
    return text if row.range is None else f"{text} ({number(row.range[0])} to {number(row.range[1])})"


def uniform_head(reader: Reader) -> str:
    """Heading of those values."""
    return "in SI" if reader.name == "metric" else "in inch units"


def value_text(case: Case, path: str, value: float) -> Any:
    """A number of a key in the user's unit; one without a unit as it is."""
    kind = _kind(path)
    if kind in ("", "number"):
        return value
    return units.written(value, _unit_of(case, path, kind, _usual_units(case)), kind, case.ambient.pressure)


def changed_values(case: Case) -> list[tuple[str, str]]:
    """(path, value in the user's unit) of what was set after reading."""
    usual = _usual_units(case) if case.changes else {}
    return [(path, _user_value(case, path, value, _kind(path), usual)) for path, value in case.changes.items()]


def _kind(path: str) -> str:
    """Kind of quantity that a key holds; "" for texts and switches."""
    info = info_at(split(path))
    return info.quantity.kind if info is not None and info.quantity else ""


def _row(case: Case, path: str, value: Any, usual: dict[str, str]) -> Row:
    info = info_at(split(path))
    assert info is not None, f"{path} comes from the schema itself"
    origin = case.origin[path]
    return Row(
        path,
        value,
        info.quantity.si_unit if info.quantity else "",
        _user_value(case, path, value, _kind(path), usual),
        origin,
        (info.field.description or "") + _usual(info, case.reader),
        _reason(path, origin, note_of(info.field, "reason")),
        case.ranges.get(path),
    )


def _usual(info: KeyInfo, reader: Reader) -> str:
    """The usual range of a key, in words; nothing where it has none."""
    found = usual_of(info.field)
    if found is None or info.quantity is None:
        return ""
    return f"; usually {usual_text(found, info.quantity.kind, reader)} ({found.source})"


def _reason(path: str, origin: Origin, stated: str) -> str:
    """Why a value that the file does not give is what it is."""
    if origin == "given":
        return ""
    rule = rule_of().get(path)
    return rule.because if rule is not None and (origin == "derived" or not stated) else stated


def _user_value(case: Case, path: str, value: Any, kind: str, usual: dict[str, str]) -> str:
    """The value as the user would write it."""
    if value is None:
        return "absent"
    if path in case.written and path not in case.changes:
        return case.written[path]
    if not kind or isinstance(value, str):  # a fault tells in words what it took away
        return given_text(value)
    unit = _unit_of(case, path, kind, usual)
    if isinstance(value, tuple):
        return given_text([units.written(entry, unit, kind, case.ambient.pressure) for entry in value])
    return units.written(value, unit, kind, case.ambient.pressure)


def _unit_of(case: Case, path: str, kind: str, usual: dict[str, str]) -> str:
    """The unit that the file gives a key in, else the usual one of its kind."""
    return _written_unit(case.written.get(path, ""), kind) or usual.get(kind, "")


def _usual_units(case: Case) -> dict[str, str]:
    """kind -> the unit that the file uses most for it, else the customary one, else SI's."""
    used: dict[str, Counter[str]] = {}
    for path, text in case.written.items():
        kind = _kind(path)
        unit = _written_unit(text, kind) if kind else ""
        if unit:
            used.setdefault(kind, Counter())[unit] += 1
    usual = {name: kind.si_unit for name, kind in units.KINDS.items()} | CUSTOMARY
    if case.reader.name == "inch":
        usual |= {kind: case.reader.unit(kind) for kind in usual if case.reader.unit(kind)}
    return usual | {kind: count.most_common(1)[0][0] for kind, count in used.items()}


def _written_unit(text: str, kind: str) -> str:
    """The unit in the text of a value, or nothing."""
    first = text.split('"')[1] if text.count('"') >= 2 else ""
    try:
        return units.read_quantity(first, kind, 0.0).unit if first and kind != "number" else ""
    except units.UnitError:
        return ""
