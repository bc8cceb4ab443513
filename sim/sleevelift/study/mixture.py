"""Mixture ratio from the first propellant to steady, and from the off command to the last: where it is rich in what.

    flows into the chamber -> stretches: oxidizer alone | oxidizer-rich | fuel-rich | fuel alone, with what enters in each

Oxidizer-rich and fuel-rich part at the stoichiometric ratio S: mass of oxidizer over mass of fuel that burns to carbon dioxide,
water and nitrogen. A propellant is alone while the other's flow is below what counts as arrived. Crossings lie on straight lines
between samples. What is in the chamber, unburned, has its own ratio: it is what burns.
"""

from collections.abc import Sequence, Set
from math import inf
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.combustion_tables import pairs, stoichiometric_ratio
from sleevelift.plant.state import M_LEVEL_F, M_LEVEL_O
from sleevelift.plots.mixture import write_mixture
from sleevelift.reader import Reader
from sleevelift.result import Result
from sleevelift.run import simulate
from sleevelift.shown import milliseconds as ms
from sleevelift.shown import origin_of, stop_begins, valve_shuts
from sleevelift.static_answer.margins import margin_numbers
from sleevelift.study.answer import Answer, Sheet
from sleevelift.study.values import refused

NOTHING, OX_ALONE, OX_RICH, FUEL_RICH, FUEL_ALONE = range(5)
WORDS = ("neither", "oxidizer alone", "oxidizer-rich", "fuel-rich", "fuel alone")
RICH_IN_OXIDIZER = (OX_ALONE, OX_RICH)
ROWS = 12
"""Instants of the table of ratios."""
SHORTEST = 1e-5
"""s. A stretch that a run cannot tell from none."""
IN_TABLES = {"oxygen": "oxygen", "nitrousoxide": "nitrous-oxide", "peroxide-90": "peroxide-90", "npropane": "propane",
             "propane": "propane"}  # fmt: skip
"""Name of a liquid -> that of the shipped pairs, where it is another."""
NOT_LOOKED_AT = (
    "Ratios of the flows as they enter, mixed at once and completely: not streaks, films, cooling, nor what a wall sees. Burning "
    "gas that is rich in oxidizer attacks hot metal: no ratio here is a permission."
)


class Stretch(NamedTuple):
    """A stretch of the run in which the flows are rich in one thing."""

    begin: float
    """s of the run"""
    end: float
    kind: int
    lit: float
    """s of it in which the chamber is lit"""
    oxidizer: float
    """kg that enter"""
    fuel: float


class Pulse(NamedTuple):
    """One pulse: start, steady flow, stop; s of the run."""

    number: int
    begin: float
    """its on command; of the first the run's start"""
    steady: float
    """by which both flows are steady; else its stop, or its end"""
    stop: float | None
    """the off command, or a run valve's shutting before it"""
    end: float
    """the next on command, or the run's end"""
    light: float | None
    """it lights"""


def stoichiometric_of(case: Case, given: float | None = None) -> float | None:
    """Stoichiometric ratio, -: given, of the named pair, or of the pair that the two liquids are; None where none is known."""
    if given is not None:
        return given
    chamber = case.chamber
    if chamber is not None and chamber.propellants is not None:
        return stoichiometric_ratio(chamber.propellants)
    names = [None if feed is None or feed.liquid is None else feed.liquid.lower() for feed in (case.oxidizer, case.fuel)]
    pair = "/".join(IN_TABLES.get(name, name) for name in names if name is not None)
    return stoichiometric_ratio(pair) if pair in pairs() else None


def kinds_of(oxidizer: np.ndarray, fuel: np.ndarray, levels: tuple[float, float], ratio: float) -> np.ndarray:
    """What each pair of flows, kg/s, is rich in; levels: flows that count as arrived, kg/s."""
    there_o, there_f = oxidizer > levels[0], fuel > levels[1]
    both = np.where(oxidizer > ratio * fuel, OX_RICH, FUEL_RICH)
    return np.where(there_o & there_f, both, np.where(there_o, OX_ALONE, np.where(there_f, FUEL_ALONE, NOTHING)))


