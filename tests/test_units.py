"""Units: every named unit against pint, quantities by hand, hostile text."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sleevelift import units
from sleevelift.units import KINDS, NAMED_UNITS, UnitError, in_unit, read_quantity, unit, written

AMBIENT = 101325.0
REGISTRY = pint.UnitRegistry(cache_folder=None)
BASE = ("meter", "kilogram", "second", "ampere", "kelvin", "mole", "radian")


def test_pound_mass_is_the_pound() -> None:
    """lbm is the trade's name; pint knows it as lb."""
    assert NAMED_UNITS["lbm"] == NAMED_UNITS["lb"]


def test_what_engineers_write_and_pint_does_not_know() -> None:
    """R is the degree Rankine (pint: the molar gas constant), mil a thousandth of an inch (pint: an angle); a pound-mole is a pound
    over a gram, in moles."""
    assert NAMED_UNITS["mil"] == NAMED_UNITS["thou"]
    assert NAMED_UNITS["R"] == NAMED_UNITS["degR"]
    assert NAMED_UNITS["lbmol"].factor == pytest.approx(453.59237, rel=1e-12)
    assert NAMED_UNITS["lbmol"].dimension == NAMED_UNITS["mol"].dimension


@pytest.mark.parametrize("name", sorted(set(NAMED_UNITS) - {"lbm", "R", "lbmol", "mil"}))
def test_named_unit_is_what_pint_says(name: str) -> None:
    """Computed live with pint's default registry: factor, offset and dimension."""
    base = REGISTRY.Quantity(1.0, name).to_base_units() if name not in ("degC", "degF") else None
    entry = NAMED_UNITS[name]
    if base is None:
        at_zero = REGISTRY.Quantity(0.0, name).to("kelvin").magnitude
        at_one = REGISTRY.Quantity(1.0, name).to("kelvin").magnitude
        assert entry.offset == pytest.approx(at_zero, rel=1e-12)
        assert entry.factor == pytest.approx(at_one - at_zero, rel=1e-11)
        return
    assert entry.factor == pytest.approx(base.magnitude, rel=1e-12)
    exponents = {str(part): int(power) for part, power in base.units._units.items()}
    assert dict(zip(BASE, entry.dimension, strict=True)) == {part: exponents.get(part, 0) for part in BASE}


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_reads_its_si_unit_as_one(kind: str) -> None:
    """The SI unit of each kind has factor 1 and the kind's dimension."""
    if kind == "number":
        return
    meaning = unit(KINDS[kind].si_unit)
    assert meaning.dimension == KINDS[kind].dimension
    assert meaning.factor == 1.0


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_examples_of_a_kind_can_be_read(kind: str) -> None:
    for text in KINDS[kind].examples.split('"')[1::2]:
        assert math.isfinite(read_quantity(text, kind, AMBIENT).si)


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        # closed form: definitions of the inch, the pound, standard gravity and the Celsius and Fahrenheit scales
        ("12.7 mm", "length", 0.0127),
        ("0.5 in", "length", 0.0127),
        ("28 N/mm", "stiffness", 28000.0),
        ("160 lbf/in", "stiffness", 160 * 0.45359237 * 9.80665 / 0.0254),
        ("31 bara", "pressure", 31e5),
        ("30 barg", "pressure", 30e5 + AMBIENT),
        ("450 psia", "pressure", 450 * 0.45359237 * 9.80665 / 0.0254**2),
        ("0 psig", "pressure", AMBIENT),
        ("3 MPag", "pressure", 3e6 + AMBIENT),
        ("300 kPaa", "pressure", 3e5),
        ("101325 Paa", "pressure", 101325.0),
        ("1 atma", "pressure", 101325.0),
        ("2 bar", "pressure difference", 2e5),
        ("20 degC", "temperature", 293.15),
        ("68 degF", "temperature", 293.15),
        ("5 K", "temperature difference", 5.0),
        ("9 degF", "temperature difference", 5.0),
        ("0.195 cP", "viscosity", 0.195e-3),
        ("1.0 mPa s", "viscosity", 1e-3),
        ("100 W/(m2 K)", "heat transfer coefficient", 100.0),
        ("1.3 L/(s bar)", "conductance", 1.3e-8),
        ("45 deg", "angle", math.pi / 4),
        ("5 \N{MICRO SIGN}m", "length", 5e-6),
        ("50 cm^3", "volume", 5e-5),
        ("50 cm**3", "volume", 5e-5),
        ("40 N\N{MIDDLE DOT}s/m", "damping", 40.0),
        ("3 k\N{GREEK CAPITAL LETTER OMEGA}", "resistance", 3000.0),
        ("355 J/kg/K", "specific gas constant", 355.0),
        ("1e2mm", "length", 0.1),
        ("+.5 mm", "length", 0.0005),
        ("  7 mm ", "length", 0.007),
        ("3/16 in", "length", 3 / 16 * 0.0254),
        ("1 1/2 in", "length", 1.5 * 0.0254),
        ("1-1/8in", "length", 1.125 * 0.0254),
        ("28.0134 lb/lbmol", "molar mass", 28.0134e-3),
        ("55 ft lbf/(lb R)", "specific gas constant", 55 * 0.3048 * 9.80665 * 1.8),
        ("1 ft lbf/(lbm degR)", "specific gas constant", 0.3048 * 9.80665 * 1.8),
        ("491.67 R", "temperature", 273.15),
        # ASME B94.11M, inches; number drills as in circuitousroot.com/artifice/measurement/data
        ("#1", "length", 0.228 * 0.0254),
        ("#44", "length", 0.086 * 0.0254),
        ("# 80", "length", 0.0135 * 0.0254),
        ("2 furlong", "length", 402.336804674),  # pint 0.25: survey furlong
    ],
)
def test_reads(text: str, kind: str, expected: float) -> None:
    assert read_quantity(text, kind, AMBIENT).si == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("31 bar", "pressure", "bara (absolute) or barg (gauge"),
        ("450 psi", "pressure", "psia (absolute) or psig (gauge"),
        ("31", "pressure", "needs a unit"),
        ("31 mm", "pressure", "bara/barg"),
        ("31 bargg", "pressure", "none of them"),
        ("2 barg", "pressure difference", "write bar, not barg"),
        ("2 bara", "pressure difference", "write bar, not bara"),
        ("75 GPaa", "stress", "write GPa, not GPaa"),
        ("3", "length", "needs a unit"),
        ("3 kg", "length", "measures something else"),
        ("nan mm", "length", "must be a number and a unit"),
        ("inf mm", "length", "must be a number and a unit"),
        ("1e999 mm", "length", "finite"),
        ("1e300 kg/m3/um3", "density", "measures something else"),
        ("1e308 km", "length", "finite"),
        ("#0", "length", "from #1 to #80"),
        ("#81", "length", "from #1 to #80"),
        ("#44", "area", "must be a number and a unit"),
        ("3/0 in", "length", "is no unit"),
        ("3/16 bara", "pressure", "none of them"),
        ("3 frog", "length", 'unknown unit "frog"'),
        ("3 frog", "force", 'must be a force such as "770 N"'),
        ("3 mm)", "length", "is no unit"),
        ("3 (mm", "length", "is no unit"),
        ("3 m^9999999", "length", "exponents go to"),
        ("3 m m m m m", "length", "measures something else"),
        ("3 m/", "length", "is no unit"),
        ("3 *", "length", "is no unit"),
        ("", "length", "must be a number and a unit"),
        ("mm", "length", "must be a number and a unit"),
        ("3 mm 4", "length", "is no unit"),
        ("\N{ARABIC-INDIC DIGIT THREE} mm", "length", "must be a number and a unit"),
        ("\N{MINUS SIGN}3 mm", "length", "must be a number and a unit"),
        ("3 " + "m" * 200, "length", "at most 80 characters"),
        ("3 m\n", "pressure", "bara/barg"),
        ("3 __import__", "length", "is no unit"),
    ],
)
def test_refuses(text: str, kind: str, words: str) -> None:
    with pytest.raises(UnitError, match=r".*") as caught:
        read_quantity(text, kind, AMBIENT)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_gauge_needs_an_ambient_pressure() -> None:
    with pytest.raises(UnitError, match="no ambient pressure"):
        read_quantity("3 barg", "pressure")
    assert read_quantity("3 bara", "pressure").si == 3e5


