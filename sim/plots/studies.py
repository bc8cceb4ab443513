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
        legend = "Hatched: a check fails there. Star or ring: the case as written."
        page, top = study_page(case, "Map", f"{', '.join(measures[:MOST_PANELS])} over {over}. {legend if fails else ''}")
        count = min(len(measures), MOST_PANELS)
        if len(axes) == 2:
            count = min(count, 3)
        for panel, name in zip(panels(page, top, count, 26.0 if fails else 19.0), measures):
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
        panel.legend(handles=handles, loc="upper center", bbox_to_anchor=(0.5, -0.16), ncol=3, frameon=False, fontsize=SMALL)


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
