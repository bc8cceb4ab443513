"""The same chunks on a Dask scheduler, past one machine (extra `cluster`).

    dask scheduler                                          on one machine
    dask worker tcp://host:8786 --nthreads 1 --nworkers N   on each, the program and its extra `cluster` installed
    sleevelift scatter CASE --cluster tcp://host:8786

Only for schedulers that you trust and a network that strangers cannot reach: `distributed` sends pickled objects, so whoever
speaks to scheduler, worker or client can run code there. A chunk whose worker is lost is given to another one; numbers are
those of one machine, because a lane is computed by itself. One thread a worker is best: a process then compiles for itself.
"""

import contextlib
import gc
import logging
import socket
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Executor
from functools import partial
from typing import Any
from urllib.parse import urlsplit

from sleevelift.case.faults import CaseError, Fault
from sleevelift.study.mark import OtherProgram, computing_mark

PATIENCE = 15
"""s. To find the scheduler, and a worker of it."""
LONGEST = 120
"""letters of a reason that is passed on."""


LONGEST_GREETING = 1_000_000
"""bytes. A scheduler's is some hundred."""


class ClusterLost(ConnectionError):
    """The cluster went away in the middle of a study."""


def _refused(rule: str) -> CaseError:
    return CaseError([Fault((), rule)], "--cluster")


def _refuse_other_servers(address: str) -> None:
    """CaseError where something answers at a tcp address that does not greet as a scheduler, which speaks first: a frame that
    begins with its length, little end first. `distributed` itself would wait for ever, or take any bytes for a length."""
    parts = urlsplit(address)
    try:
        if parts.scheme != "tcp" or parts.hostname is None or parts.port is None:
            return
        with socket.create_connection((parts.hostname, parts.port), timeout=PATIENCE) as connection:
            greeting = connection.recv(8)
    except TimeoutError:
        raise _refused(f"no scheduler answers at {address}: nothing came within {PATIENCE:g} s") from None
    except (OSError, ValueError):
        return  # said by the client
    if len(greeting) < 8 or int.from_bytes(greeting, "little") > LONGEST_GREETING:
        raise _refused(f"no scheduler answers at {address}: what is there is something else")


def _client(address: str) -> Any:
    """A client of the scheduler. CaseError where there is none or the extra is not installed."""
    try:
        import distributed
    except ImportError:
        raise _refused('needs dask and distributed: pip install "sleevelift[cluster]"') from None
    connect: Any = distributed.Client
    # its log repeats on screen, with tracebacks, what becomes one line here
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    reason = None
    _refuse_other_servers(address)
    try:
        client = connect(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        reason = str(error).splitlines()[0][:LONGEST] if str(error) else type(error).__name__
    if reason is not None:
        # A client that failed is closed by the garbage collector, and closing takes the lock under which the next client
        # waits for its thread to start: collected in that thread, the two wait for each other until `distributed` gives up
        # after 10 s. So it is collected here, with its error already gone.
        gc.collect()
        raise _refused(f"no scheduler answers at {address}: {reason}")
    try:
        client.wait_for_workers(1, timeout=PATIENCE)
    except (TimeoutError, OSError):
        client.close()
        raise _refused(f"the scheduler at {address} has no worker: start one with `dask worker {address} --nthreads 1`") from None
    return client


def _refuse_others(client: Any) -> None:
    """CaseError where a worker does not compute as this process does, or cannot say how: its numbers may be others."""
    own = computing_mark()
    other = {where: mark for where, mark in client.run(computing_mark, on_error="return").items() if mark != own}
    if other:
        where, mark = sorted(other.items(), key=str)[0]
        has = mark if isinstance(mark, str) else "a version that does not say what it is"
        more = f" (and {len(other) - 1} more)" if len(other) > 1 else ""
        raise _refused(f"the worker at {where}{more} has {has}; this is {own}: install the same on all")


def _tell_if_alone(client: Any, address: str, told: list[str]) -> None:
    """A line on the error stream where the scheduler has no worker left: the study waits for one. `told` holds the address while
    that is so, and it is said once."""
    if client.nthreads():
        told.clear()
    elif not told:
        told.append(address)
        print(
            f"--cluster: the scheduler at {address} has no worker left; waiting for one "
            f"(`dask worker {address} --nthreads 1`), or interrupt: what is finished is kept",
            file=sys.stderr, flush=True,
        )  # fmt: skip


@contextlib.contextmanager
def executor(address: str, retries: int) -> Iterator[tuple[Executor, int, Callable[[], None]]]:
    """(executor on the scheduler at `address`, threads of all its workers, what says on the error stream that none is left).

    retries: times that a chunk is given out again when it ends in an error. CaseError where no worker can be reached,
    ClusterLost where scheduler or workers go away for good while it is at work.
    """
    client = _client(address)
    from distributed.comm.core import CommClosedError
    from distributed.scheduler import KilledWorker

    with client:
        _refuse_others(client)
        pool = client.get_executor(retries=retries, pure=False)
        try:
            yield pool, max(1, sum(client.nthreads().values())), partial(_tell_if_alone, client, address, [])
        except (CancelledError, CommClosedError) as error:
            raise ClusterLost(f"--cluster: the scheduler at {address} was lost: {type(error).__name__}") from None
        except OtherProgram as error:
            raise ClusterLost(f"--cluster: {error}: install the same on all") from None
        except KilledWorker as error:
            raise ClusterLost(f"--cluster: workers die on a chunk: {str(error).splitlines()[0][:LONGEST]}") from None
        finally:
            pool.shutdown(wait=False)
