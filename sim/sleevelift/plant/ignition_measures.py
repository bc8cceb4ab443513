"""Measures of light-off, of what lies unburned, and of gas that flows into the chamber without burning, of one pulse."""

from typing import NamedTuple

from sleevelift.jit import bare_kernel
from sleevelift.physics.combustion import hard_start_pressure
from sleevelift.plant.crossings import point_before
from sleevelift.plant.names import PLACE
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

P_BOTH_IN_CHAMBER = PLACE["both_in_chamber"]
P_CHAMBER_PURGE_USED = PLACE["chamber_purge_used"]
P_HARD_START_PRESSURE = PLACE["hard_start_pressure"]
P_LATEST_LIGHT_OFF = PLACE["latest_light_off"]
P_LIGHT_OFF = PLACE["light_off"]
P_LIGHT_OFF_LAG = PLACE["light_off_lag"]
P_POOLED_BEFORE_COMMAND = PLACE["pooled_before_command"]
P_POOLED_FUEL = PLACE["pooled_fuel"]
P_POOLED_OXIDIZER = PLACE["pooled_oxidizer"]
P_POOL_SWEPT = PLACE["pool_swept"]
P_STEADY_CHAMBER_PRESSURE = PLACE["steady_chamber_pressure"]
P_UNBURNED_FUEL_AT_COMMAND = PLACE["unburned_fuel_at_command"]
P_UNBURNED_OXIDIZER_AT_COMMAND = PLACE["unburned_oxidizer_at_command"]

ON = 0
"""Of a pulse, see `params.INSTANTS`."""


class Pool(NamedTuple):
    """What lights a pulse, and what lies unburned."""

    light: float
    """s, its first light-off; nan: none"""
    leaked: float
    """kg, what leaked apart from the pool before its command"""
    latest: float
    """s, latest light-off, from the side run that is never lit"""


@bare_kernel
def ignition_measures(out, pulse, off, pool, trajectory, event_memory, par):
    """Light-off, pool and hard-start estimate."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    plant, tables, gas, scratch = par
    c = plant.chamber
    if c.hot == 0:
        return
    i_o = plant.index.unburned_oxidizer
    i_f = plant.index.unburned_fuel
    begins_lit = t[0] > 0.0 and discrete_state[0, D_LIT] != 0
    light = pool.light
    out[P_POOLED_BEFORE_COMMAND] = pool.leaked
    out[P_LIGHT_OFF] = light
    out[P_LIGHT_OFF_LAG] = light - out[P_BOTH_IN_CHAMBER]
    k = count - 1
    if happened(light):
        k = point_before(light, trajectory)
    if happened(light) or not begins_lit:
        pool_o = max(ys[k, i_o], 0.0)
        pool_f = max(ys[k, i_f], 0.0)
        out[P_POOLED_OXIDIZER] = pool_o
        out[P_POOLED_FUEL] = pool_f
        arrived = discrete_state[k, D_FIRST_O] == ARRIVED and discrete_state[k, D_FIRST_F] == ARRIVED
        if happened(light) and (arrived or out[P_BOTH_IN_CHAMBER] <= light):
            out[P_HARD_START_PRESSURE] = hard_start_pressure(
                pool_o, pool_f, c.volume, plant.ambient_pressure, tables, c.ideal_curve.start, c.ideal_curve.count
            )
    out[P_LATEST_LIGHT_OFF] = pool.latest
    if happened(pulse[ON]):
        out[P_STEADY_CHAMBER_PRESSURE] = stored_outputs[point_before(off, trajectory), S_CHAMBER_P]
        at = point_before(pulse[ON], trajectory)
        while at + 1 < count and t[at + 1] == pulse[ON]:  # with what the command brought into the pool
            at += 1
        out[P_UNBURNED_OXIDIZER_AT_COMMAND] = max(ys[at, i_o], 0.0)
        out[P_UNBURNED_FUEL_AT_COMMAND] = max(ys[at, i_f], 0.0)


@bare_kernel
def inflow_measures(out, trajectory, plant):
    """Gas that the chamber's purge let in during the pulse, and unburned propellant that gas carried out with it."""
    ys = trajectory[1]
    if plant.inflow.present == 0:
        return
    end = trajectory[5] - 1
    ledger = plant.index.inflow
    if plant.purge.area > 0.0:
        out[P_CHAMBER_PURGE_USED] = ys[end, ledger + B_CHAMBER_PURGE] - ys[0, ledger + B_CHAMBER_PURGE]
    out[P_POOL_SWEPT] = 0.0
    for side in range(2):
        out[P_POOL_SWEPT] += ys[end, ledger + B_SWEPT_O + side] - ys[0, ledger + B_SWEPT_O + side]
