"""Reading a case: what a refusal says, all faults at once, files that are none, values and ranges in SI."""

import math
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from case_texts import CASES, COLD, DRY, HOT, line_of, refusal, with_key, without_table
from sleevelift.case.read import LARGEST_FILE, CaseError, case_from_text, load_case
from sleevelift.case.walk import values

# ---------------------------------------------------------------------------------------------------- what is read


def test_values_are_si_floats() -> None:
    """The demo design by hand: unit definitions only."""
    case = load_case(CASES / "hot_start.toml")
    assert case.sleeve.moving_mass == 0.165
    assert case.sleeve.rod_diameter == 0.0243
    assert case.supply.pressure == 31e5
    assert case.spring.shear_modulus == 75e9
    assert case.solenoid.on == (0.1,)
    assert case.seat is not None and case.seat.half_angle == pytest.approx(math.pi / 4, rel=1e-15)
    assert case.seat.jet_factor == 1.0 and isinstance(case.seat.jet_factor, float)
    assert case.chamber is not None and case.chamber.c_star[0] == 1083.4
    assert case.name == "hot_start"
    assert len(case.sha256) == 64


def test_ranges_are_si_and_keyed_by_path() -> None:
    case = case_from_text(HOT)
    assert case.ranges == {
        "supply.pressure": (29.5e5, 32.5e5),
        "fuel.inlet_pressure": (25.5e5, 28.0e5),
        "seals.friction_factor": (0.5, 1.5),
    }


@pytest.mark.parametrize(
    ("table", "key", "text", "path", "expected"),
    [
        # per cent of the number as written: 10 % of 30 (barg) is 3 bar, of 20 (degC) 2 K
        (
            "supply",
            "pressure",
            '{ value = "30 barg", plus_minus = "10 %" }',
            "supply.pressure",
            (28.01325e5, 34.01325e5),
        ),
        ("supply", "pressure", '{ value = "31 bara", plus_minus = "2 bar" }', "supply.pressure", (29e5, 33e5)),
        (
            "ambient",
            "temperature",
            '{ value = "20 degC", plus_minus = "10 %" }',
            "ambient.temperature",
            (291.15, 295.15),
        ),
        (
            "ambient",
            "temperature",
            '{ value = "20 degC", plus_minus = "5 K" }',
            "ambient.temperature",
            (288.15, 298.15),
        ),
        ("spring", "preload", '{ value = "770 N", plus_minus = "20 %" }', "spring.preload", (616.0, 924.0)),
        ("spring", "preload", '{ value = "770 N", low = "700 N" }', "spring.preload", (700.0, 770.0)),
        ("spring", "preload", '{ value = "770 N", plus_minus = "10 lbf" }', "spring.preload", (725.51778, 814.48222)),
        ("seat", "jet_factor", "{ value = 0.5, plus_minus = 0.25 }", "seat.jet_factor", (0.25, 0.75)),
        ("seat", "jet_factor", '{ value = -0.5, plus_minus = "50 %" }', "seat.jet_factor", (-0.75, -0.25)),
    ],
)
def test_ranges(table: str, key: str, text: str, path: str, expected: tuple[float, float]) -> None:
    case = case_from_text(with_key(HOT, table, key, text))
    assert case.ranges[path] == pytest.approx(expected, rel=1e-7)


def test_nothing_is_left_open() -> None:
    """No NaN stays in a finished case: every derived value has been filled."""
    for text in (HOT, COLD, DRY):
        for path, value in values(case_from_text(text)).items():
            numbers = value if isinstance(value, tuple) else (value,)
            assert not any(isinstance(number, float) and not math.isfinite(number) for number in numbers), path


def test_every_value_has_an_origin() -> None:
    case = case_from_text(HOT)
    assert set(case.origin) == set(values(case))
    assert case.origin["spring.preload"] == "given"
    assert case.origin["spring.rate"] == "derived"
    assert case.origin["lift_chamber.pressure"] == "default"
    assert case.written["spring.preload"] == '"770 N"'
    assert "spring.rate" not in case.written


