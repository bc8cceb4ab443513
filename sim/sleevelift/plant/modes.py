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
unlit pool reaches the allowable pressure; gas and flows settle behind a sleeve at rest. Known instants (commands, valve knots,
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
def flow_ratio(sig):
    """Mixture ratio O/F of the flows into the chamber."""
    if sig[S_FUEL] <= 0.0:
        return NEVER_IGNITABLE
    return max(sig[S_OXIDIZER], 0.0) / sig[S_FUEL]


@bare_kernel
def outside_ignitable(sig, ignition):
    """How far the flows' mixture is outside the ignitable range, -; <= 0 inside."""
    ratio = flow_ratio(sig)
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
def waits_for_mixture(t, disc, plant, tables):
    """Whether only the mixture of the flows still keeps the ignition delay from starting."""
    return (
        plant.chamber.hot != 0
        and plant.ignition.possible != 0
        and not (plant.ignition.given == plant.ignition.given)
        and disc[D_ARMED] == 0
        and disc[D_LIT] == 0
        and disc[D_FIRST_O] != 0
        and disc[D_FIRST_F] != 0
        and igniter_burns(t, plant.ignition, tables)
    )


@bare_kernel
def arm_if_ready(t, sig, disc, memo, plant, tables):
    """Start the ignition delay if igniter, both propellants and mixture are there at t."""
    if waits_for_mixture(t, disc, plant, tables) and outside_ignitable(sig, plant.ignition) <= 0.0:
        disc[D_ARMED] = 1
        memo[M_LIGHT_PLANNED] = t + plant.ignition.delay
    light_if_due(t, disc, memo)


@bare_kernel
def light_if_due(t, disc, memo):
    """Light the chamber where its instant has come (a side run never lights)."""
    if disc[D_LIT] == 0 and disc[D_BRANCH] == 0 and memo[M_LIGHT_PLANNED] <= t:
        disc[D_LIT] = 1
        memo[M_LIGHT] = t


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
def mode_guards(y, disc, sig, plant, g):
    """The two guards of the sleeve's mode."""
    mode = disc[D_MODE]
    x = y[plant.index.lift_height]
    v = y[plant.index.speed]
    limit = breakaway_force(sig[S_RUN], plant.friction.ratio)
    if mode == SEATED:
        g[G_MODE_A] = limit - sig[S_NET]
    elif mode == STUCK:
        held = (1.0 + STUCK_SLACK) * limit + LEAST_SLACK * plant.sleeve.preload
        g[G_MODE_A] = held - sig[S_NET]
        g[G_MODE_B] = held + sig[S_NET]
    elif mode == SLIDING_UP:
        g[G_MODE_A] = v + TURNING_SPEED
        g[G_MODE_B] = plant.sleeve.stroke - x
    elif mode == SLIDING_DOWN:
        g[G_MODE_A] = TURNING_SPEED - v
        g[G_MODE_B] = x
    else:
        g[G_MODE_A] = limit + sig[S_NET]


@bare_kernel
def guards(t, y, disc, memo, par, sig, g):
    """Fill the guards of the current discrete state."""
    plant, tables, gas, scratch = par
    index = plant.index
    for i in range(N_GUARD):
        g[i] = 1.0
    mode_guards(y, disc, sig, plant, g)
    if disc[D_SETTLED] == 0 and may_settle(disc, plant):
        g[G_SETTLED] = unsettled(disc, memo, sig, plant)
    if plant.oxidizer.present == 0:
        return
    if plant.oxidizer.pocket <= 0.0:
        z = y[index.oxidizer_volume] / plant.oxidizer.volume
        g[G_CAVITY_O] = z if disc[D_CAVITY_O] == 0 else -z
    if plant.fuel.pocket <= 0.0:
        z = y[index.fuel_volume] / plant.fuel.volume
        g[G_CAVITY_F] = z if disc[D_CAVITY_F] == 0 else -z
    if plant.oxidizer.passage_mass > 0.0 and disc[D_PASSAGE_O] == FILLING:
        g[G_PASSAGE_O] = 1.0 - y[index.passage_oxidizer] / plant.oxidizer.passage_mass
    if plant.fuel.passage_mass > 0.0 and disc[D_PASSAGE_F] == FILLING:
        g[G_PASSAGE_F] = 1.0 - y[index.passage_fuel] / plant.fuel.passage_mass
    if disc[D_COMMANDED] != 0:
        if disc[D_FIRST_O] == 0:
            g[G_FIRST_O] = (memo[M_LEVEL_O] - sig[S_OXIDIZER]) / memo[M_REFERENCE_O]
        if disc[D_FIRST_F] == 0:
            g[G_FIRST_F] = (memo[M_LEVEL_F] - sig[S_FUEL]) / memo[M_REFERENCE_F]
    if waits_for_mixture(t, disc, plant, tables):
        g[G_IGNITABLE] = outside_ignitable(sig, plant.ignition)
    if (
        plant.chamber.hot != 0
        and disc[D_LIT] == 0
        and disc[D_ALLOWABLE] == 0
        and disc[D_FIRST_O] != 0
        and disc[D_FIRST_F] != 0
        and plant.chamber.allowable < 1e300
    ):
        g[G_ALLOWABLE] = 1.0 - pool_pressure(y, plant, tables) / plant.chamber.allowable


@bare_kernel
def start_up(t, disc, memo):
    """Begin to slide up."""
    disc[D_MODE] = SLIDING_UP
    memo[M_LAST_CHANGE] = t


@bare_kernel
def leave_seat(y, disc, plant):
    """A passage that was draining starts to fill, unless this is a rebound or surge after the off command."""
    if disc[D_COMMANDED] != 0 and disc[D_ON] == 0:
        return
    index = plant.index
    if plant.oxidizer.passage_mass > 0.0 and disc[D_PASSAGE_O] == DRAINING:
        disc[D_PASSAGE_O] = FILLING if y[index.passage_oxidizer] < plant.oxidizer.passage_mass else FULL
    if plant.fuel.passage_mass > 0.0 and disc[D_PASSAGE_F] == DRAINING:
        disc[D_PASSAGE_F] = FILLING if y[index.passage_fuel] < plant.fuel.passage_mass else FULL


@bare_kernel
def seat_contact(disc, after):
    """Seat touched: after the off command the passages drain from now on; at rest they drain in any case."""
    if disc[D_ON] == 0 and disc[D_COMMANDED] != 0:
        disc[D_CONTACT] = 1
        disc[D_PASSAGE_O] = DRAINING
        disc[D_PASSAGE_F] = DRAINING
    elif after == 0.0:
        disc[D_PASSAGE_O] = DRAINING
        disc[D_PASSAGE_F] = DRAINING


@bare_kernel
def impact(t, y, disc, memo, sig, plant, at_seat):
    """Impact at seat or stop: rebound, or rest and the mode that the forces then allow."""
    index = plant.index
    sleeve = plant.sleeve
    v = y[index.speed]
    restitution = sleeve.restitution_seat if at_seat else sleeve.restitution_stop
    after = rebound_speed(v, restitution, sleeve.rest_speed)
    memo[M_IMPACT_LOSS] += impact_loss(sleeve.mass, v, after)
    memo[M_LAST_CHANGE] = t
    y[index.speed] = after
    y[index.lift_height] = 0.0 if at_seat else sleeve.stroke
    limit = breakaway_force(sig[S_RUN], plant.friction.ratio)
    if at_seat:
        seat_contact(disc, after)
        if after > 0.0 or sig[S_NET] > limit:
            disc[D_MODE] = SLIDING_UP
            leave_seat(y, disc, plant)
        else:
            disc[D_MODE] = SEATED
    elif after < 0.0 or sig[S_NET] < -limit:
        disc[D_MODE] = SLIDING_DOWN
    else:
        disc[D_MODE] = AT_STOP


@bare_kernel
def turning_point(t, y, disc, memo, sig, plant):
    """The sleeve's speed has reached zero between seat and stop."""
    memo[M_LAST_CHANGE] = t
    y[plant.index.speed] = 0.0
    limit = breakaway_force(sig[S_RUN], plant.friction.ratio)
    up = disc[D_MODE] == SLIDING_UP
    if sticks(sig[S_NET], limit) or (sig[S_NET] > 0.0) == up:
        disc[D_MODE] = STUCK  # a sleeve that was slowed to rest cannot go on the same way: the force has lingered at breakaway
    else:
        disc[D_MODE] = SLIDING_DOWN if up else SLIDING_UP


@bare_kernel
def mode_reset(t, y, disc, memo, sig, plant, which):
    """Jump of a guard of the sleeve's mode."""
    mode = disc[D_MODE]
    disc[D_CALMED] = 0
    disc[D_SETTLED] = 0
    if mode == SEATED:
        start_up(t, disc, memo)
        leave_seat(y, disc, plant)
    elif mode == STUCK:
        disc[D_MODE] = SLIDING_UP if which == G_MODE_A else SLIDING_DOWN
        memo[M_LAST_CHANGE] = t
    elif mode == AT_STOP:
        disc[D_MODE] = SLIDING_DOWN
        memo[M_LAST_CHANGE] = t
    elif which == G_MODE_A:
        turning_point(t, y, disc, memo, sig, plant)
    else:
        impact(t, y, disc, memo, sig, plant, mode == SLIDING_DOWN)


@bare_kernel
def scratch_views(y, scratch):
    """(derivatives, signals) to evaluate a right-hand side into, cut from the lane's scratch."""
    n = y.shape[0]
    return scratch[:n], scratch[n : n + N_SIGNAL]


@bare_kernel
def reset(t, y, disc, memo, par, which):
    """Apply the jump of guard `which`; returns 0, or nonzero where the forces cannot be evaluated."""
    plant, tables, gas, scratch = par
    dy, sig = scratch_views(y, scratch)
    if which <= G_MODE_B or which == G_FIRST_O or which == G_FIRST_F or which == G_IGNITABLE:
        if rhs(t, y, disc, memo, par, dy, sig) != 0:
            return 1
    if which <= G_MODE_B:
        mode_reset(t, y, disc, memo, sig, plant, which)
    elif which == G_CAVITY_O:
        disc[D_CAVITY_O] = 1 - disc[D_CAVITY_O]
        y[plant.index.oxidizer_volume] = 0.0
    elif which == G_CAVITY_F:
        disc[D_CAVITY_F] = 1 - disc[D_CAVITY_F]
        y[plant.index.fuel_volume] = 0.0
    elif which == G_PASSAGE_O:
        disc[D_PASSAGE_O] = FULL
    elif which == G_PASSAGE_F:
        disc[D_PASSAGE_F] = FULL
    elif which == G_FIRST_O:
        disc[D_FIRST_O] = 1
        memo[M_FIRST_O] = t
        arm_if_ready(t, sig, disc, memo, plant, tables)
    elif which == G_FIRST_F:
        disc[D_FIRST_F] = 1
        memo[M_FIRST_F] = t
        arm_if_ready(t, sig, disc, memo, plant, tables)
    elif which == G_IGNITABLE:
        disc[D_ARMED] = 1
        memo[M_LIGHT_PLANNED] = t + plant.ignition.delay
        light_if_due(t, disc, memo)
    elif which == G_SETTLED:
        disc[D_SETTLED] = 1
    else:
        disc[D_ALLOWABLE] = 1
        memo[M_ALLOWABLE] = t
    return 0


@bare_kernel
def may_settle(disc, plant):
    """Whether only gas, flows and time stand between this run and its end: nothing known to come, sleeve at rest, command off."""
    if plant.instants.settle == 0 or disc[D_TARGET] < plant.instants.targets.count or disc[D_ON] != 0:
        return False
    if disc[D_LIT] == 0 and disc[D_ARMED] != 0 and disc[D_BRANCH] == 0:
        return False
    return disc[D_MODE] != SLIDING_UP and disc[D_MODE] != SLIDING_DOWN


@bare_kernel
def unsettled(disc, memo, sig, plant):
    """How far gas and flows are from settled behind a sleeve at rest, -; <= 0 where they are.

    Settled: tube, lift chamber and, where the sleeve is seated, combustion chamber within 2 % of ambient, and then also the flows
    into the chamber below their `last` level.
    """
    most = max(sig[S_LIFT_P], sig[S_TUBE_P])
    flows = -1.0
    if disc[D_MODE] == SEATED:
        if plant.chamber.hot != 0:
            most = max(most, sig[S_CHAMBER_P])
        if plant.oxidizer.present != 0:
            flows = max(
                (sig[S_OXIDIZER] - memo[M_LEVEL_O]) / memo[M_REFERENCE_O], (sig[S_FUEL] - memo[M_LEVEL_F]) / memo[M_REFERENCE_F]
            )
    return max(most / plant.ambient_pressure - (1.0 + SETTLED_GAS), flows)


@bare_kernel
def rest_due(disc, memo, plant):
    """Instant from which a sleeve at rest has been watched for long enough, s: on its seat or away from it."""
    wait = plant.instants.settle_time
    if disc[D_MODE] != SEATED:
        wait = max(STANDSTILL, wait)
    return memo[M_LAST_CHANGE] + wait


@bare_kernel
def calm_due(disc, memo, plant):
    """Instant at which the ringing lines of a valve closed for good are to be calmed, s; inf where they are not.

    Two periods of their free oscillation (at least 5 ms) after the last change of mode; a run with a given end computes the
    ringing to that end.
    """
    if plant.oxidizer.present == 0 or disc[D_CALMED] != 0 or disc[D_MODE] != SEATED or not may_settle(disc, plant):
        return np.inf
    return max(memo[M_LAST_CHANGE], memo[M_CALM]) + plant.instants.settle_time


@bare_kernel
def calm_lines(t, disc, memo, plant):
    """Damp the lines critically from their due instant on; where a cavity is open then, watch two periods more.

    What they ring on with is lower than what has been, and nothing depends on it. Leaving the seat ends the damping.
    """
    if calm_due(disc, memo, plant) <= t:
        if disc[D_CAVITY_O] == 0 and disc[D_CAVITY_F] == 0:
            disc[D_CALMED] = 1
        else:
            memo[M_CALM] = t


@bare_kernel
def next_target(t, disc, memo, par):
    """The next known instant after t, s; inf if none."""
    plant, tables, gas, scratch = par
    following = np.inf
    k = disc[D_TARGET]
    if k < plant.instants.targets.count:
        following = tables[plant.instants.targets.start + k]
    if disc[D_LIT] == 0 and disc[D_BRANCH] == 0:
        light = memo[M_LIGHT_PLANNED]
        if light > t and light < following:
            following = light
    if may_settle(disc, plant):
        for due in (calm_due(disc, memo, plant), rest_due(disc, memo, plant)):
            if due > t and due < following:
                following = due
    return following


@bare_kernel
def command_edge(t, y, disc, memo, sig, turn_on, plant):
    """Take note of an on or off command."""
    if turn_on:
        first = disc[D_COMMANDED] == 0
        disc[D_COMMANDED] = 1
        disc[D_ON] = 1
        disc[D_CONTACT] = 0
        if disc[D_MODE] != SEATED:
            leave_seat(y, disc, plant)
        if first and plant.oxidizer.present != 0:
            if sig[S_OXIDIZER] >= memo[M_LEVEL_O]:
                disc[D_FIRST_O] = 1
                memo[M_FIRST_O] = t
            if sig[S_FUEL] >= memo[M_LEVEL_F]:
                disc[D_FIRST_F] = 1
                memo[M_FIRST_F] = t
    else:
        disc[D_ON] = 0
        if disc[D_MODE] == SEATED:
            disc[D_CONTACT] = 1


@bare_kernel
def at_target(t, y, disc, memo, par):
    """Apply what is known to happen at t: 1 if the derivative may have changed, else 0."""
    plant, tables, gas, scratch = par
    targets = plant.instants.targets
    before = disc[D_TARGET] + disc[D_LIT] + disc[D_ARMED] + disc[D_CALMED]
    while disc[D_TARGET] < targets.count and tables[targets.start + disc[D_TARGET]] <= t:
        disc[D_TARGET] += 1
    valve = plant.gas.valve
    disc[D_VALVE] = table_segment(t, tables, valve.start, valve.count)
    disc[D_SUPPLY] = table_segment(t, tables, plant.supply.table.start, plant.supply.table.count)
    disc[D_OXIDIZER] = table_segment(t, tables, plant.oxidizer.table.start, plant.oxidizer.table.count)
    disc[D_FUEL] = table_segment(t, tables, plant.fuel.table.start, plant.fuel.table.count)
    dy, sig = scratch_views(y, scratch)
    if rhs(t, y, disc, memo, par, dy, sig) != 0:
        return 1
    edges = plant.instants.edges
    for i in range(edges.count):
        if tables[edges.start + 2 * i] == t:
            command_edge(t, y, disc, memo, sig, tables[edges.start + 2 * i + 1] > 0.5, plant)
    arm_if_ready(t, sig, disc, memo, plant, tables)
    calm_lines(t, disc, memo, plant)
    return 1 if disc[D_TARGET] + disc[D_LIT] + disc[D_ARMED] + disc[D_CALMED] > before else 0


@bare_kernel
def finished(t, y, disc, memo, par, sig):
    """Whether the run is over: closed and settled, or standing still for good with all gas vented (MODEL.md, section 2).

    Closed and settled: no known instant left, command off, seated, gas and flows settled (`unsettled`), and two periods of the
    lines' free oscillation (at least 5 ms) gone by. All of these come to pass at instants a step ends at.
    """
    plant, tables, gas, scratch = par
    if disc[D_BRANCH] != 0 and disc[D_ALLOWABLE] != 0:
        return True
    if not may_settle(disc, plant) or unsettled(disc, memo, sig, plant) > LEAST_UNSETTLED:
        return False
    return t >= rest_due(disc, memo, plant)
