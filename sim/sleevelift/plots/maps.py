"""Pictures of a map: measures, and the chance that targets hold, over one or two values of the case."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from sleevelift.batch import Batch
from sleevelift.case.schema import Case
from sleevelift.case.walk import own_value
from sleevelift.plots.drawn import Axis
from sleevelift.plots.studies import LEFT, LEGEND_COLUMNS, LEGEND_ROW, MOST_PANELS, panels, study_page
from sleevelift.plots.style import FAINT, HEIGHT, INK, OXIDIZER, SMALL, WIDTH, Page, look, panel_title
from sleevelift.shown import on_screen, screen_unit

MOST_CONTOURS = 3
"""Panels with two values on a page."""
PER_CENT = 100.0
SURE = (50.0, 90.0, 99.0)
"""%. Chances whose lines are drawn."""
HATCHES = ("///", "\\\\\\", "...", "xxx", "|||", "---", "ooo", "+++")
"""One per failing check, in order."""
LEVELS = 12
"""Contour levels."""


def axis_label(axis: Axis) -> str:
    """Name and unit of a varied value."""
    return f"{axis.path} [{axis.unit or '-'}]"


def write_map(
    case: Case, answer: str, axes: Sequence[Axis], measures: Sequence[str], batch: Batch, path: Path,
    odds: Mapping[str, np.ndarray] = {},
) -> Path:  # fmt: skip
    """Picture of a map: curves over one value, filled contours over two.

    odds: target -> (points + 1, 3) chance that it holds and the ends of its interval, the case itself last; they come first.
    """
    with look():
        shape = [len(axis.values) for axis in axes]
        points = int(np.prod(shape))
        fails = {name: v[:points].reshape(shape) == 0.0 for name, v in batch.checks.items()}
        fails = {name: where for name, where in fails.items() if where.any()}
        page, top = study_page(case, "Map", answer)
        top = _map_legend(page, top, fails)
        one = len(axes) == 1
        of_chance, of_measure = (chance_curve, _curve) if one else (chance_contour, _contour)
        drawn: list[Callable[[Any], None]] = [
            partial(of_chance, case=case, axes=axes, text=text, odds=found) for text, found in odds.items()
        ]
        drawn += [
            partial(of_measure, case=case, axes=axes, name=name, values=batch.measures[name], fails=fails) for name in measures
        ]
        drawn = drawn[: MOST_PANELS if one else MOST_CONTOURS]
        for panel, draw in zip(panels(page, top, len(drawn)), drawn):
            draw(panel)
        return page.save(path)


def _map_legend(page: Page, top: float, fails: Mapping[str, np.ndarray]) -> float:
    """Star and hatches named once, above the panels; the top of what follows, mm."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    star = Line2D(
        [], [], linestyle="none", marker="*", markersize=11, color="#ffffff", markeredgecolor=INK, label="case as written"
    )
    hatched = [
        Patch(facecolor="none", edgecolor=INK, hatch=2 * HATCHES[i % len(HATCHES)], linewidth=0.5, label=f"fails: {name}")
        for i, name in enumerate(fails)
    ]
    place = LEFT / WIDTH, 1.0 - (top + 1.0) / HEIGHT
    page.figure.legend(
        handles=[star, *hatched], loc="upper left", bbox_to_anchor=place, ncol=LEGEND_COLUMNS, frameon=False, fontsize=SMALL,
        borderaxespad=0.0, borderpad=0.0,
    )  # fmt: skip
    return top + LEGEND_ROW * -(-(1 + len(hatched)) // LEGEND_COLUMNS)


def _own(case: Case, axes: Sequence[Axis]) -> list[float]:
    return [float(axis.shown(own_value(case, axis.path) or np.nan, case.ambient.pressure)) for axis in axes]


def _bounds(x: np.ndarray) -> np.ndarray:
    """Edges half way between points, closed by the end points."""
    return np.concatenate([x[:1], 0.5 * (x[1:] + x[:-1]), x[-1:]])


def _curve(panel: Any, case: Case, axes: Sequence[Axis], name: str, values: np.ndarray, fails: Mapping[str, np.ndarray]) -> None:
    x = axes[0].shown(axes[0].values, case.ambient.pressure)
    y = on_screen(name, values, case.reader)
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
    panel.plot(
        _own(case, axes), y[-1:], linestyle="none", marker="*", markersize=12, color="#ffffff", markeredgecolor=INK, zorder=5
    )
    panel.set_xlabel(axis_label(axes[0]))
    panel.set_ylabel(f"{name} [{screen_unit(name, case.reader) or '-'}]")
    panel_title(panel, name)


def _contour(panel: Any, case: Case, axes: Sequence[Axis], name: str, values: np.ndarray, fails: Mapping[str, np.ndarray]) -> None:
    ambient = case.ambient.pressure
    x, y = (axis.shown(axis.values, ambient) for axis in axes)
    z = on_screen(name, values[:-1], case.reader).reshape(len(x), len(y)).T
    unit = f"{name} [{screen_unit(name, case.reader) or '-'}]"
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


def chance_curve(panel: Any, case: Case, axes: Sequence[Axis], text: str, odds: np.ndarray) -> None:
    """The chance that a target holds over one value, with its 95 % interval."""
    x = axes[0].shown(axes[0].values, case.ambient.pressure)
    share, low, high = (PER_CENT * odds[:, k] for k in range(3))
    panel.fill_between(x, low[:-1], high[:-1], color=OXIDIZER, alpha=0.2, linewidth=0.0)
    panel.plot(x, share[:-1], color=OXIDIZER, marker="o", markersize=2.5)
    _star(panel, _own(case, axes), share[-1])
    panel.set_ylim(-3.0, 103.0)
    panel.set_xlabel(axis_label(axes[0]))
    panel.set_ylabel("holds [%]")
    panel_title(panel, f"chance that {text} holds, with its 95 % interval")


def chance_contour(panel: Any, case: Case, axes: Sequence[Axis], text: str, odds: np.ndarray) -> None:
    """The chance that a target holds over two values; that of the case as written, which lies between points, in figures."""
    ambient = case.ambient.pressure
    x, y = (axis.shown(axis.values, ambient) for axis in axes)
    z = PER_CENT * odds[:-1, 0].reshape(len(x), len(y)).T
    filled = panel.contourf(x, y, z, levels=np.linspace(0.0, PER_CENT, 11), cmap="cividis")
    panel.figure.colorbar(filled, ax=panel, label="holds [%]", pad=0.015)
    lines = [level for level in SURE if z.min() < level <= z.max()]
    if lines:
        panel.clabel(panel.contour(x, y, z, levels=lines, colors=[INK], linewidths=0.8), fmt="%g %%", fontsize=SMALL)
    own = _own(case, axes)
    _star(panel, own[:1], own[1])
    panel.annotate(
        f"{PER_CENT * odds[-1, 0]:.3g} %", (own[0], own[1]), (7, 7), textcoords="offset points", fontsize=SMALL,
        bbox={"boxstyle": "square,pad=0.1", "facecolor": "#ffffff", "edgecolor": "none", "alpha": 0.85},
    )  # fmt: skip
    panel.set_xlabel(axis_label(axes[0]))
    panel.set_ylabel(axis_label(axes[1]))
    panel_title(panel, f"chance that {text} holds")


def _star(panel: Any, x: Sequence[float], y: float) -> None:
    """The case as written."""
    panel.plot(x, [y], linestyle="none", marker="*", markersize=12, color="#ffffff", markeredgecolor=INK, zorder=5, clip_on=False)
