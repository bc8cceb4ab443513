"""A run that was finished before: the folder that `sleevelift run` left, read back for a comparison.

read_run(folder) -> FinishedRun      from result.json and traces.csv, nothing computed again
"""

import json
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sleevelift.checks import Check
from sleevelift.plant.names import NAMES
from sleevelift.study.run_store import KEPT_TRACES
from sleevelift.study.values import refused

LARGEST_FILE = 200e6
"""bytes. A file longer than that was not left by a run."""


class FinishedRun(NamedTuple):
    """What a comparison needs of a finished run; named as in `sleevelift.run.Result`."""

    name: str
    sha256: str
    """of the case file it was run from"""
    measures: dict[str, float | None]
    outcome: str
    checks: list[Check]
    traces: dict[str, np.ndarray]
    """name -> array over `time`, SI"""
    failure: str | None


def read_run(folder: Path) -> FinishedRun:
    """The run in a folder; CaseError names the file that is missing or not what a run leaves."""
    table = _table(folder / "result.json")
    try:
        measures = {name: _number(table["measures"].get(name)) for name in NAMES}
        checks = [
            Check(str(c["name"]), _number(c["value"]), _number(c["limit"]), bool(c["passed"]), str(c["advice"]))
            for c in table["checks"]
        ]
        failure = None if table["failure"] is None else str(table["failure"])
        return FinishedRun(
            folder.resolve().name, str(table["provenance"]["case_sha256"]), measures, str(table["outcome"]), checks,
            _traces(folder / "traces.csv"), failure,
        )  # fmt: skip
    except (KeyError, TypeError, AttributeError, ValueError):
        raise refused(str(folder / "result.json"), "is not what `sleevelift run` leaves") from None


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
            names = [column.split(" [")[0].strip() for column in lines.readline().split(",")]
            values = np.genfromtxt(lines, delimiter=",", ndmin=2)
    except OSError:
        return {}
    if values.shape[1:] != (len(names),):
        raise ValueError("rows of another length than the header")
    return {name: values[:, place] for place, name in enumerate(names) if name in KEPT_TRACES}
