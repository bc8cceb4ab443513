"""Pictures of the studies: maps, scatters, the igniter's window, cases over each other. A4, units on axes.

No meaning rests on colour alone: failing regions differ by hatching and are named, curves by their dashes.
"""

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from sleevelift.batch import Batch
from sleevelift.case.schema import Case
from sleevelift.plots.drawn import Titled
from sleevelift.plots.style import (
    ALARM,
    CHAMBER,
    DASH_DOT,
    DASHED,
    DOTTED,
    FAINT,
    FUEL,
    GOOD,
    HEIGHT,
    INK,
    INVENTED_BADGE,
    LARGE,
    LIFT_GAS,
    LINE,
    NORMAL,
    OXIDIZER,
    SMALL,
    TITLE,
    TUBE,
    WIDTH,
    Page,
    look,
    panel_title,
)
from sleevelift.plots.words import CAUTION, KIND_WORDS, plain_text
from sleevelift.ratings import absolute
from sleevelift.reader import Reader
from sleevelift.shown import on_screen, screen_unit

MARGIN, LEFT, RIGHT = 9.0, 24.0, 191.0
"""mm."""
FOOT = HEIGHT - 7.5
"""mm. Top of the caution."""
SERIES = ((OXIDIZER, "-"), (FUEL, DASHED), (LIFT_GAS, DASH_DOT), (TUBE, DOTTED), (CHAMBER, (0, (8, 2))), (FAINT, (0, (3, 1))))
"""(colour, dashes) of curves over each other."""
MOST_PANELS = 6
"""Panels on a page; further ones are in the CSV only."""
LEGEND_COLUMNS, LEGEND_ROW = 3, 5.0
"""Entries side by side, and mm per row, of a legend of the page."""


def study_page(case: Titled, what: str, answer: str) -> tuple[Page, float]:
    """(page with title, case, INVENTED label, answer and caution; top of what follows, mm)."""
    page = Page()
    page.text(MARGIN, MARGIN, what, TITLE, weight="bold")
    if case.case.invented:
        place = WIDTH - MARGIN - 1.0, MARGIN + 0.8
        page.text(*place, "INVENTED: nobody's hardware", NORMAL, ha="right", weight="bold", color=ALARM, box=INVENTED_BADGE)
    top = page.paragraph(MARGIN, MARGIN + 7.5, WIDTH - 2 * MARGIN, case.case.title, LARGE, most=2)
    page.text(MARGIN, top, f"{KIND_WORDS[case.case.kind]}, case {plain_text(case.name, 60)}, {case.gas.name}", SMALL, color=FAINT)
    top = page.paragraph(MARGIN, top + LINE + 0.6, WIDTH - 2 * MARGIN, answer, NORMAL, most=5)
    page.text(WIDTH / 2.0, FOOT, CAUTION, SMALL, ha="center", color=FAINT)
    return page, top + 1.0


def panels(page: Page, top: float, count: int, gap: float = 19.0, foot: float = FOOT) -> list[Any]:
    """Axes below each other from `top` to `foot`, mm."""
    room = min((foot - 16.0 - top - gap * (count - 1)) / count, 110.0)
    return [page.axes(LEFT, top + 9.0 + i * (room + gap), RIGHT - LEFT, room - 9.0) for i in range(count)]


SHOWN_FIRST = ("opening_time", "closing_time", "oxidizer_lead", "hard_start_pressure", "full_lift_margin", "closing_margin")
"""Measures a page of distributions shows, as far as they happened and change."""
CHECK_ROW, CHECK_NAMES, MOST_CHECKS = 3.9, 22.0, 18
"""mm per check, mm for their names beside the left margin, and checks drawn (those that fail most first)."""
LABEL_BOX = {"boxstyle": "square,pad=0.1", "facecolor": "#ffffff", "edgecolor": "none", "alpha": 0.85}
BINS = 30
NOISE = 1e-6
"""-. Relative width below which a distribution is one value."""


