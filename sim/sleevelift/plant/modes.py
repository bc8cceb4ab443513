"""Modes, guards and resets of the plant.

| mode | leaves when | to |
| --- | --- | --- |
| seated | net force without friction > breakaway | sliding up |
| stuck | net force > breakaway; < -breakaway | sliding up; sliding down |
| sliding up | v reaches 0 | stuck, if the net force is inside breakaway; else sliding down |
| sliding up | x reaches the stroke | rebound: sliding down; too slow to rebound: at the stop |
| sliding down | v reaches 0 | stuck, else sliding up |
| sliding down | x reaches the seat | rebound: sliding up; too slow: seated |
| at the stop | net force < -breakaway | sliding down |

Beside the mode: a cavity in either manifold, or ahead of a run valve, opens (z < 0) and closes; a passage behind the injector
fills; each propellant arrives in the chamber (5 % of reference above the leak, after the command); the flows' mixture enters the
ignitable range; the unlit pool reaches the allowable pressure; the chamber burns and goes out (`ignition`); gas and flows settle
behind a sleeve at rest, or nothing can happen any more (`ending`). Time events (commands, knots of valves and tables, igniter,
light-off, the end of the lines' ringing, the end of watching a sleeve at rest) are targets.

A passage drains from the sleeve's rest on its seat on, and from a contact once it was full; it fills when the sleeve leaves its
seat from rest. A rebound changes nothing, but once the injector brings more than the passage loses, it passes on what comes.
Neither asks for the command: contact is contact.
A guard fires on g > 0 -> g <= 0; inactive ones are 1.
"""

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.physics.friction import breakaway_force, sticks
from sleevelift.physics.manifold_gas import rest_of_cavity
from sleevelift.physics.stops import impact_loss, rebound_speed
from sleevelift.physics.supply import table_segment
from sleevelift.plant.ending import (
    artificial_damping_due,
    damp_artificially,
    rest_due,
    resting,
    restless,
    unsettled,
)
from sleevelift.plant.ignition import (
    arm_if_ready,
    begin_pooling,
    light_if_due,
    note_lingering,
    out_guard,
    outside_ignitable,
    pass_out_guard,
    pool_pressure,
    waits_for_mixture,
)
from sleevelift.plant.inflow import set_purge_switch
from sleevelift.plant.manifold_gas import manifold_content, set_gas_order
from sleevelift.plant.params import FIRST_AHEAD
from sleevelift.plant.rhs import rhs
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

TURNING_SPEED = 1e-12
"""m/s. A sleeve set in motion from rest turns back when its speed passes this on the wrong side of zero."""
STANDSTILL_SLACK = 0.01
"""-. Times the run's tolerance, of breakaway and preload together: so much more than breakaway, and than the force it came to rest
under, moves a sleeve that stands between seat and stop. It falls with the tolerance, and is there for rounding alone."""


@bare_kernel
def mode_guards(y, discrete_state, event_memory, outputs, plant, g):
    """The two guards of the sleeve's mode.

    A sleeve slowed to rest by less than breakaway allows has been so by the errors of the steps only. It goes on when the force
    rises above that under which it stopped, which in the limit is breakaway: the trend decides, so it neither waits nor chatters.
    """
    mode = discrete_state[D_MODE]
    x = y[plant.index.lift_height]
    v = y[plant.index.speed]
    limit = breakaway_force(outputs[S_RUN], plant.friction.ratio)
    if mode == SEATED:
        g[G_MODE_A] = limit - outputs[S_NET]
    elif mode == STUCK:
        held = limit + STANDSTILL_SLACK * event_memory[M_TOLERANCE] * (limit + plant.sleeve.preload)
        g[G_MODE_A] = held + max(event_memory[M_EXCESS], 0.0) - outputs[S_NET]
        g[G_MODE_B] = held - min(event_memory[M_EXCESS], 0.0) + outputs[S_NET]
    elif mode == SLIDING_UP:
        g[G_MODE_A] = v + TURNING_SPEED
        g[G_MODE_B] = plant.sleeve.stroke - x
    elif mode == SLIDING_DOWN:
        g[G_MODE_A] = TURNING_SPEED - v
        g[G_MODE_B] = x
    else:
        g[G_MODE_A] = limit + outputs[S_NET]


@bare_kernel
def passage_guard(content, injector, state, discrete_state, line):
    """Guard of a passage: a filling one is full, or one that drains behind a lifted sleeve gets more than it loses; else 1."""
    if state == FILLING:
        return 1.0 - content / line.dribble_mass
    if state == DRAINING and discrete_state[D_MODE] != SEATED:
        return (content / line.dribble_time - injector) * line.dribble_time / line.dribble_mass
    return 1.0


