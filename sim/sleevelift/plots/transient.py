"""The start page and the stop page: panels over one time axis, counted in ms from the command.

    marks   (1)  (2)(3)...            numbered instants, a line each through all panels, key at the foot
    panels  command, gas pressures, lift (mode shaded), flows with mixture ratio, manifolds, chamber
    columns the whole stretch | the travel, enlarged

Every curve is a trace of the run; nothing is computed here but units.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sleevelift.plant.state import AT_STOP, SEATED, SLIDING_DOWN, SLIDING_UP
from sleevelift.plant.state import STUCK as STUCK_MODE
from sleevelift.plots import ruled, style
from sleevelift.plots.instants import Mark, Window, rest_window, start_window, stop_window
from sleevelift.plots.lettering import Box
from sleevelift.plots.pulses import named
from sleevelift.plots.ruled import Ruler
from sleevelift.plots.sheet import FOOT, LEFT, MARGIN, RIGHT, empty_note, failed_line, sheet
from sleevelift.plots.style import DASH_DOT, DASHED, DOTTED, FAINT, INK, SMALL, WIDTH, Page
from sleevelift.plots.words import answer
from sleevelift.result import Result

MILLI = 1e3
"""s -> ms."""
GAP = 9.5
"""mm between two panels, for title and legend."""
STRIP = 8.0
"""mm. Height of the strip with the numbers of the marks."""
KEY_LINE = 4.0
"""mm. Height of a line of the key."""
COLUMN_GAP = 7.0
"""mm between the two columns."""
WHOLE_SHARE = 0.38
"""-. Share of the width that the whole stretch takes beside the enlarged travel."""
TALLEST, TALLEST_SHARE = 72.0, 15.0
"""mm. Greatest height of a panel, and of one that shows a share from 0 to 1."""
MARK_CIRCLE = Box(0.18, "#ffffff", INK, 0.8, circle=True)
"""Behind the number of a mark."""
BUBBLE = 4.6
"""mm. Least distance of two mark numbers."""


NICE_STEPS = [1, 2, 2.5, 5, 10]
"""Steps between ticks, times a power of ten."""
SHARE = "share"
"""Unit of an axis from 0 to 1."""


class Curve(NamedTuple):
    """One trace in a panel."""

    trace: str
    label: str
    kind: str
    """of quantity (`reader`); "" for a plain number"""
    colour: str
    dashes: Any = "-"
    width: float = 1.4


class Panel(NamedTuple):
    """One row of the page."""

    title: str
    unit: str
    weight: float
    """share of the height"""
    curves: tuple[Curve, ...]
    twin: tuple[Curve, ...] = ()
    twin_unit: str = ""
    floor: float | None = None
    """the axis reaches down at least to this"""
    extra: Callable[[list[Any], Result, Window], list[Any]] | None = None
    """draws more into the axes and returns legend handles"""
    ceiling: float | None = None
    """the axis reaches up at least to this"""


def _shade_modes(axes: list[Any], result: Result, window: Window) -> list[Any]:
    """Shade where the sleeve moves, sticks or stands at its stop; handles for the legend."""
    from matplotlib.patches import Patch

    t = MILLI * (result.traces["time"] - window.origin.instant)
    mode = result.traces["mode"]
    looks = (
        ("moving", (SLIDING_UP, SLIDING_DOWN), style.MOVING, "////"),
        ("stuck", (STUCK_MODE,), style.STUCK, "xxxx"),
        ("at the stop", (AT_STOP,), style.STOP, "...."),
    )
    handles = []
    for label, modes, colour, hatch in looks:
        here = np.isin(mode, modes)
        patch: dict[str, Any] = {"facecolor": colour, "edgecolor": "#8d93a0", "hatch": hatch, "linewidth": 0.0}
        for first, last in runs_of(here):
            for ax in axes:
                ax.axvspan(t[first], t[min(last + 1, len(t) - 1)], zorder=0.5, **patch)
        if np.any(here & _inside(result, window)):
            handles.append(Patch(label=label, **patch))
    if np.any((mode == SEATED) & _inside(result, window)):
        handles.append(Patch(facecolor="#ffffff", edgecolor="#8d93a0", linewidth=0.5, label="seated"))
    stroke = float(result.case.reader.in_column("length", result.case.sleeve.stroke))
    for ax in axes:
        ax.axhline(stroke, color=FAINT, linewidth=0.8, dashes=(4, 3))
    return handles


def runs_of(here: np.ndarray) -> list[tuple[int, int]]:
    """(first, last) index of each run of true values.

    >>> runs_of(np.array([False, True, True, False, True]))
    [(1, 2), (4, 4)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([0], here.astype(np.int8), [0]))))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2])]


