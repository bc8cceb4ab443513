"""Jacobian of the right-hand side, by forward differences.

Each core state is moved by a small share of its size; the columns of the balances are absent, since nothing depends on them.
The explicit time derivative is the slope of valve opening and inlet tables on the current segment.
"""

import numpy as np

from sim.jit import kernel
from sim.plant.rhs import rhs
from sim.plant.state import N_SIGNAL

STEP_SHARE = 1e-7
"""-. Share of a state's size by which it is moved: near the root of the rounding error, where forward differences are best."""
TIME_STEP = 1e-7
"""s. Everything explicit in time is linear on its segment, so any step is exact."""


@kernel
def jacobian(t, y, disc, memo, par, J, dfdt):
    """Fill J (n, n_core) = d rhs/d y and dfdt (n,); nonzero where the state is outside the gas range."""
    plant, tables, gas = par
    n = y.shape[0]
    n_core = J.shape[1]
    sig = np.empty(N_SIGNAL)
    f0 = np.zeros(n)
    f1 = np.zeros(n)
    status = rhs(t, y, disc, memo, par, f0, sig)
    if status != 0:
        return status
    for j in range(n_core):
        kept = y[j]
        y[j] = kept + STEP_SHARE * max(abs(kept), tables[plant.floors.start + j])
        step = y[j] - kept
        status = rhs(t, y, disc, memo, par, f1, sig)
        y[j] = kept
        if status != 0:
            return status
        for i in range(n):
            J[i, j] = (f1[i] - f0[i]) / step
    status = rhs(t + TIME_STEP, y, disc, memo, par, f1, sig)
    if status != 0:
        return status
    for i in range(n):
        dfdt[i] = (f1[i] - f0[i]) / TIME_STEP
    return 0
