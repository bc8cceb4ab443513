"""What `leaks` says: the sheet of checks in their order, or what readings mean; screen, CSV, JSON and a page to print.

The rig comes first: blanked off, it must hold by itself, else every later reading is the rig's.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from sleevelift.barriers import warning
from sleevelift.case.cautions import CAUTION
from sleevelift.case.schema import Case
from sleevelift.ratings import NO_RATING, absolute
from sleevelift.reader import METRIC, Reader
from sleevelift.report.page import STYLE, element, table, text
from sleevelift.report.tables import Sheet
from sleevelift.shown import formed
from sleevelift.sizing.leakage import BUBBLE, Reading, fall_error
from sleevelift.study.answer import Answer
from sleevelift.study.leak_points import holding_force
from sleevelift.study.leak_readings import Answered, area_to_use, change_of
from sleevelift.study.leak_sheet import Rig, Row, Yardstick

NAMES = {
    "piston": "piston seal",
    "outside": "lift chamber to the outside",
    "rod": "rod seal",
    "seat": "fuel seat",
    "post": "post seal",
    "slots": "lapped slots",
}
CAUTIONS = (
    "Before any propellant, with a clean inert gas, dry and oil-free where oxidizer will be. Gas under pressure is stored energy: "
    "fill and read from behind a barrier, nobody near, and vent before anything is touched.",
    "Open the vent upstream of the isolation valve after it is shut: else what leaks past that valve refills the volume and hides "
    "the leak. The isolation valve itself leaks into the reading as well: the blank-off decay counts it.",
    "The test pressure must stay under the rating of the weakest part that is pressurised, fittings, hoses and gauge included; "
    "where this sheet says that no rating is given, find it first.",
    "The fall of one volume is the sum of its leaks: of the lift chamber piston seal, rod seal and outside. A fall within the "
    "smallest accepts all; a larger one is shared out by what is collected at each port.",
    "Accept and reject count the error: a leak as accepted never reads more, a leak as rejected never less. A fall between them "
    "decides nothing: wait longer, or measure the flow.",
    "Warm gas cools after filling and falls without a leak ({}): wait before the first reading, read the temperature with each.",
    "A seal tight with gas at room temperature says nothing of it in the cold, wetted, or after many strokes. A seat is pressed "
    "harder here than with the feeds at full pressure, so it leaks less than it will.",
    "Purge with inert gas and vent both sides before and after; helium and nitrogen suffocate in a closed room.",
)


COOLING = {"metric": "1 K is 0.34 % of the pressure", "inch": "1 degF is 0.19 % of the pressure"}
"""At room temperature, 293 K: dp/p = dT/T."""


def cautions(reader: Reader) -> list[str]:
    """What to mind, in the reader's units."""
    return [text.format(COOLING[reader.name]) for text in CAUTIONS]


def _rating(row: Row) -> str:
    return row.because if row.rated else f"{row.because}; {NO_RATING}: only within it"


def _fall(value: float | None, reader: Reader) -> str:
    """A fall of pressure, as finely as a gauge is read."""
    return "-" if value is None else f"{reader.number('pressure difference', value):{FALL[reader.name]}}"


FALL = {"metric": ".3f", "inch": ".2f"}


def _flow(bubbles: float, reader: Reader) -> str:
    """Gas flow at ambient, from bubbles a minute."""
    flow = f"{reader.number('gas flow', BUBBLE * bubbles / 60.0):.3g}"
    return f"{float(flow):.0f}" if "e+" in flow else flow


def _count(bubbles: float) -> str:
    return f"{bubbles:.3g}" if bubbles <= 120.0 else "flow meter"


def _fall_cells(r: Row, reader: Reader) -> tuple[str, ...]:
    """One leak of the table of falls and flows."""
    wait = "-" if r.wait is None else f"{r.wait:.0f}"
    fall = _fall(r.accept_fall, reader), _fall(r.reject_fall, reader), _fall(r.error, reader)
    flow = _flow(r.accept_bubbles, reader), _flow(r.reject_bubbles, reader), _count(r.accept_bubbles), _count(r.reject_bubbles)
    return NAMES[r.seal], f"{reader.number('volume', r.volume):.4g}", wait, *fall, *flow


