"""A card as an answer: tables on a screen, limits for a sequencer as CSV, everything as JSON, bands as picture, the page."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sleevelift.barriers import warning
from sleevelift.stand.abort import STALE
from sleevelift.stand.card import Card, notes_of, sentence_of
from sleevelift.stand.card_page import page_of
from sleevelift.stand.card_rows import abort_rows, accept_rows, action_rows, channel_rows, sensor_rows, step_rows
from sleevelift.stand.pictures import write_bands
from sleevelift.study.answer import Answer, Sheet, failed_lanes

SAMPLES_OVER = 3
"""Samples in a row beyond a limit that trip it, so that one disturbed sample does not (common practice, no source)."""


def sheets_of(card: Card) -> list[Sheet]:
    """The card on a screen."""
    holds = [(hold.when, hold.what) for hold in (*card.before, *card.pressurised, *card.afterwards)]
    return [
        Sheet("Hold points", ("hold", "until"), holds),
        Sheet("Sequence, from the first on command (T0)", ("ms", "P1 .. P99", "what", "seen on, done by"), step_rows(card)),
        Sheet("Abort: what is done", ("", "do"), action_rows(card)),
        Sheet("Abort limits (armed: after T0)", ("limit", "abort when", "armed", "do", "why"), abort_rows(card)),
        Sheet("What each channel shows", ("channel", "at T0, P1 .. P99", "before stop, P1 .. P99", "any run"), channel_rows(card)),
        Sheet(
            "Accept limits (P1 to P99 of the runs where nothing else is said)",
            ("measure", "P50", "accept", "set by", "read from"),
            accept_rows(card),
        ),
        Sheet("Instruments", ("channel", "range", "must stand", "kHz", "where"), sensor_rows(card)),
    ]


LIMIT_HEADER = [
    "limit",
    "role",
    "watched",
    "armed_from [s after T0]",
    "armed_to [s after T0]",
    "absolute_pressure_low [Pa]",
    "absolute_pressure_high [Pa]",
    "lift_low [m]",
    "lift_high [m]",
    "time_low [s]",
    "time_high [s]",
    "flow_low [kg/s]",
    "flow_high [kg/s]",
    "samples_in_a_row [-]",
    "stale_after [s]",
    "status",
    "action",
]
_PLACES = {"Pa": 5, "m": 7, "s": 9, "kg/s": 11}


def _limit_row(
    name: str,
    role: str,
    watched: str,
    armed: tuple[float | None, float | None],
    bounds: tuple[float | None, float | None],
    unit: str,
    more: tuple[Any, Any, str, str],
) -> list[Any]:
    row: list[Any] = [name, role, watched, *armed, *[None] * 8, *more]
    if unit in _PLACES:
        row[_PLACES[unit]], row[_PLACES[unit] + 1] = bounds
    return row


def limit_rows(card: Card) -> list[list[Any]]:
    """Rows of card.csv: what a sequencer watches, then what is accepted; SI, an empty field is no bound."""
    rows = []
    for one in card.aborts:
        if one.name == "loss of data":
            for trace in dict.fromkeys(other.channel for other in card.aborts if other.channel):
                rows.append(_limit_row(one.name, "abort", trace, (None, None), (None, None), "", (None, STALE, "set", one.action)))
            continue
        status = "write in" if one.blank else "set"
        samples = SAMPLES_OVER if one.low is not None or one.high is not None else None
        rows.append(
            _limit_row(
                one.name,
                "abort",
                one.channel,
                (one.begins, one.ends),
                (one.low, one.high),
                one.unit,
                (samples, None, status, one.action),
            )
        )
    for a in card.accept:
        status = "write in" if a.low is None and a.high is None else "set"
        rows.append(
            _limit_row(a.name, "accept", a.source, (None, None), (a.low, a.high), a.unit, (None, None, status, "explain first"))
        )
    return rows


def card_answer(card: Card, paper: str, more: Sequence[str] = ()) -> Answer:
    """The card as an answer; `paper`: a4 or letter; `more`: what else must be known of its case."""
    bands = card.bands
    data = {
        "kind": card.case.case.kind,
        "paper": paper,
        "n": len(bands.batch),
        "seed": bands.seed,
        "ranges": bands.ranges,
        "instants_are": "s after the first on command (T0)",
        "pressures_are": "absolute",
        "against": card.against,
        "conditions": card.conditions,
        "accept": card.accept,
        "abort": card.aborts,
        "sequence": card.steps,
        "sensors": [s._asdict() | {"channel": s.channel._asdict()} for s in card.sensors],
        "holds": [*card.before, *card.pressurised, *card.afterwards],
        "igniter": card.igniter,
        "window": card.window,
        "failed_runs": failed_lanes(bands.batch, [{}] * len(bands.batch)),
    }

    def draw(path: Path) -> Any:
        return write_bands(bands, sentence_of(card), path)

    return Answer(
        "card",
        card.case,
        sentence_of(card),
        sheets_of(card),
        [*card.cautions, *notes_of(card), *more],
        LIMIT_HEADER,
        limit_rows(card),
        data,
        draw,
        {"card.html": page_of(card, paper, more)},
        warning(card.case),
    )