def write_scatter(
    case: Case, answer: str, measures: Sequence[Mapping[str, Any]], checks: Sequence[Mapping[str, Any]], batch: Batch, path: Path
) -> Path:
    """Histograms of the main measures with P1, P50, P99, and failure chances with their intervals."""
    with look():
        page, top = study_page(case, "Scatter", answer)
        known = {row["name"]: row for row in measures if row["p99"] - row["p1"] > NOISE * abs(row["p50"])}
        shown = [name for name in SHOWN_FIRST if name in known]
        shown += [name for name in known if name not in shown][: max(0, 4 - len(shown))]
        room = CHECK_ROW * max(min(len(checks), MOST_CHECKS), 1)
        bottom = page.axes(LEFT + CHECK_NAMES, FOOT - 14.0 - room, RIGHT - LEFT - CHECK_NAMES, room)
        axes = panels(page, top, max(1, min(len(shown), 4)), 10.0, FOOT - 13.0 - room)
        for panel, name in zip(axes, shown):
            values = on_screen(name, batch.measures[name], case.reader)
            panel.hist(values[np.isfinite(values)], bins=BINS, color=OXIDIZER, edgecolor="#ffffff", linewidth=0.4)
            for key, dashes in (("p1", DOTTED), ("p50", "-"), ("p99", DOTTED)):
                place = float(on_screen(name, known[name][key], case.reader))
                panel.axvline(place, color=ALARM, linestyle=dashes, linewidth=1.1)
                panel.annotate(
                    f"{key.upper()} {place:.4g}", (place, 1.0), (2, -1), xycoords=("data", "axes fraction"),
                    textcoords="offset points", va="top", fontsize=SMALL, color=ALARM, bbox=LABEL_BOX, zorder=4,
                )  # fmt: skip
            panel.set_xlabel(f"{name} [{screen_unit(name, case.reader) or '-'}]")
            panel.set_ylabel("runs [-]")
            panel.margins(y=0.25)
            panel_title(panel, f"{name}, driven by {known[name]['driver']}")
        _chances(bottom, checks)
        return page.save(path)


def _chances(panel: Any, checks: Sequence[Mapping[str, Any]]) -> None:
    rows = list(checks)[:MOST_CHECKS]
    for place, row in enumerate(rows):
        colour = ALARM if row["fails"] else GOOD
        panel.plot([100 * row["low"], 100 * row["high"]], [place, place], color=colour, linewidth=2.0)
        panel.plot([100 * row["chance"]], [place], marker="o" if row["fails"] else "s", color=colour, markersize=4)
    panel.set_yticks(range(len(rows)), [row["name"] for row in rows], fontsize=SMALL)
    panel.set_ylim(len(rows) - 0.5, -0.5)
    panel.set_xlim(left=min(0.0, panel.get_xlim()[0]))
    panel.set_xlabel("chance to fail, with 95 % interval [%]")
    left_out = f"; {len(checks) - len(rows)} more in the JSON" if len(checks) > len(rows) else ""
    panel_title(panel, f"Checks (round: failed in some runs, square: never failed{left_out})")


VERDICTS = {"unsafe": ALARM, "not known": ALARM, "degraded": FUEL, "safe": GOOD, "-": FAINT}
"""Verdict -> colour, the worst first; the word stands beside it."""
FAULT_COLUMNS = (
    (MARGIN, "verdict"),
    (30.0, "fault, and why"),
    (109.0, "ends closed"),
    (130.0, "last propellant"),
    (162.0, "worst pressure"),
)
"""(left end in mm, heading) of the table of faults."""
MOST_REASON, ROW_GAP = 8, 2.2
"""Lines of a reason at most, and mm between two faults."""
SMALL_LINE = LINE * SMALL / NORMAL
"""mm. Height of a line of small text."""


def reason_lines(page: Page, rows: Sequence[Any], room: float) -> list[tuple[list[str], list[str]]]:
    """(reason, worst place) of each fault, broken to their columns: whole where the page has room, else of fewer lines."""
    left, right = FAULT_COLUMNS[1][0], FAULT_COLUMNS[4][0]
    broken: list[tuple[list[str], list[str]]] = []
    for most in range(MOST_REASON, 0, -1):
        broken = [
            (page.lines_of(row.reason, right - left - 3.0, SMALL, most=most),
             page.lines_of(row.worst_place, WIDTH - MARGIN - right - 3.0, SMALL, most=most))
            for row in rows
        ]  # fmt: skip
        if sum(LINE + ROW_GAP + SMALL_LINE * max(map(len, both)) for both in broken) <= room:
            break
    return broken


