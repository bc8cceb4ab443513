"""When a run without a given end is over.

    closed and settled     nothing known to come, command off, sleeve at rest, gas vented, flows ended (`unsettled`)
    at rest for good       nothing known to come, sleeve at rest, gas and pools standing still, no guard near (`restless`)

Both are guards, so that the end is located and does not hang on the steps; what neither ends is cut at the horizon.
"""

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.physics.friction import breakaway_force
from sleevelift.plant.ignition import flows_left
from sleevelift.plant.params import LIFT
from sleevelift.plant.rhs import rhs
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

SETTLED_GAS = 0.02
"""-. Lift chamber and combustion chamber within this share of ambient count as vented."""
STANDSTILL = 0.05
"""s. A sleeve that has stood still this long away from its seat, all gas vented, will not move any more."""
LEAST_UNSETTLED = 1e-9
"""-. What `unsettled` may be by rounding where it has been found to pass zero."""
STILL, STILL_FOR = 1e-3, 60.0
"""-, s. What would change by less than this share in so long, at its present rate, stands still."""
NEAR = 0.01
"""-. A guard of the mode within this share of the forces on the sleeve may still fire."""
HEAT_CAPACITIES = 2.5
"""-. u of a gas over p/rho, about: the size a change of internal energy is measured by (its zero is arbitrary)."""


@bare_kernel
def resting(discrete_state, plant):
    """Whether only gas, flows and time stand between this run and its end: nothing known to come, sleeve at rest."""
    if plant.instants.settle == 0 or discrete_state[D_TARGET] < plant.instants.targets.count:
        return False
    if discrete_state[D_LIT] == 0 and discrete_state[D_ARMED] != 0 and discrete_state[D_BRANCH] == 0:
        return False
    return discrete_state[D_MODE] != SLIDING_UP and discrete_state[D_MODE] != SLIDING_DOWN


@bare_kernel
def may_settle(discrete_state, plant):
    """Whether a run may be closed and settled: at rest with the command off."""
    return discrete_state[D_ON] == 0 and resting(discrete_state, plant)


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
        if plant.liquids.lines != 0:
            flows = flows_left(outputs, event_memory)
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
        plant.liquids.lines == 0
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
        open_cavities = 0
        for slot in range(plant.liquids.volumes):
            open_cavities += discrete_state[D_CAVITY_O + slot]
        if open_cavities == 0:
            discrete_state[D_DAMPED] = 1
        else:
            event_memory[M_DAMPING] = t


@bare_kernel
def nearness(discrete_state, outputs, plant):
    """How near a guard of a sleeve at rest is to firing, -: > 0 within 1 % of the forces on it."""
    limit = breakaway_force(outputs[S_RUN], plant.friction.ratio)
    net = outputs[S_NET]
    left = limit + net
    if discrete_state[D_MODE] == SEATED:
        left = limit - net
    elif discrete_state[D_MODE] == STUCK:
        left = limit - abs(net)
    return NEAR - left / (plant.sleeve.preload + limit)


@bare_kernel
def change(rate, content):
    """How much more than still a content is, -; <= 0 where it stands still."""
    return abs(rate) * STILL_FOR / (STILL * max(content, 1e-300)) - 1.0


@bare_kernel
def node_change(place, p, volume, y, dy):
    """`change` of a gas node, mass and energy."""
    return max(change(dy[place], y[place]), change(dy[place + 1], HEAT_CAPACITIES * p * volume))


@bare_kernel
def purge_change(y, dy, plant):
    """`change` of gas and liquid in the manifolds that have gas, against what the manifold holds of each at ambient."""
    most = -1.0
    for side in range(plant.liquids.lines):
        gas = plant.gases[side]
        if gas.present != 0:
            volume = plant.liquids.size[side]
            full = plant.ambient_pressure * volume / gas.rt
            most = max(most, change(dy[gas.place], max(y[gas.place], full)))
            most = max(most, change(dy[plant.liquids.place[side]], volume))
    return most


@bare_kernel
def restless(t, y, discrete_state, event_memory, par, outputs):
    """How far a run whose sleeve is at rest is from standing still for good, -; <= 0 where it does.

    Still: each gas node, liquid in the lift chamber (against its volume), gas and liquid of a manifold that has both, the lit
    chamber and the pool that may yet reach the allowable pressure change by less than 0.1 % in a minute at their present rate, and
    no guard of the mode is within 1 % of firing.
    """
    plant, tables, gas, scratch = par
    most = nearness(discrete_state, outputs, plant)
    if most > 0.0:
        return most
    index = plant.index
    n = y.shape[0]
    dy = scratch[:n]
    if rhs(t, y, discrete_state, event_memory, par, dy, scratch[:0]) != 0:
        return 1.0
    nodes = plant.nodes
    for k in range(nodes.count):
        most = max(most, node_change(nodes.mass[k], outputs[nodes.signal[k]], nodes.volume[k], y, dy))
    if plant.rod.present != 0:
        most = max(most, change(dy[index.lift_liquid], nodes.volume[LIFT]))
    if plant.gas_manifolds != 0:
        most = max(most, purge_change(y, dy, plant))
    if plant.chamber.hot == 0:
        return most
    if discrete_state[D_LIT] != 0:
        return max(most, change(dy[index.chamber], y[index.chamber]))
    reached = discrete_state[D_FIRST_O] == ARRIVED and discrete_state[D_FIRST_F] == ARRIVED
    if reached and discrete_state[D_ALLOWABLE] == 0 and plant.chamber.allowable < 1e300:
        pool = y[index.unburned_oxidizer] + y[index.unburned_fuel]
        most = max(most, change(dy[index.unburned_oxidizer] + dy[index.unburned_fuel], pool))
    return most


@bare_kernel
def finished(t, y, discrete_state, event_memory, par, outputs):
    """Whether the run is over: closed and settled, or at rest for good (MODEL.md, section 2).

    What stands before a run ends when the sleeve lifts, or at rest for good. Both are watched for two periods of the lines' free
    oscillation (at least 5 ms), and come to pass at instants a step ends at.
    """
    plant, tables, gas, scratch = par
    if discrete_state[D_STANDING] != 0:
        return discrete_state[D_MODE] != SEATED or restless(t, y, discrete_state, event_memory, par, outputs) <= 0.0
    if discrete_state[D_BRANCH] != 0 and discrete_state[D_ALLOWABLE] != 0:
        return True
    if not resting(discrete_state, plant) or t < rest_due(discrete_state, event_memory, plant):
        return False
    if discrete_state[D_QUIET] != 0:
        return True
    return discrete_state[D_ON] == 0 and unsettled(discrete_state, event_memory, outputs, plant) <= LEAST_UNSETTLED
