"""The reader's units: every command in inch units shows no metric one, and the other way round; result.json stays as it is.

The metric words that must not appear, and the inch ones, are listed here by hand; conversions are held in `test_units.py`.
"""

import html
import json
import re

import numpy as np
import pytest
from runs import CASES
from sleevelift.case.read import CaseError, case_from_text, load_case
from sleevelift.cli import app
from sleevelift.reader import INCH, METRIC
from sleevelift.sizing.inch_wires import inch_wires
from sleevelift.study.values import catalogue
from typer.testing import CliRunner

METRIC_WORDS = (
    r"mm/s|mm2|mm3|mm|cm3/min|cm3|cm2|cm|um|litre|kg/m3|m3|m2|kg/s|g/s|mg/s|kg|mg|g|N/mm|N/m|N s/m|kN|N|bara|barg|bar|kPa|MPa|GPa|"
    r"Pa|degC|K|m/s|kJ|mJ|J|ml/min|ml|m"
)
INCH_WORDS = r"in/s|in2|in3/min|in3|in|mil|ft/s|ft|lb/ft3|lb/s|lb/h|lb|lbf/in|lbf|psia|psig|psi|ksi|degF|ft lbf|in lbf"


def strays(text, words):
    """Numbers with a unit, and headings of columns, of the other system."""
    number = rf"(?<![\w.#])[-+]?\d[\d.,e+-]*[ ]+(?:{words})(?![\w/])"
    heading = rf", (?:{words})(?=\s{{2,}}|\s*$|\s*\|)|\[(?:{words})\]"
    found = [match for match in re.finditer(f"{number}|{heading}", text, re.MULTILINE)]
    return [" ".join(text[max(0, m.start() - 40) : m.end() + 20].split()) for m in found]


INCH_OF = {
    "mm": "in", "um": "mil", "m": "ft", "cm3": "in3", "litre": "in3", "mm2": "in2", "cm2": "in2", "g": "lb", "kg/s": "lb/s",
    "N": "lbf", "N/mm": "lbf/in", "N/m": "lbf/in", "bara": "psia", "bar": "psi", "GPa": "ksi", "MPa": "ksi", "K": "degF",
    "kg/m3": "lb/ft3", "mPa s": "cP", "m/s": "ft/s", "mm/s": "in/s", "N s/m": "lbf s/in", "W/(m2 K)": "BTU/(h ft2 degF)",
    "J/(kg K)": "ft lbf/(lb degR)",
}  # fmt: skip


def inch_written(text):
    """A case file with every value in inch units and [case] units = "inch"."""
    from sleevelift.units import unit

    def converted(match):
        number, name = float(match[1]), match[2]
        if name not in INCH_OF:
            return match[0]
        new = INCH_OF[name]
        plain = [name[:-1] if name == "bara" else name, new[:-1] if new == "psia" else new]
        one, other = (unit(each) for each in plain)
        shift = (one.offset - other.offset) if new == "degF" else 0.0
        return f'"{(number * one.factor + shift) / other.factor:.9g} {new}"'

    text = re.sub(r'note = """.*?"""', "", text, flags=re.DOTALL)
    text = "\n".join(line if line.startswith("title") else line.partition("#")[0].rstrip() for line in text.splitlines())
    text = re.sub(r'"(-?[\d.]+) ([^"#]+)"', converted, text)
    return re.sub(r"^title = .*$", 'title = "Invented inch case"\nunits = "inch"', text, count=1, flags=re.MULTILINE)


@pytest.fixture(scope="module")
def inch_case(tmp_path_factory):
    """The hot start, written in inches."""
    path = tmp_path_factory.mktemp("inch") / "inch_case.toml"
    path.write_text(inch_written((CASES / "hot_start.toml").read_text()))
    return path


def said(*words):
    """What a command prints on both streams."""
    result = CliRunner().invoke(app, [str(word) for word in words], env={"COLUMNS": "80"})
    assert result.exit_code == 0, result.output
    return result.output


def page_text(path):
    """Text of a page without its style and pictures."""
    text = re.sub(r"<style>.*?</style>|base64,[^\"]*", "", path.read_text(), flags=re.DOTALL)
    return html.unescape(re.sub(r"<[^>]+>", "  ", text))


def test_the_written_case_is_the_same_case(inch_case):
    ours, theirs = load_case(inch_case), load_case(CASES / "hot_start.toml")
    assert ours.reader == INCH and theirs.reader == METRIC
    assert ours.spring.preload == pytest.approx(theirs.spring.preload, rel=1e-8)
    assert ours.supply.temperature == pytest.approx(theirs.supply.temperature, rel=1e-8)


QUICK = (("check",), ("show",), ("run", "--timeline"), ("cycles", "--most", "2"), ("leaks",))
STUDIES = (
    ("map", "--vary", "solenoid.fill_orifice=drills:0.035in:0.05in", "--of", "opening_time", "--of", "breakaway_pressure"),
    ("scatter", "--n", "8"), ("faults",), ("window", "--n", "8"), ("compare",),
    ("causes", "--measured", "opening_time=81 ms", "--among", "solenoid.open_dead_time,spring.preload,lift_chamber.dead_volume"),
    ("fit", "--measured", "opening_time=81 ms", "--measured", "rod_seal_friction at 50 psi=0.5 lbf/in",
     "--free", "spring.preload,lift_chamber.dead_volume,seals.rod.squeeze_friction", "--starts", "1"),
    ("choose", "--for", "opening_time<=80ms", "--move", "solenoid.fill_orifice=drills:0.035in:0.045in", "--points", "8"),
)  # fmt: skip


