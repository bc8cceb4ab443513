"""The sequence over the same axis of time as start and stop: what is commanded, what obeys, what is waited for.

a row per part    command (dashed) and what shows that it obeyed: opening, lift, flame
a row per sensor  its reading, the levels that steps and aborts look for, shaded while they look
marks             every step that was done, and the abort
"""

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from sleevelift.case.conditions import SENSOR, Condition
from sleevelift.case.parts import known_parts
from sleevelift.case.walk import value_at
from sleevelift.plots import style
from sleevelift.plots.instants import ENLARGE_BELOW, Window, numbered, start_window, stop_window
from sleevelift.plots.sheet import empty_note, failed_line, sheet
from sleevelift.plots.style import DASHED, INK
from sleevelift.plots.transient import MILLI, NOTHING, SHARE, Curve, Panel, time_page
from sleevelift.plots.words import answer
from sleevelift.reader import Reader
from sleevelift.result import Result
from sleevelift.sequence.items import aborts_of, items_of
from sleevelift.sequence.resolve import DONE, Resolution

BEFORE = 0.04
"""-. Share of the run shown before the first command."""
LEAST_FLOW = 1e-12
"""kg/s. A purge that passes less passes nothing."""
MOST_SENSORS = 4
"""Panels of sensors on the page."""
ANSWERS = {
    "solenoid": (("valve_opening", "valve opening", style.TUBE), ("lift_share", "sleeve, lift over stroke", style.LIFT_GAS)),
    "igniter": (("lit", "chamber lit", style.CHAMBER),),
    "oxidizer.valve": (("oxidizer_valve_opening", "valve opening", style.OXIDIZER),),
    "fuel.valve": (("fuel_valve_opening", "valve opening", style.FUEL),),
    "oxidizer.purge": (("oxidizer_purge_share", "gas flow over its greatest", style.OXIDIZER),),
    "fuel.purge": (("fuel_purge_share", "gas flow over its greatest", style.FUEL),),
    "chamber.purge": (("chamber_purge_on", "purge open", style.CHAMBER),),
}
"""Part -> (trace, label, colour) of what shows that it obeyed; traces that a run does not have are left out."""
WATCHED, WAITED = "#e9c9c4", "#dfe7d2"


def command_trace(found: Resolution, part: str, t: np.ndarray) -> np.ndarray:
    """1 while a part is commanded on, else 0, at samples of time; two samples at one instant are the sides of a jump."""
    edges = [(instant, on) for name, on, instant in found.commands if name == part]
    begins_on = bool(getattr(value_at(found.case, part), "open_at_start", False))
    out = np.full(len(t), float(begins_on))
    for instant, on in edges:
        first = int(np.searchsorted(t, instant, side="left"))
        if first + 1 < len(t) and t[first] == t[first + 1] == instant:
            first += 1
        out[first:] = float(on)
    return out


def with_edges(traces: dict[str, np.ndarray], instants: Iterable[float]) -> dict[str, np.ndarray]:
    """The traces with two samples at each of these instants (a part that does not obey leaves none), on straight lines."""
    t = traces["time"]
    extra = [x for x in sorted(set(instants)) if t[0] < x < t[-1] for _ in range(2 - min(2, int(np.count_nonzero(t == x))))]
    place = np.searchsorted(t, extra, side="right")
    return {name: np.insert(values.astype(float), place, np.interp(extra, t, values)) for name, values in traces.items()}


def with_commands(result: Result) -> Result:
    """The result with a trace of each part's command, and of the lift over the stroke."""
    found = result.sequence
    assert found is not None, "a run of a sequence"
    result = result._replace(traces=with_edges(result.traces, [instant for _, _, instant in found.commands]))
    t = result.traces["time"]
    more = {f"command of {part.name}": command_trace(found, part.name, t) for part in known_parts()}
    for side in ("oxidizer", "fuel"):
        flow = result.traces.get(f"{side}_purge_flow")
        if flow is not None:
            more[f"{side}_purge_share"] = flow / max(float(flow.max(initial=0.0)), LEAST_FLOW)
    return result._replace(traces={**result.traces, **more, "lift_share": result.traces["lift"] / result.case.sleeve.stroke})


def part_panels(result: Result, found: Resolution) -> list[Panel]:
    """A row per part that the case commands."""
    used = {item.part for item in (*items_of(found.case), *(s for abort in aborts_of(found.case) for s in abort.steps))}
    rows = []
    for part in known_parts():
        if part.name not in used:
            continue
        curves = [Curve(f"command of {part.name}", "command", "", INK, DASHED, 1.3)]
        curves += [Curve(t, label, "", colour) for t, label, colour in ANSWERS.get(part.name, ()) if t in result.traces]
        title = f"{part.title[0].upper()}{part.title[1:]}"
        rows.append(Panel(title, SHARE, 0.5, tuple(curves), floor=0.0, ceiling=1.0))
    return rows


MOST_LEVELS = 3
"""Levels of a reading that the legend names, of steps and of aborts; more do not fit beside the title."""
Look = tuple[Condition, float, float, float | None, bool]
"""(condition, from s, until s, instant of its coming true, whether an abort looks)."""


