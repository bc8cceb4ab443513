"""Pressure areas of the sleeve and the forces along its axis.

            p_s  A_t (closes)          x = lift from the seat, up, opening, positive
        ______|______
       |   flange    |  p_l A_l (opens)
       |__       ____|
          | rod |      p_f A_a (opens)
          |nose/       p_i A_n (opens)
          |skirt|      p_c A_c (opens)

    M dv/dt = p_l A_l + p_f A_a + p_i A_n + p_c A_c - p_s A_t - F_jet - (F_0 + k x) - M g cos(tilt) - F_friction

The same pressure everywhere gives no net gas force: A_t = A_l + A_a + A_n + A_c. The axial reaction of the oxidizer jet is
taken by the post. Source: control volume on the jet at the seat, Merritt, Hydraulic Control Systems, 1967.
"""

from math import pi, sqrt
from typing import NamedTuple

from sleevelift.jit import bare_kernel, inline_kernel


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


CAUSES = ("p_l", "p_f", "p_i", "p_c", "p_s", "jet", "lift")
"""What the forces depend on, each on one: pressures Pa (of lift chamber, fuel manifold, seat gap, combustion chamber, spring side),
the fuel jet's reaction N, lift m. A tuple of these numbers is called `causes` wherever it is handed on."""
PRESSURES = 5
"""So many causes are pressures: the first."""

OPENS, LESSENS, HOLDS = 0, 1, 2
"""Sides of the balance: what opens, what lessens that, what holds the sleeve down."""
BY_GAS, BY_LIQUID, FROM_OUTSIDE, STORED = 0, 1, 2, 3
"""Whose work a force is: that of a gas node or of a feed line on a moving sleeve (both have their own energy), of what stands
outside all balances, of what is stored in spring and height."""


class Force(NamedTuple):
    """One force along the axis, constant + slope x cause, N, opening positive; friction alone is none of them (`friction`)."""

    name: str
    cause: str
    """one of `CAUSES`"""
    side: int
    work: int
    area: str
    """the axial area it is proportional to, a field of `AxialAreas`; none: `coefficients` has its numbers"""
    meaning: str


FORCES = (
    Force("gas", "p_l", OPENS, BY_GAS, "lift", "lift-chamber pressure, opens"),
    Force("fuel", "p_f", OPENS, BY_LIQUID, "fuel_opening", "fuel manifold pressure, opens"),
    Force("gap", "p_i", OPENS, FROM_OUTSIDE, "nose", "pressure between seat and annulus, opens"),
    Force("chamber", "p_c", OPENS, FROM_OUTSIDE, "face", "combustion-chamber pressure on the skirt's end, opens"),
    Force("spring_side", "p_s", HOLDS, BY_GAS, "top", "spring-side pressure, closes"),
    Force("jet", "jet", LESSENS, FROM_OUTSIDE, "", "reaction of the fuel jet at the seat, closes"),
    Force("spring", "lift", HOLDS, STORED, "", "preload and rate, closes"),
    Force("weight", "lift", HOLDS, STORED, "", "of sleeve and a third of the spring, along the axis"),
)
"""Every force on the sleeve but friction: right-hand side, Jacobian, balances, margins, static answer, traces and pictures
go over these rows."""
N_FORCE = len(FORCES)
CAUSE = tuple(CAUSES.index(force.cause) for force in FORCES)
SIDE = tuple(force.side for force in FORCES)


def coefficient(force: Force, areas: AxialAreas) -> float:
    """Area, m2, of a pressure's force: positive where it opens."""
    area: float = getattr(areas, force.area)
    return -area if force.side == HOLDS else area


def coefficients(
    areas: AxialAreas, preload: float, rate: float, weight: float, fuel_has_line: bool
) -> tuple[list[float], list[float], list[float]]:
    """(constant N, slope N per unit of the cause, share of its work that comes from outside) of each force, in their order.

    areas m2, preload N, rate N/m, weight N along the axis. Where the fuel side has no feed line, its work comes from outside too.
    """
    constant = {"spring": -preload, "weight": -weight}
    slope = {"jet": -1.0, "spring": -rate, "weight": 0.0}
    outside = [force.work == FROM_OUTSIDE or (force.work == BY_LIQUID and not fuel_has_line) for force in FORCES]
    return (
        [constant.get(force.name, 0.0) for force in FORCES],
        [coefficient(force, areas) if force.area else slope[force.name] for force in FORCES],
        [1.0 if share else 0.0 for share in outside],
    )


@inline_kernel
def net_force(causes, forces):
    """Sum of all forces, N, opening positive: without friction; forces: `params.FORCE_ROWS`."""
    total = 0.0
    for i in range(N_FORCE):
        total += forces.constant[i] + forces.slope[i] * causes[CAUSE[i]]
    return total


@inline_kernel
def net_slope(changes, forces):
    """Change of `net_force` for these changes of the causes, N."""
    total = 0.0
    for i in range(N_FORCE):
        total += forces.slope[i] * changes[CAUSE[i]]
    return total


@inline_kernel
def outside_force(causes, forces):
    """Sum of the forces whose work comes from outside, N."""
    total = 0.0
    for i in range(N_FORCE):
        total += forces.outside[i] * (forces.constant[i] + forces.slope[i] * causes[CAUSE[i]])
    return total


@inline_kernel
def outside_slope(changes, forces):
    """Change of `outside_force` for these changes of the causes, N."""
    total = 0.0
    for i in range(N_FORCE):
        total += forces.outside[i] * forces.slope[i] * changes[CAUSE[i]]
    return total


@bare_kernel
def force_on_side(side, causes, forces):
    """Sum of the forces of one side (OPENS, LESSENS, HOLDS), N, opening positive."""
    total = 0.0
    for i in range(N_FORCE):
        if SIDE[i] == side:
            total += forces.constant[i] + forces.slope[i] * causes[CAUSE[i]]
    return total


@bare_kernel
def each_force(causes, forces, out):
    """Fill out (N_FORCE,) with each force, N, opening positive."""
    for i in range(N_FORCE):
        out[i] = forces.constant[i] + forces.slope[i] * causes[CAUSE[i]]


@inline_kernel
def above(causes, ambient):
    """The causes with pressures counted from ambient, Pa."""
    p_l, p_f, p_i, p_c, p_s, jet, lift = causes
    return p_l - ambient, p_f - ambient, p_i - ambient, p_c - ambient, p_s - ambient, jet, lift


@bare_kernel
def jet_force(jet_factor, flow, p_f, p_i, rho, cos_angle):
    """Closing reaction of the fuel jet at the seat, N: j w_f v_jet cos(b), v_jet = sqrt(2 (p_f - p_i)/rho), 0 in reverse."""
    dp = p_f - p_i
    if flow <= 0.0 or dp <= 0.0:
        return 0.0
    return jet_factor * flow * sqrt(2.0 * dp / rho) * cos_angle


@bare_kernel
def jet_slopes(jet_factor, flow, drop, rho, cos_angle):
    """Derivatives of `jet_force` by the flow, N s/kg, and by the pressure drop p_f - p_i, m2."""
    if flow <= 0.0 or drop <= 0.0:
        return 0.0, 0.0
    by_flow = jet_factor * sqrt(2.0 * drop / rho) * cos_angle
    return by_flow, 0.5 * by_flow * flow / drop
