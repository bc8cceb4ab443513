"""Jacobian of the right-hand side, by parts: a state is moved, and only the rooms that see it are called again.

    gas node    moved along its table's own slopes; its flows again            -> columns m, U and (through the volume) x
    manifold    pressure moved; its injector, the sleeve's force and friction  -> column z
    chamber     pressure and masses moved; burning, throat, injectors, force   -> columns m_ox, m_fuel, m_g, p
    lift        areas, forces and volumes                                      -> column x

Differences are forward, by a small share of each quantity's size; what is linear is written down. The columns of the balances
are absent, since nothing depends on them. `tests/plant` holds it against central differences of the whole right-hand side.
"""

from sim.jit import bare_kernel
from sim.physics.feed_line import trapped_gas_pressure
from sim.physics.friction import sliding_force
from sim.physics.gas_node import moved_node, node_gradient
from sim.physics.slots import uncovered_share
from sim.physics.supply import table_slope
from sim.plant.gas_side import (
    exhaust_flow,
    fill_flow,
    leak_flow,
    port_flow,
    post_leak_flow,
    quick_flow,
    regulator_flow,
    supply_state,
    vent_flow,
)
from sim.plant.params import BOTTLE_SUPPLY, REGULATED_SUPPLY, TABLE_SUPPLY
from sim.plant.rhs import chamber_rates, inlet_pressure, line_pressure, valve_opening
from sim.plant.state import *  # noqa: F403 - the index names are this room's alphabet
from sim.plant.wet_side import SEAL_PASSES_OVER, running_friction, wet_side

SHARE = 1e-7
"""-. Share of its size by which a quantity is moved: near the root of the rounding error, where forward differences are best."""
PRESSURE_FLOOR = 1e4
"""Pa. A pressure counts at least this much when it is moved."""
LIFT_FLOOR = 1e-5
"""m. A lift counts at least this much when it is moved."""
ENERGY_FLOOR = 1e4
"""J/kg. A specific energy counts at least this much when it is moved."""
MASS_FLOOR = 1e-6
"""kg. An unburned mass counts at least this much when it is moved."""
TIME_STEP = 1e-7
"""s. A tabled supply pressure is moved in time by this."""
BOUNDARY = -1


@bare_kernel
def add_flow(J, column, source, sink, balance, dw, dh):
    """Add the derivative of a flow (dw, enthalpy dh) from node `source` to node `sink` (BOUNDARY: outside) to a column."""
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
def shifted(node, slopes, what):
    """(node state with density (0) or specific energy (1) moved, the step taken)."""
    if what == 0:
        step = SHARE * node[2]
        return moved_node(node, slopes, step, 0.0), step
    step = SHARE * max(abs(node[4] - node[0] / node[2]), ENERGY_FLOOR)
    return moved_node(node, slopes, 0.0, step), step


@bare_kernel
def node_weights(mass, energy, volume, slope, what):
    """Factors that turn a derivative to density (0) or specific energy (1) into those to m, U and x; slope = dV/dx."""
    if what == 0:
        return 1.0 / volume, 0.0, -mass / (volume * volume) * slope
    return -energy / (mass * mass), 1.0 / mass, 0.0


@bare_kernel
def add_weighted(J, i, lift_column, weights, source, sink, balance, dw, dh):
    """Add a flow's derivative to the columns m, U of node i and, where the node's volume moves, x."""
    add_flow(J, i, source, sink, balance, dw * weights[0], dh * weights[0])
    if weights[1] != 0.0:
        add_flow(J, i + 1, source, sink, balance, dw * weights[1], dh * weights[1])
    if weights[2] != 0.0:
        add_flow(J, lift_column, source, sink, balance, dw * weights[2], dh * weights[2])


