"""Columns of fuel past the rod seal and of the liquid in the lift chamber (`rod_leak`), chained to the states.

    causes: gas of the lift chamber (p, T, rho, n, h), liquid V_q, lift x, manifold p_f, tube p_t, mass of the gas
    -> liquid in, liquid out, gas back, heat; share of each gas flow that liquid leaves free

The lift chamber's gas depends on its mass and energy, on lift and on the liquid; the tube's pressure counts where it moves a
shuttle."""

from sleevelift.jit import bare_kernel
from sleevelift.physics.gas import OUTSIDE
from sleevelift.physics.gas_node import node_gradient
from sleevelift.physics.lift_liquid import (
    gas_room,
    gas_room_slopes,
    high_share_slopes,
    low_share,
    low_share_slope,
    share,
    share_slope,
    wetting,
)
from sleevelift.physics.liquid import JOINT_PRESSURE, orifice_liquid_flow, orifice_liquid_slope
from sleevelift.physics.restriction import slopes_of_flow
from sleevelift.plant.gas_jacobian import add_flow
from sleevelift.plant.gas_side import flow_of, put_state
from sleevelift.plant.liquid_jacobian import leave_volume
from sleevelift.plant.params import (
    BY_EXHAUST,
    BY_QUICK,
    BY_SHUTTLE_HOME,
    LIFT,
    TUBE,
)
from sleevelift.plant.rod_leak import area_of, blocked, chamber_volume, gas_content, in_turn, liquid_out, outlet, passing, rod_flows
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet


@bare_kernel
def set_lift_gradient(y, x, moving, plant, gas):
    """Fill state and gradient of the lift chamber's gas with liquid beside it, by mass, energy, lift and liquid; 0, or its code.

    moving: 1.0 where the lift changes, else 0.0.
    """
    rod = plant.rod
    nodes = plant.nodes
    i = nodes.mass[LIFT]
    m = y[i]
    total = chamber_volume(x, plant)
    swept = moving * nodes.swept[LIFT]
    liquid = y[plant.index.lift_liquid]
    content = gas_content(m, plant)
    room, _, stored = gas_room(total, liquid, plant.lines[FUEL].bulk, plant.ambient_pressure, content)
    r_total, r_q, r_content, e_total, e_q, e_content = gas_room_slopes(
        total, liquid, plant.lines[FUEL].bulk, plant.ambient_pressure, content
    )
    state, slopes = node_gradient(m, y[i + 1] - stored, room, gas)
    if state[7] == OUTSIDE:
        return nodes.code[LIFT]
    put_state(plant.now, LIFT, state)
    rho = m / room
    u = (y[i + 1] - stored) / m
    by_m = content / m
    rho_by = (1.0 - rho * r_content * by_m) / room, 0.0, -rho / room * r_total * swept, -rho / room * r_q
    u_by = -(u + e_content * by_m) / m, 1.0 / m, -e_total * swept / m, -e_q / m
    p_rho, p_u, T_rho, T_u, n_rho, n_u = slopes
    d = plant.gradient
    p = (
        p_rho * rho_by[0] + p_u * u_by[0], p_u * u_by[1], p_rho * rho_by[2] + p_u * u_by[2], p_rho * rho_by[3] + p_u * u_by[3],
    )  # fmt: skip
    d.p_1[LIFT], d.p_2[LIFT], d.p_x[LIFT], rod.p_q = p
    d.T_1[LIFT], d.T_2[LIFT] = T_rho * rho_by[0] + T_u * u_by[0], T_u * u_by[1]
    d.T_x[LIFT], rod.T_q = T_rho * rho_by[2] + T_u * u_by[2], T_rho * rho_by[3] + T_u * u_by[3]
    d.n_1[LIFT], d.n_2[LIFT] = n_rho * rho_by[0] + n_u * u_by[0], n_u * u_by[1]
    d.n_x[LIFT], rod.n_q = n_rho * rho_by[2] + n_u * u_by[2], n_rho * rho_by[3] + n_u * u_by[3]
    d.rho_1[LIFT], d.rho_2[LIFT], d.rho_x[LIFT], rod.rho_q = rho_by
    ratio = state[0] / (rho * rho)
    d.h_1[LIFT] = u_by[0] + p[0] / rho - ratio * rho_by[0]
    d.h_2[LIFT] = u_by[1] + p[1] / rho
    d.h_x[LIFT] = u_by[2] + p[2] / rho - ratio * rho_by[2]
    rod.h_q = u_by[3] + p[3] / rho - ratio * rho_by[3]
    return 0


