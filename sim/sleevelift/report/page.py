"""One page for a browser or a printer: the answer first, then pictures, measures, checks, timeline, inputs, provenance.

    Result + pictures beside it -> report.html (no script; the pictures are inside, so that the file can be sent alone)

On a narrow screen a table's rows become blocks, each value under its heading (`labelled`); on paper (A4 or letter) a
picture has the whole width, and no picture or row is torn in two.

Every text passes through `text`, which drops control characters and escapes what HTML would read. Numbers stand in
the reader's units; result.json beside the page holds them in SI to every digit.
"""

import base64
import re
from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path
from typing import Any

from sleevelift.barriers import barriers, warning
from sleevelift.case.schema import Case
from sleevelift.case.show import Row, case_rows, uniform_head, uniform_text
from sleevelift.check import NOT_KNOWN, Check
from sleevelift.glands import gland_verdicts
from sleevelift.measures import OPENED
from sleevelift.plant.names import MEASURES
from sleevelift.plots import OF_A_PULSE, pictures_in
from sleevelift.plots.words import CAUTION, KIND_WORDS, Answer, answer, plain_text, shown, told, words_of
from sleevelift.report.files import PAGE_FILE, provenance, write_text_atomically
from sleevelift.report.integrity import barrier_sheets
from sleevelift.result import Result
from sleevelift.seat_verdicts import seat_verdicts
from sleevelift.sequence.resolve import DONE
from sleevelift.sequence.table import SHEET, sequence_sheet
from sleevelift.shown import CHECK_UNITS, GROUP_TITLES, counted, origin_of
from sleevelift.static_answer.leak_limits import leak_limits, told_of
from sleevelift.static_answer.margins import margin_numbers

LONGEST_TEXT = 6000
"""Characters of one text that the page shows; a case's note may have 5000."""

PICTURE_TITLES = {
    "start.png": "Start: from the command to full flow",
    "shutdown.png": "Stop: from the off command to rest",
    "sequence.png": "Sequence: commanded and actual, what is waited for",
    "throttle.png": "Throttle: what passes at each lift",
    "section.png": "Half-section to scale: shut above the axis, open below",
    "forces.png": "Forces: what opens, what closes, what friction can hold",
}
HEADLINES = (
    ("opening_time", "opening time"),
    ("closing_time", "closing time"),
    ("oxidizer_lead", "oxidizer lead"),
    ("light_off_lag", "light-off lag"),
    ("hard_start_pressure", "hard-start pressure, estimate"),
)
"""Measures in the boxes at the top; those of parts that the case does not have are left out."""

PULSE_COLUMNS = (
    ("pulse", ""), ("outcome", ""), ("on", "energize_time"), ("opening", "opening_time"), ("closing", "closing_time"),
    ("oxidizer lead", "oxidizer_lead"), ("hard-start pressure, estimate", "hard_start_pressure"),
    ("bottle at command", "bottle_at_command"), ("gas", "gas_per_cycle"),
)  # fmt: skip
"""(heading, measure) of the table of pulses."""

