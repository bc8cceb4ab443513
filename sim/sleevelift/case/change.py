"""The same case with other values: what studies, scatters and faults do thousands of times.

    with_values(case, {"spring.preload": 700.0, "solenoid.fill_orifice": "1.2 mm", "slots.row.lap": 1e-4})
    with_texts(case, ["spring.preload=700 N"])

Numbers are SI (pressures absolute), texts as in a file. `slots.row.lap` means every row, `slots.row.0.lap` the first. What was
derived from a changed key is derived again, defaults that follow the ambient follow it, and pressures written as gauge keep
their gauge value. The outcome is checked as a file is, unless told not to: a study checks the ends of its ranges once, not each
of its ten thousand lanes.
"""

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import lru_cache
from numbers import Real
from typing import Any

from pydantic import BaseModel, ValidationError

from sleevelift import units
from sleevelift.case.checks import consistency_faults
from sleevelift.case.derive import chart_ranges, derived_again, following, follows_chart, replaced, rule_numbers
from sleevelift.case.facts import facts_of_case, in_words
from sleevelift.case.faults import CaseError, Fault
from sleevelift.case.quantity import Context, QuantityFault, read_value
from sleevelift.case.refusals import faults_of, limit_rule, unknown_key
from sleevelift.case.schema import Case, Origin, book_of
from sleevelift.case.schema_chamber import FaultEntry
from sleevelift.case.step_names import step_path
from sleevelift.case.toml_text import tables_of
from sleevelift.case.walk import KeyInfo, bound_fault, info_at, joined, split, value_at


def with_values(case: Case, changes: Mapping[str, Any], *, check: bool = True, move_ranges: bool = False) -> Case:
    """The case with these values: SI numbers, or texts as a file has them ("1.2 mm", "x 1.1" for times its own).

    check: CaseError with every fault of a key, of a value, of what they make together, as of a file; without it numbers are taken
    as they are, and only a path that the case does not have is refused. move_ranges: the range of a changed value moves with it
    (per cent ranges in proportion, others by the difference); else ranges stay as the file has them.
    """
    if check:
        changes = values_in_si(case, changes)
    concrete = spelled_rows(case, changes)
    book = book_of(case)
    origin: dict[str, Origin] = dict(book["_origin"])
    old_ambient = case.ambient.pressure
    ranges = book["_ranges"]
    new = case
    derivable = False
    for path, value in concrete.items():
        _refuse_unknown(case, path)
        if move_ranges and path in ranges and origin.get(path) == "derived":
            ranges = {other: ends for other, ends in ranges.items() if other != path}  # given now, no more from the chart
        elif move_ranges and path in ranges and isinstance(value, int | float):
            ranges = {**ranges, path: _moved(ranges[path], value_at(case, path), value, path in book["_relative"])}
        new = replaced(new, split(path), value)
        origin[path] = "given"
        derivable = derivable or path in rule_numbers()
    if "ambient.pressure" in concrete and book["_gauge"]:
        new, ranges = _gauges_follow(new, ranges, new.ambient.pressure - old_ambient, concrete)
    if new is case:
        new = case.model_copy()
    book_of(new)["_origin"] = origin
    if check:
        check_again(new, following(concrete, origin) if derivable else ())  # before anything is computed from it
    if derivable:
        new = derived_again(new, concrete, origin)
        if any(origin.get(path) == "derived" for path in ranges) and follows_chart(concrete):
            ranges = chart_ranges(new, origin, ranges)
    kept = book_of(new)
    kept["_origin"] = origin
    kept["_ranges"] = ranges
    kept["_changes"] = {**book["_changes"], **concrete}
    if check and derivable:
        check_again(new)
    return new


@lru_cache(maxsize=8192)
def _means_every_row(path: str) -> bool:
    return path.startswith("slots.row.") and not path.split(".")[2].isdigit()


def case_has_rows(changes: Mapping[str, Any]) -> bool:
    """True where a path means every row of slots."""
    return any(_means_every_row(path) for path in changes)


def spelled_rows(case: Case, changes: Mapping[str, Any]) -> Mapping[str, Any]:
    """The changes with `slots.row.key` written out for each row. CaseError where the case has none."""
    if not case_has_rows(changes):
        return changes
    spelled: dict[str, Any] = {}
    for path, value in changes.items():
        if not _means_every_row(path):
            spelled[path] = value
            continue
        rows = case.slots.row if case.slots is not None else ()
        if not rows:
            raise CaseError([Fault(split(path), "is not in this case (it has no rows of slots)")], case.name)
        for number in range(len(rows)):
            spelled[f"slots.row.{number}.{path.split('.', 2)[2]}"] = value
    return spelled


