"""Walks over the tables of a case: what keys there are, what each holds, how one is reached by its path."""

from collections.abc import Iterator
from functools import lru_cache
from typing import Any, NamedTuple, get_args

from annotated_types import Ge, Gt, Le, Lt
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from sleevelift.case.quantity import Quantity, Table, quantity_of
from sleevelift.case.schema import Case

Path = tuple[str | int, ...]

MOST_TABLES = 200
"""tables in a list that are looked at; the schema allows no more."""


class KeyInfo(NamedTuple):
    """What one key of a table holds."""

    field: FieldInfo
    table: type[Table] | None
    """the model, if the key holds a table or a list of tables"""
    is_list: bool
    quantity: Quantity | None


def _parts(annotation: Any) -> Iterator[Any]:
    yield annotation
    for part in get_args(annotation):
        yield from _parts(part)


@lru_cache(maxsize=1)
def _cached() -> dict[type[BaseModel], dict[str, KeyInfo]]:
    return {}


def keys_of(model: type[BaseModel]) -> dict[str, KeyInfo]:
    """The keys of a table, in the order of the schema."""
    known = _cached()
    if model not in known:
        known[model] = {name: _key_info(field) for name, field in model.model_fields.items()}
    return known[model]


def _key_info(field: FieldInfo) -> KeyInfo:
    parts = list(_parts(field.annotation))
    table = next((part for part in parts if isinstance(part, type) and issubclass(part, Table)), None)
    is_list = any(getattr(part, "__origin__", None) is tuple for part in parts)
    return KeyInfo(field, table, is_list, None if table else quantity_of(field))


class Leaf(NamedTuple):
    """A key that is given in a file (not a table), as raw TOML."""

    path: Path
    info: KeyInfo
    raw: Any


def leaves(raw: Any, model: type[BaseModel] = Case, path: Path = ()) -> Iterator[Leaf]:
    """Every known key of the raw file, depth first. Unknown keys and tables of the wrong type are passed over."""
    if not isinstance(raw, dict):
        return
    known = keys_of(model)
    for name, value in raw.items():
        info = known.get(name)
        if info is None:
            continue
        here = (*path, name)
        if info.table is None:
            yield Leaf(here, info, value)
        elif info.is_list:
            for number, entry in enumerate(value[:MOST_TABLES] if isinstance(value, list) else ()):
                yield from leaves(entry, info.table, (*here, number))
        else:
            yield from leaves(value, info.table, here)


def info_at(path: Path) -> KeyInfo | None:
    """What the key at a path holds; None if there is no such key. List positions are any whole number."""
    model: type[BaseModel] | None = Case
    info: KeyInfo | None = None
    for part in path:
        if isinstance(part, int) or part.isdigit():
            continue
        if model is None:
            return None
        info = keys_of(model).get(part)
        if info is None:
            return None
        model = info.table
    return info


def bound_fault(value: float, field: FieldInfo) -> tuple[str, float] | None:
    """The bound that a value breaks, in words, with the limit in SI; None if it is inside."""
    for mark in field.metadata:
        if isinstance(mark, Ge) and not value >= mark.ge:  # type: ignore[operator]
            return "must be at least", float(mark.ge)  # type: ignore[arg-type]
        if isinstance(mark, Gt) and not value > mark.gt:  # type: ignore[operator]
            return "must be above", float(mark.gt)  # type: ignore[arg-type]
        if isinstance(mark, Le) and not value <= mark.le:  # type: ignore[operator]
            return "must be at most", float(mark.le)  # type: ignore[arg-type]
        if isinstance(mark, Lt) and not value < mark.lt:  # type: ignore[operator]
            return "must be below", float(mark.lt)  # type: ignore[arg-type]
    return None


@lru_cache(maxsize=8192)
def split(path: str) -> Path:
    """`slots.row.0.lap` as a tuple."""
    return tuple(int(part) if part.isdigit() else part for part in path.split("."))


def joined(path: Path) -> str:
    """The path as text."""
    return ".".join(map(str, path))


def value_at(case: Case, path: str) -> Any:
    """The value at a path; None where a table on the way is absent. KeyError if there is no such key."""
    here: Any = case
    for part in split(path):
        if here is None:
            return None
        try:
            here = here[part] if isinstance(part, int) else getattr(here, part)
        except (AttributeError, IndexError, TypeError):
            raise KeyError(path) from None
    return here


def values(case: Case) -> dict[str, Any]:
    """Every key of a finished case that is not a table: path -> value."""
    found: dict[str, Any] = {}
    _collect(case, (), found)
    return found


def _collect(table: BaseModel, path: Path, found: dict[str, Any]) -> None:
    for name, info in keys_of(type(table)).items():
        value = getattr(table, name)
        here = (*path, name)
        if info.table is None:
            found[joined(here)] = value
        elif isinstance(value, tuple):
            for number, entry in enumerate(value):
                _collect(entry, (*here, number), found)
        elif value is not None:
            _collect(value, here, found)


def own_value(case: Case, path: str) -> Any:
    """The case's value; for `slots.row.key` that of the first row."""
    parts = path.split(".")
    if parts[:2] == ["slots", "row"] and len(parts) > 2 and not parts[2].isdigit():
        parts.insert(2, "0")
    try:
        return value_at(case, ".".join(parts))
    except KeyError:
        return None