@bare_kernel
def add_row(J, row, i, lift_column, weights, d):
    """Add the derivative d of one row's rate to the columns m, U of node i and x."""
    J[row, i] += d * weights[0]
    J[row, i + 1] += d * weights[1]
    if weights[2] != 0.0:
        J[row, lift_column] += d * weights[2]


@bare_kernel
def add_heat(J, i, lift_column, weights, balance, wall, dT):
    """Wall heat of a node."""
    if wall > 0.0:
        add_row(J, i + 1, i, lift_column, weights, -wall * dT)
        add_row(J, balance + B_GAS_ENERGY, i, lift_column, weights, -wall * dT)


@bare_kernel
def source_columns(J, y, plant, opening, bottle, b_slopes, plenum, p_slopes, tube, balance):
    """Columns of bottle and plenum."""
    index = plant.index
    g = plant.gas
    supply = plant.supply
    regulated = supply.kind == REGULATED_SUPPLY
    i_b = index.bottle
    i_p = index.plenum
    base_r = 0.0, 0.0
    if regulated:
        base_r = regulator_flow(bottle, plenum, supply, g.straight_above)
    base_f = fill_flow(opening, plenum, tube, g)
    for what in range(2):
        moved, step = shifted(bottle, b_slopes, what)
        weights = node_weights(y[i_b], y[i_b + 1], supply.bottle.volume, 0.0, what)
        add_heat(J, i_b, 0, weights, balance, supply.bottle.wall, (moved[1] - bottle[1]) / step)
        if regulated:
            f = regulator_flow(moved, plenum, supply, g.straight_above)
            add_weighted(
                J, i_b, 0, weights, i_b, index.plenum, balance, (f[0] - base_r[0]) / step, (f[1] - base_r[1]) / step
            )
        else:
            f = fill_flow(opening, moved, tube, g)
            d = (f[0] - base_f[0]) / step
            add_weighted(J, i_b, 0, weights, i_b, index.tube, balance, d, (f[1] - base_f[1]) / step)
            add_row(J, balance + B_FILL, i_b, 0, weights, d)
    if not regulated:
        return
    for what in range(2):
        moved, step = shifted(plenum, p_slopes, what)
        weights = node_weights(y[i_p], y[i_p + 1], supply.plenum.volume, 0.0, what)
        add_heat(J, i_p, 0, weights, balance, supply.plenum.wall, (moved[1] - plenum[1]) / step)
        f = regulator_flow(bottle, moved, supply, g.straight_above)
        add_weighted(J, i_p, 0, weights, i_b, i_p, balance, (f[0] - base_r[0]) / step, (f[1] - base_r[1]) / step)
        f = fill_flow(opening, moved, tube, g)
        d = (f[0] - base_f[0]) / step
        add_weighted(J, i_p, 0, weights, i_p, index.tube, balance, d, (f[1] - base_f[1]) / step)
        add_row(J, balance + B_FILL, i_p, 0, weights, d)


@bare_kernel
def tube_columns(J, y, plant, opening, source, i_source, tube, slopes, lift, balance):
    """Columns of the tube's gas."""
    g = plant.gas
    i = plant.index.tube
    i_l = plant.index.lift
    base_f = fill_flow(opening, source, tube, g)
    base_e = exhaust_flow(1.0 - opening, tube, g)
    base_p = port_flow(tube, lift, g)
    base_q = quick_flow(tube, lift, g)
    for what in range(2):
        moved, step = shifted(tube, slopes, what)
        weights = node_weights(y[i], y[i + 1], g.tube.volume, 0.0, what)
        add_heat(J, i, 0, weights, balance, g.tube.wall, (moved[1] - tube[1]) / step)
        f = fill_flow(opening, source, moved, g)
        d = (f[0] - base_f[0]) / step
        add_weighted(J, i, 0, weights, i_source, i, balance, d, (f[1] - base_f[1]) / step)
        add_row(J, balance + B_FILL, i, 0, weights, d)
        f = exhaust_flow(1.0 - opening, moved, g)
        add_weighted(J, i, 0, weights, i, BOUNDARY, balance, (f[0] - base_e[0]) / step, (f[1] - base_e[1]) / step)
        f = port_flow(moved, lift, g)
        add_weighted(J, i, 0, weights, i, i_l, balance, (f[0] - base_p[0]) / step, (f[1] - base_p[1]) / step)
        if g.quick != 0:
            f = quick_flow(moved, lift, g)
            add_weighted(J, i, 0, weights, i_l, BOUNDARY, balance, (f[0] - base_q[0]) / step, (f[1] - base_q[1]) / step)


