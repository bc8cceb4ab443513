"""The liquid side at one instant: pressures of the volumes, flows between them by their laws, with their slopes, row by row.

    states z, p_c -> `LIQUIDS.p` -> opening and flow of each row (`LIQUID_FLOW`) -> rates

Everything goes over the rows that `liquid_rows` declares. A flow's law gives it from lift and pressure difference alone, with what
the pressure behind the opening stands above the sink's (`rise`: the gap pressure of the fuel side).
"""

from sleevelift.jit import bare_kernel
from sleevelift.physics.feed_line import line_acceleration, manifold_pressure, trapped_gas_pressure, trapped_gas_stiffness
from sleevelift.physics.liquid import orifice_liquid_flow, orifice_liquid_slope
from sleevelift.physics.seat import (
    gap_passage,
    gap_slope,
    open_gap_flow,
    open_gap_slopes,
    spigot_flow,
    spigot_loss,
    spigot_loss_slope,
    spigot_slopes,
)
from sleevelift.physics.slots import lapped_flow, lapped_slopes, rows_effective_area, rows_effective_width
from sleevelift.physics.supply import table_segment, table_slope, table_value
from sleevelift.plant.params import BY_SLOTS, BY_VALVE, FIRST_AHEAD, INTO_CHAMBER
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet


@bare_kernel
def measured_area(lift, tables, start, count):
    """Area, m2, from a measured table of (lift, area) pairs; constant beyond its ends."""
    return table_value(lift, tables, start, count, table_segment(lift, tables, start, count))


@bare_kernel
def measured_slope(lift, tables, start, count):
    """Derivative of `measured_area` by the lift, m."""
    return table_slope(tables, start, count, table_segment(lift, tables, start, count))


@bare_kernel
def slot_effective_area(lift, slots, tables):
    """Sum of Cd A of the oxidizer slots, m2."""
    if slots.measured.count > 0:
        return slots.measured_cd * measured_area(lift, tables, slots.measured.start, slots.measured.count)
    return rows_effective_area(lift, tables, slots.rows.start, slots.rows.count)


@bare_kernel
def slot_effective_width(lift, slots, tables):
    """Derivative of `slot_effective_area` by the lift, m."""
    if slots.measured.count > 0:
        return slots.measured_cd * measured_slope(lift, tables, slots.measured.start, slots.measured.count)
    return rows_effective_width(lift, tables, slots.rows.start, slots.rows.count)


@bare_kernel
def gap_effective_area(lift, seat, tables):
    """Cd A of the seat gap with what leaks past the seat, m2; that alone when seated."""
    if lift <= 0.0 and seat.leak <= 0.0:
        return 0.0
    if seat.measured.count > 0:
        open_area = measured_area(lift, tables, seat.measured.start, seat.measured.count) if lift > 0.0 else 0.0
        return seat.cd * (open_area + seat.leak)
    return seat.cd * gap_passage(
        lift, seat.edge, seat.seat_diameter, seat.nose_diameter, seat.sin_angle, seat.cos_angle, seat.spigot_length,
        seat.spigot_clearance, seat.leak,
    )  # fmt: skip


@bare_kernel
def gap_effective_slope(lift, seat, tables):
    """Derivative of `gap_effective_area` by the lift, m."""
    if lift <= 0.0:
        return 0.0
    if seat.measured.count > 0:
        return seat.cd * measured_slope(lift, tables, seat.measured.start, seat.measured.count)
    return seat.cd * gap_slope(
        lift, seat.edge, seat.seat_diameter, seat.nose_diameter, seat.sin_angle, seat.cos_angle, seat.spigot_length,
        seat.spigot_clearance, seat.leak,
    )  # fmt: skip


@bare_kernel
def behind_spigot(lift, seat):
    """Whether the spigot stands in the seat, so that its laminar loss counts."""
    return seat.measured.count == 0 and seat.spigot_length > 0.0 and lift <= seat.spigot_length


@bare_kernel
def opening_of(row, lift, plant, tables):
    """Cd A of a flow's opening at a lift, m2; of the slots without their clearance."""
    if row.law == BY_VALVE:
        return row.area * row.share
    if row.law == BY_SLOTS:
        return slot_effective_area(lift, plant.slots, tables)
    return gap_effective_area(lift, plant.seat, tables)


