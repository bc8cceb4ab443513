"""Area e: helical springs against textbook examples and closed forms."""

import math

import pytest
from _record import CLOSED_FORM, EVALUATED, PUBLISHED, held
from sleevelift.sizing.spring_design import (
    EFFECTIVE_MASS_FRACTION,
    active_coils,
    buckling_travel,
    corrected_shear_stress,
    curvature_factor,
    loaded_frequency,
    minimum_gaps,
    permissible_solid_stress,
    shear_stress,
    solid_length,
    spring_index,
    spring_rate,
    spring_state,
    surge_frequency,
    tensile_strength,
    wire_mass,
)

SHIGLEY = PUBLISHED + "Shigley's Mechanical Engineering Design, 10th ed."
INCH, POUND, PSI, MPA = 0.0254, 4.4482216152605, 6894.757293168, 1e6

# Shigley's Mechanical Engineering Design, 10th ed., Example 10-1: No. 16 music wire, outside diameter 7/16 in,
# squared ends,
# 12 1/2 total turns; read in a transcription whose address was not kept.
WIRE, COIL, ACTIVE, TOTAL, SHEAR = 0.037 * INCH, 0.400 * INCH, 10.5, 12.5, 11.85e6 * PSI


def test_shigley_10_1_rate():
    """e-shigley-10.1-k: 4.13 lbf/in."""
    rate = spring_rate(WIRE, COIL, ACTIVE, SHEAR) / (POUND / INCH)
    held("e-shigley-10.1-k", "spring rate", SHIGLEY + ", Example 10-1", 4.13, rate, 0.002, "lbf/in")


def test_shigley_10_1_other_outputs():
    """Same example: C 10.8, K_B 1.124, F 6.46 lbf at 0.45 S_ut, y 1.56 in, L_s 0.500 in, L_0 2.06 in; to printed
    digits."""
    assert spring_index(WIRE, COIL) == pytest.approx(10.8, abs=0.05)
    assert curvature_factor(spring_index(WIRE, COIL)) == pytest.approx(1.124, abs=0.001)
    strength = tensile_strength("ASTM A228", WIRE)
    assert strength == pytest.approx(201e3 / 0.037**0.145 * PSI, rel=0.003)  # the table's inch form, A = 201 kpsi in^m
    force = 0.45 * strength / shear_stress(1.0, WIRE, COIL) / curvature_factor(spring_index(WIRE, COIL))
    assert force == pytest.approx(6.46 * POUND, rel=0.003)
    travel = force / spring_rate(WIRE, COIL, ACTIVE, SHEAR)
    assert travel == pytest.approx(1.56 * INCH, rel=0.005)
    solid = solid_length(TOTAL, WIRE, "closed")
    assert solid == pytest.approx(0.500 * INCH, abs=0.0005 * INCH)
    assert travel + solid == pytest.approx(2.06 * INCH, rel=0.005)
    assert corrected_shear_stress(6.46 * POUND, WIRE, COIL) == pytest.approx(146e3 * PSI, rel=0.003)


def test_shigley_problem_10_3():
    """e-shigley-P10.3-k: 1.314 N/mm; also S_ut 1936 MPa, K_B 1.117, F_s 167.9 N, L_0 162.8 mm (published solution)."""
    wire, coil = 2.5e-3, 28.5e-3
    rate = spring_rate(wire, coil, 13.0, 81e9)
    held("e-shigley-P10.3-k", "spring rate", SHIGLEY + ", Problem 10-3, published solution", 1314.0, rate, 0.001, "N/m")
    strength = tensile_strength("ASTM A228", wire)
    assert strength == pytest.approx(1936.0 * MPA, rel=0.001)
    assert curvature_factor(spring_index(wire, coil)) == pytest.approx(1.117, abs=0.0005)
    force = 0.45 * strength / shear_stress(1.0, wire, coil) / curvature_factor(spring_index(wire, coil))
    assert force == pytest.approx(167.9, rel=0.001)
    assert force / rate + solid_length(14.0, wire, "ground") == pytest.approx(162.8e-3, rel=0.001)
    assert active_coils(wire, coil, rate, 81e9) == pytest.approx(13.0, rel=1e-12)


def test_singh_8_3_stress():
    """e-singh-8.3: S. Singh, Machine Design-I, Example 8.3: K_w 1.2525, 85.05 MPa; k 9.72 N/mm with n 15, G 84 GPa."""
    source = PUBLISHED + "S. Singh, Machine Design-I, Example 8.3, in FOSSEE/Python-Textbook-Companions"
    stress = 1.2525 * shear_stress(40.0, 3e-3, 18e-3)
    held("e-singh-8.3", "shear stress with Wahl's factor", source, 85.05, stress / MPA, 0.001, "MPa")
    assert spring_rate(3e-3, 18e-3, 15.0, 84e9) == pytest.approx(9720.0, rel=0.001)


