"""How far the orifice law's critical flow is from the exact one of a real gas.

The law takes the exponent n = rho c^2/p of the upstream state as constant; on the way to the throat n of a cold or dense gas
changes. Exact: the greatest rho sqrt(2 (h_0 - h)) along the isentrope, of the same table.

    critical_flux(p, T, gas)    the exact flux, kg/(s m2)
    orifice_error(p, T, gas)    the law's over it, - 1
    orifice_remark(...)         the greatest error a run came to, in words
"""

from collections.abc import Mapping
from math import exp, inf, log, nan, sqrt

import numpy as np
from numpy.typing import NDArray

from sleevelift.gas_tables.layout import KIND, REAL, RHO_A
from sleevelift.physics.gas import OUTSIDE, gas_at, gas_state
from sleevelift.physics.restriction import choked_flux
from sleevelift.reader import METRIC, Reader

Gas = NDArray[np.float64]

DENSE = 0.03
"""-. Of the table's reference density, which is four critical ones: thinner gas is within 1 %."""
WORTH_SAYING = 0.01
"""-. Error from which a run says so."""
CHOKES = 1.9
"""-. Over ambient pressure: below it no gas of the tables flows at the speed of sound."""

STEP = 0.05
"""-. Runge-Kutta step in ln p: the greatest flux to 3e-5 (3e-4 near condensing), by a parabola through the highest three; every run
with a dense bottle asks for it once, in half a millisecond."""
LOWEST_RATIO = 0.2
"""-. Of throat to upstream pressure: no gas of the tables chokes lower."""


def _slopes(log_p: float, log_rho: float, u: float, n: float, gas: Gas) -> tuple[float, float, float]:
    """d ln rho/d ln p (-), du/d ln p (J/kg) at constant entropy, and the state's exponent; beyond the table that is `n`."""
    rho = exp(log_rho)
    _, _, here, status = gas_state(rho, u, gas)
    if status != OUTSIDE:
        n = float(here)
    return 1.0 / n, exp(log_p) / (rho * n), n


def critical_flux(p: float, T: float, gas: Gas) -> float:
    """Greatest mass flux along the isentrope from rest at p (Pa), T (K), kg/(s m2); nan outside the gas's range.

    Nothing condenses on the way (there is no time for it in an orifice). Where the gas would be more than 5 K supersaturated the
    exponent stays as it was there: within 1 % of the equation of state carried on.
    """
    rho, u, status = gas_at(p, T, gas)
    if status == OUTSIDE:
        return nan
    log_p, log_rho, rest = log(p), log(rho), u + p / rho
    fluxes = [0.0]
    h, n = -STEP, 1.4
    while exp(log_p) > LOWEST_RATIO * p:
        r_1, u_1, n = _slopes(log_p, log_rho, u, n, gas)
        r_2, u_2, n = _slopes(log_p + 0.5 * h, log_rho + 0.5 * h * r_1, u + 0.5 * h * u_1, n, gas)
        r_3, u_3, n = _slopes(log_p + 0.5 * h, log_rho + 0.5 * h * r_2, u + 0.5 * h * u_2, n, gas)
        r_4, u_4, n = _slopes(log_p + h, log_rho + h * r_3, u + h * u_3, n, gas)
        log_p += h
        log_rho += h / 6.0 * (r_1 + 2.0 * r_2 + 2.0 * r_3 + r_4)
        u += h / 6.0 * (u_1 + 2.0 * u_2 + 2.0 * u_3 + u_4)
        rho = exp(log_rho)
        fluxes.append(rho * sqrt(max(2.0 * (rest - u - exp(log_p) / rho), 0.0)))
        if len(fluxes) > 2 and fluxes[-1] < fluxes[-2]:
            before, top, after = fluxes[-3:]
            return top + (after - before) ** 2 / (8.0 * (2.0 * top - before - after))
    return nan


def orifice_error(p: float, T: float, gas: Gas) -> float:
    """The orifice law's critical flux over the exact one, - 1, of gas at rest at p (Pa), T (K); nan where that is not known."""
    rho, u, status = gas_at(p, T, gas)
    if status == OUTSIDE:
        return nan
    exact = critical_flux(p, T, gas)
    n = gas_state(rho, u, gas)[2]
    return float(choked_flux(p, rho, n)[0] / exact - 1.0) if 0.0 < exact < inf else nan


def orifice_remark(
    nodes: Mapping[str, tuple[NDArray[np.float64], NDArray[np.float64]]], ambient: float, gas: Gas, reader: Reader = METRIC
) -> list[str]:
    """What the orifice law's error came to, if it is worth saying: name -> (p Pa, T K) of each gas volume over the run."""
    if gas[KIND] != REAL:
        return []
    worst = (0.0, "", 0.0, 0.0)
    for name, (pressures, temperatures) in nodes.items():
        if not len(pressures):
            continue
        k = int(np.argmax(pressures / temperatures))
        p, T = float(pressures[k]), float(temperatures[k])
        rho = float(gas_at(p, T, gas)[0])
        if p > CHOKES * ambient and rho > DENSE * gas[RHO_A]:
            worst = max(worst, (orifice_error(p, T, gas), name, p, T))
    error, name, p, T = worst
    if not error >= WORTH_SAYING:
        return []
    return [
        f"Choked flow out of the {name} is overstated by {error:.1%} at its densest "
        f"({reader.text('pressure', p)}, {reader.text('temperature', T, '.0f')}): the orifice law takes the gas's exponent as "
        "constant. Times that hang on this flow are too short by about as much."
    ]
