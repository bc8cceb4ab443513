"""Pictures of the stand: bands of every channel, and a measured trace over them. A4, black on white reads as well as colour."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from sleevelift.plant.build import build
from sleevelift.plots.studies import FOOT, LEFT, RIGHT, study_page
from sleevelift.plots.style import ALARM, DASHED, HEIGHT, INK, SMALL, WIDTH, look, panel_title
from sleevelift.shown import milliseconds
from sleevelift.stand.bands import Bands
from sleevelift.stand.channels import Channel
from sleevelift.static_answer.curves import throttle

if TYPE_CHECKING:
    from sleevelift.case.schema import Case
    from sleevelift.stand.overlay import Laid, Overlay
    from sleevelift.stand.reduction import Side

KINDS = {"lift": "length", "flow": "flow", "pressure": "pressure"}
"""Last word of a trace's name -> kind of quantity."""
MOST_ROWS = 12
"""Channels on a page."""
ROW = 75.0
"""mm. Height of a row at most."""
BAND, EDGE = "#d9dde3", "#5d6572"


def kind_of(trace: str) -> str:
    """Kind of quantity of a channel."""
    return KINDS[trace.rsplit("_", 1)[-1]]


BEFORE, AFTER = 0.15, 1.4
"""-. A column shows from so much before its command to so much after it, in opening and closing times of the slowest run."""


class Window(NamedTuple):
    """A column of the picture: the instants about one command."""

    word: str
    origin: float
    """s after T0"""
    begins: float
    """s from its command"""
    ends: float


def windows(bands: Bands) -> list[Window]:
    """From the on and from the off command; the whole run where neither has a time of its own."""
    out = []
    for instant, length, word in (("energize_time", "opening_time", "on"), ("deenergize_time", "closing_time", "off")):
        start, times = bands.nominal.measures[instant], bands.batch.measures[length]
        if start is not None and np.isfinite(times).any():
            longest = float(np.nanmax(times))
            out.append(Window(word, start - bands.origin, -BEFORE * longest, AFTER * longest))
    return out or [Window("on", 0.0, float(bands.time[0]), float(bands.time[-1]))]


def grid(page: Any, top: float, rows: int, columns: int, gap: float = 5.5) -> list[list[Any]]:
    """Axes in rows, `gap` apart, and columns below `top`, mm; those of a row share their scale."""
    width = (RIGHT - LEFT - 6.0 * (columns - 1)) / columns
    room = min((FOOT - 11.0 - top - gap * (rows - 1)) / rows, ROW)
    out = []
    for i in range(rows):
        row: list[Any] = []
        for j in range(columns):
            shared = {"sharey": row[0]} if row else {}
            row.append(page.axes(LEFT + j * (width + 6.0), top + i * (room + gap), width, room, **shared))
        out.append(row)
    return out


def draw_band(panel: Any, bands: Bands, trace: str, window: Window) -> None:
    """P1 to P99 as a grey band with its edges, the median dashed."""
    t = bands.time - window.origin
    inside = (t >= window.begins) & (t <= window.ends)
    low, middle, high = bands.case.reader.in_column(kind_of(trace), bands.of(trace)[:, inside])
    t = t[inside] * 1e3
    panel.fill_between(t, low, high, facecolor=BAND, edgecolor=EDGE, linewidth=0.6, label="P1 to P99 of the runs")
    panel.plot(t, middle, color=INK, linestyle=DASHED, linewidth=0.9, label="P50")
    panel.set_xlim(window.begins * 1e3, window.ends * 1e3)


def dressed(grid_of: Sequence[Sequence[Any]], bands: Bands, channels: Sequence[Channel], columns: Sequence[Window]) -> None:
    """Titles, units, and what the time counts from."""
    for row, channel in zip(grid_of, channels):
        panel_title(row[0], channel.title)
        row[0].set_ylabel(f"[{bands.case.reader.column(kind_of(channel.trace))}]")
        for panel in row[1:]:
            panel.tick_params(labelleft=False)
        for panel in row if channel is not channels[-1] else ():
            panel.tick_params(labelbottom=False)
    for panel, window in zip(grid_of[-1], columns):
        several = len(bands.case.solenoid.on) > 1
        panel.set_xlabel(f"time from the {'first ' if several else ''}{window.word} command [ms]")


