"""The igniter's window: from when, until when may it light, when to switch it on, until when an abort still helps.

    never-lit run -> pool(t) -> hard-start pressure(t), mixture(t);   latest: first t with p_hs(t) > allowable

    both in chamber ----[ light-off allowed ]---- latest light-off          abort: off command early enough that the pool,
    first of the scatter         first of the scatter                       with what enters while closing, stays below

Assumptions: the pool stays in the chamber (no purge) and burns at once and completely: an estimate, no bound; a detonation
exceeds it locally. The last off command is found by halving, which takes a later off command to leave a larger pool.
"""

from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.physics.combustion import hard_start_pressure
from sleevelift.plots.studies import write_window
from sleevelift.ratings import absolute
from sleevelift.reader import METRIC, Reader
from sleevelift.result import Result
from sleevelift.run import in_short_form, simulate
from sleevelift.sequence.findings import NOT_LOOKED_AT
from sleevelift.shown import milliseconds as ms
from sleevelift.study.answer import Answer, Sheet, failed_lanes, failure_notes
from sleevelift.study.no_light import no_light, words
from sleevelift.study.odds import scaled, unit_points
from sleevelift.study.store import ALONE, Work, computed
from sleevelift.study.values import number, refused

OFF_POINTS, OFF_ROUNDS = 8, 4
"""Off instants tried side by side and rounds of narrowing: the span over 9^4."""
EARLIEST_SHARE, LATEST_SHARE = 99.0, 1.0
"""Percentiles: both propellants are there in 99 % of runs; the pool is still allowable in 99 %."""
TABLE_BEYOND = 2.0
"""-. The pool's table goes on after the latest light-off by so many times the window."""
IGNITER_KEYS = "igniter."


class Timing(NamedTuple):
    """What the igniter does after it is switched on, s."""

    rise: float
    delay: float
    scatter: float
    """of light-off, early and late"""
    detection: float
    """from no light to the off command"""


class Pool(NamedTuple):
    """What a never-lit run holds in its chamber, against time."""

    time: np.ndarray
    oxidizer: np.ndarray
    fuel: np.ndarray
    pressure: np.ndarray
    """hard-start estimate, Pa absolute"""
    mixture: np.ndarray


def unlit(case: Case) -> Case:
    """The case without its igniter; refused where there is no chamber."""
    if case.chamber is None:
        raise refused(case.name, "has no combustion chamber: the igniter's window is for hot cases")
    if not case.solenoid.on:
        raise refused(case.name, "has no on command")
    new = case.model_copy(update={"igniter": None})
    new._ranges = {path: ends for path, ends in case.ranges.items() if not path.startswith(IGNITER_KEYS)}
    return new


def pool_of(result: Result) -> Pool:
    """Pooled masses (kg), mixture (-) and hard-start estimate (Pa) along a never-lit run."""
    record, tables = result.plant.record[0], result.plant.tables
    curve, volume = record["chamber"]["ideal_curve"], float(record["chamber"]["volume"])
    ox = np.maximum(result.traces["unburned_oxidizer"], 0.0)
    fuel = np.maximum(result.traces["unburned_fuel"], 0.0)
    ambient = float(record["ambient_pressure"])
    start, count = int(curve["start"]), int(curve["count"])
    pressure = np.array(
        [hard_start_pressure(o, f, volume, ambient, tables, start, count) for o, f in zip(ox.tolist(), fuel.tolist())]
    )
    mixture = np.divide(ox, fuel, out=np.full(len(ox), np.nan), where=fuel > 0.0)
    return Pool(result.traces["time"], ox, fuel, pressure, mixture)


