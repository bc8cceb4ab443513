"""Designs judged: each is run at nominal values and over points of the stated ranges, and every target gets its worst slack.

    points: nominal; every ranged value at its low end; at its high end; Latin hypercube points over all ranges

At each of them a margin is the worst over the ranges: that is the slack, a worst case which holds or does not. The chance that a
target holds is counted on the Latin hypercube points, each with margins of its own values (`sleevelift.study.odds`): nothing but
margins knows the ranges, and what holds in the worst case holds with a point's own values, which are one of them. So only points
at which a margin misses its target or check in the worst case are run again, with their own.

A run that does not open and end closed, a check that is lost, and values that make no case count as a slack of `MISSED`. What a
design has to spare in a kept check or in a rule of the spring counts as 0: only what is broken pulls its worst slack down.
"""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from sleevelift.batch import Batch, Override
from sleevelift.case.faults import CaseError
from sleevelift.case.read import with_values
from sleevelift.case.schema import Case
from sleevelift.margin_words import MARGINS
from sleevelift.plant.names import NAMES
from sleevelift.sequence.items import is_commanded
from sleevelift.study.odds import Chance, chance, check_chance, holds, own_cases, scaled, unit_points, wide_ranges
from sleevelift.study.spring_moves import spring_followers, spring_slacks, with_moves, wound_anew
from sleevelift.study.store import Work, computed, part_rows
from sleevelift.study.targets import MISSED, Target, target_slack

ALWAYS = ("spring_travel_to_solid", "spring_stress", "running_clearance")
"""Checks that a design must pass even where the case as written fails them: else it cannot be made."""
ENDS = "opens and ends closed"
CHECK = "check "
"""Begin of the name of a check among what a design must do."""
OF_RANGES = frozenset(MARGINS)
"""Measures, and checks of their name, that are the worst over the ranges of the case."""
TIE = 1e-3
"""-. Weight of all that is missed beside the worst: tells the search which way is less wrong."""
OUTCOMES = {True: "opened-and-closed", False: "opened-no-off-command"}
"""Whether the case has an off command -> the outcome of a run that did its duty."""


class Design(NamedTuple):
    """One design, judged."""

    values: dict[str, float]
    """what moves, SI"""
    follows: dict[str, float]
    """what follows from the moves (a spring wound anew), SI"""
    slack: float
    """worst over targets, kept checks and points"""
    slacks: dict[str, float]
    """target -> its worst slack over the points"""
    measures: dict[str, float]
    """nominal, SI"""
    runs: int
    odds: dict[str, Chance]
    """target -> chance that it holds, each point's own values counted; empty where none were asked for"""
    failures: list[dict[str, Any]]
    """runs that failed or did not come to their end, with their inputs"""
    refusal: str | None
    """why these values make no case"""

    @property
    def score(self) -> float:
        """What the search raises: the worst slack, and a little of everything that is missed."""
        return self.slack + TIE * sum(min(slack, 0.0) for slack in self.slacks.values())

    @property
    def complete(self) -> dict[str, float]:
        """Every value that differs from the case as written."""
        return {**self.values, **self.follows}


def counted_slack(targets: Sequence[Target], slacks: Mapping[str, float]) -> float:
    """Worst slack; to spare counts only in the designer's own targets."""
    own = {target.text for target in targets if not target.kept}
    return min(slack if name in own else min(slack, 0.0) for name, slack in slacks.items() if name in own or slack < 0.0)


def given_up(design: Design, own: Design) -> list[str]:
    """What the case as written holds and this design misses. A name without a slack holds."""
    return [name for name, slack in design.slacks.items() if slack < 0.0 <= own.slacks.get(name, 0.0)]


class Found(NamedTuple):
    """What a search leaves."""

    shown: list[Design]
    """confirmed, the best first"""
    holds: bool
    own: Design
    """the case as written, confirmed"""
    screened: list[Design]
    """every design of the search, the best first"""
    rejected: int
    """candidates that held in the search and not in the confirmation"""
    runs: int
    screen_points: int
    confirm_points: int


