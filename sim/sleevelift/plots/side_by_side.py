"""Two pieces of work at once, the second in a process of its own, where the system and the caller allow it.

    this process   first() ........... wait, second() again if it failed there
    its copy       second() .. end

The copy (`fork`) has everything in memory as it stands, so nothing is loaded or sent; what it leaves are files. It never returns to
the caller, writes to no stream, and runs no exit handler. Whatever goes wrong in it is done again here, where it can be told.
"""

import os
import signal
import sys
import warnings
from collections.abc import Callable

ENOUGH_CORES = 2
"""With fewer, two processes take as long as one after the other."""


def can_part() -> bool:
    """Whether a copy of this process can be made and has a core to run on."""
    return sys.platform.startswith("linux") and len(os.sched_getaffinity(0)) >= ENOUGH_CORES


def side_by_side(first: Callable[[], object], second: Callable[[], object]) -> None:
    """Do both, at once where that is possible, else one after the other. Raises what either raises."""
    copy = _copy_that_does(second) if can_part() else None
    done = False
    try:
        first()
        done = copy is not None and os.waitstatus_to_exitcode(os.waitpid(copy, 0)[1]) == 0
        copy = None
    finally:
        if copy is not None:
            os.kill(copy, signal.SIGKILL)
            os.waitpid(copy, 0)
    if not done:
        second()


def _copy_that_does(work: Callable[[], object]) -> int | None:
    """The process id of a copy that does some work and ends, with 0 if it was done; None where none could be made."""
    with warnings.catch_warnings():
        # Python warns of threads: those of the array library sleep, and the line that counts seconds is not used by the copy
        warnings.simplefilter("ignore", DeprecationWarning)
        try:
            copy = os.fork()
        except OSError:
            return None
    if copy:
        return copy
    code = 1
    try:
        sys.stdout = sys.stderr = open(os.devnull, "w")
        work()
        code = 0
    finally:
        os._exit(code)
