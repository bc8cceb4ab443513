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

Beside the mode: a cavity in either manifold opens (z < 0) and closes; a passage behind the injector fills; each propellant
arrives in the chamber (5 % of reference above the leak, after the command); the flows' mixture enters the ignitable range; the
unlit pool reaches the allowable pressure; gas and flows settle behind a sleeve at rest. Time events (commands, valve knots,
table knots, igniter, light-off, the end of the lines' ringing, the end of watching a sleeve at rest) are targets.
A guard fires on g > 0 -> g <= 0; inactive ones are 1.
"""

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.physics.combustion import hard_start_pressure
from sleevelift.physics.friction import breakaway_force, sticks
from sleevelift.physics.stops import impact_loss, rebound_speed
from sleevelift.physics.supply import table_segment
from sleevelift.plant.rhs import rhs
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

TURNING_SPEED = 1e-12
"""m/s. A sleeve set in motion from rest turns back when its speed passes this on the wrong side of zero."""
STUCK_SLACK = 1e-3
"""-. A sleeve stuck part-way breaks away when the net force exceeds breakaway by this share (0.05 N, microseconds): without it a
force that lingers at breakaway would set it going and stop it again without end."""
LEAST_SLACK = 1e-4
"""-. The same as a share of the spring's preload, added: it holds where there is next to no friction, and the force at which a
sleeve floats is known no better."""
SETTLED_GAS = 0.02
"""-. Lift chamber and combustion chamber within this share of ambient count as vented."""
STANDSTILL = 0.05
"""s. A sleeve that has stood still this long away from its seat, all gas vented, will not move any more."""
LEAST_UNSETTLED = 1e-9
"""-. What `unsettled` may be by rounding where it has been found to pass zero."""
NEVER_IGNITABLE = 1e9
"""-. Mixture ratio where no fuel flows."""


@bare_kernel
def flow_ratio(outputs):
    """Mixture ratio O/F of the flows into the chamber."""
    if outputs[S_FUEL] <= 0.0:
        return NEVER_IGNITABLE
    return max(outputs[S_OXIDIZER], 0.0) / outputs[S_FUEL]


@bare_kernel
def outside_ignitable(outputs, ignition):
    """How far the flows' mixture is outside the ignitable range, -; <= 0 inside."""
    ratio = flow_ratio(outputs)
    return max(ignition.mixture_low - ratio, ratio - ignition.mixture_high)


@bare_kernel
def igniter_burns(t, ignition, tables):
    """Whether an igniter window (on + rise, off) holds t."""
    for i in range(ignition.windows.count):
        k = ignition.windows.start + 2 * i
        if tables[k] <= t < tables[k + 1]:
            return True
    return False


@bare_kernel
def waits_for_mixture(t, discrete_state, plant, tables):
    """Whether only the mixture of the flows still keeps the ignition delay from starting."""
    return (
        plant.chamber.hot != 0
        and plant.ignition.possible != 0
        and not (plant.ignition.given == plant.ignition.given)
        and discrete_state[D_ARMED] == 0
        and discrete_state[D_LIT] == 0
        and discrete_state[D_FIRST_O] != 0
        and discrete_state[D_FIRST_F] != 0
        and igniter_burns(t, plant.ignition, tables)
    )


@bare_kernel
def arm_if_ready(t, outputs, discrete_state, event_memory, plant, tables):
    """Start the ignition delay if igniter, both propellants and mixture are there at t."""
    if waits_for_mixture(t, discrete_state, plant, tables) and outside_ignitable(outputs, plant.ignition) <= 0.0:
        discrete_state[D_ARMED] = 1
        event_memory[M_LIGHT_PLANNED] = t + plant.ignition.delay
    light_if_due(t, discrete_state, event_memory)


@bare_kernel
def light_if_due(t, discrete_state, event_memory):
    """Light the chamber where its instant has come (a side run never lights)."""
    if discrete_state[D_LIT] == 0 and discrete_state[D_BRANCH] == 0 and event_memory[M_LIGHT_PLANNED] <= t:
        discrete_state[D_LIT] = 1
        event_memory[M_LIGHT] = t


@bare_kernel
def pool_pressure(y, plant, tables):
    """Hard-start estimate of the unburned masses now in the chamber, Pa."""
    i_o = plant.index.unburned_oxidizer
    i_f = plant.index.unburned_fuel
    c = plant.chamber
    extra = plant.ignition.pool_oxidizer
    return hard_start_pressure(
        y[i_o] + extra, y[i_f], c.volume, plant.ambient_pressure, tables, c.ideal_curve.start, c.ideal_curve.count
    )


@bare_kernel
def mode_guards(y, discrete_state, outputs, plant, g):
    """The two guards of the sleeve's mode."""
    mode = discrete_state[D_MODE]
    x = y[plant.index.lift_height]
    v = y[plant.index.speed]
    limit = breakaway_force(outputs[S_RUN], plant.friction.ratio)
    if mode == SEATED:
        g[G_MODE_A] = limit - outputs[S_NET]
    elif mode == STUCK:
        held = (1.0 + STUCK_SLACK) * limit + LEAST_SLACK * plant.sleeve.preload
        g[G_MODE_A] = held - outputs[S_NET]
        g[G_MODE_B] = held + outputs[S_NET]
    elif mode == SLIDING_UP:
        g[G_MODE_A] = v + TURNING_SPEED
        g[G_MODE_B] = plant.sleeve.stroke - x
    elif mode == SLIDING_DOWN:
        g[G_MODE_A] = TURNING_SPEED - v
        g[G_MODE_B] = x
    else:
        g[G_MODE_A] = limit + outputs[S_NET]


@bare_kernel
def guards(t, y, discrete_state, event_memory, par, outputs, g):
    """Fill the guards of the current discrete state."""
    plant, tables, gas, scratch = par
    index = plant.index
    for i in range(N_GUARD):
        g[i] = 1.0
    mode_guards(y, discrete_state, outputs, plant, g)
    if discrete_state[D_SETTLED] == 0 and may_settle(discrete_state, plant):
        g[G_SETTLED] = unsettled(discrete_state, event_memory, outputs, plant)
    if plant.oxidizer.present == 0:
        return
    if plant.oxidizer.trapped_gas <= 0.0:
        z = y[index.oxidizer_volume] / plant.oxidizer.volume
        g[G_CAVITY_O] = z if discrete_state[D_CAVITY_O] == 0 else -z
    if plant.fuel.trapped_gas <= 0.0:
        z = y[index.fuel_volume] / plant.fuel.volume
        g[G_CAVITY_F] = z if discrete_state[D_CAVITY_F] == 0 else -z
    if plant.oxidizer.dribble_mass > 0.0 and discrete_state[D_DRIBBLE_O] == FILLING:
        g[G_DRIBBLE_O] = 1.0 - y[index.dribble_oxidizer] / plant.oxidizer.dribble_mass
    if plant.fuel.dribble_mass > 0.0 and discrete_state[D_DRIBBLE_F] == FILLING:
        g[G_DRIBBLE_F] = 1.0 - y[index.dribble_fuel] / plant.fuel.dribble_mass
    if discrete_state[D_COMMANDED] != 0:
        if discrete_state[D_FIRST_O] == 0:
            g[G_FIRST_O] = (event_memory[M_LEVEL_O] - outputs[S_OXIDIZER]) / event_memory[M_REFERENCE_O]
        if discrete_state[D_FIRST_F] == 0:
            g[G_FIRST_F] = (event_memory[M_LEVEL_F] - outputs[S_FUEL]) / event_memory[M_REFERENCE_F]
    if waits_for_mixture(t, discrete_state, plant, tables):
        g[G_IGNITABLE] = outside_ignitable(outputs, plant.ignition)
    if (
        plant.chamber.hot != 0
        and discrete_state[D_LIT] == 0
        and discrete_state[D_ALLOWABLE] == 0
        and discrete_state[D_FIRST_O] != 0
        and discrete_state[D_FIRST_F] != 0
        and plant.chamber.allowable < 1e300
    ):
        g[G_ALLOWABLE] = 1.0 - pool_pressure(y, plant, tables) / plant.chamber.allowable


@bare_kernel
def start_up(t, discrete_state, event_memory):
    """Begin to slide up."""
    discrete_state[D_MODE] = SLIDING_UP
    event_memory[M_LAST_CHANGE] = t


@bare_kernel
def leave_seat(y, discrete_state, plant):
    """A passage that was draining starts to fill, unless this is a rebound or surge after the off command."""
    if discrete_state[D_COMMANDED] != 0 and discrete_state[D_ON] == 0:
        return
    index = plant.index
    if plant.oxidizer.dribble_mass > 0.0 and discrete_state[D_DRIBBLE_O] == DRAINING:
        discrete_state[D_DRIBBLE_O] = FILLING if y[index.dribble_oxidizer] < plant.oxidizer.dribble_mass else FULL
    if plant.fuel.dribble_mass > 0.0 and discrete_state[D_DRIBBLE_F] == DRAINING:
        discrete_state[D_DRIBBLE_F] = FILLING if y[index.dribble_fuel] < plant.fuel.dribble_mass else FULL


@bare_kernel
def seat_contact(discrete_state, after):
    """Seat touched: after the off command the passages drain from now on; at rest they drain in any case."""
    if discrete_state[D_ON] == 0 and discrete_state[D_COMMANDED] != 0:
        discrete_state[D_CONTACT] = 1
        discrete_state[D_DRIBBLE_O] = DRAINING
        discrete_state[D_DRIBBLE_F] = DRAINING
    elif after == 0.0:
        discrete_state[D_DRIBBLE_O] = DRAINING
        discrete_state[D_DRIBBLE_F] = DRAINING


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
        seat_contact(discrete_state, after)
        if after > 0.0 or outputs[S_NET] > limit:
            discrete_state[D_MODE] = SLIDING_UP
            leave_seat(y, discrete_state, plant)
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
        discrete_state[D_MODE] = (
            STUCK  # a sleeve that was slowed to rest cannot go on the same way: the force has lingered at breakaway
        )
    else:
        discrete_state[D_MODE] = SLIDING_DOWN if up else SLIDING_UP


@bare_kernel
def mode_reset(t, y, discrete_state, event_memory, outputs, plant, which):
    """Jump of a guard of the sleeve's mode."""
    mode = discrete_state[D_MODE]
    discrete_state[D_DAMPED] = 0
    discrete_state[D_SETTLED] = 0
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
    if which <= G_MODE_B or which == G_FIRST_O or which == G_FIRST_F or which == G_IGNITABLE:
        if rhs(t, y, discrete_state, event_memory, par, dy, outputs) != 0:
            return 1
    if which <= G_MODE_B:
        mode_reset(t, y, discrete_state, event_memory, outputs, plant, which)
    elif which == G_CAVITY_O:
        discrete_state[D_CAVITY_O] = 1 - discrete_state[D_CAVITY_O]
        y[plant.index.oxidizer_volume] = 0.0
    elif which == G_CAVITY_F:
        discrete_state[D_CAVITY_F] = 1 - discrete_state[D_CAVITY_F]
        y[plant.index.fuel_volume] = 0.0
    elif which == G_DRIBBLE_O:
        discrete_state[D_DRIBBLE_O] = FULL
    elif which == G_DRIBBLE_F:
        discrete_state[D_DRIBBLE_F] = FULL
    elif which == G_FIRST_O:
        discrete_state[D_FIRST_O] = 1
        event_memory[M_FIRST_O] = t
        arm_if_ready(t, outputs, discrete_state, event_memory, plant, tables)
    elif which == G_FIRST_F:
        discrete_state[D_FIRST_F] = 1
        event_memory[M_FIRST_F] = t
        arm_if_ready(t, outputs, discrete_state, event_memory, plant, tables)
    elif which == G_IGNITABLE:
        discrete_state[D_ARMED] = 1
        event_memory[M_LIGHT_PLANNED] = t + plant.ignition.delay
        light_if_due(t, discrete_state, event_memory)
    elif which == G_SETTLED:
        discrete_state[D_SETTLED] = 1
    else:
        discrete_state[D_ALLOWABLE] = 1
        event_memory[M_ALLOWABLE] = t
    return 0


@bare_kernel
def may_settle(discrete_state, plant):
    """Whether only gas, flows and time stand between this run and its end: nothing known to come, sleeve at rest, command off."""
    if plant.instants.settle == 0 or discrete_state[D_TARGET] < plant.instants.targets.count or discrete_state[D_ON] != 0:
        return False
    if discrete_state[D_LIT] == 0 and discrete_state[D_ARMED] != 0 and discrete_state[D_BRANCH] == 0:
        return False
    return discrete_state[D_MODE] != SLIDING_UP and discrete_state[D_MODE] != SLIDING_DOWN


@bare_kernel
def unsettled(discrete_state, event_memory, outputs, plant):
    """How far gas and flows are from settled behind a sleeve at rest, -; <= 0 where they are.

    Settled: tube, lift chamber and, where the sleeve is seated, combustion chamber within 2 % of ambient, and then also the flows
    into the chamber below their `last` level.
    """
    most = max(outputs[S_LIFT_P], outputs[S_TUBE_P])
    flows = -1.0
    if discrete_state[D_MODE] == SEATED:
        if plant.chamber.hot != 0:
            most = max(most, outputs[S_CHAMBER_P])
        if plant.oxidizer.present != 0:
            flows = max(
                (outputs[S_OXIDIZER] - event_memory[M_LEVEL_O]) / event_memory[M_REFERENCE_O],
                (outputs[S_FUEL] - event_memory[M_LEVEL_F]) / event_memory[M_REFERENCE_F],
            )
    return max(most / plant.ambient_pressure - (1.0 + SETTLED_GAS), flows)


@bare_kernel
def rest_due(discrete_state, event_memory, plant):
    """Instant from which a sleeve at rest has been watched for long enough, s: on its seat or away from it."""
    wait = plant.instants.settle_time
    if discrete_state[D_MODE] != SEATED:
        wait = max(STANDSTILL, wait)
    return event_memory[M_LAST_CHANGE] + wait


@bare_kernel
def artificial_damping_due(discrete_state, event_memory, plant):
    """Instant at which the ringing lines of a valve closed for good are to be damped, s; inf where they are not.

    Two periods of their free oscillation (at least 5 ms) after the last change of mode; a run with a given end computes the
    ringing to that end.
    """
    if (
        plant.oxidizer.present == 0
        or discrete_state[D_DAMPED] != 0
        or discrete_state[D_MODE] != SEATED
        or not may_settle(discrete_state, plant)
    ):
        return np.inf
    return max(event_memory[M_LAST_CHANGE], event_memory[M_DAMPING]) + plant.instants.settle_time


@bare_kernel
def damp_artificially(t, discrete_state, event_memory, plant):
    """Damp the lines critically from their due instant on; where a cavity is open then, watch two periods more.

    What they ring on with is lower than what has been, and nothing depends on it. Leaving the seat ends the damping.
    """
    if artificial_damping_due(discrete_state, event_memory, plant) <= t:
        if discrete_state[D_CAVITY_O] == 0 and discrete_state[D_CAVITY_F] == 0:
            discrete_state[D_DAMPED] = 1
        else:
            event_memory[M_DAMPING] = t


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
    if may_settle(discrete_state, plant):
        for due in (artificial_damping_due(discrete_state, event_memory, plant), rest_due(discrete_state, event_memory, plant)):
            if due > t and due < following:
                following = due
    return following


@bare_kernel
def command_edge(t, y, discrete_state, event_memory, outputs, turn_on, plant):
    """Take note of an on or off command."""
    if turn_on:
        first = discrete_state[D_COMMANDED] == 0
        discrete_state[D_COMMANDED] = 1
        discrete_state[D_ON] = 1
        discrete_state[D_CONTACT] = 0
        if discrete_state[D_MODE] != SEATED:
            leave_seat(y, discrete_state, plant)
        if first and plant.oxidizer.present != 0:
            if outputs[S_OXIDIZER] >= event_memory[M_LEVEL_O]:
                discrete_state[D_FIRST_O] = 1
                event_memory[M_FIRST_O] = t
            if outputs[S_FUEL] >= event_memory[M_LEVEL_F]:
                discrete_state[D_FIRST_F] = 1
                event_memory[M_FIRST_F] = t
    else:
        discrete_state[D_ON] = 0
        if discrete_state[D_MODE] == SEATED:
            discrete_state[D_CONTACT] = 1


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
    discrete_state[D_OXIDIZER] = table_segment(t, tables, plant.oxidizer.table.start, plant.oxidizer.table.count)
    discrete_state[D_FUEL] = table_segment(t, tables, plant.fuel.table.start, plant.fuel.table.count)
    dy, outputs = scratch_views(y, scratch)
    if rhs(t, y, discrete_state, event_memory, par, dy, outputs) != 0:
        return 1
    edges = plant.instants.edges
    for i in range(edges.count):
        if tables[edges.start + 2 * i] == t:
            command_edge(t, y, discrete_state, event_memory, outputs, tables[edges.start + 2 * i + 1] > 0.5, plant)
    arm_if_ready(t, outputs, discrete_state, event_memory, plant, tables)
    damp_artificially(t, discrete_state, event_memory, plant)
    return (
        1 if discrete_state[D_TARGET] + discrete_state[D_LIT] + discrete_state[D_ARMED] + discrete_state[D_DAMPED] > before else 0
    )


@bare_kernel
def finished(t, y, discrete_state, event_memory, par, outputs):
    """Whether the run is over: closed and settled, or standing still for good with all gas vented (MODEL.md, section 2).

    Closed and settled: no time event left, command off, seated, gas and flows settled (`unsettled`), and two periods of the
    lines' free oscillation (at least 5 ms) gone by. All of these come to pass at instants a step ends at.
    """
    plant, tables, gas, scratch = par
    if discrete_state[D_BRANCH] != 0 and discrete_state[D_ALLOWABLE] != 0:
        return True
    if not may_settle(discrete_state, plant) or unsettled(discrete_state, event_memory, outputs, plant) > LEAST_UNSETTLED:
        return False
    return t >= rest_due(discrete_state, event_memory, plant)
