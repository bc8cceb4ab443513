"""Quick exhaust and the other openings of the gas side: ends, middle, and slopes as difference quotients."""

import pytest
from sleevelift.physics.quick_exhaust import shuttle_position, shuttle_slope
from sleevelift.physics.slots import uncovered_share, uncovered_slope
from sleevelift.physics.supply import regulator_opening, regulator_slope


def test_shuttle_is_home_moved_or_between():
    assert shuttle_position(-1e5, 3e4) == 0.0
    assert shuttle_position(1.5e4, 3e4) == 0.5
    assert shuttle_position(1e5, 3e4) == 1.0


OPENINGS = [
    (lambda dp: shuttle_position(dp, 3e4), lambda dp: shuttle_slope(dp, 3e4), (-2e4, 1e4, 2e4, 5e4), 1.0),
    (lambda p: regulator_opening(31e5, p, 1e5), lambda p: regulator_slope(31e5, p, 1e5), (29e5, 30.4e5, 32e5), 1.0),
    (lambda x: uncovered_share(x, 1e-3, 1e-4), lambda x: uncovered_slope(x, 1e-3, 1e-4), (5e-4, 1.05e-3, 2e-3), 1e-9),
]


@pytest.mark.parametrize("opening, slope, places, step", OPENINGS, ids=["shuttle", "regulator", "post seal"])
def test_slopes_are_difference_quotients(opening, slope, places, step):
    for place in places:
        quotient = (opening(place + step) - opening(place - step)) / (2.0 * step)
        assert slope(place) == pytest.approx(quotient, rel=1e-6, abs=1e-12)
