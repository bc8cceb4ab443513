"""Helical compression springs of round wire: rate, stress, lengths, buckling, surge, and the wire it is wound from.

    F = k s,  s = free length - length  (>= 0, compression; F pushes the ends apart)

Assumptions: round wire, cold coiled, both ends closed, constant pitch, linear. Validity: spring index w = D/d from 4
to 20, at least two active coils (EN 13906-1, 2013). A coil's end effect, friction between coils and creep (setting)
are left out. Source: EN 13906-1:2013, formulas from memory and each checked in `tests/published/test_e_springs.py`.
"""

import math
from typing import NamedTuple

STATIC_STRESS_FRACTION = 0.56
"""-. Permissible uncorrected shear stress at solid length / tensile strength, cold coiled (EN 13906-1, from memory)."""

EFFECTIVE_MASS_FRACTION = 1.0 / 3.0
"""-. Share of the spring's mass that moves with the load: linear velocity along the spring (Rayleigh; closed form)."""

MINIMUM_INDEX, MAXIMUM_INDEX = 4.0, 20.0
"""-. Range of D/d that EN 13906-1 covers for cold coiling."""

SEATING_GUIDED_PARALLEL = 0.5
"""-. Seating coefficient of EN 13906-1: both ends on flat plates that stay parallel and in line (clamped, clamped)."""

MAXIMUM_SURGE_ROOT_STEPS = 200
"""-. Halvings of the bracket of the loaded-spring frequency; 60 reach machine precision."""


class SpringWire(NamedTuple):
    """What the wire's material gives; `tensile_strength` is a function of the diameter below."""

    shear_modulus: float
    """Pa"""
    elastic_modulus: float
    """Pa"""
    density: float
    """kg/m3"""
    source: str


WIRES = {
    "EN 10270-1 SH": SpringWire(81.5e9, 206e9, 7850.0, "EN 13906-1:2013 table of moduli, from memory"),
    "EN 10270-3 1.4310": SpringWire(70.0e9, 180e9, 7900.0, "EN 13906-1:2013 table of moduli, from memory"),
    "ASTM A228": SpringWire(81.7e9, 203.4e9, 7850.0, "Shigley's Mechanical Engineering Design, table 10-5, from memory"),
}
"""Patented cold drawn steel (static, high strength), stainless X10CrNi18-8, music wire."""

WIRE_DIAMETERS_MM = (
    0.10, 0.11, 0.12, 0.14, 0.16, 0.18, 0.20, 0.22, 0.25, 0.28, 0.30, 0.32, 0.34, 0.36, 0.38, 0.40, 0.43, 0.45, 0.48,
    0.50, 0.53, 0.56, 0.60, 0.63, 0.65, 0.70, 0.75, 0.80, 0.85, 0.90, 0.95, 1.00, 1.05, 1.10, 1.20, 1.25, 1.30, 1.40,
    1.50, 1.60, 1.70, 1.80, 1.90, 2.00, 2.10, 2.25, 2.40, 2.50, 2.60, 2.80, 3.00, 3.20, 3.40, 3.60, 3.80, 4.00, 4.25,
    4.50, 4.75, 5.00, 5.30, 5.60, 6.00, 6.30, 6.50, 7.00, 7.50, 8.00, 8.50, 9.00, 9.50, 10.00,
    10.50, 11.00, 12.00, 12.50, 13.00, 14.00, 15.00, 16.00, 17.00, 18.00, 19.00, 20.00,
)  # fmt: skip
"""mm. Nominal diameters of EN 10270-1 (the rows of its table), from memory."""

STAINLESS_STRENGTH = (
    (0.20, 2200.0), (0.30, 2150.0), (0.40, 2100.0), (0.50, 2050.0), (0.65, 2000.0), (0.80, 1950.0), (1.00, 1900.0),
    (1.25, 1850.0), (1.50, 1800.0), (1.75, 1750.0), (2.00, 1700.0), (2.50, 1650.0), (3.00, 1600.0), (3.50, 1550.0),
    (4.25, 1500.0), (5.00, 1450.0), (6.00, 1400.0), (7.00, 1350.0), (8.50, 1300.0), (10.00, 1250.0),
)  # fmt: skip
"""(largest diameter in mm, least tensile strength in MPa) of 1.4310, normal strength, EN 10270-3; from memory."""


class SpringState(NamedTuple):
    """What a spring does between its two working lengths, as `spring_state` returns it."""

    rate: float
    """N/m"""
    free_length: float
    """m"""
    length_seated: float
    """m, at preload"""
    length_lifted: float
    """m, at full lift"""
    solid_length: float
    """m"""
    force_lifted: float
    """N, at full lift"""
    stress_seated: float
    """Pa, corrected with the curvature factor"""
    stress_lifted: float
    """Pa, corrected"""
    stress_solid: float
    """Pa, uncorrected, coils touching: the one the permissible stress is set against"""
    gap_left: float
    """m, travel left from full lift to solid"""
    gap_needed: float
    """m, least sum of gaps"""
    buckling_travel: float
    """m, travel from free length at which it buckles unguided; infinite: never"""
    surge_frequency: float
    """Hz"""
    mass: float
    """kg, of the active and end coils"""


