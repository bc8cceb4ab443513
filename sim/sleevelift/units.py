"""Units: the only place where a number changes its unit.

    "12.7 mm"  ->  0.0127                     at the border of the program (case files, command line, results)
    0.0127     ->  "12.7 mm"                  on the way out

Inside the program everything is SI and every pressure is absolute. A quantity is written as a number, then a unit:
`"28 N/mm"`, `"160 lbf/in"`, `"100 W/(m2 K)"`. What a unit may be depends on the kind of quantity (`KINDS`). A length may
be a fraction, `"3/16 in"` or `"1 1/2 in"`, or a number drill, `"#44"`.

Pressures say what they are measured from: the last letter is `a` (absolute) or `g` (gauge, above the ambient pressure
of the case): bara, barg, psia, psig, kPaa, MPag, Paa. A difference of pressures takes the plain unit and refuses a
and g.

Units are products of named units with whole exponents: `kg/(m s)`, `N*s/m`, `mm2`, `m^3`, `m/s**2`. The names that
trade drawings and datasheets use stand in `NAMED_UNITS`, so that reading a case does not import pint (1 s); any other
name is looked up in pint's default registry. A test holds every entry of the table against pint. Only single names
reach pint, never an expression, so that no text from a file can make it evaluate `9**9**9`.

Temperatures: K, degC, degF, degR (or R) on their own are temperatures; inside a product (`W/(m2 K)`) they are intervals.
"""

import math
import re
from functools import lru_cache
from typing import NamedTuple

from sleevelift.drills import NUMBER_DRILLS_INCH

Dimension = tuple[int, int, int, int, int, int, int]
"""Exponents of metre, kilogram, second, ampere, kelvin, mole, radian."""

PLAIN: Dimension = (0, 0, 0, 0, 0, 0, 0)

LONGEST_TEXT = 80
"""characters. A quantity is short; longer text is no quantity and is refused before it is looked at."""

LARGEST_EXPONENT = 4
"""-. The highest power in use is mm4 (second moment of area)."""


class UnitError(ValueError):
    """A text that is no quantity of the kind asked for; the message is the rule that it breaks."""


class NamedUnit(NamedTuple):
    factor: float
    """SI per unit"""
    dimension: Dimension
    offset: float = 0.0
    """K, added after scaling, for temperatures that do not start at absolute zero"""


class Kind(NamedTuple):
    """One kind of quantity: its dimension, its SI unit and how it is usually written."""

    name: str
    dimension: Dimension
    si_unit: str
    examples: str


class Reading(NamedTuple):
    """A quantity as read."""

    si: float
    """value in SI; pressures absolute"""
    number: float
    """the number as written"""
    unit: str
    """the unit as written"""
    gauge: bool
    """true where the pressure was written above ambient"""


# -------------------------------------------------------------------------------- named units

_LENGTH: Dimension = (1, 0, 0, 0, 0, 0, 0)
_AREA: Dimension = (2, 0, 0, 0, 0, 0, 0)
_VOLUME: Dimension = (3, 0, 0, 0, 0, 0, 0)
_MASS: Dimension = (0, 1, 0, 0, 0, 0, 0)
_TIME: Dimension = (0, 0, 1, 0, 0, 0, 0)
_CURRENT: Dimension = (0, 0, 0, 1, 0, 0, 0)
_TEMPERATURE: Dimension = (0, 0, 0, 0, 1, 0, 0)
_AMOUNT: Dimension = (0, 0, 0, 0, 0, 1, 0)
_ANGLE: Dimension = (0, 0, 0, 0, 0, 0, 1)
_FORCE: Dimension = (1, 1, -2, 0, 0, 0, 0)
_PRESSURE: Dimension = (-1, 1, -2, 0, 0, 0, 0)
_ENERGY: Dimension = (2, 1, -2, 0, 0, 0, 0)
_POWER: Dimension = (2, 1, -3, 0, 0, 0, 0)
_VOLTAGE: Dimension = (2, 1, -3, -1, 0, 0, 0)
_RESISTANCE: Dimension = (2, 1, -3, -2, 0, 0, 0)
_INDUCTANCE: Dimension = (2, 1, -2, -2, 0, 0, 0)
_VISCOSITY: Dimension = (-1, 1, -1, 0, 0, 0, 0)

INCH = 0.0254
"""m. International inch, 1959 (exact)."""
FOOT = 12.0 * INCH
POUND = 0.45359237
"""kg. International pound, 1959 (exact)."""
GRAVITY = 9.80665
"""m/s2. CGPM 1901 (exact); in the pound-force."""
POUND_FORCE = POUND * GRAVITY
ZERO_CELSIUS = 273.15
"""K (exact)."""

