"""Parts of the reference twin that hold no gas state: schedules, slots, seat, liquid flow, combustion table.

Each is written from MODEL.md sections 3, 5 and 6 alone. SI, absolute pressures, lift from the seat, up positive.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

FLOW_SMOOTHING = 1000.0
"""Pa, dp_0 of the liquid flow law (MODEL.md section 5)."""
GAS_CONSTANT = 8.31446261815324
"""J/mol/K, 2019 SI."""


# ------------------------------------------------------------------------------------------------------- schedules
class Broken:
    """A broken line of time; constant before and after. `piece(a, b)` is exact between two of its knots."""

    def __init__(self, times: list[float], values: list[float]) -> None:
        self.times = list(times)
        self.values = list(values)

    def at(self, t: float) -> float:
        """Value at an instant (after a step)."""
        i = bisect.bisect_right(self.times, t)
        if i == 0:
            return self.values[0]
        if i == len(self.times):
            return self.values[-1]
        t0, t1 = self.times[i - 1], self.times[i]
        return self.values[i - 1] + (self.values[i] - self.values[i - 1]) * (t - t0) / (t1 - t0)

    def piece(self, a: float, b: float) -> tuple[float, float, float]:
        """(t0, value at t0, slope) of the piece that holds between a and b, no knot being inside."""
        middle = 0.5 * (a + b)
        i = bisect.bisect_right(self.times, middle)
        if i == 0:
            return a, self.values[0], 0.0
        if i == len(self.times):
            return a, self.values[-1], 0.0
        t0, t1 = self.times[i - 1], self.times[i]
        return t0, self.values[i - 1], (self.values[i] - self.values[i - 1]) / (t1 - t0)


@dataclass(frozen=True)
class Edge:
    """A command that takes effect: when it was given, when the port starts to move (s), and whether it opens."""

    command: float
    effect: float
    opens: bool


def dead_time_edges(on: list[float], off: list[float], open_dead: float, close_dead: float, wave: float) -> list[Edge]:
    """Edges that survive: one that would take effect before an earlier one cancels it."""
    edges: list[Edge] = []
    commands = sorted([(t, True) for t in on] + [(t, False) for t in off])
    for t, opens in commands:
        effect = t + (open_dead if opens else close_dead) + wave
        edges = [e for e in edges if e.effect <= effect]
        edges.append(Edge(t, effect, opens))
    return edges


def coil_edges(on: list[float], off: list[float], coil: object, wave: float) -> list[Edge]:
    """Edges of a coil: the current rises to V/R, falls under the clamp, and the armature moves at its thresholds.

    rising: I = V/R + (I0 - V/R) exp(-R t/L);  falling: I = -V_c/R + (I0 + V_c/R) exp(-R t/L), not below 0.
    """
    L, R, V = coil.inductance, coil.resistance, coil.supply_voltage
    clamp, pull, drop = coil.clamp_voltage or 0.0, coil.pull_in_current, coil.drop_out_current
    commands = sorted([(t, True) for t in on] + [(t, False) for t in off])
    edges: list[Edge] = []
    current, pulled, energised, now = 0.0, False, False, commands[0][0] if commands else 0.0
    for i, (t, opens) in enumerate(commands):
        goal = V / R if energised else -clamp / R
        current = goal + (current - goal) * math.exp(-R * (t - now) / L)
        current = max(current, 0.0)
        now, energised = t, opens
        until = commands[i + 1][0] if i + 1 < len(commands) else math.inf
        wait = math.inf
        if opens and not pulled:
            if current >= pull:
                wait = 0.0
            elif pull < V / R:
                wait = L / R * math.log((V / R - current) / (V / R - pull))
        if not opens and pulled:
            if current <= drop:
                wait = 0.0
            elif drop + clamp / R > 0:
                wait = L / R * math.log((current + clamp / R) / (drop + clamp / R))
        if t + wait <= until and wait < math.inf:
            pulled = opens
            edges.append(Edge(t, t + wait + wave, opens))
    return edges


def opening_line(edges: list[Edge], open_stroke: float, close_stroke: float) -> Broken:
    """Opening fraction of the valve against time: from where it is at 1/stroke time after each edge."""
    times, values = [0.0], [0.0]
    y, slope, now = 0.0, 0.0, 0.0

    def advance(to: float) -> None:
        nonlocal y, now
        if slope == 0.0 or to <= now:
            now = max(now, to)
            return
        end = 1.0 if slope > 0 else 0.0
        arrive = now + (end - y) / slope
        if arrive <= to:
            y = end
            times.append(arrive)
            values.append(end)
        else:
            y += slope * (to - now)
        now = to

    for edge in edges:
        advance(edge.effect)
        times.append(edge.effect)
        values.append(y)
        stroke = open_stroke if edge.opens else close_stroke
        if stroke <= 0:
            y = 1.0 if edge.opens else 0.0
            times.append(edge.effect)
            values.append(y)
            slope = 0.0
        else:
            slope = 1 / stroke if edge.opens else -1 / stroke
    advance(math.inf)
    return Broken(times, values)


# ----------------------------------------------------------------------------------------------------------- areas
def row_area(shape: str, count: int, height: float, width: float, uncovered: float) -> float:
    """m2 uncovered of one row of slots, `uncovered` (m) measured along the axis from the slot's edge."""
    u = min(max(uncovered, 0.0), height)
    if u == 0.0:
        return 0.0
    if shape == "rectangular":
        return count * width * u

    def segment(r: float, s: float) -> float:
        return r * r * math.acos(min(max((r - s) / r, -1.0), 1.0)) - (r - s) * math.sqrt(max(s * (2 * r - s), 0.0))

    if shape == "round":
        return count * segment(height / 2, u)
    if width >= height:  # round ends to the sides
        return count * (segment(height / 2, u) + (width - height) * u)
    r = width / 2  # round ends at top and bottom
    if u <= r:
        return count * segment(r, u)
    if u <= height - r:
        return count * (math.pi * r * r / 2 + width * (u - r))
    return count * (math.pi * r * r / 2 + width * (height - 2 * r) + math.pi * r * r / 2 - segment(r, height - u))