def test_exact_where_the_text_is_exact() -> None:
    """15 digits: the same number however it is written."""
    assert read_quantity("24.3 mm", "length").si == read_quantity("0.0243 m", "length").si == 0.0243
    assert read_quantity("50 cm3", "volume").si == 5e-5


@given(st.floats(-1e6, 1e6), st.sampled_from(["bara", "psia", "kPaa", "MPaa", "mbara"]), st.floats(1e3, 1e6))
def test_gauge_is_absolute_above_ambient(number: float, absolute: str, ambient: float) -> None:
    gauge = absolute[:-1] + "g"
    difference = (
        read_quantity(f"{number!r} {gauge}", "pressure", ambient).si
        - read_quantity(f"{number!r} {absolute}", "pressure", ambient).si
    )
    scale = abs(number) * NAMED_UNITS[absolute[:-1]].factor + ambient
    assert difference == pytest.approx(ambient, abs=1e-13 * scale)


@given(
    st.floats(1e-9, 1e9),
    st.sampled_from(
        [("mm", "length"), ("in", "length"), ("barg", "pressure"), ("psia", "pressure"), ("degF", "temperature")]
        + [("N/mm", "stiffness"), ("lbf/in", "stiffness"), ("cm3", "volume"), ("deg", "angle"), ("ms", "time")]
    ),
)
def test_a_value_comes_back(number: float, where: tuple[str, str]) -> None:
    """in_unit is the inverse of reading."""
    unit_text, kind = where
    si = read_quantity(f"{number!r} {unit_text}", kind, AMBIENT).si
    zero = abs(read_quantity(f"0 {unit_text}", kind, AMBIENT).si)
    step = unit(unit_text[:-1] if kind == "pressure" else unit_text).factor
    assert in_unit(si, unit_text, kind, AMBIENT) == pytest.approx(number, rel=1e-12, abs=1e-13 * zero / step)


