"""Files of a result: whole or not at all, JSON that any reader takes, names that never lead elsewhere."""

import errno
import json
import math
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sleevelift.report import files
from sleevelift.report.files import JUST_MADE, staged
from sleevelift.report.result_files import traces_csv

ROOT = Path(__file__).resolve().parents[2]


@given(st.text(max_size=200))
def test_a_file_name_is_one_plain_visible_part(text):
    name = files.safe_name(text)
    assert name and len(name) <= files.LONGEST_NAME + len("case_")
    assert all(letter.isascii() and (letter.isalnum() or letter in "._-") for letter in name)
    assert not name.startswith(".") and os.path.basename(name) == name


HOSTILE = ["..", "../../etc/passwd", "a/b", "\\\\host\\share", "", ".", "\x00", "CON", "nul.txt", "\u00e9"]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_names_stay_inside_the_folder(tmp_path, text):
    inside = (tmp_path / files.safe_name(text)).resolve()
    assert inside.parent == tmp_path.resolve()
    assert files.safe_name(text).split(".")[0].lower() not in files.RESERVED


def test_cases_of_one_name_get_folders_of_their_own():
    assert files.distinct_names(["a", "A", "a", "b", "a-2"]) == ["a", "A-2", "a-3", "b", "a-2-2"]


def test_json_has_no_nan_and_no_infinity():
    numbers = [math.nan, math.inf, 1.5, np.float64("nan"), np.int64(3), np.arange(2.0)]
    text = files.json_text({"a": numbers, "b": None, "c": (True, "x")})
    back = json.loads(text, parse_constant=pytest.fail)
    assert back == {"a": [None, None, 1.5, None, 3, [0.0, 1.0]], "b": None, "c": [True, "x"]}


def test_traces_read_back_digit_for_digit():
    rng = np.random.default_rng(1)
    traces = {"time": np.sort(rng.random(50)), "lift": rng.normal(size=50) * 1e-7, "mode": np.arange(50)}
    traces["lift"][3] = math.nan
    text = traces_csv(traces, {"time": "s", "lift": "m", "mode": ""})
    lines = text.splitlines()
    assert lines[0] == "time [s],lift [m],mode [-]"
    back = np.array([[float(field) if field else math.nan for field in line.split(",")] for line in lines[1:]])
    for column, name in enumerate(traces):
        np.testing.assert_array_equal(back[:, column], traces[name])
    assert traces_csv({}, {}) == "time [s]\n"


@pytest.fixture
def full_disk(monkeypatch):
    """Every flush to disk fails as on a full one."""

    def no_space(descriptor):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(files.os, "fsync", no_space)


def test_a_full_disk_leaves_the_old_file(tmp_path, full_disk):
    path = tmp_path / "x.txt"
    path.write_text("old")
    with pytest.raises(OSError, match="space"):
        files.write_text_atomically(path, "new")
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["x.txt"]


def test_a_file_is_replaced_or_spared(tmp_path):
    path = tmp_path / "x.txt"
    files.write_text_atomically(path, "first")
    files.write_text_atomically(path, "second")
    assert path.read_text() == "second"
    with pytest.raises(FileExistsError):
        files.write_text_atomically(path, "third", overwrite=False)
    assert path.read_text() == "second"
    assert os.listdir(tmp_path) == ["x.txt"]


def test_without_hard_links_an_existing_file_is_still_spared(tmp_path, monkeypatch):
    def no_links(source, target):
        raise OSError(errno.EPERM, "no hard links here")

    monkeypatch.setattr(files.os, "link", no_links)
    path = tmp_path / "x.txt"
    files.write_text_atomically(path, "first", overwrite=False)
    with pytest.raises(FileExistsError):
        files.write_text_atomically(path, "second", overwrite=False)
    assert path.read_text() == "first"


@pytest.mark.parametrize("fault", [KeyboardInterrupt, OSError, ValueError])
def test_a_stage_that_fails_leaves_what_was_there(tmp_path, fault):
    (tmp_path / "a").write_text("old")
    with pytest.raises(fault), files.staged(tmp_path) as stage:
        (stage / "a").write_text("new")
        (stage / "b").write_text("new")
        raise fault
    assert (tmp_path / "a").read_text() == "old"
    assert os.listdir(tmp_path) == ["a"]


