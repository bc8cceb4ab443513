"""Columns of the liquid side: every flow's own slopes, chained to the states that the pressures at its ends depend on.

    flow(p_source - p_sink, lift)   <-   volume: p by its compressed volume z; chamber: p; lift x

Row by row as in `liquid_side.liquid_rates`; what the forces on the sleeve make of these columns is added in `jacobian`.
"""

from sleevelift.jit import bare_kernel, inline_kernel
from sleevelift.physics.liquid import orifice_liquid_flow
from sleevelift.physics.supply import table_slope
from sleevelift.plant.liquid_side import inlet_pressure, pressure_slope
from sleevelift.plant.params import BY_VALVE, FIRST_AHEAD, INTO_CHAMBER
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet


@inline_kernel
def pools(discrete_state, plant):
    """Whether what flows into the chamber is counted there."""
    return plant.chamber.hot != 0 and (discrete_state[D_POOLING] != 0 or discrete_state[D_LIT] != 0)


@bare_kernel
def leave_volume(J, y, column, slot, dw, discrete_state, plant, balance):
    """Rows of a volume that a change dw of the flow out of it touches, per unit of the column."""
    liquids = plant.liquids
    given = dw * liquids.specific_volume[slot]
    J[liquids.place[slot], column] -= given
    J[balance + B_OTHER_WORK, column] -= liquids.p[slot] * given
    line = plant.lines[liquids.side[slot]]
    if discrete_state[D_DAMPED] != 0 and slot == line.end:
        J[line.flow_place, column] += line.damping * dw
        J[balance + B_OTHER_WORK, column] += line.damping * line.inertance * y[line.flow_place] * given


@bare_kernel
def change_flow(J, y, column, k, dw, discrete_state, plant, balance):
    """Everything that a change dw of the flow of row k touches, per unit of the column."""
    row = plant.liquid_flows[k]
    liquids = plant.liquids
    if row.source < liquids.volumes:
        leave_volume(J, y, column, row.source, dw, discrete_state, plant, balance)
    if row.sink < liquids.volumes:
        leave_volume(J, y, column, row.sink, -dw, discrete_state, plant, balance)
    if row.sink == INTO_CHAMBER and row.source < liquids.lines:
        line = plant.lines[row.source]
        full = line.dribble_mass <= 0.0 or discrete_state[D_DRIBBLE_O + row.source] == FULL
        if not full:
            J[line.dribble_place, column] += dw
        elif pools(discrete_state, plant) and liquids.into[row.source] > 0.0:
            J[line.unburned_place, column] += dw


@bare_kernel
def volume_columns(J, y, discrete_state, plant, balance):
    """Columns of the volumes' states: pressure, and the flows that it drives. Fills d p/d z of each, Pa/m3."""
    liquids = plant.liquids
    for slot in range(liquids.volumes):
        column = liquids.place[slot]
        line = plant.lines[liquids.side[slot]]
        cavity = discrete_state[D_CAVITY_O + slot]
        if slot < FIRST_AHEAD:
            by_z = pressure_slope(liquids.p[slot], cavity, line, plant.ambient_pressure)
            if plant.gases[slot].present != 0:
                by_z = plant.gases[slot].p_z
        else:
            by_z = 0.0 if cavity != 0 else liquids.stiffness[slot]
        if slot == line.end:
            J[line.flow_place, column] -= by_z * line.area_per_length
        liquids.by_z[slot] = by_z
        J[balance + B_OTHER_WORK, column] -= by_z * liquids.out[slot] * liquids.specific_volume[slot]
        for k in range(liquids.flows):
            row = plant.liquid_flows[k]
            if row.source == slot:
                change_flow(J, y, column, k, row.w_dp * by_z, discrete_state, plant, balance)
            elif row.sink == slot:
                change_flow(J, y, column, k, -row.w_dp * by_z, discrete_state, plant, balance)


