"""pydantic's errors, said in the words of a case file."""

import math
from difflib import get_close_matches
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from sleevelift import units
from sleevelift.case.faults import NOTHING, Fault, given_text
from sleevelift.case.quantity import note_of
from sleevelift.case.walk import KeyInfo, Path, bound_fault, info_at, keys_of
from sleevelift.reader import METRIC, Reader

MOST_ERRORS = 500
"""errors that are put into words; a file with more is not the file that was meant."""
LONGEST_NAME = 60
"""characters of an unknown key that are compared with the known ones."""
RENAMED = {
    "burn_time": "combustion_time_constant",
    "falling_speed": "stribeck_velocity",
    "squeeze": "squeeze_friction",
    "pilot_length": "spigot_length",
    "pilot_clearance": "spigot_clearance",
    "flight_rule": "motorization_rule",
    "straight_above": "laminar_above",
    "passage_volume": "dribble_volume",
    "passage_time": "dribble_time",
}
"""Old names of keys: refused with the new one, so that an older file is mended in a minute."""
_LIMITS = {
    "greater_than_equal": ("ge", "must be at least"),
    "greater_than": ("gt", "must be above"),
    "less_than_equal": ("le", "must be at most"),
    "less_than": ("lt", "must be below"),
}


def faults_of(error: ValidationError, raw: dict[str, Any], ambient_pressure: float, reader: Reader = METRIC) -> list[Fault]:
    """One fault per error of pydantic; `raw` is what was validated."""
    faults = [_fault(details, raw, ambient_pressure, reader) for details in error.errors(include_url=False)[:MOST_ERRORS]]
    lists = {fault.path[:-1] for fault in faults if fault.path and isinstance(fault.path[-1], int)}
    return [fault for fault in faults if fault.path not in lists]  # a list is not short because its entries are wrong


def as_written(raw: Any, path: Path, otherwise: Any = NOTHING) -> Any:
    """The value at a path of the raw file: pydantic's own `input` is the SI number where a bound is broken."""
    try:
        for part in path:
            raw = raw[part]
    except (KeyError, IndexError, TypeError):
        return otherwise
    return raw


def _fault(details: ErrorDetails, raw: dict[str, Any], ambient_pressure: float, reader: Reader) -> Fault:
    path: Path = tuple(details["loc"])
    kind, context = details["type"], details.get("ctx", {})
    given = as_written(raw, path, details["input"])
    if kind == "quantity":
        where = context.get("where", "")
        return Fault((*path, where), context["rule"], context.get("given")) if where else Fault(path, context["rule"], given)
    if kind == "extra_forbidden":
        return Fault(path, unknown_key(path), NOTHING)
    if kind == "missing":
        return Fault(path, f"is missing ({_meaning(path)})", NOTHING)
    if kind in _LIMITS:
        name, words = _LIMITS[kind]
        return Fault(path, limit_rule(path, words, float(context[name]), given, ambient_pressure, reader), given)
    return Fault(path, _other_rule(kind, context, path), given)


def _meaning(path: Path) -> str:
    info = info_at(path)
    return (info.field.description or "") if info else ""


def unknown_key(path: Path) -> str:
    """Why a key is refused, with the nearest known one."""
    parent = info_at(path[:-1]) if len(path) > 1 else None
    known = list(keys_of(parent.table)) if parent and parent.table else _root_keys()
    where = f"[{'.'.join(map(str, path[:-1]))}]" if len(path) > 1 else "a case"
    name = str(path[-1])[:LONGEST_NAME]
    if RENAMED.get(name) in known:
        return f"is no key of {where} any more: it is called {RENAMED[name]} now"
    close = get_close_matches(name.lower(), known, n=1, cutoff=0.5)
    if close:
        return f"is no key of {where}; nearest: {close[0]}"
    return f"is no key of {where}; known: {', '.join(known)}"


def _root_keys() -> list[str]:
    from sleevelift.case.schema import Case

    return list(keys_of(Case))


def unit_beside(given: Any, kind: str, reader: Reader = METRIC) -> str:
    """The unit in which a limit is best said: the one that was written, else SI, or the inch reader's."""
    raw = given.get("value") if isinstance(given, dict) else given
    if isinstance(raw, str):
        try:
            return units.read_quantity(raw, kind, 0.0).unit
        except units.UnitError:
            pass
    if reader.name == "inch":
        return reader.unit(kind) or units.KINDS[kind].si_unit
    return "bara" if kind == "pressure" else units.KINDS[kind].si_unit


def limit_rule(path: Path, words: str, limit: float, given: Any, ambient_pressure: float, reader: Reader = METRIC) -> str:
    """`must be at least 0 N (the valve is held closed by it)`."""
    info = info_at(path)
    quantity = info.quantity if info else None
    because = note_of(info.field, "because") if info else ""
    if quantity is None:
        text = f"{limit:g}"
    else:
        text = units.written(limit, unit_beside(given, quantity.kind, reader), quantity.kind, _or_zero(ambient_pressure))
    return f"{words} {text}" + (f" ({because})" if because else "")


def _or_zero(pressure: float) -> float:
    return 0.0 if math.isnan(pressure) else pressure


def range_end_fault(
    path: Path, end: str, value: float, info: KeyInfo, raw: Any, ambient_pressure: float, reader: Reader = METRIC
) -> Fault | None:
    """The fault of a range whose low or high end lies outside what the key allows."""
    broken = bound_fault(value, info.field)
    if broken is None or info.quantity is None:
        return None
    words, limit = broken
    unit = unit_beside(raw, info.quantity.kind, reader)
    at = units.written(value, unit, info.quantity.kind, _or_zero(ambient_pressure))
    rule = limit_rule(path, words, limit, raw, ambient_pressure, reader)
    return Fault(path, f"its {end} end, {at}, {rule}", raw)


def _other_rule(kind: str, context: dict[str, Any], path: Path) -> str:
    """Wrong types, lengths and choices."""
    if kind == "literal_error":
        return f"must be {context['expected'].replace(chr(39), chr(34))}"
    if kind in ("too_short", "string_too_short"):
        return f"must have at least {context.get('min_length')} entries or letters"
    if kind in ("too_long", "string_too_long"):
        return f"must have at most {context.get('max_length')} entries or letters"
    if kind in ("missing_argument", "tuple_type", "list_type"):
        info = info_at(path)
        if info is not None and info.table is not None:
            return f"must be a list of tables: [[{'.'.join(str(part) for part in path)}]]"
        return "must be a list in square brackets"
    if kind in ("model_type", "model_attributes_type"):
        return f"must be one table: [{'.'.join(str(part) for part in path)}]"
    words = {
        "string_type": "must be a text in quotes",
        "bool_type": "must be true or false",
        "int_type": "must be a whole number",
        "int_from_float": "must be a whole number",
        "float_type": "must be a number",
        "finite_number": "must be a finite number",
        "dict_type": "must be a table in curly brackets",
    }
    return words.get(kind, f"is not what belongs here ({kind.replace('_', ' ')})")


__all__ = ["faults_of", "given_text", "limit_rule", "range_end_fault", "unknown_key"]
