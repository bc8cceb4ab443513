"""Studies on a Dask scheduler with two worker processes: the same numbers, and nothing lost when one is killed."""

import contextlib
import gc
import importlib.util
import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from sleevelift import load_case
from sleevelift.batch import simulate_many
from sleevelift.case.faults import CaseError
from sleevelift.report.files import json_text
from sleevelift.study.choose import choose_study, move_of
from sleevelift.study.faults import fault_study
from sleevelift.study.scatter import scatter_study
from sleevelift.study.store import CHUNK, PARTS, Work, computed
from sleevelift.study.targets import target_of

ROOT = Path(__file__).resolve().parents[2]
CASE = ROOT / "cases" / "dry_bench.toml"
PATIENCE = 60.0
"""s. For a process to start."""

pytestmark = pytest.mark.skipif(
    importlib.util.find_spec("distributed") is None, reason="distributed is not installed (extra cluster)"
)


@pytest.fixture(scope="module")
def case():
    case = load_case(CASE)
    simulate_many(case, [{}])  # compiled here, so that the workers only load
    return case


def started(*args):
    """A process of `distributed`, at the sources that are under test."""
    paths = [str(ROOT / "sim"), *filter(None, [os.environ.get("PYTHONPATH")])]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    return subprocess.Popen([sys.executable, "-m", *args], cwd=ROOT, env=env, **quiet)


@pytest.fixture
def scheduler(tmp_path):
    """(address, function that starts a worker); every process started is stopped at the end."""
    file = tmp_path / "scheduler.json"
    arguments = "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", str(file)
    processes = [started("distributed.cli.dask_scheduler", *arguments)]
    deadline = time.monotonic() + PATIENCE
    address = None
    while address is None and time.monotonic() < deadline:
        try:
            address = json.loads(file.read_text())["address"]
        except (OSError, ValueError):
            time.sleep(0.05)
    assert address is not None, "the scheduler did not start"

    def worker():
        arguments = address, "--nthreads", "1", "--no-nanny", "--no-dashboard", "--local-directory", str(tmp_path)
        processes.append(started("distributed.cli.dask_worker", *arguments))
        return processes[-1]

    yield address, worker
    for process in reversed(processes):
        process.kill()
        process.wait()


def workers_known(address, count):
    from distributed import Client

    with Client(address, timeout=PATIENCE, set_as_default=False) as client:
        client.wait_for_workers(count, timeout=PATIENCE)
        return client.scheduler_info()["workers"]


def same(a, b):
    return all(np.array_equal(a.measures[k], b.measures[k], equal_nan=True) for k in a.measures) and (
        a.outcomes.tolist() == b.outcomes.tolist() and a.status.tolist() == b.status.tolist() and a.failures == b.failures
    )


def test_one_of_two_workers_killed_mid_study(case, scheduler, tmp_path):
    """The other one takes over what it had: every lane is there, with the digits of one machine."""
    address, worker = scheduler
    victim, other = worker(), worker()
    assert len(workers_known(address, 2)) == 2
    n = 12 * CHUNK + 3
    lanes = [{"seals.friction_factor": 0.5 + i / n} for i in range(n - 1)] + [{"spring.no_such_key": 1.0}]
    told = []

    def kill_one(done, total):
        told.append(done)
        if done >= 2 * CHUNK and victim.poll() is None:
            os.kill(victim.pid, signal.SIGKILL)
            victim.wait()

    batch = computed(case, lanes, Work(tmp_path / "kept", progress=kill_one, cluster=address))
    assert victim.returncode == -signal.SIGKILL and other.poll() is None
    assert any(2 * CHUNK <= done < n - 2 * CHUNK for done in told), "it was killed with nothing left to do"
    assert told[-1] == n and len(batch) == n and list(batch.failures) == [n - 1]
    assert same(batch, computed(case, lanes, Work(workers=2)))
    assert len(list((tmp_path / "kept" / PARTS).glob("*/part-*"))) == 13


def test_a_whole_study_has_the_numbers_of_one_machine(case, scheduler):
    address, worker = scheduler
    worker(), worker()
    workers_known(address, 2)
    targets, axes = [target_of(case, "opening_time=50ms:90ms")], [move_of(case, "solenoid.fill_orifice=drills:0.9mm:1mm")]
    studies = (
        lambda work: scatter_study(case, 100, seed=7, work=work),
        lambda work: choose_study(case, CASE.read_text(), targets, axes, 7, work, points=8),
        lambda work: fault_study(case, work),
    )
    for study in studies:
        there, here = study(Work(cluster=address)), study(Work())
        assert json_text(there.data) == json_text(here.data) and json_text(there.rows) == json_text(here.rows)


def test_a_scheduler_without_workers_is_refused(case, scheduler, monkeypatch):
    monkeypatch.setattr("sleevelift.study.cluster.PATIENCE", 1)
    with pytest.raises(CaseError, match="has no worker"):
        computed(case, [{}], Work(cluster=scheduler[0]))


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:{}", "nonsense://x", "tcp://127.0.0.1:notaport"])
def test_an_address_where_nobody_answers_is_refused(case, monkeypatch, address):
    monkeypatch.setattr("sleevelift.study.cluster.PATIENCE", 2)
    with socket.socket() as free:  # bound and not listening: nobody answers
        free.bind(("127.0.0.1", 0))
        with pytest.raises(CaseError, match="no scheduler answers") as caught:
            computed(case, [{}], Work(cluster=address.format(free.getsockname()[1])))
    assert len(str(caught.value).splitlines()) == 1


