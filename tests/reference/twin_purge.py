"""Gas in a manifold, of the reference twin: written from MODEL.md section 6 alone.

    purge -> manifold (gas m, liquid P = B z/V) -> injector: liquid x share, gas x its own share -> chamber

At one temperature; which of the two leaves first hangs on whether the run valve last opened or shut.
"""

from __future__ import annotations

import math
from typing import Any

from CoolProp.CoolProp import PropsSI
from twin_gas import Orifice, RealGas, Stream, one_way, stream_at

SHARE_WIDTH = 0.05
"""-. Of the manifold's volume: over it one follows the other through the injector (MODEL.md section 6)."""
CHAMBER_N = 1.2
"""-. Exponent of what flows back out of the chamber (MODEL.md section 6)."""


class ManifoldGas:
    """The gas of one manifold: R T, exponent, viscosity; its purge; the clearance it passes."""

    def __init__(self, case: Any, side: str, diameter: float, clearance: float, eccentricity: float, cd: float) -> None:
        feed = getattr(case, side)
        purge, valve = feed.purge, feed.valve
        if purge is not None:
            name, T = purge.gas, purge.gas_temperature
        else:
            name, T = valve.start_gas, valve.start_gas_temperature or case.ambient.temperature
        gas = RealGas(name)
        self.RT = gas.gas_constant * T
        self.n = stream_at(gas, case.ambient.pressure, T).n
        self.h = self.n / (self.n - 1) * self.RT
        self.volume = feed.manifold_volume
        self.start = 0.0
        if valve.start_gas is not None:
            self.start = max(valve.manifold_pressure, feed.vapour_pressure) * self.volume / self.RT
        self.windows: list[tuple[float, float]] = []
        if purge is not None:
            area = purge.effective_area
            if area is None:
                area = purge.discharge_coefficient * math.pi / 4 * purge.orifice**2
            self.orifice = Orifice(area)
            self.supply = stream_at(RealGas(purge.gas), purge.pressure, purge.temperature)
            self.windows = [(on, min((t for t in purge.off if t > on), default=math.inf)) for on in purge.on]
        self.viscosity = PropsSI("V", "P|gas", case.ambient.pressure, "T", T, name)
        self.diameter, self.clearance, self.eccentricity = diameter, max(clearance, 0.0), eccentricity
        self.mouth = cd * math.pi * diameter * self.clearance

    def knots(self) -> set[float]:
        """Instants at which the purge is switched."""
        return {t for window in self.windows for t in window if t < math.inf}

    def is_on(self, t: float) -> bool:
        """Whether the purge is on."""
        return any(on <= t < off for on, off in self.windows)

    def pressure(self, P: float, mass: float, vapour: float, stiffness: float) -> float:
        """Manifold pressure, Pa; P = B z/V of the liquid alone."""
        b, product = vapour + P, 4 * stiffness * max(mass, 0.0) * self.RT
        root = math.sqrt(b * b + product)
        p = (b + root) / 2 if b >= 0 else product / (2 * (root - b))
        return max(p, vapour)

    def shares(self, p: float, mass: float, liquid: float, ahead: bool) -> tuple[float, float, float]:
        """(share of liquid forward, share of gas forward, share of liquid that can go back by the valve)."""
        width = SHARE_WIDTH * self.volume
        filling = min(max(mass * self.RT / p / width, 0.0), 1.0)
        left = min(max(liquid / width, 0.0), 1.0)
        if ahead:
            return 1 - filling, filling, left
        return left, (1 - left) * filling, left

    def through_gap(self, length: float, p1: float, p2: float) -> float:
        """kg/s of gas through the clearance, laminar with slip, p1 > p2."""
        c = self.clearance
        if c <= 0:
            return 0.0
        if length <= 0:
            return math.inf
        mean = 0.5 * (p1 + p2)
        knudsen = self.viscosity / mean * math.sqrt(math.pi * self.RT / 2) / c
        shape = math.pi * self.diameter * c**3 * (1 + 1.5 * self.eccentricity**2)
        return shape * (p1**2 - p2**2) / (24 * self.viscosity * length * self.RT) * (1 + 6 * knudsen)

    def alone(
        self, area: float, length: float | None, in_series: bool, p: float, p_c: float, rho_c: float, straight: float
    ) -> float:
        """kg/s, signed, that the injector passes of gas alone; length None: no clearance."""
        if p >= p_c:
            up, down, sign = Stream(p, p / self.RT, self.n, 0.0), p_c, 1.0
        else:
            up, down, sign = Stream(p_c, rho_c, CHAMBER_N, 0.0), p, -1.0
        whole = one_way(Orifice(area), up, down, straight) if area > 0 else 0.0
        if length is None:
            return sign * whole
        gap = self.through_gap(length, up.p, down)
        if in_series:
            return sign * min(whole, gap)
        return sign * (whole + min(gap, one_way(Orifice(self.mouth), up, down, straight) if self.mouth > 0 else 0.0))

    def purged(self, p: float, straight: float) -> float:
        """kg/s of a purge that is on, into a manifold at p, Pa; a check valve holds back."""
        return one_way(self.orifice, self.supply, p, straight) if p < self.supply.p else 0.0
