"""Right-hand side of the whole plant: calls the rooms in flow order, holds no formula of its own.

    chamber -> gas nodes -> valve, tube, vents, leaks -> injectors, forces, friction -> sleeve -> lines -> passages -> balances

`par` is (plant record, table row, gas table). Fills dy and the signals; returns 0, or a place code (below) of the
node whose gas left its range, so that the step is rejected.
"""

from sleevelift.jit import bare_kernel
from sleevelift.jit.packed import WIDTH, item, pack, pack_row
from sleevelift.physics.combustion import mixture, oxidizer_fraction, throat_factors, throat_flow
from sleevelift.physics.feed_line import line_acceleration, manifold_pressure, trapped_gas_pressure
from sleevelift.physics.friction import sliding_force
from sleevelift.physics.gas_node import node_state, node_states, wall_heat
from sleevelift.physics.sleeve import CAUSES, outside_force
from sleevelift.physics.slots import uncovered_share
from sleevelift.physics.supply import regulator_opening, table_value
from sleevelift.plant.gas_side import chamber_side, fixed_state, flows_between, node_at, quick_shuttle, side_by_side, supply_state
from sleevelift.plant.params import BOTTLE_SUPPLY, REGULATED_SUPPLY
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet
from sleevelift.plant.wet_side import SEAL_PASSES_OVER, fuel_injector, oxidizer_injector, wet_side

GAP_PRESSURE, JET = CAUSES.index("p_i"), CAUSES.index("jet")
OUT_OF_GAS_RANGE = 1
"""Status base: 1 tube, 2 lift chamber, 3 spring side, 4 plenum, 5 bottle, 6 supply, 7 combustion chamber."""


@bare_kernel
def valve_opening(t, discrete_state, plant, tables):
    """Opening fraction of the solenoid valve, 0 to 1."""
    valve = plant.gas.valve
    if valve.count == 0:
        return 0.0
    return table_value(t, tables, valve.start, valve.count, discrete_state[D_VALVE])


@bare_kernel
def inlet_pressure(t, line, tables, segment):
    """Pressure at the line's inlet, Pa."""
    if line.table.count > 0:
        return table_value(t, tables, line.table.start, line.table.count, segment)
    return line.inlet


@bare_kernel
def line_pressure(z, cavity, line, ambient):
    """Manifold pressure, Pa, of compressed volume z."""
    if line.trapped_gas > 0.0:
        return trapped_gas_pressure(z, line.volume, line.bulk, line.trapped_gas, line.trapped_gas_exponent, ambient)
    return manifold_pressure(z, cavity, line.stiffness, line.vapour)


@bare_kernel
def dribble_outflow(injector, content, state, line):
    """(flow into the chamber, rate of the passage's content), kg/s, behind an optional passage volume."""
    if line.dribble_mass <= 0.0:
        return injector, 0.0
    if state == DRAINING:
        out = content / line.dribble_time
        return out, injector - out
    if state == FILLING:
        return 0.0, injector
    return injector, 0.0


