"""Properties of a liquid propellant from CoolProp, kept on disk: importing CoolProp takes 1 to 4 s. What CoolProp has not is tabled
(`tabled_liquids`).

State: temperature and pressure at the inlet of the line; bulk modulus B = rho a^2 (isentropic). A liquid that is none
at that state is refused.

At one temperature the properties are smooth in pressure. What is kept is a Chebyshev series of them over a stretch of
pressures (`Isotherm`): another inlet pressure, or a scatter over it, then needs no CoolProp. A series counts only where
it gives CoolProp's values to CLOSE; elsewhere (near the critical point, above 400 bar) states are kept one by one.
The store is one JSON text of plain numbers in the user's cache folder, keyed by name, temperature and CoolProp's
version; what does not read as such is thrown away and computed again.
"""

import json
import math
import re
import threading
from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from sleevelift.cache_folder import cache_folder, keep, kept
from sleevelift.case import tabled_liquids
from sleevelift.reader import METRIC, Phrase

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9()\-]{0,39}")
BAR = 1e5
"""Pa."""
STRETCHES = ((0.0, 100e5), (100e5, 400e5))
"""Pa. Pressures of one series each; the first begins at the vapour pressure."""
TERMS = 15
"""of a series."""
CLOSE = 1e-7
"""-. Largest error of a series that counts. Usual propellants away from their critical point come within 1e-10."""
CHECKED_AT = (-0.99, -0.55, 0.1, 0.96)
"""Places in a stretch, -1 to 1, between those that the series is made of."""
STORE = "liquids.json"
MOST_STORED = 500
"""entries of the store; the oldest make room."""
MOST_ADDED = 8
"""entries that one process adds, each of which writes the store anew (some milliseconds): those of its cases, which are read first.
What a scatter over temperature asks for is not worth keeping."""


LEAST_LIKENESS = 0.8
"""-. Of a name to the one that is suggested for it: a slip of a letter or two, not another fluid that sounds alike."""
INSTEAD = (
    "without a liquid give its properties at the inlet: density, viscosity, vapour_pressure, bulk_modulus (density x speed of "
    "sound squared) and, in a hot case, molar_mass"
)
"""What to do where CoolProp does not have the liquid."""


class LiquidError(ValueError):
    """A liquid that CoolProp cannot give; `key` is the key of the case that is to blame."""

    def __init__(self, key: str, rule: Phrase) -> None:
        super().__init__(rule.said(METRIC))
        self.key, self.rule = key, rule


class LiquidState(NamedTuple):
    """A liquid at one temperature and pressure, SI."""

    density: float
    viscosity: float
    """Pa s; NaN where CoolProp has no model"""
    vapour_pressure: float
    """Pa absolute"""
    bulk_modulus: float
    """Pa, isentropic"""
    molar_mass: float
    """kg/mol"""


class Isotherm(NamedTuple):
    """A liquid at one temperature over a stretch of pressures, SI."""

    vapour_pressure: float
    molar_mass: float
    low: float
    high: float
    density: Sequence[float]
    """Chebyshev coefficients over low..high; none: no series here"""
    bulk_modulus: Sequence[float]
    viscosity: Sequence[float]
    """none where CoolProp has no model"""

    def at(self, pressure: float) -> LiquidState:
        """The state at a pressure of the stretch."""
        place = (2.0 * pressure - self.low - self.high) / (self.high - self.low)
        viscosity = series(self.viscosity, place) if self.viscosity else math.nan
        density, bulk_modulus = series(self.density, place), series(self.bulk_modulus, place)
        return LiquidState(density, viscosity, self.vapour_pressure, bulk_modulus, self.molar_mass)


def series(coefficients: Sequence[float], place: float) -> float:
    """Sum of c_k T_k(place), place from -1 to 1, T_k the Chebyshev polynomials (Clenshaw 1955).

    What `numpy.polynomial.chebyshev.chebval` does, in plain Python: reading a case imports no numpy.
    """
    one = two = 0.0
    for c in coefficients[:0:-1]:
        one, two = 2.0 * place * one - two + c, one
    return place * one - two + coefficients[0]


