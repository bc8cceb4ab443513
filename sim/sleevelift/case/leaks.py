"""Leaks of a case that are not given as an area: what a leak check showed, or a gap.

    LeakCheck (fall of a volume) or Gap (height, length)  ->  geometric area m2, with the seal's discharge coefficient taken out

A gap counts by what it passes of the actuation gas at its working pressure (rod seal: of the fuel at its highest); a check taken
as an orifice is its area as it stands.
"""

import math
from collections.abc import Callable

from sleevelift.case.gases import ADMITTED, plain_name
from sleevelift.case.liquids import LiquidError, liquid_state
from sleevelift.case.schema import Case
from sleevelift.case.schema_machine import LeakCheck
from sleevelift.sizing.leakage import (
    GAS_CONSTANT,
    Gap,
    Gas,
    Reading,
    choked_factor,
    gap_flow,
    gap_of_reading,
    liquid_area_of_gap,
    orifice_of_reading,
)

CONTACT = 1e-3
"""m. Length of a gap along a seal where the case gives none (guess)."""


def gas_of_check(name: str, temperature: float, pressure: float) -> Gas:
    """A gas with its viscosity and compressibility (CoolProp). KeyError for one that is none of `gases.ADMITTED`."""
    from CoolProp.CoolProp import PropsSI

    known = ADMITTED[name]
    viscosity = float(PropsSI("V", "T", temperature, "P", 101325.0, name))
    z = float(PropsSI("Z", "T", temperature, "P", pressure, name))
    return Gas(GAS_CONSTANT / known.gas_constant, known.gamma, viscosity, z)


def working_gas_pressure(case: Case) -> float:
    """Actuation gas pressure that the file states, Pa absolute."""
    supply = case.supply
    if supply.table is not None:
        return max(supply.table.pressure)
    return supply.pressure or supply.bottle_pressure or case.ambient.pressure


def warmest_vapour(case: Case) -> tuple[float, float]:
    """(warmer of the fuel's and the lift chamber's wall temperature, K; vapour pressure there, Pa; inf: above what is known)."""
    fuel = case.fuel
    assert fuel is not None, "asked of cases with propellants only"
    wall = case.lift_chamber.wall_temperature
    if wall <= fuel.temperature:
        return fuel.temperature, fuel.vapour_pressure
    if fuel.liquid is None:
        return wall, math.inf
    inlet = fuel.inlet_pressure if fuel.inlet_table is None else max(fuel.inlet_table.pressure)
    assert inlet is not None, "the reader asks for an inlet pressure or a table"
    try:
        return wall, liquid_state(fuel.liquid, wall, inlet).vapour_pressure
    except LiquidError:  # boils there, or above its critical point
        return wall, math.inf


def area_of_gap(case: Case, gap: Gap) -> float:
    """Effective area, m2, that passes as much actuation gas at its working pressure as a gap."""
    T, p = case.ambient.temperature, working_gas_pressure(case)
    name = plain_name(case.gas.name)
    if name not in ADMITTED or p <= case.ambient.pressure:
        return math.nan
    gas = gas_of_check(name, T, p)
    flow = gap_flow(gap, p, case.ambient.pressure, T, gas).flow
    return flow * math.sqrt(gas.specific_constant * T) / (choked_factor(gas.exponent) * p)


def area_of_liquid_gap(case: Case, gap: Gap) -> float:
    """Effective area, m2, that passes as much fuel from its highest pressure to ambient as a gap (both losses in series)."""
    fuel = case.fuel
    assert fuel is not None, "asked of cases with propellants only"
    highest = fuel.inlet_pressure if fuel.inlet_table is None else max(fuel.inlet_table.pressure)
    if highest is None or not highest > case.ambient.pressure:
        return math.nan
    if math.isnan(fuel.density) or math.isnan(fuel.viscosity):  # filled later, or refused with a sentence of their own
        return math.nan
    return liquid_area_of_gap(gap, highest - case.ambient.pressure, fuel.density, fuel.viscosity)


def area_of_check(case: Case, check: LeakCheck, form: Gap, of_gap: Callable[[Case, Gap], float]) -> float:
    """Effective area, m2, of what a leak check showed, taken as it says; form: the gap without its height."""
    T, amb = case.ambient.temperature, case.ambient.pressure
    reading = Reading(check.start, check.end, check.time, check.volume, T)
    gas = gas_of_check(plain_name(check.gas), T, check.start)
    if check.taken_as == "orifice":
        return orifice_of_reading(reading, amb, gas).value
    height = gap_of_reading(reading, amb, gas, form).value
    return of_gap(case, form._replace(height=height)) if height > 0.0 else 0.0


def leak_area(case: Case, seal: str) -> float:
    """Geometric area, m2, of the leak "rod", "piston", "post" or "outside" from its check or gap; 0 where the case gives neither.

    The rod seal's gap counts, where there is fuel, by what it passes of that at its highest pressure."""
    seals = case.seals
    check: LeakCheck | None = getattr(seals, f"{seal}_leak_check")
    entry = None if seal == "outside" else getattr(seals, seal)
    sleeve = case.sleeve
    diameter = {"post": sleeve.post_diameter, "rod": sleeve.rod_diameter}.get(seal, sleeve.piston_diameter)
    of_gap = area_of_liquid_gap if seal == "rod" and case.fuel is not None else area_of_gap
    length = CONTACT if entry is None or entry.leak_length is None else entry.leak_length
    cd = float(getattr(seals, f"{seal}_leak_discharge_coefficient"))
    form = Gap(diameter, 1e-6, length)
    if check is not None:
        return area_of_check(case, check, form, of_gap) / cd
    if entry is None or entry.leak_clearance is None:
        return 0.0
    return of_gap(case, form._replace(height=entry.leak_clearance)) / cd
