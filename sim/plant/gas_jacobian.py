"""Columns of the gas nodes: every flow's own slopes, chained to the nodes' masses, energies and volumes.

    flow(p1, rho1, n1; p2), h1   <-   node: p, T, rho, n, h by m, U (and by lift x, where its volume moves)

A gradient is the tuple (p, T, rho, n, h) of triples, each a derivative by m (1/kg), U (1/J) and x (1/m).
"""

from sim.jit import bare_kernel, inline_kernel
from sim.physics.restriction import flow_slopes
from sim.physics.supply import regulator_opening, regulator_slope
from sim.plant.gas_side import fixed_state, quick_shuttle
from sim.plant.state import *  # noqa: F403 - the index names are this room's alphabet

BOUNDARY = -1
"""In place of a node's index: outside, a fixed state."""
NO_COUNT = -1
"""In place of a row: the flow is not counted in a balance of its own."""
FLAT = (0.0, 0.0, 0.0)
NO_GRADIENT = (FLAT, FLAT, FLAT, FLAT, FLAT)
"""Gradient of a fixed state."""


@inline_kernel
def chained(by_rho, by_u, frame):
    """Derivatives by m, U, x of what has these by density and specific energy; frame: d rho/dm, d rho/dx, du/dm, du/dU."""
    return by_rho * frame[0] + by_u * frame[2], by_u * frame[3], by_rho * frame[1]


@inline_kernel
def node_gradient_of(node, slopes, mass, energy, volume, volume_slope):
    """Gradient of a node (`gas_node.node_gradient`) of these m kg, U J, V m3 and dV/dx m2."""
    p_rho, p_u, T_rho, T_u, n_rho, n_u = slopes
    rho = node[2]
    frame = (1.0 / volume, -rho / volume * volume_slope, -energy / (mass * mass), 1.0 / mass)
    p = chained(p_rho, p_u, frame)
    T = chained(T_rho, T_u, frame)
    n = chained(n_rho, n_u, frame)
    h = chained((p_rho - node[0] / rho) / rho, 1.0 + p_u / rho, frame)
    return p, T, (frame[0], 0.0, frame[1]), n, h


@bare_kernel
def add_flow(J, column, source, sink, balance, count, dw, dh):
    """Add the derivative of a flow (dw, enthalpy dh) from node `source` to node `sink` to a column; count: its own row."""
    if source >= 0:
        J[source, column] -= dw
        J[source + 1, column] -= dh
    else:
        J[balance + B_GAS_MASS, column] += dw
        J[balance + B_GAS_ENERGY, column] += dh
    if sink >= 0:
        J[sink, column] += dw
        J[sink + 1, column] += dh
    else:
        J[balance + B_GAS_MASS, column] -= dw
        J[balance + B_GAS_ENERGY, column] -= dh
    if count >= 0:
        J[count, column] += dw


@bare_kernel
def add_pressure(J, i, p, x_column, source, sink, balance, count, by_p, h_by_p):
    """Add a flow that changes by by_p (enthalpy h_by_p) per Pa of node i's pressure, whose gradient is `p`."""
    add_flow(J, i, source, sink, balance, count, by_p * p[0], h_by_p * p[0])
    add_flow(J, i + 1, source, sink, balance, count, by_p * p[1], h_by_p * p[1])
    if p[2] != 0.0:
        add_flow(J, x_column, source, sink, balance, count, by_p * p[2], h_by_p * p[2])


