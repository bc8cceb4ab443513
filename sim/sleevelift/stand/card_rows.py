"""What stands in the tables of a card, as text: numbers in the units of the card, one function per table.

cell, span        one number, two numbers          *_rows        the rows of a table, the same on screen and on paper
"""

import numpy as np

from sleevelift.shown import digits
from sleevelift.stand.abort import Abort
from sleevelift.stand.bands import Bands
from sleevelift.stand.card import Card

ON_PAGE = {"s": ("ms", 1e3), "Pa": ("bara", 1e-5), "m": ("mm", 1e3), "kg/s": ("kg/s", 1.0), "m/s": ("m/s", 1.0)}
"""SI unit -> (unit on card and screen, factor)."""
FORMATS = {"ms": ".2f", "bara": ".2f", "mm": ".3f", "kg/s": ".4f"}


def cell(value: float | None, unit: str) -> str:
    """A number in the unit of the card, without it; a dash where there is none.

    >>> cell(3.1e6, "Pa"), cell(0.0021, "m"), cell(None, "s")
    ('31.00', '2.100', '-')
    """
    if value is None or not np.isfinite(value):
        return "-"
    shown, factor = ON_PAGE.get(unit, (unit, 1.0))
    number = f"{value * factor:{FORMATS[shown]}}" if shown in FORMATS else digits(value * factor)
    return number.lstrip("-") if not float(number) else number


def span(low: float | None, high: float | None, unit: str) -> str:
    """low .. high in the unit of the card, one number where they read the same."""
    a, b = cell(low, unit), cell(high, unit)
    return a if a == b else f"{a} .. {b}"


def page_unit(unit: str) -> str:
    """The unit of the card for an SI unit."""
    return ON_PAGE.get(unit, (unit, 1.0))[0]


def bound_text(one: Abort) -> str:
    """What an abort limit watches for, with its unit."""
    if one.blank:
        return f"______ {page_unit(one.unit)}"
    parts = [f"below {cell(one.low, one.unit)}"] if one.low is not None else []
    parts += [f"above {cell(one.high, one.unit)}"] if one.high is not None else []
    return f"{' or '.join(parts)} {page_unit(one.unit)}" if parts else "-"


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
    """Just before the first off command after T0, s; the middle of the run where there is none."""
    off = next((t - bands.origin for t in bands.case.solenoid.off if t > bands.origin), None)
    return 0.5 * float(bands.time[-1]) if off is None else off - 1e-4


def channel_rows(card: Card) -> list[tuple[str, ...]]:
    """Channel, unit, P1 .. P99 at T0 and before the off command, lowest and highest of all runs."""
    rows: list[tuple[str, ...]] = []
    for sensor in card.sensors:
        trace = sensor.channel.trace
        begin, full = at(card.bands, trace, -1e-4), at(card.bands, trace, open_instant(card.bands))
        low, high = card.bands.extremes(trace)
        rows.append(
            (
                f"{sensor.channel.title}, {page_unit(sensor.unit)}",
                span(begin[0], begin[2], sensor.unit),
                span(full[0], full[2], sensor.unit),
                span(float(low.min()), float(high.max()), sensor.unit),
            )
        )
    return rows


def sensor_rows(card: Card) -> list[tuple[str, ...]]:
    """Channel, range, what it must stand, rate, place."""
    rows: list[tuple[str, ...]] = []
    for s in card.sensors:
        stands = "-" if s.unit != "Pa" else cell(s.survives, "Pa") if s.survives is not None else "______"
        rate = f"{s.rate / 1e3:g}"
        rows.append(
            (f"{s.channel.title}, {page_unit(s.unit)}", f"0 .. {digits_short(s.top, s.unit)}", stands, rate, s.channel.where)
        )
    return rows


def digits_short(value: float, unit: str) -> str:
    """The end of an instrument's range: as few digits as it has."""
    return f"{value * ON_PAGE.get(unit, (unit, 1.0))[1]:g}"


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
    rows: list[tuple[str, ...]] = []
    for a in card.accept:
        accept = (
            "______"
            if a.low is None and a.high is None
            else (
                f"at most {cell(a.high, a.unit)}"
                if a.low is None
                else f"at least {cell(a.low, a.unit)}"
                if a.high is None
                else span(a.low, a.high, a.unit)
            )
        )
        happened = "" if a.happened == a.runs else f" ({a.happened} of {a.runs} runs)"
        rows.append((f"{a.name}, {page_unit(a.unit)}{happened}", cell(a.p50, a.unit), accept, a.why, a.source))
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
    return [(one.name, bound_text(one), armed_text(one), letters[one.action], one.why) for one in card.aborts]
