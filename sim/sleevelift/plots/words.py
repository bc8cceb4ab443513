"""The answer of a run in words: what pictures and page say first.

    Result -> outcome sentence, opening, closing, lead, light-off, failed checks

The reader's units stand beside each number. Text of the case passes through
`plain_text` before it is shown.
"""

import unicodedata
from typing import NamedTuple

from sleevelift.measures import OPENED, judged
from sleevelift.plant.names import MEASURES
from sleevelift.ratings import absolute
from sleevelift.reader import METRIC, Reader
from sleevelift.result import Result
from sleevelift.sequence.findings import headline
from sleevelift.shown import milliseconds, origin_of, practical

DIGITS = 4
"""Significant digits of a number on a page."""
LONGEST = 400
"""Characters of a case's text that a page shows."""

OUTCOME_SENTENCES = {
    "opened-and-closed": "It opens on command and closes again.",
    "opened-no-off-command": "It opens on command; no off command follows the last on.",
    "did-not-close": "It opens but DOES NOT CLOSE: the sleeve is off its seat at the end of the run.",
    "hung-part-way": "It HANGS PART-WAY: it leaves the seat and does not reach full lift before the off command.",
    "never-broke-away": "It DOES NOT OPEN: the sleeve never breaks away from its seat.",
    "valve-never-shifted": "It DOES NOT OPEN: the solenoid valve never shifts.",
    "lifted-without-command": "It LIFTS WITHOUT A COMMAND.",
    "left-gas-range": "The run ENDED EARLY: the gas left the range of its table.",
    "cushion-crushed": "The run ENDED EARLY: the falling sleeve crushed the last gas of a lift chamber full of liquid.",
    "cut-short": "The run was CUT SHORT at its horizon before it was decided what the sleeve does.",
    "failed": "The COMPUTATION FAILED; what is shown ends there.",
}
"""Outcome -> sentence."""

KIND_WORDS = {"dry": "dry bench test", "cold-flow": "cold-flow test", "hot": "hot test"}

CAUTION = (
    "A model is no permission to test: pressurised gas, oxidizer and fuel can kill. Operate remotely, nobody near a "
    "pressurised rig."
)


def plain_text(text: str, longest: int = LONGEST) -> str:
    """`text` on one line, without control and format characters, cut to `longest` characters."""
    plain = text.isascii() and text.isprintable()
    kept = text if plain else "".join(" " if c.isspace() else c for c in text if c.isspace() or unicodedata.category(c)[0] != "C")
    line = " ".join(kept.split())
    return line if len(line) <= longest else line[: longest - 3].rstrip() + "..."


def number(value: float, digits: int = DIGITS) -> str:
    """`value` to so many significant digits, trailing zeros kept, without exponent between 1e-4 and 1e6.

    >>> number(62.98719), number(0.1), number(2034.4), number(0.0)
    ('62.99', '0.1000', '2034', '0')
    """
    if value == 0.0:
        return "0"
    return f"{value:#.{digits}g}".rstrip(".")


def words_in(reader: Reader, kind: str, si: float, digits: int = DIGITS) -> str:
    """A value with its unit, trailing zeros kept."""
    return f"{number(reader.number(kind, si), digits)} {reader.unit(kind)}"


def shown(name: str, value: float | None, unit: str, like: float | None = None, reader: Reader = METRIC) -> tuple[str, str]:
    """(number, unit) of a measure as everywhere; ("-", "") where it is null."""
    return ("-", "") if value is None else practical(name, value, unit, like, reader)


class Answer(NamedTuple):
    """What a run says first."""

    outcome: str
    """one sentence"""
    tone: str
    """"good": it did what it was told and no check failed; "plain": some check failed; "alarm": it did not do it"""
    opening: str
    closing: str
    flows: str
    """empty in a dry case"""
    ignition: str
    """empty unless hot"""
    failed: tuple[str, ...]
    """names of the failed checks, in words"""