@bare_kernel
def add_one_way(J, flow, share, up, d_up, i_up, d_down, i_down, x_column, balance, count, sign):
    """Add a flow of `flow_slopes`, times `share`, from the node `up` to the node i_down; sign: how `count` counts it."""
    w, by_p, by_rho, by_n, by_p2 = flow
    source = i_up
    sink = i_down
    h = up[4]
    if i_up >= 0:
        p, T, rho, n, h_by = d_up
        dw = share * (by_p * p[0] + by_rho * rho[0] + by_n * n[0])
        add_flow(J, i_up, source, sink, balance, NO_COUNT, dw, dw * h + share * w * h_by[0])
        du = share * (by_p * p[1] + by_n * n[1])
        add_flow(J, i_up + 1, source, sink, balance, NO_COUNT, du, du * h + share * w * h_by[1])
        if count >= 0:
            J[count, i_up] += sign * dw
            J[count, i_up + 1] += sign * du
        if rho[2] != 0.0:
            dx = share * (by_p * p[2] + by_rho * rho[2] + by_n * n[2])
            add_flow(J, x_column, source, sink, balance, NO_COUNT, dx, dx * h + share * w * h_by[2])
    if i_down >= 0 and by_p2 != 0.0:
        by = share * by_p2
        p = d_down[0]
        add_pressure(J, i_down, p, x_column, source, sink, balance, NO_COUNT, by, by * h)
        if count >= 0:
            J[count, i_down] += sign * by * p[0]
            J[count, i_down + 1] += sign * by * p[1]


@bare_kernel
def add_both_ways(J, share, r12, r21, a, d_a, i_a, b, d_b, i_b, x_column, balance, count, straight_above):
    """Add the flow `gas_side.both_ways` of area `share`; its unit flow (mass kg/s, enthalpy W), signed from a to b."""
    if a[0] > b[0]:
        flow = flow_slopes(r12.area, r12.b, r12.m, a[5], a[6], a[0], a[2], a[3], b[0], straight_above)
        if share > 0.0:
            add_one_way(J, flow, share, a, d_a, i_a, d_b, i_b, x_column, balance, count, 1.0)
        return flow[0], flow[0] * a[4]
    flow = flow_slopes(r21.area, r21.b, r21.m, b[5], b[6], b[0], b[2], b[3], a[0], straight_above)
    if share > 0.0:
        add_one_way(J, flow, share, b, d_b, i_b, d_a, i_a, x_column, balance, count, -1.0)
    return -flow[0], -flow[0] * b[4]


@bare_kernel
def add_heat(J, i, T, x_column, balance, wall):
    """Wall heat of a node with this temperature gradient."""
    if wall > 0.0:
        J[i + 1, i] -= wall * T[0]
        J[i + 1, i + 1] -= wall * T[1]
        J[balance + B_GAS_ENERGY, i] -= wall * T[0]
        J[balance + B_GAS_ENERGY, i + 1] -= wall * T[1]
        if T[2] != 0.0:
            J[i + 1, x_column] -= wall * T[2]
            J[balance + B_GAS_ENERGY, x_column] -= wall * T[2]


@bare_kernel
def regulator_columns(J, plant, bottle, d_bottle, plenum, d_plenum, balance):
    """Flow through the regulator, and the plenum's wall."""
    supply = plant.supply
    index = plant.index
    i_b = index.bottle
    i_p = index.plenum
    opening = regulator_opening(supply.set_pressure, plenum[0], supply.droop_band)
    if opening > 0.0:
        r = supply.regulator
        w, h = add_both_ways(
            J, opening, r, r, bottle, d_bottle, i_b, plenum, d_plenum, i_p, 0, balance, NO_COUNT, plant.gas.straight_above
        )
        slope = regulator_slope(supply.set_pressure, plenum[0], supply.droop_band)
        add_pressure(J, i_p, d_plenum[0], 0, i_b, i_p, balance, NO_COUNT, slope * w, slope * h)
    add_heat(J, i_p, d_plenum[1], 0, balance, supply.plenum.wall)


