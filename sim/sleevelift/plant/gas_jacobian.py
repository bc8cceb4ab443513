"""Columns of the gas side: every flow's own slopes, chained to the states that the gas at both its ends depends on.

    flow(p1, rho1, n1; p2), h1   <-   slot: p, T, rho, n, h by its two states and (where its volume moves) by lift x

A node's states are its mass and energy, the combustion chamber's its gas mass and pressure. Derivatives of all slots stand in
`params.GRADIENT`, filled before the flows are gone through, row by row as in `rhs.gas_rates`.
"""

from sleevelift.jit import bare_kernel, inline_kernel
from sleevelift.jit.packed import WIDTH, pack_row, put_row
from sleevelift.physics.gas import OUTSIDE
from sleevelift.physics.gas_node import node_gradient, node_gradients
from sleevelift.physics.restriction import slopes_of_flow
from sleevelift.physics.supply import table_slope
from sleevelift.plant.gas_side import chamber_side, first_contents, flow_of, put_state, put_states, supply_state
from sleevelift.plant.params import CHAMBER, SPRING, SUPPLY, TABLE_SUPPLY
from sleevelift.plant.state import B_FRICTION, B_GAS_MASS, B_GAS_WORK, D_LIT, D_SUPPLY

TIME_STEP = 1e-7
"""s. A tabled supply pressure is moved in time by this."""
STATE_SHARE = 1e-7
"""-. Share of its size by which gas mass or pressure of the combustion chamber is moved."""


@inline_kernel
def chained(by_rho, by_u, frame):
    """Derivatives by m, U, x of what has these by density and specific energy; frame: d rho/dm, d rho/dx, du/dm, du/dU."""
    return by_rho * frame[0] + by_u * frame[2], by_u * frame[3], by_rho * frame[1]


@inline_kernel
def node_gradient_of(node, slopes, mass, energy, volume, volume_slope):
    """(p, T, rho, n, h), each a triple by m (1/kg), U (1/J), x (1/m), of a node or of four, packed.

    node, slopes: of `gas_node.node_gradient`, or of four; mass kg, energy J, volume m3, dV/dx m2.
    """
    p_rho, p_u, T_rho, T_u, n_rho, n_u = slopes
    rho = node[2]
    frame = (1.0 / volume, -rho / volume * volume_slope, -energy / (mass * mass), 1.0 / mass)
    p = chained(p_rho, p_u, frame)
    T = chained(T_rho, T_u, frame)
    n = chained(n_rho, n_u, frame)
    h = chained((p_rho - node[0] / rho) / rho, 1.0 + p_u / rho, frame)
    return p, T, (frame[0], 0.0 * rho, frame[1]), n, h


@inline_kernel
def put_gradient(d, slot, gradient):
    """Put a node's gradient into its slot of `params.GRADIENT`."""
    p, T, rho, n, h = gradient
    d.p_1[slot], d.p_2[slot], d.p_x[slot] = p[0], p[1], p[2]
    d.T_1[slot], d.T_2[slot], d.T_x[slot] = T[0], T[1], T[2]
    d.rho_1[slot], d.rho_2[slot], d.rho_x[slot] = rho[0], rho[1], rho[2]
    d.n_1[slot], d.n_2[slot], d.n_x[slot] = n[0], n[1], n[2]
    d.h_1[slot], d.h_2[slot], d.h_x[slot] = h[0], h[1], h[2]


@inline_kernel
def put_gradients(d, gradients):
    """Put the gradients of the first four slots, packed, into them."""
    p, T, rho, n, h = gradients
    put_row(d.p_1, p[0])
    put_row(d.p_2, p[1])
    put_row(d.p_x, p[2])
    put_row(d.T_1, T[0])
    put_row(d.T_2, T[1])
    put_row(d.T_x, T[2])
    put_row(d.rho_1, rho[0])
    put_row(d.rho_2, rho[1])
    put_row(d.rho_x, rho[2])
    put_row(d.n_1, n[0])
    put_row(d.n_2, n[1])
    put_row(d.n_x, n[2])
    put_row(d.h_1, h[0])
    put_row(d.h_2, h[1])
    put_row(d.h_x, h[2])


@bare_kernel
def gas_gradients(y, x, moving, plant, gas):
    """Fill states and gradients of all nodes; 0, or the code of the first whose gas is outside its range.

    moving: 1.0 where the lift changes, else 0.0.
    """
    nodes = plant.nodes
    masses, energies, volumes = first_contents(y, x, nodes)
    states, slopes, outside = node_gradients(masses, energies, volumes, gas)
    if outside < WIDTH:
        return nodes.code[outside]
    put_states(plant.now, states)
    put_gradients(plant.gradient, node_gradient_of(states, slopes, masses, energies, volumes, moving * pack_row(nodes.swept)))
    for k in range(WIDTH, nodes.count):
        i = nodes.mass[k]
        volume = nodes.volume[k] + x * nodes.swept[k]
        state, slope = node_gradient(y[i], y[i + 1], volume, gas)
        if state[7] == OUTSIDE:
            return nodes.code[k]
        put_state(plant.now, k, state)
        put_gradient(plant.gradient, k, node_gradient_of(state, slope, y[i], y[i + 1], volume, moving * nodes.swept[k]))
    return 0


