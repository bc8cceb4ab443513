"""Measures of gas in the manifolds: liquid left beside it, gas used by the purges."""

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.plant.crossings import point_before
from sleevelift.plant.manifold_gas import liquid_volume
from sleevelift.plant.names import PLACE
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

OF_A_SIDE = np.array(
    [
        [PLACE[f"residual_{side}_at_seating"], PLACE[f"residual_{side}_at_end"], PLACE[f"{side}_purge_gas"]]
        for side in ("oxidizer", "fuel")
    ],
    dtype=np.int64,
)
"""Measures of each side, as data: liquid left when the sleeve seats, at the end, gas used."""


@bare_kernel
def seated_for_good(events, trajectory):
    """Instant, s, at which the sleeve last came to rest on its seat; nan if it did not, or has left it since."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    if discrete_state[count - 1, D_MODE] != SEATED:
        return np.nan
    for i in range(events.number - 1, -1, -1):
        if events.discrete_state[i, 1, D_MODE] == SEATED and events.discrete_state[i, 0, D_MODE] != SEATED:
            return events.instant[i]
    return np.nan


@bare_kernel
def liquid_left(k, side, trajectory, plant):
    """Liquid in a manifold at point k, kg."""
    y = trajectory[1][k]
    z = y[plant.liquids.place[side]]
    return max(plant.lines[side].rho * liquid_volume(z, y[plant.index.lift_height], side, plant), 0.0)


@bare_kernel
def purge_measures(out, events, trajectory, plant):
    """Fill what each manifold with gas holds of liquid when the sleeve seats and at the end, and the gas its purge used."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    seated = seated_for_good(events, trajectory)
    for side in range(plant.liquids.lines):
        if plant.gases[side].present == 0:
            continue
        if happened(seated):
            out[OF_A_SIDE[side, 0]] = liquid_left(point_before(seated, trajectory), side, trajectory, plant)
        out[OF_A_SIDE[side, 1]] = liquid_left(count - 1, side, trajectory, plant)
        if plant.gases[side].area > 0.0:
            i = plant.index.ledger + B_PURGED_O + side
            out[OF_A_SIDE[side, 2]] = ys[count - 1, i] - ys[0, i]