def cone_area(x: float, edge: str, half_angle: float, seat_diameter: float, nose_diameter: float) -> float:
    """m2 of the narrowest conical passage at lift x (MODEL.md section 5)."""
    s, c = math.sin(half_angle), math.cos(half_angle)
    if edge == "sleeve":
        return math.pi * x * s * (seat_diameter + x * s * c)
    radial = 0.5 * (seat_diameter - nose_diameter)
    if x * s * c <= radial:
        return math.pi * x * s * (seat_diameter - x * s * c)
    rise = x - radial * c / s
    return math.pi * 0.5 * (seat_diameter + nose_diameter) * math.hypot(radial, rise)


def turbulent_flow(area: float, rho: float, dp: float) -> float:
    """kg/s, signed, of a liquid through Cd A = area."""
    return area * math.sqrt(2 * rho) * dp / (dp * dp + FLOW_SMOOTHING**2) ** 0.25


def laminar_orifice(R: float, k: float, dp: float) -> float:
    """m3/s, signed, from R Q + k Q^2 = dp."""
    s = abs(dp)
    if s == 0.0:
        return 0.0
    return math.copysign(2 * s / (R + math.sqrt(R * R + 4 * k * s)), dp)


class Slots:
    """Oxidizer throttle: slot rows (or a table) beside the clearance path."""

    def __init__(self, case: object) -> None:
        slots, post = case.slots, case.sleeve.post_diameter
        self.rho = case.oxidizer.density
        self.table = None
        if getattr(slots, "table", None) is not None:
            self.table = (list(slots.table.lift), list(slots.table.area))
            self.table_cd = slots.discharge_coefficient
            first = [i for i, a in enumerate(self.table[1]) if a > 0][0]
            self.lap = self.table[0][max(first - 1, 0)]
            self.rows = []
        else:
            self.rows = [
                (r.shape, r.count, r.height, r.height if r.width is None else r.width, r.lap, r.discharge_coefficient)
                for r in slots.row
            ]
            self.lap = min(r[4] for r in self.rows)
        contraction = 0.0
        if slots.post_contraction is not None and slots.sleeve_contraction is not None:
            contraction = slots.post_contraction - slots.sleeve_contraction
        self.clearance = (slots.clearance or 0.0) + 0.5 * post * contraction
        self.least = slots.minimum_length
        if self.clearance > 0:
            c = self.clearance
            self.laminar = 12 * case.oxidizer.viscosity / (math.pi * post * c**3 * (1 + 1.5 * (slots.eccentricity or 0.0) ** 2))
            self.quadratic = 0.5 * self.rho / (slots.clearance_discharge_coefficient * math.pi * post * c) ** 2

    def effective_area(self, x: float) -> float:
        """m2, sum of Cd A of the uncovered slots."""
        if self.table is not None:
            return self.table_cd * float(np.interp(x, self.table[0], self.table[1]))
        return sum(cd * row_area(shape, n, h, w, x - lap) for shape, n, h, w, lap, cd in self.rows)

    def flow(self, x: float, dp: float) -> float:
        """kg/s from the manifold into the chamber (or its passage)."""
        w = 0.0
        area = self.effective_area(x)
        if area > 0:
            w = turbulent_flow(area, self.rho, dp)
        if self.clearance > 0:
            w += self.rho * laminar_orifice(self.laminar * max(self.lap - x, self.least), self.quadratic, dp)
        return w


