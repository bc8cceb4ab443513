"""Columns of gas in the manifolds (`manifold_gas`): of its mass, and what it adds to the columns of the liquid side.

    gas mass, z, lift, p_c, gas of the chamber  ->  p_m, shares  ->  liquid and gas through the injector, purge, ledger
"""

from sleevelift.jit import bare_kernel
from sleevelift.plant.inflow import change_inflow
from sleevelift.plant.liquid_jacobian import change_flow
from sleevelift.plant.manifold_gas import free_share
from sleevelift.plant.params import BY_VALVE, INTO_CHAMBER
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet


@bare_kernel
def share_slopes(plant):
    """Change the slopes that `liquid_side.set_slopes` left by the shares of gas and liquid."""
    for k in range(plant.liquids.flows):
        row = plant.liquid_flows[k]
        gas = plant.gases[row.side]
        if gas.present == 0:
            continue
        part = gas.share
        if row.law == BY_VALVE:
            part = gas.back if gas.returned < 0.0 else 1.0
        row.w_dp *= part
        row.rise_dp *= part
        row.w_lift *= part
        row.rise_lift *= part


@bare_kernel
def change_gas(J, column, side, dp, dw, plant):
    """Rows of a manifold that a change dp of its pressure and, in all, dw of the gas out by the injector touch."""
    gas = plant.gases[side]
    ledger = plant.index.ledger
    d_in = gas.purge_p * dp
    net = d_in - dw
    J[gas.place, column] += net
    by_p = gas.rt / plant.liquids.p[side]
    J[ledger + B_PURGE_WORK, column] += gas.potential * net + by_p * dp * (gas.purge - gas.w)
    J[ledger + B_PURGED_O + side, column] += d_in
    if gas.w > 0.0:
        J[ledger + B_GAS_PASSED_O + side, column] += dw
    elif gas.w < 0.0:
        J[ledger + B_GAS_BACK_O + side, column] -= dw


@bare_kernel
def change_all(J, y, column, side, dp, dw, discrete_state, plant):
    """`change_gas`, and the chamber's rows where gas flows into it."""
    change_gas(J, column, side, dp, dw, plant)
    gas = plant.gases[side]
    if gas.w > 0.0 and plant.inflow.present != 0:
        d_volume = dw * gas.rt / plant.liquids.p[INTO_CHAMBER]
        change_inflow(J, y, column, dw, dw * gas.enthalpy, d_volume, discrete_state, plant)


@bare_kernel
def change_shares(J, y, column, side, d_share, d_back, discrete_state, plant, balance):
    """Rows that a change of the shares of liquid touches: through the injector, back through the run valve."""
    gas = plant.gases[side]
    change_flow(J, y, column, side, gas.liquid * d_share, discrete_state, plant, balance)
    if d_back != 0.0 and gas.returned < 0.0:
        for k in range(plant.liquids.flows):
            row = plant.liquid_flows[k]
            if row.law == BY_VALVE and row.side == side:
                change_flow(J, y, column, k, gas.returned * d_back, discrete_state, plant, balance)


@bare_kernel
def gas_out(gas, dp, d_free, d_share, dx):
    """Change of the gas out by the injector for changes of pressure, shares and lift, kg/s."""
    if gas.whole < 0.0:
        d_free = -d_share
    return (gas.whole_p * dp + gas.whole_x * dx) * free_share(gas) + gas.whole * d_free


@bare_kernel
def mass_column(J, y, side, discrete_state, plant, balance):
    """Column of a manifold's gas mass."""
    gas = plant.gases[side]
    liquids = plant.liquids
    column = gas.place
    J[balance + B_OTHER_WORK, column] -= gas.p_m * liquids.out[side] * liquids.specific_volume[side]
    for k in range(liquids.flows):
        row = plant.liquid_flows[k]
        if row.source == side:
            change_flow(J, y, column, k, row.w_dp * gas.p_m, discrete_state, plant, balance)
        elif row.sink == side:
            change_flow(J, y, column, k, -row.w_dp * gas.p_m, discrete_state, plant, balance)
    change_shares(J, y, column, side, gas.share_m, 0.0, discrete_state, plant, balance)
    dw = gas_out(gas, gas.p_m, gas.free_m, gas.share_m, 0.0)
    change_all(J, y, column, side, gas.p_m, dw, discrete_state, plant)


@bare_kernel
def gas_columns(J, y, discrete_state, moving, lit, plant, balance):
    """All that gas adds to the columns of its mass, of z, of lift and of the chamber, but for the forces on the sleeve."""
    index = plant.index
    for side in range(plant.liquids.lines):
        gas = plant.gases[side]
        if gas.present == 0:
            continue
        mass_column(J, y, side, discrete_state, plant, balance)
        column = plant.liquids.place[side]
        change_shares(J, y, column, side, gas.share_z, gas.back_z, discrete_state, plant, balance)
        dw = gas_out(gas, gas.p_z, gas.free_z, gas.share_z, 0.0)
        change_all(J, y, column, side, gas.p_z, dw, discrete_state, plant)
        if lit:
            change_gas(J, index.chamber, side, 0.0, gas.whole_c * free_share(gas), plant)
        if plant.chamber.hot != 0:
            change_gas(J, index.gas_mass, side, 0.0, gas.whole_rho * free_share(gas) / plant.chamber.volume, plant)
        if moving:
            column = index.lift_height
            change_shares(J, y, column, side, gas.share_x, gas.back_x, discrete_state, plant, balance)
            change_all(J, y, column, side, 0.0, gas_out(gas, 0.0, gas.free_x, gas.share_x, 1.0), discrete_state, plant)
