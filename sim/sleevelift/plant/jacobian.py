"""Jacobian of the right-hand side, by parts: each flow and force gives its own slopes, chained to the states it sees.

    gas node    slopes of its table and of its flows (`gas_jacobian`)             -> columns m, U and (through the volume) x
    manifold    slopes of its flows (`liquid_jacobian`), of force and friction    -> column z
    chamber     masses moved; burning, throat, slopes of the injectors, force     -> columns m_ox, m_fuel, m_g, p
    gas into it what its sources give (`inflow`)                                  -> columns m_ox, m_fuel, m_g, p, and theirs
    rod seal    its leak and the liquid in the lift chamber (`rod_jacobian`)      -> columns m, U, V_q of the chamber, z, x
    purge       gas in a manifold (`manifold_gas_jacobian`): pressure, shares      -> columns m, z, x, p and m_g of the chamber
    lift        slopes of areas and forces of a moving sleeve                     -> column x

What is not written down is a forward difference of one part, by a small share of the quantity's size. The columns of the
balances are absent, since nothing depends on them; that of a lift at rest too, since it does not change. `tests/plant` holds
it all against differences of the whole right-hand side.
"""

from sleevelift.jit import bare_kernel
from sleevelift.physics.combustion import throat_choked
from sleevelift.physics.friction import sliding_force, sliding_slope
from sleevelift.physics.sleeve import CAUSES, net_slope, outside_force, outside_slope
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
from sleevelift.plant.inflow import clear_inflow, inflow_columns, purge_flow
from sleevelift.plant.liquid_jacobian import (
    flows_by_chamber,
    flows_by_lift,
    line_columns,
    line_time_derivative,
    swept_by_speed,
    volume_columns,
)
from sleevelift.plant.liquid_side import set_flows, set_outflows, set_pressures, set_slopes, set_valves
from sleevelift.plant.manifold_gas import set_gas, share_flows
from sleevelift.plant.manifold_gas_jacobian import gas_columns, share_slopes
from sleevelift.plant.params import BY_POST, LIFT, SPRING
from sleevelift.plant.rhs import UNLIT_EXPONENT, chamber_rates
from sleevelift.plant.rod_jacobian import rod_columns, set_lift_gradient
from sleevelift.plant.rod_leak import set_blocking, set_liquid, set_rod_flow
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet
from sleevelift.plant.wet_side import fuel_jet_by_share, fuel_jet_slopes, running_friction_slopes, wet_side

NO_CHANGES = (0.0,) * len(CAUSES)
"""Of the forces' causes."""
SHARE = 1e-7
"""-. Share of its size by which a quantity is moved: near the root of the rounding error, where forward differences are best."""
MASS_FLOOR = 1e-6
"""kg. An unburned mass counts at least this much when it is moved."""


@bare_kernel
def sleeve_rows(J, column, changes, d_friction, v, plant, balance):
    """Rows of a moving sleeve for changes of the forces' causes (`sleeve.CAUSES`) and of friction per unit of the column."""
    J[plant.index.speed, column] += (net_slope(changes, plant.forces) + d_friction) / plant.sleeve.mass
    J[balance + B_FRICTION, column] -= d_friction * v
    J[balance + B_OTHER_WORK, column] += outside_slope(changes, plant.forces) * v


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
def gas_on_sleeve(J, v, jet_by_p, friction_by_o, friction_by_f, plant, balance):
    """What gas in the manifolds does to a moving sleeve: its mass by the pressure, and what moves the fuel's share of liquid."""
    oxidizer = plant.gases[OXIDIZER]
    if oxidizer.present != 0:
        sleeve_rows(J, oxidizer.place, NO_CHANGES, friction_by_o * oxidizer.p_m, v, plant, balance)
    fuel = plant.gases[FUEL]
    if fuel.present == 0:
        return
    jet = fuel_jet_by_share(fuel.liquid, fuel.rise, plant)
    gap = plant.liquid_flows[FUEL].rise_dp
    p_m, d = fuel.p_m, fuel.share_m
    changes = 0.0, p_m, gap * p_m + fuel.rise * d, 0.0, 0.0, jet_by_p * p_m + jet * d, 0.0
    sleeve_rows(J, fuel.place, changes, friction_by_f * p_m, v, plant, balance)
    changes = 0.0, 0.0, fuel.rise * fuel.share_z, 0.0, 0.0, jet * fuel.share_z, 0.0
    sleeve_rows(J, plant.liquids.place[FUEL], changes, 0.0, v, plant, balance)
    changes = 0.0, 0.0, fuel.rise * fuel.share_x, 0.0, 0.0, jet * fuel.share_x, 0.0
    sleeve_rows(J, plant.index.lift_height, changes, 0.0, v, plant, balance)


