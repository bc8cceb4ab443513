"""A run that was finished before: the folder that `sleevelift run` left, read back for a comparison.

read_run(folder) -> FinishedRun      from result.json and traces.csv, nothing computed again
"""

import json
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sleevelift.case.show import Row
from sleevelift.check import Check
from sleevelift.plant.names import NAMES
from sleevelift.plots.words import KIND_WORDS
from sleevelift.reader import READERS, Reader, UnitsName, conversion
from sleevelift.shown import kind_of
from sleevelift.study.run_store import KEPT_TRACES
from sleevelift.study.values import refused
from sleevelift.trajectory import UNITS
from sleevelift.units import UnitError

LARGEST_FILE = 200e6
"""bytes. A file longer than that was not left by a run."""


class RunTitle(NamedTuple):
    """The [case] table of a finished run, as far as it is kept."""

    title: str
    kind: str
    invented: bool


class RunGas(NamedTuple):
    """The [gas] table likewise."""

    name: str


class FinishedRun(NamedTuple):
    """What a comparison needs of a finished run; named as in `sleevelift.run.Result` and in a case."""

    name: str
    sha256: str
    """of the case file it was run from"""
    changes: dict[str, Any]
    """what was set after the file was read"""
    case: RunTitle
    gas: RunGas
    inputs: list[Row]
    """every value of its case; none where an older version has not kept them"""
    measures: dict[str, float | None]
    outcome: str
    checks: list[Check]
    traces: dict[str, np.ndarray]
    """name -> array over `time`, SI"""
    failure: str | None
    units: UnitsName = "metric"
    """in which it is shown"""

    @property
    def reader(self) -> Reader:
        """In which units it is shown."""
        return READERS[self.units]


def read_run(folder: Path, units: UnitsName | None = None) -> FinishedRun:
    """The run in a folder; CaseError names the file that is missing or not what a run leaves. units: the reader's, instead of those
    of its case."""
    table = _table(folder / "result.json")
    try:
        measures = {name: _number(table["measures"].get(name)) for name in NAMES}
        checks = [
            Check(str(c["name"]), _number(c["value"]), _number(c["limit"]), bool(c["passed"]), str(c["advice"]))
            for c in table["checks"]
        ]
        failure = None if table["failure"] is None else str(table["failure"])
        head, inputs = table["case"], [_input(row) for row in table.get("inputs", [])]
        gas = next((str(row.si_value) for row in inputs if row.path == "gas.name"), "gas not kept")
        return FinishedRun(
            folder.resolve().name, str(table["provenance"]["case_sha256"]),
            dict(table["provenance"]["changed_after_reading"]),
            RunTitle(str(head["title"]), _kind(head["kind"]), bool(head["invented"])),
            RunGas(gas), inputs, measures, str(table["outcome"]), checks,
            _traces(folder / "traces.csv"), failure, units or _units(inputs),
        )  # fmt: skip
    except (KeyError, TypeError, AttributeError, ValueError):
        raise refused(str(folder / "result.json"), "is not what `sleevelift run` leaves") from None


def _units(inputs: list[Row]) -> UnitsName:
    """The units that its case asked for."""
    return "inch" if any(row.path == "case.units" and row.si_value == "inch" for row in inputs) else "metric"


def _kind(text: Any) -> str:
    """A kind of case; ValueError for any other."""
    if text not in KIND_WORDS:
        raise ValueError("no kind of case")
    return str(text)


def _input(row: Any) -> Row:
    """A row of the inputs as `sleevelift.case.show` makes it; lists as tuples."""
    span = row["range"]
    return Row(
        str(row["path"]), _frozen(row["si_value"]), str(row["si_unit"]), str(row["user_value"]), row["origin"], str(row["meaning"]),
        str(row["reason"]), None if span is None else (float(span[0]), float(span[1])),
    )  # fmt: skip


def _frozen(value: Any) -> Any:
    """A value of a case as JSON holds it, lists as tuples."""
    return tuple(_frozen(part) for part in value) if isinstance(value, list) else value


def _table(path: Path) -> dict[str, Any]:
    """The content of result.json."""
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise ValueError
        table = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise refused(str(path), f"cannot be read: {(error.strerror or type(error).__name__).lower()}") from None
    except (ValueError, RecursionError):
        raise refused(str(path), "is not what `sleevelift run` leaves") from None
    if not isinstance(table, dict):
        raise refused(str(path), "is not what `sleevelift run` leaves")
    return table


def _number(value: Any) -> float | None:
    """A finite number, or None."""
    if value is None:
        return None
    number = float(value)
    if not np.isfinite(number):
        raise ValueError("not finite")
    return number


def _traces(path: Path) -> dict[str, np.ndarray]:
    """The traces that pictures need; none where the file is missing."""
    try:
        if path.stat().st_size > LARGEST_FILE:
            return {}
        with path.open(encoding="utf-8") as lines:
            heads = lines.readline().split(",")
            names = [head.split(" [")[0].strip() for head in heads]
            values = np.genfromtxt(lines, delimiter=",", ndmin=2)
    except OSError:
        return {}
    if values.shape[1:] != (len(names),):
        raise ValueError("rows of another length than the header")
    return {name: in_si(name, heads[place], values[:, place]) for place, name in enumerate(names) if name in KEPT_TRACES}


def in_si(name: str, head: str, values: np.ndarray) -> np.ndarray:
    """A trace in SI, whatever unit its heading names."""
    unit, kind = head.rsplit("[", 1)[-1].strip(" ]\n"), kind_of(name, UNITS.get(name, ""))
    if not kind or unit == UNITS[name]:
        return values
    try:
        factor, offset = conversion(unit, kind)
    except UnitError:
        raise ValueError("no unit") from None
    return values * factor + offset