@bare_kernel
def share_slopes(liquid, x, plant):
    """Derivatives of the shares of liquid (leaving by liquid 1/m3, by lift 1/m; of what sits high, the same)."""
    rod = plant.rod
    top_q, top_total = high_share_slopes(liquid, chamber_volume(x, plant))
    top_x = top_total * plant.nodes.swept[LIFT]
    if rod.high != 0:
        return top_q, top_x, top_q, top_x
    return low_share_slope(liquid, plant.nodes.volume[LIFT]), 0.0, top_q, top_x


@bare_kernel
def outlet_slopes(plant):
    """Derivatives of the area that liquid leaves by (m2): by the shuttle's moving, by the exhaust's opening."""
    rod = plant.rod
    port, exhaust, quick = outlet(plant)
    whole = area_of(rod.port, 1, plant), area_of(rod.exhaust, 0, plant), area_of(rod.quick, 0, plant)
    if port <= 0.0 or exhaust <= 0.0:
        return whole[2], 0.0
    both = in_turn(port, exhaust)
    return whole[2] - whole[0] * (both / port) ** 3, whole[1] * (both / exhaust) ** 3


@bare_kernel
def rod_slopes(liquid, x, p_f, moving, mass, plant):
    """What the flows change by: a row for each of liquid in, liquid out, gas back (kg/s), heat (W), by the causes

    (p_l, rho, n, T of the chamber's gas, its mass, V_q, x, p_f, tube's p).
    """
    rod = plant.rod
    now = plant.now
    rho_q = plant.lines[FUEL].rho
    leaving_q, leaving_x, top_q, top_x = share_slopes(liquid, x, plant)
    leaving_x *= moving
    top_x *= moving
    dp = p_f - now.p[LIFT]
    slope = orifice_liquid_slope(rod.area, rho_q, dp)
    w_q = 0.0
    back = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    if dp < 0.0:
        covered = low_share(liquid, plant.nodes.volume[LIFT])
        covered_q = low_share_slope(liquid, plant.nodes.volume[LIFT])
        w_q = covered_q * orifice_liquid_flow(rod.area, rho_q, dp)
        slope *= covered
        w, by_p, by_rho, by_n, by_f = slopes_of_flow(
            rod.area, -1.0, 0.5, now.flux[LIFT], now.r_star[LIFT], now.p[LIFT], now.rho[LIFT], now.n[LIFT], p_f,
            plant.gas.laminar_above,
        )  # fmt: skip
        left = 1.0 - covered
        back = (left * by_p, left * by_rho, left * by_n, 0.0, 0.0, -covered_q * w, 0.0, left * by_f, 0.0)
    flow_in = (-slope, 0.0, 0.0, 0.0, 0.0, w_q, 0.0, slope, 0.0)
    above = now.p[LIFT] - plant.ambient_pressure
    out_p = 0.0
    out_tube = 0.0
    full = liquid_out(plant)
    if above > 0.0:
        port, exhaust, quick = outlet(plant)
        out_p = rod.leaving * orifice_liquid_slope(in_turn(port, exhaust) + quick, rho_q, above)
        by_moving = rod.leaving * orifice_liquid_flow(outlet_slopes(plant)[0], rho_q, above)
        out_tube = -by_moving * plant.openings.by_p[BY_QUICK]
    flow_out = (out_p - out_tube, 0.0, 0.0, 0.0, 0.0, leaving_q * full, leaving_x * full, 0.0, out_tube)
    colder = rod.temperature - now.T[LIFT]
    unit = wetting(mass, rod.gas_constant, 1.0)
    heat = (0.0, 0.0, 0.0, -unit * rod.top, unit * rod.top * colder / mass, unit * top_q * colder, unit * top_x * colder, 0.0, 0.0)
    return flow_in, flow_out, back, heat


@bare_kernel
def dot(slopes, changes):
    """Sum of products of two tuples of nine."""
    total = 0.0
    for k in range(9):
        total += slopes[k] * changes[k]
    return total


