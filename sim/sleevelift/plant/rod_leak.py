"""Fuel past the rod seal, the liquid it leaves in the lift chamber, and what that does to chamber and lines.

    fuel manifold p_f --[rod seal A_r]--> lift chamber: gas above, liquid V_q below --[port, exhaust]--> ambient

In: as liquid. Back (p_l > p_f): liquid as far as it covers the seal, else gas, which leaves the balance into the fuel line. Out:
liquid by the port and a quick exhaust only, at once to ambient through port and exhaust in series; what it passes, gas cannot.
Laws: `physics.lift_liquid`, `physics.liquid`, `physics.restriction`; MODEL.md, section 3. All of it only where there is such a
leak."""

from math import sqrt

from sleevelift.jit import bare_kernel
from sleevelift.physics.lift_liquid import gas_room, high_share, low_share, share, wetting
from sleevelift.physics.liquid import JOINT_PRESSURE, orifice_liquid_flow
from sleevelift.physics.restriction import flow_fraction
from sleevelift.plant.params import (
    BY_EXHAUST,
    BY_LEAVING,
    BY_NONE,
    BY_PASSING,
    BY_QUICK,
    BY_SHUTTLE_HOME,
    LIFT,
)
from sleevelift.plant.state import (
    B_GAS_MASS,
    B_LIQUID_OUT,
    B_ROD_GAS,
    B_ROD_LIQUID,
    FUEL,
    S_LIQUID_OUT,
    S_ROD_LEAK,
    S_ROD_LIQUID,
)


@bare_kernel
def chamber_volume(x, plant):
    """Volume of the lift chamber, gas and liquid, m3."""
    return plant.nodes.volume[LIFT] + x * plant.nodes.swept[LIFT]


@bare_kernel
def gas_content(mass, plant):
    """m R T_q, J: what the compliance of the liquid takes for p V of the gas."""
    return mass * plant.rod.gas_constant * plant.rod.temperature


@bare_kernel
def set_liquid(y, x, plant):
    """Fill how much room the liquid takes from the gas of the lift chamber, and what it holds of its energy."""
    nodes = plant.nodes
    total = chamber_volume(x, plant)
    content = gas_content(y[plant.index.lift], plant)
    room, _, stored = gas_room(total, y[plant.index.lift_liquid], plant.lines[FUEL].bulk, plant.ambient_pressure, content)
    nodes.filled[LIFT] = total - room
    nodes.stored[LIFT] = stored


@bare_kernel
def passing(plant):
    """How far liquid passes port and exhaust, 0 to 1, of what could leave: pressure above ambient, shuttle at home."""
    return share(plant.now.p[LIFT], plant.ambient_pressure, JOINT_PRESSURE) * plant.openings.share[BY_SHUTTLE_HOME]


@bare_kernel
def blocked(row, leaving, top, passed, now):
    """Share of a gas flow that liquid blocks, where such shares are liquid of what leaves the lift chamber by its port, by what
    sits high, and of what passes the exhaust; of changes of these its change."""
    up = row.source if now.p[row.source] > now.p[row.sink] else row.sink
    if row.blocked == BY_PASSING:
        return passed if up == row.source else 0.0
    if row.blocked == BY_NONE or up != LIFT:
        return 0.0
    return leaving if row.blocked == BY_LEAVING else top


@bare_kernel
def set_blocking(liquid, x, plant):
    """Fill the shares of liquid in what leaves the lift chamber, and what they leave to each gas flow."""
    rod = plant.rod
    rod.top = high_share(liquid, chamber_volume(x, plant))
    rod.leaving = rod.top if rod.high != 0 else low_share(liquid, plant.nodes.volume[LIFT])
    passed = rod.leaving * passing(plant)
    for k in range(plant.gas.flows):
        row = plant.flows[k]
        row.free = 1.0 - blocked(row, rod.leaving, rod.top, passed, plant.now)


