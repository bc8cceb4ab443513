"""What a column of a measured trace may hold, and the names by which it is known.

Names are those of the simulator's own traces (`sleevelift.trajectory.UNITS`), so that a measured channel stands against the
trace of its name; `coil_current` alone has no such trace and tells when the command came.
"""

import re
from difflib import get_close_matches
from typing import NamedTuple


class Measurand(NamedTuple):
    """One thing that a sensor measures."""

    name: str
    kind: str
    """kind of quantity (`sleevelift.units.KINDS`)"""
    title: str
    """in words"""
    other_names: tuple[str, ...]
    """how test stands head such a column, in small letters"""


TIME = "time"
COMMAND = "command"
COIL_CURRENT = "coil_current"
UNUSED = "unused"
"""What a column is mapped to that is not to be read."""

MEASURANDS = (
    Measurand(TIME, "time", "time", ("t", "elapsed", "elapsed_time", "timestamp")),
    Measurand(COMMAND, "number", "valve command", ("valve_command", "cmd", "on")),
    Measurand(COIL_CURRENT, "current", "coil current", ("current", "i_coil", "solenoid_current")),
    Measurand("supply_pressure", "pressure", "supply pressure", ("p_supply", "supply")),
    Measurand("bottle_pressure", "pressure", "bottle pressure", ("p_bottle", "bottle")),
    Measurand("tube_pressure", "pressure", "tube pressure", ("p_tube", "tube")),
    Measurand("lift_chamber_pressure", "pressure", "lift-chamber pressure", ("p_lift", "p_lift_chamber", "lift_chamber")),
    Measurand("spring_side_pressure", "pressure", "pressure on the spring's side", ("p_spring", "p_spring_side", "spring_side")),
    Measurand("oxidizer_manifold_pressure", "pressure", "oxidizer manifold pressure", ("p_oxidizer", "p_ox", "oxidizer_manifold")),
    Measurand("fuel_manifold_pressure", "pressure", "fuel manifold pressure", ("p_fuel", "p_fu", "fuel_manifold")),
    Measurand("chamber_pressure", "pressure", "chamber pressure", ("p_chamber", "p_c", "pc", "chamber")),
    Measurand("lift", "length", "lift", ("x", "stroke", "position", "displacement")),
    Measurand("tube_temperature", "temperature", "gas temperature in the tube", ("t_tube",)),
    Measurand("lift_chamber_temperature", "temperature", "gas temperature in the lift chamber", ("t_lift_chamber",)),
    Measurand("bottle_temperature", "temperature", "gas temperature in the bottle", ("t_bottle",)),
    Measurand("oxidizer_line_flow", "flow", "flow in the oxidizer line", ("m_oxidizer", "m_ox")),
    Measurand("fuel_line_flow", "flow", "flow in the fuel line", ("m_fuel",)),
)
BY_NAME = {one.name: one for one in MEASURANDS}
_KNOWN = {name: one for one in MEASURANDS for name in (one.name, *one.other_names)}


def plain(text: str) -> str:
    """A column's name as it is compared: small letters, everything else an underscore.

    >>> plain("P Lift-chamber")
    'p_lift_chamber'
    """
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")


def recognized(name: str) -> Measurand | None:
    """What a column of this name holds; None where the name says nothing."""
    return _KNOWN.get(plain(name))


def nearest(name: str) -> str:
    """The measurands nearest to a wrong name, for its refusal; all of them where none is near."""
    near = get_close_matches(plain(name), list(BY_NAME), 3, 0.5)
    return ", ".join(near or BY_NAME)
