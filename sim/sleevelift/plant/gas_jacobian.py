"""Columns of the gas nodes: every flow's own slopes, chained to the nodes' masses, energies and volumes.

    flow(p1, rho1, n1; p2), h1   <-   node: p, T, rho, n, h by m, U (and by lift x, where its volume moves)

A gradient is the tuple (p, T, rho, n, h) of triples, each a derivative by m (1/kg), U (1/J) and x (1/m).
"""

from sleevelift.jit import bare_kernel, inline_kernel
from sleevelift.jit.packed import choose, item, least, most, pack
from sleevelift.physics.restriction import slopes_of_flow
from sleevelift.physics.supply import regulator_slope
from sleevelift.plant.gas_side import upstream
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

BOUNDARY = -1
"""In place of a node's index: outside, a fixed state."""
FLAT = (0.0, 0.0, 0.0)
NO_GRADIENT = (FLAT, FLAT, FLAT, FLAT, FLAT)
"""Gradient of a fixed state."""


@inline_kernel
def chained(by_rho, by_u, frame):
    """Derivatives by m, U, x of what has these by density and specific energy; frame: d rho/dm, d rho/dx, du/dm, du/dU."""
    return by_rho * frame[0] + by_u * frame[2], by_u * frame[3], by_rho * frame[1]


@inline_kernel
def node_gradient_of(node, slopes, mass, energy, volume, volume_slope):
    """Gradient of a node (`gas_node.node_gradient`, or four of them) of these m kg, U J, V m3 and dV/dx m2."""
    p_rho, p_u, T_rho, T_u, n_rho, n_u = slopes
    rho = node[2]
    frame = (1.0 / volume, -rho / volume * volume_slope, -energy / (mass * mass), 1.0 / mass)
    p = chained(p_rho, p_u, frame)
    T = chained(T_rho, T_u, frame)
    n = chained(n_rho, n_u, frame)
    h = chained((p_rho - node[0] / rho) / rho, 1.0 + p_u / rho, frame)
    return p, T, (frame[0], 0.0 * rho, frame[1]), n, h


@inline_kernel
def three_at(packed, place):
    """One node's derivatives by m, U, x of four nodes'."""
    return item(packed[0], place), item(packed[1], place), item(packed[2], place)


@inline_kernel
def gradient_at(gradients, place):
    """One node's gradient of four nodes'."""
    p, T, rho, n, h = gradients
    return three_at(p, place), three_at(T, place), three_at(rho, place), three_at(n, place), three_at(h, place)


@inline_kernel
def three_side_by_side(a, b, c, d):
    """Derivatives by m, U, x of four nodes, packed."""
    return pack(a[0], b[0], c[0], d[0]), pack(a[1], b[1], c[1], d[1]), pack(a[2], b[2], c[2], d[2])


@inline_kernel
def gradients_side_by_side(a, b, c, d):
    """Four gradients, packed, without that of the temperature: those of p, rho, n, h."""
    return (
        three_side_by_side(a[0], b[0], c[0], d[0]), three_side_by_side(a[2], b[2], c[2], d[2]),
        three_side_by_side(a[3], b[3], c[3], d[3]), three_side_by_side(a[4], b[4], c[4], d[4]),
    )  # fmt: skip


