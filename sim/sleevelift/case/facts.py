"""What is known of a case before it is one: the values that could be read, so that checks speak beside other faults.

`Facts.get("sleeve.stroke")` is the value in SI, the default where the file has none, or None where it is faulty, absent
or derived. Checks that need a value which is None say nothing: its own fault is reported already.
"""

import math
from collections.abc import Callable, Collection, Iterable
from functools import lru_cache, partial
from typing import Any

from sleevelift.case.faults import NOTHING
from sleevelift.case.left_out import LEFT_OUT_PATHS
from sleevelift.case.quantity import QuantityFault, read_value
from sleevelift.case.schema import Case
from sleevelift.case.schema_gas import MOST_ROWS
from sleevelift.case.walk import Path, bound_fault, info_at, joined, leaves, split, values
from sleevelift.reader import METRIC, Reader


@lru_cache(maxsize=8192)
def default_of(path: str) -> Any:
    """The default of the trade for a key; None where there is none."""
    info = info_at(split(path))
    default = None if info is None or info.field.is_required() else info.field.default
    return None if isinstance(default, float) and math.isnan(default) else default


class Facts:
    """Values and tables of a case, as far as they are known."""

    def __init__(
        self,
        given: dict[str, Any],
        raw: dict[str, Any],
        tables: set[str],
        words: Callable[[str, Any], Any] | None = None,
        reader: Reader = METRIC,
    ) -> None:
        self.given = given
        """path -> SI value, text, switch or tuple"""
        self.raw = raw
        """path -> as it stands in the file, or what `words` makes such of"""
        self.words = words
        self.reader = reader
        """units in which refusals speak"""
        self.tables = tables
        """paths of the tables that the file has"""

    def has(self, path: str) -> bool:
        """True where the file gives this key or table, readable or not."""
        return path in self.raw or path in self.tables

    def written(self, path: str) -> Any:
        """The value as it stands in the file, for the refusal."""
        value = self.raw.get(path, NOTHING)
        return value if self.words is None or value is NOTHING else self.words(path, value)

    def length(self, length: float) -> str:
        """A length in the reader's unit."""
        return self.reader.text("length", length, ".6g")

    def get(self, path: str) -> Any:
        """The value, or the default of the trade, or None."""
        if path in self.given:
            return self.given[path]
        if path in self.raw:
            return None
        return default_of(path)

    def numbers(self, *paths: str) -> list[float] | None:
        """All the values, or None if one of them is not known."""
        found = [self.get(path) for path in paths]
        return None if any(value is None for value in found) else found

    def count(self, path: str) -> int:
        """How many tables stand in a list of tables."""
        return sum(1 for table in self.tables if table.startswith(path + ".") and table[len(path) + 1 :].isdigit())


def facts_of_file(raw: dict[str, Any], ambient_pressure: float, faulty: Iterable[Path] = (), reader: Reader = METRIC) -> Facts:
    """What can be read of a raw file; `faulty` are the paths that were refused already."""
    refused = {joined(path[:end]) for path in faulty for end in range(1, len(path) + 1)}
    given: dict[str, Any] = {}
    written: dict[str, Any] = {}
    for leaf in leaves(raw):
        path = joined(leaf.path)
        written[path] = leaf.raw
        value = None if path in refused else _readable(leaf.raw, leaf.info, ambient_pressure)
        if value is not None:
            given[path] = value
    _spell_out_chamber(raw, given, ambient_pressure)
    tables: set[str] = set()
    _collect_tables(raw, (), tables)
    return Facts(given, written, tables, reader=reader)


def facts_of_case(case: Case, faulty: Iterable[Path] = (), open_paths: Collection[str] = ()) -> Facts:
    """The same of a finished case; `open_paths` are those whose values are still to be derived."""
    refused = {joined(path[:end]) for path in faulty for end in range(1, len(path) + 1)}
    known = {path: value for path, value in values(case).items() if value is not None}
    tables = {joined(split(path)[:end]) for path in known for end in range(1, len(split(path)))}
    given = {path: value for path, value in known.items() if case.origin.get(path) == "given" or path in LEFT_OUT_PATHS}
    good = {path: value for path, value in known.items() if path not in refused and path not in open_paths}
    return Facts(good, dict.fromkeys(refused) | given, tables, partial(in_words, case), case.reader)


def in_words(case: Case, path: str, value: Any) -> Any:
    """A number of a case in the user's unit; any other value as it is."""
    from sleevelift.case.show import value_text

    return value_text(case, path, value) if isinstance(value, float) else value


def _readable(raw: Any, info: Any, ambient_pressure: float) -> Any:
    """The value in SI, or None if it cannot be read or is out of bounds."""
    if info.quantity is None:
        return raw if isinstance(raw, str | bool | int) else None
    try:
        if info.is_list:
            if not isinstance(raw, list) or len(raw) > MOST_ROWS:
                return None
            return tuple(read_value(entry, info.quantity.kind, ambient_pressure).value for entry in raw)
        value = read_value(raw, info.quantity.kind, ambient_pressure).value
    except QuantityFault:
        return None
    return None if bound_fault(value, info.field) else value


def _spell_out_chamber(raw: dict[str, Any], given: dict[str, Any], ambient_pressure: float) -> None:
    """c* as numbers with one unit, and a single g: as the model of the table reads them."""
    from sleevelift.case.schema_chamber import spelled_out

    table = raw.get("chamber")
    if not isinstance(table, dict):
        return
    whole = spelled_out(table)
    for name in ("c_star", "g"):
        info = info_at(("chamber", name))
        value = _readable(whole[name], info, ambient_pressure) if name in whole else None
        if value is not None:
            given[f"chamber.{name}"] = value


def _collect_tables(raw: Any, path: Path, tables: set[str]) -> None:
    """Paths of the tables of the schema that the file has; a range of a value is none."""
    for name, value in raw.items():
        here = (*path, name)
        info = info_at(here)
        if info is None or info.table is None:
            continue
        if isinstance(value, dict):
            tables.add(joined(here))
            _collect_tables(value, here, tables)
        elif isinstance(value, list):
            tables.add(joined(here))
            for number, entry in enumerate(value):
                if isinstance(entry, dict):
                    tables.add(joined((*here, number)))
                    _collect_tables(entry, (*here, number), tables)
