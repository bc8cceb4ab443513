"""What stands in the tables of a card, as text: numbers in the units of the card, one function per table.

cell, span        one number, two numbers          *_rows        the rows of a table, the same on screen and on paper
"""

import numpy as np

from sleevelift.reader import Reader
from sleevelift.stand.abort import Abort, stop_of
from sleevelift.stand.bands import Bands
from sleevelift.stand.card import Card

KIND = {"s": "time", "Pa": "pressure", "m": "length", "kg/s": "flow"}
"""SI unit -> kind of quantity of what a card holds."""
FORMATS = {"ms": ".2f", "bara": ".2f", "psia": ".1f", "mm": ".3f", "in": ".4f", "kg/s": ".4f", "lb/s": ".4f"}


def page_unit(unit: str, reader: Reader) -> str:
    """The unit of the card for an SI unit."""
    return reader.column(KIND[unit])


def cell(value: float | None, unit: str, reader: Reader) -> str:
    """A number in the unit of the card, without it; a dash where there is none.

    >>> from sleevelift.reader import METRIC
    >>> cell(3.1e6, "Pa", METRIC), cell(0.0021, "m", METRIC), cell(None, "s", METRIC)
    ('31.00', '2.100', '-')
    """
    if value is None or not np.isfinite(value):
        return "-"
    number = f"{float(reader.in_column(KIND[unit], value)):{FORMATS[page_unit(unit, reader)]}}"
    return number.lstrip("-") if not float(number) else number


def span(low: float | None, high: float | None, unit: str, reader: Reader) -> str:
    """low .. high in the unit of the card, one number where they read the same."""
    a, b = cell(low, unit, reader), cell(high, unit, reader)
    return a if a == b else f"{a} .. {b}"


def bound_text(one: Abort, reader: Reader) -> str:
    """What an abort limit watches for, with its unit."""
    if one.blank:
        return f"______ {page_unit(one.unit, reader)}"
    parts = [f"below {cell(one.low, one.unit, reader)}"] if one.low is not None else []
    parts += [f"above {cell(one.high, one.unit, reader)}"] if one.high is not None else []
    return f"{' or '.join(parts)} {page_unit(one.unit, reader)}" if parts else "-"


def armed_text(one: Abort) -> str:
    """Between which instants an abort limit is armed."""
    if one.begins is None and one.ends is None:
        return "always"
    if one.begins is not None and one.begins == one.ends:
        return f"at {1e3 * one.begins:.1f} ms"
    if one.begins is None:
        return f"to {1e3 * (one.ends or 0.0):.1f} ms"
    return f"from {1e3 * one.begins:.1f} ms" if one.ends is None else f"{1e3 * one.begins:.1f} to {1e3 * one.ends:.1f} ms"


def at(bands: Bands, trace: str, instant: float) -> tuple[float, float, float]:
    """P1, P50, P99 of a channel at an instant after T0, SI."""
    place = int(np.argmin(np.abs(bands.time - instant)))
    p1, p50, p99 = bands.of(trace)[:, place].tolist()
    return p1, p50, p99


def open_instant(bands: Bands) -> float:
    """Just before the first off command after T0, or a run valve's shutting before it, s; the middle of the run without either."""
    off = stop_of(bands)
    return 0.5 * float(bands.time[-1]) if off is None else off - 1e-4


def channel_rows(card: Card) -> list[tuple[str, ...]]:
    """Channel, unit, P1 .. P99 at T0 and before the off command, lowest and highest of all runs."""
    reader = card.case.reader
    rows: list[tuple[str, ...]] = []
    for sensor in card.sensors:
        trace = sensor.channel.trace
        begin, full = at(card.bands, trace, -1e-4), at(card.bands, trace, open_instant(card.bands))
        low, high = card.bands.extremes(trace)
        rows.append(
            (
                f"{sensor.channel.title}, {page_unit(sensor.unit, reader)}",
                span(begin[0], begin[2], sensor.unit, reader),
                span(full[0], full[2], sensor.unit, reader),
                span(float(low.min()), float(high.max()), sensor.unit, reader),
            )
        )
    return rows


def sensor_rows(card: Card) -> list[tuple[str, ...]]:
    """Channel, range, what it must stand, rate, place."""
    reader = card.case.reader
    rows: list[tuple[str, ...]] = []
    for s in card.sensors:
        stands = "-" if s.unit != "Pa" else cell(s.survives, "Pa", reader) if s.survives is not None else "______"
        rate = f"{s.rate / 1e3:g}"
        rows.append(
            (
                f"{s.channel.title}, {page_unit(s.unit, reader)}",
                f"0 .. {digits_short(s.top, s.unit, reader)}",
                stands,
                rate,
                s.channel.where,
            )
        )
    return rows


def digits_short(value: float, unit: str, reader: Reader) -> str:
    """The end of an instrument's range: as few digits as it has."""
    return f"{float(reader.in_column(KIND[unit], value)):g}"


def early_late(low: float, high: float) -> str:
    """P1 .. P99 of an instant, ms."""
    return f"{1e3 * low:.1f} .. {1e3 * high:.1f}"


def step_rows(card: Card) -> list[tuple[str, ...]]:
    """Instant, P1 .. P99, what, where or who."""
    return [
        (f"{1e3 * s.instant:.1f}", "" if s.low is None or s.high is None else early_late(s.low, s.high), s.what, s.seen_on)
        for s in card.steps
    ]


def accept_rows(card: Card) -> list[tuple[str, ...]]:
    """Measure, unit, P1, P50, P99, accept, what sets it, read from."""
    reader = card.case.reader
    rows: list[tuple[str, ...]] = []
    for a in card.accept:
        accept = (
            "______"
            if a.low is None and a.high is None
            else (
                f"at most {cell(a.high, a.unit, reader)}"
                if a.low is None
                else f"at least {cell(a.low, a.unit, reader)}"
                if a.high is None
                else span(a.low, a.high, a.unit, reader)
            )
        )
        happened = "" if a.happened == a.runs else f" ({a.happened} of {a.runs} runs)"
        rows.append((f"{a.name}, {page_unit(a.unit, reader)}{happened}", cell(a.p50, a.unit, reader), accept, a.why, a.source))
    return rows


def action_letters(card: Card) -> dict[str, str]:
    """What is done -> the letter that stands for it."""
    return {action: chr(ord("A") + i) for i, action in enumerate(dict.fromkeys(one.action for one in card.aborts))}


def action_rows(card: Card) -> list[tuple[str, ...]]:
    """Letter, what is done."""
    return [(letter, action) for action, letter in action_letters(card).items()]


def abort_rows(card: Card) -> list[tuple[str, ...]]:
    """Limit, value, armed, letter of what is done, why."""
    letters = action_letters(card)
    return [(one.name, bound_text(one, card.case.reader), armed_text(one), letters[one.action], one.why) for one in card.aborts]
