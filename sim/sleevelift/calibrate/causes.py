"""Single causes of a measured number: each value of the case moved alone until the run shows what was measured.

    found(case, number, work) -> [Cause, ...]      the most plausible first

A value is moved in widths s of its usual range: s = 0 as it stands in the case, 1 at the high end of what is usual, -1 at the low
end, by ratio where a value cannot be negative. Scanned from -6 to 6, the crossing nearest to 0 refined by runs.
"""

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from sleevelift.calibrate.data import TWO_SIDED, Number
from sleevelift.calibrate.free import own_unit
from sleevelift.calibrate.usual import usual_range
from sleevelift.case.read import CaseError, with_values
from sleevelift.case.schema import Case
from sleevelift.case.walk import bound_fault, info_at, joined, own_value, split, values
from sleevelift.shown import INSTANTS
from sleevelift.study.store import ALONE, Work, computed

TABLES = (
    "supply", "solenoid", "tube", "quick_exhaust", "lift_chamber", "spring_side", "sleeve", "spring", "seals", "bench", "oxidizer",
    "fuel", "slots", "seat", "chamber", "igniter",
)  # fmt: skip
"""Tables whose values may be the cause."""
NO_CAUSE = ("rated", "allowable", "_limit", "relief", "restitution", "yield", "material", "shear_modulus", "hardness")
"""Parts of names of values that are limits, or that do nothing before the first impact."""
SCAN = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.5, 6.0)
"""s at which each side is tried."""
REFINED, INSIDE = 3, 5
"""Rounds of refinement, and runs inside the bracket in each."""
LEAST_WIDTH = 0.1
"""-. A usual range reaches at least so far from the value, as a share of it."""
LEAK = 5e-8
"""m2. What is usual at most of a leak that the case states as none: a guess."""
NO_EFFECT = 0.1
"""-. Share of the difference to explain; a value that moves the number less within its scan is not named."""
USUAL, STRETCHED = 1.0, 2.0
"""s up to which a cause is called usual, and unusual; beyond that far-fetched."""


class Candidate(NamedTuple):
    """A value that may be the cause."""

    path: str
    kind: str
    unit: str
    own: float
    low: float
    high: float
    """usual range, SI"""
    known: bool

    def value(self, s: float) -> float:
        """Value, SI, at s widths."""
        end = self.high if s > 0.0 else self.low
        if self.own > 0.0 and end > 0.0:
            return self.own * (end / self.own) ** abs(s)
        return self.own + (end - self.own) * abs(s)


class Cause(NamedTuple):
    """A value that alone explains the number."""

    candidate: Candidate
    value: float
    """SI"""
    s: float
    """widths of its usual range away from the case"""
    half: float
    """SI, half-width of its 90 % interval from the number's own"""
    refusal: str = ""
    """why no case has that value beside the others, if so"""

    @property
    def word(self) -> str:
        """How plausible."""
        far = abs(self.s)
        return "usual" if far <= USUAL else "unusual" if far <= STRETCHED else "far-fetched"


class Search(NamedTuple):
    """All that was looked at."""

    before: float
    """the number as the case has it, SI"""
    causes: tuple[Cause, ...]
    short: tuple[tuple[Candidate, float], ...]
    """values that move the number the right way but not so far: the nearest that they come to, SI"""
    tried: int


def candidates(case: Case) -> list[Candidate]:
    """Every number of the machine that may differ from what the case says."""
    found: dict[str, Candidate] = {}
    for path in values(case):
        name = ".".join(part for part in path.split(".") if not part.isdigit())
        if path.split(".")[0] not in TABLES or name in found or any(part in name for part in NO_CAUSE):
            continue
        info = info_at(split(path))
        own = own_value(case, name) if info is not None and info.quantity is not None and not info.is_list else None
        if info is None or info.quantity is None or not isinstance(own, float):
            continue
        usual = usual_range(name, own)
        if path in case.ranges:
            low, high = case.ranges[path]
        elif own == 0.0:
            if "leak_area" not in name:
                continue
            low, high = 0.0, LEAK
        else:
            low, high = usual.low, usual.high
        wide = LEAST_WIDTH * abs(own) if not usual.known or path not in case.ranges else 0.0
        if not usual.known:
            low, high = min(low, own - wide), max(high, own + wide)
        if low >= own and own > 0.0:
            low = own * (1.0 - LEAST_WIDTH)
        if high <= own and own > 0.0:
            high = own * (1.0 + LEAST_WIDTH)
        found[name] = Candidate(
            name, info.quantity.kind, own_unit(case, path, info.quantity.kind, own or high), own, low, high, usual.known
        )
    return list(found.values())