def _refuse_unknown(case: Case, path: str) -> None:
    """CaseError if this case has no such key."""
    if path in book_of(case)["_origin"]:
        return
    info = info_at(split(path))
    if info is None:
        raise CaseError([Fault(split(path), unknown_key(split(path)))], case.name)
    if info.table is not None:
        raise CaseError([Fault(split(path), "is a table, not a value")], case.name)
    raise CaseError([Fault(split(path), "is not in this case (the table is absent)")], case.name)


def _moved(ends: tuple[float, float], old: float, new: float, relative: bool) -> tuple[float, float]:
    """A range that goes with its value; one that keeps its sign does so there too."""
    scale = abs(new / old) if relative and old != 0.0 else 1.0
    low, high = new + (ends[0] - old) * scale, new + (ends[1] - old) * scale
    return (max(low, 0.0) if ends[0] >= 0.0 and new >= 0.0 else low), high


def _gauges_follow(
    case: Case, ranges: dict[str, tuple[float, float]], rise: float, changed: Mapping[str, Any]
) -> tuple[Case, dict[str, tuple[float, float]]]:
    """Pressures written as gauge, and their ranges, moved with the ambient pressure."""
    for path in case._gauge:
        if path in changed:
            continue
        case = replaced(case, split(path), value_at(case, path) + rise)
        if path in ranges:
            ranges = {**ranges, path: (ranges[path][0] + rise, ranges[path][1] + rise)}
    return case, ranges


# ---------------------------------------------------------------------------------------------------- checking again


def check_again(case: Case, open_paths: Collection[str] = ()) -> None:
    """CaseError if a changed case breaks a bound or a check between keys.

    open_paths: whose values are still those from before the change; checks that need one keep silent.
    """
    try:
        plain = _plain(case)
        Case.model_validate(plain, context=Context(case.ambient.pressure, already_si=True))
        faults: list[Fault] = []
    except ValidationError as error:
        faults = [
            fault._replace(given=in_words(case, joined(fault.path), fault.given))
            for fault in faults_of(error, plain, case.ambient.pressure, case.reader)
        ]
    known = {fault.path for fault in faults}
    faults += [fault for fault in consistency_faults(facts_of_case(case, known, open_paths)) if fault.path not in known]
    if faults:
        raise CaseError(faults, case.name)


def _plain(table: BaseModel) -> dict[str, Any]:
    """A table as nested dicts and tuples, without what is absent."""
    return table.model_dump(exclude_none=True, warnings=False)


# ---------------------------------------------------------------------------------------------------- values as text


def with_texts(case: Case, texts: Sequence[str]) -> Case:
    """The case with values as they are written on a command line: `spring.preload=700 N`, `tube.bore=x 1.1` (times its own),
    `solenoid.on=0.1 s, 0.9 s` (a list).

    Ranges move with their values. Checked as a file is. CaseError with every fault: of the form, of a key, of a value, of what they
    make together.
    """
    faults: list[Fault] = []
    changes: dict[str, Any] = {}
    for text in texts:
        path, sign, value = (part.strip() for part in text.partition("="))
        path = by_number(case, path)
        if not sign or not path or not value:
            faults.append(Fault((), f"--set {units.shown(text)} must be path=value, such as spring.preload=700 N"))
        elif path in changes:
            faults.append(Fault(split(path), "is set twice", value))
        else:
            try:
                changes[path] = _fault_value(case, path, _plain_key_value(path, value))
            except CaseError as error:
                faults += error.faults
    if faults:
        raise CaseError(faults, case.name)
    return with_values(case, changes, check=True, move_ranges=True)


def by_number(case: Case, path: str) -> str:
    """A path that speaks of a step of the sequence by its name, by its number; any other as it is."""
    return path if case.sequence is None else step_path([step.name for step in case.sequence.step], path)


def values_in_si(case: Case, changes: Mapping[str, Any]) -> dict[str, Any]:
    """Changes with every text read and every number a float. CaseError with each fault: of a key, of a text."""
    faults: list[Fault] = []
    read: dict[str, Any] = {}
    for path, value in changes.items():
        try:
            read[path] = _value_in_si(case, path, value)
        except CaseError as error:
            faults += error.faults
    if faults:
        raise CaseError(faults, case.name)
    return read


def _value_in_si(case: Case, path: str, value: Any) -> Any:
    """One value of a key that holds a quantity, in SI; of any other key as it is."""
    for own_path in spelled_rows(case, {path: value}):
        _refuse_unknown(case, own_path)
    info = info_at(split(path))
    if info is None or info.quantity is None:
        return value
    if isinstance(value, str):
        return _fault_value(case, path, value)
    if info.is_list and isinstance(value, Iterable):
        return tuple(_number_as_text(case, path, info.quantity.kind, v) if isinstance(v, str) else _as_float(v) for v in value)
    return _as_float(value)


