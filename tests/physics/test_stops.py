"""Stops: restitution and its energy."""

import pytest
from sleevelift.physics.stops import impact_loss, rebound_speed


@pytest.mark.parametrize("speed", [0.7, -0.7])
@pytest.mark.parametrize("e", [0.0, 0.2, 0.9])
def test_rebound(speed, e):
    after = rebound_speed(speed, e, 1e-3)
    assert after == pytest.approx(-e * speed)
    assert impact_loss(0.2, speed, after) == pytest.approx(0.1 * speed**2 * (1.0 - e * e))


def test_slow_rebound_is_none():
    assert rebound_speed(1e-3, 0.9, 1e-3) == 0.0
    assert rebound_speed(-1.2e-3, 0.9, 1e-3) == pytest.approx(1.08e-3)
    assert impact_loss(0.2, 1e-3, 0.0) == pytest.approx(1e-7)