@bare_kernel
def gas_rates(t, y, discrete_state, par, dy, outputs, x, v, p_c, gas_mass, exponent, balance):
    """Gas part: fills the nodes' rates, their signals and balances; returns (p_l, p_s, status).

    p_c, gas_mass, exponent: chamber pressure Pa, mass kg and exponent of its gas, which leaks past the post seal.
    """
    plant, tables, gas, scratch = par
    index = plant.index
    g = plant.gas
    together = plant.packed
    i_t = index.tube
    i_l = index.lift
    i_s = index.spring
    i_b = index.bottle
    i_p = index.plenum
    kind = plant.supply.kind
    regulated = kind == REGULATED_SUPPLY
    asked = outputs.shape[0] > 0
    i_4 = i_p if regulated else i_b if kind == BOTTLE_SUPPLY else i_t
    volume = pack_row(together.nodes.volume) + x * pack_row(together.nodes.swept)
    states, outside = node_states(
        pack(y[i_t], y[i_l], y[i_s], y[i_4]), pack(y[i_t + 1], y[i_l + 1], y[i_s + 1], y[i_4 + 1]), volume, gas
    )
    tube = node_at(states, 0)
    lift = node_at(states, 1)
    spring = node_at(states, 2)
    fourth = node_at(states, 3)
    if outside < WIDTH:
        return lift[0], spring[0], outside + 1 if outside < 3 or regulated else 5
    heat = pack_row(together.nodes.wall) * (pack_row(together.nodes.wall_temperature) - states[1])
    heat_t, heat_l, heat_s, heat_4 = item(heat, 0), item(heat, 1), item(heat, 2), item(heat, 3)
    flags = float(tube[7] + 2 * lift[7] + 4 * spring[7])
    mass_in = 0.0
    energy_in = heat_t + heat_l + heat_s
    opening = valve_opening(t, discrete_state, plant, tables)
    source = fourth
    bottle = fourth
    regulator = 0.0
    if regulated:
        bottle = node_state(y[i_b], y[i_b + 1], plant.supply.bottle.volume, gas)
        if bottle[7] >= 2:
            return lift[0], spring[0], 5
        regulator = regulator_opening(plant.supply.set_pressure, fourth[0], plant.supply.droop_band)
    elif kind != BOTTLE_SUPPLY:
        source = supply_state(t, discrete_state[D_SUPPLY], plant, tables, gas)
        if source[7] >= 2:
            return lift[0], spring[0], 6
    shuttle = quick_shuttle(lift[0], tube[0], g.cracking) if g.quick != 0 else 0.0
    ambient = fixed_state(g.ambient)
    w, h = flows_between(
        pack(1.0 - opening, 1.0 - shuttle, 1.0, 1.0), together.flows,
        side_by_side(tube, tube, lift, spring), side_by_side(ambient, lift, spring, ambient), g.laminar_above,
    )  # fmt: skip
    w_ex, w_port, w_pl, w_vent = item(w, 0), item(w, 1), item(w, 2), item(w, 3)
    h_ex, h_port, h_pl, h_vent = item(h, 0), item(h, 1), item(h, 2), item(h, 3)
    uncovered = 0.0
    inside = tube
    if g.post_leak > 0.0 and plant.oxidizer.present != 0:
        uncovered = uncovered_share(x, plant.slots.first_lap, SEAL_PASSES_OVER)
        if uncovered > 0.0:
            inside = chamber_side(spring, p_c, gas_mass, discrete_state[D_LIT], exponent, plant, tables, gas)
    w_fill = w_r = w_q = w_in = h_fill = h_r = h_q = h_in = 0.0
    if opening > 0.0 or regulator > 0.0 or shuttle > 0.0 or uncovered > 0.0:
        w, h = flows_between(
            pack(opening, regulator, shuttle, uncovered), together.other_flows,
            side_by_side(source, bottle, lift, inside), side_by_side(tube, fourth, ambient, spring), g.laminar_above,
        )  # fmt: skip
        w_fill, w_r, w_q, w_in = item(w, 0), item(w, 1), item(w, 2), item(w, 3)
        h_fill, h_r, h_q, h_in = item(h, 0), item(h, 1), item(h, 2), item(h, 3)
    if regulated or kind == BOTTLE_SUPPLY:
        heat_b = heat_4
        if regulated:
            heat_b = wall_heat(plant.supply.bottle.wall, plant.supply.bottle.wall_temperature, bottle[1])
            dy[i_p] = w_r - w_fill
            dy[i_p + 1] = h_r + heat_4 - h_fill
            dy[i_b] = -w_r
            dy[i_b + 1] = heat_b - h_r
            energy_in += heat_4
            if asked:
                outputs[S_PLENUM_P] = fourth[0]
                outputs[S_PLENUM_T] = fourth[1]
            flags += 8.0 * fourth[7]
        else:
            dy[i_b] = -w_fill
            dy[i_b + 1] = heat_b - h_fill
        energy_in += heat_b
        if asked:
            outputs[S_BOTTLE_P] = bottle[0]
            outputs[S_BOTTLE_T] = bottle[1]
        flags += 16.0 * bottle[7]
    else:
        mass_in += w_fill
        energy_in += h_fill
    work_l = lift[0] * together.nodes.swept[1] * v
    work_s = -spring[0] * together.nodes.swept[2] * v
    dy[i_t] = w_fill - w_ex - w_port
    dy[i_t + 1] = h_fill - h_ex - h_port + heat_t
    dy[i_l] = w_port - w_q - w_pl
    dy[i_l + 1] = h_port - h_q - h_pl + heat_l - work_l
    dy[i_s] = w_pl - w_vent + w_in
    dy[i_s + 1] = h_pl - h_vent + h_in + heat_s + work_s
    dy[balance + B_GAS_MASS] = mass_in + w_in - w_ex - w_q - w_vent
    dy[balance + B_FILL] = w_fill
    dy[balance + B_GAS_ENERGY] = energy_in + h_in - h_ex - h_q - h_vent
    dy[balance + B_GAS_WORK] = work_l - work_s
    if asked:
        outputs[S_SUPPLY_P] = source[0]
        outputs[S_TUBE_P] = tube[0]
        outputs[S_TUBE_T] = tube[1]
        outputs[S_LIFT_P] = lift[0]
        outputs[S_LIFT_T] = lift[1]
        outputs[S_SPRING_P] = spring[0]
        outputs[S_SPRING_T] = spring[1]
        outputs[S_VALVE] = opening
        outputs[S_FILL] = w_fill
        outputs[S_EXHAUST] = w_ex + w_q
        outputs[S_PORT] = w_port
        outputs[S_VENT] = w_vent
        outputs[S_POST_LEAK] = w_in
        outputs[S_SUPERSATURATED] = flags
    return lift[0], spring[0], 0