def test_natural_frequency_with_the_springs_own_mass():
    """e-effmass. Closed form: exact rod equation, 47.9391 Hz; by a third of the mass 47.958, massless 49.518 Hz."""
    rate, load, active = 4840.09, 0.05, 0.00991698
    source = CLOSED_FORM + "exact rod equation"
    frequency = loaded_frequency(rate, load, active)
    held("e-effmass", "natural frequency with the spring's own mass", source, 47.9391, frequency, 1e-5, "Hz")
    third = math.sqrt(rate / (load + active / 3.0)) / (2.0 * math.pi)
    assert third == pytest.approx(47.958, rel=1e-5)
    assert loaded_frequency(rate, load, 0.0) == pytest.approx(49.518, rel=1e-5)


def test_curvature_factor_at_index_8():
    """e-EN-k: EN 13906-1 (w + 0.5)/(w - 0.75) = (4 w + 2)/(4 w - 3) of Bergstraesser, 1.172414."""
    source = EVALUATED + "EN 13906-1, (w + 0.5)/(w - 0.75)"
    held("e-EN-k", "curvature factor at index 8", source, 1.172414, curvature_factor(8.0), 1e-6)
    assert curvature_factor(8.0) == pytest.approx((4 * 8 + 2) / (4 * 8 - 3), rel=1e-14)


# --- beyond the list -----------------------------------------------------------------------------------------------


def test_rate_from_the_twist_of_the_wire():
    """Closed form (Castigliano): torque F D/2 along pi D n of wire of polar moment pi d^4/32; stress T r/J
    uncorrected."""
    wire, coil, coils, shear = 4.8e-3, 22.4e-3, 10.0, 75e9
    polar = math.pi * wire**4 / 32.0
    deflection_per_force = (coil / 2.0) ** 2 * math.pi * coil * coils / (shear * polar)
    assert spring_rate(wire, coil, coils, shear) == pytest.approx(1.0 / deflection_per_force, rel=1e-12)
    assert shear_stress(770.0, wire, coil) == pytest.approx(770.0 * coil / 2.0 * (wire / 2.0) / polar, rel=1e-12)


def test_curvature_factor_tends_to_one():
    """Limit: a straight bar (large index) has no curvature; Wahl and Bergstraesser agree within 2 % from index 4
    to 20."""
    assert curvature_factor(1e6) == pytest.approx(1.0, abs=2e-6)
    for index in (4.0, 6.0, 10.0, 20.0):
        assert curvature_factor(index) == pytest.approx((4 * index - 1) / (4 * index - 4) + 0.615 / index, rel=0.02)


def test_surge_frequency_forms():
    """EN 13906-1: f = 3560 d/(n D^2) sqrt(G/rho), mm, MPa, kg/dm3 (from memory); closed form sqrt(k/m)/2 of a
    held rod."""
    wire, coil, coils, shear, density = 4.8e-3, 22.4e-3, 10.0, 81.5e9, 7850.0
    frequency = surge_frequency(wire, coil, coils, shear, density)
    assert frequency == pytest.approx(3560.0 * 4.8 / (10.0 * 22.4**2) * math.sqrt(81500.0 / 7.85), rel=1e-3)
    mass = wire_mass(wire, coil, coils, density)
    assert frequency == pytest.approx(0.5 * math.sqrt(spring_rate(wire, coil, coils, shear) / mass), rel=1e-12)


def test_loaded_frequency_limits():
    """No load: a quarter wave, sqrt(k/m)/4, half the surge frequency; a heavy load: the rule of the third, r^2/90
    below.

    Closed form: beta^2 = r (1 - r/3 + 4 r^2/45 ..) against the rule's r (1 - r/3 + 5 r^2/45 ..), r = m_s/M.
    """
    assert loaded_frequency(1000.0, 0.0, 0.02) == pytest.approx(0.25 * math.sqrt(1000.0 / 0.02), rel=1e-12)
    ratio = 0.01
    rule = math.sqrt(1000.0 / (1.0 + EFFECTIVE_MASS_FRACTION * ratio)) / (2.0 * math.pi)
    assert 1.0 - loaded_frequency(1000.0, 1.0, ratio) / rule == pytest.approx(ratio**2 / 90.0, rel=0.01)


