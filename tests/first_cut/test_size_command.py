"""`sleevelift new --kind napkin` and `sleevelift size`, as a stranger types them."""

import pytest
from sleevelift.case.read import load_case
from sleevelift.cli import app
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


def test_an_unusable_napkin_is_refused(folder):
    napkin = folder / "bad.toml"
    napkin.write_text('[napkin]\nthrust = "2 kN"\n', encoding="utf-8")
    done = CliRunner().invoke(app, ["size", str(napkin), "--out", str(folder / "none.toml")])
    assert done.exit_code == 2
    assert "[napkin] chamber_pressure: is missing" in done.output
    assert not (folder / "none.toml").exists()
