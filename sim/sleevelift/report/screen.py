"""What the terminal shows: a run, the values of a case, and the pieces of which all screens are made.

Plain trade words, practical units, no bare SI.

Colour only repeats what a word says (holds, FAILS), so nothing is lost on a plain terminal, in a log, or to a
colour-blind reader. Text from a case is shown as text: markup and control characters in it mean nothing here.
"""

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from sleevelift.barriers import warning
from sleevelift.case.show import uniform_head, uniform_text
from sleevelift.plant.names import MEASURES
from sleevelift.reader import METRIC, Reader
from sleevelift.report.tables import Column, print_table
from sleevelift.sequence.resolve import DONE, UNUSED
from sleevelift.sequence.table import SHEET, sequence_sheet
from sleevelift.shown import (
    CHECK_UNITS,
    GROUP_TITLES,
    INSTANTS,
    Origin,
    counted,
    on_screen,
    origin_of,
    practical,
    screen_unit,
    together,
)

if TYPE_CHECKING:
    from sleevelift.case.schema import Case
    from sleevelift.case.show import Row
    from sleevelift.check import Check
    from sleevelift.measures import Pulse
    from sleevelift.result import Result

PLAIN_WIDTH = 120
"""columns where the output is no terminal."""
WIDE = 150
"""columns for the values of a case where the output is no terminal: they read across."""
LEAST_WIDTH = 60
"""columns below which tables stop being readable: they are laid out for these and wrap."""
LONGEST_TEXT = 300
"""letters of one text from a case on screen."""
TOLD_TOGETHER = 3
"""Measures without a number for one and the same reason from which on the reason is told once."""
HEADING, QUIET, GOOD, BAD, UNSURE = "bold", "dim", "green", "bold red", "yellow"


def plain(text: Any) -> str:
    """Text without control characters, on one line, cut to a bearable length."""
    line = " ".join("".join(letter if letter.isprintable() else " " for letter in str(text)).split())
    return line if len(line) <= LONGEST_TEXT else line[: LONGEST_TEXT - 3] + "..."


def console(*, error: bool = False, plain_width: int = PLAIN_WIDTH) -> Console:
    """The console all screens are printed on: the terminal's width, or `plain_width` where there is none."""
    out = Console(stderr=error, highlight=False, emoji=False, soft_wrap=False)
    if not out.is_terminal:
        out.width = plain_width
    elif out.width < LEAST_WIDTH:
        out.width = LEAST_WIDTH
    return out


class Rows:
    """A table that is being filled, row by row."""

    def __init__(self, *headers: tuple[str, str]) -> None:
        """(heading, justify) per column; a last column on the left holds words that may go below their row."""
        last = len(headers) - 1
        self.columns = [Column(title, justify, n == last and justify == "left") for n, (title, justify) in enumerate(headers)]
        self.rows: list[tuple[str | Text, ...]] = []

    def add_row(self, *cells: str | Text) -> None:
        """One row, a cell per column."""
        self.rows.append(cells)


def heading(out: Console, text: str) -> None:
    """A heading with a blank line above."""
    out.print()
    out.print(Text(text, style=HEADING))


def indented(out: Console, table: Rows) -> None:
    """A table under its heading."""
    print_table(out, table.columns, table.rows)


def bullets(out: Console, lines: Iterable[str], style: str = "") -> None:
    """One entry per line, wrapped with a hanging indent."""
    table = Rows(("", "left"), ("", "left"))
    for line in lines:
        table.add_row("-", Text(plain_long(line), style=style))
    indented(out, table)


