"""What a column of a measured trace may hold, and the names by which it is known.

Names are those of the simulator's own traces (`sleevelift.trajectory.UNITS`), so that a measured channel stands against the
trace of its name; `coil_current` alone has no such trace and tells when the command came. A mapping,
"PT-3 [psig]=lift_chamber_pressure" on the command line or a line of [trace.columns] in the case, says what a column holds whose
header does not.
"""

import re
from difflib import get_close_matches
from typing import NamedTuple

from sleevelift import units

_NAME_AND_UNIT = re.compile(r"\s*(.*?)\s*(?:\[([^\[\]]*)\]|\(([^()]*)\))\s*$", re.DOTALL)
NO_UNIT = ("", "-", "1")
PER_CENT = 0.01
EQUALS = "="


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


class Given(NamedTuple):
    """One mapping from the command line or the case."""

    text: str
    """as it was given and where, for refusals"""
    column: str
    """header of the column, or its name without unit, or #3 for the third"""
    unit: str | None
    quantity: str
    asked: bool = True
    """whether a file without that column is refused: so on the command line; of a table of the case it is only said, since not
    every file of a stand has all its columns. The command line goes before the case."""


def parted(header: str) -> tuple[str, str | None]:
    """(name, unit) of a header; None where it has no brackets.

    >>> parted("p_lift (psia)")
    ('p_lift', 'psia')
    """
    match = _NAME_AND_UNIT.match(header)
    if match is None:
        return header.strip(), None
    return match[1], (match[2] if match[2] is not None else match[3]).strip()


def given(left: str, quantity: str, text: str, asked: bool = True) -> Given:
    """A mapping of a column, "PT-3 [psig]", to a quantity; `text` for refusals. ValueError with its rule where it is none."""
    if not left.strip() or not quantity.strip():
        raise ValueError(f'must be like "PT-3 [psig]{EQUALS}lift_chamber_pressure", or "PT-9{EQUALS}{UNUSED}"')
    name, unit = parted(left)
    wanted = quantity.strip()
    if wanted != UNUSED and wanted not in BY_NAME:
        raise ValueError(f"{units.shown(wanted)} is nothing that is measured here; near it: {nearest(wanted)}; or {UNUSED}")
    return Given(text, name or left.strip(), unit, wanted, asked)


def given_in(text: str, option: str) -> Given:
    """A mapping of the command line, "PT-3 [psig]=lift_chamber_pressure"."""
    left, _, quantity = text.rpartition(EQUALS)
    return given(left, quantity, f"{option} {text}")


def unit_fault(unit: str | None, measurand: Measurand, barometer: float) -> str | None:
    """What is wrong with a unit of a column; None of one that measures what it holds."""
    try:
        scale(unit or "", measurand.kind, barometer)
    except units.UnitError as error:
        rule = str(error) if measurand.kind in ("pressure", "number") else f"does not measure a {measurand.kind}"
        return f"unit {units.shown(unit or '')} {rule}"
    return None


def scale(unit: str, kind: str, barometer: float) -> tuple[float, float]:
    """(factor, offset) from numbers in a unit to SI. UnitError where the unit does not measure that.

    barometer: Pa absolute, what gauge pressures are above; NaN refuses them.
    """
    if kind == "number":
        if unit in NO_UNIT or unit == "V":
            return 1.0, 0.0
        if unit == "%":
            return PER_CENT, 0.0
        raise units.UnitError("must be a plain number, % or V")
    offset = units.read_quantity(f"0 {unit}", kind, barometer).si
    return (units.read_quantity(f"1000000 {unit}", kind, barometer).si - offset) / 1e6, offset