def test_gauge_counts_from_the_ambient_of_the_case() -> None:
    text = with_key(with_key(HOT, "ambient", "pressure", '"0.9 bara"'), "supply", "pressure", '"30 barg"')
    assert case_from_text(text).supply.pressure == pytest.approx(30.9e5, rel=1e-15)


def test_a_case_is_frozen() -> None:
    case = case_from_text(DRY)
    with pytest.raises(ValueError, match="frozen"):
        case.spring.preload = 1.0


# ---------------------------------------------------------------------------------------------------- refusals

REFUSALS = [
    (
        ("spring", "preload", '"-12 N"'),
        '[spring] preload = "-12 N": must be at least 0 N (the valve is held closed by it)',
    ),
    (
        ("supply", "pressure", '"31 bar"'),
        '[supply] pressure = "31 bar": must say from where it is measured: bara (absolute) or barg (gauge, above ambient)',
    ),
    (
        ("supply", "droop_band", '"2 barg"'),
        '[supply] droop_band = "2 barg": is a pressure difference: write bar, not barg '
        "(absolute and gauge are for pressures at a point)",
    ),
    (("sleeve", "stroke", "2.0"), '[sleeve] stroke = 2.0: needs a unit: a text such as "12.7 mm" or "0.5 in"'),
    (("sleeve", "stroke", '"2.0"'), '[sleeve] stroke = "2.0": needs a unit, such as "12.7 mm" or "0.5 in"'),
    (
        ("sleeve", "stroke", '"2 kg"'),
        '[sleeve] stroke = "2 kg": must be a length such as "12.7 mm" or "0.5 in"; "kg" measures something else',
    ),
    (("sleeve", "strok", '"2 mm"'), "[sleeve] strok: is no key of [sleeve]; nearest: stroke"),
    (("supply", "pressure", '"400 bara"'), "must be at most 350 bara (the gas tables end there)"),
    (("supply", "pressure", '"400 barg"'), "must be at most 348.987 barg"),
    (("chamber", "efficiency", '"0.93"'), '[chamber] efficiency = "0.93": must be a plain number'),
    (("chamber", "efficiency", "nan"), "[chamber] efficiency = nan: must be a finite number"),
    (("chamber", "efficiency", "-inf"), "must be a finite number"),
    (("chamber", "efficiency", "1e400"), "must be a finite number"),
    (("chamber", "efficiency", "1e-300"), "must be 0 or between 1e-18 and 1e+18 in SI units"),
    (("tube", "bore", '"1e-200 m"'), "must be 0 or between 1e-18 and 1e+18 in SI units"),
    (("chamber", "efficiency", "true"), "[chamber] efficiency = true: must be a plain number"),
    (("chamber", "efficiency", "1979-05-27"), "[chamber] efficiency = 1979-05-27: must be a plain number"),
    (("chamber", "efficiency", "1" + "0" * 400), "must be a finite number"),
    (("case", "kind", '"warm"'), '[case] kind = "warm": must be "dry", "cold-flow" or "hot"'),
    (("case", "invented", '"yes"'), '[case] invented = "yes": must be true or false'),
    (("case", "title", "3"), "[case] title = 3: must be a text in quotes"),
    (("slots.row", "count", "2.5"), "[slots.row.0] count = 2.5: must be a whole number"),
    (("slots.row", "count", "0"), "[slots.row.0] count = 0: must be at least 1"),
    (("solenoid", "on", '"0.1 s"'), '[solenoid] on = "0.1 s": must be a list in square brackets'),
    (("solenoid", "on", '["0.1"]'), '[solenoid] on (entry 1) = "0.1": needs a unit'),
    (("ambient", "pressure", '"0 barg"'), '[ambient] pressure = "0 barg": must be absolute'),
    (("spring", "preload", '{ value = "770 N", plus_minus = "200 %" }'), "its low end, -770 N, must be at least 0 N"),
    (
        ("spring", "preload", '{ value = "770 N", plus_minus = "-2 %" }'),
        '[spring.preload] plus_minus = "-2 %": must be',
    ),
    (("spring", "preload", '{ value = "770 N", plus_minus = 3 }'), "[spring.preload] plus_minus = 3: needs a unit"),
    (
        ("spring", "preload", '{ value = "770 N", low = "800 N" }'),
        '[spring.preload] low = "800 N": must be at most the',
    ),
    (("spring", "preload", '{ value = "770 N", high = "7 N" }'), '[spring.preload] high = "7 N": must be at least the'),
    (("spring", "preload", '{ low = "770 N" }'), "[spring.preload] value"),
    (("spring", "preload", '{ value = "770 N", plus = "1 N" }'), '[spring.preload] plus = "1 N": is no key of a range'),
    (
        ("spring", "preload", '{ value = "770 N", plus_minus = "2 %", low = "7 N" }'),
        "has plus_minus and low/high: give one of the two",
    ),
    (("chamber", "c_star_unit", '"kg"'), "[chamber] c_star (entry 1) = 1083.4: must be a speed"),
    (("gas", "name", '"Nitrogne"'), '[gas] name = "Nitrogne": must be one of helium'),
    (("gas", "name", '"CO2"'), "critical point below 160 K; this one has it at 304 K"),
    (("fuel", "liquid", '"Ethanole"'), "is no fluid of CoolProp and not tabled here; nearest: Ethanol"),
    (("fuel", "liquid", '"Kerosene"'), "not tabled here; without a liquid give its properties at the inlet: density"),
]


