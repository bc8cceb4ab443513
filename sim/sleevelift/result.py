"""What one run says: its measures at once, everything that is only told when it is asked for.

lane (how it ended) + raw arrays + plant + case -> Result: measures, timeline, traces, checks, warnings, balances
"""

from functools import cached_property
from math import inf
from typing import Any, NamedTuple, Self

import numpy as np

from sleevelift import measures as named_measures
from sleevelift import trajectory as traj
from sleevelift.case.schema import Case
from sleevelift.check import Check
from sleevelift.checks import checks_of_pulses
from sleevelift.glance import Glance, MeasureTable, glance, glance_html, glance_text, table
from sleevelift.integrate.status import Status
from sleevelift.plant.build import Plant
from sleevelift.plant.lane import balance_sheet
from sleevelift.reader import METRIC
from sleevelift.remarks import remarks
from sleevelift.sequence.findings import headline, sequence_remarks, with_sequence
from sleevelift.sequence.resolve import Resolution
from sleevelift.shown import origin_of

ENERGY_ALLOWED = 1e-4
"""-. Machine energy left over at the end, as a share of the energy moved, above which a run is repeated more finely."""
BALANCES = ("gas_mass", "gas_energy", "machine_energy", "gas_moved", "gas_energy_moved", "work_moved")
"""What is left over at the end, kg and J, and the sizes it is measured by."""


class PulseNumbers(NamedTuple):
    """What a lane leaves of one pulse."""

    outcome: int
    begins_lifted: bool
    begins_lit: bool
    values: np.ndarray
    """(N_MEASURE,)"""


class LaneResult(NamedTuple):
    """What a lane leaves in its buffers: valid until the buffers's next run."""

    status: int
    outcome: int
    points: int
    events: int
    tolerance: float
    """the relative tolerance of the run, after any repetition"""
    pulses: "tuple[PulseNumbers, ...]" = ()
    """of every pulse that began"""


def refinement(lane: LaneResult, plant: Plant, tolerance: float | None) -> list[str]:
    """The remark that a run was repeated at a finer tolerance than the case's, if it was."""
    own = float(plant.record[0]["instants"]["tolerance"])
    if tolerance is not None or lane.tolerance == own:
        return []
    return [
        f"At a tolerance of {own:.3g} more than {ENERGY_ALLOWED:g} of the energy moved was left over: the run was repeated at "
        f"{lane.tolerance:.3g}. Long rebounds do that; set [run] tolerance to have it so at once."
    ]


def outcome_of(lane: LaneResult) -> str:
    """Outcome of a run."""
    status = Status(lane.status)
    return named_measures.outcome_name(lane.outcome) if status.good or status == Status.OUT_OF_RANGE else "failed"


def pulses_of(lane: LaneResult, case: Case) -> tuple[named_measures.Pulse, ...]:
    """The pulses of a run; the last of a computation that could not go on is `failed`."""
    names = [named_measures.outcome_name(numbers.outcome) for numbers in lane.pulses]
    if names and outcome_of(lane) == "failed":
        names[-1] = "failed"
    return tuple(
        named_measures.pulse(k + 1, names[k], (numbers.begins_lifted, numbers.begins_lit), numbers.values, case)
        for k, numbers in enumerate(lane.pulses)
    )


class Said(NamedTuple):
    """The sentences of a run, in one reader's units."""

    failure: str | None
    checks: list[Check]
    warnings: list[str]


TOLD = ("pulses", "reasons", "timeline", "checks", "warnings", "metric", "traces", "balances")
"""What a result works out when it is asked for."""


class Ran(NamedTuple):
    """What a run left that a result is told from."""

    lane: LaneResult
    raw: traj.Raw
    failure: str | None
    """in the units of the case's reader"""
    metric_failure: str | None
    tolerance: float | None
    """that was asked for instead of the case's"""
    with_traces: bool


