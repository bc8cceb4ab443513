"""What a measured trace over its band says: the earliest departure first, a table of channels and stretches, CSV, JSON, picture."""

import math
from pathlib import Path
from typing import Any

from sleevelift.reader import Reader
from sleevelift.shown import milliseconds as ms
from sleevelift.stand.abort import worst
from sleevelift.stand.bands import LEAST_RUNS
from sleevelift.stand.card_rows import KIND, cell, page_unit
from sleevelift.stand.crossed import as_data, held, limit_rows, tail_of
from sleevelift.stand.overlay import RARE, USUAL_LAG, Laid, Overlay, Stretch
from sleevelift.stand.pictures import write_overlay
from sleevelift.study.answer import Answer, Sheet

MOST_STRETCHES = 4
"""Stretches of a channel in the table, the longest; all are in the CSV."""
LIMITS_NOTE = (
    "Abort limits are those of `sleevelift card` for this case. Each sample is held as it stands in the file: a single one beyond "
    "may be noise, and a sequencer without a filter would have tripped on it. No limit stands for what no channel sees, and none "
    "makes anyone safe near the rig."
)
SI = {"pressure": "Pa", "length": "m", "flow": "kg/s"}


def unit_of(one: Laid) -> str:
    """SI unit of a channel that has a band."""
    return SI[one.series.kind]


def far(one: Laid, stretch: Stretch, reader: Reader) -> str:
    """How far outside, at its worst, and what it should have been."""
    unit = unit_of(one)
    side = "above" if stretch.above else "below"
    by = float(reader.in_column(KIND[unit], abs(stretch.measured - stretch.band)))
    return f"{cell(stretch.measured, unit, reader)} {page_unit(unit, reader)} at {ms(stretch.worst)}, {by:.3g} {side} its band"


def span_words(stretch: Stretch) -> str:
    """When it was outside."""
    return f"{1e3 * stretch.begins:.1f} to {1e3 * stretch.ends:.1f} ms"


def title_of(overlay: Overlay, one: Laid) -> str:
    """Title of a channel, with its header where several sensors measured the same."""
    title = next(channel.title for channel in overlay.bands.channels if channel.trace == one.series.quantity)
    twice = sum(other.series.quantity == one.series.quantity for other in overlay.channels) > 1
    return f"{title} ({one.series.header})" if twice else title


def sentence_of(overlay: Overlay) -> str:
    """Which channel departs first, which others do; or that none does."""
    name, case = overlay.test.name, overlay.bands.case.name
    if not overlay.channels:
        return f"{name}: nothing in it has a band in {case}."
    lost = [f"{title_of(overlay, one)} from {ms(one.lost[0][0])}" for one in overlay.channels if one.lost]
    tail = f"; LOST DATA: {', '.join(lost)}" if lost else ""
    found = overlay.departures
    if not found:
        odd = [title_of(overlay, one) for one in overlay.channels if one.stretches]
        some = f" ({', '.join(odd)} left it no longer than single runs do)" if odd else ""
        return f"{name}: no channel departs from the band of {case}{some}{tail}. A good trace proves no margin."
    first, more = found[0], found[1:]
    stretch = first.stretches[0]
    others = ", ".join(f"{title_of(overlay, one)} {ms(one.stretches[0].begins)}" for one in more)
    then = f"; then {others}" if others else ""
    side = f"{'above' if stretch.above else 'below'} it from {ms(stretch.begins)} after the on command"
    return f"{name}: first {title_of(overlay, first)} leaves its band, {side}{then}{tail}."


def channel_table(overlay: Overlay) -> list[tuple[str, ...]]:
    """Channel, verdict, how long outside, share of the runs, noise."""
    reader = overlay.bands.case.reader
    rows: list[tuple[str, ...]] = []
    for one in sorted(overlay.channels, key=lambda one: (not one.departs, not one.stretches)):
        word = "DEPARTS" if one.departs else "inside" if not one.stretches else "as single runs"
        share = f"{100.0 * one.share_of_runs:.1f} %" if one.stretches else "-"
        unit = unit_of(one)
        rows.append((f"{title_of(overlay, one)}, {page_unit(unit, reader)}", word, ms(one.outside) if one.stretches else "-", share,
                     cell(one.series.sigma, unit, reader), str(len(one.time))))  # fmt: skip
    return rows