def with_crossings(t: np.ndarray, columns: list[np.ndarray], edges: list[np.ndarray]) -> tuple[np.ndarray, list[np.ndarray]]:
    """(time, columns) with a sample added wherever one of `edges` crosses zero between two samples, on straight lines."""
    more = [t]
    for edge in edges:
        k = np.flatnonzero((edge[:-1] > 0.0) != (edge[1:] > 0.0))
        step = edge[k + 1] - edge[k]
        share = np.divide(-edge[k], step, out=np.zeros(len(k)), where=step != 0.0)
        more.append(t[k] + np.clip(share, 0.0, 1.0) * (t[k + 1] - t[k]))
    extra = np.setdiff1d(np.concatenate(more[1:]), t)
    place = np.searchsorted(t, extra)
    return np.insert(t, place, extra), [np.insert(c, place, np.interp(extra, t, c)) for c in columns]


def levels_of(result: Result) -> tuple[float, float]:
    """Flow of oxidizer and of fuel above which it counts as arrived, kg/s."""
    memory = margin_numbers(result.plant.record, result.plant.tables).event_memory
    return float(memory[M_LEVEL_O]), float(memory[M_LEVEL_F])


def stretches_of(result: Result, ratio: float) -> list[Stretch]:
    """Every stretch of a run, in order; those in which neither flows are left out, and one ends at each on command."""
    traces, levels = result.traces, levels_of(result)
    flows = [traces["oxidizer_flow"], traces["fuel_flow"], traces.get("lit", np.zeros(len(traces["time"])))]
    edges = [flows[0] - levels[0], flows[1] - levels[1], flows[0] - ratio * flows[1]]
    t, (o, f, lit) = with_crossings(traces["time"], flows, edges)
    middle = [0.5 * (c[1:] + c[:-1]) for c in (o, f)]
    kinds = kinds_of(middle[0], middle[1], levels, ratio)
    width = np.diff(t)
    wide = width > 0.0
    begins = {pulse.begin for pulse in pulses_of(result)}
    out: list[Stretch] = []
    for k in np.flatnonzero(wide):
        kind = int(kinds[k])
        part = Stretch(t[k], t[k + 1], kind, width[k] * float(lit[k] > 0.5), width[k] * middle[0][k], width[k] * middle[1][k])
        if out and out[-1].kind == kind and out[-1].end == part.begin and part.begin not in begins:
            part = joined(out.pop(), part)
        out.append(part)
    return without_short([one for one in out if one.kind != NOTHING], begins)


def joined(one: Stretch, other: Stretch) -> Stretch:
    """Two stretches of one kind as one."""
    return Stretch(one.begin, other.end, one.kind, *(a + b for a, b in zip(one[3:], other[3:])))


def without_short(stretches: list[Stretch], begins: Set[float]) -> list[Stretch]:
    """Stretches without those that a run cannot tell from none; two of one kind that only such a one parts are one."""
    out: list[Stretch] = []
    for one in stretches:
        if one.end - one.begin <= SHORTEST:
            continue
        if out and out[-1].kind == one.kind and one.begin - out[-1].end <= SHORTEST and one.begin not in begins:
            one = joined(out.pop(), one)
        out.append(one)
    return out


def pulses_of(result: Result) -> list[Pulse]:
    """The pulses of a run, with the instants that part start, steady flow and stop."""
    over = float(result.traces["time"][-1])
    shuts = valve_shuts(result.case)
    found = [pulse.measures for pulse in result.pulses] or [result.measures]
    out = []
    for k, measures in enumerate(found):
        following = found[k + 1]["energize_time"] if k + 1 < len(found) else None
        end = over if following is None else following
        on = measures["energize_time"]
        stop = stop_begins(shuts, on, measures["deenergize_time"], end)
        last = end if stop is None else min(stop, end)
        full = [t for t in (measures["full_oxidizer"], measures["full_fuel"]) if t is not None]
        begin = 0.0 if k == 0 or on is None else on
        steady = last if len(full) < 2 else min(max(full), last)
        out.append(Pulse(k + 1, begin, steady, stop if last < end else None, end, measures["light_off"]))
    return out


