"""A map: one or two values of the case over a range, any measures of a run.

    map_study(case, axes, measures, work) -> Answer      lanes in the order of the axes, the case itself last

Ranges of the case go with the values that are mapped; each point is one nominal run with its worst-case margins and checks. With
targets each point is also scattered over its ranges, and the chance that each target holds stands beside it
(`sleevelift.study.odds`); the same places in the ranges at every point of the map, so that neighbours differ by design alone.
"""

import itertools
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from sleevelift.batch import Batch
from sleevelift.case.read import with_values
from sleevelift.case.schema import Case
from sleevelift.case.walk import own_value
from sleevelift.plots.maps import write_map
from sleevelift.shown import in_column, screen_unit, with_unit
from sleevelift.study.answer import Answer, Sheet, failed_lanes, failure_notes, lane_header, lane_rows
from sleevelift.study.odds import Chance, chance, chance_text, holds, own_cases, ranged, unit_points
from sleevelift.study.store import ALONE, Work, computed, part_rows
from sleevelift.study.targets import Target
from sleevelift.study.values import Axis, check_corners, number, refused, size_name
from sleevelift.units import KINDS

MOST_RUNS = 100_000
"""Points of a map, at most."""
SCATTERED = 256
"""Scattered points at each point of a map with targets, by default."""
TABLE_ROWS = 30
"""Rows on screen; more are thinned evenly (the CSV has all)."""


def lanes_of(axes: Sequence[Axis]) -> list[dict[str, float]]:
    """One override per point, the last axis running fastest; the unchanged case at the end."""
    points = itertools.product(*[axis.values.tolist() for axis in axes])
    return [{axis.path: value for axis, value in zip(axes, point)} for point in points] + [{}]


def scattered_lanes(case: Case, lanes: Sequence[dict[str, float]], scattered: int, seed: int) -> list[Case]:
    """`scattered` cases over the ranges of each lane, lane by lane, each with margins of its own values."""
    paths = list(ranged(case))
    places = unit_points(len(paths), scattered, seed)
    return [one for lane in lanes for one in own_cases(with_values(case, lane, move_ranges=True, check=False), places, paths)]


def chances_of(targets: Sequence[Target], batch: Batch, lanes: int, scattered: int) -> dict[str, list[Chance]]:
    """Target -> chance that it holds, lane by lane. `batch`: what `scattered_lanes` gave."""
    rows = [slice(lane * scattered, (lane + 1) * scattered) for lane in range(lanes)]
    return {target.text: [chance(holds(target, batch, part)) for part in rows] for target in targets}


def chance_sentence(odds: dict[str, list[Chance]], axes: Sequence[Axis], lanes: list[dict[str, float]], ambient: float) -> str:
    """Where the first target is likeliest to hold, where least, and the case as written; empty without targets."""
    if not odds:
        return ""
    text, found = next(iter(odds.items()))
    shares = [one.share for one in found[:-1]]
    worst, best = int(np.argmin(shares)), int(np.argmax(shares))
    own = f"in {100 * found[-1].share:.1f} % as written. "
    if shares[worst] == shares[best]:
        return f"{text} holds in {100 * shares[best]:.1f} % of cases at every point, {own}"
    return (
        f"{text} holds in {100 * shares[best]:.1f} % of cases at {place_text(axes, lanes[best], ambient)}, in "
        f"{100 * shares[worst]:.1f} % at {place_text(axes, lanes[worst], ambient)}, {own}"
    )


def failing(batch: Batch, points: int) -> dict[str, np.ndarray]:
    """Check -> True where it fails, of the checks that fail somewhere."""
    fails = {name: np.asarray(values[:points]) == 0.0 for name, values in batch.checks.items()}
    return {name: where for name, where in fails.items() if where.any()}


