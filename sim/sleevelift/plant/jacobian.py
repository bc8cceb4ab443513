"""Jacobian of the right-hand side, by parts: each flow and force gives its own slopes, chained to the states it sees.

    gas node    slopes of its table and of its flows (`gas_jacobian`)             -> columns m, U and (through the volume) x
    manifold    pressure moved; its injector, the sleeve's force and friction     -> column z
    chamber     pressure and masses moved; burning, throat, injectors, force      -> columns m_ox, m_fuel, m_g, p
    lift        areas and forces of a moving sleeve                               -> column x

What is not written down is a forward difference of one part, by a small share of the quantity's size. The columns of the
balances are absent, since nothing depends on them; that of a lift at rest too, since it does not change. `tests/plant` holds
it all against differences of the whole right-hand side.
"""

from sleevelift.jit import bare_kernel
from sleevelift.physics.combustion import throat_choked
from sleevelift.physics.feed_line import trapped_gas_pressure
from sleevelift.physics.friction import sliding_force, sliding_slope
from sleevelift.physics.sleeve import CAUSES, net_slope, outside_force, outside_slope
from sleevelift.physics.supply import table_slope
from sleevelift.plant.gas_jacobian import (
    chamber_gradient,
    flow_columns,
    gas_gradients,
    gas_time_derivative,
    push_columns,
    swept_column,
    wall_columns,
)
from sleevelift.plant.gas_side import set_boundaries, set_opening_slopes
from sleevelift.plant.params import BY_POST, LIFT, SPRING
from sleevelift.plant.rhs import GAP_PRESSURE, JET, UNLIT_EXPONENT, chamber_rates, inlet_pressure, line_pressure
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet
from sleevelift.plant.wet_side import (
    fuel_flow,
    fuel_injector,
    fuel_jet,
    oxidizer_flow,
    oxidizer_injector,
    running_friction_slopes,
    wet_side,
)

NO_CHANGES = (0.0,) * len(CAUSES)
"""Of the forces' causes."""
SHARE = 1e-7
"""-. Share of its size by which a quantity is moved: near the root of the rounding error, where forward differences are best."""
PRESSURE_FLOOR = 1e4
"""Pa. A pressure counts at least this much when it is moved."""
LIFT_FLOOR = 1e-5
"""m. A lift counts at least this much when it is moved."""
MASS_FLOOR = 1e-6
"""kg. An unburned mass counts at least this much when it is moved."""


@bare_kernel
def side_rows(J, y, column, oxidizer_side, d_w, d_p, w_injector, p_m, discrete_state, plant, balance):
    """Rows of one propellant: a change d_w of injector flow and d_p of manifold pressure, both per unit of the column."""
    index = plant.index
    line = plant.oxidizer if oxidizer_side else plant.fuel
    i_z = index.oxidizer_volume if oxidizer_side else index.fuel_volume
    i_w = index.oxidizer_flow if oxidizer_side else index.fuel_flow
    passage = discrete_state[D_DRIBBLE_O] if oxidizer_side else discrete_state[D_DRIBBLE_F]
    i_dribble = index.dribble_oxidizer if oxidizer_side else index.dribble_fuel
    i_mass = index.unburned_oxidizer if oxidizer_side else index.unburned_fuel
    J[i_w, column] -= d_p * line.area_per_length
    J[i_z, column] -= d_w * line.specific_volume
    J[balance + B_OTHER_WORK, column] -= (d_p * w_injector + p_m * d_w) * line.specific_volume
    if discrete_state[D_DAMPED] != 0:
        J[i_w, column] += line.damping * d_w
        J[balance + B_OTHER_WORK, column] += line.damping * line.inertance * y[i_w] * d_w * line.specific_volume
    enters = w_injector > 0.0
    if line.dribble_mass > 0.0:
        if passage != FULL:
            J[i_dribble, column] += d_w
            enters = False
    if enters and plant.chamber.hot != 0 and (discrete_state[D_POOLING] != 0 or discrete_state[D_LIT] != 0):
        J[i_mass, column] += d_w


@bare_kernel
def sleeve_rows(J, column, changes, d_friction, v, plant, balance, moving):
    """Rows of the sleeve for changes of the forces' causes (`sleeve.CAUSES`) and of friction per unit of the column."""
    if not moving:
        return
    J[plant.index.speed, column] += (net_slope(changes, plant.forces) + d_friction) / plant.sleeve.mass
    J[balance + B_FRICTION, column] -= d_friction * v
    J[balance + B_OTHER_WORK, column] += outside_slope(changes, plant.forces) * v


