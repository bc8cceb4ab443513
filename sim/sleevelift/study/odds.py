"""Points of the stated ranges, and the chance that something holds over them: one way for every study.

    bare, points = own_points(case, unit_points(d, n, seed), paths)   runs with margins of their own values
    chance(held)                                                       share of the points at which it held, with its interval

Assumption: each ranged value is uniform over its range and independent of the others (the case states no more). A margin of
`check` and `run` is the worst over the ranges, so over scattered points it would hold at all or at none: a chance is counted on
each point's own values, and the worst case stands beside it as a yes or a no. The interval is Wilson's, 95 % (Wilson, J. Am. Stat.
Assoc. 22, 1927).
"""

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from sleevelift.batch import Batch
from sleevelift.case.change import without_ranges
from sleevelift.case.read import with_values
from sleevelift.case.schema import Case
from sleevelift.study.targets import Target, target_slack
from sleevelift.study.values import refused

CONFIDENCE = 0.95
"""-. Of the interval of a chance."""
SAMPLERS = ("lhs", "sobol")
MOST_RUNS = 1_000_000
Ranges = dict[str, tuple[float, float]]


class Chance(NamedTuple):
    """How often something is so, of `runs` scattered points."""

    share: float
    """NaN where there is no point"""
    low: float
    high: float
    """ends of Wilson's interval"""
    hits: int
    """points at which it is so"""
    runs: int


def wide_ranges(case: Case) -> Ranges:
    """path -> (low, high) SI of every value that carries a range of some width."""
    return {path: ends for path, ends in sorted(case.ranges.items()) if ends[1] > ends[0]}


def ranged(case: Case) -> Ranges:
    """The same, refused where there is none."""
    found = wide_ranges(case)
    if not found:
        raise refused(case.name, "no value carries a range: write one such as { value = ..., plus_minus = ... } to scatter it")
    return found


def unit_points(dimensions: int, n: int, seed: int, sampler: str = "lhs") -> np.ndarray:
    """(n, dimensions) points in the unit cube; Sobol points are a power of two in number (n is raised to it)."""
    from scipy.stats import qmc

    if sampler not in SAMPLERS:
        raise refused(f"--sampler {sampler}", f"must be one of {', '.join(SAMPLERS)}")
    if not 2 <= n <= MOST_RUNS:
        raise refused(f"--n {n}", f"must be from 2 to {MOST_RUNS}")
    if sampler == "sobol":
        return np.asarray(qmc.Sobol(dimensions, seed=seed).random_base2(int(np.ceil(np.log2(n)))))
    return np.asarray(qmc.LatinHypercube(dimensions, seed=seed).random(n))


def scaled(points: np.ndarray, ranges: Ranges) -> list[dict[str, float]]:
    """Points of the unit cube as overrides, uniform over each range."""
    low = np.array([ends[0] for ends in ranges.values()])
    high = np.array([ends[1] for ends in ranges.values()])
    return [dict(zip(ranges, row)) for row in (low + points * (high - low)).tolist()]


def own_points(case: Case, points: np.ndarray, paths: Iterable[str]) -> tuple[Case, list[dict[str, float]]]:
    """(the case without ranges, one override per point): runs of these have margins of their own values.

    `points`: (n, d) in the unit cube; `paths`: the d values of the case that carry a range.
    """
    ranges = case.ranges
    return without_ranges(case), scaled(points, {path: ranges[path] for path in paths})


def own_cases(case: Case, points: np.ndarray, paths: Iterable[str]) -> list[Case]:
    """The same points as cases, for studies that run several designs side by side."""
    bare, overrides = own_points(case, points, paths)
    return [with_values(bare, override, check=False) for override in overrides]


def chance(so: np.ndarray | Iterable[bool]) -> Chance:
    """How often something is so; `so`: (runs,) booleans, one per scattered point.

    >>> [round(v, 4) for v in chance([False] * 10)]
    [0.0, 0.0, 0.2775, 0, 10]
    """
    from scipy.stats import binomtest

    flags = np.asarray(list(so), dtype=bool)
    hits, runs = int(flags.sum()), len(flags)
    if runs == 0:
        return Chance(float("nan"), 0.0, 1.0, 0, 0)
    interval = binomtest(hits, runs).proportion_ci(CONFIDENCE, method="wilson")
    return Chance(hits / runs, float(interval.low), float(interval.high), hits, runs)


def check_chance(values: np.ndarray, passed: bool) -> Chance:
    """How often a check passed, or failed; `values`: 1 passed, 0 failed, NaN not made (which is not counted)."""
    made = values[np.isfinite(values)]
    return chance((made != 0.0) == passed)


def holds(target: Target, batch: Batch, rows: slice) -> np.ndarray:
    """Whether a target holds in these runs; what did not happen does not hold."""
    return target_slack(target, batch.measures[target.measure][rows]) >= 0.0


def chance_text(odds: Chance | None) -> str:
    """A chance with its interval, per cent; a dash where none was counted."""
    if odds is None or odds.runs == 0:
        return "-"
    return f"{100 * odds.share:.1f} % ({100 * odds.low:.1f} .. {100 * odds.high:.1f})"