@bare_kernel
def lift_columns(J, y, plant, tube, lift, slopes, spring, v, volume, balance, friction_share, d_run, moving):
    """Columns of the lift chamber's gas; `d_run` = d(running friction)/d p_l, `friction_share` its signed factor."""
    g = plant.gas
    sleeve = plant.sleeve
    index = plant.index
    i = index.lift
    x_col = index.lift_height
    base_p = port_flow(tube, lift, g)
    base_q = quick_flow(tube, lift, g)
    base_l = leak_flow(g.piston_leak, lift, spring, g.straight_above)
    for what in range(2):
        moved, step = shifted(lift, slopes, what)
        weights = node_weights(y[i], y[i + 1], volume, sleeve.lift_area, what)
        dp = (moved[0] - lift[0]) / step
        add_heat(J, i, x_col, weights, balance, g.lift.wall, (moved[1] - lift[1]) / step)
        f = port_flow(tube, moved, g)
        add_weighted(J, i, x_col, weights, index.tube, i, balance, (f[0] - base_p[0]) / step, (f[1] - base_p[1]) / step)
        if g.quick != 0:
            f = quick_flow(tube, moved, g)
            add_weighted(
                J, i, x_col, weights, i, BOUNDARY, balance, (f[0] - base_q[0]) / step, (f[1] - base_q[1]) / step
            )
        if g.piston_leak > 0.0:
            f = leak_flow(g.piston_leak, moved, spring, g.straight_above)
            add_weighted(
                J, i, x_col, weights, i, index.spring, balance, (f[0] - base_l[0]) / step, (f[1] - base_l[1]) / step
            )
        if moving:
            d_friction = friction_share * d_run * dp
            add_row(J, index.speed, i, x_col, weights, (dp * sleeve.lift_area + d_friction) / sleeve.mass)
            add_row(J, balance + B_FRICTION, i, x_col, weights, -d_friction * v)
            add_row(J, i + 1, i, x_col, weights, -dp * sleeve.lift_area * v)
            add_row(J, balance + B_GAS_WORK, i, x_col, weights, dp * sleeve.lift_area * v)


@bare_kernel
def spring_columns(J, y, plant, lift, spring, slopes, v, volume, balance, friction_share, d_run, moving):
    """Columns of the spring side's gas."""
    g = plant.gas
    sleeve = plant.sleeve
    index = plant.index
    i = index.spring
    x_col = index.lift_height
    base_l = leak_flow(g.piston_leak, lift, spring, g.straight_above)
    base_v = vent_flow(spring, g)
    for what in range(2):
        moved, step = shifted(spring, slopes, what)
        weights = node_weights(y[i], y[i + 1], volume, -sleeve.top_area, what)
        dp = (moved[0] - spring[0]) / step
        add_heat(J, i, x_col, weights, balance, g.spring.wall, (moved[1] - spring[1]) / step)
        if g.piston_leak > 0.0:
            f = leak_flow(g.piston_leak, lift, moved, g.straight_above)
            add_weighted(
                J, i, x_col, weights, index.lift, i, balance, (f[0] - base_l[0]) / step, (f[1] - base_l[1]) / step
            )
        f = vent_flow(moved, g)
        add_weighted(J, i, x_col, weights, i, BOUNDARY, balance, (f[0] - base_v[0]) / step, (f[1] - base_v[1]) / step)
        if moving:
            d_friction = friction_share * d_run * dp
            add_row(J, index.speed, i, x_col, weights, (-dp * sleeve.top_area + d_friction) / sleeve.mass)
            add_row(J, balance + B_FRICTION, i, x_col, weights, -d_friction * v)
            add_row(J, i + 1, i, x_col, weights, dp * sleeve.top_area * v)
            add_row(J, balance + B_GAS_WORK, i, x_col, weights, -dp * sleeve.top_area * v)