def _as_float(value: Any) -> Any:
    """A number of any kind as a float; anything else stays, to be refused."""
    return float(value) if isinstance(value, Real) and not isinstance(value, bool) else value


def without_ranges(case: Case) -> Case:
    """The case with no value carrying a range: its margins are those of its own values, not the worst of the ranges."""
    new = case.model_copy()
    book_of(new)["_ranges"] = {}
    return new


def _plain_key_value(path: str, text: str) -> Any:
    """Switches and whole numbers of keys that hold no quantity; all else stays text."""
    info = info_at(split(path))
    if info is None or info.table is not None or info.quantity is not None:
        return text
    try:
        found = tables_of(f"value = {text}")["value"]
    except ValueError:
        return text
    return found if isinstance(found, bool | int | float | str) else text


def si_value(case: Case, path: str, text: str | float | int | bool) -> Any:
    """A value for a path, as it would stand in the file ("700 N"; a list between commas), in SI. CaseError if it does not fit."""
    info = info_at(split(path))
    if info is None or info.table is not None:
        rule = unknown_key(split(path)) if info is None else "is a table, not a value"
        raise CaseError([Fault(split(path), rule)], case.name)
    value = _value_as_text(case, path, info, text)
    broken = bound_fault(value, info.field) if isinstance(value, float) else None
    if broken:
        rule = limit_rule(split(path), broken[0], broken[1], text, case.ambient.pressure, case.reader)
        raise CaseError([Fault(split(path), rule, text)], case.name)
    return value


def _value_as_text(case: Case, path: str, info: KeyInfo, text: Any) -> Any:
    """The value read as the key's kind, those of a list between commas; plain texts and switches as they are."""
    if info.quantity is None:
        return text
    kind = info.quantity.kind
    if not info.is_list:
        return _number_as_text(case, path, kind, text)
    return tuple(_number_as_text(case, path, kind, part.strip()) for part in str(text).split(","))


def _number_as_text(case: Case, path: str, kind: str, text: Any) -> float:
    """One number of a quantity's kind, in SI."""
    raw: Any = text
    if kind == "number" and isinstance(text, str):
        try:
            raw = float(text)
        except ValueError:
            pass
    try:
        return read_value(raw, kind, case.ambient.pressure).value
    except QuantityFault as fault:
        raise CaseError([Fault(split(path), fault.rule, text)], case.name) from None


def fault_values(case: Case, fault: FaultEntry) -> dict[str, Any]:
    """What a fault changes in this case: path -> SI value. "x 3" is three times the case's own value."""
    return {path: _fault_value(case, path, text) for path, text in fault.change.items()}


def _fault_value(case: Case, path: str, text: str | float | int | bool) -> Any:
    factor = _factor(text)
    if factor is None:
        return si_value(case, path, text)
    _refuse_unknown(case, path if not _means_every_row(path) else path.replace("slots.row.", "slots.row.0.", 1))
    own = value_at(case, path if not _means_every_row(path) else path.replace("slots.row.", "slots.row.0.", 1))
    if not isinstance(own, float):
        raise CaseError([Fault(split(path), "has no number in this case that a factor could change", text)], case.name)
    return own * factor


def _factor(text: Any) -> float | None:
    """3.0 for "x 3", else None."""
    if not isinstance(text, str) or not text.startswith("x ") or len(text) > units.LONGEST_TEXT:
        return None
    try:
        factor = float(text[2:])
    except ValueError:
        return None
    return factor if math.isfinite(factor) else None


def check_faults(case: Case) -> None:
    """CaseError if a fault of the case names a key that is not there or leaves a case that cannot be run."""
    wrong: list[Fault] = []
    for number, fault in enumerate(case.faults):
        found: list[Fault] = []
        values: dict[str, Any] = {}
        for path, text in fault.change.items():
            try:
                values[path] = _fault_value(case, path, text)
            except CaseError as error:
                found += error.faults
        if not found:
            try:
                with_values(case, values, check=True)
            except CaseError as error:
                found += error.faults
        wrong += [Fault(("faults", number, "change"), f"would not do: {one.line('')}") for one in found]
    if wrong:
        raise CaseError(wrong)


__all__ = [
    "case_has_rows",
    "check_again",
    "check_faults",
    "fault_values",
    "joined",
    "si_value",
    "spelled_rows",
    "with_values",
    "without_ranges",
]
