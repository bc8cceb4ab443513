"""A run at a glance: what `repr(result)` and a notebook show, and the measures as a table.

outcome, failed checks, headline numbers          one screen, whatever the length of the run
table(...) -> MeasureTable                        every measure with its unit, or the reason why it has none
"""

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import NamedTuple

from sleevelift.check import Check
from sleevelift.plant.names import MEASURES
from sleevelift.reader import METRIC, Reader
from sleevelift.shown import practical, together

HEADLINES = (
    "opening_time", "closing_time", "breakaway_pressure", "oxidizer_lead", "light_off_lag", "hard_start_pressure",
    "steady_oxidizer_flow", "steady_fuel_flow", "full_lift_margin", "closing_margin", "closing_margin_unlit", "gas_per_cycle",
)  # fmt: skip
"""Measures of the glance, those that happened."""
LONGEST_LINE = 110
"""letters of a line."""
MOST_FAILED = 8
"""Failed checks that are named."""


class MeasureRow(NamedTuple):
    """One measure of a run."""

    group: str
    name: str
    value: float | None
    """SI; None where it did not happen"""
    unit: str
    """SI; empty for a ratio or a count"""
    shown: str
    """value and unit as a person reads them, or why there is none"""
    meaning: str


class MeasureTable(tuple[MeasureRow, ...]):
    """Rows of measures, which print as a table."""

    __slots__ = ()

    def __repr__(self) -> str:
        name = max((len(row.name) for row in self), default=0)
        return "\n".join(cut(f"{row.name:{name}}  {row.shown}") for row in self)

    def _repr_html_(self) -> str:
        rows = ((row.name, row.shown, row.meaning) for row in self)
        return html_table(("measure", "value", "meaning"), rows)


def cut(line: str) -> str:
    """A line no longer than LONGEST_LINE, without control characters."""
    clean = "".join(letter if letter.isprintable() else " " for letter in line)
    return clean if len(clean) <= LONGEST_LINE else clean[: LONGEST_LINE - 3] + "..."


def html_table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A plain table; what stands in it is text."""
    head = "".join(f"<th>{escape(word)}</th>" for word in heads)
    body = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def table(measures: Mapping[str, float | None], reasons: Mapping[str, str], reader: Reader = METRIC) -> MeasureTable:
    """Every measure of a run."""
    rows = []
    for m in MEASURES:
        value = measures[m.name]
        words = f"none: {reasons.get(m.name, 'it did not happen')}"
        if value is not None:
            words = together(practical(m.name, value, m.unit, None, reader))
        rows.append(MeasureRow(m.group, m.name, value, m.unit, words, m.meaning))
    return MeasureTable(rows)


class Glance(NamedTuple):
    """What is said of a run on one screen."""

    title: str
    facts: list[tuple[str, str]]
    """(what, text)"""


def glance(
    name: str, outcome: str, failure: str | None, measures: Mapping[str, float | None], reasons: Mapping[str, str],
    checks: Sequence[Check], points: int, reader: Reader = METRIC, sequence: str = "",
) -> Glance:  # fmt: skip
    """Outcome, failed checks, headline numbers, where the rest is."""
    failed = [check.name for check in checks if not check.passed]
    named = ", ".join(failed[:MOST_FAILED]) + (", ..." if len(failed) > MOST_FAILED else "")
    facts = [("failure", failure)] if failure else []
    facts += [("sequence", sequence)] if sequence else []
    facts.append(("checks", f"{len(checks) - len(failed)} hold, {len(failed)} fail{': ' + named if failed else ''}"))
    facts += [(row.name, row.shown) for row in table(measures, reasons, reader) if row.name in HEADLINES and row.value is not None]
    facts.append(("traces", f"{points} points" if points else "none"))
    facts.append(("more", ".table(), .measures, .reasons, .checks, .timeline, .traces, .warnings"))
    return Glance(f"run of {name}: {outcome}", facts)


def glance_text(one: Glance) -> str:
    """The glance as lines of text."""
    width = max(len(what) for what, _ in one.facts)
    return "\n".join([cut(one.title), *(cut(f"  {what:{width}}  {words}") for what, words in one.facts)])


def glance_html(one: Glance) -> str:
    """The glance for a notebook."""
    return f"<p><b>{escape(cut(one.title))}</b></p>" + html_table(("", ""), one.facts)
