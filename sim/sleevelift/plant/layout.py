"""Where each state stands in y."""

from functools import lru_cache

from sleevelift.plant.params import INDEX
from sleevelift.plant.state import N_BALANCE, N_INFLOW_BALANCE

NODE_STATES = ("bottle", "plenum", "tube", "lift", "spring")
DRY_STATES = (*NODE_STATES, "lift_height", "speed")
INFLOW = "inflow"
"""Balances of gas that flows into the chamber, of a layout with a source of it only."""
BEHIND = ("core", INFLOW, "total")
"""Places that are no state's."""
LARGEST_CORE = sum(2 if name in NODE_STATES else 1 for name in INDEX.names or () if name not in BEHIND)
LARGEST = LARGEST_CORE + N_BALANCE + N_INFLOW_BALANCE
"""Core states of the largest layout, and all that it integrates: the integrator is compiled once for workspaces of this size."""


AHEAD = ("oxidizer_ahead", "fuel_ahead")
"""States of a layout with run valves only."""


@lru_cache(maxsize=16)
def places(wet: bool, optional: frozenset[str] = frozenset()) -> dict[str, int]:
    """Places of the states in y, in the order of `INDEX`: those that touch fewest others first.

    A layout, dry or wet, has every optional state (plenum, bottle, passages, chamber) but those of `AHEAD` that are not in
    `optional`, and the balances of `INFLOW` where it is. One compilation serves all. A state that a case does not have stays 0
    and costs nothing in the elimination; it counts in the mean of the error, so that more of them in every layout would change
    the digits of all cases.
    """
    found: dict[str, int] = {}
    place = 0
    for name in INDEX.names or ():
        if name in BEHIND:
            continue
        found[name] = 0
        if name in optional if name in AHEAD else wet or name in DRY_STATES:
            found[name] = place
            place += 2 if name in NODE_STATES else 1
    total = place + N_BALANCE
    if INFLOW in optional:
        return {**found, "core": place, INFLOW: total, "total": total + N_INFLOW_BALANCE}
    return {**found, "core": place, INFLOW: 0, "total": total}
