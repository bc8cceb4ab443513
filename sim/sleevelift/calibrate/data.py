"""What was measured, made ready for a fit: channels cut to the run and thinned, their noise, the clock, single numbers.

    measured_number(case, "opening_time=81 ms +- 1 ms")  ->  Number
    experiment(case, trace, numbers)                     ->  Experiment

A channel with more samples than `MOST_BINS` in the run is averaged over samples that follow one another; the model is averaged
over the same spans. Commands that were measured replace those of the case and set the clock; without them the clock is unknown.
"""

import math
import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from sleevelift import units
from sleevelift.calibrate.runs import Signals, first_on, signals
from sleevelift.calibrate.sensor import Bins, Grid, gridded, seen
from sleevelift.case.read import with_values
from sleevelift.case.schema import Case
from sleevelift.case.walk import own_value
from sleevelift.columns import COIL_CURRENT, COMMAND, parted
from sleevelift.measured.noise import lone, noise, robust_span
from sleevelift.measured.trace import Channel, Edge, Trace, command_edges, lost_data
from sleevelift.plant.names import MEASURES, UNITS
from sleevelift.run import in_short_form
from sleevelift.shown import INSTANTS
from sleevelift.study.targets import KINDS as MEASURE_KINDS
from sleevelift.study.values import known_measures, refused

MOST_BINS = 1200
"""samples of a channel that a fit looks at"""
GAP_STEPS = 5.0
"""-. Times the steps of the bins beside it from which a step in a bin is a gap."""
BEFORE, AFTER = 0.05, 0.1
"""s before the first command that are looked at; share of the run's length after its end."""
FLOOR = 2e-4
"""-. Of a channel's span: no channel counts as finer, since the model is not."""
TWO_SIDED = 1.6449
"""-. Standard deviations of a normal distribution within which 90 % lie."""
BY_DEFAULT_SHARE = 0.01
"""-. Half-width of a measured number that gives none."""
MOST_GAPS = 8
"""Gaps that are told."""
LOOSE = 5.0
"""-. Times the usual uncertainty of a command's change from which that is said."""
OFFSETS = 400
"""clock offsets that are tried where none is known"""
_NUMBER = re.compile(r"\s*(\w+)(?:\s+at\s+([^=]+?))?\s*=\s*(.+?)\s*(?:(?:\+-|\+/-|±)\s*(.+?)\s*)?$")
SEAL_FRICTION = {f"{seal}_seal_friction": seal for seal in ("post", "rod", "piston")}
"""Numbers that need no run: running friction of a seal per length of rubbing line, N/m, at a pressure across it."""


class Number(NamedTuple):
    """A single measured number of a run."""

    measure: str
    value: float
    """SI; instants from the first on command"""
    sigma: float
    """SI, one standard deviation"""
    text: str
    assumed: bool
    """whether its uncertainty was not given"""
    across: float | None = None
    """Pa across a seal whose friction it is; None of a number of a run"""

    @property
    def unit(self) -> str:
        """SI unit."""
        return "N/m" if self.across is not None else UNITS[self.measure]


class Series(NamedTuple):
    """A channel as a fit sees it."""

    header: str
    quantity: str
    unit: str
    kind: str
    bins: Bins
    value: np.ndarray
    """(n,) SI"""
    sigma: float
    """SI, noise of one of these values"""
    known_noise: bool
    """whether it was given, not estimated"""
    span: float
    """SI, highest less lowest, lone samples left out"""


class Clock(NamedTuple):
    """Time of the file less time of the run."""

    offset: float
    """s"""
    sigma: float
    """s; infinite where no command was measured"""


class Experiment(NamedTuple):
    """One test: what was run, what was measured."""

    name: str
    case: Case
    series: tuple[Series, ...]
    numbers: tuple[Number, ...]
    clock: Clock
    notes: tuple[str, ...]
    trace: Trace | None = None

    @property
    def quantities(self) -> tuple[str, ...]:
        """Signals that its runs must leave."""
        return tuple(dict.fromkeys(one.quantity for one in self.series))


class Settings(NamedTuple):
    """What a person knows of the sensors; SI, keyed by quantity, header, or header without its unit."""

    noise: Mapping[str, float] = {}
    lag: Mapping[str, float] = {}
    """known lags; others are found"""
    offset: float | None = None
    """s, known clock offset"""
    zero: Mapping[str, float] = {}
    """channels whose zero may be off, by at most so much; 0: by `ZERO_SHARE` of their span. Of the others it is right."""