@bare_kernel
def flow_through(row, opening, lift, dp, plant):
    """(mass flow kg/s, rise Pa) of a row of this opening, m2, at a lift, m, and difference from source to sink, Pa."""
    if row.law == BY_VALVE:
        if dp < 0.0 and row.check != 0:
            return 0.0, 0.0
        return orifice_liquid_flow(opening, plant.lines[row.side].rho, dp), 0.0
    if row.law == BY_SLOTS:
        slots = plant.slots
        rho = plant.lines[OXIDIZER].rho
        w = rho * lapped_flow(lift, slots.first_lap, slots.least_length, slots.laminar, slots.quadratic, dp)
        if opening > 0.0:
            w += orifice_liquid_flow(opening, rho, dp)
        return w, 0.0
    if opening <= 0.0:
        return 0.0, 0.0
    seat = plant.seat
    line = plant.lines[FUEL]
    if behind_spigot(lift, seat):
        laminar = spigot_loss(lift, seat.seat_diameter, seat.spigot_length, seat.spigot_clearance, line.mu)
        return spigot_flow(opening, seat.annulus, laminar, line.rho, dp)
    return open_gap_flow(opening, seat.annulus, line.rho, dp)


@bare_kernel
def slopes_through(row, opening, lift, dp, plant, tables):
    """Derivatives of `flow_through`: (flow, rise) by dp, then by the lift."""
    if row.law == BY_VALVE:
        if dp < 0.0 and row.check != 0:
            return 0.0, 0.0, 0.0, 0.0
        return orifice_liquid_slope(opening, plant.lines[row.side].rho, dp), 0.0, 0.0, 0.0
    if row.law == BY_SLOTS:
        slots = plant.slots
        rho = plant.lines[OXIDIZER].rho
        by_dp, by_lift = lapped_slopes(lift, slots.first_lap, slots.least_length, slots.laminar, slots.quadratic, dp)
        by_dp *= rho
        by_lift *= rho
        if opening > 0.0:
            by_dp += orifice_liquid_slope(opening, rho, dp)
            by_lift += slot_effective_width(lift, slots, tables) * orifice_liquid_flow(1.0, rho, dp)
        return by_dp, 0.0, by_lift, 0.0
    if opening <= 0.0:
        return 0.0, 0.0, 0.0, 0.0
    seat = plant.seat
    line = plant.lines[FUEL]
    widening = gap_effective_slope(lift, seat, tables)
    if behind_spigot(lift, seat):
        laminar = spigot_loss(lift, seat.seat_diameter, seat.spigot_length, seat.spigot_clearance, line.mu)
        easing = spigot_loss_slope(lift, seat.seat_diameter, seat.spigot_length, seat.spigot_clearance, line.mu)
        w_dp, rise_dp, w_gap, rise_gap, w_loss, rise_loss = spigot_slopes(opening, seat.annulus, laminar, line.rho, dp)
        return w_dp, rise_dp, w_gap * widening + w_loss * easing, rise_gap * widening + rise_loss * easing
    w_dp, rise_dp, w_gap, rise_gap = open_gap_slopes(opening, seat.annulus, line.rho, dp)
    return w_dp, rise_dp, w_gap * widening, rise_gap * widening


@bare_kernel
def injector(side, lift, p_m, p_c, plant, tables):
    """(mass flow into the chamber kg/s, pressure behind the opening Pa, Cd A m2) of a side's injector at these pressures, Pa."""
    row = plant.liquid_flows[side]
    opening = opening_of(row, lift, plant, tables)
    w, rise = flow_through(row, opening, lift, p_m - p_c, plant)
    return w, p_c + rise, opening


@bare_kernel
def outflow(side, lift, p_m, p_c, plant, tables):
    """(everything that leaves a side's manifold, its injector's share), kg/s, at manifold and chamber pressure, Pa."""
    total = 0.0
    into = 0.0
    for k in range(plant.liquids.flows):
        row = plant.liquid_flows[k]
        if row.source == side:
            w = flow_through(row, opening_of(row, lift, plant, tables), lift, p_m - p_c, plant)[0]
            total += w
            if row.sink == INTO_CHAMBER:
                into += w
    return total, into


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
def pressure_slope(p, cavity, line, ambient):
    """d p_m / d z of a manifold at its pressure, Pa/m3."""
    if line.trapped_gas > 0.0:
        return trapped_gas_stiffness(p, line.volume, line.bulk, line.trapped_gas, line.trapped_gas_exponent, ambient)
    return 0.0 if cavity != 0 else line.stiffness


@bare_kernel
def set_pressures(y, p_c, discrete_state, plant):
    """Fill the pressures that liquid flows between, Pa; p_c: the chamber's. In a dry plant those of the bench."""
    liquids = plant.liquids
    liquids.p[INTO_CHAMBER] = p_c
    liquids.p[OXIDIZER] = p_c
    liquids.p[FUEL] = plant.fuel_side_pressure
    for k in range(liquids.lines):
        liquids.p[k] = line_pressure(y[liquids.place[k]], discrete_state[D_CAVITY_O + k], plant.lines[k], plant.ambient_pressure)
    for k in range(FIRST_AHEAD, liquids.volumes):
        cavity = discrete_state[D_CAVITY_O + k]
        liquids.p[k] = manifold_pressure(y[liquids.place[k]], cavity, liquids.stiffness[k], liquids.vapour[k])