@bare_kernel
def side_rows(J, column, oxidizer_side, d_w, d_p, w_injector, p_m, disc, plant, balance):
    """Rows of one propellant: a change d_w of injector flow and d_p of manifold pressure, both per unit of the column."""
    index = plant.index
    line = plant.oxidizer if oxidizer_side else plant.fuel
    i_z = index.oxidizer_volume if oxidizer_side else index.fuel_volume
    i_w = index.oxidizer_flow if oxidizer_side else index.fuel_flow
    passage = disc[D_PASSAGE_O] if oxidizer_side else disc[D_PASSAGE_F]
    i_passage = index.passage_oxidizer if oxidizer_side else index.passage_fuel
    i_mass = index.unburned_oxidizer if oxidizer_side else index.unburned_fuel
    J[i_w, column] -= d_p / line.inertance
    J[i_z, column] -= d_w / line.rho
    J[balance + B_OTHER_WORK, column] -= (d_p * w_injector + p_m * d_w) / line.rho
    enters = w_injector > 0.0
    if line.passage_mass > 0.0:
        if passage != FULL:
            J[i_passage, column] += d_w
            enters = False
    if enters and plant.chamber.hot != 0 and (disc[D_COMMANDED] != 0 or disc[D_LIT] != 0):
        J[i_mass, column] += d_w


@bare_kernel
def sleeve_rows(J, column, d_net, d_friction, d_gap, d_face, d_jet, v, plant, balance, moving):
    """Rows of the sleeve for a change of forces per unit of the column; d_face is the change of p_c."""
    if not moving:
        return
    s = plant.sleeve
    J[plant.index.speed, column] += (d_net + d_friction) / s.mass
    J[balance + B_FRICTION, column] -= d_friction * v
    J[balance + B_OTHER_WORK, column] += (d_gap * s.nose_area + d_face * s.face_area - d_jet) * v


@bare_kernel
def line_columns(J, y, t, disc, plant, tables, balance, oxidizer_side):
    """Column of one line's flow, and the passage's own drain."""
    index = plant.index
    line = plant.oxidizer if oxidizer_side else plant.fuel
    i_w = index.oxidizer_flow if oxidizer_side else index.fuel_flow
    i_z = index.oxidizer_volume if oxidizer_side else index.fuel_volume
    w = y[i_w]
    p_in = inlet_pressure(t, line, tables, disc[D_OXIDIZER] if oxidizer_side else disc[D_FUEL])
    J[i_w, i_w] -= 2.0 * line.loss * abs(w) / line.inertance
    J[i_z, i_w] += 1.0 / line.rho
    J[balance + B_OTHER_WORK, i_w] += (p_in - 3.0 * line.loss * w * abs(w)) / line.rho
    if line.passage_mass > 0.0:
        passage = disc[D_PASSAGE_O] if oxidizer_side else disc[D_PASSAGE_F]
        i_passage = index.passage_oxidizer if oxidizer_side else index.passage_fuel
        i_mass = index.unburned_oxidizer if oxidizer_side else index.unburned_fuel
        if passage == DRAINING:
            J[i_passage, i_passage] -= 1.0 / line.passage_time
            if plant.chamber.hot != 0 and (disc[D_COMMANDED] != 0 or disc[D_LIT] != 0) and y[i_passage] > 0.0:
                J[i_mass, i_passage] += 1.0 / line.passage_time


