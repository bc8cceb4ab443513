"""Choose a design: targets, what may move, and the best few designs that hold the targets over the stated ranges.

    slack of a target = (distance to its limit) / scale;    worst slack of a design = least over targets and over the ranges

scale: the width of a band; of a one-sided target the limit itself, or 0.1 where it is below that (margins are ratios to 1).
A measure that did not happen, a run that does not open and end closed, a spring that goes solid or is overstressed and
values that make no case count as a slack of `MISSED`. "Over the ranges": the nominal values, every ranged value at its low
and at its high end together, and Latin hypercube points; margins are worst-case in themselves.

Continuous values: differential evolution (Storn and Price 1997; scipy), seeded, a generation computed side by side. Values of
a catalogue: each combination where nothing else moves, else positions in the catalogue, and around the best continuous values
every combination again.
"""

import itertools
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sim import units
from sim.batch import Batch, Override
from sim.case.faults import CaseError
from sim.case.read import with_values
from sim.case.schema import Case
from sim.plant.names import NAMES, UNITS
from sim.study.answer import Answer, Sheet
from sim.study.rewrite import rewritten
from sim.study.scatter import scaled, unit_points
from sim.study.store import ALONE, Work, computed
from sim.study.values import Axis, axis_of, known_measures, number, refused, screen_unit, with_unit

MISSED = -10.0
"""-. Slack where the measure did not happen."""
LEAST_SCALE = 0.1
"""-. Scale of a one-sided dimensionless target near 0, such as a margin."""
MOST_COMBINATIONS = 2000
"""Designs of an exact enumeration."""
POPULATION = 6
"""Designs per moved value and generation."""
GENERATIONS = 15
POINTS = 4
"""Latin hypercube points per design, besides nominal, all low, all high."""
KEPT = 3
"""Distinct designs in the answer."""
DISTINCT = 0.05
"""-. Designs closer than this share of every range count as one."""
DIGITS = 4
"""Digits a continuous value is rounded to before it is judged: what a drawing carries."""
SPRING_CHECKS = ("spring_travel_to_solid", "spring_stress", "running_clearance")
"""Checks that a design must pass whatever the targets."""
_TARGET = re.compile(r"\s*(\w+)\s*(<=|>=|=)\s*(.+?)\s*")


class Target(NamedTuple):
    """What a measure must be; SI, infinite where open."""

    measure: str
    low: float
    high: float
    scale: float
    text: str


class Design(NamedTuple):
    """One design, judged."""

    values: dict[str, float]
    slack: float
    """worst over targets and ranges"""
    slacks: dict[str, float]
    """target -> its worst slack over the ranges"""
    measures: dict[str, float]
    """nominal, SI"""


def _target_value(case: Case, measure: str, text: str) -> float:
    """SI of a target's limit."""
    kind = {"s": "time", "Pa": "pressure", "m/s": "speed", "kg/s": "flow", "kg": "mass", "N": "force", "N/m": "line force",
            "K": "temperature", "m2": "area"}.get(UNITS[measure])  # fmt: skip
    try:
        return float(text) if kind is None else units.read_quantity(text, kind, case.ambient.pressure).si
    except ValueError as error:
        raise refused(f"--for {measure} {text}", str(error)) from None


def target_of(case: Case, text: str) -> Target:
    """A target such as "opening_time<=60ms", "full_lift_margin>=0.05", "oxidizer_lead=1ms:4ms"."""
    match = _TARGET.fullmatch(text)
    if match is None:
        raise refused(f"--for {text}", "must be measure<=limit, measure>=limit or measure=low:high")
    name, sign, rest = match.groups()
    known_measures([name], "--for")
    if sign == "=":
        ends = rest.split(":")
        if len(ends) != 2:
            raise refused(f"--for {text}", "a band is low:high")
        low, high = (_target_value(case, name, end) for end in ends)
        if not low < high:
            raise refused(f"--for {text}", "the low end must be below the high end")
        return Target(name, low, high, high - low, text)
    limit = _target_value(case, name, rest)
    floor = LEAST_SCALE if not UNITS[name] else 0.0
    scale = max(abs(limit), floor) or 1.0
    return Target(name, -np.inf if sign == "<=" else limit, limit if sign == "<=" else np.inf, scale, text)