def spring_index(wire_diameter: float, mean_diameter: float) -> float:
    """w = D/d (-)."""
    return mean_diameter / wire_diameter


def spring_rate(wire_diameter: float, mean_diameter: float, active_coils: float, shear_modulus: float) -> float:
    """Rate (N/m): k = G d^4/(8 D^3 n). Diameters in m, `shear_modulus` in Pa. EN 13906-1.

    >>> round(spring_rate(4.8e-3, 22.4e-3, 10.0, 75e9))
    44278
    """
    return shear_modulus * wire_diameter**4 / (8.0 * mean_diameter**3 * active_coils)


def active_coils(wire_diameter: float, mean_diameter: float, rate: float, shear_modulus: float) -> float:
    """Active coils (-) of a wanted `rate` (N/m): n = G d^4/(8 D^3 k); the inverse of `spring_rate`."""
    return shear_modulus * wire_diameter**4 / (8.0 * mean_diameter**3 * rate)


def curvature_factor(index: float) -> float:
    """k = (w + 0.5)/(w - 0.75) (-), stress at the inside of the coil over the mean. EN 13906-1 (Bergstraesser).

    >>> round(curvature_factor(8.0), 6)
    1.172414
    """
    return (index + 0.5) / (index - 0.75)


def shear_stress(force: float, wire_diameter: float, mean_diameter: float) -> float:
    """Uncorrected shear stress (Pa): tau = 8 D F/(pi d^3). `force` in N, diameters in m. EN 13906-1."""
    return 8.0 * mean_diameter * force / (math.pi * wire_diameter**3)


def corrected_shear_stress(force: float, wire_diameter: float, mean_diameter: float) -> float:
    """Largest shear stress (Pa), at the inside of the coil: tau_k = k tau. For moving loads. EN 13906-1."""
    index = spring_index(wire_diameter, mean_diameter)
    return curvature_factor(index) * shear_stress(force, wire_diameter, mean_diameter)


def solid_length(total_coils: float, wire_diameter: float, ends: str = "ground") -> float:
    """Length with all coils touching (m): n_t d with ground ends, (n_t + 1) d closed and not ground, nominal wire.

    `ends`: "ground", "closed" or "closed, upper limit", for which EN 13906-1 allows (n_t + 1.5) d. Source: EN 13906-1
    (from memory) for the first and last, Shigley table 10-1 for the second.
    """
    extra = {"ground": 0.0, "closed": 1.0, "closed, upper limit": 1.5}[ends]
    return (total_coils + extra) * wire_diameter


def minimum_gaps(wire_diameter: float, mean_diameter: float, active_coils: float, moving: bool = False) -> float:
    """Least sum of gaps between active coils (m) at the shortest working length.

    S_a = n (0.0015 D^2/d + 0.1 d), the numbers dimensionless; half as much again when the load moves often. EN 13906-1,
    cold coiled, from memory. Nearer to solid the rate rises as coils touch one by one.
    """
    gaps = active_coils * (0.0015 * mean_diameter**2 / wire_diameter + 0.1 * wire_diameter)
    return 1.5 * gaps if moving else gaps


def buckling_travel(
    free_length: float,
    mean_diameter: float,
    shear_modulus: float,
    elastic_modulus: float,
    seating_coefficient: float = SEATING_GUIDED_PARALLEL,
) -> float:
    """Travel from free length (m) at which an unguided spring buckles; infinite where it never does.

    s_K = L_0 0.5/(1 - G/E) [1 - sqrt(1 - (1 - G/E)/(0.5 + G/E) (pi D/(nu L_0))^2)], nu the seating coefficient: 0.5
    both ends clamped in parallel guides, 0.7 one hinged, 1 both hinged, 2 one end free. Never where the root is of a
    negative number. Source: EN 13906-1 (after Haringx, Philips Res. Rep. 3, 1948).
    """
    ratio = shear_modulus / elastic_modulus
    slenderness = math.pi * mean_diameter / (seating_coefficient * free_length)
    radicand = 1.0 - (1.0 - ratio) / (0.5 + ratio) * slenderness**2
    if radicand < 0.0:
        return math.inf
    return free_length * 0.5 / (1.0 - ratio) * (1.0 - math.sqrt(radicand))



def wire_mass(wire_diameter: float, mean_diameter: float, coils: float, density: float) -> float:
    """Mass (kg) of `coils` coils: rho pi^2/4 d^2 D n, the pitch angle left out (below 1 % up to a pitch of D/2).

    Closed form: length pi D n times section pi d^2/4.
    """
    return density * math.pi**2 / 4.0 * wire_diameter**2 * mean_diameter * coils


