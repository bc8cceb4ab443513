"""Slopes of the liquid flows' laws against differences of the laws themselves, across their branches."""

import math

import pytest
from sleevelift.physics import feed_line, liquid, seat, sleeve, slots

RHO, MU = 789.0, 1.2e-3
SIN, COS = math.sin(0.7), math.cos(0.7)


def difference(law, at, k, step):
    """Central difference of a law by its argument k; a triple or pair by each of its parts."""
    up, down = list(at), list(at)
    up[k] += step
    down[k] -= step
    high, low = law(*up), law(*down)
    if isinstance(high, tuple):
        return tuple((a - b) / (2.0 * step) for a, b in zip(high, low))
    return (high - low) / (2.0 * step)


def agree(slope, law, at, k):
    step = 1e-6 * abs(at[k])
    assert slope == pytest.approx(difference(law, at, k, step), rel=1e-5, abs=1e-12)


@pytest.mark.parametrize("dp", [-4e5, -3e2, 5e2, 2.4e6])
def test_orifice(dp):
    agree(liquid.orifice_liquid_slope(3e-5, RHO, dp), liquid.orifice_liquid_flow, (3e-5, RHO, dp), 2)


def test_orifice_at_rest():
    """At no difference the joint's straight line: Cd A sqrt(2 rho/dp_0)."""
    exact = 3e-5 * math.sqrt(2.0 * RHO / liquid.JOINT_PRESSURE)
    assert liquid.orifice_liquid_slope(3e-5, RHO, 0.0) == pytest.approx(exact, rel=1e-14)


@pytest.mark.parametrize("shape", [slots.RECTANGULAR, slots.ROUND, slots.OBROUND])
@pytest.mark.parametrize("width", [0.9e-3, 4e-3])
def test_slot(shape, width):
    for share in (0.03, 0.2, 0.5, 0.85, 0.99):
        uncovered = share * 2e-3
        agree(slots.slot_width(shape, 2e-3, width, uncovered), slots.slot_area, (shape, 2e-3, width, uncovered), 3)
    assert slots.slot_width(shape, 2e-3, width, -1e-4) == slots.slot_width(shape, 2e-3, width, 3e-3) == 0.0


@pytest.mark.parametrize("dp", [-6e5, 2e6])
@pytest.mark.parametrize("lift", [3e-4, 2e-3])
def test_lapped_clearance(lift, dp):
    losses = slots.clearance_losses(0.03, 20e-6, 0.3, 0.7, 1140.0, 2e-4)
    at = (lift, 1e-3, 5e-4, *losses, dp)
    by_dp, by_lift = slots.lapped_slopes(*at)
    agree(by_dp, slots.lapped_flow, at, 5)
    if lift < 1e-3 - 5e-4:
        agree(by_lift, slots.lapped_flow, at, 0)
        assert by_lift * dp > 0.0
    else:
        assert by_lift == 0.0


@pytest.mark.parametrize("edge", [seat.EDGE_ON_SEAT, seat.EDGE_ON_SLEEVE])
@pytest.mark.parametrize("spigot", [0.0, 8e-4])
def test_gap(edge, spigot):
    for lift in (1e-5, 4e-4, 9e-4, 1.6e-3, 4e-3):
        at = (lift, edge, 0.036, 0.0335, SIN, COS, spigot, 6e-5, 1e-8)
        agree(seat.gap_slope(*at), seat.gap_passage, at, 0)


@pytest.mark.parametrize("annulus", [0.0, 4e-5])
@pytest.mark.parametrize("dp", [-2e5, 1.7e6])
def test_open_gap(annulus, dp):
    at = (3e-5, annulus, RHO, dp)
    w_dp, rise_dp, w_gap, rise_gap = seat.open_gap_slopes(*at)
    agree((w_dp, rise_dp), seat.open_gap_flow, at, 3)
    agree((w_gap, rise_gap), seat.open_gap_flow, at, 0)


@pytest.mark.parametrize("annulus", [0.0, 4e-5])
@pytest.mark.parametrize("dp", [-2e5, 1.7e6])
def test_spigot(annulus, dp):
    laminar = seat.spigot_loss(3e-4, 0.036, 8e-4, 6e-5, MU)
    agree(seat.spigot_loss_slope(3e-4, 0.036, 8e-4, 6e-5, MU), seat.spigot_loss, (3e-4, 0.036, 8e-4, 6e-5, MU), 0)
    at = (6e-6, annulus, laminar, RHO, dp)
    by_dp, by_gap, by_loss = (seat.spigot_slopes(*at)[i : i + 2] for i in (0, 2, 4))
    agree(by_dp, seat.spigot_flow, at, 4)
    agree(by_gap, seat.spigot_flow, at, 0)
    agree(by_loss, seat.spigot_flow, at, 2)


@pytest.mark.parametrize("flow, drop", [(0.5, 9e5), (-0.5, 9e5), (0.5, -1e3)])
def test_jet(flow, drop):
    by_flow, by_drop = sleeve.jet_slopes(0.8, flow, drop, RHO, COS)
    agree(by_flow, sleeve.jet_force, (0.8, flow, drop, 0.0, RHO, COS), 1)
    agree(by_drop, sleeve.jet_force, (0.8, flow, drop, 0.0, RHO, COS), 2)


@pytest.mark.parametrize("z", [-1e-6, 2e-8, 1.5e-6])
def test_trapped_gas(z):
    law = (2e-4, 1.2e9, 2e-6, 1.4, 1e5)
    p = feed_line.trapped_gas_pressure(z, *law)
    agree(feed_line.trapped_gas_stiffness(p, *law), feed_line.trapped_gas_pressure, (z, *law), 0)
