"""Dense output: the solution inside a step, of order 4, from the stages the step has anyway.

    y(s) = (1 - s) y0 + s (y1 + (1 - s) (k1 + s (k2 + s k3))),    s = (t - t0)/(t1 - t0) from 0 to 1
    k_r = sum_i H_ri u_i

Source: Steinebach 2023 (see `tableau`). A piece of a step is a step again: `restrict_dense` gives the coefficients of the
same polynomial on [t0, t0 + s h], so a trajectory cut at an event needs no note of the longer step it came from.
"""

from sim.integrate.tableau import H
from sim.jit import generic


@generic
def dense_coefficients(w):
    """Fill `k` from the stage values `u`."""
    for r in range(3):
        h0, h1, h2, h3, h4, h5, h6, h7 = H[r, 0], H[r, 1], H[r, 2], H[r, 3], H[r, 4], H[r, 5], H[r, 6], H[r, 7]
        for i in range(w.k.shape[1]):
            first = (h0 * w.u[0, i] + h1 * w.u[1, i]) + (h2 * w.u[2, i] + h3 * w.u[3, i])
            w.k[r, i] = first + ((h4 * w.u[4, i] + h5 * w.u[5, i]) + (h6 * w.u[6, i] + h7 * w.u[7, i]))


@generic
def interpolate(w, s):
    """Fill `y_in` with the solution at the fraction `s` of the step from y to y1."""
    rest = 1.0 - s
    for i in range(w.y.shape[0]):
        inner = w.k[0, i] + s * (w.k[1, i] + s * w.k[2, i])
        w.y_in[i] = rest * w.y[i] + s * (w.y1[i] + rest * inner)


@generic
def restrict_dense(w, s):
    """Turn `k` into the coefficients of the same polynomial on the first fraction `s` of the step.

    In powers of s the coefficients of s^2, s^3, s^4 are k2 - k1, k3 - k2, -k3; shortening multiplies them by s^2, s^3, s^4.
    """
    s2 = s * s
    for i in range(w.k.shape[1]):
        fourth = s2 * s2 * w.k[2, i]
        third = fourth - s2 * s * (w.k[2, i] - w.k[1, i])
        w.k[0, i] = third - s2 * (w.k[1, i] - w.k[0, i])
        w.k[1, i] = third
        w.k[2, i] = fourth