def _limit_line(limit: float | None, label: str, names: tuple[str, ...]) -> Callable[..., list[Any]]:
    """Draws a limit where the curves come near it."""

    def draw(axes: list[Any], result: Result, window: Window) -> list[Any]:
        if limit is None or not limit > 0.0:
            return []
        here = _inside(result, window)
        if max(float(np.max(result.traces[n][here], initial=0.0)) for n in names) < 0.7 * limit:
            return []
        lines = [
            ax.axhline(float(result.case.reader.in_column("pressure", limit)), color=style.ALARM, linewidth=1.0, dashes=(7, 2))
            for ax in axes
        ]
        lines[0].set_label(label)
        return lines[:1]

    return draw


def panels(result: Result) -> list[Panel]:
    """The rows that this case has traces for."""
    have, unit = result.traces, result.case.reader.column
    limits, chamber = result.case.limits, result.case.chamber
    rows = [
        Panel(
            "Command and solenoid valve", SHARE, 0.5,
            (
                Curve("valve_opening", "valve opening", "", style.TUBE),
                Curve("command", "command", "", INK, DASHED, 1.2),
            ),
            floor=0.0,
        ),
        Panel(
            "Actuation gas", unit("pressure"), 1.15,
            (
                Curve("supply_pressure", "supply", "pressure", style.SUPPLY, DASHED),
                Curve("lift_chamber_pressure", "lift chamber", "pressure", style.LIFT_GAS, "-", 1.9),
                Curve("tube_pressure", "tube", "pressure", style.TUBE, DASH_DOT),
                Curve("spring_side_pressure", "spring side", "pressure", style.SPRING_SIDE, DOTTED, 1.6),
            ),
            floor=0.0,
        ),
        Panel(
            "Lift", unit("length"), 1.15, (Curve("lift", "lift", "length", INK, "-", 1.8),), floor=0.0, extra=_shade_modes,
            ceiling=float(result.case.reader.in_column("length", result.case.sleeve.stroke)),
        ),
    ]  # fmt: skip
    if "oxidizer_flow" in have:
        flows = (
            Curve("oxidizer_flow", "oxidizer", "flow", style.OXIDIZER, "-", 1.7),
            Curve("fuel_flow", "fuel", "flow", style.FUEL, DASHED, 1.7),
        )
        ratio: tuple[Curve, ...] = ()
        if np.any(np.isfinite(have["mixture_ratio"])):
            ratio = (Curve("mixture_ratio", "mixture ratio O/F (right)", "", style.MIXTURE, DOTTED, 1.5),)
        manifolds = (
            Curve("oxidizer_manifold_pressure", "oxidizer manifold", "pressure", style.OXIDIZER),
            Curve("fuel_manifold_pressure", "fuel manifold", "pressure", style.FUEL, DASHED),
        )
        names = ("oxidizer_manifold_pressure", "fuel_manifold_pressure")
        limit = _limit_line(limits.manifold_pressure_at_most, "limit", names)
        rows.append(Panel("Flow into the chamber", unit("flow"), 1.15, flows, ratio, "O/F", floor=0.0))
        rows.append(Panel("Manifolds", unit("pressure"), 1.0, manifolds, extra=limit))
    if "unburned_oxidizer" in have:
        pooled = (
            Curve("unburned_oxidizer", "unburned oxidizer (right)", "mass", style.OXIDIZER, DASH_DOT, 1.2),
            Curve("unburned_fuel", "unburned fuel (right)", "mass", style.FUEL, DOTTED, 1.4),
        )
        pressure = (Curve("chamber_pressure", "pressure", "pressure", style.CHAMBER, "-", 1.8),)
        allowable = None if chamber is None else chamber.allowable_pressure
        limit = _limit_line(allowable, "allowable", ("chamber_pressure",))
        rows.append(Panel("Combustion chamber", unit("pressure"), 1.15, pressure, pooled, unit("mass"), 0.0, limit))
    return rows


def _inside(result: Result, window: Window) -> np.ndarray:
    """Which samples lie in the window, with one more on either side."""
    t = result.traces["time"]
    here = (t >= window.begin) & (t <= window.end)
    first, last = np.searchsorted(t, window.begin), np.searchsorted(t, window.end, side="right")
    here[max(int(first) - 1, 0) : int(last) + 1] = True
    return here


def _limits(
    curves: Sequence[Curve], result: Result, window: Window, least: float | None, most: float | None
) -> tuple[float, float]:
    """Limits of an axis over the window, the same in both columns; it reaches to `least` and `most` at least."""
    here = _inside(result, window)
    values = np.concatenate([result.case.reader.in_column(c.kind, result.traces[c.trace][here]) for c in curves])
    values = values[np.isfinite(values)]
    if not len(values):
        return 0.0, 1.0
    low, high = float(values.min()), float(values.max())
    low = low if least is None else min(low, least)
    high = high if most is None else max(high, most)
    return style.padded(low, high)


