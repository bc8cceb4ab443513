"""Liquid in the lift chamber: the room it leaves, the stiffness it has, what opening it leaves by."""

from math import isclose

import pytest
from sleevelift.physics.lift_liquid import (
    gas_room,
    gas_room_slopes,
    high_share,
    high_share_slopes,
    low_share,
    low_share_slope,
    wetting,
)
from sleevelift.physics.liquid import orifice_liquid_flow, orifice_liquid_slope

TOTAL, BULK, AMBIENT = 2e-6, 1e9, 1e5


def test_without_liquid_the_gas_has_the_whole_chamber():
    assert gas_room(TOTAL, 0.0, BULK, AMBIENT, 0.2) == (TOTAL, pytest.approx(0.2 / TOTAL), 0.0)


def test_a_perfect_gas_and_a_linear_liquid_share_the_room():
    """V_gas = V - V_q (1 - (p - p_amb)/B) with p = m R T/V_gas: put in, it comes out (definition of the bulk modulus)."""
    for filled, content in ((0.3, 0.2), (0.95, 5.0), (0.999, 1e-2), (1.0, 3e-2), (1.001, 1e-3)):
        liquid = filled * TOTAL
        room, p, stored = gas_room(TOTAL, liquid, BULK, AMBIENT, content)
        assert p == pytest.approx(content / room, rel=1e-12)
        assert room == pytest.approx(TOTAL - liquid * (1.0 - (p - AMBIENT) / BULK), rel=1e-9, abs=1e-9 * TOTAL)
        assert stored == pytest.approx(0.5 * liquid / BULK * (p * p - AMBIENT * AMBIENT), rel=1e-12)


def test_overfull_without_gas_the_pressure_is_the_liquids():
    """p - p_amb = B (V_q - V)/V_q (definition of the bulk modulus)."""
    liquid = 1.01 * TOTAL
    p = gas_room(TOTAL, liquid, BULK, AMBIENT, 1e-12)[1]
    assert p - AMBIENT == pytest.approx(BULK * (liquid - TOTAL) / liquid, rel=1e-6)


def test_energy_put_into_the_chamber_is_stored_by_the_two():
    """-p dV along a slow squeeze at constant temperature: heat goes out of the gas, so the liquid's part is its stored energy."""
    liquid, content = 0.98 * TOTAL, 1e-2
    steps = 20000
    work = 0.0
    before = gas_room(TOTAL, liquid, BULK, AMBIENT, content)
    start = before
    for k in range(1, steps + 1):
        now = gas_room(TOTAL * (1.0 - 0.03 * k / steps), liquid, BULK, AMBIENT, content)
        shrinks = TOTAL * 0.03 / steps - (before[0] - now[0])  # what the liquid gives way
        work += 0.5 * (before[1] + now[1]) * shrinks
        before = now
    assert work == pytest.approx(before[2] - start[2], rel=1e-6)


@pytest.mark.parametrize(("filled", "content"), [(0.3, 0.2), (0.97, 5.0), (1.0, 3e-2), (1.001, 1e-3)])
def test_slopes_are_those_of_the_room(filled, content):
    at = (TOTAL, filled * TOTAL, content)
    slopes = gas_room_slopes(at[0], at[1], BULK, AMBIENT, at[2])
    for k in range(3):
        step = 1e-6 * at[k]
        up, down = list(at), list(at)
        up[k] += step
        down[k] -= step
        high, low = (gas_room(v[0], v[1], BULK, AMBIENT, v[2]) for v in (up, down))
        assert (high[0] - low[0]) / (2.0 * step) == pytest.approx(slopes[k], rel=1e-4, abs=1e-9)
        assert (high[2] - low[2]) / (2.0 * step) == pytest.approx(slopes[3 + k], rel=1e-4, abs=1e-3)


def test_shares_go_from_gas_to_liquid():
    """High: between 90 % and 95 % of the chamber; low: over the first 5 % of the dead volume (MODEL.md, section 3)."""
    assert [high_share(f * TOTAL, TOTAL) for f in (0.0, 0.9, 0.96, 1.0)] == [0.0, 0.0, 1.0, 1.0]
    assert high_share(0.925 * TOTAL, TOTAL) == pytest.approx(0.5)
    assert [low_share(f * TOTAL, TOTAL) for f in (0.0, 0.06, 1.0)] == [0.0, 1.0, 1.0]
    assert low_share(0.025 * TOTAL, TOTAL) == pytest.approx(0.5)
    assert low_share(-1e-9, TOTAL) == 0.0
    by_liquid, by_total = high_share_slopes(0.93 * TOTAL, TOTAL)
    step = 1e-12
    assert by_liquid == pytest.approx((high_share(0.93 * TOTAL + step, TOTAL) - high_share(0.93 * TOTAL, TOTAL)) / step, rel=1e-4)
    assert by_total == pytest.approx((high_share(0.93 * TOTAL, TOTAL + step) - high_share(0.93 * TOTAL, TOTAL)) / step, rel=1e-4)
    assert low_share_slope(0.01 * TOTAL, TOTAL) == pytest.approx(1.0 / (0.05 * TOTAL))


def test_dry_gas_takes_no_heat_from_the_liquid():
    assert wetting(1e-6, 296.8, 0.0) == 0.0
    assert isclose(wetting(1e-6, 296.8, 1.0), 1e-6 * 2.5 * 296.8 / 1e-4)


@pytest.mark.parametrize("dp", [-5e5, -300.0, 0.0, 300.0, 2e6])
def test_slope_of_the_liquid_law(dp):
    slope = (orifice_liquid_flow(1e-7, 800.0, dp + 1.0) - orifice_liquid_flow(1e-7, 800.0, dp - 1.0)) / 2.0
    assert orifice_liquid_slope(1e-7, 800.0, dp) == pytest.approx(slope, rel=1e-4)
