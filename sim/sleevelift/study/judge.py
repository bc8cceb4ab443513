"""Designs judged: each is run at nominal values and over points of the stated ranges, and every target gets its worst slack.

    points: nominal; every ranged value at its low end; at its high end; Latin hypercube points over all ranges

At each of them a margin is the worst over the ranges: that is the slack, a worst case which holds or does not. The chance that a
target holds is counted on the Latin hypercube points again, each with margins of its own values (`sleevelift.study.odds`).

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
from sleevelift.plant.names import NAMES
from sleevelift.sequence.items import is_commanded
from sleevelift.study.odds import Chance, chance, check_chance, holds, own_cases, scaled, unit_points, wide_ranges
from sleevelift.study.spring_moves import spring_followers, spring_slacks, with_moves, wound_anew
from sleevelift.study.store import Work, computed
from sleevelift.study.targets import MISSED, Target, target_slack

ALWAYS = ("spring_travel_to_solid", "spring_stress", "running_clearance")
"""Checks that a design must pass even where the case as written fails them: else it cannot be made."""
ENDS = "opens and ends closed"
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
        """Nominal first, the points of the ranges, which move with the design, then those with margins of their own.

        CaseError where there is no such case.
        """
        design = with_moves(self.case, values)
        if not self.wide:
            return [design]
        over = {path: design.ranges[path] for path in self.wide}
        worst = [with_values(design, point, check=False) for point in scaled(self.points, over)]
        return [design, *worst, *(own_cases(design, self.scattered, self.wide) if len(self.scattered) else [])]

    def judged(self, designs: Sequence[dict[str, float]]) -> list[Design]:
        """Each design with its slacks, computed side by side; what has been judged is not computed again."""
        new = {tuple(values.values()): values for values in designs if tuple(values.values()) not in self.seen}
        lanes: dict[tuple[float, ...], list[Override | Case]] = {}
        for key, values in new.items():
            try:
                lanes[key] = self.lanes(values)
            except CaseError as error:
                self.seen[key] = self.refused(values, str(error).splitlines()[0])
        every = [lane for part in lanes.values() for lane in part]
        if every:
            batch = computed(self.case, every, self.work, {"study": "choose", "seed": self.seed})
            start = 0
            for key, part in lanes.items():
                self.seen[key] = self.design_of(new[key], part, batch, start)
                start += len(part)
            self.runs += len(every)
        return [self.seen[tuple(values.values())] for values in designs]

    def refused(self, values: dict[str, float], why: str) -> Design:
        """A design that makes no case."""
        slacks = dict.fromkeys([target.text for target in self.targets if not target.kept], MISSED)
        follows = spring_followers(self.case, values)
        return Design(values, follows, MISSED, slacks, dict.fromkeys(NAMES, np.nan), 0, {}, [], why)

    def design_of(self, values: dict[str, float], lanes: Sequence[Override | Case], batch: Batch, start: int) -> Design:
        """The design of some rows of a batch."""
        end = start + len(lanes)
        worst, own = slice(start, end - len(self.scattered)), slice(end - len(self.scattered), end)
        slacks, odds = {}, {}
        for target in self.targets:
            slacks[target.text] = float(target_slack(target, batch.measures[target.measure][worst]).min())
            odds[target.text] = chance(holds(target, batch, own))
        for name, passed in self._duty(batch).items():
            odds[name] = check_chance(passed[own], passed=True)
            failed = passed[worst] == 0.0
            if failed.any():
                slacks[name] = MISSED * float(np.mean(failed))
        design = lanes[0]
        if isinstance(design, Case) and wound_anew(values):
            slacks |= spring_slacks(design)
        failures = [
            {"design": values, "point": lane - start, "inputs": self._inputs(lanes[lane - start]), "sentence": text}
            for lane, text in sorted(batch.failures.items()) if start <= lane < end
        ]  # fmt: skip
        nominal = {name: float(batch.measures[name][start]) for name in NAMES}
        follows = spring_followers(self.case, values)
        slack = counted_slack(self.targets, slacks)
        kept = odds if len(self.scattered) else {}
        return Design(values, follows, slack, slacks, nominal, len(lanes), kept, failures, None)

    def _duty(self, batch: Batch) -> dict[str, np.ndarray]:
        """What every run must do beside its targets -> 1 where it did, 0 where not, NaN where a check was not made."""
        ends = (batch.outcomes == OUTCOMES[is_commanded(self.case, "solenoid", on=False)]).astype(float)
        names = [name for name in dict.fromkeys([*ALWAYS, *self.other_checks]) if name in batch.checks]
        return {ENDS: ends, **{f"check {name}": batch.checks[name] for name in names}}

    def _inputs(self, lane: Override | Case) -> dict[str, Any]:
        changes = lane.changes if isinstance(lane, Case) else lane
        return {path: changes[path] for path in self.wide if path in changes}
