"""Liquid propellants by tables of this project, where CoolProp has none: `liquids.toml` beside this module.

    state("Peroxide-90", 293.15, 25e5)  ->  LiquidState            None where no such liquid is tabled
    viscosity("NitrousOxide", 253.15)   ->  Pa s                   None where none is tabled

Density and speed of sound are straight lines between the temperatures of a table, viscosity and vapour pressure are
straight in the logarithm over 1/T (Andrade; Clausius and Clapeyron). Bulk modulus B = rho a^2; density at a pressure is
rho_0 (1 + (p - p_0)/B), p_0 ambient or the vapour pressure; viscosity does not know the pressure.
"""

import math
import tomllib
from functools import lru_cache
from importlib import resources
from typing import Any, NamedTuple

from sleevelift.constants import STANDARD_ATMOSPHERE
from sleevelift.reader import METRIC, Phrase


class TabledLiquid(NamedTuple):
    """A liquid of the file, SI, at one temperature."""

    density: float
    """kg/m3 at ambient pressure"""
    viscosity: float
    vapour_pressure: float
    bulk_modulus: float
    """Pa, isentropic"""
    molar_mass: float

    def density_at(self, pressure: float) -> float:
        """kg/m3 at a pressure in Pa absolute."""
        reference = max(STANDARD_ATMOSPHERE, self.vapour_pressure)
        return self.density * (1.0 + (pressure - reference) / self.bulk_modulus)


class TemperatureOutside(ValueError):
    """A temperature that a table does not bracket; the message is the rule."""

    def __init__(self, rule: Phrase) -> None:
        super().__init__(rule.said(METRIC))
        self.rule = rule


@lru_cache(maxsize=1)
def _file() -> dict[str, Any]:
    return tomllib.loads((resources.files("sleevelift.case") / "liquids.toml").read_text(encoding="utf-8"))


def names() -> tuple[str, ...]:
    """Names of the liquids that are tabled whole."""
    return tuple(name for name, table in _file().items() if "density" in table)


def _known(name: str) -> str | None:
    """The name as the file has it, capitals or not."""
    return next((known for known in _file() if known.lower() == name.lower()), None)


def _at(name: str, what: str, temperature: float, logarithmic: bool) -> float:
    """A property of a liquid of the file at a temperature in K. TemperatureOutside where its table ends."""
    table = _file()[name][what]
    places, values = table["temperature"], table["value"]
    if not places[0] <= temperature <= places[-1]:
        rule = f"must be between {{}} and {{}} for {name} (its table of {what.replace('_', ' ')})"
        ends = ("temperature", float(places[0]), ".5g!"), ("temperature", float(places[-1]), ".5g")
        raise TemperatureOutside(Phrase(rule, ends))
    above = next(index for index in range(1, len(places)) if temperature <= places[index])
    low, high = places[above - 1], places[above]
    if not logarithmic:
        return float(values[above - 1] + (temperature - low) / (high - low) * (values[above] - values[above - 1]))
    share = (1.0 / low - 1.0 / temperature) / (1.0 / low - 1.0 / high)
    return float(values[above - 1] * (values[above] / values[above - 1]) ** share)


def viscosity(name: str, temperature: float) -> float | None:
    """Pa s at a temperature in K; None where none is tabled. TemperatureOutside where the table ends."""
    known = _known(name)
    return None if known is None else _at(known, "viscosity", temperature, True)


def state(name: str, temperature: float) -> TabledLiquid | None:
    """A tabled liquid at a temperature in K; None where it is not tabled whole. TemperatureOutside where a table ends."""
    known = _known(name)
    if known is None or "density" not in _file()[known]:
        return None
    density, sound = _at(known, "density", temperature, False), _at(known, "sound", temperature, False)
    modulus = density * sound * sound
    viscous, boiling = _at(known, "viscosity", temperature, True), _at(known, "vapour_pressure", temperature, True)
    assert math.isfinite(modulus) and boiling > 0.0, f"the table of {known} is whole"
    return TabledLiquid(density, viscous, boiling, modulus, float(_file()[known]["molar_mass"]))
