"""Picture of a fit: each channel as measured, the model before and after, and what is left, over time from the command."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sleevelift.plots.drawn import Titled
from sleevelift.plots.studies import FOOT, LEFT, RIGHT, study_page
from sleevelift.plots.style import ALARM, CHAMBER, DASHED, FAINT, INK, LIFT_GAS, SMALL, look, padded, panel_title

MOST_CHANNELS = 5
"""Channels on the page; all are in the CSV."""
GAP_STEPS = 5.0
"""-. Times the usual step between samples from which a curve breaks off."""
RESIDUAL_SHARE = 0.26
"""-. Height of the strip of residuals below a panel."""


class Drawn(NamedTuple):
    """One channel to draw."""

    title: str
    unit: str
    time: np.ndarray
    """ms from the first on command"""
    measured: np.ndarray
    before: np.ndarray
    after: np.ndarray
    noise: float
    stretches: Sequence[tuple[float, float]]
    """ms; where it leaves the model"""


def write_fit(case: Titled, answer: str, channels: Sequence[Drawn], path: Path) -> Path:
    """Draw the channels, one below the other."""
    from matplotlib.lines import Line2D

    shown = channels[:MOST_CHANNELS]
    with look():
        page, top = study_page(case, "Fit to what was measured", answer)
        handles = [
            Line2D([], [], color=FAINT, marker=".", linestyle="", markersize=3, label="measured"),
            Line2D([], [], color=CHAMBER, linestyle=DASHED, label="model before"),
            Line2D([], [], color=LIFT_GAS, label="model after"),
            Line2D([], [], color=INK, linewidth=0.8, label="measured less model after, and twice the noise"),
        ]
        top += 9.0
        room = min((FOOT - 14.0 - top) / max(len(shown), 1), 80.0)
        for k, one in enumerate(shown):
            height = room - 13.0
            upper = page.axes(LEFT, top + 5.0 + k * room, RIGHT - LEFT, height * (1.0 - RESIDUAL_SHARE) - 2.0)
            lower = page.axes(LEFT, top + 5.0 + k * room + height * (1.0 - RESIDUAL_SHARE), RIGHT - LEFT, height * RESIDUAL_SHARE)
            _channel(upper, lower, one)
            if k == 0:
                upper.legend(
                    handles=handles, loc="lower right", bbox_to_anchor=(1.0, 1.12), ncol=4, frameon=False, fontsize=SMALL,
                    handlelength=2.4, columnspacing=1.2, borderaxespad=0.0, borderpad=0.0,
                )  # fmt: skip
            if k == len(shown) - 1:
                lower.set_xlabel("time from the first on command [ms]")
        return page.save(path)


def broken(time: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A curve that breaks off where nothing was recorded: NaN put into each step longer than `GAP_STEPS` usual ones.

    >>> broken(np.array([0.0, 1.0, 2.0, 9.0, 10.0]), np.ones(5))[1].tolist()
    [1.0, 1.0, 1.0, nan, 1.0, 1.0]
    """
    steps = np.diff(time)
    gaps = np.flatnonzero(steps > GAP_STEPS * np.median(steps)) + 1 if len(steps) else np.zeros(0, dtype=np.int64)
    return np.insert(time, gaps, np.nan), np.insert(values, gaps, np.nan)


def _channel(up: Any, low: Any, one: Drawn) -> None:
    """One channel: curves above, residuals below."""
    up.plot(one.time, one.measured, ".", color=FAINT, markersize=1.6, zorder=1)
    up.plot(*broken(one.time, one.before), color=CHAMBER, linestyle=DASHED, linewidth=1.0, zorder=2)
    up.plot(*broken(one.time, one.after), color=LIFT_GAS, linewidth=1.2, zorder=3)
    panel_title(up, one.title)
    up.set_ylabel(f"[{one.unit}]")
    up.tick_params(labelbottom=False)
    rest = one.measured - one.after
    low.plot(*broken(one.time, rest), color=INK, linewidth=0.6)
    low.axhspan(-2.0 * one.noise, 2.0 * one.noise, color=LIFT_GAS, alpha=0.18, linewidth=0.0)
    for begin, end in one.stretches:
        low.axvspan(begin, end, facecolor="none", edgecolor=ALARM, hatch="///", linewidth=0.6)
    finite = rest[np.isfinite(rest)]
    if len(finite):
        low.set_ylim(*padded(min(float(finite.min()), -3.0 * one.noise), max(float(finite.max()), 3.0 * one.noise)))
    for axes in (up, low):
        axes.set_xlim(float(one.time[0]), float(one.time[-1]))