NOTHING_KNOWN = Settings()


def of_channel(known: Mapping[str, float], channel: Channel | Series) -> float | None:
    """What is known of a channel: by its header, with or without its unit, else by what it measures; None where nothing is."""
    names = (channel.header, parted(channel.header)[0], channel.quantity)
    return next((known[name] for name in names if name in known), None)


def strangers(settings: Settings, tests: Sequence[Experiment]) -> list[tuple[str, str]]:
    """(option, name) of what is known of channels that no test has."""
    every = [one for test in tests for one in test.series]
    names = {name for one in every for name in (one.header, parted(one.header)[0], one.quantity)}
    options = (("--noise", settings.noise), ("--lag", settings.lag), ("--zero", settings.zero))
    return [(option, name) for option, known in options for name in known if name not in names]


def measured_number(case: Case, text: str, option: str = "--measured") -> Number:
    """A number such as "opening_time=81 ms +- 1 ms" (half-width of a 90 % interval). CaseError where it is none."""
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise refused(f"{option} {text}", 'must be like "opening_time=81 ms +- 1 ms"')
    name, across_text, value_text, width_text = match.groups()
    friction = name in SEAL_FRICTION
    if friction != (across_text is not None):
        rule = (
            f"a friction is measured at a pressure across the seal: {name} at 5 bar=60 N/m"
            if friction
            else "has no pressure across it"
        )
        raise refused(f"{option} {text}", rule)
    if not friction:
        known_measures([name], option)
    kind = "line force" if friction else MEASURE_KINDS.get(UNITS[name], "number")
    width_kind = units.RANGE_KIND.get(kind, kind)

    def read(part: str, kind: str) -> float:
        try:
            return float(part) if kind == "number" else units.read_quantity(part, kind, case.ambient.pressure).si
        except ValueError as error:
            raise refused(f"{option} {text}", f"{part}: {error}") from None

    value = read(value_text, kind)
    across = read(across_text, "pressure difference") if across_text is not None else None
    if width_text is not None and width_text.endswith("%"):
        width = abs(value) * 0.01 * read(width_text[:-1], "number")
    else:
        width = abs(value) * BY_DEFAULT_SHARE if width_text is None else read(width_text, width_kind)
    if not (math.isfinite(value) and width > 0.0):
        raise refused(f"{option} {text}", "must be finite, its uncertainty above 0")
    return Number(name, value, width / TWO_SIDED, text, width_text is None, across)


def seal_friction(case: Case, changes: Mapping[str, float], number: Number) -> float:
    """Running friction of a seal per length of rubbing line, N/m, with values changed (SI): all factors x (squeeze friction +
    pressure coefficient x cord x pressure difference)."""
    seal = f"seals.{SEAL_FRICTION[number.measure]}"

    def value(path: str) -> float:
        return float(changes.get(path, own_value(case, path)))

    assert number.across is not None, "a friction has its pressure"
    pressed = value(f"{seal}.pressure_coefficient") * value(f"{seal}.cord") * abs(number.across)
    return value("seals.friction_factor") * value(f"{seal}.friction_factor") * (value(f"{seal}.squeeze_friction") + pressed)


def number_of_run(case: Case, run: Signals | None, changes: Mapping[str, float], number: Number) -> float:
    """The same number of a run with values changed, SI; NaN where it did not happen."""
    if number.across is not None:
        return seal_friction(case, changes, number)
    if run is None:
        return math.nan
    found = run.measures[number.measure]
    on = run.measures["energize_time"]
    return found - (on if math.isfinite(on) else 0.0) if number.measure in INSTANTS else found


