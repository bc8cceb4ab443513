"""The header of a measured trace: which column holds what, in which unit, over which time column.

    "PT-3 [psig]" with --column "PT-3=lift_chamber_pressure"   ->  Column(place 4, lift_chamber_pressure, psig, time column 0)

A unit stands in brackets or parentheses behind the name, or in a row of its own below. A data column belongs to the nearest
time column on its left, else to the first on its right: loggers write one time before each group of channels.
"""

import re
from collections.abc import Sequence
from typing import NamedTuple

from sleevelift import units
from sleevelift.measured.quantities import BY_NAME, COMMAND, TIME, UNUSED, Measurand, nearest, plain, recognized

_NAME_AND_UNIT = re.compile(r"\s*(.*?)\s*(?:\[([^\[\]]*)\]|\(([^()]*)\))\s*$", re.DOTALL)
_PLACE = re.compile(r"#(\d{1,4})$")
NO_UNIT = ("", "-", "1")
PER_CENT = 0.01
OWN_COLUMNS = ("time [s]", "command [-]", "valve_opening [-]")
"""Columns that only a run's own traces.csv has: pressures there are absolute, in Pa."""


class Given(NamedTuple):
    """One mapping from the command line or the case."""

    text: str
    """as it was given, for refusals"""
    column: str
    """header of the column, or its name without unit, or #3 for the third"""
    unit: str | None
    quantity: str


class Column(NamedTuple):
    """A column that is read: value = factor x number + offset, SI."""

    place: int
    """from 0"""
    header: str
    measurand: Measurand
    unit: str
    factor: float
    offset: float
    time_place: int
    """column of its times"""


class Layout(NamedTuple):
    """What a file's header says."""

    columns: tuple[Column, ...]
    """time columns too"""
    unread: tuple[str, ...]
    """headers of columns that nothing is known of"""
    faults: tuple[str, ...]
    notes: tuple[str, ...]


def parted(header: str) -> tuple[str, str | None]:
    """(name, unit) of a header; None where it has no brackets.

    >>> parted("p_lift (psia)")
    ('p_lift', 'psia')
    """
    match = _NAME_AND_UNIT.match(header)
    if match is None:
        return header.strip(), None
    return match[1], (match[2] if match[2] is not None else match[3]).strip()


def given(text: str) -> Given:
    """A mapping such as "PT-3 [psig]=lift_chamber_pressure". ValueError with its rule where it is none."""
    left, sign, quantity = text.rpartition("=")
    if not sign or not left.strip() or not quantity.strip():
        raise ValueError('must be like "PT-3 [psig]=lift_chamber_pressure", or "PT-9=unused"')
    name, unit = parted(left)
    wanted = quantity.strip()
    if wanted != UNUSED and wanted not in BY_NAME:
        raise ValueError(f"{units.shown(wanted)} is nothing that is measured here; near it: {nearest(wanted)}; or {UNUSED}")
    return Given(text, name or left.strip(), unit, wanted)


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


def _matches(mapping: Given, place: int, header: str) -> bool:
    number = _PLACE.match(mapping.column)
    if number:
        return int(number[1]) == place + 1
    name, unit = parted(header)
    if name == mapping.column:
        return True
    whole = mapping.column if mapping.unit is None else f"{mapping.column} [{mapping.unit}]"
    return header.strip() in (whole, mapping.column)


def _mapped(headers: Sequence[str], mappings: Sequence[Given], faults: list[str]) -> dict[int, Given]:
    """Place -> its mapping; what fits no column, or more than one, is a fault."""
    found: dict[int, Given] = {}
    for mapping in mappings:
        places = [place for place, header in enumerate(headers) if _matches(mapping, place, header)]
        exact = [place for place in places if parted(headers[place])[1] == mapping.unit]
        places = exact if len(places) > 1 and len(exact) == 1 else places
        if not places:
            known = ", ".join(units.shown(header.strip(), 30) for header in headers[:20])
            faults.append(f"--column {mapping.text}: there is no such column; the header has {known}")
        elif len(places) > 1:
            numbers = ", ".join(f"#{place + 1}" for place in places)
            faults.append(f"--column {mapping.text}: columns {numbers} are headed so; name one by its number")
        elif places[0] in found:
            faults.append(f"--column {mapping.text}: that column is mapped already ({found[places[0]].text})")
        else:
            found[places[0]] = mapping
    return found


