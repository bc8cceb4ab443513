"""Choose a design: targets, what may move, and the best few designs that hold the targets over the stated ranges.

    search:   every design at a few points (`sleevelift.study.judge`), raising the worst slack
    confirm:  the best distinct designs again at many Latin hypercube points, with the chance that each target holds
              (`sleevelift.study.odds`)

A design holds only if every target held at every point of the confirmation, no check that the case as written passes is lost and
a spring wound anew keeps its rules. Where none does, the answer is the design of best worst slack after the confirmation, with
the two targets of least slack: they bind. If that gives up what the case as written holds, it is said, and the nearest design
that gives up nothing stands beside it.

Continuous values: differential evolution (Storn and Price 1997; scipy), seeded, a generation computed side by side. Values of
a catalogue (drills, wires, quarter turns of coils): each combination where nothing else moves; else positions in the catalogue,
and around the best continuous values every combination again.
"""

import itertools
from collections.abc import Callable, Sequence

import numpy as np

from sleevelift.batch import run_lane
from sleevelift.case.schema import Case
from sleevelift.case.walk import own_value
from sleevelift.plant.names import PLACE
from sleevelift.study.answer import Answer
from sleevelift.study.choice_answer import choice_answer
from sleevelift.study.judge import Design, Found, Judge, given_up
from sleevelift.study.rewrite import rewritten
from sleevelift.study.spring_moves import COIL_STEP, check_spring
from sleevelift.study.store import ALONE, Work
from sleevelift.study.targets import Target, kept_targets
from sleevelift.study.values import Axis, axis_of, refused
from sleevelift.units import read_quantity

MOST_COMBINATIONS = 2000
"""Designs of an exact enumeration on its own."""
MOST_AROUND = 200
"""Designs of an enumeration around the best continuous values; of more, the nearest positions in the catalogues."""
POPULATION, GENERATIONS = 6, 15
"""Designs per moved value and generation, and generations."""
SCREEN_POINTS = 4
"""Latin hypercube points per design in the search, besides nominal, all low, all high."""
CONFIRM_POINTS, MOST_POINTS = 256, 100_000
"""Latin hypercube points of the confirmation by default, and at most."""
KEPT, ROUNDS = 3, 4
"""Distinct designs in the answer; rounds in which candidates that fail the confirmation are replaced."""
DISTINCT = (0.4, 0.2, 0.1, 0.05)
"""-. Two designs are distinct if a value differs by this share of its range: the first of these that leaves enough of them."""
DIGITS = 4
"""Digits a continuous value is rounded to before it is judged: what a drawing carries."""
MOST_MOVES = 12


def coil_axis(axis: Axis) -> Axis:
    """Coils as a catalogue of quarter turns."""
    low, high = np.ceil(axis.values[0] / COIL_STEP), np.floor(axis.values[-1] / COIL_STEP)
    if high < low:
        raise refused(f"--move {axis.path}", "holds no whole quarter of a turn")
    values = np.arange(low, high + 1.0) * COIL_STEP
    return axis._replace(values=values, labels=tuple(f"{value:g} turns" for value in values))


def move_of(case: Case, text: str) -> Axis:
    """What may move: path=low:high, path=drills:low:high, path=wires:low:high; coils go in quarter turns."""
    axis = axis_of(case, text, "--move")
    if axis.labels is not None:
        return axis
    if axis.path in ("spring.active_coils", "spring.total_coils"):
        return coil_axis(axis)
    return axis._replace(values=axis.values[[0, -1]])


def rounded(axis: Axis, value: float, ambient: float) -> float:
    """A value (SI) with `DIGITS` digits in the unit of its axis, within the axis."""
    shown = float(f"{float(axis.shown(value, ambient)):.{DIGITS}g}")
    si = read_quantity(f"{shown!r} {axis.unit}", axis.kind, ambient).si if axis.unit else shown
    return min(max(si, float(axis.values[0])), float(axis.values[-1]))


def decoded(axes: Sequence[Axis], x: np.ndarray, ambient: float) -> dict[str, float]:
    """A point of the search (a value, or a position in a catalogue) as a design."""
    out = {}
    for axis, value in zip(axes, x.tolist()):
        if axis.labels is not None:
            out[axis.path] = float(axis.values[min(max(round(value), 0), len(axis.values) - 1)])
        else:
            out[axis.path] = rounded(axis, value, ambient)
    return out


