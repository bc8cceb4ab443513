"""The end of a first cut: what is free moves once more, so that the wishes hold over the stated ranges, not at their middle alone.

Fill orifice (standard drills) and spigot, by `study.choose`: every design at some points of the ranges, the best again at more.
What it finds replaces the values of the case only where every check still holds.
"""

from typing import NamedTuple

from sleevelift.case.read import case_from_text
from sleevelift.case.schema import Case
from sleevelift.first_cut.finish import run
from sleevelift.first_cut.napkin import Napkin
from sleevelift.first_cut.size import HOLDS, Answer
from sleevelift.shown import with_unit
from sleevelift.study import choose
from sleevelift.study.judge import Design
from sleevelift.study.rewrite import rewritten
from sleevelift.study.store import Work
from sleevelift.study.targets import Target, target_of

POINTS = 64
"""Latin hypercube points of the confirmation: some seconds of runs."""
SEED = 0
FILL, SPIGOT = "solenoid.fill_orifice", "seat.spigot_length"
MOVES = {FILL: ("drills:", 0.7, 2.0), SPIGOT: ("", 0.7, 1.8)}
"""Path -> (catalogue, least and most over the value at hand)."""


class Freed(NamedTuple):
    """What became of it."""

    answer: Answer
    command: str
    """the same by hand: what follows `sleevelift choose CASE`"""


def moves(case: Case, pins: dict[str, object]) -> list[str]:
    """What may move, as `choose` reads it; nothing that the napkin pins."""
    own = {FILL: case.solenoid.fill_orifice, SPIGOT: case.seat.spigot_length if case.seat is not None else None}
    out = []
    for path, (catalogue, least, most) in MOVES.items():
        value = own[path]
        if value and path not in pins:
            top = min(most * value, case.tube.bore) if path == FILL else min(most * value, 0.98 * case.sleeve.stroke)
            out.append(f"{path}={catalogue}{least * value * 1e3:.3g}mm:{top * 1e3:.3g}mm")
    return out


def targets(case: Case) -> list[Target]:
    """The wishes that a run decides."""
    limits = case.limits
    out = [f"opening_time<={(limits.opening_time_at_most or 0.0) * 1e3:.6g}ms"]
    out.append(f"oxidizer_lead>={(limits.oxidizer_lead_at_least or 0.0) * 1e3:.6g}ms")
    return [target_of(case, text) for text in out]


def freed(napkin: Napkin, answer: Answer, workers: int | None = None) -> Freed:
    """A case that holds with what is free moved; any other answer as it is, with the command alone."""
    case = answer.case
    free, wished = moves(case, napkin.pins), targets(case)
    command = " ".join([*(f'--for "{target.text}"' for target in wished), *(f"--move {move}" for move in free)])
    if answer.status != HOLDS or not free:
        return Freed(answer, command)
    axes = [choose.move_of(case, text) for text in free]
    found = choose.found(case, wished, axes, SEED, POINTS, Work(workers=workers))
    if not found.holds:
        worst = min(found.own.slacks, key=found.own.slacks.__getitem__)
        words = (
            f"choose over the stated ranges ({found.runs} runs): no fill orifice and spigot near these hold every wish at all of "
            f"{found.confirm_points} points; the case stands as it is. Its worst there is {worst}, {-found.own.slack:.1%} short"
        )
        return Freed(answer._replace(notes=[*answer.notes, words]), command)
    return Freed(_moved(answer, found.shown[0], found.runs, found.confirm_points), command)


def _moved(answer: Answer, best: Design, runs: int, points: int) -> Answer:
    """The answer with the design's values, unless a check of its own run fails."""
    text = rewritten(answer.text, answer.case, best.values)
    case = case_from_text(text, answer.case.name)
    ran = run(case, {})
    told = ", ".join(f"{path} {answer.case.reader.text('length', value)}" for path, value in best.values.items())
    if not all(ran.checks.values()):
        words = f"choose over the stated ranges: {told} holds the wishes at {points} points, but loses a check: not taken"
        return answer._replace(notes=[*answer.notes, words])
    times = ", ".join(f"{name} {with_unit(name, ran.measures[name])}" for name in ("opening_time", "oxidizer_lead"))
    words = f"choose over the stated ranges ({runs} runs): {told} holds every wish at all of {points} points; in the middle {times}"
    return answer._replace(text=text, case=case, measures=ran.measures, notes=[*answer.notes, words])
