"""From a TOML file to a `Case`, with every fault of the file at once.

    load_case(path)  ->  Case                       refuses with CaseError, one line per fault, never a traceback
    with_values(case, {"spring.preload": 700.0})    the same case with other values (SI), for studies

Order: text -> TOML (`toml_text`) -> pydantic (types, units, bounds) and checks between keys, both on the raw file -> values that
follow from others. A file is text in UTF-8 of at most `LARGEST_FILE`.
"""

import hashlib
import os
import stat
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sleevelift.case import change
from sleevelift.case.checks import consistency_faults
from sleevelift.case.derive import chart_ranges, derived
from sleevelift.case.facts import facts_of_file
from sleevelift.case.faults import CaseError, Fault, given_text
from sleevelift.case.left_out import with_left_out
from sleevelift.case.quantity import Context, QuantityFault, ReadValue, read_value
from sleevelift.case.refusals import as_written, faults_of, range_end_fault
from sleevelift.case.schema import Case, Origin
from sleevelift.case.schema_run import Ambient
from sleevelift.case.schema_trace import column_faults
from sleevelift.case.toml_text import tables_of
from sleevelift.case.walk import joined, leaves, values
from sleevelift.reader import READERS, Reader, UnitsName

LARGEST_FILE = 1_000_000
"""bytes. A case is some kilobytes."""

LONGEST_WRITTEN, MOST_WRITTEN = 300, 60
"""letters of a text and entries of a list that `Case.written` keeps."""

with_values = change.with_values


def load_case(path: str | os.PathLike[str], units: UnitsName | None = None) -> Case:
    """The case in a file. CaseError if it cannot be used. units: the reader's, instead of those of the file."""
    shown_name = Path(os.fspath(path)).name or str(path)
    text = _text_of(path, shown_name)
    return _case(text, Path(os.fspath(path)).stem, shown_name, units)


def case_from_text(text: str, name: str = "case", units: UnitsName | None = None) -> Case:
    """The case in a text. CaseError if it cannot be used. units: the reader's, instead of those of the text."""
    if len(text) > LARGEST_FILE:
        raise _refusal(name, f"is larger than {LARGEST_FILE / 1e6:g} MB: no case is")
    return _case(text, name, f"{name}.toml", units)


def _refusal(file: str, rule: str) -> CaseError:
    return CaseError([Fault((), rule)], file)