_METRIC: dict[str, tuple[float, Dimension]] = {
    # named units that take a prefix
    "m": (1.0, _LENGTH),
    "g": (1e-3, _MASS),
    "s": (1.0, _TIME),
    "A": (1.0, _CURRENT),
    "mol": (1.0, _AMOUNT),
    "N": (1.0, _FORCE),
    "Pa": (1.0, _PRESSURE),
    "bar": (1e5, _PRESSURE),
    "J": (1.0, _ENERGY),
    "W": (1.0, _POWER),
    "V": (1.0, _VOLTAGE),
    "ohm": (1.0, _RESISTANCE),
    "H": (1.0, _INDUCTANCE),
    "L": (1e-3, _VOLUME),
    "l": (1e-3, _VOLUME),
    "P": (0.1, _VISCOSITY),
    "rad": (1.0, _ANGLE),
}
_PREFIXES = {"n": 1e-9, "u": 1e-6, "m": 1e-3, "c": 1e-2, "d": 1e-1, "h": 1e2, "k": 1e3, "M": 1e6, "G": 1e9}
_SINGLE: dict[str, NamedUnit] = {
    "K": NamedUnit(1.0, _TEMPERATURE),
    "degC": NamedUnit(1.0, _TEMPERATURE, ZERO_CELSIUS),
    "degF": NamedUnit(5.0 / 9.0, _TEMPERATURE, ZERO_CELSIUS - 32.0 * 5.0 / 9.0),
    "degR": NamedUnit(5.0 / 9.0, _TEMPERATURE),
    "R": NamedUnit(5.0 / 9.0, _TEMPERATURE),
    "in": NamedUnit(INCH, _LENGTH),
    "inch": NamedUnit(INCH, _LENGTH),
    "ft": NamedUnit(FOOT, _LENGTH),
    "thou": NamedUnit(1e-3 * INCH, _LENGTH),
    "mil": NamedUnit(1e-3 * INCH, _LENGTH),
    "micron": NamedUnit(1e-6, _LENGTH),
    "cc": NamedUnit(1e-6, _VOLUME),
    "litre": NamedUnit(1e-3, _VOLUME),
    "liter": NamedUnit(1e-3, _VOLUME),
    "lb": NamedUnit(POUND, _MASS),
    "lbm": NamedUnit(POUND, _MASS),
    "oz": NamedUnit(POUND / 16.0, _MASS),
    "lbmol": NamedUnit(1e3 * POUND, _AMOUNT),
    "min": NamedUnit(60.0, _TIME),
    "h": NamedUnit(3600.0, _TIME),
    "hour": NamedUnit(3600.0, _TIME),
    "lbf": NamedUnit(POUND_FORCE, _FORCE),
    "kgf": NamedUnit(GRAVITY, _FORCE),
    "psi": NamedUnit(POUND_FORCE / INCH**2, _PRESSURE),
    "ksi": NamedUnit(1e3 * POUND_FORCE / INCH**2, _PRESSURE),
    "BTU": NamedUnit(1055.056, _ENERGY),  # International Table
    "atm": NamedUnit(101325.0, _PRESSURE),
    "torr": NamedUnit(101325.0 / 760.0, _PRESSURE),
    "deg": NamedUnit(math.pi / 180.0, _ANGLE),
    "Hz": NamedUnit(1.0, (0, 0, -1, 0, 0, 0, 0)),
}

_OTHER_MEANING = ("hbar",)
"""Names that mean something else in physics."""


def _named_units() -> dict[str, NamedUnit]:
    """Every unit name that is read without pint."""
    table = dict(_SINGLE)
    for name, (factor, dimension) in _METRIC.items():
        table[name] = NamedUnit(factor, dimension)
        for prefix, scale in _PREFIXES.items():
            if prefix + name in _OTHER_MEANING:
                continue
            table.setdefault(prefix + name, NamedUnit(scale * factor, dimension))
    return table


NAMED_UNITS = _named_units()
"""Read without pint. A name of `_SINGLE` stands before a prefixed one: `min` is a minute, `ft` a foot."""

PRESSURE_UNITS = ("Pa", "hPa", "kPa", "MPa", "GPa", "mbar", "bar", "psi", "ksi", "atm", "torr")
"""Units that take `a` (absolute) or `g` (gauge)."""


# -------------------------------------------------------------------------------- kinds

KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("length", _LENGTH, "m", '"12.7 mm" or "0.5 in"'),
        Kind("area", _AREA, "m2", '"22 mm2"'),
        Kind("volume", _VOLUME, "m3", '"40 cm3" or "2 litre"'),
        Kind("mass", _MASS, "kg", '"165 g"'),
        Kind("time", _TIME, "s", '"8 ms" or "0.1 s"'),
        Kind("angle", _ANGLE, "rad", '"45 deg"'),
        Kind("force", _FORCE, "N", '"770 N" or "170 lbf"'),
        Kind("stiffness", (0, 1, -2, 0, 0, 0, 0), "N/m", '"28 N/mm" or "160 lbf/in"'),
        Kind("line force", (0, 1, -2, 0, 0, 0, 0), "N/m", '"70 N/m"'),
        Kind("pressure", _PRESSURE, "Pa", '"31 bara" or "450 psig"'),
        Kind("pressure difference", _PRESSURE, "Pa", '"2 bar" or "30 psi"'),
        Kind("stress", _PRESSURE, "Pa", '"75 GPa" or "900 MPa"'),
        Kind("temperature", _TEMPERATURE, "K", '"293.15 K" or "20 degC"'),
        Kind("temperature difference", _TEMPERATURE, "K", '"5 K"'),
        Kind("density", (-3, 1, 0, 0, 0, 0, 0), "kg/m3", '"998.2 kg/m3"'),
        Kind("viscosity", _VISCOSITY, "Pa s", '"1.0 mPa s" or "0.195 cP"'),
        Kind("speed", (1, 0, -1, 0, 0, 0, 0), "m/s", '"1.2 m/s"'),
        Kind("flow", (0, 1, -1, 0, 0, 0, 0), "kg/s", '"0.5 kg/s" or "500 g/s"'),
        Kind("conductance", (4, -1, 1, 0, 0, 0, 0), "m3/(s Pa)", '"1.284e-8 m3/(s Pa)" or "1.3 L/(s bar)"'),
        Kind("current", _CURRENT, "A", '"0.4 A"'),
        Kind("voltage", _VOLTAGE, "V", '"28 V"'),
        Kind("resistance", _RESISTANCE, "ohm", '"45 ohm"'),
        Kind("inductance", _INDUCTANCE, "H", '"0.3 H"'),
        Kind("heat transfer coefficient", (0, 1, -3, 0, -1, 0, 0), "W/(m2 K)", '"100 W/(m2 K)"'),
        Kind("damping", (0, 1, -1, 0, 0, 0, 0), "N s/m", '"40 N s/m"'),
        Kind("molar mass", (0, 1, 0, 0, 0, -1, 0), "kg/mol", '"32 g/mol"'),
        Kind("specific gas constant", (2, 0, -2, 0, -1, 0, 0), "J/(kg K)", '"355 J/(kg K)"'),
        Kind("energy", _ENERGY, "J", '"12 J"'),
        Kind("frequency", (0, 0, -1, 0, 0, 0, 0), "Hz", '"200 Hz"'),
        Kind("number", PLAIN, "-", "0.7"),
    )
}

RANGE_KIND = {"pressure": "pressure difference", "temperature": "temperature difference"}
"""The kind of a plus-or-minus: a pressure varies by a difference, a temperature by an interval."""

_QUANTITY = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*", re.ASCII | re.DOTALL)
_FRACTION = re.compile(r"\s*(?:(\d{1,4})[\s-]\s*)?(\d{1,4})\s*/\s*(\d{1,4})\s*([A-Za-z].*?)\s*", re.ASCII)
_NUMBER_DRILL = re.compile(r"\s*#\s*(\d{1,3})\s*", re.ASCII)
_TOKEN = re.compile(r"\s*(?:\*\*|\^)\s*([+-]?\d+)|([+-]?\d+)|\s*([A-Za-z]+)|\s*([*/()])", re.ASCII)
"""An exponent stands after ** or ^, or at once behind its unit (m3); then names and signs."""
_SPELLINGS = str.maketrans({"\u00b5": "u", "\u03bc": "u", "\u03a9": "ohm", "\u2126": "ohm", "\u00b7": "*", "²": "2", "³": "3"})


# -------------------------------------------------------------------------------- reading a unit


@lru_cache(maxsize=4096)
def named_unit(name: str) -> NamedUnit:
    """The unit of one name: from the table, else from pint. UnitError if neither knows it."""
    if name in NAMED_UNITS:
        return NAMED_UNITS[name]
    return _unit_from_pint(name)


@lru_cache(maxsize=1)
def _registry() -> object:
    import pint

    return pint.UnitRegistry(cache_folder=None)