def sheets_of(rows: Sequence[Row], yard: Sequence[Yardstick], rig: Rig, reader: Reader = METRIC) -> list[Sheet]:
    """The sheet in the order of the work."""
    error = fall_error(Reading(rig.pressure, rig.pressure, 1.0, rig.volume, 293.15, rig.gauge_error, rig.temperature_error))
    unit, number = reader.unit, reader.number
    volume, pressure, fall, flow = (unit(kind) for kind in ("volume", "pressure", "pressure difference", "gas flow"))

    def at(p: float) -> str:
        return formed(number("pressure", p), pressure)

    first = [
        ("1", "rig alone, outlet blanked off", f"{number('volume', rig.volume):.4g}", at(rig.pressure),
         f"no more than {_fall(error, reader)} {fall} in the longest wait below: gauge and temperature; else mend the rig"),
    ]  # fmt: skip
    places = [
        (str(n), NAMES[r.seal], r.side, r.port, r.opened, r.collect, at(r.pressure), _rating(r))
        for n, r in enumerate(rows, start=2)
    ]
    falls = [_fall_cells(r, reader) for r in rows]
    whence = [(NAMES[r.seal], r.accept_of, r.reject_of) for r in rows]
    # the standard's own ml, and g/s for a small share of a rated flow
    small, share, mass = ("ml/min", 1e3, "g/s") if reader.name == "metric" else (flow, 1.0, unit("flow"))
    classes = [
        (NAMES[y.seal], f"{number('length', y.diameter):{reader.coarse}}",
         f"{number('gas flow', y.class_v):.3g}" if y.class_v > 0.0 else "-", f"{number('gas flow', y.class_vi):.3g}",
         *[f"{number('flow', y.shares[name]) * share:.3g}" if name in y.shares else "-" for name in ("II", "III", "IV")])
        for y in yard
    ]  # fmt: skip
    return [
        Sheet("First: the rig by itself", ("no.", "what", f"volume, {volume}", pressure, "holds when it falls"), first),
        Sheet("Then, one side after the other",
              ("no.", "leak", "pressurise", "at", "open meanwhile", "collect at", pressure, "set by"), places),
        Sheet(f"To accept and to reject, {rig.gas}, read {rig.settle:.0f} s after filling",
              ("leak", f"volume, {volume}", "wait, s", f"accept below, {fall}", f"reject above, {fall}", f"error, {fall}",
               f"accept, {flow}", f"reject, {flow}", "accept, bubbles/min", "reject, bubbles/min"), falls),
        Sheet("Where these come from", ("leak", "accepted", "rejected"), whence),
        Sheet("Yardsticks: classes of ANSI/FCI 70-2 and IEC 60534-4",
              ("leak", f"diameter, {unit('length')}", f"V, {small} water", f"VI, {small} gas", *(f"{name}, {mass}" for name in
               ("II", "III", "IV"))), classes),
    ]  # fmt: skip


def page_of(case: Case, title: str, sentence: str, sheets: Sequence[Sheet], notes: Sequence[str]) -> str:
    """A page to print."""
    warned = warning(case)
    label = element("div", "INVENTED: nobody&#39;s hardware", "invented") if case.case.invented else ""
    body = [label, element("h1", text(title)), element("p", text(f"Case {case.name}: {case.case.title}"), "kind")]
    body += [element("div", element("b", text(warned)), "caution alarm")] if warned else []
    body += [element("div", text(CAUTION), "caution"), element("p", text(sentence))]
    for sheet in sheets:
        cells = (element("tr", "".join(element("td", text(cell)) for cell in row)) for row in sheet.rows)
        body += [element("h2", text(sheet.title)), table(sheet.columns, cells)]
    body.append(element("ul", "".join(element("li", text(note)) for note in notes)))
    head = '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
    head += "<meta http-equiv=\"Content-Security-Policy\" content=\"script-src 'none'; object-src 'none'\">"
    head += '<meta name="viewport" content="width=device-width, initial-scale=1">'
    return f"{head}<title>{text(title)}</title><style>{STYLE}</style></head>\n<body>{chr(10).join(body)}</body></html>\n"


def sheet_answer(case: Case, rig: Rig, rows: Sequence[Row], yard: Sequence[Yardstick]) -> Answer:
    """The sheet as an answer."""
    unread = [NAMES[r.seal] for r in rows if r.wait is None]
    sentence = (
        f"Leak check of {len(rows)} leaks with {rig.gas}, rig first; the sleeve stays shut with a margin of "
        f"{100.0 * rig.margin:.0f} % and no friction counted ({case.reader.text('force', holding_force(case), '.0f')} hold it)"
        + (f"; by flow or bubbles, not by fall: {', '.join(unread)}." if unread else ".")
    )
    sheets = sheets_of(rows, yard, rig, case.reader)
    header = [{"volume": "volume [m3]", "pressure": "pressure [Pa]", "wait": "wait [s]", "error": "error [Pa]",
               "accept_flow": "accept_flow [kg/s]", "reject_flow": "reject_flow [kg/s]", "accept_fall": "accept_fall [Pa]",
               "reject_fall": "reject_fall [Pa]", "accept_bubbles": "accept_bubbles [1/min]",
               "reject_bubbles": "reject_bubbles [1/min]"}.get(field, field) for field in Row._fields]  # fmt: skip
    title = "Leak-check sheet"
    data = {"rig": rig, "leaks": list(rows), "yardsticks": list(yard), "holding_force": holding_force(case)}
    told = cautions(case.reader)
    page = page_of(case, title, sentence, sheets, told)
    return Answer("leaks", case, sentence, sheets, told, header, [list(row) for row in rows], data,
                  texts={"leaks.html": page}, warning=warning(case))  # fmt: skip


