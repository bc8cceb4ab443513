"""Whole runs with their main traces, kept one by one on disk: what faults and comparisons are made of.

    kept_runs(cases, work) -> [Run, ...]      .parts/runs/<hash of case and program>.npz in the study's folder

Like the chunks of `sleevelift.study.store`: plain arrays under a checksum; a run that is missing, cut short or altered is
computed again,
a kill loses the runs in flight.
"""

import hashlib
import io
import json
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.check import Check
from sleevelift.plant.names import NAMES
from sleevelift.report.files import json_text, write_text_atomically
from sleevelift.run import simulate
from sleevelift.study.mark import computing_mark
from sleevelift.study.store import ALONE, DIGEST, PARTS, Piece, Work, finished, study_key

KEPT_TRACES = ("time", "lift", "mode", "lift_chamber_pressure", "chamber_pressure", "oxidizer_flow", "fuel_flow")
"""Traces that verdicts and pictures need."""
RUNS = "runs"
"""Folder of kept runs beside the chunks of other studies."""


class Run(NamedTuple):
    """What a study keeps of one run; named as in `sleevelift.run.Result`."""

    case: Case
    measures: dict[str, float | None]
    outcome: str
    checks: list[Check]
    traces: dict[str, np.ndarray]
    """name -> array over `time`, SI; empty where it could not be run"""
    failure: str | None


def kept_run(case: Case) -> Run:
    """One run; values that make no machine are a run without traces, with its sentence."""
    try:
        result = simulate(case)
    except (ValueError, ArithmeticError, AssertionError) as problem:
        return Run(case, dict.fromkeys(NAMES), "failed", [], {}, str(problem))
    traces = {name: result.traces[name] for name in KEPT_TRACES if name in result.traces}
    return Run(case, result.measures, result.outcome, result.checks, traces, result.failure)


def run_bytes(run: Run) -> bytes:
    """A run as checksum and npz, without its case."""
    facts = {"measures": run.measures, "outcome": run.outcome, "failure": run.failure, "checks": [list(c) for c in run.checks]}
    buffer = io.BytesIO()
    np.savez_compressed(buffer, facts=np.array(json.dumps(facts)), **run.traces)  # type: ignore[arg-type]
    content = buffer.getvalue()
    return hashlib.sha256(content).digest() + content


def run_of(content: bytes, case: Case) -> Run | None:
    """The run in a part; None where the part is damaged."""
    mark, body = content[:DIGEST], content[DIGEST:]
    if hashlib.sha256(body).digest() != mark:
        return None
    with np.load(io.BytesIO(body), allow_pickle=False) as data:
        facts = json.loads(str(data["facts"]))
        if tuple(facts["measures"]) != NAMES:
            return None
        traces = {name: data[name] for name in KEPT_TRACES if name in data}
    return Run(case, facts["measures"], facts["outcome"], [Check(*entry) for entry in facts["checks"]], traces, facts["failure"])


def kept_runs(cases: Sequence[Case], work: Work = ALONE) -> list[Run]:
    """A run of each case, in order; those kept in the study's folder are read."""
    paths: list[Path | None] = [None] * len(cases)
    if work.folder is not None:
        place = work.folder / PARTS / RUNS
        place.mkdir(parents=True, exist_ok=True)
        paths = [place / f"{study_key(case, [case])}.npz" for case in cases]
        write_text_atomically(
            place / "manifest.json", json_text({"program": computing_mark(), "runs": [path.name for path in paths if path]})
        )
    owners = dict(zip(paths, cases))

    def read(path: Path, lanes: int) -> Run | None:
        try:
            return run_of(path.read_bytes(), owners[path])
        except (OSError, ValueError, KeyError, TypeError):
            return None

    return finished([Piece(kept_run, (case,), 1, path) for case, path in zip(cases, paths)], work, read, run_bytes)
