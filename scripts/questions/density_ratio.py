"""How short are polynomials that give ln r and exp(v) to 1e-14 where subsonic flows lie?

    python scripts/questions/density_ratio.py

ln r = -2 t L(t^2) with t = (1-r)/(1+r) and L(q) = atanh(sqrt q)/sqrt q, for r from 0.4 to 1 (q up to 0.184); exp(v) for v from -1
to 0, by powers of v + 1/2. Prints the greatest relative error of the Chebyshev fits of several degrees and the coefficients that
stand in `sim/sleevelift/physics/restriction.py`. The functions themselves are computed to 40 digits.
"""

from decimal import Decimal, getcontext

import numpy as np
from numpy.polynomial import chebyshev, polynomial

getcontext().prec = 40
POINTS = 200
LOWEST = Decimal("0.4")


def logarithm_part(q: Decimal) -> float:
    """atanh(sqrt q)/sqrt q by its series."""
    total, power, k = Decimal(0), Decimal(1), 0
    while power > Decimal(10) ** -38:
        total += power / (2 * k + 1)
        power *= q
        k += 1
    return float(total)


def report(name: str, function, low: Decimal, high: Decimal, centre: float, degrees, chosen: int) -> None:  # type: ignore[no-untyped-def]
    """Print the errors of fits over low to high, and the coefficients by powers of (argument - centre)."""
    middle, half = (low + high) / 2, (high - low) / 2
    k = np.cos(np.pi * (np.arange(POINTS) + 0.5) / POINTS)
    values = np.array([function(middle + half * Decimal(float(x))) for x in k])
    between = np.linspace(-1.0, 1.0, 2001)
    true = np.array([function(middle + half * Decimal(float(x))) for x in between])
    for degree in degrees:
        fit = chebyshev.chebfit(k, values, degree)
        print(f"{name} degree {degree:2d}: within {np.max(np.abs(chebyshev.chebval(between, fit) / true - 1.0)):.1e}")
        if degree == chosen:
            powers = chebyshev.cheb2poly(fit)
    # x = (argument - middle)/half = (d + centre - middle)/half with d = argument - centre
    line = np.array([(centre - float(middle)) / float(half), 1.0 / float(half)])
    shifted = np.array([0.0])
    for c in powers[::-1]:
        shifted = polynomial.polyadd(polynomial.polymul(shifted, line), [c])
    print("\n".join(repr(float(c)) for c in shifted[: chosen + 1]))


def main() -> None:
    t = (1 - LOWEST) / (1 + LOWEST)
    report("ln ", logarithm_part, Decimal(0), t * t, 0.0, (8, 9, 10, 11), 10)
    report("exp", lambda v: float(v.exp()), Decimal(-1), Decimal(0), -0.5, (9, 10, 11), 11)


if __name__ == "__main__":
    main()
