"""A map: one or two values of the case over a range, any measures of a run.

    map_study(case, axes, measures, work) -> Answer      lanes in the order of the axes, the case itself last

Ranges of the case stay as they are; each point is one nominal run with its worst-case margins and checks.
"""

import itertools
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from sleevelift.batch import Batch
from sleevelift.case.schema import Case
from sleevelift.study.answer import Answer, Sheet, failed_lanes, failure_notes, lane_header, lane_rows
from sleevelift.study.store import ALONE, Work, computed
from sleevelift.study.values import Axis, check_corners, number, on_screen, own_value, refused, screen_unit, with_unit
from sleevelift.units import KINDS

MOST_RUNS = 100_000
"""Points of a map, at most."""
TABLE_ROWS = 30
"""Rows on screen; more are thinned evenly (the CSV has all)."""


def lanes_of(axes: Sequence[Axis]) -> list[dict[str, float]]:
    """One override per point, the last axis running fastest; the unchanged case at the end."""
    points = itertools.product(*[axis.values.tolist() for axis in axes])
    return [{axis.path: value for axis, value in zip(axes, point)} for point in points] + [{}]


def failing(batch: Batch, points: int) -> dict[str, np.ndarray]:
    """Check -> True where it fails, of the checks that fail somewhere."""
    fails = {name: np.asarray(values[:points]) == 0.0 for name, values in batch.checks.items()}
    return {name: where for name, where in fails.items() if where.any()}


def place_text(axes: Sequence[Axis], lane: dict[str, float], ambient: float) -> str:
    """The values of one point, with units and the names of catalogue sizes."""
    texts = []
    for axis in axes:
        label = ""
        if axis.labels is not None:
            label = f" ({axis.labels[int(np.argmin(np.abs(axis.values - lane[axis.path])))]})"
        texts.append(
            f"{axis.path.split('.')[-1]} {number(float(axis.shown(lane[axis.path], ambient)))} {axis.unit}".strip() + label
        )
    return ", ".join(texts)


def sentence_of(case: Case, axes: Sequence[Axis], measures: Sequence[str], batch: Batch, lanes: list[dict[str, float]]) -> str:
    """Least and greatest of the first measure, the case's own, and how many points fail a check."""
    ambient, points = case.ambient.pressure, len(lanes) - 1
    name = measures[0]
    values = batch.measures[name][:points]
    fails = failing(batch, points)
    bad = int(np.any(np.array(list(fails.values())), axis=0).sum()) if fails else 0
    checks = f"{bad} of {points} points fail a check" + (f" ({', '.join(sorted(fails))})" if fails else "")
    own = f"the case as written: {with_unit(name, float(batch.measures[name][points]))}"
    if not np.isfinite(values).any():
        return f"{name} did not happen at any of {points} points; {own}; {checks}."
    low, high = int(np.nanargmin(values)), int(np.nanargmax(values))
    return (
        f"{name} runs from {with_unit(name, float(values[low]))} at {place_text(axes, lanes[low], ambient)} to "
        f"{with_unit(name, float(values[high]))} at {place_text(axes, lanes[high], ambient)}; {own}; {checks}."
    )


def _sheet(case: Case, axes: Sequence[Axis], measures: Sequence[str], batch: Batch, lanes: list[dict[str, float]]) -> Sheet:
    points = len(lanes) - 1
    shown = sorted({round(i) for i in np.linspace(0, points - 1, min(points, TABLE_ROWS))})
    fails = failing(batch, points)
    ambient = case.ambient.pressure
    rows = []
    for lane in shown:
        cells = [number(float(axis.shown(lanes[lane][axis.path], ambient))) for axis in axes]
        labels = [axis.labels[axis.values.tolist().index(lanes[lane][axis.path])] for axis in axes if axis.labels is not None]
        values = [number(float(on_screen(name, batch.measures[name][lane]))) for name in measures]
        rows.append((*cells, *labels, *values, str(batch.outcomes[lane]), ", ".join(n for n in fails if fails[n][lane]) or "-"))
    columns = (
        *[f"{axis.path} [{axis.unit or '-'}]" for axis in axes], *["size" for axis in axes if axis.labels is not None],
        *[f"{name} [{screen_unit(name) or '-'}]" for name in measures], "outcome", "fails",
    )  # fmt: skip
    title = "Points" if len(shown) == points else f"Points ({len(shown)} of {points}; all are in the CSV)"
    return Sheet(title, columns, rows)


def check_axes(case: Case, axes: Sequence[Axis]) -> None:
    """CaseError unless there are one or two distinct axes of a bearable size whose corners are valid cases."""
    if not 1 <= len(axes) <= 2:
        raise refused("--vary", "one or two values can be varied in a map")
    if len({axis.path for axis in axes}) < len(axes):
        raise refused(f"--vary {axes[0].path}", "is given twice")
    if np.prod([len(axis.values) for axis in axes]) > MOST_RUNS:
        raise refused("--vary", f"asks for more than {MOST_RUNS} runs")
    check_corners(case, axes)


def map_study(case: Case, axes: Sequence[Axis], measures: Sequence[str], work: Work = ALONE) -> Answer:
    """Run the map. `measures`: at least one name of `sleevelift.plant.names.NAMES`."""
    check_axes(case, axes)
    lanes = lanes_of(axes)
    points = len(lanes) - 1
    batch = computed(case, lanes, work, {"study": "map", "vary": [axis.path for axis in axes]})
    failed = failed_lanes(batch, lanes)
    fails = failing(batch, points)
    notes = [f"{points} points and the case itself, nominal values, no random points: no seed.", *failure_notes(failed, len(lanes))]
    always = [name for name, where in fails.items() if where.all()]
    if always:
        notes.append(f"Fails at every point: {', '.join(always)}.")
    nulls = {name: int(np.isnan(batch.measures[name][:points]).sum()) for name in measures}
    notes += [f"{name} did not happen at {count} of {points} points." for name, count in nulls.items() if count]
    paths = [axis.path for axis in axes]

    def draw(path: Path) -> Any:
        from sleevelift.plots.studies import write_map

        return write_map(case, sentence_of(case, axes, measures, batch, lanes), axes, measures, batch, path)

    si_units = {axis.path: KINDS[axis.kind].si_unit for axis in axes}
    return Answer(
        "map", case, sentence_of(case, axes, measures, batch, lanes), [_sheet(case, axes, measures, batch, lanes)], notes,
        lane_header(paths, sorted(batch.checks), si_units), lane_rows(batch, lanes, paths),
        {
            "axes": [{"path": a.path, "values": a.values, "names": a.labels, "case": own_value(case, a.path)} for a in axes],
            "measures": {name: batch.measures[name][:points].reshape([len(a.values) for a in axes]) for name in measures},
            "case_itself": {name: float(batch.measures[name][points]) for name in measures},
            "fails": {name: where.reshape([len(a.values) for a in axes]) for name, where in fails.items()},
            "nulls": nulls, "failed_runs": failed,
        },
        draw,
    )  # fmt: skip
