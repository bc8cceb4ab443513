"""Gas of the reference twin: states (rho, T) straight from the reference equations, and the restrictions between nodes.

    node (p, rho, n, h)  --- element (Cd A, law) --->  node

A real gas is CoolProp's AbstractState at (rho, T) with the gas phase imposed; its balance is written for rho and T,

    d rho/dt = (sum w - rho dV/dt)/V
    rho V cv dT/dt = sum w h - u sum w - p dV/dt + Q - V (p - T dp/dT)/rho d rho/dt

from du = cv dT + (p - T dp/dT)/rho^2 d rho,

so that neither the internal energy nor a table of it is a state here. SI, absolute pressures.
Sources: Callen, Thermodynamics, 2nd ed., section 7.3 for du; ISO 6358-1:2013 for the component law.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import CoolProp as _cp
import numpy as np
from CoolProp.CoolProp import AbstractState

ANR_DENSITY = 1.185
"""kg/m3. ISO 8778."""
ANR_TEMPERATURE = 293.15
"""K. ISO 8778."""
AIR_R = 287.05
"""J/kg/K. Dry air, as MODEL.md section 3 states it."""
SUPERCOOLING = 5.0
"""K below saturation up to which the vapour is carried on (MODEL.md section 3)."""
HOTTEST = 700.0
"""K, upper end of the range (MODEL.md section 3)."""
HIGHEST = 350e5
"""Pa, upper end of the range (MODEL.md section 3)."""
CRITICAL_MARGIN = 1.05
"""Lower edge above the critical density, as a multiple of the critical temperature (MODEL.md section 3)."""
ORIFICE_CRITICAL_RATIO = 0.528
"""b of an orifice inside a series combination (MODEL.md section 3)."""
LEAST_CRITICAL_RATIO = 0.01
"""b = 0 counts as this in a series combination (MODEL.md section 3)."""
LEAST_DENSITY = 1e-9
"""kg/m3; only keeps a wild trial state of the integrator from raising."""


class Stream(NamedTuple):
    """What a restriction sees upstream: pressure Pa, density kg/m3, exponent n = rho c^2/p, enthalpy J/kg."""

    p: float
    rho: float
    n: float
    h: float


class RealGas:
    """One gas by CoolProp's reference equation, gas phase imposed."""

    def __init__(self, name: str) -> None:
        self.state = AbstractState("HEOS", name)
        self.state.specify_phase(_cp.iphase_gas)
        self.gas_constant = self.state.gas_constant() / self.state.molar_mass()
        self.critical_temperature = self.state.T_critical()
        self.critical_density = self.state.rhomass_critical()
        self._log_density, self._saturation = self._vapour_line(name)

    def _vapour_line(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        free = AbstractState("HEOS", name)
        lowest = max(free.Ttriple(), free.Tmin())
        density, temperature = [], []
        for T in lowest + (self.critical_temperature - lowest) * (1 - np.linspace(1, 0.01, 600) ** 2):
            try:
                free.update(_cp.QT_INPUTS, 1.0, float(T))
            except ValueError:
                continue
            density.append(free.rhomass())
            temperature.append(float(T))
        density.append(self.critical_density)
        temperature.append(self.critical_temperature)
        return np.log(density), np.array(temperature)

    def properties(self, rho: float, T: float) -> tuple[float, float, float, float, float]:
        """(p Pa, h J/kg, cv J/kg/K, dp/dT at constant rho Pa/K, n) of a state."""
        s = self.state
        s.update(_cp.DmassT_INPUTS, max(rho, LEAST_DENSITY), min(max(T, 20.0), 3000.0))
        p = s.p()
        c = s.speed_sound()
        return p, s.hmass(), s.cvmass(), s.first_partial_deriv(_cp.iP, _cp.iT, _cp.iDmass), rho * c * c / p

    def density(self, p: float, T: float) -> float:
        """kg/m3 at (p, T)."""
        self.state.update(_cp.PT_INPUTS, p, T)
        return self.state.rhomass()

    def range_margin(self, rho: float, T: float, p: float) -> float:
        """Positive inside the range of MODEL.md section 3; K, the pressure end scaled to K."""
        if rho > self.critical_density:
            low = CRITICAL_MARGIN * self.critical_temperature
        else:
            low = float(np.interp(math.log(max(rho, LEAST_DENSITY)), self._log_density, self._saturation)) - SUPERCOOLING
        return min(T - low, HOTTEST - T, (HIGHEST - p) * 1e-5)

    def entropy(self, rho: float, T: float) -> float:
        """J/kg/K."""
        self.state.update(_cp.DmassT_INPUTS, rho, T)
        return self.state.smass()


class PerfectGas:
    """p = rho R T, cv = R/(gamma - 1), h = cp T."""

    def __init__(self, gamma: float, gas_constant: float) -> None:
        self.gamma = gamma
        self.gas_constant = gas_constant
        self.cv = gas_constant / (gamma - 1)

    def properties(self, rho: float, T: float) -> tuple[float, float, float, float, float]:
        """As RealGas.properties."""
        R = self.gas_constant
        return rho * R * T, (self.cv + R) * T, self.cv, rho * R, self.gamma

    def density(self, p: float, T: float) -> float:
        """kg/m3 at (p, T)."""
        return p / (self.gas_constant * T)

    def range_margin(self, rho: float, T: float, p: float) -> float:
        """A perfect gas has no vapour line."""
        return min(T - 1.0, rho / LEAST_DENSITY - 1.0)


def stream_at(gas: RealGas | PerfectGas, p: float, T: float) -> Stream:
    """The stream of a reservoir at (p, T)."""
    rho = gas.density(p, T)
    properties = gas.properties(rho, T)
    return Stream(p, rho, properties[4], properties[1])


def node_rates(
    state: tuple[float, float, float, float, float],
    rho: float,
    T: float,
    V: float,
    dV: float,
    w: float,
    wh: float,
    heat: float,
) -> tuple[float, float]:
    """(d rho/dt, dT/dt) of a node of volume V from its net mass flow w, enthalpy flow wh and heat (W)."""
    p, h, cv, p_T, _ = state
    drho = (w - rho * dV) / V
    u = h - p / rho
    dT = (wh - u * w - p * dV + heat - V * (p - T * p_T) / rho * drho) / (rho * V * cv)
    return drho, dT


# ---------------------------------------------------------------------------------------------------- restrictions
def psi(n: float) -> float:
    """Choked flow factor: w = Cd A psi sqrt(p rho)."""
    if abs(n - 1) < 1e-7:
        return math.exp(-0.5)
    return math.sqrt(n) * (2 / (n + 1)) ** ((n + 1) / (2 * (n - 1)))


AREA_OF_CONDUCTANCE = ANR_DENSITY * math.sqrt(AIR_R * ANR_TEMPERATURE) / psi(1.4)
"""Cd A (m2) of the orifice that chokes like a component of C = 1 m3/(s Pa)."""


class Orifice(NamedTuple):
    """Isentropic orifice; area = Cd A, m2."""

    area: float

    def ratio(self, r: float, n: float) -> float:
        """Flow over area sqrt(p1 rho1)."""
        if r <= (2 / (n + 1)) ** (n / (n - 1)):
            return psi(n)
        return math.sqrt(max(2 * n / (n - 1) * (r ** (2 / n) - r ** ((n + 1) / n)), 0.0))


class Component(NamedTuple):
    """ISO 6358 component; area = Cd A of the same choked flow, m2; critical ratio b, subsonic index m."""

    area: float
    b: float
    m: float

    def ratio(self, r: float, n: float) -> float:
        """Flow over area sqrt(p1 rho1)."""
        if r <= self.b:
            return psi(n)
        return psi(n) * (1 - ((r - self.b) / (1 - self.b)) ** 2) ** self.m


Element = Orifice | Component


def one_way(element: Element, up: Stream, p2: float, laminar_above: float) -> float:
    """kg/s through an element from a stream to p2 <= p1; straight in r above `laminar_above`."""
    r = p2 / up.p
    if r > laminar_above:
        shape = element.ratio(laminar_above, up.n) * (1 - r) / (1 - laminar_above)
    else:
        shape = element.ratio(r, up.n)
    return element.area * shape * math.sqrt(up.p * up.rho)


def series(first: Component, second: Component) -> Component:
    """ISO 6358-3 combination of two components, `first` upstream."""
    b1 = max(first.b, LEAST_CRITICAL_RATIO)
    b2 = max(second.b, LEAST_CRITICAL_RATIO)
    C1, C2 = first.area, second.area
    a = C1 / (b1 * C2)
    q = ((1 - b1) / b1) ** 2
    C = C1 if a <= 1 else C2 * a * (a * b1 + (1 - b1) * math.sqrt(a * a + q - 1)) / (a * a + q)
    b = 1 - C * C * ((1 - b1) / C1**2 + (1 - b2) / C2**2)
    return Component(C, b, 0.5)


def tube_component(length: float, bore: float) -> Component:
    """ISO 6358 conductance of a tube, MODEL.md section 3 (m, s, Pa)."""
    C = 0.029 * bore**2 / math.sqrt(length / bore**1.25 + 510)
    return Component(C * AREA_OF_CONDUCTANCE, 474 * C / bore**2, 0.5)
