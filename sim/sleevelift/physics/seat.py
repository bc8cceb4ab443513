"""Fuel passage at the conical seat, with an optional spigot on the nose and the annulus behind it.

    x ^   fuel p_f
      |  \\  nose   /        gap S = Cd A(x) between nose and seat
      |   \\______ /
      |    p_i  | skirt      annulus N = Cd A, fixed, between housing and skirt
      |  ===== N =====
          chamber p_c

Narrowest passage of a cone lifted by x (frustum; b the half-angle from the axis):
    contact edge on the seat:    A = pi x sin(b) (d_seat - x sin(b) cos(b)); once the foot of the normal would pass the nose's
                                 lower edge (d_nose), the distance to that edge counts
    contact edge on the sleeve:  A = pi x sin(b) (d_seat + x sin(b) cos(b))
A spigot of length L_p and radial clearance c keeps the passage at min(cone, pi d_seat c) for 0 < x <= L_p, with its laminar loss
over the overlap L_p - x in series; beyond, max(pi d_seat c, min(pi d_seat hypot(c, x - L_p), cone)).
A leaking seat adds a fixed area to the cone's, at every lift and seated too.
In series with the annulus 1/(Cd A)^2 adds; p_i = (S^2 p_f + N^2 p_c)/(S^2 + N^2). Source: geometry; series of two sharp
restrictions of one incompressible flow.
"""

from math import cos, pi, sin, sqrt

from sleevelift.jit import bare_kernel
from sleevelift.physics.liquid import orifice_liquid_flow, orifice_liquid_slope
from sleevelift.physics.slots import two_loss_flow, two_loss_slopes

EDGE_ON_SEAT = 0.0
EDGE_ON_SLEEVE = 1.0


@bare_kernel
def cone_passage(lift, edge, seat_diameter, nose_diameter, s, c):
    """`cone_area` with s and c, sine and cosine of the half-angle, -."""
    if lift <= 0.0:
        return 0.0
    if edge == EDGE_ON_SLEEVE:
        return pi * lift * s * (seat_diameter + lift * s * c)
    inset = lift * s * c
    reach = 0.5 * (seat_diameter - nose_diameter)
    if inset <= reach:
        return pi * lift * s * (seat_diameter - inset)
    # the foot of the normal lies beyond the nose's lower edge: that edge stands x - reach/tan(b) above the seat's
    drop = lift - reach * c / s
    return pi * 0.5 * (seat_diameter + nose_diameter) * sqrt(reach * reach + drop * drop)


@bare_kernel
def cone_slope(lift, edge, seat_diameter, nose_diameter, s, c):
    """Derivative of `cone_passage` by the lift, m."""
    if lift <= 0.0:
        return 0.0
    if edge == EDGE_ON_SLEEVE:
        return pi * s * (seat_diameter + 2.0 * lift * s * c)
    inset = lift * s * c
    reach = 0.5 * (seat_diameter - nose_diameter)
    if inset <= reach:
        return pi * s * (seat_diameter - 2.0 * inset)
    drop = lift - reach * c / s
    return pi * 0.5 * (seat_diameter + nose_diameter) * drop / sqrt(reach * reach + drop * drop)


@bare_kernel
def cone_area(lift, edge, seat_diameter, nose_diameter, half_angle):
    """Narrowest passage between a cone and a circular edge, m2; lift, diameters m, half_angle rad. 0 for lift <= 0."""
    return cone_passage(lift, edge, seat_diameter, nose_diameter, sin(half_angle), cos(half_angle))


@bare_kernel
def gap_passage(lift, edge, seat_diameter, nose_diameter, s, c, spigot_length, spigot_clearance, leak):
    """`gap_area` with s and c, sine and cosine of the half-angle, -, and a leak past the seat, m2."""
    cone = cone_passage(lift, edge, seat_diameter, nose_diameter, s, c) + leak
    if spigot_length <= 0.0:
        return cone
    ring = pi * seat_diameter * spigot_clearance
    if lift <= spigot_length:
        return min(cone, ring)
    past = lift - spigot_length
    return max(ring, min(pi * seat_diameter * sqrt(spigot_clearance * spigot_clearance + past * past), cone))


@bare_kernel
def gap_slope(lift, edge, seat_diameter, nose_diameter, s, c, spigot_length, spigot_clearance, leak):
    """Derivative of `gap_passage` by the lift, m."""
    by_cone = cone_slope(lift, edge, seat_diameter, nose_diameter, s, c)
    if spigot_length <= 0.0:
        return by_cone
    cone = cone_passage(lift, edge, seat_diameter, nose_diameter, s, c) + leak
    rim = pi * seat_diameter
    ring = rim * spigot_clearance
    if lift <= spigot_length:
        return by_cone if cone < ring else 0.0
    past = lift - spigot_length
    reach = sqrt(spigot_clearance * spigot_clearance + past * past)
    if rim * reach < cone:
        return rim * past / reach
    return by_cone if cone > ring else 0.0