@bare_kernel
def columns_of_flows(restrictions, a, b, rho_a, rho_b, d_a, d_b, laminar_above):
    """Four flows `gas_side.flows_between` of share 1 with their derivatives, packed: (w, h, w's by node a, by node b, h's alike).

    w kg/s and enthalpy flow h W signed from a to b; each derivative a triple by m, U, x of the node on that side. a, b as for
    `flows_between`, d_a, d_b of `gradients_side_by_side`.
    """
    ahead, n, enthalpy, flux, r_star, area, critical, m = upstream(restrictions, a, b)
    w, by_p, by_rho, by_n, by_p2 = slopes_of_flow(
        area, critical, m, flux, r_star, most(a[0], b[0]), choose(ahead, rho_a, rho_b), n, least(a[0], b[0]), laminar_above
    )
    sign = choose(ahead, 1.0, -1.0)
    w, by_p, by_rho, by_n, by_p2 = sign * w, sign * by_p, sign * by_rho, sign * by_n, sign * by_p2
    # by each state of node a: as of what flows where a is upstream, else by its pressure behind the restriction; b alike
    a_p, a_rho, a_n, a_w = choose(ahead, by_p, by_p2), choose(ahead, by_rho, 0.0), choose(ahead, by_n, 0.0), choose(ahead, w, 0.0)
    b_p, b_rho, b_n, b_w = choose(ahead, by_p2, by_p), choose(ahead, 0.0, by_rho), choose(ahead, 0.0, by_n), choose(ahead, 0.0, w)
    p, r, e, i = d_a
    w_a = a_p * p[0] + a_rho * r[0] + a_n * e[0], a_p * p[1] + a_n * e[1], a_p * p[2] + a_rho * r[2] + a_n * e[2]
    h_a = w_a[0] * enthalpy + a_w * i[0], w_a[1] * enthalpy + a_w * i[1], w_a[2] * enthalpy + a_w * i[2]
    p, r, e, i = d_b
    w_b = b_p * p[0] + b_rho * r[0] + b_n * e[0], b_p * p[1] + b_n * e[1], b_p * p[2] + b_rho * r[2] + b_n * e[2]
    h_b = w_b[0] * enthalpy + b_w * i[0], w_b[1] * enthalpy + b_w * i[1], w_b[2] * enthalpy + b_w * i[2]
    return w, w * enthalpy, w_a, w_b, h_a, h_b


@bare_kernel
def add_inner_flows(J, index, row, balance_row, share, by_a, by_b):
    """Add the flows exhaust, port, piston leak, vent, times `share`, to the rows of what they carry.

    row: 0 mass, 1 energy; balance_row of what enters over the boundary; by_a, by_b: triples of `columns_of_flows`.
    """
    tube, lift, spring = index.tube + row, index.lift + row, index.spring + row
    for k in range(2):
        a, b = share * by_a[k], share * by_b[k]
        exhaust, port, leak, vent = item(a, 0), item(a, 1), item(a, 2), item(a, 3)
        port_b, leak_b = item(b, 1), item(b, 2)
        of_tube, of_lift, of_spring = index.tube + k, index.lift + k, index.spring + k
        J[tube, of_tube] -= exhaust + port
        J[lift, of_tube] += port
        J[balance_row, of_tube] -= exhaust
        J[tube, of_lift] -= port_b
        J[lift, of_lift] += port_b - leak
        J[spring, of_lift] += leak
        J[lift, of_spring] -= leak_b
        J[spring, of_spring] += leak_b - vent
        J[balance_row, of_spring] -= vent
    x = index.lift_height
    a, b = share * by_a[2], share * by_b[2]
    port, leak, vent = item(b, 1), item(a, 2) + item(b, 2), item(a, 3)
    J[tube, x] -= port
    J[lift, x] += port - leak
    J[spring, x] += leak - vent
    J[balance_row, x] -= vent


@bare_kernel
def add_flow(J, column, source, sink, balance, dw, dh):
    """Add the derivative of a flow (dw, enthalpy dh) from node `source` to node `sink` to a column."""
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


@bare_kernel
def add_pressure(J, i, p, x_column, source, sink, balance, by_p, h_by_p):
    """Add a flow that changes by by_p (enthalpy h_by_p) per Pa of node i's pressure, whose gradient is `p`."""
    add_flow(J, i, source, sink, balance, by_p * p[0], h_by_p * p[0])
    add_flow(J, i + 1, source, sink, balance, by_p * p[1], h_by_p * p[1])
    if p[2] != 0.0:
        add_flow(J, x_column, source, sink, balance, by_p * p[2], h_by_p * p[2])


@bare_kernel
def add_outflow(J, flow, node, gradient, i, x_column, balance):
    """Add a flow of `flow_slopes` from node i over the boundary."""
    w, by_p, by_rho, by_n, by_p2 = flow
    p, T, rho, n, h = gradient
    for k in range(3):
        by = by_p * p[k] + by_rho * rho[k] + by_n * n[k]
        add_flow(J, x_column if k == 2 else i + k, i, BOUNDARY, balance, by, by * node[4] + w * h[k])


@inline_kernel
def add_heat(J, i, T, balance, wall):
    """Wall heat of a node of constant volume with this temperature gradient."""
    for k in range(2):
        J[i + 1, i + k] -= wall * T[k]
        J[balance + B_GAS_ENERGY, i + k] -= wall * T[k]


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


