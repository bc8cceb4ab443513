"""Faults and comparisons go on where they stopped: what is on disk is read, only the rest is run."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from sleevelift import load_case, simulate, with_values
from sleevelift.report.files import json_text
from sleevelift.study import run_store
from sleevelift.study.compare import compare_study
from sleevelift.study.faults import fault_study
from sleevelift.study.run_store import RUNS, kept_run, kept_runs, run_bytes, run_of
from sleevelift.study.store import PARTS, Work

ROOT = Path(__file__).resolve().parents[2]
CASE = ROOT / "cases" / "dry_bench.toml"


@pytest.fixture(scope="module")
def case():
    return load_case(CASE)


@pytest.fixture(scope="module")
def plain(case):
    return fault_study(case)


def kept(folder):
    return {path: path.stat().st_mtime_ns for path in folder.glob(f"{PARTS}/{RUNS}/*.npz")}


def counted(monkeypatch):
    """Cases that are really run from here on."""
    ran = []
    monkeypatch.setattr(run_store, "kept_run", lambda case: ran.append(case) or kept_run(case))
    return ran


def test_a_run_survives_the_disk(case):
    run = kept_run(case)
    again = run_of(run_bytes(run), case)
    assert again is not None and again[:4] == run[:4] and again.failure is None
    assert all(np.array_equal(again.traces[name], run.traces[name]) for name in run.traces) and len(again.traces) > 3
    result = simulate(case)
    assert again.measures == result.measures and again.checks == result.checks
    assert np.array_equal(again.traces["lift"], result.traces["lift"])


def test_faults_killed_in_the_middle_go_on(case, plain, tmp_path):
    """kill -9: the runs that had finished stay, the others are run, the answer is that of an undisturbed study."""
    code = (
        "import sys, time; from pathlib import Path; from sleevelift import load_case; from sleevelift.study import run_store\n"
        "from sleevelift.study.faults import fault_study; from sleevelift.study.store import Work\n"
        "honest = run_store.kept_run\n"
        "run_store.kept_run = lambda case: (time.sleep(0.3), honest(case))[1]\n"
        "fault_study(load_case(sys.argv[1]), Work(Path(sys.argv[2]), 1))"
    )
    process = subprocess.Popen([sys.executable, "-c", code, str(CASE), str(tmp_path)], cwd=ROOT)
    deadline = time.monotonic() + 600.0
    while len(kept(tmp_path)) < 3 and time.monotonic() < deadline and process.poll() is None:
        time.sleep(0.02)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    assert process.returncode == -signal.SIGKILL, "it had finished before the kill"
    before = kept(tmp_path)
    run = sum(row.verdict != "-" for row in plain.data["faults"])
    assert 3 <= len(before) < run
    told = []
    answer = fault_study(case, Work(tmp_path, progress=lambda done, total: told.append((done, total))))
    assert json_text(answer.data) == json_text(plain.data) and answer.sentence == plain.sentence
    after = kept(tmp_path)
    assert {path: after[path] for path in before} == before and len(after) == run + 1  # the case without a fault
    assert told[0] == (len(before) - 1, run) and told[-1] == (run, run)


def test_a_finished_fault_study_is_read(case, plain, tmp_path, monkeypatch):
    first = fault_study(case, Work(tmp_path, workers=1))
    assert json_text(first.data) == json_text(plain.data)
    ran = counted(monkeypatch)
    assert json_text(fault_study(case, Work(tmp_path)).data) == json_text(plain.data)
    assert ran == []


def test_a_comparison_goes_on(case, tmp_path, monkeypatch):
    others = [with_values(case, {"solenoid.fill_orifice": size}) for size in (1.1e-3, 1.2e-3)]
    plain = compare_study([case, *others])

    def broken(case_now):
        if case_now is others[1]:
            raise KeyboardInterrupt
        return kept_run(case_now)

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(run_store, "kept_run", broken)
        compare_study([case, *others], Work(tmp_path, workers=1))
    assert len(kept(tmp_path)) == 2
    ran = counted(monkeypatch)
    again = compare_study([case, *others], Work(tmp_path))
    assert ran == [others[1]] and json_text(again.data) == json_text(plain.data)


@pytest.mark.parametrize("damage", [lambda b: b[: len(b) // 2], lambda b: b[:-9] + b"x" + b[-8:], lambda b: b""])
def test_a_damaged_run_is_run_again(case, tmp_path, monkeypatch, damage):
    first = kept_runs([case], Work(tmp_path))[0]
    path = next(iter(kept(tmp_path)))
    path.write_bytes(damage(path.read_bytes()))
    ran = counted(monkeypatch)
    assert kept_runs([case], Work(tmp_path))[0].measures == first.measures and len(ran) == 1
