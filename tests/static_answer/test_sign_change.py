"""Where a function changes its sign, against scipy's bisection."""

import math

import pytest
from scipy.optimize import bisect
from sleevelift.static_answer.sign_change import sign_change

FUNCTIONS = {
    "line": (lambda x: 3.0 * x - 1.0, 0.0, 5.0),
    "cubic, flat at the root": (lambda x: (x - 0.7) ** 3, 0.0, 2.0),
    "falls": (lambda x: math.exp(-x) - 0.1, 0.0, 40.0),
    "step": (lambda x: -1.0 if x < 1.25 else 2.0, 0.0, 3.0),
    "steep": (lambda x: math.tanh(1e4 * (x - 0.3)), 0.0, 1.0),
    "square root, as a flow": (lambda x: math.sqrt(31e5 - x) - 0.4 * math.sqrt(x - 1e5), 1e5, 31e5),
    "change at an end": (lambda x: x - 2.0, 0.0, 2.0),
}


@pytest.mark.parametrize("name", FUNCTIONS)
def test_it_is_where_the_library_finds_it(name):
    function, low, high = FUNCTIONS[name]
    calls = []
    found = sign_change(lambda x: calls.append(x) or function(x), low, high, 1e-9 * high)
    assert found == pytest.approx(bisect(function, low, high, xtol=1e-12 * high), abs=2e-9 * high)
    assert len(calls) < 100 and all(low <= x <= high for x in calls)


def test_the_same_sign_at_both_ends_is_refused():
    with pytest.raises(ValueError, match="no change of sign"):
        sign_change(lambda x: x * x + 1.0, -1.0, 1.0, 1e-9)