def _unit(place: int, header: str, below: str | None, mapping: Given | None, own: bool) -> str | None:
    """Unit of a column: of the mapping, else of the header, else of the row below."""
    unit = mapping.unit if mapping is not None and mapping.unit is not None else parted(header)[1]
    if unit is None and below is not None:
        unit = below.strip().strip("[]()")
    return "Paa" if own and unit == "Pa" else unit


def layout(headers: Sequence[str], below: Sequence[str] | None, mappings: Sequence[Given], barometer: float, row: int) -> Layout:
    """What the columns hold. below: the row of units, if there is one; row: number of the header's row, for faults."""
    faults: list[str] = []
    notes: list[str] = []
    own = all(name in headers for name in OWN_COLUMNS)
    mapped = _mapped(headers, mappings, faults)
    wanted: dict[int, Measurand] = {}
    unread = []
    for place, header in enumerate(headers):
        mapping = mapped.get(place)
        if mapping is not None and mapping.quantity == UNUSED:
            continue
        found = BY_NAME[mapping.quantity] if mapping is not None else recognized(parted(header)[0])
        if found is not None:
            wanted[place] = found
        elif header.strip():
            unread.append(header.strip())
    times = [place for place, one in wanted.items() if one.name == TIME]
    columns = []
    for place, measurand in wanted.items():
        where = f"row {row}, column {place + 1} {units.shown(headers[place].strip(), 40)}"
        unit = _unit(place, headers[place], below[place] if below is not None else None, mapped.get(place), own)
        if unit is None and measurand.kind != "number":
            example = f"{parted(headers[place])[0]} [{'ms' if measurand.name == TIME else _usual_unit(measurand)}]"
            faults.append(f'{where}: has no unit; head it "{example}" or give it with --column "{example}={measurand.name}"')
            continue
        try:
            factor, offset = scale(unit or "", measurand.kind, barometer)
        except units.UnitError as error:
            rule = str(error) if measurand.kind in ("pressure", "number") else f"does not measure a {measurand.kind}"
            faults.append(f"{where}: unit {units.shown(unit or '')} {rule}")
            continue
        before = [time for time in times if time < place] or times[:1]
        columns.append(Column(place, headers[place].strip(), measurand, unit or "-", factor, offset, before[-1] if before else -1))
    faults += _whole(headers, wanted, times, row)
    if own:
        notes.append("Traces of a run of this program, not of a test: pressures in Pa are absolute.")
    return Layout(tuple(columns), tuple(unread), tuple(faults), tuple(notes))


def _usual_unit(measurand: Measurand) -> str:
    usual = {"pressure": "barg", "length": "mm", "current": "A", "temperature": "degC", "flow": "kg/s", "speed": "m/s"}
    return usual.get(measurand.kind, "-")


def _whole(headers: Sequence[str], wanted: dict[int, Measurand], times: Sequence[int], row: int) -> list[str]:
    """Faults of the header as a whole."""
    faults = []
    if not times:
        faults.append(f'row {row}: no column holds the time; head one "time [ms]" or give --column "NAME [ms]=time"')
    values = [place for place, one in wanted.items() if one.name != TIME]
    if not values:
        known = ", ".join(name for name in BY_NAME if name != TIME)
        faults.append(f"row {row}: no column is known; name what is measured with --column NAME=QUANTITY: {known}")
    commands = [place for place in values if wanted[place].name == COMMAND]
    if len(commands) > 1:
        faults.append(f"row {row}: columns {' and '.join(str(place + 1) for place in commands)} both hold the valve command")
    first: dict[str, int] = {}
    for place in values:
        header = plain(headers[place]) + wanted[place].name
        if header in first:
            where = f"row {row}, column {place + 1} {units.shown(headers[place].strip(), 40)}"
            faults.append(f'{where}: is headed as column {first[header] + 1}; map one of them: --column "#{place + 1}=unused"')
        first.setdefault(header, place)
    return faults
