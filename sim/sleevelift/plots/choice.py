"""Picture of a choice: the slack of each target for each design, and where the search looked."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.plots.drawn import Axis, Design, Found
from sleevelift.plots.studies import FOOT, LEFT, RIGHT, study_page
from sleevelift.plots.style import ALARM, DASHED, FAINT, FUEL, INK, LIFT_GAS, OXIDIZER, SMALL, look, panel_title
from sleevelift.plots.words import plain_text

MARKS = ((OXIDIZER, "o"), (FUEL, "s"), (LIFT_GAS, "^"))
"""(colour, marker) of each design shown."""
OWN = (INK, "*")
"""Of the case as written."""
LOW, HIGH = -1.0, 1.0
"""-. Slacks beyond are drawn at the edge."""
ROW, ROWS_AT_MOST = 6.0, 14
"""mm per target; targets drawn, those of least slack first."""
LABELS = 62.0
"""mm. Left of the slacks, for the targets' names."""
GAP, COLUMNS = 17.0, 2
"""mm between panels of the search; panels side by side."""


def write_choice(case: Case, answer: str, axes: Sequence[Axis], targets: Sequence[Any], found: Found, path: Path) -> Path:
    """Slacks of the designs shown and of the case as written; below, worst slack of every design over each moved value."""
    with look():
        page, top = study_page(case, "Choice of a design", answer)
        names = drawn_targets(targets, found)
        height = ROW * len(names)
        top += 10.0
        _slacks(page.axes(LABELS, top, RIGHT - LABELS, height), names, found)
        top += height + 20.0
        rows = -(-len(axes) // COLUMNS)
        room = min((FOOT - 14.0 - top - GAP * (rows - 1)) / rows, 60.0)
        width = (RIGHT - LEFT - GAP) / COLUMNS
        for i, axis in enumerate(axes):
            row, column = divmod(i, COLUMNS)
            panel = page.axes(LEFT + column * (width + GAP), top + row * (room + GAP), width, room)
            _search(panel, axis, found, case.ambient.pressure, column == 0)
        return page.save(path)


def drawn_targets(targets: Sequence[Any], found: Found) -> list[str]:
    """The designer's targets, then what else is missed or nearest to it."""
    own = [target.text for target in targets]
    listed = [*found.shown, found.own]
    others = {name: min(d.slacks.get(name, HIGH) for d in listed) for d in listed for name in d.slacks if name not in own}
    return (own + sorted(others, key=lambda name: others[name]))[:ROWS_AT_MOST]


def _slacks(panel: Any, names: Sequence[str], found: Found) -> None:
    panel.axvspan(LOW - 0.1, 0.0, facecolor="none", edgecolor=FAINT, hatch="///", linewidth=0.0)
    panel.axvline(0.0, color=ALARM, linestyle=DASHED, linewidth=1.1)
    marks = [(design, *mark, f"design {i + 1}") for i, (design, mark) in enumerate(zip(found.shown, MARKS))]
    for design, colour, marker, label in [*marks, (found.own, *OWN, "case as written")]:
        known = [(min(max(design.slacks[n], LOW), HIGH), k) for k, n in enumerate(names) if n in design.slacks]
        x, y = zip(*known) if known else ((), ())
        size = 10 if marker == "*" else 6
        panel.plot(x, y, linestyle="none", marker=marker, markersize=size, markerfacecolor="none", markeredgecolor=colour,
                   markeredgewidth=1.4, label=label)  # fmt: skip
    panel.set_yticks(range(len(names)), [plain_text(name, 44) for name in names], fontsize=SMALL)
    panel.set_ylim(len(names) - 0.4, -0.6)
    panel.set_xlim(LOW - 0.1, HIGH + 0.1)
    panel.grid(axis="y", color=FAINT, linewidth=0.3)
    panel.set_xlabel("slack, worst over the stated ranges [-]; hatched: missed; beyond 1 drawn at the edge")
    panel_title(panel, "Slack of each target")
    panel.legend(
        loc="lower right", bbox_to_anchor=(1.0, 1.0), ncol=4, frameon=False, fontsize=SMALL, borderaxespad=0.2, columnspacing=1.0,
        handletextpad=0.2,
    )  # fmt: skip


def _search(panel: Any, axis: Axis, found: Found, ambient: float, labelled: bool) -> None:
    def at(designs: Sequence[Design]) -> tuple[np.ndarray, np.ndarray]:
        x = axis.shown([design.values[axis.path] for design in designs], ambient)
        return x, np.array([max(design.slack, LOW) for design in designs])

    panel.plot(*at(found.screened), linestyle="none", marker=".", markersize=3.0, color=FAINT, zorder=1)
    for design, (colour, marker) in [*zip(found.shown, MARKS), (found.own, OWN)]:
        size = 11 if marker == "*" else 7
        panel.plot(*at([design]), linestyle="none", marker=marker, markersize=size, markerfacecolor="none",
                   markeredgecolor=colour, markeredgewidth=1.5, zorder=3)  # fmt: skip
    panel.axhline(0.0, color=ALARM, linestyle=DASHED, linewidth=1.0)
    panel.set_ylim(LOW - 0.08, max(0.3, max(design.slack for design in [*found.screened, *found.shown]) * 1.3))
    panel.set_xlabel(f"{axis.path} [{axis.unit or '-'}]")
    panel.set_ylabel("worst slack [-]" if labelled else "")
    panel_title(panel, f"{axis.path.split('.', 1)[-1]}: designs searched (dots)")
