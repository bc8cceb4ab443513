"""Designs judged: each is run at nominal values and over points of the stated ranges, and every target gets its worst slack.

    points: nominal; every ranged value at its low end; at its high end; Latin hypercube points over all ranges

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
from sleevelift.study.scatter import fail_chance, scaled, unit_points
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
    held: dict[str, tuple[int, int]]
    """target -> (points at which it held, points)"""
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


class Judge:
    """Judges designs of one case against targets over the same points of the ranges for every design."""

    def __init__(
        self, case: Case, targets: Sequence[Target], passed: Mapping[str, bool], points: int, seed: int, work: Work
    ) -> None:
        """`points`: Latin hypercube points; `passed`: the checks of the case as written."""
        self.case, self.targets, self.work, self.seed = case, targets, work, seed
        self.runs = 0
        self.seen: dict[tuple[float, ...], Design] = {}
        numbered = {target.measure for target in targets}
        self.other_checks = [name for name, ok in passed.items() if ok and name not in numbered and name not in ("opens", "closes")]
        self.wide = [path for path, ends in sorted(case.ranges.items()) if ends[1] > ends[0]]
        d = len(self.wide)
        parts = [np.zeros((1, d)), np.ones((1, d)), *([unit_points(d, points, seed, "lhs")] if points else [])]
        self.points = np.concatenate(parts) if d else np.zeros((0, 0))

    def lanes(self, values: dict[str, float]) -> list[Override | Case]:
        """Nominal first, then the points of the ranges, which move with the design. CaseError where there is no such case."""
        design = with_moves(self.case, values)
        if not self.wide:
            return [design]
        over = {path: design.ranges[path] for path in self.wide}
        return [design, *[with_values(design, point) for point in scaled(self.points, over)]]

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
        rows = slice(start, start + len(lanes))
        n = len(lanes)
        slacks, held = {}, {}
        for target in self.targets:
            each = target_slack(target, batch.measures[target.measure][rows])
            slacks[target.text], held[target.text] = float(each.min()), (int(np.sum(each >= 0.0)), n)
        duty = {ENDS: batch.outcomes[rows] == OUTCOMES[bool(self.case.solenoid.off)]}
        for name in dict.fromkeys([*ALWAYS, *self.other_checks]):
            if name in batch.checks:
                duty[f"check {name}"] = batch.checks[name][rows] != 0.0
        for name, good in duty.items():
            held[name] = (int(np.sum(good)), n)
            if not bool(np.all(good)):
                slacks[name] = MISSED * float(np.mean(~good))
        design = lanes[0]
        if isinstance(design, Case) and wound_anew(values):
            slacks |= spring_slacks(design)
        failures = [
            {"design": values, "point": lane - start, "inputs": self._inputs(lanes[lane - start]), "sentence": text}
            for lane, text in sorted(batch.failures.items()) if start <= lane < rows.stop
        ]  # fmt: skip
        nominal = {name: float(batch.measures[name][start]) for name in NAMES}
        follows = spring_followers(self.case, values)
        return Design(values, follows, counted_slack(self.targets, slacks), slacks, nominal, n, held, failures, None)

    def _inputs(self, lane: Override | Case) -> dict[str, Any]:
        changes = lane.changes if isinstance(lane, Case) else lane
        return {path: changes[path] for path in self.wide if path in changes}


def chances(design: Design) -> dict[str, tuple[float, float, float]]:
    """Target -> (share of the points at which it held, low, high of Wilson's 95 % interval)."""
    return {name: fail_chance(k, n) for name, (k, n) in design.held.items()}
