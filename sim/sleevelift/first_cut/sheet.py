"""The sheet on which a first cut is worked out: values of the case with their comments, and the chain of reasoning.

A value is TOML text as it will stand in the case, with the comment beside it; a step is one line of the chain: what, its
value, the formula with numbers in words, and where the formula comes from.
"""

from typing import Any, NamedTuple

SUTTON = "Sutton and Biblarz, Rocket Propulsion Elements, chapter 3"
PRACTICE = "common practice, no source"
GUESS = "guess: measure it"
PINNED = "pinned by the napkin"


class Step(NamedTuple):
    """One line of the chain of reasoning."""

    what: str
    value: str
    how: str
    source: str


class Sheet:
    """Values and steps, filled one after the other; a later value of the same path replaces the earlier."""

    def __init__(self) -> None:
        self.values: dict[str, tuple[str, str]] = {}
        """path of the case -> (TOML text, comment)"""
        self.chain: dict[str, Step] = {}

    def put(self, path: str, text: str, comment: str) -> None:
        """A value of the case."""
        self.values[path] = (text, comment)

    def step(self, what: str, value: str, how: str, source: str) -> None:
        """A line of the chain."""
        self.chain[what] = Step(what, value, how, source)

    def pin(self, pins: dict[str, Any]) -> None:
        """What the napkin settled stands in place of what was worked out."""
        for path, raw in pins.items():
            self.values[path] = (toml_value(raw), PINNED)


def toml_value(raw: Any) -> str:
    """A value of a TOML file, as TOML."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, str):
        return '"' + raw.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(raw, list):
        return "[" + ", ".join(toml_value(entry) for entry in raw) + "]"
    if isinstance(raw, dict):
        return "{ " + ", ".join(f"{name} = {toml_value(entry)}" for name, entry in raw.items()) + " }"
    return repr(raw)


def mm(length: float, digits: int = 2) -> str:
    """A length (m) as TOML text in mm."""
    return f'"{length * 1e3:.{digits}f} mm"'


def drilled(diameter: float) -> str:
    """A drill's diameter (m) as TOML text in mm, to the last digit that one of any standard has: rounded it were another."""
    whole, _, part = f"{diameter * 1e3:.6f}".partition(".")
    return f'"{whole}.{part.rstrip("0"):0<3} mm"'


def ranged(value: str, low: str, high: str) -> str:
    """A value with its range as TOML."""
    return f'{{ value = "{value}", low = "{low}", high = "{high}" }}'
