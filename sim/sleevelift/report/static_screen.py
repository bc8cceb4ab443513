"""What the terminal shows of a static check: areas, forces, throttle, energy, findings, margins, conclusion."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from sleevelift.reader import METRIC, Reader
from sleevelift.report.integrity import barrier_sheets
from sleevelift.report.screen import BAD, GOOD, HEADING, QUIET, Rows, bullets, heading, indented, plain, title_lines, verdict
from sleevelift.report.tables import Sheet
from sleevelift.shown import practical, together

if TYPE_CHECKING:
    from sleevelift.static_answer.records import Finding, ForceState, StaticMargin, StaticReport, Throttle


def print_static(out: Console, report: "StaticReport", reader: Reader = METRIC) -> None:
    """The static answer."""
    case = report.case
    title_lines(out, case["name"], case["title"], case["kind"], case["invented"])
    if report.barriers.warning:
        out.print(Text(report.barriers.warning, style=BAD))
    heading(out, "Cautions and remarks")
    bullets(out, report.cautions)
    _print_areas(out, report, reader)
    _print_forces(out, report.forces, reader)
    _print_throttle(out, report, reader)
    _print_energy(out, report, reader)
    _print_findings(out, report.findings, reader)
    for sheet in barrier_sheets(report.barriers):
        _print_sheet(out, sheet)
    out.print(Padding(Text(report.barriers.not_looked_at, style=QUIET), (0, 0, 0, 2)))
    _print_margins(out, report, reader)
    if report.motorization_rule:
        _print_rule(out, report)
    _print_conclusion(out, report)


def _print_sheet(out: Console, sheet: Sheet) -> None:
    """A table of words; a column of counts stands to the right."""
    heading(out, sheet.title)
    counts = [all(row[place].isdigit() for row in sheet.rows) for place in range(len(sheet.columns))]
    rows = Rows(*((title, "right" if number else "left") for title, number in zip(sheet.columns, counts)))
    for row in sheet.rows:
        rows.add_row(*(Text(plain(cell)) for cell in row))
    indented(out, rows)


FINER = {"in": 1, "in2": 3, "psia": -1, "lbf": 0, "lb/s": 0}
"""Decimals more than the metric reader's, in units that are so much larger or smaller."""


def _number(reader: Reader, kind: str, si: float, form: str) -> str:
    """A number of a column; form: the metric reader's, with its decimals."""
    head, _, tail = form.partition(".")
    decimals = max(int(tail[:-1]) + FINER.get(reader.column(kind), 0), 0)
    return f"{float(reader.in_column(kind, si)):{head}.{decimals}f}"


def _print_areas(out: Console, report: "StaticReport", reader: Reader) -> None:
    heading(out, "Areas of the sleeve")
    rows = Rows(("area", "left"), (reader.column("area"), "right"), ("sees", "left"))
    for area in report.areas:
        rows.add_row(area.name, _number(reader, "area", area.value, ".2f"), Text(area.meaning, style=QUIET))
    indented(out, rows)


FORCE_TERMS = (
    ("gas", "gas on the lift area"),
    ("fuel", "fuel on the fuel opening area"),
    ("gap", "pressure at the nose"),
    ("chamber", "chamber on the face"),
    ("jet", "fuel jet"),
    ("spring_side", "spring side"),
    ("spring", "spring"),
    ("weight", "weight"),
    ("net", "net, without friction"),
    ("breakaway", "breakaway friction, nominal"),
)


def _print_forces(out: Console, states: "Sequence[ForceState]", reader: Reader) -> None:
    heading(
        out,
        f"Forces on the sleeve, {reader.column('force')} (opening positive, pressures above ambient; actuation gas "
        "and fuel pressure)",
    )
    rows = Rows(("", "left"), *((state.name, "right") for state in states))
    for field, words in FORCE_TERMS:
        if field == "spring_side" and not any(state.spring_side for state in states):
            continue  # stands at ambient in a static answer
        sign = "" if field == "breakaway" else "+"
        style = HEADING if field == "net" else ""
        rows.add_row(
            Text(words, style=style),
            *(Text(_number(reader, "force", getattr(state, field), f"{sign}.1f"), style=style) for state in states),
        )
    indented(out, rows)


def _print_throttle(out: Console, report: "StaticReport", reader: Reader) -> None:
    wet = report.case["kind"] != "dry"
    if not wet:
        heading(out, "Force balance over the stroke (gas at actuation pressure)")
        force = reader.column("force")
        rows = Rows(
            (f"lift, {reader.column('length')}", "right"), (f"net force, {force}", "right"), (f"breakaway, {force}", "right")
        )
        for row in report.throttle_unlit:
            rows.add_row(
                _number(reader, "length", row.lift, ".3f"), _number(reader, "force", row.net_force, "+.1f"),
                _number(reader, "force", row.breakaway, ".1f"),
            )  # fmt: skip
        indented(out, rows)
        return
    names = [("unlit", report.throttle_unlit)] + ([("lit", report.throttle_lit)] if report.throttle_lit else [])
    for name, table in names:
        suffix = f", {name}" if report.throttle_lit else ""
        heading(out, f"Throttle table{suffix} (areas are Cd A; steady flow; gas at actuation pressure)")
        _print_throttle_rows(out, table, reader)


