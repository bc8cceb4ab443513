"""Steady flows and the state at t = 0: what the plant is before anything moves, and what it settles to at a lift.

One scalar equation per feed line (manifold pressure) and one for the chamber, each monotone and bracketed.
"""

from math import sqrt

from sleevelift.jit import bare_kernel
from sleevelift.physics.combustion import mixture
from sleevelift.physics.feed_line import compressed_volume
from sleevelift.physics.gas import OUTSIDE, gas_at
from sleevelift.physics.liquid import orifice_liquid_drop, orifice_liquid_flow
from sleevelift.physics.run_valve import open_time
from sleevelift.physics.supply import table_segment
from sleevelift.plant.inflow import set_purge_switch
from sleevelift.plant.liquid_side import inlet_pressure, outflow, valve_share
from sleevelift.plant.manifold_gas import set_gas_order
from sleevelift.plant.params import LIFT
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

ROOT_LIMIT = 200
ROOT_TOLERANCE = 1e-13
"""-. Width of the bracket over its upper end at which a root is taken as found."""
ROD_ROUNDS = 20
"""Rounds in which flow past the rod seal and manifold pressure are made to agree at the start: the line's loss is small."""
FIRST_SHARE = 0.05
"""-. Share of (reference flow - closed leak) above the leak at which a flow counts as arrived (MODEL.md, section 7)."""


@bare_kernel
def valve_drop(side, w, plant):
    """Pressure, Pa, that a side's open run valve takes of a flow w, kg/s; 0 without one."""
    line = plant.lines[side]
    return orifice_liquid_drop(line.valve_area, line.rho, w) if line.valve_area > 0.0 else 0.0


@bare_kernel
def line_residual(side, lift, p_m, p_in, p_c, loss, plant, tables):
    """Inlet pressure - loss of line and open run valve at the flow out of the manifold - manifold pressure, Pa; falls with p_m."""
    w = outflow(side, lift, p_m, p_c, plant, tables)[0]
    if plant.lines[side].valve_area > 0.0:
        p_in -= valve_drop(side, w, plant)
    return p_in - loss * w * abs(w) - p_m


@bare_kernel
def steady_side(side, lift, p_in, p_c, plant, tables):
    """(flow into the chamber kg/s, manifold pressure Pa) of one feed line in steady flow at a lift.

    Bracketed by inlet and chamber pressure.
    """
    loss = plant.lines[side].loss
    a = p_c
    b = p_in
    fa = line_residual(side, lift, a, p_in, p_c, loss, plant, tables)
    fb = line_residual(side, lift, b, p_in, p_c, loss, plant, tables)
    if fb == 0.0:
        return outflow(side, lift, b, p_c, plant, tables)[1], b
    kept = 0
    c = b
    for _ in range(ROOT_LIMIT):
        if fb == fa:
            break
        c = (a * fb - b * fa) / (fb - fa)
        fc = line_residual(side, lift, c, p_in, p_c, loss, plant, tables)
        if fc == 0.0 or abs(b - a) <= ROOT_TOLERANCE * max(abs(a), abs(b)):
            break
        if fc * fb < 0.0:
            a = b
            fa = fb
            kept = 0
        elif kept == 1:
            fa *= 0.5
        b = c
        fb = fc
        kept = 1
        if abs(fc) <= ROOT_TOLERANCE * max(p_in, p_c):
            break
    return outflow(side, lift, c, p_c, plant, tables)[1], c


@bare_kernel
def chamber_residual(lift, p_c, p_o, p_f, plant, tables):
    """(w c*/A_throat - p_c Pa, oxidizer flow, fuel flow kg/s) of the lit chamber in steady flow."""
    w_o = max(steady_side(OXIDIZER, lift, p_o, p_c, plant, tables)[0], 0.0)
    w_f = max(steady_side(FUEL, lift, p_f, p_c, plant, tables)[0], 0.0)
    total = w_o + w_f
    if total <= 0.0:
        return -p_c, w_o, w_f
    c2, _ = mixture(w_o / total, tables, plant.chamber.curve.start, plant.chamber.curve.count)
    return total * sqrt(c2) / plant.chamber.throat - p_c, w_o, w_f


