"""What each margin says, what to change where it fails, and which ends of the stated ranges decide it."""

from sleevelift.case.schema import Case
from sleevelift.plant.range_sections import range_factors

MARGINS: dict[str, tuple[str, str]] = {
    "opening_margin": (
        "gas and fuel pressure together break the sleeve away in the worst case",
        "larger lift area, less preload or seal friction, or more gas pressure {gas}",
    ),
    "full_lift_margin": (
        "gas and fuel pressure hold the sleeve at full lift in the worst case, unlit",
        "larger lift area, a softer spring, less loss in the fuel line, or more gas pressure {gas}",
    ),
    "no_fuel_margin": (
        "the interlock: gas alone does not open it, so it cannot start dry of fuel",
        "raise the preload, make the lift area smaller and the fuel opening area larger, limit the gas pressure",
    ),
    "fuel_alone_margin": (
        "fuel pressure alone does not open it",
        "raise the preload or make the fuel opening area smaller",
    ),
    "fuel_loss_margin": (
        "the spring shuts it when fuel is lost while the gas is on",
        "raise the preload, make the lift area smaller, cut the seal friction",
    ),
    "closing_margin": (
        "the spring shuts it when the gas is lost, chamber lit",
        "make nose and face ring narrower, raise the preload, make the fuel opening area smaller, cut the seal friction; a sleeve "
        "that shuts only because chamber pressure decays must be seen to shut on the fuel run valve",
    ),
    "closing_margin_unlit": (
        "the spring shuts it when the gas is lost, chamber unlit",
        "make the nose narrower (the gap pressure pushes it open), raise the preload, make the fuel opening area smaller",
    ),
    "surge_margin": (
        "pressure surges do not unseat it before the command and after closing",
        "prime slowly, widen and shorten the fuel line, close more slowly (smaller exhaust), raise the preload",
    ),
}
"""Margin -> (what it says, what to change)."""

ENDS: dict[str, tuple[str, str]] = {
    "opening_margin": ("least gas and fuel pressure", "most"),
    "full_lift_margin": ("least gas and fuel pressure, most pull of the jet", "most"),
    "no_fuel_margin": ("most gas pressure", "least"),
    "fuel_alone_margin": ("most fuel pressure", ""),
    "fuel_loss_margin": ("most gas pressure", "most"),
    "closing_margin": ("most fuel pressure", "most"),
    "closing_margin_unlit": ("most fuel pressure", "most"),
    "surge_margin": ("the pressures of the run", "least"),
}
"""Margin -> (ends of the stated ranges that decide it, end of the friction that does; empty: friction is not counted)."""


def deciding_ends(name: str, case: Case) -> str:
    """Which ends of the stated ranges decided a margin, in words: the friction as a factor on its nominal."""
    pressures, end = ENDS[name]
    if not end:
        return f"decided by {pressures}, no friction counted"
    factors = range_factors(case.seals, case.ranges)
    low, high = min(factors[0::2]), max(factors[1::2])
    if low == high == 1.0:
        return f"decided by {pressures}; friction has no range, so its {end} is its nominal"
    chart = [path for path in case.ranges if path.startswith("seals.") and case.origin.get(path) == "derived"]
    whence = ", down to what was measured on one ring" if chart and end == "least" else ""
    return f"decided by {pressures}, {end} friction (x {low if end == 'least' else high:.3g}{whence})"
