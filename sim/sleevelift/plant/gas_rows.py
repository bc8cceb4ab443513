"""The gas side as rows: each volume and each flow of actuation gas is declared here, once.

    bottle --regulator--> plenum --fill--> tube --port--> lift chamber --piston leak--> spring side --vent--> ambient
                                             |  exhaust       |  quick exhaust             ^  post leak
                                             v                v                            |
                                          ambient          ambient                 combustion chamber

Gas past the rod seal comes from the fuel side of a dry case; with propellants it is fuel that comes (`rod_leak`).

Right-hand side, Jacobian, time derivative, balances, start, stored energy, sizes of the states and traces go over these rows
(as numbers: `params.NODES`, `params.FLOW`). The laws: `physics.gas_node`, `physics.restriction` and MODEL.md, sections 2 and 3.
"""

from collections.abc import Callable
from math import pi
from typing import Any, NamedTuple

from sleevelift.case.schema_gas import Component, QuickExhaust, Solenoid, SpringSide, Supply, Tube
from sleevelift.case.schema_machine import Seals
from sleevelift.physics.restriction import (
    ORIFICE_CRITICAL_RATIO,
    ORIFICE_LAW,
    area_of_conductance,
    conductance_of_area,
    series_component,
)
from sleevelift.physics.tube import tube_component
from sleevelift.plant.params import (
    ALWAYS,
    AMBIENT,
    BOTTLE,
    BOTTLE_SUPPLY,
    BY_EXHAUST,
    BY_FILL,
    BY_LEAVING,
    BY_NONE,
    BY_PASSING,
    BY_POST,
    BY_QUICK,
    BY_REGULATOR,
    BY_SHUTTLE_HOME,
    BY_TOP,
    CHAMBER,
    FUEL_SIDE,
    LIFT,
    REGULATED_SUPPLY,
    SOURCE,
    SPRING,
    SUPPLY,
    TUBE,
)
from sleevelift.plant.state import (
    B_FILL,
    S_BOTTLE_P,
    S_EXHAUST,
    S_FILL,
    S_LIFT_P,
    S_OUTSIDE_LEAK,
    S_PISTON_LEAK,
    S_PLENUM_P,
    S_PORT,
    S_POST_LEAK,
    S_QUICK,
    S_REGULATOR,
    S_ROD_LEAK,
    S_SPRING_P,
    S_TUBE_P,
    S_VENT,
)

Restriction = tuple[float, float, float]
"""(Cd A m2, critical ratio, subsonic index), see `physics.restriction`."""
BLOCKED: Restriction = (0.0, ORIFICE_LAW, 0.5)
"""A path that is not there."""


class GasNode(NamedTuple):
    """One volume of actuation gas."""

    name: str
    """of its states mass and energy in `params.INDEX`"""
    title: str
    area: str
    """force of `sleeve.FORCES` with which it moves the sleeve, whose area its volume grows by; none: its volume is constant"""
    pressure: int
    """its signal; the next is the temperature"""
    supersaturated: int
    """its bit in S_SUPERSATURATED"""


GAS_NODES = (
    GasNode("tube", "tube", "", S_TUBE_P, 1),
    GasNode("lift", "lift chamber", "gas", S_LIFT_P, 2),
    GasNode("spring", "spring side", "spring_side", S_SPRING_P, 4),
    GasNode("plenum", "plenum", "", S_PLENUM_P, 8),
    GasNode("bottle", "bottle", "", S_BOTTLE_P, 16),
)
"""In the order of the codes (from 1) by which the right-hand side says whose gas left its range."""
FIRST_THREE = {"tube": TUBE, "lift": LIFT, "spring": SPRING}


def node_slots(kind: int) -> dict[str, int]:
    """Slot of each node that a plant with this kind of supply has, by its name."""
    if kind == REGULATED_SUPPLY:
        return {**FIRST_THREE, "plenum": SOURCE, "bottle": BOTTLE}
    if kind == BOTTLE_SUPPLY:
        return {**FIRST_THREE, "bottle": SOURCE}
    return dict(FIRST_THREE)


