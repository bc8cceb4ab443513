"""What of a plant's record follows from its own steady flow: passages' time constants, sizes of the states."""

from sleevelift.jit import bare_kernel
from sleevelift.plant.params import AMBIENT
from sleevelift.plant.static import reference_flows

FLOOR_STROKE, FLOOR_LINE, FLOOR_DRIBBLE, FLOOR_UNBURNED, FLOOR_GAS = 0.05, 1.0, 0.05, 0.15, 0.3
"""-. Sizes below which a state no longer counts: 5 % of the stroke, a line's rated flow (stopping it raises the pressure by about
as much as the inlet has, so that ringing counts alike in flow and pressure), 5 % of a passage's filling, 15 % of the mass that
burns in the burning time, 30 % of the gas at ambient. That of the speed: `build.size_of_speed`."""
FLOOR_LIQUID = 1e5
"""Pa. Swing of manifold pressure below which it no longer counts."""
CHOKED_SHARE = 0.7
"""-. Psi(n) of the common gases within 5 %, enough to size a floor: rho = (flux/Psi)^2/p."""
FLOOR_CHAMBER = 1e4
"""Pa. Swing of chamber pressure below which it no longer counts."""
LEAST_FLOW = 1e-6
"""kg/s. A reference flow no smaller than this sizes a state."""


@bare_kernel
def line_floors(floors, i_flow, i_volume, i_dribble, line, reference):
    """Sizes of a line's flow, of its compressed volume and of its passage's content, kg/s, m3 and kg."""
    floors[i_flow] = FLOOR_LINE * max(reference, LEAST_FLOW)
    floors[i_volume] = FLOOR_LIQUID * line.volume / line.bulk
    if line.dribble_mass > 0.0:
        floors[i_dribble] = FLOOR_DRIBBLE * line.dribble_mass


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
    ox = plant.oxidizer
    fuel = plant.fuel
    if ox.present == 0:
        return
    w_o, w_f = reference_flows(lanes, tables)
    if ox.dribble_mass > 0.0 and not ox.dribble_time > 0.0:
        ox.dribble_time = ox.dribble_mass / max(w_o, 1e-12)
    if fuel.dribble_mass > 0.0 and not fuel.dribble_time > 0.0:
        fuel.dribble_time = fuel.dribble_mass / max(w_f, 1e-12)
    line_floors(floors, index.oxidizer_flow, index.oxidizer_volume, index.dribble_oxidizer, ox, w_o)
    line_floors(floors, index.fuel_flow, index.fuel_volume, index.dribble_fuel, fuel, w_f)
    chamber = plant.chamber
    if chamber.hot != 0:
        floors[index.unburned_oxidizer] = FLOOR_UNBURNED * max(w_o, LEAST_FLOW) * chamber.combustion_time_constant
        floors[index.unburned_fuel] = FLOOR_UNBURNED * max(w_f, LEAST_FLOW) * chamber.combustion_time_constant
        floors[index.gas_mass] = FLOOR_GAS * chamber.ambient_mass
        floors[index.chamber] = FLOOR_CHAMBER