@bare_kernel
def gap_area(lift, edge, seat_diameter, nose_diameter, half_angle, spigot_length, spigot_clearance):
    """Narrowest passage of a tight seat's gap, m2, spigot included (spigot_length 0: bare cone)."""
    s = sin(half_angle)
    c = cos(half_angle)
    return gap_passage(lift, edge, seat_diameter, nose_diameter, s, c, spigot_length, spigot_clearance, 0.0)


@bare_kernel
def spigot_loss(lift, seat_diameter, spigot_length, spigot_clearance, mu):
    """Laminar loss of the spigot over its remaining overlap, Pa s/m3: 12 mu (L_p - x)/(pi d c^3); 0 past it or without one."""
    if spigot_length <= 0.0 or lift >= spigot_length:
        return 0.0
    return 12.0 * mu * (spigot_length - max(lift, 0.0)) / (pi * seat_diameter * spigot_clearance**3)


@bare_kernel
def spigot_loss_slope(lift, seat_diameter, spigot_length, spigot_clearance, mu):
    """Derivative of `spigot_loss` by the lift, Pa s/m4."""
    if spigot_length <= 0.0 or not 0.0 <= lift < spigot_length:
        return 0.0
    return -12.0 * mu / (pi * seat_diameter * spigot_clearance**3)


@bare_kernel
def gap_pressure(gap, annulus, p_f, p_c):
    """Pressure between seat gap and annulus, Pa: (S^2 p_f + N^2 p_c)/(S^2 + N^2); no annulus (0): p_c."""
    return p_c + gap_share(gap, annulus) * (p_f - p_c)


@bare_kernel
def gap_share(gap, annulus):
    """Share of p_f - p_c that stands between seat gap and annulus, -: S^2/(S^2 + N^2); no annulus (0): none."""
    if annulus <= 0.0:
        return 0.0
    s = gap * gap
    return s / (s + annulus * annulus)


@bare_kernel
def in_series(gap, annulus):
    """Effective area of gap and annulus in series, m2; annulus 0 means none."""
    if annulus <= 0.0 or gap <= 0.0:
        return gap
    return gap * annulus / sqrt(gap * gap + annulus * annulus)


@bare_kernel
def open_gap_flow(gap, annulus, rho, dp):
    """(mass flow kg/s, rise of the gap pressure above the chamber's Pa) of gap and annulus in series; Cd A m2, rho kg/m3, dp Pa."""
    return orifice_liquid_flow(in_series(gap, annulus), rho, dp), gap_share(gap, annulus) * dp


@bare_kernel
def open_gap_slopes(gap, annulus, rho, dp):
    """Derivatives of `open_gap_flow`: (flow, rise) by dp, then by the gap.

    In series (N/hypot)^3 of a change of the gap; of the share 2 S N^2/(S^2 + N^2)^2.
    """
    area = in_series(gap, annulus)
    by_area = orifice_liquid_flow(1.0, rho, dp)
    by_gap = 1.0
    rise_by_gap = 0.0
    if annulus > 0.0:
        ratio = area / gap
        by_gap = ratio * ratio * ratio
        rise_by_gap = 2.0 * gap_share(gap, annulus) * ratio * ratio / gap * dp
    return orifice_liquid_slope(area, rho, dp), gap_share(gap, annulus), by_area * by_gap, rise_by_gap


@bare_kernel
def spigot_flow(gap, annulus, laminar, rho, dp):
    """(mass flow kg/s, rise of the gap pressure above the chamber's Pa) past a spigot of this laminar loss, Pa s/m3, in series."""
    back = 1.0 / (annulus * annulus) if annulus > 0.0 else 0.0
    q = two_loss_flow(laminar, 0.5 * rho * (1.0 / (gap * gap) + back), dp)
    return rho * q, 0.5 * rho * q * abs(q) * back


@bare_kernel
def spigot_slopes(gap, annulus, laminar, rho, dp):
    """Derivatives of `spigot_flow`: (flow, rise) by dp, by the gap, by the laminar loss."""
    back = 1.0 / (annulus * annulus) if annulus > 0.0 else 0.0
    quadratic = 0.5 * rho * (1.0 / (gap * gap) + back)
    by_dp, by_laminar, by_quadratic = two_loss_slopes(laminar, quadratic, dp)
    by_gap = -by_quadratic * rho / (gap * gap * gap)
    rise = rho * back * abs(two_loss_flow(laminar, quadratic, dp))
    return rho * by_dp, rise * by_dp, rho * by_gap, rise * by_gap, rho * by_laminar, rise * by_laminar
