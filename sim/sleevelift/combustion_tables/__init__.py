"""c* and isentropic exponent of the usual propellant pairs against mixture ratio, at a chamber pressure.

    table_at("oxygen/ethanol", 18e5)  ->  CombustionTable(o_f, c_star, g, gas_constant)      without efficiency

One CSV file a pair beside this module, made by `scripts/make_combustion_table.py --ship` (chemical equilibrium by
Cantera, shifting composition, infinite contraction, adiabatic, no solid carbon; sources of the reactants' enthalpies in
each file's head). Between the pressures of a file, a factor of two apart, every number is interpolated linearly in
ln p: against equilibrium at the pressure itself c* is within 0.1 % (`tests/published/test_k_combustion_tables.py`).
Outside them a pressure is refused: nothing is extrapolated.
"""

import math
from functools import lru_cache
from importlib import resources
from typing import NamedTuple

from sleevelift.constants import GAS_CONSTANT
from sleevelift.reader import METRIC, Phrase

PASCAL_PER_BAR = 1e5
MOST_ROUNDS = 20
STOICHIOMETRIC = "# Stoichiometric ratio: "
"""How the line of a file's head begins that holds it."""
CLOSE = 1e-6
"""-. Rounds of `steady_pressure` shrink the error about thirtyfold each."""


class CombustionTable(NamedTuple):
    """Numbers of a pair at one chamber pressure, SI, one entry per mixture ratio."""

    o_f: tuple[float, ...]
    """-, mass of oxidizer over mass of fuel, increasing"""
    c_star: tuple[float, ...]
    """m/s, equilibrium, without efficiency"""
    g: tuple[float, ...]
    """-, isentropic exponent, composition shifting"""
    gas_constant: tuple[float, ...]
    """J/(kg K), of the gas in the chamber"""
    temperature: tuple[float, ...]
    """K, adiabatic"""

    def c_star_at(self, o_f: float) -> float:
        """m/s at a mixture ratio (-), straight lines between entries, the end's value outside."""
        return interpolated(self.o_f, self.c_star, o_f)

    def g_at(self, o_f: float) -> float:
        """- at a mixture ratio (-), likewise."""
        return interpolated(self.o_f, self.g, o_f)

    def gas_constant_at(self, o_f: float) -> float:
        """J/(kg K) at a mixture ratio (-), likewise."""
        return interpolated(self.o_f, self.gas_constant, o_f)


class PressureOutside(ValueError):
    """A chamber pressure that the tables do not reach; the message is the rule."""

    def __init__(self, rule: Phrase) -> None:
        super().__init__(rule.said(METRIC))
        self.rule = rule


def interpolated(places: tuple[float, ...], values: tuple[float, ...], place: float) -> float:
    """Straight lines between (places, values), places increasing; the end's value outside.

    >>> interpolated((1.0, 2.0, 4.0), (10.0, 20.0, 0.0), 3.0)
    10.0
    """
    for index in range(1, len(places)):
        if place < places[index]:
            share = max(0.0, (place - places[index - 1]) / (places[index] - places[index - 1]))
            return values[index - 1] + share * (values[index] - values[index - 1])
    return values[-1]


@lru_cache(maxsize=1)
def pairs() -> tuple[str, ...]:
    """Names of the pairs, `oxidizer/fuel`, in order of the alphabet."""
    names = (entry.name for entry in resources.files(__name__).iterdir() if entry.name.endswith(".csv"))
    return tuple(sorted(name.removesuffix(".csv").replace("_", "/") for name in names))


@lru_cache(maxsize=8)
def _at_pressures(pair: str) -> tuple[tuple[float, CombustionTable], ...]:
    """(pressure in Pa, table) of each pressure of a pair's file, increasing. KeyError for a pair that there is not."""
    if pair not in pairs():
        raise KeyError(pair)
    text = (resources.files(__name__) / (pair.replace("/", "_") + ".csv")).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    columns: dict[float, list[tuple[float, ...]]] = {}
    for line in lines[1:]:  # the first is the header
        pressure, o_f, c_star, g, temperature, molar_mass, _soot = map(float, line.split(","))
        entry = (o_f, c_star, g, GAS_CONSTANT / (molar_mass * 1e-3), temperature)
        columns.setdefault(pressure * PASCAL_PER_BAR, []).append(entry)
    return tuple((pressure, CombustionTable(*zip(*rows))) for pressure, rows in sorted(columns.items()))


@lru_cache(maxsize=32)
def stoichiometric_ratio(pair: str) -> float:
    """Mixture ratio (-) at which a pair burns to carbon dioxide, water and nitrogen, from its file's head. KeyError for a pair that
    there is not.

    >>> round(stoichiometric_ratio("oxygen/ethanol"), 3)
    2.084
    """
    if pair not in pairs():
        raise KeyError(pair)
    text = (resources.files(__name__) / (pair.replace("/", "_") + ".csv")).read_text(encoding="utf-8")
    (line,) = [line for line in text.splitlines() if line.startswith(STOICHIOMETRIC)]
    return float(line.removeprefix(STOICHIOMETRIC))


def mixture_ratios(pair: str) -> tuple[float, ...]:
    """Mixture ratios (-) of a pair's table, the same at every pressure. KeyError for a pair that there is not."""
    return _at_pressures(pair)[0][1].o_f


def pressure_range(pair: str) -> tuple[float, float]:
    """Lowest and highest chamber pressure of a pair's table, Pa. KeyError for a pair that there is not."""
    tables = _at_pressures(pair)
    return tables[0][0], tables[-1][0]


@lru_cache(maxsize=256)
def table_at(pair: str, pressure: float) -> CombustionTable:
    """The table of a pair at a chamber pressure (Pa absolute), linear in ln p.

    KeyError for a pair that there is not, `PressureOutside` for a pressure that its file does not bracket.

    >>> round(table_at("oxygen/ethanol", 20e5).c_star_at(1.4))
    1715
    """
    tables = _at_pressures(pair)
    lowest, highest = tables[0][0], tables[-1][0]
    if not lowest <= pressure <= highest:
        three = ("pressure", lowest, ".4g!"), ("pressure", highest, ".4g"), ("pressure", pressure, ".4g")
        raise PressureOutside(Phrase(f"must be between {{}} and {{}} (the table of {pair}), not {{}}", three))
    above = next(index for index, (known, _) in enumerate(tables) if pressure <= known)
    if tables[above][0] == pressure:
        return tables[above][1]
    (low, first), (high, second) = tables[above - 1], tables[above]
    share = math.log(pressure / low) / math.log(high / low)
    parts = [tuple(a + share * (b - a) for a, b in zip(one, two)) for one, two in zip(first[1:], second[1:])]
    return CombustionTable(first.o_f, *parts)


def steady_pressure(pair: str, oxidizer_flow: float, fuel_flow: float, throat_area: float, efficiency: float) -> float:
    """Chamber pressure (Pa) at which the throat passes both flows: p = w eta c*(O/F, p)/A_throat.

    Flows kg/s, area m2, efficiency of c* -. c* rises so slowly with pressure that repeating the formula converges in a few
    rounds. `PressureOutside` where it leaves the table.
    """
    lowest, highest = pressure_range(pair)
    pressure = math.sqrt(lowest * highest)
    for _ in range(MOST_ROUNDS):
        c_star = table_at(pair, min(max(pressure, lowest), highest)).c_star_at(oxidizer_flow / fuel_flow)
        new = (oxidizer_flow + fuel_flow) * efficiency * c_star / throat_area
        if abs(new - pressure) <= CLOSE * pressure:
            break
        pressure = new
    table_at(pair, new)
    return new
