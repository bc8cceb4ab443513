"""The force page: what opens and what closes the sleeve against lift, and whether friction can hold it part-way.

    opens > holds + breakaway: it rises    |opens - holds| <= breakaway: it stays    opens < holds - breakaway: it falls

Up: actuation gas pressure. Down: gas lost. Both with nominal friction and the fuel after its line's loss; below them the
worst-case margins over the stated ranges.
"""

from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sleevelift.plant.state import FUEL
from sleevelift.plots import ruled, style
from sleevelift.plots.ruled import Panel, Ruler
from sleevelift.plots.sheet import FOOT, LEFT, RIGHT, sheet
from sleevelift.plots.style import DASH_DOT, DASHED, DOTTED, FAINT, INK, SMALL, Page
from sleevelift.plots.words import words_in, words_of
from sleevelift.reader import METRIC, Reader
from sleevelift.result import Result
from sleevelift.static_answer.curves import Balance, Margin, balance, chamber_states, first_hang_down, first_hang_up, stroke_margins

GAP = 11.0
"""mm between two panels."""
AT_SEAT_MARGINS = {
    "opening_margin": "opening",
    "no_fuel_margin": "no fuel",
    "fuel_alone_margin": "fuel alone",
    "surge_margin": "surge",
}
"""Margins that do not depend on lift."""
STATE_LOOKS = {"unlit": (style.FUEL, "-"), "lit": (style.CHAMBER, DASHED)}
MARGIN_LOOKS = {
    "full lift": (style.OXIDIZER, "-"),
    "fuel lost": (style.SPRING_SIDE, DOTTED),
    "closing, unlit": (style.FUEL, DASH_DOT),
    "closing, lit": (style.CHAMBER, DASHED),
}
HIGHEST_MARGIN = 1.5
"""-. The margin axis ends here: what lies above is not where a sleeve hangs."""


def _panel(page: Page, top: float, height: float, title: str, stroke: float, reader: Reader) -> Panel:
    panel = ruled.panel(page, LEFT, top, RIGHT - LEFT, height)
    ruled.title(page, panel, title)
    panel.axes.set_xlim(*reader.in_column("length", np.array([-0.02, 1.02]) * stroke))
    return panel


def _draw_balance(page: Page, panel: Panel, balances: dict[str, Balance], reader: Reader) -> None:
    """Opening force of each chamber state over spring and weight with its friction band."""
    from matplotlib.patches import Patch

    handles: list[Any] = []
    ax = panel.axes
    first = next(iter(balances.values()))
    x, force = reader.in_column("length", first.lift), partial(reader.in_column, "force")
    low = np.min([b.holds - b.breakaway for b in balances.values()], axis=0)
    high = np.max([b.holds + b.breakaway for b in balances.values()], axis=0)
    band: dict[str, Any] = {"facecolor": style.STUCK, "edgecolor": "#9b86ab", "hatch": "xxxx", "linewidth": 0.0}
    ax.fill_between(x, force(low), force(high), zorder=1, **band)
    handles += ax.plot(x, force(first.holds), color=INK, linewidth=1.8, label="spring and weight")
    for state, b in balances.items():
        colour, dashes = STATE_LOOKS[state]
        label = f"opens, {state}" if len(balances) > 1 else "opens"
        handles += ax.plot(x, force(b.opens), color=colour, linestyle=dashes, linewidth=1.9, label=label)
    handles.append(Patch(label="friction can hold it here", **band))
    values = force(np.concatenate([low, high, *(b.opens for b in balances.values())]))
    ax.set_ylim(*style.padded(float(values.min()), float(values.max()), 0.12))
    _say_sides(ax)
    ruled.legend(page, panel, handles)


def _say_sides(ax: Any) -> None:
    """What it means to lie above or below the band."""
    above, below = "opening force above the band: it rises", "below the band: it falls"
    for y, va, text in ((0.97, "top", above), (0.03, "bottom", below)):
        ax.text(0.025, y, text, transform=ax.transAxes, fontsize=SMALL, va=va, color=FAINT)


def _mark_hang(ax: Any, b: Balance, hang: tuple[float, float] | None, colour: str, reader: Reader) -> None:
    """A marker where the sleeve first finds too little force."""
    if hang is None:
        return
    i = int(np.argmin(np.abs(b.lift - hang[0])))
    look = {"marker": "v", "markersize": 9, "color": colour, "markeredgecolor": "#ffffff"}
    ax.plot([reader.in_column("length", hang[0])], [reader.in_column("force", b.opens[i])], zorder=5, clip_on=False, **look)