def legend(page: Any, top: float, handles: Sequence[Any]) -> None:
    """The names of the curves in a row at `top`, mm."""
    page.figure.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(LEFT / WIDTH, 1.0 - top / HEIGHT), ncol=4, frameon=False, fontsize=SMALL,
        borderaxespad=0.0, borderpad=0.0,
    )  # fmt: skip


def write_bands(bands: Bands, answer: str, path: Path) -> Path:
    """Every channel's band on one page."""
    with look():
        page, top = study_page(bands.case, "Test card: what each channel shows", answer)
        columns = windows(bands)
        panels = grid(page, top + 9.0, len(bands.channels), len(columns))
        for row, channel in zip(panels, bands.channels):
            for panel, window in zip(row, columns):
                draw_band(panel, bands, channel.trace, window)
        dressed(panels, bands, bands.channels, columns)
        legend(page, top + 1.0, panels[0][0].get_legend_handles_labels()[0])
        return page.save(path)


def _measured(panel: Any, overlay: "Overlay", one: "Laid", window: Window) -> None:
    """The measured channel in a panel, its stretches outside as a bar at the foot."""
    reader, kind = overlay.bands.case.reader, kind_of(one.series.quantity)
    t = one.time - window.origin
    inside = (t >= window.begins) & (t <= window.ends)
    panel.plot(t[inside] * 1e3, reader.in_column(kind, one.value[inside]), color=INK, linewidth=1.1, label="measured")
    foot = panel.get_xaxis_transform()
    for stretch in one.stretches:
        ends = [1e3 * min(max(t - window.origin, window.begins), window.ends) for t in (stretch.begins, stretch.ends)]
        if ends[0] < 1e3 * window.ends and ends[1] > 1e3 * window.begins:
            panel.plot(ends, [0.03, 0.03], transform=foot, color=ALARM, linewidth=3.2, solid_capstyle="butt", label="outside")


def write_overlay(overlay: "Overlay", answer: str, path: Path) -> Path:
    """Measured channels over their bands, on one page."""
    with look():
        page, top = study_page(overlay.bands.case, "Measured over simulated", answer)
        columns = windows(overlay.bands)
        shown = overlay.channels[:MOST_ROWS]
        titles = {channel.trace: channel for channel in overlay.bands.channels}
        panels = grid(page, top + 9.0, max(len(shown), 1), len(columns))
        handles: dict[str, Any] = {}
        for row, one in zip(panels, shown):
            for panel, window in zip(row, columns):
                draw_band(panel, overlay.bands, one.series.quantity, window)
                _measured(panel, overlay, one, window)
                handles |= {name: handle for handle, name in zip(*panel.get_legend_handles_labels())}
        dressed(panels, overlay.bands, [titles[one.series.quantity] for one in shown], columns)
        for row, one in zip(panels, shown):
            if one.departs:
                began = milliseconds(one.stretches[0].begins)
                panel_title(row[0], f"{titles[one.series.quantity].title}: DEPARTS {began} after the on command")
        legend(page, top + 1.0, list(handles.values()))
        return page.save(path)


def write_areas(case: "Case", sides: "Sequence[Side]", answer: str, path: Path) -> Path:
    """Measured effective areas over lift with their intervals, over the case's own curve, a panel per side."""
    with look():
        page, top = study_page(case, "Cold flow: effective area over lift", answer)
        curves, reader = throttle(build(case)), case.reader
        own = {"oxidizer": curves.slots, "fuel": curves.fuel_passage}
        for panel, side in zip((row[0] for row in grid(page, top + 9.0, len(sides), 1, 16.0)), sides):
            lift, areas = reader.in_column("length", curves.lift), reader.in_column("area", own[side.name])
            panel.plot(lift, areas, color=INK, linestyle=DASHED, linewidth=0.9, label="as the case has it")
            x = reader.in_column("length", np.array([p.lift for p in side.points]))
            low, area, high = (reader.in_column("area", np.array([getattr(p, name) for p in side.points]))
                               for name in ("low", "area", "high"))  # fmt: skip
            panel.errorbar(x, area, yerr=[area - low, high - area], fmt="o", markersize=3.5, color=INK, capsize=2.5, linewidth=0.8,
                           label="measured, 95 %")  # fmt: skip
            panel.set_ylabel(f"w/sqrt(2 rho dp) [{reader.column('area')}]")
            panel.set_xlabel(f"lift [{reader.column('length')}]")
            panel.legend(loc="upper left", frameon=False, fontsize=SMALL)
            panel_title(panel, side.name)
        return page.save(path)