class Result:
    """Everything one run says.

    `measures`, `outcome`, `failure` and `statistics` are there; the rest is worked out from the run's arrays when it is first asked
    for, and then stays: where only measures are wanted, telling the rest would take three times as long as the run.
    Nothing of a result can be changed.
    """

    case: Case
    """with a sequence: its steps as instants of the parts' own tables; as written it is `sequence.case`"""
    plant: Plant
    measures: dict[str, float | None]
    """name -> number in SI, or None with its reason in `reasons`."""
    outcome: str
    statistics: dict[str, int]
    """steps, rejected, right-hand sides, Jacobians, points, events."""
    sequence: Resolution | None
    """the steps of a case with a sequence, as they went"""
    failure: str | None
    """One sentence where the run could not go on (node, time and state), else None."""
    _ran: Ran

    def __init__(
        self, case: Case, plant: Plant, ran: Ran, measures: dict[str, float | None], statistics: dict[str, int],
        sequence: Resolution | None = None,
    ) -> None:  # fmt: skip
        self.__dict__.update(
            case=case, plant=plant, measures=measures, outcome=outcome_of(ran.lane), statistics=statistics, sequence=sequence,
            failure=ran.failure, _ran=ran,
        )  # fmt: skip

    def __setattr__(self, name: str, value: Any) -> None:
        raise AttributeError(f"a result cannot be changed: {name}")

    def _replace(self, **changes: Any) -> Self:
        """A copy that tells some things otherwise, and everything else as this one does."""
        unknown = [name for name in changes if not hasattr(self, name)]
        if unknown:
            raise ValueError(f"a result has no {', '.join(unknown)}")
        told = {name: getattr(self, name) for name in TOLD if name not in changes}
        new = object.__new__(type(self))
        new.__dict__.update({**self.__dict__, **told, **changes})
        return new

    @property
    def units(self) -> dict[str, str]:
        """name of a measure -> SI unit"""
        return named_measures.units()

    @cached_property
    def pulses(self) -> tuple[named_measures.Pulse, ...]:
        """every pulse that began; `measures` are the first's, `outcome` that of the first that did not open and close."""
        return pulses_of(self._ran.lane, self.case)

    @cached_property
    def reasons(self) -> dict[str, str]:
        """name of a measure -> why it has no number"""
        first = self.pulses[0].outcome if self.pulses else self.outcome
        return named_measures.reasons(first, self.measures, self.case)

    @cached_property
    def timeline(self) -> list[traj.Event]:
        """Everything that happened, in order."""
        return traj.timeline(self._ran.raw, self.plant)

    @cached_property
    def checks(self) -> list[Check]:
        """Every check of the case and the run, those that fail first."""
        return self._checks_for(self.case)

    @cached_property
    def warnings(self) -> list[str]:
        """What a person must know beside the numbers."""
        return self._warnings_for(self.case, self.failure)

    @cached_property
    def metric(self) -> Said:
        """`failure`, `checks` and `warnings` as a metric reader reads them, for JSON; those of the case are in the case's units"""
        if self.case.reader == METRIC:
            return Said(self.failure, self.checks, self.warnings)
        case, failure = self.case.read_in("metric"), self._ran.metric_failure
        return Said(failure, self._checks_for(case), self._warnings_for(case, failure))

    def _checks_for(self, reading: Case) -> list[Check]:
        return with_sequence(checks_of_pulses(self.measures, self.outcome, self.pulses, reading), self.sequence)

    def _warnings_for(self, reading: Case, failure: str | None) -> list[str]:
        told = remarks(self.measures, self.outcome, reading, self.plant, self._ran.raw, self.pulses)
        told += refinement(self._ran.lane, self.plant, self._ran.tolerance)
        return ([failure] if failure else []) + sequence_remarks(self.sequence) + told

    @property
    def broke_off(self) -> float:
        """s of the run at which it could not go on; inf: it came to its end"""
        t = self._ran.raw.t
        return inf if self.failure is None else float(t[-1]) if len(t) else -inf

    @cached_property
    def traces(self) -> dict[str, np.ndarray]:
        """name -> array over `time`, SI."""
        return traj.traces(self._ran.raw, self.plant) if self._ran.with_traces and self._ran.lane.points else {}

    @cached_property
    def balances(self) -> dict[str, float]:
        """left over at the end: gas_mass kg, gas_energy J, machine_energy J, and the sizes they are measured by."""
        raw, points = self._ran.raw, self._ran.lane.points
        if not points:
            return {}
        arrays = raw.event_memory, raw.t, raw.y, raw.discrete_state, raw.outputs, raw.dense
        return dict(zip(BALANCES, (float(v) for v in balance_sheet(self.plant.record, *arrays, points))))

    @property
    def as_written(self) -> Case:
        """The case as it was given: with its sequence, where it has one."""
        return self.case if self.sequence is None else self.sequence.case

    def table(self) -> MeasureTable:
        """Every measure with its unit, or the reason why it has none; prints as text, shows as a table in a notebook."""
        return table(self.measures, self.reasons, self.case.reader)

    def _glance(self) -> Glance:
        return glance(
            self.case.name,
            self.outcome,
            self.failure,
            self.measures,
            self.reasons,
            self.checks,
            len(self.traces.get("time", ())),
            self.case.reader,
            headline(self.sequence, origin_of(self.case.solenoid.on)),
        )

    def __repr__(self) -> str:
        """One screen: outcome, failed checks, headline numbers."""
        return glance_text(self._glance())

    def _repr_html_(self) -> str:
        return glance_html(self._glance())
