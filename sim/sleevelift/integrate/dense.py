"""Dense output: the solution inside a step, of order 4, from the stages the step has anyway.

    y(s) = (1 - s) y0 + s (y1 + (1 - s) (k1 + s (k2 + s k3))),    s = (t - t0)/(t1 - t0) from 0 to 1
    k_r = sum_i H_ri u_i

Source: Steinebach 2023 (see `tableau`). A piece of a step is a step again: `restrict_dense` gives the coefficients of
the same polynomial on [t0, t0 + s h], so a trajectory cut at an event needs no note of the longer step it came from.
"""

from sleevelift.integrate.tableau import H
from sleevelift.jit import generic


@generic
def dense_coefficients(w):
    """Fill `k` from the stage values `u`."""
    u, k = w.u, w.k
    for r in range(3):
        h0, h1, h2, h3, h4, h5, h6, h7 = H[r, 0], H[r, 1], H[r, 2], H[r, 3], H[r, 4], H[r, 5], H[r, 6], H[r, 7]
        for i in range(k.shape[1]):
            first = (h0 * u[0, i] + h1 * u[1, i]) + (h2 * u[2, i] + h3 * u[3, i])
            k[r, i] = first + ((h4 * u[4, i] + h5 * u[5, i]) + (h6 * u[6, i] + h7 * u[7, i]))


@generic
def interpolate(w, s):
    """Fill `y_at` with the solution at the fraction `s` of the step from y to y1."""
    y, y1, k, y_at = w.y, w.y1, w.k, w.y_at
    rest = 1.0 - s
    for i in range(y.shape[0]):
        y_at[i] = rest * y[i] + s * (y1[i] + rest * (k[0, i] + s * (k[1, i] + s * k[2, i])))


@generic
def restrict_dense(w, s):
    """Turn `k` into the coefficients of the same polynomial on the first fraction `s` of the step.

    In powers of s the coefficients of s^2, s^3, s^4 are k2 - k1, k3 - k2, -k3; shortening multiplies them by s^2, s^3,
    s^4.
    """
    k = w.k
    s2 = s * s
    for i in range(k.shape[1]):
        fourth = s2 * s2 * k[2, i]
        third = fourth - s2 * s * (k[2, i] - k[1, i])
        k[0, i] = third - s2 * (k[1, i] - k[0, i])
        k[1, i] = third
        k[2, i] = fourth
