"""Spring wires of inch sizes: music wire by its gauge number, thicker wire by its inches.

    inch_wires(1.5e-3, 1.7e-3) -> ("0.063 in wire, gauge 26", 0.0016002), ("0.067 in wire, gauge 27", 0.0017018)

Source: music wire gauge and the usual sizes of ASTM A228 and A229, from memory.
"""

from sleevelift.units import INCH

MUSIC_WIRE_INCH = (
    0.009, 0.010, 0.011, 0.012, 0.013, 0.014, 0.016, 0.018, 0.020, 0.022, 0.024, 0.026, 0.029, 0.031, 0.033, 0.035, 0.037, 0.039,
    0.041, 0.043, 0.045, 0.047, 0.049, 0.051, 0.055, 0.059, 0.063, 0.067, 0.071, 0.075, 0.080, 0.085, 0.090, 0.095, 0.100, 0.106,
    0.112, 0.118, 0.124, 0.130, 0.138, 0.146, 0.154, 0.162, 0.170, 0.180,
)  # fmt: skip
"""inch. Gauge 0 to 45. Music wire gauge, from memory."""
THICKER_INCH = (0.192, 0.207, 0.225, 0.250, 0.283, 0.312, 0.362, 0.375, 0.437, 0.500, 0.562, 0.625)
"""inch. Usual sizes above, from memory of ASTM A229."""


def inch_wires(low: float, high: float) -> list[tuple[str, float]]:
    """(name, diameter in m) of inch wires from `low` to `high` (m), ends included, in order.

    >>> [name for name, _ in inch_wires(1.6e-3, 1.71e-3)]
    ['0.063 in wire, gauge 26', '0.067 in wire, gauge 27']
    """
    slack = 1e-9  # m: a limit written in decimal must not lose a size to rounding
    named = [(f"{size:.3f} in wire, gauge {gauge}", size * INCH) for gauge, size in enumerate(MUSIC_WIRE_INCH)]
    named += [(f"{size:.3f} in wire", size * INCH) for size in THICKER_INCH]
    return [(name, size) for name, size in named if low - slack <= size <= high + slack]
