"""Gas in the manifolds at one instant: pressure, what the injector passes of gas and liquid, what the purge brings, its ledger.

    purge --[orifice, check valve]--> manifold: gas m, liquid z --[injector: liquid x share, gas x free]--> combustion chamber

The liquid side (`liquid_side`) is worked out as without gas, then its pressures and flows are changed here; all of it only where a
case has gas in a manifold. Laws: `physics.manifold_gas`; MODEL.md, section 6.
"""

from sleevelift.jit import bare_kernel
from sleevelift.physics.manifold_gas import (
    CHAMBER_EXPONENT,
    clipped,
    inside,
    orifice_and_gap,
    potential,
    pressure_beside_gas,
)
from sleevelift.physics.purge import check_valve_flow
from sleevelift.physics.seat import in_series
from sleevelift.physics.supply import table_slope
from sleevelift.plant.inflow import add_inflow
from sleevelift.plant.liquid_side import behind_spigot, gap_effective_slope, slot_effective_width
from sleevelift.plant.params import BY_VALVE, INTO_CHAMBER
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet


@bare_kernel
def purge_is_on(t, gas, tables):
    """1 where a window (on, off) of the purge holds t, else 0."""
    for i in range(gas.windows.count):
        k = gas.windows.start + 2 * i
        if tables[k] <= t < tables[k + 1]:
            return 1
    return 0


@bare_kernel
def set_gas_order(t, discrete_state, plant, tables):
    """Put down from t on whether each purge is on, and where the gas lies: ahead of the liquid from its run valve's opening on,
    behind it from its shutting on."""
    for side in range(plant.liquids.lines):
        gas = plant.gases[side]
        if gas.present != 0:
            discrete_state[D_PURGE_O + side] = purge_is_on(t, gas, tables)
            valve = plant.lines[side].valve
            moves = table_slope(tables, valve.start, valve.count, discrete_state[D_RUN_VALVE_O + side])
            if moves != 0.0:
                discrete_state[D_GAS_AHEAD_O + side] = 1 if moves > 0.0 else 0


@bare_kernel
def liquid_volume(z, lift, side, plant):
    """Liquid in a manifold, m3, as it would be at its vapour pressure."""
    liquids = plant.liquids
    return liquids.size[side] + liquids.swept[side] * lift + z


@bare_kernel
def set_shares(z, lift, ahead, gas, side, plant):
    """Fill the shares of liquid and of gas in what the injector passes forward, and of liquid in what flows back to the valve.

    Behind the liquid the gas that passes falls to nothing with the gas that is there, where a cavity stands beside it.
    """
    whole = liquid_volume(z, lift, side, plant) / gas.width
    swept = plant.liquids.swept[side] / gas.width
    per = 1.0 / gas.width
    gone = gas.volume / gas.width
    gone_in = inside(gone) / gas.width
    left_in = inside(whole)
    gas.back, gas.back_z, gas.back_x = clipped(whole), left_in * per, left_in * swept
    if ahead != 0:
        gas.free = clipped(gone)
        gas.share = 1.0 - gas.free
        gas.free_z, gas.free_m, gas.free_x = gone_in * gas.v_z, gone_in * gas.v_m, 0.0
        gas.share_z, gas.share_m, gas.share_x = -gas.free_z, -gas.free_m, 0.0
        return
    there = clipped(gone)
    gas.share, gas.share_z, gas.share_m, gas.share_x = gas.back, gas.back_z, 0.0, gas.back_x
    gas.free = (1.0 - gas.share) * there
    gas.free_z = (1.0 - gas.share) * gone_in * gas.v_z - gas.share_z * there
    gas.free_m = (1.0 - gas.share) * gone_in * gas.v_m
    gas.free_x = -gas.share_x * there


@bare_kernel
def manifold_content(y, gas):
    """m R T of a manifold's gas, J: none where the steps' errors have left less than none."""
    return max(y[gas.place], 0.0) * gas.rt


@bare_kernel
def set_gas(y, lift, discrete_state, plant):
    """Fill pressure, gas volume and shares of each manifold that has gas, with their derivatives."""
    liquids = plant.liquids
    for side in range(liquids.lines):
        gas = plant.gases[side]
        if gas.present == 0:
            continue
        z = y[liquids.place[side]]
        content = manifold_content(y, gas)
        rt = gas.rt if y[gas.place] >= 0.0 else 0.0
        cavity = discrete_state[D_CAVITY_O + side]
        p, p_z, p_content = pressure_beside_gas(z, content, cavity, liquids.stiffness[side], liquids.vapour[side])
        liquids.p[side] = p
        gas.p_z = p_z
        gas.p_m = p_content * rt
        gas.volume = content / p
        gas.v_z = -gas.volume / p * p_z
        gas.v_m = (rt - gas.volume * gas.p_m) / p
        gas.potential = potential(p, gas.rt, plant.ambient_pressure)
        set_shares(z, lift, discrete_state[D_GAS_AHEAD_O + side], gas, side, plant)


@bare_kernel
def chamber_density(y, gas, plant):
    """Density, kg/m3, of what the chamber holds; without combustion chamber gas of the manifold stands for it."""
    if plant.chamber.hot != 0:
        return y[plant.index.gas_mass] / plant.chamber.volume
    return plant.liquids.p[INTO_CHAMBER] / gas.rt