@inline_kernel
def add_supply_flow(J, source, sink, row, balance_row, k, by_source, by_sink):
    """Add a flow's derivatives by state k (m, U) of both its nodes to the rows of what it carries; BOUNDARY counts as outside."""
    if source >= 0:
        J[source + row, source + k] -= by_source
        J[sink + row, source + k] += by_source
        J[source + row, sink + k] -= by_sink
    else:
        J[balance_row, sink + k] += by_sink
    J[sink + row, sink + k] += by_sink


@bare_kernel
def supply_columns(J, plant, shares, flows, i_source, plenum, p_plenum, balance):
    """The flows fill, regulator and quick exhaust's vent, times their shares: `flows` of `columns_of_flows`.

    i_source: node that fills, or BOUNDARY; plenum: its pressure, Pa, which moves the regulator, and p_plenum its gradient.
    """
    opening, regulator, shuttle = shares
    w, h, w_a, w_b, h_a, h_b = flows
    supply = plant.supply
    index = plant.index
    mass, energy = balance + B_GAS_MASS, balance + B_GAS_ENERGY
    i_b = index.bottle
    i_p = index.plenum
    i_t = index.tube
    for k in range(2):
        if opening > 0.0:
            add_supply_flow(J, i_source, i_t, 0, mass, k, opening * item(w_a[k], 0), opening * item(w_b[k], 0))
            add_supply_flow(J, i_source, i_t, 1, energy, k, opening * item(h_a[k], 0), opening * item(h_b[k], 0))
            J[balance + B_FILL, i_t + k] += opening * item(w_b[k], 0)
            if i_source >= 0:
                J[balance + B_FILL, i_source + k] += opening * item(w_a[k], 0)
        if regulator > 0.0:
            add_supply_flow(J, i_b, i_p, 0, mass, k, regulator * item(w_a[k], 1), regulator * item(w_b[k], 1))
            add_supply_flow(J, i_b, i_p, 1, energy, k, regulator * item(h_a[k], 1), regulator * item(h_b[k], 1))
    if regulator > 0.0:
        slope = regulator_slope(supply.set_pressure, plenum, supply.droop_band)
        add_pressure(J, i_p, p_plenum, 0, i_b, i_p, balance, slope * item(w, 1), slope * item(h, 1))
    if shuttle > 0.0:
        for k in range(3):
            column = index.lift_height if k == 2 else index.lift + k
            add_flow(J, column, index.lift, BOUNDARY, balance, shuttle * item(w_a[k], 2), shuttle * item(h_a[k], 2))


@bare_kernel
def shuttle_columns(J, plant, port, vent, p_lift, p_tube, balance):
    """What a moving quick-exhaust shuttle does to the flows (w, h) through port and vent, by the gradients of both pressures."""
    index = plant.index
    i_l, i_t, x = index.lift, index.tube, index.lift_height
    slope = 1.0 / plant.gas.cracking
    add_pressure(J, i_l, p_lift, x, i_t, i_l, balance, -slope * port[0], -slope * port[1])
    add_pressure(J, i_t, p_tube, x, i_t, i_l, balance, slope * port[0], slope * port[1])
    add_pressure(J, i_l, p_lift, x, i_l, BOUNDARY, balance, slope * vent[0], slope * vent[1])
    add_pressure(J, i_t, p_tube, x, i_l, BOUNDARY, balance, -slope * vent[0], -slope * vent[1])


@inline_kernel
def add_walls(J, index, i_4, wall, T, balance):
    """Wall heat of tube, lift chamber, spring side and the fourth node (i_4, or BOUNDARY: none), whose gradient is T."""
    energy = balance + B_GAS_ENERGY
    for k in range(2):
        by = wall * T[k]
        t, el, s, fourth = item(by, 0), item(by, 1), item(by, 2), item(by, 3)
        J[index.tube + 1, index.tube + k] -= t
        J[index.lift + 1, index.lift + k] -= el
        J[index.spring + 1, index.spring + k] -= s
        J[energy, index.tube + k] -= t
        J[energy, index.lift + k] -= el
        J[energy, index.spring + k] -= s
        if i_4 >= 0:
            J[i_4 + 1, i_4 + k] -= fourth
            J[energy, i_4 + k] -= fourth
    by = wall * T[2]
    x = index.lift_height
    J[index.lift + 1, x] -= item(by, 1)
    J[index.spring + 1, x] -= item(by, 2)
    J[energy, x] -= item(by, 1) + item(by, 2)
