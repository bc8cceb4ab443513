"""Properties of a liquid propellant from CoolProp, kept on disk: importing CoolProp takes 1 to 3 s.

State: temperature and pressure at the inlet of the line; bulk modulus B = rho a^2 (isentropic). A liquid that is none
at that state is refused. The store is one JSON file of plain numbers in the user's cache folder, keyed by name, state
and CoolProp's version; what does not read as such is thrown away and computed again.
"""

import json
import math
import os
import re
import tempfile
import threading
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from sim.cache_folder import cache_folders, is_ours

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9()\-]{0,39}")
BAR = 1e5
"""Pa."""
STORE = "liquids.json"
MOST_STORED = 500
"""entries of the store; the oldest make room."""
MOST_ADDED = 8
"""entries that one process adds, each of which writes the store anew (some milliseconds): those of its cases, which are read first.
The states of a scatter over pressure or temperature are not worth keeping."""
LARGEST_STORE = 2_000_000
"""bytes; a larger file is not ours."""


class LiquidError(ValueError):
    """A liquid that CoolProp cannot give; `key` is the key of the case that is to blame."""

    def __init__(self, key: str, rule: str) -> None:
        super().__init__(rule)
        self.key, self.rule = key, rule


class LiquidState(NamedTuple):
    """A liquid at one temperature and pressure, SI."""

    density: float
    viscosity: float
    """Pa s; NaN where CoolProp has no model"""
    vapour_pressure: float
    """Pa absolute; 0 below the triple point's range"""
    bulk_modulus: float
    """Pa, isentropic"""
    molar_mass: float
    """kg/mol"""


@lru_cache(maxsize=1)
def _coolprop_version() -> str:
    """Version of the installed CoolProp, without importing it."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("CoolProp")
    except PackageNotFoundError:
        return "none"


def liquid_state(name: str, temperature: float, pressure: float) -> LiquidState:
    """Properties of a liquid (a CoolProp name) at a temperature in K and a pressure in Pa absolute."""
    if not _NAME.fullmatch(name):
        raise LiquidError("liquid", "must be the name of a pure fluid in CoolProp, such as Oxygen, Ethanol or Water")
    return _remembered(name, float(temperature), float(pressure))


@lru_cache(maxsize=4096)
def _remembered(name: str, temperature: float, pressure: float) -> LiquidState:
    """From this process, else from the store, else from CoolProp."""
    store = _stored()
    entry = f"{_coolprop_version()}|{name.lower()}|{temperature!r}|{pressure!r}"
    kept = store.states.get(entry)
    if kept is not None:
        return LiquidState(*kept)
    state = _from_coolprop(name, temperature, pressure)
    if store.added < MOST_ADDED:
        store.states[entry] = list(state)
        store.added += 1
        _keep(dict(list(store.states.items())[-MOST_STORED:]))
    return state


class _Store:
    """The stored states and how many of them this process added."""

    def __init__(self, states: dict[str, list[float]]) -> None:
        self.states = states
        self.added = 0


@lru_cache(maxsize=1)
def _stored() -> _Store:
    """The store as it is on disk; empty where there is none or it does not read as one."""
    for folder in cache_folders():
        path = folder / STORE
        try:
            if not is_ours(folder) or path.stat().st_size > LARGEST_STORE:
                continue
            content: Any = json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError):
            continue
        if isinstance(content, dict):
            return _Store({entry: value for entry, value in content.items() if _is_state(value)})
    return _Store({})


def _is_state(value: Any) -> bool:
    """True for five numbers in the order of `LiquidState` that a liquid can have."""
    if not isinstance(value, list) or len(value) != len(LiquidState._fields):
        return False
    if not all(isinstance(number, float | int) and not isinstance(number, bool) for number in value):
        return False
    density, viscosity, vapour_pressure, bulk_modulus, molar_mass = value
    positive = all(math.isfinite(number) and number > 0.0 for number in (density, bulk_modulus, molar_mass))
    return positive and vapour_pressure >= 0.0 and not viscosity <= 0.0


def _keep(states: dict[str, list[float]]) -> None:
    """Writes the store, whole or not at all, in the first folder that takes it; none is no reason to stop."""
    for folder in cache_folders():
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            if not is_ours(folder):
                continue
            handle, temporary = tempfile.mkstemp(dir=folder, prefix="liquids-", suffix=".tmp")
            try:
                with os.fdopen(handle, "w", encoding="utf-8") as file:
                    json.dump(states, file)
                os.replace(temporary, folder / STORE)
            except BaseException:
                Path(temporary).unlink(missing_ok=True)
                raise
            return
        except OSError:
            continue


def _from_coolprop(name: str, temperature: float, pressure: float) -> LiquidState:
    """The properties, computed. LiquidError where the fluid is unknown or no liquid at that state."""
    import CoolProp.CoolProp as coolprop

    fluid = _fluid(coolprop, name)
    if temperature >= fluid.T_critical():
        rule = (
            f"must be below the critical temperature of {name}, {fluid.T_critical():.4g} K: above it nothing is liquid"
        )
        raise LiquidError("temperature", rule)
    try:
        fluid.update(coolprop.PT_INPUTS, pressure, temperature)
        density, sound = fluid.rhomass(), fluid.speed_sound()
        viscosity = _viscosity(fluid)
        fluid.update(coolprop.QT_INPUTS, 0.0, temperature)
        vapour_pressure = float(fluid.p())
    except ValueError:
        raise LiquidError("temperature", f"is outside the range of CoolProp's {name} at the inlet pressure") from None
    if not pressure > vapour_pressure:
        boiling = f"its vapour pressure is {vapour_pressure / BAR:.4g} bara"
        raise LiquidError("temperature", f"leaves {name} no liquid at the inlet pressure: {boiling}")
    return LiquidState(density, viscosity, vapour_pressure, density * sound * sound, fluid.molar_mass())


_fluids = threading.local()


def _fluid(coolprop: Any, name: str) -> Any:
    """CoolProp's fluid of this name, one to a thread: making it takes ten times as long as a state of it."""
    made: dict[str, Any] = _fluids.__dict__
    if name not in made:
        try:
            made[name] = coolprop.AbstractState("HEOS", name)
        except ValueError:
            raise LiquidError("liquid", f"is no fluid of CoolProp{_nearest(coolprop, name)}") from None
    return made[name]


def _viscosity(fluid: Any) -> float:
    """Pa s at the fluid's state; NaN where CoolProp has no model."""
    try:
        return float(fluid.viscosity())
    except ValueError:
        return math.nan


def _nearest(coolprop: Any, name: str) -> str:
    """`; nearest: Ethanol`, or nothing."""
    from difflib import get_close_matches

    fluids = {fluid.lower(): fluid for fluid in coolprop.get_global_param_string("FluidsList").split(",")}
    close = get_close_matches(name.lower(), fluids, n=1)
    return f"; nearest: {fluids[close[0]]}" if close else ""