def last_off(case: Case, work: Work) -> tuple[float | None, str]:
    """(last instant of an off command, s, after which the never-lit pool stays below allowable; note).

    `case` is unlit. None where there is no such instant, the first on command counting as the earliest.
    """
    assert case.chamber is not None
    on = case.solenoid.on[0]
    later = [t for t in case.solenoid.off if t > on]
    known = simulate(case, with_traces=False).measures["latest_light_off"]
    if known is None:
        return None, "the never-lit pool never reaches the allowable pressure: any off command keeps it below"
    low, high = on, min([known, *later])
    first = True
    for _ in range(OFF_ROUNDS):
        instants = np.linspace(low, high, OFF_POINTS + 2)
        lanes = [{"solenoid.on": (on,), "solenoid.off": (float(t),)} for t in instants[1:-1]]
        batch = computed(case, lanes, work, {"study": "abort"})
        bad = np.isfinite(batch.measures["latest_light_off"]) | (batch.status < 0)
        k = int(np.argmax(bad)) if bad.any() else OFF_POINTS
        if k == 0 and first:
            first = False
        low, high = float(instants[k]), float(instants[k + 1])
    if low <= on:
        return None, "even the earliest off command comes too late"
    return low, "found by halving over never-lit runs, nominal values"


def stop_facts(lit: Result) -> dict[str, Any]:
    """Which propellant is last after the off command, by how long, and how much of it enters alone."""
    ox, fuel = lit.measures["last_oxidizer"], lit.measures["last_fuel"]
    if ox is None or fuel is None:
        return {"last": None, "alone": None, "mass": None}
    last, start, end = ("oxidizer", fuel, ox) if ox >= fuel else ("fuel", ox, fuel)
    t, flow = lit.traces["time"], lit.traces[f"{last}_flow"]
    inside = np.unique(np.clip(t, start, end))
    mass = float(np.trapezoid(np.interp(inside, t, flow), inside)) if len(inside) > 1 else 0.0
    return {"last": last, "alone": end - start, "mass": mass, "peak_hard_start": lit.measures["hard_start_pressure"]}


def remedies(stop: dict[str, Any], reader: Reader = METRIC) -> list[str]:
    """What to do about the propellant that is last."""
    if not stop["last"]:
        return ["The stop: the flows did not end, so none is last."]
    other = "fuel" if stop["last"] == "oxidizer" else "oxidizer"
    alone, mass = stop["alone"], stop["mass"]
    lines = [
        f"The stop: {stop['last']} is last, alone for {alone * 1e3:.3g} ms, {reader.text('mass', mass, '.3g')} of it enters "
        f"after the {other}."
    ]
    if stop["last"] == "oxidizer":
        lines.append(f"Remedies: close the oxidizer run valve at least {alone * 1e3:.3g} ms before the sleeve (its own "
                     "closing time added), the fuel run valve after; purge the "
                     "oxidizer side with inert gas behind its run valve.")  # fmt: skip
    else:
        lines.append("Remedies: a fuel-rich stop is the usual choice; purge the fuel side so that the rest does not burn on, and "
                     "close the fuel run valve with the sleeve.")  # fmt: skip
    return lines


def band(values: np.ndarray) -> dict[str, Any]:
    """P1, P50, P99 of what happened, s, and how often it did not."""
    there = values[np.isfinite(values)]
    p = np.percentile(there, (1.0, 50.0, 99.0)).tolist() if len(there) else [None] * 3
    return {"p1": p[0], "p50": p[1], "p99": p[2], "nulls": int(len(values) - len(there))}


def setting(both: dict[str, Any], latest: dict[str, Any], room: dict[str, Any], timing: Timing) -> dict[str, Any]:
    """Igniter-on instants, s: latest one that burns before the earliest both, and last one that still lights in time.

    burning before both:   on <= both_P1 - rise - scatter;   light-off then follows each run's own both by delay (+- scatter)
    holds:                 delay + scatter <= P1 of (latest - both), `room`, run by run: both instants move together
    in time at all:        on + rise + delay + scatter <= latest_P1
    """
    out: dict[str, Any] = {"on_before_both": None, "last_on": None, "latest_expected_light_off": None, "holds": None,
                           "light_off_after_both": timing.delay + timing.scatter}  # fmt: skip
    if both["p1"] is not None:
        out["on_before_both"] = both["p1"] - timing.rise - timing.scatter
        out["latest_expected_light_off"] = both["p99"] + timing.delay + timing.scatter
    if latest["p1"] is not None:
        out["last_on"] = latest["p1"] - timing.rise - timing.delay - timing.scatter
    if room["p1"] is not None:
        out["holds"] = timing.delay + timing.scatter <= room["p1"]
    return out