def looks_of(found: Resolution, end: float) -> list[Look]:
    """Every stretch in which a step or an abort looked at a reading."""
    went = {(step.abort, step.name): step for step in found.steps}
    instants = {step.name: step.instant for step in found.steps if not step.abort}
    out: list[Look] = []
    cut = end if found.abort is None else found.abort.instant
    for item in (*items_of(found.case), *(step for abort in aborts_of(found.case) for step in abort.steps)):
        step = went[item.abort, item.name]
        if item.condition is None or item.condition.event or step.begins is None:
            continue
        until = step.limit if step.event is None and step.limit is not None else step.instant
        stop = min(value for value in (until, end if item.abort else cut) if value is not None)
        out.append((item.condition, step.begins, stop, step.event, False))
    for abort in aborts_of(found.case):
        after = 0.0 if abort.armed_after is None else instants.get(abort.armed_after)
        if abort.condition is None or abort.condition.event or after is None:
            continue
        until = None if abort.armed_until is None else instants.get(abort.armed_until)
        came = found.abort if found.abort is not None and found.abort.name == abort.name else None
        stop = min(value for value in (until, cut) if value is not None)
        out.append((abort.condition, after + abort.armed_delay, stop, came.event if came else None, True))
    return [look for look in out if look[1] < look[2]]


def _draw_looks(looks: Sequence[Look], kind: str, reader: Reader) -> Callable[[list[Any], Result, Window], list[Any]]:
    """Draws the levels looked for, each over its stretch, and where the reading came to it."""

    def draw(axes: list[Any], result: Result, window: Window) -> list[Any]:
        handles: dict[bool, Any] = {}
        levels: dict[bool, list[str]] = {False: [], True: []}
        zero = window.origin.instant
        for condition, begin, stop, event, watch in looks:
            level = float(reader.in_column(kind, condition.level))
            colour = style.ALARM if watch else style.GOOD
            levels[watch].append(f"{'above' if condition.rises else 'below'} {level:.4g}")
            for ax in axes:
                span = [MILLI * (begin - zero), MILLI * (stop - zero)]
                ax.axvspan(*span, facecolor=WATCHED if watch else WAITED, hatch=None if watch else "////", edgecolor="#ffffff",
                           linewidth=0.0, alpha=0.6, zorder=0.4)  # fmt: skip
                (line,) = ax.plot(span, [level, level], color=colour, linewidth=1.3, linestyle=(0, (6, 1.5)))
                if event is not None:
                    ax.plot([MILLI * (event - zero)], [level], "o", color=colour, markersize=4.5, zorder=4)
            handles.setdefault(watch, line)
        for watch, line in handles.items():
            words = list(dict.fromkeys(levels[watch]))
            more = ", ..." if len(words) > MOST_LEVELS else ""
            line.set_label(f"{'abort' if watch else 'step'}: {', '.join(words[:MOST_LEVELS])}{more} {reader.column(kind)}")
        return list(handles.values())

    return draw


def sensor_panels(result: Result, found: Resolution) -> list[Panel]:
    """A row per sensor whose reading is looked at."""
    end = float(result.traces["time"][-1])
    looks = looks_of(found, end)
    rows, reader = [], result.case.reader
    for name in dict.fromkeys(look[0].sensor for look in looks):
        own = [look for look in looks if look[0].sensor == name]
        kind = SENSOR[name].kind
        title = name.replace("_", " ")
        levels = [float(reader.in_column(kind, look[0].level)) for look in own]
        rows.append(Panel(
            f"{title[0].upper()}{title[1:]}", reader.column(kind), 1.0, (Curve(name, "reading", kind, style.CHAMBER, "-", 1.6),),
            floor=0.0, extra=_draw_looks(own, kind, reader), ceiling=max(levels),
        ))  # fmt: skip
    return rows[:MOST_SENSORS]


def chart_window(result: Result, found: Resolution) -> Window:
    """The whole run from its first command on; start or stop, where more of the steps lie, enlarged where it is short in it."""
    start, stop = start_window(result), stop_window(result)
    over = float(result.traces["time"][-1])
    done = [(step.instant, _label(step.abort, step.name, step.part, step.do)) for step in found.steps if step.state == DONE]
    marks: list[tuple[float | None, str]] = [*done]
    if found.abort is not None:
        marks.append((found.abort.instant, f"ABORT {found.abort.name}"))
    first = min([t for t, _ in marks if t is not None], default=0.0)
    begin = max(0.0, first - BEFORE * (over - first))
    held = [sum(w.begin <= t <= w.end for t, _ in marks if t is not None) if w is not None else -1 for w in (start, stop)]
    closer = stop if stop is not None and held[1] > held[0] else start
    enlarged = (max(begin, closer.begin), min(closer.end, over))
    short = enlarged[1] - enlarged[0] < ENLARGE_BELOW * (over - begin)
    return Window(start.command, start.origin, begin, over, enlarged if short else None, numbered(marks, begin, over))


def _label(abort: str, name: str, part: str, do: str) -> str:
    action = f"{part} {do}" if part else "hold over"
    own = action if name.startswith(action) else f"{name}: {action}"
    return f"({abort}) {own}" if abort else own


def sequence_lines(result: Result) -> list[tuple[str, str]]:
    """The answer on this page."""
    said = answer(result)
    steps = () if result.sequence is None else result.sequence.steps
    own = [step for step in steps if not step.abort]
    done = sum(step.state == DONE for step in own)
    count = f"{done} of {len(own)} steps done. A hold or an abort in a sequence is no independent safeguard."
    return [(result.failure or said.outcome, said.tone), (count, "plain"), failed_line(said.failed)]


def write_sequence(result: Result, path: Path) -> Path:
    """Write the chart of a run with a sequence."""
    assert result.sequence is not None, "a run of a sequence"
    if not len(result.traces.get("time", ())):
        page, top = sheet(result, "Sequence", sequence_lines(result))
        empty_note(page, top, NOTHING)
        return page.save(path)
    drawn = with_commands(result)
    rows = [*part_panels(drawn, result.sequence), *sensor_panels(drawn, result.sequence)]
    title = "Sequence: commanded and actual"
    return time_page(drawn, chart_window(drawn, result.sequence), title, sequence_lines(result), rows).save(path)
