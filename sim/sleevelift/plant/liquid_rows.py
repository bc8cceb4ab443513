"""The liquid side as rows: each liquid volume and each flow of propellant is declared here, once.

    inlet --line--> oxidizer manifold --slots and clearance--> combustion chamber
    inlet --line--> fuel manifold     --seat, annulus------->  combustion chamber

A line is a column with a state of its own (its flow); every other flow follows from the pressures at both ends and the lift.
Right-hand side, Jacobian, balances, steady flow, margins and traces go over these rows (as numbers: `params.LIQUIDS`,
`params.LIQUID_FLOW`, `params.LINE`). The laws: `physics.slots`, `physics.seat`, `physics.feed_line` and MODEL.md, sections 5 and 6.
"""

from typing import Any, NamedTuple

from sleevelift.plant.params import BY_SEAT, BY_SLOTS, COLUMN, INTO_CHAMBER
from sleevelift.plant.state import (
    FUEL,
    OXIDIZER,
    S_FUEL_INJECTOR,
    S_FUEL_LINE,
    S_FUEL_P,
    S_OXIDIZER_INJECTOR,
    S_OXIDIZER_LINE,
    S_OXIDIZER_P,
)


class LiquidVolume(NamedTuple):
    """A volume of liquid, squeezed."""

    name: str
    slot: int
    state: str
    """its compressed volume in `params.INDEX`"""
    area: str
    """force of `sleeve.FORCES` with which it moves the sleeve, whose area it grows by; none: it does not move"""
    pressure: int
    """its signal"""
    trace: str


LIQUID_VOLUMES = (
    LiquidVolume("oxidizer manifold", OXIDIZER, "oxidizer_volume", "", S_OXIDIZER_P, "oxidizer_manifold_pressure"),
    LiquidVolume("fuel manifold", FUEL, "fuel_volume", "fuel", S_FUEL_P, "fuel_manifold_pressure"),
)


class LiquidFlow(NamedTuple):
    """One flow of propellant, positive from source to sink."""

    name: str
    side: int
    """whose liquid it is: OXIDIZER or FUEL"""
    source: str
    """a volume, "inlet", or "chamber" """
    sink: str
    law: int
    """one of the laws of `params`"""
    keys: str
    """of the case, that say how wide it is"""
    signal: int
    trace: str


LIQUID_FLOWS = (
    LiquidFlow(
        "oxidizer injector", OXIDIZER, "oxidizer manifold", "chamber", BY_SLOTS, "slots.*",
        S_OXIDIZER_INJECTOR, "oxidizer_injector_flow",
    ),
    LiquidFlow(
        "fuel injector", FUEL, "fuel manifold", "chamber", BY_SEAT, "seat.*",
        S_FUEL_INJECTOR, "fuel_injector_flow",
    ),
    LiquidFlow(
        "oxidizer line", OXIDIZER, "inlet", "oxidizer manifold", COLUMN, "oxidizer.line_*",
        S_OXIDIZER_LINE, "oxidizer_line_flow",
    ),
    LiquidFlow(
        "fuel line", FUEL, "inlet", "fuel manifold", COLUMN, "fuel.line_*",
        S_FUEL_LINE, "fuel_line_flow",
    ),
)  # fmt: skip
"""The injectors first, each in the place of its side."""


def liquid_slots() -> dict[str, int]:
    """Slot of everything that a flow but a line may join, by its name."""
    return {**{volume.name: volume.slot for volume in LIQUID_VOLUMES}, "chamber": INTO_CHAMBER}


def fill_liquid_rows(record: Any, curves: Any, place: dict[str, int], wet: bool, *lines: Any) -> None:
    """Volumes and flows as numbers. A dry plant has the flows alone, of a liquid without density: nothing flows.

    `lines`: what the lines in the record were made of.
    """
    liquids = record["liquids"]
    if wet:
        for volume in LIQUID_VOLUMES:
            line = record["lines"][volume.slot]
            liquids["place"][volume.slot] = place[volume.state]
            liquids["specific_volume"][volume.slot] = line["specific_volume"]
            liquids["swept"][volume.slot] = line["swept"]
        liquids["volumes"] = len(LIQUID_VOLUMES)
        liquids["lines"] = 2
    slots = liquid_slots()
    found = [row for row in LIQUID_FLOWS if row.law != COLUMN]
    for k, row in enumerate(found):
        flow = record["liquid_flows"][k]
        flow["source"], flow["sink"], flow["law"], flow["signal"] = slots[row.source], slots[row.sink], row.law, row.signal
    liquids["flows"] = len(found)
