"""The continuous equations of the reference twin: what the machine's state is and how fast it changes.

    bottle -> plenum -> fill port -> tube -> lift chamber -> piston leak -> spring side -> vent
    line -> manifold -> slots or seat gap -> passage -> chamber -> throat

State: lift and speed, (rho, T) of each gas node, per line its flow and the manifold's pressure above vapour (B z/V;
with trapped gas the manifold pressure itself), passage contents, unburned masses, gas and pressure of the chamber, gas
let in. The discrete state (mode, lit, uncovered, passages) is held by `Machine` and changed by `twin.Run` alone. Rn in
a comment is the reading of MODEL.md so numbered in `twin`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import brentq
from twin_gas import (
    AIR_R,
    AREA_OF_CONDUCTANCE,
    ORIFICE_CRITICAL_RATIO,
    Component,
    Element,
    Orifice,
    PerfectGas,
    RealGas,
    Stream,
    node_rates,
    one_way,
    series,
    stream_at,
    tube_component,
)
from twin_parts import (
    Broken,
    Propellants,
    Seat,
    Slots,
    coil_edges,
    dead_time_edges,
    gamma_function,
    opening_line,
    throat_ratio,
    turbulent_flow,
)
from twin_purge import ManifoldGas

GRAVITY = 9.80665
"""m/s2."""
UNCOVERING = 1e-4
"""m over which the post seal passes from manifold to chamber pressure (MODEL.md section 4)."""
HOTTEST_LEAK = 695.0
"""K, cap of the post leak's temperature (MODEL.md section 3)."""
HIGH_FROM, HIGH_FULL, LOW_FULL = 0.90, 0.95, 0.05
"""-. Fillings of the lift chamber between which a high opening passes to liquid; share of its dead volume for a low one."""
WETTED = 1e-4
"""s in which the last gas takes the liquid's temperature (MODEL.md section 3)."""
JOINT = 1e3
"""Pa of the liquid law's straight part (MODEL.md section 5)."""
SEATED, STUCK, UP, DOWN, STOP = "seated", "stuck", "sliding up", "sliding down", "at the stop"


# -------------------------------------------------------------------------------------------------------- building
def element_of(diameter: float | None, cd: float | None, component: Any) -> Element | None:
    """The restriction a table of the case gives: a component before an orifice; None when there is neither."""
    if component is not None:
        return Component(component.conductance * AREA_OF_CONDUCTANCE, component.critical_ratio, component.subsonic_index)
    if diameter is None or diameter <= 0:
        return None
    return Orifice(cd * math.pi / 4 * diameter**2)


def as_component(element: Element) -> Component:
    """An element inside a series combination."""
    if isinstance(element, Component):
        return element
    return Component(element.area, ORIFICE_CRITICAL_RATIO, 0.5)


def broken_of(constant: float | None, table: Any) -> Broken:
    """A constant or a table of pressure against time."""
    if table is not None:
        return Broken(list(table.time), list(table.pressure))
    return Broken([0.0], [constant])


def case_derives(case: Any, path: str) -> bool:
    """Whether the loader derived a value: the twin then derives it again by itself."""
    return case.origin.get(path) == "derived"


@dataclass
class Line:
    """One feed line: inertance L/A, loss K, liquid volume, stiffness; state (w, P), P = B z/V; p_m with trapped gas.

    With a run valve the volume is the manifold's and the line's own, ahead of it, has a state P_ahead = B z_line/(A L).
    """

    inlet: Broken
    inertance: float
    loss: float
    volume: float
    bulk: float
    rho: float
    vapour: float
    trapped_gas: float
    index: float
    ambient: float
    swept: float
    valve_area: float = 0.0
    share: Broken | None = None
    check: bool = False
    ahead_volume: float = 0.0
    locked: float = 0.0

    def shuts(self, on: float) -> float:
        """First instant from `on` at which the run valve begins to shut, s; inf where it does not."""
        if self.share is None:
            return math.inf
        knots = list(zip(self.share.times, self.share.values))
        return min((t for (t, a), (_, b) in zip(knots, knots[1:]) if t >= on and b < a), default=math.inf)

    def through_valve(self, area: float, dp: float) -> float:
        """Flow, kg/s, through the run valve of this effective area, m2."""
        if self.check and dp < 0:
            return 0.0
        return turbulent_flow(area, self.rho, dp)

    def valve_loss(self, w: float) -> float:
        """Pressure that the open run valve takes of w, Pa."""
        if self.valve_area == 0 or w == 0:
            return 0.0
        most = 1.0 + 2 * (w / self.valve_area) ** 2 / (2 * self.rho) + 10 * abs(w) / self.valve_area
        return brentq(lambda dp: turbulent_flow(self.valve_area, self.rho, dp) - w, -most, most, xtol=1e-9, rtol=1e-14)

    def pressure(self, P: float) -> float:
        """Manifold pressure, Pa, of the state."""
        if self.trapped_gas > 0:
            return max(P, 1.0)
        return self.vapour + P if P > 0 else self.vapour

    def rate(self, P: float, dz: float) -> float:
        """dP/dt of the state for a rate dz of the compressed volume, m3/s."""
        if self.trapped_gas > 0:
            p = max(P, 1.0)
            slope = self.volume / self.bulk + self.trapped_gas / (self.index * p) * (self.ambient / p) ** (1 / self.index)
            return dz / slope
        return self.bulk / self.volume * dz

    def start(self, leak: Any) -> tuple[float, float]:
        """(w, P) steady with a leak(p_m) kg/s at p_inlet(0)."""
        inlet = self.inlet.at(0.0)
        if inlet <= self.vapour and self.trapped_gas <= 0:
            return 0.0, 0.0
        w = self.steady(leak, inlet)
        p = inlet - self.loss * w * abs(w) - self.valve_loss(w)
        if self.share is not None and self.share.at(0.0) == 0:
            w, p = 0.0, self.locked
        return w, (p if self.trapped_gas > 0 else p - self.vapour)

    def steady(self, flow: Any, inlet: float) -> float:
        """Steady flow, kg/s, of line and throttle(p_m) in series."""

        def gap(w: float) -> float:
            return flow(inlet - self.loss * w * abs(w) - self.valve_loss(w)) - w

        free = flow(inlet)
        if free == 0:
            return 0.0
        return brentq(gap, min(0.0, 1.01 * free), max(0.0, 1.01 * free), xtol=1e-16, rtol=1e-13)


