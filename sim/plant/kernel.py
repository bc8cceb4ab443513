"""The compiled entry that names the plant's functions to the generic integrator."""

from sim.integrate.loop import integrator
from sim.jit import kernel
from sim.plant.jacobian import jacobian
from sim.plant.modes import at_target, finished, guards, next_target, reset
from sim.plant.rhs import rhs
from sim.plant.state import D_TARGET
from sim.plant.static import initial_state

STARTS_OUTSIDE = 100
"""Status: a node starts outside the gas table (added to its place code)."""

integrate = integrator(rhs, jacobian, guards, reset, next_target, at_target, finished)


@kernel
def start(y, disc, memo, lanes, tables, gas):
    """Fill the state at t = 0, known instants at 0 applied; 0, or STARTS_OUTSIDE + place."""
    par = (lanes[0], tables, gas)
    place = initial_state(y, disc, memo, par)
    if place != 0:
        return STARTS_OUTSIDE + place
    targets = par[0].instants.targets
    if targets.count > disc[D_TARGET] and tables[targets.start] <= 0.0:
        at_target(0.0, y, disc, memo, par)
    return 0


@kernel
def run_lane(
    t, t_end, y, disc, memo, lanes, tables, gas, w,
    t_out, y_out, disc_out, sig_out, dense_out, event_time, event_which, event_disc,
):  # fmt: skip
    """Integrate one lane from (t, y, disc, memo) to t_end at most; a status of `sim.integrate.status`."""
    par = (lanes[0], tables, gas)
    return integrate(
        t, t_end, y, disc, memo, par, w, t_out, y_out, disc_out, sig_out, dense_out, event_time, event_which, event_disc
    )
