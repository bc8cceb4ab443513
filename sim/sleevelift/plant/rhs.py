"""Right-hand side of the whole plant: calls the rooms in flow order, holds no formula of its own.

    chamber -> gas nodes -> valve, tube, vents, leaks -> liquid volumes -> injectors -> lines, passages
      -> gas into the chamber that does not burn -> forces, friction -> sleeve -> balances

`par` is (plant record, table row, gas table). Fills dy and the signals; returns 0, or a place code (below) of the
node whose gas left its range, so that the step is rejected.
"""

from sleevelift.jit import bare_kernel
from sleevelift.physics.combustion import mixture, oxidizer_fraction, throat_factors, throat_flow
from sleevelift.physics.friction import sliding_force
from sleevelift.physics.gas_node import wall_heat
from sleevelift.physics.sleeve import CAUSES, outside_force
from sleevelift.plant.gas_side import flow_of, gas_states, set_boundaries
from sleevelift.plant.inflow import clear_inflow, inflow_rates, purge_flow
from sleevelift.plant.liquid_side import liquid_rates, set_flows, set_pressures, set_valves
from sleevelift.plant.manifold_gas import gas_ledger, set_gas, share_flows
from sleevelift.plant.params import BY_FILL, LIFT, SPRING
from sleevelift.plant.rod_leak import rod_rates, set_blocking, set_liquid
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet
from sleevelift.plant.wet_side import wet_side

GAP_PRESSURE, JET = CAUSES.index("p_i"), CAUSES.index("jet")
UNLIT_EXPONENT = 1.2
"""-. Stands for the exponent of combustion gas where none burns."""
OUT_OF_GAS_RANGE = 1
"""Status base: 1 tube, 2 lift chamber, 3 spring side, 4 plenum, 5 bottle, 6 supply, 7 combustion chamber."""


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
        opening = share[row.opening] * row.free
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
    purged = plant.inflow.present != 0
    if purged:
        clear_inflow(g_mix, plant)
        w_purge = purge_flow(p_c, discrete_state, plant)[0]
        dy[index.inflow + B_CHAMBER_PURGE] = w_purge
        if asked:
            outputs[S_CHAMBER_PURGE] = w_purge
    leaks = plant.rod.present != 0
    if leaks:
        set_liquid(y, x, plant)
    status = gas_states(y, x, plant, gas)
    if status == 0:
        status = set_boundaries(t, x, p_c, gas_mass, g_mix, discrete_state, plant, tables, gas)
    if status != 0:
        return status
    if leaks:
        set_blocking(y[index.lift_liquid], x, plant)
    gas_rates(v, dy, outputs, plant, balance)
    set_pressures(y, p_c, discrete_state, plant)
    with_gas = plant.gas_manifolds != 0
    if with_gas:
        set_gas(y, x, discrete_state, plant)
    if leaks:
        rod_rates(y, dy, outputs, plant, balance)
    set_valves(t, discrete_state, plant, tables)
    set_flows(x, plant, tables)
    if with_gas:
        share_flows(y, x, discrete_state, plant, tables)
        gas_ledger(dy, outputs, plant)
    other = liquid_rates(t, y, v, discrete_state, plant, tables, dy, outputs)
    if purged:
        inflow_rates(y, discrete_state, plant, dy)
    if mode == SLIDING_UP or mode == SLIDING_DOWN or asked:
        causes, net, run = wet_side(x, plant.now.p[LIFT], plant.now.p[SPRING], plant)
        friction = friction_on(mode, net, run, v, plant.friction)
        if mode == SLIDING_UP or mode == SLIDING_DOWN:
            dy[index.lift_height] = v
            dy[index.speed] = (net + friction) / sleeve.mass
            dy[balance + B_FRICTION] = -friction * v
            other += outside_force(causes, plant.forces) * v
        if asked:
            outputs[S_NET] = net
            outputs[S_RUN] = run
            outputs[S_FRICTION] = friction
            outputs[S_GAP_P] = causes[GAP_PRESSURE]
            outputs[S_SLOT] = plant.liquid_flows[OXIDIZER].opening
            outputs[S_GAP] = plant.liquid_flows[FUEL].opening
            outputs[S_JET] = causes[JET]
    dy[balance + B_OTHER_WORK] = other
    if asked:
        gas_signals(outputs, plant)
    return 0
