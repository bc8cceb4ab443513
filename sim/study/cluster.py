"""The same chunks on a Dask scheduler, past one machine (extra `cluster`).

    executor("tcp://host:8786", retries) -> (executor whose submit gives concurrent futures, threads of all workers)

A chunk whose worker is lost is given to another one. Workers need this program installed; numbers are those of one machine,
because a lane is computed by itself.
"""

import contextlib
from collections.abc import Iterator
from concurrent.futures import Executor
from typing import Any

from sim.case.faults import CaseError, Fault

PATIENCE = 15
"""s. To find the scheduler."""


@contextlib.contextmanager
def executor(address: str, retries: int) -> Iterator[tuple[Executor, int]]:
    """An executor on the scheduler at `address`. CaseError where there is none or the extra is not installed."""
    try:
        import distributed
    except ImportError:
        raise CaseError([Fault((), 'needs dask and distributed: pip install "sleevelift[cluster]"')], "--cluster") from None
    try:
        connect: Any = distributed.Client
        client = connect(address, timeout=PATIENCE)
    except (OSError, ValueError) as error:
        raise CaseError([Fault((), f"no scheduler answers at {address}: {str(error)[:120]}")], "--cluster") from None
    with client:
        threads = sum(client.nthreads().values())
        pool = client.get_executor(retries=retries, pure=False)
        try:
            yield pool, max(1, threads)
        finally:
            pool.shutdown(wait=False)
