"""The command: exit codes, one clear line where something is wrong, files whole or not at all, interrupt."""

import csv
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import sleevelift
from runs import CASES
from sleevelift.case.starter import starter_case
from sleevelift.cli import app
from sleevelift.plant.names import NAMES
from typer.testing import CliRunner

ROOT = Path(sleevelift.__file__).resolve().parents[1]
ENOUGH = 600.0
"""s. A process that has not ended by then hangs (a first compilation on a busy machine takes some minutes)."""


def called(*arguments):
    """One call in this process."""
    return CliRunner().invoke(app, [str(part) for part in arguments])


def command(*arguments):
    """The command line of a process of its own."""
    return [sys.executable, "-m", "sleevelift.cli", *map(str, arguments)]


def environment(**more):
    """Its surroundings: the package that is under test, whatever the folder (which would else come first)."""
    return {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONSAFEPATH": "1", **more}


def process(*arguments, cwd=None, **more):
    """One call as a process of its own."""
    surroundings = environment(**more)
    return subprocess.run(
        command(*arguments), cwd=cwd, env=surroundings, capture_output=True, text=True, timeout=ENOUGH, check=False
    )


def refused(result, code=2):
    """The error output of a refusal: the exit code, and no traceback."""
    assert result.returncode == code, result.stderr
    assert "Traceback" not in result.stderr
    return result.stderr.strip()


@pytest.fixture
def cold_supply(tmp_path):
    """A case whose gas leaves its table while it fills: nitrogen from a bottle at 150 K."""
    path = tmp_path / "too_cold.toml"
    lines, inside = [], False
    for line in starter_case("dry").splitlines():
        inside = line == "[supply]" or (inside and not line.startswith("["))
        lines.append('temperature = "150 K"' if inside and line.startswith("# temperature") else line)
    text = "\n".join(lines)
    assert text.count('"150 K"') == 1
    path.write_text(text)
    return path


# ---------------------------------------------------------------------------------------- run


def test_a_run_leaves_results_that_any_reader_takes(tmp_path):
    result = called("run", CASES / "hot_start.toml", "--out", tmp_path / "o", "--no-pictures")
    assert result.exit_code == 0, result.output
    assert sorted(os.listdir(tmp_path / "o")) == ["result.json", "traces.csv"]
    table = json.loads((tmp_path / "o" / "result.json").read_text(), parse_constant=pytest.fail)
    assert set(table["measures"]) == set(table["units"]) == set(NAMES)
    assert set(table["reasons"]) == {name for name, value in table["measures"].items() if value is None}
    assert table["outcome"] == "opened-and-closed"
    assert set(table["timeline"][0]) == {"instant", "what", "mode_before", "mode_after"}
    assert set(table["checks"][0]) == {"name", "value", "limit", "passed", "advice"}
    assert any("Pressurised gas" in line for line in table["warnings"])
    assert len(table["provenance"]["case_sha256"]) == 64
    assert table["provenance"]["libraries"]["numpy"] and table["provenance"]["version"] == sleevelift.__version__
    with open(tmp_path / "o" / "traces.csv", newline="") as file:
        rows = list(csv.reader(file))
    assert rows[0][0] == "time [s]" and "lift [m]" in rows[0] and all(name.endswith("]") for name in rows[0])
    times = [float(row[0]) for row in rows[1:]]
    assert len(times) > 100 and times == sorted(times) and {len(row) for row in rows} == {len(rows[0])}


def test_pictures_are_written_beside_the_numbers(tmp_path):
    result = called("run", CASES / "dry_bench.toml", "--out", tmp_path)
    assert result.exit_code == 0, result.output
    assert {"start.png", "shutdown.png", "report.html", "result.json", "traces.csv"} <= set(os.listdir(tmp_path))
    assert not [name for name in os.listdir(tmp_path) if name.startswith(".")]
    assert (tmp_path / "report.html").read_text().count('src="data:image/png;base64,') == 5


def test_pictures_that_cannot_be_drawn_do_not_cost_the_numbers(tmp_path, monkeypatch):
    import sleevelift.plots

    def broken(result, folder, at_once):
        (folder / "half.png").write_bytes(b"half")
        raise RuntimeError("no ink")

    monkeypatch.setattr(sleevelift.plots, "write_pictures", broken, raising=False)
    result = called("run", CASES / "dry_bench.toml", "--out", tmp_path)
    assert result.exit_code == 1 and "no ink" in result.output
    assert sorted(os.listdir(tmp_path)) == ["result.json", "traces.csv"]


def test_several_cases_are_all_run_and_the_worst_counts(tmp_path):
    result = called("run", CASES / "dry_bench.toml", tmp_path / "absent.toml", CASES / "weak_battery.toml",
                    "--out", tmp_path / "o", "--no-pictures")  # fmt: skip
    assert result.exit_code == 2
    assert "absent.toml: cannot be read" in result.output and "All cases" in result.output
    assert sorted(os.listdir(tmp_path / "o")) == ["dry_bench", "weak_battery"]


def test_cases_of_one_name_do_not_overwrite_each_other(tmp_path):
    twin = tmp_path / "a" / "dry_bench.toml"
    twin.parent.mkdir()
    twin.write_text((CASES / "dry_bench.toml").read_text())
    result = called("run", CASES / "dry_bench.toml", twin, "--out", tmp_path / "o", "--no-pictures")
    assert result.exit_code == 0
    assert sorted(os.listdir(tmp_path / "o")) == ["dry_bench", "dry_bench-2"]


def test_strict_makes_failed_checks_exit_3(tmp_path):
    assert called("run", CASES / "dry_bench.toml", "--out", tmp_path, "--no-pictures").exit_code == 0
    assert called("run", CASES / "dry_bench.toml", "--out", tmp_path, "--no-pictures", "--strict").exit_code == 3
    assert called("check", CASES / "dry_bench.toml", "--strict").exit_code == 3


def test_gas_that_leaves_its_table_keeps_what_there_is_and_exits_1(tmp_path, cold_supply):
    result = called("run", cold_supply, "--out", tmp_path / "o", "--no-pictures")
    assert result.exit_code == 1, result.output
    table = json.loads((tmp_path / "o" / "result.json").read_text())
    assert table["outcome"] == "left-gas-range"
    assert "tube" in table["failure"] and " s " in table["failure"] and "K" in table["failure"]
    assert table["failure"] in " ".join(result.output.split())
    rows = (tmp_path / "o" / "traces.csv").read_text().splitlines()
    assert len(rows) > 10


def test_end_and_tolerance_are_read_like_values_of_a_case(tmp_path):
    arguments = ("run", CASES / "dry_bench.toml", "--out", tmp_path, "--no-pictures")
    assert called(*arguments, "--end", "0.35 s", "--tolerance", "1e-6").exit_code == 0
    table = json.loads((tmp_path / "result.json").read_text())
    assert table["provenance"]["changed_after_reading"] == {"run.end": 0.35, "run.tolerance": 1e-6}
    last = (tmp_path / "traces.csv").read_text().splitlines()[-1]
    assert float(last.split(",")[0]) == pytest.approx(0.35, abs=1e-12)
    for option in ("--end=5 bar", "--end=0.35", "--end=-1 s", "--tolerance=7", "--tolerance=nan"):
        result = called(*arguments, option)
        assert result.exit_code == 2 and result.output.count("\n") == 1, option


def test_a_value_set_on_the_command_line_is_run_and_told(tmp_path):
    arguments = ("run", CASES / "dry_bench.toml", "--out", tmp_path, "--no-pictures", "--set")
    result = called(*arguments, "solenoid.fill_orifice=2 mm")
    assert result.exit_code == 0
    assert "Not as the file has it: solenoid.fill_orifice = 2 mm." in " ".join(result.output.split())
    table = json.loads((tmp_path / "result.json").read_text())
    assert table["provenance"]["changed_after_reading"] == {"solenoid.fill_orifice": pytest.approx(2e-3)}
    slower = called(*arguments, "solenoid.fill_orifice=0.8 mm", "--set", "tube.length=x 1.1")
    assert slower.exit_code == 0
    assert json.loads((tmp_path / "result.json").read_text())["measures"]["opening_time"] > table["measures"]["opening_time"]
    for command in ("run", "check", "show"):
        refused = called(command, CASES / "dry_bench.toml", "--set", "spring.preload=700")
        assert refused.exit_code == 2 and "needs a unit" in refused.output, command
    shown = called("show", CASES / "dry_bench.toml", "--set", "spring.preload=700 N")
    assert "700 N" in shown.output and called("check", CASES / "dry_bench.toml", "--set", "spring.preload=700 N").exit_code == 0


def test_the_same_case_gives_the_same_files_but_for_the_date(tmp_path):
    texts = []
    for name in ("a", "b"):
        called("run", CASES / "dry_bench.toml", "--out", tmp_path / name, "--no-pictures")
        table = json.loads((tmp_path / name / "result.json").read_text())
        del table["provenance"]["date"]
        texts.append((table, (tmp_path / name / "traces.csv").read_text()))
    assert texts[0] == texts[1]


# ------------------------------------------------------------------- check, show, new, schema


@pytest.mark.parametrize("name", ["hot_start", "cold_flow", "dry_interlock"])
def test_check_prints_tables_or_json(name):
    assert called("check", CASES / f"{name}.toml").exit_code == 0
    result = called("check", CASES / f"{name}.toml", "--json")
    table = json.loads(result.stdout, parse_constant=pytest.fail)
    assert {item["name"] for item in table["margins"]} >= {"opening_margin", "no_fuel_margin", "closing_margin_unlit"}
    assert table["provenance"]["case"] == name


@pytest.mark.parametrize("kind", ["dry", "cold-flow", "hot"])
def test_a_new_case_runs_as_it_is(tmp_path, kind):
    path = tmp_path / "sub dir" / "my case.toml"
    path.parent.mkdir()
    assert called("new", path, "--kind", kind).exit_code == 0
    result = called("run", path, "--out", tmp_path / "o", "--no-pictures")
    assert result.exit_code == 0, result.output


def test_new_spares_what_is_there(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("mine")
    assert called("new", path, "--kind", "dry").exit_code == 2
    assert path.read_text() == "mine"
    assert called("new", path, "--kind", "dry", "--force").exit_code == 0
    assert path.read_text() == starter_case("dry")
    assert called("new", tmp_path, "--kind", "dry", "--force").exit_code == 2
    assert called("new", tmp_path / "no" / "where.toml", "--kind", "dry").exit_code == 2
    assert called("new", tmp_path / "x.toml", "--kind", "warm").exit_code == 2
    assert os.listdir(tmp_path) == ["mine.toml"]


def test_show_and_schema():
    result = called("show", CASES / "hot_start.toml")
    assert result.exit_code == 0 and "derived" in result.output
    rows = json.loads(called("show", CASES / "hot_start.toml", "--json").stdout, parse_constant=pytest.fail)
    assert next(row for row in rows if row["path"] == "spring.preload")["si_value"] == 770.0
    schema = json.loads(called("schema").stdout)
    assert "spring" in schema["properties"]


def test_every_shipped_case_can_be_shown():
    for path in sorted(CASES.glob("*.toml")):
        assert called("show", path).exit_code == 0, path.name


# ------------------------------------------------------------------------- as a process of its own


def test_check_draws_the_half_section(tmp_path) -> None:
    result = called("check", CASES / "dry_bench.toml", "--out", tmp_path / "drawn")
    assert result.exit_code == 0 and sorted(p.name for p in (tmp_path / "drawn").iterdir()) == ["section.png", "section.svg"]



def test_version_and_help_come_without_heavy_imports():
    """Nothing of the numerical libraries may be imported for help: that is what keeps it at a tenth of a second."""
    heavy = "numpy scipy numba pydantic matplotlib CoolProp pint rich".split()
    code = (
        "import sys; sys.argv = ['sleevelift', sys.argv[1]]\n"
        "from sleevelift.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print('HEAVY', [name for name in {heavy} if name in sys.modules])"
    )
    for option, word in (("--help", "check"), ("--version", sleevelift.__version__)):
        line = [sys.executable, "-c", code, option]
        result = subprocess.run(line, env=environment(), capture_output=True, text=True, timeout=ENOUGH, check=True)
        assert word in result.stdout and result.stdout.rstrip().endswith("HEAVY []"), result.stdout


def test_hostile_inputs_get_one_clear_line(tmp_path):
    (tmp_path / "empty.toml").write_text("")
    (tmp_path / "noise.toml").write_bytes(bytes(range(256)))
    (tmp_path / "loop.toml").symlink_to("loop.toml")
    (tmp_path / "a directory.toml").mkdir()
    os.mkfifo(tmp_path / "pipe.toml")
    names = ["empty.toml", "noise.toml", "loop.toml", "a directory.toml", "pipe.toml", "absent.toml"]
    names.append("x" * 300 + ".toml")
    result = process("run", *names, "--no-pictures", cwd=tmp_path)
    told = refused(result)
    for name in names:
        assert name[:60] in told
    for verb in ("check", "show"):
        refused(process(verb, "noise.toml", cwd=tmp_path))
    assert not (tmp_path / "results").exists()


def test_usage_faults_exit_2():
    for arguments in ((), ("run",), ("run", "--nonsense"), ("new", "x"), ("nonsense",)):
        refused(process(*arguments))


@pytest.mark.parametrize("place", ["file/out", "file", "/proc/nowhere/out", "x" * 300])
def test_an_output_place_that_cannot_be_written_is_told_before_the_run(tmp_path, place):
    (tmp_path / "file").write_text("mine")
    told = refused(process("run", CASES / "dry_bench.toml", "--out", place, cwd=tmp_path))
    assert "cannot be written" in told and "running" not in told
    assert (tmp_path / "file").read_text() == "mine" and os.listdir(tmp_path) == ["file"]


def test_text_the_terminal_cannot_show_is_no_traceback(tmp_path):
    path = tmp_path / "umlaut é.toml"
    path.write_text(starter_case("dry").replace("Bench test", "Pr\u00fcfstand \u2603", 1), encoding="utf-8")
    result = process("check", path, PYTHONIOENCODING="ascii", PYTHONUTF8="0", LC_ALL="C")
    assert result.returncode == 0, result.stderr


@pytest.fixture
def small_disk(tmp_path):
    """A file system of 64 kB, where this user may mount one."""
    place = tmp_path / "disk"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(place)], capture_output=True, check=False
    ) if sys.platform == "linux" and os.geteuid() == 0 else None  # fmt: skip
    if mounted is None or mounted.returncode != 0:
        pytest.skip("no small file system can be mounted here")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_a_full_disk_leaves_nothing_half_written(small_disk):
    (small_disk / "result.json").write_text("{}")
    result = process("run", CASES / "hot_start.toml", "--out", small_disk, "--no-pictures")
    assert "no space left" in refused(result, code=1)
    assert os.listdir(small_disk) == ["result.json"]
    assert (small_disk / "result.json").read_text() == "{}"