def test_written_values() -> None:
    assert written(0.0127, "mm", "length") == "12.7 mm"
    assert written(3101325.0, "barg", "pressure", AMBIENT) == "30 barg"
    assert written(0.7, "-", "number") == "0.7"


@given(st.text(max_size=90), st.sampled_from(sorted(KINDS)))
def test_any_text_is_read_or_refused(text: str, kind: str) -> None:
    try:
        value = read_quantity(text, kind, AMBIENT).si
    except UnitError as error:
        assert str(error).isprintable()
        return
    assert math.isfinite(value)


UNIT_TEXT = st.text(alphabet="mkgsAKNPabr/()* ^-123", max_size=20)


@given(st.integers(-9, 9), UNIT_TEXT, st.sampled_from(sorted(KINDS)))
def test_any_unit_is_read_or_refused(number: int, unit_text: str, kind: str) -> None:
    try:
        value = read_quantity(f"{number} {unit_text}", kind, AMBIENT).si
    except UnitError:
        return
    assert math.isfinite(value)


def test_a_product_has_no_offset() -> None:
    """W/(m2 degC) is W/(m2 K): inside a product a temperature is an interval."""
    assert unit("W/(m2 degC)") == unit("W/(m2 K)")


def test_text_shown_in_a_refusal_is_one_line() -> None:
    assert units.shown("a\nb\x1b[31m") == '"a\\x0ab\\x1b[31m"'
    assert len(units.shown("x" * 1000)) < 70
