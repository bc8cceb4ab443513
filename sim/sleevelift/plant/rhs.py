"""Right-hand side of the whole plant: calls the rooms in flow order, holds no formula of its own.

    chamber -> gas nodes -> valve, tube, vents, leaks -> injectors, forces, friction -> sleeve -> lines -> passages -> balances

`par` is (plant record, table row, gas table). Fills dy and the signals; returns 0, or a place code (below) of the
node whose gas left its range, so that the step is rejected.
"""

from sleevelift.jit import bare_kernel
from sleevelift.physics.combustion import mixture, oxidizer_fraction, throat_factors, throat_flow
from sleevelift.physics.feed_line import line_acceleration, manifold_pressure, trapped_gas_pressure
from sleevelift.physics.friction import sliding_force
from sleevelift.physics.gas_node import wall_heat
from sleevelift.physics.sleeve import CAUSES, outside_force
from sleevelift.physics.supply import table_value
from sleevelift.plant.gas_side import flow_of, gas_states, set_boundaries
from sleevelift.plant.params import BY_FILL, LIFT, SPRING
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet
from sleevelift.plant.wet_side import fuel_injector, oxidizer_injector, wet_side

GAP_PRESSURE, JET = CAUSES.index("p_i"), CAUSES.index("jet")
UNLIT_EXPONENT = 1.2
"""-. Stands for the exponent of combustion gas where none burns."""
OUT_OF_GAS_RANGE = 1
"""Status base: 1 tube, 2 lift chamber, 3 spring side, 4 plenum, 5 bottle, 6 supply, 7 combustion chamber."""


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
def gas_rates(v, dy, outputs, plant, balance):
    """Gas part, once all slots' states and openings are there: fills the nodes' rates, their signals and balances.

    What leaves one row's source enters its sink, so that nothing is lost; boundaries stand for the gas outside.
    """
    nodes = plant.nodes
    now = plant.now
    share = plant.openings.share
    laminar_above = plant.gas.laminar_above
    asked = outputs.shape[0] > 0
    outside = balance + B_GAS_MASS
    for k in range(nodes.count):
        i = nodes.mass[k]
        heat = wall_heat(nodes.wall[k], nodes.wall_temperature[k], now.T[k])
        work = now.p[k] * nodes.swept[k] * v
        dy[i + 1] += heat - work
        dy[outside + 1] -= heat
        dy[balance + B_GAS_WORK] += work
    for k in range(plant.gas.flows):
        row = plant.flows[k]
        opening = share[row.opening]
        if opening > 0.0:
            w, h = flow_of(row, now, laminar_above)
            w *= opening
            h *= opening
            i = nodes.mass[row.source]
            j = nodes.mass[row.sink]
            dy[i] -= w
            dy[i + 1] -= h
            dy[j] += w
            dy[j + 1] += h
            if row.meter != 0:
                dy[balance + row.meter] += w
            if asked:
                outputs[row.signal] = w


@bare_kernel
def gas_signals(outputs, plant):
    """Fill the signals of the gas nodes."""
    nodes = plant.nodes
    now = plant.now
    flags = 0.0
    for k in range(nodes.count):
        outputs[nodes.signal[k]] = now.p[k]
        outputs[nodes.signal[k] + 1] = now.T[k]
        flags += now.status[k] * 2.0 ** (nodes.code[k] - 1.0)
    outputs[S_SUPERSATURATED] = flags
    outputs[S_SUPPLY_P] = now.p[nodes.inlet]
    outputs[S_VALVE] = plant.openings.share[BY_FILL]


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
    asked = outputs.shape[0] > 0
    for i in range(dy.shape[0]):
        dy[i] = 0.0
    for i in range(outputs.shape[0]):
        outputs[i] = 0.0
    mode = discrete_state[D_MODE]
    x = y[index.lift_height]
    v = y[index.speed]
    if mode == SEATED or mode == STUCK or mode == AT_STOP:
        v = 0.0
    p_c = plant.chamber.back
    g_mix = UNLIT_EXPONENT
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
    status = gas_states(y, x, plant, gas)
    if status == 0:
        status = set_boundaries(t, x, p_c, gas_mass, g_mix, discrete_state, plant, tables, gas)
    if status != 0:
        return status
    gas_rates(v, dy, outputs, plant, balance)
    p_l = plant.now.p[LIFT]
    p_s = plant.now.p[SPRING]
    p_o = p_c
    p_f = plant.fuel_side_pressure
    if plant.oxidizer.present != 0:
        p_o = line_pressure(y[index.oxidizer_volume], discrete_state[D_CAVITY_O], plant.oxidizer, plant.ambient_pressure)
        p_f = line_pressure(y[index.fuel_volume], discrete_state[D_CAVITY_F], plant.fuel, plant.ambient_pressure)
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
        gas_signals(outputs, plant)
        outputs[S_OXIDIZER_P] = p_o
        outputs[S_FUEL_P] = p_f
        outputs[S_OXIDIZER_INJECTOR] = w_o
        outputs[S_FUEL_INJECTOR] = w_f
        outputs[S_OXIDIZER] = in_o
        outputs[S_FUEL] = in_f
        outputs[S_CHAMBER_P] = p_c
    return 0