def with_gaps(stretches: Sequence[Stretch]) -> list[tuple[int, float, float]]:
    """(kind, begin, end) of stretches and of what lies between them, where neither flows."""
    out: list[tuple[int, float, float]] = []
    for one in stretches:
        if out and one.begin - out[-1][2] > SHORTEST:
            out.append((NOTHING, out[-1][2], one.begin))
        out.append((one.kind, one.begin, one.end))
    return out


def start_of(stretches: Sequence[Stretch], pulse: Pulse) -> list[Stretch]:
    """Those of the start of a pulse, up to steady."""
    return [one for one in stretches if pulse.begin <= one.begin < pulse.steady]


def stop_of(stretches: Sequence[Stretch], pulse: Pulse) -> list[Stretch]:
    """Those of the stop of a pulse, the one that its first instant lies in too."""
    return [] if pulse.stop is None else [one for one in stretches if one.end > pulse.stop and one.begin < pulse.end]


def burned_rich(stretches: Sequence[Stretch], after: float = -inf) -> float:
    """s, of those that begin after an instant: lit and rich in oxidizer."""
    return sum(one.lit for one in stretches if one.kind in RICH_IN_OXIDIZER and one.begin > after)


def start_words(stretches: Sequence[Stretch], pulse: Pulse, origin: float) -> str:
    """What the start is rich in, up to steady."""
    own = start_of(stretches, pulse)
    if not own:
        return "Start: no propellant arrives."
    words = []
    for kind, begin, end in with_gaps(own):
        when = f"until {ms(end - origin)}" if end < pulse.steady else f"from {ms(begin - origin)} on"
        words.append(f"{WORDS[kind]} {when}")
    burns = "never lit" if pulse.light is None else f"{ms(burned_rich(own))} of it lit and rich in oxidizer"
    return f"Start: {', '.join(words)}; {burns}."


def unburned_words(result: Result, ratio: float, pulse: Pulse, origin: float) -> str:
    """What the unburned is rich in when it lights, and until when it stays oxidizer-rich; empty where it never lights."""
    light = pulse.light
    if light is None or "unburned_oxidizer" not in result.traces:
        return ""
    t, o, f = (result.traces[name] for name in ("time", "unburned_oxidizer", "unburned_fuel"))
    held = [float(np.interp(light, t, one)) for one in (o, f)]
    if not held[1] > 0.0:
        return "It lights on oxidizer alone."
    words = f"It lights on unburned propellant of O/F {held[0] / held[1]:.3g}"
    until = pulse.end if pulse.stop is None else pulse.stop
    later = np.flatnonzero((t >= light) & (t <= until) & (o <= ratio * f))
    if held[0] <= ratio * held[1]:
        return f"{words}, fuel-rich."
    turns = f" until {ms(float(t[later[0]]) - origin)}" if len(later) else " up to the stop"
    return f"{words}, OXIDIZER-RICH{turns}."


def stop_words(stretches: Sequence[Stretch], pulse: Pulse, origin: float, reader: Reader) -> str:
    """What the stop is rich in; empty where there is none."""
    if pulse.stop is None:
        return ""
    off, own = pulse.stop, stop_of(stretches, pulse)
    head = f"Stop, from {ms(off - origin)} on"
    if not own:
        return f"{head}: nothing flows."
    spans = with_gaps(own)
    first = WORDS[spans[0][0]] if spans[0][1] <= off else WORDS[NOTHING]
    turns = [f"{WORDS[kind]} from {ms(begin - origin)}" for kind, begin, _ in spans if begin > off]
    rich = [one for one in own if one.kind in RICH_IN_OXIDIZER and one.begin > off]
    mass = reader.text("mass", sum(one.oxidizer for one in rich), ".3g")
    burns = f"; {mass} of oxidizer enters so, {ms(burned_rich(own, off))} of it lit" if rich else ""
    last = "oxidizer" if own[-1].kind in RICH_IN_OXIDIZER else "fuel"
    return f"{head}: {', '.join([first, *turns])}{burns}; it ends rich in {last}."