STYLE = """
:root{--ink:#1d2330;--faint:#5d6572;--rule:#d5dae1;--paper:#fff;--wash:#f4f6f8;--alarm:#b3261e;--good:#1b6b4a}
*{box-sizing:border-box}
body{margin:0 auto;max-width:62rem;padding:1.2rem;color:var(--ink);background:var(--paper);
 font:15px/1.45 "DejaVu Sans",Verdana,"Segoe UI",sans-serif;overflow-wrap:anywhere}
h1{font-size:1.5rem;margin:.2rem 0}h2{font-size:1.1rem;margin:2rem 0 .5rem;border-bottom:2px solid var(--ink)}
h3{font-size:.95rem;margin:1.1rem 0 .2rem}
.kind,.reason,footer{color:var(--faint)}
.invented{float:right;border:2px solid var(--alarm);color:var(--alarm);font-weight:bold;padding:.15rem .5rem}
.caution{border-left:6px solid var(--alarm);background:var(--wash);padding:.5rem .8rem;margin:.8rem 0}
.outcome{font-size:1.25rem;font-weight:bold;margin:.8rem 0 .4rem}
.good{color:var(--good)}.alarm{color:var(--alarm)}.plain{color:var(--ink)}
.boxes{display:flex;flex-wrap:wrap;gap:.6rem;margin:.6rem 0}
.box{border:1px solid var(--rule);padding:.4rem .7rem;min-width:9rem}
.box b{display:block;font-size:1.25rem}.box span{color:var(--faint);font-size:.85rem}
table{border-collapse:collapse;width:100%;font-size:.9rem;overflow-wrap:break-word}
th,td{text-align:left;vertical-align:top;padding:.22rem .6rem .22rem 0;border-bottom:1px solid var(--rule)}
.n{text-align:right;font-variant-numeric:tabular-nums}.n,.whole{white-space:nowrap}
td:last-child{overflow-wrap:anywhere}
.failed td{background:#fbecea}
.pictures{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(20rem,100%),1fr));gap:1rem}
figure{margin:0;border:1px solid var(--rule)}figcaption{padding:.3rem .5rem;font-size:.85rem}
img{display:block;width:100%;height:auto}
li{margin:.25rem 0}
@media screen and (max-width:44rem){
 .invented{float:none;display:inline-block}
 thead{display:none}tr{display:block;padding:.35rem 0;border-bottom:1px solid var(--rule)}
 td{display:flex;gap:.6rem;border:0;padding:.05rem 0}td:empty{display:none}
 td[data-of]::before{content:attr(data-of);flex:0 0 6.5rem;color:var(--faint);font-size:.85rem;text-align:left}
 td:first-child{font-weight:bold}td.n{text-align:left}.n,.whole{white-space:normal}
}
@page{margin:12mm}
@media print{
 html{font-size:10.5px}
 body{max-width:none;padding:0;font-size:1rem;-webkit-print-color-adjust:exact;print-color-adjust:exact}
 h2,h3{break-after:avoid}tr,.box,.caution,li{break-inside:avoid}thead{display:table-header-group}
 h2.illustrated{display:none}.pictures{display:block}figure{break-inside:avoid;break-before:page;break-after:page;border:0}
 img{width:100%;max-height:calc(100vh - 10mm);object-fit:contain;object-position:left top}figcaption{padding:.2rem 0}
 td,th{padding:.1rem .6rem .1rem 0}h2.inputs{break-before:page}
}
"""


def text(value: Any) -> str:
    """Text as HTML shows it: on one line, without control characters, nothing in it read as markup."""
    return escape(plain_text(str(value), LONGEST_TEXT), quote=True)


def element(name: str, content: str, css_class: str = "") -> str:
    """An element around HTML that is escaped already."""
    return f'<{name} class="{css_class}">{content}</{name}>' if css_class else f"<{name}>{content}</{name}>"


OVER_NUMBERS = ("value", "limit", "ms")
"""Headings of columns of numbers: they end where the numbers end."""


def labelled(row: str, heads: Sequence[str]) -> str:
    """A finished row whose cells after the first carry their headings, for screens on which rows become blocks."""
    left = iter(heads)

    def cell(match: re.Match[str]) -> str:
        head = next(left, "")
        return match.group() if head == heads[0] else f'<td data-of="{text(head)}"'

    return re.sub(r"<td(?=[ >])", cell, row)