class Seat:
    """Fuel throttle: conical gap, optional spigot, optional annulus in series."""

    def __init__(self, case: object) -> None:
        seat, sleeve = case.seat, case.sleeve
        self.rho = case.fuel.density
        self.edge = seat.edge
        self.angle = seat.half_angle
        self.seat_diameter = sleeve.seat_diameter
        self.nose_diameter = sleeve.nose_diameter
        self.cd = seat.discharge_coefficient
        self.table = None
        if getattr(seat, "table", None) is not None:
            self.table = (list(seat.table.lift), list(seat.table.area))
        self.spigot = seat.spigot_length or 0.0
        self.clearance = (seat.spigot_clearance or 0.0) if self.spigot > 0 else 0.0
        self.annulus = (seat.annulus_area or 0.0) * (seat.annulus_discharge_coefficient or 0.0)
        self.viscosity = case.fuel.viscosity
        self.jet_factor = seat.jet_factor
        self.leak = seat.leak_area / self.cd

    def area(self, x: float) -> float:
        """m2 at the seat with its leak, without its discharge coefficient."""
        if self.table is not None:
            return self.leak + (float(np.interp(x, self.table[0], self.table[1])) if x > 0 else 0.0)
        cone = self.leak
        if x > 0:
            cone += cone_area(x, self.edge, self.angle, self.seat_diameter, self.nose_diameter)
        if self.spigot <= 0:
            return cone
        ring = math.pi * self.seat_diameter * self.clearance
        if x <= self.spigot:
            return min(cone, ring)
        beyond = math.pi * self.seat_diameter * math.hypot(self.clearance, x - self.spigot)
        return max(ring, min(beyond, cone))

    def flow(self, x: float, p_f: float, p_c: float) -> tuple[float, float]:
        """(kg/s through the seat, pressure between gap and annulus in Pa) at a lift; seated: what leaks."""
        S, N, rho = self.cd * self.area(x), self.annulus, self.rho
        if S <= 0:
            return 0.0, p_c
        dp = p_f - p_c
        if self.table is None and self.spigot > 0 and x <= self.spigot:
            R = 12 * self.viscosity * (self.spigot - x) / (math.pi * self.seat_diameter * self.clearance**3)
            k = 0.5 * rho * (1 / S**2 + (1 / N**2 if N > 0 else 0.0))
            Q = laminar_orifice(R, k, dp)
            return rho * Q, p_c + (math.copysign(0.5 * rho * (Q / N) ** 2, Q) if N > 0 else 0.0)
        if N <= 0:
            return turbulent_flow(S, rho, dp), p_c
        both = S * N / math.hypot(S, N)
        return turbulent_flow(both, rho, dp), (S * S * p_f + N * N * p_c) / (S * S + N * N)

    def jet_force(self, w: float, p_f: float, p_i: float) -> float:
        """N, closing, taken from p_f A_a."""
        if w <= 0 or p_f <= p_i:
            return 0.0
        return self.jet_factor * w * math.sqrt(2 * (p_f - p_i) / self.rho) * math.cos(self.angle)


