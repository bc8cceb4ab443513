"""Area g: seat stress, contact stress and leaks of a metal seat."""

import math

import pytest
from _record import CLOSED_FORM, EVALUATED, held
from sleevelift.sizing.seat_load import (
    MILLILITRE_PER_MINUTE,
    class_allowance,
    class_v_allowance,
    class_vi_allowance,
    contact_modulus,
    gap_of_gas_leak,
    gas_gap_leak,
    land_stress,
    line_contact,
    liquid_gap_leak,
    load_per_length,
    normal_load_per_length,
    projected_land_stress,
)

MPA, UM = 1e6, 1e-6

NITROGEN = {"temperature": 293.15, "viscosity": 1.78e-5, "gas_constant": 296.8}
LAND = {"inner_radius": 5e-3, "outer_radius": 5.2e-3}


def test_radial_gap_leak():
    """g-radial-leak. Closed form: isothermal Reynolds, pi h^3 (p1^2 - p2^2)/(12 mu R T ln(ro/ri)) = 5.701e-6 kg/s.

    The same relation is the basis of AFRPL-TR-66-147 (Tellier, 1966). Reynolds number about 20, 4 % of choked: it
    holds.
    """
    leak = gas_gap_leak(0.3 * UM, inlet_pressure=7e6, outlet_pressure=1e5, **LAND, **NITROGEN)
    source = CLOSED_FORM + "isothermal Reynolds, pi h^3 (p1^2 - p2^2)/(12 mu R T ln(ro/ri))"
    held("g-radial-leak", "radial gas leak, 0.3 um gap, 70 to 1 bar", source, 5.701e-6, leak.flow, 0.001, "kg/s")
    assert leak.reynolds == pytest.approx(20.0, rel=0.1)
    assert leak.choked_fraction == pytest.approx(0.04, rel=0.1)
    assert leak.law_holds


def test_radial_gap_leak_beyond_its_validity():
    """Same source's note: at 1 um the law gives 40 % of choked and is no longer valid; the result says so."""
    leak = gas_gap_leak(1.0 * UM, inlet_pressure=7e6, outlet_pressure=1e5, **LAND, **NITROGEN)
    assert leak.choked_fraction == pytest.approx(0.40, rel=0.15)
    assert not leak.law_holds


def test_seat_stress():
    """g-seat-stress. Closed form: F/(pi D w sin a) = 33.762 MPa; axially projected 23.873 MPa."""
    stress = land_stress(150.0, 10e-3, 0.2e-3, math.radians(45)) / MPA
    held("g-seat-stress", "stress on a conical land", CLOSED_FORM + "F/(pi D w sin a)", 33.762, stress, 0.001, "MPa")
    assert projected_land_stress(150.0, 10e-3, 0.2e-3) == pytest.approx(23.873 * MPA, rel=0.001)


def test_class_v_allowance():
    """g-fci-V. Published: ANSI/FCI 70-2 class V: 5e-4 ml/min per inch and psi; 0.19986
    ml/min."""
    got = class_v_allowance(10e-3, 7e6) / MILLILITRE_PER_MINUTE
    source = EVALUATED + "ANSI/FCI 70-2 class V, 5e-4 ml/min of water per inch and psi, read at scribd.com/document/377252138"
    held("g-fci-V", "allowed leak, class V, 10 mm port, 70 bar", source, 0.19986, got, 0.002, "ml/min")


def test_hertz_line_contact():
    """g-hertz. Closed form (Johnson, Contact Mechanics): 8440.5 N/m, 243.0 MPa, half width 22.11 um."""
    angle = math.radians(45)
    assert normal_load_per_length(150.0, 8e-3, angle) == pytest.approx(8440.5, rel=1e-4)
    contact = line_contact(150.0, 8e-3, angle, 5e-3, 200e9, 0.3, 200e9, 0.3)
    source = CLOSED_FORM + "Hertz line contact (Johnson, Contact Mechanics)"
    held("g-hertz", "peak contact stress of a line contact", source, 243.0, contact.peak_stress / MPA, 0.003, "MPa")
    assert contact.half_width == pytest.approx(22.11 * UM, rel=0.003)


# --- beyond the list -----------------------------------------------------------------------------------------------


