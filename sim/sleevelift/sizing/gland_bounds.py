"""A gland held against its bounds: squeeze, stretch and fill over tolerances and at temperature, and the extrusion gap.

    ring (size code) + groove + material + temperature + pressure  ->  what is outside its bounds, one sentence each

Assumptions: ring and metal evenly at the temperature, linear expansion, swelling left out (room for it is in the fill's bound).
Validity: elastomer O-rings; a spring-energised or plastic seal is none of these and is held to its temperature only. Sources:
ISO 3601-1 (sizes, tolerances), ISO 3601-2 (housings); bounds as named below.
"""

import math
from typing import NamedTuple

from sleevelift.sizing.seal_gland import (
    AS568_INCH,
    INCH,
    MAXIMUM_FILL,
    MAXIMUM_STRETCH,
    MINIMUM_STRETCH,
    POUND_PER_SQUARE_INCH,
    Gland,
    GlandState,
    Ring,
    gland_state,
    standard_ring,
)
from sleevelift.sizing.seal_materials import MATERIALS, fluid_warning, temperature_fault

SQUEEZE_BOUNDS = {"dynamic": (0.08, 0.20), "static": (0.12, 0.30), "face": (0.15, 0.35)}
"""-. Duty -> least and most. Dynamic at most 16 % (25 % for small cords) and static at most 30 %: Mechanical Engineers' Handbook,
vol. 3, seal technology, read; the lower ends and the face seal's: common practice, no source."""

SMALL_CORD, SMALL_CORD_MORE = 2.0e-3, 0.05
"""m and -. A cord thinner than this may be squeezed by so much more: its tolerance is a larger share of it (25 % sliding by the
same handbook; 35 % static: common practice, no source)."""

ROOM_TEMPERATURE = 293.15
"""K. At which rings and grooves are measured."""

METAL_EXPANSION = 1.6e-5
"""1/K, linear: austenitic steel near room temperature (EN 10088-1, from memory); where the housing's metal is not known."""

EXTRUSION_PRESSURES = (500.0, 1000.0, 1500.0, 2000.0, 3000.0)
"""psi. Upper ends of the columns of the chart below."""

EXTRUSION_GAPS = {70.0: (0.016, 0.010, 0.006, 0.004, 0.002), 90.0: (0.028, 0.024, 0.020, 0.016, 0.010)}
"""Shore A -> largest diametral clearance, inches, without backup ring, up to the pressures above: the extrusion-limit chart of seal
handbooks, read as a table on a public page (sealanddesign.com, Extrusion Limits of O-Rings & Clearance Gaps)."""


class GlandCase(NamedTuple):
    """One seal in its gland, as built."""

    ring: Ring
    gland: Gland
    duty: str
    """dynamic, static or face"""
    material: str | None = None
    """code, see `seal_materials`"""
    hardness: float | None = None
    """Shore A"""
    temperature: float = ROOM_TEMPERATURE
    """K, of ring and housing"""
    pressure: float = 0.0
    """Pa, across it, highest"""
    extrusion_gap: float | None = None
    """m, diametral, on the low-pressure side"""
    backup_ring: bool = False
    fluids: tuple[str, ...] = ()


def squeeze_bounds(duty: str, cord: float) -> tuple[float, float]:
    """Least and most squeeze (-) of a duty for a cord (m). KeyError for another duty than dynamic, static, face."""
    low, high = SQUEEZE_BOUNDS[duty]
    return low, high + (SMALL_CORD_MORE if cord < SMALL_CORD and duty != "face" else 0.0)


def ring_of_code(code: str) -> Ring:
    """The ring of a size code: ISO 3601-1 and AS568 share their numbers. ValueError for one that is not in the table.

    >>> round(ring_of_code("AS568-116").inside_diameter * 1e3, 2)
    18.72
    """
    digits = "".join(letter for letter in code.upper().replace("AS568", "").replace("ISO 3601", "") if letter.isdigit())
    if not digits or int(digits) not in AS568_INCH:
        raise ValueError(
            f"{code!r} is no size code of the table (ISO 3601-1, AS568): 004 to 036, 102 to 140, 201 to 258, 309 to 339"
        )
    return standard_ring(int(digits))



def at_temperature(case: GlandCase) -> GlandState:
    """Squeeze, stretch and fill over the tolerances with ring and metal at the case's temperature.

    The cord grows by its material's expansion, the groove by the metal's. Without a material: at room temperature.
    """
    if case.material is None:
        return gland_state(case.ring, case.gland)
    change = case.temperature - ROOM_TEMPERATURE
    cord, metal = 1.0 + MATERIALS[case.material].expansion * change, 1.0 + METAL_EXPANSION * change
    ring = case.ring._replace(cord=case.ring.cord * cord, inside_diameter=case.ring.inside_diameter * cord)
    gland = case.gland._replace(
        groove_diameter=case.gland.groove_diameter * metal,
        facing_diameter=case.gland.facing_diameter * metal,
        width=case.gland.width * metal,
    )
    return gland_state(ring, gland)