class Standstill(NamedTuple):
    """Where a run came to stand part-way."""

    lift: float
    """m"""
    force: float
    """what opens there, N"""
    gas: float
    """lift-chamber pressure, Pa absolute"""
    words: str


def run_stop(result: Result) -> Standstill | None:
    """Where this run itself stands at the off command or at its end, if it hung or did not close."""
    t = result.traces
    if "lift" not in t or result.outcome not in ("hung-part-way", "did-not-close"):
        return None
    off = result.measures.get("deenergize_time")
    at = len(t["time"]) - 1
    words = "the run ends here"
    if result.outcome == "hung-part-way" and off is not None:
        at = max(int(np.searchsorted(t["time"], off)) - 1, 0)
        words = "the run hangs here"
    force = float(t["opening_force"][at] - t["jet_force"][at])
    return Standstill(float(t["lift"][at]), force, float(t["lift_chamber_pressure"][at]), words)


def _mark_run(ax: Any, result: Result) -> None:
    """A ring where the run itself came to stand."""
    stop = run_stop(result)
    if stop is None:
        return
    reader = result.case.reader
    lift, force = reader.in_column("length", stop.lift), reader.in_column("force", stop.force)
    ring = {"marker": "o", "markersize": 10, "markerfacecolor": "none", "markeredgecolor": style.ALARM}
    ax.plot([lift], [force], markeredgewidth=1.8, zorder=6, clip_on=False, **ring)
    left = stop.lift > 0.5 * result.case.sleeve.stroke
    ax.annotate(
        f"{stop.words}: {words_in(reader, 'length', stop.lift, 3)}, {words_in(reader, 'force', stop.force, 3)}", (lift, force),
        xytext=(-9 if left else 9, -11), textcoords="offset points", ha="right" if left else "left", fontsize=SMALL,
        color=style.ALARM, fontweight="bold",
        bbox={"boxstyle": "square,pad=0.15", "facecolor": "#ffffff", "edgecolor": "none", "alpha": 0.85}, zorder=6,
    )  # fmt: skip


def _draw_margins(page: Page, panel: Panel, margins: list[Margin], limit: float, reader: Reader) -> None:
    """Worst-case margins, the least of each marked."""
    handles: list[Any] = []
    ax = panel.axes
    top = limit + HIGHEST_MARGIN
    values = [np.array([limit, limit + 0.1])]
    for m in margins:
        colour, dashes = MARGIN_LOOKS[m.name]
        finite = m.value[np.isfinite(m.value)]
        if not len(finite):
            continue
        above = float(finite.min()) > top
        label = f"{m.name} (above)" if above else m.name
        handles += ax.plot(reader.in_column("length", m.lift), m.value, color=colour, linestyle=dashes, linewidth=1.7, label=label)
        if above:
            continue
        values.append(np.minimum(finite, top))
        if np.isfinite(m.least):
            _mark_least(ax, m, colour, m.least < limit, reader)
    ax.axhline(limit, color=style.ALARM, linewidth=1.2)
    all_values = np.concatenate(values)
    ax.set_ylim(*style.padded(float(all_values.min()), float(all_values.max()), 0.1))
    ruled.legend(page, panel, handles)


def _mark_least(ax: Any, m: Margin, colour: str, below: bool, reader: Reader) -> None:
    """A dot where a margin is least, with its value."""
    at = reader.in_column("length", m.least_at)
    ax.plot([at], [m.least], marker="o", markersize=5, color=colour, zorder=5, clip_on=False)
    right = m.least_at > 0.5 * m.lift[-1]
    ax.annotate(
        f"{m.least:+.3f}", (at, m.least), xytext=(-4 if right else 4, -11 if below else 4),
        textcoords="offset points", ha="right" if right else "left", fontsize=SMALL, color=colour, fontweight="bold",
        zorder=6, bbox={"boxstyle": "square,pad=0.1", "facecolor": "#ffffff", "edgecolor": "none", "alpha": 0.85},
    )  # fmt: skip


def up_words(b: Balance, state: str, reader: Reader = METRIC) -> str:
    """Whether actuation gas carries the sleeve to its stop."""
    hang = first_hang_up(b)
    excess = float((b.opens - b.holds - b.breakaway).min())
    if hang is None:
        return f"Up, {state}: rises all the way, least excess {words_in(reader, 'force', excess, 3)}."
    if hang[0] == 0.0:
        return f"Up, {state}: does not break away; {words_in(reader, 'force', hang[1], 3)} are missing."
    return f"Up, {state}: HANGS at {words_in(reader, 'length', hang[0], 3)}; {words_in(reader, 'force', hang[1], 3)} are missing."