def target_slack(target: Target, values: np.ndarray) -> np.ndarray:
    """Slack of a target for measured values (SI); MISSED for what did not happen."""
    with np.errstate(invalid="ignore"):
        slack = np.minimum(values - target.low, target.high - values) / target.scale
    return np.where(np.isfinite(values), np.maximum(slack, MISSED), MISSED)


def decoded(axes: Sequence[Axis], x: np.ndarray) -> dict[str, float]:
    """A point of the search (a value, or a position in a catalogue) as a design."""
    out = {}
    for axis, value in zip(axes, x.tolist()):
        if axis.labels is not None:
            out[axis.path] = float(axis.values[min(max(round(value), 0), len(axis.values) - 1)])
        else:
            low, high = float(axis.values[0]), float(axis.values[-1])
            out[axis.path] = min(max(float(f"{value:.{DIGITS}g}"), low), high)
    return out


class Judge:
    """Judges designs of one case against targets, over the same points of the ranges for every design."""

    def __init__(self, case: Case, targets: Sequence[Target], work: Work, seed: int) -> None:
        self.case, self.targets, self.work, self.seed = case, targets, work, seed
        self.runs = 0
        self.failed = 0
        self.seen: dict[tuple[float, ...], Design] = {}
        wide = [path for path, ends in case.ranges.items() if ends[1] > ends[0]]
        ends = [np.zeros((1, len(wide))), np.ones((1, len(wide)))]
        self.points = np.concatenate([*ends, unit_points(len(wide), POINTS, seed, "lhs")]) if wide else np.zeros((0, 0))

    def lanes(self, values: dict[str, float]) -> list[Override | Case]:
        """Nominal first, then the points of the ranges, which move with the design."""
        try:
            design = with_values(self.case, values, check=True, move_ranges=True)
        except CaseError:
            return []
        ranges = {path: ends for path, ends in design.ranges.items() if ends[1] > ends[0]}
        return [design, *[with_values(design, point) for point in scaled(self.points, ranges)]] if ranges else [design]

    def judged(self, designs: Sequence[dict[str, float]]) -> list[Design]:
        """Each design with its slacks, computed side by side; what has been judged is not computed again."""
        new = {tuple(values.values()): values for values in designs if tuple(values.values()) not in self.seen}
        lanes = {key: self.lanes(values) for key, values in new.items()}
        every = [lane for part in lanes.values() for lane in part]
        batch = computed(self.case, every, self.work, {"study": "choose", "seed": self.seed}) if every else None
        start = 0
        for key, part in lanes.items():
            self.seen[key] = self._design(new[key], batch, start, len(part))
            start += len(part)
        self.runs += len(every)
        self.failed += len(batch.failures) if batch is not None else 0
        return [self.seen[tuple(values.values())] for values in designs]

    def _design(self, values: dict[str, float], batch: Batch | None, start: int, count: int) -> Design:
        names = [*[target.text for target in self.targets], "opens and ends closed"]
        if batch is None or count == 0:
            return Design(values, MISSED, dict.fromkeys(names, MISSED), dict.fromkeys(NAMES, np.nan))
        rows = slice(start, start + count)
        slacks = {t.text: float(target_slack(t, batch.measures[t.measure][rows]).min()) for t in self.targets}
        good = batch.outcomes[rows] == "opened-and-closed"
        if not bool(np.all(good)):
            slacks["opens and ends closed"] = MISSED * float(np.mean(~good))
        for name in SPRING_CHECKS:
            if name in batch.checks and bool(np.any(batch.checks[name][rows] == 0.0)):
                slacks[name] = MISSED
        nominal = {name: float(batch.measures[name][start]) for name in NAMES}
        # the mean of what is missing tells the search which way is less wrong
        missing = sum(min(slack, 0.0) for slack in slacks.values()) * 1e-3
        return Design(values, min(slacks.values()) + missing, slacks, nominal)


