"""The whole way from a napkin to a case, and what is said of it.

    engine -> injector -> { static: least lift area, spring } -> { simulator: fill orifice, spigot, exhaust } -> checks
                 ^ longer spigot (lead)        ^ more wanted of a margin (surge, hang)

One of three ends: a case whose checks all hold; a proof that the static margins exclude each other in this room
(`exclusion`); or neither found, with the nearest case and what fails in it.
"""

import time
from typing import NamedTuple

import numpy as np

from sleevelift.case.faults import CaseError, Fault
from sleevelift.case.schema import Case
from sleevelift.first_cut import actuation, gas_path
from sleevelift.first_cut.assemble import Moving, Static, assembled
from sleevelift.first_cut.conflict import conflicts
from sleevelift.first_cut.engine import Engine, engine
from sleevelift.first_cut.exclusion import Exclusion, excluded
from sleevelift.first_cut.finish import Finished, finished
from sleevelift.first_cut.injector import Injector, injector
from sleevelift.first_cut.knobs import Knobs, turned
from sleevelift.first_cut.napkin import Napkin
from sleevelift.first_cut.sheet import Sheet, Step
from sleevelift.first_cut.spring import wound
from sleevelift.first_cut.trim import trimmed

HOLDS, EXCLUDED, NOT_FOUND = "holds", "excluded", "not found"
GUARD = 0.004
"""-. Added to the wanted margin, so that rounding loses none."""
SPRING_ROUNDS = 4
MOST_TIME = 18.0
"""s of the processor. No further round is begun after so long: on a machine that is slow, not on a hard napkin."""
SAME_SHARE = 0.01
"""-. Change of the spring's rate share below which spring and margins agree."""
FIRST_SHARE = 0.08
"""-. k x stroke over preload before there is a spring."""
ROOM = 5.0
"""-. Largest piston over the post, where the napkin names none."""
PIN_FREE = ("sleeve.rod_diameter", "sleeve.piston_diameter", "spring.preload")
"""What the static part finds; pinned, it is taken as it stands and the margins are only reported."""


class Answer(NamedTuple):
    """What became of a napkin."""

    status: str
    text: str
    """the case file; the nearest where none holds"""
    case: Case
    chain: list[Step]
    binding: list[tuple[str, float]]
    """static margins, the least first"""
    failed: dict[str, str]
    """check that fails -> its number in words"""
    exclusion: Exclusion | None
    measures: dict[str, float]
    notes: list[str]


def room_of(napkin: Napkin, inj: Injector) -> float:
    """Largest piston diameter (m)."""
    return napkin.wishes.largest_diameter or ROOM * inj.post


def first_moving(inj: Injector) -> Moving:
    """Diameters to begin with."""
    return Moving(1.15 * inj.seat, 1.5 * inj.seat, 100.0, FIRST_SHARE, None)


def static_part(
    napkin: Napkin, eng: Engine, inj: Injector, wanted: dict[str, float], sheet: Sheet, before: Static | None
) -> Static:  # fmt: skip
    """Least lift area and its spring, agreed with each other."""
    moving = before.moving if before is not None else first_moving(inj)
    path = before.path if before is not None else gas_path.Path(1e-3, 1.2e-3, 4e-3, gas_path.dead_time(napkin))
    found = before.found if before is not None else None
    for _ in range(SPRING_ROUNDS):
        case, _ = assembled(napkin, eng, inj, moving._replace(spring=None), path, sheet)
        problem = actuation.Problem(case, moving.rate_share, wanted, room_of(napkin, inj))
        start = actuation.start_of(case, napkin.wishes.least_margin) if found is None else _logs(found, inj)
        found = actuation.solved(problem, start)
        moving = _rounded(found, moving.rate_share)
        spring = wound(moving.preload, inj.stroke, inj.post, moving.piston, napkin.wishes.seat_impact_speed)
        if spring is None:
            break
        share = spring.state.rate * inj.stroke / moving.preload
        settled = abs(share - moving.rate_share) <= SAME_SHARE * (1.0 + share)
        moving = moving._replace(spring=spring, rate_share=share)
        if settled:
            break
    assert found is not None
    case, text = assembled(napkin, eng, inj, moving, path, sheet)
    if before is None:
        path = gas_path.first_path(napkin, case, sheet)
        case, text = assembled(napkin, eng, inj, moving, path, sheet)
    case, text = trimmed(napkin, eng, inj, moving, path, case, text, sheet)
    return Static(case, text, moving, path, found)