@bare_kernel
def steady_state(lift, lit, p_o, p_f, plant, tables):
    """(oxidizer flow, fuel flow kg/s, chamber pressure Pa) in steady flow at a lift; p_o, p_f are inlet pressures, Pa.

    Lit: p_c = w c*/A_throat by bisection with secant steps, never below ambient.
    """
    low = plant.chamber.back
    f_low, w_o, w_f = chamber_residual(lift, low, p_o, p_f, plant, tables) if lit else (0.0, 0.0, 0.0)
    if not lit:
        w_o = steady_side(OXIDIZER, lift, p_o, low, plant, tables)[0]
        w_f = steady_side(FUEL, lift, p_f, low, plant, tables)[0]
        return w_o, w_f, low
    if f_low <= 0.0:
        return w_o, w_f, low
    high = max(p_o, p_f)
    f_high = -high
    p = low
    for i in range(ROOT_LIMIT):
        p = 0.5 * (low + high) if i % 3 == 2 else (low * f_high - high * f_low) / (f_high - f_low)
        f, w_o, w_f = chamber_residual(lift, p, p_o, p_f, plant, tables)
        if f > 0.0:
            low = p
            f_low = f
        else:
            high = p
            f_high = f
        if high - low <= 1e-10 * high or f == 0.0:
            break
    return w_o, w_f, p


@bare_kernel
def set_node(y, i, p, T, volume, gas):
    """Fill a node at pressure and temperature; the status of `gas_at`."""
    rho, u, status = gas_at(p, T, gas)
    y[i] = rho * volume
    y[i + 1] = rho * volume * u
    return status


@bare_kernel
def set_line(y, side, discrete_state, plant, tables):
    """Start a feed line in steady leak flow, or at rest ahead of a shut run valve, its manifold at the pressure given for that."""
    line = plant.lines[side]
    liquids = plant.liquids
    back = plant.chamber.back
    p_in = inlet_pressure(0.0, line, tables, discrete_state[D_OXIDIZER + side])
    p_m = steady_side(side, 0.0, p_in, back, plant, tables)[1]
    rod = 0.0
    if plant.rod.present != 0 and side == FUEL:
        for _ in range(ROD_ROUNDS):
            rod = max(orifice_liquid_flow(plant.rod.area, line.rho, p_m - plant.nodes.pressure[LIFT]), 0.0)
            total = rod + outflow(side, 0.0, p_m, back, plant, tables)[0]
            p_m = p_in - line.loss * total * abs(total) - valve_drop(side, total, plant)
    if not p_m > 0.0:
        p_m = max(p_in, 1.0)
    w, into = outflow(side, 0.0, p_m, back, plant, tables)
    w += rod
    if line.valve_area > 0.0:
        shut = valve_share(0.0, side, discrete_state, plant, tables) <= 0.0
        if shut or (w < 0.0 and line.check_valve != 0):
            p_m = line.locked if shut else max(back, line.vapour)
            w = 0.0
            into = outflow(side, 0.0, p_m, back, plant, tables)[1]
        ahead = p_in - line.loss * w * abs(w)
        y[liquids.place[line.end]] = (ahead - line.vapour) / liquids.stiffness[line.end]
        discrete_state[D_CAVITY_O + line.end] = 1 if ahead <= line.vapour else 0
    z = compressed_volume(
        p_m, line.volume, line.bulk, line.vapour, line.trapped_gas, line.trapped_gas_exponent, plant.ambient_pressure
    )
    y[line.flow_place] = w
    y[liquids.place[side]] = z
    discrete_state[D_CAVITY_O + side] = 1 if (line.trapped_gas <= 0.0 and z <= 0.0) else 0
    if line.dribble_mass > 0.0:
        y[line.dribble_place] = line.dribble_time * max(into, 0.0)


@bare_kernel
def set_manifold_gas(y, side, discrete_state, plant, tables):
    """Start a manifold without gas, or full of gas at the pressure given for a shut run valve."""
    gas = plant.gases[side]
    line = plant.lines[side]
    liquids = plant.liquids
    if valve_share(0.0, side, discrete_state, plant, tables) > 0.0:
        discrete_state[D_GAS_AHEAD_O + side] = 1
    elif gas.start > 0.0:
        discrete_state[D_GAS_AHEAD_O + side] = 1
        y[gas.place] = gas.start
        y[liquids.place[side]] = (line.locked - line.vapour) / liquids.stiffness[side] - liquids.size[side]
        discrete_state[D_CAVITY_O + side] = 0 if line.locked > line.vapour else 1
        if line.dribble_mass > 0.0:
            y[line.dribble_place] = 0.0


@bare_kernel
def reference_flows(lanes, tables):
    """(oxidizer, fuel) reference flows, kg/s, of a one-lane plant: rated, else static at full lift, lit in a hot case."""
    plant = lanes[0]
    w_o = plant.lines[OXIDIZER].reference
    w_f = plant.lines[FUEL].reference
    if not (w_o > 0.0 and w_f > 0.0):
        s_o, s_f, _ = steady_at_full_lift(plant, tables)
        w_o = w_o if w_o > 0.0 else s_o
        w_f = w_f if w_f > 0.0 else s_f
    return w_o, w_f