def timing_of(case: Case, rise: float | None, delay: float | None, scatter: float, detection: float) -> Timing:
    """The igniter's times: those given, else the case's."""
    igniter = case.igniter
    own_rise = igniter.rise if igniter is not None else 0.0
    own_delay = igniter.delay if igniter is not None and igniter.delay is not None else 0.0
    return Timing(own_rise if rise is None else rise, own_delay if delay is None else delay, scatter, detection)


def abort_words(last: float, due: float | None, origin: float = 0.0) -> str:
    """What the last instant to decide on no light, s, is worth where light may come as late as `due`."""
    if due is None or last >= due:
        return f"shut down on no light by {ms(last - origin)} (detection included)"
    return f"an abort on no light comes TOO LATE: to be decided by {ms(last - origin)}, light may come until {ms(due - origin)}"


def sentence_of(facts: dict[str, Any]) -> str:
    """The verdict on the setting, and on what the sequence does with no light; instants count from the first on command."""
    return f"{setting_words(facts)} {words(facts['no_light'])}".strip()


def setting_words(facts: dict[str, Any]) -> str:
    """One verdict on the setting, with the numbers it rests on."""
    both, latest, on, origin = facts["both_in_chamber"], facts["latest_light_off"], facts["setting"], facts["origin"]
    if both["p50"] is None:
        return "There is no window: the two propellants are never both in the chamber."
    abort = facts["abort"]["last_decision"]
    tail = "" if abort is None else f"; {abort_words(abort, on['latest_expected_light_off'], origin)}"
    burning = f"igniter on by {ms(on['on_before_both'] - origin)} {AFTER}"
    if latest["p1"] is None:
        return (
            f"No latest light-off (the pool stays below the allowable pressure, or none is given): {burning}, both propellants are "
            f"in the chamber from {ms(both['p99'] - origin)} (99 % of runs)."
        )
    after, room = ms(on["light_off_after_both"]), ms(facts["room"]["p1"])
    if not on["holds"]:
        return (
            f"The setting does NOT hold: it lights as late as {after} after both propellants are in the chamber, and the pool may "
            f"reach the allowable pressure after {room} (1 % of runs){tail}."
        )
    width = ""
    if latest["p1"] > both["p99"]:
        width = f", light-off is allowed from {ms(both['p99'] - origin)} to {ms(latest['p1'] - origin)}"
    return (
        f"The setting holds: {burning}{width}; it lights at most {after} after both propellants are in the chamber, and {room} are "
        f"allowed (99 % of runs){tail}."
    )


AFTER = "after the first on command"
"""What instants on screen and in pictures count from."""