def neighbours(axis: Axis, value: float, most: int) -> list[float]:
    """The sizes of a catalogue nearest to a value, in the order of the catalogue."""
    near = np.argsort(np.abs(axis.values - value), kind="stable")[:most]
    return [float(axis.values[i]) for i in sorted(near.tolist())]


def enumerated(judge: Judge, axes: Sequence[Axis], around: dict[str, float] | None = None) -> None:
    """Judge every combination of catalogue values, the rest as in `around`, the nearest sizes if there are too many."""
    lists = [axis for axis in axes if axis.labels is not None]
    most = max((len(axis.values) for axis in lists), default=1)
    fixed: dict[str, float] = {}
    if around is not None:
        fixed = around
        while most > 1 and np.prod([min(most, len(axis.values)) for axis in lists]) > MOST_AROUND:
            most -= 1
    sizes = [neighbours(axis, fixed[axis.path], most) if around is not None else axis.values.tolist() for axis in lists]
    designs = []
    for combination in itertools.product(*sizes):
        values = {**fixed, **dict(zip([axis.path for axis in lists], combination))}
        designs.append({axis.path: values[axis.path] for axis in axes})
    judge.judged(designs)


def searched(judge: Judge, axes: Sequence[Axis], seed: int) -> None:
    """Differential evolution over continuous values and positions in catalogues; what it tried stays in `judge.seen`."""
    from scipy.optimize import differential_evolution

    ambient = judge.case.ambient.pressure
    bounds = [(0.0, len(a.values) - 1.0) if a.labels is not None else (float(a.values[0]), float(a.values[-1])) for a in axes]

    def cost(x: np.ndarray) -> np.ndarray:
        columns = x.reshape(len(axes), -1).T
        return np.array([-design.score for design in judge.judged([decoded(axes, column, ambient) for column in columns])])

    differential_evolution(
        cost, bounds, seed=seed, popsize=POPULATION, maxiter=GENERATIONS, vectorized=True, updating="deferred", polish=False,
        integrality=[axis.labels is not None for axis in axes], init="sobol", tol=1e-3,
    )  # fmt: skip


def screened(judge: Judge, axes: Sequence[Axis], seed: int) -> list[Design]:
    """Every design of the search, the best first."""
    combinations = int(np.prod([len(axis.values) for axis in axes if axis.labels is not None]))
    if all(axis.labels is not None for axis in axes):
        if combinations > MOST_COMBINATIONS:
            raise refused("--move", f"asks for {combinations} combinations; at most {MOST_COMBINATIONS}")
        enumerated(judge, axes)
    else:
        searched(judge, axes, seed)
        if combinations > 1:
            enumerated(judge, axes, max(judge.seen.values(), key=lambda d: d.score).values)
    return sorted(judge.seen.values(), key=lambda d: -d.score)


def distinct(designs: Sequence[Design], axes: Sequence[Axis], most: int = KEPT) -> list[Design]:
    """The best designs that differ from each other (see `DISTINCT`). `designs`: the best first."""
    spans = np.array([float(axis.values[-1] - axis.values[0]) or 1.0 for axis in axes])
    points = [np.array([design.values[axis.path] for axis in axes]) / spans for design in designs]
    kept: list[int] = []
    for share in DISTINCT:
        kept = []
        for i, x in enumerate(points):
            if all(np.max(np.abs(x - points[k])) > share for k in kept):
                kept.append(i)
            if len(kept) == most:
                return [designs[k] for k in kept]
    return [designs[k] for k in kept]


def confirmed(judge: Judge, designs: Sequence[Design], axes: Sequence[Axis]) -> tuple[list[Design], list[Design]]:
    """(designs that hold at every point of `judge`, the best first; those tried that do not)."""
    left = [design for design in designs if design.slack >= 0.0]
    holding: list[Design] = []
    failing: list[Design] = []
    for _ in range(ROUNDS):
        if not left or len(holding) >= KEPT:
            break
        candidates = distinct([*holding, *left], axes)
        tried = judge.judged([design.values for design in candidates])
        failing += [design for design in tried if design.slack < 0.0]
        holding = [design for design in tried if design.slack >= 0.0]
        done = [design.values for design in [*holding, *failing]]
        left = [design for design in left if design.values not in done]
        if not any(design.slack < 0.0 for design in tried):
            break
    return sorted(holding, key=lambda d: -d.score), failing


