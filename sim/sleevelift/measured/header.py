"""The header of a measured trace: which column holds what, in which unit, over which time column.

    "PT-3 [psig]" with --column "PT-3=lift_chamber_pressure"   ->  Column(place 4, lift_chamber_pressure, psig, time column 0)

A unit stands in brackets or parentheses behind the name, or in a row of its own below. A data column belongs to the nearest
time column on its left, else to the first on its right: loggers write one time before each group of channels.
"""

import re
from collections.abc import Sequence
from typing import NamedTuple

from sleevelift import units
from sleevelift.columns import BY_NAME, COMMAND, TIME, UNUSED, Given, Measurand, parted, plain, recognized, scale, unit_fault

_PLACE = re.compile(r"#(\d{1,4})$")
OWN_COLUMNS = ("time [s]", "command [-]", "valve_opening [-]")
"""Columns that only a run's own traces.csv has: pressures there are absolute, in Pa."""


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


def _matches(mapping: Given, place: int, header: str) -> bool:
    number = _PLACE.match(mapping.column)
    if number:
        return int(number[1]) == place + 1
    name, unit = parted(header)
    if name == mapping.column:
        return True
    whole = mapping.column if mapping.unit is None else f"{mapping.column} [{mapping.unit}]"
    return header.strip() in (whole, mapping.column)


def _mapped(headers: Sequence[str], mappings: Sequence[Given], faults: list[str], notes: list[str]) -> dict[int, Given]:
    """Place -> its mapping, those of the command line before those of the case; what fits no column, or more than one, is a fault,
    but of the case a note where it fits none."""
    found: dict[int, Given] = {}
    absent = []
    for mapping in sorted(mappings, key=lambda one: not one.asked):
        places = [place for place, header in enumerate(headers) if _matches(mapping, place, header)]
        exact = [place for place in places if parted(headers[place])[1] == mapping.unit]
        places = exact if len(places) > 1 and len(exact) == 1 else places
        if not places and not mapping.asked:
            absent.append(units.shown(mapping.column, 30))
        elif not places:
            known = ", ".join(units.shown(header.strip(), 30) for header in headers[:20])
            faults.append(f"{mapping.text}: there is no such column; the header has {known}")
        elif len(places) > 1:
            numbers = ", ".join(f"#{place + 1}" for place in places)
            faults.append(f"{mapping.text}: columns {numbers} are headed so; name one by its number")
        elif places[0] in found and found[places[0]].asked and not mapping.asked:
            continue  # the command line goes before the case
        elif places[0] in found:
            faults.append(f"{mapping.text}: that column is mapped already ({found[places[0]].text})")
        else:
            found[places[0]] = mapping
    if absent:
        notes.append(f"Columns of [trace.columns] that this file does not have: {', '.join(absent)}.")
    return found


def _unit(place: int, header: str, below: str | None, mapping: Given | None, own: bool) -> str | None:
    """Unit of a column: of the mapping, else of the header, else of the row below."""
    unit = mapping.unit if mapping is not None and mapping.unit is not None else parted(header)[1]
    if unit is None and below is not None:
        unit = below.strip().strip("[]()")
    return "Paa" if own and unit == "Pa" else unit


def _other_unit(header: str, mapping: Given | None) -> str | None:
    """What is wrong where the case gives a column another unit than the file does; the command line may correct a header."""
    own = parted(header)[1]
    if mapping is None or mapping.asked or mapping.unit is None or own is None or own.lower() == mapping.unit.lower():
        return None
    return f"{mapping.text}: the file says [{own}]; give the table the same unit, or none"


def layout(headers: Sequence[str], below: Sequence[str] | None, mappings: Sequence[Given], barometer: float, row: int) -> Layout:
    """What the columns hold. below: the row of units, if there is one; row: number of the header's row, for faults."""
    faults: list[str] = []
    notes: list[str] = []
    own = all(name in headers for name in OWN_COLUMNS)
    mapped = _mapped(headers, mappings, faults, notes)
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
        wrong = _other_unit(headers[place], mapped.get(place)) or unit_fault(unit, measurand, barometer)
        if wrong is not None:
            faults.append(f"{where}: {wrong}")
            continue
        factor, offset = scale(unit or "", measurand.kind, barometer)
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
        faults.append(
            f"row {row}: no column is known; name what is measured with --column NAME=QUANTITY, or in [trace.columns] of the case: "
            + known
        )
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
