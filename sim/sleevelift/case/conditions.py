"""What a sequence can wait for: readings of sensors against a level, and events.

    "chamber_pressure above 5 bara"      a reading: true as long as the sensor says so (above, below; > and < mean the same)
    "light-off"                          an event: the instant at which it comes about, as its sensor shows it

Sensors are ideal but for the delay with which a step or an abort sees them; a failed one shows the highest or the lowest for ever.
"""

import re
from difflib import get_close_matches
from typing import NamedTuple

from sleevelift import units


class Sensor(NamedTuple):
    """Something that can be measured on the stand; its name is that of the trace."""

    name: str
    kind: str
    """kind of quantity; empty where it is only an event's"""
    needs: str
    """table without which a case does not have it; empty: every case has it"""


SENSORS = (
    Sensor("supply_pressure", "pressure", ""),
    Sensor("tube_pressure", "pressure", ""),
    Sensor("lift_chamber_pressure", "pressure", ""),
    Sensor("spring_side_pressure", "pressure", ""),
    Sensor("lift", "length", ""),
    Sensor("oxidizer_manifold_pressure", "pressure", "oxidizer"),
    Sensor("fuel_manifold_pressure", "pressure", "fuel"),
    Sensor("oxidizer_flow", "flow", "oxidizer"),
    Sensor("fuel_flow", "flow", "fuel"),
    Sensor("chamber_pressure", "pressure", "chamber"),
    Sensor("flame", "", "chamber"),
)


class Happening(NamedTuple):
    """An event that a sensor shows."""

    name: str
    sensor: str
    rises: bool
    """whether a sensor that has failed high shows it at once"""


EVENTS = (
    Happening("light-off", "flame", True),
    Happening("flame out", "flame", False),
    Happening("first oxidizer", "oxidizer_flow", True),
    Happening("first fuel", "fuel_flow", True),
    Happening("leaves seat", "lift", True),
    Happening("full lift", "lift", True),
    Happening("seated", "lift", False),
)
EVENT_NAMES = tuple(event.name for event in EVENTS)
SENSOR = {sensor.name: sensor for sensor in SENSORS}
READING = re.compile(r"\s*(\w+)\s*(above|below|>=|<=|>|<)\s*(.+?)\s*")
HIGH, LOW = "high", "low"


class Condition(NamedTuple):
    """A reading or an event."""

    text: str
    sensor: str
    rises: bool
    """true above its level; an event that a sensor failed high shows"""
    level: float
    """SI; not a number for an event"""
    event: str
    """its name; empty for a reading"""


class ConditionFault(ValueError):
    """A condition that cannot be read."""


def event_named(text: str) -> Happening | None:
    """The event of a name, if it is one."""
    return next((event for event in EVENTS if event.name == text.strip()), None)


def condition_of(text: str, ambient_pressure: float) -> Condition:
    """A condition of its text. ConditionFault names the rule that it breaks."""
    event = event_named(text)
    if event is not None:
        return Condition(text, event.sensor, event.rises, float("nan"), event.name)
    found = READING.fullmatch(text)
    if found is None:
        near = get_close_matches(text.strip().lower(), EVENT_NAMES, n=1, cutoff=0.6)
        known = f"nearest event: {near[0]}" if near else f"events: {', '.join(EVENT_NAMES)}"
        raise ConditionFault(f'must be an event, or a reading such as "chamber_pressure above 5 bara"; {known}')
    name, way, value = found.groups()
    sensor = SENSOR.get(name)
    if sensor is None or not sensor.kind:
        known_names = [s.name for s in SENSORS if s.kind]
        near = get_close_matches(name.lower(), known_names, n=1, cutoff=0.5)
        known = f"nearest: {near[0]}" if near else f"known: {', '.join(known_names)}"
        raise ConditionFault(f"{units.shown(name)} is no sensor; {known}")
    try:
        level = units.read_quantity(value, sensor.kind, ambient_pressure).si
    except units.UnitError as error:
        raise ConditionFault(f"{name}: {error}") from None
    return Condition(" ".join(text.split()), name, way in ("above", ">", ">="), level, "")


def failed_of(text: str | None) -> tuple[str, bool] | None:
    """(sensor, whether it reads high) of a failed sensor's text; None without one. ConditionFault where it is none."""
    if text is None:
        return None
    name, _, way = text.strip().rpartition(" ")
    if name.strip() not in SENSOR or way not in (HIGH, LOW):
        raise ConditionFault(f'must be a sensor and high or low, such as "chamber_pressure low"; sensors: {", ".join(SENSOR)}')
    return name.strip(), way == HIGH