@bare_kernel
def port_columns(J, plant, tube, d_tube, lift, d_lift, balance):
    """Flow from tube to lift chamber, and from there through a quick exhaust."""
    g = plant.gas
    i_t = plant.index.tube
    i_l = plant.index.lift
    x = plant.index.lift_height
    s = g.straight_above
    shuttle = quick_shuttle(lift[0], tube[0], g.cracking) if g.quick != 0 else 0.0
    through = 1.0 - shuttle
    w, h = add_both_ways(
        J, through, g.port_in, g.port_out, tube, d_tube, i_t, lift, d_lift, i_l, x, balance, NO_COUNT, s
    )
    if g.quick == 0:
        return
    slope = 1.0 / g.cracking if 0.0 < shuttle < 1.0 else 0.0
    add_pressure(J, i_l, d_lift[0], x, i_t, i_l, balance, NO_COUNT, -slope * w, -slope * h)
    add_pressure(J, i_t, d_tube[0], x, i_t, i_l, balance, NO_COUNT, slope * w, slope * h)
    ambient = fixed_state(g.ambient)
    vent = g.quick_vent
    w, h = add_both_ways(
        J, shuttle, vent, vent, lift, d_lift, i_l, ambient, NO_GRADIENT, BOUNDARY, x, balance, NO_COUNT, s
    )
    add_pressure(J, i_l, d_lift[0], x, i_l, BOUNDARY, balance, NO_COUNT, slope * w, slope * h)
    add_pressure(J, i_t, d_tube[0], x, i_l, BOUNDARY, balance, NO_COUNT, -slope * w, -slope * h)


@bare_kernel
def leak_columns(J, plant, lift, d_lift, spring, d_spring, balance):
    """Flow past the piston, an orifice."""
    g = plant.gas
    i_l = plant.index.lift
    i_s = plant.index.spring
    x = plant.index.lift_height
    if lift[0] > spring[0]:
        flow = flow_slopes(
            g.piston_leak, -1.0, 0.5, lift[5], lift[6], lift[0], lift[2], lift[3], spring[0], g.straight_above
        )
        add_one_way(J, flow, 1.0, lift, d_lift, i_l, d_spring, i_s, x, balance, NO_COUNT, 1.0)
    else:
        flow = flow_slopes(
            g.piston_leak, -1.0, 0.5, spring[5], spring[6], spring[0], spring[2], spring[3], lift[0], g.straight_above
        )
        add_one_way(J, flow, 1.0, spring, d_spring, i_s, d_lift, i_l, x, balance, NO_COUNT, 1.0)


@bare_kernel
def push_columns(J, plant, i, p, area, friction_by_p, v, balance):
    """Sleeve's rows for a node that pushes on `area` (m2, opening positive) with the pressure gradient `p`.

    friction_by_p: derivative of the friction force by this pressure, N/Pa, opening positive.
    """
    index = plant.index
    force = (area + friction_by_p) / plant.sleeve.mass
    for k in range(3):
        column = index.lift_height if k == 2 else i + k
        J[index.speed, column] += force * p[k]
        J[balance + B_FRICTION, column] -= friction_by_p * v * p[k]
        J[i + 1, column] -= area * v * p[k]
        J[balance + B_GAS_WORK, column] += area * v * p[k]


@bare_kernel
def gas_columns(J, plant, opening, source, d_source, i_source, tube, d_tube, lift, d_lift, spring, d_spring, balance):
    """All flows between the nodes downstream of the supply, and their walls."""
    g = plant.gas
    index = plant.index
    x = index.lift_height
    s = g.straight_above
    ambient = fixed_state(g.ambient)
    if opening > 0.0:
        add_both_ways(
            J, opening, g.fill, g.fill, source, d_source, i_source, tube, d_tube, index.tube, x, balance, balance + B_FILL, s
        )
    if opening < 1.0:
        add_both_ways(
            J, 1.0 - opening, g.exhaust, g.exhaust, tube, d_tube, index.tube, ambient, NO_GRADIENT, BOUNDARY,
            x, balance, NO_COUNT, s,
        )  # fmt: skip
    port_columns(J, plant, tube, d_tube, lift, d_lift, balance)
    if g.piston_leak > 0.0:
        leak_columns(J, plant, lift, d_lift, spring, d_spring, balance)
    add_both_ways(
        J, 1.0, g.vent, g.vent, spring, d_spring, index.spring, ambient, NO_GRADIENT, BOUNDARY, x, balance, NO_COUNT, s
    )
    add_heat(J, index.tube, d_tube[1], x, balance, g.tube.wall)
    add_heat(J, index.lift, d_lift[1], x, balance, g.lift.wall)
    add_heat(J, index.spring, d_spring[1], x, balance, g.spring.wall)