def shown(command, case, units, out):
    """Screen, page and CSV headers of a command."""
    name, *options = command
    cases = [case, case] if name == "compare" else [case]
    more = [] if name in ("check", "show", "cycles") else ["--out", out / name]
    text = said(name, *cases, *options, "--units", units, *more)
    pages = [page_text(path) for path in sorted((out / name).glob("*.html"))]
    heads = [path.read_text().split("\n", 1)[0].replace(",", "\n") for path in sorted((out / name).glob("*.csv"))]
    return "\n".join([text, *pages, *heads])


@pytest.mark.parametrize("command", QUICK + tuple(pytest.param(c, marks=pytest.mark.slow) for c in STUDIES), ids=lambda c: c[0])
def test_no_metric_unit_in_inch_units(command, inch_case, tmp_path):
    assert strays(shown(command, inch_case, "inch", tmp_path), METRIC_WORDS) == []


@pytest.mark.parametrize("command", [QUICK[0], *(pytest.param(c, marks=pytest.mark.slow) for c in (QUICK[2], QUICK[4], *STUDIES))],
                         ids=lambda c: c[0])  # fmt: skip
def test_no_inch_unit_in_metric_units(command, inch_case, tmp_path):
    """The same file for a metric reader; its values, echoed as they were written, stand only among the inputs and the moved "
    "values."""
    command = tuple(word.replace("0.035in:0.05in", "0.9mm:1.2mm").replace("0.035in:0.045in", "0.9mm:1.1mm") for word in command)
    text = re.sub(r"#\d+ \([\d.]+ in\)|\d+/\d+ in", "", shown(command, inch_case, "metric", tmp_path))
    text = re.sub(r"Inputs\s.*?Provenance|fill_orifice.*", "", text, flags=re.DOTALL if "Provenance" in text else 0)
    assert strays(text, INCH_WORDS) == []


def test_result_json_does_not_depend_on_the_reader(tmp_path):
    found = []
    for units in ("metric", "inch"):
        said("run", CASES / "hot_start.toml", "--no-pictures", "--units", units, "--out", tmp_path / units)
        table = json.loads((tmp_path / units / "result.json").read_text())
        table["provenance"].pop("date")
        found.append(table)
    assert found[0] == found[1]
    assert "SI" in found[0]["numbers"]


REFUSED = (("stroke", "0.001 in"), ("nose_diameter", "0.5 in"), ("bottle_pressure", "9000 psia"), ("free_length", "1 in"))


@pytest.mark.parametrize("key, value", REFUSED)
def test_refusals_speak_in_the_readers_units(key, value):
    text = inch_written((CASES / "hot_start.toml").read_text())
    changed = re.sub(rf"^{key} = .*$", f'{key} = "{value}"', text, count=1, flags=re.MULTILINE)
    assert changed != text
    with pytest.raises(CaseError) as refusal:
        case_from_text(changed)
    assert strays(str(refusal.value), METRIC_WORDS) == []


def test_the_command_line_wins_over_the_file():
    text = (CASES / "dry_bench.toml").read_text().replace("[case]", '[case]\nunits = "inch"', 1)
    assert case_from_text(text).reader == INCH
    assert case_from_text(text, units="metric").reader == METRIC


def test_drills_and_wires_of_the_readers_standard():
    """Number drills and music wire for inches: #60 is 0.0400 in, gauge 26 is 0.063 in (from memory of the standards)."""
    drills = [name for name, _ in catalogue("x", "drills", 1.0e-3, 1.1e-3, INCH)]
    assert drills == ["#60 (0.04 in)", "#59 (0.041 in)", "#58 (0.042 in)", "#57 (0.043 in)"]
    assert [name for name, _ in inch_wires(1.59e-3, 1.61e-3)] == ["0.063 in wire, gauge 26"]


def test_a_folder_of_an_inch_run_is_read_in_si(tmp_path):
    """0.1 in is 2.54 mm, 100 psia 689475.7 Pa, 1 lb/s 0.45359237 kg/s (by definition)."""
    from sleevelift.report.result_files import traces_csv
    from sleevelift.study.finished_run import _traces
    from sleevelift.trajectory import UNITS

    kept = {"time": np.array([0.0, 1.0]), "lift": np.array([0.0, 2.54e-3]), "lift_chamber_pressure": np.array([1e5, 689475.7293]),
            "fuel_flow": np.array([0.0, 0.45359237])}  # fmt: skip
    text = traces_csv(kept, UNITS, INCH)
    last = [float(field) for field in text.split("\n")[2].split(",")]
    assert last == pytest.approx([1.0, 0.1, 100.0, 1.0], rel=1e-9)
    (tmp_path / "traces.csv").write_text(text)
    again = _traces(tmp_path / "traces.csv")
    assert all(again[name] == pytest.approx(kept[name], rel=1e-12) for name in kept)
