"""Seat strength: closed forms, worked by hand."""

import math

import pytest
from sleevelift.sizing.seat_strength import (
    angle_mismatch,
    closing_energy,
    sealing_preload,
    seat_strength,
)


def test_the_land_under_its_load():
    """g-seat-stress, closed form: 150 N on a 0.2 mm land of 10 mm diameter at 45 deg is 33.762 MPa; of 300 MPa that is 11.25 %."""
    found = seat_strength(150.0, 10e-3, math.radians(45.0), 0.2e-3, 243e6, 300e6)
    assert found.land == pytest.approx(33.762e6, rel=1e-4)
    assert found.land_share == pytest.approx(0.11254, rel=1e-4)
    assert found.load == pytest.approx(150.0 / (math.pi * 10e-3))
    assert found.peak_share == pytest.approx(243.0 / (1.67 * 300.0))


def test_what_is_not_known_has_no_share():
    found = seat_strength(150.0, 10e-3, 0.8, None, None, None)
    assert (found.land, found.land_share, found.peak_share) == (None, None, None)


def test_first_yield_of_a_line_contact():
    """Johnson (1985): greatest shear 0.30 p_0; Tresca yields at Y/2, so p_0 = 1.67 Y."""
    assert seat_strength(1.0, 1e-2, 1.0, None, 0.5 / 0.30 * 250e6, 250e6).peak_share == pytest.approx(1.0, rel=3e-3)


def test_a_blunt_nose_touches_outside_and_a_sharp_one_inside():
    """By hand: 0.2 mm land at 45 deg, 1 deg apart: the contact moves by 0.2 sin 45 = 0.141 mm on the diameter, 3.5 um open."""
    blunt = angle_mismatch(19e-3, 0.2e-3, math.radians(46.0), math.radians(45.0))
    sharp = angle_mismatch(19e-3, 0.2e-3, math.radians(44.0), math.radians(45.0))
    assert blunt.diameter - 19e-3 == pytest.approx(0.1414e-3, rel=1e-3)
    assert sharp.diameter - 19e-3 == pytest.approx(-0.1414e-3, rel=1e-3)
    assert blunt.opening == pytest.approx(3.49e-6, rel=1e-3)
    assert blunt.area_change < 0.0 < sharp.area_change
    assert angle_mismatch(19e-3, 0.2e-3, 0.7, 0.7) == (19e-3, 0.0, 0.0)


def test_preload_for_sealing_is_the_balance_of_forces():
    """With that preload the load left on the seat is the one asked for."""
    preload = sealing_preload(8e3, 19e-3, 470.0, 2.0)
    assert (preload + 2.0 - 470.0) / (math.pi * 19e-3) == pytest.approx(8e3)


def test_energy_of_a_closing():
    """187 g at 0.48 m/s: 21.5 mJ."""
    assert closing_energy(0.187, 0.48) == pytest.approx(21.54e-3, rel=1e-3)