_BASE_UNITS = {"meter": 0, "kilogram": 1, "second": 2, "ampere": 3, "kelvin": 4, "mole": 5, "radian": 6}


def _unit_from_pint(name: str) -> NamedUnit:
    """The unit of one name in pint's default registry, reduced to SI base units."""
    registry = _registry()
    try:
        base = registry.Quantity(1.0, registry.Unit(name)).to_base_units()  # type: ignore[attr-defined]
        exponents = [0, 0, 0, 0, 0, 0, 0]
        for base_name, power in base.units._units.items():
            if power != int(power):
                raise UnitError(f"unit {name!r} has a broken exponent")
            exponents[_BASE_UNITS[base_name]] = int(power)
        return NamedUnit(float(base.magnitude), tuple(exponents))  # type: ignore[arg-type]
    except UnitError:
        raise
    except Exception as error:  # pint raises half a dozen unrelated classes for a name that it does not know
        raise UnitError(f"unknown unit {shown(name)}") from error


class _UnitParser:
    """Recursive descent: `product := power (('*' | '/' | ' ') power)*`, `power := (name | '(' product ')') [int]`."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.tokens = self._tokens(text)
        self.at = 0

    def _tokens(self, text: str) -> list[str]:
        tokens: list[str] = []
        position = 0
        while position < len(text):
            match = _TOKEN.match(text, position)
            if match is None:
                raise UnitError(f"{shown(text)} is no unit")
            tokens.append(next(token for token in match.groups() if token))
            position = match.end()
        return tokens

    def _next(self) -> str:
        return self.tokens[self.at] if self.at < len(self.tokens) else ""

    def product(self) -> NamedUnit:
        result = self.power()
        while self._next() and self._next() != ")":
            divide = self._next() == "/"
            if self._next() in "*/":
                self.at += 1
            result = _multiplied(result, self.power(), -1 if divide else 1)
        return result

    def power(self) -> NamedUnit:
        token = self._next()
        self.at += 1
        if token == "(":
            unit = self.product()
            if self._next() != ")":
                raise UnitError(f"{shown(self.text)} is no unit: a bracket is not closed")
            self.at += 1
        elif token.isalpha():
            unit = named_unit(token)
        else:
            raise UnitError(f"{shown(self.text)} is no unit")
        exponent = self._next()
        if exponent.lstrip("+-").isdigit():
            self.at += 1
            if abs(int(exponent)) > LARGEST_EXPONENT:
                raise UnitError(f"{shown(self.text)} is no unit: exponents go to {LARGEST_EXPONENT}")
            unit = _multiplied(NamedUnit(1.0, PLAIN), unit, int(exponent))
        return unit


def _multiplied(left: NamedUnit, right: NamedUnit, power: int) -> NamedUnit:
    """left x right^power; offsets of temperatures are dropped, since in a product they are intervals."""
    dimension = tuple(a + power * b for a, b in zip(left.dimension, right.dimension))
    return NamedUnit(left.factor * right.factor**power, dimension)  # type: ignore[arg-type]


@lru_cache(maxsize=4096)
def unit(text: str) -> NamedUnit:
    """The unit that a text means. UnitError if it means none."""
    parser = _UnitParser(text.translate(_SPELLINGS))
    if not parser.tokens:
        raise UnitError("has no unit")
    result = parser.product()
    if parser.at < len(parser.tokens):
        raise UnitError(f"{shown(text)} is no unit: a bracket is not opened")
    return result


# -------------------------------------------------------------------------------- reading a quantity


def shown(text: object, longest: int = 60) -> str:
    """A text from outside, quoted, cut to a line: no control characters, no line breaks."""
    raw = text if isinstance(text, str) else repr(text)
    cut = raw if len(raw) <= longest else raw[:longest] + "..."
    clean = "".join(letter if letter.isprintable() else f"\\x{ord(letter):02x}" for letter in cut)
    return f'"{clean}"' if isinstance(text, str) else clean


def read_quantity(text: str, kind: str, ambient_pressure: float = math.nan) -> Reading:
    """The SI value of a text such as "12.7 mm".

    kind: a name of `KINDS`. ambient_pressure in Pa absolute is what gauge pressures are above; without it (NaN) they
    are refused. UnitError names the rule that the text breaks.
    """
    wanted = KINDS[kind]
    if len(text) > LONGEST_TEXT:
        raise UnitError(f"must be a number and a unit such as {wanted.examples}, at most {LONGEST_TEXT} characters")
    number, unit_text = parts(text, kind)
    if not math.isfinite(number):
        raise UnitError("must be a finite number")
    if kind == "pressure":
        return _pressure_reading(number, unit_text, ambient_pressure)
    if not unit_text:
        raise UnitError(f"needs a unit, such as {wanted.examples}")
    if wanted.dimension == _PRESSURE and _pressure_reference(unit_text):
        raise UnitError(f"is a {kind}: write {unit_text[:-1]}, not {unit_text} (absolute and gauge are for pressures at a point)")
    try:
        meaning = unit(unit_text)
    except UnitError as error:
        raise UnitError(f"must be a {kind} such as {wanted.examples}; {error}") from error
    if meaning.dimension != wanted.dimension:
        raise UnitError(f"must be a {kind} such as {wanted.examples}; {shown(unit_text)} measures something else")
    offset = meaning.offset if kind == "temperature" else 0.0
    return Reading(_finite(number * meaning.factor + offset), number, unit_text, False)


def parts(text: str, kind: str) -> tuple[float, str]:
    """(number, unit as written) of a text; a number drill is its diameter in inches. UnitError where it is none."""
    drill, fraction = _NUMBER_DRILL.fullmatch(text), _FRACTION.fullmatch(text)
    if kind == "length" and drill:
        if not 1 <= int(drill.group(1)) <= len(NUMBER_DRILLS_INCH):
            raise UnitError(f"is no number drill: they go from #1 to #{len(NUMBER_DRILLS_INCH)}")
        return NUMBER_DRILLS_INCH[int(drill.group(1)) - 1], "in"
    if kind == "length" and fraction and int(fraction.group(3)):
        whole, above, below, unit_text = fraction.groups()
        return int(whole or 0) + int(above) / int(below), unit_text
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise UnitError(f"must be a number and a unit such as {KINDS[kind].examples}")
    return float(match.group(1)), match.group(2)


def _pressure_reference(unit_text: str) -> str:
    """`a` or `g` if the unit is a pressure unit with that ending, else nothing."""
    return unit_text[-1:] if unit_text[-1:] in ("a", "g") and unit_text[:-1] in PRESSURE_UNITS else ""


def _pressure_reading(number: float, unit_text: str, ambient_pressure: float) -> Reading:
    """A pressure at a point, absolute: the unit says from where it is measured."""
    reference = _pressure_reference(unit_text)
    if not reference:
        raise UnitError(_pressure_refusal(unit_text))
    value = number * NAMED_UNITS[unit_text[:-1]].factor
    if reference == "a":
        return Reading(_finite(value), number, unit_text, False)
    if math.isnan(ambient_pressure):
        raise UnitError(f"must be absolute ({unit_text[:-1]}a): there is no ambient pressure to count a gauge from")
    return Reading(_finite(value + ambient_pressure), number, unit_text, True)


def _pressure_refusal(unit_text: str) -> str:
    """Why a unit is no unit of absolute or gauge pressure, with what to write instead."""
    if not unit_text:
        return f"needs a unit, such as {KINDS['pressure'].examples}"
    plain = unit_text.strip()
    if plain in PRESSURE_UNITS:
        return f"must say from where it is measured: {plain}a (absolute) or {plain}g (gauge, above ambient)"
    units = ", ".join(f"{name}a/{name}g" for name in ("bar", "psi", "kPa", "MPa", "Pa"))
    return f"must be a pressure in {units}; {shown(unit_text)} is none of them"


def _finite(value: float) -> float:
    """The value to 15 digits, so that "24.3 mm" is the same number as "0.0243 m"."""
    if not math.isfinite(value):
        raise UnitError("must be a finite number")
    return float(f"{value:.15g}")


# -------------------------------------------------------------------------------- writing a quantity


def in_unit(si: float, unit_text: str, kind: str, ambient_pressure: float = math.nan) -> float:
    """The number that an SI value has in a unit: the inverse of `read_quantity`."""
    if kind == "number" or not unit_text or unit_text == "-":
        return si
    if kind == "pressure" and _pressure_reference(unit_text):
        base = ambient_pressure if unit_text.endswith("g") else 0.0
        return (si - base) / NAMED_UNITS[unit_text[:-1]].factor
    meaning = unit(unit_text)
    offset = meaning.offset if kind == "temperature" else 0.0
    return (si - offset) / meaning.factor


def written(si: float, unit_text: str, kind: str, ambient_pressure: float = math.nan) -> str:
    """An SI value as text in a unit, to six digits: written(0.0127, "mm", "length") is "12.7 mm"."""
    number = in_unit(si, unit_text, kind, ambient_pressure)
    return f"{number:.6g}" if unit_text in ("", "-") else f"{number:.6g} {unit_text}"