@bare_kernel
def line_columns(J, y, t, discrete_state, plant, tables, balance, oxidizer_side):
    """Column of one line's flow, and the passage's own drain."""
    index = plant.index
    line = plant.oxidizer if oxidizer_side else plant.fuel
    i_w = index.oxidizer_flow if oxidizer_side else index.fuel_flow
    i_z = index.oxidizer_volume if oxidizer_side else index.fuel_volume
    w = y[i_w]
    p_in = inlet_pressure(t, line, tables, discrete_state[D_OXIDIZER] if oxidizer_side else discrete_state[D_FUEL])
    J[i_w, i_w] -= 2.0 * line.loss * abs(w) * line.area_per_length
    J[i_z, i_w] += line.specific_volume
    J[balance + B_OTHER_WORK, i_w] += (p_in - 3.0 * line.loss * w * abs(w)) * line.specific_volume
    if line.dribble_mass > 0.0:
        passage = discrete_state[D_DRIBBLE_O] if oxidizer_side else discrete_state[D_DRIBBLE_F]
        i_dribble = index.dribble_oxidizer if oxidizer_side else index.dribble_fuel
        i_mass = index.unburned_oxidizer if oxidizer_side else index.unburned_fuel
        if passage == DRAINING:
            J[i_dribble, i_dribble] -= 1.0 / line.dribble_time
            if plant.chamber.hot != 0 and (discrete_state[D_POOLING] != 0 or discrete_state[D_LIT] != 0) and y[i_dribble] > 0.0:
                J[i_mass, i_dribble] += 1.0 / line.dribble_time


@bare_kernel
def damped_column(J, w, w_injector, i_w, line, balance):
    """What the damping of a damped line adds to the column of its own flow."""
    J[i_w, i_w] -= line.damping
    J[balance + B_OTHER_WORK, i_w] -= line.damping * line.inertance * (2.0 * w - w_injector) * line.specific_volume


@bare_kernel
def pressure_slope(z, p, cavity, line, ambient):
    """d p_m / d z of a manifold, Pa/m3."""
    if line.trapped_gas > 0.0:
        step = SHARE * line.volume * max(p, ambient) / line.bulk
        moved = trapped_gas_pressure(z + step, line.volume, line.bulk, line.trapped_gas, line.trapped_gas_exponent, ambient)
        return (moved - p) / step
    return 0.0 if cavity != 0 else line.stiffness


@bare_kernel
def chamber_columns(J, y, p_c, plant, tables):
    """Columns of the lit chamber: burning and throat."""
    index = plant.index
    c = plant.chamber
    s = plant.gas.laminar_above
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
    J[i_o, i_o] -= 1.0 / c.combustion_time_constant
    J[i_g, i_o] += (d[2] - base[2]) / step
    J[index.chamber, i_o] += (d[3] - base[3]) / step
    step = SHARE * max(abs(f), MASS_FLOOR)
    d = chamber_rates(o, f + step, m, p_c, c, amb, s, tables)
    J[i_f, i_f] -= 1.0 / c.combustion_time_constant
    J[i_g, i_f] += (d[2] - base[2]) / step
    J[index.chamber, i_f] += (d[3] - base[3]) / step
    # the throat passes in proportion to the root of m_g, and R T falls with it
    out = max(base[0], 0.0) + max(base[1], 0.0) - base[2]
    J[i_g, i_g] -= 0.5 * out / m
    J[index.chamber, i_g] += 0.5 * base[4] * p_c * out / (m * m)
    if throat_choked(p_c, base[4], amb):
        # and in proportion to the root of p, with R T in proportion to p
        J[i_g, index.chamber] -= 0.5 * out / p_c
        J[index.chamber, index.chamber] -= 1.5 * base[4] * out / m
    else:
        step = SHARE * p_c
        d = chamber_rates(o, f, m, p_c + step, c, amb, s, tables)
        J[i_g, index.chamber] += (d[2] - base[2]) / step
        J[index.chamber, index.chamber] += (d[3] - base[3]) / step
    return base[4]


@bare_kernel
def line_time_derivative(y, discrete_state, plant, tables, balance, dfdt):
    """Explicit dependence of the feed lines on time: tabled inlets, linear on their segment."""
    index = plant.index
    line = plant.oxidizer
    rise = table_slope(tables, line.table.start, line.table.count, discrete_state[D_OXIDIZER])
    dfdt[index.oxidizer_flow] += rise * line.area_per_length
    dfdt[balance + B_OTHER_WORK] += rise * y[index.oxidizer_flow] * line.specific_volume
    line = plant.fuel
    rise = table_slope(tables, line.table.start, line.table.count, discrete_state[D_FUEL])
    dfdt[index.fuel_flow] += rise * line.area_per_length
    dfdt[balance + B_OTHER_WORK] += rise * y[index.fuel_flow] * line.specific_volume