@lru_cache(maxsize=1)
def _coolprop_version() -> str:
    """Version of the installed CoolProp, without importing it."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("CoolProp")
    except PackageNotFoundError:
        return "none"


def liquid_state(name: str, temperature: float, pressure: float) -> LiquidState:
    """Properties of a liquid (a name of `tabled_liquids` or of CoolProp) at a temperature in K and a pressure in Pa absolute."""
    if not _NAME.fullmatch(name):
        raise LiquidError("liquid", Phrase("must be the name of a pure fluid in CoolProp, such as Oxygen, Ethanol or Water"))
    try:
        tabled = tabled_liquids.state(name, temperature)
        if tabled is None:
            return _state(name, float(temperature), float(pressure))
    except tabled_liquids.TemperatureOutside as error:
        raise LiquidError("temperature", error.rule) from None
    _refuse_boiling(name, pressure, tabled.vapour_pressure)
    density = tabled.density_at(pressure)
    return LiquidState(density, tabled.viscosity, tabled.vapour_pressure, tabled.bulk_modulus, tabled.molar_mass)


def _with_viscosity(state: LiquidState, name: str, temperature: float) -> LiquidState:
    """The state with the tabled viscosity where CoolProp has no model of it and there is a table."""
    if not math.isnan(state.viscosity):
        return state
    viscosity = tabled_liquids.viscosity(name, temperature)
    return state if viscosity is None else state._replace(viscosity=viscosity)


@lru_cache(maxsize=4096)
def _state(name: str, temperature: float, pressure: float) -> LiquidState:
    """By the series of its stretch, else by itself."""
    for number, (_, high) in enumerate(STRETCHES):
        if pressure <= high:
            isotherm = _isotherm(name, temperature, number)
            if not isotherm.density:
                break
            _refuse_boiling(name, pressure, isotherm.vapour_pressure)
            return _with_viscosity(isotherm.at(pressure), name, temperature)
    entry = f"{_entry(name, temperature)}|{pressure!r}"
    state = LiquidState(*_remembered(entry, _is_state, lambda: _from_coolprop(name, temperature, pressure)))
    return _with_viscosity(state, name, temperature)


@lru_cache(maxsize=256)
def _isotherm(name: str, temperature: float, number: int) -> Isotherm:
    """A stretch of an isotherm."""
    entry = f"{_entry(name, temperature)}|stretch {number}"
    return Isotherm(*_remembered(entry, _is_isotherm, lambda: _fitted(name, temperature, *STRETCHES[number])))


def _entry(name: str, temperature: float) -> str:
    return f"{_coolprop_version()}|{name.lower()}|{temperature!r}"


def _remembered(entry: str, good: Callable[[Any], bool], made: Callable[[], Any]) -> Any:
    """From the store, else made now and kept."""
    store = _stored()
    kept = store.values.get(entry)
    if good(kept):
        return kept
    value = made()
    if store.added < MOST_ADDED:
        store.values[entry] = list(value)
        store.added += 1
        keep(cache_folder() / STORE, json.dumps(dict(list(store.values.items())[-MOST_STORED:])).encode())
    return value


class _Store:
    """What is stored and how much of it this process added."""

    def __init__(self, values: dict[str, Any]) -> None:
        self.values = values
        self.added = 0


@lru_cache(maxsize=1)
def _stored() -> _Store:
    """The store as it is on disk; empty where there is none or it does not read as one."""
    try:
        content: Any = json.loads(kept(cache_folder() / STORE) or b"{}")
    except (ValueError, RecursionError):
        content = {}
    return _Store(content if isinstance(content, dict) else {})


def _are_numbers(values: Any, count: int) -> bool:
    """True for a list of so many numbers."""
    if not isinstance(values, list) or len(values) != count:
        return False
    return all(isinstance(number, float | int) and not isinstance(number, bool) for number in values)


def _is_state(value: Any) -> bool:
    """True for five numbers in the order of `LiquidState` that a liquid can have."""
    if not _are_numbers(value, len(LiquidState._fields)):
        return False
    density, viscosity, vapour_pressure, bulk_modulus, molar_mass = value
    positive = all(math.isfinite(number) and number > 0.0 for number in (density, bulk_modulus, molar_mass))
    return positive and vapour_pressure >= 0.0 and not viscosity <= 0.0


def _is_isotherm(value: Any) -> bool:
    """True for four numbers and three series in the order of `Isotherm` that a liquid can have."""
    if not isinstance(value, list) or len(value) != len(Isotherm._fields) or not _are_numbers(value[:4], 4):
        return False
    if not all(_are_numbers(part, TERMS) or part == [] for part in value[4:]) or bool(value[4]) != bool(value[5]):
        return False
    isotherm = Isotherm(*value)
    if not isotherm.density:
        return isotherm.vapour_pressure >= 0.0 and 0.0 < isotherm.molar_mass < math.inf
    if not 0.0 <= isotherm.low < isotherm.high < math.inf:
        return False
    ends = (isotherm.at(pressure) for pressure in (isotherm.low, 0.5 * (isotherm.low + isotherm.high), isotherm.high))
    return all(_is_state(list(state)) for state in ends)


def _from_coolprop(name: str, temperature: float, pressure: float) -> LiquidState:
    """The properties, computed. LiquidError where the fluid is unknown or no liquid at that state."""
    import CoolProp.CoolProp as coolprop

    fluid = _fluid(coolprop, name)
    vapour_pressure = _vapour_pressure(coolprop, fluid, name, temperature)
    try:
        density, bulk_modulus, viscosity = _numbers(coolprop, fluid, temperature, pressure)
    except ValueError:
        raise _outside(name) from None
    _refuse_boiling(name, pressure, vapour_pressure)
    return LiquidState(density, viscosity, vapour_pressure, bulk_modulus, fluid.molar_mass())


def _fitted(name: str, temperature: float, low: float, high: float) -> Isotherm:
    """The series over low..high, Pa, or none where it does not follow CoolProp. LiquidError as `_from_coolprop`."""
    import CoolProp.CoolProp as coolprop
    import numpy as np
    from numpy.polynomial.chebyshev import chebinterpolate

    fluid = _fluid(coolprop, name)
    vapour_pressure = _vapour_pressure(coolprop, fluid, name, temperature)
    low = max(low, vapour_pressure)
    blank = Isotherm(vapour_pressure, fluid.molar_mass(), low, high, [], [], [])
    if low >= high:
        return blank

    def values(places: Iterable[float]) -> Any:
        """Density, bulk modulus and viscosity, a row a place."""
        pressures = (low + 0.5 * (high - low) * (place + 1.0) for place in places)
        return np.array([_numbers(coolprop, fluid, temperature, float(pressure)) for pressure in pressures])

    try:
        coefficients, expected = chebinterpolate(values, TERMS - 1).T.tolist(), values(CHECKED_AT)
    except ValueError:
        return blank
    if np.isnan(expected[:, 2]).all():
        coefficients[2] = []
    fitted = blank._replace(density=coefficients[0], bulk_modulus=coefficients[1], viscosity=coefficients[2])
    for place, numbers in zip(CHECKED_AT, expected):
        for part, number in zip(coefficients, numbers):
            if part and not abs(series(part, place) - number) <= CLOSE * abs(number):
                return blank
    return fitted


def _refuse_boiling(name: str, pressure: float, vapour_pressure: float) -> None:
    if not pressure > vapour_pressure:
        rule = f"leaves {name} no liquid at the inlet pressure: its vapour pressure is {{}}"
        raise LiquidError("temperature", Phrase(rule, (("pressure", vapour_pressure, ".4g"),)))


def _outside(name: str) -> LiquidError:
    return LiquidError("temperature", Phrase(f"is outside the range of CoolProp's {name} at the inlet pressure"))


def _vapour_pressure(coolprop: Any, fluid: Any, name: str, temperature: float) -> float:
    """Pa absolute. LiquidError from the critical temperature on and below the fluid's range."""
    if temperature >= fluid.T_critical():
        rule = f"must be below the critical temperature of {name}, {{}}: above it nothing is liquid"
        raise LiquidError("temperature", Phrase(rule, (("temperature", float(fluid.T_critical()), ".4g"),)))
    try:
        fluid.update(coolprop.QT_INPUTS, 0.0, temperature)
    except ValueError:
        raise _outside(name) from None
    return float(fluid.p())


