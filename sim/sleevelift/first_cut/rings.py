"""Rings of the three seals: nearest standard size per diameter, groove by its table, friction by the handbook's charts.

A seal that is cold (below COLD) is no elastomer: spring-energised, with its friction as a guess and a wide range.
Sources: `sizing/seal_gland.py` (ISO 3601-1, SAE AS568, handbook charts, partly from memory).
"""

from typing import NamedTuple

from sleevelift.sizing.seal_gland import AS568_INCH, INCH, MAXIMUM_STRETCH, Ring, standard_groove, standard_ring

COLD = 220.0
"""K. Below it nitrile and fluorocarbon rubber are glass (some -50 degC): common knowledge, no source."""
CORD_FOR = ((30e-3, 1.78e-3, 0), (55e-3, 2.62e-3, 1), (float("inf"), 3.53e-3, 2))
"""(up to this diameter m, cord m, hundreds of the dash number): common practice, no source."""
LOOSE = 0.02
"""-. A ring may be this much larger than what carries it: common practice, no source."""
SMALLEST_RING = 5e-3
"""m. Rubbing diameter below which a ring of the smallest usual cord (1.78 mm) is crushed rather than squeezed."""
HARDNESS = 70
"""Shore A."""
COLD_FACTOR = "{ value = 1.0, low = 0.5, high = 1.5 }"
"""Range of a cold seal's friction: a guess."""
CHART_FACTOR = "{ value = 0.6, low = 0.3, high = 1.0 }"
"""Range of an elastomer's friction: the charts, 2.3 times above a measured ring at no pressure (`seal_gland`), are its top."""
LARGEST_IN_TABLE = 152e-3
"""m. Inside diameters of the table end here."""


class Seal(NamedTuple):
    """One seal for the case."""

    text: str
    """TOML"""
    comment: str
    cold: bool


def nearest_ring(diameter: float, hundreds: int, cord: float, in_piston: bool) -> tuple[int, Ring]:
    """(dash number, ring) of the series whose inside diameter is nearest below its groove's floor or the rod (m).

    A ring in a piston is stretched over the groove's floor, diameter less twice the groove's depth; one in a bore sits on the rod.
    """
    floor = diameter - 2.0 * standard_groove(cord)[0] if in_piston else diameter
    dashes = [dash for dash in AS568_INCH if dash // 100 == hundreds]
    below = [dash for dash in dashes if AS568_INCH[dash] * INCH <= floor * (1.0 + LOOSE)] or [
        min(dashes, key=AS568_INCH.__getitem__)
    ]
    best = max(below, key=AS568_INCH.__getitem__)
    return best, standard_ring(best)


def seal(name: str, diameter: float, temperature: float) -> Seal:
    """The seal `post`, `rod` or `piston` rubbing at `diameter` (m), next to a liquid at `temperature` (K)."""
    _, cord, hundreds = next(row for row in CORD_FOR if diameter <= row[0])
    if temperature < COLD or diameter < SMALLEST_RING:
        cord = min(cord, round(0.3 * diameter, 5))
        text = (
            f'{{ squeeze_friction = "70 N/m", pressure_coefficient = 0.03, cord = "{cord * 1e3:.2f} mm", '
            f"friction_factor = {COLD_FACTOR} }}"
        )
        why = "cold: no elastomer" if temperature < COLD else "smaller than the usual rings"
        return Seal(text, f"{why}; spring-energised, friction a guess, its range a guess: measure it", temperature < COLD)
    depth, width = standard_groove(cord)
    text = (
        f'{{ cord = "{cord * 1e3:.2f} mm", groove_depth = "{depth * 1e3:.2f} mm", groove_width = "{width * 1e3:.2f} mm", '
        f"hardness = {HARDNESS}, friction_factor = {CHART_FACTOR} }}"
    )
    if diameter > LARGEST_IN_TABLE:
        why = "larger than the rings whose sizes have a source here (152 mm): look it up in ISO 3601-1 or ask the ring's maker"
        return Seal(text, why, False)
    dash, ring = nearest_ring(diameter, hundreds, cord, name == "piston")
    floor = diameter - 2.0 * depth if name == "piston" else diameter
    stretch = floor / ring.inside_diameter - 1.0
    size = f"{ring.inside_diameter * 1e3:.2f} x {cord * 1e3:.2f} mm (AS568-{dash:03d}), stretched {stretch:.1%}"
    if stretch > MAXIMUM_STRETCH:
        size += f", more than {MAXIMUM_STRETCH:.0%}: shift the diameter towards a ring"
    return Seal(text, f"nearest ISO 3601-1 ring {size}; groove by handbook table", False)