@bare_kernel
def cavity_opens(y, slot, plant):
    """Compressed volume, m3, at which a cavity opens in a slot: nothing, but beside gas."""
    if plant.gas_manifolds == 0 or slot >= FIRST_AHEAD or plant.gases[slot].present == 0:
        return 0.0
    gas = plant.gases[slot]
    return rest_of_cavity(manifold_content(y, gas), plant.liquids.vapour[slot])


@bare_kernel
def guards(t, y, discrete_state, event_memory, par, outputs, g):
    """Fill the guards of the current discrete state."""
    plant, tables, gas, scratch = par
    for i in range(N_GUARD):
        g[i] = 1.0
    mode_guards(y, discrete_state, event_memory, outputs, plant, g)
    if resting(discrete_state, plant):
        if discrete_state[D_SETTLED] == 0 and discrete_state[D_ON] == 0:
            g[G_SETTLED] = unsettled(discrete_state, event_memory, outputs, plant)
        if discrete_state[D_QUIET] == 0 and t >= rest_due(discrete_state, event_memory, plant):
            g[G_QUIET] = restless(t, y, discrete_state, event_memory, par, outputs)
    if plant.liquids.lines == 0:
        return
    for slot in range(plant.liquids.volumes):
        if slot >= FIRST_AHEAD or plant.lines[slot].trapped_gas <= 0.0:
            z = (y[plant.liquids.place[slot]] - cavity_opens(y, slot, plant)) / plant.liquids.size[slot]
            g[G_CAVITY_O + slot] = z if discrete_state[D_CAVITY_O + slot] == 0 else -z
    for side in range(plant.liquids.lines):
        line = plant.lines[side]
        if line.dribble_mass > 0.0:
            injected = outputs[S_OXIDIZER_INJECTOR + side]
            g[G_DRIBBLE_O + side] = passage_guard(
                y[line.dribble_place], injected, discrete_state[D_DRIBBLE_O + side], discrete_state, line
            )
        if discrete_state[D_COMMANDED] != 0 and discrete_state[D_FIRST_O + side] != ARRIVED:
            above = (outputs[S_OXIDIZER + side] - event_memory[M_LEVEL_O + side]) / event_memory[M_REFERENCE_O + side]
            g[G_FIRST_O + side] = above if discrete_state[D_FIRST_O + side] == LINGERING else -above
    if waits_for_mixture(t, discrete_state, plant, tables):
        g[G_IGNITABLE] = outside_ignitable(outputs, plant.ignition)
    if (
        plant.chamber.hot != 0
        and discrete_state[D_LIT] == 0
        and discrete_state[D_ALLOWABLE] == 0
        and discrete_state[D_FIRST_O] == ARRIVED
        and discrete_state[D_FIRST_F] == ARRIVED
        and plant.chamber.allowable < 1e300
    ):
        g[G_ALLOWABLE] = 1.0 - pool_pressure(y, plant, tables) / plant.chamber.allowable
    g[G_OUT] = out_guard(discrete_state, event_memory, outputs, plant)


@bare_kernel
def start_up(t, discrete_state, event_memory):
    """Begin to slide up."""
    discrete_state[D_MODE] = SLIDING_UP
    event_memory[M_LAST_CHANGE] = t


@bare_kernel
def leave_seat(y, discrete_state, plant):
    """The sleeve leaves its seat from rest: passages fill, and what flows into the chamber pools."""
    discrete_state[D_LEFT] = 1
    discrete_state[D_POOLING] = discrete_state[D_COMMANDED]
    for side in range(plant.liquids.lines):
        line = plant.lines[side]
        if line.dribble_mass > 0.0 and discrete_state[D_DRIBBLE_O + side] == DRAINING:
            discrete_state[D_DRIBBLE_O + side] = FILLING if y[line.dribble_place] < line.dribble_mass else FULL


@bare_kernel
def note_contact(discrete_state, outputs):
    """Take note that the sleeve, having left its seat, is back on it with command and solenoid valve off."""
    if discrete_state[D_LEFT] != 0 and discrete_state[D_ON] == 0 and outputs[S_VALVE] <= 0.0:
        discrete_state[D_CONTACT] = 1


@bare_kernel
def seat_contact(discrete_state, outputs, bounces):
    """Seat touched: passages that were full drain from now on; at rest all do."""
    note_contact(discrete_state, outputs)
    for passage in (D_DRIBBLE_O, D_DRIBBLE_F):
        if not bounces or discrete_state[passage] == FULL:
            discrete_state[passage] = DRAINING