@bare_kernel
def chamber_gradient(p_c, gas_mass, exponent, discrete_state, plant, tables, gas):
    """Fill the gradient of the gas at the post seal by the chamber's gas mass and pressure, by forward differences.

    The exponent's own change is left out: a leak of a leak. Where the spring side flows into the chamber only its pressure counts.
    """
    d = plant.gradient
    now = plant.now
    k = CHAMBER
    lit = discrete_state[D_LIT]
    if p_c <= now.p[SPRING]:
        d.p_1[k] = 0.0
        d.p_2[k] = 1.0
        return
    step = STATE_SHARE * gas_mass
    p, T, rho, n, h, flux, r_star, status = chamber_side(p_c, gas_mass + step, lit, exponent, plant, tables, gas)
    d.p_1[k], d.rho_1[k], d.n_1[k], d.h_1[k] = (
        0.0, (rho - now.rho[k]) / step, (n - now.n[k]) / step, (h - now.h[k]) / step,
    )  # fmt: skip
    step = STATE_SHARE * p_c
    p, T, rho, n, h, flux, r_star, status = chamber_side(p_c + step, gas_mass, lit, exponent, plant, tables, gas)
    d.p_2[k], d.rho_2[k], d.n_2[k], d.h_2[k] = (
        1.0, (rho - now.rho[k]) / step, (n - now.n[k]) / step, (h - now.h[k]) / step,
    )  # fmt: skip


@inline_kernel
def add_flow(J, column, i, j, meter, balance, dw, dh):
    """Add the derivative of a flow (dw, enthalpy dh) from the node with mass at i to that at j; meter: its balance, 0 none."""
    J[i, column] -= dw
    J[i + 1, column] -= dh
    J[j, column] += dw
    J[j + 1, column] += dh
    if meter != 0:
        J[balance + meter, column] += dw


@inline_kernel
def add_by_slot(J, slot, x_column, i, j, meter, balance, nodes, dw, dh):
    """Add a flow's derivatives dw, dh, triples by the first and second state of a slot and by lift."""
    if nodes.free[slot] != 0:
        add_flow(J, nodes.first[slot], i, j, meter, balance, dw[0], dh[0])
        add_flow(J, nodes.second[slot], i, j, meter, balance, dw[1], dh[1])
        if dw[2] != 0.0:
            add_flow(J, x_column, i, j, meter, balance, dw[2], dh[2])


@inline_kernel
def add_by_pressure(J, slot, x_column, i, j, meter, balance, plant, by_p, h_by_p):
    """Add a flow that changes by by_p (its enthalpy flow by h_by_p) per Pa of a slot's pressure."""
    d = plant.gradient
    p = (d.p_1[slot], d.p_2[slot], d.p_x[slot])
    dw = (by_p * p[0], by_p * p[1], by_p * p[2])
    add_by_slot(J, slot, x_column, i, j, meter, balance, plant.nodes, dw, (h_by_p * p[0], h_by_p * p[1], h_by_p * p[2]))


@bare_kernel
def flow_columns(J, plant, balance):
    """Columns of everything that the gas flows depend on, row by row: the gas at both ends, then what opens them."""
    nodes = plant.nodes
    now = plant.now
    d = plant.gradient
    openings = plant.openings
    x = plant.index.lift_height
    for k in range(plant.gas.flows):
        row = plant.flows[k]
        share = openings.share[row.opening]
        opening = share * row.free
        if not opening > 0.0:
            continue
        ahead = now.p[row.source] > now.p[row.sink]
        up = row.source if ahead else row.sink
        down = row.sink if ahead else row.source
        way = 0 if ahead else 1
        area = opening * row.area[way] * (1.0 if ahead else -1.0)
        w, by_p, by_rho, by_n, by_p2 = slopes_of_flow(
            area, row.b[way], row.m[way], now.flux[up], now.r_star[up], now.p[up], now.rho[up], now.n[up], now.p[down],
            plant.gas.laminar_above,
        )  # fmt: skip
        i = nodes.mass[row.source]
        j = nodes.mass[row.sink]
        h = now.h[up]
        by_1 = by_p * d.p_1[up] + by_rho * d.rho_1[up] + by_n * d.n_1[up]
        by_2 = by_p * d.p_2[up] + by_rho * d.rho_2[up] + by_n * d.n_2[up]
        by_x = by_p * d.p_x[up] + by_rho * d.rho_x[up] + by_n * d.n_x[up]
        dh = (by_1 * h + w * d.h_1[up], by_2 * h + w * d.h_2[up], by_x * h + w * d.h_x[up])
        add_by_slot(J, up, x, i, j, row.meter, balance, nodes, (by_1, by_2, by_x), dh)
        add_by_pressure(J, down, x, i, j, row.meter, balance, plant, by_p2, by_p2 * h)
        by_p = openings.by_p[row.opening]
        if by_p != 0.0:
            by_p *= w / share
            add_by_pressure(J, openings.above[row.opening], x, i, j, row.meter, balance, plant, by_p, by_p * h)
            add_by_pressure(J, openings.below[row.opening], x, i, j, row.meter, balance, plant, -by_p, -by_p * h)
        by_lift = openings.by_lift[row.opening]
        if by_lift != 0.0:
            by_lift *= w / share
            add_flow(J, x, i, j, row.meter, balance, by_lift, by_lift * h)


