"""The liquid side as rows: each liquid volume and each flow of propellant is declared here, once.

    inlet --line--> [ahead --run valve-->] oxidizer manifold --slots and clearance--> combustion chamber
    inlet --line--> [ahead --run valve-->] fuel manifold     --seat, annulus------->  combustion chamber

A line is a column with a state of its own (its flow); every other flow follows from the pressures at both ends and the lift.
Right-hand side, Jacobian, balances, steady flow, margins and traces go over these rows (as numbers: `params.LIQUIDS`,
`params.LIQUID_FLOW`, `params.LINE`). The laws: `physics.slots`, `physics.seat`, `physics.feed_line` and MODEL.md, sections 5 and 6.
"""

from typing import Any, NamedTuple

from sleevelift.plant.params import BY_SEAT, BY_SLOTS, BY_VALVE, COLUMN, INTO_CHAMBER
from sleevelift.plant.state import (
    FUEL,
    OXIDIZER,
    S_FUEL_AHEAD_P,
    S_FUEL_INJECTOR,
    S_FUEL_LINE,
    S_FUEL_P,
    S_FUEL_VALVE,
    S_OXIDIZER_AHEAD_P,
    S_OXIDIZER_INJECTOR,
    S_OXIDIZER_LINE,
    S_OXIDIZER_P,
    S_OXIDIZER_VALVE,
)


class LiquidVolume(NamedTuple):
    """A volume of liquid, squeezed."""

    name: str
    side: int
    """whose liquid it holds: OXIDIZER or FUEL"""
    ahead: bool
    """whether it stands ahead of a run valve, and is there only with one"""
    state: str
    """its compressed volume in `params.INDEX`"""
    area: str
    """force of `sleeve.FORCES` with which it moves the sleeve, whose area it grows by; none: it does not move"""
    pressure: int
    """its signal"""
    trace: str


LIQUID_VOLUMES = (
    LiquidVolume(
        "oxidizer manifold", OXIDIZER, False, "oxidizer_volume", "", S_OXIDIZER_P, "oxidizer_manifold_pressure",
    ),
    LiquidVolume(
        "fuel manifold", FUEL, False, "fuel_volume", "fuel", S_FUEL_P, "fuel_manifold_pressure",
    ),
    LiquidVolume(
        "oxidizer line", OXIDIZER, True, "oxidizer_ahead", "", S_OXIDIZER_AHEAD_P, "oxidizer_valve_inlet_pressure",
    ),
    LiquidVolume(
        "fuel line", FUEL, True, "fuel_ahead", "", S_FUEL_AHEAD_P, "fuel_valve_inlet_pressure",
    ),
)  # fmt: skip
"""The manifolds first."""


class LiquidFlow(NamedTuple):
    """One flow of propellant, positive from source to sink."""

    name: str
    side: int
    """whose liquid it is: OXIDIZER or FUEL"""
    source: str
    """a volume, "inlet", or "chamber" """
    sink: str
    """a line's is what stands ahead of the run valve, where there is one"""
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
        "oxidizer valve", OXIDIZER, "oxidizer line", "oxidizer manifold", BY_VALVE, "oxidizer.valve.*",
        S_OXIDIZER_VALVE, "oxidizer_valve_flow",
    ),
    LiquidFlow(
        "fuel valve", FUEL, "fuel line", "fuel manifold", BY_VALVE, "fuel.valve.*",
        S_FUEL_VALVE, "fuel_valve_flow",
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


def volumes_of(record: Any) -> dict[str, LiquidVolume]:
    """The liquid volumes of a plant, by name, in the order of their slots: the manifolds, then what stands ahead of run valves."""
    if not int(record["liquids"]["lines"]):
        return {}
    valves = record["lines"]["valve_area"] > 0.0
    return {volume.name: volume for volume in LIQUID_VOLUMES if not volume.ahead or valves[volume.side]}


def flows_of(record: Any) -> list[LiquidFlow]:
    """The liquid flows of a plant with propellants, the lines' last."""
    there = volumes_of(record)
    return [row for row in LIQUID_FLOWS if row.law == COLUMN or row.source in there]


def liquid_slots(record: Any) -> dict[str, int]:
    """Slot of everything that a flow but a line may join, by its name."""
    return {**{name: slot for slot, name in enumerate(volumes_of(record))}, "chamber": INTO_CHAMBER}


def fill_liquid_rows(record: Any, curves: Any, place: dict[str, int], wet: bool, *lines: Any) -> None:
    """Volumes and flows as numbers. A dry plant has the injectors alone, of a liquid without density: nothing flows.

    `lines`: what the lines in the record were made of.
    """
    liquids = record["liquids"]
    liquids["lines"] = 2 if wet else 0
    volumes = volumes_of(record)
    for slot, volume in enumerate(volumes.values()):
        line = record["lines"][volume.side]
        size = float(line["ahead_volume"] if volume.ahead else line["volume"])
        liquids["place"][slot] = place[volume.state]
        liquids["side"][slot] = volume.side
        liquids["signal"][slot] = volume.pressure
        liquids["specific_volume"][slot] = line["specific_volume"]
        liquids["swept"][slot] = 0.0 if volume.ahead else line["swept"]
        liquids["size"][slot] = size
        liquids["stiffness"][slot] = line["bulk"] / size
        liquids["vapour"][slot] = line["vapour"]
        line["end"] = slot
    liquids["volumes"] = len(volumes)
    slots = liquid_slots(record)
    found = [row for row in LIQUID_FLOWS if row.law in (BY_SLOTS, BY_SEAT) or (row.law == BY_VALVE and row.source in volumes)]
    for k, row in enumerate(found):
        flow, line = record["liquid_flows"][k], record["lines"][row.side]
        flow["source"], flow["sink"] = slots.get(row.source, row.side), slots[row.sink]
        flow["law"], flow["signal"], flow["side"] = row.law, row.signal, row.side
        flow["area"] = line["valve_area"] if row.law == BY_VALVE else 0.0
        flow["check"] = line["check_valve"] if row.law == BY_VALVE else 0
    liquids["flows"] = len(found)