def slots(kind: int) -> dict[str, int]:
    """Slot of everything that a flow may join, by its name."""
    nodes = node_slots(kind)
    inlet = SOURCE if kind in (REGULATED_SUPPLY, BOTTLE_SUPPLY) else SUPPLY
    return {**nodes, "inlet": inlet, "ambient": AMBIENT, "chamber": CHAMBER, "fuel side": FUEL_SIDE}


class NodeFacts(NamedTuple):
    """A gas node of a plant, by name."""

    name: str
    title: str
    volume: float
    """m3 at zero lift"""
    swept: float
    """m3 per m of lift"""
    pressure: float
    """Pa, at the start"""
    temperature: float
    """K, at the start"""
    signal: int
    """its pressure's; the next is the temperature"""


def nodes_of(plant: Any) -> list[NodeFacts]:
    """The gas nodes of a `build.Plant`, those that supply the others first."""
    record = plant.record[0]
    nodes, place = record["nodes"], node_slots(int(record["supply"]["kind"]))
    found = []
    for row in (*GAS_NODES[:2:-1], *GAS_NODES[:3]):
        if row.name in place:
            volume, swept, p, T = (float(nodes[name][place[row.name]]) for name in ("volume", "swept", "pressure", "temperature"))
            found.append(NodeFacts(row.name, row.title, volume, swept, p, T, row.pressure))
    return found


class GasTables(NamedTuple):
    """Tables of a case that restrictions of gas flows are taken from."""

    solenoid: Solenoid
    tube: Tube
    spring_side: SpringSide
    seals: Seals
    quick: QuickExhaust | None
    supply: Supply
    wet: bool
    """whether there are propellants: a dry case has no combustion gas to leak"""


def restriction_of(orifice: float | None, cd: float | None, component: Component | None) -> Restriction:
    """(Cd A m2, b, m) of an orifice or a component; nothing given: a blocked path."""
    if component is not None:
        return area_of_conductance(component.conductance), component.critical_ratio, component.subsonic_index
    if orifice is None:
        return BLOCKED
    return leak(pi / 4.0 * orifice**2, cd if cd is not None else 1.0)


def leak(area: float, cd: float) -> Restriction:
    """(Cd A m2, b, m) of a leak of this area, m2."""
    return cd * area, ORIFICE_LAW, 0.5


def as_component(restriction: Restriction) -> tuple[float, float]:
    """(C, b) of a restriction, an orifice counted with the critical ratio of air."""
    area, b, _ = restriction
    return conductance_of_area(area), ORIFICE_CRITICAL_RATIO if b < 0.0 else b


def tube_restrictions(tube: Tube) -> tuple[Restriction, Restriction]:
    """Restriction from valve to lift chamber and back: the tube, in series with the port where there is one."""
    c, b = tube.conductance, tube.critical_ratio
    if c is None or b is None:
        c, b = tube_component(tube.bore, tube.length)
    if tube.port_orifice is None and tube.port_component is None:
        alone = (area_of_conductance(c), b, 0.5)
        return alone, alone
    port_c, port_b = as_component(restriction_of(tube.port_orifice, tube.port_discharge_coefficient, tube.port_component))
    inward = series_component(c, b, port_c, port_b)
    outward = series_component(port_c, port_b, c, b)
    return (area_of_conductance(inward[0]), inward[1], 0.5), (area_of_conductance(outward[0]), outward[1], 0.5)


def quick_restriction(quick: QuickExhaust | None) -> Restriction:
    """The quick exhaust's own vent."""
    if quick is None:
        return BLOCKED
    return restriction_of(quick.vent_orifice, quick.vent_discharge_coefficient, quick.vent_component)


class GasFlow(NamedTuple):
    """One flow of actuation gas, positive from source to sink."""

    name: str
    source: str
    """a name of `slots`; a flow that joins what a plant does not have is not there"""
    sink: str
    opening: int
    """what opens it: one of the openings of `params`"""
    restriction: Callable[[GasTables], Any]
    """its `Restriction`, or two: from source to sink, and back; of no area: it is not there"""
    keys: str
    """of the case, that say how wide it is"""
    signal: int
    trace: str
    """flows of one trace are added up in it"""
    meter: int = 0
    """balance that integrates it, 0: none"""
    blocked: int = BY_NONE
    """which liquid in the lift chamber blocks it"""