def stretch_table(overlay: Overlay) -> list[tuple[str, ...]]:
    """Channel, when, how far: the longest of each channel, in order of time."""
    rows = []
    for one in overlay.channels:
        for stretch in sorted(one.stretches, key=lambda s: s.begins - s.ends)[:MOST_STRETCHES]:
            rows.append((stretch.begins, title_of(overlay, one), span_words(stretch), far(one, stretch, overlay.bands.case.reader)))
    return [row[1:] for row in sorted(rows, key=lambda row: row[0])]


def notes_of(overlay: Overlay) -> list[str]:
    """How it was compared, and what is not in it."""
    bands, test = overlay.bands, overlay.test
    ranged = ", ".join(bands.ranges) or "none"
    out = [
        f"{len(bands.batch)} runs, seed {bands.seed}, over {len(bands.ranges)} ranged values ({ranged}); the band is P1 to P99 at "
        "each instant. Outside: by more than three standard deviations of the channel's noise, for three samples. "
        f"A channel departs where fewer than {100 * RARE:.0f} % of the runs are outside for as long.",
    ]
    if not bands.ranges:
        out.append("No value of the case carries a range: the band has no width, and everything leaves it. Give ranges first.")
    elif bands.complete < LEAST_RUNS:
        out.append(f"Fewer than {LEAST_RUNS} runs: P1 and P99 are no better than the lowest and the highest.")
    if math.isfinite(test.clock.sigma):
        out.append(f"Clock: from the measured command, to {ms(2.0 * test.clock.sigma)}; the band is widened by that in time.")
    else:
        out.append("Clock: moved so that the trace fits best. It cannot tell late from early: measure the command with it.")
    out.append(
        f"Sensors may lag by {ms(USUAL_LAG)} where --lag gives nothing else; a slower one leaves the band late in every edge. "
        "What could make an instant late: sleevelift causes."
    )
    if overlay.not_measured:
        out.append(f"Not measured, so nothing is said of: {', '.join(overlay.not_measured)}.")
    if overlay.not_compared:
        out.append(f"Measured, but the card has no band of: {', '.join(overlay.not_compared)}.")
    gaps = [f"{title_of(overlay, one)}: {', '.join(f'{1e3 * a:.1f} to {1e3 * b:.1f} ms' for a, b in one.lost[:5])}"
            for one in overlay.channels if one.lost]  # fmt: skip
    if gaps:
        out.append(f"No data ({'; '.join(gaps)}): what was not seen counts as pressurised, and a test with lost data is no proof.")
    return [*out, *test.notes]


def overlay_answer(overlay: Overlay) -> Answer:
    """The overlay as an answer."""
    rows = [
        [title_of(overlay, one), unit_of(one), s.begins, s.ends, "above" if s.above else "below", s.worst, s.measured, s.band,
         one.share_of_runs]
        for one in overlay.channels
        for s in one.stretches
    ]  # fmt: skip
    header = ["channel", "unit of measured and band", "begins [s after T0]", "ends [s after T0]", "side", "worst [s after T0]",
              "measured", "band", "share of runs outside as long [-]"]  # fmt: skip
    data: dict[str, Any] = {
        "trace": overlay.test.name, "n": len(overlay.bands.batch), "seed": overlay.bands.seed, "ranges": overlay.bands.ranges,
        "instants_are": "s after the first on command (T0)",
        "clock": {"offset": overlay.test.clock.offset, "sigma": overlay.test.clock.sigma},
        "channels": {
            title_of(overlay, one): {
                "departs": one.departs, "outside": one.outside, "share_of_runs": one.share_of_runs, "stretches": one.stretches,
                "lost": one.lost, "noise": one.series.sigma,
            }
            for one in overlay.channels
        },
        "not_measured": overlay.not_measured, "latest_opening_of_the_runs": worst(overlay.bands, "opening_time"),
    }  # fmt: skip

    def draw(path: Path) -> Any:
        return write_overlay(overlay, said, path)

    reader = overlay.bands.case.reader
    limits = held(overlay.bands, overlay.test)
    said = sentence_of(overlay) + tail_of(limits)
    where = stretch_table(overlay)
    sheets = [
        Sheet("Channels, those that depart first", ("channel", "verdict", "outside", "runs as long", "noise", "samples"),
              channel_table(overlay)),
        *([Sheet("Where (after the first on command)", ("channel", "outside", "farthest"), where)] if where else []),
        Sheet("Abort limits of the card (after the first on command)", ("limit", "abort when", "armed", "measured"),
              limit_rows(limits, reader)),
    ]  # fmt: skip
    data["abort_limits"] = as_data(limits)
    return Answer("compare", overlay.bands.case, said, sheets, [*notes_of(overlay), LIMITS_NOTE], header, rows, data, draw)