def test_a_refused_address_leaves_no_client_to_be_collected_in_the_next_ones_thread(case, monkeypatch):
    """There it would wait for the lock that the next one holds while it waits for that thread."""
    from distributed import Client

    monkeypatch.setattr("sleevelift.study.cluster.PATIENCE", 1)
    gc.collect()
    gc.disable()
    try:
        with pytest.raises(CaseError, match="no scheduler answers"):
            computed(case, [{}], Work(cluster="nonsense://x"))
        assert not [each for each in gc.get_objects() if issubclass(type(each), Client)]
    finally:
        gc.enable()


def test_a_scheduler_lost_mid_study_is_one_line_and_what_is_finished_stays(case, scheduler, tmp_path):
    from sleevelift.study.cluster import ClusterLost

    address, worker = scheduler
    worker()
    pid = workers_known(address, 1) and _pid_of_scheduler(address)
    n = 16 * CHUNK
    lanes = [{"seals.friction_factor": 0.5 + i / n} for i in range(n)]
    told = []

    def kill_scheduler(done, total):
        if done and not told:
            told.append(done)
            os.kill(pid, signal.SIGKILL)

    with pytest.raises(ClusterLost) as caught:
        computed(case, lanes, Work(tmp_path / "kept", progress=kill_scheduler, cluster=address))
    assert address in str(caught.value) and len(str(caught.value).splitlines()) == 1
    kept = len(list((tmp_path / "kept" / PARTS).glob("*/part-*")))
    assert 0 < kept < 16
    resumed = []
    computed(case, lanes, Work(tmp_path / "kept", progress=lambda done, total: resumed.append(done)))
    assert resumed[0] == kept * CHUNK and resumed[-1] == n


def _pid_of_scheduler(address):
    from distributed import Client

    with Client(address, timeout=PATIENCE, set_as_default=False) as client:
        return client.run_on_scheduler(os.getpid)


def test_a_worker_with_another_program_is_refused(case, scheduler):
    """Told before anything is computed, with the worker's place and both versions."""
    from distributed import Client
    from sleevelift.study import mark

    address, worker = scheduler
    worker()
    workers_known(address, 1)

    def other():
        from sleevelift.study import mark

        mark.program_mark = lambda: "0.0.1+other"
        mark.computing_mark.cache_clear()

    with Client(address, timeout=PATIENCE, set_as_default=False) as client:
        client.run(other)
    with pytest.raises(CaseError, match=r"the worker at tcp://\S+ has 0.0.1\+other") as caught:
        computed(case, [{}], Work(cluster=address))
    assert mark.computing_mark() in str(caught.value) and len(str(caught.value).splitlines()) == 1


def test_no_worker_left_is_said_and_waited_for(case, scheduler, tmp_path, monkeypatch, capfd):
    """The only worker is killed in the middle; one started after the line has been said finishes the study."""
    address, worker = scheduler
    monkeypatch.setattr("sleevelift.scheduler.PATIENCE", 2.0)
    only = worker()
    workers_known(address, 1)
    n = 8 * CHUNK
    lanes = [{"seals.friction_factor": 0.5 + i / n} for i in range(n)]
    said, started_later = [], []
    from sleevelift.study import cluster

    honest = cluster._tell_if_alone

    def then_start_one(*given):
        honest(*given)
        said.append(capfd.readouterr().err)
        if "has no worker left" in said[-1]:
            started_later.append(worker())

    def kill_it(done, total):
        if done and only.poll() is None:
            os.kill(only.pid, signal.SIGKILL)
            only.wait()

    monkeypatch.setattr(cluster, "_tell_if_alone", then_start_one)
    batch = computed(case, lanes, Work(tmp_path / "kept", progress=kill_it, cluster=address))
    assert len(started_later) == 1 and "".join(said).count("\n") == 1
    assert same(batch, computed(case, lanes, Work(workers=2)))


@pytest.mark.parametrize("answer", [None, b"HTTP/1.0 400 Bad Request\r\n\r\n", b""])
def test_a_server_that_is_no_scheduler_is_refused_in_time(case, monkeypatch, capfd, answer):
    """One that accepts and is silent, one that speaks of other things, one that hangs up: one line, no traceback, in time."""
    monkeypatch.setattr("sleevelift.study.cluster.PATIENCE", 2)

    def serve(server):
        with contextlib.suppress(OSError):
            while True:
                connection, _ = server.accept()
                if answer is not None:
                    connection.sendall(answer)
                    connection.close()
                else:
                    held.append(connection)

    held = []
    with socket.create_server(("127.0.0.1", 0)) as server:
        threading.Thread(target=serve, args=(server,), daemon=True).start()
        began = time.monotonic()
        with pytest.raises(CaseError, match="no scheduler answers") as caught:
            computed(case, [{}], Work(cluster=f"tcp://127.0.0.1:{server.getsockname()[1]}"))
        assert time.monotonic() - began < 10.0
    gc.collect()
    assert len(str(caught.value).splitlines()) == 1 and "Traceback" not in capfd.readouterr().err