@bare_kernel
def steady_at_full_lift(plant, tables):
    """`steady_state` at full lift and the highest inlet pressures, lit in a hot case."""
    hot = plant.chamber.hot != 0
    p_o, p_f = plant.lines[OXIDIZER].inlet_high, plant.lines[FUEL].inlet_high
    return steady_state(plant.sleeve.stroke, hot, p_o, p_f, plant, tables)


@bare_kernel
def references(event_memory, plant, tables):
    """Reference and closed-leak flows, and from them the level that counts as first and last flow, into `event_memory`."""
    s_o, s_f, event_memory[M_STEADY_CHAMBER] = steady_at_full_lift(plant, tables)
    for side in range(plant.liquids.lines):
        line = plant.lines[side]
        leak = steady_side(side, 0.0, line.inlet_high, plant.chamber.back, plant, tables)[0]
        reference = line.reference
        if not reference > 0.0:
            reference = s_o if side == OXIDIZER else s_f
        event_memory[M_LEAK_O + side] = leak
        event_memory[M_REFERENCE_O + side] = reference
        event_memory[M_LEVEL_O + side] = leak + FIRST_SHARE * (reference - leak)


@bare_kernel
def leaked(side, start, end, event_memory, plant, tables):
    """What a side's closed leak lets through in [start, end], s, kg: while its run valve, if it has one, is not shut."""
    line = plant.lines[side]
    duration = end - start
    if line.valve_area > 0.0:
        duration = open_time(start, end, tables, line.valve.start, line.valve.count)
    return max(event_memory[M_LEAK_O + side], 0.0) * duration


@bare_kernel
def leaked_in_all(start, end, event_memory, plant, tables):
    """What both closed leaks let through in [start, end], s, kg."""
    total = 0.0
    for side in range(plant.liquids.lines):
        total += leaked(side, start, end, event_memory, plant, tables)
    return total


@bare_kernel
def add_leaked(y, start, end, event_memory, plant, tables):
    """Put what both closed leaks let through in a time, s, into the chamber's pool."""
    for side in range(plant.liquids.lines):
        y[plant.lines[side].unburned_place] += leaked(side, start, end, event_memory, plant, tables)


@bare_kernel
def set_segments(t, discrete_state, plant, tables):
    """Put down the segment of each table that holds from t on."""
    valve = plant.gas.valve
    discrete_state[D_VALVE] = table_segment(t, tables, valve.start, valve.count)
    discrete_state[D_SUPPLY] = table_segment(t, tables, plant.supply.table.start, plant.supply.table.count)
    for side in range(plant.liquids.lines):
        table = plant.lines[side].table
        discrete_state[D_OXIDIZER + side] = table_segment(t, tables, table.start, table.count)
        run_valve = plant.lines[side].valve
        discrete_state[D_RUN_VALVE_O + side] = table_segment(t, tables, run_valve.start, run_valve.count)
    if plant.inflow.present != 0:
        set_purge_switch(t, discrete_state, plant, tables)
    if plant.gas_manifolds != 0:
        set_gas_order(t, discrete_state, plant, tables)


@bare_kernel
def initial_state(y, discrete_state, event_memory, par):
    """Fill y, discrete_state and event_memory for t = 0; returns 0, or the place code of a node that starts outside the gas
    table."""
    plant, tables, gas, scratch = par
    index = plant.index
    y[:] = 0.0
    discrete_state[:] = 0
    event_memory[:] = 0.0
    for k in (M_FIRST_O, M_FIRST_F, M_LIGHT_PLANNED, M_LIGHT, M_ALLOWABLE):
        event_memory[k] = float("nan")
    nodes = plant.nodes
    for k in range(nodes.count):
        if set_node(y, nodes.mass[k], nodes.pressure[k], nodes.temperature[k], nodes.volume[k], gas) == OUTSIDE:
            return nodes.code[k]
    discrete_state[D_MODE] = SEATED
    set_segments(0.0, discrete_state, plant, tables)
    if plant.liquids.lines != 0:
        references(event_memory, plant, tables)
    for side in range(plant.liquids.lines):
        set_line(y, side, discrete_state, plant, tables)
        if plant.gas_manifolds != 0 and plant.gases[side].present != 0:
            set_manifold_gas(y, side, discrete_state, plant, tables)
    if plant.chamber.hot != 0:
        y[index.chamber] = plant.chamber.back
        y[index.gas_mass] = plant.chamber.ambient_mass
        if plant.ignition.count_pool != 0:
            add_leaked(y, plant.instants.energize - plant.instants.waiting, plant.instants.energize, event_memory, plant, tables)
        if plant.ignition.possible != 0:
            event_memory[M_LIGHT_PLANNED] = plant.ignition.given
    return 0