def test_a_reader_that_goes_away_is_no_traceback(tmp_path):
    """`sleevelift show CASE | head -1`: the pipe closes early."""
    read, write = os.pipe()
    os.close(read)
    with subprocess.Popen(
        command("show", CASES / "hot_start.toml"), stdout=write, stderr=subprocess.PIPE, env=environment(), text=True
    ) as child:
        os.close(write)
        told = child.communicate(timeout=ENOUGH)[1]
    assert "Traceback" not in told and child.returncode != 0


def hears_interrupts():
    """A suite started in the background of a shell hands its children an ignored interrupt: they hear it again."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def first_result(folder, child):
    """Wait for the first finished result."""
    until = time.monotonic() + ENOUGH
    while time.monotonic() < until and child.poll() is None:
        if list(folder.glob("*/result.json")):
            return
        time.sleep(0.01)
    pytest.fail(f"no result came: {child.communicate()}")


def test_an_interrupt_leaves_whole_files_and_says_so(tmp_path):
    copies = []
    for number in range(150):
        copies.append(tmp_path / f"case{number}.toml")
        copies[-1].write_text((CASES / "dry_bench.toml").read_text())
    out = tmp_path / "out"
    with subprocess.Popen(
        command("run", *copies, "--out", out, "--no-pictures"),
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=environment(), text=True, preexec_fn=hears_interrupts,
    ) as child:  # fmt: skip
        first_result(out, child)
        child.send_signal(signal.SIGINT)
        told = child.communicate(timeout=ENOUGH)[1]
    assert child.returncode == 130, told
    assert "Interrupted" in told and "Traceback" not in told and "not done: " in told
    left = [path for path in out.rglob("*") if path.is_file()]
    assert left and {path.name for path in left} == {"result.json", "traces.csv"}
    for path in out.glob("*/result.json"):
        json.loads(path.read_text())
        assert (path.parent / "traces.csv").read_text().endswith("\n")
    assert all(any(folder.iterdir()) for folder in out.iterdir())


COMMANDS = [
    *(("check", CASES / f"{name}.toml") for name in ("hot_start", "dry_bench", "cold_flow")),
    ("run", CASES / "dry_bench.toml", "--out", "run"),
    ("run", CASES / "hot_start.toml", CASES / "bottle_blowdown.toml", "--no-pictures", "--out", "runs"),
    ("show", CASES / "cold_flow.toml"),
    ("new", "starter.toml", "--kind", "hot"),
    ("schema",),
    ("map", CASES / "dry_bench.toml", "--vary", "spring.preload=700N:800N:3", "--of", "closing_time", "--out", "map"),
    ("scatter", CASES / "dry_bench.toml", "--n", "8", "--out", "scatter"),
    ("faults", CASES / "dry_bench.toml", "--out", "faults"),
    (
        "choose", CASES / "dry_bench.toml", "--for", "opening_time=50ms:90ms", "--move", "solenoid.fill_orifice=drills:0.9mm:1mm",
        "--points", "8", "--out", "choose",
    ),
    ("window", CASES / "hot_start.toml", "--out", "window"),
    ("compare", CASES / "dry_bench.toml", "run", "--out", "compare"),
    ("card", CASES / "dry_bench.toml", "--test", "dry", "--n", "8", "--out", "card"),
]  # fmt: skip


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere the compiler's own cache serves")
def test_nothing_is_compiled_twice(tmp_path):
    """Every command, in one process that may compile and in one that must not: code that cannot be kept would cost seconds each
    time."""
    script = f"""
