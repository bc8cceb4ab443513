"""Purge of the combustion chamber, as `sections` makes it."""

from typing import Any

from sleevelift.case.gases import plain_name
from sleevelift.case.schema_chamber import Chamber, ChamberPurge
from sleevelift.case.schema_liquid import Propellant
from sleevelift.physics.purge import enthalpy_from_zero
from sleevelift.physics.solenoid import edges_in_order
from sleevelift.plant.manifold_gas_sections import has_gas, purge_area
from sleevelift.plant.params import PURGE
from sleevelift.plant.reservoir_state import rest_state
from sleevelift.plant.sections import Curves, in_order

LOW = 1.0
"""Pa. As good as no pressure: a gas is perfect there."""
NO_PURGE = (0.0,) * 8


def purge_switches(purge: ChamberPurge | None) -> list[float]:
    """Instants at which a purge is switched, s, on first; repeated commands left out."""
    return [] if purge is None else [t for t, _ in edges_in_order(purge.on, purge.off)]


def flows_in(chamber: Chamber | None, *feeds: Propellant | None) -> bool:
    """Whether gas that does not burn may flow into a chamber: from its purge, or through the injectors of manifolds with gas."""
    return chamber is not None and (chamber.purge is not None or any(has_gas(feed) for feed in feeds))


def fill_inflow(record: Any, curves: Curves, chamber: Chamber | None, *feeds: Propellant | None) -> None:
    """Gas that flows into the chamber and does not burn: its purge, what it carries away of the unburned pool."""
    purge = None if chamber is None else chamber.purge
    record["inflow"]["present"] = int(flows_in(chamber, *feeds))
    record["inflow"]["swept_share"] = 0.0 if chamber is None else chamber.swept_share
    if purge is None:
        record["purge"] = (*NO_PURGE, (0, 0))
        return
    gas = plain_name(purge.gas), "real", 0.0, 0.0
    rho, n, h, flux, r_star = rest_state(purge.pressure, purge.temperature, gas)
    thin, gamma, h_low, _, _ = rest_state(LOW, purge.temperature, gas)
    rt = LOW / thin
    values = {
        "area": purge_area(purge),
        "pressure": purge.pressure,
        "density": rho,
        "exponent": n,
        "flux": flux,
        "r_star": r_star,
        "enthalpy": enthalpy_from_zero(gamma, rt, h, h_low),
        "rt": rt,
        "switched": curves.add(purge_switches(purge), 1),
    }
    record["purge"] = in_order(values, PURGE)
