"""What a run must say of gas in its manifolds: what it does, what of it is not modelled, what of it is dangerous."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from sleevelift.case.gases import ADMITTED, plain_name
from sleevelift.case.purge_gases import saturation_pressure
from sleevelift.case.schema import Case
from sleevelift.plant.build import Plant
from sleevelift.plant.manifold_gas_sections import gas_in_manifold
from sleevelift.plant.state import (
    D_LIT,
    D_MODE,
    D_ON,
    D_PURGE_O,
    S_OXIDIZER,
    S_OXIDIZER_GAS_VOLUME,
    S_OXIDIZER_P,
    S_OXIDIZER_SHARE,
    S_OXIDIZER_VALVE,
    SEATED,
)

Measures = Mapping[str, float | None]
SHORT = "Gas drives liquid out of a manifold as a piston would: the shortest purge there can be, and the least left behind it. "
HEAT = (
    "Gas in a manifold is kept at one temperature: the heat of its compression is not followed. A valve that opens fast onto gas "
    "can heat it far above what metal, grease and seals bear beside an oxidizer, oxygen above all; ASTM G88 is the guide to go by."
)
LITTLE = 1e-3
"""-. Of a manifold's volume or filling: less gas or liquid than this is none."""


def manifold_gas_remarks(found: Measures, case: Case, plant: Plant, raw: Any) -> list[str]:
    """Remarks on a run with gas in a manifold; none where there is none."""
    record = plant.record[0]
    if not record["gas_manifolds"] or len(raw.t) == 0:
        return []
    out = [SHORT + HEAT]
    for side, name in enumerate(("oxidizer", "fuel")):
        if record["gases"][side]["present"]:
            out += _pressed(side, name, case, record, raw)
            out += _driven(side, name, case, record, raw)
            out += _pushed_back(side, name, record, raw)
            out += _condenses(side, name, case, record, raw)
    return out


def _pressed(side: int, name: str, case: Case, record: Any, raw: Any) -> list[str]:
    """A purge that is on with the sleeve shut."""
    pressure = raw.outputs[:, S_OXIDIZER_P + side]
    shut = (raw.discrete_state[:, D_PURGE_O + side] != 0) & (raw.discrete_state[:, D_MODE] == SEATED)
    shut &= (pressure <= float(record["gases"][side]["supply"])) & (raw.outputs[:, S_OXIDIZER_GAS_VOLUME + side] > 0.0)
    if not shut.any():
        return []
    highest = float(pressure[shut].max())
    said = f"With the sleeve shut the {name} purge moves next to nothing, it only presses the manifold: "
    said += f"up to {case.reader.text('pressure', highest, '.4g')} there."
    if name == "fuel":
        said += " The fuel manifold's pressure pushes the sleeve open: see the surge margin."
    return [said]


def _driven(side: int, name: str, case: Case, record: Any, raw: Any) -> list[str]:
    """Propellant that the purge drives into the chamber, behind the shut run valve, after the off command."""
    after = (raw.discrete_state[:, D_ON] == 0) & (raw.discrete_state[:, D_PURGE_O + side] != 0)
    after &= raw.outputs[:, S_OXIDIZER_SHARE + side] <= 0.0
    after &= raw.outputs[:, S_OXIDIZER + side] > 0.0
    if not after.any() or case.chamber is None:
        return []
    flow = np.where(after, raw.outputs[:, S_OXIDIZER + side], 0.0)
    driven = float(np.trapezoid(flow, raw.t))
    if driven <= LITTLE * float(record["lines"][side]["rho"]) * float(record["lines"][side]["volume"]):
        return []
    lit = bool((raw.discrete_state[after, D_LIT] != 0).any())
    does = "burns: it may keep the chamber lit, and hot, for as long as it comes" if lit else "pools in the chamber unburned"
    return [
        f"After the off command the purge drives {case.reader.text('mass', driven, '.3g')} of {name} into the chamber, which "
        f"{does}."
    ]


def _pushed_back(side: int, name: str, record: Any, raw: Any) -> list[str]:
    """Liquid that a manifold with gas pushes back through its run valve."""
    there = raw.outputs[:, S_OXIDIZER_GAS_VOLUME + side] > LITTLE * float(record["lines"][side]["volume"])
    flow = np.where(there, np.minimum(raw.outputs[:, S_OXIDIZER_VALVE + side], 0.0), 0.0)
    back = -float(np.trapezoid(flow, raw.t))
    if back <= LITTLE * float(record["lines"][side]["rho"]) * float(record["lines"][side]["volume"]):
        return []
    return [
        f"The gas pushes {1e3 * back:.3g} g of {name} back through its run valve, which has no check valve: gas that follows it "
        "into the line and the tank is not modelled."
    ]


def _condenses(side: int, name: str, case: Case, record: Any, raw: Any) -> list[str]:
    """Gas that met a pressure above the one at which it condenses at the liquid's temperature."""
    feed = case.oxidizer if side == 0 else case.fuel
    assert feed is not None
    gas = gas_in_manifold(feed, case.ambient)[0]
    if feed.temperature >= ADMITTED[plain_name(gas)].critical_temperature:
        return []
    there = raw.outputs[:, S_OXIDIZER_GAS_VOLUME + side] > LITTLE * float(record["lines"][side]["volume"])
    highest = float(raw.outputs[there, S_OXIDIZER_P + side].max(initial=0.0))
    limit = saturation_pressure(gas, feed.temperature)
    if highest <= limit:
        return []
    say = case.reader.text
    return [
        f"{gas} in the {name} manifold reaches {say('pressure', highest, '.3g')}, above its saturation pressure at the liquid's "
        f"temperature, {say('pressure', limit, '.3g')}: it would condense, and the pressures of this run are not to be trusted."
    ]
