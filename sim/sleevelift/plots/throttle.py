"""The throttle page: what passes at each lift, in steady flow.

    areas, flows, mixture ratio, chamber pressure over lift 0 ... stroke; a short table at the foot

Lit: chamber pressure and flows found together. Unlit: into ambient or the stated back pressure.
"""

from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from sleevelift.plots import ruled, style
from sleevelift.plots.ruled import Panel, Ruler
from sleevelift.plots.sheet import FOOT, LEFT, RIGHT, empty_note, sheet
from sleevelift.plots.style import DASHED, DOTTED, FAINT, SMALL, Page
from sleevelift.plots.words import number, words_in
from sleevelift.reader import METRIC, Reader, in_unit
from sleevelift.result import Result
from sleevelift.static_answer.curves import Throttle, throttle

SHOWN_FROM = 0.1
"""-. The mixture ratio is drawn where both flows exceed this share of their flow at full lift."""
TABLE_SHARES = (0.0, 0.1, 0.25, 0.5, 0.75, 1.0)
"""-. Shares of the stroke in the table."""
GAP = 10.0
"""mm between two panels."""
DIM = 1.1
"""pt. Line width of the unlit curves beside the lit ones."""


def ratio(t: Throttle, state: str) -> np.ndarray:
    """O/F against lift; nan where a flow is too small for it to mean anything."""
    o, f = t.oxidizer[state], t.fuel[state]
    both = (o > SHOWN_FROM * o[-1]) & (f > SHOWN_FROM * f[-1]) & (f > 0.0)
    out = np.full(len(o), np.nan)
    out[both] = o[both] / f[both]
    return out


def _panel(page: Page, top: float, height: float, title: str, stroke: float, reader: Reader) -> Panel:
    panel = ruled.panel(page, LEFT, top, RIGHT - LEFT, height)
    ruled.title(page, panel, title)
    panel.axes.set_xlim(0.0, reader.in_column("length", stroke))
    return panel


def _areas(page: Page, panel: Panel, t: Throttle, wet: bool, reader: Reader) -> None:
    x, ax = reader.in_column("length", t.lift), panel.axes

    def area(si: Any) -> Any:
        return reader.in_column("area", si)

    if wet:
        ax.plot(x, area(t.slots), color=style.OXIDIZER, linewidth=1.8, label="slots (oxidizer)")
        passage = {"linewidth": 1.8, "linestyle": DASHED, "label": "fuel passage, all in series"}
        ax.plot(x, area(t.fuel_passage), color=style.FUEL, **passage)
    ax.plot(x, area(t.gap), color=style.FUEL, linewidth=1.1, linestyle=DOTTED, label="seat gap alone")
    top = max(float(t.slots.max()), float(t.fuel_passage.max()), t.annulus)
    if t.annulus > 0.0:
        ax.axhline(area(t.annulus), color=FAINT, linewidth=1.0, dashes=(8, 2, 1, 2), label="annulus alone")
    ax.set_ylim(0.0, area(1.25 * top if top > 0.0 else 1.05 * float(t.gap.max(initial=1e-6))))
    ruled.legend(page, panel, ax.get_legend_handles_labels()[0])


Curves = dict[str, tuple[dict[str, np.ndarray], str, Any]]
"""name -> (curve of each state of the chamber, colour, dashes)"""


def _pairs(page: Page, panel: Panel, t: Throttle, curves: Curves, kind: str, reader: Reader) -> None:
    """Curves for each state of the chamber: thick when lit (or the only state), thin when unlit beside it."""
    hot, ax = "lit" in t.oxidizer, panel.axes
    for state in t.oxidizer:
        thin = hot and state == "unlit"
        for name, (values, colour, dashes) in curves.items():
            label = f"{name}, {state}" if hot else name
            ax.plot(
                reader.in_column("length", t.lift), reader.in_column(kind, meaningful(t, state, values[state])),
                color=colour, linestyle=dashes, label=label,
                linewidth=DIM if thin else 1.8, alpha=0.75 if thin else 1.0,
            )  # fmt: skip
    ruled.legend(page, panel, ax.get_legend_handles_labels()[0])


LABEL_STEP = 0.13
"""-. Of a panel's height: labels of edges stand one below the other, so that close ones can be read."""


def _edges(axes: list[Any], result: Result) -> None:
    """Where the slots begin to uncover and where the spigot leaves the seat."""
    case, reader = result.case, result.case.reader
    edges = []
    if case.slots is not None and case.slots.row:
        edges.append((min(row.lap for row in case.slots.row), "slots uncover"))
    if case.seat is not None and case.seat.spigot_length:
        edges.append((case.seat.spigot_length, "spigot leaves the seat"))
    for row, (lift, text) in enumerate(edges):
        for ax in axes:
            ax.axvline(reader.in_column("length", lift), color=FAINT, linewidth=0.8, dashes=(3, 2))
        axes[0].annotate(
            f"{text}, {words_in(reader, 'length', lift, 3)}", (reader.in_column("length", lift), 0.97 - LABEL_STEP * row),
            xycoords=("data", "axes fraction"),
            xytext=(3, 0), textcoords="offset points", fontsize=SMALL, va="top", color=FAINT, zorder=6,
            bbox={"boxstyle": "square,pad=0.1", "facecolor": "#ffffff", "edgecolor": "none", "alpha": 0.85},
        )  # fmt: skip


def meaningful(t: Throttle, state: str, values: np.ndarray) -> np.ndarray:
    """`values`, nan where a lit chamber has not enough of both propellants to burn."""
    return values if state == "unlit" else np.where(np.isfinite(ratio(t, state)), values, np.nan)