def place_text(axes: Sequence[Axis], lane: dict[str, float], ambient: float) -> str:
    """The values of one point, with units and the names of catalogue sizes."""
    texts = []
    for axis in axes:
        si = lane[axis.path]
        value = f"{number(float(axis.shown(si, ambient)))} {axis.unit}".strip()
        texts.append(f"{axis.path.split('.')[-1]} {value}{size_name(axis, si, ambient)}")
    return ", ".join(texts)


def sentence_of(case: Case, axes: Sequence[Axis], measures: Sequence[str], batch: Batch, lanes: list[dict[str, float]]) -> str:
    """Least and greatest of the first measure, the case's own, and how many points fail a check."""
    ambient, points = case.ambient.pressure, len(lanes) - 1
    name = measures[0]
    values = batch.measures[name][:points]
    fails = failing(batch, points)
    bad = int(np.any(np.array(list(fails.values())), axis=0).sum()) if fails else 0
    checks = f"{bad} of {points} points fail a check" + (f" ({', '.join(sorted(fails))})" if fails else "")
    own = f"the case as written: {with_unit(name, float(batch.measures[name][points]), case.reader)}"
    if not np.isfinite(values).any():
        return f"{name} did not happen at any of {points} points; {own}; {checks}."
    low, high = int(np.nanargmin(values)), int(np.nanargmax(values))
    return (
        f"{name} runs from {with_unit(name, float(values[low]), case.reader)} at {place_text(axes, lanes[low], ambient)} to "
        f"{with_unit(name, float(values[high]), case.reader)} at {place_text(axes, lanes[high], ambient)}; {own}; {checks}."
    )