@bare_kernel
def pressure_slope(z, p, cavity, line, ambient):
    """d p_m / d z of a manifold, Pa/m3."""
    if line.pocket > 0.0:
        step = SHARE * line.volume * max(p, ambient) / line.bulk
        moved = trapped_gas_pressure(z + step, line.volume, line.bulk, line.pocket, line.pocket_exponent, ambient)
        return (moved - p) / step
    return 0.0 if cavity != 0 else line.bulk / line.volume


@bare_kernel
def chamber_columns(J, y, p_c, plant, tables):
    """Columns of the lit chamber: burning and throat."""
    index = plant.index
    c = plant.chamber
    s = plant.gas.straight_above
    amb = plant.ambient_pressure
    i_o = index.unburned_oxidizer
    i_f = index.unburned_fuel
    i_g = index.gas_mass
    o = y[i_o]
    f = y[i_f]
    m = y[i_g]
    base = chamber_rates(o, f, m, p_c, c, amb, s, tables)
    step = SHARE * max(abs(o), MASS_FLOOR)
    d = chamber_rates(o + step, f, m, p_c, c, amb, s, tables)
    J[i_o, i_o] -= 1.0 / c.burn_time
    J[i_g, i_o] += (d[2] - base[2]) / step
    J[index.chamber, i_o] += (d[3] - base[3]) / step
    step = SHARE * max(abs(f), MASS_FLOOR)
    d = chamber_rates(o, f + step, m, p_c, c, amb, s, tables)
    J[i_f, i_f] -= 1.0 / c.burn_time
    J[i_g, i_f] += (d[2] - base[2]) / step
    J[index.chamber, i_f] += (d[3] - base[3]) / step
    step = SHARE * m
    d = chamber_rates(o, f, m + step, p_c, c, amb, s, tables)
    J[i_g, i_g] += (d[2] - base[2]) / step
    J[index.chamber, i_g] += (d[3] - base[3]) / step
    step = SHARE * p_c
    d = chamber_rates(o, f, m, p_c + step, c, amb, s, tables)
    J[i_g, index.chamber] += (d[2] - base[2]) / step
    J[index.chamber, index.chamber] += (d[3] - base[3]) / step
    return base[4]


@bare_kernel
def post_leak_columns(J, y, x, p_c, lit, exponent, spring, slopes, volume, plant, tables, gas, balance):
    """Columns that the leak past the post seal depends on (the exponent's own change is left out: a leak of a leak)."""
    index = plant.index
    lap = plant.slots.first_lap
    m = y[index.gas_mass] if plant.chamber.hot != 0 else 1.0
    share = uncovered_share(x, lap, SEAL_PASSES_OVER)
    base = post_leak_flow(share, spring, p_c, m, lit, exponent, plant, tables, gas)
    if 0.0 < share < 1.0:
        f = 1.0 / (SEAL_PASSES_OVER * share)
        add_flow(J, index.lift_height, BOUNDARY, index.spring, balance, base[0] * f, base[1] * f)
    if share <= 0.0:
        return
    if plant.chamber.hot != 0:
        step = SHARE * m
        d = post_leak_flow(share, spring, p_c, m + step, lit, exponent, plant, tables, gas)
        add_flow(J, index.gas_mass, BOUNDARY, index.spring, balance, (d[0] - base[0]) / step, (d[1] - base[1]) / step)
        step = SHARE * p_c
        d = post_leak_flow(share, spring, p_c + step, m, lit, exponent, plant, tables, gas)
        add_flow(J, index.chamber, BOUNDARY, index.spring, balance, (d[0] - base[0]) / step, (d[1] - base[1]) / step)
    i = index.spring
    for what in range(2):
        moved, step = shifted(spring, slopes, what)
        weights = node_weights(y[i], y[i + 1], volume, -plant.sleeve.top_area, what)
        d = post_leak_flow(share, moved, p_c, m, lit, exponent, plant, tables, gas)
        add_weighted(
            J, i, index.lift_height, weights, BOUNDARY, i, balance, (d[0] - base[0]) / step, (d[1] - base[1]) / step
        )


