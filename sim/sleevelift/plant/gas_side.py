"""The gas side at one instant: flows between supply, tube, lift chamber, spring side and ambient.

A node's state is the tuple of `gas_node.node_state`: (p, T, rho, n, h, flux, r*, status). Every flow is returned with the
enthalpy flow it carries, both signed in the named direction.
"""

from sleevelift.jit import bare_kernel, inline_kernel
from sleevelift.jit.packed import choose, item, least, most, pack, pack_row
from sleevelift.physics.gas import gas_at
from sleevelift.physics.gas_node import node_state
from sleevelift.physics.restriction import ORIFICE_LAW, choked_flux, flow_fraction
from sleevelift.physics.supply import table_value
from sleevelift.plant.params import CONSTANT_SUPPLY

HOT_GAS_LIMIT = 700.0
"""K. Combustion gas that leaks into the spring side is counted as actuation gas of at most this temperature (table's end)."""


@inline_kernel
def both_ways(area, r12, r21, a, b, laminar_above):
    """(mass flow kg/s, enthalpy flow W) from node a to node b, signed; `area` scales both directions' restrictions."""
    if area <= 0.0 or a[0] == b[0]:
        return 0.0, 0.0
    if a[0] > b[0]:
        w = area * r12.area * a[5] * flow_fraction(b[0] / a[0], a[3], a[6], r12.b, r12.m, laminar_above)
        return w, w * a[4]
    w = area * r21.area * b[5] * flow_fraction(a[0] / b[0], b[3], b[6], r21.b, r21.m, laminar_above)
    return -w, -w * b[4]


@inline_kernel
def upstream(restrictions, a, b):
    """Of four flows from nodes a or b, whichever pressure is higher: (whether from a, n, h, flux, r*, area, b, m), packed.

    restrictions: `params.RESTRICTIONS`; a and b: the nodes' (p, n, h, flux, r*) of `side_by_side`.
    """
    ahead = a[0] > b[0]
    n, h, flux, r_star = choose(ahead, a[1], b[1]), choose(ahead, a[2], b[2]), choose(ahead, a[3], b[3]), choose(ahead, a[4], b[4])
    area = choose(ahead, pack_row(restrictions.area_out), pack_row(restrictions.area_back))
    critical = choose(ahead, pack_row(restrictions.b_out), pack_row(restrictions.b_back))
    return ahead, n, h, flux, r_star, area, critical, choose(ahead, pack_row(restrictions.m_out), pack_row(restrictions.m_back))


@bare_kernel
def flows_between(share, restrictions, a, b, laminar_above):
    """(mass flows kg/s, enthalpy flows W) from nodes a to nodes b, four of each, packed and signed; areas times `share`.

    The rest as for `upstream`.
    """
    ahead, n, h, flux, r_star, area, critical, m = upstream(restrictions, a, b)
    fraction = flow_fraction(least(a[0], b[0]) / most(a[0], b[0]), n, r_star, critical, m, laminar_above)
    w = share * area * flux * fraction
    w = choose(ahead, w, -w)
    return w, w * h


@inline_kernel
def fill_flow(opening, source, tube, g):
    """(mass flow, enthalpy flow) through the fill port from supply to tube."""
    return both_ways(opening, g.fill, g.fill, source, tube, g.laminar_above)


@inline_kernel
def exhaust_flow(share, tube, g):
    """(mass flow, enthalpy flow) through the exhaust port from tube to ambient, open by `share`."""
    return both_ways(share, g.exhaust, g.exhaust, tube, fixed_state(g.ambient), g.laminar_above)


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


@inline_kernel
def node_at(nodes, place):
    """One of four packed nodes, as a node tuple."""
    p, T, rho, n, h, flux, r_star, status = nodes
    return (
        item(p, place), item(T, place), item(rho, place), item(n, place), item(h, place), item(flux, place), item(r_star, place),
        int(item(status, place)),
    )  # fmt: skip


@inline_kernel
def side_by_side(a, b, c, d):
    """What `flows_between` takes of four node tuples."""
    return (
        pack(a[0], b[0], c[0], d[0]),
        pack(a[3], b[3], c[3], d[3]),
        pack(a[4], b[4], c[4], d[4]),
        pack(a[5], b[5], c[5], d[5]),
        pack(a[6], b[6], c[6], d[6]),
    )


@inline_kernel
def quick_shuttle(p_lift, p_tube, cracking):
    """Position of the quick-exhaust shuttle, 0 (fills through the tube) to 1 (vents)."""
    return min(max((p_lift - p_tube) / cracking, 0.0), 1.0)


@bare_kernel
def chamber_side(spring, p_c, gas_mass, lit, exponent, plant, tables, gas):
    """The gas that stands at the post seal on the chamber's side, as a node tuple.

    Lit: combustion gas of density p_c/(R T), R T = p V/m_g, entering as actuation gas at p_c and min(T, 700 K). Unlit:
    actuation gas at p_c and ambient temperature (none flows where that is outside the gas's range). Where the spring side's
    pressure is higher, only the pressure is meant.
    """
    if p_c <= spring[0]:
        return p_c, spring[1], spring[2], spring[3], spring[4], spring[5], spring[6], 0
    if lit == 0:
        rho, u, status = gas_at(p_c, plant.gas.ambient.T, gas)
        node = node_state(rho, rho * u, 1.0, gas)
        return p_c, node[1], node[2], max(node[3], 1.0), node[4], node[5], node[6], 0
    chamber = plant.chamber
    rt = p_c * chamber.volume / gas_mass
    rho = p_c / rt
    flux, star = choked_flux(p_c, rho, exponent)
    T = rt / chamber.gas_constant
    if T >= HOT_GAS_LIMIT:
        h = 0.0
        for i in range(chamber.hot_enthalpy.count):
            h = h * p_c + tables[chamber.hot_enthalpy.start + i]
        return p_c, T, rho, exponent, h, flux, star, 0
    dense, u, status = gas_at(p_c, T, gas)
    return p_c, T, rho, exponent, u + p_c / dense, flux, star, 0


@bare_kernel
def post_leak_flow(uncovered, spring, p_c, gas_mass, lit, exponent, plant, tables, gas):
    """(mass flow, enthalpy flow) from the chamber into the spring side past the post seal; 0 while the slots are covered."""
    area = plant.gas.post_leak * uncovered
    if area <= 0.0 or p_c == spring[0]:
        return 0.0, 0.0
    inside = chamber_side(spring, p_c, gas_mass, lit, exponent, plant, tables, gas)
    up = inside if p_c > spring[0] else spring
    ratio = min(p_c, spring[0]) / up[0]
    w = area * up[5] * flow_fraction(ratio, up[3], up[6], ORIFICE_LAW, 0.5, plant.gas.laminar_above)
    if p_c < spring[0]:
        w = -w
    return w, w * up[4]
