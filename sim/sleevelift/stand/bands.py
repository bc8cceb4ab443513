"""What each channel shows: hundreds of runs over the case's ranges, percentile by percentile along one time axis.

    bands_of(case, n, seed, work) -> Bands       time from the first on command; P1, P50, P99, lowest and highest of the runs

Points are those of a scatter (`study.odds`): each ranged value uniform over its range, independent of the others, margins of
each point its own. The band is pointwise: at any one instant 2 % of the runs are outside it, and a single run leaves it
somewhere more often; `Bands.outside` counts how long each run does, so that a measured trace is held against its like. An
instrument's error is not in it.
"""

import hashlib
import io
import json
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sleevelift.batch import NOT_BUILT, Batch
from sleevelift.case.parts import known_parts
from sleevelift.case.read import with_values
from sleevelift.case.schema import Case
from sleevelift.case.walk import value_at
from sleevelift.plant.names import NAMES
from sleevelift.result import Result
from sleevelift.run import simulate
from sleevelift.stand.channels import Channel, channels_of
from sleevelift.study.odds import own_points, unit_points, wide_ranges
from sleevelift.study.store import ALONE, DIGEST, PARTS, Piece, Work, finished, joined, part_bytes, part_of, study_key
from sleevelift.study.values import refused

PERCENTILES = (1.0, 50.0, 99.0)
CHUNK = 32
"""Runs that are computed and kept together."""
FINE, COARSE = 700, 400
"""Points of the time axis about each command, and over the whole."""
BEFORE, AFTER = 0.01, 2.5
"""s before a command, and times the nominal opening or closing time after it, in which points are fine."""
LEAST_RUNS = 50
"""Runs below which a first percentile is not told from the lowest."""


class Bands(NamedTuple):
    """The runs of a scatter, along one time axis."""

    case: Case
    nominal: Result
    channels: tuple[Channel, ...]
    origin: float
    """s of the run: the first on command; `time` counts from it"""
    time: np.ndarray
    """(n_time,), s"""
    runs: np.ndarray
    """(n_runs, n_channels, n_time), SI, NaN where a run did not come to its end"""
    batch: Batch
    """measures and checks of the same runs"""
    ranges: dict[str, tuple[float, float]]
    seed: int

    def channel_runs(self, trace: str) -> np.ndarray:
        """(n, n_time) a channel in the runs that came to their end, SI."""
        place = [one.trace for one in self.channels].index(trace)
        runs = self.runs[:, place, :].astype(float)
        return np.asarray(runs[np.isfinite(runs[:, 0])])

    def of(self, trace: str) -> np.ndarray:
        """(3, n_time): P1, P50, P99 of a channel."""
        return np.asarray(np.percentile(self.channel_runs(trace), PERCENTILES, axis=0))

    def extremes(self, trace: str) -> tuple[np.ndarray, np.ndarray]:
        """(lowest, highest) of all runs at each instant, (n_time,) each."""
        runs = self.channel_runs(trace)
        return np.min(runs, axis=0), np.max(runs, axis=0)

    def outside(self, trace: str) -> np.ndarray:
        """(n_runs,) how long each run is outside its own band P1 to P99, s."""
        runs = self.channel_runs(trace)
        low, _, high = self.of(trace)
        steps = np.gradient(self.time)
        return np.asarray(((runs < low) | (runs > high)) @ steps)

    @property
    def complete(self) -> int:
        """Runs that came to their end."""
        return int(np.isfinite(self.runs[:, 0, 0]).sum())


def time_axis(result: Result) -> np.ndarray:
    """(n_time,) instants of the run, s: fine about every command of solenoid and run valves, coarse between, to its end."""
    solenoid, found = result.case.solenoid, result.measures
    end = float(result.traces["time"][-1])
    pieces = [np.linspace(0.0, end, COARSE)]
    for commands, name in ((solenoid.on, "opening_time"), (solenoid.off, "closing_time")):
        length = AFTER * (found[name] or 0.2)
        for instant in commands:
            pieces.append(np.linspace(max(instant - BEFORE, 0.0), min(instant + length, end), FINE))
    for part in (part for part in known_parts() if part.valve and value_at(result.case, part.name) is not None):
        valve = value_at(result.case, part.name)
        for instants, length in ((valve.on, valve.opening_time), (valve.off, valve.closing_time)):
            for instant in instants:
                pieces.append(np.linspace(max(instant - BEFORE, 0.0), min(instant + AFTER * length, end), FINE))
    return np.unique(np.concatenate(pieces))


def _resampled(result: Result, names: Sequence[str], time: np.ndarray) -> np.ndarray:
    """(n_channels, n_time) traces of a run; its last value where it ended earlier; NaN where it did not come to its end."""
    if result.failure is not None or not result.traces:
        return np.full((len(names), len(time)), np.nan, dtype=np.float32)
    own = result.traces["time"]
    return np.array([np.interp(time, own, result.traces[name]) for name in names], dtype=np.float32)


