"""Actuation gas at rest: its table, its state at a pressure and temperature, the wave through it; made once and kept."""

from functools import lru_cache
from math import nan, sqrt

import numpy as np

from sleevelift.case.schema_gas import Gas, Tube
from sleevelift.case.schema_run import Ambient
from sleevelift.physics.gas import gas_at, perfect_gas
from sleevelift.physics.gas_node import expansion_energy, node_state
from sleevelift.plant.gas_side import HOT_GAS_LIMIT

HOT_ENTHALPY_TERMS = 5
"""Terms of the polynomial of h(p) at 695 K: the gas is nearly perfect there (fit error below 1e-6 of h)."""
HIGHEST_PRESSURE = 350e5
"""Pa. Upper end of the gas tables."""


@lru_cache(maxsize=32)
def gas_table(name: str, model: str, gamma: float, gas_constant: float) -> np.ndarray:
    """Flat table of the actuation gas (shared, read-only)."""
    if model == "perfect":
        table: np.ndarray = perfect_gas(gamma, gas_constant)
        return table
    from sleevelift.gas_tables import load_gas

    return load_gas(name)


GasName = tuple[str, str, float, float]
"""Arguments of `gas_table`: name and model, and of a perfect gas its exponent and gas constant."""


def gas_name(gas: Gas) -> GasName:
    """The actuation gas of a case."""
    return gas.name, gas.model, gas.gamma or 0.0, gas.gas_constant or 0.0


@lru_cache(maxsize=1024)
def rest_state(p: float, T: float, gas: GasName) -> tuple[float, float, float, float, float]:
    """(density kg/m3, n, h, choked flux, r*) of actuation gas at p, T; nan where that is outside its range."""
    table = gas_table(*gas)
    rho, u, status = gas_at(p, T, table)
    if status >= 2:
        return nan, nan, nan, nan, nan
    node = node_state(rho, rho * u, 1.0, table)
    return rho, node[3], node[4], node[5], node[6]


@lru_cache(maxsize=1024)
def expansion(p: float, T: float, p_end: float, gas: GasName) -> float:
    """`gas_node.expansion_energy` of actuation gas, J/m3: no lane of a batch that shares p and T computes it again."""
    return float(expansion_energy(p, T, p_end, gas_table(*gas)))


def gas_state_tuple(p: float, T: float, gas: GasName) -> tuple[float, float, float, float, float, float]:
    """(p, T, n, h, flux, r*) of actuation gas at rest."""
    return p, T, *rest_state(p, T, gas)[1:]


def wave_delay(tube: Tube, ambient: Ambient, gas: GasName) -> float:
    """Time of a pressure wave through the tube, s, at ambient state."""
    p = ambient.pressure
    rho, n, _, _, _ = rest_state(p, ambient.temperature, gas)
    return float(tube.length / sqrt(n * p / rho))


@lru_cache(maxsize=32)
def hot_enthalpy_terms(name: str, model: str, gamma: float, gas_constant: float) -> tuple[float, ...]:
    """Polynomial of h(p), J/kg, at 695 K over the gas table's pressures, highest power first."""
    gas = gas_table(name, model, gamma, gas_constant)
    pressures, values = [], []
    for p in np.linspace(1e4, HIGHEST_PRESSURE, 60):
        rho, u, status = gas_at(p, HOT_GAS_LIMIT * (1.0 - 1e-9), gas)
        if status < 2:
            pressures.append(p)
            values.append(u + p / rho)
    scaled = np.polyfit(np.array(pressures) / HIGHEST_PRESSURE, values, HOT_ENTHALPY_TERMS - 1)
    powers = np.arange(HOT_ENTHALPY_TERMS - 1, -1, -1)
    return tuple((scaled / HIGHEST_PRESSURE**powers).tolist())
