"""Runs of a fit: the signals that were measured, and the measures, of a case with some values changed.

A run leaves nothing but these, so it costs a third of `simulate`. Values that make no machine leave None. The steps of a sequence
are found anew for each: what it waits for moves with the values.
"""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from sleevelift import trajectory
from sleevelift.case.lane_check import LaneCheck
from sleevelift.case.read import CaseError, with_values
from sleevelift.case.schema import Case
from sleevelift.plant.build import build
from sleevelift.plant.names import NAMES
from sleevelift.run import in_short_form, lent_buffers, raw_of, solved, with_instants

TOLERANCE = 1e-5
"""-. Relative tolerance of a step in a fit: a twentieth of the usual one, so that differences are those of the values."""


class Signals(NamedTuple):
    """What a run leaves for a fit."""

    time: np.ndarray
    """(n,) s of the run; empty where no signal was asked for"""
    values: dict[str, np.ndarray]
    """quantity -> (n,), SI"""
    measures: dict[str, float]
    """name -> number, SI; NaN where it did not happen"""


def first_on(case: Case) -> float:
    """Instant of the first on command, s of the run; of a sequence as the case stands; the run's start without one."""
    return min(in_short_form(case).solenoid.on, default=0.0)


def signals(
    case: Case, changes: Mapping[str, Any], names: Sequence[str], admitted: LaneCheck | None = None, checked: bool = True
) -> Signals | None:
    """The run of a case with values changed (SI). None where they make no run, or (checked) no case."""
    try:
        if not changes:
            changed = case
        elif checked:
            changed = (admitted or LaneCheck(case)).changed(changes)
        else:
            changed = with_values(case, changes, check=False, move_ranges=True)
        if changed.sequence is not None:
            changed = with_instants(changed, TOLERANCE).fixed
        plant = build(changed)
    except (CaseError, ValueError, ArithmeticError, AssertionError):
        return None
    with lent_buffers(plant) as buffers:
        ((lane, values),) = solved([plant], buffers, TOLERANCE)
        if lane.points < 2:
            return None
        raw = raw_of(buffers, lane) if names else None
    measures = dict(zip(NAMES, values.tolist()))
    if raw is None:
        return Signals(np.zeros(0), {}, measures)
    found = trajectory.traces(raw, plant)
    return Signals(found["time"], {name: found[name] for name in names if name in found}, measures)
