"""What is said of the single causes of a measured number."""

from typing import Any

import numpy as np

from sleevelift.calibrate.answer import amount, number_text
from sleevelift.calibrate.causes import STRETCHED, USUAL, Candidate, Cause, Search
from sleevelift.calibrate.data import MEANINGS, TWO_SIDED, Number
from sleevelift.calibrate.runs import first_on
from sleevelift.calibrate.tell_apart import CERTAIN, Seen, Told
from sleevelift.case.schema import Case
from sleevelift.reader import Reader
from sleevelift.report.tables import Sheet
from sleevelift.study.answer import Answer
from sleevelift.units import KINDS, in_unit

MOST_ROWS = 25
LIMITS = (
    "Single causes only: two small ones together may explain it as well, and so may one that the model does not have.",
    "How plausible: against the range of the case, else against what is usual (common practice, no source).",
)


def value_text(one: Candidate, si: float, ambient: float, digits: int = 3) -> str:
    """A value with its unit."""
    return f"{in_unit(si, one.unit, one.kind, ambient):.{digits}g} {one.unit}".strip().removesuffix(" -")


def cause_text(cause: Cause, ambient: float) -> str:
    """ "lift_chamber.dead_volume 6.2 cm3 instead of 1.5 cm3"."""
    one = cause.candidate
    return f"{one.path} {value_text(one, cause.value, ambient)} instead of {value_text(one, one.own, ambient)}"


def sentence(number: Number, search: Search, told: Told, case: Case) -> str:
    """The answer in one sentence."""
    shown, before = (number_text(number, value, case.reader) for value in (number.value, search.before))
    head = f"{number.measure} {shown} measured, {before} in the case: "
    usual = [one for one in search.causes if abs(one.s) <= USUAL]
    if not search.causes:
        return head + "no single value explains it."
    if not usual:
        nearest = cause_text(search.causes[0], case.ambient.pressure)
        return head + f"no single value explains it within its usual range; nearest: {nearest} ({search.causes[0].word})."
    said = head + f"{len(usual)} single value{'s' if len(usual) > 1 else ''} would explain it within the usual, first "
    said += cause_text(usual[0], case.ambient.pressure)
    if told.seen and told.seen[0].apart:
        best = told.seen[0]
        said += f"; {best.sensor.title} tells {best.apart} of {told.pairs} pairs of causes apart"
    return said + "."


def _causes_sheet(case: Case, search: Search) -> Sheet:
    ambient = case.ambient.pressure
    rows = []
    for cause in search.causes[:MOST_ROWS]:
        one = cause.candidate
        ends = f"{value_text(one, one.low, ambient)} to {value_text(one, one.high, ambient)}" + ("" if one.known else " (a guess)")
        within = (
            "-"
            if not np.isfinite(cause.half)
            else " to ".join(value_text(one, cause.value + side * cause.half, ambient, 4) for side in (-1.0, 1.0))
        )
        plausible = f"{cause.word} ({abs(cause.s):.3g})" + ("; no such case" if cause.refusal else "")
        own, would_be = value_text(one, one.own, ambient), value_text(one, cause.value, ambient, 4)
        rows.append((one.path, own, would_be, within, ends, plausible))
    title = f"Single causes, the most plausible first (1: end of the usual range; above {STRETCHED:g}: far-fetched)"
    return Sheet(title, ("value", "in the case", "would be", "90 % interval", "usual", "how plausible"), rows)


def _short_sheet(case: Case, number: Number, search: Search) -> Sheet:
    rows = [(one.path, number_text(number, value, case.reader)) for one, value in search.short[:10]]
    return Sheet("Values that move it the right way, but not so far", ("value", f"{number.measure} at most"), rows)


def _reading(seen: Seen, value: float, reader: Reader) -> str:
    return "-" if not np.isfinite(value) else reader.text(seen.sensor.kind, value)


