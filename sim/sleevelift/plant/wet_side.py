"""The wet side at one instant: injector flows, gap pressure, forces on the sleeve, friction.

Lift and pressures in, flows and forces out; calls the rooms `slots`, `seat`, `liquid`, `sleeve`, `friction`.
"""

from sleevelift.jit import bare_kernel, inline_kernel
from sleevelift.physics.friction import running_forces, running_slopes
from sleevelift.physics.liquid import orifice_liquid_flow
from sleevelift.physics.seat import gap_passage, gap_pressure, in_series, spigot_loss
from sleevelift.physics.sleeve import jet_force, net_force
from sleevelift.physics.slots import lapped_flow, rows_effective_area, two_loss_flow, uncovered_share
from sleevelift.physics.supply import table_segment, table_value

SEAL_PASSES_OVER = 1e-4
"""m. Length of uncovering over which the post seal passes from oxidizer manifold to chamber (linear)."""

NOMINAL_FACTORS = (1.0, 1.0, 1.0)
"""-. On the friction of post, rod and piston seal."""


@bare_kernel
def measured_area(lift, tables, start, count):
    """Area, m2, from a measured table of (lift, area) pairs; constant beyond its ends."""
    return table_value(lift, tables, start, count, table_segment(lift, tables, start, count))


@bare_kernel
def slot_effective_area(lift, slots, tables):
    """Sum of Cd A of the oxidizer slots, m2."""
    if slots.measured.count > 0:
        return slots.measured_cd * measured_area(lift, tables, slots.measured.start, slots.measured.count)
    return rows_effective_area(lift, tables, slots.rows.start, slots.rows.count)


@bare_kernel
def oxidizer_flow(area, lift, dp, slots, line):
    """Mass flow through slots of Cd A `area`, m2, and clearance, kg/s."""
    leak = line.rho * lapped_flow(lift, slots.first_lap, slots.least_length, slots.laminar, slots.quadratic, dp)
    if area <= 0.0:
        return leak
    return orifice_liquid_flow(area, line.rho, dp) + leak


@bare_kernel
def oxidizer_injector(lift, dp, slots, line, tables):
    """(mass flow through slots and clearance kg/s, Cd A of the slots m2)."""
    if line.present == 0:
        return 0.0, 0.0
    area = slot_effective_area(lift, slots, tables)
    return oxidizer_flow(area, lift, dp, slots, line), area


@bare_kernel
def gap_effective_area(lift, seat, tables):
    """Cd A of the seat gap with what leaks past the seat, m2; that alone when seated."""
    if lift <= 0.0 and seat.leak <= 0.0:
        return 0.0
    if seat.measured.count > 0:
        open_area = measured_area(lift, tables, seat.measured.start, seat.measured.count) if lift > 0.0 else 0.0
        return seat.cd * (open_area + seat.leak)
    return seat.cd * gap_passage(
        lift,
        seat.edge,
        seat.seat_diameter,
        seat.nose_diameter,
        seat.sin_angle,
        seat.cos_angle,
        seat.spigot_length,
        seat.spigot_clearance,
        seat.leak,
    )


@bare_kernel
def fuel_flow(gap, lift, p_f, p_c, seat, line):
    """(mass flow kg/s, gap pressure p_i Pa) of a gap of Cd A `gap`, m2. A dry case has no flow but keeps its gap pressure.

    Both follow from p_f - p_c alone: raised together, the pressures raise p_i as much and leave the flow.
    """
    if gap <= 0.0:
        return 0.0, p_c
    annulus = seat.annulus
    if seat.measured.count == 0 and seat.spigot_length > 0.0 and lift <= seat.spigot_length:
        if line.present == 0:
            return 0.0, p_c
        back = 1.0 / (annulus * annulus) if annulus > 0.0 else 0.0
        quadratic = 0.5 * line.rho * (1.0 / (gap * gap) + back)
        laminar = spigot_loss(lift, seat.seat_diameter, seat.spigot_length, seat.spigot_clearance, line.mu)
        q = two_loss_flow(laminar, quadratic, p_f - p_c)
        return line.rho * q, p_c + 0.5 * line.rho * q * abs(q) * back
    p_i = gap_pressure(gap, annulus, p_f, p_c)
    if line.present == 0:
        return 0.0, p_i
    return orifice_liquid_flow(in_series(gap, annulus), line.rho, p_f - p_c), p_i


@bare_kernel
def fuel_injector(lift, p_f, p_c, seat, line, tables):
    """(mass flow kg/s, gap pressure p_i Pa, Cd A of the gap m2), see `fuel_flow`."""
    gap = gap_effective_area(lift, seat, tables)
    w, p_i = fuel_flow(gap, lift, p_f, p_c, seat, line)
    return w, p_i, gap


@bare_kernel
def post_seal_share(lift, friction, first_lap, oxidizer_present):
    """How far the post seal faces the chamber, 0 (oxidizer manifold, slots covered) to 1."""
    if oxidizer_present != 0 and friction.post_faces_chamber == 0:
        return uncovered_share(lift, first_lap, SEAL_PASSES_OVER)
    return 1.0


@inline_kernel
def seal_drops(share, p_o, p_f, p_l, p_s, p_c):
    """Pressures across post, rod and piston seal, Pa; share: `post_seal_share`."""
    return p_o + share * (p_c - p_o) - p_s, p_f - p_l, p_l - p_s


@bare_kernel
def running_friction_slopes(lift, p_o, p_f, p_l, p_s, p_c, friction, first_lap, oxidizer_present):
    """Derivatives of the seals' running friction by (lift N/m, p_o, p_f, p_l, p_s, p_c N/Pa)."""
    share = post_seal_share(lift, friction, first_lap, oxidizer_present)
    post, rod, piston = running_slopes(seal_drops(share, p_o, p_f, p_l, p_s, p_c), friction.seals)
    by_lift = post * (p_c - p_o) / SEAL_PASSES_OVER if 0.0 < share < 1.0 else 0.0
    return by_lift, post * (1.0 - share), rod, piston - rod, -post - piston, post * share


@bare_kernel
def fuel_jet(factor, w, p_f, p_i, plant):
    """Closing reaction of the fuel jet, N, of this jet factor; none without a feed line."""
    if plant.fuel.present == 0:
        return 0.0
    return jet_force(factor, w, p_f, p_i, plant.fuel.rho, plant.seat.cos_angle)


@bare_kernel
def wet_side(lift, p_l, p_s, p_o, p_f, p_c, plant, tables):
    """(w_o, w_f kg/s, causes of the forces, net force N, running friction N, Cd A slots m2, Cd A gap m2)."""
    w_o, slot = oxidizer_injector(lift, p_o - p_c, plant.slots, plant.oxidizer, tables)
    w_f, p_i, gap = fuel_injector(lift, p_f, p_c, plant.seat, plant.fuel, tables)
    causes = p_l, p_f, p_i, p_c, p_s, fuel_jet(plant.seat.jet, w_f, p_f, p_i, plant), lift
    share = post_seal_share(lift, plant.friction, plant.slots.first_lap, plant.oxidizer.present)
    run = running_forces(seal_drops(share, p_o, p_f, p_l, p_s, p_c), NOMINAL_FACTORS, plant.friction.seals)
    return w_o, w_f, causes, net_force(causes, plant.forces), run, slot, gap
