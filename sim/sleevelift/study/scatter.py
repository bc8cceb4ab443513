"""A scatter: random points over every value that carries a range, and what they make of each measure and check.

    scatter_study(case, n, seed, sampler, work) -> Answer

Points, their distribution and the chance that a check fails: `sleevelift.study.odds`. P1, P50, P99 are those of the runs in which
the measure happened; runs in which it did not are counted apart. The driving input is the one with the largest Spearman rank
correlation. Sobol' indices (--indices) are scipy's (Saltelli 2010) on what is never null.
"""

import warnings
from collections.abc import Collection
from pathlib import Path
from typing import Any

import numpy as np

from sleevelift.batch import Batch
from sleevelift.case.schema import Case
from sleevelift.case.usual import said_range, usual_range
from sleevelift.case.walk import own_value
from sleevelift.plant.names import MEASURES, UNITS
from sleevelift.plots.studies import write_scatter
from sleevelift.reader import Reader
from sleevelift.shown import in_column, screen_unit, with_unit
from sleevelift.study.answer import Answer, Sheet, failed_lanes, failure_notes, lane_header, lane_rows
from sleevelift.study.odds import check_chance, own_points, ranged, unit_points
from sleevelift.study.store import ALONE, Work, computed, joined
from sleevelift.study.values import kind_of
from sleevelift.units import KINDS

PERCENTILES = (1.0, 50.0, 99.0)
LEAST_SAMPLE = 8
"""Runs in which a measure happened, below which no input is called its driver."""
LEAST_CORRELATION = 2.0
"""-. Times 1/sqrt(n): a rank correlation below this is not told from none (two standard deviations)."""
NOISE = 1e-9
"""-. Relative spread below which a measure counts as unchanged."""
QUALITY = ("gas_mass_error", "energy_error", "steps")
"""Measures of the computation, not of the valve."""


