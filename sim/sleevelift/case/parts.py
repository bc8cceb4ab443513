"""What can be commanded, as rows: a part is the table of its name, whose `on` and `off` are lists of instants.

A new part that is commanded is a row here, and its table's `on` and `off` in the schema.
"""

from functools import lru_cache
from typing import NamedTuple

from sleevelift.case.walk import info_at, split


class Part(NamedTuple):
    """One part that is switched."""

    name: str
    """path of its table"""
    valve: bool
    """whether open and close are said of it"""
    title: str
    answers: str
    """what shows that it obeyed, in words"""


PARTS = (
    Part("solenoid", False, "solenoid valve", "valve opening, lift of the sleeve"),
    Part("igniter", False, "igniter", "light-off"),
    Part("oxidizer.valve", True, "oxidizer run valve", "its opening"),
    Part("fuel.valve", True, "fuel run valve", "its opening"),
    Part("oxidizer.purge", False, "oxidizer purge", "its flow"),
    Part("fuel.purge", False, "fuel purge", "its flow"),
    Part("chamber.purge", False, "chamber purge", "its flow"),
)
ON, OFF = ("on", "open"), ("off", "close")
HOLD = "hold"


@lru_cache(maxsize=1)
def known_parts() -> tuple[Part, ...]:
    """The rows whose table the schema has."""
    return tuple(part for part in PARTS if info_at((*split(part.name), "on")) is not None)


STUCK = {"stuck on": True, "stuck off": False}


def stuck_part(text: str | None) -> tuple[str, bool] | None:
    """(part, whether it stays on) of a part that does not obey; None without one. ValueError names the rule that it breaks."""
    if text is None:
        return None
    for words, on in STUCK.items():
        name = text.strip().removesuffix(words).strip()
        if text.strip().endswith(words) and part_named(name) is not None:
            return name, on
    known = ", ".join(part.name for part in known_parts())
    raise ValueError(f'must be a part and stuck on or stuck off, such as "solenoid stuck on"; parts: {known}')


def part_named(name: str | None) -> Part | None:
    """The row of a name."""
    return next((part for part in known_parts() if part.name == name), None)