def pulse_words(result: Result, stretches: Sequence[Stretch], pulse: Pulse, ratio: float, origin: float) -> str:
    """Start, light-off and stop of one pulse."""
    parts = (
        start_words(stretches, pulse, origin),
        unburned_words(result, ratio, pulse, origin),
        stop_words(stretches, pulse, origin, result.case.reader),
    )
    return " ".join(part for part in parts if part)


def worst_words(stretches: Sequence[Stretch], pulses: Sequence[Pulse]) -> str:
    """Of several pulses the one that burns longest rich in oxidizer, and those whose stop ends so."""
    burns = [burned_rich(start_of(stretches, p)) + burned_rich(stop_of(stretches, p), p.stop or -inf) for p in pulses]
    worst = max(range(len(pulses)), key=lambda k: burns[k])
    stops = [(p.number, stop_of(stretches, p)) for p in pulses]
    ends = [str(number) for number, own in stops if own and own[-1].kind in RICH_IN_OXIDIZER]
    number = pulses[worst].number
    most = f"Of {len(pulses)} pulses number {number} burns longest rich in oxidizer, {ms(burns[worst])} of start and stop"
    return f"{most}; " + (f"pulse {', '.join(ends)} ends rich in oxidizer." if ends else "no stop ends rich in oxidizer.")


def mixture_study(case: Case, given: float | None = None) -> Answer:
    """Mixture ratio of a run over its start and stop. CaseError where no stoichiometric ratio is known, or nothing flows."""
    if case.oxidizer is None or case.fuel is None:
        raise refused(case.name, "is a dry case: it has no mixture")
    ratio = stoichiometric_of(case, given)
    if ratio is None:
        raise refused(case.name, "names no pair whose stoichiometric ratio is known: give --stoichiometric")
    result = simulate(case)
    if not result.traces:
        raise refused(case.name, result.failure or "could not be run")
    origin = origin_of(result.case.solenoid.on).instant
    stretches, pulses, reader = stretches_of(result, ratio), pulses_of(result), case.reader
    first = pulses[0]
    sentence = pulse_words(result, stretches, first, ratio, origin)
    if len(pulses) > 1:
        sentence = f"Pulse 1 of {len(pulses)}. {sentence} {worst_words(stretches, pulses)}"
    facts = {
        "stoichiometric": ratio, "stretches": [one._asdict() | {"kind": WORDS[one.kind]} for one in stretches],
        "steady": first.steady, "stop": first.stop, "end": first.end, "light_off": first.light, "origin": origin,
        "pulses": [one._asdict() for one in pulses], "levels": levels_of(result),
        "instants_are": "s of the run; on screen and in the picture they count from `origin`",
    }  # fmt: skip
    sheets = [_stretch_sheet(stretches, origin, reader), _ratio_sheet(result, ratio, stretches, first.steady, origin, reader)]
    if len(pulses) > 1:
        sheets.append(_pulse_sheet(result, ratio, stretches, pulses, origin, reader))
    notes = [f"Stoichiometric O/F {ratio:.4g}. Instants count from the first on command.", NOT_LOOKED_AT]

    def draw(path: Path) -> Any:
        return write_mixture(case, sentence, result, facts, path)

    header = ["begin [s]", "end [s]", "rich in", "lit [s]", "oxidizer [kg]", "fuel [kg]"]
    rows = [[one.begin, one.end, WORDS[one.kind], one.lit, one.oxidizer, one.fuel] for one in stretches]
    return Answer("mixture", case, sentence, sheets, notes, header, rows, facts, draw)