@bare_kernel
def friction_on(mode, net, run, v, friction):
    """Friction force acting on the sleeve, N, opening positive; at rest it balances the net force up to breakaway."""
    if mode == SLIDING_UP:
        return -sliding_force(run, friction.ratio, friction.stribeck_velocity, friction.viscous, v)
    if mode == SLIDING_DOWN:
        return sliding_force(run, friction.ratio, friction.stribeck_velocity, friction.viscous, v)
    limit = friction.ratio * run
    return -min(max(net, -limit), limit)


@bare_kernel
def liquid_rates(t, w, w_injector, p_m, v, line, tables, segment, damped):
    """(dw/dt, dz/dt, power into sleeve-and-liquid from inlet, injector and line loss W) of one feed line."""
    p_in = inlet_pressure(t, line, tables, segment)
    dw = line_acceleration(p_in, p_m, line.loss, w, line.area_per_length)
    dz = (w - w_injector) * line.specific_volume - line.swept * v
    power = (p_in * w - p_m * w_injector - line.loss * w * w * abs(w)) * line.specific_volume
    if damped != 0:
        slowing = line.damping * (w - w_injector)
        dw -= slowing
        power -= slowing * line.inertance * w * line.specific_volume
    return dw, dz, power


@bare_kernel
def chamber_rates(oxidizer, fuel, gas_mass, p, chamber, p_amb, laminar_above, tables):
    """(burning rate of oxidizer, of fuel kg/s, dm_g/dt kg/s, dp/dt Pa/s, exponent g) of a lit chamber."""
    f = oxidizer_fraction(oxidizer, fuel, chamber.best)
    c2, g = mixture(f, tables, chamber.curve.start, chamber.curve.count)
    big2 = throat_factors(g)[0]
    rate = 1.0 / chamber.combustion_time_constant
    burn_o = oxidizer * rate
    burn_f = fuel * rate
    burn = max(burn_o, 0.0) + max(burn_f, 0.0)
    part = 1.0 / (chamber.volume * gas_mass)
    out = throat_flow(p, gas_mass * gas_mass * part, chamber.throat, g, p_amb, laminar_above)
    rt = p * chamber.volume * chamber.volume * part
    return burn_o, burn_f, burn - out, g * gas_mass * part * (big2 * c2 * burn - rt * out), g


