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
def gap_pressure(gap, annulus, p_f, p_c):
    """Pressure between seat gap and annulus, Pa: (S^2 p_f + N^2 p_c)/(S^2 + N^2); no annulus (0): p_c."""
    if annulus <= 0.0:
        return p_c
    s = gap * gap
    n = annulus * annulus
    return (s * p_f + n * p_c) / (s + n)


@bare_kernel
def in_series(gap, annulus):
    """Effective area of gap and annulus in series, m2; annulus 0 means none."""
    if annulus <= 0.0 or gap <= 0.0:
        return gap
    return gap * annulus / sqrt(gap * gap + annulus * annulus)
