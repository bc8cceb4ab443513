"""Pressure areas of the sleeve and the forces along its axis.

            p_s  A_t (closes)          x = lift from the seat, up, opening, positive
        ______|______
       |   flange    |  p_l A_l (opens)
       |__       ____|
          | rod |      p_f A_a (opens)
          |nose/       p_i A_n (opens)
          |skirt|      p_c A_c (opens)

    M dv/dt = p_l A_l + F_fuel + p_i A_n + p_c A_c - p_s A_t - (F_0 + k x) - M g cos(tilt) - F_friction

The same pressure everywhere gives no net gas force: A_t = A_l + A_a + A_n + A_c. The axial reaction of the oxidizer jet is
taken by the post. Source: control volume on the jet at the seat, Merritt, Hydraulic Control Systems, 1967.
"""

from math import pi, sqrt
from typing import NamedTuple

from sleevelift.jit import bare_kernel


class AxialAreas(NamedTuple):
    """Axial areas, m2."""

    lift: float
    fuel_opening: float
    nose: float
    face: float
    top: float


def axial_areas(post: float, nose: float, seat: float, rod: float, piston: float) -> AxialAreas:
    """Axial areas, m2, from the five diameters, m (post < nose <= seat <= rod < piston).

    >>> a = axial_areas(0.016, 0.0176, 0.019, 0.0243, 0.0292)
    >>> round(a.lift * 1e6, 2), round(a.fuel_opening * 1e6, 2)
    (205.88, 180.24)
    """

    def ring(outer: float, inner: float) -> float:
        return pi / 4.0 * (outer * outer - inner * inner)

    return AxialAreas(ring(piston, rod), ring(rod, seat), ring(seat, nose), ring(nose, post), ring(piston, post))


@bare_kernel
def pressure_force(p_l, p_f, p_i, p_c, p_s, lift, fuel_opening, nose, face, top):
    """Net pressure force, N, opening positive; pressures Pa absolute, areas m2."""
    return p_l * lift + p_f * fuel_opening + p_i * nose + p_c * face - p_s * top


@bare_kernel
def jet_force(jet_factor, flow, p_f, p_i, rho, cos_angle):
    """Closing reaction of the fuel jet at the seat, N: j w_f v_jet cos(b), v_jet = sqrt(2 (p_f - p_i)/rho), 0 in reverse."""
    dp = p_f - p_i
    if flow <= 0.0 or dp <= 0.0:
        return 0.0
    return jet_factor * flow * sqrt(2.0 * dp / rho) * cos_angle