def down_words(b: Balance, state: str, reader: Reader = METRIC) -> str:
    """Whether the spring shuts the sleeve once the gas is lost."""
    hang = first_hang_down(b)
    excess = float((b.holds - b.opens - b.breakaway).min())
    if hang is None:
        return f"Down, {state}: falls all the way, least excess {words_in(reader, 'force', excess, 3)}."
    if hang[0] == b.lift[-1]:
        return f"Down, {state}: STAYS AT FULL LIFT; {words_in(reader, 'force', hang[1], 3)} are missing."
    return f"Down, {state}: HANGS at {words_in(reader, 'length', hang[0], 3)}; {words_in(reader, 'force', hang[1], 3)} are missing."


def _lines(result: Result, up: dict[str, Balance], down: dict[str, Balance]) -> list[tuple[str, str]]:
    """The answer of this page."""
    reader = result.case.reader
    up_said = [up_words(b, state, reader) for state, b in up.items()]
    down_said = [down_words(b, state, reader) for state, b in down.items()]
    margins = [f"{word} {value:+.3f}" for name, word in AT_SEAT_MARGINS.items() if (value := result.measures.get(name)) is not None]
    failed = [words_of(check.name) for check in result.checks if not check.passed and "margin" in check.name]
    bad_up = any(first_hang_up(b) for b in up.values())
    bad_down = any(first_hang_down(b) for b in down.values())
    record = result.plant.record[0]
    fuel = record["lines"][FUEL]
    p_f = float(fuel["inlet_high"] if fuel["present"] else record["fuel_side_pressure"])
    pressures = f"Gas {words_in(reader, 'pressure', float(record['ranges']['gas_work']))}, fuel {words_in(reader, 'pressure', p_f)}"
    stop = run_stop(result)
    stood = ""
    if stop is not None:
        gas = words_in(reader, "pressure", stop.gas)
        stood = f"In this case {stop.words}, at {words_in(reader, 'length', stop.lift, 3)} with {gas} of gas."
    return [
        (stood, "alarm"),
        (" ".join(up_said), "alarm" if bad_up else "good"),
        (" ".join(down_said), "alarm" if bad_down else "good"),
        (f"{pressures}, nominal friction. At rest: momentum may carry a moving sleeve past a short stretch.", "plain"),
        (f"FAILS in the worst case: {', '.join(failed)}." if failed else "", "alarm"),
        (f"Worst-case margins on the seat, as ratios: {', '.join(margins)}." if margins else "", "plain"),
    ]


def write_forces(result: Result, path: Path) -> Path:
    """Write the force page."""
    plant = result.plant
    work, ambient = float(plant.record[0]["ranges"]["gas_work"]), float(plant.record[0]["ambient_pressure"])
    states = chamber_states(plant)
    up = {state: balance(plant, work, state == "lit") for state in states}
    down = {state: balance(plant, ambient, state == "lit") for state in states}
    stroke, reader = result.case.sleeve.stroke, result.case.reader
    force = f"force, {reader.column('force')}"
    page, top = sheet(result, "Forces on the sleeve against lift", _lines(result, up, down))
    top += 8.0
    height = (FOOT - 16.0 - top - 2 * GAP) / 3.0
    tops = [top + i * (height + GAP) for i in range(3)]
    panels = [
        _panel(page, tops[0], height, "Up: gas on", stroke, reader), _panel(page, tops[1], height, "Down: gas lost", stroke, reader)
    ]  # fmt: skip
    _draw_balance(page, panels[0], up, reader)
    _draw_balance(page, panels[1], down, reader)
    for state in states:
        _mark_hang(panels[0].axes, up[state], first_hang_up(up[state]), STATE_LOOKS[state][0], reader)
        _mark_hang(panels[1].axes, down[state], first_hang_down(down[state]), STATE_LOOKS[state][0], reader)
    _mark_run(panels[0 if result.outcome == "hung-part-way" else 1].axes, result)
    limit = result.case.limits.margin_at_least
    panels.append(_panel(page, tops[2], height, f"Worst-case margins, to stay above {limit:g}", stroke, reader))
    _draw_margins(page, panels[2], stroke_margins(plant), limit, reader)
    for panel, unit in zip(panels, (force, force, "margin, -")):
        last = panel is panels[-1]
        panel.axes.axvline(reader.in_column("length", stroke), color=FAINT, linewidth=0.8, dashes=(3, 2))
        words = f"lift, {reader.column('length')} (triangle: hangs here; dot: least margin)"
        ruled.rule(page, panel, Ruler(words if last else "", 9, numbers=last), Ruler(unit, 7))
    return page.save(path)
