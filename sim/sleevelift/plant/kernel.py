"""The generic integrator, bound to the plant's functions."""

from sleevelift.integrate.loop import integrator
from sleevelift.plant.ending import finished
from sleevelift.plant.jacobian import jacobian
from sleevelift.plant.modes import at_target, guards, next_target, reset
from sleevelift.plant.rhs import rhs

integrate = integrator(rhs, jacobian, guards, reset, next_target, at_target, finished)
"""integrate(t, t_end, y, discrete_state, event_memory, par, w, ...), see `sleevelift.integrate.loop`; par is (plant record,
table row, gas table,
scratch of n + N_SIGNAL numbers). It has no cache of its own: `lane.solve_lanes` stores its machine code."""
