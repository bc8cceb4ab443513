"""Energy that an expansion at constant entropy sets free, wet at its end where the gas condenses.

    along the table       d ln rho = d ln p/n,   du = p d rho/rho^2 = (p/rho) d ln p/n        (Runge-Kutta 4 in ln p)
    condensing            s(p, T) = (h - g)/T,   g = g_ideal(T, p) + integral of (1/rho - R T/p) dp from 0 to p
                          u_2 = u' + (s - s')/(s" - s') (u" - u'),   ' boiling liquid, " dew, at the end pressure

A figure of hazard: where the table's gas ends supersaturated the greater of both counts. Below the lowest saturated pressure (the
triple point, where the liquid would freeze) the rest is R T ln(p_low/p_end), more than any expansion gives.

Source: the thermodynamic identities; ideal-gas part and saturated states from CoolProp's reference equations
(`sleevelift.gas_tables`).
"""

import math

from sleevelift.gas_tables.layout import (
    EDGE_START,
    GAS_CONSTANT,
    GIBBS,
    GIBBS_PRESSURE,
    KIND,
    N_GIBBS,
    PERFECT,
    SATURATED,
    T_MAX,
    WET_SCALE,
    WET_START,
)
from sleevelift.jit import bare_kernel
from sleevelift.physics.gas import IN_RANGE, OUTSIDE, SUPERSATURATED, gas_at, gas_state

EXPANSION_STEP = 0.122
"""-. Largest Runge-Kutta step in ln p (48 from 350 bar to 1 bar): 1e-8 of the work."""
PANELS = 32
"""Of the integral over pressure, two Gauss points each: near the critical temperature it bends sharply."""
GAUSS = 1.0 / math.sqrt(3.0)


@bare_kernel
def entropy(p, T, rho, u, gas):
    """Entropy of a real gas, J/kg/K, from CoolProp's reference state: p Pa, T K, rho kg/m3, u J/kg; NaN where it has none."""
    R = gas[GAS_CONSTANT]
    place = (T - gas[EDGE_START]) / (gas[T_MAX] - gas[EDGE_START]) * (gas[N_GIBBS] - 1.0)
    i = min(max(int(place), 0), int(gas[N_GIBBS]) - 2)
    first = int(gas[GIBBS]) + i
    gibbs = gas[first] + (place - i) * (gas[first + 1] - gas[first]) + R * T * math.log(p / GIBBS_PRESSURE)
    half = 0.5 * p / PANELS
    for k in range(2 * PANELS):
        at = (2 * (k // 2) + 1 + (GAUSS if k % 2 == 1 else -GAUSS)) * half
        density, _, status = gas_at(at, T, gas)
        if status == OUTSIDE:
            return math.nan
        gibbs += half * (1.0 / density - R * T / at)
    return (u + p / rho - gibbs) / T


@bare_kernel
def condensed_energy(s, p_end, gas):
    """(energy u_2 J/kg at the end of an expansion at entropy s, J/kg/K, whether it ends wet)."""
    first = int(gas[GIBBS]) + int(gas[N_GIBBS])
    last = (gas.shape[0] - first) // SATURATED - 1
    place = (math.log(p_end) - gas[WET_START]) * gas[WET_SCALE]
    below = 0.0
    if place < 0.0:
        below = -place / gas[WET_SCALE]
        place = 0.0
    if place > last:
        return math.nan, False
    i = min(int(place), last - 1)
    part = place - i
    k = first + SATURATED * i
    s_boiling = gas[k] + part * (gas[k + SATURATED] - gas[k])
    s_dew = gas[k + 1] + part * (gas[k + SATURATED + 1] - gas[k + 1])
    u_boiling = gas[k + 2] + part * (gas[k + SATURATED + 2] - gas[k + 2])
    u_dew = gas[k + 3] + part * (gas[k + SATURATED + 3] - gas[k + 3])
    T = gas[k + 4] + part * (gas[k + SATURATED + 4] - gas[k + 4])
    if s >= s_dew:
        return math.nan, False
    rest = below * gas[GAS_CONSTANT] * T
    if s < s_boiling:
        # liquid colder than boiling: du = T ds at most
        return u_boiling - T * (s_boiling - s) - rest, True
    return u_boiling + (s - s_boiling) / (s_dew - s_boiling) * (u_dew - u_boiling) - rest, True


@bare_kernel
def isentropic_work(p, T, p_end, gas):
    """Stored energy u_1 - u_2 (J/kg) of gas at `p` (Pa), `T` (K) expanding at constant entropy to `p_end` (Pa), and status.

    The stored energy of pressure testing: all the work of the expansion, that done on the surroundings at `p_end` included. 0 if
    p <= p_end. Where the gas condenses: equilibrium of liquid and vapour, status 1. Off the range at `p`, `T`: NaN and status 2.
    """
    rho, u_start, status = gas_at(p, T, gas)
    if status == OUTSIDE or not p_end > 0.0:
        return math.nan, OUTSIDE
    if p <= p_end:
        return 0.0, status
    steps = int(math.log(p / p_end) / EXPANSION_STEP) + 1
    step = math.log(p_end / p) / steps
    log_p, log_rho, u, worst = math.log(p), math.log(rho), u_start, status
    for _ in range(steps):
        half = 0.5 * step
        r_1, u_1, status_1 = _isentropic_slopes(log_p, log_rho, u, gas)
        r_2, u_2, status_2 = _isentropic_slopes(log_p + half, log_rho + half * r_1, u + half * u_1, gas)
        r_3, u_3, status_3 = _isentropic_slopes(log_p + half, log_rho + half * r_2, u + half * u_2, gas)
        r_4, u_4, status_4 = _isentropic_slopes(log_p + step, log_rho + step * r_3, u + step * u_3, gas)
        worst = max(worst, max(max(status_1, status_2), max(status_3, status_4)))
        if worst == OUTSIDE:
            break
        log_p += step
        log_rho += step / 6.0 * (r_1 + 2.0 * r_2 + 2.0 * r_3 + r_4)
        u += step / 6.0 * (u_1 + 2.0 * u_2 + 2.0 * u_3 + u_4)
    work = u_start - u
    if worst == IN_RANGE or gas[KIND] == PERFECT:
        return work, worst
    if worst == OUTSIDE:
        # the rest at constant temperature, p/rho ln p: what no expansion exceeds, where there is no equilibrium to be had
        work += math.exp(log_p - log_rho) * (log_p - math.log(p_end))
    u_wet, wet = condensed_energy(entropy(p, T, rho, u_start, gas), p_end, gas)
    if wet and (worst == OUTSIDE or u_start - u_wet > work):
        work = u_start - u_wet
    return work, SUPERSATURATED


@bare_kernel
def _isentropic_slopes(log_p, log_rho, u, gas):
    """d ln rho/d ln p (-) and du/d ln p (J/kg) at constant entropy, and the status of the state."""
    rho = math.exp(log_rho)
    p, T, n, status = gas_state(rho, u, gas)
    return 1.0 / n, math.exp(log_p) / (rho * n), status
