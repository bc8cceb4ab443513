"""One gas volume: lift chamber, tube, spring side, plenum or bottle.

    dm/dt = sum w_in - sum w_out
    dU/dt = sum (w h)_in - sum (w h)_out - p dV/dt + h_wall A_wall (T_wall - T)

Lumped and well mixed; kinetic energy of the gas in the node neglected; gas leaves with the node's enthalpy h = u + p/rho.
Volumes: V_lift = V0 + A_l x, V_spring = V0 - A_t x, the others constant.
"""

from math import exp, log

from sim.jit import kernel
from sim.physics.gas import gas_at, gas_state
from sim.physics.restriction import choked_flux


@kernel
def node_state(mass, energy, volume, gas):
    """State of a node: (p Pa, T K, rho kg/m3, n -, h J/kg, choked flux kg/(s m2), r* -, status of `gas_state`).

    mass kg, energy J, volume m3. A node that is empty or inverted returns status 2.
    """
    if not (mass > 0.0 and volume > 0.0):
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 2
    rho = mass / volume
    u = energy / mass
    p, T, n, status = gas_state(rho, u, gas)
    if status >= 2 or not (p > 0.0 and n > 0.0):
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 2
    flux, r_star = choked_flux(p, rho, n)
    return p, T, rho, n, u + p / rho, flux, r_star, status


@kernel
def wall_heat(coefficient_area, wall_temperature, T):
    """Heat from the wall into the gas, W: h A (T_wall - T), with h A in W/K."""
    return coefficient_area * (wall_temperature - T)


EXPANSION_STEPS = 200
"""Equal steps in ln rho of the isentropic expansion (midpoint rule; below 1e-5 of the energy from 350 bar to 1 bar)."""


@kernel
def expansion_energy(p, T, p_end, gas):
    """Energy per volume of gas at p, T that an isentropic expansion to p_end sets free, J/m3: rho (u_1 - u_2s).

    du = p/rho^2 drho at constant entropy; the end density is found by stepping in ln rho until p_end is reached. Where the
    expansion leaves the gas table (it condenses) the energy up to there is returned. p, p_end Pa; T K; 0 for p <= p_end.
    """
    rho0, u0, status = gas_at(p, T, gas)
    if status >= 2 or p <= p_end:
        return 0.0
    n = gas_state(rho0, u0, gas)[2]
    span = log(p / p_end) / min(max(n, 1.0), 1.7)
    step = -1.5 * span / EXPANSION_STEPS
    rho = rho0
    u = u0
    here = p
    for _ in range(20 * EXPANSION_STEPS):
        half = rho * exp(0.5 * step)
        middle = gas_state(half, u + 0.5 * step * here / rho, gas)
        if middle[3] >= 2:
            break
        u_next = u + step * middle[0] / half
        rho_next = rho * exp(step)
        after = gas_state(rho_next, u_next, gas)
        if after[3] >= 2:
            break
        if after[0] <= p_end:
            share = log(here / p_end) / log(here / after[0])
            u += share * (u_next - u)
            break
        rho = rho_next
        u = u_next
        here = after[0]
    return rho0 * (u0 - u)
