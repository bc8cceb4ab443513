"""The commands of the studies: answer first, files written, one line per fault and exit code 2 where something is wrong."""

import csv
import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest
import sleevelift
from sleevelift.case.read import load_case
from sleevelift.cli import app
from sleevelift.study.store import PARTS
from typer.testing import CliRunner

WHERE_SIM_IS = Path(sleevelift.__file__).resolve().parents[1]
CASES = Path(__file__).resolve().parents[2] / "cases"
DRY, HOT = CASES / "dry_bench.toml", CASES / "hot_start.toml"
RANGE = "solenoid.fill_orifice=0.9mm:1.2mm:3"
DRILLS = "solenoid.fill_orifice=drills:0.95mm:1.1mm"


def called(*arguments):
    """One call in this process."""
    return CliRunner().invoke(app, [str(part) for part in arguments])


STUDIES = {
    "map": (("map", DRY, "--vary", RANGE, "--of", "opening_time"), "opening_time runs from"),
    "scatter": (("scatter", DRY, "--n", 16, "--seed", 4), "of 16 runs"),
    "faults": (("faults", DRY), "faults"),
    "window": (("window", HOT, "--n", 8, "--seed", 4), "propellants"),
    "compare": (("compare", DRY, CASES / "dry_interlock.toml"), "dry_bench opens in"),
    "choose": (
        ("choose", DRY, "--for", "opening_time=50ms:90ms", "--move", DRILLS, "--points", 8, "--seed", 4),
        "holds all targets",
    ),
}


