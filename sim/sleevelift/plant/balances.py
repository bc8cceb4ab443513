"""What is left over of gas mass, gas energy and the machine's energy at the end of a run: the balances of MODEL.md, section 7.

The boundary flows are integrated as states; here they are set against what the nodes, sleeve, spring and liquids hold.
"""

from sleevelift.jit import bare_kernel
from sleevelift.physics.feed_line import compression_energy
from sleevelift.physics.manifold_gas import energy_beside_gas
from sleevelift.physics.spring import spring_energy
from sleevelift.plant.manifold_gas import manifold_content
from sleevelift.plant.names import PLACE
from sleevelift.plant.params import FIRST_AHEAD
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

P_GAS_MASS_ERROR = PLACE["gas_mass_error"]
P_ENERGY_ERROR = PLACE["energy_error"]


@bare_kernel
def stored_energy(k, trajectory, plant):
    """Energy held by sleeve, spring, weight and liquids at point k, J."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    index = plant.index
    x = ys[k, index.lift_height]
    v = ys[k, index.speed]
    total = 0.5 * plant.sleeve.mass * v * v + spring_energy(plant.sleeve.preload, plant.sleeve.rate, x)
    total += plant.sleeve.weight * x
    for side in range(plant.liquids.lines):
        line = plant.lines[side]
        z = ys[k, plant.liquids.place[side]]
        p = stored_outputs[k, S_OXIDIZER_P + side]
        total += line_energy(ys[k, line.flow_place], z, p, line, plant)
        if plant.gas_manifolds != 0 and plant.gases[side].present != 0:
            gas = plant.gases[side]
            content = manifold_content(ys[k], gas)
            cavity = discrete_state[k, D_CAVITY_O + side]
            amb = plant.ambient_pressure
            total += energy_beside_gas(z, content, p, cavity, plant.liquids.stiffness[side], line.vapour, amb)
            total -= compression_energy(z, p, line.volume, line.bulk, line.vapour, 0.0, 1.0, amb)
    liquids = plant.liquids
    for slot in range(FIRST_AHEAD, liquids.volumes):
        z = ys[k, liquids.place[slot]]
        total += liquids.vapour[slot] * z + 0.5 * liquids.stiffness[slot] * max(z, 0.0) * max(z, 0.0)
    return total


@bare_kernel
def line_energy(w, z, p, line, plant):
    """Kinetic energy of the line's column plus energy of compression of its manifold, J."""
    kinetic = 0.5 * line.inertance * w * w / line.rho
    return kinetic + compression_energy(
        z, p, line.volume, line.bulk, line.vapour, line.trapped_gas, line.trapped_gas_exponent, plant.ambient_pressure
    )


@bare_kernel
def gas_content(k, which, trajectory, plant):
    """Mass (which 0) or internal energy (1) of all gas nodes at point k, kg or J."""
    ys = trajectory[1]
    nodes = plant.nodes
    total = 0.0
    for node in range(nodes.count):
        total += ys[k, nodes.mass[node] + which]
    return total


@bare_kernel
def gained(which, trajectory, core):
    """Growth of a balance over the run."""
    ys = trajectory[1]
    return ys[trajectory[5] - 1, core + which] - ys[0, core + which]


@bare_kernel
def balances(trajectory, event_memory, plant):
    """(gas mass kg, gas energy J, machine energy J) left over at the end, and the (mass, energy, work) they are measured by.

    What goes outside is integrated as of one more node. Gas energy: change of U, outside included, + work on the sleeve. Machine:
    change of stored energy + friction + impacts - gas work - work of inlets, injectors, chamber, gap and jet - of purge gas.
    """
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    end = count - 1
    core = plant.index.core
    mass = gas_content(end, 0, trajectory, plant) - gas_content(0, 0, trajectory, plant) + gained(B_GAS_MASS, trajectory, core)
    energy = gas_content(end, 1, trajectory, plant) - gas_content(0, 1, trajectory, plant)
    energy += gained(B_GAS_WORK, trajectory, core) + gained(B_GAS_ENERGY, trajectory, core)
    machine = stored_energy(end, trajectory, plant) - stored_energy(0, trajectory, plant)
    machine += gained(B_FRICTION, trajectory, core) + event_memory[M_IMPACT_LOSS]
    machine -= gained(B_GAS_WORK, trajectory, core) + gained(B_OTHER_WORK, trajectory, core)
    if plant.gas_manifolds != 0:
        machine -= gained(B_PURGE_WORK, trajectory, plant.index.ledger)
    index = plant.index
    mass_scale = max(abs(gained(B_FILL, trajectory, core)), ys[0, index.tube] + ys[0, index.lift] + ys[0, index.spring])
    stroke = plant.sleeve.stroke
    work_scale = max(spring_energy(plant.sleeve.preload, plant.sleeve.rate, stroke), gained(B_FRICTION, trajectory, core))
    work_scale = max(work_scale, event_memory[M_IMPACT_LOSS])
    at_start = stored_energy(0, trajectory, plant)
    for k in range(1, count):
        work_scale = max(work_scale, abs(stored_energy(k, trajectory, plant) - at_start))
    energy_scale = work_scale + abs(gained(B_GAS_ENERGY, trajectory, core))
    return mass, energy, machine, mass_scale, energy_scale, work_scale


@bare_kernel
def balance_measures(out, trajectory, event_memory, plant):
    """Errors of gas mass and of the whole machine's energy, relative."""
    mass, energy, machine, mass_scale, energy_scale, work_scale = balances(trajectory, event_memory, plant)
    out[P_GAS_MASS_ERROR] = abs(mass) / mass_scale
    out[P_ENERGY_ERROR] = max(abs(machine) / work_scale, abs(energy) / energy_scale)
