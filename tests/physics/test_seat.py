"""Seat gap: limits and joints of the passage, spigot, series with the annulus."""

import math

import numpy as np
import pytest
from sleevelift.physics.seat import (
    EDGE_ON_SEAT,
    EDGE_ON_SLEEVE,
    cone_area,
    gap_area,
    gap_pressure,
    in_series,
    spigot_loss,
)

D_SEAT, D_NOSE, B = 0.019, 0.0176, math.radians(45.0)
PILOT, CLEARANCE = 0.7e-3, 7e-6


@pytest.mark.parametrize("edge", [EDGE_ON_SEAT, EDGE_ON_SLEEVE])
def test_small_lift_is_the_simple_curtain(edge):
    """x -> 0: pi d x sin(b)."""
    x = 1e-7
    assert cone_area(x, edge, D_SEAT, D_NOSE, B) == pytest.approx(math.pi * D_SEAT * x * math.sin(B), rel=1e-4)
    assert cone_area(0.0, edge, D_SEAT, D_NOSE, B) == 0.0
    assert cone_area(-1e-3, edge, D_SEAT, D_NOSE, B) == 0.0


@pytest.mark.parametrize("b", [20.0, 45.0, 70.0])
def test_continuous_where_the_nose_edge_takes_over(b):
    angle = math.radians(b)
    x = 0.5 * (D_SEAT - D_NOSE) / (math.sin(angle) * math.cos(angle))
    below = cone_area(x * (1.0 - 1e-9), EDGE_ON_SEAT, D_SEAT, D_NOSE, angle)
    above = cone_area(x * (1.0 + 1e-9), EDGE_ON_SEAT, D_SEAT, D_NOSE, angle)
    assert above == pytest.approx(below, rel=1e-7)


def test_flat_face_is_a_cylinder_and_far_away_the_area_follows_the_lift():
    """b = 90 degrees: pi d x (edge on the sleeve). Far beyond: the distance to the nose's edge is the lift."""
    assert cone_area(1e-3, EDGE_ON_SLEEVE, D_SEAT, D_NOSE, math.pi / 2.0) == pytest.approx(math.pi * D_SEAT * 1e-3)
    far = cone_area(0.5, EDGE_ON_SEAT, D_SEAT, D_NOSE, B)
    assert far == pytest.approx(math.pi * 0.5 * (D_SEAT + D_NOSE) * 0.5, rel=2e-3)


def test_passage_never_shrinks_with_lift():
    for spigot in (0.0, PILOT):
        areas = [gap_area(x, EDGE_ON_SEAT, D_SEAT, D_NOSE, B, spigot, CLEARANCE) for x in np.linspace(0.0, 2e-3, 401)]
        assert all(b >= a - 1e-18 for a, b in zip(areas, areas[1:]))


def test_spigot_holds_the_passage_at_its_ring():
    ring = math.pi * D_SEAT * CLEARANCE
    arguments = (EDGE_ON_SEAT, D_SEAT, D_NOSE, B, PILOT, CLEARANCE)
    assert gap_area(1e-7, *arguments) == cone_area(1e-7, EDGE_ON_SEAT, D_SEAT, D_NOSE, B)  # the cone is narrower still
    assert gap_area(0.3e-3, *arguments) == pytest.approx(ring)
    assert gap_area(PILOT, *arguments) == pytest.approx(ring)
    assert gap_area(PILOT + 1e-3, *arguments) == pytest.approx(math.pi * D_SEAT * math.hypot(CLEARANCE, 1e-3))
    assert gap_area(0.3e-3, EDGE_ON_SEAT, D_SEAT, D_NOSE, B, 0.0, 0.0) > 20.0 * ring


def test_spigot_loss_falls_to_zero_at_its_end():
    full = 12.0 * 1.2e-3 * PILOT / (math.pi * D_SEAT * CLEARANCE**3)
    assert spigot_loss(0.0, D_SEAT, PILOT, CLEARANCE, 1.2e-3) == pytest.approx(full)
    assert spigot_loss(0.5 * PILOT, D_SEAT, PILOT, CLEARANCE, 1.2e-3) == pytest.approx(0.5 * full)
    assert spigot_loss(PILOT, D_SEAT, PILOT, CLEARANCE, 1.2e-3) == 0.0
    assert spigot_loss(0.0, D_SEAT, 0.0, CLEARANCE, 1.2e-3) == 0.0


def test_gap_pressure_lies_between_and_conserves_flow():
    """The same flow through both: S sqrt(p_f - p_i) = N sqrt(p_i - p_c)."""
    s, n, p_f, p_c = 12e-6, 16e-6, 25e5, 18e5
    p_i = gap_pressure(s, n, p_f, p_c)
    assert p_c < p_i < p_f
    assert s * math.sqrt(p_f - p_i) == pytest.approx(n * math.sqrt(p_i - p_c), rel=1e-12)
    assert in_series(s, n) * math.sqrt(p_f - p_c) == pytest.approx(s * math.sqrt(p_f - p_i), rel=1e-12)


def test_gap_pressure_limits():
    assert gap_pressure(0.0, 16e-6, 25e5, 18e5) == 18e5
    assert gap_pressure(12e-6, 0.0, 25e5, 18e5) == 18e5
    assert gap_pressure(1.0, 16e-6, 25e5, 18e5) == pytest.approx(25e5)
    assert in_series(12e-6, 0.0) == 12e-6
    assert in_series(0.0, 16e-6) == 0.0