# ------------------------------------------------------------------------------------------------------ combustion
class Propellants:
    """c*^2 and g over the oxidizer fraction f, by PCHIP; `efficiency` acts on the table's entries, not on cold ends."""

    def __init__(self, case: object, efficiency: float) -> None:
        chamber = case.chamber
        o_f = np.array([float(v) for v in chamber.o_f])
        c_star = np.array([float(v) for v in chamber.c_star]) * efficiency
        g = np.array([float(v) for v in chamber.g]) * np.ones(len(o_f))  # one g holds for all
        f = o_f / (1 + o_f)
        cold_f = self._cold(chamber.cold_c_star_fuel, case.fuel, g[0])
        cold_o = self._cold(chamber.cold_c_star_oxidizer, case.oxidizer, g[-1])
        nodes = np.concatenate([[0.0], f, [1.0]])
        squares = np.concatenate([[cold_f**2], c_star**2, [cold_o**2]])
        exponents = np.concatenate([[g[0]], g, [g[-1]]])
        self.best = float(f[int(np.argmax(c_star))])
        self.least_of, self.most_of = float(o_f[0]), float(o_f[-1])
        self.nodes = nodes.tolist()
        self.square = [tuple(c) for c in PchipInterpolator(nodes, squares).c.T]
        self.exponent = [tuple(c) for c in PchipInterpolator(nodes, exponents).c.T]

    @staticmethod
    def _cold(given: float | None, side: object, g: float) -> float:
        if given is not None:
            return float(given)
        return math.sqrt(GAS_CONSTANT * side.temperature / side.molar_mass) / gamma_function(g)

    def at(self, f: float) -> tuple[float, float]:
        """(c*^2 m2/s2, g) at an oxidizer fraction."""
        f = min(max(f, 0.0), 1.0)
        i = min(max(bisect.bisect_right(self.nodes, f) - 1, 0), len(self.square) - 1)
        s = f - self.nodes[i]
        a, b, c, d = self.square[i]
        e, k, l, m = self.exponent[i]
        return ((a * s + b) * s + c) * s + d, ((e * s + k) * s + l) * s + m


def gamma_function(g: float) -> float:
    """Gamma with Gamma^2 = g (2/(g+1))^((g+1)/(g-1))."""
    return math.sqrt(g * (2 / (g + 1)) ** ((g + 1) / (g - 1)))


def throat_ratio(p: float, p_amb: float, g: float, laminar_above: float) -> float:
    """psi of MODEL.md section 6: 1 while choked, isentropic below, straight near 1, 0 at and below ambient."""
    if p <= p_amb:
        return 0.0
    r = p_amb / p

    def shape(q: float) -> float:
        if q <= (2 / (g + 1)) ** (g / (g - 1)):
            return 1.0
        return math.sqrt(2 * g / (g - 1) * (q ** (2 / g) - q ** ((g + 1) / g))) / gamma_function(g)

    if r > laminar_above:
        return shape(laminar_above) * (1 - r) / (1 - laminar_above)
    return shape(r)
