"""Which instants and which stretch of a run the start and the stop page show.

    run:   0 --- command on --- lift ..... full flow ---- command off --- down ... seated --- end
    start page:   [-----------------------------]           stop page: [----------------------]
    enlarged:               [-----------------]                             [-----------]

All times here are seconds of the run. A stretch that did not happen (no off command, never lifted) falls back on what
the run has.
"""

from collections.abc import Iterable
from typing import NamedTuple

from sleevelift.plots.words import number, words_in
from sleevelift.result import Result
from sleevelift.shown import Origin, origin_of, stop_begins

BEFORE = 0.05
"""-. Share of the stretch shown before its command."""
AFTER = 0.22
"""-. Share of the stretch shown after its last instant."""
ENLARGE_BELOW = 0.5
"""-. The travel gets its own, enlarged column when it takes less than this share of the stretch."""
LEAST_STRETCH = 2e-3
"""s. Shortest stretch that is drawn."""
SAME_INSTANT = 1e-6
"""s. Instants closer than this share a mark."""


class Mark(NamedTuple):
    """A numbered instant."""

    number: int
    instant: float
    """s of the run"""
    label: str


class Window(NamedTuple):
    """What one page shows."""

    command: float
    """s of the run: the command that the page is about"""
    origin: Origin
    """zero of the axis and of the marks"""
    begin: float
    end: float
    enlarged: tuple[float, float] | None
    marks: tuple[Mark, ...]


START_LABELS = (
    ("first_oxidizer", "oxidizer enters the chamber"),
    ("first_fuel", "fuel enters the chamber"),
    ("latest_light_off", "latest light-off (estimate)"),
    ("full_oxidizer", "oxidizer at 95 % of steady"),
    ("full_fuel", "fuel at 95 % of steady"),
)
VALVES = tuple(f"{side} run valve starts to" for side in ("oxidizer", "fuel"))
"""How the timeline begins to say what a run valve does."""
STOP_LABELS = (("last_fuel", "last fuel"), ("last_oxidizer", "last oxidizer"))


def numbered(found: Iterable[tuple[float | None, str]], begin: float, end: float) -> tuple[Mark, ...]:
    """Instants in their order, those at one instant merged, those outside begin..end left out."""
    known = sorted((instant, label) for instant, label in found if instant is not None and begin <= instant <= end)
    merged: list[tuple[float, str]] = []
    for instant, label in known:
        if merged and instant - merged[-1][0] < SAME_INSTANT:
            merged[-1] = (merged[-1][0], f"{merged[-1][1]}; {label}")
        else:
            merged.append((instant, label))
    return tuple(Mark(i + 1, instant, label) for i, (instant, label) in enumerate(merged))


def _plus(instant: float | None, *durations: float | None) -> float | None:
    """instant + durations, None where one is missing."""
    total = instant
    for duration in durations:
        if total is None or duration is None:
            return None
        total += duration
    return total


def _span_end(result: Result) -> float:
    return float(result.traces["time"][-1])


def _first_off(result: Result, after: float) -> float:
    """Instant of the first off command after `after`, else the end of the run."""
    return min((t for t in result.case.solenoid.off if t > after), default=_span_end(result))


def _events(result: Result, begin: float, end: float, words: str) -> list[float]:
    """Instants of the timeline's entries that contain `words`, within begin..end."""
    return [e.instant for e in result.timeline if words in e.what and begin <= e.instant <= end]


def _moves(result: Result, begin: float, end: float) -> list[float]:
    """Instants at which the sleeve's mode changes."""
    return [e.instant for e in result.timeline if e.mode_before != e.mode_after and begin <= e.instant <= end]


def _valves(result: Result, begin: float, end: float, way: str) -> list[tuple[float, str]]:
    """When run valves start to open, or to shut."""
    return [(t, f"{said} {way}") for said in VALVES for t in _events(result, begin, end, f"{said} {way}")]


def _enlarged(first: float | None, last: float | None, begin: float, end: float) -> tuple[float, float] | None:
    """The stretch worth enlarging, or None where it fills the page anyway."""
    if first is None or last is None:
        return None
    reach = max(last - first, LEAST_STRETCH)
    low, high = max(first - 0.12 * reach, begin), min(last + AFTER * reach, end)
    return (low, high) if high - low < ENLARGE_BELOW * (end - begin) else None