@bare_kernel
def area_of(row, way, plant):
    """Effective area of a row, m2; 0 of none."""
    return plant.flows[row].area[way] if row >= 0 else 0.0


@bare_kernel
def outlet(plant):
    """(port's area as far as the shuttle is at home, exhaust's as far as it is open, quick exhaust's as far as moved), m2."""
    rod = plant.rod
    opened = plant.openings.share
    port = area_of(rod.port, 1, plant) * opened[BY_SHUTTLE_HOME]
    return port, area_of(rod.exhaust, 0, plant) * opened[BY_EXHAUST], area_of(rod.quick, 0, plant) * opened[BY_QUICK]


@bare_kernel
def in_turn(a, b):
    """Effective area of two restrictions that liquid passes one after the other, m2."""
    return a * b / sqrt(a * a + b * b) if a > 0.0 and b > 0.0 else 0.0


@bare_kernel
def liquid_out(plant):
    """Liquid that would leave the chamber by port and quick exhaust if nothing else did, kg/s."""
    dp = plant.now.p[LIFT] - plant.ambient_pressure
    if not dp > 0.0:
        return 0.0
    port, exhaust, quick = outlet(plant)
    return orifice_liquid_flow(in_turn(port, exhaust) + quick, plant.lines[FUEL].rho, dp)


@bare_kernel
def gas_back(p_f, plant):
    """Gas that would pass the rod seal into the fuel line if it were dry, kg/s; p_f below the lift chamber's pressure, Pa."""
    now = plant.now
    fraction = flow_fraction(p_f / now.p[LIFT], now.n[LIFT], now.r_star[LIFT], -1.0, 0.5, plant.gas.laminar_above)
    return plant.rod.area * now.flux[LIFT] * fraction


@bare_kernel
def rod_flows(liquid, p_f, plant):
    """(liquid past the rod seal, out of the chamber, gas past the rod seal into the fuel line), kg/s."""
    rod = plant.rod
    dp = p_f - plant.now.p[LIFT]
    w = orifice_liquid_flow(rod.area, plant.lines[FUEL].rho, dp)
    back = 0.0
    if dp < 0.0:
        covered = low_share(liquid, plant.nodes.volume[LIFT])
        w *= covered
        if covered < 1.0:
            back = (1.0 - covered) * gas_back(p_f, plant)
    return w, rod.leaving * liquid_out(plant), back


@bare_kernel
def set_rod_flow(y, plant):
    """Fill the liquid that passes the rod seal, which the fuel manifold loses (`liquid_side.set_outflows`)."""
    plant.rod.w = rod_flows(y[plant.index.lift_liquid], plant.liquids.p[FUEL], plant)[0]


@bare_kernel
def rod_rates(y, dy, outputs, plant, balance):
    """Fill the rates of liquid and gas that pass the rod seal, and of liquid that leaves.

    The gas of the chamber does work p_l on the liquid, and the last of it takes the liquid's temperature.
    """
    rod = plant.rod
    now = plant.now
    index = plant.index
    w, out, back = rod_flows(y[index.lift_liquid], plant.liquids.p[FUEL], plant)
    rod.w = w
    i = index.lift
    grows = (w - out) * plant.lines[FUEL].specific_volume
    heat = wetting(y[i], rod.gas_constant, rod.top) * (rod.temperature - now.T[LIFT])
    gained = now.p[LIFT] * grows + heat - back * now.h[LIFT]
    dy[index.lift_liquid] = grows
    dy[i] -= back
    dy[i + 1] += gained
    outside = balance + B_GAS_MASS
    dy[outside] += back
    dy[outside + 1] -= gained
    dy[index.rod + B_ROD_LIQUID] = w
    dy[index.rod + B_LIQUID_OUT] = out
    dy[index.rod + B_ROD_GAS] = back
    if outputs.shape[0] > 0:
        outputs[S_ROD_LEAK] = -back
        outputs[S_ROD_LIQUID] = w
        outputs[S_LIQUID_OUT] = out
