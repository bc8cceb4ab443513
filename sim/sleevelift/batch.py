"""Many runs on all cores: one lane a run, threads that release the interpreter lock while they integrate.

    simulate_many(case, [{"spring.preload": 700.0}, ...])  ->  Batch (measures as arrays, one row a lane)

Only measures and checks are kept, so memory is under 2 kB a lane (measured with 100,000). Every lane is computed by itself in
arrays lent to its thread, so the digits do not depend on the number of threads. A lane that cannot be built or run is kept, with
its status and a sentence.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any, NamedTuple

import numpy as np

from sleevelift.case.lane_check import LaneCheck
from sleevelift.case.read import CaseError, with_values
from sleevelift.case.schema import Case
from sleevelift.checks import checks_of_pulses
from sleevelift.measures import named
from sleevelift.plant.build import Plant, build
from sleevelift.plant.names import NAMES
from sleevelift.result import LaneResult, outcome_of, pulses_of
from sleevelift.run import failure_of, lent_buffers, solved, with_instants
from sleevelift.scheduler import delivered, threads, workers_by_default
from sleevelift.sequence.findings import with_sequence
from sleevelift.sequence.resolve import Resolution

GROUP = 16
"""Lanes a thread takes at a time, built one after the other, then run, then checked: few enough that another thread waits some
milliseconds for the interpreter at most, and that all threads end together."""
SHARES = 4
"""Groups a thread has at least, where there are lanes enough: of a few lanes each thread has some."""
NOT_BUILT = -1
"""Status of a lane whose values could not be made into a case."""
Override = Mapping[str, Any]


class Batch(NamedTuple):
    """What a batch leaves; arrays of length n_lanes."""

    measures: dict[str, np.ndarray]
    """name -> numbers of the first pulse, SI; nan where it did not happen."""
    outcomes: np.ndarray
    """outcome of each lane (text): that of the first pulse that did not open and close."""
    status: np.ndarray
    """`sleevelift.integrate.status.Status`; NOT_BUILT where the values do not make a case."""
    checks: dict[str, np.ndarray]
    """check -> 1 passed in every pulse, 0 failed, nan not made."""
    failures: dict[int, str]
    """lane -> sentence, for lanes that could not be built or did not come to their end."""

    def __len__(self) -> int:
        return len(self.status)


class _Row(NamedTuple):
    values: np.ndarray
    outcome: str
    status: int
    checks: dict[str, bool]
    failure: str | None


class _Built(NamedTuple):
    """A lane that can be run."""

    case: Case
    """its sequence, if it has one, as instants"""
    plant: Plant
    sequence: Resolution | None


class _Ran(NamedTuple):
    """A lane that was run, before its checks."""

    built: _Built
    values: np.ndarray
    outcome: str
    lane: LaneResult
    failure: str | None


def _built(case: Case, override: Override | Case, admitted: LaneCheck | None, tolerance: float | None) -> _Built | _Row:
    """The lane's own case and its plant, or the row of a lane that cannot be built."""
    try:
        if isinstance(override, Case):
            changed = override
        elif not override:
            changed = case
        elif admitted is not None:
            changed = admitted.changed(override)
        else:
            changed = with_values(case, override, check=False, move_ranges=True)
        sequence = None
        if changed.sequence is not None:
            sequence = with_instants(changed, tolerance)
            changed = sequence.fixed
        return _Built(changed, build(changed), sequence)
    except (CaseError, ValueError, ArithmeticError, AssertionError) as problem:
        return _Row(np.full(len(NAMES), np.nan), "failed", NOT_BUILT, {}, f"not run: {problem}")


def _run(built: Sequence[_Built], tolerance: float | None) -> Iterator[_Ran]:
    """Lanes of one layout and one gas."""
    plants = [lane.plant for lane in built]
    if not plants:
        return
    with lent_buffers(plants[0]) as buffers:
        for one, (lane, values) in zip(built, solved(plants, buffers, tolerance)):
            yield _Ran(one, values, outcome_of(lane), lane, failure_of(lane, one.plant, buffers, one.case.reader))


