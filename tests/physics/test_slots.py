"""Slots and the lapped clearance: limits, symmetry, continuity."""

import math

import numpy as np
import pytest
from sleevelift.physics.slots import (
    OBROUND,
    RECTANGULAR,
    ROUND,
    clearance_flow,
    hot_clearance,
    rows_effective_area,
    segment_area,
    slot_area,
    two_loss_flow,
    uncovered_share,
)

H, W = 1.8e-3, 1.46e-3


@pytest.mark.parametrize(
    "shape, full",
    [(RECTANGULAR, H * W), (ROUND, math.pi / 4.0 * H * H), (OBROUND, math.pi / 4.0 * W * W + W * (H - W))],
)
def test_closed_and_full(shape, full):
    assert slot_area(shape, H, W, -1e-3) == 0.0
    assert slot_area(shape, H, W, 0.0) == 0.0
    assert slot_area(shape, H, W, H) == pytest.approx(full, rel=1e-12)
    assert slot_area(shape, H, W, 5.0 * H) == pytest.approx(full, rel=1e-12)


@pytest.mark.parametrize("shape", [RECTANGULAR, ROUND, OBROUND])
@pytest.mark.parametrize("width", [0.7e-3, 1.8e-3, 3e-3])
def test_uncovers_symmetrically_and_never_shrinks(shape, width):
    """Upper and lower half are mirrors: A(s) + A(h - s) = A(h)."""
    full = slot_area(shape, H, width, H)
    shares = np.linspace(0.0, 1.0, 41)
    areas = [slot_area(shape, H, width, float(s) * H) for s in shares]
    assert all(b >= a - 1e-18 for a, b in zip(areas, areas[1:]))
    assert np.add(areas, areas[::-1]) == pytest.approx(np.full(41, full), rel=1e-9)


def test_obround_of_equal_sides_is_round():
    for s in (0.2, 0.5, 0.9):
        assert slot_area(OBROUND, H, H, s * H) == pytest.approx(slot_area(ROUND, H, H, s * H), rel=1e-12)


def test_half_a_circle():
    assert segment_area(0.5 * H, H) == pytest.approx(math.pi / 8.0 * H * H, rel=1e-12)


def test_rows_add_with_count_cd_and_lap():
    rows = np.array([0.0, 10.0, RECTANGULAR, H, W, 0.1e-3, 0.65, 4.0, ROUND, 1e-3, 1e-3, 0.5e-3, 0.7])
    got = rows_effective_area(0.8e-3, rows, 1, 2)
    expected = 10.0 * 0.65 * W * 0.7e-3 + 4.0 * 0.7 * segment_area(0.3e-3, 1e-3)
    assert got == pytest.approx(expected, rel=1e-13)
    assert rows_effective_area(0.1e-3, rows, 1, 2) == 0.0


def test_two_losses_limits():
    """Only laminar: dp/a. Only quadratic: sqrt(dp/b). Odd in dp. Nothing at all: 0."""
    assert two_loss_flow(2e9, 0.0, 1e6) == pytest.approx(5e-4)
    assert two_loss_flow(0.0, 4e12, 1e6) == pytest.approx(5e-4)
    assert two_loss_flow(2e9, 4e12, -1e6) == -two_loss_flow(2e9, 4e12, 1e6)
    assert two_loss_flow(0.0, 0.0, 0.0) == 0.0
    q = two_loss_flow(2e9, 4e12, 1e6)
    assert 2e9 * q + 4e12 * q * q == pytest.approx(1e6, rel=1e-13)


def leak(lift, clearance=5e-6, eccentricity=0.0, dp=26e5):
    return clearance_flow(lift, 1e-4, 1e-4, 0.016, clearance, eccentricity, 0.7, 1141.0, 0.195e-3, dp)


def test_leak_goes_on_past_the_lap_and_stays_finite_as_it_closes():
    assert leak(1e-3) == leak(1e-4) == leak(0.9e-4)  # least length holds
    assert leak(0.0) == leak(1e-4)  # the lap is as short as the least length here
    opening = 0.7 * math.pi * 0.016 * 5e-6
    assert leak(1e-4) < opening * math.sqrt(2.0 * 26e5 / 1141.0)


def test_leak_limits():
    assert leak(0.0, clearance=0.0) == 0.0
    assert leak(0.0, dp=0.0) == 0.0
    assert leak(0.0, dp=-26e5) == -leak(0.0)
    assert leak(0.0, eccentricity=1.0) > leak(0.0)
    assert 2.0 < leak(0.0, clearance=1e-5) / leak(0.0) < 8.0  # between orifice (c) and laminar (c^3)


def test_share_uncovered():
    assert [uncovered_share(x, 1e-4, 1e-4) for x in (0.0, 1e-4, 1.5e-4, 2e-4, 1e-3)] == pytest.approx([0, 0, 0.5, 1, 1])


def test_clearance_at_temperature():
    """Post shrinks more: the clearance widens. Sleeve shrinks more: it closes up."""
    assert hot_clearance(5e-6, 0.016, 3e-3, 3e-3) == 5e-6
    assert hot_clearance(5e-6, 0.016, 3e-3, 1e-3) == pytest.approx(21e-6)
    assert hot_clearance(5e-6, 0.016, 1e-3, 3e-3) == pytest.approx(-11e-6)