def _sheet(
    case: Case, axes: Sequence[Axis], measures: Sequence[str], batch: Batch, lanes: list[dict[str, float]],
    odds: dict[str, list[Chance]],
) -> Sheet:  # fmt: skip
    points = len(lanes) - 1
    shown = sorted({round(i) for i in np.linspace(0, points - 1, min(points, TABLE_ROWS))})
    fails = failing(batch, points)
    ambient = case.ambient.pressure
    rows = []
    for lane in shown:
        cells = [number(float(axis.shown(lanes[lane][axis.path], ambient))) for axis in axes]
        labels = [axis.labels[axis.values.tolist().index(lanes[lane][axis.path])] for axis in axes if axis.labels is not None]
        values = [in_column(name, float(batch.measures[name][lane]), case.reader) for name in measures]
        shares = [chance_text(found[lane]) for found in odds.values()]
        rows.append(
            (*cells, *labels, *values, *shares, str(batch.outcomes[lane]), ", ".join(n for n in fails if fails[n][lane]) or "-")
        )
    columns = (
        *[f"{axis.path} [{axis.unit or '-'}]" for axis in axes], *["size" for axis in axes if axis.labels is not None],
        *[f"{name} [{screen_unit(name, case.reader) or '-'}]" for name in measures],
        *[f"{text} holds" for text in odds], "outcome", "fails",
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


def check_size(case: Case, lanes: int, scattered: int) -> None:
    """CaseError where a map with targets asks for too many runs or has nothing to scatter."""
    if scattered < 2:
        raise refused(f"--points {scattered}", "must be at least 2")
    if lanes * scattered > MOST_RUNS:
        raise refused("--vary", f"with {scattered} scattered points at each asks for more than {MOST_RUNS} runs: see --points")
    ranged(case)


def map_study(
    case: Case, axes: Sequence[Axis], measures: Sequence[str], work: Work = ALONE, targets: Sequence[Target] = (),
    scattered: int = SCATTERED, seed: int = 0,
) -> Answer:  # fmt: skip
    """Run the map. `measures`: at least one name of `sleevelift.plant.names.NAMES`.

    With `targets` each point is scattered `scattered` times over its ranges, and the chance that each holds is told.
    """
    check_axes(case, axes)
    lanes = lanes_of(axes)
    points = len(lanes) - 1
    if targets:
        check_size(case, len(lanes), scattered)
    spread = scattered_lanes(case, lanes, scattered, seed) if targets else []
    every = computed(case, [*lanes, *spread], work, {"study": "map", "vary": [axis.path for axis in axes], "seed": seed})
    batch, rest = part_rows(every, 0, len(lanes)), part_rows(every, len(lanes), len(every))
    odds = chances_of(targets, rest, len(lanes), scattered)
    sentence = chance_sentence(odds, axes, lanes, case.ambient.pressure) + sentence_of(case, axes, measures, batch, lanes)
    failed, fails = failed_lanes(batch, lanes), failing(batch, points)
    notes = _notes(batch, measures, failed, fails, points)
    if targets:
        notes.append(
            f"Chances: {scattered} Latin hypercube points over the ranges at each point of the map, seed {seed}, each ranged value "
            "uniform over its range, margins those of each point's own values; in brackets the 95 % interval. "
            f"{len(rest.failures)} of {len(rest)} such runs failed and count as not holding."
        )
    paths = [axis.path for axis in axes]
    si_units = {axis.path: KINDS[axis.kind].si_unit for axis in axes}
    header = lane_header(paths, sorted(batch.checks), si_units) + [
        f"{text} holds{end} [-]" for text in odds for end in ("", ", low", ", high")
    ]
    rows = [
        [*row, *[value for found in odds.values() for value in found[lane][:3]]]
        for lane, row in enumerate(lane_rows(batch, lanes, paths))
    ]

    def draw(path: Path) -> Any:
        shares = {text: np.array([one[:3] for one in found]) for text, found in odds.items()}
        return write_map(case, sentence, axes, measures, batch, path, shares)

    data = _data(case, axes, measures, batch, fails) | {"failed_runs": failed}
    if targets:
        shape = [len(axis.values) for axis in axes]
        data["chances"] = {
            text: {
                **{end: np.reshape([getattr(one, end) for one in found[:points]], shape) for end in ("share", "low", "high")},
                "case_itself": found[points],
            }
            for text, found in odds.items()
        }
        data |= {"seed": seed, "scattered_points": scattered, "failed_scattered_runs": len(rest.failures)}
    return Answer(
        "map", case, sentence, [_sheet(case, axes, measures, batch, lanes, odds)], notes, header, rows, data, draw
    )  # fmt: skip


def _nulls(batch: Batch, measures: Sequence[str], points: int) -> dict[str, int]:
    """How often each measure did not happen."""
    return {name: int(np.isnan(batch.measures[name][:points]).sum()) for name in measures}


def _notes(
    batch: Batch, measures: Sequence[str], failed: list[dict[str, Any]], fails: dict[str, np.ndarray], points: int
) -> list[str]:
    """How it was run, what failed, what did not happen."""
    notes = [f"{points} points and the case itself, nominal values, no random points.", *failure_notes(failed, points + 1)]
    always = [name for name, where in fails.items() if where.all()]
    if always:
        notes.append(f"Fails at every point: {', '.join(always)}.")
    nulls = _nulls(batch, measures, points)
    return notes + [f"{name} did not happen at {count} of {points} points." for name, count in nulls.items() if count]


def _data(case: Case, axes: Sequence[Axis], measures: Sequence[str], batch: Batch, fails: dict[str, np.ndarray]) -> dict[str, Any]:
    """Numbers of the nominal runs for the JSON."""
    shape = [len(axis.values) for axis in axes]
    points = int(np.prod(shape))
    return {
        "axes": [{"path": a.path, "values": a.values, "names": a.labels, "case": own_value(case, a.path)} for a in axes],
        "measures": {name: batch.measures[name][:points].reshape(shape) for name in measures},
        "case_itself": {name: float(batch.measures[name][points]) for name in measures},
        "fails": {name: where.reshape(shape) for name, where in fails.items()},
        "nulls": _nulls(batch, measures, points),
    }  # fmt: skip
