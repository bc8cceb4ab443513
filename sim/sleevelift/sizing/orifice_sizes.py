"""Orifices one can buy or drill, and what a valve's Kv, Cv, C or b says about its flow of gas.

    conductances >= 0; flow from side 1 (upstream) to side 2;  w = C p_1 rho_0 sqrt(T_0/T_1) when choked (ISO 6358-1)

Assumptions: C is that of air at the reference of ISO 8778 (100 kPa, 293.15 K, 1.185 kg/m3); Kv is m3/h of water at 1
bar, Cv US gallons per minute at 1 psi. Validity: turbulent flow. Sources: ISO 235 / DIN 338, ASME B94.11M, ISO
6358-1, IEC 60534-2-1 beside each function.
"""

import math

from sleevelift.constants import AIR_GAS_CONSTANT, ANR_DENSITY, ANR_TEMPERATURE
from sleevelift.drills import LETTER_DRILLS_INCH, NUMBER_DRILLS_INCH
from sleevelift.units import INCH

CV_PER_KV = math.sqrt(0.45359237 * 9.80665 / 0.0254**2 / 1e5) / (3.785411784e-3 * 60.0)
"""-. Cv of a valve of Kv 1: sqrt(psi/bar)/(US gallon per minute in m3/h) = 1.1561. Exact units."""

KV_AREA = 1.0 / (3600.0 * math.sqrt(2.0) * math.sqrt(1e5 / 1000.0))
"""m2 per m3/h. Cd A of Kv 1: Kv m3/h of water (1000 kg/m3) at 1 bar = Cd A sqrt(2 dp/rho), 19.64 mm2. Closed form."""

KV_FLOW = KV_AREA * math.sqrt(2.0)
"""m2 per m3/h. The same as w = KV_FLOW Kv sqrt(rho dp); IEC 60534-2-1's constant N6 = 31.6 in m3/h, bar, kg/m3."""

CHOKED_EXPANSION_FACTOR = 2.0 / 3.0
"""-. Y at choking. IEC 60534-2-1."""

GLOBE_VALVE_XT = 0.72
"""-. Pressure-drop ratio factor x_T of a small globe-pattern valve, flow to open. IEC 60534-2-1 table of typical
values."""

DRILLED_METRIC_STEPS_MM = ((0.20, 1.00, (0.0, 0.02, 0.05, 0.08)), (1.00, 3.00, (0.0, 0.05)), (3.00, 14.00, (0.0,)))
"""(from, below, additions to each tenth) in mm: x.x0, x.x2, x.x5, x.x8 below 1 mm, steps of 0.05 to 3 mm, of 0.1 to
14 mm.
ISO 235 / DIN 338 jobber series (its sizes below 3 mm thinned to the usual ones), from memory."""

LARGEST_FRACTION = 32
"""Sixty-fourths of an inch: fractional drills go from 1/64 in to 1/2 in here. ASME B94.11M."""

STANDARDS = ("metric", "number", "letter", "fractional")
"""The drill series `drill_sizes` knows."""
INCH_STANDARDS = STANDARDS[1:]
"""Those of an inch shop."""


def _metric_drills() -> list[tuple[str, float]]:
    sizes = []
    for start, end, additions in DRILLED_METRIC_STEPS_MM:
        for tenth in range(round(start * 10), round(end * 10)):
            sizes += [tenth / 10.0 + addition for addition in additions]
    sizes.append(DRILLED_METRIC_STEPS_MM[-1][1])
    return [(f"{size:.2f} mm", round(size, 2) * 1e-3) for size in sizes]


def _inch_drills(standard: str) -> list[tuple[str, float]]:
    if standard == "number":
        return [(f"#{place}", size * INCH) for place, size in enumerate(NUMBER_DRILLS_INCH, start=1)]
    if standard == "letter":
        return [(chr(ord("A") + place), size * INCH) for place, size in enumerate(LETTER_DRILLS_INCH)]
    names = []
    for numerator in range(1, LARGEST_FRACTION + 1):
        divisor = math.gcd(numerator, 64)
        names.append((f"{numerator // divisor}/{64 // divisor} in", numerator / 64.0 * INCH))
    return names


def drill_sizes(low: float, high: float, standards: tuple[str, ...] = STANDARDS) -> list[tuple[str, float]]:
    """(name, diameter in m) of standard drills from `low` to `high` (m), ends included, in order of diameter.

    `standards`: which series: "metric" (ISO 235 / DIN 338), "number", "letter", "fractional" (ASME B94.11M). An unknown
    series is a ValueError; an empty range gives an empty list.

    >>> [name for name, _ in drill_sizes(1.0e-3, 1.1e-3)]
    ['1.00 mm', '#60', '#59', '1.05 mm', '#58', '#57', '1.10 mm']
    """
    unknown = [standard for standard in standards if standard not in STANDARDS]
    if unknown:
        raise ValueError(f"unknown drill series {', '.join(unknown)}: known are {', '.join(STANDARDS)}")
    slack = 1e-9  # m: a limit written in decimal must not lose a size to rounding
    drills = [drill for standard in standards for drill in (_metric_drills() if standard == "metric" else _inch_drills(standard))]
    return sorted((drill for drill in drills if low - slack <= drill[1] <= high + slack), key=lambda drill: drill[1])


def drill_label(name: str, diameter: float) -> str:
    """What a drill is called where its size must be read at once: numbers and letters with their inches.

    >>> drill_label("#46", 0.081 * INCH), drill_label("1.00 mm", 1e-3)
    ('#46 (0.081 in)', '1.00 mm')
    """
    return name if name[0].isdigit() else f"{name} ({round(diameter / INCH, 4):g} in)"


def kv_of_cv(cv: float) -> float:
    """Kv (m3/h/bar^0.5) of a Cv (US gal/min/psi^0.5): 0.86498 Cv."""
    return cv / CV_PER_KV


def kv_to_component(kv: float, xt: float = GLOBE_VALVE_XT) -> tuple[float, float, float]:
    """(C in m3/(s Pa), b, m) of a valve for gas, from its Kv (m3/h/bar^0.5) and pressure-drop ratio factor x_T (-).

    Choked, IEC 60534-2-1 gives w = (Kv/36000) (2/3) sqrt(x_T p_1 rho_1) for air (F_gamma = 1), which sets C. It
    chokes at a pressure drop x_T p_1, so b = 1 - x_T. Below, with z = x/x_T, its flow is 1.5 (1 - z/3) sqrt(z) of
    the choked one and ISO 6358's ellipse (m = 0.5) sqrt(2 - z) sqrt(z): equal at z = 1, the ellipse 5.7 % lower as z
    -> 0, whatever x_T. Kept at m = 0.5: the data of Kv and x_T are no better. Without x_T in a datasheet 0.72 is
    taken (globe pattern, flow to open).

    >>> [round(value, 3) for value in (lambda c, b, m: (c * 1e8, b, m))(*kv_to_component(1.0))]
    [4.571, 0.28, 0.5]
    """
    choked = KV_FLOW * kv * CHOKED_EXPANSION_FACTOR * math.sqrt(xt)  # m2: w/sqrt(p_1 rho_1)
    conductance = choked / (ANR_DENSITY * math.sqrt(AIR_GAS_CONSTANT * ANR_TEMPERATURE))
    return conductance, 1.0 - xt, 0.5