@pytest.mark.parametrize(("change", "words"), REFUSALS, ids=lambda part: str(part)[:60])
def test_refusal_names_place_value_and_rule(change: tuple[str, str, str], words: str) -> None:
    lines = refusal(with_key(HOT, *change))
    assert len(lines) == 1, lines
    assert words in lines[0]


def test_a_liquid_that_is_none_is_named() -> None:
    text = with_key(HOT, "fuel", "density", None)
    assert "nearest: Ethanol" in refusal(with_key(text, "fuel", "liquid", '"Ethanole"'))[0]
    (line,) = refusal(with_key(text, "fuel", "temperature", '"600 K"'))
    assert line.startswith('hot_start.toml [fuel] temperature = "600 K": must be below the critical temperature')
    (line,) = refusal(with_key(text, "fuel", "temperature", '"500 K"'))
    assert "leaves Ethanol no liquid at the inlet pressure" in line


def test_all_faults_at_once() -> None:
    text = HOT
    for change in [
        ("spring", "preload", '"-12 N"'),
        ("supply", "pressure", '"31 bar"'),
        ("sleeve", "rod_diameter", '"18 mm"'),
        ("slots.row", "lap", '"3 mm"'),
        ("gas", "nam", '"x"'),
        ("tube", "bore", None),
        ("seat", "land_width", "0.2"),
    ]:
        text = with_key(text, *change)
    lines = refusal(text)
    for words in ("preload", "31 bar", "rod_diameter", "lap", "nearest: name", "[tube] bore: is missing", "land_width"):
        assert any(words in line for line in lines), words
    assert len(lines) == 7


def test_missing_and_unknown_tables() -> None:
    lines = refusal(HOT.replace("[tube]", "[tub]"))
    assert any("[tube]: is missing (the tube to the lift chamber)" in line for line in lines)
    assert any("[tub]: is no key of a case; nearest: tube" in line for line in lines)
    assert "must be one table: [gas]" in refusal(HOT.replace("[gas]", "[[gas]]"))[0]
    one_row = HOT.replace("[[slots.row]]", "[slots.row]")
    assert "[[slots.row]]" in refusal(one_row)[0]


def test_a_long_list_of_faults_is_cut() -> None:
    rows = "".join(f'[[faults]]\nname = "n{number}"\nchange = {{}}\n' for number in range(150))
    lines = refusal(HOT + rows)
    assert len(lines) <= 41 and lines[-1].endswith("more faults")


def test_entries_of_a_list_are_told_once() -> None:
    (line,) = refusal(with_key(HOT, "chamber", "c_star_unit", '"kg"'))
    assert line.endswith("(and 27 more entries)")


# ---------------------------------------------------------------------------------------------------- files


