"""Texts of the shipped cases for tests, and small changes to them."""

from pathlib import Path

import pytest
from sleevelift.case.read import CaseError, case_from_text

CASES = Path(__file__).parents[2] / "cases"
HOT = (CASES / "hot_start.toml").read_text(encoding="utf-8")
COLD = (CASES / "cold_flow.toml").read_text(encoding="utf-8")
DRY = (CASES / "dry_bench.toml").read_text(encoding="utf-8")


def line_of(text: str, table: str, key: str) -> str:
    """The line `key = ...` of a table."""
    here = ""
    for line in text.splitlines():
        if line.startswith("["):
            here = line.split("]")[0].strip("[")
        if here == table and line.split("=")[0].strip() == key:
            return line
    raise AssertionError(f"no {key} in [{table}]")


def with_key(text: str, table: str, key: str, value: str | None) -> str:
    """The text with another value for a key (None: without the key), or with a new key."""
    lines: list[str] = []
    here, done, skip = "", False, False
    for line in text.splitlines():
        if skip:
            skip = line != "]"
            continue
        if line.startswith("["):
            here = line.split("]")[0].strip("[")
            lines.append(line)
            if here == table and not any(_is_key(text, table, key)) and value is not None and not done:
                lines.append(f"{key} = {value}")
                done = True
            continue
        if here == table and line.split("=")[0].strip() == key and not done:
            done = True
            skip = line.rstrip().endswith("[")
            if value is not None:
                lines.append(f"{key} = {value}")
            continue
        lines.append(line)
    assert done, f"no {key} in [{table}]"
    return "\n".join(lines) + "\n"


def _is_key(text: str, table: str, key: str) -> list[bool]:
    here, found = "", []
    for line in text.splitlines():
        if line.startswith("["):
            here = line.split("]")[0].strip("[")
        found.append(here == table and line.split("=")[0].strip() == key)
    return found


def without_table(text: str, table: str) -> str:
    """The text without a table (its sub-tables stay)."""
    lines, keep = [], True
    for line in text.splitlines():
        if line.startswith("["):
            keep = line.split("]")[0].strip("[") != table
        if keep:
            lines.append(line)
    return "\n".join(lines) + "\n"


def refusal(text: str, name: str = "hot_start") -> list[str]:
    """The lines with which a text is refused."""
    with pytest.raises(CaseError) as caught:
        case_from_text(text, name)
    lines = str(caught.value).splitlines()
    assert lines == caught.value.lines()
    assert all(line.startswith(f"{name}.toml") for line in lines)
    return lines
