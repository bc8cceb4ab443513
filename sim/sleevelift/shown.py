"""How a number is shown, the same on screen, on the page, in pictures and in studies: its digits, in the unit of `reader`.

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
from sleevelift.reader import METRIC, Reader, in_unit

DIFFERENCES = ("spring_stress", "spring_stress_solid", "seat_land_stress", "seat_contact_stress")
"""Quantities in Pa that are stresses."""
GROUP_TITLES = {
    "opening": "Opening",
    "closing": "Closing",
    "flow": "Flow",
    "ignition": "Ignition",
    "forces": "Forces and margins",
    "gas": "Actuation gas",
    "quality": "Quality of the computation",
}
"""Group of measures -> its heading on screen and page."""
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


KINDS = {
    "s": "time", "m": "length", "m2": "area", "m3": "volume", "kg": "mass", "kg/s": "flow", "N": "force", "N/m": "line force",
    "K": "temperature", "m/s": "speed", "J": "energy", "Hz": "frequency", "kg/m3": "density",
}  # fmt: skip
"""SI unit of a measure, a check or a trace -> kind of quantity; pressures are told apart by name."""
FORMS = {
    "bara": ".2f", "barg": ".2f", "psia": ".1f", "psig": ".1f", "MPa": ".1f", "ksi": ".2f", "N": ".1f", "lbf": ".1f", "K": ".1f",
    "degF": ".1f", "m/s": ".3f", "ft/s": ".3f", "Hz": ".0f",
}  # fmt: skip
"""Unit -> format of a number that stands alone; others have four digits."""


def kind_of(name: str, unit: str) -> str:
    """Kind of quantity of a measure, check or trace with its SI unit; "" of a plain number."""
    if unit == "Pa":
        return "gauge pressure" if name in ABOVE_AMBIENT else "stress" if name in DIFFERENCES else "pressure"
    return KINDS.get(unit, "")


def practical(name: str, value: float, unit: str, like: float | None = None, reader: Reader = METRIC) -> Shown:
    """A value in SI as it is read on the bench: ms, bar or psi with its zero, mm or in, per cent for margins.

    like: choose the unit that this value would get, so that a limit stands in the unit of what it limits.
    """
    if isinstance(value, int):
        return Shown(str(value), unit)
    kind = kind_of(name, unit)
    if kind == "time":
        return Shown(f"{1e3 * value:.3f}", "ms") if abs(value) < 10.0 else Shown(f"{value:.4f}", "s")
    if kind:
        shown_unit = reader.fitting(kind, value if like is None else like)
        return Shown(formed(float(in_unit(shown_unit, kind, value)), shown_unit), shown_unit)
    if "margin" in name:
        return Shown(f"{100.0 * value:+.1f}", "%")
    if name.endswith("_error"):
        return Shown(f"{value:.1e}", "")
    return Shown(digits(value), unit)


def formed(value: float, unit: str) -> str:
    """A number in a unit, with the digits of that unit."""
    return f"{value:{FORMS[unit]}}" if unit in FORMS else digits(value, FINE if unit in SMALL_NUMBERS else LEAST)


LEAST, FINE = 1e-3, 1e-6
"""Smallest number that is written without an exponent, and the same in units of which machine parts are small parts."""
SMALL_NUMBERS = ("in", "in2", "in3", "lb", "lb/s")


def digits(value: float, least: float = LEAST) -> str:
    """Four digits, without an exponent where that reads."""
    if value == 0.0:
        return "0"
    if not least <= abs(value) < 1e6:
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


def stop_begins(shuts: Sequence[float], on: float | None, off: float | None, until: float = math.inf) -> float | None:
    """First instant, s of the run, of the off command and of a run valve's shutting in a pulse; None where there is neither.

    shuts: instants at which run valves begin to shut; on, off: the pulse's commands; until: the next on command.
    """
    own = [t for t in shuts if (on is None or t >= on) and t < until]
    return min([*own, *([] if off is None else [off])], default=None)


def valve_shuts(case: Any) -> list[float]:
    """Instants, s of the run, at which the run valves of a case begin to shut."""
    return [t for side in (case.oxidizer, case.fuel) if side is not None and side.valve is not None for t in side.valve.off]


def counted(name: str, value: float, origin: Origin) -> float:
    """A measure as it is shown: instants from the origin, all else as it is."""
    return value - origin.instant if name in INSTANTS else value


# ------------------------------------------------------------------------- columns and axes

DECIMALS = {"ms": ".3f", "bara": ".2f", "barg": ".2f", "psia": ".1f", "psig": ".1f", "%": "+.1f"}
"""Unit -> format of a number in it; others have four digits."""


def axis_unit(name: str, unit: str, reader: Reader = METRIC) -> str:
    """Unit of a measure or trace, of this SI unit, in a column or on an axis; empty for a ratio."""
    if "margin" in name and not unit:
        return "%"
    return reader.column(kind_of(name, unit)) or unit


def on_axis(name: str, unit: str, si: Any, reader: Reader = METRIC) -> Any:
    """Its SI values in that unit."""
    values = np.asarray(si, dtype=float)
    return 100.0 * values if "margin" in name and not unit else reader.in_column(kind_of(name, unit), values)


def screen_unit(name: str, reader: Reader = METRIC) -> str:
    """Unit of a measure in a column or on an axis; empty for a ratio."""
    return axis_unit(name, UNITS[name], reader)


def on_screen(name: str, si: Any, reader: Reader = METRIC) -> Any:
    """SI values of a measure in that unit."""
    return on_axis(name, UNITS[name], si, reader)


def in_column(name: str, si: float | None, reader: Reader = METRIC) -> str:
    """A measure in that unit as text; a dash where it did not happen."""
    if si is None or not math.isfinite(si):
        return "-"
    unit, value = screen_unit(name, reader), float(on_screen(name, si, reader))
    return f"{value:{DECIMALS[unit]}}" if unit in DECIMALS else digits(value, FINE if unit in SMALL_NUMBERS else LEAST)


def with_unit(name: str, si: float | None, reader: Reader = METRIC) -> str:
    """A measure with its unit, as a person reads it."""
    if si is None or not math.isfinite(si):
        return "did not happen"
    return together(practical(name, float(si), UNITS[name], None, reader))


# ---------------------------------------------------------------------------------- CSV files


def file_head(name: str, unit: str, reader: Reader) -> str:
    """Heading of a column of a CSV file: SI for the metric reader."""
    return f"{name} [{reader.file_unit(kind_of(name, unit), unit) or '-'}]"


def in_file(name: str, unit: str, si: Any, reader: Reader) -> Any:
    """SI values in the unit of that heading."""
    return reader.in_file(kind_of(name, unit), si)
