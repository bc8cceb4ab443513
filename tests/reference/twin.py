"""A second, independent formulation of the whole machine, for comparison with the program.

    supply -> fill port -> tube -> lift chamber -> piston leak -> spring side -> vent
    oxidizer line -> slots -> passage -> chamber;  fuel line -> seat gap, annulus -> passage -> chamber -> throat

Written from MODEL.md alone, in plain Python; scipy's `solve_ivp` (rtol 1e-8) between discrete events, gas states
(rho, T) straight from CoolProp, liquid side as manifold pressure B z/V; nothing shared with `sim/` but the case loader.
Forces and lift are positive in the opening direction. Every discrete change (modes, impacts, edges, tables, light-off)
ends a segment. Parts: `twin_gas`, `twin_parts`, `twin_machine` (equations), this file (modes, events), `twin_measures`.

Readings taken where MODEL.md leaves room (Rn in the code's comments):

 R1  the supersaturation limit of 5 K is measured from the saturation temperature at the node's own density; the bottle
     counts as a node of this check.
 R2  dry case: the space p_i is at ambient (no liquid, so no throttling formula); the post seal faces ambient; there is
     no post leak.
 R3  the post leak is shut while the slots are covered and opens over the first 0.1 mm of uncovering, as the pressure in
     front of that seal passes; also where the seal faces the chamber (drain groove), which changes its friction only.
 R4  `friction_factor` scales running and breakaway force of the seals, not the viscous term; v_s = 0 keeps c |v|.
 R5  "reference" and "closed leak" are taken at the inlet pressure of the first on command; lines start from the leak at
     p_inlet(0), and from rest with z = 0 where that inlet is below the vapour pressure.
 R6  the mixture of the flows at the ignition check is the ratio of the flows arriving in the chamber, leak included.
 R7  a light-off given as a time lights there whatever is in the chamber; unburned masses count from the first on.
 R8  passage: draining holds in mode seated, and from a seat contact once it was full (passing); it fills when the sleeve leaves
     its seat from rest; one that drains behind a lifted sleeve passes on what comes once that exceeds what it loses.
 R9  reverse injector flow leaves unburned masses unchanged, before light-off too; a passage's content is not taken
     below 0.
 R10 seat and slot tables of lift against area are read linearly, constant outside.
 R11 gas drawn in from ambient is actuation gas at ambient temperature; so is the chamber's gas through the post leak,
     unlit, at the pressure in front of it.
 R12 a pulse begins at an on command and ends at the next; measures are the first pulse's, each pulse has its own. A cancelled
     on command has no valve_delay.
 R13 hung-part-way without an off command that takes effect is judged at the end of the pulse.
 R14 the coil's pull-in starts from the current then flowing, like its release.
 R15 a given tube conductance replaces the tube formula only; a port restriction given beside it stays in series.
 R16 without an end, the run stops 0.1 s after the last time event and the last seating, 1 s after the former at the
     latest (the settling rule is the program's own; compare runs with an end given).
 R17 lifted-without-command looks at lifts before the first on command only.
 R18 a sleeve stuck part-way moves again 0.1 % above breakaway, both ways; a seated one, and one at the stop, at breakaway.
 R19 what the step to ambient pressure of a chamber that goes out lifts above its level has not arrived, and ends nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from scipy.integrate import solve_ivp
from twin_machine import DOWN, SEATED, STOP, STUCK, UP, Machine
from twin_measures import latest_light_off, pulses_of, traces_of

SPEED_BIAS = 1e-11
"""m/s by which a crossing of zero speed is looked for late, so that a start from rest is not one (1 ps at 10 m/s2)."""
SETTLED, LATEST_END = 0.1, 1.0
"""s beyond the last time event at which a run without an end stops: seated for so long, and at the latest (R16)."""
STUCK_HOLDS = 1.001
"""-. Of breakaway: a sleeve stuck part-way moves again above this (MODEL.md section 4)."""
MOST_SEGMENTS = 20000
"""A hang is a failure of the twin, not a wait."""


@dataclass
class TwinResult:
    """What a run of the twin left: measures (SI, None where it did not happen), modes, outcome, trajectory arrays."""

    measures: dict[str, float | None]
    modes: list[tuple[float, str]]
    outcome: str
    traces: dict[str, np.ndarray]
    end: float
    evaluations: int
    segments: int
    contacts: list[tuple[float, str]] = field(default_factory=list)
    """Instants of contact with "stop" or "seat", bounces included."""
    pulses: list[tuple[str, dict[str, float | None]]] = field(default_factory=list)
    """Outcome and measures of each pulse that began; `measures` are the first's, `outcome` that of the first that did not open
    and close."""


@dataclass
class Segment:
    """A stretch between two discrete changes with its dense solution and the discrete state that held."""

    start: float
    end: float
    solution: Any
    times: np.ndarray
    states: np.ndarray
    discrete: dict[str, Any]


class LightOff(NamedTuple):
    """A light-off: its instant, the unburned masses, whether both propellants had arrived."""

    instant: float
    pool: tuple[float, float]
    arrived: bool


class Begun(NamedTuple):
    """How a pulse begins: sleeve lifted, chamber lit, s for which the leak was kept apart, unburned oxidizer kg."""

    lifted: bool
    lit: bool
    pause: float
    unburned: float


# ------------------------------------------------------------------------------------------------------------ run
class Guard:
    """A terminal event of `solve_ivp`.

    It answers the ends of the last step with what it said there: the interpolant may differ from the step's end by the
    last digit, and the root finder must see the change of sign that the step saw.
    """

    terminal = True

    def __init__(self, g: Any, direction: float) -> None:
        self.g, self.direction = g, direction
        self.before = self.after = (-math.inf, 0.0)

    def __call__(self, t: float, y: np.ndarray) -> float:
        for time, value in (self.before, self.after):
            if t == time:
                return value
        value = float(self.g(t, y))
        if t > self.after[0]:
            self.before, self.after = self.after, (t, value)
        return value


class Run:
    """The hybrid loop: segments of `solve_ivp` between discrete changes."""

    def __init__(self, case: Any, t_end: float | None, ignite: bool, rtol: float, method: str) -> None:
        self.machine = Machine(case, ignite)
        m = self.machine
        given = case.run.end if t_end is None else t_end
        self.last_known = max([*m.known, 0.0])
        self.end = self.last_known + LATEST_END if given is None else given  # R16
        self.settles = given is None
        self.rtol, self.method = rtol, method
        self.t, self.y = 0.0, m.start.copy()
        self.segments: list[Segment] = []
        self.modes: list[tuple[float, str]] = [(0.0, SEATED)]
        self.lifts: list[float] = []  # leaving the seat from rest
        self.seatings: list[float] = []  # coming to rest on the seat
        self.downward: list[float] = []  # breakaway or reversal downward, rebounds not counted
        self.stop_impacts: list[tuple[float, float]] = []
        self.seat_impacts: list[tuple[float, float]] = []
        self.rebounds: list[float] = []  # rebounds that leave the seat
        self.first: dict[str, float | None] = {"ox": None, "fuel": None}
        self.lingering: dict[str, float] = {}
        self.lingered: list[tuple[str, float, float]] = []
        self.spark: float | None = None  # the instant all conditions of ignition hold
        self.arrivals: list[tuple[str, float]] = []
        self.light_offs: list[LightOff] = []
        self.outs: list[float] = []
        self.pool_closed: float | None = None  # since then what leaks is kept apart
        self.begun: dict[float, Begun] = {}
        self.left_range: float | None = None

    # -- discrete changes
    def _set_mode(self, mode: str) -> None:
        m = self.machine
        leaving = m.mode == SEATED and mode != SEATED
        if leaving:
            self.lifts.append(self.t)
            m.counting = m.hot and self.t >= m.first_on
        m.mode = mode
        if mode == SEATED:
            self.y[0] = 0.0
            self.seatings.append(self.t)
            m.uncovered = m.lap < 0
        if mode == STOP:
            self.y[0] = m.stroke
        if mode in (SEATED, STOP, STUCK):
            self.y[1] = 0.0
        if mode == UP and self.y[0] >= m.lap:
            m.uncovered = True
        if mode == DOWN and self.y[0] <= m.lap:
            m.uncovered = False
        self.modes.append((self.t, mode))
        self._dribble_volumes(leaving=leaving)
        m.touch()

    def _dribble_volumes(self, leaving: bool = False, bouncing: bool = False) -> None:
        """States of the passages: leaving the seat from rest, bouncing off it, or resting on it (R8)."""
        m = self.machine
        for side, i, content in (
            ("oxidizer", m.i_oxp, getattr(m, "ox_content", 0)),
            ("fuel", m.i_fuelp, getattr(m, "fuel_content", 0)),
        ):
            if i < 0:
                continue
            was = getattr(m, f"{side}_dribble")
            if m.mode == SEATED or (bouncing and was == "passing"):
                now = "draining"
            elif leaving:
                now = "filling" if self.y[i] < content else "passing"
            else:
                now = was
            setattr(m, f"{side}_dribble", now)

    def _signals(self) -> dict[str, float]:
        return self.machine.evaluate(self.t, self.y)[1]

    def _held(self, s: dict[str, float]) -> float:
        """N that a resting sleeve holds (R18)."""
        return s["breakaway"] * (STUCK_HOLDS if self.machine.mode == STUCK else 1.0)

    def _resolve(self) -> None:
        """Apply, in a fixed order, every discrete change whose condition already holds at this instant."""
        m = self.machine
        for _ in range(50):
            s = self._signals()
            held = self._held(s)
            excess_up, excess_down = s["net"] - held, -s["net"] - held
            if m.mode == SEATED and excess_up > 0:
                self._set_mode(UP)
            elif m.mode == STOP and excess_down > 0:
                self.downward.append(self.t)
                self._set_mode(DOWN)
            elif m.mode == STUCK and excess_up > 0:
                self._set_mode(UP)
            elif m.mode == STUCK and excess_down > 0:
                self.downward.append(self.t)
                self._set_mode(DOWN)
            elif self._resolve_flows(s):
                continue
            else:
                return
        raise RuntimeError(f"twin: modes do not settle at {self.t}")

    def _arrive(self, side: str) -> None:
        m = self.machine
        self.first[side] = self.t
        self.arrivals.append((side, self.t))
        m.counting = m.hot

    def _fallen(self, side: str) -> None:
        """What the step to ambient pressure of a chamber gone out had lifted above its level is below it (R19)."""
        self.lingered.append((side, self.lingering.pop(side), self.t))

    def _drained(self) -> list[tuple[str, int, float, float]]:
        """Passages that drain behind a lifted sleeve: (side, place of the content, time constant, flow of the injector)."""
        m = self.machine
        if m.mode == SEATED:
            return []
        s = self._signals()
        sides = []
        if m.i_oxp >= 0 and m.oxidizer_dribble == "draining":
            sides.append(("oxidizer", m.i_oxp, m.ox_tau, s["w_ox"]))
        if m.i_fuelp >= 0 and m.fuel_dribble == "draining":
            sides.append(("fuel", m.i_fuelp, m.fuel_tau, s["w_fuel"]))
        return sides

    def _resolve_flows(self, s: dict[str, float]) -> bool:
        m = self.machine
        if m.dry:
            return False
        if self.t >= m.first_on:
            for side, flow, threshold in (("ox", s["a_ox"], m.ox_threshold), ("fuel", s["a_fuel"], m.fuel_threshold)):
                if side in self.lingering:
                    if flow < threshold:
                        self._fallen(side)
                        return True
                elif self.first[side] is None and flow > threshold:
                    self._arrive(side)
                    return True
        for side, i, tau, flow in self._drained():
            if flow > max(self.y[i], 0.0) / tau:
                setattr(m, f"{side}_dribble", "passing")
                m.touch()
                return True
        out = self._out(s)
        if out is not None and out < 0:
            self._pass_out(s)
            return True
        if m.igniter is None or m.lit:
            return False
        if m.given_light_off is not None:
            if self.t >= m.given_light_off and not self.light_offs:
                self._light()
                return True
            return False
        if self.spark is None and self._conditions(self.t, s):
            self.spark = self.t
            return True
        if self.spark is not None and self.t >= self.spark + m.igniter.delay:
            self._light()
            return True
        return False

    def _conditions(self, t: float, s: dict[str, float]) -> bool:
        m = self.machine
        return (
            self.first["ox"] is not None
            and self.first["fuel"] is not None
            and any(a <= t < b for a, b in m.windows)
            and self._mixture(s) >= 0
        )

    def _mixture(self, s: dict[str, float]) -> float:
        """Not negative while the mixture of the flows is inside the ignitable range (R6)."""
        limits = self.machine.igniter.ignitable_mixture
        if limits is None:
            return 1.0
        o, f = s["a_ox"], s["a_fuel"]
        if o <= 0 or f <= 0:
            return -1.0
        return min(o / f - limits[0], limits[1] - o / f)

    def _light(self) -> None:
        m = self.machine
        i = m.i_chamber
        pool = (float(self.y[i]), float(self.y[i + 1]))
        self.light_offs.append(LightOff(self.t, pool, None not in self.first.values()))
        m.lit, m.burning_up = True, False
        m.touch()

    # -- events
    def _events(self) -> list[tuple[str, Any]]:
        m = self.machine
        events: list[tuple[str, Any]] = []

        def add(name: str, g: Any, direction: float) -> None:
            events.append((name, Guard(g, direction)))

        def signal(t: float, y: np.ndarray) -> dict[str, float]:
            return m.evaluate(t, y)[1]

        def up(t: float, y: np.ndarray) -> float:
            s = signal(t, y)
            return s["net"] - self._held(s)

        def down(t: float, y: np.ndarray) -> float:
            s = signal(t, y)
            return -s["net"] - self._held(s)

        if m.mode in (SEATED, STUCK):
            add("break up", up, 1)
        if m.mode in (STUCK, STOP):
            add("break down", down, 1)
        if m.mode == UP:
            add("stop", lambda t, y: y[0] - m.stroke, 1)
            add("rest", lambda t, y: y[1] + SPEED_BIAS, -1)
        if m.mode == DOWN:
            add("seat", lambda t, y: y[0], -1)
            add("rest", lambda t, y: y[1] - SPEED_BIAS, 1)
        if m.mode in (UP, DOWN) and not m.dry:
            sign = 1.0 if m.mode == UP else -1.0
            if m.post_leak.area > 0 and sign * (m.lap - self.y[0]) > 0:
                add("lap", lambda t, y: y[0] - m.lap, sign)
            if m.seat.spigot > 0 and sign * (m.seat.spigot - self.y[0]) > 0:
                add("spigot", lambda t, y: y[0] - m.seat.spigot, sign)
        add("range", lambda t, y: signal(t, y)["margin"], -1)
        if not m.dry:
            if self.t >= m.first_on:
                if self.first["ox"] is None:
                    add("flow", lambda t, y: signal(t, y)["a_ox"] - m.ox_threshold, -1 if "ox" in self.lingering else 1)
                if self.first["fuel"] is None:
                    add("flow", lambda t, y: signal(t, y)["a_fuel"] - m.fuel_threshold, -1 if "fuel" in self.lingering else 1)
            if m.oxidizer_dribble == "filling" and m.i_oxp >= 0:
                add("oxidizer full", lambda t, y: y[m.i_oxp] - m.ox_content, 1)
            if m.fuel_dribble == "filling" and m.i_fuelp >= 0:
                add("fuel full", lambda t, y: y[m.i_fuelp] - m.fuel_content, 1)
            for side, i, tau, _ in self._drained():
                w = "w_ox" if side == "oxidizer" else "w_fuel"
                add(f"{side} full", lambda t, y, i=i, tau=tau, w=w: signal(t, y)[w] - max(y[i], 0.0) / tau, 1)
            if self._out(self._signals()) is not None:
                add("out", lambda t, y: self._out(signal(t, y)) or 0.0, -1)
            waiting = m.igniter is not None and m.given_light_off is None and self.spark is None and not m.lit
            if waiting and m.igniter.ignitable_mixture is not None and None not in self.first.values():
                add("mixture", lambda t, y: self._mixture(signal(t, y)), 1)
        return events

    def _apply(self, name: str) -> None:
        m, y = self.machine, self.y
        if name == "break up":
            self._set_mode(UP)
        elif name == "break down":
            self.downward.append(self.t)
            self._set_mode(DOWN)
        elif name == "stop":
            self._impact(y, m.stroke, m.e_stop, self.stop_impacts, STOP, DOWN)
        elif name == "seat":
            self._impact(y, 0.0, m.e_seat, self.seat_impacts, SEATED, UP)
        elif name == "rest":
            y[1] = 0.0
            m.touch()
            s = self._signals()
            if y[0] <= 0 or y[0] >= m.stroke:
                self._set_mode(SEATED if y[0] <= 0 else STOP)
            elif m.mode == UP:
                if -s["net"] > s["breakaway"]:
                    self.downward.append(self.t)
                    self._set_mode(DOWN)
                else:
                    self._set_mode(STUCK)
            else:
                self._set_mode(UP if s["net"] > s["breakaway"] else STUCK)
        elif name == "lap":
            y[0] = m.lap
            m.uncovered = m.mode == UP
            m.touch()
        elif name == "spigot":
            y[0] = m.seat.spigot
            m.touch()
        elif name.endswith("full"):
            setattr(m, f"{name.split()[0]}_dribble", "passing")
            m.touch()
        elif name == "flow":
            s = self._signals()
            for side, flow, threshold in (("ox", s["a_ox"], m.ox_threshold), ("fuel", s["a_fuel"], m.fuel_threshold)):
                if side in self.lingering:
                    if flow <= threshold * (1 + 1e-9):
                        self._fallen(side)
                elif self.first[side] is None and flow >= threshold * (1 - 1e-9):
                    self._arrive(side)
        elif name == "out":
            self._pass_out(self._signals())
        elif name == "mixture":
            if any(a <= self.t < b for a, b in m.windows):
                self.spark = self.t
        elif name == "range":
            self.left_range = self.t

    def _begin_pulse(self) -> None:
        """Take note of an on command: what flows in pools again, what leaked since the last flows ended is apart."""
        m = self.machine
        closed = self.pool_closed if self.pool_closed is not None and not m.counting else self.t
        if m.counts_before():
            for k, leak in enumerate((m.ox_leak, m.fuel_leak)):
                self.y[m.i_chamber + k] += leak * (self.t - closed)
            m.touch()
        self.begun[self.t] = Begun(m.mode != SEATED, m.lit, self.t - closed, self.y[m.i_chamber] if m.hot else 0.0)
        m.counting = m.hot

    def _off_and_shut(self, s: dict[str, float]) -> bool:
        """Command off, solenoid valve shut, sleeve seated."""
        m = self.machine
        off = self.t >= m.first_on and not any(a <= self.t < b for a, b in self._commanded())
        return off and m.mode == SEATED and s["opening"] <= 0.0

    def _flows_left(self, s: dict[str, float]) -> float:
        """Not positive where both flows are below the levels that count as last."""
        m = self.machine
        return max((s["a_ox"] - m.ox_threshold) / m.ox_reference, (s["a_fuel"] - m.fuel_threshold) / m.fuel_reference)

    def _out_level(self, s: dict[str, float]) -> float:
        """Pa below which a chamber that has burned is out: above ambient, or what its purge holds alone."""
        m = self.machine
        level = m.purge_holds(s["p_c"], s["g"]) if m.purging else m.ambient_pressure
        return level + max(0.02 * m.ambient_pressure, 0.01 * m.steady_pressure)

    def _out(self, s: dict[str, float]) -> float | None:
        """Guard of what comes next: burning (lit), going out (burning), the pool's close (unlit); falls through 0."""
        m = self.machine
        if not m.hot:
            return None
        if not m.lit:
            return self._flows_left(s) if m.counting and self._off_and_shut(s) else None
        above = s["p_c"] - self._out_level(s)
        if not m.burning_up:
            return -above / m.ambient_pressure
        return max(above / m.ambient_pressure, self._flows_left(s))

    def _pass_out(self, s: dict[str, float]) -> None:
        m = self.machine
        if m.lit and not m.burning_up:
            m.burning_up = True
            return
        if m.lit:
            m.lit = m.burning_up = False
            self.outs.append(self.t)
            self.first = {"ox": None, "fuel": None}
            self.spark = None
            i = m.i_chamber
            self.y[i + 2], self.y[i + 3] = m.start[i + 2], m.start[i + 3]
            m.touch()
            after = self._signals()
            for side, flow, threshold in (("ox", after["a_ox"], m.ox_threshold), ("fuel", after["a_fuel"], m.fuel_threshold)):
                if flow > threshold:
                    self.lingering[side] = self.t
            if not self._off_and_shut(s):
                return
        m.counting = False
        self.pool_closed = self.t
        m.touch()

    def _commanded(self) -> list[tuple[float, float]]:
        m = self.machine
        return [(a, min([o for o in m.off if o > a], default=math.inf)) for a in m.on]

    def _impact(self, y: np.ndarray, x: float, e: float, log: list[tuple[float, float]], rest: str, away: str) -> None:
        m = self.machine
        speed = abs(float(y[1]))
        log.append((self.t, speed))
        y[0] = x
        m.touch()
        if e * speed < m.rest_speed:
            self._set_mode(rest)
            return
        y[1] = e * speed if away == UP else -e * speed
        if away == UP:
            self.rebounds.append(self.t)
            self._dribble_volumes(bouncing=True)
        self._set_mode(away)

    # -- the loop
    def _settled(self) -> bool:
        """Nothing more to come, and seated long enough (R16)."""
        since = self.seatings[-1] if self.seatings else 0.0
        return self.settles and self.machine.mode == SEATED and self.t >= max(since, self.last_known) + SETTLED

    def go(self) -> None:
        """Integrate to the end, or to the edge of the gas range."""
        m = self.machine
        for _ in range(MOST_SEGMENTS):
            if self.t >= self.end or self.left_range is not None or self._settled():
                return
            if self.t in m.on and self.t not in self.begun:
                self._begin_pulse()
            stop = min([k for k in m.known if k > self.t] + [self.end])
            if self.settles and self.t >= self.last_known:
                stop = min(stop, self.t + SETTLED)
            m.set_pieces(self.t, stop)
            self._resolve()
            if self.spark is not None and not m.lit:
                stop = min(stop, self.spark + m.igniter.delay)
            self._segment(stop)
        raise RuntimeError(f"twin: more than {MOST_SEGMENTS} segments by {self.t} s")

    def _segment(self, stop: float) -> None:
        m = self.machine
        events = self._events()
        snapshot = m.snapshot()
        solution = solve_ivp(
            m.derivative,
            (self.t, stop),
            self.y,
            method=self.method,
            rtol=self.rtol,
            atol=m.atol,
            events=[e for _, e in events],
            dense_output=True,
        )
        if solution.status < 0:
            raise RuntimeError(f"twin: {solution.message} at {solution.t[-1]} in mode {m.mode}")
        self.segments.append(Segment(self.t, float(solution.t[-1]), solution.sol, solution.t, solution.y, snapshot))
        self.y = solution.y[:, -1].copy()
        self.t = float(solution.t[-1])
        m.touch()
        if solution.status == 1:
            for (name, _), times in zip(events, solution.t_events):
                if len(times):
                    self._apply(name)
        else:
            self.t = stop


def run_twin(
    case: Any,
    t_end: float | None = None,
    *,
    ignite: bool = True,
    rtol: float = 1e-8,
    method: str = "LSODA",
    latest: bool = False,
) -> TwinResult:
    """Run a case; `latest` adds the run never lit that `latest_light_off` needs."""
    run = Run(case, t_end, ignite, rtol, method)
    run.go()
    traces, details = traces_of(run)
    pulses, outcome = pulses_of(run, traces, details)
    measures = pulses[0][1]
    if latest and run.machine.hot:
        unlit = Run(case, t_end, False, rtol, method)
        unlit.go()
        measures["latest_light_off"] = latest_light_off(unlit)
    return TwinResult(
        measures,
        run.modes,
        outcome,
        traces,
        run.t,
        run.machine.evaluations,
        len(run.segments),
        sorted([(t, "stop") for t, _ in run.stop_impacts] + [(t, "seat") for t, _ in run.seat_impacts]),
        pulses,
    )
