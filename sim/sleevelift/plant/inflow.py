"""Gas that flows into the combustion chamber and does not burn, whatever its sources, and what it does there.

    sources (chamber's purge, gas in the manifolds) --add_inflow--> `params.INFLOW` --inflow_rates--> chamber

    lit     dm_g/dt += w,              dp/dt += (g - 1)/V h
    unlit   dm_g/dt += w - m_g Q/V,    dm/dt -= share m Q/V of each unburned mass;   p_c stays at ambient

w kg/s; h W, enthalpy flow, counted from 0 K as of a perfect gas (c_p T, with what the gas's pressure makes of that); Q m3/s,
w R T/p_c. First law of the open chamber with U = p V/(g - 1), g the exponent of its combustion gas, which it keeps however much of
its gas is another; unlit perfect mixing at constant pressure and at the temperature of what flows in. share 0: the gas leaves the
pool, which is mostly liquid, where it is; share 1: it carries it away as if it were gas.

Rules. Only where `plant.inflow.present` (a hot case with a source); elsewhere nothing of it is called.
Right-hand side: `clear_inflow` before the chamber's rates; each source calls `add_inflow`, as soon as its flow is known; then
`inflow_rates`, once, when all have. Jacobian: the same, each source giving the slopes of its flow by p_c as well; then
`inflow_columns`, once: the columns of the chamber's own states. What a flow makes of other states' columns its source puts in with
`change_inflow`. Balances of it (`state.B_CHAMBER_PURGE` ...) stand behind the others, at `index.inflow`.
"""

from sleevelift.jit import bare_kernel
from sleevelift.physics.combustion import held_pressure, mixture, oxidizer_fraction
from sleevelift.physics.purge import check_valve_flow, switched_on
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

SHARE = 1e-7
"""-. Share of its size by which an unburned mass is moved, for the slope of the exponent."""
MASS_FLOOR = 1e-6
"""kg. An unburned mass counts at least this much when it is moved."""


@bare_kernel
def clear_inflow(exponent, plant):
    """Nothing flows in yet; exponent: of the gas in the lit chamber, -."""
    inflow = plant.inflow
    inflow.exponent = exponent
    inflow.mass = 0.0
    inflow.enthalpy = 0.0
    inflow.volume = 0.0
    inflow.mass_p = 0.0
    inflow.enthalpy_p = 0.0
    inflow.volume_p = 0.0


@bare_kernel
def add_inflow(w, w_p, enthalpy, rt, p_c, plant):
    """Add a flow w, kg/s, and its slope by the chamber's pressure p_c, kg/(s Pa); of a gas of so much enthalpy (from 0 K) and of so
    much R T, J/kg both."""
    inflow = plant.inflow
    inflow.mass += w
    inflow.enthalpy += w * enthalpy
    inflow.volume += w * rt / p_c
    inflow.mass_p += w_p
    inflow.enthalpy_p += w_p * enthalpy
    inflow.volume_p += (w_p - w / p_c) * rt / p_c


@bare_kernel
def set_purge_switch(t, discrete_state, plant, tables):
    """Put down whether the chamber's purge is on from t on."""
    switched = plant.purge.switched
    discrete_state[D_CHAMBER_PURGE] = switched_on(t, tables, switched.start, switched.count)


@bare_kernel
def purge_flow(p_c, discrete_state, plant):
    """(flow of the chamber's purge kg/s, its derivative by the chamber's pressure), with that pressure, Pa; and add it."""
    purge = plant.purge
    if discrete_state[D_CHAMBER_PURGE] == 0:
        return 0.0, 0.0
    w, w_p = check_valve_flow(
        purge.area, purge.flux, purge.r_star, purge.pressure, purge.density, purge.exponent, p_c, plant.gas.laminar_above
    )
    add_inflow(w, w_p, purge.enthalpy, purge.rt, p_c, plant)
    return w, w_p


@bare_kernel
def pressure_held(plant):
    """Pressure, Pa, at which the throat lets out what flows in now, by the lit chamber's equations without anything burning."""
    inflow = plant.inflow
    w = inflow.mass
    if not w > 0.0:
        return plant.ambient_pressure
    g = inflow.exponent
    rt = (g - 1.0) / g * inflow.enthalpy / w
    return held_pressure(w, rt, plant.chamber.throat, g, plant.ambient_pressure)


@bare_kernel
def inflow_rates(y, discrete_state, plant, dy):
    """What all that flows in adds to the chamber's rates."""
    inflow = plant.inflow
    index = plant.index
    per_volume = 1.0 / plant.chamber.volume
    dy[index.gas_mass] += inflow.mass
    if discrete_state[D_LIT] != 0:
        dy[index.chamber] += (inflow.exponent - 1.0) * per_volume * inflow.enthalpy
        return
    rate = inflow.volume * per_volume
    dy[index.gas_mass] -= y[index.gas_mass] * rate
    for side in range(plant.liquids.lines):
        i = plant.lines[side].unburned_place
        swept = inflow.swept_share * rate * y[i]
        dy[i] -= swept
        dy[index.inflow + B_SWEPT_O + side] = swept


@bare_kernel
def change_inflow(J, y, column, d_mass, d_enthalpy, d_volume, discrete_state, plant):
    """Everything that a change of what flows in touches, per unit of the column; kg/s, W, m3/s."""
    inflow = plant.inflow
    index = plant.index
    per_volume = 1.0 / plant.chamber.volume
    J[index.gas_mass, column] += d_mass
    if discrete_state[D_LIT] != 0:
        J[index.chamber, column] += (inflow.exponent - 1.0) * per_volume * d_enthalpy
        return
    rate = d_volume * per_volume
    J[index.gas_mass, column] -= y[index.gas_mass] * rate
    for side in range(plant.liquids.lines):
        i = plant.lines[side].unburned_place
        swept = inflow.swept_share * rate * y[i]
        J[i, column] -= swept
        J[index.inflow + B_SWEPT_O + side, column] += swept


@bare_kernel
def exponent_at(oxidizer, fuel, plant, tables):
    """Exponent of the combustion gas of these unburned masses, kg."""
    chamber = plant.chamber
    f = oxidizer_fraction(oxidizer, fuel, chamber.best)
    return mixture(f, tables, chamber.curve.start, chamber.curve.count)[1]


@bare_kernel
def inflow_columns(J, y, discrete_state, plant, tables):
    """Columns of the chamber's states through what flows in: unlit what is carried away, lit its pressure and the exponent."""
    inflow = plant.inflow
    index = plant.index
    if discrete_state[D_LIT] == 0:
        rate = inflow.volume / plant.chamber.volume
        J[index.gas_mass, index.gas_mass] -= rate
        for side in range(plant.liquids.lines):
            i = plant.lines[side].unburned_place
            J[i, i] -= inflow.swept_share * rate
            J[index.inflow + B_SWEPT_O + side, i] += inflow.swept_share * rate
        return
    change_inflow(J, y, index.chamber, inflow.mass_p, inflow.enthalpy_p, inflow.volume_p, discrete_state, plant)
    o = y[index.unburned_oxidizer]
    f = y[index.unburned_fuel]
    per_exponent = inflow.enthalpy / plant.chamber.volume
    step = SHARE * max(abs(o), MASS_FLOOR)
    J[index.chamber, index.unburned_oxidizer] += per_exponent * (exponent_at(o + step, f, plant, tables) - inflow.exponent) / step
    step = SHARE * max(abs(f), MASS_FLOOR)
    J[index.chamber, index.unburned_fuel] += per_exponent * (exponent_at(o, f + step, plant, tables) - inflow.exponent) / step
