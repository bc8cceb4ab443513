"""Closed forms of a chamber's first sizing: c* of a perfect gas, throat area, pressure of a pool burned at once.

    c* = p0 A_throat / w  (>= 0);  throat area (m2) for a flow w (kg/s, out of the chamber) at chamber pressure p0 (Pa)

Assumptions: perfect gas of one exponent, choked throat, uniform chamber. Validity: a table from chemical equilibrium
(`scripts/make_combustion_table.py`) is better wherever there is one. Source: Sutton and Biblarz, Rocket Propulsion
Elements, chapter 3; Hill and Peterson, Mechanics and Thermodynamics of Propulsion, chapter 11.
"""

import math


def choked_flow_factor(gamma: float) -> float:
    """Gamma (-) of w = p A Gamma/sqrt(R T): sqrt(gamma) (2/(gamma+1))^((gamma+1)/(2 (gamma-1))), gamma > 1.

    >>> round(choked_flow_factor(1.4), 5)
    0.68473
    """
    return math.sqrt(gamma) * (2.0 / (gamma + 1.0)) ** ((gamma + 1.0) / (2.0 * (gamma - 1.0)))


def perfect_gas_c_star(gamma: float, gas_constant: float, temperature: float) -> float:
    """Characteristic velocity (m/s) of a perfect gas: c* = sqrt(R T)/Gamma.

    `gas_constant` (J/kg/K), `temperature` of the chamber (K). Source: module docstring.

    >>> round(perfect_gas_c_star(1.3, 287.0, 3500.0))
    1502
    """
    return math.sqrt(gas_constant * temperature) / choked_flow_factor(gamma)


def throat_area(flow: float, c_star: float, pressure: float) -> float:
    """Throat area (m2) that holds `pressure` (Pa, absolute) at `flow` (kg/s): A = w c*/p0."""
    return flow * c_star / pressure


def burned_pool_pressure(c_star: float, exponent: float, mass_per_volume: float) -> float:
    """Pressure (Pa) of products when a pool burns at once in the closed chamber: g (m/V) (Gamma c*)^2.

    (Gamma c*)^2 is R T of burning at constant pressure; at constant volume the gas is hotter by the factor g. No
    efficiency in `c_star` (m/s), `mass_per_volume` (kg/m3). An estimate, no bound: a detonation exceeds it locally.
    Closed form: U = H of the liquids, so c_v T_v = c_p T_p. Within some per cent of equilibrium.
    """
    return exponent * mass_per_volume * (choked_flow_factor(exponent) * c_star) ** 2
