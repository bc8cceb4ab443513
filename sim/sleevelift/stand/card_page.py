"""The test card on paper: one HTML page that prints on the two sides of a sheet, A4 or letter, black on white.

    front: what is done (hold points, sequence, hold points)      back: what is watched (aborts, channels, accept limits)

Nothing rests on colour; commands are bold, a blank is a ruled line, a hold point has a box to tick. No script; it can be sent
alone.
"""

from collections.abc import Sequence

from sleevelift.barriers import warning
from sleevelift.case.cautions import CAUTION, NOT_LOOKED_AT
from sleevelift.plots.words import KIND_WORDS
from sleevelift.report.page import element, text
from sleevelift.stand.card import Card, notes_of, sentence_of
from sleevelift.stand.card_rows import abort_rows, accept_rows, action_rows, channel_rows, sensor_rows, step_rows
from sleevelift.stand.holds import Hold

PAPERS = {"a4": "A4", "letter": "letter"}
STYLE = """
*{box-sizing:border-box}
body{margin:0 auto;max-width:198mm;padding:4mm;color:#000;background:#fff;font:9pt/1.25 "DejaVu Sans",Verdana,Arial,sans-serif;
 overflow-wrap:break-word}
h1{font-size:13pt;margin:0}h2{font-size:9.5pt;margin:2.2mm 0 .6mm;border-bottom:.5mm solid #000;break-after:avoid}
p{margin:.8mm 0}
.invented{float:right;border:.5mm solid #000;font-weight:bold;padding:.4mm 2mm}
.box{border:.5mm solid #000;padding:.8mm 2mm;margin:1mm 0}
.stop{border:1.2mm double #000;font-weight:bold}
.blanks{display:flex;flex-wrap:wrap;gap:1mm 5mm;margin:1.5mm 0}
.blanks span{flex:1 1 40mm;border-bottom:.25mm solid #000;min-height:5.5mm;padding-top:1.8mm;font-size:7.5pt}
table{border-collapse:collapse;width:100%}
th,td{text-align:left;vertical-align:top;padding:.2mm 1.6mm .2mm 0;border-bottom:.15mm solid #777}
th{font-size:7.5pt;font-weight:normal;border-bottom:.3mm solid #000}
.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
.w{white-space:nowrap}
.tick{display:inline-block;width:3mm;height:3mm;border:.3mm solid #000;vertical-align:-.4mm}
.write{border-bottom:.3mm solid #000;min-width:20mm;font-size:7pt;text-align:right;vertical-align:bottom}
.command td{font-weight:bold}
.small{font-size:7.5pt}
ul{margin:.6mm 0;padding-left:4mm}li{margin:.2mm 0}
tr,.box,li{break-inside:avoid}thead{display:table-header-group}
.back{break-before:page}
@media print{
 body{max-width:none;padding:0;font-size:7.4pt;line-height:1.13}h1{font-size:11.5pt}h2{font-size:8.4pt;margin:1.2mm 0 .3mm}
 .small,th,.blanks span{font-size:6.8pt}
}
"""


def _row(cells: Sequence[str], classes: Sequence[str], row_class: str = "") -> str:
    return element("tr", "".join(element("td", one, css) for one, css in zip(cells, classes)), row_class)


def _table(heads: Sequence[str], classes: Sequence[str], rows: Sequence[str]) -> str:
    head = "".join(element("th", text(one), css) for one, css in zip(heads, classes))
    return f"<table><thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table>"


def _texts(rows: Sequence[Sequence[str]], classes: Sequence[str]) -> list[str]:
    return [_row([text(one) for one in row], classes) for row in rows]


def _holds(title: str, holds: Sequence[Hold]) -> str:
    rows = [_row(['<span class="tick"></span>', text(hold.what), text(hold.blank)], ("", "", "write")) for hold in holds]
    return element("h2", text(title)) + _table(("", "hold until", "write in"), ("", "", ""), rows)


