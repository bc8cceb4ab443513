"""Where each state stands in y."""

from functools import lru_cache

from sleevelift.plant.params import INDEX
from sleevelift.plant.state import N_BALANCE

NODE_STATES = ("bottle", "plenum", "tube", "lift", "spring")
DRY_STATES = (*NODE_STATES, "lift_height", "speed")
LARGEST_CORE = sum(2 if name in NODE_STATES else 1 for name in INDEX.names or () if name not in ("core", "total"))
"""Core states of the wet layout: the integrator is compiled once for workspaces of this size."""


@lru_cache(maxsize=2)
def places(wet: bool) -> dict[str, int]:
    """Places of the states in y, in the order of `INDEX`: those that touch fewest others first.

    There are two layouts, dry and wet, each with every optional state (plenum, bottle, passages, chamber): a layout is one
    compilation of the integrator, and a state that a case does not have stays 0 and costs nothing in the elimination.
    """
    found: dict[str, int] = {}
    place = 0
    for name in INDEX.names or ():
        if name in ("core", "total"):
            continue
        found[name] = 0
        if wet or name in DRY_STATES:
            found[name] = place
            place += 2 if name in NODE_STATES else 1
    return {**found, "core": place, "total": place + N_BALANCE}
