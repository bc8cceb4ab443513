"""Friction: the law of each seal, the falling curve, sticking."""

import math

import pytest
from sleevelift.physics.friction import breakaway_force, running_force, sliding_force, sticks


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