def _head(card: Card) -> list[str]:
    case = card.case
    label = element("div", "INVENTED: nobody&#39;s hardware", "invented") if case.case.invented else ""
    kind = f"{KIND_WORDS[case.case.kind]}, case {case.name} (SHA-256 {case.sha256[:12]}), actuation gas {case.gas.name}"
    blanks = ("test no.", "date", "article no.", "test conductor", "released by", "ambient pressure, temperature")
    parts = [label, element("h1", f"Test card: {text(case.case.title)}"), element("p", text(kind), "small")]
    parts.append(element("div", "".join(element("span", text(one)) for one in blanks), "blanks"))
    warned = warning(case)
    parts.append(element("div", f"<b>{text(CAUTION)}</b>", "box"))
    parts += [element("div", text(warned), "box")] if warned else []
    parts.append(element("div", text(sentence_of(card)), "box stop" if card.against else "box"))
    parts.append(element("ul", "".join(element("li", text(one)) for one in card.cautions), "small"))
    return parts


def _sequence(card: Card) -> str:
    rows = []
    for step, cells in zip(card.steps, step_rows(card)):
        rows.append(_row([*[text(one) for one in cells], ""], ("n", "n", "", "", "write"), "command" if step.command else ""))
    heads = ("ms", "P1 .. P99", "what (commands bold)", "seen on, done by", "seen at, ms")
    return element("h2", "Sequence, ms from the first on command (T0)") + _table(heads, ("n", "n", "", "", ""), rows)


def _aborts(card: Card) -> list[str]:
    actions = (f"<b>{text(letter)}</b> {text(action)}" for letter, action in action_rows(card))
    rows = _texts(abort_rows(card), ("w", "w", "w", "w", "small"))
    return [
        element("h2", "Abort: no one asks why, and the test is over"),
        element("p", "<br>".join(actions)),
        _table(("limit", "abort when", "armed, after T0", "do", "why"), ("", "", "", "", ""), rows),
    ]


def _channels(card: Card) -> list[str]:
    rows = []
    for (name, begin, full, any_run), (_, scale, stands, rate, where) in zip(channel_rows(card), sensor_rows(card)):
        cells = (name, begin, full, any_run, scale, stands, rate, where)
        rows.append(_row([text(one) for one in cells], ("w", "n", "n", "n", "n", "n", "n", "small")))
    heads = ("channel", "at T0, P1 .. P99", "before stop", "any run", "range", "must stand", "kHz", "where")
    return [
        element("h2", "Channels: P1 to P99 of the runs, lowest and highest of any, and the instrument"),
        _table(heads, ("", "n", "n", "n", "n", "n", "n", ""), rows),
    ]


def _accepts(card: Card) -> list[str]:
    rows = []
    for measure, middle, accept, why, source in accept_rows(card):
        cells = [measure, middle, accept, f"{source}; {why}" if why else source, ""]
        rows.append(_row([text(one) for one in cells], ("w", "n", "n", "small", "write")))
    return [
        element("h2", "Accept, P1 to P99 of the runs: outside, no further test before it is explained"),
        _table(("measure", "P50", "accept", "read from; what else sets it", "measured"), ("", "n", "n", "", ""), rows),
    ]


def _back(card: Card, more: Sequence[str]) -> list[str]:
    notes = element("ul", "".join(element("li", text(note)) for note in (*notes_of(card), *more)), "small")
    body = [*_aborts(card), *_channels(card), *_accepts(card), element("h2", "What these numbers are"), notes]
    return ['<section class="back">', *body, "</section>"]


def page_of(card: Card, paper: str, more: Sequence[str] = ()) -> str:
    """The card as HTML; `paper`: a4 or letter; `more`: what else must be known of its case."""
    body = [
        *_head(card),
        _holds("Hold: before there is any pressure", card.before),
        _holds("Hold: pressurised, before T0, read remotely", card.pressurised),
        _sequence(card),
        _holds("Hold: before anyone approaches", card.afterwards),
        element("p", text(NOT_LOOKED_AT), "small"),
        *_back(card, more),
    ]
    style = f"{STYLE}@page{{size:{PAPERS[paper]} portrait;margin:7mm 8mm}}"
    head = '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
    head += "<meta http-equiv=\"Content-Security-Policy\" content=\"script-src 'none'; object-src 'none'\">"
    head += '<meta name="viewport" content="width=device-width, initial-scale=1">'
    head += f"<title>{text(f'Test card {card.case.name}')}</title><style>{style}</style></head>"
    return f"{head}\n<body>{chr(10).join(body)}</body></html>\n"