def largest_extrusion_gap(hardness: float, pressure: float) -> float | None:
    """Largest diametral clearance (m) without backup ring at a hardness (Shore A) and pressure difference (Pa).

    The chart's steps over pressure, linear in hardness between 70 and 90 Shore A, the softer end below. None above its pressures:
    no clearance is allowed there without a backup ring.

    >>> round(largest_extrusion_gap(70.0, 30e5) / 25.4e-6)
    16
    """
    psi = max(pressure, 0.0) / POUND_PER_SQUARE_INCH
    column = next((i for i, most in enumerate(EXTRUSION_PRESSURES) if psi <= most), None)
    if column is None:
        return None
    soft, hard = EXTRUSION_GAPS[70.0][column], EXTRUSION_GAPS[90.0][column]
    share = min(max((hardness - 70.0) / 20.0, 0.0), 1.0)
    return (soft + share * (hard - soft)) * INCH


def _states(case: GlandCase) -> list[tuple[str, GlandState]]:
    """(where, state): at room temperature and at the case's."""
    found = [("", gland_state(case.ring, case.gland))]
    if case.material is not None and abs(case.temperature - ROOM_TEMPERATURE) > 1.0:
        found.append((f" at {case.temperature:.0f} K", at_temperature(case)))
    return found


def gland_faults(case: GlandCase) -> list[str]:
    """What is outside its bounds at the extremes of tolerance and temperature, one sentence each; empty: nothing."""
    low, high = squeeze_bounds(case.duty, case.ring.cord)
    faults = []
    for where, state in _states(case):
        if state.squeeze.least < low:
            faults.append(f"squeeze falls to {state.squeeze.least:.1%}{where}: at least {low:.0%} is wanted to seal ({case.duty})")
        if state.squeeze.greatest > high:
            faults.append(
                f"squeeze reaches {state.squeeze.greatest:.1%}{where}: at most {high:.0%}, friction and set grow ({case.duty})"
            )
        if state.fill.greatest > MAXIMUM_FILL:
            faults.append(
                f"the ring fills {state.fill.greatest:.1%} of its gland{where}: at most {MAXIMUM_FILL:.0%}, it must swell freely"
            )
        if state.stretch.greatest > MAXIMUM_STRETCH:
            faults.append(f"stretch reaches {state.stretch.greatest:.1%}{where}: at most {MAXIMUM_STRETCH:.0%} lasting")
        if state.stretch.least < MINIMUM_STRETCH:
            faults.append(
                f"the ring is up to {-state.stretch.least:.1%} too wide for its groove{where}: at most {-MINIMUM_STRETCH:.0%}"
            )
    return faults + _extrusion_faults(case) + _material_faults(case)


def _extrusion_faults(case: GlandCase) -> list[str]:
    """The clearance behind the ring against hardness and pressure."""
    if case.extrusion_gap is None or case.hardness is None or case.backup_ring:
        return []
    most = largest_extrusion_gap(case.hardness, case.pressure)
    bar, gap = case.pressure / 1e5, case.extrusion_gap * 1e3
    if most is None:
        return [f"{bar:.0f} bar across it without a backup ring: the chart of extrusion gaps ends at 207 bar"]
    if case.extrusion_gap > most * (1.0 + 1e-9):
        return [
            f"extrusion gap {gap:.3f} mm on the diameter: at most {most * 1e3:.3f} mm at {bar:.0f} bar, {case.hardness:g} Shore A"
        ]
    return []


def _material_faults(case: GlandCase) -> list[str]:
    """Service temperature; what stands beside an oxidizer is a warning, not a bound (`gland_warnings`)."""
    if case.material is None:
        return []
    fault = temperature_fault(case.material, case.temperature)
    return [fault] if fault else []


def gland_warnings(case: GlandCase) -> list[str]:
    """Plain warnings of the material beside each fluid it meets."""
    if case.material is None:
        return []
    found = [fluid_warning(case.material, fluid) for fluid in case.fluids]
    return [text for text in found if text]


def not_looked_at(case: GlandCase) -> list[str]:
    """What the answer does not know of this gland, in words."""
    out = []
    if case.material is None:
        out.append("material")
    if case.extrusion_gap is None or (case.hardness is None and not case.backup_ring):
        out.append("extrusion gap")
    if not math.isfinite(case.pressure) or case.pressure <= 0.0:
        out.append("pressure across it")
    return out
