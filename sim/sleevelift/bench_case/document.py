"""A case file as tables and comments, changed key by key: what is changed says why, what is not keeps its own comment.

    document = Document(text, ambient)       put("supply.pressure", "62 bara", why)       drop("chamber", why)
    document.text(head)                      the file anew, tables and keys in their order

Values that are not touched stay as they were written. A comment beside a key and the comment lines above it stay with it; a key
without one gets its meaning from the schema.
"""

import copy
import json
import textwrap
from collections.abc import Iterator
from typing import Any, NamedTuple

from sleevelift import units
from sleevelift.case.schema import Case
from sleevelift.case.toml_text import tables_of
from sleevelift.case.walk import info_at, keys_of, split
from sleevelift.study.rewrite import HEADER, KEY, without_comment

COMMENT_COLUMN = 44
"""column at which comments begin."""
LINE = 128
"""columns of a line; longer values stand on lines of their own, comments above them."""
DIGITS = 5
"""digits of a value that is written anew: no gauge shows more."""


class Change(NamedTuple):
    """One change against the hot case."""

    path: str
    before: str
    """as it was written; empty: not given"""
    after: str
    """as it is written; empty: taken out"""
    why: str


def toml_value(raw: Any) -> str:
    """A value of a TOML file as TOML on one line."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, str):
        return json.dumps(raw, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(raw, list):
        return "[" + ", ".join(toml_value(entry) for entry in raw) + "]"
    if isinstance(raw, dict):
        return "{ " + ", ".join(f"{toml_key(name)} = {toml_value(entry)}" for name, entry in raw.items()) + " }"
    return repr(raw)


def toml_key(name: str) -> str:
    """A key of a table, quoted where it must be."""
    return name if name.replace("_", "").replace("-", "").isalnum() and name.isascii() else toml_value(name)


def comments_of(text: str) -> tuple[dict[str, str], dict[str, list[str]]]:
    """(comment beside each key, comment lines above each key or table), by path; `table.` is a table's heading."""
    beside: dict[str, str] = {}
    above: dict[str, list[str]] = {}
    pending: list[str] = []
    counts: dict[str, int] = {}
    table = ""
    for line in text.splitlines():
        if line.lstrip().startswith("#"):
            pending.append(line.strip())
            continue
        header, entry = HEADER.match(line), KEY.match(line)
        if header:
            table = header.group(2)
            if header.group(1) == "[[":
                counts[table] = counts.get(table, -1) + 1
                table = f"{table}.{counts[table]}"
            path = f"{table}."
        elif entry:
            path = f"{table}.{entry.group(2)}" if table else entry.group(2)
            beside[path] = _comment(entry.group(4))
        else:
            pending = []
            continue
        above[path] = pending if table else []
        pending = []
    return beside, above


def _comment(rest: str) -> str:
    """The comment behind a value; empty where there is none, or where the value goes on in the next line."""
    if "#" not in rest:
        return ""
    try:
        return without_comment(rest)[1].strip().lstrip("#").strip()
    except ValueError:
        return ""


def like_written(raw: Any, si: float, kind: str, ambient: float, unit: str) -> str:
    """An SI value as text in the unit that `raw` was written in, else in `unit`."""
    text = raw.get("value") if isinstance(raw, dict) else raw
    known = units.parts(text, kind)[1] if isinstance(text, str) else unit
    return f"{units.in_unit(si, known, kind, ambient):.{DIGITS}g} {known}"  # of a drill the diameter in inches


def moved(raw: Any, si: float, kind: str, ambient: float, unit: str) -> Any:
    """`raw` with its value moved to `si` (SI), its low and high end by as much; a range in plus_minus stays."""
    value = like_written(raw, si, kind, ambient, unit)
    if not isinstance(raw, dict):
        return value
    step = si - units.read_quantity(raw["value"], kind, ambient).si
    out = {**raw, "value": value}
    for end in ("low", "high"):
        if end in raw:
            out[end] = like_written(raw[end], units.read_quantity(raw[end], kind, ambient).si + step, kind, ambient, unit)
    return out