@bare_kernel
def time_derivative(t, y, disc, plant, tables, gas, tube, source, i_source, balance, dfdt):
    """Explicit dependence on time: valve opening, tabled supply and inlets, all linear on their segment."""
    g = plant.gas
    index = plant.index
    for i in range(dfdt.shape[0]):
        dfdt[i] = 0.0
    slope = 0.0
    if g.valve.count > 0:
        slope = table_slope(tables, g.valve.start, g.valve.count, disc[D_VALVE])
    fill = 0.0
    fill_h = 0.0
    if slope != 0.0:
        w, h = fill_flow(1.0, source, tube, g)
        fill = slope * w
        fill_h = slope * h
        w, h = exhaust_flow(1.0, tube, g)
        dfdt[index.tube] += slope * w
        dfdt[index.tube + 1] += slope * h
        dfdt[balance + B_GAS_MASS] += slope * w
        dfdt[balance + B_GAS_ENERGY] += slope * h
    supply = plant.supply
    if supply.kind == TABLE_SUPPLY:
        if table_slope(tables, supply.table.start, supply.table.count, disc[D_SUPPLY]) != 0.0:
            opening = valve_opening(t, disc, plant, tables)
            later = supply_state(t + TIME_STEP, disc[D_SUPPLY], plant, tables, gas)
            w0, h0 = fill_flow(opening, source, tube, g)
            w1, h1 = fill_flow(opening, later, tube, g)
            fill += (w1 - w0) / TIME_STEP
            fill_h += (h1 - h0) / TIME_STEP
    dfdt[index.tube] += fill
    dfdt[index.tube + 1] += fill_h
    dfdt[balance + B_FILL] += fill
    if i_source >= 0:
        dfdt[i_source] -= fill
        dfdt[i_source + 1] -= fill_h
    else:
        dfdt[balance + B_GAS_MASS] += fill
        dfdt[balance + B_GAS_ENERGY] += fill_h
    if plant.oxidizer.present != 0:
        line = plant.oxidizer
        rise = table_slope(tables, line.table.start, line.table.count, disc[D_OXIDIZER])
        dfdt[index.oxidizer_flow] += rise / line.inertance
        dfdt[balance + B_OTHER_WORK] += rise * y[index.oxidizer_flow] / line.rho
        line = plant.fuel
        rise = table_slope(tables, line.table.start, line.table.count, disc[D_FUEL])
        dfdt[index.fuel_flow] += rise / line.inertance
        dfdt[balance + B_OTHER_WORK] += rise * y[index.fuel_flow] / line.rho