import sys
import sleevelift.cli
for words in {[[str(word) for word in words] for words in COMMANDS]!r}:
    sys.argv = ["sleevelift", *words]
    try:
        sleevelift.cli.main()
    except SystemExit as end:
        assert not end.code, (words, end.code)
    print("compiler:", *words[:2], "numba" in sys.modules)
"""

    def loaded(name):
        folder = tmp_path / name
        folder.mkdir()
        told = {"capture_output": True, "text": True, "timeout": ENOUGH, "check": False}
        run = subprocess.run([sys.executable, "-c", script], cwd=folder, env=environment(), **told)
        assert run.returncode == 0, run.stderr
        return [line.split()[1:] for line in run.stdout.splitlines() if line.startswith("compiler:")]

    found = loaded("may-compile")
    assert len(found) == len(COMMANDS)
    if found[-1][-1] == "True":
        found = loaded("may-not")
    assert [words for *words, compiler in found if compiler == "True"] == []


def test_a_line_moves_on_a_terminal_only(monkeypatch, capsys):
    """Seconds are counted while something takes its time, and the line is wiped away; nothing of it goes into a file."""
    import time

    from sleevelift import cli

    with cli.moving_line("compiling"):
        time.sleep(0.7)
    assert capsys.readouterr().err == ""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    with cli.moving_line("compiling"):
        time.sleep(1.7)
    told = capsys.readouterr().err.split("\r")
    seconds = {line for line in told if line.startswith("compiling ") and line.endswith(" s")}
    assert len(seconds) >= 2 and told[-1] == "" and told[-2].strip() == ""