class Document:
    """The tables of a case file with what stands beside them."""

    def __init__(self, text: str, ambient: float) -> None:
        """text: a case file that was read without a fault. ambient: Pa absolute, what its gauge pressures count from."""
        self.tables: dict[str, Any] = copy.deepcopy(tables_of(text))
        self.ambient = ambient
        self.changes: list[Change] = []
        self._beside, self._above = comments_of(text)

    def get(self, path: str) -> Any:
        """The raw value at a path; None where there is none."""
        here: Any = self.tables
        for part in split(path):
            try:
                here = here[part]
            except (KeyError, IndexError, TypeError):
                return None
        return here

    def put(self, path: str, raw: Any, why: str) -> None:
        """Replace or add a value. Nothing happens where it stands there already."""
        before = self.get(path)
        if before == raw:
            return
        *way, last = split(path)
        here: Any = self.tables
        for part in way:
            here = here[part] if isinstance(part, int) else here.setdefault(part, {})
        here[last] = raw
        was = "" if before is None else toml_value(before)
        self._above.pop(path, None)
        self._beside[path] = f"BENCH: {why}" + (f"; hot case: {was}" if 0 < len(was) < LINE // 2 else "")
        self.changes = [change for change in self.changes if change.path != path]
        self.changes.append(Change(path, was, toml_value(raw), why))

    def move(self, path: str, si: float, kind: str, why: str, unit: str) -> None:
        """Replace a value by an SI number, in the unit that it is written in (else `unit`), its range moved along."""
        self.put(path, moved(self.get(path), si, kind, self.ambient, unit), why)

    def drop(self, path: str, why: str) -> None:
        """Take a key or table out, where it is there."""
        before = self.get(path)
        if before is None:
            return
        *way, last = split(path)
        here: Any = self.tables
        for part in way:
            here = here[part]
        del here[last]
        was = "" if isinstance(before, dict | list) else toml_value(before)
        self.changes.append(Change(path, was, "", why))

    def text(self, head: str) -> str:
        """The file: head, what was taken out, every table."""
        gone = [f"# {line}" for change in self.changes if not change.after for line in _wrapped(_gone(change))]
        parts = [head.rstrip("\n"), "\n".join(["# Taken out of the hot case:", *gone])] if gone else [head.rstrip("\n")]
        order = list(keys_of(Case))
        for name in sorted(self.tables, key=order.index):
            parts += self._table((name,), self.tables[name])
        return "\n\n".join(parts) + "\n"

    def _table(self, path: tuple[str, ...], value: Any) -> Iterator[str]:
        """A table and those inside it that do not fit a line, each as a text of its own."""
        name = ".".join(map(toml_key, path))
        if isinstance(value, list):
            for number, entry in enumerate(value):
                yield self._lines(f"[[{name}]]", f"{'.'.join(path)}.{number}", entry)
            return
        apart = {key: inner for key, inner in value.items() if self._stands_apart((*path, key), inner)}
        yield self._lines(f"[{name}]", ".".join(path), {key: inner for key, inner in value.items() if key not in apart})
        for key, inner in apart.items():
            yield from self._table((*path, key), inner)

    def _stands_apart(self, path: tuple[str, ...], value: Any) -> bool:
        """Whether a value inside a table gets a heading of its own."""
        tables = isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))
        info = info_at(path)
        if not tables or info is None or info.table is None:
            return False
        return isinstance(value, list) or len(toml_value(value)) > LINE - len(path[-1]) - 4

    def _lines(self, heading: str, path: str, table: dict[str, Any]) -> str:
        lines = [*self._above.get(f"{path}.", ()), heading]
        for key, value in table.items():
            here = f"{path}.{key}"
            lines += self._above.get(here, ())
            lines += _assigned(key, value, self._beside.get(here) or self._meaning(here))
        return "\n".join(lines)

    def _meaning(self, path: str) -> str:
        """What the schema says of a key; nothing of a table."""
        info = info_at(split(path))
        return "" if info is None or info.table is not None else info.field.description or ""


def _gone(change: Change) -> str:
    """One thing that was taken out, in words."""
    return f"[{change.path}]: {change.why}" if not change.before else f"{change.path} = {change.before}: {change.why}"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, LINE - 4, subsequent_indent="  ", break_long_words=False)


def _assigned(key: str, raw: Any, comment: str) -> list[str]:
    """`key = value   # comment`, on lines that can be read."""
    assignment = f"{toml_key(key)} = {toml_value(raw)}"
    whole = f"{assignment:<{COMMENT_COLUMN - 1}} # {comment}" if comment else assignment
    if len(whole) <= LINE:
        return [whole]
    above = [f"# {line}" for line in _wrapped(comment)] if comment else []
    if len(assignment) <= LINE or not isinstance(raw, list):
        return [*above, assignment]
    lines = [""]
    for entry in map(toml_value, raw):
        if len(lines[-1]) + len(entry) + 6 > LINE:
            lines.append("")
        lines[-1] += f" {entry},"
    return [*above, f"{toml_key(key)} = [", *(f"   {line}" for line in lines), "]"]
