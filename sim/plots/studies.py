"""Pictures of the studies: maps, scatters, the igniter's window, cases over each other. A4, units on axes.

No meaning rests on colour alone: failing regions differ by hatching and are named, curves by their dashes.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.batch import Batch
from sim.case.schema import Case
from sim.plots.style import (
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
from sim.plots.words import CAUTION, KIND_WORDS, plain_text

if TYPE_CHECKING:
    from sim.study.values import Axis

MARGIN, LEFT, RIGHT = 9.0, 24.0, 191.0
"""mm."""
FOOT = HEIGHT - 7.5
"""mm. Top of the caution."""
HATCHES = ("///", "\\\\\\", "...", "xxx", "|||", "---", "ooo", "+++")
"""One per failing check, in order."""
SERIES = ((OXIDIZER, "-"), (FUEL, DASHED), (LIFT_GAS, DASH_DOT), (TUBE, DOTTED), (CHAMBER, (0, (8, 2))), (FAINT, (0, (3, 1))))
"""(colour, dashes) of curves over each other."""
MOST_PANELS = 6
"""Panels on a page; further ones are in the CSV only."""
LEVELS = 12
"""Contour levels."""


def study_page(case: Case, what: str, answer: str) -> tuple[Page, float]:
    """(page with title, case, INVENTED label, answer and caution; top of what follows, mm)."""
    page = Page()
    page.text(MARGIN, MARGIN, what, TITLE, weight="bold")
    if case.case.invented:
        badge = {"boxstyle": "square,pad=0.35", "facecolor": "#ffffff", "edgecolor": ALARM, "linewidth": 1.2}
        place = WIDTH - MARGIN - 1.0, MARGIN + 0.8
        page.text(*place, "INVENTED: nobody's hardware", NORMAL, ha="right", weight="bold", color=ALARM, bbox=badge)
    top = page.paragraph(MARGIN, MARGIN + 7.5, WIDTH - 2 * MARGIN, case.case.title, LARGE, most=2)
    page.text(MARGIN, top, f"{KIND_WORDS[case.case.kind]}, case {plain_text(case.name, 60)}, {case.gas.name}", SMALL, color=FAINT)
    top = page.paragraph(MARGIN, top + LINE + 0.6, WIDTH - 2 * MARGIN, answer, NORMAL, most=5)
    page.text(WIDTH / 2.0, FOOT, CAUTION, SMALL, ha="center", color=FAINT)
    return page, top + 1.0


def panels(page: Page, top: float, count: int, gap: float = 19.0) -> list[Any]:
    """Axes below each other on what is left of a page."""
    room = min((FOOT - 16.0 - top - gap * (count - 1)) / count, 110.0)
    return [page.axes(LEFT, top + 9.0 + i * (room + gap), RIGHT - LEFT, room - 9.0) for i in range(count)]


def axis_label(axis: "Axis") -> str:
    """Name and unit of a varied value."""
    return f"{axis.path} [{axis.unit or '-'}]"


def write_map(case: Case, axes: "Sequence[Axis]", measures: Sequence[str], batch: Batch, path: Path) -> Path:
    """Picture of a map: curves over one value, filled contours over two."""
    with look():
        shape = [len(axis.values) for axis in axes]
        points = int(np.prod(shape))
        fails = {name: v[:points].reshape(shape) == 0.0 for name, v in batch.checks.items()}
        fails = {name: where for name, where in fails.items() if where.any()}
        over = " and ".join(axis.path for axis in axes)
        legend = "Hatched: a check fails there. Star: the case as written."
        page, top = study_page(case, "Map", f"{', '.join(measures[:MOST_PANELS])} over {over}. {legend if fails else ''}")
        count = min(len(measures), MOST_PANELS)
        if len(axes) == 2:
            count = min(count, 3)
        for panel, name in zip(panels(page, top, count), measures):
            values = batch.measures[name]
            (_curve if len(axes) == 1 else _contour)(panel, case, axes, name, values, fails)
        return page.save(path)


def _own(case: Case, axes: "Sequence[Axis]") -> list[float]:
    from sim.study.values import own_value

    return [float(axis.shown(own_value(case, axis.path) or np.nan, case.ambient.pressure)) for axis in axes]


def _name_failures(panel: Any, fails: Mapping[str, np.ndarray]) -> None:
    from matplotlib.patches import Patch

    handles = [
        Patch(facecolor="none", edgecolor=INK, hatch=HATCHES[i % len(HATCHES)], linewidth=0.5, label=f"fails: {name}")
        for i, name in enumerate(fails)
    ]
    if handles:
        panel.legend(
            handles=handles, loc="lower right", bbox_to_anchor=(1.0, 1.0), ncol=4, borderaxespad=0.15, frameon=False, fontsize=SMALL
        )


def _bounds(x: np.ndarray) -> np.ndarray:
    """Edges half way between points, closed by the end points."""
    return np.concatenate([x[:1], 0.5 * (x[1:] + x[:-1]), x[-1:]])


def _curve(panel: Any, case: Case, axes: "Sequence[Axis]", name: str, values: np.ndarray, fails: Mapping[str, np.ndarray]) -> None:
    from sim.study.values import on_screen, screen_unit

    x = axes[0].shown(axes[0].values, case.ambient.pressure)
    y = on_screen(name, values)
    panel.plot(x, y[:-1], color=OXIDIZER, marker="o", markersize=2.5)
    edges = _bounds(x)
    for i, where in enumerate(fails.values()):
        band = panel.get_xaxis_transform()
        low, high = i / len(fails), (i + 1) / len(fails)
        for k in np.flatnonzero(where):
            panel.fill_between(
                edges[k : k + 2], low, high, transform=band, facecolor="none", edgecolor=FAINT,
                hatch=HATCHES[i % len(HATCHES)], linewidth=0.0,
            )  # fmt: skip
    panel.plot(_own(case, axes), y[-1:], linestyle="none", marker="*", markersize=11, color=ALARM, zorder=5)
    panel.set_xlabel(axis_label(axes[0]))
    panel.set_ylabel(f"{name} [{screen_unit(name) or '-'}]")
    panel_title(panel, name)
    _name_failures(panel, fails)


def _contour(
    panel: Any, case: Case, axes: "Sequence[Axis]", name: str, values: np.ndarray, fails: Mapping[str, np.ndarray]
) -> None:
    from sim.study.values import on_screen, screen_unit

    ambient = case.ambient.pressure
    x, y = (axis.shown(axis.values, ambient) for axis in axes)
    z = on_screen(name, values[:-1]).reshape(len(x), len(y)).T
    unit = f"{name} [{screen_unit(name) or '-'}]"
    if np.isfinite(z).any() and np.nanmax(z) > np.nanmin(z):
        filled = panel.contourf(x, y, np.ma.masked_invalid(z), levels=LEVELS, cmap="cividis")
        panel.figure.colorbar(filled, ax=panel, label=unit, pad=0.015)
    else:
        panel.text(0.5, 0.5, "one value or none in the whole range", transform=panel.transAxes, ha="center", parse_math=False)
    for i, where in enumerate(fails.values()):
        hatch = HATCHES[i % len(HATCHES)]
        panel.contourf(x, y, where.T.astype(float), levels=[0.5, 1.5], colors="none", hatches=[hatch])
        if not where.all():
            panel.contour(x, y, where.T.astype(float), levels=[0.5], colors=[INK], linewidths=0.8)
    own = _own(case, axes)
    panel.plot(own[:1], own[1:], linestyle="none", marker="*", markersize=13, color="#ffffff", markeredgecolor=INK, zorder=5)
    panel.set_xlabel(axis_label(axes[0]))
    panel.set_ylabel(axis_label(axes[1]))
    panel_title(panel, name)
    _name_failures(panel, fails)


SHOWN_FIRST = ("opening_time", "closing_time", "oxidizer_lead", "hard_start_pressure", "full_lift_margin", "closing_margin")
"""Measures a page of distributions shows, as far as they happened and change."""
BINS = 30
NOISE = 1e-6
"""-. Relative width below which a distribution is one value."""


def write_scatter(
    case: Case, answer: str, measures: Sequence[Mapping[str, Any]], checks: Sequence[Mapping[str, Any]], batch: Batch, path: Path
) -> Path:
    """Histograms of the main measures with P1, P50, P99, and failure chances with their intervals."""
    from sim.study.values import on_screen, screen_unit

    with look():
        page, top = study_page(case, "Scatter", answer)
        known = {row["name"]: row for row in measures if row["p99"] - row["p1"] > NOISE * abs(row["p50"])}
        shown = [name for name in SHOWN_FIRST if name in known]
        shown += [name for name in known if name not in shown][: max(0, 4 - len(shown))]
        axes = panels(page, top, max(1, min(len(shown), 4)) + 1, 17.0)
        for panel, name in zip(axes[:-1], shown):
            values = on_screen(name, batch.measures[name])
            panel.hist(values[np.isfinite(values)], bins=BINS, color=OXIDIZER, edgecolor="#ffffff", linewidth=0.4)
            for key, dashes in (("p1", DOTTED), ("p50", "-"), ("p99", DOTTED)):
                panel.axvline(float(on_screen(name, known[name][key])), color=ALARM, linestyle=dashes, linewidth=1.1)
            panel.set_xlabel(f"{name} [{screen_unit(name) or '-'}]")
            panel.set_ylabel("runs [-]")
            panel_title(panel, f"{name}: P1, P50, P99; driven by {known[name]['driver']}")
        _chances(axes[-1], checks)
        return page.save(path)


def _chances(panel: Any, checks: Sequence[Mapping[str, Any]]) -> None:
    rows = list(checks)[:12][::-1]
    for place, row in enumerate(rows):
        colour = ALARM if row["fails"] else GOOD
        panel.plot([100 * row["low"], 100 * row["high"]], [place, place], color=colour, linewidth=2.0)
        panel.plot([100 * row["chance"]], [place], marker="o" if row["fails"] else "s", color=colour, markersize=4)
    panel.set_yticks(range(len(rows)), [row["name"] for row in rows], fontsize=6.5)
    box = panel.get_position()
    panel.set_position([box.x0 + 0.08, box.y0, box.width - 0.08, box.height])
    panel.set_xlabel("chance to fail, with 95 % interval [%]")
    panel_title(panel, "Checks (round: fails at times, square: never failed here)")


VERDICTS = {"unsafe": ALARM, "degraded": FUEL, "safe": GOOD, "-": FAINT}
"""Verdict -> colour; the word stands beside it."""
ROW_HEIGHT = 9.0
"""mm. Of one fault."""


def write_faults(case: Case, answer: str, rows: Sequence[Any], path: Path) -> Path:
    """One line per fault: mark, name, verdict and why."""
    with look():
        page, top = study_page(case, "Single faults", answer)
        height = min(ROW_HEIGHT, (FOOT - top - 6.0) / max(len(rows), 1))
        for row in rows:
            colour = VERDICTS[row.verdict]
            page.text(MARGIN, top, f"{row.verdict if row.verdict != '-' else 'n/a'}", NORMAL, weight="bold", color=colour)
            page.text(MARGIN + 20.0, top, row.name, NORMAL, weight="bold")
            if height > 2 * LINE - 0.5:
                line = page.lines_of(row.reason, WIDTH - 2 * MARGIN - 20.0, SMALL, most=1)
                page.text(MARGIN + 20.0, top + LINE - 0.3, line[0] if line else "", SMALL, color=FAINT)
            top += height
        return page.save(path)


def write_window(case: Case, answer: str, pool: Any, facts: Mapping[str, Any], path: Path) -> Path:
    """Pooled masses, hard-start pressure and mixture ratio against the time of light-off, with both ends of the window."""
    with look():
        page, top = study_page(case, "Igniter's window", answer)
        masses, pressure, mixture = panels(page, top, 3)
        t = pool.time * 1e3
        masses.plot(t, pool.oxidizer * 1e3, color=OXIDIZER, label="oxidizer")
        masses.plot(t, pool.fuel * 1e3, color=FUEL, linestyle=DASHED, label="fuel")
        masses.set_ylabel("pooled, never lit [g]")
        masses.legend(loc="upper left", frameon=False, fontsize=SMALL)
        pressure.plot(t, pool.pressure / 1e5, color=CHAMBER)
        pressure.set_ylabel("hard start, estimate [bar]")
        allowable = case.chamber.allowable_pressure if case.chamber is not None else None
        if allowable is not None:
            pressure.axhline(allowable / 1e5, color=ALARM, linestyle=DASHED, linewidth=1.1)
            pressure.text(0.01, allowable / 1e5, "allowable", transform=pressure.get_yaxis_transform(), va="bottom", fontsize=SMALL)
            pressure.set_ylim(0.0, max(3.0 * allowable / 1e5, 1.0))
        mixture.plot(t, pool.mixture, color=INK)
        mixture.set_ylabel("O/F of the pool [-]")
        early = facts["both_in_chamber"]["p50"]
        bounds = [facts[k][p] for k in ("both_in_chamber", "latest_light_off") for p in ("p1", "p99") if facts[k][p] is not None]
        for panel, title in ((masses, "Pooled masses"), (pressure, "Pressure if it lights then"), (mixture, "Mixture ratio")):
            for key, colour, hatch in (("both_in_chamber", GOOD, "///"), ("latest_light_off", ALARM, "\\\\\\")):
                spread = facts[key]
                if spread["p1"] is not None:
                    panel.axvspan(
                        spread["p1"] * 1e3, spread["p99"] * 1e3, facecolor="none", edgecolor=colour, hatch=hatch, linewidth=0.8
                    )
            panel.set_xlabel("time of light-off, from the run's start [ms]")
            panel_title(panel, f"{title} (green band: both in the chamber; red band: latest light-off; P1 to P99)")
            if early is not None:
                late = max(bounds) if facts["latest_light_off"]["p1"] is not None else early + 0.2
                panel.set_xlim((early - 0.02) * 1e3, (late + 0.5 * (late - early) + 0.01) * 1e3)
        if early is not None:
            shown = (pool.time >= early - 0.02) & (t <= masses.get_xlim()[1])
            masses.set_ylim(0.0, 1.1e3 * max(float(pool.oxidizer[shown].max()), float(pool.fuel[shown].max()), 1e-6))
        return page.save(path)


OVERLAID = (
    ("lift", "lift [mm]", 1e3),
    ("lift_chamber_pressure", "lift chamber [bar]", 1e-5),
    ("chamber_pressure", "chamber pressure [bar]", 1e-5),
    ("oxidizer_flow", "oxidizer flow [kg/s]", 1.0),
    ("fuel_flow", "fuel flow [kg/s]", 1.0),
)
"""Traces of a comparison: name, axis, axis units per SI unit."""


def write_compare(case: Case, answer: str, names: Sequence[str], traces: Sequence[Mapping[str, np.ndarray]], path: Path) -> Path:
    """Traces of several cases over each other."""
    with look():
        page, top = study_page(case, "Comparison", answer)
        shown = [row for row in OVERLAID if any(row[0] in one and np.any(one[row[0]] != 0.0) for one in traces)]
        axes = panels(page, top + 4.0, max(len(shown), 1), 14.0)
        for panel, (key, label, factor) in zip(axes, shown):
            for (colour, dashes), name, one in zip(SERIES, names, traces):
                if key in one:
                    panel.plot(one["time"], one[key] * factor, color=colour, linestyle=dashes, label=plain_text(name, 40))
            panel.set_ylabel(label)
            panel_title(panel, key.replace("_", " "))
        axes[-1].set_xlabel("time [s]")
        axes[0].legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncol=3, frameon=False, fontsize=SMALL)
        return page.save(path)
