"""What acts on the sleeve at one instant: causes of the forces, their sum, friction; over `sleeve.FORCES` and the seals.

Lift and pressures in, forces out; the flows of liquid are those of `liquid_side`.
"""

from sleevelift.jit import bare_kernel, inline_kernel
from sleevelift.physics.friction import running_forces, running_slopes
from sleevelift.physics.sleeve import jet_force, jet_slopes, net_force
from sleevelift.physics.slots import uncovered_share
from sleevelift.plant.liquid_side import injector
from sleevelift.plant.params import INTO_CHAMBER
from sleevelift.plant.state import FUEL, OXIDIZER

SEAL_PASSES_OVER = 1e-4
"""m. Length of uncovering over which the post seal passes from oxidizer manifold to chamber (linear)."""

NOMINAL_FACTORS = (1.0, 1.0, 1.0)
"""-. On the friction of post, rod and piston seal."""


@bare_kernel
def post_seal_share(lift, plant):
    """How far the post seal faces the chamber, 0 (oxidizer manifold, slots covered) to 1."""
    if plant.lines[OXIDIZER].present != 0 and plant.friction.post_faces_chamber == 0:
        return uncovered_share(lift, plant.slots.first_lap, SEAL_PASSES_OVER)
    return 1.0


@inline_kernel
def seal_drops(share, p_o, p_f, p_l, p_s, p_c):
    """Pressures across post, rod and piston seal, Pa; share: `post_seal_share`."""
    return p_o + share * (p_c - p_o) - p_s, p_f - p_l, p_l - p_s


@bare_kernel
def running_friction_slopes(lift, p_l, p_s, plant):
    """Derivatives of the seals' running friction by (lift N/m, p_o, p_f, p_l, p_s, p_c N/Pa)."""
    p = plant.liquids.p
    share = post_seal_share(lift, plant)
    drops = seal_drops(share, p[OXIDIZER], p[FUEL], p_l, p_s, p[INTO_CHAMBER])
    post, rod, piston = running_slopes(drops, plant.friction.seals)
    by_lift = post * (p[INTO_CHAMBER] - p[OXIDIZER]) / SEAL_PASSES_OVER if 0.0 < share < 1.0 else 0.0
    return by_lift, post * (1.0 - share), rod, piston - rod, -post - piston, post * share


@bare_kernel
def fuel_jet(factor, w, p_f, p_i, plant):
    """Closing reaction of the fuel jet, N, of this jet factor."""
    return jet_force(factor, w, p_f, p_i, plant.lines[FUEL].rho, plant.seat.cos_angle)


@bare_kernel
def fuel_jet_slopes(plant):
    """Derivatives of the fuel jet's reaction by p_f - p_c, m2, and by the lift, N/m, of the flow that `liquid_side` left."""
    row = plant.liquid_flows[FUEL]
    p = plant.liquids.p
    drop = p[row.source] - p[row.sink] - row.rise
    by_flow, by_drop = jet_slopes(plant.seat.jet, row.w, drop, plant.lines[FUEL].rho, plant.seat.cos_angle)
    return by_flow * row.w_dp + by_drop * (1.0 - row.rise_dp), by_flow * row.w_lift - by_drop * row.rise_lift


@bare_kernel
def fuel_jet_by_share(liquid, rise, plant):
    """Derivative of the fuel jet's reaction by the share of liquid, N, that brings this flow, kg/s, and rise, Pa, at share 1."""
    row = plant.liquid_flows[FUEL]
    p = plant.liquids.p
    drop = p[row.source] - p[row.sink] - row.rise
    by_flow, by_drop = jet_slopes(plant.seat.jet, row.w, drop, plant.lines[FUEL].rho, plant.seat.cos_angle)
    return by_flow * liquid - by_drop * rise


@bare_kernel
def fuel_injector(lift, p_f, p_c, plant, tables):
    """(mass flow kg/s, gap pressure p_i Pa, Cd A of the gap m2). A dry case has no flow but keeps its gap pressure."""
    return injector(FUEL, lift, p_f, p_c, plant, tables)


@bare_kernel
def wet_side(lift, p_l, p_s, plant):
    """(causes of the forces, net force N, running friction N) with the pressures and flows that `liquid_side` left."""
    p = plant.liquids.p
    p_o, p_f, p_c = p[OXIDIZER], p[FUEL], p[INTO_CHAMBER]
    row = plant.liquid_flows[FUEL]
    p_i = p_c + row.rise
    causes = p_l, p_f, p_i, p_c, p_s, fuel_jet(plant.seat.jet, row.w, p_f, p_i, plant), lift
    share = post_seal_share(lift, plant)
    run = running_forces(seal_drops(share, p_o, p_f, p_l, p_s, p_c), NOMINAL_FACTORS, plant.friction.seals)
    return causes, net_force(causes, plant.forces), run