@bare_kernel
def impact(t, y, discrete_state, event_memory, outputs, plant, at_seat):
    """Impact at seat or stop: rebound, or rest and the mode that the forces then allow."""
    index = plant.index
    sleeve = plant.sleeve
    v = y[index.speed]
    restitution = sleeve.restitution_seat if at_seat else sleeve.restitution_stop
    after = rebound_speed(v, restitution, sleeve.rest_speed)
    event_memory[M_IMPACT_LOSS] += impact_loss(sleeve.mass, v, after)
    event_memory[M_LAST_CHANGE] = t
    y[index.speed] = after
    y[index.lift_height] = 0.0 if at_seat else sleeve.stroke
    limit = breakaway_force(outputs[S_RUN], plant.friction.ratio)
    if at_seat:
        bounces = after > 0.0 or outputs[S_NET] > limit
        seat_contact(discrete_state, outputs, bounces)
        if bounces:
            discrete_state[D_MODE] = SLIDING_UP
        else:
            discrete_state[D_MODE] = SEATED
    elif after < 0.0 or outputs[S_NET] < -limit:
        discrete_state[D_MODE] = SLIDING_DOWN
    else:
        discrete_state[D_MODE] = AT_STOP


@bare_kernel
def turning_point(t, y, discrete_state, event_memory, outputs, plant):
    """The sleeve's speed has reached zero between seat and stop."""
    event_memory[M_LAST_CHANGE] = t
    y[plant.index.speed] = 0.0
    limit = breakaway_force(outputs[S_RUN], plant.friction.ratio)
    up = discrete_state[D_MODE] == SLIDING_UP
    if sticks(outputs[S_NET], limit) or (outputs[S_NET] > 0.0) == up:
        # a sleeve that was slowed to rest cannot go on the same way: the force has lingered at breakaway
        discrete_state[D_MODE] = STUCK
        event_memory[M_EXCESS] = max(outputs[S_NET] - limit, 0.0) + min(outputs[S_NET] + limit, 0.0)
    else:
        discrete_state[D_MODE] = SLIDING_DOWN if up else SLIDING_UP


@bare_kernel
def mode_reset(t, y, discrete_state, event_memory, outputs, plant, which):
    """Jump of a guard of the sleeve's mode."""
    mode = discrete_state[D_MODE]
    discrete_state[D_DAMPED] = 0
    discrete_state[D_SETTLED] = 0
    discrete_state[D_QUIET] = 0
    if mode == SEATED:
        start_up(t, discrete_state, event_memory)
        leave_seat(y, discrete_state, plant)
    elif mode == STUCK:
        discrete_state[D_MODE] = SLIDING_UP if which == G_MODE_A else SLIDING_DOWN
        event_memory[M_LAST_CHANGE] = t
    elif mode == AT_STOP:
        discrete_state[D_MODE] = SLIDING_DOWN
        event_memory[M_LAST_CHANGE] = t
    elif which == G_MODE_A:
        turning_point(t, y, discrete_state, event_memory, outputs, plant)
    else:
        impact(t, y, discrete_state, event_memory, outputs, plant, mode == SLIDING_DOWN)


@bare_kernel
def scratch_views(y, scratch):
    """(derivatives, signals) to evaluate a right-hand side into, cut from the lane's scratch."""
    n = y.shape[0]
    return scratch[:n], scratch[n : n + N_SIGNAL]


@bare_kernel
def reset(t, y, discrete_state, event_memory, par, which):
    """Apply the jump of guard `which`; returns 0, or nonzero where the forces cannot be evaluated."""
    plant, tables, gas, scratch = par
    dy, outputs = scratch_views(y, scratch)
    if which <= G_MODE_B or which == G_FIRST_O or which == G_FIRST_F or which == G_IGNITABLE or which == G_OUT:
        if rhs(t, y, discrete_state, event_memory, par, dy, outputs) != 0:
            return 1
    if which <= G_MODE_B:
        mode_reset(t, y, discrete_state, event_memory, outputs, plant, which)
    elif G_CAVITY_O <= which < G_DRIBBLE_O:
        slot = which - G_CAVITY_O
        discrete_state[D_CAVITY_O + slot] = 1 - discrete_state[D_CAVITY_O + slot]
        y[plant.liquids.place[slot]] = cavity_opens(y, slot, plant)
    elif which == G_DRIBBLE_O or which == G_DRIBBLE_F:
        discrete_state[D_DRIBBLE_O + which - G_DRIBBLE_O] = FULL
    elif (which == G_FIRST_O or which == G_FIRST_F) and discrete_state[D_FIRST_O + which - G_FIRST_O] == LINGERING:
        discrete_state[D_FIRST_O + which - G_FIRST_O] = AWAY
    elif which == G_FIRST_O or which == G_FIRST_F:
        discrete_state[D_FIRST_O + which - G_FIRST_O] = ARRIVED
        discrete_state[D_POOLING] = 1
        event_memory[M_FIRST_O + which - G_FIRST_O] = t
        arm_if_ready(t, outputs, discrete_state, event_memory, plant, tables)
    elif which == G_IGNITABLE:
        discrete_state[D_ARMED] = 1
        event_memory[M_LIGHT_PLANNED] = t + plant.ignition.delay
        light_if_due(t, discrete_state, event_memory)
    elif which == G_OUT:
        was_lit = discrete_state[D_LIT]
        pass_out_guard(t, y, discrete_state, event_memory, outputs, plant)
        if was_lit != discrete_state[D_LIT]:
            if rhs(t, y, discrete_state, event_memory, par, dy, outputs) != 0:
                return 1
            note_lingering(discrete_state, event_memory, outputs)
    elif which == G_SETTLED:
        discrete_state[D_SETTLED] = 1
    elif which == G_QUIET:
        discrete_state[D_QUIET] = 1
    else:
        discrete_state[D_ALLOWABLE] = 1
        event_memory[M_ALLOWABLE] = t
    return 0


