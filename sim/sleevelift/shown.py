"""How a number is shown, the same on screen, on the page, in pictures and in studies: its unit and its digits.

    practical("opening_time", 0.0629871, "s") -> 62.987 ms        the unit fits the size
    screen_unit, on_screen, in_column                             one unit per measure: columns and axes
    origin_of, counted                                            instants count from the first on command

Times have three decimals of a millisecond, pressures two of a bar with their zero (bara, barg), margins one of a per cent
with their sign.
"""

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from sleevelift.measures import ABOVE_AMBIENT
from sleevelift.plant.names import MEASURES, UNITS

DIFFERENCES = ("spring_stress", "spring_stress_solid", "seat_land_stress", "seat_contact_stress")
"""Quantities in Pa that are stresses."""
CHECK_UNITS = {
    "running_clearance": "m",
    "spring_travel_to_solid": "m",
    "spring_stress": "Pa",
    "bottle_pressure": "Pa",
    "seat_land_stress": "Pa",
    "seat_contact_stress": "Pa",
    "sealing_preload": "N",
    "seat_impact_energy": "J",
}
"""Units of checks that are no measures."""


class Shown(NamedTuple):
    """A number as a person reads it."""

    number: str
    unit: str


def _choose(size: float, steps: Sequence[tuple[float, float, str]]) -> tuple[float, str]:
    """(factor, unit) of the first step whose least size is reached, else the last."""
    for least, factor, unit in steps:
        if size >= least:
            return factor, unit
    return steps[-1][1], steps[-1][2]


SCALES: dict[str, tuple[tuple[float, float, str], ...]] = {
    "m": ((0.5, 1.0, "m"), (1e-4, 1e3, "mm"), (0.0, 1e6, "um")),
    "m2": ((0.0, 1e6, "mm2"),),
    "m3": ((1e-3, 1e3, "litre"), (0.0, 1e6, "cm3")),
    "kg": ((1.0, 1.0, "kg"), (1e-4, 1e3, "g"), (0.0, 1e6, "mg")),
    "kg/s": ((0.1, 1.0, "kg/s"), (1e-4, 1e3, "g/s"), (0.0, 1e6, "mg/s")),
    "N/m": ((0.0, 1e-3, "N/mm"),),
    "J": ((1e4, 1e-3, "kJ"), (1.0, 1.0, "J"), (0.0, 1e3, "mJ")),
}
"""SI unit -> (least size in SI, factor, practical unit); the first that fits is taken."""
DIGITS = {"N": ".1f", "K": ".1f", "m/s": ".3f", "Hz": ".0f"}


def practical(name: str, value: float, unit: str, like: float | None = None) -> Shown:
    """A value in SI as it is read on the bench: ms, bar with its zero, mm, kg/s, per cent for margins.

    like: choose the unit that this value would get, so that a limit stands in the unit of what it limits.
    """
    if isinstance(value, int):
        return Shown(str(value), unit)
    if unit == "s":
        return Shown(f"{1e3 * value:.3f}", "ms") if abs(value) < 10.0 else Shown(f"{value:.4f}", "s")
    if unit == "Pa":
        if name in DIFFERENCES:
            return Shown(f"{1e-6 * value:.1f}", "MPa")
        return Shown(f"{1e-5 * value:.2f}", "barg" if name in ABOVE_AMBIENT else "bara")
    if unit in SCALES:
        factor, shown_unit = _choose(abs(value if like is None else like), SCALES[unit])
        return Shown(digits(factor * value), shown_unit)
    if unit in DIGITS:
        return Shown(f"{value:{DIGITS[unit]}}", unit)
    if "margin" in name:
        return Shown(f"{100.0 * value:+.1f}", "%")
    if name.endswith("_error"):
        return Shown(f"{value:.1e}", "")
    return Shown(digits(value), unit)


def digits(value: float) -> str:
    """Four digits, without an exponent where that reads."""
    if value == 0.0:
        return "0"
    if not 1e-3 <= abs(value) < 1e6:
        return f"{value:.3e}"
    return f"{value:.{max(0, 3 - math.floor(math.log10(abs(value))))}f}"


def together(shown: Shown) -> str:
    """Number and unit as one text."""
    return f"{shown.number} {shown.unit}".strip()


def milliseconds(seconds: float | None) -> str:
    """A time or instant with its unit; a dash where there is none."""
    return "-" if seconds is None or not math.isfinite(seconds) else f"{1e3 * seconds:.3f} ms"


# --------------------------------------------------------------------------------- instants

INSTANTS = frozenset(m.name for m in MEASURES if m.unit == "s" and m.meaning.startswith("instant"))
"""Measures that are instants of the run."""


class Origin(NamedTuple):
    """What instants count from wherever a person reads them; numbers in JSON and CSV count from the start of the run."""

    instant: float
    """s of the run"""
    words: str


def origin_of(commands: Sequence[float]) -> Origin:
    """The first on command; without one the start of the run. commands: instants of on commands, s of the run."""
    return Origin(min(commands), "the first on command") if commands else Origin(0.0, "the start of the run")


def counted(name: str, value: float, origin: Origin) -> float:
    """A measure as it is shown: instants from the origin, all else as it is."""
    return value - origin.instant if name in INSTANTS else value


# ------------------------------------------------------------------------- columns and axes

AXIS_UNITS = {"s": ("ms", 1e3), "Pa": ("bara", 1e-5), "kg": ("g", 1e3), "m2": ("mm2", 1e6), "m": ("mm", 1e3), "N/m": ("N/mm", 1e-3)}
"""SI unit -> (unit of a whole column or axis, factor)."""
DECIMALS = {"ms": ".3f", "bara": ".2f", "barg": ".2f", "%": "+.1f"}
"""Unit -> format of a number in it; others have four digits."""


def _axis(name: str) -> tuple[str, float]:
    """(unit, factor) of a measure in a column or on an axis."""
    unit = UNITS[name]
    if name in ABOVE_AMBIENT:
        return "barg", 1e-5
    if "margin" in name and not unit:
        return "%", 100.0
    return AXIS_UNITS.get(unit, (unit, 1.0))


def screen_unit(name: str) -> str:
    """Unit of a measure in a column or on an axis; empty for a ratio."""
    return _axis(name)[0]


def on_screen(name: str, si: Any) -> Any:
    """SI values of a measure in that unit."""
    return np.asarray(si, dtype=float) * _axis(name)[1]


def in_column(name: str, si: float | None) -> str:
    """A measure in that unit as text; a dash where it did not happen."""
    if si is None or not math.isfinite(si):
        return "-"
    unit, factor = _axis(name)
    value = float(si) * factor
    return f"{value:{DECIMALS[unit]}}" if unit in DECIMALS else digits(value)


def with_unit(name: str, si: float | None) -> str:
    """A measure with its unit, as a person reads it."""
    if si is None or not math.isfinite(si):
        return "did not happen"
    return together(practical(name, float(si), UNITS[name]))
