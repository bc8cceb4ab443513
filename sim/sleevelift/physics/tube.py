"""A straight smooth tube as a component by ISO 6358-1: C and b from bore and length.

Nothing is compiled here, so that a case can be read without numpy.

    ===================      bore d, length L, flow from either end

C = 0.029 d^2/sqrt(L/d^1.25 + 510), b = 474 C/d^2. An empirical formula of pneumatics textbooks for shop air, from memory. Measured
against adiabatic pipe flow (smooth wall, sharp entrance; 2 to 8 mm, 0.1 to 5 m, in `tests/published/test_b_conversions.py`): C low
by up to 4 % at 3 bar, 13 % at 7 bar, 29 % at 30 bar, because friction falls with the Reynolds number and the formula does not
know it.
"""

from math import sqrt


def tube_component(bore: float, length: float) -> tuple[float, float]:
    """(C in m3/(s Pa), b -) of a straight tube of bore and length, m. Zero length is the bare entrance.

    >>> [round(value, 3) for value in (lambda c, b: (c * 1e8, b))(*tube_component(4e-3, 0.8))]
    [1.284, 0.38]
    """
    c = 0.029 * bore**2 / sqrt(length / bore**1.25 + 510.0)
    return c, 474.0 * c / bore**2