def allowed(candidate: Candidate, s: float) -> bool:
    """Whether the schema allows the value at s."""
    path = candidate.path.replace("slots.row.", "slots.row.0.")
    info = info_at(split(path))
    value = candidate.value(s)
    return info is not None and math.isfinite(value) and bound_fault(value, info.field) is None


def _numbers(case: Case, number: Number, lanes: Sequence[Mapping[str, float]], work: Work) -> np.ndarray:
    """The number of each lane, SI; NaN where it did not happen or the values make no case."""
    batch = computed(case, list(lanes), work, {"measure": number.measure})
    found = batch.measures[number.measure]
    return found - np.nan_to_num(batch.measures["energize_time"]) if number.measure in INSTANTS else found


def crossing(s: np.ndarray, y: np.ndarray) -> tuple[float, float] | None:
    """The bracket nearest to 0 in which y changes sign; s increasing. None where there is none."""
    best = None
    for a, b, ya, yb in zip(s[:-1], s[1:], y[:-1], y[1:]):
        if np.isfinite(ya) and np.isfinite(yb) and ya * yb <= 0.0 and (best is None or min(abs(a), abs(b)) < min(map(abs, best))):
            best = float(a), float(b)
    return best


def _refusal(case: Case, path: str, value: float) -> str:
    """The first rule that the value breaks beside the others of the case; empty where it breaks none."""
    try:
        with_values(case, {path: value})
    except CaseError as error:
        fault = error.faults[0]
        return f"{joined(fault.path)} {fault.rule.split(';')[0]}"
    return ""


def _cause(case: Case, one: Candidate, s: float, slope: float, number: Number) -> Cause:
    """A cause at s, with the interval that the number's own uncertainty gives it; slope: of the number, SI, by s."""
    per_width = abs(one.value(s + 1e-4) - one.value(s - 1e-4)) / 2e-4
    half = TWO_SIDED * number.sigma / abs(slope) * per_width if slope else math.inf
    return Cause(one, one.value(s), s, half, _refusal(case, one.path, one.value(s)))


def found(case: Case, number: Number, work: Work = ALONE, only: Sequence[str] = ()) -> Search:
    """All single causes of a measured number. `only`: these values alone."""
    every = [one for one in candidates(case) if not only or one.path in only]
    scan = [[s for s in sorted([*(-k for k in SCAN), *SCAN]) if allowed(one, s)] for one in every]
    lanes: list[dict[str, float]] = [{}]
    lanes += [{one.path: one.value(s)} for one, mine in zip(every, scan) for s in mine]
    y = _numbers(case, number, lanes, work) - number.value
    before, at = float(y[0]), 1
    points: list[tuple[np.ndarray, np.ndarray]] = []
    for mine in scan:
        s = np.array([*mine, 0.0])
        order = np.argsort(s)
        points.append((s[order], np.append(y[at : at + len(mine)], before)[order]))
        at += len(mine)
    brackets = {k: bracket for k, (s, rest) in enumerate(points) if (bracket := crossing(s, rest)) is not None}
    slopes: dict[int, float] = {}
    for _ in range(REFINED):
        inside = {k: np.linspace(a, b, INSIDE + 2) for k, (a, b) in brackets.items()}
        lanes = [{every[k].path: every[k].value(float(s))} for k, grid in inside.items() for s in grid]
        rest = _numbers(case, number, lanes, work) - number.value
        for i, (k, grid) in enumerate(inside.items()):
            mine_y = rest[i * (INSIDE + 2) : (i + 1) * (INSIDE + 2)]
            bracket = crossing(grid, mine_y)
            if bracket is not None:
                a, b = (int(np.flatnonzero(grid == end)[0]) for end in bracket)
                slopes[k] = float((mine_y[b] - mine_y[a]) / (grid[b] - grid[a]))
                brackets[k] = bracket
    causes = [_cause(case, every[k], 0.5 * sum(bracket), slopes.get(k, 0.0), number) for k, bracket in brackets.items()]
    short = []
    for k, (_, rest) in enumerate(points):
        gain = abs(before) - np.nanmin(np.abs(rest)) if np.isfinite(rest).any() else 0.0
        if k not in brackets and gain > NO_EFFECT * abs(before):
            short.append((every[k], float(rest[np.nanargmin(np.abs(rest))] + number.value)))
    causes.sort(key=lambda one: abs(one.s))
    short.sort(key=lambda one: abs(one[1] - number.value))
    return Search(before + number.value, tuple(causes), tuple(short), len(every))