@bare_kernel
def add_rod_rows(J, y, column, changes, dh, slopes, flows, discrete_state, plant, balance):
    """Rows of all that passes rod seal and outlet for changes of the causes (`rod_slopes`) and of the gas's enthalpy dh."""
    index = plant.index
    fuel = plant.lines[FUEL]
    w, out, back = flows
    d_in, d_out, d_back, d_heat = dot(slopes[0], changes), dot(slopes[1], changes), dot(slopes[2], changes), dot(slopes[3], changes)
    i = index.lift
    p_l = plant.now.p[LIFT]
    grows = (d_in - d_out) * fuel.specific_volume
    gained = p_l * grows + changes[0] * (w - out) * fuel.specific_volume + d_heat - d_back * plant.now.h[LIFT] - back * dh
    outside = balance + B_GAS_MASS
    J[index.lift_liquid, column] += grows
    J[i, column] -= d_back
    J[i + 1, column] += gained
    J[outside, column] += d_back
    J[outside + 1, column] -= gained
    J[index.rod + B_ROD_LIQUID, column] += d_in
    J[index.rod + B_LIQUID_OUT, column] += d_out
    J[index.rod + B_ROD_GAS, column] += d_back
    leave_volume(J, y, column, FUEL, d_in, discrete_state, plant, balance)


@bare_kernel
def add_blocked(J, column, dp, d_liquid, d_lift, d_tube, slopes, plant, balance):
    """A column of what liquid leaves of the gas flows, for changes of p_l, V_q, x and the tube's p; slopes: `share_slopes`."""
    rod = plant.rod
    now = plant.now
    nodes = plant.nodes
    leaving_q, leaving_x, top_q, top_x = slopes
    leaving = leaving_q * d_liquid + leaving_x * d_lift
    top = top_q * d_liquid + top_x * d_lift
    home = plant.openings.share[BY_SHUTTLE_HOME]
    passes = share_slope(now.p[LIFT], plant.ambient_pressure, JOINT_PRESSURE) * home * dp
    passes += share(now.p[LIFT], plant.ambient_pressure, JOINT_PRESSURE) * plant.openings.by_p[BY_SHUTTLE_HOME] * (dp - d_tube)
    passed = leaving * passing(plant) + rod.leaving * passes
    for k in range(plant.gas.flows):
        row = plant.flows[k]
        change = -blocked(row, leaving, top, passed, now)
        if change != 0.0:
            w, h = flow_of(row, now, plant.gas.laminar_above)
            part = change * plant.openings.share[row.opening]
            add_flow(J, column, nodes.mass[row.source], nodes.mass[row.sink], row.meter, balance, part * w, part * h)


@bare_kernel
def liquid_column_of_gas(J, column, plant, balance):
    """What the liquid does to the gas flows of the lift chamber through its gas: the rows that begin or end there."""
    rod = plant.rod
    now = plant.now
    nodes = plant.nodes
    for k in range(plant.gas.flows):
        row = plant.flows[k]
        share_open = plant.openings.share[row.opening]
        opening = share_open * row.free
        if not opening > 0.0:
            continue
        ahead = now.p[row.source] > now.p[row.sink]
        up = row.source if ahead else row.sink
        down = row.sink if ahead else row.source
        if up != LIFT and down != LIFT:
            continue
        way = 0 if ahead else 1
        area = opening * row.area[way] * (1.0 if ahead else -1.0)
        w, by_p, by_rho, by_n, by_p2 = slopes_of_flow(
            area, row.b[way], row.m[way], now.flux[up], now.r_star[up], now.p[up], now.rho[up], now.n[up], now.p[down],
            plant.gas.laminar_above,
        )  # fmt: skip
        h = now.h[up]
        if up == LIFT:
            dw = by_p * rod.p_q + by_rho * rod.rho_q + by_n * rod.n_q
            dh = dw * h + w * rod.h_q
        else:
            dw = by_p2 * rod.p_q
            dh = dw * h
        by_share = plant.openings.by_p[row.opening] * rod.p_q * w / share_open
        if plant.openings.above[row.opening] != LIFT:
            by_share = 0.0
        i = nodes.mass[row.source]
        j = nodes.mass[row.sink]
        add_flow(J, column, i, j, row.meter, balance, dw + by_share, dh + by_share * h)


@bare_kernel
def liquid_column_of_sleeve(J, column, friction_by_p, v, moving, plant, balance):
    """What the liquid does through the lift chamber's pressure and temperature to sleeve, work and wall heat."""
    rod = plant.rod
    nodes = plant.nodes
    i = nodes.mass[LIFT]
    outside = balance + B_GAS_MASS
    J[i + 1, column] -= nodes.wall[LIFT] * rod.T_q
    J[outside + 1, column] += nodes.wall[LIFT] * rod.T_q
    if moving:
        area = nodes.swept[LIFT]
        J[plant.index.speed, column] += (area + friction_by_p) / plant.sleeve.mass * rod.p_q
        J[balance + B_FRICTION, column] -= friction_by_p * v * rod.p_q
        J[i + 1, column] -= area * v * rod.p_q
        J[balance + B_GAS_WORK, column] += area * v * rod.p_q


