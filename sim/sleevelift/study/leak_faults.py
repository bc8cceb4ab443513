"""Leaks as faults: each seal and seat torn alone, and pairs that one cause brings about (the same cold, the same debris).

Sizes are guesses that bound a bench's experience: a torn seal 1 mm2 (or ten times the case's own leak), a scored clearance half
as wide again, half of an orifice's area blocked. A leak that the simulation has no key for is not in this model, and says so.
"""

from collections.abc import Callable, Mapping

from sleevelift.case.read import with_values
from sleevelift.case.schema import Case
from sleevelift.case.walk import info_at, split, value_at

Change = Callable[[Case, Mapping[str, float | None]], Case | str]

TORN_SEAL = 1e-6
"""m2. Leak of a torn seal (guess), or ten times the case's own leak if that is more."""
TORN_FACTOR = 10.0
"""-. The same, over the case's own leak (guess)."""
SCORED = 1.5
"""-. Clearance of scored slots over their own (guess)."""
HALF_BLOCKED = 0.7
"""-. Diameter left of an orifice that debris has half blocked: half the area (guess)."""
STOOD = 60.0
"""s. That fuel stood at the leaking rod seal before the command: the gas chamber has filled (guess)."""

AREAS = {
    "rod": "seals.rod_leak_area",
    "piston": "seals.piston_leak_area",
    "post": "seals.post_leak_area",
    "seat": "seat.leak_area",
    "outside": "seals.outside_leak_area",
}
WORDS = {"rod": "rod seal", "piston": "piston seal", "post": "post seal", "seat": "fuel seat", "outside": "flange seal"}
WET = {"rod": "fuel", "post": "oxidizer", "seat": "fuel"}
"""What must be there for a leak to matter."""


def torn(case: Case, *leaks: str) -> dict[str, float] | str:
    """Values of torn seals, or why they do not apply."""
    changes = {}
    for name in leaks:
        path = AREAS[name]
        if name in WET and getattr(case, WET[name]) is None:
            return "a dry case without that feed"
        if info_at(split(path)) is None:
            return f"not in this model: a leak past the {WORDS[name]}"
        changes[path] = max(TORN_FACTOR * float(value_at(case, path) or 0.0), TORN_SEAL)
    return changes


def leaking(*leaks: str) -> Change:
    """The change that tears these."""

    def change(case: Case, nominal: Mapping[str, float | None]) -> Case | str:
        values = torn(case, *leaks)
        return values if isinstance(values, str) else with_values(case, values, check=False)

    return change


def flooded(case: Case, nominal: Mapping[str, float | None]) -> Case | str:
    """Fuel has leaked past the rod seal long enough to fill the gas chamber before the command."""
    values = torn(case, "rod")
    if isinstance(values, str):
        return values
    stood = max(case.run.pressurised_before_command, STOOD)
    return with_values(case, values | {"run.pressurised_before_command": stood}, check=False)


def seat_and_slots(case: Case, nominal: Mapping[str, float | None]) -> Case | str:
    """Debris under the fuel seat that has scored the lapped slots too."""
    values = torn(case, "seat")
    if isinstance(values, str):
        return values
    assert case.slots is not None, "a case with fuel has slots"
    return with_values(case, values | {"slots.clearance": SCORED * case.slots.clearance}, check=False)


def both_ports_blocked(case: Case, nominal: Mapping[str, float | None]) -> Case | str:
    """Debris in fill and exhaust."""
    fill, exhaust = case.solenoid.fill_orifice, case.solenoid.exhaust_orifice
    if fill is None or exhaust is None:
        return "the solenoid valve is rated as a component, not by its bores"
    left = {"solenoid.fill_orifice": HALF_BLOCKED * fill, "solenoid.exhaust_orifice": HALF_BLOCKED * exhaust}
    return with_values(case, left, check=False)


def rod_and_exhaust(case: Case, nominal: Mapping[str, float | None]) -> Case | str:
    """The debris that has scored the rod seal half blocks the exhaust through which the fuel must leave."""
    values = torn(case, "rod")
    exhaust = case.solenoid.exhaust_orifice
    if isinstance(values, str):
        return values
    if exhaust is None:
        return "the solenoid valve is rated as a component, not by its bores"
    return with_values(case, values | {"solenoid.exhaust_orifice": HALF_BLOCKED * exhaust}, check=False)


def port_at(position: str) -> Change:
    """A torn rod seal with the chamber's port high (gas leaves first) or low (liquid leaves first)."""

    def change(case: Case, nominal: Mapping[str, float | None]) -> Case | str:
        values = torn(case, "rod")
        if isinstance(values, str):
            return values
        if info_at(split(PORT_KEY)) is None:
            return "not in this model: where the port of the lift chamber sits"
        if value_at(case, PORT_KEY) == position:
            return f"the case's own port sits {position}"
        table, name = split(PORT_KEY)
        moved = with_values(case, values, check=False)
        part = getattr(moved, str(table)).model_copy(update={str(name): position})
        new = moved.model_copy(update={str(table): part})
        new._changes = {**moved.changes, PORT_KEY: position}
        return new

    return change


PORT_KEY = "lift_chamber.port"
"""Path of the key that says whether the lift chamber's port sits high or low."""
