"""Measures of the flows, and every measure that is an extreme, as rows: crossings of levels and extremes of quantities.

Each row's numbers are data, not arguments: written as literals each would be a compilation of its own.
"""

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.physics.run_valve import shuts_after
from sleevelift.plant.crossings import FIRST_RISE, LAST_FALL, LAST_RISE, crossing, crossing_in_step, greatest, point_before
from sleevelift.plant.liquid_side import gap_effective_area, slot_effective_area
from sleevelift.plant.names import PLACE
from sleevelift.plant.quantities import ALWAYS, BOTH_FLOW, COLDEST, FUEL_AREA, ON_SEAT, RATIO, SURGE, WHILE_LIT, fuel_area
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

FULL_FLOW, RAMP_FROM, RAMP_TO = 0.95, 0.10, 0.90
"""-. Shares of the steady flow, or of the area at full lift."""

P_BOTH_IN_CHAMBER = PLACE["both_in_chamber"]
P_CLOSED_LEAK_OXIDIZER = PLACE["closed_leak_oxidizer"]
P_CLOSED_LEAK_FUEL = PLACE["closed_leak_fuel"]
P_FIRST_FUEL = PLACE["first_fuel"]
P_FIRST_OXIDIZER = PLACE["first_oxidizer"]
P_FLOW_RAMP_TIME_FUEL = PLACE["flow_ramp_time_fuel"]
P_FLOW_RAMP_TIME_OXIDIZER = PLACE["flow_ramp_time_oxidizer"]
P_FULL_FUEL = PLACE["full_fuel"]
P_FULL_OXIDIZER = PLACE["full_oxidizer"]
P_LAST_FUEL = PLACE["last_fuel"]
P_LAST_OXIDIZER = PLACE["last_oxidizer"]
P_LOWEST_GAS_TEMPERATURE = PLACE["lowest_gas_temperature"]
P_MIXTURE_RATIO_MAX = PLACE["mixture_ratio_max"]
P_MIXTURE_RATIO_MIN = PLACE["mixture_ratio_min"]
P_OXIDIZER_LEAD = PLACE["oxidizer_lead"]
P_PEAK_AHEAD_FUEL_VALVE = PLACE["peak_ahead_fuel_valve"]
P_PEAK_AHEAD_OXIDIZER_VALVE = PLACE["peak_ahead_oxidizer_valve"]
P_PEAK_CHAMBER_PRESSURE = PLACE["peak_chamber_pressure"]
P_PEAK_FUEL_MANIFOLD = PLACE["peak_fuel_manifold"]
P_PEAK_OXIDIZER_MANIFOLD = PLACE["peak_oxidizer_manifold"]
P_PEAK_LIFT_CHAMBER_PRESSURE = PLACE["peak_lift_chamber_pressure"]
P_PEAK_SPRING_SIDE_PRESSURE = PLACE["peak_spring_side_pressure"]
P_PEAK_SUPPLY_PRESSURE = PLACE["peak_supply_pressure"]
P_PEAK_TUBE_PRESSURE = PLACE["peak_tube_pressure"]
P_RAMP_TIME_FUEL = PLACE["ramp_time_fuel"]
P_RAMP_TIME_OXIDIZER = PLACE["ramp_time_oxidizer"]
P_REVERSE_FUEL_FLOW = PLACE["reverse_fuel_flow"]
P_REVERSE_OXIDIZER_FLOW = PLACE["reverse_oxidizer_flow"]
P_SHUTDOWN_OXIDIZER_LAG = PLACE["shutdown_oxidizer_lag"]
P_STEADY_FUEL_FLOW = PLACE["steady_fuel_flow"]
P_STEADY_OXIDIZER_FLOW = PLACE["steady_oxidizer_flow"]
P_SURGE_MARGIN = PLACE["surge_margin"]
P_SURGE_TIME = PLACE["surge_time"]

