"""Where each state stands in y, and the size below which it no longer counts."""

from functools import lru_cache
from typing import Any

import numpy as np

from sim.plant.params import INDEX
from sim.plant.state import N_BALANCE

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


FLOOR_STROKE, FLOOR_SPEED, FLOOR_LINE, FLOOR_MASS, FLOOR_GAS = 0.05, 0.02, 1.0, 0.05, 0.3
"""-, m/s, -, -, -. Sizes below which a state no longer counts: 5 % of the stroke, 20 mm/s, a line's rated flow (stopping it
raises the pressure by about as much as the inlet has, so that ringing counts alike in flow and pressure), 5 % of a passage's
filling and of the mass that burns in the burning time, 30 % of the gas at ambient."""
FLOOR_LIQUID = 1e5
"""Pa. Swing of manifold pressure below which it no longer counts."""
CHOKED_SHARE = 0.7
"""-. Psi(n) of the common gases within 5 %, enough to size a floor: rho = (flux/Psi)^2/p."""
FLOOR_CHAMBER = 1e4
"""Pa. Swing of chamber pressure below which it no longer counts."""


def numbers_of(part: Any) -> dict[str, Any]:
    """A record as plain numbers by name: arithmetic on them is several times faster than on a record's own."""
    return dict(zip(part.dtype.names, part.item()))


def floors(record: Any, reference: tuple[float, float]) -> np.ndarray:
    """Size of each core state below which its error is measured against this, in the state's unit."""
    wet = bool(record["oxidizer"]["present"])
    place = places(wet)
    out = [1.0] * place["core"]
    ambient = numbers_of(record["gas"]["ambient"])
    density = (ambient["flux"] / CHOKED_SHARE) ** 2 / ambient["p"]
    for name in NODE_STATES:
        volume = float(record["supply" if name in ("bottle", "plenum") else "gas"][name]["volume"])
        if volume > 0.0:
            out[place[name]] = FLOOR_GAS * volume * density
            out[place[name] + 1] = FLOOR_GAS * volume * ambient["p"] * 2.5
    out[place["lift_height"]] = FLOOR_STROKE * float(record["sleeve"]["stroke"])
    out[place["speed"]] = FLOOR_SPEED
    if not wet:
        return np.array(out)
    for side, flow in (("oxidizer", reference[0]), ("fuel", reference[1])):
        line = numbers_of(record[side])
        out[place[f"{side}_flow"]] = FLOOR_LINE * max(flow, 1e-6)
        out[place[f"{side}_volume"]] = FLOOR_LIQUID * line["volume"] / line["bulk"]
        if line["passage_mass"] > 0.0:
            out[place[f"passage_{side}"]] = FLOOR_MASS * line["passage_mass"]
    chamber = numbers_of(record["chamber"])
    if chamber["hot"]:
        out[place["unburned_oxidizer"]] = FLOOR_MASS * max(reference[0], 1e-6) * chamber["burn_time"]
        out[place["unburned_fuel"]] = FLOOR_MASS * max(reference[1], 1e-6) * chamber["burn_time"]
        out[place["gas_mass"]] = FLOOR_GAS * chamber["ambient_mass"]
        out[place["chamber"]] = FLOOR_CHAMBER
    return np.array(out)