@pytest.mark.parametrize("name", STUDIES)
def test_the_answer_comes_first_and_the_files_are_there(name, tmp_path):
    arguments, words = STUDIES[name]
    result = called(*arguments, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    first = result.stdout.splitlines()[0]
    assert words in first and first.rstrip().endswith(".")
    content = json.loads((tmp_path / "out" / f"{name}.json").read_text())
    assert content["answer"] == first.rstrip() and content["study"] == name
    assert content["provenance"]["case_sha256"] == load_case(arguments[1]).sha256
    with open(tmp_path / "out" / f"{name}.csv", newline="") as file:
        rows = list(csv.reader(file))
    assert len(rows) > 2 and all(len(row) == len(rows[0]) for row in rows)
    assert (tmp_path / "out" / f"{name}.png").read_bytes()[:4] == b"\x89PNG"
    if "--seed" in arguments:
        assert content["seed"] == 4 and "seed 4" in result.stdout
    if name == "choose":
        assert load_case(tmp_path / "out" / "dry_bench-chosen.toml").case.kind == "dry"


def test_the_same_command_again_reads_what_is_kept(tmp_path):
    for name in ("scatter", "compare"):
        arguments = STUDIES[name][0]
        first = called(*arguments, "--out", tmp_path / name)
        kept = {path: path.stat().st_mtime_ns for path in (tmp_path / name / PARTS).glob("*/*.npz")}
        again = called(*arguments, "--out", tmp_path / name)
        assert first.stdout == again.stdout and kept
        assert {path: path.stat().st_mtime_ns for path in kept} == kept


@pytest.mark.parametrize(
    "arguments, lines",
    [
        (("map", DRY, "--vary", "nonsense", "--vary", "solenoid.no=1mm:2mm", "--of", "tim"), ("nonsense", "no", "tim")),
        (("map", DRY, "--vary", RANGE, "--vary", RANGE), ("twice",)),
        (("map", DRY, "--vary", "spring.preload=700N:900N:3"), ("coils touch",)),
        (("map", DRY, "--vary", "solenoid.fill_orifice=1:2:3"), ("unit",)),
        (("scatter", DRY, "--n", 1), ("--n 1",)),
        (("scatter", DRY, "--n", 8, "--sampler", "dice"), ("dice",)),
        (("faults", CASES / "no_such_case.toml"), ("cannot be read",)),
        (("window", DRY), ("no combustion chamber",)),
        (("window", HOT, "--rise", "3", "--igniter-scatter", "x"), ("--rise 3", "--igniter-scatter x")),
        (("compare", DRY), ("2 to 6",)),
        (("compare", DRY, "no_such_case.toml", "nor_this.toml"), ("no_such_case", "nor_this")),
        (("choose", DRY, "--for", "x", "--for", "opening_time<=2", "--move", "a"), ("--for x", "unit", "--move a")),
        (("choose", DRY, "--for", "opening_time<=1s", "--move", DRILLS, "--points", 1), ("--points 1",)),
        (("scatter", DRY, "--n", 8, "--cluster", "nonsense://x"), ("no scheduler answers at nonsense://x",)),
    ],
)  # fmt: skip
def test_bad_input_is_one_line_per_fault(arguments, lines, tmp_path):
    result = called(*arguments, "--out", tmp_path / "out")
    assert result.exit_code == 2, result.output
    told = result.stderr.splitlines()
    assert len(told) == len(lines) and all(word in line for word, line in zip(lines, told))
    assert result.stdout == ""
    assert {path.name for path in (tmp_path / "out").glob("*")} <= {PARTS}, "a refused study leaves hidden parts at most"


@pytest.mark.parametrize("name", STUDIES)
def test_a_place_that_cannot_be_written_is_one_line(name, tmp_path):
    (tmp_path / "file").write_text("in the way")
    result = called(*STUDIES[name][0], "--out", tmp_path / "file" / "out")
    assert result.exit_code == 2 and len(result.stderr.splitlines()) == 1 and "file" in result.stderr
    assert result.stdout == ""


@pytest.mark.skipif(os.name != "posix", reason="permissions of POSIX")
def test_a_folder_without_permission_is_one_line(tmp_path):
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        if os.access(folder, os.W_OK):  # root may write anywhere: the kernel's own read-only folder stands in
            folder = Path("/proc/self/fdinfo")
        result = called("scatter", DRY, "--n", 8, "--out", folder / "out")
    finally:
        (tmp_path / "locked").chmod(stat.S_IRWXU)
    assert result.exit_code == 2 and len(result.stderr.splitlines()) == 1


def test_a_lost_cluster_says_what_is_kept(tmp_path, monkeypatch):
    from sleevelift.study import store
    from sleevelift.study.cluster import ClusterLost

    def lost(case, overrides):
        raise ClusterLost("--cluster: the scheduler at tcp://there:8786 was lost: CancelledError")

    monkeypatch.setattr(store, "chunk_batch", lost)
    result = called("scatter", DRY, "--n", 8, "--out", tmp_path / "out")
    assert result.exit_code == 1
    assert result.stderr == "--cluster: the scheduler at tcp://there:8786 was lost: CancelledError; nothing had been finished.\n"


def test_a_fault_of_the_program_is_raised_and_says_what_is_kept(tmp_path, monkeypatch):
    from sleevelift.study import store

    honest, count = store.chunk_batch, []

    def breaks(case, overrides):
        count.append(1)
        if len(count) > 1:
            raise RuntimeError("a bug")
        return honest(case, overrides)

    monkeypatch.setattr(store, "chunk_batch", breaks)
    result = called("scatter", DRY, "--n", 200, "--workers", 1, "--out", tmp_path / "out")
    assert isinstance(result.exception, RuntimeError)
    assert "fault of the program" in result.stderr and "finished parts (1) are kept in" in result.stderr


def test_a_process_of_its_own_gives_the_same(tmp_path):
    """Exit codes and streams as a shell sees them."""
    env = {**os.environ, "PYTHONPATH": str(WHERE_SIM_IS), "PYTHONSAFEPATH": "1"}
    command = [sys.executable, "-m", "sleevelift.cli", "map", str(DRY), "--vary", RANGE]
    good = subprocess.run([*command, "--out", str(tmp_path)], env=env, capture_output=True, text=True, timeout=600, check=False)
    assert good.returncode == 0 and good.stdout.startswith("opening_time runs from")
    bad = subprocess.run([*command, "--of", "x"], env=env, cwd=tmp_path, capture_output=True, text=True, timeout=600, check=False)
    assert bad.returncode == 2 and bad.stdout == "" and len(bad.stderr.splitlines()) == 1 and "Traceback" not in bad.stderr


def test_a_value_is_set_in_every_study(tmp_path):
    """--set reaches each study's case and its provenance; a chosen design's file holds it."""
    for name in STUDIES:
        shown = called(name, "--help").stdout
        assert "--set" in shown, name
    arguments = STUDIES["choose"][0]
    assert called(*arguments, "--set", "tube.length=x 1.1", "--out", tmp_path).exit_code == 0
    before = load_case(DRY).tube.length
    assert load_case(tmp_path / "dry_bench-chosen.toml").tube.length == pytest.approx(1.1 * before)
    changed = json.loads((tmp_path / "choose.json").read_text())["provenance"]["changed_after_reading"]
    assert changed == {"tube.length": pytest.approx(1.1 * before)}
    assert called("faults", DRY, "--set", "tube.length=3", "--out", tmp_path).exit_code == 2


def test_reasons_of_faults_are_whole_where_the_page_has_room():
    from types import SimpleNamespace

    from sleevelift.plots.studies import reason_lines
    from sleevelift.plots.style import Page

    rows = [SimpleNamespace(reason="the reason is long and goes on " * 10 + "to its end", worst_place="chamber")] * 6
    whole = reason_lines(Page(), rows, 200.0)
    assert all(lines[-1].endswith("to its end") for lines, _ in whole)
    cut = reason_lines(Page(), rows, 80.0)
    assert len(cut[0][0]) < len(whole[0][0]) and cut[0][0][-1].endswith("...")