GAS_FLOWS = (
    GasFlow(
        "fill", "inlet", "tube", BY_FILL,
        lambda c: restriction_of(c.solenoid.fill_orifice, c.solenoid.fill_discharge_coefficient, c.solenoid.fill_component),
        "solenoid.fill_*", S_FILL, "fill_flow", B_FILL,
    ),
    GasFlow(
        "exhaust", "tube", "ambient", BY_EXHAUST,
        lambda c: restriction_of(
            c.solenoid.exhaust_orifice, c.solenoid.exhaust_discharge_coefficient, c.solenoid.exhaust_component
        ),
        "solenoid.exhaust_*", S_EXHAUST, "exhaust_flow", blocked=BY_PASSING,
    ),
    GasFlow(
        "port", "tube", "lift", BY_SHUTTLE_HOME, lambda c: tube_restrictions(c.tube),
        "tube.*", S_PORT, "port_flow", blocked=BY_LEAVING,
    ),
    GasFlow(
        "piston leak", "lift", "spring", ALWAYS,
        lambda c: leak(c.seals.piston_leak_area, c.seals.piston_leak_discharge_coefficient),
        "seals.piston_leak_*", S_PISTON_LEAK, "piston_leak_flow", blocked=BY_TOP,
    ),
    GasFlow(
        "outside leak", "lift", "ambient", ALWAYS,
        lambda c: leak(c.seals.outside_leak_area, c.seals.outside_leak_discharge_coefficient),
        "seals.outside_leak_*", S_OUTSIDE_LEAK, "outside_leak_flow", blocked=BY_TOP,
    ),
    GasFlow(
        "vent", "spring", "ambient", ALWAYS,
        lambda c: restriction_of(
            c.spring_side.vent_orifice, c.spring_side.vent_discharge_coefficient, c.spring_side.vent_component
        ),
        "spring_side.vent_*", S_VENT, "vent_flow",
    ),
    GasFlow(
        "regulator", "bottle", "plenum", BY_REGULATOR,
        lambda c: restriction_of(c.supply.regulator_orifice, c.supply.regulator_discharge_coefficient, None),
        "supply.regulator_*", S_REGULATOR, "regulator_flow",
    ),
    GasFlow(
        "quick exhaust", "lift", "ambient", BY_QUICK, lambda c: quick_restriction(c.quick),
        "quick_exhaust.*", S_QUICK, "exhaust_flow", blocked=BY_LEAVING,
    ),
    GasFlow(
        "rod leak", "fuel side", "lift", ALWAYS,
        lambda c: BLOCKED if c.wet else leak(c.seals.rod_leak_area, c.seals.rod_leak_discharge_coefficient),
        "seals.rod_leak_*", S_ROD_LEAK, "rod_leak_flow",
    ),
    GasFlow(
        "post leak", "chamber", "spring", BY_POST,
        lambda c: leak(c.seals.post_leak_area, c.seals.post_leak_discharge_coefficient) if c.wet else BLOCKED,
        "seals.post_leak_*", S_POST_LEAK, "post_leak_flow",
    ),
)  # fmt: skip
N_FLOW = len(GAS_FLOWS)


class FlowNumbers(NamedTuple):
    """A flow as `params.FLOW` has it; of both ways out and back."""

    source: int
    sink: int
    opening: int
    signal: int
    meter: int
    blocked: int
    area: tuple[float, float]
    b: tuple[float, float]
    m: tuple[float, float]
    free: float = 1.0


def flow_numbers(tables: GasTables, kind: int) -> list[FlowNumbers]:
    """The flows that a plant has, in their order."""
    place = slots(kind)
    found = []
    for row in GAS_FLOWS:
        if row.source not in place or row.sink not in place:
            continue
        ways = row.restriction(tables)
        out, back = ways if isinstance(ways[0], tuple) else (ways, ways)
        if max(out[0], back[0]) > 0.0:
            area, b, m = ((out[i], back[i]) for i in range(3))
            source, sink = place[row.source], place[row.sink]
            found.append(FlowNumbers(source, sink, row.opening, row.signal, row.meter, row.blocked, area, b, m))
    return found
