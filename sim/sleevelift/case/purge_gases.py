"""Gases that may stand in a manifold: what they are at a state, and where they condense. CoolProp is asked, once for each state.

Importing CoolProp takes seconds: only a case with such a gas does it, when it is checked for condensing or made into a plant.
"""

from functools import lru_cache
from math import inf
from typing import NamedTuple

from sleevelift.case.gases import INERT, plain_name

STARTING = (*INERT, "air")
"""What a manifold may be full of at the start."""


class GasState(NamedTuple):
    """A gas ahead of an orifice or in a manifold, SI."""

    gas_constant: float
    """J/(kg K), R/M"""
    density: float
    exponent: float
    """-, real isentropic: rho c^2/p"""
    viscosity: float
    """Pa s"""


@lru_cache(maxsize=256)
def gas_state(name: str, pressure: float, temperature: float) -> GasState:
    """State of a gas of `STARTING` at Pa and K, by CoolProp's reference equation."""
    from CoolProp.CoolProp import PropsSI

    fluid = plain_name(name)
    at = "P|gas", pressure, "T", temperature, fluid
    density = PropsSI("D", *at)
    sound = PropsSI("A", *at)
    constant = PropsSI("gas_constant", fluid) / PropsSI("molar_mass", fluid)
    return GasState(constant, density, density * sound**2 / pressure, PropsSI("V", *at))


@lru_cache(maxsize=64)
def saturation_pressure(name: str, temperature: float) -> float:
    """Pressure, Pa, at which a gas condenses at a temperature, K: inf from its critical temperature on, 0 below its triple one."""
    from CoolProp.CoolProp import PropsSI

    fluid = plain_name(name)
    if temperature >= PropsSI("Tcrit", fluid):
        return inf
    if temperature <= PropsSI("Ttriple", fluid):
        return 0.0
    return float(PropsSI("P", "T", temperature, "Q", 1, fluid))