@bare_kernel
def wet_columns(J, y, disc, x, v, p_l, p_s, p_o, p_f, p_c, plant, tables, balance, friction_share, moving):
    """Columns of the manifolds, of chamber pressure and of lift, through injectors, forces and friction."""
    index = plant.index
    base = wet_side(x, p_l, p_s, p_o, p_f, p_c, plant, tables)
    for which in range(4):
        if which == 3:
            column = index.lift_height
            step = SHARE * max(x, LIFT_FLOOR)
            d = wet_side(x + step, p_l, p_s, p_o, p_f, p_c, plant, tables)
            dp = 0.0
            per = 1.0
        elif plant.oxidizer.present == 0:
            continue
        elif which == 0:
            column = index.oxidizer_volume
            step = SHARE * max(p_o, PRESSURE_FLOOR)
            d = wet_side(x, p_l, p_s, p_o + step, p_f, p_c, plant, tables)
            per = pressure_slope(y[column], p_o, disc[D_CAVITY_O], plant.oxidizer, plant.ambient_pressure)
            dp = per
        elif which == 1:
            column = index.fuel_volume
            step = SHARE * max(p_f, PRESSURE_FLOOR)
            d = wet_side(x, p_l, p_s, p_o, p_f + step, p_c, plant, tables)
            per = pressure_slope(y[column], p_f, disc[D_CAVITY_F], plant.fuel, plant.ambient_pressure)
            dp = per
        else:
            if plant.chamber.hot == 0 or disc[D_LIT] == 0:
                continue
            column = index.chamber
            step = SHARE * p_c
            d = wet_side(x, p_l, p_s, p_o, p_f, p_c + step, plant, tables)
            per = 1.0
            dp = 0.0
        scale = per / step
        if plant.oxidizer.present != 0:
            w_o = (d[0] - base[0]) * scale
            w_f = (d[1] - base[1]) * scale
            side_rows(J, column, True, w_o, dp if which == 0 else 0.0, base[0], p_o, disc, plant, balance)
            side_rows(J, column, False, w_f, dp if which == 1 else 0.0, base[1], p_f, disc, plant, balance)
        d_friction = friction_share * (d[5] - base[5]) * scale
        face = 1.0 if which == 2 else 0.0
        sleeve_rows(
            J, column, (d[4] - base[4]) * scale, d_friction, (d[2] - base[2]) * scale, face, (d[3] - base[3]) * scale,
            v, plant, balance, moving,
        )  # fmt: skip
    return base


@bare_kernel
def speed_column(J, y, v, p_l, p_s, p_f, base, mode, friction_share, plant, balance):
    """Column of the sleeve's speed: motion, p dV work, swept volume, friction."""
    index = plant.index
    s = plant.sleeve
    f = plant.friction
    column = index.speed
    J[index.lift_height, column] += 1.0
    J[index.lift + 1, column] -= p_l * s.lift_area
    J[index.spring + 1, column] += p_s * s.top_area
    J[balance + B_GAS_WORK, column] += p_l * s.lift_area - p_s * s.top_area
    run = base[5]
    size = sliding_force(run, f.ratio, f.falling_speed, f.viscous, v)
    step = SHARE * max(abs(v), 1e-3)
    slope = (sliding_force(run, f.ratio, f.falling_speed, f.viscous, abs(v) + step) - size) / step
    J[column, column] -= slope / s.mass
    J[balance + B_FRICTION, column] += size * (1.0 if mode == SLIDING_UP else -1.0) + slope * abs(v) * (
        1.0 if mode == SLIDING_UP else -1.0
    )
    J[balance + B_OTHER_WORK, column] += base[2] * s.nose_area + chamber_face(plant, y) * s.face_area - base[3]
    if plant.fuel.present != 0:
        J[index.fuel_volume, column] -= plant.fuel.swept
        J[index.oxidizer_volume, column] -= plant.oxidizer.swept
    else:
        J[balance + B_OTHER_WORK, column] += p_f * s.assist_area


@bare_kernel
def chamber_face(plant, y):
    """Pressure on the skirt's end, Pa."""
    return y[plant.index.chamber] if plant.chamber.hot != 0 else plant.chamber.back