def surge_frequency(wire_diameter: float, mean_diameter: float, active_coils: float, shear_modulus: float, density: float) -> float:
    """Lowest natural frequency (Hz) of the coils, both ends held: f = d/(2 pi n D^2) sqrt(G/(2 rho)).

    The same as sqrt(k/m)/2 with m the mass of the active coils, and as EN 13906-1's 3560 d/(n D^2) sqrt(G/rho) in
    mm, MPa, kg/dm3.
    """
    return wire_diameter / (2.0 * math.pi * active_coils * mean_diameter**2) * math.sqrt(shear_modulus / (2.0 * density))


def loaded_frequency(rate: float, load_mass: float, active_mass: float) -> float:
    """Lowest natural frequency (Hz) of `load_mass` (kg) on a spring of `active_mass` (kg), the other end held.

    Exact for a uniform elastic rod: beta tan(beta) = m_s/M, f = beta sqrt(k/m_s)/(2 pi). Massless spring:
    sqrt(k/M)/(2 pi); no load: a quarter wave, beta = pi/2. Source: closed form (wave equation), e.g. Timoshenko,
    Vibration Problems.
    """
    if active_mass <= 0.0:
        return math.sqrt(rate / load_mass) / (2.0 * math.pi)
    low, high = 0.0, 0.5 * math.pi
    for _ in range(MAXIMUM_SURGE_ROOT_STEPS):
        beta = 0.5 * (low + high)
        if load_mass * beta * math.sin(beta) > active_mass * math.cos(beta):
            high = beta
        else:
            low = beta
    return 0.5 * (low + high) * math.sqrt(rate / active_mass) / (2.0 * math.pi)


def tensile_strength(wire: str, wire_diameter: float) -> float:
    """Least tensile strength (Pa) of a wire of WIRES at `wire_diameter` (m).

    EN 10270-1 SH: 2220 - 820 lg(d/mm) MPa, 0.3 to 20 mm (Roloff/Matek, from memory). EN 10270-3 1.4310: the step
    table above, 0.05 to 10 mm. ASTM A228: 2211/d^0.145 MPa, d in mm, 0.10 to 6.5 mm (Shigley table 10-4). Outside:
    ValueError.
    """
    millimetres = wire_diameter * 1e3
    if wire == "EN 10270-1 SH" and 0.3 <= millimetres <= 20.0:
        return (2220.0 - 820.0 * math.log10(millimetres)) * 1e6
    if wire == "ASTM A228" and 0.10 <= millimetres <= 6.5:
        return 2211.0 / millimetres**0.145 * 1e6
    if wire == "EN 10270-3 1.4310":
        for largest, strength in STAINLESS_STRENGTH:
            if 0.05 <= millimetres <= largest * (1.0 + 1e-9):
                return strength * 1e6
    raise ValueError(f"no tensile strength for wire {wire!r} at {millimetres:g} mm: known are {', '.join(WIRES)}")


def permissible_solid_stress(strength: float) -> float:
    """Uncorrected shear stress (Pa) not to be exceeded at solid length: 0.56 R_m, cold coiled. EN 13906-1, from memory.

    For static and rarely moving loads; cold drawn wire. Relaxation at temperature is not covered.
    """
    return STATIC_STRESS_FRACTION * strength


def wire_diameters(low: float, high: float) -> list[float]:
    """Nominal wire diameters (m) from `low` to `high` (m), ends included. EN 10270-1, from memory.

    >>> [round(d * 1e3, 2) for d in wire_diameters(4.5e-3, 5.0e-3)]
    [4.5, 4.75, 5.0]
    """
    slack = 1e-9  # m: a limit written in decimal must not lose a size to rounding
    return [size * 1e-3 for size in WIRE_DIAMETERS_MM if low - slack <= size * 1e-3 <= high + slack]


def spring_state(
    *,
    wire_diameter: float,
    mean_diameter: float,
    active_coils: float,
    total_coils: float,
    free_length: float,
    preload: float,
    stroke: float,
    shear_modulus: float,
    elastic_modulus: float,
    density: float,
    ends: str = "ground",
) -> SpringState:
    """All of the above for a spring that works between `preload` (N) and `preload` + `stroke` (m). SI; EN 13906-1."""
    rate = spring_rate(wire_diameter, mean_diameter, active_coils, shear_modulus)
    seated = free_length - preload / rate
    lifted = seated - stroke
    solid = solid_length(total_coils, wire_diameter, ends)
    force_lifted = preload + rate * stroke
    return SpringState(
        rate=rate,
        free_length=free_length,
        length_seated=seated,
        length_lifted=lifted,
        solid_length=solid,
        force_lifted=force_lifted,
        stress_seated=corrected_shear_stress(preload, wire_diameter, mean_diameter),
        stress_lifted=corrected_shear_stress(force_lifted, wire_diameter, mean_diameter),
        stress_solid=shear_stress(rate * (free_length - solid), wire_diameter, mean_diameter),
        gap_left=lifted - solid,
        gap_needed=minimum_gaps(wire_diameter, mean_diameter, active_coils),
        buckling_travel=buckling_travel(free_length, mean_diameter, shear_modulus, elastic_modulus),
        surge_frequency=surge_frequency(wire_diameter, mean_diameter, active_coils, shear_modulus, density),
        mass=wire_mass(wire_diameter, mean_diameter, total_coils, density),
    )