def write_faults(case: Case, answer: str, rows: Sequence[Any], path: Path) -> Path:
    """One line per fault, the worst first: verdict, name, how it ends, worst pressure, and why."""
    with look():
        page, top = study_page(case, "Faults, alone and of one cause", answer)
        top += 3.0
        for left, heading in FAULT_COLUMNS:
            page.text(left, top, heading, SMALL, color=FAINT)
        top += LINE + 1.5
        places = [left for left, _ in FAULT_COLUMNS]
        ordered = sorted(rows, key=lambda row: list(VERDICTS).index(row.verdict))
        for row, (reason, worst) in zip(ordered, reason_lines(page, ordered, FOOT - top - 4.0)):
            word = row.verdict if row.verdict != "-" else "not run"
            page.text(places[0], top, word, NORMAL, weight="bold", color=VERDICTS[row.verdict])
            name = page.lines_of(row.name, places[2] - places[1] - 2.0, NORMAL, True, most=1)
            page.text(places[1], top, name[0] if name else "", NORMAL, weight="bold")
            page.text(places[2], top, {True: "yes", False: "NO", None: "-"}[row.ends_closed], NORMAL)
            page.text(places[3], top, row.last_propellant, NORMAL)
            if row.worst_pressure is not None:
                page.text(places[4], top, absolute(row.worst_pressure, case.reader), NORMAL)
            for left, lines in ((places[1], reason), (places[4], worst)):
                for i, line in enumerate(lines):
                    page.text(left, top + LINE - 0.3 + i * SMALL_LINE, line, SMALL, color=FAINT)
            top += LINE + ROW_GAP + SMALL_LINE * max(len(reason), len(worst))
        return page.save(path)


MOST_MIXTURE = 10.0
"""-. O/F of the pool up to which it is drawn: oxidizer alone is infinite."""
WINDOW_BANDS = (("both_in_chamber", GOOD, "///", "both in the chamber"), ("latest_light_off", ALARM, "\\\\\\", "latest light-off"))
"""(key of the facts, colour, hatch, name)."""


def write_window(case: Case, answer: str, pool: Any, facts: Mapping[str, Any], path: Path) -> Path:
    """Pooled masses, hard-start pressure and mixture ratio against the time of light-off, with both ends of the window."""
    with look():
        page, top = study_page(case, "Igniter's window", answer)
        top = _window_legend(page, top)
        masses, pressure, mixture = panels(page, top, 3)
        origin, reader = facts["origin"], case.reader
        mass, bar = partial(reader.in_column, "mass"), partial(reader.in_column, "pressure")
        t = (pool.time - origin) * 1e3
        masses.plot(t, mass(pool.oxidizer), color=OXIDIZER, label="oxidizer")
        masses.plot(t, mass(pool.fuel), color=FUEL, linestyle=DASHED, label="fuel")
        masses.set_ylabel(f"pooled, never lit [{reader.column('mass')}]")
        masses.legend(loc="upper left", frameon=True, facecolor="#ffffff", edgecolor="none", fontsize=SMALL)
        pressure.plot(t, bar(pool.pressure), color=CHAMBER)
        pressure.set_ylabel(f"hard start, estimate [{reader.column('pressure')}]")
        allowable = case.chamber.allowable_pressure if case.chamber is not None else None
        if allowable is not None:
            pressure.axhline(bar(allowable), color=ALARM, linestyle=DASHED, linewidth=1.1)
            words = f"allowable {bar(allowable):.3g} bara"
            pressure.text(0.01, bar(allowable), words, transform=pressure.get_yaxis_transform(), va="bottom", fontsize=SMALL)
            pressure.set_ylim(0.0, max(3.0 * bar(allowable), 1.0))
        mixture.plot(t, np.where(pool.mixture <= MOST_MIXTURE, pool.mixture, np.nan), color=INK)
        mixture.set_ylim(0.0, MOST_MIXTURE)
        mixture.set_ylabel("O/F of the pool [-]")
        mixture_title = f"Mixture ratio (drawn up to {MOST_MIXTURE:g}; oxidizer alone is above)"
        early = facts["both_in_chamber"]["p1"]
        bounds = [facts[k][p] for k in ("both_in_chamber", "latest_light_off") for p in ("p1", "p99") if facts[k][p] is not None]
        for panel, title in ((masses, "Pooled masses"), (pressure, "Pressure if it lights then"), (mixture, mixture_title)):
            for key, colour, hatch, _ in WINDOW_BANDS:
                spread = facts[key]
                if spread["p1"] is not None:
                    place = (spread["p1"] - origin) * 1e3, (spread["p99"] - origin) * 1e3
                    panel.axvspan(*place, facecolor="none", edgecolor=colour, hatch=hatch, linewidth=0.8)
            panel.set_xlabel("time of light-off, after the first on command [ms]")
            panel_title(panel, title)
            if early is not None:
                late = max(bounds) if facts["latest_light_off"]["p1"] is not None else early + 0.2
                span = late - early
                panel.set_xlim((early - 0.4 * span - origin) * 1e3, (late + 0.4 * span - origin) * 1e3)
        if early is not None:
            low, high = masses.get_xlim()
            shown = (t >= low) & (t <= high)
            masses.set_ylim(0.0, mass(1.1 * max(float(pool.oxidizer[shown].max()), float(pool.fuel[shown].max()), 1e-6)))
        return page.save(path)


