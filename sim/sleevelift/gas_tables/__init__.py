"""Tables of real gases: built once from CoolProp's reference equations, then read from the user's cache folder.

    load_gas("nitrogen")   flat float64 array for the kernels of `sleevelift.physics.gas` (layout in `sleevelift.gas_tables.layout`)
    gas_facts("nitrogen")  gas constant, molar mass, critical point, limits, sources

Gases with a critical temperature below 160 K; any other is refused with a `GasError`. CoolProp is imported only when
a table has to be built.

    largest relative error against CoolProp on 20,000 random states between the nodes, over the whole range
                  p        T        n
    nitrogen    6e-7     1e-7     4e-6        helium: vapour below 1.05 T_crit (5.5 K) only to 0.45 critical densities
    argon       4e-7     1e-7     3e-6        hydrogens, neon, carbon monoxide, fluorine, deuterium: 3e-6, 3e-6, 1e-5
    air         6e-7     6e-7     1e-6        oxygen (from 80 K): 8e-6, 1e-5, 5e-5
    helium      2e-6     4e-6     4e-5

A table is read once per process and the same array handed out again: it must not be written to.
"""

import functools
import re
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sleevelift.gas_tables import store


class GasError(ValueError):
    """A gas that is not known, or not fit for the tables: the sentence says which and why."""


class GasFacts(NamedTuple):
    """What is known of a gas besides its table; SI."""

    name: str
    """As in a case file."""
    coolprop_name: str
    gas_constant: float
    """J/kg/K."""
    molar_mass: float
    """kg/mol."""
    exponent: float
    """-. c_p/c_v of the dilute gas at 293.15 K: the gamma of its perfect-gas stand-in."""
    critical_temperature: float
    critical_pressure: float
    critical_density: float
    lowest_temperature: float
    """K. Triple point (oxygen: 80 K); the table goes 5 K below, flagged."""
    highest_temperature: float
    """K. 700, or less where the equation of state ends."""
    highest_pressure: float
    """Pa. 350 bar, or less where the equation of state ends."""
    coolprop_version: str
    equation_of_state: str
    """Reference of the equation of state, as CoolProp cites it."""


NAMES = {
    "nitrogen": "Nitrogen", "n2": "Nitrogen", "gn2": "Nitrogen",
    "helium": "Helium", "he": "Helium", "ghe": "Helium",
    "air": "Air",
    "argon": "Argon", "ar": "Argon",
    "oxygen": "Oxygen", "o2": "Oxygen", "gox": "Oxygen",
    "neon": "Neon", "ne": "Neon",
    "carbonmonoxide": "CarbonMonoxide", "co": "CarbonMonoxide",
    "fluorine": "Fluorine", "f2": "Fluorine",
    "hydrogen": "Hydrogen", "h2": "Hydrogen",
    "parahydrogen": "ParaHydrogen", "orthohydrogen": "OrthoHydrogen",
    "deuterium": "Deuterium", "d2": "Deuterium",
    "paradeuterium": "ParaDeuterium", "orthodeuterium": "OrthoDeuterium",
}  # fmt: skip
"""Spellings without blanks, hyphens and capitals -> CoolProp's name. Any other spelling is put to CoolProp itself."""


def load_gas(name: str, *, progress: Callable[[str], None] | None = None) -> NDArray[np.float64]:
    """The flat table of gas `name`; built (about half a second and CoolProp's import) when the cache has none.

    `progress` is told a sentence before a table is built. Raises `GasError` for a gas that is unknown or refused.
    """
    return _load(_key(name), progress).table


def gas_facts(name: str, *, progress: Callable[[str], None] | None = None) -> GasFacts:
    """Facts of gas `name`, from the same cache and under the same conditions as its table."""
    return GasFacts(**_load(_key(name), progress).facts)


def _key(name: str) -> str:
    """The plain word a gas is kept under: CoolProp's name in small letters."""
    plain = re.sub(r"[^a-z0-9]", "", str(name).lower())
    if not plain:
        raise GasError(f"{name!r} is not the name of a gas: try nitrogen, helium, air or argon")
    return NAMES.get(plain, plain).lower()


def _load(key: str, progress: Callable[[str], None] | None) -> store.Stored:
    """A gas from this process, else from the cache folder, else built."""
    kept = _kept(key, str(store.file_of(key)))
    if not kept:
        found = store.read(key)
        if found is None:
            found = _build(key, progress)
            store.write(key, found)
        kept.append(found)
    return kept[0]


@functools.cache
def _kept(key: str, file: str) -> list[store.Stored]:
    """The place of a gas in this process: a study builds thousands of cases of one gas. (Empty until it is filled.)"""
    return []


def _build(key: str, progress: Callable[[str], None] | None) -> store.Stored:
    """A gas's table and facts from CoolProp."""
    from sleevelift.gas_tables import build, edges

    fluid = {spelling.lower(): spelling for spelling in NAMES.values()}.get(key, key)
    try:
        equation = edges.Equation(fluid)
    except ValueError as error:
        raise GasError(f"{key!r} is no gas known to CoolProp: try nitrogen, helium, air or argon") from error
    T_crit = float(equation.imposed.T_critical())
    if T_crit >= edges.HIGHEST_CRITICAL_TEMPERATURE:
        raise GasError(
            f"{fluid}: critical temperature {T_crit:.1f} K; the gas tables take only gases below "
            f"{edges.HIGHEST_CRITICAL_TEMPERATURE:.0f} K (nitrogen, helium, air, argon, ...), which stay gas as they "
            "expand through a valve"
        )
    if progress is not None:
        progress(f"building the gas table of {fluid} from CoolProp (once; kept in {store.file_of(key).parent})")
    return store.Stored(build.build_table(fluid), _facts(key, fluid, equation)._asdict())


def _facts(key: str, fluid: str, equation: Any) -> GasFacts:
    """The facts of a gas as CoolProp has them."""
    from sleevelift.gas_tables import edges

    state = equation.imposed
    limits = edges.gas_limits(equation)
    reference = equation.library.get_BibTeXKey(fluid, "EOS")
    return GasFacts(
        name=key,
        coolprop_name=fluid,
        gas_constant=limits.gas_constant,
        molar_mass=float(state.molar_mass()),
        exponent=edges.dilute_exponent(equation, limits),
        critical_temperature=limits.critical_temperature,
        critical_pressure=float(state.p_critical()),
        critical_density=limits.critical_density,
        lowest_temperature=limits.lowest_temperature,
        highest_temperature=limits.highest_temperature,
        highest_pressure=limits.highest_pressure,
        coolprop_version=store.signature()["coolprop"],
        equation_of_state=str(reference),
    )