def valve_of(side: Any, ahead_volume: float) -> dict[str, Any]:
    """A run valve: Cd A when open (Kv: m3/h of water, 1000 kg/m3, at 1 bar), and the share of it that is open over time."""
    valve = side.valve
    area = valve.effective_area
    if area is None:
        kv = valve.kv if valve.kv is not None else valve.cv * (3.785411784e-3 * 60) / math.sqrt(6894.757293168 / 1e5)
        area = kv / 3600 / math.sqrt(2 * 1e5 / 1000)
    edges = [(t, True) for t in valve.on] + [(t, False) for t in valve.off]
    times, travels = [0.0], [1.0 if valve.open_at_start else 0.0]
    for i, (t, opens) in enumerate(sorted(edges)):
        until = sorted(edges)[i + 1][0] if i + 1 < len(edges) else math.inf
        y = Broken(times, travels).at(t)
        goal, speed = (1.0, 1 / valve.opening_time) if opens else (0.0, 1 / valve.closing_time)
        arrive = t + abs(goal - y) / speed
        times.append(t)
        travels.append(y)
        times.append(min(arrive, until))
        travels.append(goal if arrive <= until else y + (until - t) * speed * (1 if opens else -1))
    if valve.travel is not None:  # a table is followed by splitting each stroke finely at its entries
        fine_t, fine_s = [], []
        table = Broken(list(valve.travel.travel), list(valve.travel.share))
        for t0, y0, t1, y1 in zip(times, travels, times[1:], travels[1:]):
            marks = sorted({0.0, 1.0, *((y - y0) / (y1 - y0) for y in valve.travel.travel if min(y0, y1) < y < max(y0, y1))})
            fine_t += [t0 + (t1 - t0) * k for k in marks]
            fine_s += [table.at(y0 + (y1 - y0) * k) for k in marks]
        times, travels = fine_t or times, fine_s or travels
    back = max(valve.manifold_pressure, side.vapour_pressure)
    share = Broken(times, travels)
    return {"valve_area": area, "share": share, "check": valve.check_valve, "ahead_volume": ahead_volume, "locked": back}


def line_of(side: Any, swept: float, ambient: float) -> Line:
    """A feed line from its table of the case."""
    area = math.pi / 4 * side.line_bore**2
    rated_density = getattr(side, "rated_density", None) or side.density
    loss = 0.0
    if side.rated_flow and side.rated_loss:
        loss = side.rated_loss / side.rated_flow**2 * rated_density / side.density
    valve = getattr(side, "valve", None)
    with_valve = {} if valve is None else valve_of(side, area * side.line_length)
    return Line(
        **with_valve,
        inlet=broken_of(side.inlet_pressure, side.inlet_table),
        inertance=side.line_length / area,
        loss=loss,
        volume=side.manifold_volume + (area * side.line_length if valve is None else 0.0),
        bulk=side.bulk_modulus,
        rho=side.density,
        vapour=side.vapour_pressure,
        trapped_gas=side.trapped_gas_volume or 0.0,
        index=side.trapped_gas_exponent,
        ambient=ambient,
        swept=swept,
    )


