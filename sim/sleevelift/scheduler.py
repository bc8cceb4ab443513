"""Hands out work to threads or to the workers of a cluster, and gives back what is done as it is done: for batches and studies.

delivered(pool, calls, most) -> (number of the call, what it gave), in the order in which they end
"""

import contextlib
import os
import sys
import threading
from collections.abc import Callable, Collection, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ThreadPoolExecutor, wait
from typing import Any, TypeVar

HANDOVER = 1e-4
"""s. While lanes run on threads the interpreter is handed over after so long: a thread that has integrated its lane waits for it
as long as another builds lanes, with Python's 5 ms a tenth of all time."""
IN_FLIGHT = 2
"""Calls handed out per worker: one at work, one waiting."""
PATIENCE = 15.0
"""s. Without any result until `look_after` is called."""
T = TypeVar("T")
Call = tuple[Any, ...]
"""A function and its arguments."""

_handing_over = 0
_usual_interval = 0.0
_lock = threading.Lock()


@contextlib.contextmanager
def quick_handover() -> Iterator[None]:
    """Hand the interpreter over after HANDOVER while inside; the last to leave puts back what there was."""
    global _handing_over, _usual_interval
    with _lock:
        if _handing_over == 0:
            _usual_interval = sys.getswitchinterval()
            sys.setswitchinterval(min(HANDOVER, _usual_interval))
        _handing_over += 1
    try:
        yield
    finally:
        with _lock:
            _handing_over -= 1
            if _handing_over == 0:
                sys.setswitchinterval(_usual_interval)


def workers_by_default() -> int:
    """Number of cores this process may use."""
    try:
        return max(1, len(os.sched_getaffinity(0)))
    except AttributeError:
        return max(1, os.cpu_count() or 1)


@contextlib.contextmanager
def threads(count: int) -> Iterator[Executor]:
    """So many threads while inside. What waits is dropped where the block ends in an error, without waiting for what runs."""
    pool = ThreadPoolExecutor(max_workers=count)
    try:
        with quick_handover():
            yield pool
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        raise
    pool.shutdown()


def _broke_off(future: Future[Any]) -> bool:
    """Whether it ended without a result: taken last, so that what has finished is kept first."""
    return future.cancelled() or future.exception() is not None


def _next_done(waiting: Collection[Future[T]], look_after: Callable[[], None] | None) -> set[Future[T]]:
    """Wait for the next to end, however long; now and then look after the workers."""
    while True:
        done = wait(waiting, timeout=None if look_after is None else PATIENCE, return_when=FIRST_COMPLETED).done
        if done or look_after is None:
            return done
        look_after()


def delivered(
    pool: Executor, calls: Iterable[tuple[int, Call]], workers: int, look_after: Callable[[], None] | None = None
) -> Iterator[tuple[int, Any]]:
    """(number, result) of each of `calls`, (number, function and arguments), as they end; the error of one that ends in an error.

    No more than IN_FLIGHT a worker are handed out at a time, so that an error or an interrupt leaves little behind.
    look_after: called every PATIENCE seconds without a result.
    """
    left = iter(calls)
    waiting: dict[Future[Any], int] = {}
    while True:
        while len(waiting) < IN_FLIGHT * workers and (following := next(left, None)) is not None:
            number, call = following
            waiting[pool.submit(*call)] = number
        if not waiting:
            return
        for future in sorted(_next_done(waiting, look_after), key=_broke_off):
            yield waiting.pop(future), future.result()
