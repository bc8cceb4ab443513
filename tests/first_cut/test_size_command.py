"""`sleevelift new --kind napkin` and `sleevelift size`, as a stranger types them."""

import re

import pytest
from runs import CASES
from sleevelift.case.read import case_from_text, load_case
from sleevelift.cli import app
from sleevelift.first_cut.napkin import STARTER
from sleevelift.first_cut.restate import named_length, restated
from typer.testing import CliRunner


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("napkin")


def test_from_napkin_to_case(folder, monkeypatch):
    monkeypatch.setattr("sleevelift.first_cut.free.POINTS", 4)
    monkeypatch.setattr("sleevelift.study.choose.GENERATIONS", 1)
    napkin, out = folder / "n.toml", folder / "case.toml"
    run = CliRunner().invoke
    assert run(app, ["new", str(napkin), "--kind", "napkin"]).exit_code == 0
    done = run(app, ["size", str(napkin), "--out", str(out), "--strict"])
    assert done.exit_code == 0, done.output
    assert "A FIRST CUT IS NO DESIGN RELEASE" in done.output and "All checks hold" in done.output
    assert load_case(out).case.kind == "hot"
    assert "choose over the stated ranges" in " ".join(done.output.split()), "what is free was moved"
    assert max(map(len, done.output.split("Written: ")[0].splitlines()[1:])) <= 80
    again = run(app, ["size", str(napkin), "--out", str(out)])
    assert again.exit_code == 2 and "--force replaces it" in again.output


def test_the_reader_of_inches(folder, monkeypatch):
    """Nothing of what is printed is metric, and the case that is written speaks to the same reader."""
    from sleevelift.first_cut import finish, size
    from sleevelift.first_cut.napkin import load_napkin

    monkeypatch.setattr("sleevelift.first_cut.size.MOST_TIME", 0.0)
    monkeypatch.setattr(finish.Finisher, "calmer", lambda self, fill, spigot: fill)
    napkin = folder / "inch.toml"
    napkin.write_text(STARTER.replace("mixture_ratio = 1.3 ", "mixture_ratio = 0.4 "), encoding="utf-8")
    answer = size.size(load_napkin(napkin, "inch"))
    words = "\n".join([f"{step.value} {step.how}" for step in answer.chain if step.what != "blockage factor"] + answer.notes)
    assert not re.search(r"\d (bara?|mm2?|cm3|N|N/mm|kg/s|m/s|g|MPa|K)\b", words), words
    assert " psia" in words and " in " in words and " lbf" in words
    assert "far from the pair's best" in answer.chain[0].how, "a mixture ratio that is a slip is asked after"
    assert answer.case.reader.name == "inch"
    text = restated(answer.text, answer.case)
    told = "\n".join(line.split("  # ")[0] for line in text.splitlines() if not line.startswith("#"))
    assert not re.search(r"\d (bar[ag]?|mm2?|cm[23]|N|N/mm?|kg/s|m/s|m|g|MPa|GPa|K|degC)\"", told), told
    assert re.search(r'fill_orifice = "#\d+"', told), "a number drill has its name"
    assert case_from_text(text).reader.name == "inch"  # its values are those of the case: `restated` makes sure of it


@pytest.mark.parametrize("path", sorted(CASES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_case_in_inches_is_the_same_case(path):
    """Ranges, lists, gauge pressures, tables in braces: 1 in = 25.4 mm, 1 lbf = 4.4482216152605 N, exactly (NIST SP 811)."""
    text = path.read_text(encoding="utf-8")
    case = load_case(path)
    told = restated(text, case.read_in("inch"))
    again = case_from_text(told)
    assert again.sleeve.stroke == pytest.approx(case.sleeve.stroke, rel=1e-12) and again.ranges.keys() == case.ranges.keys()
    for name, ends in case.ranges.items():
        assert again.ranges[name] == pytest.approx(ends, rel=1e-9), name
    assert again.written["spring.preload"].endswith('lbf"') and restated(text, case) == text
    assert float(again.written["spring.preload"].strip('"').split()[0]) * 4.4482216152605 == pytest.approx(case.spring.preload)


def test_lengths_by_name():
    """#44 is 0.0860 in (ASME B94.11M); 3.175 mm an eighth; 0.2 mm and 1 in have no name."""
    assert [named_length(x) for x in (0.0860 * 0.0254, 3.175e-3, 2e-4, 0.0254)] == ["#44", "1/8 in", None, None]


def test_an_unusable_napkin_is_refused(folder):
    napkin = folder / "bad.toml"
    napkin.write_text('[napkin]\nthrust = "2 kN"\n', encoding="utf-8")
    done = CliRunner().invoke(app, ["size", str(napkin), "--out", str(folder / "none.toml")])
    assert done.exit_code == 2
    assert "[napkin] chamber_pressure: is missing" in done.output
    assert not (folder / "none.toml").exists()