def enumerated(judge: Judge, axes: Sequence[Axis], fixed: dict[str, float]) -> list[Design]:
    """Every combination of the catalogue values, the rest fixed; in the order of the axes."""
    lists = [axis for axis in axes if axis.labels is not None]
    combinations = itertools.product(*[axis.values.tolist() for axis in lists])
    designs = []
    for combination in combinations:
        values = {**fixed, **dict(zip([axis.path for axis in lists], combination))}
        designs.append({axis.path: values[axis.path] for axis in axes})
    return judge.judged(designs)


def searched(judge: Judge, axes: Sequence[Axis], seed: int) -> None:
    """Differential evolution over continuous values and positions in catalogues; what it tried stays in `judge.seen`."""
    from scipy.optimize import differential_evolution

    bounds = [(0.0, len(a.values) - 1.0) if a.labels is not None else (float(a.values[0]), float(a.values[-1])) for a in axes]

    def cost(x: np.ndarray) -> np.ndarray:
        columns = x.reshape(len(axes), -1).T
        return np.array([-design.slack for design in judge.judged([decoded(axes, column) for column in columns])])

    differential_evolution(
        cost, bounds, seed=seed, popsize=POPULATION, maxiter=GENERATIONS, vectorized=True, updating="deferred", polish=False,
        integrality=[axis.labels is not None for axis in axes], init="sobol", tol=1e-3,
    )  # fmt: skip


def distinct(designs: Sequence[Design], axes: Sequence[Axis]) -> list[Design]:
    """The best designs that differ by more than `DISTINCT` of a range, or by a catalogue size."""
    spans = np.array([float(axis.values[-1] - axis.values[0]) or 1.0 for axis in axes])
    kept: list[Design] = []
    for design in sorted(designs, key=lambda d: -d.slack):
        x = np.array([design.values[axis.path] for axis in axes])
        if all(np.max(np.abs(x - np.array([k.values[a.path] for a in axes])) / spans) > DISTINCT for k in kept):
            kept.append(design)
        if len(kept) == KEPT:
            break
    return kept


def binding(design: Design) -> list[str]:
    """The two targets of least slack."""
    return sorted(design.slacks, key=lambda name: design.slacks[name])[:2]


def design_text(design: Design, axes: Sequence[Axis], ambient: float) -> str:
    """The values of a design, with units and names of sizes."""
    parts = []
    for axis in axes:
        si = design.values[axis.path]
        label = f" ({axis.labels[int(np.argmin(np.abs(axis.values - si)))]})" if axis.labels is not None else ""
        parts.append(f"{axis.path} {number(float(axis.shown(si, ambient)), 6)} {axis.unit}".strip() + label)
    return ", ".join(parts)


def move_of(case: Case, text: str) -> Axis:
    """What may move: path=low:high or path=drills:low:high."""
    axis = axis_of(case, text, "--move")
    return axis if axis.labels is not None else axis._replace(values=axis.values[[0, -1]])


def choose_study(
    case: Case, text: str, targets: Sequence[Target], axes: Sequence[Axis], seed: int = 0, work: Work = ALONE
) -> Answer:
    """The best few designs, or the best worst slack with the pair that binds. `text`: the case file, to write the new one."""
    if not targets or not axes:
        raise refused("choose", "needs at least one --for and one --move")
    if len({axis.path for axis in axes}) < len(axes):
        raise refused("--move", "a value is given twice")
    own = {axis.path: judge_value(case, axis) for axis in axes}
    rewritten(
        text, case, {path: value for path, value in own.items() if np.isfinite(value)}
    )  # refused before the search, not after
    judge = Judge(case, targets, work, seed)
    combinations = int(np.prod([len(axis.values) for axis in axes if axis.labels is not None]))
    if all(axis.labels is not None for axis in axes):
        if combinations > MOST_COMBINATIONS:
            raise refused("--move", f"asks for {combinations} combinations; at most {MOST_COMBINATIONS}")
        enumerated(judge, axes, {})
    else:
        searched(judge, axes, seed)
        best = max(judge.seen.values(), key=lambda d: d.slack)
        if 1 < combinations <= MOST_COMBINATIONS:
            enumerated(judge, axes, best.values)
    kept = distinct(list(judge.seen.values()), axes)
    holding = [design for design in kept if design.slack >= 0.0]
    shown = holding or kept[:1]
    return _answer(case, text, targets, axes, judge, shown, bool(holding), seed)