def _window_legend(page: Page, top: float) -> float:
    """The bands named once; the top of what follows, mm."""
    from matplotlib.patches import Patch

    handles = [
        Patch(facecolor="none", edgecolor=colour, hatch=2 * hatch, label=f"{words}: P1 to P99 of the scatter")
        for _, colour, hatch, words in WINDOW_BANDS
    ]
    place = LEFT / WIDTH, 1.0 - (top + 1.0) / HEIGHT
    page.figure.legend(
        handles=handles,
        loc="upper left",
        bbox_to_anchor=place,
        ncol=2,
        frameon=False,
        fontsize=SMALL,
        borderaxespad=0.0,
        borderpad=0.0,
    )
    return top + LEGEND_ROW


OVERLAID = (
    ("lift", "lift", "length"), ("lift_chamber_pressure", "lift chamber", "pressure"),
    ("chamber_pressure", "chamber pressure", "pressure"), ("oxidizer_flow", "oxidizer flow", "flow"),
    ("fuel_flow", "fuel flow", "flow"),
)  # fmt: skip
"""Traces of a comparison: name, axis, kind of quantity."""


BEFORE, AFTER = 0.1, 1.3
"""-. A column of a comparison shows from so much before the command to so much after it, in the slowest case's times."""
PAIRED = (("energize_time", "opening_time", "on"), ("deenergize_time", "closing_time", "off"))
"""(instant of the command, duration after it, word) of each column."""


def write_compare(
    case: Titled, answer: str, names: Sequence[str], measures: Sequence[Mapping[str, float | None]],
    traces: Sequence[Mapping[str, np.ndarray]], path: Path,
) -> Path:  # fmt: skip
    """Traces of several cases over each other, from the on command and from the off command of each."""
    with look():
        page, top = study_page(case, "Comparison", answer)
        shown = [row for row in OVERLAID if any(row[0] in one and np.any(one[row[0]] != 0.0) for one in traces)]
        columns = [pair for pair in PAIRED if any(m[pair[0]] is not None for m in measures)] or [("", "", "")]
        room = min((FOOT - 28.0 - top - 9.0 * (len(shown) - 1)) / max(len(shown), 1), 60.0)
        width = (RIGHT - LEFT - 12.0 * (len(columns) - 1)) / len(columns)
        grid = []
        for i, (key, label, kind) in enumerate(shown):
            for j, pair in enumerate(columns):
                panel = page.axes(LEFT + j * (width + 12.0), top + 14.0 + i * (room + 9.0), width, room)
                _overlaid(panel, key, kind, case.reader, pair, names, measures, traces)
                panel.set_ylabel(f"{label} [{case.reader.column(kind)}]" if j == 0 else "")
                grid.append(panel)
        for panel, (_, _, word) in zip(grid[-len(columns) :], columns):
            panel.set_xlabel(f"time from the {word} command of each case [ms]" if word else "time from the run's start [ms]")
        if grid:
            handles = grid[0].get_legend_handles_labels()[0]
            place = LEFT / WIDTH, 1.0 - (top + 2.0) / HEIGHT
            page.figure.legend(
                handles=handles, loc="upper left", bbox_to_anchor=place, ncol=LEGEND_COLUMNS, frameon=False, fontsize=SMALL,
                borderaxespad=0.0, borderpad=0.0, handlelength=3.2,
            )  # fmt: skip
        return page.save(path)


def _overlaid(
    panel: Any, key: str, kind: str, reader: Reader, pair: tuple[str, str, str], names: Sequence[str],
    measures: Sequence[Mapping[str, float | None]], traces: Sequence[Mapping[str, np.ndarray]],
) -> None:  # fmt: skip
    """One trace of every case, time counted from the case's own command."""
    instant, duration, _ = pair
    for (colour, dashes), name, found, one in zip(SERIES, names, measures, traces):
        start = found.get(instant) if instant else 0.0
        if key in one and start is not None:
            t = (one["time"] - start) * 1e3
            panel.plot(t, reader.in_column(kind, one[key]), color=colour, linestyle=dashes, label=plain_text(name, 40))
        elif instant:
            panel.plot([], [], color=colour, linestyle=dashes, label=plain_text(name, 40))
    lengths = [value for m in measures if duration and (value := m.get(duration)) is not None]
    if lengths:
        panel.set_xlim(-BEFORE * max(lengths) * 1e3, AFTER * max(lengths) * 1e3)
        panel.autoscale(enable=True, axis="y")