def _stretch_sheet(stretches: list[Stretch], origin: float, reader: Reader) -> Sheet:
    unit = reader.column("mass")
    rows = [
        (WORDS[one.kind], f"{1e3 * (one.begin - origin):.3f}", f"{1e3 * (one.end - origin):.3f}", f"{1e3 * one.lit:.3f}",
         f"{reader.in_column('mass', one.oxidizer):.4g}", f"{reader.in_column('mass', one.fuel):.4g}",
         "-" if not one.fuel > 0.0 or one.oxidizer < 0.0 else f"{one.oxidizer / one.fuel:.3g}")
        for one in stretches
    ]  # fmt: skip
    columns = ("flows are", "from [ms]", "to [ms]", "of it lit [ms]", f"oxidizer [{unit}]", f"fuel [{unit}]", "O/F of both")
    return Sheet("What the flows are rich in", columns, rows)


def _pulse_sheet(
    result: Result, ratio: float, stretches: list[Stretch], pulses: list[Pulse], origin: float, reader: Reader
) -> Sheet:
    """A row per pulse: when it turns fuel-rich, on what it lights, how it stops."""
    rows = []
    for pulse in pulses:
        start, stop = start_of(stretches, pulse), stop_of(stretches, pulse)
        turns = next((ms_of(one.begin - origin) for one in reversed(start) if one.kind == FUEL_RICH), "-")
        held = [0.0, 0.0]
        if pulse.light is not None and "unburned_oxidizer" in result.traces:
            t = result.traces["time"]
            held = [float(np.interp(pulse.light, t, result.traces[f"unburned_{side}"])) for side in ("oxidizer", "fuel")]
        alone = sum(one.oxidizer for one in stop if one.kind == OX_ALONE and one.begin > (pulse.stop or 0.0))
        ends = "-" if not stop else ("oxidizer" if stop[-1].kind in RICH_IN_OXIDIZER else "fuel")
        rows.append((
            str(pulse.number), turns, "-" if not held[1] > 0.0 else f"{held[0] / held[1] / ratio:.3g}",
            ms_of(burned_rich(start)), ms_of(burned_rich(stop, pulse.stop or 0.0)), f"{reader.in_column('mass', alone):.4g}", ends,
        ))  # fmt: skip
    columns = (
        "pulse", "fuel-rich from [ms]", "lights on O/F over stoichiometric", "lit oxidizer-rich, start [ms]",
        "stop [ms]", f"oxidizer alone, stop [{reader.column('mass')}]", "ends rich in",
    )  # fmt: skip
    return Sheet("Pulse by pulse", columns, rows)


def ms_of(seconds: float) -> str:
    """A time in ms without its unit, for a column."""
    return f"{1e3 * seconds:.3f}"


def _ratio_sheet(result: Result, ratio: float, stretches: list[Stretch], steady: float, origin: float, reader: Reader) -> Sheet:
    """Ratios at some instants from the first propellant to steady, of the first pulse."""
    t, o, f = (result.traces[name] for name in ("time", "oxidizer_flow", "fuel_flow"))
    first = min((one.begin for one in stretches), default=steady)
    rows = []
    for instant in np.linspace(first, max(steady, first), ROWS):
        flow, fuel = float(np.interp(instant, t, o)), float(np.interp(instant, t, f))
        of = "-" if not fuel > 0.0 else f"{flow / fuel:.3g}"
        share = "-" if not fuel > 0.0 else f"{flow / fuel / ratio:.3g}"
        cells = [f"{1e3 * (instant - origin):.3f}", *(f"{reader.in_column('flow', one):.4g}" for one in (flow, fuel)), of, share]
        if "unburned_oxidizer" in result.traces:
            held = [float(np.interp(instant, t, result.traces[f"unburned_{side}"])) for side in ("oxidizer", "fuel")]
            cells.append("-" if not held[1] > 0.0 else f"{held[0] / held[1]:.3g}")
        rows.append(tuple(cells))
    unit = reader.column("flow")
    columns = ["at [ms]", f"oxidizer [{unit}]", f"fuel [{unit}]", "O/F", "over stoichiometric", "O/F of the unburned"]
    return Sheet("Mixture ratio from the first propellant to steady", tuple(columns[: len(rows[0])]), rows)
