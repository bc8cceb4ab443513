"""Sleeve: areas and forces."""

import math

import pytest
from sleevelift.physics.sleeve import axial_areas, jet_force, pressure_force

AREAS = axial_areas(0.016, 0.0176, 0.019, 0.0243, 0.0292)


def test_areas_add_up():
    assert AREAS.lift + AREAS.fuel_opening + AREAS.nose + AREAS.face == pytest.approx(AREAS.top, rel=1e-13)
    assert AREAS.top == pytest.approx(math.pi / 4.0 * (0.0292**2 - 0.016**2), rel=1e-13)
    assert min(AREAS) > 0.0


def test_nose_as_wide_as_the_seat_has_no_nose_area():
    assert axial_areas(0.016, 0.019, 0.019, 0.0243, 0.0292).nose == 0.0


@pytest.mark.parametrize("p", [0.0, 1e5, 300e5])
def test_equal_pressures_give_no_net_force(p):
    assert pressure_force(p, p, p, p, p, *AREAS) == pytest.approx(0.0, abs=1e-10 * max(p, 1.0))


def test_each_pressure_pushes_its_own_way():
    for place in range(5):
        pressures = [1e5] * 5
        pressures[place] = 2e5
        force = pressure_force(*pressures, *AREAS)
        assert (force > 0.0) == (place < 4)
        assert abs(force) == pytest.approx(1e5 * AREAS[place], rel=1e-9)


def test_jet_closes_and_is_zero_in_reverse():
    """Momentum flow w v cos(b): Merritt's control volume."""
    v = math.sqrt(2.0 * 5e5 / 800.0)
    assert jet_force(1.0, 0.5, 20e5, 15e5, 800.0, 0.7) == pytest.approx(0.5 * v * 0.7, rel=1e-13)
    assert jet_force(-1.0, 0.5, 20e5, 15e5, 800.0, 0.7) == pytest.approx(-0.5 * v * 0.7, rel=1e-13)
    assert jet_force(1.0, -0.5, 20e5, 15e5, 800.0, 0.7) == 0.0
    assert jet_force(1.0, 0.5, 15e5, 20e5, 800.0, 0.7) == 0.0
