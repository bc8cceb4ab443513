"""Area g: seat stress, contact stress and leaks of a metal seat."""

import math

import pytest
from _record import CLOSED_FORM, EVALUATED, held
from sleevelift.sizing.leakage import Gap, Gas, Reading, decay_time, gap_flow, gap_of_reading, liquid_gap_flow
from sleevelift.sizing.seat_load import (
    MILLILITRE_PER_MINUTE,
    class_allowance,
    class_v_allowance,
    class_vi_allowance,
    contact_modulus,
    land_stress,
    line_contact,
    load_per_length,
    normal_load_per_length,
)

MPA, UM = 1e6, 1e-6

NITROGEN = Gas(8.31446261815324 / 296.8, 1.4, 1.78e-5)
KELVIN = 293.15


def land(height):
    """A seat's land 0.2 mm wide on 10.2 mm mean diameter, open by a height (m)."""
    return Gap(10.2e-3, height, 0.2e-3, 0.0, 1.0)


def test_seat_gap_leak():
    """g-radial-leak. Closed form: isothermal Reynolds, pi h^3 (p1^2 - p2^2)/(12 mu R T ln(ro/ri)) = 5.701e-6 kg/s, no slip.

    The same relation is the basis of AFRPL-TR-66-147 (Tellier, 1966). Reynolds number about 20, 4 % of choked: it
    holds. The land unrolled (its mean perimeter) differs from the radial form by 2e-4.
    """
    leak = gap_flow(land(0.3 * UM), 7e6, 1e5, KELVIN, NITROGEN)
    without_slip = leak.flow / (1.0 + 6.0 * leak.knudsen)
    source = CLOSED_FORM + "isothermal Reynolds, pi h^3 (p1^2 - p2^2)/(12 mu R T ln(ro/ri))"
    held("g-radial-leak", "radial gas leak, 0.3 um gap, 70 to 1 bar", source, 5.701e-6, without_slip, 0.001, "kg/s")
    assert leak.reynolds == pytest.approx(20.0, rel=0.1) and not leak.choked
    assert leak.knudsen == pytest.approx(1.78e-5 / 3.55e6 * math.sqrt(0.5 * math.pi * 296.8 * KELVIN) / (0.3 * UM))


def test_a_wide_gap_passes_no_more_than_its_choked_orifice():
    """At 3 um the laminar law alone would pass more than sonic flow through the gap: the orifice limits it."""
    leak = gap_flow(land(3.0 * UM), 7e6, 1e5, KELVIN, NITROGEN)
    sonic = 0.6847 * 7e6 * math.pi * 10.2e-3 * 3.0 * UM / math.sqrt(296.8 * KELVIN)
    assert leak.choked and leak.flow == pytest.approx(sonic, rel=1e-3)


def test_seat_stress():
    """g-seat-stress. Closed form: F/(pi D w sin a) = 33.762 MPa; axially projected 23.873 MPa."""
    stress = land_stress(150.0, 10e-3, 0.2e-3, math.radians(45)) / MPA
    held("g-seat-stress", "stress on a conical land", CLOSED_FORM + "F/(pi D w sin a)", 33.762, stress, 0.001, "MPa")
    assert stress * math.sin(math.radians(45)) == pytest.approx(23.873, rel=0.001)


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


def test_small_pressure_difference_is_the_liquid_law():
    """Limit: p1 -> p2 without slip, the gas law becomes the liquid's at the gas's density p/(R T)."""
    pressure, drop = 2e5, 10.0
    gas = gap_flow(land(1 * UM), pressure + drop, pressure, KELVIN, NITROGEN)
    density = (pressure + drop / 2) / (296.8 * KELVIN)
    liquid = liquid_gap_flow(land(1 * UM), drop, density, 1.78e-5)
    assert gas.flow / (1.0 + 6.0 * gas.knudsen) == pytest.approx(liquid, rel=1e-6)


def test_gap_of_a_measured_leak():
    """Inverse: the reading that a gap of 0.3 um gives is that of a gap of 0.3 um."""
    time = decay_time(20e-6, 7e6, 6.9e6, lambda p: gap_flow(land(0.3 * UM), p, 1e5, KELVIN, NITROGEN).flow, KELVIN, NITROGEN)
    found = gap_of_reading(Reading(7e6, 6.9e6, time, 20e-6), 1e5, NITROGEN, land(1.0 * UM))
    assert found.value == pytest.approx(0.3 * UM, rel=1e-6)


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
    """Limit: a flat seat (half-angle 90 deg) has its normal along the axis; its normal stress is force over area."""
    flat = math.radians(90)
    assert land_stress(150.0, 10e-3, 0.2e-3, flat) == pytest.approx(150.0 / (math.pi * 10e-3 * 0.2e-3))
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
