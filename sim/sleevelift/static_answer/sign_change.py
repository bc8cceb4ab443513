"""Where a function of one number changes its sign: Ridders' method (Ridders, IEEE Trans. Circuits Syst. 26, 1979).

scipy's root finders do the same and are what this is tested against; importing them takes a quarter as long as a run with its
pictures, and every run's page asks for the largest leaks.
"""

from collections.abc import Callable
from math import copysign, sqrt

MOST = 200
"""Rounds after which the middle is taken as it is; each at least halves the interval."""


def sign_change(function: Callable[[float], float], low: float, high: float, tolerance: float) -> float:
    """Place between low and high at which `function` changes sign, to within `tolerance` (both in the unit of the place).

    ValueError where it has the same sign at both ends.

    >>> round(sign_change(lambda x: x * x - 2.0, 0.0, 2.0, 1e-12), 10)
    1.4142135624
    """
    at_low, at_high = function(low), function(high)
    if at_low == 0.0 or at_high == 0.0:
        return low if at_low == 0.0 else high
    if (at_low > 0.0) == (at_high > 0.0):
        raise ValueError(f"no change of sign between {low:g} and {high:g}")
    for _ in range(MOST):
        middle = 0.5 * (low + high)
        at_middle = function(middle)
        if at_middle == 0.0 or abs(high - low) <= tolerance:
            return middle
        root = sqrt(at_middle * at_middle - at_low * at_high)
        new = middle + (middle - low) * copysign(1.0, at_low - at_high) * at_middle / root
        at_new = function(new)
        if at_new == 0.0:
            return new
        # the ends nearest to the change of sign, of the four points known now
        points = sorted([(low, at_low), (middle, at_middle), (new, at_new), (high, at_high)])
        pair = next(pair for pair in zip(points, points[1:]) if (pair[0][1] > 0.0) != (pair[1][1] > 0.0))
        (low, at_low), (high, at_high) = pair
    return 0.5 * (low + high)