def _print_throttle_rows(out: Console, table: "Sequence[Throttle]", reader: Reader) -> None:
    length, area, flow, pressure, force = (reader.column(kind) for kind in ("length", "area", "flow", "pressure", "force"))
    rows = Rows(
        (f"lift, {length}", "right"), (f"slots, {area}", "right"), (f"seat, {area}", "right"), (f"oxidizer, {flow}", "right"),
        (f"fuel, {flow}", "right"), ("O/F", "right"), (f"chamber, {pressure}", "right"), (f"net force, {force}", "right"),
        (f"breakaway, {force}", "right"),
    )  # fmt: skip
    for row in table:
        rows.add_row(
            _number(reader, "length", row.lift, ".3f"), _number(reader, "area", row.slot_area, ".3f"),
            _number(reader, "area", row.seat_area, ".3f"),
            _number(reader, "flow", row.oxidizer_flow, ".4f"), _number(reader, "flow", row.fuel_flow, ".4f"),
            "-" if row.mixture_ratio is None else f"{row.mixture_ratio:.2f}",
            _number(reader, "pressure", row.chamber_pressure, ".2f"), _number(reader, "force", row.net_force, "+.1f"),
            _number(reader, "force", row.breakaway, ".1f"),
        )  # fmt: skip
    indented(out, rows)


def _print_energy(out: Console, report: "StaticReport", reader: Reader) -> None:
    heading(out, "Stored gas energy (isentropic expansion to ambient)")
    rows = Rows(("volume", "left"), ("size", "right"), ("at the start", "right"), ("valve open", "right"))
    for part in report.stored_energy:
        energies = [together(practical("", joules, "J", None, reader)) for joules in (part.at_start, part.valve_open)]
        rows.add_row(part.name, together(practical("", part.volume, "m3", None, reader)), *energies)
    totals = [sum(getattr(part, field) for part in report.stored_energy) for field in ("at_start", "valve_open")]
    rows.add_row(Text("sum", style=HEADING), "", *(together(practical("", joules, "J", None, reader)) for joules in totals))
    indented(out, rows)
    if not any(part.name == "bottle" for part in report.stored_energy):
        told = "The gas source itself is not part of this case: its energy is not counted."
        out.print(Padding(Text(told, style=QUIET), (0, 0, 0, 2)))


def _finding_value(item: "Finding", reader: Reader) -> str:
    if item.value is None:
        return "-"
    text = together(practical(item.name, item.value, item.unit, None, reader))
    if item.low is not None and item.high is not None:
        low, high = (practical(item.name, end, item.unit, None, reader).number for end in (item.low, item.high))
        text += f" ({low} to {high})"
    return text


def _print_findings(out: Console, findings: "Sequence[Finding]", reader: Reader) -> None:
    heading(out, "Opening pressure, seat, spring, clearance, glands")
    rows = Rows(("", "left"), ("value", "right"), ("against", "right"), ("", "left"), ("", "left"))
    for item in findings:
        limit = "" if item.limit is None else together(practical(item.name, item.limit, item.unit, item.value, reader))
        style = QUIET if item.passed is not False else ""
        mark = Text("") if item.passed is None else verdict(item.passed)
        rows.add_row(item.name, _finding_value(item, reader), limit, mark, Text(item.advice, style=style))
    indented(out, rows)


def _per_cent(value: float | None) -> str:
    return "-" if value is None else f"{100.0 * value:+.1f}"


def _print_margins(out: Console, report: "StaticReport", reader: Reader) -> None:
    r = report.ranges
    gas, fuel = (reader.span("pressure", *r[name]) for name in ("gas_pressure", "fuel_pressure"))
    friction, jet = r["friction_factor"], r["jet_factor"]
    heading(
        out,
        f"Margins, % (gas {gas}, fuel {fuel}, friction x {friction[0]:.3g} to x {friction[1]:.3g}, jet factor {jet[0]:.3g} to "
        f"{jet[1]:.3g})",
    )
    rows = Rows(
        ("margin", "left"), ("worst", "right"), ("nominal", "right"), ("best", "right"), ("least at", "right"),
        ("", "left"), ("what it says; what to change", "left"),
    )  # fmt: skip
    for margin in report.margins:
        rows.add_row(*_margin_cells(margin, reader))
    indented(out, rows)


def _margin_cells(margin: "StaticMargin", reader: Reader) -> list[Text]:
    words = Text(margin.meaning, style=QUIET if margin.passed else "")
    if margin.passed is False:
        words = Text(f"does not hold: {margin.meaning}. To change: {margin.advice}")
    elif margin.passed is None:
        words = Text(f"{margin.meaning} ({margin.advice})", style=QUIET)
    lift = "" if margin.lift is None else f"{_number(reader, 'length', margin.lift, '.2f')} {reader.column('length')}"
    numbers = [Text(_per_cent(value)) for value in (margin.value, margin.nominal, margin.best)]
    if margin.passed is False:
        numbers[0].stylize(BAD)
    return [Text(margin.name), *numbers, Text(lift), verdict(margin.passed), words]


def _print_rule(out: Console, report: "StaticReport") -> None:
    heading(out, "By ECSS-E-ST-33-01C, clause 4.7.5.3, % (a rule for spacecraft mechanisms; the spring counts 0.8)")
    rows = Rows(("", "left"), ("friction factors", "left"), ("margin", "right"), ("", "left"))
    for rule in report.motorization_rule:
        holds = None if rule.value is None else rule.value >= 0.0
        rows.add_row(rule.name, rule.friction, _per_cent(rule.value), verdict(holds))
    indented(out, rows)


def _print_conclusion(out: Console, report: "StaticReport") -> None:
    heading(out, "Conclusion")
    failed = report.failed
    if failed:
        text = Text(f"{len(failed)} not held: {', '.join(failed)}", style=BAD)
    else:
        text = Text("every static margin holds over the stated ranges", style=GOOD)
    out.print(Padding(text, (0, 0, 0, 2)))
