"""Where each state stands in y."""

from functools import lru_cache

from sleevelift.plant.params import INDEX
from sleevelift.plant.state import N_BALANCE, N_INFLOW_BALANCE, N_LEDGER, N_ROD_BALANCE

NODE_STATES = ("bottle", "plenum", "tube", "lift", "spring")
DRY_STATES = (*NODE_STATES, "lift_height", "speed")
ROD, INFLOW, LEDGER = "rod", "inflow", "ledger"
BALANCES = {ROD: N_ROD_BALANCE, INFLOW: N_INFLOW_BALANCE, LEDGER: N_LEDGER}
"""Balances of fuel past the rod seal, of gas that flows into the chamber, of gas in the manifolds: of a layout with such only."""
BEHIND = ("core", *BALANCES, "total")
"""Places that are no state's."""
LARGEST_CORE = sum(2 if name in NODE_STATES else 1 for name in INDEX.names or () if name not in BEHIND)
LARGEST = LARGEST_CORE + N_BALANCE + sum(BALANCES.values())
"""Core states of the largest layout, and all that it integrates: the integrator is compiled once for workspaces of this size."""


AHEAD = ("oxidizer_ahead", "fuel_ahead")
"""States of a layout with run valves only."""
MANIFOLD_GAS = ("oxidizer_gas", "fuel_gas")
"""States of a layout with gas in that manifold only."""
LIFT_LIQUID = "lift_liquid"
"""State of a layout with fuel past the rod seal only."""
OPTIONAL = (*AHEAD, *MANIFOLD_GAS, LIFT_LIQUID)


@lru_cache(maxsize=16)
def places(wet: bool, optional: frozenset[str] = frozenset()) -> dict[str, int]:
    """Places of the states in y, in the order of `INDEX`: those that touch fewest others first.

    A layout, dry or wet, has every optional state (plenum, bottle, passages, chamber) but those of `OPTIONAL` that are not
    in `optional`, and those of `BALANCES` that are. One compilation serves all. A state that a case does not have stays 0
    and costs nothing in the elimination; it counts in the mean of the error, so that more of them in every layout would change
    the digits of all cases.
    """
    found: dict[str, int] = {}
    place = 0
    for name in INDEX.names or ():
        if name in BEHIND:
            continue
        found[name] = 0
        if name in optional if name in OPTIONAL else wet or name in DRY_STATES:
            found[name] = place
            place += 2 if name in NODE_STATES else 1
    found["core"] = place
    place += N_BALANCE
    for name, count in BALANCES.items():
        found[name] = place if name in optional else 0
        place += count if name in optional else 0
    return {**found, "total": place}
