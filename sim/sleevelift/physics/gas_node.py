"""One gas volume: lift chamber, tube, spring side, plenum or bottle.

    dm/dt = sum w_in - sum w_out
    dU/dt = sum (w h)_in - sum (w h)_out - p dV/dt + h_wall A_wall (T_wall - T)

Lumped and well mixed; kinetic energy of the gas in the node neglected; gas leaves with the node's enthalpy h = u + p/rho.
Volumes: V_lift = V0 + A_l x, V_spring = V0 - A_t x, the others constant.
"""

from sleevelift.jit import bare_kernel, inline_kernel
from sleevelift.jit.packed import all_of, choose, first_without
from sleevelift.physics.expansion import isentropic_work
from sleevelift.physics.gas import (
    content_place,
    gas_at,
    gas_state_at,
    gas_state_gradient,
    gas_state_gradients_at,
    gas_states_at,
)
from sleevelift.physics.restriction import choked_flux


@inline_kernel
def node_state(mass, energy, volume, gas):
    """State of a node: (p Pa, T K, rho kg/m3, n -, h J/kg, choked flux kg/(s m2), r* -, status of `gas_state`).

    mass kg, energy J, volume m3. A node that is empty or inverted returns status 2.
    """
    if not (mass > 0.0 and volume > 0.0):
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 2
    rho, u, at = content_place(mass, energy, volume, gas)
    p, T, n, ratio, status = gas_state_at(rho, at, gas)
    if status >= 2 or not (p > 0.0 and n > 0.0):
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 2
    flux, r_star = choked_flux(p, rho, n)
    return p, T, rho, n, u + ratio, flux, r_star, status


@inline_kernel
def _placed(mass, energy, volume, gas):
    """(rho, u, `gas.gas_place`, whether inside) of four nodes, packed; those that are empty or inverted are not inside."""
    full = (mass > 0.0) & (volume > 0.0)
    rho, u, at = content_place(choose(full, mass, 1.0), energy, choose(full, volume, 1.0), gas)
    return rho, u, at, full & at[3]


@inline_kernel
def node_states(mass, energy, volume, gas):
    """(`node_state` of four nodes, packed; the first that is outside, 4 if none): beyond that the states are good for nothing."""
    rho, u, at, placed = _placed(mass, energy, volume, gas)
    if not all_of(placed):
        return (rho, rho, rho, rho, rho, rho, rho, rho), first_without(placed)
    p, T, n, ratio, status = gas_states_at(rho, at, gas)
    flux, r_star = choked_flux(p, rho, n)
    return (p, T, rho, n, u + ratio, flux, r_star, status), first_without((status < 2.0) & (p > 0.0) & (n > 0.0))


@bare_kernel
def node_gradient(mass, energy, volume, gas):
    """(state as `node_state`, slopes): the slopes are those of `gas_state_gradient`.

    dp/drho, dp/du, dT/drho, dT/du, dn/drho, dn/du, SI, of density at constant specific energy and the other way round.
    """
    nothing = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    if not (mass > 0.0 and volume > 0.0):
        return (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 2), nothing
    rho = mass / volume
    u = energy / mass
    p, T, n, p_rho, p_u, T_rho, T_u, n_rho, n_u, status = gas_state_gradient(rho, u, gas)
    if status >= 2 or not (p > 0.0 and n > 0.0):
        return (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 2), nothing
    flux, r_star = choked_flux(p, rho, n)
    return (p, T, rho, n, u + p / rho, flux, r_star, status), (p_rho, p_u, T_rho, T_u, n_rho, n_u)


@inline_kernel
def node_gradients(mass, energy, volume, gas):
    """(states, slopes, first node outside) of four nodes, packed: `node_gradient` as `node_states` gives them."""
    rho, u, at, placed = _placed(mass, energy, volume, gas)
    if not all_of(placed):
        return (rho, rho, rho, rho, rho, rho, rho, rho), (rho, rho, rho, rho, rho, rho), first_without(placed)
    p, T, n, p_rho, p_u, T_rho, T_u, n_rho, n_u, status = gas_state_gradients_at(rho, at, gas)
    flux, r_star = choked_flux(p, rho, n)
    outside = first_without((status < 2.0) & (p > 0.0) & (n > 0.0))
    return (p, T, rho, n, u + p / rho, flux, r_star, status), (p_rho, p_u, T_rho, T_u, n_rho, n_u), outside


@inline_kernel
def wall_heat(coefficient_area, wall_temperature, T):
    """Heat from the wall into the gas, W: h A (T_wall - T), with h A in W/K."""
    return coefficient_area * (wall_temperature - T)


@bare_kernel
def expansion_energy(p, T, p_end, gas):
    """Energy per volume of gas at p, T that an isentropic expansion to p_end sets free, J/m3: rho (u_1 - u_2s).

    p, p_end Pa; T K; 0 for p <= p_end or outside the gas range. See `expansion.isentropic_work` for gas that condenses on the way.
    """
    rho, u, status = gas_at(p, T, gas)
    if status >= 2 or p <= p_end:
        return 0.0
    return rho * isentropic_work(p, T, p_end, gas)[0]
