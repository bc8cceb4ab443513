"""`sleevelift new --kind napkin` and `sleevelift size`, as a stranger types them."""

import re

import pytest
from sleevelift.case.read import load_case
from sleevelift.cli import app
from sleevelift.first_cut.napkin import STARTER
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


def test_an_unusable_napkin_is_refused(folder):
    napkin = folder / "bad.toml"
    napkin.write_text('[napkin]\nthrust = "2 kN"\n', encoding="utf-8")
    done = CliRunner().invoke(app, ["size", str(napkin), "--out", str(folder / "none.toml")])
    assert done.exit_code == 2
    assert "[napkin] chamber_pressure: is missing" in done.output
    assert not (folder / "none.toml").exists()
