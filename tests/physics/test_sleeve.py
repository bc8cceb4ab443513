"""Sleeve: areas and forces."""

import math

import numpy as np
import pytest
from sleevelift.physics.sleeve import (
    CAUSE,
    CAUSES,
    FORCES,
    HOLDS,
    LESSENS,
    N_FORCE,
    OPENS,
    PRESSURES,
    above,
    axial_areas,
    coefficients,
    each_force,
    force_on_side,
    jet_force,
    net_force,
    net_slope,
    outside_force,
    outside_slope,
)
from sleevelift.plant.params import FORCE_ROWS

AREAS = axial_areas(0.016, 0.0176, 0.019, 0.0243, 0.0292)


def rows(wet=True, preload=0.0, rate=0.0, weight=0.0):
    """The record of the forces."""
    record = np.zeros(1, FORCE_ROWS)
    record[0] = tuple(coefficients(AREAS, preload, rate, weight, wet))
    return record[0]


def test_areas_add_up():
    assert AREAS.lift + AREAS.fuel_opening + AREAS.nose + AREAS.face == pytest.approx(AREAS.top, rel=1e-13)
    assert AREAS.top == pytest.approx(math.pi / 4.0 * (0.0292**2 - 0.016**2), rel=1e-13)
    assert min(AREAS) > 0.0


def test_nose_as_wide_as_the_seat_has_no_nose_area():
    assert axial_areas(0.016, 0.019, 0.019, 0.0243, 0.0292).nose == 0.0


@pytest.mark.parametrize("p", [0.0, 1e5, 300e5])
def test_equal_pressures_give_no_net_force(p):
    assert net_force((p, p, p, p, p, 0.0, 0.0), rows()) == pytest.approx(0.0, abs=1e-10 * max(p, 1.0))


def test_each_pressure_pushes_its_own_way():
    for place in range(5):
        pressures = [1e5] * 5
        pressures[place] = 2e5
        force = net_force((*pressures, 0.0, 0.0), rows())
        assert (force > 0.0) == (place < 4)
        assert abs(force) == pytest.approx(1e5 * AREAS[place], rel=1e-9)


def test_every_force_by_hand():
    """p A with its sign, the jet against opening, F_0 + k x and the weight: each row by itself, and their sum."""
    found = np.zeros(N_FORCE)
    causes = (31e5, 25e5, 12e5, 10e5, 1.1e5, 40.0, 1.5e-3)
    each_force(causes, rows(True, 600.0, 30e3, 2.0), found)
    by_hand = {
        "gas": 31e5 * AREAS.lift, "fuel": 25e5 * AREAS.fuel_opening, "gap": 12e5 * AREAS.nose, "chamber": 10e5 * AREAS.face,
        "spring_side": -1.1e5 * AREAS.top, "jet": -40.0, "spring": -(600.0 + 30e3 * 1.5e-3), "weight": -2.0,
    }  # fmt: skip
    assert dict(zip((force.name for force in FORCES), found)) == pytest.approx(by_hand, rel=1e-13)
    assert net_force(causes, rows(True, 600.0, 30e3, 2.0)) == pytest.approx(sum(by_hand.values()), rel=1e-12)


@pytest.mark.parametrize("wet", [True, False])
def test_slopes_are_the_difference_quotients(wet):
    forces = rows(wet, 600.0, 30e3, 2.0)
    causes = (31e5, 25e5, 12e5, 10e5, 1.1e5, 40.0, 1.5e-3)
    for place in range(len(CAUSES)):
        step = tuple(1.0 if k == place else 0.0 for k in range(len(CAUSES)))
        moved = tuple(a + b for a, b in zip(causes, step))
        for value, slope in ((net_force, net_slope), (outside_force, outside_slope)):
            assert slope(step, forces) == pytest.approx(value(moved, forces) - value(causes, forces), rel=1e-6, abs=1e-6)


def test_the_sides_make_up_the_balance():
    forces = rows(True, 600.0, 30e3, 2.0)
    causes = (31e5, 25e5, 12e5, 10e5, 1.1e5, 40.0, 1.5e-3)
    sides = sum(force_on_side(side, causes, forces) for side in (OPENS, LESSENS, HOLDS))
    assert sides == pytest.approx(net_force(causes, forces), rel=1e-12)
    assert force_on_side(LESSENS, causes, forces) == -40.0


def test_pressures_above_ambient():
    assert above((3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0), 1.0) == (2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 9.0)
    assert PRESSURES == sum(name.startswith("p_") for name in CAUSES)
    assert all(CAUSES[place] == force.cause for place, force in zip(CAUSE, FORCES))


def test_a_dry_fuel_side_works_from_outside():
    """With a feed line the fuel's work is in the line's balance; without one it comes from outside, as the gap's does."""
    causes = (0.0, 25e5, 0.0, 0.0, 0.0, 0.0, 0.0)
    assert outside_force(causes, rows(True)) == 0.0
    assert outside_force(causes, rows(False)) == pytest.approx(25e5 * AREAS.fuel_opening, rel=1e-13)


def test_jet_closes_and_is_zero_in_reverse():
    """Momentum flow w v cos(b): Merritt's control volume."""
    v = math.sqrt(2.0 * 5e5 / 800.0)
    assert jet_force(1.0, 0.5, 20e5, 15e5, 800.0, 0.7) == pytest.approx(0.5 * v * 0.7, rel=1e-13)
    assert jet_force(-1.0, 0.5, 20e5, 15e5, 800.0, 0.7) == pytest.approx(-0.5 * v * 0.7, rel=1e-13)
    assert jet_force(1.0, -0.5, 20e5, 15e5, 800.0, 0.7) == 0.0
    assert jet_force(1.0, 0.5, 15e5, 20e5, 800.0, 0.7) == 0.0
