"""The gas side at one instant: flows between supply, tube, lift chamber, spring side and ambient.

A node's state is the tuple of `gas_node.node_state`: (p, T, rho, n, h, flux, r*, status). Every flow is returned with the
enthalpy flow it carries, both signed in the named direction.
"""

from sim.jit import kernel
from sim.physics.gas import gas_at
from sim.physics.gas_node import node_state
from sim.physics.restriction import choked_flux, flow_fraction
from sim.plant.params import CONSTANT_SUPPLY
from sim.physics.supply import regulator_opening, table_value

HOT_GAS_LIMIT = 700.0
"""K. Combustion gas that leaks into the spring side is counted as actuation gas of at most this temperature (table's end)."""


@kernel
def both_ways(area, r12, r21, p1, n1, h1, flux1, star1, p2, n2, h2, flux2, star2, straight_above):
    """(mass flow kg/s, enthalpy flow W) from 1 to 2, signed; `area` scales both directions' restrictions."""
    if p1 >= p2:
        if p1 == p2:
            return 0.0, 0.0
        w = area * r12.area * flux1 * flow_fraction(p2 / p1, n1, star1, r12.b, r12.m, straight_above)
        return w, w * h1
    w = area * r21.area * flux2 * flow_fraction(p1 / p2, n2, star2, r21.b, r21.m, straight_above)
    return -w, -w * h2


@kernel
def leak_flow(area, p1, n1, h1, flux1, star1, p2, n2, h2, flux2, star2, straight_above):
    """(mass flow, enthalpy flow) from 1 to 2 through a leak of effective area Cd A, m2, as an orifice."""
    if area <= 0.0 or p1 == p2:
        return 0.0, 0.0
    if p1 > p2:
        w = area * flux1 * flow_fraction(p2 / p1, n1, star1, -1.0, 0.5, straight_above)
        return w, w * h1
    w = area * flux2 * flow_fraction(p1 / p2, n2, star2, -1.0, 0.5, straight_above)
    return -w, -w * h2


@kernel
def fixed_state(state):
    """A fixed gas state as a node tuple."""
    return state.p, state.T, 0.0, state.n, state.h, state.flux, state.r_star, 0


@kernel
def supply_state(t, segment, plant, tables, gas):
    """Gas state at the valve's inlet for a constant or tabled supply, as a node tuple."""
    supply = plant.supply
    if supply.kind == CONSTANT_SUPPLY:
        return fixed_state(supply.state)
    p = table_value(t, tables, supply.table.start, supply.table.count, segment)
    rho, u, status = gas_at(p, supply.temperature, gas)
    if status >= 2:
        return p, supply.temperature, 0.0, 1.0, 0.0, 0.0, 0.0, 2
    return node_state(rho, rho * u, 1.0, gas)


@kernel
def regulator_flow(bottle, plenum, supply, straight_above):
    """(mass flow, enthalpy flow) from bottle to plenum through the regulator."""
    opening = regulator_opening(supply.set_pressure, plenum[0], supply.droop_band)
    return both_ways(
        opening,
        supply.regulator,
        supply.regulator,
        bottle[0],
        bottle[3],
        bottle[4],
        bottle[5],
        bottle[6],
        plenum[0],
        plenum[3],
        plenum[4],
        plenum[5],
        plenum[6],
        straight_above,
    )


@kernel
def quick_shuttle(p_lift, p_tube, cracking):
    """Position of the quick-exhaust shuttle, 0 (fills through the tube) to 1 (vents)."""
    return min(max((p_lift - p_tube) / cracking, 0.0), 1.0)


@kernel
def post_leak_flow(uncovered, spring, p_c, gas_mass, lit, exponent, plant, tables, gas):
    """(mass flow, enthalpy flow) from the chamber into the spring side past the post seal; 0 while the slots are covered.

    Lit: combustion gas of density p_c/(R T), R T = p V/m_g, entering as actuation gas at p_c and min(T, 700 K). Unlit or
    backward: actuation gas at ambient temperature or from the spring side.
    """
    area = plant.gas.post_leak * uncovered
    s = plant.gas.straight_above
    if area <= 0.0 or p_c == spring[0]:
        return 0.0, 0.0
    if p_c < spring[0]:
        w = area * spring[5] * flow_fraction(p_c / spring[0], spring[3], spring[6], -1.0, 0.5, s)
        return -w, -w * spring[4]
    if lit == 0:
        rho, u, status = gas_at(p_c, plant.gas.ambient.T, gas)
        node = node_state(rho, rho * u, 1.0, gas)
        w = area * node[5] * flow_fraction(spring[0] / p_c, node[3], node[6], -1.0, 0.5, s)
        return w, w * node[4]
    chamber = plant.chamber
    rt = p_c * chamber.volume / gas_mass
    flux, star = choked_flux(p_c, p_c / rt, exponent)
    w = area * flux * flow_fraction(spring[0] / p_c, exponent, star, -1.0, 0.5, s)
    T = rt / chamber.gas_constant
    if T >= HOT_GAS_LIMIT:
        h = 0.0
        for i in range(chamber.hot_enthalpy.count):
            h = h * p_c + tables[chamber.hot_enthalpy.start + i]
        return w, w * h
    rho, u, status = gas_at(p_c, T, gas)
    return w, w * (u + p_c / rho)