@bare_kernel
def rhs(t, y, discrete_state, event_memory, par, dy, outputs):
    """Fill dy (core states, then balances) and the signals at (t, y); 0, or where the gas left its range.

    With `outputs` of no length no signal is filled, nor are the forces computed that a sleeve at rest needs for its guards only.
    """
    plant, tables, gas, scratch = par
    index = plant.index
    sleeve = plant.sleeve
    balance = index.core
    for i in range(dy.shape[0]):
        dy[i] = 0.0
    mode = discrete_state[D_MODE]
    x = y[index.lift_height]
    v = y[index.speed]
    if mode == SEATED or mode == STUCK or mode == AT_STOP:
        v = 0.0
    p_c = plant.chamber.back
    g_mix = 1.2
    gas_mass = 1.0
    lit = discrete_state[D_LIT]
    if plant.chamber.hot != 0:
        p_c = y[index.chamber]
        gas_mass = y[index.gas_mass]
        if not (p_c > 0.0 and gas_mass > 0.0):
            return 7
        if lit != 0:
            i_o = index.unburned_oxidizer
            i_f = index.unburned_fuel
            burn_o, burn_f, dm, dp, g_mix = chamber_rates(
                y[i_o], y[i_f], gas_mass, p_c, plant.chamber, plant.ambient_pressure, plant.gas.laminar_above, tables
            )
            dy[i_o] = -burn_o
            dy[i_f] = -burn_f
            dy[index.gas_mass] = dm
            dy[index.chamber] = dp
    p_l, p_s, status = gas_rates(t, y, discrete_state, par, dy, outputs, x, v, p_c, gas_mass, g_mix, balance)
    if status != 0:
        return status
    p_o = p_c
    p_f = plant.fuel_side_pressure
    if plant.oxidizer.present != 0:
        p_o = line_pressure(y[index.oxidizer_volume], discrete_state[D_CAVITY_O], plant.oxidizer, plant.ambient_pressure)
        p_f = line_pressure(y[index.fuel_volume], discrete_state[D_CAVITY_F], plant.fuel, plant.ambient_pressure)
    asked = outputs.shape[0] > 0
    other = 0.0
    if mode == SLIDING_UP or mode == SLIDING_DOWN or asked:
        w_o, w_f, causes, net, run, slot, gap = wet_side(x, p_l, p_s, p_o, p_f, p_c, plant, tables)
        friction = friction_on(mode, net, run, v, plant.friction)
        if mode == SLIDING_UP or mode == SLIDING_DOWN:
            dy[index.lift_height] = v
            dy[index.speed] = (net + friction) / sleeve.mass
            dy[balance + B_FRICTION] = -friction * v
            other = outside_force(causes, plant.forces) * v
        if asked:
            outputs[S_NET] = net
            outputs[S_RUN] = run
            outputs[S_FRICTION] = friction
            outputs[S_GAP_P] = causes[GAP_PRESSURE]
            outputs[S_SLOT] = slot
            outputs[S_GAP] = gap
            outputs[S_JET] = causes[JET]
    else:
        w_o = oxidizer_injector(x, p_o - p_c, plant.slots, plant.oxidizer, tables)[0]
        w_f = fuel_injector(x, p_f, p_c, plant.seat, plant.fuel, tables)[0]
    in_o = 0.0
    in_f = 0.0
    if plant.oxidizer.present != 0:
        i = index.oxidizer_flow
        dw, dz, power = liquid_rates(
            t, y[i], w_o, p_o, v, plant.oxidizer, tables, discrete_state[D_OXIDIZER], discrete_state[D_DAMPED]
        )
        dy[i] = dw
        dy[index.oxidizer_volume] = dz
        other += power
        i = index.fuel_flow
        dw, dz, power = liquid_rates(t, y[i], w_f, p_f, v, plant.fuel, tables, discrete_state[D_FUEL], discrete_state[D_DAMPED])
        dy[i] = dw
        dy[index.fuel_volume] = dz
        other += power
        in_o = w_o
        in_f = w_f
        if plant.oxidizer.dribble_mass > 0.0:
            in_o, dm = dribble_outflow(w_o, y[index.dribble_oxidizer], discrete_state[D_DRIBBLE_O], plant.oxidizer)
            dy[index.dribble_oxidizer] = dm
        if plant.fuel.dribble_mass > 0.0:
            in_f, dm = dribble_outflow(w_f, y[index.dribble_fuel], discrete_state[D_DRIBBLE_F], plant.fuel)
            dy[index.dribble_fuel] = dm
    dy[balance + B_OTHER_WORK] = other
    if plant.chamber.hot != 0 and (discrete_state[D_POOLING] != 0 or lit != 0):
        dy[index.unburned_oxidizer] += max(in_o, 0.0)
        dy[index.unburned_fuel] += max(in_f, 0.0)
    if asked:
        outputs[S_OXIDIZER_P] = p_o
        outputs[S_FUEL_P] = p_f
        outputs[S_OXIDIZER_INJECTOR] = w_o
        outputs[S_FUEL_INJECTOR] = w_f
        outputs[S_OXIDIZER] = in_o
        outputs[S_FUEL] = in_f
        outputs[S_CHAMBER_P] = p_c
    return 0
