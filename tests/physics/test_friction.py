"""Friction: the law of each seal, the falling curve, sticking."""

import math

import numpy as np
import pytest
from sleevelift.physics.friction import (
    breakaway_force,
    running_force,
    running_forces,
    running_slopes,
    sliding_force,
    sliding_slope,
    sticks,
)
from sleevelift.plant.params import SEAL


def test_running_force_of_a_seal():
    """pi d (squeeze_friction + f_pressure cord |dp|): the same either way across, proportional to the diameter."""
    force = running_force(0.02, 70.0, 0.03, 1.78e-3, 30e5)
    assert force == pytest.approx(math.pi * 0.02 * (70.0 + 0.03 * 1.78e-3 * 30e5), rel=1e-14)
    assert running_force(0.02, 70.0, 0.03, 1.78e-3, -30e5) == force
    assert running_force(0.04, 70.0, 0.03, 1.78e-3, 30e5) == pytest.approx(2.0 * force)
    assert running_force(0.02, 0.0, 0.0, 1.78e-3, 30e5) == 0.0


def test_falling_curve_ends():
    """From breakaway at rest down to running force plus the viscous part at speed; even in speed; 1/e at v_s."""
    assert sliding_force(40.0, 1.3, 0.02, 0.0, 0.0) == pytest.approx(breakaway_force(40.0, 1.3))
    assert sliding_force(40.0, 1.3, 0.02, 0.0, 0.02) == pytest.approx(40.0 * (1.0 + 0.3 / math.e))
    assert sliding_force(40.0, 1.3, 0.02, 0.0, 1.0) == pytest.approx(40.0)
    assert sliding_force(40.0, 1.3, 0.02, 50.0, 1.0) == pytest.approx(90.0)
    assert sliding_force(40.0, 1.3, 0.02, 50.0, -1.0) == pytest.approx(90.0)


def test_without_falling_speed_running_force_acts_at_once():
    assert sliding_force(40.0, 1.3, 0.0, 0.0, 0.0) == 40.0
    assert sliding_force(40.0, 1.3, 0.0, 50.0, 0.1) == 45.0


def test_sticks_inside_breakaway():
    assert sticks(10.0, 10.0) and sticks(-10.0, 10.0) and sticks(0.0, 0.0)
    assert not sticks(10.0001, 10.0) and not sticks(-10.0001, 10.0)


@pytest.mark.parametrize("speed", [0.0, 2e-3, 0.05, -0.3])
def test_sliding_slope_is_the_difference_quotient(speed):
    law = 40.0, 1.6, 0.02, 3.0
    v, step = abs(speed), 1e-8
    quotient = (sliding_force(*law, v + step) - sliding_force(*law, max(v - step, 0.0))) / (step + min(step, v))
    assert sliding_slope(*law, speed) == pytest.approx(quotient, rel=1e-5, abs=1e-3)
    assert sliding_slope(40.0, 1.6, 0.0, 3.0, speed) == 3.0


def test_seals_add_up_and_their_slopes_are_difference_quotients():
    seals = np.zeros(3, SEAL)
    seals[0], seals[1], seals[2] = (0.016, 90.0, 0.2, 1.8e-3), (0.024, 110.0, 0.3, 1.8e-3), (0.029, 70.0, 0.1, 2.6e-3)
    drops = (4e5, -6e5, 30e5)
    each = [running_force(*(float(seal[name]) for name in SEAL.names), dp) for seal, dp in zip(seals, drops)]
    assert running_forces(drops, (1.0, 0.5, 2.0), seals) == pytest.approx(each[0] + 0.5 * each[1] + 2.0 * each[2], rel=1e-13)
    for place, slope in enumerate(running_slopes(drops, seals)):
        moved = tuple(dp + (1e3 if k == place else 0.0) for k, dp in enumerate(drops))
        quotient = (running_forces(moved, (1.0, 1.0, 1.0), seals) - sum(each)) / 1e3
        assert slope == pytest.approx(quotient, rel=1e-9)
