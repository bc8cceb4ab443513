"""A gas's equation of state, the limits of its table, and the largest density at each temperature.

Every state is evaluated with the gas phase imposed and (rho, T) given: the equation itself, no flash, so it goes on smoothly into
supersaturated vapour, up to which it counts here; what lies deeper is for `build` to continue.
"""

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

HIGHEST_TEMPERATURE = 700.0
"""K. Upper limit of the tables (lower where the equation of state ends earlier)."""

HIGHEST_PRESSURE = 350e5
"""Pa. Upper limit of the tables (lower where the equation of state ends earlier)."""

HIGHEST_CRITICAL_TEMPERATURE = 160.0
"""K. Gases with a higher one condense in ordinary use of a valve and are refused."""

DENSE_EDGE = 1.05
"""-. Lower temperature edge above the critical density, in critical temperatures."""

HIGHEST_VAPOUR_DENSITY = {"helium": 0.45}
"""Critical densities, 1 where not given: up to here the range begins at saturation. Helium's equation turns so
sharply in the 0.1 K above its critical point (5.2 K) that no table of this size follows it there."""

LOWEST_TEMPERATURE = {"oxygen": 80.0}
"""K, the triple point where not given: in colder oxygen the equation's c_v of vapour just below saturation runs away
(1.6 times the dilute gas's at 60 K, 0.1 kg/m3; 160 times at 45 K), which a spline across it cannot follow."""

SUPERSATURATION = 5.0
"""K below saturation to which vapour is computed."""

REFERENCE_TEMPERATURE = 293.15
"""K. Temperature of the ideal-gas exponent given in the facts."""

N_VAPOUR = 360
"""Intervals of the edges from the lowest to the critical temperature: 0.2 K, the chord of the vapour line 1e-4 off."""

EDGE_SLACK = 1e-3
"""-. The edges are moved out by this part of the density (0.01 K), so that a state on the vapour line is not
flagged."""

STABLE_COMPRESSIBILITY = 0.02
"""R T. Supersaturated vapour is offered while dp/drho at constant T is above this: short of the spinodal."""

VANISHING = 1e-9
"""Critical densities. Stands for zero density, where p/rho and n are formed: Z - 1 is then below 1e-7."""


class GasLimits(NamedTuple):
    """What a gas's equation of state and the tables' range give; SI."""

    gas_constant: float
    critical_temperature: float
    critical_density: float
    vapour_density: float
    """kg/m3. Vapour counts from its saturation up to here, denser gas from DENSE_EDGE T_crit."""
    lowest_temperature: float
    highest_temperature: float
    highest_pressure: float
    highest_density: float
    dense_temperature: float
    """K. From here up every density counts: DENSE_EDGE T_crit, or the melting temperature at the highest pressure."""


class Equation:
    """CoolProp's equation of state of one gas: `imposed` with the gas phase imposed, `flash` without."""

    def __init__(self, fluid: str) -> None:
        import CoolProp.CoolProp as coolprop

        self.library = coolprop
        self.imposed: Any = coolprop.AbstractState("HEOS", fluid)
        self.imposed.specify_phase(coolprop.iphase_gas)
        self.flash: Any = coolprop.AbstractState("HEOS", fluid)
        self.given = coolprop.DmassT_INPUTS

    def at(self, rho: float, T: float) -> tuple[float, float, float, float]:
        """u (J/kg), c_v (J/kg/K), p (Pa) and c (m/s; NaN where a small disturbance would grow)."""
        state = self.imposed
        state.update(self.given, rho, T)
        return state.umass(), state.cvmass(), state.p(), state.speed_sound()

    def energy(self, rho: float, T: float) -> tuple[float, float]:
        """u (J/kg) and c_v (J/kg/K)."""
        self.imposed.update(self.given, rho, T)
        return self.imposed.umass(), self.imposed.cvmass()

    def compressibility(self, rho: float, T: float) -> float:
        """dp/drho at constant T (m2/s2): zero on the spinodal."""
        self.imposed.update(self.given, rho, T)
        return float(self.imposed.first_partial_deriv(self.library.iP, self.library.iDmass, self.library.iT))

    def pressure(self, rho: float, T: float) -> float:
        """p (Pa)."""
        self.imposed.update(self.given, rho, T)
        return float(self.imposed.p())

    def vapour_density(self, T: float) -> float:
        """Density of saturated vapour (kg/m3)."""
        self.flash.update(self.library.QT_INPUTS, 1.0, T)
        return float(self.flash.rhomass())


def root_between(lower: float, upper: float, below: Any, steps: int = 60) -> float:
    """Largest argument between `lower` and `upper` for which the monotone test `below` holds, by bisection."""
    for _ in range(steps):
        middle = 0.5 * (lower + upper)
        if below(middle):
            lower = middle
        else:
            upper = middle
    return lower


