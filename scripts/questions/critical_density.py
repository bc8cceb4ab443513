"""How short a polynomial gives the critical density ratio z^(1/(n-1)), z = 2/(n+1), to 1e-12?

    python scripts/questions/critical_density.py

Prints, for several degrees, the greatest relative error of the Chebyshev fit in s = (n-1)/(n+1) over 0 to 0.5 (n from 1 to 3),
and the coefficients of degree 12 by powers of k = 4 s - 1, which stand in `sim/sleevelift/physics/restriction.py`. The function
itself is
computed to 30 digits.
"""

from decimal import Decimal, getcontext

import numpy as np
from numpy.polynomial import chebyshev

getcontext().prec = 30
POINTS = 400


def ratio(s: float) -> float:
    """z^(1/(n-1)) at s: exp((1-s)/(2 s) ln(1-s)), at s = 0 its limit exp(-1/2)."""
    exact = Decimal(s)
    if exact == 0:
        return float(Decimal("-0.5").exp())
    return float(((1 - exact) / (2 * exact) * (1 - exact).ln()).exp())


def main() -> None:
    k = np.cos(np.pi * (np.arange(POINTS) + 0.5) / POINTS)
    values = np.array([ratio(float(s)) for s in (k + 1.0) / 4.0])
    between = np.linspace(-1.0, 1.0, 4001)
    true = np.array([ratio(float(s)) for s in (between + 1.0) / 4.0])
    for degree in (8, 10, 12, 14):
        fit = chebyshev.chebfit(k, values, degree)
        error = np.max(np.abs(chebyshev.chebval(between, fit) / true - 1.0))
        print(f"degree {degree:2d}: within {error:.1e}")
        if degree == 12:
            coefficients = chebyshev.cheb2poly(fit)
    print("\n".join(repr(float(c)) for c in coefficients))


if __name__ == "__main__":
    main()