@bare_kernel
def jacobian(t, y, disc, memo, par, J, dfdt):
    """Fill J (n, n_core) = d rhs/d y and dfdt (n,); nonzero where the state is outside the gas range."""
    plant, tables, gas, scratch = par
    index = plant.index
    g = plant.gas
    sleeve = plant.sleeve
    balance = index.core
    for i in range(J.shape[0]):
        for j in range(J.shape[1]):
            J[i, j] = 0.0
    mode = disc[D_MODE]
    moving = mode == SLIDING_UP or mode == SLIDING_DOWN
    x = y[index.lift_height]
    v = y[index.speed] if moving else 0.0
    v_lift = g.lift.volume + sleeve.lift_area * x
    v_spring = g.spring.volume - sleeve.top_area * x
    tube, tube_slopes = node_gradient(y[index.tube], y[index.tube + 1], g.tube.volume, gas)
    lift, lift_slopes = node_gradient(y[index.lift], y[index.lift + 1], v_lift, gas)
    spring, spring_slopes = node_gradient(y[index.spring], y[index.spring + 1], v_spring, gas)
    if tube[7] >= 2 or lift[7] >= 2 or spring[7] >= 2:
        return 1
    opening = valve_opening(t, disc, plant, tables)
    kind = plant.supply.kind
    i_source = BOUNDARY
    source = tube
    if kind == REGULATED_SUPPLY or kind == BOTTLE_SUPPLY:
        i_source = index.bottle
        bottle, b_slopes = node_gradient(y[i_source], y[i_source + 1], plant.supply.bottle.volume, gas)
        source, s_slopes = bottle, b_slopes
        if kind == REGULATED_SUPPLY:
            i_source = index.plenum
            source, s_slopes = node_gradient(y[i_source], y[i_source + 1], plant.supply.plenum.volume, gas)
        if source[7] >= 2 or bottle[7] >= 2:
            return 1
        source_columns(J, y, plant, opening, bottle, b_slopes, source, s_slopes, tube, balance)
    else:
        source = supply_state(t, disc[D_SUPPLY], plant, tables, gas)
        if source[7] >= 2:
            return 1
    p_c = chamber_face(plant, y)
    p_o = p_c
    p_f = plant.fuel_side_pressure
    if plant.oxidizer.present != 0:
        p_o = line_pressure(y[index.oxidizer_volume], disc[D_CAVITY_O], plant.oxidizer, plant.ambient_pressure)
        p_f = line_pressure(y[index.fuel_volume], disc[D_CAVITY_F], plant.fuel, plant.ambient_pressure)
        line_columns(J, y, t, disc, plant, tables, balance, True)
        line_columns(J, y, t, disc, plant, tables, balance, False)
    friction_share = 0.0
    if moving:
        f = plant.friction
        unit = sliding_force(1.0, f.ratio, f.falling_speed, 0.0, v)
        friction_share = -unit if mode == SLIDING_UP else unit
    base = wet_columns(
        J, y, disc, x, v, lift[0], spring[0], p_o, p_f, p_c, plant, tables, balance, friction_share, moving
    )
    d_run_l = 0.0
    d_run_s = 0.0
    if moving:
        lap = plant.slots.first_lap
        present = plant.oxidizer.present
        step = SHARE * lift[0]
        moved = running_friction(x, p_o, p_f, lift[0] + step, spring[0], p_c, plant.friction, lap, present)
        d_run_l = (moved - base[5]) / step
        step = SHARE * spring[0]
        moved = running_friction(x, p_o, p_f, lift[0], spring[0] + step, p_c, plant.friction, lap, present)
        d_run_s = (moved - base[5]) / step
        speed_column(J, y, v, lift[0], spring[0], p_f, base, mode, friction_share, plant, balance)
    tube_columns(J, y, plant, opening, source, i_source, tube, tube_slopes, lift, balance)
    lift_columns(J, y, plant, tube, lift, lift_slopes, spring, v, v_lift, balance, friction_share, d_run_l, moving)
    spring_columns(J, y, plant, lift, spring, spring_slopes, v, v_spring, balance, friction_share, d_run_s, moving)
    exponent = 1.2
    if disc[D_LIT] != 0 and plant.chamber.hot != 0:
        exponent = chamber_columns(J, y, p_c, plant, tables)
    if g.post_leak > 0.0 and plant.oxidizer.present != 0:
        post_leak_columns(
            J, y, x, p_c, disc[D_LIT], exponent, spring, spring_slopes, v_spring, plant, tables, gas, balance
        )
    time_derivative(t, y, disc, plant, tables, gas, tube, source, i_source, balance, dfdt)
    return 0