EVERY_CASE, WET, HOT_CASE, OXIDIZER_VALVE, FUEL_VALVE = range(5)
"""Which cases a row is for."""
WHOLE_RUN, COMMANDED = 0, 1
"""Window of a row: the pulse; from the on command to the off command that counts."""
NOWHERE = -1
"""No measure."""
EXTREMES = np.array(
    [
        (P_PEAK_OXIDIZER_MANIFOLD, NOWHERE, S_OXIDIZER_P, 1, ALWAYS, WET, WHOLE_RUN),
        (P_PEAK_FUEL_MANIFOLD, NOWHERE, S_FUEL_P, 1, ALWAYS, WET, WHOLE_RUN),
        (P_PEAK_AHEAD_OXIDIZER_VALVE, NOWHERE, S_OXIDIZER_AHEAD_P, 1, ALWAYS, OXIDIZER_VALVE, WHOLE_RUN),
        (P_PEAK_AHEAD_FUEL_VALVE, NOWHERE, S_FUEL_AHEAD_P, 1, ALWAYS, FUEL_VALVE, WHOLE_RUN),
        (P_PEAK_CHAMBER_PRESSURE, NOWHERE, S_CHAMBER_P, 1, ALWAYS, HOT_CASE, WHOLE_RUN),
        (P_REVERSE_OXIDIZER_FLOW, NOWHERE, S_OXIDIZER_INJECTOR, -1, WHILE_LIT, HOT_CASE, WHOLE_RUN),
        (P_REVERSE_FUEL_FLOW, NOWHERE, S_FUEL_INJECTOR, -1, WHILE_LIT, HOT_CASE, WHOLE_RUN),
        (P_PEAK_SUPPLY_PRESSURE, NOWHERE, S_SUPPLY_P, 1, ALWAYS, EVERY_CASE, WHOLE_RUN),
        (P_PEAK_TUBE_PRESSURE, NOWHERE, S_TUBE_P, 1, ALWAYS, EVERY_CASE, WHOLE_RUN),
        (P_PEAK_LIFT_CHAMBER_PRESSURE, NOWHERE, S_LIFT_P, 1, ALWAYS, EVERY_CASE, WHOLE_RUN),
        (P_PEAK_SPRING_SIDE_PRESSURE, NOWHERE, S_SPRING_P, 1, ALWAYS, EVERY_CASE, WHOLE_RUN),
        (P_LOWEST_GAS_TEMPERATURE, NOWHERE, COLDEST, -1, ALWAYS, EVERY_CASE, WHOLE_RUN),
        (P_SURGE_MARGIN, P_SURGE_TIME, SURGE, -1, ON_SEAT, EVERY_CASE, WHOLE_RUN),
        (P_MIXTURE_RATIO_MAX, NOWHERE, RATIO, 1, BOTH_FLOW, WET, COMMANDED),
        (P_MIXTURE_RATIO_MIN, NOWHERE, RATIO, -1, BOTH_FLOW, WET, COMMANDED),
    ],
    dtype=np.int64,
)
"""Measures that are extremes: measure, measure of its instant, quantity, 1 greatest or -1 least, when it counts, cases, window."""

FULL, FLOW_RAMP, AREA_RAMP, LAST = range(4)
"""Rows of `INSTANTS_OF_A_SIDE`."""
INSTANTS_OF_A_SIDE = np.array(
    [
        (P_FULL_OXIDIZER, P_FULL_FUEL, S_OXIDIZER, S_FUEL),
        (P_FLOW_RAMP_TIME_OXIDIZER, P_FLOW_RAMP_TIME_FUEL, S_OXIDIZER, S_FUEL),
        (P_RAMP_TIME_OXIDIZER, P_RAMP_TIME_FUEL, S_SLOT, FUEL_AREA),
        (P_LAST_OXIDIZER, P_LAST_FUEL, S_OXIDIZER, S_FUEL),
    ],
    dtype=np.int64,
)
"""Measure of the oxidizer's side, of the fuel's, and the quantities that cross a level."""
ARRIVALS = np.array([(D_FIRST_O, S_OXIDIZER), (D_FIRST_F, S_FUEL)], dtype=np.int64)
"""Flag that a propellant has come, and its flow."""
CROSSINGS = np.array([FIRST_RISE, LAST_RISE, LAST_FALL], dtype=np.int64)
"""Kinds of crossing, as data."""