def _draw(ax: Any, curves: Sequence[Curve], result: Result, window: Window) -> list[Any]:
    """Draw the curves; handles for the legend."""
    here = _inside(result, window)
    t = MILLI * (result.traces["time"][here] - window.origin.instant)
    handles = []
    for c in curves:
        values = result.case.reader.in_column(c.kind, result.traces[c.trace][here])
        handles += ax.plot(t, values, color=c.colour, linestyle=c.dashes, linewidth=c.width, label=c.label)
    return handles


def _columns(window: Window) -> list[tuple[float, float, float, float]]:
    """(left mm, width mm, begin s, end s) of each column."""
    width = RIGHT - LEFT
    if window.enlarged is None:
        return [(LEFT, width, window.begin, window.end)]
    whole = WHOLE_SHARE * width
    return [
        (LEFT, whole, window.begin, window.end),
        (LEFT + whole + COLUMN_GAP, width - whole - COLUMN_GAP, *window.enlarged),
    ]


def _row(page: Page, panel: Panel, last: bool, top: float, height: float, result: Result, window: Window) -> list[Any]:
    """Draw one panel in every column; its axes."""
    columns = _columns(window)
    limits = _limits(panel.curves, result, window, panel.floor, panel.ceiling)
    places = [ruled.panel(page, left, top, width, height) for left, width, _, _ in columns]
    main = [place.axes for place in places]
    handles: list[Any] = []
    for ax, (_, _, begin, end) in zip(main, columns):
        ax.set_xlim(MILLI * (begin - window.origin.instant), MILLI * (end - window.origin.instant))
        ax.set_ylim(*limits)
        handles = _draw(ax, panel.curves, result, window)
    if panel.twin:
        for i, place in enumerate(places):
            twin = _twin(page, place, panel, i == len(places) - 1, result, window)
        handles += twin
    if panel.extra is not None:
        extra = panel.extra(main, result, window)
        handles += extra
        if any(h.get_label() in ("limit", "allowable") for h in extra):
            mark = max(float(h.get_ydata()[0]) for h in extra)
            for ax in main:
                ax.set_ylim(limits[0], max(limits[1], 1.05 * mark))
    times = _captions(window) if last else ("",) * len(places)
    for i, (place, time) in enumerate(zip(places, times)):
        across = Ruler(time, 6 if i == 0 else 8, NICE_STEPS, numbers=last)
        up = Ruler(panel.unit if i == 0 else "", 5, NICE_STEPS, 3, (0.0, 1.0) if panel.unit == SHARE else None, numbers=i == 0)
        ruled.rule(page, place, across, up)
    ruled.title(page, places[0], panel.title)
    ruled.legend(page, places[-1], handles)
    return main


def _twin(page: Page, place: ruled.Panel, panel: Panel, last: bool, result: Result, window: Window) -> list[Any]:
    """The right-hand axis of a panel; handles for the legend."""
    right = ruled.panel(page, place.left, place.top, place.width, place.height)
    right.axes.set_xlim(*place.axes.get_xlim())
    right.axes.set_ylim(*_limits(panel.twin, result, window, 0.0, None))
    up = Ruler(panel.twin_unit if last else "", 5, NICE_STEPS, 3, numbers=last, grid=False)
    ruled.rule(page, right, None, up, right=True, frame=False)
    return _draw(right.axes, panel.twin, result, window)


def _marks_of(window: Window, column: int) -> list[Mark]:
    """The marks a column carries: the enlarged one takes those it shows, so that the other stays clear."""
    if window.enlarged is None:
        return list(window.marks)
    low, high = window.enlarged
    return [m for m in window.marks if (low <= m.instant <= high) == (column == 1)]


def _draw_marks(page: Page, top: float, rows: list[list[Any]], window: Window) -> None:
    """Numbers above the first panel, a thin line through every panel."""
    for i, (left, width, begin, end) in enumerate(_columns(window)):
        marks = _marks_of(window, i)
        at = [width * (m.instant - begin) / (end - begin) for m in marks]
        foot = top + STRIP
        for mark, x, shown in zip(marks, at, style.spread(at, BUBBLE, 1.5, width - 1.5)):
            page.strokes.append([(left + shown, foot - STRIP + 4.2), (left + x, foot - 1.2), (left + x, foot)])
            page.text(
                left + shown, foot - STRIP + 2.2, str(mark.number), SMALL, ha="center", va="center", weight="bold",
                box=MARK_CIRCLE,
            )  # fmt: skip
        instants = [MILLI * (mark.instant - window.origin.instant) for mark in marks]
        for axes in rows:
            if instants:
                ruled.upright(axes[i], instants, colors=FAINT, linewidths=0.7, linestyles=[(0, (3, 2))], zorder=1.5)
            if i == 0 and window.enlarged is not None:
                low, high = (MILLI * (t - window.origin.instant) for t in window.enlarged)
                axes[0].axvspan(low, high, facecolor="none", edgecolor=FAINT, linewidth=0.8, zorder=3)
            if begin < window.command < end:
                command = MILLI * (window.command - window.origin.instant)
                ruled.upright(axes[i], [command], colors=INK, linewidths=0.9, zorder=1.5)


