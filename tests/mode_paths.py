"""The path a sleeve took: its modes and contacts in order, for comparing two runs.

    seated, sliding up, *stop, sliding down, sliding up, *stop, at the stop, ...

A contact (with a star) stands before the mode it leads to. `without_cascades` leaves one contact of each cascade of
bounces, since how many bounces there are before rest hangs on a speed compared with a threshold.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

STOP_CONTACT, SEAT_CONTACT = "*stop", "*seat"
BETWEEN = {
    STOP_CONTACT: ["sliding down", "sliding up"],
    SEAT_CONTACT: ["sliding up", "sliding down"],
}
"""Contact -> what lies between it and the next one of a cascade."""


def mode_path(result: Any) -> list[str]:
    """Modes and contacts of a run of the program, from its timeline."""
    path, mode = [], ""
    for event in result.timeline:
        if not mode:
            mode = event.mode_before
            path.append(mode)
        if event.what.startswith("sleeve hits its stop"):
            path.append(STOP_CONTACT)
        elif event.what.startswith("sleeve hits its seat"):
            path.append(SEAT_CONTACT)
        if event.mode_after != mode:
            mode = event.mode_after
            path.append(mode)
    return path or ["seated"]


def without_cascades(path: Sequence[str]) -> list[str]:
    """The path with one contact left of each cascade."""
    out: list[str] = []
    for step in path:
        between = BETWEEN.get(step)
        if between is not None and out[-3:] == [step, *between]:
            del out[-2:]
        else:
            out.append(step)
    return out


def first_difference(one: Sequence[str], other: Sequence[str]) -> str:
    """Where two paths part, in words; empty where they are the same."""
    for i, (a, b) in enumerate(zip([*one, "(end)"], [*other, "(end)"])):
        if a != b:
            return f"step {i}: {a} | {b}"
    if len(one) != len(other):
        return f"lengths {len(one)} | {len(other)}"
    return ""