@bare_kernel
def valve_share(t, side, discrete_state, plant, tables):
    """Share of a side's run valve that is open, 0 to 1."""
    valve = plant.lines[side].valve
    return table_value(t, tables, valve.start, valve.count, discrete_state[D_RUN_VALVE_O + side])


@bare_kernel
def set_valves(t, discrete_state, plant, tables):
    """Fill how far each run valve is open."""
    for k in range(plant.liquids.flows):
        row = plant.liquid_flows[k]
        if row.law == BY_VALVE:
            row.share = valve_share(t, row.side, discrete_state, plant, tables)


@bare_kernel
def set_flows(lift, plant, tables):
    """Fill opening, flow and rise of every row."""
    p = plant.liquids.p
    for k in range(plant.liquids.flows):
        row = plant.liquid_flows[k]
        row.opening = opening_of(row, lift, plant, tables)
        row.w, row.rise = flow_through(row, row.opening, lift, p[row.source] - p[row.sink], plant)


@bare_kernel
def set_slopes(lift, plant, tables):
    """Fill the derivatives of flow and rise of every row by pressure difference and lift."""
    p = plant.liquids.p
    for k in range(plant.liquids.flows):
        row = plant.liquid_flows[k]
        row.w_dp, row.rise_dp, row.w_lift, row.rise_lift = slopes_through(
            row, row.opening, lift, p[row.source] - p[row.sink], plant, tables
        )


@bare_kernel
def set_outflows(plant):
    """Fill what the rows and the rod seal take from each volume, less what they bring, and what enters the chamber, kg/s."""
    liquids = plant.liquids
    for k in range(liquids.volumes):
        liquids.out[k] = 0.0
        liquids.into[k] = 0.0
    for k in range(plant.liquids.flows):
        row = plant.liquid_flows[k]
        if row.source < liquids.volumes:
            liquids.out[row.source] += row.w
            if row.sink == INTO_CHAMBER:
                liquids.into[row.source] += row.w
        if row.sink < liquids.volumes:
            liquids.out[row.sink] -= row.w
    if plant.rod.present != 0:
        liquids.out[FUEL] += plant.rod.w


@bare_kernel
def passage_outflow(injector, content, state, line):
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
def liquid_rates(t, y, v, discrete_state, plant, tables, dy, outputs):
    """Fill the rates of volumes, columns, passages and pools, and their signals.

    Returns the power, W, that inlets bring into liquids and sleeve less what losses and flows out of the volumes take.
    """
    liquids = plant.liquids
    asked = outputs.shape[0] > 0
    pools = plant.chamber.hot != 0 and (discrete_state[D_POOLING] != 0 or discrete_state[D_LIT] != 0)
    set_outflows(plant)
    power = 0.0
    for k in range(liquids.volumes):
        out = liquids.out[k] * liquids.specific_volume[k]
        dy[liquids.place[k]] = -out - liquids.swept[k] * v
        power -= liquids.p[k] * out
    for side in range(liquids.lines):
        line = plant.lines[side]
        w = y[line.flow_place]
        p_in = inlet_pressure(t, line, tables, discrete_state[D_OXIDIZER + side])
        dw = line_acceleration(p_in, liquids.p[line.end], line.loss, w, line.area_per_length)
        dy[liquids.place[line.end]] += w * line.specific_volume
        power += (p_in * w - line.loss * w * w * abs(w)) * line.specific_volume
        if discrete_state[D_DAMPED] != 0:
            slowing = line.damping * (w - liquids.out[line.end])
            dw -= slowing
            power -= slowing * line.inertance * w * line.specific_volume
        dy[line.flow_place] = dw
        into = liquids.into[side]
        if line.dribble_mass > 0.0:
            into, dy[line.dribble_place] = passage_outflow(into, y[line.dribble_place], discrete_state[D_DRIBBLE_O + side], line)
        if pools:
            dy[line.unburned_place] += max(into, 0.0)
        if asked:
            outputs[S_OXIDIZER + side] = into
            outputs[S_OXIDIZER_LINE + side] = w
    if asked:
        for k in range(liquids.flows):
            row = plant.liquid_flows[k]
            outputs[row.signal] = row.w
            if row.law == BY_VALVE:
                outputs[S_OXIDIZER_SHARE + row.side] = row.share
        for k in range(liquids.volumes):
            outputs[liquids.signal[k]] = liquids.p[k]
        outputs[S_OXIDIZER_P] = liquids.p[OXIDIZER]
        outputs[S_FUEL_P] = liquids.p[FUEL]
        outputs[S_CHAMBER_P] = liquids.p[INTO_CHAMBER]
    return power