class Judge:
    """Judges designs of one case against targets over the same points of the ranges for every design."""

    def __init__(
        self, case: Case, targets: Sequence[Target], passed: Mapping[str, bool], points: int, seed: int, work: Work,
        odds: bool = False,
    ) -> None:  # fmt: skip
        """`points`: Latin hypercube points; `passed`: the checks of the case as written; `odds`: count chances as well."""
        self.case, self.targets, self.work, self.seed = case, targets, work, seed
        self.runs = 0
        self.seen: dict[tuple[float, ...], Design] = {}
        numbered = {target.measure for target in targets}
        self.other_checks = [name for name, ok in passed.items() if ok and name not in numbered and name not in ("opens", "closes")]
        self.wide = list(wide_ranges(case))
        d = len(self.wide)
        scattered = unit_points(d, points, seed) if points and d else np.zeros((0, d))
        self.points = np.concatenate([np.zeros((1, d)), np.ones((1, d)), scattered]) if d else np.zeros((0, 0))
        self.scattered = scattered if odds else np.zeros((0, d))

    def lanes(self, values: dict[str, float]) -> list[Override | Case]:
        """Nominal first, then the points of the ranges, which move with the design. CaseError where there is no such case."""
        design = with_moves(self.case, values)
        if not self.wide:
            return [design]
        over = {path: design.ranges[path] for path in self.wide}
        return [design, *[with_values(design, point, check=False) for point in scaled(self.points, over)]]

    def judged(self, designs: Sequence[dict[str, float]]) -> list[Design]:
        """Each design with its slacks, computed side by side; what has been judged is not computed again."""
        new = {tuple(values.values()): values for values in designs if tuple(values.values()) not in self.seen}
        lanes: dict[tuple[float, ...], list[Override | Case]] = {}
        for key, values in new.items():
            try:
                lanes[key] = self.lanes(values)
            except CaseError as error:
                self.seen[key] = self.refused(values, str(error).splitlines()[0])
        if lanes:
            batches = dict(zip(lanes, self._computed(list(lanes.values()))))
            again = {key: self.missed_by_margins(batches[key]) if len(self.scattered) else np.zeros(0, np.int64) for key in lanes}
            cases = [self._own_cases(lanes[key][0], places) for key, places in again.items()]
            for (key, part), mine, own in zip(lanes.items(), cases, self._computed(cases)):
                self.seen[key] = self.design_of(new[key], part, batches[key], again[key], mine, own)
        return [self.seen[tuple(values.values())] for values in designs]

    def _computed(self, parts: Sequence[Sequence[Override | Case]]) -> list[Batch]:
        """A batch for each part, all computed side by side."""
        every = [lane for part in parts for lane in part]
        self.runs += len(every)
        batch = computed(self.case, every, self.work, {"study": "choose", "seed": self.seed})
        ends = np.cumsum([0, *map(len, parts)]).tolist()
        return [part_rows(batch, start, end) for start, end in zip(ends, ends[1:])]

    def _own_cases(self, design: Override | Case, places: np.ndarray) -> list[Override | Case]:
        """Scattered points at these places, with margins of their own values."""
        if not len(places):
            return []
        assert isinstance(design, Case), "the first lane is the design itself"
        return list(own_cases(design, self.scattered[places], self.wide))

    def missed_by_margins(self, batch: Batch) -> np.ndarray:
        """Places in `scattered` at which a margin misses in the worst case: with the point's own values it may hold. A target that
        wants a margin low may hold in the worst case and miss so: then every point is one."""
        rows = slice(len(batch) - len(self.scattered), len(batch))
        margins = [target for target in self.targets if target.measure in OF_RANGES]
        if any(np.isfinite(target.high) for target in margins):
            return np.arange(len(self.scattered))
        missed = np.zeros(len(self.scattered), dtype=bool)
        for target in margins:
            missed |= ~holds(target, batch, rows)
        for name, passed in self._duty(batch).items():
            if name.removeprefix(CHECK) in OF_RANGES:
                missed |= passed[rows] == 0.0
        return np.flatnonzero(missed)

    def refused(self, values: dict[str, float], why: str) -> Design:
        """A design that makes no case."""
        slacks = dict.fromkeys([target.text for target in self.targets if not target.kept], MISSED)
        follows = spring_followers(self.case, values)
        return Design(values, follows, MISSED, slacks, dict.fromkeys(NAMES, np.nan), 0, {}, [], why)

    def design_of(
        self, values: dict[str, float], lanes: Sequence[Override | Case], batch: Batch, again: np.ndarray,
        own_lanes: Sequence[Override | Case], own: Batch,
    ) -> Design:  # fmt: skip
        """A design from the batch of its lanes, and from that of the scattered points that were run `again`."""
        rows = slice(len(lanes) - len(self.scattered), len(lanes))
        slacks, odds = {}, {}
        for target in self.targets:
            slacks[target.text] = float(target_slack(target, batch.measures[target.measure]).min())
            so = holds(target, batch, rows)
            so[again] = holds(target, own, slice(0, len(own)))
            odds[target.text] = chance(so)
        duty = self._duty(own)
        for name, passed in self._duty(batch).items():
            with_own = passed[rows].copy()
            with_own[again] = duty.get(name, np.full(len(own), np.nan))
            odds[name] = check_chance(with_own, passed=True)
            failed = passed == 0.0
            if failed.any():
                slacks[name] = MISSED * float(np.mean(failed))
        design = lanes[0]
        if isinstance(design, Case) and wound_anew(values):
            slacks |= spring_slacks(design)
        failures = [
            {"design": values, "point": lane, "inputs": self._inputs(part[lane]), "sentence": text}
            for part, found in ((lanes, batch), (own_lanes, own)) for lane, text in sorted(found.failures.items())
        ]  # fmt: skip
        nominal = {name: float(batch.measures[name][0]) for name in NAMES}
        follows = spring_followers(self.case, values)
        slack = counted_slack(self.targets, slacks)
        kept = odds if len(self.scattered) else {}
        return Design(values, follows, slack, slacks, nominal, len(lanes) + len(own_lanes), kept, failures, None)

    def _duty(self, batch: Batch) -> dict[str, np.ndarray]:
        """What every run must do beside its targets -> 1 where it did, 0 where not, NaN where a check was not made."""
        ends = (batch.outcomes == OUTCOMES[is_commanded(self.case, "solenoid", on=False)]).astype(float)
        names = [name for name in dict.fromkeys([*ALWAYS, *self.other_checks]) if name in batch.checks]
        return {ENDS: ends, **{f"{CHECK}{name}": batch.checks[name] for name in names}}

    def _inputs(self, lane: Override | Case) -> dict[str, Any]:
        changes = lane.changes if isinstance(lane, Case) else lane
        return {path: changes[path] for path in self.wide if path in changes}