@bare_kernel
def next_target(t, discrete_state, event_memory, par):
    """The next time event after t, s; inf if none."""
    plant, tables, gas, scratch = par
    following = np.inf
    k = discrete_state[D_TARGET]
    if k < plant.instants.targets.count:
        following = tables[plant.instants.targets.start + k]
    if discrete_state[D_LIT] == 0 and discrete_state[D_BRANCH] == 0:
        light = event_memory[M_LIGHT_PLANNED]
        if light > t and light < following:
            following = light
    if resting(discrete_state, plant):
        for due in (artificial_damping_due(discrete_state, event_memory, plant), rest_due(discrete_state, event_memory, plant)):
            if due > t and due < following:
                following = due
    return following


@bare_kernel
def command_edge(t, y, discrete_state, event_memory, outputs, turn_on, plant, tables):
    """Take note of an on or off command."""
    if turn_on:
        first = discrete_state[D_COMMANDED] == 0
        if discrete_state[D_ON] == 0:
            begin_pooling(t, y, discrete_state, event_memory, plant, tables)
        discrete_state[D_COMMANDED] = 1
        discrete_state[D_ON] = 1
        discrete_state[D_CONTACT] = 0
        discrete_state[D_LEFT] = 1 if discrete_state[D_MODE] != SEATED else 0
        for side in range(plant.liquids.lines):
            if first and outputs[S_OXIDIZER + side] >= event_memory[M_LEVEL_O + side]:
                discrete_state[D_FIRST_O + side] = ARRIVED
                event_memory[M_FIRST_O + side] = t
    else:
        discrete_state[D_ON] = 0


@bare_kernel
def at_target(t, y, discrete_state, event_memory, par):
    """Apply what is known to happen at t: 1 if the derivative may have changed, else 0."""
    plant, tables, gas, scratch = par
    targets = plant.instants.targets
    before = discrete_state[D_TARGET] + discrete_state[D_LIT] + discrete_state[D_ARMED] + discrete_state[D_DAMPED]
    while discrete_state[D_TARGET] < targets.count and tables[targets.start + discrete_state[D_TARGET]] <= t:
        discrete_state[D_TARGET] += 1
    valve = plant.gas.valve
    discrete_state[D_VALVE] = table_segment(t, tables, valve.start, valve.count)
    discrete_state[D_SUPPLY] = table_segment(t, tables, plant.supply.table.start, plant.supply.table.count)
    for side in range(plant.liquids.lines):
        table = plant.lines[side].table
        discrete_state[D_OXIDIZER + side] = table_segment(t, tables, table.start, table.count)
        valve = plant.lines[side].valve
        discrete_state[D_RUN_VALVE_O + side] = table_segment(t, tables, valve.start, valve.count)
    if plant.inflow.present != 0:
        set_purge_switch(t, discrete_state, plant, tables)
    if plant.gas_manifolds != 0:
        set_gas_order(t, discrete_state, plant, tables)
    dy, outputs = scratch_views(y, scratch)
    if rhs(t, y, discrete_state, event_memory, par, dy, outputs) != 0:
        return 1
    edges = plant.instants.edges
    for i in range(edges.count):
        if tables[edges.start + 2 * i] == t:
            command_edge(t, y, discrete_state, event_memory, outputs, tables[edges.start + 2 * i + 1] > 0.5, plant, tables)
    if discrete_state[D_MODE] == SEATED:
        note_contact(discrete_state, outputs)
    arm_if_ready(t, outputs, discrete_state, event_memory, plant, tables)
    damp_artificially(t, discrete_state, event_memory, plant)
    return (
        1 if discrete_state[D_TARGET] + discrete_state[D_LIT] + discrete_state[D_ARMED] + discrete_state[D_DAMPED] > before else 0
    )