def thinned(channel: Channel, low: float, high: float) -> tuple[Bins, np.ndarray, int]:
    """(bins, values (n,), samples per bin) of a channel between two times of the file. No bin reaches over a gap of the record:
    the few samples that such a one would average are left out."""
    first, last = np.searchsorted(channel.time, [low, high])
    t, x = channel.time[first:last], channel.value[first:last]
    each = max(1, -(-len(t) // MOST_BINS))
    if each == 1:
        return Bins(t, t), x, 1
    count = len(t) // each
    t, x = t[: count * each].reshape(count, each), x[: count * each].reshape(count, each)
    half = 0.5 * (t[:, -1] - t[:, 0]) / (each - 1)
    longest = np.diff(t, axis=1).max(axis=1)
    beside = np.maximum(np.append(longest[:1], longest[:-1]), np.append(longest[1:], longest[-1:]))
    wide = (half > 0.0) & (longest <= GAP_STEPS * beside)
    return Bins((t[:, 0] - half)[wide], (t[:, -1] + half)[wide]), x.mean(axis=1)[wide], each


def with_commands(case: Case, edges: Sequence[Edge]) -> tuple[Case, Clock, list[str]]:
    """(case with the commands that were measured, clock, notes)."""
    ups = [edge for edge in edges if edge.on]
    written, case = case, in_short_form(case) if ups else case
    if not ups or not case.solenoid.on:
        return written, Clock(0.0, math.inf), []
    first = min(case.solenoid.on)
    offset = ups[0].instant - first
    clock = Clock(offset, max(ups[0].uncertainty / math.sqrt(3.0), 1e-6))
    rest = [edge for edge in edges if edge.on or edge.instant > ups[0].instant]
    planned = [(t, True) for t in case.solenoid.on] + [(t, False) for t in case.solenoid.off if t > first]
    known = dict(zip(map(id, rest), _as_planned(rest, sorted(planned), offset, ups[0].uncertainty)))
    on = tuple(known[id(edge)] for edge in rest if edge.on)
    off = tuple(known[id(edge)] for edge in rest if not edge.on)
    notes = _loose_edges(rest, known, offset)
    if on == tuple(case.solenoid.on) and off == tuple(case.solenoid.off):
        return written, clock, notes
    changed = with_values(case, {"solenoid.on": on, "solenoid.off": off}, check=True)
    words = ", ".join(f"{t:.4g} s" for t in off) or "never"
    said = [f"Commands as measured: on {', '.join(f'{t:.4g} s' for t in on)}, off {words} (time of the run)."]
    if written.sequence is not None:
        said.append("All else that its sequence commands comes at the instants it has in the case as it stands.")
    return changed, clock, [*said, *notes]


def _as_planned(edges: Sequence[Edge], planned: Sequence[tuple[float, bool]], offset: float, first: float) -> list[float]:
    """Instant of each edge, s of the run: the case's own where it lies between the samples that saw the change, else midway
    between them. first: s, uncertainty of the edge that the clock comes from."""
    found = []
    for edge in edges:
        measured = edge.instant - offset
        near = min((t for t, on in planned if on == edge.on), key=lambda t: abs(t - measured), default=math.inf)
        found.append(near if abs(near - measured) <= edge.uncertainty + first else measured)
    return found


def _loose_edges(edges: Sequence[Edge], known: Mapping[int, float], offset: float) -> list[str]:
    """What is said of commands that changed while nothing was recorded."""
    usual = float(np.median([edge.uncertainty for edge in edges]))
    loose = [edge for edge in edges if edge.uncertainty > LOOSE * max(usual, 1e-6)]
    return [
        f"The {'on' if edge.on else 'off'} command near {edge.instant:.6g} s of the file fell in a gap of the record: known to "
        f"{1e3 * edge.uncertainty:.3g} ms either way, taken at {known[id(edge)]:.6g} s of the run"
        + ("." if abs(known[id(edge)] - (edge.instant - offset)) < 1e-9 else ", as the case has it.")
        for edge in loose
    ]


def _misfit(grid: Grid, series: Sequence[Series], offset: float) -> float:
    """Sum of squares over spans, for finding a clock; flat far off."""
    total = 0.0
    for one in series:
        step = max(1, len(one.value) // 200)
        bins = Bins(one.bins.start[::step], one.bins.start[::step])
        bins = bins._replace(end=bins.start)
        rest = (seen(grid, one.quantity, bins, offset, 0.0) - one.value[::step]) / max(one.span, 1e-30)
        total += float(np.mean(rest**2))
    return total


def found_clock(grid: Grid, series: Sequence[Series]) -> float:
    """The offset at which a run looks most like what was measured, s."""
    begin = min(float(one.bins.start[0]) for one in series)
    end = max(float(one.bins.end[-1]) for one in series)
    length = grid.step * (len(next(iter(grid.values.values()))) - 1)
    tries = np.linspace(begin - length, end, OFFSETS)
    for _ in range(3):
        best = int(np.argmin([_misfit(grid, series, float(offset)) for offset in tries]))
        step = tries[1] - tries[0]
        tries = np.linspace(tries[best] - step, tries[best] + step, 21)
    return float(tries[10])


def _series(channel: Channel, low: float, high: float, quiet_until: float, settings: Settings) -> Series | None:
    bins, value, _ = thinned(channel, low, high)
    if len(value) < 3:
        return None
    span = robust_span(value)
    given = of_channel(settings.noise, channel)
    quiet = int(np.searchsorted(bins.end, quiet_until)) if math.isfinite(quiet_until) else 0
    estimated = noise(value, quiet)
    sigma = given if given is not None else estimated
    if not math.isfinite(sigma):
        sigma = 0.01 * span
    sigma = max(sigma, FLOOR * span, 1e-12 * max(abs(float(value.max())), 1e-30))
    return Series(channel.header, channel.quantity, channel.unit, channel.kind, bins, value, sigma, given is not None, span)


def experiment(
    case: Case, trace: Trace | None, numbers: Sequence[Number] = (), settings: Settings = NOTHING_KNOWN, name: str = ""
) -> Experiment:
    """A test ready for a fit. CaseError where nothing in the trace can be compared with a run of the case."""
    if trace is None:
        return Experiment(name or case.name, case, (), tuple(numbers), Clock(0.0, 0.0), ())
    case, clock, notes = with_commands(case, command_edges(trace))
    if settings.offset is not None:
        clock = Clock(settings.offset, 1e-6)
    wanted = [one for one in trace.channels if one.quantity not in (COMMAND, COIL_CURRENT)]
    run = signals(case, {}, tuple(dict.fromkeys(one.quantity for one in wanted)))
    if run is None:
        raise refused(case.name, "the case cannot be run as it stands, so nothing can be compared with it")
    absent = [one.header for one in wanted if one.quantity not in run.values]
    wanted = [one for one in wanted if one.quantity in run.values]
    if absent:
        notes = [*notes, f"This case has no such signal: {', '.join(absent)}."]
    if not wanted:
        raise refused(trace.path.name, f"none of its columns can be compared with a {case.case.kind} run")
    grid = gridded(run.time, run.values)
    on = first_on(case)
    if not math.isfinite(clock.sigma):
        every = [s for one in wanted if (s := _series(one, -math.inf, math.inf, math.nan, settings)) is not None]
        clock = Clock(found_clock(grid, every), math.inf) if every else clock
        notes = [*notes, "Neither command nor coil current was measured: the clock is found from the signals."]
    length = float(run.time[-1] - run.time[0])
    low, high = clock.offset + on - BEFORE, clock.offset + run.time[-1] + AFTER * length
    quiet = clock.offset + on if math.isfinite(clock.sigma) else math.nan
    series = [s for one in wanted if (s := _series(one, low, high, quiet, settings)) is not None]
    if not series:
        raise refused(trace.path.name, "has fewer than three samples in the time of the run; is its clock right?")
    notes += [text for one in wanted if (text := _lone_samples(one)) is not None]
    gaps = dict.fromkeys(f"{a:.6g} to {b:.6g} s" for one in wanted for a, b in lost_data(one.time))
    if gaps:
        notes.append(f"Gaps of the record, of which nothing is known: {', '.join(list(gaps)[:MOST_GAPS])} of the file.")
    return Experiment(name or trace.name, case, tuple(series), tuple(numbers), clock, (*trace.notes, *notes), trace)


def _lone_samples(channel: Channel) -> str | None:
    """What is said of samples that stand alone, far from both neighbours; None where there are none."""
    places = lone(channel.value)
    if not len(places):
        return None
    first = int(places[0])
    about = (channel.value[first] - channel.offset) / channel.factor
    beside = (channel.value[max(first - 1, 0)] - channel.offset) / channel.factor
    many = f"{len(places)} samples stand" if len(places) > 1 else "one sample stands"
    return (
        f"{channel.header}: {many} alone, far from both neighbours, the first {about:.6g} beside {beside:.6g} at "
        f"{channel.time[first]:.6g} s of the file. A wrong digit, or a disturbance? It is not left out, and counts little in a fit."
    )


MEANINGS = {one.name: one.meaning for one in MEASURES} | {
    name: f"running friction of the {seal} seal per length of rubbing line" for name, seal in SEAL_FRICTION.items()
}