KEY_COLUMNS = (4, 3, 2, 1)
"""Columns of the key: the most that hold every entry on a line of its own."""


def _key_entries(page: Page, window: Window) -> tuple[list[str], int]:
    """(entries of the key, columns that hold them)."""
    texts = [f"({m.number}) {MILLI * (m.instant - window.origin.instant):.3f} ms: {m.label}" for m in window.marks]
    widest = max((page.width_of(text, SMALL) for text in texts), default=0.0)
    room = WIDTH - 2.0 * MARGIN
    columns = next((n for n in KEY_COLUMNS if widest + 2.0 <= room / n), 1)
    return texts, columns


def _key(page: Page, top: float, texts: Sequence[str], columns: int) -> None:
    """What the numbers mean, with their instants."""
    per_column = -(-len(texts) // columns)
    width = (WIDTH - 2.0 * MARGIN) / columns
    for i, text in enumerate(texts):
        column, line = divmod(i, per_column)
        page.text(MARGIN + column * width, top + line * KEY_LINE, text, SMALL)


def time_page(
    result: Result, window: Window, what: str, lines: Sequence[tuple[str, str]], rows: Sequence[Panel] | None = None
) -> Page:
    """One page over a window of the run: the rows that the case has traces for, or these."""
    page, top = sheet(result, what, lines)
    rows = panels(result) if rows is None else rows
    texts, columns = _key_entries(page, window)
    key = KEY_LINE * -(-len(texts) // columns)
    bottom = FOOT - 3.0 - key - 13.0
    strip = top
    top += STRIP + (5.0 if not window.marks else 1.0) + 4.0
    room = bottom - top - GAP * (len(rows) - 1)
    share = room / sum(panel.weight for panel in rows)
    drawn = []
    for i, panel in enumerate(rows):
        height = min(panel.weight * share, TALLEST if panel.unit != SHARE else TALLEST_SHARE)
        drawn.append(_row(page, panel, i == len(rows) - 1, top, height, result, window))
        top += height + GAP
    _draw_marks(page, strip, drawn, window)
    _key(page, top - GAP + 11.5, texts, columns)
    return page


def _captions(window: Window) -> tuple[str, ...]:
    """Titles of the time axes of the columns."""
    label = f"time after {window.origin.words}, ms"
    return (label,) if window.enlarged is None else ("whole, ms (box: enlarged)", f"enlarged: {label}")


def start_lines(result: Result) -> list[tuple[str, str]]:
    """The answer on the start page."""
    said = answer(result)
    lines = [(result.failure or said.outcome, said.tone)]
    return [*lines, (said.opening, "plain"), (said.flows, "plain"), (said.ignition, "plain"), failed_line(said.failed)]


def stop_lines(result: Result) -> list[tuple[str, str]]:
    """The answer on the stop page."""
    said = answer(result)
    lines = [(result.failure or said.outcome, said.tone)]
    return [*lines, (said.closing, "plain"), (said.flows, "plain"), failed_line(said.failed)]


NOTHING = "The run left no traces: there is nothing to draw over time."


def write_start(result: Result, path: Path) -> Path:
    """Write the start page."""
    if not len(result.traces.get("time", ())):
        page, top = sheet(result, "Start", start_lines(result))
        empty_note(page, top, NOTHING)
        return page.save(path)
    return time_page(result, start_window(result), "Start" + named(result), start_lines(result)).save(path)


def write_stop(result: Result, path: Path) -> Path:
    """Write the stop page; without an off command, the rest of the run."""
    if not len(result.traces.get("time", ())):
        page, top = sheet(result, "Stop", stop_lines(result))
        empty_note(page, top, NOTHING)
        return page.save(path)
    window = stop_window(result)
    if window is not None:
        return time_page(result, window, "Stop" + named(result), stop_lines(result)).save(path)
    off = result.measures.get("deenergize_time")
    why = "No off command follows the last on" if off is None else "The run ends at or before the off command"
    lines = [*stop_lines(result), (f"{why}: this page shows the rest of what there is.", "plain")]
    return time_page(result, rest_window(result), "Stop" + named(result), lines).save(path)