def correlations(inputs: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Spearman rank correlation of each column of inputs (n, d) with values (n,); zeros where there is nothing to tell."""
    from scipy.stats import rankdata

    there = np.isfinite(values)
    if there.sum() < LEAST_SAMPLE or np.ptp(values[there]) <= NOISE * np.max(np.abs(values[there])):
        return np.zeros(inputs.shape[1])
    ranks = rankdata(values[there])
    columns = np.apply_along_axis(rankdata, 0, inputs[there])
    return np.array([np.corrcoef(column, ranks)[0, 1] if np.ptp(column) > 0.0 else 0.0 for column in columns.T])


def driver(paths: list[str], rho: np.ndarray, n: int) -> str:
    """The input of largest rank correlation, with it; a dash where none stands out."""
    best = int(np.argmax(np.abs(rho)))
    return f"{paths[best]} ({rho[best]:+.2f})" if abs(rho[best]) > LEAST_CORRELATION / max(n, 1) ** 0.5 else "-"


def measure_rows(batch: Batch, inputs: np.ndarray, paths: list[str]) -> list[dict[str, Any]]:
    """Distribution and driver of each measure that happened at all."""
    rows = []
    for measure in MEASURES:
        values = batch.measures[measure.name]
        there = np.isfinite(values)
        if not there.any() or measure.name in QUALITY:
            continue
        rho = correlations(inputs, values)
        p1, p50, p99 = np.percentile(values[there], PERCENTILES).tolist()
        rows.append({"name": measure.name, "unit": UNITS[measure.name], "p1": p1, "p50": p50, "p99": p99,
                     "nulls": int((~there).sum()), "driver": driver(paths, rho, int(there.sum())),
                     "rank_correlations": dict(zip(paths, rho.tolist()))})  # fmt: skip
    return rows


def check_rows(batch: Batch, inputs: np.ndarray, paths: list[str]) -> list[dict[str, Any]]:
    """Failure chance, its interval and driver of each check, the likeliest to fail first."""
    rows = []
    for name, values in batch.checks.items():
        fails = check_chance(values, passed=False)
        rho = correlations(inputs, 1.0 - values)
        rows.append({"name": name, "runs": fails.runs, "fails": fails.hits, "chance": fails.share, "low": fails.low,
                     "high": fails.high, "driver": driver(paths, rho, fails.runs)})  # fmt: skip
    return sorted(rows, key=lambda row: (-row["fails"], row["name"]))


def sobol_table(case: Case, ranges: dict[str, tuple[float, float]], n: int, seed: int, work: Work) -> tuple[dict[str, Any], int]:
    """({measure or check: {path: (first order, total)}}, runs) from n (d + 2) runs, n a power of two."""
    from scipy.stats import sobol_indices, uniform

    base = 1 << int(np.ceil(np.log2(max(n, 2))))
    names: list[str] = []
    runs: list[Batch] = []

    def outputs(x: np.ndarray) -> np.ndarray:
        batch = computed(case, [dict(zip(ranges, row)) for row in x.T.tolist()], work, {"study": "indices", "seed": seed})
        runs.append(batch)
        found = {name: v for name, v in batch.measures.items() if name not in QUALITY} | {
            f"check {name}": v for name, v in batch.checks.items()
        }
        names[:] = list(found)
        return np.array(list(found.values()))

    dists = [uniform(low, high - low) for low, high in ranges.values()]
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")  # outputs that never change divide by a variance of 0 and are left out below
        result = sobol_indices(func=outputs, n=base, dists=dists, random_state=seed)
    everything = joined(runs)
    table = {}
    for i, name in enumerate(names):
        values = everything.checks[name[6:]] if name.startswith("check ") else everything.measures[name]
        spread = np.ptp(values) if np.isfinite(values).all() else 0.0
        if spread > 1e-9 * float(np.max(np.abs(values), initial=0.0)) and spread > 0.0:
            pairs = zip(result.first_order[i].tolist(), result.total_order[i].tolist())
            table[name] = dict(zip(ranges, pairs))
    return table, len(everything)


def _sheets(measures: list[dict[str, Any]], checks: list[dict[str, Any]], reader: Reader) -> list[Sheet]:
    rows = [
        (r["name"], screen_unit(r["name"], reader), *[in_column(r["name"], r[p], reader) for p in ("p1", "p50", "p99")],
         str(r["nulls"]), r["driver"]) for r in measures
    ]  # fmt: skip
    spread = [row for row in rows if row[2] != row[4] or row[5] != "0"]
    table = Sheet(
        "Measures (those that change)", ("measure", "unit", "P1", "P50", "P99", "nulls", "driven by (rank corr.)"), spread
    )
    chances = [
        (r["name"], f"{r['fails']} / {r['runs']}", f"{100 * r['chance']:.1f} %", f"{100 * r['low']:.1f} .. {100 * r['high']:.1f} %",
         r["driver"]) for r in checks
    ]  # fmt: skip
    return [table, Sheet("Checks", ("check", "fails", "chance", "95 % interval", "driven by (rank corr.)"), chances)]


MOVED = ("opening_time", "oxidizer_lead", "shutdown_oxidizer_lag", "closing_time")
"""Measures by which what is not known is ranked, the first that happened and changed counting."""


def measure_first(case: Case, measures: list[dict[str, Any]], paths: list[str], n: int) -> list[dict[str, Any]]:
    """Ranged values by how far their range moves the first of `MOVED`: rank correlation times P1 to P99, s; 0 where that is "
    "not told
    from none in n runs."""
    found = {row["name"]: row for row in measures if row["name"] in MOVED and row["p99"] - row["p1"] > NOISE * abs(row["p50"])}
    least = LEAST_CORRELATION / max(n, 1) ** 0.5

    def moved(row: dict[str, Any], path: str) -> float:
        rho = abs(row["rank_correlations"][path])
        return float(rho * (row["p99"] - row["p1"])) if rho > least else 0.0

    rows = [
        {"path": path, "range": case.ranges[path], "moves": {name: moved(row, path) for name, row in found.items()}}
        for path in paths
    ]
    leading = next((name for name in MOVED if name in found), "")
    return sorted(rows, key=lambda row: -row["moves"].get(leading, 0.0))


def first_sheet(case: Case, rows: list[dict[str, Any]], stated: Collection[str]) -> Sheet:
    """What to measure first."""
    names = [name for name in MOVED if any(name in row["moves"] for row in rows)]
    cells = []
    for row in rows[:LISTED_FIRST]:
        usual = usual_range(row["path"], own_value(case, row["path"]))
        whence = "stated" if row["path"] in stated else f"usual: {usual.source}" if usual is not None else "usual"
        moved = [f"{1e3 * row['moves'][name]:.3g}" if row["moves"][name] else "-" for name in names]
        cells.append((row["path"], said_range(case, row["path"], *row["range"]), *moved, whence))
    heads = [f"moves {name}, ms" for name in names]
    more = "" if len(rows) <= LISTED_FIRST else f", {LISTED_FIRST} of {len(rows)}"
    return Sheet(f"Measure this first (range of a value; by how much it moves){more}", ("value", "range", *heads, "whence"), cells)


LISTED_FIRST = 10
"""Values listed; all are in the JSON."""


def usual_notes(case: Case, paths: list[str], stated: Collection[str] | None) -> list[str]:
    """That values were varied over ranges that the case does not state."""
    assumed = [] if stated is None else [path for path in paths if path not in stated]
    if not assumed:
        return []
    return [
        f"{len(assumed)} values that carry no range vary over their usual one, as `show --unsure` lists them: a guess, no "
        "tolerance. "
        "--unsure none leaves them as they are."
    ]


def _index_sheet(table: dict[str, Any], paths: list[str]) -> Sheet:
    rows = [(name, *[f"{row[p][0]:.2f} / {row[p][1]:.2f}" for p in paths]) for name, row in table.items()]
    return Sheet("Sobol' indices (first order / total)", ("of", *paths), rows)


def sentence_of(n: int, measures: list[dict[str, Any]], checks: list[dict[str, Any]]) -> str:
    """The likeliest failure, and the spread of the opening time."""
    failing = [row for row in checks if row["fails"]]
    if failing:
        worst = failing[0]
        others = f"; further checks that fail: {len(failing) - 1}" if len(failing) > 1 else ""
        first = (
            f"{worst['name']} fails in {100 * worst['chance']:.1f} % of {n} runs "
            f"(95 % interval {100 * worst['low']:.1f} to {100 * worst['high']:.1f} %){others}"
        )
    else:
        upper = max((row["high"] for row in checks), default=float("nan"))
        first = f"No check fails in {n} runs (each fails in less than {100 * upper:.2g} % of cases, at 95 %)"
    opening = next((row for row in measures if row["name"] == "opening_time"), None)
    if opening is None:
        return f"{first}; it never opened."
    return (
        f"{first}; opening_time is {with_unit('opening_time', opening['p50'])}, from {with_unit('opening_time', opening['p1'])} "
        f"(P1) to {with_unit('opening_time', opening['p99'])} (P99), driven by {opening['driver']}."
    )


def scatter_study(
    case: Case,
    n: int,
    seed: int = 0,
    sampler: str = "lhs",
    work: Work = ALONE,
    indices: bool = False,
    stated: Collection[str] | None = None,
) -> Answer:
    """Scatter the case over its ranges; with `indices` also n (d + 2) runs for Sobol' indices. stated: paths whose range the case
    itself states, where others have their usual one."""
    ranges = ranged(case)
    paths = list(ranges)
    points, lanes = own_points(case, unit_points(len(paths), n, seed, sampler), paths)  # each point's margins are its own
    batch = computed(points, lanes, work, {"study": "scatter", "n": n, "seed": seed, "sampler": sampler})
    inputs = np.array([list(lane.values()) for lane in lanes])
    measures, checks = measure_rows(batch, inputs, paths), check_rows(batch, inputs, paths)
    failed = failed_lanes(batch, lanes)
    sheets = _sheets(measures, checks, case.reader)
    first = measure_first(case, measures, paths, len(lanes))
    sheets.insert(0, first_sheet(case, first, paths if stated is None else stated))
    data: dict[str, Any] = {"n": len(lanes), "seed": seed, "sampler": sampler, "distribution": "uniform over each range",
                            "ranges": ranges, "measures": measures, "checks": checks, "measure_first": first,
                            "failed_runs": failed}  # fmt: skip
    if indices:
        table, runs = sobol_table(points, ranges, n, seed, work)
        sheets.append(_index_sheet(table, paths))
        data["indices"] = {"runs": runs, "table": table}
    names = {"lhs": "Latin hypercube", "sobol": "Sobol"}
    notes = [
        *usual_notes(case, paths, stated),
        f"{len(lanes)} {names[sampler]} points, seed {seed}, over {len(paths)} ranged values, each uniform over its range.",
        "Margins are those of each point's own values, not the worst over the ranges as check and run give them.",
        *failure_notes(failed, len(lanes)),
    ]

    def draw(path: Path) -> Any:
        return write_scatter(case, sentence_of(len(lanes), measures, checks), measures, checks, batch, path)

    si_units = {path: KINDS[kind_of(case, path)].si_unit for path in paths}
    header = lane_header(paths, sorted(batch.checks), si_units)
    sentence = sentence_of(len(lanes), measures, checks)
    return Answer("scatter", case, sentence, sheets, notes, header, lane_rows(batch, lanes, paths), data, draw)