@bare_kernel
def rod_columns(J, y, discrete_state, x, v, friction_by_p, moving, plant, balance, dfdt):
    """All columns of the rod seal's leak, and the explicit dependence of the liquid's outflow on time (the exhaust's stroke)."""
    rod = plant.rod
    index = plant.index
    d = plant.gradient
    now = plant.now
    i = index.lift
    q = index.lift_liquid
    liquid = y[q]
    speed_up = 1.0 if moving else 0.0
    p_f = plant.liquids.p[FUEL]
    slopes = rod_slopes(liquid, x, p_f, speed_up, y[i], plant)
    shares = share_slopes(liquid, x, plant)
    flows = rod_flows(liquid, p_f, plant)
    changes = d.p_1[LIFT], d.rho_1[LIFT], d.n_1[LIFT], d.T_1[LIFT], 1.0, 0.0, 0.0, 0.0, 0.0
    add_rod_rows(J, y, i, changes, d.h_1[LIFT], slopes, flows, discrete_state, plant, balance)
    add_blocked(J, i, d.p_1[LIFT], 0.0, 0.0, 0.0, shares, plant, balance)
    changes = d.p_2[LIFT], d.rho_2[LIFT], d.n_2[LIFT], d.T_2[LIFT], 0.0, 0.0, 0.0, 0.0, 0.0
    add_rod_rows(J, y, i + 1, changes, d.h_2[LIFT], slopes, flows, discrete_state, plant, balance)
    add_blocked(J, i + 1, d.p_2[LIFT], 0.0, 0.0, 0.0, shares, plant, balance)
    changes = rod.p_q, rod.rho_q, rod.n_q, rod.T_q, 0.0, 1.0, 0.0, 0.0, 0.0
    add_rod_rows(J, y, q, changes, rod.h_q, slopes, flows, discrete_state, plant, balance)
    add_blocked(J, q, rod.p_q, 1.0, 0.0, 0.0, shares, plant, balance)
    liquid_column_of_gas(J, q, plant, balance)
    liquid_column_of_sleeve(J, q, friction_by_p, v, moving, plant, balance)
    if moving:
        column = index.lift_height
        changes = d.p_x[LIFT], d.rho_x[LIFT], d.n_x[LIFT], d.T_x[LIFT], 0.0, 0.0, 1.0, 0.0, 0.0
        add_rod_rows(J, y, column, changes, d.h_x[LIFT], slopes, flows, discrete_state, plant, balance)
        add_blocked(J, column, d.p_x[LIFT], 0.0, 1.0, 0.0, shares, plant, balance)
    changes = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, plant.liquids.by_z[FUEL], 0.0
    add_rod_rows(J, y, plant.liquids.place[FUEL], changes, 0.0, slopes, flows, discrete_state, plant, balance)
    if plant.gases[FUEL].present != 0:
        changes = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, plant.gases[FUEL].p_m, 0.0
        add_rod_rows(J, y, plant.gases[FUEL].place, changes, 0.0, slopes, flows, discrete_state, plant, balance)
    if plant.gas.quick != 0:
        tube = index.tube
        for k in range(2):
            p_t = d.p_1[TUBE] if k == 0 else d.p_2[TUBE]
            changes = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, p_t
            add_rod_rows(J, y, tube + k, changes, 0.0, slopes, flows, discrete_state, plant, balance)
            add_blocked(J, tube + k, 0.0, 0.0, 0.0, p_t, shares, plant, balance)
    by_t = plant.openings.by_t[BY_EXHAUST]
    above = now.p[LIFT] - plant.ambient_pressure
    if by_t != 0.0 and above > 0.0:
        d_out = rod.leaving * by_t * orifice_liquid_flow(outlet_slopes(plant)[1], plant.lines[FUEL].rho, above)
        grows = -d_out * plant.lines[FUEL].specific_volume
        dfdt[q] += grows
        dfdt[i + 1] += now.p[LIFT] * grows
        dfdt[balance + B_GAS_MASS + 1] -= now.p[LIFT] * grows
        dfdt[index.rod + B_LIQUID_OUT] += d_out