@bare_kernel
def injector_gas(side, lift, density_c, plant, tables):
    """(flow of gas alone into the chamber kg/s, derivatives by p_m, p_c, lift and density in the chamber) of an injector."""
    liquids = plant.liquids
    gas = plant.gases[side]
    row = plant.liquid_flows[side]
    p_m, p_c = liquids.p[side], liquids.p[INTO_CHAMBER]
    gap = gas.gap
    in_turn = 0
    if side == OXIDIZER:
        slots = plant.slots
        area = row.opening
        widening = slot_effective_width(lift, slots, tables)
        length, shortening = max(slots.first_lap - lift, slots.least_length), -1.0
        if slots.first_lap - lift <= slots.least_length:
            shortening = 0.0
    else:
        seat = plant.seat
        area = in_series(row.opening, seat.annulus)
        ratio = area / row.opening if row.opening > 0.0 else 0.0
        widening = gap_effective_slope(lift, seat, tables)
        if seat.annulus > 0.0:
            widening *= ratio * ratio * ratio
        length, shortening = seat.spigot_length - lift, -1.0
        in_turn = 1
        if not behind_spigot(lift, seat):
            gap = 0.0
    if area <= 0.0 and (in_turn != 0 or gap <= 0.0):
        return 0.0, 0.0, 0.0, 0.0, 0.0
    laminar_above = plant.gas.laminar_above
    if p_m >= p_c:
        w, by_m, by_c, by_x, by_rho = orifice_and_gap(
            area, widening, gap, gas.slip, length, shortening, gas.mouth, in_turn, p_m, p_c, p_m / gas.rt, gas.exponent,
            laminar_above,
        )  # fmt: skip
        return w, by_m + by_rho / gas.rt, by_c, by_x, 0.0
    w, by_c, by_m, by_x, by_rho = orifice_and_gap(
        area, widening, gap, gas.slip, length, shortening, gas.mouth, in_turn, p_c, p_m, density_c, CHAMBER_EXPONENT, laminar_above
    )
    if plant.chamber.hot == 0:
        by_c += by_rho / gas.rt
        by_rho = 0.0
    return -w, -by_m, -by_c, -by_x, -by_rho


@bare_kernel
def free_share(gas):
    """Share of gas in what the injector passes, whichever way: what the chamber holds flows back where liquid does not."""
    return gas.free if gas.whole >= 0.0 else 1.0 - gas.share


@bare_kernel
def share_flows(y, lift, discrete_state, plant, tables):
    """Change the flows that `liquid_side.set_flows` left by the shares of gas and liquid, and fill those of gas.

    What passes an injector flows into the chamber (`inflow`); what comes back is not taken from it, as little as liquid is.
    """
    for k in range(plant.liquids.flows):
        row = plant.liquid_flows[k]
        gas = plant.gases[row.side]
        if gas.present == 0:
            continue
        if row.law == BY_VALVE:
            gas.returned = 0.0
            if row.w < 0.0:
                gas.returned = row.w
                row.w *= gas.back
            continue
        side = row.side
        gas.liquid, gas.rise = row.w, row.rise
        row.w *= gas.share
        row.rise *= gas.share
        density = chamber_density(y, gas, plant)
        gas.whole, gas.whole_p, gas.whole_c, gas.whole_x, gas.whole_rho = injector_gas(side, lift, density, plant, tables)
        gas.w = gas.whole * free_share(gas)
        if gas.w > 0.0 and plant.inflow.present != 0:
            add_inflow(gas.w, gas.whole_c * gas.free, gas.enthalpy, gas.rt, plant.liquids.p[INTO_CHAMBER], plant)
        gas.purge, gas.purge_p = 0.0, 0.0
        if discrete_state[D_PURGE_O + side] != 0:
            gas.purge, gas.purge_p = check_valve_flow(
                gas.area, gas.flux, gas.r_star, gas.supply, gas.density, gas.supply_exponent, plant.liquids.p[side],
                plant.gas.laminar_above,
            )  # fmt: skip


@bare_kernel
def gas_ledger(dy, outputs, plant):
    """Fill the rates of the manifolds' gas, its balances and signals; what leaves by an injector flows into the chamber."""
    ledger = plant.index.ledger
    work = 0.0
    for side in range(plant.liquids.lines):
        gas = plant.gases[side]
        if gas.present == 0:
            continue
        dy[gas.place] = gas.purge - gas.w
        work += gas.potential * (gas.purge - gas.w)
        dy[ledger + B_PURGED_O + side] = gas.purge
        dy[ledger + B_GAS_PASSED_O + side] = max(gas.w, 0.0)
        dy[ledger + B_GAS_BACK_O + side] = max(-gas.w, 0.0)
        if outputs.shape[0] > 0:
            outputs[S_OXIDIZER_GAS + side] = gas.w
            outputs[S_OXIDIZER_PURGE + side] = gas.purge
            outputs[S_OXIDIZER_GAS_VOLUME + side] = gas.volume
    dy[ledger + B_PURGE_WORK] = work
