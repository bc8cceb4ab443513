"""Closed forms of a chamber's first sizing: choked flow, throat area.

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



def throat_area(flow: float, c_star: float, pressure: float) -> float:
    """Throat area (m2) that holds `pressure` (Pa, absolute) at `flow` (kg/s): A = w c*/p0."""
    return flow * c_star / pressure
