"""Chunks on disk: resumed after a kill, recomputed when damaged, the same numbers whatever the workers."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from sleevelift import load_case
from sleevelift.batch import simulate_many
from sleevelift.scheduler import HANDOVER, quick_handover
from sleevelift.study import mark, store
from sleevelift.study.store import CHUNK, PARTS, Work, computed, part_bytes, part_of, study_key

ROOT = Path(__file__).resolve().parents[2]
CASE = ROOT / "cases" / "dry_bench.toml"


def lanes(n):
    return [{"seals.friction_factor": 0.5 + i / n} for i in range(n)]


def same(a, b):
    return all(np.array_equal(a.measures[k], b.measures[k], equal_nan=True) for k in a.measures) and all(
        np.array_equal(a.checks[k], b.checks[k], equal_nan=True) for k in a.checks
    )


@pytest.fixture(scope="module")
def case():
    return load_case(CASE)


@pytest.fixture(scope="module")
def plain(case):
    return simulate_many(case, lanes(2 * CHUNK + 2))


def test_same_numbers_from_any_number_of_workers(case, plain):
    assert same(computed(case, lanes(2 * CHUNK + 2), Work(workers=1)), plain)
    assert same(computed(case, lanes(2 * CHUNK + 2), Work(workers=3)), plain)


def test_a_finished_study_is_read_not_computed(case, plain, tmp_path, monkeypatch):
    first = computed(case, lanes(2 * CHUNK + 2), Work(tmp_path))
    monkeypatch.setattr("sleevelift.study.store.chunk_batch", lambda *_: pytest.fail("computed again"))
    assert same(computed(case, lanes(2 * CHUNK + 2), Work(tmp_path)), first)
    assert same(first, plain)


@pytest.mark.parametrize("damage", [lambda b: b[: len(b) // 2], lambda b: b[:-9] + b"x" + b[-8:], lambda b: b""])
def test_a_damaged_part_is_computed_again(case, plain, tmp_path, monkeypatch, damage):
    computed(case, lanes(2 * CHUNK + 2), Work(tmp_path))
    part = sorted((tmp_path / PARTS).glob("*/part-*"))[1]
    part.write_bytes(damage(part.read_bytes()))
    from sleevelift.study import store

    counted, honest = [], store.chunk_batch
    monkeypatch.setattr(store, "chunk_batch", lambda case, some: counted.append(len(some)) or honest(case, some))
    assert same(computed(case, lanes(2 * CHUNK + 2), Work(tmp_path)), plain)
    assert counted == [CHUNK]


def test_a_failed_lane_survives_the_disk(case):
    from sleevelift.study.store import chunk_batch

    batch = chunk_batch(case, [{}, {"spring.no_such_key": 1.0}])
    again = part_of(part_bytes(batch), 2)
    assert again is not None and list(again.failures) == [1] and same(again, batch)
    assert part_of(part_bytes(batch), 3) is None


def test_the_key_follows_case_and_lanes(case):
    key = study_key(case, lanes(3))
    assert study_key(case, lanes(3)) == key
    assert study_key(case, lanes(4)) != key
    from sleevelift import with_values

    assert study_key(with_values(case, {"spring.preload": 700.0}), lanes(3)) != key


@pytest.mark.parametrize("library", mark.LIBRARIES)
def test_the_key_follows_the_versions_of_libraries(case, monkeypatch, library):
    """Parts of another library are not taken for this one's: after an update the lanes are computed again."""
    honest, key = mark.library_versions(), study_key(case, lanes(3))
    monkeypatch.setattr(mark, "library_versions", lambda: honest | {library: "0.0.1"})
    mark.computing_mark.cache_clear()
    try:
        assert study_key(case, lanes(3)) != key
    finally:
        mark.computing_mark.cache_clear()


def test_the_key_follows_python(case, monkeypatch):
    key = study_key(case, lanes(3))
    monkeypatch.setattr("platform.python_version", lambda: "3.99.0")
    mark.computing_mark.cache_clear()
    try:
        assert study_key(case, lanes(3)) != key
    finally:
        mark.computing_mark.cache_clear()


def test_parts_of_a_delivered_study_are_removed_by_the_next(tmp_path):
    """Those of one that was stopped stay, and so do those that the next one used."""

    def used(key, at):
        (tmp_path / PARTS / key).mkdir(parents=True, exist_ok=True)
        (tmp_path / PARTS / key / "manifest.json").write_text("{}")
        os.utime(tmp_path / PARTS / key / "manifest.json", (at, at))

    used("stopped", 100.0)
    for key, at in (("a", 1000.0), ("a2", 1001.0)):  # a study of two stages
        used(key, at)
    store.leave_delivered(tmp_path, 999.5)
    used("a", 2000.0)
    used("b", 2001.0)
    store.leave_delivered(tmp_path, 2000.0)
    assert sorted(path.name for path in (tmp_path / PARTS).iterdir()) == ["a", "b", "stopped"]


def test_a_worker_with_another_program_computes_nothing():
    """Its numbers would come back without a word under this one's provenance."""
    assert mark.marked(mark.computing_mark(), max, 1, 2) == 2
    with pytest.raises(mark.OtherProgram, match="a worker has"):
        mark.marked(mark.computing_mark() + "x", max, 1, 2)


def test_a_killed_study_resumes(case, tmp_path):
    """kill -9 in the middle: finished chunks stay, only the others are computed."""
    n = 12 * CHUNK
    code = (
        "import sys; from pathlib import Path; from sleevelift import load_case\n"
        "from sleevelift.study.store import Work, computed\n"
        f"n = {n}\n"
        "computed(load_case(sys.argv[1]), [{'seals.friction_factor': 0.5 + i / n} for i in range(n)], Work(Path(sys.argv[2]), 1))"
    )
    process = subprocess.Popen([sys.executable, "-c", code, str(CASE), str(tmp_path)], cwd=ROOT)
    deadline = time.monotonic() + 600.0
    while not (found := list(tmp_path.glob(f"{PARTS}/*/part-*"))) and time.monotonic() < deadline and process.poll() is None:
        time.sleep(0.01)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    assert process.returncode == -signal.SIGKILL, "it had finished before the kill"
    kept = {path: path.stat().st_mtime_ns for path in tmp_path.glob(f"{PARTS}/*/part-*")}
    assert found and 0 < len(kept) < n // CHUNK
    told = []
    batch = computed(case, lanes(n), Work(tmp_path, progress=lambda done, total: told.append(done)))
    assert told[0] == CHUNK * len(kept) and told[-1] == n
    assert {path: path.stat().st_mtime_ns for path in kept} == kept
    assert same(batch, simulate_many(case, lanes(n)))


def test_the_interpreter_is_handed_over_quickly_only_while_lanes_run(case):
    """Within a batch after 0.1 ms at most, nested ones included; afterwards as before, also where a lane's news raise."""
    usual = sys.getswitchinterval()
    seen = []
    with quick_handover():
        simulate_many(case, [{}] * 2, progress=lambda done, total: seen.append(sys.getswitchinterval()))
        assert sys.getswitchinterval() <= HANDOVER * 1.01
    assert seen and max(seen) <= HANDOVER * 1.01
    assert sys.getswitchinterval() == usual

    def stopped(done, total):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        simulate_many(case, [{}] * 2, progress=stopped)
    assert sys.getswitchinterval() == usual