def _answer(
    case: Case,
    text: str,
    targets: Sequence[Target],
    axes: Sequence[Axis],
    judge: Judge,
    shown: list[Design],
    holds: bool,
    seed: int,
) -> Answer:
    best, ambient = shown[0], case.ambient.pressure
    pair = binding(best)
    if holds:
        sentence = (
            f"{design_text(best, axes, ambient)} holds all targets over the stated ranges, with {100 * best.slack:.3g} % of the "
            f"scale to spare ({pair[0]} binds); {len(shown)} distinct design{'s' if len(shown) > 1 else ''} found."
        )
    else:
        sentence = (
            f"No design holds all targets over the stated ranges; the best, {design_text(best, axes, ambient)}, misses by "
            f"{-100 * min(best.slacks.values()):.3g} % of the scale; {' and '.join(pair)} bind."
        )
    own = judge.judged([{axis.path: float(judge_value(case, axis)) for axis in axes}])[0]
    columns = ("", *[f"design {i + 1}" for i in range(len(shown))], "case as written")
    listed = [*shown, own]
    values = [
        (f"{a.path} [{a.unit or '-'}]", *[number(float(a.shown(d.values[a.path], ambient)), 6) for d in listed]) for a in axes
    ]
    names = list(dict.fromkeys(name for design in listed for name in design.slacks))
    slacks = [(f"slack of {name}", *[f"{d.slacks[name]:+.3f}" if name in d.slacks else "-" for d in listed]) for name in names]
    kept_measures = [n for n in NAMES if n in {t.measure for t in targets} or n in COSTS]
    costs = [(f"{n} [{screen_unit(n) or '-'}]", *[with_unit(n, d.measures[n]).split(" ")[0] for d in listed])
             for n in kept_measures if any(np.isfinite(d.measures[n]) for d in listed)]  # fmt: skip
    notes = [
        f"{len(judge.seen)} designs, {judge.runs} runs, seed {seed}; each design at nominal values and {len(judge.points)} "
        "points of the ranges.",
        f"{judge.failed} runs failed or did not come to their end; a design with one misses its targets.",
        "Slack 0 just holds; 1 is a whole scale to spare (width of a band, size of a limit, at least 0.1 for a ratio).",
    ]
    header = [*[f"{axis.path} [SI]" for axis in axes], "worst slack", *[f"slack {t.text}" for t in targets]]
    ordered = sorted(judge.seen.values(), key=lambda d: -d.slack)
    rows = [[*d.values.values(), d.slack, *[d.slacks[t.text] for t in targets]] for d in ordered]
    texts = {f"{case.name}-chosen.toml": rewritten(text, case, best.values)}

    def draw(path: Path) -> Any:
        from sim.plots.studies import write_choice

        return write_choice(case, sentence, axes, ordered, shown, path)

    data = {"targets": targets, "moves": [axis.path for axis in axes], "holds": holds, "designs": shown, "case_as_written": own,
            "binding": pair, "seed": seed, "designs_judged": len(judge.seen), "runs": judge.runs, 
            "failed_runs": judge.failed}  # fmt: skip
    sheets = [Sheet("Designs", columns, values), Sheet("Slack of each target, worst over the ranges", columns, slacks),
              Sheet("What each costs (nominal)", columns, costs)]  # fmt: skip
    return Answer("choose", case, sentence, sheets, notes, header, rows, data, draw, texts)


COSTS = ("opening_time", "closing_time", "stop_impact_speed", "seat_impact_speed", "oxidizer_lead", "hard_start_pressure",
         "full_lift_margin", "closing_margin", "no_fuel_margin", "sealing_load", "gas_per_cycle")  # fmt: skip
"""Measures shown beside the targets: what a design costs elsewhere."""


def judge_value(case: Case, axis: Axis) -> float:
    """The case's own value of what may move."""
    from sim.study.values import own_value

    value = own_value(case, axis.path)
    return float("nan") if value is None else float(value)