def test_buckling_limit_of_clamped_steel_springs():
    """Published: Shigley eq. 10-11/10-13: L_0 < 2.63 D/alpha for steel, absolutely stable.

    The moduli behind the 2.63 are not printed with it; with the book's carbon steel (30 and 11.5 Mpsi) it is 2.625.
    """
    published = 2.63
    assert buckling_travel(0.997 * published, 1.0, 11.5, 30.0, 1.0) == math.inf
    above = buckling_travel(1.003 * published, 1.0, 11.5, 30.0, 1.0)
    assert above < published * 0.5 / (1.0 - 11.5 / 30.0) * 1.003


def test_buckling_of_a_slender_spring_is_eulers():
    """Limit (closed form): a very slender spring buckles at Euler's load, pi^2 B/(nu L_0)^2.

    B = E I L_0/(pi D n (1 + poisson/2)) is the bending stiffness of a close coil (Timoshenko and Gere, Elastic
    Stability).
    """
    length, coil, shear, elastic, seating = 10.0, 0.1, 79.3e9, 206e9, 1.0
    poisson = elastic / (2.0 * shear) - 1.0
    wire, coils = 1e-3, 100.0
    bending = elastic * (math.pi * wire**4 / 64.0) * length / (math.pi * coil * coils * (1.0 + poisson / 2.0))
    euler_force = math.pi**2 * bending / (seating * length) ** 2
    travel = euler_force / spring_rate(wire, coil, coils, shear)
    assert buckling_travel(length, coil, shear, elastic, seating) == pytest.approx(travel, rel=2e-3)


def test_tensile_strength_of_the_tables():
    """From memory: EN 10270-1 SH table, least 2230 MPa at 1 mm, 1660 at 5 mm; EN 10270-3 1.4310, 1600 up to 3 mm."""
    assert tensile_strength("EN 10270-1 SH", 1e-3) == pytest.approx(2230 * MPA, rel=0.01)
    assert tensile_strength("EN 10270-1 SH", 5e-3) == pytest.approx(1660 * MPA, rel=0.01)
    assert tensile_strength("EN 10270-3 1.4310", 3e-3) == 1600 * MPA
    assert permissible_solid_stress(1000 * MPA) == 560 * MPA
    for wire, diameter in (
        ("EN 10270-1 SH", 0.1e-3),
        ("ASTM A228", 10e-3),
        ("EN 10270-3 1.4310", 20e-3),
        ("lead", 1e-3),
    ):
        with pytest.raises(ValueError, match="no tensile strength"):
            tensile_strength(wire, diameter)


def test_wire_mass_of_a_known_volume():
    """Closed form: 12 coils of 22.4 mm mean diameter, 4.8 mm wire, 7850 kg/m3: length 0.8445 m, 120.0 g."""
    length = 12.0 * math.pi * 22.4e-3
    assert wire_mass(4.8e-3, 22.4e-3, 12.0, 7850.0) == pytest.approx(length * math.pi / 4 * 4.8e-3**2 * 7850, rel=1e-12)


def test_minimum_gaps_of_a_worked_spring():
    """EN 13906-1 from memory: S_a = n (0.0015 D^2/d + 0.1 d): 10 (0.0015 400/2 + 0.2) = 5 mm; 7.5 mm for moving
    loads."""
    assert minimum_gaps(2e-3, 20e-3, 10.0) == pytest.approx(5e-3, rel=1e-12)
    assert minimum_gaps(2e-3, 20e-3, 10.0, moving=True) == pytest.approx(7.5e-3, rel=1e-12)


def test_state_of_a_working_spring():
    """Consistency: force, length and stress of the state agree with each other and with the single formulas."""
    state = spring_state(
        wire_diameter=4.8e-3,
        mean_diameter=22.4e-3,
        active_coils=10.0,
        total_coils=12.0,
        free_length=79.5e-3,
        preload=770.0,
        stroke=2e-3,
        shear_modulus=75e9,
        elastic_modulus=190e9,
        density=7850.0,
    )
    assert state.rate * (state.free_length - state.length_seated) == pytest.approx(770.0, rel=1e-12)
    assert state.rate * (state.free_length - state.length_lifted) == pytest.approx(state.force_lifted, rel=1e-12)
    assert state.solid_length == pytest.approx(57.6e-3, rel=1e-12)
    assert state.gap_left == pytest.approx(2.5e-3, abs=0.05e-3)  # the design's own note: 2.5 mm to solid at full lift
    assert state.stress_lifted / state.stress_seated == pytest.approx(state.force_lifted / 770.0, rel=1e-12)
    assert state.buckling_travel == math.inf  # 79.5 mm is below 5.2 mean diameters