def gas_limits(equation: Equation) -> GasLimits:
    """The limits of a gas's table."""
    state = equation.imposed
    T_crit, rho_crit = float(state.T_critical()), float(state.rhomass_critical())
    T_max = min(HIGHEST_TEMPERATURE, float(state.Tmax()))
    p_max = min(HIGHEST_PRESSURE, float(state.pmax()))
    T_dense = DENSE_EDGE * T_crit
    if equation.flash.has_melting_line():
        library = equation.library
        try:
            T_dense = max(T_dense, float(equation.flash.melting_line(library.iT, library.iP, p_max)))
        except ValueError:
            pass  # the melting line ends below this pressure: no solid above DENSE_EDGE
    rho_max = root_between(rho_crit, 5.0 * rho_crit, lambda rho: equation.pressure(rho, T_dense) < p_max)
    R = float(state.gas_constant() / state.molar_mass())
    T_min = LOWEST_TEMPERATURE.get(state.name().lower(), float(state.Tmin()))
    rho_vapour = HIGHEST_VAPOUR_DENSITY.get(state.name().lower(), 1.0) * rho_crit
    return GasLimits(R, T_crit, rho_crit, rho_vapour, T_min, T_max, p_max, rho_max, T_dense)


def dilute_exponent(equation: Equation, limits: GasLimits) -> float:
    """c_p/c_v (-) of the gas at vanishing density and 293.15 K."""
    return 1.0 + limits.gas_constant / equation.energy(VANISHING * limits.critical_density, REFERENCE_TEMPERATURE)[1]


def edge_densities(equation: Equation, limits: GasLimits) -> tuple[Array, Array, Array]:
    """Temperatures and the two largest densities at each: not supersaturated, and at most 5 K supersaturated."""
    T_min, T_crit = limits.lowest_temperature, limits.critical_temperature
    spacing = (T_crit - T_min) / N_VAPOUR
    below = math.ceil(min(SUPERSATURATION, 0.5 * T_min) / spacing)
    above = math.floor((limits.dense_temperature - T_crit) / spacing)
    T: Array = T_min + spacing * np.arange(-below, N_VAPOUR + above + 1, dtype=np.float64)
    # above T_crit one interval ahead: the step at DENSE_EDGE must not cut into the range
    ahead = np.where(T < T_crit * (1.0 - 1e-12), 0.0, spacing)
    fresh = np.array([fresh_density(equation, limits, t) for t in T + ahead])
    warmer = [fresh_density(equation, limits, t + SUPERSATURATION) if t < T_crit else f for t, f in zip(T, fresh)]
    deep = [stable_density(equation, limits, t, low, high) for t, low, high in zip(T, fresh, warmer)]
    return T, (1.0 + EDGE_SLACK) * fresh, (1.0 + EDGE_SLACK) * np.array(deep)


def fresh_density(equation: Equation, limits: GasLimits, T: float) -> float:
    """Largest density (kg/m3) at `T` that is not supersaturated: the saturated vapour's, then the critical one up to
    1.05 T_crit, then the melting gas's; 0 below the lowest temperature of the equation."""
    if T < limits.lowest_temperature * (1.0 - 1e-12):
        return 0.0
    if T >= DENSE_EDGE * limits.critical_temperature:
        return melting_density(equation, limits, T)
    if T >= limits.critical_temperature * (1.0 - 1e-12):
        return limits.vapour_density
    try:
        return min(equation.vapour_density(T), limits.vapour_density)
    except ValueError:
        return limits.vapour_density  # a pseudo-pure gas has no dew point in the last kelvin below T_crit


def melting_density(equation: Equation, limits: GasLimits, T: float) -> float:
    """Density (kg/m3) at which the gas freezes at `T`, at most the highest of the table."""
    library = equation.library
    if T >= limits.dense_temperature:
        return limits.highest_density
    p_melt = float(equation.flash.melting_line(library.iP, library.iT, T))
    return root_between(limits.critical_density, limits.highest_density, lambda rho: equation.pressure(rho, T) < p_melt)


def stable_density(equation: Equation, limits: GasLimits, T: float, lower: float, upper: float) -> float:
    """Density up to `upper` to which vapour at `T`, stable at `lower`, stays clear of the spinodal."""
    if upper <= lower:
        return lower
    least = STABLE_COMPRESSIBILITY * limits.gas_constant * T
    if T < limits.critical_temperature - 2.0 * SUPERSATURATION and equation.compressibility(upper, T) > least:
        return upper
    return root_between(lower, upper, lambda rho: equation.compressibility(rho, T) > least, steps=24)