def _logs(found: actuation.Actuation, inj: Injector) -> np.ndarray:
    """The unknowns of what was found."""
    lift = 0.25 * np.pi * (found.piston**2 - found.rod**2)
    fuel = max(0.25 * np.pi * (found.rod**2 - inj.seat**2), 0.01 * lift)
    return np.log([lift, fuel, found.preload])


def _rounded(found: actuation.Actuation, share: float) -> Moving:
    """Diameters to 0.01 mm, preload to four digits."""
    return Moving(round(found.rod, 5), round(found.piston, 5), float(f"{found.preload:.4g}"), share, None)


def size(napkin: Napkin) -> Answer:
    """A complete case from a napkin. CaseError where the napkin itself is at fault."""
    sheet = Sheet()
    margin = napkin.wishes.least_margin
    wanted = dict.fromkeys(actuation.MARGINS, margin + GUARD)
    static: Static | None = None
    best: tuple[float, Static, Finished, list[Step]] | None = None
    knobs: Knobs | None = Knobs()
    until = time.process_time() + MOST_TIME
    while knobs is not None:
        eng = engine(napkin, sheet, knobs.line_speed, knobs.stiff)
        for name, side in (("oxidizer", eng.oxidizer), ("fuel", eng.fuel)):
            sheet.put(f"{name}.rated_loss", f'"{side.loss * 1e-5:.4g} bar"', "what pressure, chamber and injector's drop leave")
        inj = injector(napkin, eng, sheet, spigot=knobs.spigot, taller=knobs.taller, more_lap=knobs.more_lap)
        static = static_part(napkin, eng, inj, wanted, sheet, static)
        if static.found.short > 1e-6:
            proof = excluded(static.case, margin, room_of(napkin, inj), napkin.reader)
            if proof is not None:
                _said(napkin, static, sheet)
                return _answer(EXCLUDED, static, None, sheet, proof)
        done = finished(napkin, eng, inj, static, sheet, knobs.pocket, knobs.aim, knobs.spare)
        if best is None or done.score > best[0]:
            _said(napkin, static, sheet)
            best = done.score, static._replace(case=done.case, text=done.text), done, list(sheet.chain.values())
        if not done.failed or time.process_time() > until:
            break
        static = static._replace(path=done.path._replace(dead_volume=None))
        knobs = turned(knobs, done, inj, napkin, wanted)
    assert best is not None
    _, static, done, chain = best
    done = done._replace(notes=[*done.notes, *conflicts(napkin, done)])
    answer = _answer(HOLDS if not done.failed else NOT_FOUND, static, done, sheet, None)
    return answer._replace(chain=chain)


def _said(napkin: Napkin, static: Static, sheet: Sheet) -> None:
    """The static part in the chain."""
    moving, r = static.moving, napkin.reader
    least = static.found.binding[0]
    sheet.step(
        "rod, piston", f"{r.text('length', moving.rod)}, {r.text('length', moving.piston)}",
        f"smallest lift area whose margins reach {napkin.wishes.least_margin:g}; {least} binds",
        "static margins, linear programmes",
    )  # fmt: skip
    how = "the same"
    sheet.step("preload", r.text("force", moving.preload), how, "static margins, linear programmes")
    if moving.spring is not None:
        s = moving.spring
        sheet.step(
            "spring", f"{r.text('length', s.wire, '.3g')} wire, {r.text('length', s.mean, '.3g')} mean, {s.active:g} coils",
            f"least rate, {r.text('stiffness', s.state.rate, '.3g')}; {r.number('stress', s.state.stress_lifted):.4g} + "
            f"{r.text('stress', s.impact_stress, '.3g')} of {r.text('stress', s.permissible, '.4g')}", "EN 13906-1",
        )  # fmt: skip


def _answer(status: str, static: Static, done: Finished | None, sheet: Sheet, proof: Exclusion | None) -> Answer:
    found = static.found
    notes = []
    if static.moving.spring is None:
        notes.append("no wire of the table makes this spring: the case carries its rate alone")
    elif static.moving.spring.cup:
        notes.append("the spring is wider than the piston: it needs a cup of its own")
    if done is not None:
        notes += done.notes
    binding = [(name, found.margins[name]) for name in found.binding]
    return Answer(
        status, static.text, static.case, list(sheet.chain.values()), binding, {} if done is None else done.failed, proof,
        {} if done is None else done.measures, notes,
    )  # fmt: skip


__all__ = ["EXCLUDED", "HOLDS", "NOT_FOUND", "Answer", "CaseError", "Fault", "size"]
