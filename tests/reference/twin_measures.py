"""Measures of a finished run of the twin, by the definitions of MODEL.md section 7, and its trajectory for plots.

Crossings are found on the dense output of each segment, between the integrator's own steps.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

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
    return traces, {"spans": spans, "last": ys[-1]}


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


def measures_of(run: Run, traces: dict[str, np.ndarray], details: dict[str, Any]) -> tuple[dict[str, float | None], str]:
    """(measures, outcome)."""
    m, spans = run.machine, details["spans"]
    t, x = traces["time"], traces["lift"]
    M: dict[str, float | None] = {}
    on, off = m.first_on, m.off[-1] if m.off else math.inf
    M["energize_time"] = on if on < math.inf else None
    M["deenergize_time"] = off if off < math.inf else None
    opens = [e for e in m.edges if e.opens]
    lifts = [s for s in run.lifts if s >= on]
    first_lift = min(lifts, default=math.inf)
    # the off command that ends the first opening
    closers = [e for e in m.edges if not e.opens and e.effect > first_lift]
    ending = closers[0].command if closers else math.inf
    full = (1 - NEARLY_FULL) * m.stroke
    shown = min(ending, run.t)
    index = _before(run, traces, spans, shown)
    fully_open = first_lift < math.inf and x[index] >= full
    M["valve_delay"] = opens[0].effect - on if opens else None  # R12
    M["fill_delay"] = first_lift - opens[0].effect if opens and first_lift < math.inf else None
    M["travel_time"] = None
    if fully_open:
        ups = [c for c in crossings(run, traces, spans, "lift", full, True) if c <= shown]
        if ups:
            M["travel_time"] = ups[-1] - first_lift
    parts = [M["valve_delay"], M["fill_delay"], M["travel_time"]]
    M["opening_time"] = None if None in parts else sum(parts)
    M["breakaway_pressure"] = None
    if first_lift < math.inf:
        M["breakaway_pressure"] = float(traces["lift_chamber_pressure"][_before(run, traces, spans, first_lift)])
    M["stop_impact_speed"] = max((v for s, v in run.stop_impacts if s >= on), default=None)
    _closing(run, M, off, first_lift)
    if not m.dry:
        _flows(run, M, traces, spans, on, off, ending)
    _ignition(run, M, traces, details)
    M["gas_per_cycle"] = float(details["last"][m.i_filled])
    names = [n for n in traces if n.endswith("_temperature")]
    M["lowest_gas_temperature"] = float(min(traces[n].min() for n in names))
    return M, _outcome(run, M, opens, first_lift, fully_open, t)


def _closing(run: Run, M: dict[str, float | None], off: float, first_lift: float) -> None:
    m = run.machine
    M["release_delay"] = M["vent_delay"] = M["return_time"] = M["closing_time"] = None
    M["seat_impact_speed"] = max((v for s, v in run.seat_impacts if s >= off), default=None)
    M["seat_bounces"] = float(sum(1 for s in run.rebounds if s >= off))
    releases = [e for e in m.edges if not e.opens and e.command == off]
    if not releases or first_lift == math.inf:
        return
    release = releases[0].effect
    M["release_delay"] = release - off
    down = min((s for s in run.downward if s >= off), default=None)
    if down is None:
        return
    M["vent_delay"] = down - release
    if m.mode == "seated" and run.seatings and run.seatings[-1] >= off:
        M["return_time"] = run.seatings[-1] - down
        M["closing_time"] = run.seatings[-1] - off


def _flows(
    run: Run,
    M: dict[str, float | None],
    traces: dict[str, np.ndarray],
    spans: list[tuple[int, int]],
    on: float,
    off: float,
    ending: float,
) -> None:
    m = run.machine
    M["first_oxidizer"], M["first_fuel"] = run.first["ox"], run.first["fuel"]
    both = None if None in run.first.values() else max(run.first.values())
    M["both_in_chamber"] = both
    M["oxidizer_lead"] = None if both is None else run.first["fuel"] - run.first["ox"]
    M["closed_leak_oxidizer"] = m.ox_leak
    M["peak_oxidizer_manifold"] = float(traces["oxidizer_manifold_pressure"].max())
    M["peak_fuel_manifold"] = float(traces["fuel_manifold_pressure"].max())
    for side, threshold in (("oxidizer", m.ox_threshold), ("fuel", m.fuel_threshold)):
        trace = f"{side}_flow"
        M[f"steady_{side}_flow"] = M[f"full_{side}"] = M[f"flow_ramp_time_{side}"] = M[f"last_{side}"] = None
        if ending <= run.t:
            steady = float(traces[trace][_before(run, traces, spans, ending)])
            M[f"steady_{side}_flow"] = steady
            if steady > 0 and run.first["ox" if side == "oxidizer" else "fuel"] is not None:
                ups = [
                    [c for c in crossings(run, traces, spans, trace, k * steady, True) if on <= c <= ending]
                    for k in (0.95, 0.1, 0.9)
                ]
                if ups[0]:
                    M[f"full_{side}"] = ups[0][-1]
                if ups[1] and ups[2]:
                    M[f"flow_ramp_time_{side}"] = ups[2][-1] - ups[1][0]
        if off <= run.t:
            downs = [c for c in crossings(run, traces, spans, trace, threshold, False) if c >= off]
            if downs and traces[trace][-1] < threshold:
                M[f"last_{side}"] = downs[-1]
    if M["last_oxidizer"] is not None and M["last_fuel"] is not None:
        M["shutdown_oxidizer_lag"] = M["last_oxidizer"] - M["last_fuel"]
    both_flow = (traces["oxidizer_flow"] > 0.1 * m.ox_reference) & (traces["fuel_flow"] > 0.1 * m.fuel_reference)
    both_flow &= (traces["time"] >= on) & (traces["time"] <= ending)
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
    return g * total * gamma_function(g) ** 2 * square / m.volume + m.ambient_pressure


def _ignition(run: Run, M: dict[str, float | None], traces: dict[str, np.ndarray], details: dict[str, Any]) -> None:
    m = run.machine
    if not m.hot:
        return
    M["light_off"] = run.light_off
    i = m.i_chamber
    pool = run.pool if run.pool is not None else (float(details["last"][i]), float(details["last"][i + 1]))
    M["pooled_oxidizer"], M["pooled_fuel"] = pool
    both = M["both_in_chamber"]
    M["light_off_lag"] = run.light_off - both if both is not None and run.light_off is not None else None
    M["hard_start_pressure"] = None
    if both is not None and run.light_off is not None and run.light_off >= both:
        M["hard_start_pressure"] = _pool_pressure(run, *pool)
    M["peak_chamber_pressure"] = float(traces["chamber_pressure"].max())


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


def _outcome(run: Run, M: dict[str, float | None], opens: list[Any], first_lift: float, fully_open: bool, t: np.ndarray) -> str:
    m = run.machine
    if run.left_range is not None:
        return "left-gas-range"
    if any(s < m.first_on for s in run.lifts):
        return "lifted-without-command"  # R17
    if not opens:
        return "valve-never-shifted"
    if first_lift == math.inf:
        return "never-broke-away"
    if not fully_open:
        return "hung-part-way"  # R13
    if not m.off or m.off[-1] < m.on[-1] or m.off[-1] > run.t:
        return "opened-no-off-command"
    return "opened-and-closed" if m.mode == "seated" else "did-not-close"