class _Part(NamedTuple):
    batch: Batch
    runs: np.ndarray


def _run_of(case: Case, override: Mapping[str, Any]) -> Result | str:
    """The run of one point, or why its values make no machine."""
    try:
        return simulate(with_values(case, override, check=False))
    except (ValueError, ArithmeticError, AssertionError) as problem:
        return f"not run: {problem}"


def _batch_of(results: Sequence[Result | str]) -> Batch:
    """Measures and checks of runs, one row each."""
    runs = [one if isinstance(one, Result) else None for one in results]
    checks = [{} if run is None else {check.name: float(check.passed) for check in run.checks} for run in runs]
    failures = [one if isinstance(one, str) else one.failure for one in results]
    values = {
        name: np.array([np.nan if run is None or run.measures[name] is None else run.measures[name] for run in runs], dtype=float)
        for name in NAMES
    }
    return Batch(
        measures=values,
        outcomes=np.array(["failed" if run is None else run.outcome for run in runs]),
        status=np.array([NOT_BUILT if failure else 0 for failure in failures], dtype=np.int64),
        checks={name: np.array([one.get(name, np.nan) for one in checks]) for name in sorted({n for one in checks for n in one})},
        failures={i: failure for i, failure in enumerate(failures) if failure},
    )


def traced(case: Case, overrides: Sequence[Mapping[str, Any]], names: Sequence[str], time: np.ndarray) -> _Part:
    """Measures and resampled traces of some runs; values that make no machine are a failed run."""
    results = [_run_of(case, override) for override in overrides]
    none = np.full((len(names), len(time)), np.nan, dtype=np.float32)
    return _Part(
        _batch_of(results), np.array([_resampled(one, names, time) if isinstance(one, Result) else none for one in results])
    )


def _bytes(part: _Part) -> bytes:
    """Checksum, length of the batch, batch, traces."""
    buffer = io.BytesIO()
    np.save(buffer, part.runs, allow_pickle=False)
    head = part_bytes(part.batch)
    body = len(head).to_bytes(8, "big") + head + buffer.getvalue()
    return hashlib.sha256(body).digest() + body


def _read(shape: tuple[int, int], path: Path, lanes: int) -> _Part | None:
    """A kept part; None where there is none, or it is damaged."""
    try:
        content = path.read_bytes()
        mark, body = content[:DIGEST], content[DIGEST:]
        if hashlib.sha256(body).digest() != mark:
            return None
        length = int.from_bytes(body[:8], "big")
        batch = part_of(body[8 : 8 + length], lanes)
        runs = np.load(io.BytesIO(body[8 + length :]), allow_pickle=False)
        return None if batch is None or runs.shape != (lanes, *shape) else _Part(batch, runs)
    except (OSError, ValueError, KeyError):
        return None


def bands_of(case: Case, n: int, seed: int = 0, work: Work = ALONE) -> Bands:
    """Bands of every channel of a case. CaseError without an on command, or where the nominal run does not come to its end.

    A case whose values carry no range has one run: its band has no width.
    """
    if not case.solenoid.on:
        raise refused(case.name, "has no on command ([solenoid] on): there is no instant that a test counts from")
    nominal = simulate(case)
    if nominal.failure is not None or not nominal.traces:
        raise refused(case.name, f"cannot be run to its end: {nominal.failure or 'it left no traces'}")
    channels = tuple(one for one in channels_of(case) if one.trace in nominal.traces)
    names = [one.trace for one in channels]
    time = time_axis(nominal)
    ranges = wide_ranges(case)
    bare, lanes = case, [{}]  # type: tuple[Case, list[dict[str, Any]]]
    if ranges:
        bare, lanes = own_points(case, unit_points(len(ranges), n, seed), list(ranges))
    place = None
    if work.folder is not None:
        key = hashlib.sha256(json.dumps([study_key(bare, lanes), names, time.tolist()]).encode()).hexdigest()[:24]
        place = work.folder / PARTS / f"bands-{key}"
        place.mkdir(parents=True, exist_ok=True)
        (place / "manifest.json").write_text(json.dumps({"study": "bands", "n": len(lanes), "seed": seed}), encoding="utf-8")
    chunks = [range(i, min(i + CHUNK, len(lanes))) for i in range(0, len(lanes), CHUNK)]
    pieces = [
        Piece(
            traced, (bare, [lanes[i] for i in rows], names, time), len(rows), None if place is None else place / f"part-{k:05d}.npz"
        )
        for k, rows in enumerate(chunks)
    ]
    parts = finished(pieces, work, partial(_read, (len(names), len(time))), _bytes)
    origin = case.solenoid.on[0]
    runs = np.concatenate([part.runs for part in parts])
    return Bands(case, nominal, channels, origin, time - origin, runs, joined([part.batch for part in parts]), ranges, seed)
