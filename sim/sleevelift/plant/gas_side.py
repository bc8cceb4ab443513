"""The gas side at one instant: the state of the gas in each slot, what is open, and the flows between, row by row.

    nodes' masses and energies, lift -> `NOW` (p, T, rho, n, h, choked flux, r*) -> openings -> flow of each row

Everything goes over the rows that `gas_rows` declares, as numbers in `params.NODES`, `params.OPENINGS` and `params.FLOW`. Nodes are
worked on four at a time, flows one by one.
"""

from sleevelift.jit import bare_kernel, inline_kernel
from sleevelift.jit.packed import WIDTH, pack, pack_row, put_row
from sleevelift.physics.gas import OUTSIDE, gas_at
from sleevelift.physics.gas_node import node_state, node_states
from sleevelift.physics.quick_exhaust import shuttle_position, shuttle_slope
from sleevelift.physics.restriction import choked_flux, flow_fraction
from sleevelift.physics.slots import uncovered_share, uncovered_slope
from sleevelift.physics.supply import regulator_opening, regulator_slope, table_slope, table_value
from sleevelift.plant.params import (
    AMBIENT,
    BY_EXHAUST,
    BY_FILL,
    BY_POST,
    BY_QUICK,
    BY_REGULATOR,
    BY_SHUTTLE_HOME,
    CHAMBER,
    LIFT,
    REGULATED_SUPPLY,
    SOURCE,
    SPRING,
    SUPPLY,
    TABLE_SUPPLY,
    TUBE,
)
from sleevelift.plant.state import D_LIT, D_SUPPLY, D_VALVE
from sleevelift.plant.wet_side import SEAL_PASSES_OVER

HOT_GAS_LIMIT = 695.0
"""K. Combustion gas that leaks into the spring side is counted as actuation gas of at most this temperature: 5 K below the table's
end, so that a spring side which nothing else flows into stays inside."""
SUPPLY_OUTSIDE = 6
"""Place code of a tabled supply whose gas is outside its range."""


@inline_kernel
def put_state(now, slot, state):
    """Put a node's state (`gas_node.node_state`) into its slot."""
    p, T, rho, n, h, flux, r_star, status = state
    now.p[slot] = p
    now.T[slot] = T
    now.rho[slot] = rho
    now.n[slot] = n
    now.h[slot] = h
    now.flux[slot] = flux
    now.r_star[slot] = r_star
    now.status[slot] = status


@inline_kernel
def put_states(now, states):
    """Put the states of the first four slots, packed, into them."""
    p, T, rho, n, h, flux, r_star, status = states
    put_row(now.p, p)
    put_row(now.T, T)
    put_row(now.rho, rho)
    put_row(now.n, n)
    put_row(now.h, h)
    put_row(now.flux, flux)
    put_row(now.r_star, r_star)
    put_row(now.status, status)


@inline_kernel
def first_contents(y, x, nodes):
    """(masses kg, energies J, volumes m3) of the gas in the first four slots at lift x, packed."""
    m = nodes.mass
    masses = pack(y[m[0]], y[m[1]], y[m[2]], y[m[3]])
    energies = pack(y[m[0] + 1], y[m[1] + 1], y[m[2] + 1], y[m[3] + 1])
    volumes = pack_row(nodes.volume) - pack_row(nodes.filled) + x * pack_row(nodes.swept)
    return masses, energies - pack_row(nodes.stored), volumes


@inline_kernel
def gas_states(y, x, plant, gas):
    """Fill the states of all nodes; 0, or the code of the first whose gas is outside its range."""
    nodes = plant.nodes
    now = plant.now
    masses, energies, volumes = first_contents(y, x, nodes)
    states, outside = node_states(masses, energies, volumes, gas)
    if outside < WIDTH:
        return nodes.code[outside]
    put_states(now, states)
    for k in range(WIDTH, nodes.count):
        i = nodes.mass[k]
        state = node_state(y[i], y[i + 1], nodes.volume[k] + x * nodes.swept[k], gas)
        if state[7] == OUTSIDE:
            return nodes.code[k]
        put_state(now, k, state)
    return 0


@bare_kernel
def supply_state(t, segment, plant, tables, gas):
    """State of a tabled supply at the valve's inlet, as a node's."""
    supply = plant.supply
    p = table_value(t, tables, supply.table.start, supply.table.count, segment)
    rho, u, status = gas_at(p, supply.temperature, gas)
    if status == OUTSIDE:
        return p, supply.temperature, 0.0, 1.0, 0.0, 0.0, 0.0, OUTSIDE
    return node_state(rho, rho * u, 1.0, gas)


