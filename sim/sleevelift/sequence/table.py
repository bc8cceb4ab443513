"""The sequence as a table: what a sequencer needs, a row per step, and how the run went; sequence.csv."""

import csv
import io

from sleevelift.sequence.items import Item, aborts_of, items_of
from sleevelift.sequence.resolve import GAVE_UP, Resolution
from sleevelift.shown import Origin

SEQUENCE_FILE = "sequence.csv"
COLUMNS = (
    "list", "step", "part", "action", "at [s]", "after", "delay [s]", "condition", "detection_delay [s]", "limit [s]",
    "at the limit", "time in this run [s]", "state in this run",
)  # fmt: skip
"""Instants count from the start of the run."""
WATCH = "watch"
"""Action of the row that arms an abort."""


def _number(value: float | None) -> str:
    return "" if value is None else repr(float(value))


def _row(item: Item) -> list[str]:
    after = "" if item.after is None else item.after.removeprefix(f"{item.abort}: ")
    if item.after is None and item.at is None:
        after = "the abort" if item.abort else "the start of the run"
    seen = item.condition is not None
    return [
        f"abort {item.abort}" if item.abort else "sequence", item.name, item.part, item.do, _number(item.at), after,
        _number(item.delay), item.condition.text if item.condition else "", _number(item.detection) if seen else "",
        _number(item.limit), item.otherwise or "",
    ]  # fmt: skip


def sequence_rows(found: Resolution) -> list[list[str]]:
    """A row per step, the instants of this run beside it; before an abort's steps what it watches."""
    case = found.case
    went = {(step.abort, step.name): step for step in found.steps}

    def whole(item: Item) -> list[str]:
        step = went[item.abort, item.name]
        return [*_row(item), _number(step.instant), step.state]

    rows = [whole(item) for item in items_of(case)]
    for abort in aborts_of(case):
        came = found.abort if found.abort is not None and found.abort.name == abort.name else None
        text = "" if abort.condition is None else abort.condition.text
        until = "" if abort.armed_until is None else f"no more from {abort.armed_until} on"
        begins = ["", "", ""] if abort.condition is None else [
            "", abort.armed_after or "the start of the run", _number(abort.armed_delay)
        ]  # fmt: skip
        seen = _number(abort.detection) if abort.condition is not None else ""
        rows.append([
            f"abort {abort.name}", abort.name, "", WATCH, *begins, text or "a step's time limit", seen, "", until,
            _number(came.instant if came else None), "came" if came else "did not come",
        ])  # fmt: skip
        rows += [whole(item) for item in abort.steps]
    return rows


SHEET = ("ms", "step", "does", "waits for", "state")
"""Columns of the sequence as a person reads it; instants from the first on command, else from the start of the run."""


def sequence_sheet(found: Resolution, origin: Origin) -> list[tuple[str, ...]]:
    """A row per step of the sequence, and of the abort that came; what was done in its order, then what was not."""
    came = found.abort
    rows: list[tuple[str, ...]] = []
    for step in found.steps:
        if step.abort and (came is None or step.abort != came.name):
            continue
        at = "-" if step.instant is None else f"{1e3 * (step.instant - origin.instant):.3f}"
        name = f"{step.abort}: {step.name}" if step.abort else step.name
        rows.append((at, name, f"{step.part} {step.do}".strip(), step.waits_for, step.state))
        if came is not None and step.state == GAVE_UP:
            rows.append((f"{1e3 * (came.instant - origin.instant):.3f}", came.name, "abort", came.why, "came"))
    if came is not None and came.event is not None:
        rows.append((f"{1e3 * (came.instant - origin.instant):.3f}", came.name, "abort", came.why, "came"))
    return sorted(rows, key=lambda row: (row[0] == "-", 0.0 if row[0] == "-" else float(row[0])))


def sequence_csv(found: Resolution) -> str:
    """The table as CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(sequence_rows(found))
    return out.getvalue()


def sequence_json(found: Resolution | None) -> dict[str, object] | None:
    """What result.json says of a sequence: every step as it went, the abort that came, how it was found."""
    if found is None:
        return None
    return {
        "steps": list(found.steps),
        "abort": found.abort,
        "commands": [{"part": part, "on": on, "instant": instant} for part, on, instant in found.commands],
        "runs": found.passes,
        "moved": found.moved,
        "settled": found.settled,
    }