def _resolves(seen: Seen, reader: Reader) -> str:
    """What a sensor resolves, in words."""
    if seen.sensor.kind == "pressure":
        return f"{100.0 * seen.sensor.resolves:g} % of its highest"
    return amount(seen.sensor.resolves, seen.sensor.kind, reader)


def _sensors_sheet(told: Told, on: float) -> Sheet:
    rows = []
    for one in told.seen:
        effort = {1: "little", 2: "one transmitter", 3: "a sensor on the sleeve"}[one.sensor.effort]
        when = "-" if not np.isfinite(one.instant) else f"{(one.instant - on) * 1e3:.4g} ms"
        rows.append((one.sensor.title, effort, f"{one.apart} of {told.pairs}", f"{one.weakest:.2g}", when))
    title = f"What would tell these causes apart (difference above {CERTAIN:g} times what the sensor resolves)"
    return Sheet(title, ("measure", "effort", "pairs told apart", "weakest pair", "look at (from on)"), rows)


def _readings_sheet(told: Told, causes: list[Cause], on: float, reader: Reader) -> Sheet:
    best = told.seen[0]
    when = "" if not np.isfinite(best.instant) else f" at {(best.instant - on) * 1e3:.4g} ms after the on command"
    rows = [(cause.candidate.path, _reading(best, value, reader)) for cause, value in zip(causes, best.values)]
    return Sheet(f"What {best.sensor.title.split(':')[0]} would show{when}", ("if the cause is", "reading"), rows)


def causes_answer(case: Case, number: Number, search: Search, looked_at: list[Cause], told: Told) -> Answer:
    """All of it."""
    on = first_on(case)
    sheets = [_causes_sheet(case, search)]
    if search.short:
        sheets.append(_short_sheet(case, number, search))
    if told.seen:
        sheets += [_sensors_sheet(told, on), _readings_sheet(told, looked_at, on, case.reader)]
    notes = [f"{number.measure}: {MEANINGS[number.measure]}. {search.tried} values of the case were each moved alone."]
    if number.assumed:
        notes.append("No uncertainty was given: 1 % taken.")
    notes += [f"{c.candidate.path}: no such case: {c.refusal}." for c in search.causes[:MOST_ROWS] if c.refusal]
    left = len(search.causes) - MOST_ROWS
    if left > 0:
        notes.append(f"{left} more causes, all less plausible, are in the CSV.")
    resolved = "; ".join(f"{one.sensor.title.split(':')[0]} {_resolves(one, case.reader)}" for one in told.seen)
    if told.seen:
        notes.append("Pairs are told apart by all of a trace, where they differ most; the readings are those of one instant.")
        notes.append(f"What sensors resolve is a guess: {resolved}.")
    header = ["value", "unit", "in the case", "would be", "half-width of 90 %", "usual low", "usual high", "widths away"]
    rows: list[list[Any]] = [
        [
            c.candidate.path,
            KINDS[c.candidate.kind].si_unit,
            c.candidate.own,
            c.value,
            c.half,
            c.candidate.low,
            c.candidate.high,
            c.s,
        ]
        for c in search.causes
    ]
    data = {
        "measure": number.measure, "measured": number.value, "half_width": TWO_SIDED * number.sigma, "in_the_case": search.before,
        "causes": [
            {
                "path": c.candidate.path, "own": c.candidate.own, "value": c.value, "half_width": c.half,
                "usual": [c.candidate.low, c.candidate.high], "usual_is_known": c.candidate.known, "widths_away": c.s,
                "plausible": c.word, "refusal": c.refusal,
            }
            for c in search.causes
        ],
        "not_far_enough": [{"path": one.path, "nearest": value} for one, value in search.short],
        "sensors": [
            {
                "quantity": s.sensor.quantity, "pairs_told_apart": s.apart, "pairs": told.pairs, "weakest_pair": s.weakest,
                "instant": s.instant, "readings": dict(zip([c.candidate.path for c in looked_at], s.values)),
            }
            for s in told.seen
        ],
    }  # fmt: skip
    return Answer("causes", case, sentence(number, search, told, case), sheets, [*notes, *LIMITS], header, rows, data)