def _sum_of(result: Result, name: str, verb: str, parts: tuple[tuple[str, str], ...]) -> str:
    """'Opens in 63.0 ms = electrical 10.3 + fill 43.0 + travel 9.7', or as far as it went, with the reason."""
    found = result.measures
    total = found.get(name)
    if total is not None:
        pieces = " + ".join(f"{word} {1e3 * (found[part] or 0.0):.3f}" for part, word in parts)
        return f"{verb} in {milliseconds(total)}: {pieces} ms."
    known = [(word, value) for part, word in parts if (value := found.get(part)) is not None]
    gone = "; ".join(f"{word} {milliseconds(value)}" for word, value in known)
    reason = result.reasons.get(name, "it did not happen")
    words = f"No {name.replace('_', ' ')}: {reason}."
    return f"{words} As far as it went: {gone}." if gone else words


OPENING_PARTS = (("valve_delay", "electrical"), ("fill_delay", "fill"), ("travel_time", "travel"))
CLOSING_PARTS = (("release_delay", "release"), ("vent_delay", "vent"), ("return_time", "return"))


def _flow_words(result: Result) -> str:
    """Which propellant leads on the way up and which is last on the way down."""
    if result.case.oxidizer is None:
        return ""
    lead = result.measures.get("oxidizer_lead")
    lag = result.measures.get("shutdown_oxidizer_lag")
    if lead is None:
        words = f"No oxidizer lead: {result.reasons.get('oxidizer_lead', 'it did not happen')}."
    else:
        first = "Oxidizer" if lead >= 0.0 else "FUEL"
        words = f"{first} leads by {milliseconds(abs(lead))} on the way up."
    if lag is not None:
        words += f" {'Oxidizer' if lag > 0.0 else 'Fuel'} is the last in on the way down, by {milliseconds(abs(lag))}."
    return words


def _ignition_words(result: Result) -> str:
    """Light-off and the hard-start estimate against the allowable pressure."""
    chamber = result.case.chamber
    if chamber is None:
        return ""
    found = result.measures
    lag, estimate = found.get("light_off_lag"), found.get("hard_start_pressure")
    if found.get("light_off") is None:
        words = f"Not lit: {result.reasons.get('light_off', 'it did not happen')}."
    elif lag is None:
        words = "Lit before both propellants were in the chamber."
    else:
        words = f"Lights {milliseconds(lag)} after both propellants are in the chamber."
    if estimate is not None:
        words += f" If the pool burned at once: {absolute(estimate, result.case.reader)} (estimate, no bound"
        allowable = chamber.allowable_pressure
        words += f"; allowable {absolute(allowable, result.case.reader)})." if allowable is not None else ")."
    return words


def words_of(name: str) -> str:
    """A measure's or check's name with spaces for underscores."""
    return name.replace("_", " ")


def told(result: Result) -> Result:
    """The result as its answer tells it: with measures and reasons of the pulse whose outcome is the run's."""
    pulse = judged(result.pulses)
    if len(result.pulses) < 2 or pulse is None:
        return result
    return result._replace(measures={**result.measures, **pulse.measures}, reasons={**result.reasons, **pulse.reasons})


def pulse_words(result: Result) -> str:
    """Which of several pulses the answer is about."""
    pulse = judged(result.pulses)
    if len(result.pulses) < 2 or pulse is None:
        return ""
    count = len(result.pulses)
    if pulse.outcome == OPENED:
        return f"All {count} pulses open and close. "
    before = "" if pulse.number == 1 else f", the first that does not open and close after {pulse.number - 1} that do"
    return f"Pulse {pulse.number} of {count}{before}: "


def answer(result: Result) -> Answer:
    """What the run says first; of several pulses that of the first that does not open and close."""
    otherwise = headline(result.sequence, origin_of(result.case.solenoid.on))
    which = (f"{otherwise} " if otherwise else "") + pulse_words(result)
    result = told(result)
    failed = tuple(words_of(check.name) for check in result.checks if not check.passed)
    good = result.outcome in ("opened-and-closed", "opened-no-off-command")
    return Answer(
        which + OUTCOME_SENTENCES.get(result.outcome, words_of(result.outcome)),
        ("plain" if failed else "good") if good and not otherwise else "alarm",
        _sum_of(result, "opening_time", "Opens", OPENING_PARTS),
        _sum_of(result, "closing_time", "Closes", CLOSING_PARTS),
        _flow_words(result),
        _ignition_words(result),
        failed,
    )


MEANINGS = {measure.name: measure.meaning for measure in MEASURES}
GROUPS = {measure.name: measure.group for measure in MEASURES}