@bare_kernel
def flows_by_chamber(J, y, discrete_state, plant, balance):
    """Column of the lit chamber's pressure: the flows into it."""
    for k in range(plant.liquids.flows):
        row = plant.liquid_flows[k]
        if row.sink == INTO_CHAMBER:
            change_flow(J, y, plant.index.chamber, k, -row.w_dp, discrete_state, plant, balance)


@bare_kernel
def flows_by_lift(J, y, discrete_state, plant, balance):
    """Column of a moving sleeve's lift: the flows whose opening follows it."""
    for k in range(plant.liquids.flows):
        w_lift = plant.liquid_flows[k].w_lift
        if w_lift != 0.0:
            change_flow(J, y, plant.index.lift_height, k, w_lift, discrete_state, plant, balance)


@bare_kernel
def swept_by_speed(J, plant):
    """Column of the sleeve's speed: the volumes that grow with the lift."""
    liquids = plant.liquids
    for slot in range(liquids.volumes):
        J[liquids.place[slot], plant.index.speed] -= liquids.swept[slot]


@bare_kernel
def line_columns(J, y, t, discrete_state, plant, tables, balance):
    """Columns of the lines' own flows, and the passages' own drain."""
    liquids = plant.liquids
    for side in range(liquids.lines):
        line = plant.lines[side]
        column = line.flow_place
        w = y[column]
        p_in = inlet_pressure(t, line, tables, discrete_state[D_OXIDIZER + side])
        J[column, column] -= 2.0 * line.loss * abs(w) * line.area_per_length
        J[liquids.place[line.end], column] += line.specific_volume
        J[balance + B_OTHER_WORK, column] += (p_in - 3.0 * line.loss * w * abs(w)) * line.specific_volume
        if discrete_state[D_DAMPED] != 0:
            J[column, column] -= line.damping
            J[balance + B_OTHER_WORK, column] -= (
                line.damping * line.inertance * (2.0 * w - liquids.out[line.end]) * line.specific_volume
            )
        if line.dribble_mass > 0.0 and discrete_state[D_DRIBBLE_O + side] == DRAINING:
            column = line.dribble_place
            J[column, column] -= 1.0 / line.dribble_time
            if pools(discrete_state, plant) and y[column] > 0.0:
                J[line.unburned_place, column] += 1.0 / line.dribble_time


@bare_kernel
def line_time_derivative(y, discrete_state, plant, tables, balance, dfdt):
    """Explicit dependence of the liquid side on time: tabled inlets, linear on their segment, and run valves that move."""
    for side in range(plant.liquids.lines):
        line = plant.lines[side]
        rise = table_slope(tables, line.table.start, line.table.count, discrete_state[D_OXIDIZER + side])
        dfdt[line.flow_place] += rise * line.area_per_length
        dfdt[balance + B_OTHER_WORK] += rise * y[line.flow_place] * line.specific_volume
    for k in range(plant.liquids.flows):
        row = plant.liquid_flows[k]
        if row.law == BY_VALVE:
            valve_time_derivative(row, discrete_state, plant, tables, balance, dfdt)


@bare_kernel
def valve_time_derivative(row, discrete_state, plant, tables, balance, dfdt):
    """Explicit dependence of a run valve's flow on time: it opens or shuts, in proportion to time on its segment."""
    liquids = plant.liquids
    line = plant.lines[row.side]
    opening = table_slope(tables, line.valve.start, line.valve.count, discrete_state[D_RUN_VALVE_O + row.side])
    dp = liquids.p[row.source] - liquids.p[row.sink]
    if opening == 0.0 or (dp < 0.0 and row.check != 0):
        return
    passed = orifice_liquid_flow(row.area * opening, line.rho, dp) * line.specific_volume
    if dp < 0.0 and plant.gases[row.side].present != 0:
        passed *= plant.gases[row.side].back
    dfdt[liquids.place[row.source]] -= passed
    dfdt[liquids.place[row.sink]] += passed
    dfdt[balance + B_OTHER_WORK] -= dp * passed