def test_files_that_are_no_case(tmp_path: Path) -> None:
    def line(path: object) -> str:
        with pytest.raises(CaseError) as caught:
            load_case(path)  # type: ignore[arg-type]
        (only,) = str(caught.value).splitlines()
        return only

    assert line(tmp_path / "none.toml") == "none.toml: cannot be read: no such file or directory"
    assert line(tmp_path) == f"{tmp_path.name}: is a directory, not a case file"
    big = tmp_path / "big.toml"
    big.write_bytes(b"#" * (LARGEST_FILE + 1))
    assert line(big) == "big.toml: is larger than 1 MB: no case is"
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"[case]\n\xff\xfe")
    assert line(binary) == "binary.toml: is no text in UTF-8 (line 2)"
    loop = tmp_path / "loop.toml"
    loop.symlink_to(loop)
    assert "cannot be read" in line(loop)
    dangling = tmp_path / "dangling.toml"
    dangling.symlink_to(tmp_path / "gone")
    assert "cannot be read" in line(dangling)
    assert line("a\0b.toml").endswith("is no file name")
    assert "cannot be read" in line("x" * 5000)
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    assert line(pipe) == "pipe.toml: is no regular file"


def test_a_link_and_a_path_with_spaces_are_fine(tmp_path: Path) -> None:
    folder = tmp_path / "a folder with spaces"
    folder.mkdir()
    link = folder / "my case.toml"
    link.symlink_to(CASES / "dry_bench.toml")
    assert load_case(link).name == "my case"
    marked = tmp_path / "marked.toml"
    marked.write_text("\ufeff" + DRY, encoding="utf-8")
    assert load_case(marked).case.kind == "dry"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "a = ",
        "a = 1\na = 2",
        "\x00",
        "case = 1",
        "a = " + "[" * 3000 + "]" * 3000,
        "a = " + "{a=" * 1000 + "1" + "}" * 1000,
        "[" + "a." * 500 + "a]\nb = 1",
        "a = " + "9" * 6000,
        'a = "\ud800"',
        '[case]\ntitle = """' + "x" * 300 + '"""',
        '"' + "k" * 100000 + '" = 1',
        "[case]\n" + "".join(f"k{number} = 1\n" for number in range(20000)),
        "[solenoid]\non = [" + "1," * 100000 + "]",
        "[[slots.row]]\n" * 20000,
        "é = 1",
        '"\\u001b[31m" = 1',
    ],
    ids=lambda text: text[:20],
)
def test_odd_texts_are_refused_quickly(text: str) -> None:
    begin = time.process_time()
    with pytest.raises(CaseError) as caught:
        case_from_text(text)
    assert time.process_time() - begin < 5.0
    for line in str(caught.value).splitlines():
        assert line.isprintable() and len(line) < 1500


def test_larger_than_any_case_is_refused_as_text_too() -> None:
    with pytest.raises(CaseError, match="larger than"):
        case_from_text("#" * (LARGEST_FILE + 1))


# ---------------------------------------------------------------------------------------------------- speed


def test_loading_is_quick() -> None:
    """Below 50 ms once imported: the best of ten."""

    def seconds() -> float:
        begin = time.process_time()
        load_case(CASES / "hot_start.toml")
        return time.process_time() - begin

    assert min(seconds() for _ in range(10)) < 0.05


def test_a_second_run_imports_no_heavy_library(tmp_path: Path) -> None:
    """CoolProp is imported once to fill the store; pint, scipy and numba never; importing sleevelift costs nothing."""
    script = (
        "import sys, sleevelift\n"
        "assert 'pydantic' not in sys.modules\n"
        f"sleevelift.load_case({str(CASES / 'hot_start.toml')!r})\n"
        "print(sorted({'pint', 'CoolProp', 'scipy', 'numba', 'numpy', 'matplotlib'} & set(sys.modules)))"
    )

    def imported() -> str:
        run = subprocess.run(
            [sys.executable, "-c", script],
            capture_output=True,
            text=True,
            check=True,
            cwd=CASES.parent,
            env=os.environ | {"XDG_CACHE_HOME": str(tmp_path)},
        )
        return run.stdout.strip()

    assert "CoolProp" in imported()
    assert imported() == "[]"


def test_the_helper_of_these_tests() -> None:
    assert line_of(HOT, "spring", "preload").startswith('preload = "770 N"')
    assert "[igniter]" not in without_table(HOT, "igniter")