def _numbers(coolprop: Any, fluid: Any, temperature: float, pressure: float) -> tuple[float, float, float]:
    """(density, bulk modulus, viscosity: NaN where CoolProp has no model), SI. ValueError outside the fluid's range."""
    fluid.update(coolprop.PT_INPUTS, pressure, temperature)
    density, sound = fluid.rhomass(), fluid.speed_sound()
    try:
        viscosity = float(fluid.viscosity())
    except ValueError:
        viscosity = math.nan
    return density, density * sound * sound, viscosity


_fluids = threading.local()


def _fluid(coolprop: Any, name: str) -> Any:
    """CoolProp's fluid of this name, one to a thread: making it takes ten times as long as a state of it."""
    made: dict[str, Any] = _fluids.__dict__
    if name not in made:
        try:
            made[name] = coolprop.AbstractState("HEOS", name)
        except ValueError:
            rule = f"is no fluid of CoolProp and not tabled here{_nearest(coolprop, name)}; {INSTEAD}"
            raise LiquidError("liquid", Phrase(rule)) from None
    return made[name]


def _nearest(coolprop: Any, name: str) -> str:
    """`; nearest: Ethanol`, or nothing."""
    from difflib import get_close_matches

    known = (*coolprop.get_global_param_string("FluidsList").split(","), *tabled_liquids.names())
    fluids = {fluid.lower(): fluid for fluid in known}
    close = get_close_matches(name.lower(), fluids, n=1, cutoff=LEAST_LIKENESS)
    return f"; nearest: {fluids[close[0]]}" if close else ""