@bare_kernel
def rises(flag, trajectory):
    """Instant, s, at which a flag of the discrete state comes up to 1; nan if it does not. Up at the run's start counts."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    if t[0] == 0.0 and discrete_state[0, flag] == 1:
        return 0.0
    for k in range(1, count):
        if discrete_state[k, flag] == 1 and discrete_state[k - 1, flag] != 1:
            return t[k]
    return np.nan


@bare_kernel
def arrival(flag, signal, level, start, trajectory, event_memory, par):
    """Instant, s, at which a propellant enters the chamber after the command `start`; nan if it does not.

    Its event; where it had come in an earlier pulse and is remembered, the flow's own rise.
    """
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    if t[0] > 0.0 and discrete_state[0, flag] == ARRIVED:
        return crossing(CROSSINGS[FIRST_RISE], signal, level, start, np.inf, trajectory, event_memory, par)
    return rises(flag, trajectory)


@bare_kernel
def extremes(out, start, off, trajectory, event_memory, par):
    """The measures of `EXTREMES`; `start` and `off`: ends of the window COMMANDED, s."""
    plant = par[0]
    for i in range(EXTREMES.shape[0]):
        if EXTREMES[i, 5] != EVERY_CASE and plant.liquids.lines == 0:
            continue
        if EXTREMES[i, 5] == HOT_CASE and plant.chamber.hot == 0:
            continue
        if EXTREMES[i, 5] >= OXIDIZER_VALVE and not plant.lines[EXTREMES[i, 5] - OXIDIZER_VALVE].valve_area > 0.0:
            continue
        begin = 0.0
        end = np.inf
        if EXTREMES[i, 6] == COMMANDED:
            begin = start
            end = off
            if not happened(start):
                continue
        sign = float(EXTREMES[i, 3])
        value, instant = greatest(EXTREMES[i, 2], sign, EXTREMES[i, 4], begin, end, trajectory, event_memory, par)
        out[EXTREMES[i, 0]] = sign * value
        if EXTREMES[i, 4] == WHILE_LIT and happened(value):
            out[EXTREMES[i, 0]] = max(value, 0.0)  # how far the flow went below zero
        if EXTREMES[i, 1] != NOWHERE:
            out[EXTREMES[i, 1]] = instant


@bare_kernel
def ramp_time(which, whole, start, end, trajectory, event_memory, par):
    """Time a quantity takes from its first rise to 10 % of `whole` to its last through 90 % in [start, end], s; nan if never."""
    begin = crossing(CROSSINGS[FIRST_RISE], which, RAMP_FROM * whole, start, end, trajectory, event_memory, par)
    return crossing(CROSSINGS[LAST_RISE], which, RAMP_TO * whole, start, end, trajectory, event_memory, par) - begin


@bare_kernel
def full_lift_area(side, plant, tables):
    """Effective flow area of a side at full lift, m2: slots; seat gap and annulus in series."""
    stroke = plant.sleeve.stroke
    if side == 0:
        return slot_effective_area(stroke, plant.slots, tables)
    return fuel_area(gap_effective_area(stroke, plant.seat, tables), plant.seat.annulus)


@bare_kernel
def lingers_from(flag, trajectory):
    """Place of the point at which a flow, below its level, begins to linger and does not arrive again; -1: it does not linger."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    found = -1
    for k in range(1, count):
        if discrete_state[k, flag] == LINGERING and discrete_state[k - 1, flag] != LINGERING:
            found = k - 1
            while found > 0 and t[found - 1] == t[k]:
                found -= 1
        elif discrete_state[k, flag] == ARRIVED:
            found = -1
    return found