def test_a_stage_that_ends_well_moves_everything(tmp_path):
    (tmp_path / "a").write_text("old")
    with files.staged(tmp_path) as stage:
        (stage / "a").write_text("new")
        (stage / "b").write_text("more")
    assert (tmp_path / "a").read_text() == "new"
    assert sorted(os.listdir(tmp_path)) == ["a", "b"]


def test_folders_that_were_made_and_stay_empty_are_taken_away(tmp_path):
    deep = tmp_path / "a" / "b" / "c"
    made = files.made_folder(deep)
    assert made == [deep, deep.parent, deep.parent.parent]
    files.remove_if_empty(made)
    assert os.listdir(tmp_path) == []
    made = files.made_folder(deep)
    (deep.parent / "kept").write_text("x")
    files.remove_if_empty(made)
    assert os.listdir(deep.parent) == ["kept"]


def test_a_folder_under_a_file_cannot_be_made(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(OSError):
        files.made_folder(tmp_path / "file" / "out")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="elsewhere folders are not locked so")
def test_what_a_killed_run_left_is_removed_by_the_next_and_what_another_is_at_stays(tmp_path):
    code = (
        "import sys, time; from pathlib import Path; from sleevelift.report.files import staged\n"
        "with staged(Path(sys.argv[1])) as stage:\n"
        "    (stage / 'half').write_text('x'); print(stage, flush=True); time.sleep(600)"
    )
    others = [subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE, text=True) for _ in range(2)]
    killed, at_work = (Path(other.stdout.readline().strip()) for other in others)
    others[0].kill()
    others[0].wait()
    long_ago = time.time() - 2.0 * JUST_MADE
    (tmp_path / ".unfinished").mkdir()
    for stage in (killed, at_work):
        os.utime(stage, (long_ago, long_ago))
    try:
        with staged(tmp_path) as stage:
            (stage / "whole").write_text("x")
        assert not killed.exists() and (at_work / "half").exists()
        assert sorted(path.name for path in tmp_path.iterdir()) == sorted([".unfinished", at_work.name, "whole"])
    finally:
        others[1].kill()
        others[1].wait()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no device that is always full")
@pytest.mark.parametrize("command", [["run", "--no-pictures"], ["compare"]])
def test_a_failing_output_says_that_the_results_are_written(tmp_path, command):
    cases = [str(ROOT / "cases" / "dry_bench.toml")] * (2 if command[0] == "compare" else 1)
    arguments = [sys.executable, "-m", "sleevelift.cli", *command, *cases, "--out", str(tmp_path / "out")]
    with open("/dev/full", "w") as full:
        done = subprocess.run(arguments, stdout=full, stderr=subprocess.PIPE, text=True, timeout=300, check=False)
    assert done.returncode == 1 and "Traceback" not in done.stderr and "Exception ignored" not in done.stderr
    (line,) = [line for line in done.stderr.splitlines() if "no space left" in line]
    assert "results are written" in line and "not written" not in line and str(tmp_path / "out") in line
    named = line.split("results are written (")[1].split(")")[0].split(", ")
    assert named and all((tmp_path / "out" / name).is_file() for name in named)


def test_names_of_files_move_no_cursor(tmp_path):
    file = tmp_path / "a\x1b[2Jb\rc.toml"
    file.write_text("x = 1")
    arguments = [sys.executable, "-m", "sleevelift.cli"]
    for command in (["run", str(file)], ["check", str(file)], ["run", f"{file}\x1b", "--out", "d\x1be"], ["scatter", str(file)]):
        done = subprocess.run([*arguments, *command], capture_output=True, text=True, timeout=300, check=False, cwd=tmp_path)
        assert done.returncode == 2 and not set("\x1b\r") & set(done.stdout + done.stderr)
        assert "\\x1b[2Jb" in done.stderr