def _leaving(result: Result) -> str:
    """The first lift, with the gas pressure at which it came."""
    pressure = result.measures.get("breakaway_pressure")
    return "leaves its seat" + ("" if pressure is None else f" at {words_in(result.case.reader, 'pressure', pressure)} of gas")


def _lighting(result: Result) -> str:
    """Light-off, with what had pooled by then."""
    pooled = [result.measures.get(name) for name in ("pooled_oxidizer", "pooled_fuel")]
    reader = result.case.reader
    grams = [number(reader.number("mass", mass), 3) for mass in pooled if mass is not None]
    return "light-off" + (f"; pooled O {grams[0]} + F {grams[1]} {reader.unit('mass')}" if len(grams) == 2 else "")


def start_window(result: Result) -> Window:
    """The stretch from the command to full flow, or as far as it went."""
    m = result.measures
    over = _span_end(result)
    given = m.get("energize_time")
    command = 0.0 if given is None else given
    off = _first_off(result, command)
    port = _plus(command, m.get("valve_delay"))
    lift = _plus(port, m.get("fill_delay"))
    full = _plus(command, m.get("opening_time"))
    early = _events(result, 0.0, command, "leaves its seat")
    found: list[tuple[float | None, str]] = [
        (port, "fill port opens"),
        (lift, _leaving(result)),
        (m.get("light_off"), _lighting(result)),
        (full, "full lift (98 %, staying)"),
        *((m.get(name), label) for name, label in START_LABELS),
        *((t, "igniter on") for t in _events(result, 0.0, off, "igniter burns")),
        *_valves(result, 0.0, off, "open"),
    ]
    if early:
        found.append((early[0], "leaves its seat WITHOUT A COMMAND"))
    last = max((t for t, _ in found if t is not None and t <= off), default=off)
    if full is None:
        last = off
    reach = max(last - command, LEAST_STRETCH)
    begin = max(0.0, min([command - BEFORE * reach, *(t - BEFORE * reach for t in early[:1])]))
    end = min(last + AFTER * reach, off + BEFORE * reach, over)
    moves = _moves(result, command, off if full is not None else end)
    first_move = moves[0] if moves else None
    tail = max([t for t, _ in found if t is not None and t <= off] + [t for t in moves if t <= last], default=None)
    marks = numbered(found, begin, end)
    return Window(
        command, origin_of(result.case.solenoid.on), begin, end,
        _enlarged(first_move, tail, begin, end) if full is not None and not early else None, marks,
    )  # fmt: skip


def stop_window(result: Result) -> Window | None:
    """The stretch from the off command, or a run valve's shutting before it, to rest; None without an off command, or anything
    after it."""
    m = result.measures
    over = _span_end(result)
    command = m.get("deenergize_time")
    if command is None or command >= over:
        return None
    port = _plus(command, m.get("release_delay"))
    down = _plus(port, m.get("vent_delay"))
    seated = _plus(command, m.get("closing_time"))
    contact = [e.instant for e in result.timeline if "hits its seat" in e.what and e.instant > command]
    found: list[tuple[float | None, str]] = [
        (port, "exhaust port opens"),
        (down, "sleeve moves down"),
        (contact[0] if contact else None, "first contact with the seat"),
        (seated, "seated for good"),
        *((m.get(name), label) for name, label in STOP_LABELS),
    ]
    known = [t for t, _ in found if t is not None and t > command]
    last = max(known, default=over) if seated is not None else over
    shuts = [t for t, _ in _valves(result, 0.0, over, "shut")]
    stop = stop_begins(shuts, m.get("energize_time"), command)
    stop = command if stop is None else stop
    reach = max(last - stop, LEAST_STRETCH)
    begin, end = max(0.0, stop - BEFORE * reach), min(last + AFTER * reach, over)
    damped = [(t, "rest of the lines' ringing left out") for t in _events(result, command, over, "ringing left out")]
    marks = numbered([*found, *damped, *_valves(result, stop, over, "shut")], begin, end)
    return Window(command, origin_of(result.case.solenoid.on), begin, end, _enlarged(down, last, begin, end), marks)


def rest_window(result: Result) -> Window:
    """What is left of the run after the start page, where there is no off command to count from."""
    start = start_window(result)
    over = _span_end(result)
    begin = start.end if over - start.end > LEAST_STRETCH else start.begin
    return Window(start.command, start.origin, begin, over, None, ())
