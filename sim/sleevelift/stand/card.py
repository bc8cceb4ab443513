"""The test card of a case: bands, limits, instruments, sequence, hold points, together, and what speaks against the test.

card_of(case, n, seed, timing, work) -> Card;   card_answer(card) -> Answer (screen, card.csv, card.json, card.png, card.html)
"""

from collections.abc import Sequence
from typing import Any, NamedTuple

from sleevelift.case.schema import Case
from sleevelift.run import in_short_form
from sleevelift.shown import milliseconds as ms
from sleevelift.stand.abort import Abort, IgniterTimes, aborts, peaks
from sleevelift.stand.accept import Accept, accepted
from sleevelift.stand.bands import LEAST_RUNS, Bands, bands_of
from sleevelift.stand.holds import Hold, afterwards, before, cautions, caveats, pressurised
from sleevelift.stand.igniter import igniter_times
from sleevelift.stand.sensors import Sensor, sensors_of
from sleevelift.stand.sequence import Step, steps_of, waits_of
from sleevelift.study.odds import check_chance
from sleevelift.study.store import ALONE, Work
from sleevelift.study.window import Timing


class Card(NamedTuple):
    """Everything that stands on a test card, SI, times from the first on command."""

    bands: Bands
    accept: list[Accept]
    aborts: list[Abort]
    sensors: list[Sensor]
    steps: list[Step]
    before: list[Hold]
    pressurised: list[Hold]
    afterwards: list[Hold]
    cautions: list[str]
    igniter: IgniterTimes | None
    window: dict[str, Any] | None
    window_words: str
    against: list[str]
    """what speaks against the test as it stands"""
    conditions: list[str]
    """what must be so before it"""

    @property
    def case(self) -> Case:
        return self.bands.case


BY_DESIGN = ("no_fuel_margin", "fuel_loss_margin")
"""Margins against opening on gas alone: a bench whose gas is raised to lift without a lit chamber fails them on purpose."""


def stays_shut(bands: Bands) -> bool:
    """Whether a dry case is to stay shut: its solenoid valve shifts, and the sleeve never breaks away."""
    return bands.case.case.kind == "dry" and bool((bands.batch.outcomes == "never-broke-away").all())


def expected_to_fail(bands: Bands) -> tuple[str, ...]:
    """Checks that say nothing against this test: a bench lifts on gas alone, or a dry case is to stay shut."""
    if bands.case.case.kind == "hot":
        return ()
    return (*BY_DESIGN, "opens", "opening_margin", "full_lift_margin", "opening_time") if stays_shut(bands) else BY_DESIGN


def found_against(bands: Bands, watched: Sequence[Abort], igniter: IgniterTimes | None) -> list[str]:
    """What speaks against the test as the case has it: failed checks, pressures above what parts may see, the igniter's times."""
    out = []
    excused = expected_to_fail(bands)
    failed = [check.name for check in bands.nominal.checks if not check.passed and check.name not in excused]
    if failed:
        out.append(f"checks of the case that fail: {', '.join(failed)}")
    often = []
    for name, values in bands.batch.checks.items():
        fails = check_chance(values, passed=False)
        if fails.hits and name not in failed and name not in excused:
            often.append(f"{name} in {fails.hits} of {fails.runs} runs")
    if often:
        out.append(f"checks that fail within the ranges: {', '.join(often)}")
    lost = len(bands.batch) - bands.complete
    if lost:
        out.append(f"{lost} of {len(bands.batch)} runs did not come to their end")
    out += [f"{one.name}: {one.why}" for one in watched if "NOT below" in one.why]
    if igniter is not None:
        own = bands.case.igniter
        ons = [] if own is None else [t - bands.origin for t in own.on]
        if igniter.holds is False:
            out.append("the igniter's setting does not hold over the ranges (sleevelift window)")
        if igniter.on_by is not None and ons and min(ons) > igniter.on_by:
            out.append(f"the case's igniter is on at {ms(min(ons))}, later than {ms(igniter.on_by)} (window)")
    return out


def conditions_of(bands: Bands, watched: Sequence[Abort]) -> list[str]:
    """What must be so before the test: blanks filled, and an igniter that is proven where no abort would be in time."""
    blanks = [one.name for one in watched if one.blank]
    out = [f"these limits are found and written in: {', '.join(blanks)}"] if blanks else []
    alone = [check.name for check in bands.nominal.checks if not check.passed and check.name in BY_DESIGN]
    if alone and bands.case.case.kind != "hot":
        out.append(f"the off command is proven first: gas alone lifts or holds the sleeve here ({', '.join(alone)})")
    if stays_shut(bands):
        out.append("it is meant to stay shut (no run lifts)")
    if any("TOO LATE" in one.why for one in watched):
        out.append("the igniter is proven burning before the on command (an abort on no light comes too late)")
    return out


def card_of(case: Case, n: int, seed: int, timing: Timing | None, work: Work = ALONE) -> Card:
    """The card of a case, from n runs over its ranges; `timing` for hot cases (`study.window.timing_of`)."""
    written, case = case, in_short_form(case)
    bands = bands_of(case, n, seed, work)
    igniter, facts, words = (None, None, "") if timing is None else igniter_times(case, timing, n, seed, work)
    watched = aborts(bands, igniter)
    found = peaks(bands)
    return Card(
        bands,
        accepted(bands),
        watched,
        sensors_of(bands, watched),
        steps_of(bands, watched, igniter, waits_of(written)),
        before(case, found.get("stored_gas_energy")),
        pressurised(case, found),
        afterwards(case),
        cautions(case),
        igniter,
        facts,
        words,
        found_against(bands, watched, igniter),
        conditions_of(bands, watched),
    )


def sentence_of(card: Card) -> str:
    """One sentence: whether anything speaks against the test."""
    head = f"Card of a {card.case.case.kind} test of {card.case.name}"
    if card.against:
        needed = f"; needed besides: {'; '.join(card.conditions)}" if card.conditions else ""
        return f"{head}: NOT READY: {'; '.join(card.against)}{needed}."
    runs = f"{card.bands.complete} runs over {len(card.bands.ranges)} ranged values"
    only = f", provided that {' and '.join(card.conditions)}" if card.conditions else ""
    return f"{head}: nothing in {runs} speaks against it{only}. The hold points decide."


def notes_of(card: Card) -> list[str]:
    """How the numbers came about."""
    bands = card.bands
    out = [
        f"{len(bands.batch)} runs, seed {bands.seed}, each of {len(bands.ranges)} ranged values uniform over its range: "
        + (", ".join(bands.ranges) or "none")
        + ". P1 to P99 at any one instant; a single run leaves it somewhere more often.",
    ]
    if not bands.ranges:
        out.append("No value of the case carries a range: the bands have no width and say nothing of spread. Give ranges first.")
    elif bands.complete < LEAST_RUNS:
        out.append(f"Fewer than {LEAST_RUNS} runs: no accept limits are made of them.")
    if card.window_words:
        out.append(f"Igniter: {card.window_words}")
    return [*out, *caveats(card.case)]