def window_study(case: Case, timing: Timing, n: int = 200, seed: int = 0, work: Work = ALONE) -> Answer:
    """The window of a hot case with its scatter over every ranged value but the igniter's."""
    dark_end = None if case.sequence is None else no_light(case, work, n, seed)[0]
    case = in_short_form(case)
    dark = unlit(case)
    result = simulate(dark)
    if not result.traces:
        raise refused(case.name, result.failure or "could not be run")
    pool = pool_of(result)
    ranges = {path: ends for path, ends in sorted(dark.ranges.items()) if ends[1] > ends[0]}
    lanes: list[dict[str, Any]] = scaled(unit_points(len(ranges), n, seed, "lhs"), ranges) if ranges else [{}]
    batch = computed(dark, lanes, work, {"study": "window", "n": n, "seed": seed})
    both, latest = band(batch.measures["both_in_chamber"]), band(batch.measures["latest_light_off"])
    room = band(batch.measures["latest_light_off"] - batch.measures["both_in_chamber"])
    off, off_note = last_off(dark, work)
    lit = simulate(case)
    stop = stop_facts(lit)
    failed = failed_lanes(batch, lanes)
    facts = {
        "both_in_chamber": both, "latest_light_off": latest, "room": room,
        "nominal": {k: result.measures[k] for k in ("both_in_chamber", "latest_light_off")},
        "origin": case.solenoid.on[0], "instants_are": "s of the run; on screen and in the picture they count from `origin`",
        "timing": timing, "setting": setting(both, latest, room, timing), "n": len(lanes), "seed": seed, "ranges": ranges,
        "abort": {"last_off_command": off, "last_decision": None if off is None else off - timing.detection, "note": off_note},
        "stop": stop, "failed_runs": failed, "no_light": dark_end,
    }  # fmt: skip
    allowable = case.chamber.allowable_pressure if case.chamber is not None else None
    notes = [
        f"{len(lanes)} never-lit runs, seed {seed}, uniform over {len(ranges)} ranged values; hard-start pressure is an estimate, "
        "no bound.",
        *failure_notes(failed, len(lanes)), f"Abort: {off_note}.", *remedies(stop, case.reader),
    ]  # fmt: skip
    if dark_end is not None:
        notes.append(NOT_LOOKED_AT)
    if allowable is None:
        notes.append("The case gives no allowable chamber pressure ([chamber] allowable_pressure): no latest light-off.")

    def draw(path: Path) -> Any:
        return write_window(case, sentence_of(facts), pool, facts, path)

    header = ["time [s]", "pooled_oxidizer [kg]", "pooled_fuel [kg]", "mixture_ratio [-]", "hard_start_pressure [Pa]"]
    rows = [list(row) for row in zip(*[a.tolist() for a in (pool.time, pool.oxidizer, pool.fuel, pool.mixture, pool.pressure)])]
    return Answer("window", case, sentence_of(facts), _sheets(pool, facts, case.reader), notes, header, rows, facts, draw)


def _sheets(pool: Pool, facts: dict[str, Any], reader: Reader) -> list[Sheet]:
    both, latest, on, abort = facts["both_in_chamber"], facts["latest_light_off"], facts["setting"], facts["abort"]
    room, origin = facts["room"], facts["origin"]

    def at(instant: float | None) -> str:
        return ms(None if instant is None else instant - origin)

    bands = [
        ("both propellants in the chamber", *[at(both[k]) for k in ("p1", "p50", "p99")], str(both["nulls"])),
        ("latest light-off allowed", *[at(latest[k]) for k in ("p1", "p50", "p99")], str(latest["nulls"])),
        ("the latter after the former, run by run", *[ms(room[k]) for k in ("p1", "p50", "p99")], str(room["nulls"])),
    ]
    settings = [
        ("igniter on, burning before both", at(on["on_before_both"])), ("last igniter on that lights in time", at(on["last_on"])),
        ("latest light-off expected of it", at(on["latest_expected_light_off"])),
        ("last off command", at(abort["last_off_command"])),
        ("last instant to decide on no light", at(abort["last_decision"])),
    ]  # fmt: skip
    first, last = facts["nominal"]["both_in_chamber"] or pool.time[0], pool.time[-1]
    if latest["p99"] is not None:
        last = min(last, latest["p99"] + TABLE_BEYOND * (latest["p99"] - first))
    k = np.unique(np.searchsorted(pool.time, np.linspace(first, last, 12)))
    k = k[k < len(pool.time)]
    rows = [
        (f"{(pool.time[i] - origin) * 1e3:.3f}",
         number(reader.number("mass", pool.oxidizer[i])),
         number(reader.number("mass", pool.fuel[i])),
         number(pool.mixture[i]), absolute(float(pool.pressure[i]), reader).split()[0])
        for i in k
    ]  # fmt: skip
    mass = reader.unit("mass")
    columns = ("light-off at [ms]", f"oxidizer [{mass}]", f"fuel [{mass}]", "O/F [-]", f"hard start [{reader.unit('pressure')}]")
    pool_title = f"Pool of the never-lit run, nominal (instants {AFTER})"
    return [Sheet(f"Scatter (instants {AFTER})", ("instant", "P1", "P50", "P99", "nulls"), bands),
            Sheet(f"Settings (instants {AFTER})", ("what", "instant"), settings),
            Sheet(pool_title, columns, rows)]  # fmt: skip
