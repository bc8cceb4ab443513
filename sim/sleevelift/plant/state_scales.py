"""What of a plant's record follows from its own steady flow: passages' time constants, sizes of the states."""

from sleevelift.jit import bare_kernel
from sleevelift.plant.params import AMBIENT, LIFT
from sleevelift.plant.state import FUEL, OXIDIZER
from sleevelift.plant.static import reference_flows

FLOOR_STROKE, FLOOR_LINE, FLOOR_DRIBBLE, FLOOR_UNBURNED, FLOOR_GAS = 0.05, 1.0, 0.05, 0.15, 0.3
"""-. Sizes below which a state no longer counts: 5 % of the stroke, a line's rated flow (stopping it raises the pressure by about
as much as the inlet has, so that ringing counts alike in flow and pressure), 5 % of a passage's filling, 15 % of the mass that
burns in the burning time, 30 % of the gas at ambient. That of the speed: `build.size_of_speed`."""
FLOOR_LIQUID = 1e5
"""Pa. Swing of manifold pressure below which it no longer counts."""
FLOOR_LIFT_LIQUID = 0.01
"""-. Share of the lift chamber's dead volume below which liquid in it no longer counts."""
CHOKED_SHARE = 0.7
"""-. Psi(n) of the common gases within 5 %, enough to size a floor: rho = (flux/Psi)^2/p."""
FLOOR_CHAMBER = 1e4
"""Pa. Swing of chamber pressure below which it no longer counts."""
LEAST_FLOW = 1e-6
"""kg/s. A reference flow no smaller than this sizes a state."""


@bare_kernel
def complete_line(floors, side, reference, plant):
    """Time constant of a side's passage, and sizes of its line's flow, compressed volume, passage's content and unburned mass."""
    line = plant.lines[side]
    if line.dribble_mass > 0.0 and not line.dribble_time > 0.0:
        line.dribble_time = line.dribble_mass / max(reference, 1e-12)
    floors[line.flow_place] = FLOOR_LINE * max(reference, LEAST_FLOW)
    floors[plant.liquids.place[side]] = FLOOR_LIQUID * line.volume / line.bulk
    if line.valve_area > 0.0:
        floors[plant.liquids.place[line.end]] = FLOOR_LIQUID / plant.liquids.stiffness[line.end]
    if plant.gases[side].present != 0:
        gas = plant.gases[side]
        floors[gas.place] = FLOOR_GAS * plant.ambient_pressure * line.volume / gas.rt
    if line.dribble_mass > 0.0:
        floors[line.dribble_place] = FLOOR_DRIBBLE * line.dribble_mass
    if plant.chamber.hot != 0:
        floors[line.unburned_place] = FLOOR_UNBURNED * max(reference, LEAST_FLOW) * plant.chamber.combustion_time_constant


@bare_kernel
def complete(lanes, floors, tables):
    """Fill of a one-lane plant what its reference flows give, and `floors` (n_core,).

    Reference flows: rated, or the static solution at full lift. They give the time constants of passages without a given one,
    and the size of each core state but the speed below which its error is measured against this, in the state's unit.
    """
    plant = lanes[0]
    index = plant.index
    for i in range(floors.shape[0]):
        floors[i] = 1.0
    ambient = plant.now.p[AMBIENT]
    density = (plant.now.flux[AMBIENT] / CHOKED_SHARE) ** 2 / ambient
    nodes = plant.nodes
    for k in range(nodes.count):
        floors[nodes.mass[k]] = FLOOR_GAS * nodes.volume[k] * density
        floors[nodes.mass[k] + 1] = FLOOR_GAS * nodes.volume[k] * ambient * 2.5
    floors[index.lift_height] = FLOOR_STROKE * plant.sleeve.stroke
    if plant.liquids.lines == 0:
        return
    w_o, w_f = reference_flows(lanes, tables)
    complete_line(floors, OXIDIZER, w_o, plant)
    complete_line(floors, FUEL, w_f, plant)
    if plant.rod.present != 0:
        floors[index.lift_liquid] = FLOOR_LIFT_LIQUID * nodes.volume[LIFT]
    chamber = plant.chamber
    if chamber.hot != 0:
        floors[index.gas_mass] = FLOOR_GAS * chamber.ambient_mass
        floors[index.chamber] = FLOOR_CHAMBER