def plain_long(text: str) -> str:
    """Text without control characters, on one line, uncut: for the program's own sentences."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())


def title_lines(out: Console, name: str, title: str, kind: str, invented: bool) -> None:
    """Name and title of a case."""
    out.print()
    out.rule(Text(plain(name), style=HEADING), align="left", characters="-")
    out.print(Text(plain(title)))
    out.print(Text(f"{kind} case" + (", INVENTED NUMBERS: nobody's hardware" if invented else ""), style=QUIET))


def verdict(passed: bool | None) -> Text:
    """A verdict as a word."""
    if passed is None:
        return Text("-", style=QUIET)
    return Text("holds", style=GOOD) if passed else Text("FAILS", style=BAD)


# ------------------------------------------------------------------------------------ a run


def print_result(out: Console, result: "Result", *, timeline: bool = False) -> None:
    """A run: cautions, measures in groups, checks, outcome."""
    table = result.case.case
    title_lines(out, result.case.name, table.title, table.kind, table.invented)
    warned = warning(result.case)
    if warned:
        out.print(Text(plain_long(warned), style=BAD))
    heading(out, "Cautions and remarks")
    bullets(out, result.warnings)
    for group, title in GROUP_TITLES.items():
        _print_group(out, result, group, title)
    if len(result.pulses) > 1:
        origin = origin_of(result.case.solenoid.on)
        title = f"{len(result.pulses)} pulses (on: from {origin.words}; the measures above are the first pulse's)"
        print_pulses(out, result.pulses, title, origin, result.case.reader)
    _print_sequence(out, result)
    if timeline:
        _print_timeline(out, result)
    _print_checks(out, result.checks, origin_of(result.case.solenoid.on), result.case.reader)
    _print_answer(out, result)


def _print_answer(out: Console, result: "Result") -> None:
    """The answer in words, last, where the eye is when the command ends."""
    from sleevelift.plots.words import answer

    said = answer(result)
    heading(out, f"Outcome: {result.outcome}")
    tone = {"good": GOOD, "alarm": BAD}.get(said.tone, HEADING)
    out.print(Padding(Text(said.outcome, style=tone), (0, 0, 0, 2)))
    for sentence in (said.opening, said.closing, said.flows, said.ignition):
        if sentence:
            out.print(Padding(Text(plain_long(sentence)), (0, 0, 0, 2)))
    if said.failed:
        out.print(Padding(Text(f"Failed checks: {', '.join(said.failed)}", style=BAD), (0, 0, 0, 2)))
    if result.failure:
        out.print(Padding(Text(plain_long(result.failure), style=BAD), (0, 0, 0, 2)))


def _print_group(out: Console, result: "Result", group: str, title: str) -> None:
    """Measures of one group; those without a number for a reason that several share are named together."""
    members = [measure for measure in MEASURES if measure.group == group]
    origin = origin_of(result.case.solenoid.on)
    missing: dict[str, list[str]] = {}
    for m in members:
        if result.measures[m.name] is None:
            missing.setdefault(result.reasons.get(m.name, ""), []).append(m.name)
    together_told = {why: names for why, names in missing.items() if len(names) >= TOLD_TOGETHER}
    rows = Rows(("measure", "left"), ("value", "right"), ("", "left"), ("meaning, or why there is none", "left"))
    for m in members:
        value = result.measures[m.name]
        if value is not None:
            shown = practical(m.name, counted(m.name, value, origin), m.unit, None, result.case.reader)
            rows.add_row(m.name, shown.number, shown.unit, Text(m.meaning, style=QUIET))
        elif result.reasons.get(m.name, "") not in together_told:
            rows.add_row(m.name, Text("-", style=QUIET), "", Text(result.reasons.get(m.name, ""), style=UNSURE))
    counts = any(m.name in INSTANTS and result.measures[m.name] is not None for m in members)
    heading(out, f"{title} (instants from {origin.words})" if counts else title)
    if rows.rows:
        indented(out, rows)
    for why, names in together_told.items():
        out.print(Padding(Text(f"none, {why}: {', '.join(names)}", style=QUIET), (0, 0, 0, 2)))


PULSE_COLUMNS = (
    ("opening", "opening_time", ".1f"), ("closing", "closing_time", ".1f"), ("hard start", "hard_start_pressure", ".1f"),
    ("bottle", "bottle_at_command", ".2f"), ("gas", "gas_per_cycle", ".4g"),
)  # fmt: skip
"""(heading, measure, digits) of the table of pulses; what no pulse has is left out."""


def print_pulses(out: Console, pulses: "Sequence[Pulse]", title: str, origin: Origin, reader: Reader = METRIC) -> None:
    """A row per pulse."""
    heading(out, title)
    columns = [column for column in PULSE_COLUMNS if any(p.measures[column[1]] is not None for p in pulses)]
    heads = [(f"{title}, {screen_unit(name, reader)}", "right") for title, name, _ in columns]
    rows = Rows(("pulse", "right"), ("on, ms", "right"), *heads, ("outcome", "left"))
    for pulse in pulses:
        values = [pulse.measures[name] for _, name, _ in columns]
        numbers = [
            "-" if v is None else f"{float(on_screen(name, v, reader)):{digits}}" for v, (_, name, digits) in zip(values, columns)
        ]
        begins = ", begins lifted" * pulse.begins_lifted + ", begins lit" * pulse.begins_lit
        at = pulse.measures["energize_time"]
        good = pulse.outcome in ("opened-and-closed", "opened-no-off-command")
        on = "-" if at is None else f"{1e3 * (at - origin.instant):.1f}"
        rows.add_row(str(pulse.number), on, *numbers, Text(pulse.outcome + begins, style="" if good else BAD))
    indented(out, rows)


def _print_sequence(out: Console, result: "Result") -> None:
    """The steps of a sequence, as they went."""
    if result.sequence is None:
        return
    origin = origin_of(result.case.solenoid.on)
    heading(out, f"Sequence ({SHEET[0]}: from {origin.words}; what a step waits for: from the start of the run)")
    rows = Rows(*((title, "right" if title == SHEET[0] else "left") for title in SHEET))
    for *cells, state in sequence_sheet(result.sequence, origin):
        rows.add_row(*(plain(cell) for cell in cells), Text(plain(state), style="" if state in FINE_STATES else BAD))
    indented(out, rows)


FINE_STATES = (DONE, UNUSED)
"""States of a step that are as they should be."""


def _print_timeline(out: Console, result: "Result") -> None:
    """What happened, in order."""
    origin = origin_of(result.case.solenoid.on)
    heading(out, f"What happened (from {origin.words})")
    rows = Rows(("at, ms", "right"), ("what", "left"), ("sleeve before", "left"), ("after", "left"))
    for event in result.timeline:
        rows.add_row(f"{1e3 * (event.instant - origin.instant):.3f}", event.what, event.mode_before, event.mode_after)
    indented(out, rows)


def _check_value(name: str, value: float | None, like: float | None, origin: Origin, reader: Reader) -> str:
    """Value or limit of a check with its unit."""
    if value is None or not math.isfinite(value):
        return "-"
    unit = CHECK_UNITS.get(name) or next((m.unit for m in MEASURES if m.name == name), "")
    return together(practical(name, counted(name, value, origin), unit, like, reader))


def _print_checks(out: Console, checks: "Sequence[Check]", origin: Origin, reader: Reader = METRIC) -> None:
    """Failed checks with what to change, then those that hold."""
    from sleevelift.check import NOT_KNOWN

    failed = [check for check in checks if not check.passed]
    held = [check for check in checks if check.passed]
    heading(out, f"Checks: {len(held)} hold, {len(failed)} fail")
    rows = Rows(("", "left"), ("check", "left"), ("value", "right"), ("limit", "right"), ("", "left"))
    for check in failed + held:
        advice = Text(plain_long(check.advice), style="" if not check.passed else QUIET)
        size = max((abs(number) for number in (check.value, check.limit) if number is not None), default=None)
        value, limit = (_check_value(check.name, number, size, origin, reader) for number in (check.value, check.limit))
        rows.add_row(verdict(check.passed) if check.answered else Text(NOT_KNOWN, style=BAD), check.name, value, limit, advice)
    indented(out, rows)


class Line(NamedTuple):
    """One case of several, in one line."""

    name: str
    outcome: str
    opening: float | None
    closing: float | None
    failed: int | None
    exit_code: int


def print_overview(out: Console, lines: Sequence[Line]) -> None:
    """Several cases in one table."""
    heading(out, "All cases")
    rows = Rows(
        ("case", "left"), ("outcome", "left"), ("opening, ms", "right"), ("closing, ms", "right"),
        ("failed checks", "right"),
    )  # fmt: skip
    for line in lines:
        times = ["-" if value is None else f"{1e3 * value:.3f}" for value in (line.opening, line.closing)]
        failed = "-" if line.failed is None else str(line.failed)
        outcome = Text(line.outcome, style=BAD if line.exit_code in (1, 2) else "")
        rows.add_row(plain(line.name), outcome, *times, Text(failed, style=BAD if line.failed else ""))
    indented(out, rows)


# ------------------------------------------------------------------------- values of a case


def print_rows(out: Console, name: str, rows: "Sequence[Row]", case: "Case") -> None:
    """Every value of a case, table by table, with where it comes from."""
    out.print(Text(f"{plain(name)}: every value the program uses", style=HEADING))
    parts: dict[str, list[list[Text]]] = {}
    for row in rows:
        part, _, key = row.path.rpartition(".")
        parts.setdefault(part, []).append(_value_cells(key, row, case))
    every = [cells for part in parts.values() for cells in part]
    for part, cells in parts.items():
        heading(out, f"[{part}]" if part else "(top)")
        print_table(out, value_columns(case.reader), cells, alike=every)


def value_columns(reader: Reader) -> list[Column]:
    """Columns of the table of values."""
    heads = ("key", "as written", "SI" if reader.name == "metric" else uniform_head(reader), "origin")
    return [*(Column(head) for head in heads), Column("meaning; why this value", explains=True)]


def _value_cells(key: str, row: "Row", case: "Case") -> list[Text]:
    why = f"{row.meaning}; {row.reason}" if row.reason else row.meaning
    style = {"given": GOOD, "derived": UNSURE}.get(row.origin, QUIET)
    written = Text(plain(row.user_value))
    return [Text(key), written, Text(plain(uniform_text(row, case))), Text(row.origin, style=style), Text(why, style=QUIET)]
