"""Supply: the regulator's opening and the walk along a table."""

import numpy as np
import pytest
from sleevelift.physics.supply import regulator_opening, table_segment, table_slope, table_value

TABLE = np.array([9.0, 9.0, 0.1, 5.0, 0.3, 9.0, 0.3, 2.0, 0.6, 8.0])
"""Two numbers that are no part of it, then knots at 0.1, 0.3 (a step) and 0.6 s."""
START, COUNT = 2, 4


def at(t):
    return table_value(t, TABLE, START, COUNT, table_segment(t, TABLE, START, COUNT))


def test_regulator_opens_over_its_droop_band():
    assert regulator_opening(31e5, 31e5, 2e5) == 0.0
    assert regulator_opening(31e5, 30e5, 2e5) == 0.5
    assert regulator_opening(31e5, 29e5, 2e5) == 1.0
    assert regulator_opening(31e5, 10e5, 2e5) == 1.0
    assert regulator_opening(31e5, 35e5, 2e5) == 0.0


@pytest.mark.parametrize(
    "t, expected",
    [(0.0, 5.0), (0.1, 5.0), (0.2, 7.0), (0.29999999, 9.0), (0.3, 2.0), (0.45, 5.0), (0.6, 8.0), (9.0, 8.0)],
)
def test_table_is_linear_between_knots_and_constant_outside(t, expected):
    """At a step the later knot holds from its instant on."""
    assert at(t) == pytest.approx(expected, abs=1e-6)


def test_table_against_numpy():
    t = np.linspace(0.0, 0.29, 30)
    assert [at(float(s)) for s in t] == pytest.approx(list(np.interp(t, [0.1, 0.3], [5.0, 9.0])), rel=1e-12)


def test_slope_is_the_derivative():
    for segment, expected in ((-1, 0.0), (0, 20.0), (2, 20.0), (3, 0.0)):
        assert table_slope(TABLE, START, COUNT, segment) == pytest.approx(expected)
