"""The gas side at one instant: flows between supply, tube, lift chamber, spring side and ambient.

A node's state is the tuple of `gas_node.node_state`: (p, T, rho, n, h, flux, r*, status). Every flow is returned with the
enthalpy flow it carries, both signed in the named direction.
"""

from sim.jit import bare_kernel, inline_kernel
from sim.physics.gas import gas_at
from sim.physics.gas_node import node_state
from sim.physics.restriction import choked_flux, flow_fraction
from sim.physics.supply import regulator_opening, table_value
from sim.plant.params import CONSTANT_SUPPLY

HOT_GAS_LIMIT = 700.0
"""K. Combustion gas that leaks into the spring side is counted as actuation gas of at most this temperature (table's end)."""


@inline_kernel
def both_ways(area, r12, r21, a, b, straight_above):
    """(mass flow kg/s, enthalpy flow W) from node a to node b, signed; `area` scales both directions' restrictions."""
    if area <= 0.0 or a[0] == b[0]:
        return 0.0, 0.0
    if a[0] > b[0]:
        w = area * r12.area * a[5] * flow_fraction(b[0] / a[0], a[3], a[6], r12.b, r12.m, straight_above)
        return w, w * a[4]
    w = area * r21.area * b[5] * flow_fraction(a[0] / b[0], b[3], b[6], r21.b, r21.m, straight_above)
    return -w, -w * b[4]


@inline_kernel
def leak_flow(area, a, b, straight_above):
    """(mass flow, enthalpy flow) from node a to node b through a leak of effective area Cd A, m2, as an orifice."""
    if area <= 0.0 or a[0] == b[0]:
        return 0.0, 0.0
    if a[0] > b[0]:
        w = area * a[5] * flow_fraction(b[0] / a[0], a[3], a[6], -1.0, 0.5, straight_above)
        return w, w * a[4]
    w = area * b[5] * flow_fraction(a[0] / b[0], b[3], b[6], -1.0, 0.5, straight_above)
    return -w, -w * b[4]


@inline_kernel
def fill_flow(opening, source, tube, g):
    """(mass flow, enthalpy flow) through the fill port from supply to tube."""
    return both_ways(opening, g.fill, g.fill, source, tube, g.straight_above)


@inline_kernel
def exhaust_flow(share, tube, g):
    """(mass flow, enthalpy flow) through the exhaust port from tube to ambient, open by `share`."""
    return both_ways(share, g.exhaust, g.exhaust, tube, fixed_state(g.ambient), g.straight_above)


@inline_kernel
def port_flow(tube, lift, g):
    """(mass flow, enthalpy flow) from tube to lift chamber, shut by the quick exhaust's shuttle where there is one."""
    through = 1.0
    if g.quick != 0:
        through = 1.0 - quick_shuttle(lift[0], tube[0], g.cracking)
    return both_ways(through, g.port_in, g.port_out, tube, lift, g.straight_above)


@bare_kernel
def quick_flow(tube, lift, g):
    """(mass flow, enthalpy flow) from lift chamber to ambient through the quick exhaust's vent."""
    if g.quick == 0:
        return 0.0, 0.0
    shuttle = quick_shuttle(lift[0], tube[0], g.cracking)
    return both_ways(shuttle, g.quick_vent, g.quick_vent, lift, fixed_state(g.ambient), g.straight_above)


@inline_kernel
def vent_flow(spring, g):
    """(mass flow, enthalpy flow) from spring side to ambient."""
    return both_ways(1.0, g.vent, g.vent, spring, fixed_state(g.ambient), g.straight_above)


@inline_kernel
def fixed_state(state):
    """A fixed gas state as a node tuple."""
    return state.p, state.T, 0.0, state.n, state.h, state.flux, state.r_star, 0


@bare_kernel
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


@bare_kernel
def regulator_flow(bottle, plenum, supply, straight_above):
    """(mass flow, enthalpy flow) from bottle to plenum through the regulator."""
    opening = regulator_opening(supply.set_pressure, plenum[0], supply.droop_band)
    return both_ways(opening, supply.regulator, supply.regulator, bottle, plenum, straight_above)


@inline_kernel
def quick_shuttle(p_lift, p_tube, cracking):
    """Position of the quick-exhaust shuttle, 0 (fills through the tube) to 1 (vents)."""
    return min(max((p_lift - p_tube) / cracking, 0.0), 1.0)


@bare_kernel
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