@bare_kernel
def wet_columns(J, y, discrete_state, x, v, p_l, p_s, p_o, p_f, p_c, plant, tables, balance, friction_share, moving):
    """Columns of the manifolds, of chamber pressure and of lift, through injectors, forces and friction.

    Returns (causes of the forces, running friction, its derivatives by p_l and p_s). Injector flows depend on pressure
    differences alone, so that the chamber's column needs no flow of its own.
    """
    index = plant.index
    seat = plant.seat
    wet = plant.oxidizer.present != 0
    w_o, w_f, causes, net, run, slot, gap = wet_side(x, p_l, p_s, p_o, p_f, p_c, plant, tables)
    p_i, jet = causes[GAP_PRESSURE], causes[JET]
    run_x, run_o, run_f, run_l, run_s, run_c = running_friction_slopes(
        x, p_o, p_f, p_l, p_s, p_c, plant.friction, plant.slots.first_lap, plant.oxidizer.present
    )
    o_by_p = 0.0
    f_by_p = 0.0
    jet_by_p = 0.0
    gap_by_p = 0.0
    if wet:
        step = SHARE * max(p_o, PRESSURE_FLOOR)
        o_by_p = (oxidizer_flow(slot, x, p_o - p_c + step, plant.slots, plant.oxidizer) - w_o) / step
        step = SHARE * max(p_f, PRESSURE_FLOOR)
        w, p = fuel_flow(gap, x, p_f + step, p_c, seat, plant.fuel)
        f_by_p = (w - w_f) / step
        gap_by_p = (p - p_i) / step
        jet_by_p = (fuel_jet(seat.jet, w, p_f + step, p, plant) - jet) / step
        column = index.oxidizer_volume
        by_z = pressure_slope(y[column], p_o, discrete_state[D_CAVITY_O], plant.oxidizer, plant.ambient_pressure)
        side_rows(J, y, column, True, o_by_p * by_z, by_z, w_o, p_o, discrete_state, plant, balance)
        sleeve_rows(J, column, NO_CHANGES, friction_share * run_o * by_z, v, plant, balance, moving)
        column = index.fuel_volume
        by_z = pressure_slope(y[column], p_f, discrete_state[D_CAVITY_F], plant.fuel, plant.ambient_pressure)
        side_rows(J, y, column, False, f_by_p * by_z, by_z, w_f, p_f, discrete_state, plant, balance)
        changes = 0.0, by_z, gap_by_p * by_z, 0.0, 0.0, jet_by_p * by_z, 0.0
        sleeve_rows(J, column, changes, friction_share * run_f * by_z, v, plant, balance, moving)
        if discrete_state[D_DAMPED] != 0:
            damped_column(J, y[index.oxidizer_flow], w_o, index.oxidizer_flow, plant.oxidizer, balance)
            damped_column(J, y[index.fuel_flow], w_f, index.fuel_flow, plant.fuel, balance)
    if plant.chamber.hot != 0 and discrete_state[D_LIT] != 0:
        column = index.chamber
        side_rows(J, y, column, True, -o_by_p, 0.0, w_o, p_o, discrete_state, plant, balance)
        side_rows(J, y, column, False, -f_by_p, 0.0, w_f, p_f, discrete_state, plant, balance)
        changes = 0.0, 0.0, 1.0 - gap_by_p, 1.0, 0.0, -jet_by_p, 0.0
        sleeve_rows(J, column, changes, friction_share * run_c, v, plant, balance, moving)
    if moving:
        lift_column(J, y, discrete_state, x, v, p_o, p_f, p_c, w_o, w_f, p_i, jet, friction_share * run_x, plant, tables, balance)
    return causes, run, run_l, run_s


@bare_kernel
def lift_column(J, y, discrete_state, x, v, p_o, p_f, p_c, w_o, w_f, p_i, jet, friction_by_x, plant, tables, balance):
    """Column of the lift of a moving sleeve: areas, the flows and forces behind them, the spring."""
    column = plant.index.lift_height
    seat = plant.seat
    step = SHARE * max(x, LIFT_FLOOR)
    w, p, gap = fuel_injector(x + step, p_f, p_c, seat, plant.fuel, tables)
    f_by_x = (w - w_f) / step
    gap_by_x = (p - p_i) / step
    jet_by_x = 0.0
    if plant.oxidizer.present != 0:
        o_by_x = (oxidizer_injector(x + step, p_o - p_c, plant.slots, plant.oxidizer, tables)[0] - w_o) / step
        jet_by_x = (fuel_jet(seat.jet, w, p_f, p, plant) - jet) / step
        side_rows(J, y, column, True, o_by_x, 0.0, w_o, p_o, discrete_state, plant, balance)
        side_rows(J, y, column, False, f_by_x, 0.0, w_f, p_f, discrete_state, plant, balance)
    sleeve_rows(J, column, (0.0, 0.0, gap_by_x, 0.0, 0.0, jet_by_x, 1.0), friction_by_x, v, plant, balance, True)