def table(heads: Sequence[str], rows: Iterable[str]) -> str:
    """A table of finished rows."""
    head = "".join(element("th", text(h), "n" if h in OVER_NUMBERS else "") for h in heads)
    body = "".join(labelled(row, heads) for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _head(result: Result) -> list[str]:
    """Title, kind, INVENTED label, note, caution."""
    case = result.case.case
    invented = element("div", "INVENTED: nobody&#39;s hardware", "invented") if case.invented else ""
    kind = f"{KIND_WORDS[case.kind]}, case {text(result.case.name)}, actuation gas {text(result.case.gas.name)}"
    parts = [f"<header>{invented}", element("h1", text(case.title)), element("div", kind, "kind")]
    if case.note:
        parts.append(element("p", text(case.note)))
    warned = warning(result.case)
    parts += [element("div", element("b", text(warned)), "caution alarm")] if warned else []
    return [*parts, element("div", text(CAUTION), "caution"), "</header>"]


def in_units(result: Result, name: str, value: float | None, unit: str, like: float | None = None) -> tuple[str, str]:
    """(number, unit) of a value in SI, in the reader's units."""
    return shown(name, value, unit, like, result.case.reader)


def _boxes(result: Result) -> str:
    """The headline numbers, those that the case can have."""
    out = []
    for name, title in HEADLINES:
        reason = result.reasons.get(name, "")
        if "case has no" in reason:
            continue
        value, unit = in_units(result, name, result.measures.get(name), result.units[name])
        body = element("b", f"{text(value)} {text(unit)}" if value != "-" else "none")
        why = element("span", f"<br>{text(reason)}") if value == "-" and reason else ""
        out.append(element("div", body + element("span", text(title)) + why, "box"))
    return element("div", "".join(out), "boxes")


def _answer(result: Result, said: Answer) -> list[str]:
    """Outcome, numbers, sentences, failed checks with what to change."""
    failed = [check for check in result.checks if not check.passed]
    parts = ["<section>", element("div", text(said.outcome), f"outcome {said.tone}")]
    if result.failure:
        parts.append(element("p", text(result.failure), "alarm"))
    parts.append(_boxes(told(result)))
    sentences = [s for s in (said.opening, said.closing, said.flows, said.ignition) if s]
    parts.append(element("ul", "".join(element("li", text(s)) for s in sentences)))
    if failed:
        parts.append(element("h3", f"Failed checks: {len(failed)} of {len(result.checks)}", "alarm"))
        items = (f"<b>{text(words_of(c.name))}</b>: {text(c.advice)}" for c in failed)
        parts.append(element("ul", "".join(element("li", item) for item in items)))
    else:
        parts.append(element("h3", f"Checks: all {len(result.checks)} passed", "good"))
    return [*parts, "</section>"]


def picture_title(name: str) -> str:
    """What a picture shows, by its file name."""
    later = OF_A_PULSE.fullmatch(name)
    return f"Pulse {later[2]}. {PICTURE_TITLES[f'{later[1]}.png']}" if later else PICTURE_TITLES[name]


def _pulses(result: Result) -> list[str]:
    """A row per pulse, where there are several."""
    if len(result.pulses) < 2:
        return []
    heads = [title for title, _ in PULSE_COLUMNS]
    rows = []
    for pulse in result.pulses:
        cells = [element("td", str(pulse.number)), element("td", text(pulse.outcome))]
        for _, name in PULSE_COLUMNS[2:]:
            value, unit = in_units(result, name, from_origin(result, name, pulse.measures.get(name)), result.units[name])
            why = "" if value != "-" else text(pulse.reasons.get(name, ""))
            cells.append(element("td", why if value == "-" else f"{text(value)} {text(unit)}", "reason" if value == "-" else ""))
        rows.append(element("tr", "".join(cells), "" if pulse.outcome == OPENED else "failed"))
    return [element("h2", f"{len(result.pulses)} pulses"), table(heads, rows)]


def _sequence(result: Result) -> list[str]:
    """The steps of a sequence as they went, where the case has one."""
    if result.sequence is None:
        return []
    origin = origin_of(result.case.solenoid.on)
    rows = []
    for at, *cells in sequence_sheet(result.sequence, origin):
        inside = element("td", text(at), "n") + "".join(element("td", text(cell)) for cell in cells)
        rows.append(element("tr", inside, "" if cells[-1] == DONE else "failed"))
    said = f"Instants count from {origin.words}; what a step waits for is told from the start of the run."
    return [element("h2", "Sequence"), element("p", text(said)), table(SHEET, rows)]


def _pictures(folder: Path) -> list[str]:
    """The pictures that stand beside the page, each inside it."""
    figures = []
    for name in pictures_in(folder):
        title = text(picture_title(name))
        data = base64.b64encode((folder / name).read_bytes()).decode("ascii")
        figures.append(element("figure", f'<img src="data:image/png;base64,{data}" alt="{title}">' + element("figcaption", title)))
    return [element("h2", "Pictures", "illustrated"), element("div", "".join(figures), "pictures")] if figures else []


def _input_row(key: str, row: Row, case: Case) -> str:
    """A value of the case as written, in SI or the inch reader's units, and where it comes from."""
    why = f"{row.meaning}; {row.reason}" if row.reason else row.meaning
    cells = (key, row.user_value, uniform_text(row, case), row.origin, why)
    return element("tr", "".join(element("td", text(cell)) for cell in cells))


def _inputs(result: Result) -> list[str]:
    """Every value that the run used, table by table of the case."""
    parts: dict[str, list[str]] = {}
    for row in case_rows(result.as_written):
        part, _, key = row.path.rpartition(".")
        parts.setdefault(part, []).append(_input_row(key, row, result.case))
    out = [element("h2", "Inputs", "inputs"), element("p", "Given in the case file, default or derived: the column says which.")]
    for part, rows in parts.items():
        out += [
            element("h3", f"[{text(part)}]" if part else "(top)"),
            table(("key", "as written", uniform_head(result.case.reader), "origin", "meaning; why this value"), rows),
        ]
    return out


def from_origin(result: Result, name: str, value: float | None) -> float | None:
    """A measure's or check's number as the page shows it: instants count from the first on command."""
    return None if value is None else counted(name, value, origin_of(result.case.solenoid.on))


def _measure_row(result: Result, name: str, meaning: str) -> str:
    """A measure with its number or the reason why there is none."""
    value, unit = in_units(result, name, from_origin(result, name, result.measures.get(name)), result.units[name])
    if value == "-":
        shown_value = element("td", text(result.reasons.get(name, "did not happen")), "reason") + element("td", "")
        return element("tr", element("td", text(words_of(name))) + shown_value + element("td", text(meaning)))
    cells = element("td", text(words_of(name))) + element("td", text(value), "n")
    return element("tr", cells + element("td", text(unit), "whole") + element("td", text(meaning)))


def _measures(result: Result) -> list[str]:
    """Every measure, in groups."""
    said = f"Instants count from {origin_of(result.case.solenoid.on).words}, here, in the timeline and in the pictures."
    parts = [element("h2", "Measures"), element("p", text(said))]
    for group, title in GROUP_TITLES.items():
        rows = [_measure_row(result, m.name, m.meaning) for m in MEASURES if m.group == group]
        parts += [element("h3", text(title)), table(("measure", "value", "unit", "what it is"), rows)]
    return parts


def _check_row(result: Result, check: Check) -> str:
    """A check with its value, limit and advice."""
    unit = CHECK_UNITS.get(check.name) or result.units.get(check.name, "")
    size = max((abs(number) for number in (check.value, check.limit) if number is not None), default=None)
    value, shown_unit = in_units(result, check.name, from_origin(result, check.name, check.value), unit, size)
    limit = "" if check.limit is None else in_units(result, check.name, from_origin(result, check.name, check.limit), unit, size)[0]
    verdict = element("b", "passed", "good") if check.passed else element("b", "FAILED" if check.answered else NOT_KNOWN, "alarm")
    cells = [element("td", text(words_of(check.name))), element("td", verdict, "whole")]
    cells += [element("td", text("" if value == "-" else value), "n"), element("td", text(limit), "n")]
    cells += [element("td", text(shown_unit if value != "-" or limit else ""), "whole"), element("td", text(check.advice))]
    return element("tr", "".join(cells), "" if check.passed else "failed")


def _seat(result: Result) -> list[str]:
    """What load, metal, angles and blows say of the seat, judged or only stated; none in a case without one."""
    rows = []
    found = result.measures
    for v in seat_verdicts(result.case, found.get("sealing_load"), found.get("seat_impact_speed"), ran=True):
        value, unit = in_units(result, v.name, v.value, v.unit)
        limit = "" if v.limit is None else in_units(result, v.name, v.limit, v.unit, v.value)[0]
        word = "stated" if v.passed is None else "passed" if v.passed else "FAILED"
        cells = [element("td", text(words_of(v.name))), element("td", word, "whole"), element("td", text(value), "n")]
        cells += [element("td", text(limit), "n"), element("td", text(unit), "whole"), element("td", text(v.advice))]
        rows.append(element("tr", "".join(cells), "failed" if v.passed is False else ""))
    heads = ("number", "verdict", "value", "limit", "unit", "what it is, what to change")
    return [element("h2", "Seat"), table(heads, rows)] if rows else []


def _glands(result: Result) -> list[str]:
    """Each seal's gland: inside its bounds, outside, or not given."""
    words = {None: "not judged", True: "passed", False: "FAILED"}
    rows = (
        element(
            "tr",
            element("td", text(words_of(v.name))) + element("td", words[v.passed], "whole") + element("td", text(v.advice)),
            "failed" if v.passed is False else "",
        )
        for v in gland_verdicts(result.case)
    )
    return [element("h2", "Glands"), table(("seal", "verdict", "what is known, what to change"), rows)]


def _barriers(result: Result) -> list[str]:
    """Where fluids can meet, and where vents end."""
    found = barriers(result.case)
    out = [element("h2", "Barriers between fluids")]
    for sheet in barrier_sheets(found):
        rows = (element("tr", "".join(element("td", text(cell)) for cell in row)) for row in sheet.rows)
        out += [element("h3", text(sheet.title)), table(sheet.columns, rows)]
    return [*out, element("p", text(found.not_looked_at))]


def _leaks(result: Result) -> list[str]:
    """The largest leaks with which it still opens and closes, from the forces at rest."""
    case, plant = result.case, result.plant
    rows = []
    for leak in leak_limits(case, plant, margin_numbers(plant.record, plant.tables).event_memory):
        area, unit = in_units(result, leak.name, leak.area, "m2")
        given = "" if leak.given is None else in_units(result, leak.name, leak.given, "m2", leak.area)[0]
        cells = [element("td", text(words_of(leak.name))), element("td", text("" if leak.area is None else area), "n")]
        cells += [element("td", text(given), "n"), element("td", text("" if leak.area is None else unit), "whole")]
        cells.append(element("td", text(told_of(leak, case.gas.name, case.reader))))
        rows.append(element("tr", "".join(cells), "failed" if leak.held is False else ""))
    heads = ("leak", "largest", "in the case", "unit", "with it, each leak alone")
    return [element("h2", "Largest leaks"), table(heads, rows)]


def _timeline(result: Result) -> list[str]:
    """Everything that happened, in order."""
    origin = origin_of(result.case.solenoid.on)
    rows = [
        element(
            "tr",
            element("td", f"{1e3 * (event.instant - origin.instant):.3f}", "n")
            + element("td", text(event.what))
            + element("td", text(event.mode_after)),
        )
        for event in result.timeline
    ]
    return [element("h2", f"Timeline, from {text(origin.words)}"), table(("ms", "what happened", "sleeve then"), rows)]


def _provenance(result: Result) -> list[str]:
    """Program, libraries, case and date."""
    known = provenance(result.case) | {"steps": result.statistics.get("steps", 0)}
    rows = []
    for name, value in known.items():
        if isinstance(value, dict):
            value = ", ".join(f"{key} {part}" for key, part in value.items()) or "none"
        rows.append(element("tr", element("td", text(words_of(name))) + element("td", text(value))))
    return [element("h2", "Provenance"), table(("what", "which"), rows)]


def page(result: Result, folder: Path) -> str:
    """The page as HTML; pictures that stand in `folder` are shown in it."""
    said = answer(result)
    body = [*_head(result), *_answer(result, said), *_pulses(result), *_sequence(result), *_pictures(folder), *_measures(result)]
    checks = [_check_row(result, check) for check in result.checks]
    heads = ("check", "verdict", "value", "limit", "unit", "what it means, what to change")
    body += [element("h2", "Checks"), table(heads, checks)]
    body += [*_leaks(result), *_seat(result), *_glands(result), *_barriers(result), *_timeline(result)]
    remarks = "".join(element("li", text(warning)) for warning in result.warnings)
    body += [element("h2", "Remarks and cautions"), element("ul", remarks), *_inputs(result), *_provenance(result)]
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"script-src 'none'; object-src 'none'\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{text(result.case.case.title)}</title><style>{STYLE}</style></head>\n"
        f"<body>{chr(10).join(body)}\n<footer><p>Numbers in SI, to every digit, stand in "
        "result.json, curves in traces.csv; their instants count from the start of the run.</p></footer></body></html>\n"
    )


def write_page(result: Result, folder: Path | str) -> Path:
    """Write report.html into `folder` (made if need be), after the pictures so that it shows them; its path."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / PAGE_FILE
    write_text_atomically(path, page(result, folder))
    return path