@bare_kernel
def last_fall(side, flow, level, start, trajectory, event_memory, par):
    """Instant, s, from `start` on at which a flow falls below its level for good, what lingers counted as below; nan: never."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    k = lingers_from(ARRIVALS[side, 0], trajectory)
    if k < 1:
        return crossing(CROSSINGS[LAST_FALL], flow, level, start, np.inf, trajectory, event_memory, par)
    if stored_outputs[k - 1, flow] < level:
        return crossing(CROSSINGS[LAST_FALL], flow, level, start, t[k - 1], trajectory, event_memory, par)
    always = CROSSINGS[LAST_FALL] - CROSSINGS[LAST_FALL]
    found = crossing_in_step(k, 0.0, 1.0, False, True, flow, level, always, trajectory, event_memory, par)
    return found if happened(found) else t[k]


@bare_kernel
def side_measures(out, side, steady, start, off, last_off, trajectory, event_memory, par):
    """Full-flow instant, ramp times and last instant of one propellant (side 0 oxidizer, 1 fuel).

    steady: its flow just before `off`, kg/s; start, off: the on command and the off command that ends the flow's rise, last_off:
    the one from which the flow's end counts, s.
    """
    plant = par[0]
    level = event_memory[M_LEVEL_F] if side else event_memory[M_LEVEL_O]
    flow = INSTANTS_OF_A_SIDE[FULL, 2 + side]
    if steady > level:
        out[INSTANTS_OF_A_SIDE[FULL, side]] = crossing(
            CROSSINGS[LAST_RISE], flow, FULL_FLOW * steady, start, off, trajectory, event_memory, par
        )
        out[INSTANTS_OF_A_SIDE[FLOW_RAMP, side]] = ramp_time(flow, steady, start, off, trajectory, event_memory, par)
    area = full_lift_area(side, plant, par[1])
    if area > 0.0:
        out[INSTANTS_OF_A_SIDE[AREA_RAMP, side]] = ramp_time(
            INSTANTS_OF_A_SIDE[AREA_RAMP, 2 + side], area, start, off, trajectory, event_memory, par
        )
    if happened(last_off):
        out[INSTANTS_OF_A_SIDE[LAST, side]] = last_fall(side, flow, level, last_off, trajectory, event_memory, par)


@bare_kernel
def shuts(side, start, plant, tables):
    """First instant, s, from `start` on at which a side's run valve begins to shut; inf where it does not, or there is none."""
    line = plant.lines[side]
    if not line.valve_area > 0.0 or not happened(start):
        return np.inf
    return shuts_after(start, tables, line.valve.start, line.valve.count)


@bare_kernel
def first_shut(start, until, plant, tables):
    """First instant, s, in a pulse at which a run valve begins to shut; inf where none does."""
    first = np.inf
    for side in range(plant.liquids.lines):
        first = min(first, shuts(side, start, plant, tables))
    return first if first < until else np.inf


@bare_kernel
def flow_measures(out, pulse, off, trajectory, event_memory, par):
    """Everything about the two flows of a pulse (on, off, ...) but their extremes; nothing in a dry case."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    plant = par[0]
    if plant.liquids.lines == 0:
        return
    start = pulse[0]
    out[P_CLOSED_LEAK_OXIDIZER] = event_memory[M_LEAK_O]
    out[P_CLOSED_LEAK_FUEL] = event_memory[M_LEAK_F]
    first_o = arrival(ARRIVALS[0, 0], ARRIVALS[0, 1], event_memory[M_LEVEL_O], start, trajectory, event_memory, par)
    first_f = arrival(ARRIVALS[1, 0], ARRIVALS[1, 1], event_memory[M_LEVEL_F], start, trajectory, event_memory, par)
    out[P_FIRST_OXIDIZER] = first_o
    out[P_FIRST_FUEL] = first_f
    out[P_OXIDIZER_LEAD] = first_f - first_o
    if happened(first_o) and happened(first_f):
        out[P_BOTH_IN_CHAMBER] = max(first_o, first_f)
    if not happened(start):
        return
    end = point_before(off, trajectory)
    out[P_STEADY_OXIDIZER_FLOW] = stored_outputs[end, S_OXIDIZER]
    out[P_STEADY_FUEL_FLOW] = stored_outputs[end, S_FUEL]
    for side in range(2):
        steady = stored_outputs[end, INSTANTS_OF_A_SIDE[FULL, 2 + side]]
        # the earlier of the off command and this side's shutting, whichever there is
        last_off = min(shuts(side, start, plant, par[1]), pulse[1] if happened(pulse[1]) else np.inf)
        if not last_off < pulse[2]:
            last_off = pulse[1]
        side_measures(out, side, steady, start, off, last_off, trajectory, event_memory, par)
    out[P_SHUTDOWN_OXIDIZER_LAG] = out[P_LAST_OXIDIZER] - out[P_LAST_FUEL]