@bare_kernel
def speed_column(J, v, causes, run, mode, plant, balance):
    """Column of the sleeve's speed: motion, p dV work, swept volume, friction."""
    index = plant.index
    s = plant.sleeve
    f = plant.friction
    column = index.speed
    J[index.lift_height, column] += 1.0
    swept_column(J, plant, balance)
    size = sliding_force(run, f.ratio, f.stribeck_velocity, f.viscous, v)
    slope = sliding_slope(run, f.ratio, f.stribeck_velocity, f.viscous, v)
    J[column, column] -= slope / s.mass
    J[balance + B_FRICTION, column] += size * (1.0 if mode == SLIDING_UP else -1.0) + slope * abs(v) * (
        1.0 if mode == SLIDING_UP else -1.0
    )
    J[balance + B_OTHER_WORK, column] += outside_force(causes, plant.forces)
    if plant.fuel.present != 0:
        J[index.fuel_volume, column] -= plant.fuel.swept
        J[index.oxidizer_volume, column] -= plant.oxidizer.swept


@bare_kernel
def chamber_face(plant, y):
    """Pressure on the skirt's end, Pa."""
    return y[plant.index.chamber] if plant.chamber.hot != 0 else plant.chamber.back


@bare_kernel
def jacobian(t, y, discrete_state, event_memory, par, J, dfdt):
    """Fill J (n, n_core) = d rhs/d y and dfdt (n,); nonzero where the state is outside the gas range."""
    plant, tables, gas, scratch = par
    index = plant.index
    balance = index.core
    for i in range(J.shape[0]):
        for j in range(J.shape[1]):
            J[i, j] = 0.0
    for i in range(dfdt.shape[0]):
        dfdt[i] = 0.0
    mode = discrete_state[D_MODE]
    moving = mode == SLIDING_UP or mode == SLIDING_DOWN
    x = y[index.lift_height]
    v = y[index.speed] if moving else 0.0
    hot = plant.chamber.hot != 0
    p_c = chamber_face(plant, y)
    gas_mass = y[index.gas_mass] if hot else 1.0
    exponent = UNLIT_EXPONENT
    if hot and discrete_state[D_LIT] != 0:
        exponent = chamber_columns(J, y, p_c, plant, tables)
    if gas_gradients(y, x, 1.0 if moving else 0.0, plant, gas) != 0:
        return 1
    if set_boundaries(t, x, p_c, gas_mass, exponent, discrete_state, plant, tables, gas) != 0:
        return 1
    p_o = p_c
    p_f = plant.fuel_side_pressure
    if plant.oxidizer.present != 0:
        p_o = line_pressure(y[index.oxidizer_volume], discrete_state[D_CAVITY_O], plant.oxidizer, plant.ambient_pressure)
        p_f = line_pressure(y[index.fuel_volume], discrete_state[D_CAVITY_F], plant.fuel, plant.ambient_pressure)
        line_columns(J, y, t, discrete_state, plant, tables, balance, True)
        line_columns(J, y, t, discrete_state, plant, tables, balance, False)
        line_time_derivative(y, discrete_state, plant, tables, balance, dfdt)
    friction_share = 0.0
    if moving:
        f = plant.friction
        unit = sliding_force(1.0, f.ratio, f.stribeck_velocity, 0.0, v)
        friction_share = -unit if mode == SLIDING_UP else unit
    causes, run, run_l, run_s = wet_columns(
        J, y, discrete_state, x, v, plant.now.p[LIFT], plant.now.p[SPRING], p_o, p_f, p_c, plant, tables, balance, friction_share,
        moving,
    )  # fmt: skip
    if moving:
        speed_column(J, v, causes, run, mode, plant, balance)
        push_columns(J, LIFT, friction_share * run_l, v, plant, balance)
        push_columns(J, SPRING, friction_share * run_s, v, plant, balance)
    set_opening_slopes(x, discrete_state, plant, tables)
    if hot and plant.openings.share[BY_POST] > 0.0:
        chamber_gradient(p_c, gas_mass, exponent, discrete_state, plant, tables, gas)
    flow_columns(J, plant, balance)
    wall_columns(J, plant, balance)
    gas_time_derivative(t, discrete_state, plant, tables, gas, balance, dfdt)
    return 0
