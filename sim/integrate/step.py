"""One step of Rodas5P: eight stages, each a right-hand side and a solve with the same matrix (formulas in `tableau`).

Generic: `rosenbrock_step_of` binds the right-hand side. Nothing is allocated.
"""

from collections.abc import Callable

from sim.integrate.linear import factor, solve
from sim.integrate.tableau import ALPHA, GAMMA, STAGES, A, C, D
from sim.jit import generic

STEP_DONE, STEP_LEFT_RANGE, STEP_SINGULAR = 0, 1, 2


@generic
def stage_sums(w, stage, h):
    """Fill y1 with the argument of the 0-based `stage`, y + sum A u, and u[stage] with sum C u / h + h D df/dt."""
    weight = h * D[stage]
    for i in range(w.y.shape[0]):
        w.y1[i] = w.y[i]
        w.u[stage, i] = weight * w.dfdt[i]
    for j in range(stage):
        a = A[stage, j]
        c = C[stage, j] / h
        for i in range(w.y.shape[0]):
            w.y1[i] += a * w.u[j, i]
            w.u[stage, i] += c * w.u[j, i]


def rosenbrock_step_of(rhs: Callable[..., int]) -> Callable[..., int]:
    """The step of the system with this right-hand side."""

    @generic
    def rosenbrock_step(w, h, par):
        """One step of size `h` from (t, y): the end into y1, stage values into u, u[7] being the error estimate.

        f0, J and dfdt hold the right-hand side and its derivatives at (t, y). Returns STEP_DONE or what went wrong.
        """
        inverse_shift = h * GAMMA
        if factor(w, 1.0 / inverse_shift) != 0:
            return STEP_SINGULAR
        for i in range(w.J.shape[0]):
            w.f[i] = w.f0[i]
        for stage in range(STAGES):
            stage_sums(w, stage, h)
            if stage > 0 and rhs(
                w.t + ALPHA[stage] * h, w.y1[: w.J.shape[0]], w.disc[:], w.memo[:], par, w.f[: w.J.shape[0]], w.sig[:]
            ):
                return STEP_LEFT_RANGE
            for i in range(w.y.shape[0]):
                w.u[stage, i] += w.f[i]
            solve(w, stage, inverse_shift)
        for i in range(w.y.shape[0]):
            w.y1[i] += w.u[STAGES - 1, i]
        return STEP_DONE

    return rosenbrock_step  # type: ignore[no-any-return]