def own_values(case: Case, axes: Sequence[Axis]) -> dict[str, float]:
    """The case's own values of what may move. CaseError where it has none."""
    found = {}
    for axis in axes:
        value = own_value(case, axis.path)
        if value is None:
            raise refused(f"--move {axis.path}", "has no value in the case")
        found[axis.path] = float(value)
    return found


def nearest_keeping(judge: Judge, designs: Sequence[Design], axes: Sequence[Axis], own: Design) -> list[Design]:
    """The best design that misses nothing which the case as written holds; none where only the case itself does."""
    keeping = [design for design in designs if design.refusal is None and not given_up(design, own)]
    tried = judge.judged([design.values for design in distinct(keeping, axes)])
    left = [design for design in tried if not given_up(design, own) and design.values != own.values]
    return [max(left, key=lambda d: d.score)] if left else []


class Counter:
    """One bar over all that a choice runs: the total is a guess until the search has ended."""

    def __init__(self, tell: Callable[[int, int], None] | None, total: int) -> None:
        self.tell, self.total, self.before, self.last = tell, total, 0, 0

    def __call__(self, done: int, total: int) -> None:
        """Progress of one of the calculations that follow each other."""
        if done < self.last:
            self.before += self.last
        self.last = done
        if self.tell is not None:
            self.tell(self.before + done, max(self.total, self.before + total))

    def next(self) -> None:
        """The next calculation begins."""
        self.before += self.last
        self.last = 0


def found(case: Case, targets: Sequence[Target], axes: Sequence[Axis], seed: int, points: int, work: Work) -> Found:
    """Search and confirm."""
    row = run_lane(case, {})
    # a check that holds without a number (nothing pushes the other way) is kept as a check, not as a target
    with_number = {name: ok for name, ok in row.checks.items() if name not in PLACE or np.isfinite(row.values[PLACE[name]])}
    every = [*targets, *kept_targets(case, with_number, targets)]
    guess = POPULATION * len(axes) * (GENERATIONS + 1) * (SCREEN_POINTS + 3) + KEPT * (points + 3)
    bar = Counter(work.progress, guess)
    work = work._replace(progress=bar)
    search = Judge(case, every, row.checks, SCREEN_POINTS, seed, work)
    designs = screened(search, axes, seed)
    confirm = Judge(case, every, row.checks, points, seed + 1, work, odds=True)  # points of its own, not those of the search
    shown, failing = confirmed(confirm, designs, axes)
    holds = bool(shown)
    own = confirm.judged([own_values(case, axes)])[0]
    if not holds:
        tried = confirm.judged([design.values for design in distinct(designs, axes)])
        shown = [max([*tried, *failing], key=lambda d: d.score)]
        if given_up(shown[0], own):
            shown += nearest_keeping(confirm, designs, axes, own)
    return Found(
        shown, holds, own, designs, len(failing), search.runs + confirm.runs, len(search.points) + 1, len(confirm.points) + 1
    )


def choose_study(
    case: Case, text: str, targets: Sequence[Target], axes: Sequence[Axis], seed: int = 0, work: Work = ALONE,
    points: int = CONFIRM_POINTS,
) -> Answer:  # fmt: skip
    """The best few designs, or the best worst slack with the pair that binds.

    `text`: the case file, to write the new one. `points`: Latin hypercube points of the confirmation.
    """
    if not targets or not axes:
        raise refused("choose", "needs at least one --for and one --move")
    if len(axes) > MOST_MOVES:
        raise refused("--move", f"at most {MOST_MOVES} values may move")
    if len({axis.path for axis in axes}) < len(axes):
        raise refused("--move", "a value is given twice")
    if not 2 <= points <= MOST_POINTS:
        raise refused(f"--points {points}", f"must be from 2 to {MOST_POINTS}")
    check_spring(case, [axis.path for axis in axes])
    rewritten(text, case, own_values(case, axes))  # what has no line of its own is refused before the search, not after
    return choice_answer(case, text, targets, axes, found(case, targets, axes, seed, points, work), seed)