@bare_kernel
def chamber_side(p_c, gas_mass, lit, exponent, plant, tables, gas):
    """The gas that stands at the post seal on the chamber's side, as a node's state.

    Lit: combustion gas of density p_c/(R T), R T = p V/m_g, entering as actuation gas at p_c and min(T, 695 K). Unlit:
    actuation gas at p_c and ambient temperature (none flows where that is outside the gas's range). Where the spring side's
    pressure is higher, only the pressure is meant.
    """
    now = plant.now
    if p_c <= now.p[SPRING]:
        k = SPRING
        return p_c, now.T[k], now.rho[k], now.n[k], now.h[k], now.flux[k], now.r_star[k], 0
    if lit == 0:
        rho, u, status = gas_at(p_c, now.T[AMBIENT], gas)
        p, T, rho, n, h, flux, r_star, status = node_state(rho, rho * u, 1.0, gas)
        return p_c, T, rho, max(n, 1.0), h, flux, r_star, 0
    chamber = plant.chamber
    rt = p_c * chamber.volume / gas_mass
    rho = p_c / rt
    flux, star = choked_flux(p_c, rho, exponent)
    T = rt / chamber.gas_constant
    if T >= HOT_GAS_LIMIT:
        h = 0.0
        for i in range(chamber.hot_enthalpy.count):
            h = h * p_c + tables[chamber.hot_enthalpy.start + i]
        return p_c, T, rho, exponent, h, flux, star, 0
    dense, u, status = gas_at(p_c, T, gas)
    return p_c, T, rho, exponent, u + p_c / dense, flux, star, 0


@bare_kernel
def valve_opening(t, discrete_state, plant, tables):
    """Opening fraction of the solenoid valve, 0 to 1."""
    valve = plant.gas.valve
    if valve.count == 0:
        return 0.0
    return table_value(t, tables, valve.start, valve.count, discrete_state[D_VALVE])


@inline_kernel
def set_openings(t, x, discrete_state, plant, tables):
    """Fill how far each opening is open."""
    share = plant.openings.share
    now = plant.now
    g = plant.gas
    opening = valve_opening(t, discrete_state, plant, tables)
    share[BY_FILL] = opening
    share[BY_EXHAUST] = 1.0 - opening
    if plant.supply.kind == REGULATED_SUPPLY:
        share[BY_REGULATOR] = regulator_opening(plant.supply.set_pressure, now.p[SOURCE], plant.supply.droop_band)
    if g.quick != 0:
        moved = shuttle_position(now.p[LIFT] - now.p[TUBE], g.cracking)
        share[BY_QUICK] = moved
        share[BY_SHUTTLE_HOME] = 1.0 - moved
    if g.post_leaks != 0:
        share[BY_POST] = uncovered_share(x, plant.slots.first_lap, SEAL_PASSES_OVER)


@bare_kernel
def set_opening_slopes(x, discrete_state, plant, tables):
    """Fill the derivatives of each opening: by a difference of pressures (of which slots: `gas_sections`), by lift, by time."""
    openings = plant.openings
    now = plant.now
    g = plant.gas
    valve = g.valve
    slope = 0.0
    if valve.count > 0:
        slope = table_slope(tables, valve.start, valve.count, discrete_state[D_VALVE])
    openings.by_t[BY_FILL] = slope
    openings.by_t[BY_EXHAUST] = -slope
    if plant.supply.kind == REGULATED_SUPPLY:
        # counted from ambient, whose pressure is as fixed as the set pressure's
        openings.by_p[BY_REGULATOR] = -regulator_slope(plant.supply.set_pressure, now.p[SOURCE], plant.supply.droop_band)
    if g.quick != 0:
        slope = shuttle_slope(now.p[LIFT] - now.p[TUBE], g.cracking)
        openings.by_p[BY_QUICK] = slope
        openings.by_p[BY_SHUTTLE_HOME] = -slope
    if g.post_leaks != 0:
        openings.by_lift[BY_POST] = uncovered_slope(x, plant.slots.first_lap, SEAL_PASSES_OVER)


@inline_kernel
def set_boundaries(t, x, p_c, gas_mass, exponent, discrete_state, plant, tables, gas):
    """Fill what is no node and not fixed, and the openings; 0, or SUPPLY_OUTSIDE.

    p_c, gas_mass, exponent: chamber pressure Pa, mass kg and exponent of its gas.
    """
    if plant.supply.kind == TABLE_SUPPLY:
        state = supply_state(t, discrete_state[D_SUPPLY], plant, tables, gas)
        if state[7] == OUTSIDE:
            return SUPPLY_OUTSIDE
        put_state(plant.now, SUPPLY, state)
    set_openings(t, x, discrete_state, plant, tables)
    if plant.openings.share[BY_POST] > 0.0:
        put_state(plant.now, CHAMBER, chamber_side(p_c, gas_mass, discrete_state[D_LIT], exponent, plant, tables, gas))
    return 0


@inline_kernel
def flow_of(row, now, laminar_above):
    """(mass flow kg/s, enthalpy flow W) of a row of `params.FLOW`, wholly open, positive from source to sink."""
    ahead = now.p[row.source] > now.p[row.sink]
    up = row.source if ahead else row.sink
    down = row.sink if ahead else row.source
    way = 0 if ahead else 1
    fraction = flow_fraction(now.p[down] / now.p[up], now.n[up], now.r_star[up], row.b[way], row.m[way], laminar_above)
    w = row.area[way] * now.flux[up] * fraction
    if not ahead:
        w = -w
    return w, w * now.h[up]