def test_thin_land_form():
    """Closed form: thin land, pi (ro + ri) h^3 (p1^2 - p2^2)/(24 mu R T w) = 5.7017e-6 kg/s (same source's note)."""
    thin = math.pi * (5e-3 + 5.2e-3) * (0.3 * UM) ** 3 * ((7e6) ** 2 - (1e5) ** 2)
    thin /= 24.0 * 1.78e-5 * 296.8 * 293.15 * 0.2e-3
    assert thin == pytest.approx(5.7017e-6, rel=1e-4)
    leak = gas_gap_leak(0.3 * UM, inlet_pressure=7e6, outlet_pressure=1e5, **LAND, **NITROGEN)
    assert leak.flow == pytest.approx(thin, rel=5e-4)


def test_small_pressure_difference_is_the_liquid_law():
    """Limit: p1 -> p2, the gas law becomes the liquid's at the gas's density p/(R T)."""
    pressure, drop = 2e5, 10.0
    gas = gas_gap_leak(1 * UM, inlet_pressure=pressure + drop, outlet_pressure=pressure, **LAND, **NITROGEN)
    density = (pressure + drop / 2) / (296.8 * 293.15)
    liquid = liquid_gap_leak(1 * UM, pressure_difference=drop, density=density, viscosity=1.78e-5, **LAND)
    assert gas.flow == pytest.approx(liquid, rel=1e-9)


def test_leak_reverses_with_the_pressures():
    """Symmetry: exchanging the pressures changes the sign only; the cube of the gap."""
    out = gas_gap_leak(0.2 * UM, inlet_pressure=3e6, outlet_pressure=1e5, **LAND, **NITROGEN)
    back = gas_gap_leak(0.2 * UM, inlet_pressure=1e5, outlet_pressure=3e6, **LAND, **NITROGEN)
    assert back.flow == -out.flow
    double = gas_gap_leak(0.4 * UM, inlet_pressure=3e6, outlet_pressure=1e5, **LAND, **NITROGEN)
    assert double.flow / out.flow == pytest.approx(8.0, rel=1e-12)


def test_gap_of_a_measured_leak():
    """Inverse: the gap that gives 5.701e-6 kg/s is 0.3 um."""
    gap = gap_of_gas_leak(5.701e-6, inlet_pressure=7e6, outlet_pressure=1e5, **LAND, **NITROGEN)
    assert gap == pytest.approx(0.3 * UM, rel=1e-3)


def test_hertz_carries_the_load():
    """Equilibrium: half the perimeter of the ellipse of pressure, pi a p0/2, is the load per length."""
    angle = math.radians(30)
    contact = line_contact(400.0, 19e-3, angle, 1e-3)
    carried = math.pi * contact.half_width * contact.peak_stress / 2.0
    assert carried == pytest.approx(normal_load_per_length(400.0, 19e-3, angle), rel=1e-12)
    assert line_contact(0.0, 19e-3, angle, 1e-3).peak_stress == 0.0
    rigid = contact_modulus(200e9, 0.3, 1e30, 0.3)
    assert rigid == pytest.approx(200e9 / 0.91, rel=1e-9)  # one side rigid: plane strain modulus of the other


def test_flat_seat_limits():
    """Limit: a flat seat (half-angle 90 deg) has its normal along the axis; projected and normal stress agree."""
    flat = math.radians(90)
    assert land_stress(150.0, 10e-3, 0.2e-3, flat) == pytest.approx(projected_land_stress(150.0, 10e-3, 0.2e-3))
    assert load_per_length(math.pi, 1.0) == pytest.approx(1.0, rel=1e-12)


def test_other_leak_classes():
    """Published: ANSI/FCI 70-2, IEC 60534-4: II 0.5 %, III 0.1 %, IV 0.01 % of rated, VI 0.15 and 0.30 ml/min, read at
    scribd.com/document/327483112; IEC's V from memory."""
    assert [class_allowance(name, 200.0) for name in ("II", "III", "IV")] == pytest.approx([1.0, 0.2, 0.02])
    assert class_vi_allowance(25e-3) / MILLILITRE_PER_MINUTE == pytest.approx(0.15)
    assert class_vi_allowance(30e-3) / MILLILITRE_PER_MINUTE == pytest.approx(0.30)
    with pytest.raises(ValueError, match="class VI"):
        class_vi_allowance(0.5)
    iec = 1.8e-7 * 7000.0 * 10.0 / 3600.0 * 1e-3  # m3/s: 1.8e-7 l/h per kPa and mm, from memory; rounded 5 % up
    assert class_v_allowance(10e-3, 7e6) == pytest.approx(iec, rel=0.06)
