"""Gas in the manifolds of a plant: what of a case becomes `params.MANIFOLD_GAS`."""

from math import inf, pi
from typing import Any

from sleevelift.case.purge_gases import gas_state
from sleevelift.case.schema_chamber import ChamberPurge
from sleevelift.case.schema_liquid import Propellant, Purge, Seat, Slots
from sleevelift.case.schema_machine import Sleeve
from sleevelift.case.schema_run import Ambient
from sleevelift.physics.manifold_gas import WIDTH, gap_numbers
from sleevelift.physics.restriction import choked_flux
from sleevelift.plant.layout import MANIFOLD_GAS as STATES
from sleevelift.plant.liquid_sections import running_clearance
from sleevelift.plant.params import MANIFOLD_GAS
from sleevelift.plant.sections import Curves, in_order
from sleevelift.plant.state import OXIDIZER


def has_gas(feed: Propellant | None) -> bool:
    """Whether gas may stand in a manifold: a purge, or none but gas at the start."""
    return feed is not None and feed.valve is not None and (feed.purge is not None or feed.valve.start_gas is not None)


def purge_area(purge: Purge | ChamberPurge) -> float:
    """Effective area of a purge's orifice, m2."""
    if purge.effective_area is not None:
        return purge.effective_area
    assert purge.orifice is not None, "the reader asks for one of the two"
    return purge.discharge_coefficient * pi / 4.0 * purge.orifice**2


def windows_of(purge: Purge | None) -> list[float]:
    """Flat pairs (on, off; inf: never) of a purge, s."""
    if purge is None:
        return []
    return [v for on in purge.on for v in (on, min((t for t in purge.off if t > on), default=inf))]


def gas_in_manifold(feed: Propellant, ambient: Ambient) -> tuple[str, float]:
    """(name, constant temperature K) of the gas in a manifold."""
    assert feed.valve is not None, "gas in a manifold is behind a run valve"
    if feed.purge is not None:
        return feed.purge.gas, feed.purge.gas_temperature
    assert feed.valve.start_gas is not None, "a purge or a start gas"
    return feed.valve.start_gas, feed.valve.start_gas_temperature or ambient.temperature


def clearance_of(
    side: int, sleeve: Sleeve, slots: Slots | None, seat: Seat | None, viscosity: float, rt: float
) -> tuple[float, float, float]:
    """(gap, slip, mouth) of a side's clearance for gas: beside the slots, or in the seat's way behind a spigot."""
    if side == OXIDIZER:
        assert slots is not None, "a case with propellants has slots"
        clearance = running_clearance(slots, sleeve)
        mouth = slots.clearance_discharge_coefficient * pi * sleeve.post_diameter * max(clearance, 0.0)
        return (*gap_numbers(sleeve.post_diameter, clearance, slots.eccentricity, viscosity, rt), mouth)
    assert seat is not None, "a case with propellants has a seat"
    if seat.table is not None or not seat.spigot_length > 0.0 or seat.spigot_clearance is None:
        return 0.0, 0.0, 0.0
    return (*gap_numbers(sleeve.seat_diameter, seat.spigot_clearance, 0.0, viscosity, rt), 0.0)


def fill_manifold_gases(
    record: Any, curves: Curves, place: dict[str, int], ambient: Ambient, sleeve: Sleeve, slots: Slots | None, seat: Seat | None,
    *feeds: Propellant | None,
) -> None:  # fmt: skip
    """Gas of each manifold, and how many have any."""
    record["gas_manifolds"] = 0
    for side, feed in enumerate(feeds):
        if feed is None or not has_gas(feed):
            continue
        assert feed.valve is not None
        name, temperature = gas_in_manifold(feed, ambient)
        at_rest = gas_state(name, ambient.pressure, temperature)
        rt = at_rest.gas_constant * temperature
        gap, slip, mouth = clearance_of(side, sleeve, slots, seat, at_rest.viscosity, rt)
        purge = feed.purge
        ahead, ahead_p = at_rest, ambient.pressure
        if purge is not None:
            ahead, ahead_p = gas_state(purge.gas, purge.pressure, purge.temperature), purge.pressure
        flux, r_star = choked_flux(ahead_p, ahead.density, ahead.exponent)
        locked = max(feed.valve.manifold_pressure, feed.vapour_pressure)
        values = dict.fromkeys(MANIFOLD_GAS.names or (), 0.0) | {
            "present": 1,
            "place": place[STATES[side]],
            "windows": curves.add(windows_of(purge), 2),
            "rt": rt,
            "exponent": at_rest.exponent,
            "enthalpy": at_rest.exponent / (at_rest.exponent - 1.0) * rt,
            "width": WIDTH * feed.manifold_volume,
            "start": locked * feed.manifold_volume / rt if feed.valve.start_gas is not None else 0.0,
            "area": 0.0 if purge is None else purge_area(purge),
            "supply": ahead_p,
            "density": ahead.density,
            "supply_exponent": ahead.exponent,
            "flux": flux,
            "r_star": r_star,
            "gap": gap,
            "slip": slip,
            "mouth": mouth,
        }
        record["gases"][side] = in_order(values, MANIFOLD_GAS)
        record["gas_manifolds"] += 1
