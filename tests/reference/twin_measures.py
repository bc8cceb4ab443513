"""Measures of a finished run of the twin, by the definitions of MODEL.md section 7, and its trajectory for plots.

Crossings are found on the dense output of each segment, between the integrator's own steps.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from scipy.optimize import brentq

if TYPE_CHECKING:
    from twin import Run, Segment

NEARLY_FULL = 0.02
"""Of full lift: within this counts as fully open (MODEL.md section 7)."""
PER_STEP = 2
"""Samples of the trajectory per step of the integrator: its end and its middle, so that peaks are not missed."""
SIGNALS = {
    "supply_pressure": "p_supply",
    "tube_pressure": "p_tube",
    "lift_chamber_pressure": "p_lift",
    "spring_side_pressure": "p_spring",
    "valve_opening": "opening",
    "fill_flow": "w_fill",
    "exhaust_flow": "w_exhaust",
    "chamber_pressure": "p_c",
    "gap_pressure": "p_i",
    "oxidizer_manifold_pressure": "p_ox",
    "fuel_manifold_pressure": "p_fuel",
    "oxidizer_injector_flow": "w_ox",
    "fuel_injector_flow": "w_fuel",
    "oxidizer_flow": "a_ox",
    "fuel_flow": "a_fuel",
    "oxidizer_line_flow": "line_ox",
    "fuel_line_flow": "line_fuel",
    "net_force": "net",
    "breakaway": "breakaway",
}
"""Trace -> signal of the right-hand side."""


def _signal(run: Run, segment: Segment, t: float, name: str) -> float:
    return run.machine.evaluate(t, segment.solution(t))[1].get(name, 0.0)


def traces_of(run: Run) -> tuple[dict[str, np.ndarray], dict[str, Any]]:
    """Arrays over the whole run and, per segment, where its samples lie (both ends of a segment are kept)."""
    m = run.machine
    count = m.evaluations
    rows: list[list[float]] = []
    times: list[float] = []
    states: list[np.ndarray] = []
    spans: list[tuple[int, int]] = []
    names = [
        s
        for s in SIGNALS.values()
        if not (m.dry and s in ("p_ox", "p_fuel", "w_ox", "w_fuel", "a_ox", "a_fuel", "line_ox", "line_fuel"))
    ]
    for segment in run.segments:
        m.restore(segment.discrete)
        begin = len(times)
        knots = segment.times
        for k, t in enumerate(knots):
            if k:
                middle = 0.5 * (knots[k - 1] + t)
                samples = [(middle, segment.solution(middle)), (t, segment.states[:, k])]
            else:
                samples = [(t, segment.states[:, k])]
            for time, y in samples:
                s = m.evaluate(time, y)[1]
                times.append(time)
                states.append(np.array(y))
                rows.append([s.get(n, 0.0) for n in names])
        spans.append((begin, len(times)))
    table, ys = np.array(rows), np.array(states)
    traces: dict[str, np.ndarray] = {"time": np.array(times)}
    for trace, signal in SIGNALS.items():
        if signal in names:
            traces[trace] = table[:, names.index(signal)]
    traces["lift"], traces["speed"] = ys[:, 0], ys[:, 1]
    for node, i in (
        ("tube", m.i_tube),
        ("lift_chamber", m.i_lift),
        ("spring_side", m.i_spring),
        ("plenum", m.i_plenum),
    ):
        if i >= 0:
            traces[f"{node}_temperature"] = ys[:, i + 1]
    if m.hot:
        traces["unburned_oxidizer"], traces["unburned_fuel"] = ys[:, m.i_chamber], ys[:, m.i_chamber + 1]
    m.evaluations = count
    return traces, {"spans": spans, "last": ys[-1], "states": ys}


def crossings(
    run: Run, traces: dict[str, np.ndarray], spans: list[tuple[int, int]], trace: str, level: float, up: bool
) -> list[float]:
    """Every instant at which a trace passes a level in one direction; a jump between segments counts at the jump."""
    m = run.machine
    t, f = traces["time"], traces[trace] - level
    found: list[float] = []
    signal = SIGNALS.get(trace)
    previous: float | None = None
    for (a, b), segment in zip(spans, run.segments):
        if previous is not None and ((previous < 0 <= f[a]) if up else (previous > 0 >= f[a])):
            found.append(float(t[a]))
        m.restore(segment.discrete)
        for i in range(a, b - 1):
            if (f[i] < 0 <= f[i + 1]) if up else (f[i] > 0 >= f[i + 1]):
                if f[i + 1] == 0:
                    found.append(float(t[i + 1]))
                    continue

                def g(s: float, segment: Segment = segment) -> float:
                    if signal is None:
                        return float(segment.solution(s)[0]) - level
                    return _signal(run, segment, s, signal) - level

                ends = g(t[i]), g(t[i + 1])
                found.append(brentq(g, t[i], t[i + 1], xtol=1e-13) if ends[0] * ends[1] < 0 else float(t[i + 1]))
        previous = float(f[b - 1])
    return found


def _before(run: Run, traces: dict[str, np.ndarray], spans: list[tuple[int, int]], instant: float) -> int:
    """Index of the last sample of the segment that ends at (or holds) an instant."""
    index = 0
    for (a, b), segment in zip(spans, run.segments):
        if segment.start >= instant:
            break
        index = b - 1
        if segment.end > instant:
            index = a + int(np.searchsorted(traces["time"][a:b], instant, side="right")) - 1
    return index


class Pulse(NamedTuple):
    """From an on command to the next: instants of both commands, of their effects (None: none), of the end, s."""

    on: float
    off: float
    until: float
    opens: float | None
    releases: float | None


def pulses(run: Run) -> list[Pulse]:
    """The pulses that began, by the commands that change anything."""
    m = run.machine
    takes = {(e.command, e.opens): e.effect for e in m.edges}
    edges: list[tuple[float, bool]] = []
    for t, opens in sorted([(t, True) for t in m.on] + [(t, False) for t in m.off]):
        if opens != bool(edges and edges[-1][1]):
            edges.append((t, opens))
    out = []
    for k in range(0, len(edges), 2):
        on = edges[k][0]
        off = edges[k + 1][0] if k + 1 < len(edges) else math.inf
        until = edges[k + 2][0] if k + 2 < len(edges) else math.inf
        if k == 0 or on < run.t:
            out.append(Pulse(on, off, until, takes.get((on, True)), takes.get((off, False))))
    return out or [Pulse(math.inf, math.inf, math.inf, None, None)]


def pulses_of(
    run: Run, traces: dict[str, np.ndarray], details: dict[str, Any]
) -> tuple[list[tuple[str, dict[str, float | None]]], str]:
    """((outcome, measures) of each pulse, outcome of the run: that of the first that did not open and close)."""
    found = pulses(run)
    told = []
    for k, pulse in enumerate(found):
        M, outcome = measures_of(run, traces, details, pulse, k == 0, k == len(found) - 1)
        told.append((outcome, M))
    return told, next((outcome for outcome, _ in told if outcome != "opened-and-closed"), told[0][0])


def mode_at(run: Run, instant: float) -> str:
    """Mode of the sleeve just before an instant."""
    return [mode for t, mode in run.modes if t < instant or t == 0.0][-1]


def measures_of(
    run: Run, traces: dict[str, np.ndarray], details: dict[str, Any], pulse: Pulse, first: bool, last: bool
) -> tuple[dict[str, float | None], str]:
    """(measures of a pulse, its outcome)."""
    m, spans = run.machine, details["spans"]
    x = traces["lift"]
    M: dict[str, float | None] = {}
    on, off, until = pulse.on, pulse.off, pulse.until
    begins_lifted = not first and mode_at(run, on) != "seated"
    M["energize_time"] = on if on < math.inf else None
    M["deenergize_time"] = off if off < math.inf else None
    lifts = [s for s in run.lifts if on <= s < until]
    first_lift = on if begins_lifted else min(lifts, default=math.inf)
    ending = off if pulse.releases is not None else math.inf
    if not m.dry:
        shut = min(m.ox_line.shuts(on), m.fuel_line.shuts(on))
        ending = min(ending, shut) if shut < until else ending
    full = (1 - NEARLY_FULL) * m.stroke
    shown = min(ending, until, run.t)
    index = _before(run, traces, spans, shown)
    fully_open = first_lift < math.inf and x[index] >= full
    M["valve_delay"] = None if pulse.opens is None else pulse.opens - on
    M["fill_delay"] = M["breakaway_pressure"] = M["travel_time"] = None
    if first_lift < math.inf and not begins_lifted:
        M["breakaway_pressure"] = float(traces["lift_chamber_pressure"][_before(run, traces, spans, first_lift)])
        if pulse.opens is not None:
            M["fill_delay"] = first_lift - pulse.opens
        ups = [c for c in crossings(run, traces, spans, "lift", full, True) if first_lift <= c <= shown] if fully_open else []
        if ups:
            M["travel_time"] = ups[-1] - first_lift
    parts = [M["valve_delay"], M["fill_delay"], M["travel_time"]]
    M["opening_time"] = None if None in parts else sum(parts)
    M["stop_impact_speed"] = max((v for s, v in run.stop_impacts if on <= s < until), default=None)
    closed = (m.mode if until > run.t else mode_at(run, until)) == "seated"
    _closing(run, M, pulse, first_lift, closed)
    end = len(traces["time"]) - 1 if until > run.t else _before(run, traces, spans, until)
    begin = 0 if first else _before(run, traces, spans, on)
    cut = {name: values[begin : end + 1] for name, values in traces.items()}
    if not m.dry:
        _flows(run, M, traces, cut, spans, pulse, ending)
    _ignition(run, M, cut, pulse, first)
    states = details["states"]
    M["gas_per_cycle"] = float(states[end][m.i_filled] - states[begin][m.i_filled])
    M["gas_used"] = float(details["last"][m.i_filled])
    names = [n for n in traces if n.endswith("_temperature")]
    M["lowest_gas_temperature"] = float(min(cut[n].min() for n in names))
    return M, _outcome(run, pulse, first, last, first_lift, fully_open, closed)


def _closing(run: Run, M: dict[str, float | None], pulse: Pulse, first_lift: float, closed: bool) -> None:
    off, until = pulse.off, pulse.until
    M["release_delay"] = M["vent_delay"] = M["return_time"] = M["closing_time"] = None
    M["seat_impact_speed"] = max((v for s, v in run.seat_impacts if off <= s < until), default=None)
    M["seat_bounces"] = float(sum(1 for s in run.rebounds if off <= s < until))
    if pulse.releases is None or first_lift == math.inf:
        return
    M["release_delay"] = pulse.releases - off
    down = min((s for s in run.downward if off <= s < until), default=None)
    if down is None:
        return
    M["vent_delay"] = down - pulse.releases
    seatings = [s for s in run.seatings if off <= s < until]
    if closed and seatings:
        M["return_time"] = seatings[-1] - down
        M["closing_time"] = seatings[-1] - off


def _flows(
    run: Run,
    M: dict[str, float | None],
    traces: dict[str, np.ndarray],
    cut: dict[str, np.ndarray],
    spans: list[tuple[int, int]],
    pulse: Pulse,
    ending: float,
) -> None:
    m = run.machine
    on, off, until = pulse.on, pulse.off, pulse.until
    first: dict[str, float | None] = {}
    for side in ("ox", "fuel"):
        known = [t for which, t in run.arrivals if which == side and on <= t < until]
        if not known:  # remembered from an earlier pulse: the flow's own rise
            level = m.ox_threshold if side == "ox" else m.fuel_threshold
            trace = "oxidizer_flow" if side == "ox" else "fuel_flow"
            known = [c for c in crossings(run, traces, spans, trace, level, True) if on <= c < until]
        first[side] = min(known, default=None)
    M["first_oxidizer"], M["first_fuel"] = first["ox"], first["fuel"]
    both = None if None in first.values() else max(first.values())
    M["both_in_chamber"] = both
    M["oxidizer_lead"] = None if both is None else first["fuel"] - first["ox"]
    M["closed_leak_oxidizer"], M["closed_leak_fuel"] = m.ox_leak, m.fuel_leak
    M["peak_oxidizer_manifold"] = float(cut["oxidizer_manifold_pressure"].max())
    M["peak_fuel_manifold"] = float(cut["fuel_manifold_pressure"].max())
    for side, threshold in (("oxidizer", m.ox_threshold), ("fuel", m.fuel_threshold)):
        trace = f"{side}_flow"
        M[f"steady_{side}_flow"] = M[f"full_{side}"] = M[f"flow_ramp_time_{side}"] = M[f"last_{side}"] = None
        if ending <= run.t:
            steady = float(traces[trace][_before(run, traces, spans, ending)])
            M[f"steady_{side}_flow"] = steady
            if steady > 0 and first["ox" if side == "oxidizer" else "fuel"] is not None:
                ups = [
                    [c for c in crossings(run, traces, spans, trace, k * steady, True) if on <= c <= ending]
                    for k in (0.95, 0.1, 0.9)
                ]
                if ups[0]:
                    M[f"full_{side}"] = ups[0][-1]
                if ups[1] and ups[2]:
                    M[f"flow_ramp_time_{side}"] = ups[2][-1] - ups[1][0]
        shut = (m.ox_line if side == "oxidizer" else m.fuel_line).shuts(on)
        ends = min(off, shut) if shut < until else off
        if ends <= run.t:
            downs = [c for c in crossings(run, traces, spans, trace, threshold, False) if ends <= c < until]
            lingered = [(a, b) for which, a, b in run.lingered if which == ("ox" if side == "oxidizer" else "fuel")]
            downs = [c for c in downs if not any(a < c <= b + 1e-9 for a, b in lingered)]
            if downs and cut[trace][-1] < threshold:
                M[f"last_{side}"] = downs[-1]
        M[f"{side}_in_stop"] = None
        if ending < run.t and cut[trace][-1] < threshold:
            counts = (traces["time"] >= ending) & (traces["time"] <= (M[f"last_{side}"] or -math.inf))
            entering = np.maximum(traces[trace][counts], 0.0)
            M[f"{side}_in_stop"] = float(np.trapezoid(entering, traces["time"][counts]))
    if M["last_oxidizer"] is not None and M["last_fuel"] is not None:
        M["shutdown_oxidizer_lag"] = M["last_oxidizer"] - M["last_fuel"]
    both_flow = (traces["oxidizer_flow"] > 0.1 * m.ox_reference) & (traces["fuel_flow"] > 0.1 * m.fuel_reference)
    both_flow &= (traces["time"] >= on) & (traces["time"] <= min(ending, until))
    if both_flow.any():
        ratio = traces["oxidizer_flow"][both_flow] / traces["fuel_flow"][both_flow]
        M["mixture_ratio_min"], M["mixture_ratio_max"] = float(ratio.min()), float(ratio.max())


def _pool_pressure(run: Run, oxidizer: float, fuel: float) -> float:
    m = run.machine
    from twin_parts import gamma_function

    total = oxidizer + fuel
    if total <= 0:
        return m.ambient_pressure
    square, g = m.pooling.at(oxidizer / total)
    p = g * total * gamma_function(g) ** 2 * square / m.volume
    return p * max(1.0, p / 5e5) ** 0.03 + m.ambient_pressure


def _ignition(run: Run, M: dict[str, float | None], cut: dict[str, np.ndarray], pulse: Pulse, first: bool) -> None:
    m = run.machine
    if not m.hot:
        return
    begun = run.begun.get(pulse.on)
    lit = next((one for one in run.light_offs if (first or pulse.on <= one.instant) and one.instant < pulse.until), None)
    M["light_off"] = light = None if lit is None else lit.instant
    M["pooled_oxidizer"] = M["pooled_fuel"] = None
    if lit is not None:
        M["pooled_oxidizer"], M["pooled_fuel"] = lit.pool
    elif begun is None or not begun.lit:
        M["pooled_oxidizer"], M["pooled_fuel"] = float(cut["unburned_oxidizer"][-1]), float(cut["unburned_fuel"][-1])
    both = M["both_in_chamber"]
    M["light_off_lag"] = light - both if both is not None and light is not None else None
    M["hard_start_pressure"] = None
    if lit is not None and (lit.arrived or (both is not None and light >= both)):
        M["hard_start_pressure"] = _pool_pressure(run, *lit.pool)
    M["peak_chamber_pressure"] = float(cut["chamber_pressure"].max())
    if not first and begun is not None:
        M["pooled_before_command"] = (m.ox_leak + m.fuel_leak) * begun.pause
        M["unburned_oxidizer_at_command"] = begun.unburned


def latest_light_off(unlit: Run) -> float | None:
    """First time at which the pool of a run never lit would reach the allowable pressure."""
    m = unlit.machine
    allowable = m.case.chamber.allowable_pressure
    if allowable is None:
        return None
    i = m.i_chamber

    def excess(segment: Segment, t: float) -> float:
        y = segment.solution(t)
        return _pool_pressure(unlit, max(float(y[i]), 0.0), max(float(y[i + 1]), 0.0)) - allowable

    both = None if None in unlit.first.values() else max(unlit.first.values())
    if both is None:
        return None
    for segment in unlit.segments:
        knots = [max(segment.start, both), *[s for s in segment.times if s > both]]
        for a, b in zip(knots, knots[1:]):
            if excess(segment, b) >= 0:
                return a if excess(segment, a) >= 0 else brentq(lambda s, seg=segment: excess(seg, s), a, b, xtol=1e-12)
    return None


def _outcome(run: Run, pulse: Pulse, first: bool, last: bool, first_lift: float, fully_open: bool, closed: bool) -> str:
    m = run.machine
    if run.left_range is not None and last:
        return "left-gas-range"
    if first and any(s < m.first_on for s in run.lifts):
        return "lifted-without-command"  # R17
    if pulse.opens is None and not any(e.opens for e in m.edges if e.effect < pulse.on and first_lift < math.inf):
        return "valve-never-shifted"
    if first_lift == math.inf:
        return "never-broke-away"
    if not fully_open:
        return "hung-part-way"  # R13
    if pulse.off > run.t:
        return "opened-no-off-command"
    return "opened-and-closed" if closed else "did-not-close"