def _span(low: float, value: float, high: float, kind: str, reader: Reader) -> str:
    return f"{reader.text(kind, value, '.3g')} ({reader.number(kind, low):.3g} to {reader.number(kind, high):.3g})"


def reading_sheets(found: Sequence[Answered], reader: Reader) -> list[Sheet]:
    """What each reading says, and what it means in service."""
    said = [
        (NAMES[a.point.seal], one.text.split(":", 1)[1].strip(), _span(*area, "area", reader), _span(*gap, "gap", reader))
        for a in found
        for one, area, gap in zip(a.readings, a.areas, a.gaps)
    ]
    service = []
    unit = reader.unit("area")

    def leak(flow: float) -> str:
        return reader.text("small flow", flow, ".3g")

    for a in found:
        liquid = ("-", "-") if a.liquid is None else tuple(f"{leak(w)} of {a.point.liquid}" for w in a.liquid)
        service.append(
            (
                NAMES[a.point.seal],
                a.decided or "not decided",
                *liquid,
                *(f"{reader.number('area', s):.3g}" for s in a.service),
                a.words,
            )
        )
    return [
        Sheet("Readings (value, and from lowest to highest within the errors)", ("leak", "reading", "as a hole", "as a gap"), said),
        Sheet("In service, upper end of the readings",
              ("leak", "decided", "liquid, as a hole", "liquid, as a gap", f"area, hole, {unit}", "area, gap, "
                  f"{unit}", "why"), service),
    ]  # fmt: skip


def _times(measures: Mapping[str, float | None]) -> tuple[str, str]:
    values = [measures.get(name) for name in ("opening_time", "closing_time")]
    return tuple("-" if v is None else f"{1e3 * v:.2f}" for v in values)  # type: ignore[return-value]


def run_sheet(case: Case, nominal: Any, runs: Mapping[tuple[str, str], Any], without: Sequence[str]) -> Sheet:
    """Runs with each leak beside the case's own. without: leaks that the simulation does not have."""
    passed = {check.name for check in nominal.checks if check.passed}
    rows = [("as the case has it", "", nominal.outcome, *_times(nominal.measures), "")]
    for (seal, picture), result in runs.items():
        worse = [check.name for check in result.checks if not check.passed and check.name in passed]
        rows.append((NAMES[seal], picture, result.outcome, *_times(result.measures), ", ".join(worse) or "none"))
    rows += [(NAMES[seal], "-", "not in this model: no run", "-", "-", "-") for seal in without]
    columns = ("leak", "taken as", "outcome", "opening, ms", "closing, ms", "checks that now fail")
    return Sheet("What each does to opening and closing", columns, rows)


def readings_answer(case: Case, rig: Rig, found: Sequence[Answered], runs: Mapping[tuple[str, str], Any], nominal: Any) -> Answer:
    """Readings as an answer."""
    lines, say = [], case.reader.text
    for a in found:
        area, picture = area_to_use(a)
        lines.append(
            f"{NAMES[a.point.seal]} at most {say('area', area, '.3g')} effective, taken as "
            f"{'a gap' if picture == 'gap' else 'a hole'}"
        )
    sentence = f"From the readings: {'; '.join(lines)}."
    without = [a.point.seal for a in found if change_of(case, a.point, 0.0) is None]
    sheets = [*reading_sheets(found, case.reader), run_sheet(case, nominal, runs, without)]
    notes = [
        f"Errors counted: gauge +- {say('pressure difference', rig.gauge_error, '.3g')} at both readings, "
        f"{say('temperature difference', rig.temperature_error, '.3g')} between them. "
        f"Ambient {absolute(case.ambient.pressure, case.reader)}. A reading is the sum of all that leaks from its volume.",
        "Not looked at: cold, wetting, wear, and a seal that leaks otherwise when it moves.",
    ]
    header = ["leak", "reading", "area_low [m2]", "area [m2]", "area_high [m2]", "gap_low [m]", "gap [m]", "gap_high [m]"]
    rows = [[a.point.seal, one.text, *area, *gap] for a in found for one, area, gap in zip(a.readings, a.areas, a.gaps)]
    data = {
        "rig": rig,
        "leaks": [a._asdict() for a in found],
        "outcomes": {" ".join(key): run.outcome for key, run in runs.items()},
    }
    page = page_of(case, "Leak-check readings", sentence, sheets, notes)
    return Answer("leaks", case, sentence, sheets, notes, header, rows, data, texts={"leaks.html": page}, warning=warning(case))
