"""The generic integrator, bound to the plant's functions."""

from sim.integrate.loop import integrator
from sim.plant.jacobian import jacobian
from sim.plant.modes import at_target, finished, guards, next_target, reset
from sim.plant.rhs import rhs

integrate = integrator(rhs, jacobian, guards, reset, next_target, at_target, finished)
"""integrate(t, t_end, y, disc, memo, par, w, ...), see `sim.integrate.loop`; par is (plant record, table row, gas table,
scratch of n + N_SIGNAL numbers). It has no cache of its own: `lane.solve_lanes` stores its machine code."""