def table_rows(t: Throttle, reader: Reader = METRIC) -> tuple[list[str], list[list[str]]]:
    """(headings, rows) of the table: lift, areas, flows of each state, mixture ratio and pressure of the last state."""
    state = list(t.oxidizer)[-1]
    length, area, flow = (reader.column(kind) for kind in ("length", "area", "flow"))
    columns = [(f"lift\n{length}", reader.in_column("length", t.lift)), (f"slots\nCd A, {area}", reader.in_column("area", t.slots))]
    columns.append((f"fuel\nCd A, {area}", reader.in_column("area", t.fuel_passage)))
    for s in t.oxidizer:
        columns.append((f"oxidizer\n{s}, {flow}", reader.in_column("flow", meaningful(t, s, t.oxidizer[s]))))
        columns.append((f"fuel\n{s}, {flow}", reader.in_column("flow", meaningful(t, s, t.fuel[s]))))
    columns.append((f"O/F\n{state}", ratio(t, state)))
    columns.append(
        (f"chamber\n{state}, {reader.column('pressure')}", reader.in_column("pressure", meaningful(t, state, t.chamber[state])))
    )
    rows = []
    for share in TABLE_SHARES:
        i = round(share * (len(t.lift) - 1))
        rows.append([number(float(v[i]), 3) if np.isfinite(v[i]) else "-" for _, v in columns])
    return [head for head, _ in columns], rows


def _table(page: Page, top: float, t: Throttle, reader: Reader) -> None:
    heads, rows = table_rows(t, reader)
    width = (RIGHT - LEFT) / len(heads)
    for i, head in enumerate(heads):
        for k, line in enumerate(head.split("\n")):
            page.text(LEFT + (i + 1) * width - 1.0, top + 3.9 * k, line, SMALL, ha="right", weight="bold")
    for r, row in enumerate(rows):
        for i, cell in enumerate(row):
            page.text(LEFT + (i + 1) * width - 1.0, top + 9.0 + 4.1 * r, cell, SMALL, ha="right")


TABLE_HEIGHT = 9.0 + 4.1 * len(TABLE_SHARES)


def _lines(result: Result, t: Throttle) -> list[tuple[str, str]]:
    """The answer of this page."""
    record, say = result.plant.record[0], partial(words_in, result.case.reader)
    full = f"At full lift, {say('length', float(t.lift[-1]))}"
    if not t.oxidizer:
        return [("A dry case has no propellants: nothing flows.", "plain")]
    state = "lit" if "lit" in t.oxidizer else "unlit"
    o, f, p = (float(v[state][-1]) for v in (t.oxidizer, t.fuel, t.chamber))
    of = f", O/F {number(o / f, 3)}" if f > 0.0 else ""
    p_o, p_f = (float(line["inlet_high"]) for line in record["lines"])
    shut = float(t.oxidizer["unlit"][0])
    leak = (
        f"{number(float(in_unit(result.case.reader.fitting('flow', shut), 'flow', shut)), 3)} "
        f"{result.case.reader.fitting('flow', shut)}"
    )
    flows = f"oxidizer {say('flow', o)}, fuel {say('flow', f)}{of}, chamber {say('pressure', p)}"
    inlets = f"{say('pressure', p_o)} (oxidizer) and {say('pressure', p_f)} (fuel)"
    return [
        (f"{full}, {state}: {flows}.", "good"),
        (f"Steady flow from inlets at {inlets}. Shut, the oxidizer leaks {leak}.", "plain"),
    ]


def write_throttle(result: Result, path: Path) -> Path:
    """Write the throttle page."""
    t, reader = throttle(result.plant), result.case.reader
    wet, stroke = bool(t.oxidizer), float(t.lift[-1])
    page, top = sheet(result, "Throttle: what passes at each lift", _lines(result, t))
    if not wet and not t.gap.max(initial=0.0) > 0.0:
        empty_note(page, top, "This case describes neither slots nor seat: there is no throttle to draw.")
        return page.save(path)
    count = 4 if wet else 1
    top += 8.0
    bottom = FOOT - 18.0 - (TABLE_HEIGHT + 4.0 if wet else 0.0)
    height = (bottom - top - GAP * (count - 1)) / count if wet else 90.0
    tops = [top + i * (height + GAP) for i in range(count)]
    panels = [_panel(page, tops[0], height, "Effective areas", stroke, reader)]
    _areas(page, panels[0], t, wet, reader)
    if wet:
        panels.append(_panel(page, tops[1], height, "Steady flows", stroke, reader))
        sides = {"oxidizer": (t.oxidizer, style.OXIDIZER, "-"), "fuel": (t.fuel, style.FUEL, DASHED)}
        _pairs(page, panels[1], t, sides, "flow", reader)
        panels.append(_panel(page, tops[2], height, "Mixture ratio", stroke, reader))
        ratios = {state: ratio(t, state) for state in t.oxidizer}
        _pairs(page, panels[2], t, {"O/F": (ratios, style.MIXTURE, "-")}, "", reader)
        panels.append(_panel(page, tops[3], height, "Chamber or back pressure", stroke, reader))
        _pairs(page, panels[3], t, {"pressure": (t.chamber, style.CHAMBER, "-")}, "pressure", reader)
        panels[1].axes.set_ylim(bottom=0.0)
        panels[3].axes.set_ylim(bottom=0.0)
        _table(page, bottom + 13.0, t, reader)
    _edges([panel.axes for panel in panels], result)
    units = f"Cd A, {reader.column('area')}", reader.column("flow"), "O/F", reader.column("pressure")
    for panel, unit in zip(panels, units):
        last = panel is panels[-1]
        across = Ruler(f"lift, {reader.column('length')}" if last else "", 9, numbers=last)
        ruled.rule(page, panel, across, Ruler(unit, 6, least=3))
    return page.save(path)