def _runs_with(lane: _Built | _Row) -> tuple[int, int]:
    """What lanes that are run in one call have in common: number of states, gas table; 0, 0 of one that is not run."""
    return (0, 0) if isinstance(lane, _Row) else (len(lane.plant.floors), id(lane.plant.gas))


def _checked(ran: _Ran, with_checks: bool) -> _Row:
    """The row of a lane that was run."""
    passed = {}
    if with_checks:
        case = ran.built.case
        pulses = pulses_of(ran.lane, case) if len(ran.lane.pulses) > 1 else ()
        checks = with_sequence(checks_of_pulses(named(ran.values), ran.outcome, pulses, case), ran.built.sequence)
        passed = {c.name: c.passed for c in checks}
    return _Row(ran.values, ran.outcome, ran.lane.status, passed, ran.failure)


def run_group(
    case: Case, overrides: Sequence[Override | Case], tolerance: float | None = None, with_checks: bool = True,
    admitted: LaneCheck | None = None,
) -> list[_Row]:  # fmt: skip
    """A few lanes: all are built, then all are run, then all are checked.

    admitted: the check of each lane's values; None where the caller has made sure of them.

    The processor is then done with one kind of work before the next begins; lane by lane the building and checking take twice
    as long.
    """
    built = [_built(case, override, admitted, tolerance) for override in overrides]
    ran: list[_Ran | _Row] = []
    for _, alike in groupby(built, _runs_with):
        lanes = list(alike)
        ran += [lane for lane in lanes if isinstance(lane, _Row)]
        ran += _run([lane for lane in lanes if not isinstance(lane, _Row)], tolerance)
    return [lane if isinstance(lane, _Row) else _checked(lane, with_checks) for lane in ran]


def run_lane(case: Case, override: Override | Case, tolerance: float | None = None, with_checks: bool = True) -> _Row:
    """One lane: the case with some values changed (or a case of its own)."""
    return run_group(case, [override], tolerance, with_checks)[0]


def gather(rows: Sequence[_Row]) -> Batch:
    """Rows in lane order -> arrays."""
    values = np.array([row.values for row in rows]).reshape(len(rows), len(NAMES))
    names = sorted({name for row in rows for name in row.checks})
    return Batch(
        measures={name: values[:, i] for i, name in enumerate(NAMES)},
        outcomes=np.array([row.outcome for row in rows]),
        status=np.array([row.status for row in rows], dtype=np.int64),
        checks={name: np.array([float(row.checks[name]) if name in row.checks else np.nan for row in rows]) for name in names},
        failures={i: row.failure for i, row in enumerate(rows) if row.failure is not None},
    )


def simulate_many(
    case: Case,
    overrides: Sequence[Override | Case],
    *,
    workers: int | None = None,
    tolerance: float | None = None,
    with_checks: bool = True,
    progress: Callable[[int, int], None] | None = None,
) -> Batch:
    """Run the case once per entry of `overrides` (path -> SI number or text as in a file; or a whole case), on `workers` threads
    (all cores).

    The values of each lane are checked as a file's are; a lane that they refuse is not run, and its sentence in `failures` names
    each fault. A whole case is taken as it is. The range of a value that is overridden moves with it, so that margins are the
    worst about the lane's own values.

    progress(done, total) is called from this thread as groups finish. Results are the same for any number of workers.
    """
    total = len(overrides)
    count = workers or workers_by_default()
    size = max(1, min(GROUP, -(-total // (SHARES * count))))
    groups = [range(i, min(i + size, total)) for i in range(0, total, size)]
    admitted = LaneCheck(case)
    rows: list[_Row | None] = [None] * total
    done = 0
    calls = (
        (number, (run_group, case, [overrides[i] for i in lanes], tolerance, with_checks, admitted))
        for number, lanes in enumerate(groups)
    )
    with threads(count) as pool:
        for number, part in delivered(pool, calls, count):
            for i, row in zip(groups[number], part):
                rows[i] = row
            done += len(part)
            if progress is not None:
                progress(done, total)
    return gather([row for row in rows if row is not None])
