"""Glands against their bounds: published rows, closed forms at temperature, and every bound crossed once."""

import pytest
from sleevelift.sizing.gland_bounds import (
    GlandCase,
    at_temperature,
    gland_faults,
    gland_warnings,
    largest_extrusion_gap,
    not_looked_at,
    ring_of_code,
)
from sleevelift.sizing.seal_gland import INCH, POUND_PER_SQUARE_INCH, Gland, Ring
from sleevelift.sizing.seal_materials import MATERIALS, fluid_warning, temperature_fault


def piston(squeeze, width=3.6e-3, cord=2.62e-3, bore=29.2e-3):
    """A ring without tolerances, stretched 2 %, in a piston groove whose depth gives this squeeze."""
    stretched = cord / 1.02**0.5
    floor = bore - 2.0 * stretched * (1.0 - squeeze)
    return GlandCase(Ring(floor / 1.02, cord, 0.0, 0.0), Gland(floor, bore, width), "dynamic", "FKM", 75.0)


def test_a_usual_gland_is_inside_its_bounds():
    assert gland_faults(piston(0.14)) == []


@pytest.mark.parametrize(
    "case, word",
    [
        (piston(0.07), "squeeze falls to 7.0%"),
        (piston(0.50), "squeeze reaches 50.0%"),
        (piston(0.14, width=2.42e-3), "fills 97"),
        (piston(0.14)._replace(duty="static"), None),
        (piston(0.08)._replace(duty="static"), "at least 12%"),
        (piston(0.14)._replace(extrusion_gap=0.5e-3, pressure=30e5), "extrusion gap 0.500 mm"),
        (piston(0.14)._replace(extrusion_gap=0.1e-3, pressure=300e5), "ends at 207 bar"),
        (piston(0.14)._replace(temperature=90.0), "glass"),
        (piston(0.14)._replace(temperature=600.0), "serves up to"),
    ],
)
def test_each_bound_is_named_where_it_is_crossed(case, word):
    faults = gland_faults(case)
    assert (faults == []) if word is None else any(word in fault for fault in faults), faults


def test_a_backup_ring_takes_the_place_of_a_small_gap():
    assert gland_faults(piston(0.14)._replace(extrusion_gap=0.5e-3, pressure=300e5, backup_ring=True)) == []


@pytest.mark.parametrize("psi, inches_70, inches_90", [(400, 0.016, 0.028), (900, 0.010, 0.024), (2900, 0.002, 0.010)])
def test_extrusion_gaps_are_the_charts(psi, inches_70, inches_90):
    """Published: limits of diametral clearance against fluid pressure, 70 and 90 Shore A (seal handbooks' chart, read)."""
    for hardness, inches in ((70.0, inches_70), (90.0, inches_90)):
        assert largest_extrusion_gap(hardness, psi * POUND_PER_SQUARE_INCH) == pytest.approx(inches * INCH)
    assert largest_extrusion_gap(80.0, psi * POUND_PER_SQUARE_INCH) == pytest.approx(0.5 * (inches_70 + inches_90) * INCH)
    assert largest_extrusion_gap(70.0, 3100.0 * POUND_PER_SQUARE_INCH) is None


def test_cold_takes_squeeze_away_by_the_difference_of_expansions():
    """Closed form, 60 K colder: ring by 1 - 60 a_ring, housing by 1 - 60 a_metal; the stretch grows by their ratio, and the cord
    thins by its root (volume kept): 14 % becomes 12.9 %."""
    case = piston(0.14)._replace(temperature=233.15)
    ring, metal = 1.0 - 60.0 * 1.6e-4, 1.0 - 60.0 * 1.6e-5
    expected = 1.0 - 0.86 * metal / (ring / (metal / ring) ** 0.5)
    assert at_temperature(case).squeeze.nominal == pytest.approx(expected, abs=1e-6)
    assert expected == pytest.approx(0.1287, abs=1e-4)


def test_size_codes_of_both_standards():
    """AS568-116: 18.72 x 2.62 mm, -210: 18.64 x 3.53 mm (SAE AS568; ISO 3601-1 shares the numbers)."""
    for code, inside, cord in (
        ("AS568-116", 18.72, 2.62),
        ("-210", 18.64, 3.53),
        ("ISO 3601-1 210".replace("-1", ""), 18.64, 3.53),
    ):
        ring = ring_of_code(code)
        assert ring.inside_diameter * 1e3 == pytest.approx(inside, rel=2e-3)
        assert ring.cord * 1e3 == pytest.approx(cord, rel=2e-3)
    with pytest.raises(ValueError, match="size code"):
        ring_of_code("999")


def test_what_burns_in_oxygen_is_said():
    for code in ("NBR", "EPDM", "VMQ", "PA"):
        assert "not beside oxygen" in fluid_warning(code, "Oxygen")
    assert "only after an ignition test" in fluid_warning("PTFE", "Oxygen")
    assert fluid_warning("NBR", "Ethanol") is None
    assert "nitrous" in fluid_warning("NBR", "NitrousOxide")
    assert gland_warnings(piston(0.14)._replace(material="NBR", fluids=("Oxygen", "Nitrogen")))


def test_an_elastomer_is_glass_in_liquid_oxygen():
    """Glass transition of every rubber of the list lies above 200 K; 90 K is liquid oxygen (textbook)."""
    for code, material in MATERIALS.items():
        if material.elastomer:
            assert "glass" in temperature_fault(code, 90.0)
    assert temperature_fault("PTFE", 90.0) is None


def test_what_is_not_known_is_named():
    case = piston(0.14)._replace(material=None)
    assert not_looked_at(case) == ["material", "extrusion gap", "pressure across it"]