class Machine:
    """The continuous equations and the discrete state of one case."""

    def __init__(self, case: Any, ignite: bool = True) -> None:
        self.case = case
        self.kind = case.case.kind
        self.dry, self.hot = self.kind == "dry", self.kind == "hot"
        self.ambient_pressure, self.ambient_temperature = case.ambient.pressure, case.ambient.temperature
        self.straight = case.run.laminar_above
        self.ignite = ignite
        self.evaluations = 0
        self._build_gas()
        self._build_sleeve()
        self._build_propellants()
        self._build_schedule()
        self._build_state()

    # -- gas side
    def _build_gas(self) -> None:
        case = self.case
        if case.gas.model == "perfect":
            gamma, R = case.gas.gamma, case.gas.gas_constant
            if gamma is None or R is None:
                real = RealGas(case.gas.name)
                rho = real.density(self.ambient_pressure, self.ambient_temperature)
                _, _, cv, p_T, _ = real.properties(rho, self.ambient_temperature)
                R = real.gas_constant if R is None else R
                gamma = 1 + R / cv if gamma is None else gamma
            self.gas: RealGas | PerfectGas = PerfectGas(gamma, R)
        else:
            self.gas = RealGas(case.gas.name)
        gas = self.gas
        self.ambient = stream_at(gas, self.ambient_pressure, self.ambient_temperature)
        supply, sol, tube = case.supply, case.solenoid, case.tube
        self.supply_temperature = self.ambient_temperature if supply.temperature is None else supply.temperature
        self.supply_kind = supply.kind
        self.fill = element_of(sol.fill_orifice, sol.fill_discharge_coefficient, sol.fill_component)
        self.exhaust = element_of(sol.exhaust_orifice, sol.exhaust_discharge_coefficient, sol.exhaust_component)
        own = tube_component(tube.length, tube.bore)
        if case.origin.get("tube.conductance") == "given":
            own = own._replace(area=tube.conductance * AREA_OF_CONDUCTANCE, b=474 * tube.conductance / tube.bore**2)
        if case.origin.get("tube.critical_ratio") == "given":
            own = own._replace(b=tube.critical_ratio)
        port = element_of(tube.port_orifice, tube.port_discharge_coefficient, tube.port_component)
        self.to_chamber: Component = own if port is None else series(own, as_component(port))
        self.from_chamber: Component = own if port is None else series(as_component(port), own)
        self.tube_volume = math.pi / 4 * tube.bore**2 * tube.length
        self.wave_delay = tube.length / self._sound(self.ambient)
        quick = case.quick_exhaust
        self.quick = None
        if quick is not None:
            self.quick = element_of(quick.vent_orifice, quick.vent_discharge_coefficient, quick.vent_component)
            self.cracking = quick.cracking_pressure
        spring = case.spring_side
        self.vent = element_of(spring.vent_orifice, spring.vent_discharge_coefficient, spring.vent_component)
        seals = case.seals
        self.outside_leak = Orifice(seals.outside_leak_area * seals.outside_leak_discharge_coefficient)
        self.piston_leak = Orifice((seals.piston_leak_area or 0.0) * seals.piston_leak_discharge_coefficient)
        self.post_leak = Orifice((seals.post_leak_area or 0.0) * seals.post_leak_discharge_coefficient)
        if self.dry:
            self.post_leak = Orifice(0.0)  # R2
        self.rod_leak = seals.rod_leak_area * seals.rod_leak_discharge_coefficient
        self.high_port = case.lift_chamber.port == "high"
        self.lift_volume, self.spring_volume = case.lift_chamber.dead_volume, spring.volume

    @staticmethod
    def _sound(s: Stream) -> float:
        return math.sqrt(s.n * s.p / s.rho)

    # -- sleeve
    def _build_sleeve(self) -> None:
        s, spring, seals = self.case.sleeve, self.case.spring, self.case.seals
        q = math.pi / 4
        self.A_l = q * (s.piston_diameter**2 - s.rod_diameter**2)
        self.A_a = q * (s.rod_diameter**2 - s.seat_diameter**2)
        self.A_n = q * (s.seat_diameter**2 - s.nose_diameter**2)
        self.A_c = q * (s.nose_diameter**2 - s.post_diameter**2)
        self.A_t = self.A_l + self.A_a + self.A_n + self.A_c
        self.stroke = s.stroke
        self.preload, self.rate = spring.preload, spring.rate
        if case_derives(self.case, "spring.rate"):
            wire, coil = spring.wire_diameter, spring.mean_diameter
            self.rate = spring.shear_modulus * wire**4 / (8 * coil**3 * spring.active_coils)
        if case_derives(self.case, "spring.mass") and spring.wire_diameter is not None and spring.total_coils is not None:
            wire, coil = spring.wire_diameter, spring.mean_diameter
            spring_mass = spring.density * (math.pi / 4 * wire**2) * (math.pi * coil) * spring.total_coils
        else:
            spring_mass = spring.mass or 0.0
        self.mass = s.moving_mass + spring_mass / 3
        self.weight = self.mass * GRAVITY * math.cos(s.axis_tilt)
        self.e_stop, self.e_seat, self.rest_speed = s.restitution_stop, s.restitution_seat, s.rest_speed
        self.breakaway_ratio, self.falling, self.viscous = seals.breakaway_ratio, seals.stribeck_velocity, seals.viscous
        self.seal_faces_chamber = seals.post_seal_faces == "chamber"

        def coefficients(seal: Any, diameter: float) -> tuple[float, float]:
            factor = seals.friction_factor * seal.friction_factor * math.pi * diameter
            return factor * seal.squeeze_friction, factor * seal.pressure_coefficient * seal.cord

        self.post_seal = coefficients(seals.post, s.post_diameter)
        self.rod_seal = coefficients(seals.rod, s.rod_diameter)
        self.piston_seal = coefficients(seals.piston, s.piston_diameter)

    # -- liquids and chamber
    def _build_propellants(self) -> None:
        case = self.case
        bench = case.bench
        self.back_pressure = self.ambient_pressure
        self.fuel_side = self.ambient_pressure
        if bench is not None and self.kind == "cold-flow" and bench.back_pressure is not None:
            self.back_pressure = bench.back_pressure
        if bench is not None and self.dry and bench.fuel_side_pressure is not None:
            self.fuel_side = bench.fuel_side_pressure
        if self.dry:
            self.lap = math.inf
            return
        self.slots, self.seat = Slots(case), Seat(case)
        self.lap = self.slots.lap
        self.ox_line = line_of(case.oxidizer, 0.0, self.ambient_pressure)
        self.fuel_line = line_of(case.fuel, self.A_a, self.ambient_pressure)
        if self.hot:
            chamber = case.chamber
            self.volume, self.throat, self.combustion_time_constant = (
                chamber.volume,
                chamber.throat_area,
                chamber.combustion_time_constant,
            )
            self.leak_gas_constant = chamber.gas_constant
            self.purge = chamber.purge
            self.swept_share = chamber.swept_share
            if self.purge is not None:
                self._build_purge(self.purge)
            self.burning = Propellants(case, chamber.efficiency)
            self.pooling = Propellants(case, 1.0)
        self.gases: dict[str, ManifoldGas] = {}
        for side in ("oxidizer", "fuel"):
            feed = getattr(case, side)
            if feed.valve is not None and (feed.purge is not None or feed.valve.start_gas is not None):
                s, seat = case.slots, self.seat
                mouth = s.clearance_discharge_coefficient
                gap = case.sleeve.post_diameter, self.slots.clearance, s.eccentricity or 0.0, mouth
                if side == "fuel":
                    gap = seat.seat_diameter, seat.clearance if seat.table is None else 0.0, 0.0, 0.0
                self.gases[side] = ManifoldGas(case, side, *gap)
        first_on = min(case.solenoid.on) if case.solenoid.on else 0.0
        ox_inlet, fuel_inlet = self.ox_line.inlet.at(first_on), self.fuel_line.inlet.at(first_on)  # R5
        self.ox_leak = self.ox_line.steady(lambda p: self.slots.flow(0.0, p - self.back_pressure), ox_inlet)
        self.fuel_leak = self.fuel_line.steady(lambda p: self.seat.flow(0.0, p, self.back_pressure)[0], fuel_inlet)
        full = self._full_lift_flows(ox_inlet, fuel_inlet)
        self.ox_reference = case.oxidizer.rated_flow or full[0]
        self.fuel_reference = case.fuel.rated_flow or full[1]
        self.ox_threshold = self.ox_leak + 0.05 * (self.ox_reference - self.ox_leak)
        self.fuel_threshold = self.fuel_leak + 0.05 * (self.fuel_reference - self.fuel_leak)
        self.ox_content, self.ox_tau = self._passage(case.oxidizer, self.ox_reference)
        self.fuel_content, self.fuel_tau = self._passage(case.fuel, self.fuel_reference)

    def _build_purge(self, purge: Any) -> None:
        """Gas ahead of the purge's orifice; its enthalpy from 0 K: c_p T of the thin gas, and what its pressure makes of that."""
        gas = RealGas(purge.gas)
        area = purge.effective_area
        if area is None:
            area = purge.discharge_coefficient * math.pi / 4 * purge.orifice**2
        self.purge_orifice = Orifice(area)
        self.purge_stream = stream_at(gas, purge.pressure, purge.temperature)
        self.purge_rt = gas.gas_constant * purge.temperature
        thin = stream_at(gas, 1.0, purge.temperature)
        _, _, cv, _, _ = gas.properties(thin.rho, purge.temperature)
        self.purge_enthalpy = (cv + gas.gas_constant) * purge.temperature + self.purge_stream.h - thin.h

    def purge_flow(self, p_c: float) -> float:
        """Flow of the chamber's purge against p_c, kg/s."""
        if not self.purging or p_c >= self.purge_stream.p:
            return 0.0
        return one_way(self.purge_orifice, self.purge_stream, p_c, self.straight)

    def purge_holds(self, p_c: float, g: float) -> float:
        """Pressure, Pa, at which the throat lets the purge out, all heat it brings in combustion gas of exponent g."""
        w = self.purge_flow(p_c)
        if w == 0:
            return self.ambient_pressure
        RT = (g - 1) / g * self.purge_enthalpy

        def gap(p: float) -> float:
            return p * self.throat * throat_ratio(p, self.ambient_pressure, g, 1.0) * gamma_function(g) / math.sqrt(RT) - w

        return brentq(gap, self.ambient_pressure, 1e9, xtol=1e-3, rtol=1e-12)

    @staticmethod
    def _passage(side: Any, flow: float) -> tuple[float, float]:
        content = (side.dribble_volume or 0.0) * side.density
        if content <= 0:
            return 0.0, 1.0
        return content, side.dribble_time if side.dribble_time is not None else content / flow

    def _full_lift_flows(self, ox_inlet: float, fuel_inlet: float) -> tuple[float, float]:
        def flows(p_c: float) -> tuple[float, float]:
            x = self.stroke
            return (
                self.ox_line.steady(lambda p: self.slots.flow(x, p - p_c), ox_inlet),
                self.fuel_line.steady(lambda p: self.seat.flow(x, p, p_c)[0], fuel_inlet),
            )

        if not self.hot:
            return flows(self.back_pressure)

        def gap(p_c: float) -> float:
            o, f = flows(p_c)
            o, f = max(o, 0.0), max(f, 0.0)
            if o + f <= 0:
                return p_c - self.ambient_pressure
            square, _ = self.burning.at(o / (o + f))
            return p_c - (o + f) * math.sqrt(square) / self.throat

        top = max(ox_inlet, fuel_inlet)
        self.steady_pressure = self.ambient_pressure
        if gap(self.ambient_pressure) < 0:
            self.steady_pressure = brentq(gap, self.ambient_pressure, 2 * top, xtol=1e-3, rtol=1e-12)
        return flows(self.steady_pressure)

    # -- time events
    def _build_schedule(self) -> None:
        sol = self.case.solenoid
        self.on, self.off = sorted(sol.on), sorted(sol.off)
        coil = sol.coil
        if coil is not None:
            self.edges = coil_edges(self.on, self.off, coil, self.wave_delay)
        else:
            self.edges = dead_time_edges(self.on, self.off, sol.open_dead_time, sol.close_dead_time, self.wave_delay)
        self.opening = opening_line(self.edges, sol.open_stroke_time, sol.close_stroke_time)
        self.first_on = self.on[0] if self.on else math.inf
        known = {*self.on, *self.off, *self.opening.times, *(e.effect for e in self.edges)}
        self.inlet_lines = {"valve": self.opening}
        if self.supply_kind == "table":
            self.inlet_lines["supply"] = broken_of(None, self.case.supply.table)
        if not self.dry:
            self.inlet_lines["oxidizer"] = self.ox_line.inlet
            self.inlet_lines["fuel"] = self.fuel_line.inlet
            for name, feed in (("oxidizer", self.ox_line), ("fuel", self.fuel_line)):
                if feed.share is not None:
                    self.inlet_lines[f"{name}_valve"] = feed.share
        for line in self.inlet_lines.values():
            known.update(line.times)
        self.purge_edges: list[tuple[float, bool]] = []
        if self.hot and self.purge is not None:
            self.purge_edges = sorted([(t, True) for t in self.purge.on] + [(t, False) for t in self.purge.off])
            known.update(t for t, _ in self.purge_edges)
        for gas in self.gases.values() if not self.dry else ():
            known.update(gas.knots())
        self.windows: list[tuple[float, float]] = []
        self.given_light_off = None
        igniter = self.case.igniter if self.hot and self.ignite else None
        self.igniter = igniter
        if igniter is not None:
            if igniter.light_off is not None:
                self.given_light_off = igniter.light_off
                known.add(igniter.light_off)
            else:
                offs = sorted(igniter.off or [])
                for t in sorted(igniter.on):
                    end = min([o for o in offs if o > t], default=math.inf)
                    if t + igniter.rise < end:
                        self.windows.append((t + igniter.rise, end))
                        known.update(v for v in (t + igniter.rise, end) if v < math.inf)
        self.known = sorted(k for k in known if 0 < k < math.inf)

    # -- states
    def _build_state(self) -> None:
        case, gas = self.case, self.gas
        names: list[str] = ["x", "v"]
        start: list[float] = [0.0, 0.0]
        atol: list[float] = [1e-13, 1e-10]

        def node(name: str, p: float, T: float) -> int:
            names.extend([f"{name}.rho", f"{name}.T"])
            start.extend([gas.density(p, T), T])
            atol.extend([1e-9, 1e-7])
            return len(names) - 2

        def value(given: float | None, default: float) -> float:
            return default if given is None else given

        pa, Ta = self.ambient_pressure, self.ambient_temperature
        tube, lift, spring, supply = case.tube, case.lift_chamber, case.spring_side, case.supply
        self.i_tube = node("tube", value(getattr(tube, "pressure", None), pa), value(getattr(tube, "temperature", None), Ta))
        self.i_lift = node("lift", value(lift.pressure, pa), value(lift.temperature, Ta))
        self.i_spring = node("spring", value(spring.pressure, pa), value(spring.temperature, Ta))
        self.i_plenum = self.i_bottle = -1
        self.wall = {
            "tube": (tube.wall_area or 0.0) * (tube.wall_coefficient or 0.0),
            "lift": (lift.wall_area or 0.0) * (lift.wall_coefficient or 0.0),
            "spring": (spring.wall_area or 0.0) * (spring.wall_coefficient or 0.0),
        }
        self.wall_T = {
            "tube": value(getattr(tube, "wall_temperature", None), Ta),
            "lift": value(lift.wall_temperature, Ta),
            "spring": value(spring.wall_temperature, Ta),
        }
        h_wall = supply.wall_coefficient or 0.0
        if self.supply_kind == "regulator":
            bottle = supply.bottle_pressure
            set_pressure = supply.pressure
            self.i_plenum = node("plenum", set_pressure if bottle is None else min(set_pressure, bottle), self.supply_temperature)
            self.plenum_volume = supply.plenum_volume
            self.wall["plenum"] = (supply.plenum_wall_area or 0.0) * h_wall
            self.set_pressure, self.droop = set_pressure, supply.droop_band
            self.regulator = element_of(supply.regulator_orifice, supply.regulator_discharge_coefficient, None)
        if self.supply_kind == "bottle" or (self.supply_kind == "regulator" and supply.bottle_volume is not None):
            self.i_bottle = node("bottle", supply.bottle_pressure, self.supply_temperature)
            self.bottle_volume = supply.bottle_volume
            self.wall["bottle"] = (supply.bottle_wall_area or 0.0) * h_wall
        elif self.supply_kind == "regulator":
            self.fixed_bottle = stream_at(gas, supply.bottle_pressure, self.supply_temperature)
        if self.supply_kind == "constant":
            self.fixed_supply = stream_at(gas, supply.pressure, self.supply_temperature)
        self.i_ox = self.i_fuel = self.i_oxp = self.i_fuelp = self.i_chamber = -1
        if not self.dry:
            self.i_ox = len(names)
            w, P = self.ox_line.start(lambda p: self.slots.flow(0.0, p - self.back_pressure))
            p_l = case.lift_chamber.pressure if case.lift_chamber.pressure is not None else self.ambient_pressure
            rho = self.fuel_line.rho
            w2, P2 = self.fuel_line.start(
                lambda p: self.seat.flow(0.0, p, self.back_pressure)[0] + max(self._liquid_flow(self.rod_leak, rho, p - p_l), 0.0)
            )
            names.extend(["ox.w", "ox.P", "fuel.w", "fuel.P"])
            start.extend([w, P, w2, P2])
            atol.extend([1e-9, 1e-3, 1e-9, 1e-3])
            self.i_fuel = self.i_ox + 2
            self.i_ahead: dict[str, int] = {}
            for side, feed, flow in (("oxidizer", self.ox_line, w), ("fuel", self.fuel_line, w2)):
                if feed.share is not None:
                    self.i_ahead[side] = len(names)
                    names.append(f"{side}.ahead")
                    start.append(feed.inlet.at(0.0) - feed.loss * flow * abs(flow) - feed.vapour)
                    atol.append(1e-3)
            self.i_gas: dict[str, int] = {}
            for side, i, feed in (("oxidizer", self.i_ox, self.ox_line), ("fuel", self.i_fuel, self.fuel_line)):
                if side in self.gases:
                    gas = self.gases[side]
                    self.i_gas[side] = len(names)
                    names.append(f"{side}.gas")
                    start.append(gas.start)
                    atol.append(1e-6 * self.ambient_pressure * gas.volume / gas.RT)
                    if gas.start > 0:
                        start[i + 1] = feed.locked - feed.vapour - feed.bulk
            if self.ox_content > 0:
                self.i_oxp = len(names)
                names.append("ox.passage")
                start.append(self.ox_tau * w)
                atol.append(1e-12)
            if self.fuel_content > 0:
                self.i_fuelp = len(names)
                names.append("fuel.passage")
                start.append(self.fuel_tau * max(w2, 0.0))
                atol.append(1e-12)
        if self.hot:
            self.i_chamber = len(names)
            names.extend(["unburned.ox", "unburned.fuel", "gas", "p_c"])
            waited = self.case.run.pressurised_before_command + self.first_on if self.counts_before() else 0.0
            start.extend(
                [
                    self.ox_leak * waited,
                    self.fuel_leak * waited,
                    self.ambient_pressure * self.volume / (AIR_R * self.ambient_temperature),
                    self.ambient_pressure,
                ]
            )
            atol.extend([1e-13, 1e-13, 1e-12, 1e-3])
        self.i_liquid = -1
        if self.rod_leak > 0 and not self.dry:
            self.i_liquid = len(names)
            names.append("lift.liquid")
            start.append(0.0)
            atol.append(1e-14)
        self.i_filled = len(names)
        names.append("filled")
        start.append(0.0)
        atol.append(1e-11)
        self.names, self.start, self.atol = names, np.array(start), np.array(atol)
        self.mode, self.lit, self.uncovered, self.burning_up, self.counting = SEATED, False, self.lap < 0, False, False
        self.oxidizer_dribble = self.fuel_dribble = "draining"
        self.pieces: dict[str, tuple[float, float, float]] = {}
        self.purging = False
        self.gas_purging: dict[str, bool] = {}
        self.gas_ahead: dict[str, bool] = {}
        for side in self.gases if not self.dry else ():
            line = self.ox_line if side == "oxidizer" else self.fuel_line
            self.gas_ahead[side] = line.share.at(0.0) > 0 or self.gases[side].start > 0
        self._memo: tuple[float, np.ndarray, Any] | None = None

    def counts_before(self) -> bool:
        """Whether what leaks before a command is in the chamber at it."""
        return bool(self.hot and self.on and self.case.run.count_pool_before_command)

    # -- discrete state of a segment
    def snapshot(self) -> dict[str, Any]:
        """Discrete state, to come back to for recomputed signals."""
        return {
            "mode": self.mode,
            "lit": self.lit,
            "uncovered": self.uncovered,
            "burning_up": self.burning_up,
            "counting": self.counting,
            "oxidizer_dribble": self.oxidizer_dribble,
            "fuel_dribble": self.fuel_dribble,
            "pieces": dict(self.pieces),
            "purging": self.purging,
            "gas_purging": dict(self.gas_purging),
            "gas_ahead": dict(self.gas_ahead),
        }

    def restore(self, discrete: dict[str, Any]) -> None:
        """Set a discrete state again."""
        for name, value in discrete.items():
            setattr(self, name, value)
        self._memo = None

    def set_pieces(self, a: float, b: float) -> None:
        """Fix the straight pieces of every broken line that hold between a and b."""
        self.pieces = {name: line.piece(a, b) for name, line in self.inlet_lines.items()}
        self.purging = ([False] + [on for t, on in self.purge_edges if t <= a])[-1]
        for side in self.gas_ahead:
            self.gas_purging = self.gas_purging | {side: self.gases[side].is_on(0.5 * (a + b))}
            moves = self.pieces[f"{side}_valve"][2]
            if moves != 0:
                self.gas_ahead = self.gas_ahead | {side: moves > 0}
        self._memo = None

    def _line(self, name: str, t: float) -> float:
        t0, value, slope = self.pieces[name]
        return value + slope * (t - t0)

    def touch(self) -> None:
        """Forget the event_memory after a discrete change."""
        self._memo = None

    # -- equations
    def derivative(self, t: float, y: np.ndarray) -> np.ndarray:
        """dy/dt."""
        return self.evaluate(t, y)[0]

    def evaluate(self, t: float, y: np.ndarray) -> tuple[np.ndarray, dict[str, float]]:
        """(dy/dt, signals) at a state; memorised for the events of the same step."""
        event_memory = self._memo
        if event_memory is not None and event_memory[0] == t and np.array_equal(event_memory[1], y):
            return event_memory[2]
        result = self._evaluate(t, y)
        self._memo = (t, np.array(y), result)
        return result

    def _flow(self, element: Element | None, factor: float, a: Stream, b: Stream) -> float:
        if element is None or factor <= 0:
            return 0.0
        if a.p >= b.p:
            return factor * one_way(element, a, b.p, self.straight)
        return -factor * one_way(element, b, a.p, self.straight)

    def _evaluate(self, t: float, y: np.ndarray) -> tuple[np.ndarray, dict[str, float]]:
        self.evaluations += 1
        s: dict[str, float] = {}
        dy = np.zeros(len(y))
        values = y.tolist()
        sliding = self.mode in (UP, DOWN)
        x = 0.0 if self.mode == SEATED else max(values[0], 0.0)
        v = values[1] if sliding else 0.0
        self._gas(t, values, x, v, dy, s)
        if self.dry:
            p_c = p_i = self.ambient_pressure  # R2
            p_f, jet, p_face = self.fuel_side, 0.0, self.ambient_pressure
        else:
            p_c, p_i, p_f, jet, p_face = self._liquids(t, values, x, v, dy, s)
        self._post_leak(values, p_c, dy, s)
        p_l, p_s = s["p_lift"], s["p_spring"]
        net = (
            p_l * self.A_l
            + p_f * self.A_a
            - jet
            + p_i * self.A_n
            + p_c * self.A_c
            - p_s * self.A_t
            - (self.preload + self.rate * x)
            - self.weight
        )
        running = (
            self.post_seal[0]
            + self.post_seal[1] * abs(p_face - p_s)
            + self.rod_seal[0]
            + self.rod_seal[1] * abs(p_f - p_l)
            + self.piston_seal[0]
            + self.piston_seal[1] * abs(p_l - p_s)
        )
        s.update(
            net=net,
            breakaway=self.breakaway_ratio * running,
            running=running,
            p_c=p_c,
            p_i=p_i,
            p_f=p_f,
            jet=jet,
            x=x,
            v=v,
        )
        if sliding:
            dy[0] = v
            friction = running
            if self.falling > 0:
                friction *= 1 + (self.breakaway_ratio - 1) * math.exp(-((v / self.falling) ** 2))
            if self.mode == UP:
                dy[1] = (net - friction - self.viscous * v) / self.mass
            else:
                dy[1] = (net + friction - self.viscous * v) / self.mass
        return dy, s

    def _gas(self, t: float, y: list[float], x: float, v: float, dy: np.ndarray, s: dict[str, float]) -> None:
        gas = self.gas
        flows: dict[str, list[float]] = {}
        states: dict[str, Any] = {}
        streams: dict[str, Stream] = {}
        nodes = [
            ("tube", self.i_tube, self.tube_volume, 0.0),
            ("lift", self.i_lift, self.lift_volume + self.A_l * x, self.A_l * v),
            ("spring", self.i_spring, self.spring_volume - self.A_t * x, -self.A_t * v),
        ]
        if self.i_plenum >= 0:
            nodes.append(("plenum", self.i_plenum, self.plenum_volume, 0.0))
        if self.i_bottle >= 0:
            nodes.append(("bottle", self.i_bottle, self.bottle_volume, 0.0))
        margin = math.inf
        for name, i, _, _ in nodes:
            state = gas.properties(y[i], y[i + 1])
            states[name] = state
            streams[name] = Stream(state[0], y[i], state[4], state[1])
            flows[name] = [0.0, 0.0]
            margin = min(margin, gas.range_margin(y[i], y[i + 1], state[0]))

        def move(a: str, b: str, w: float, up: Stream, down: Stream) -> None:
            h = up.h if w >= 0 else down.h
            if a in flows:
                flows[a][0] -= w
                flows[a][1] -= w * h
            if b in flows:
                flows[b][0] += w
                flows[b][1] += w * h

        tube, lift, spring, ambient = streams["tube"], streams["lift"], streams["spring"], self.ambient
        opening = min(max(self._line("valve", t), 0.0), 1.0)
        if self.supply_kind == "constant":
            source, source_name = self.fixed_supply, ""
        elif self.supply_kind == "table":
            source, source_name = stream_at(gas, self._line("supply", t), self.supply_temperature), ""
        elif self.supply_kind == "bottle":
            source, source_name = streams["bottle"], "bottle"
        else:
            source, source_name = streams["plenum"], "plenum"
            bottle = streams["bottle"] if self.i_bottle >= 0 else self.fixed_bottle
            lift_of_regulator = min(max((self.set_pressure - source.p) / self.droop, 0.0), 1.0)
            move("bottle", "plenum", self._flow(self.regulator, lift_of_regulator, bottle, source), bottle, source)
        w_fill = self._flow(self.fill, opening, source, tube)
        move(source_name, "tube", w_fill, source, tube)
        blocked = self._shares(y, x, lift)
        shuttle = 0.0
        if self.quick is not None:
            shuttle = min(max((lift.p - tube.p) / self.cracking, 0.0), 1.0)
        passes = blocked[0] * (1 - shuttle) * min(max((lift.p - ambient.p) / JOINT, 0.0), 1.0)
        w_exhaust = self._flow(self.exhaust, (1 - opening) * (1 - passes if tube.p > ambient.p else 1.0), tube, ambient)
        move("tube", "", w_exhaust, tube, ambient)
        if self.quick is not None:
            free = 1 - blocked[0] if lift.p > ambient.p else 1.0
            move("lift", "", self._flow(self.quick, shuttle * free, lift, ambient), lift, ambient)
        if tube.p >= lift.p:
            w_tube = (1 - shuttle) * one_way(self.to_chamber, tube, lift.p, self.straight)
        else:
            w_tube = -(1 - blocked[0]) * (1 - shuttle) * one_way(self.from_chamber, lift, tube.p, self.straight)
        move("tube", "lift", w_tube, tube, lift)
        if self.outside_leak.area > 0:
            free = 1 - blocked[1] if lift.p > ambient.p else 1.0
            move("lift", "", self._flow(self.outside_leak, free, lift, ambient), lift, ambient)
        if self.piston_leak.area > 0:
            free = 1 - blocked[1] if lift.p > spring.p else 1.0
            move("lift", "spring", self._flow(self.piston_leak, free, lift, spring), lift, spring)
        move("spring", "", self._flow(self.vent, 1.0, spring, ambient), spring, ambient)
        if self.i_liquid >= 0:
            self._rod_leak(y, x, opening, lift, states["lift"], flows["lift"], nodes, dy, s)
        elif self.rod_leak > 0:
            fuel_side = stream_at(gas, self.fuel_side, self.ambient_temperature)
            move("", "lift", self._flow(Orifice(self.rod_leak), 1.0, fuel_side, lift), fuel_side, lift)
        for name, i, V, dV in nodes:
            T_wall = self.wall_T.get(name, self.ambient_temperature)
            heat = self.wall[name] * (T_wall - y[i + 1])
            w, wh = flows[name]
            if name == "spring":
                self._spring_terms = (states[name], y[i], y[i + 1], V, dV, w, wh, heat)
            if name == "lift" and self.i_liquid >= 0:
                heat += self._wetting * (self._liquid_temperature - y[i + 1])
                dV = self._yielding(states[name], y[i], y[i + 1], V, dV, w, wh, heat, y[self.i_liquid])
            dy[i], dy[i + 1] = node_rates(states[name], y[i], y[i + 1], V, dV, w, wh, heat)
        dy[self.i_filled] = w_fill
        s.update(
            p_tube=tube.p,
            p_lift=lift.p,
            p_spring=spring.p,
            p_supply=source.p,
            opening=opening,
            w_fill=w_fill,
            w_exhaust=w_exhaust,
            margin=margin,
        )

    # -- liquid in the lift chamber
    def _shares(self, y: list[float], x: float, lift: Stream) -> tuple[float, float]:
        """Shares of liquid in what leaves the lift chamber by its port, and by what sits high."""
        if self.i_liquid < 0:
            return 0.0, 0.0
        liquid = y[self.i_liquid]
        filling = liquid / (self.lift_volume + self.A_l * x)
        high = min(max((filling - HIGH_FROM) / (HIGH_FULL - HIGH_FROM), 0.0), 1.0)
        low = min(max(liquid / (LOW_FULL * self.lift_volume), 0.0), 1.0)
        return (high if self.high_port else low), high

    @staticmethod
    def _liquid_flow(area: float, rho: float, dp: float) -> float:
        return area * math.sqrt(2 * rho) * dp / (dp * dp + JOINT * JOINT) ** 0.25

    def _rod_leak(
        self, y: list[float], x: float, opening: float, lift: Stream, state: Any, flow: list[float], nodes: list[Any],
        dy: np.ndarray, s: dict[str, float],
    ) -> None:  # fmt: skip
        """Liquid past the rod seal, out by port and quick exhaust, gas back; the lift chamber's room and its rate."""
        fuel = self.fuel_line
        liquid = y[self.i_liquid]
        p_f = self._manifold("fuel", y)
        w = self._liquid_flow(self.rod_leak, fuel.rho, p_f - lift.p)
        if lift.p > p_f:
            covered = min(max(liquid / (LOW_FULL * self.lift_volume), 0.0), 1.0)
            w *= covered
            back = (1 - covered) * one_way(Orifice(self.rod_leak), lift, p_f, self.straight)
            flow[0] -= back
            flow[1] -= back * lift.h
        leaving, high = self._shares(y, x, lift)
        out = 0.0
        if lift.p > self.ambient_pressure:
            tube_p = self.gas.properties(y[self.i_tube], y[self.i_tube + 1])[0]
            moved = min(max((lift.p - tube_p) / self.cracking, 0.0), 1.0) if self.quick is not None else 0.0
            areas = (1 - moved) * self.from_chamber.area, (1 - opening) * (self.exhaust.area if self.exhaust is not None else 0.0)
            area = 0.0 if min(areas) <= 0 else (areas[0] ** -2 + areas[1] ** -2) ** -0.5
            if self.quick is not None:
                area += moved * self.quick.area
            out = leaving * self._liquid_flow(area, fuel.rho, lift.p - self.ambient_pressure)
        rate = (w - out) / fuel.rho
        dy[self.i_liquid] = rate
        squeezed = 1 - (lift.p - self.ambient_pressure) / fuel.bulk
        total, swept = nodes[1][2], nodes[1][3]
        nodes[1] = ("lift", self.i_lift, total - liquid * squeezed, swept - rate * squeezed)
        mass = y[self.i_lift] * nodes[1][2]
        self._wetting = high * mass * 2.5 * self.case.gas.gas_constant / WETTED
        self._liquid_temperature = self.case.fuel.temperature
        s["w_rod"] = w

    def _yielding(
        self, state: Any, rho: float, T: float, V: float, dV: float, w: float, wh: float, heat: float, liquid: float
    ) -> float:
        """Rate of the gas's room where the liquid beside it yields: dV + (V_q/B) dp/dt, dp/dt being linear in that rate."""

        def pressure_rate(rate: float) -> float:
            d_rho, d_T = node_rates(state, rho, T, V, rate, w, wh, heat)
            p, _, cv, p_T, n = state
            return (n * p / rho - T * p_T**2 / (rho**2 * cv)) * d_rho + p_T * d_T

        c = liquid / self.fuel_line.bulk
        at_rest = pressure_rate(0.0)
        slope = (pressure_rate(1e-6) - at_rest) / 1e-6
        return (dV + c * at_rest) / (1 - c * slope)

    def _post_leak(self, y: list[float], p_c: float, dy: np.ndarray, s: dict[str, float]) -> None:
        if self.post_leak.area <= 0 or not self.uncovered:  # R3
            return
        state, rho, T, V, dV, w, wh, heat = self._spring_terms
        spring = Stream(state[0], rho, state[4], state[1])
        if p_c > spring.p and self.lit:
            i = self.i_chamber
            rho_hot = max(y[i + 2], 1e-12) / self.volume
            T_hot = p_c / (rho_hot * self.leak_gas_constant)
            h = stream_at(self.gas, p_c, min(T_hot, HOTTEST_LEAK)).h
            front = Stream(p_c, rho_hot, s["g"], h)
        elif p_c == self.ambient_pressure:
            front = self.ambient
        else:
            front = stream_at(self.gas, p_c, self.ambient_temperature)  # R11
        share = min(max((y[0] - self.lap) / UNCOVERING, 0.0), 1.0)
        leak = self._flow(self.post_leak, share, front, spring)
        h = front.h if leak >= 0 else spring.h
        i = self.i_spring
        dy[i], dy[i + 1] = node_rates(state, rho, T, V, dV, w + leak, wh + leak * h, heat)
        s["w_post"] = leak

    def _liquids(
        self, t: float, y: list[float], x: float, v: float, dy: np.ndarray, s: dict[str, float]
    ) -> tuple[float, float, float, float, float]:
        ox, fuel = self.ox_line, self.fuel_line
        i, j = self.i_ox, self.i_fuel
        p_c = y[self.i_chamber + 3] if self.lit else self.back_pressure
        p_o, p_f = self._manifold("oxidizer", y), self._manifold("fuel", y)
        w_o = self.slots.flow(x, p_o - p_c)
        w_f, p_i = self.seat.flow(x if self.mode != SEATED else 0.0, p_f, p_c)
        back = {}
        for side in self.gases:
            share, back[side] = self._gas_flow(side, y, x, p_o if side == "oxidizer" else p_f, p_c, dy, s)
            if side == "oxidizer":
                w_o *= share
            else:
                w_f, p_i = share * w_f, p_c + share * (p_i - p_c)
        jet = self.seat.jet_force(w_f, p_f, p_i)
        for line, k, p, w_in, inlet in ((ox, i, p_o, w_o, "oxidizer"), (fuel, j, p_f, w_f, "fuel")):
            w = w_end = y[k]
            p_end = p
            if inlet in self.i_ahead:
                n = self.i_ahead[inlet]
                p_end = line.vapour + max(y[n], 0.0)
                w_end = line.through_valve(line.valve_area * self._line(f"{inlet}_valve", t), p_end - p)
                w_end *= back.get(inlet, 1.0) if w_end < 0 else 1.0
                dy[n] = line.bulk / line.ahead_volume * (w - w_end) / line.rho
            s[f"ahead_{inlet}"] = p_end
            dy[k] = (self._line(inlet, t) - p_end - line.loss * w * abs(w)) / line.inertance
            leaves = w_in + (s.get("w_rod", 0.0) if line is fuel else 0.0)
            dy[k + 1] = line.rate(y[k + 1], (w_end - leaves) / line.rho - line.swept * v)
        a_o = self._arrival(self.i_oxp, self.oxidizer_dribble, self.ox_tau, w_o, y, dy)
        a_f = self._arrival(self.i_fuelp, self.fuel_dribble, self.fuel_tau, w_f, y, dy)
        if self.hot:
            self._chamber(y, a_o, a_f, dy, s)
        if self.seal_faces_chamber:
            p_face = p_c
        else:
            p_face = p_o + (p_c - p_o) * min(max((x - self.lap) / UNCOVERING, 0.0), 1.0)
        s.update(p_ox=p_o, p_fuel=p_f, w_ox=w_o, w_fuel=w_f, a_ox=a_o, a_fuel=a_f, line_ox=y[i], line_fuel=y[j])
        return p_c, p_i, p_f, jet, p_face

    def _manifold(self, side: str, y: list[float]) -> float:
        """Manifold pressure, Pa."""
        line, i = (self.ox_line, self.i_ox) if side == "oxidizer" else (self.fuel_line, self.i_fuel)
        if side not in self.gases:
            return line.pressure(y[i + 1])
        return self.gases[side].pressure(y[i + 1], y[self.i_gas[side]], line.vapour, line.bulk / line.volume)

    def _gas_flow(
        self, side: str, y: list[float], x: float, p: float, p_c: float, dy: np.ndarray, s: dict[str, float]
    ) -> tuple[float, float]:
        """Rate of a manifold's gas; (share of liquid that its injector passes, of liquid that can go back by the valve)."""
        gas = self.gases[side]
        line, i = (self.ox_line, self.i_ox) if side == "oxidizer" else (self.fuel_line, self.i_fuel)
        liquid = line.volume + line.swept * x + y[i + 1] * line.volume / line.bulk
        share, free, back = gas.shares(p, y[self.i_gas[side]], liquid, self.gas_ahead[side])
        length = None
        if side == "oxidizer":
            area = self.slots.effective_area(x)
            if gas.clearance > 0:
                length = max(self.lap - x, self.slots.least)
        else:
            S, N = self.seat.cd * self.seat.area(x if self.mode != SEATED else 0.0), self.seat.annulus
            area = S * N / math.hypot(S, N) if N > 0 and S > 0 else S
            if gas.clearance > 0 and x <= self.seat.spigot:
                length = self.seat.spigot - x
        rho_c = y[self.i_chamber + 2] / self.volume if self.hot else p_c / gas.RT
        w = gas.alone(area, length, side == "fuel", p, p_c, rho_c, self.straight)
        w *= free if w >= 0 else 1 - share
        enters = gas.purged(p, self.straight) if self.gas_purging[side] else 0.0
        dy[self.i_gas[side]] = enters - w
        s[f"gas_{side}"], s[f"purge_{side}"] = w, enters
        return share, back

    @staticmethod
    def _arrival(i: int, state: str, tau: float, w: float, y: list[float], dy: np.ndarray) -> float:
        if i < 0 or state == "passing":
            return w
        m = max(y[i], 0.0)
        gain = w if m > 0 or w > 0 else 0.0  # R9
        if state == "filling":
            dy[i] = gain
            return 0.0
        dy[i] = gain - m / tau
        return m / tau

    def _chamber(self, y: list[float], a_o: float, a_f: float, dy: np.ndarray, s: dict[str, float]) -> None:
        i = self.i_chamber
        m_o, m_f, m_g, p = max(y[i], 0.0), max(y[i + 1], 0.0), y[i + 2], y[i + 3]
        if self.counting or self.lit:  # R7
            dy[i], dy[i + 1] = max(a_o, 0.0), max(a_f, 0.0)
        w = self.purge_flow(p if self.lit else self.ambient_pressure)
        through = [(max(s[f"gas_{side}"], 0.0), gas) for side, gas in self.gases.items()]  # gas of the manifolds
        brought = sum(each for each, _ in through)
        if not self.lit:
            displaced = sum(each * gas.RT for each, gas in through) + (w * self.purge_rt if w > 0 else 0.0)
            if displaced > 0:
                per_second = displaced / self.ambient_pressure / self.volume
                dy[i + 2] = w + brought - m_g * per_second
                dy[i] -= self.swept_share * m_o * per_second
                dy[i + 1] -= self.swept_share * m_f * per_second
            return
        total = m_o + m_f
        f = m_o / total if total > 0 else self.burning.best
        square, g = self.burning.at(f)
        burn = total / self.combustion_time_constant
        RT = max(p, 1.0) * self.volume / max(m_g, 1e-12)
        Gamma = gamma_function(g)
        out = p * self.throat * throat_ratio(p, self.ambient_pressure, g, self.straight) * Gamma / math.sqrt(RT)
        dy[i] -= m_o / self.combustion_time_constant
        dy[i + 1] -= m_f / self.combustion_time_constant
        dy[i + 2] = burn - out + w + brought
        dy[i + 3] = g / self.volume * (Gamma * Gamma * square * burn - RT * out)
        if w > 0:
            dy[i + 3] += (g - 1) / self.volume * w * self.purge_enthalpy
        dy[i + 3] += (g - 1) / self.volume * sum(each * gas.h for each, gas in through)
        s["g"] = g