@bare_kernel
def wet_columns(J, y, discrete_state, x, v, p_l, p_s, plant, tables, balance, friction_share, moving):
    """Columns of the manifolds, of chamber pressure and of lift, through flows, forces and friction.

    Returns (causes of the forces, running friction, its derivatives by p_l and p_s). Flows depend on pressure differences alone.
    """
    index = plant.index
    liquids = plant.liquids
    set_flows(x, plant, tables)
    set_slopes(x, plant, tables)
    with_gas = plant.gas_manifolds != 0
    if with_gas:
        share_flows(y, x, discrete_state, plant, tables)
        share_slopes(plant)
    set_outflows(plant)
    volume_columns(J, y, discrete_state, plant, balance)
    causes, net, run = wet_side(x, p_l, p_s, plant)
    lit = plant.chamber.hot != 0 and discrete_state[D_LIT] != 0
    if lit:
        flows_by_chamber(J, y, discrete_state, plant, balance)
    if with_gas:
        gas_columns(J, y, discrete_state, moving, lit, plant, balance)
    if not moving:
        return causes, run, 0.0, 0.0
    flows_by_lift(J, y, discrete_state, plant, balance)
    gap_by_p = plant.liquid_flows[FUEL].rise_dp
    jet_by_p, jet_by_x = fuel_jet_slopes(plant)
    run_x, run_o, run_f, run_l, run_s, run_c = running_friction_slopes(x, p_l, p_s, plant)
    if liquids.volumes > 0:
        by_z = liquids.by_z[OXIDIZER]
        sleeve_rows(J, liquids.place[OXIDIZER], NO_CHANGES, friction_share * run_o * by_z, v, plant, balance)
        by_z = liquids.by_z[FUEL]
        changes = 0.0, by_z, gap_by_p * by_z, 0.0, 0.0, jet_by_p * by_z, 0.0
        sleeve_rows(J, liquids.place[FUEL], changes, friction_share * run_f * by_z, v, plant, balance)
    if lit:
        changes = 0.0, 0.0, 1.0 - gap_by_p, 1.0, 0.0, -jet_by_p, 0.0
        sleeve_rows(J, index.chamber, changes, friction_share * run_c, v, plant, balance)
    if with_gas:
        gas_on_sleeve(J, v, jet_by_p, friction_share * run_o, friction_share * run_f, plant, balance)
    changes = 0.0, 0.0, plant.liquid_flows[FUEL].rise_lift, 0.0, 0.0, jet_by_x, 1.0
    sleeve_rows(J, index.lift_height, changes, friction_share * run_x, v, plant, balance)
    return causes, run, run_l, run_s


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
    swept_by_speed(J, plant)


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
    purged = plant.inflow.present != 0
    if purged:
        clear_inflow(exponent, plant)
        by_p = purge_flow(p_c, discrete_state, plant)[1]
        if discrete_state[D_LIT] != 0:
            J[index.inflow + B_CHAMBER_PURGE, index.chamber] += by_p
    leaks = plant.rod.present != 0
    if leaks:
        set_liquid(y, x, plant)
    if gas_gradients(y, x, 1.0 if moving else 0.0, plant, gas) != 0:
        return 1
    if leaks and set_lift_gradient(y, x, 1.0 if moving else 0.0, plant, gas) != 0:
        return 1
    if set_boundaries(t, x, p_c, gas_mass, exponent, discrete_state, plant, tables, gas) != 0:
        return 1
    set_pressures(y, p_c, discrete_state, plant)
    if plant.gas_manifolds != 0:
        set_gas(y, x, discrete_state, plant)
    if leaks:
        set_blocking(y[index.lift_liquid], x, plant)
        set_rod_flow(y, plant)
    set_valves(t, discrete_state, plant, tables)
    friction_share = 0.0
    if moving:
        f = plant.friction
        unit = sliding_force(1.0, f.ratio, f.stribeck_velocity, 0.0, v)
        friction_share = -unit if mode == SLIDING_UP else unit
    causes, run, run_l, run_s = wet_columns(
        J, y, discrete_state, x, v, plant.now.p[LIFT], plant.now.p[SPRING], plant, tables, balance, friction_share, moving
    )
    line_columns(J, y, t, discrete_state, plant, tables, balance)
    line_time_derivative(y, discrete_state, plant, tables, balance, dfdt)
    if purged:
        inflow_columns(J, y, discrete_state, plant, tables)
    if moving:
        speed_column(J, v, causes, run, mode, plant, balance)
        push_columns(J, LIFT, friction_share * run_l, v, plant, balance)
        push_columns(J, SPRING, friction_share * run_s, v, plant, balance)
    set_opening_slopes(x, discrete_state, plant, tables)
    if hot and plant.openings.share[BY_POST] > 0.0:
        chamber_gradient(p_c, gas_mass, exponent, discrete_state, plant, tables, gas)
    if leaks:
        rod_columns(J, y, discrete_state, x, v, friction_share * run_l, moving, plant, balance, dfdt)
    flow_columns(J, plant, balance)
    wall_columns(J, plant, balance)
    gas_time_derivative(t, discrete_state, plant, tables, gas, balance, dfdt)
    return 0
