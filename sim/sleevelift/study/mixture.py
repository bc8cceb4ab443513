"""Mixture ratio from the first propellant to steady, and from the off command to the last: where it is rich in what.

    flows into the chamber -> stretches: oxidizer alone | oxidizer-rich | fuel-rich | fuel alone, with what enters in each

Oxidizer-rich and fuel-rich part at the stoichiometric ratio S: mass of oxidizer over mass of fuel that burns to carbon dioxide,
water and nitrogen. A propellant is alone while the other's flow is below what counts as arrived. Crossings lie on straight lines
between samples. What is in the chamber, unburned, has its own ratio: it is what burns.
"""

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
from sleevelift.shown import origin_of
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
    """Every stretch of a run, in order; those in which neither flows are left out."""
    traces, levels = result.traces, levels_of(result)
    flows = [traces["oxidizer_flow"], traces["fuel_flow"], traces.get("lit", np.zeros(len(traces["time"])))]
    edges = [flows[0] - levels[0], flows[1] - levels[1], flows[0] - ratio * flows[1]]
    t, (o, f, lit) = with_crossings(traces["time"], flows, edges)
    middle = [0.5 * (c[1:] + c[:-1]) for c in (o, f)]
    kinds = kinds_of(middle[0], middle[1], levels, ratio)
    width = np.diff(t)
    wide = width > 0.0
    out: list[Stretch] = []
    for k in np.flatnonzero(wide):
        kind = int(kinds[k])
        part = Stretch(t[k], t[k + 1], kind, width[k] * float(lit[k] > 0.5), width[k] * middle[0][k], width[k] * middle[1][k])
        if out and out[-1].kind == kind and out[-1].end == part.begin:
            last = out.pop()
            part = Stretch(last.begin, part.end, kind, *(a + b for a, b in zip(last[3:], part[3:])))
        out.append(part)
    return [one for one in out if one.kind != NOTHING and one.end - one.begin > SHORTEST]


def ends_of(result: Result) -> tuple[float, float]:
    """(instant by which both flows are steady, else of the off command or the end; instant of the off command, else the end), s."""
    over = float(result.traces["time"][-1])
    found = result.measures
    off = found["deenergize_time"]
    last = over if off is None else min(off, over)
    full = [found[name] for name in ("full_oxidizer", "full_fuel")]
    steady = last if None in full else min(max(t for t in full if t is not None), last)
    return steady, last


def start_words(stretches: list[Stretch], steady: float, origin: float, light: float | None) -> str:
    """What the start is rich in, up to steady."""
    own = [one for one in stretches if one.begin < steady]
    if not own:
        return "Start: no propellant arrives."
    words = []
    for one in own:
        when = f"until {ms(one.end - origin)}" if one.end < steady else f"from {ms(one.begin - origin)} on"
        words.append(f"{WORDS[one.kind]} {when}")
    lit = sum(one.lit for one in own if one.kind in RICH_IN_OXIDIZER)
    burns = "never lit" if light is None else f"{ms(lit)} of it lit and rich in oxidizer"
    return f"Start: {', '.join(words)}; {burns}."


def unburned_words(result: Result, ratio: float, origin: float) -> str:
    """What the unburned is rich in when it lights, and until when it stays oxidizer-rich; empty where it never lights."""
    light = result.measures["light_off"]
    if light is None or "unburned_oxidizer" not in result.traces:
        return ""
    t, o, f = (result.traces[name] for name in ("time", "unburned_oxidizer", "unburned_fuel"))
    held = [float(np.interp(light, t, one)) for one in (o, f)]
    if not held[1] > 0.0:
        return "It lights on oxidizer alone."
    words = f"It lights on unburned propellant of O/F {held[0] / held[1]:.3g}"
    later = np.flatnonzero((t >= light) & (o <= ratio * f))
    if held[0] <= ratio * held[1]:
        return f"{words}, fuel-rich."
    return f"{words}, OXIDIZER-RICH" + (f" until {ms(float(t[later[0]]) - origin)}." if len(later) else " to the end.")


def stop_words(stretches: list[Stretch], off: float, origin: float, reader: Reader) -> str:
    """What the stop is rich in, from the off command on."""
    own = [one for one in stretches if one.end > off]
    if not own:
        return "Stop: nothing flows after the off command."
    turns = [f"{WORDS[one.kind]} from {ms(one.begin - origin)}" for one in own if one.begin > off]
    rich = [one for one in own if one.kind in RICH_IN_OXIDIZER and one.begin > off]
    mass = reader.text("mass", sum(one.oxidizer for one in rich), ".3g")
    burns = f"; {mass} of oxidizer enters so, {ms(sum(one.lit for one in rich))} of it lit" if rich else ""
    first = WORDS[own[0].kind]
    last = "oxidizer" if own[-1].kind in RICH_IN_OXIDIZER else "fuel"
    return f"Stop: {', '.join([first, *turns])}{burns}; it ends rich in {last}."


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
    stretches, (steady, off) = stretches_of(result, ratio), ends_of(result)
    light, reader = result.measures["light_off"], case.reader
    stops = stop_words(stretches, off, origin, reader) if result.measures["deenergize_time"] is not None else ""
    parts = start_words(stretches, steady, origin, light), unburned_words(result, ratio, origin), stops
    sentence = " ".join(part for part in parts if part)
    facts = {
        "stoichiometric": ratio, "stretches": [one._asdict() | {"kind": WORDS[one.kind]} for one in stretches], "steady": steady,
        "off": off, "light_off": light, "origin": origin, "levels": levels_of(result),
        "instants_are": "s of the run; on screen and in the picture they count from `origin`",
    }  # fmt: skip
    sheets = [_stretch_sheet(stretches, origin, reader), _ratio_sheet(result, ratio, stretches, steady, origin, reader)]
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
         "-" if not one.fuel > 0.0 else f"{one.oxidizer / one.fuel:.3g}")
        for one in stretches
    ]  # fmt: skip
    columns = ("flows are", "from [ms]", "to [ms]", "of it lit [ms]", f"oxidizer [{unit}]", f"fuel [{unit}]", "O/F of both")
    return Sheet("What the flows are rich in", columns, rows)


def _ratio_sheet(result: Result, ratio: float, stretches: list[Stretch], steady: float, origin: float, reader: Reader) -> Sheet:
    """Ratios at some instants from the first propellant to steady."""
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