@bare_kernel
def wall_columns(J, plant, balance):
    """Columns of the nodes' wall heat."""
    nodes = plant.nodes
    d = plant.gradient
    outside = balance + B_GAS_MASS + 1
    for k in range(nodes.count):
        i = nodes.mass[k]
        wall = nodes.wall[k]
        J[i + 1, i] -= wall * d.T_1[k]
        J[i + 1, i + 1] -= wall * d.T_2[k]
        J[outside, i] += wall * d.T_1[k]
        J[outside, i + 1] += wall * d.T_2[k]
        if d.T_x[k] != 0.0:
            J[i + 1, plant.index.lift_height] -= wall * d.T_x[k]
            J[outside, plant.index.lift_height] += wall * d.T_x[k]


@bare_kernel
def push_columns(J, slot, friction_by_p, v, plant, balance):
    """Rows of the moving sleeve for a node whose volume it changes: it pushes on the area that the volume grows by per lift.

    friction_by_p: derivative of the friction force by the node's pressure, N/Pa, opening positive.
    """
    nodes = plant.nodes
    d = plant.gradient
    area = nodes.swept[slot]
    i = nodes.mass[slot]
    force = (area + friction_by_p) / plant.sleeve.mass
    p = (d.p_1[slot], d.p_2[slot], d.p_x[slot])
    for k in range(3):
        column = plant.index.lift_height if k == 2 else i + k
        J[plant.index.speed, column] += force * p[k]
        J[balance + B_FRICTION, column] -= friction_by_p * v * p[k]
        J[i + 1, column] -= area * v * p[k]
        J[balance + B_GAS_WORK, column] += area * v * p[k]


@bare_kernel
def swept_column(J, plant, balance):
    """Column of the sleeve's speed: the work of the nodes whose volume it changes."""
    nodes = plant.nodes
    for k in range(nodes.count):
        work = plant.now.p[k] * nodes.swept[k]
        J[nodes.mass[k] + 1, plant.index.speed] -= work
        J[balance + B_GAS_WORK, plant.index.speed] += work


@inline_kernel
def add_rate(dfdt, i, j, meter, balance, dw, dh):
    """Add a flow's change with time to what it carries."""
    dfdt[i] -= dw
    dfdt[i + 1] -= dh
    dfdt[j] += dw
    dfdt[j + 1] += dh
    if meter != 0:
        dfdt[balance + meter] += dw


@bare_kernel
def gas_time_derivative(t, discrete_state, plant, tables, gas, balance, dfdt):
    """Explicit dependence of the gas flows on time: openings, and a tabled supply moved by TIME_STEP."""
    nodes = plant.nodes
    now = plant.now
    openings = plant.openings
    laminar_above = plant.gas.laminar_above
    for k in range(plant.gas.flows):
        row = plant.flows[k]
        by_t = openings.by_t[row.opening]
        if by_t != 0.0:
            by_t *= row.free
            w, h = flow_of(row, now, laminar_above)
            add_rate(dfdt, nodes.mass[row.source], nodes.mass[row.sink], row.meter, balance, by_t * w, by_t * h)
    table = plant.supply.table
    segment = discrete_state[D_SUPPLY]
    if plant.supply.kind != TABLE_SUPPLY or table_slope(tables, table.start, table.count, segment) == 0.0:
        return
    as_now = supply_state(t, segment, plant, tables, gas)
    later = supply_state(t + TIME_STEP, segment, plant, tables, gas)
    for k in range(plant.gas.flows):
        row = plant.flows[k]
        part = openings.share[row.opening] / TIME_STEP
        if part > 0.0 and (row.source == SUPPLY or row.sink == SUPPLY):
            w, h = flow_of(row, now, laminar_above)
            put_state(now, SUPPLY, later)
            w_later, h_later = flow_of(row, now, laminar_above)
            put_state(now, SUPPLY, as_now)
            dw, dh = part * (w_later - w), part * (h_later - h)
            add_rate(dfdt, nodes.mass[row.source], nodes.mass[row.sink], row.meter, balance, dw, dh)