def _text_of(path: str | os.PathLike[str], name: str) -> str:
    """The text of a regular file in UTF-8."""
    try:
        kind = os.stat(path)
        if stat.S_ISDIR(kind.st_mode):
            raise _refusal(name, "is a directory, not a case file")
        if not stat.S_ISREG(kind.st_mode):
            raise _refusal(name, "is no regular file")
        with open(path, "rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise _refusal(name, f"cannot be read: {(error.strerror or 'unknown error').lower()}") from None
    except ValueError:
        raise _refusal(name, "is no file name") from None
    if len(content) > LARGEST_FILE:
        raise _refusal(name, f"is larger than {LARGEST_FILE / 1e6:g} MB: no case is")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise _refusal(name, f"is no text in UTF-8 (line {line})") from None


def _ambient_pressure(raw: dict[str, Any]) -> float:
    """Pa absolute, what gauge pressures count from; the default where the file's own is missing or faulty."""
    table = raw.get("ambient")
    default = float(Ambient.model_fields["pressure"].default)
    if not isinstance(table, dict) or "pressure" not in table:
        return default
    try:
        return read_value(table["pressure"], "pressure", float("nan")).value
    except QuantityFault:
        return default


def _ambient_is_absolute(raw: dict[str, Any]) -> list[Fault]:
    """The ambient pressure itself cannot be a gauge pressure."""
    table = raw.get("ambient")
    given = table.get("pressure") if isinstance(table, dict) else None
    try:
        if given is not None and read_value(given, "pressure", 0.0).gauge:
            return [Fault(("ambient", "pressure"), "must be absolute (gauge pressures count from it)", given)]
    except QuantityFault:
        pass
    return []


def _reader(raw: dict[str, Any], units: UnitsName | None) -> Reader:
    """In whose units refusals speak: as asked for, else as the file says, if it does."""
    table = raw.get("case")
    own = table.get("units") if isinstance(table, dict) else None
    return READERS[units or (own if isinstance(own, str) and own in READERS else "metric")]


def _case(text: str, name: str, file: str, units: UnitsName | None) -> Case:
    """Text to case: the whole way."""
    try:
        raw = tables_of(text)
    except ValueError as error:
        raise _refusal(file, str(error)) from None
    ambient_pressure, reader = _ambient_pressure(raw), _reader(raw, units)
    whole = with_left_out(raw)
    faults = _ambient_is_absolute(raw) + column_faults(raw, ambient_pressure)
    case = None
    try:
        case = Case.model_validate(whole, context=Context(ambient_pressure))
    except ValidationError as error:
        faults += faults_of(error, raw, ambient_pressure, reader)
    ranges, range_faults = _ranges(raw, ambient_pressure, reader)
    faulty = {fault.path for fault in faults}
    faults += [fault for fault in range_faults if fault.path not in faulty]
    faults += _new(consistency_faults(facts_of_file(whole, ambient_pressure, [fault.path for fault in faults], reader)), faults)
    if case is None or faults:
        raise CaseError(faults, file)
    try:
        case = _with_records(case.read_in(units), raw, ranges, name, text)
        change.check_faults(case)
    except CaseError as error:
        written = [
            fault if fault.path[:1] == ("faults",) else fault._replace(given=as_written(raw, fault.path, fault.given))
            for fault in error.faults
        ]
        raise CaseError(written, file) from None
    return case


def _new(faults: list[Fault], known: list[Fault]) -> list[Fault]:
    """Faults of keys that have none yet (a missing key is reported once)."""
    paths = {fault.path for fault in known}
    return [fault for fault in faults if fault.path not in paths]


def _ranges(raw: dict[str, Any], ambient_pressure: float, reader: Reader) -> tuple[dict[str, ReadValue], list[Fault]]:
    """Every value given with a range or as a gauge pressure, and the faults of the ranges' ends."""
    found: dict[str, ReadValue] = {}
    faults: list[Fault] = []
    for leaf in leaves(raw):
        if leaf.info.quantity is None or leaf.info.is_list:
            continue
        try:
            value = read_value(leaf.raw, leaf.info.quantity.kind, ambient_pressure)
        except QuantityFault:
            continue
        if value.has_range or value.gauge:
            found[joined(leaf.path)] = value
        if value.has_range:
            for end, at in (("low", value.low), ("high", value.high)):
                fault = range_end_fault(leaf.path, end, at, leaf.info, leaf.raw, ambient_pressure, reader)
                faults += [fault] if fault else []
    return found, faults


def _with_records(case: Case, raw: dict[str, Any], ranges: dict[str, ReadValue], name: str, text: str) -> Case:
    """The case with its derived values, and where each value came from."""
    given = {joined(leaf.path): given_text(leaf.raw, LONGEST_WRITTEN, MOST_WRITTEN) for leaf in leaves(raw)}
    case, origins = derived(case)
    origin: dict[str, Origin] = {}
    for path in values(case):
        origin[path] = "given" if path in given else origins.get(path, "default")
    case._origin = origin
    case._written = given
    case._ranges = chart_ranges(case, origin, {path: (value.low, value.high) for path, value in ranges.items() if value.has_range})
    case._relative = frozenset(path for path, value in ranges.items() if value.has_range and value.per_cent)
    case._gauge = frozenset(path for path, value in ranges.items() if value.gauge)
    case._name = name
    case._sha256 = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
    return case


__all__ = ["CaseError", "case_from_text", "load_case", "with_values"]
