"""The arrays of a run: what it is told, what it works in, what it leaves.

A workspace is one record (a row of a structured array) that holds settings, counters and scratch; its shapes are known
when the kernel is compiled, and passing it costs one pointer. A trajectory is a set of plain arrays of any length. Both
are made once, outside compiled code, and may be used for run after run; threads that run at once need one set each.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sleevelift.integrate.tableau import STAGES

LOOK_NEVER, LOOK_IF_NEAR, LOOK_ALWAYS = 0, 1, 2
"""Whether guards are also evaluated in the middle of a step: never; where their curvature says they may have dipped
below zero and come back; in every step."""

TARGET = -1
"""In `event_which`: not a guard but a time event."""

LANES = 4
"""Rows of states are padded to a multiple of this, so that loops over them need no remainder (doubles in a 32-byte
vector)."""

PLANS_KEPT = 24
"""Plans of elimination a workspace keeps (`symbolic_factorization`): a hot run meets some ten patterns."""

CACHE_LINE = 64
"""Bytes."""

_SETTINGS: list[tuple[str, type]] = [
    ("rtol", np.float64),
    ("event_tolerance", np.float64),
    ("largest_step", np.float64),
    ("event_window", np.float64),
    ("event_cap", np.int64),
    ("step_cap", np.int64),
    ("look_inside", np.int64),
]
_COUNTERS = ("points", "events", "steps", "rejected", "rhs_calls", "jacobian_calls", "factorizations", "pivoted")
_FLAGS = ("n", "n_core", "phase", "answer", "status", "restart", "settled", "outside", "which", "stage")
_ATTEMPT = ("just_rejected", "starting")
_PROGRESS = ("t", "t1", "h", "step", "h_before", "t_end", "target", "t_at", "error", "error_before")
_SEARCH_FLAGS = ("found", "trials", "moved", "slow", "halved")
_SEARCH = ("lo", "hi", "trial", "width")


class Trajectory(NamedTuple):
    """Arrays a run stores its points and events in, in the order the integrator takes them.

    t_out (points,), y_out (points, n), discrete_out (points, n_discrete), outputs_out (points, n_outputs); dense_out
    (points, 3, n) of the step that ends at the point, zeros where none does (length 0: not stored); event_time, event_which
    (events,) the guard, or TARGET; event_discrete (events, 2, n_discrete) before and after. How many are used: `points` and
    `events` of the workspace.
    """

    t_out: NDArray[np.float64]
    y_out: NDArray[np.float64]
    discrete_out: NDArray[np.int64]
    outputs_out: NDArray[np.float64]
    dense_out: NDArray[np.float64]
    event_time: NDArray[np.float64]
    event_which: NDArray[np.int64]
    event_discrete: NDArray[np.int64]


def trajectory(n: int, n_discrete: int, n_outputs: int, points: int = 4000, events: int = 1000, dense: bool = True) -> Trajectory:
    """Room for a run of at most so many points and events; without `dense` no dense output is stored."""
    return Trajectory(
        t_out=np.zeros(points),
        y_out=np.zeros((points, n)),
        discrete_out=np.zeros((points, n_discrete), dtype=np.int64),
        outputs_out=np.zeros((points, n_outputs)),
        dense_out=np.zeros((points if dense else 0, 3, n)),
        event_time=np.zeros(events),
        event_which=np.zeros(events, dtype=np.int64),
        event_discrete=np.zeros((events, 2, n_discrete), dtype=np.int64),
    )


def workspace_dtype(n: int, n_core: int, n_discrete: int, n_memo: int, n_outputs: int, n_guards: int) -> np.dtype[np.void]:
    """The layout of a workspace for systems of at most `n` states, `n_core` of which others depend on.

    One layout is one compilation: systems that share functions do well to share the layout of the largest.

    settings  see `workspace`; atol (n_core,); n and n_core as used
    counters  points and events stored; accepted and rejected steps; calls of the right-hand side and of the Jacobian;
              plans of elimination made; step sizes whose matrix needed row exchange
    phase     what is waited for (`phases`), the system's answer to it, the status at the end; restart: 1 until the
              first step after a jump is begun; settled: fresh starts at this instant; outside: whether one is out of
              range; which: the guard that fires
    progress  t and t1 the ends of the step at hand, `step` its size, h the size wanted next, h_before the last one;
              target the next time event or t_end; stage; error norms; whether the last attempt was rejected; starting: a
              start goes on (`control.START_ERROR`)
    search    bracket lo, hi, trial between them, width wanted (fractions of the step); see `events`
    states    y, y1 at the ends of a step with derivatives f0, f1; y_at, f_at at (t_at) where the system is asked, b a
              stage's known side; u (8, n) stage values; dfdt, J; k (3, n) dense output; all padded (J by column)
    signals   outputs0, outputs1 at the ends of a step, outputs_at; guards g0, g1, g_at alike, g_before one step back, g_lo of a
              search
    matrix    the plan and the factors of `linear`, and the plans kept by `symbolic_factorization`
    """
    padded = -(-n // LANES) * LANES
    padded_core = -(-n_core // LANES) * LANES
    products = (n_core - 1) * n_core * (2 * n_core - 1) // 6
    f, i = np.float64, np.int64
    u = np.uint32  # an index of this type needs no check for counting from the end
    fields: list[tuple[str, type] | tuple[str, type, tuple[int, ...]]] = []
    fields += [(name, f, (padded,)) for name in ("y", "y1", "y_at", "f0", "f1", "f_at", "dfdt", "b")]
    fields += [("u", f, (STAGES, padded)), ("k", f, (3, padded)), ("inverse", f, (n_core, padded))]
    fields += [("J", f, (n, padded_core)), ("unplanned", f, (n, padded_core))]
    fields += [*_SETTINGS, ("atol", f, (n_core,))]
    fields += [(name, i) for name in _COUNTERS + _FLAGS + _ATTEMPT + _SEARCH_FLAGS]
    fields += [(name, f) for name in _PROGRESS + _SEARCH]
    fields += [("discrete_state", i, (n_discrete,)), ("event_memory", f, (n_memo,))]
    fields += [(name, f, (n_outputs,)) for name in ("outputs0", "outputs1", "outputs_at")]
    fields += [(name, f, (n_guards,)) for name in ("g_before", "g0", "g1", "g_lo", "g_at")]
    fields += [("place", i, (n_core, n_core)), *((name, i, (n_core,)) for name in ("rank", "in_row", "in_column"))]
    counts = ("used", "used_quadrature", "entry_count", "pair_count", "row_exchange")
    fields += [(name, i) for name in counts]
    fields += [("nodes", u, (n_core, 4))] + [(name, u, (n_core * n_core,)) for name in ("row", "column", "pivot")]
    fields += [("program", u, (products + 1, 3)), ("pairs", u, (n_core * n_core, 3))]
    fields += [("gather", u, (n * n_core, 3)), ("original", f, (n_core,)), ("size", f, (n_core,))]
    fields += [("lu", f, (n_core * n_core + 1,)), ("dense", f, (n_core, n_core))]
    plan_size = 4 + 4 * n_core + 6 * n_core * n_core + 3 * (products + 1) + 3 * n * n_core
    fields += [("kept", i), ("slot", i), ("kept_size", i, (PLANS_KEPT, 2)), ("kept_pattern", np.uint8, (PLANS_KEPT, n, n_core))]
    fields += [("kept_plan", u, (PLANS_KEPT, plan_size))]
    return np.dtype(fields, align=True)


def aligned(layout: np.dtype[Any], count: int = 1) -> np.ndarray:
    """An array of zeros, (count,), that begins at a cache line, so that no vector in whole lines lies across two."""
    memory = np.zeros(layout.itemsize * count + CACHE_LINE, dtype=np.uint8)
    start = -memory.ctypes.data % CACHE_LINE
    return memory[start : start + layout.itemsize * count].view(layout)


def workspace(
    layout: np.dtype[np.void],
    atol: NDArray[np.float64] | float,
    rtol: float = 1e-4,
    event_tolerance: float = 1e-10,
    largest_step: float = np.inf,
    step_cap: int = 1_000_000,
    event_cap: int = 64,
    event_window: float = 1e-6,
    look_inside: int = LOOK_IF_NEAR,
    n: int | None = None,
    n_core: int | None = None,
) -> np.void:
    """A workspace of this layout with these settings, all of which may be changed later (`workspace["rtol"] = 1e-6`).

    atol             absolute tolerance of each core state, in its unit
    rtol             relative tolerance of a step
    event_tolerance  instants of events are bracketed to this (s)
    largest_step     no step is longer (s)
    step_cap         accepted and rejected steps before the run is given up
    event_cap        this many events within `event_window` (s), or at one instant, is a chatter and ends the run
    look_inside      LOOK_NEVER, LOOK_IF_NEAR or LOOK_ALWAYS
    n, n_core        states of this system, where fewer than the layout has room for
    """
    record: np.void = aligned(layout)[0]
    most, most_core = layout["J"].shape[0], layout["atol"].shape[0]
    record["n"] = most if n is None else n
    record["n_core"] = most_core if n_core is None else n_core
    record["unplanned"] = 1.0
    record["atol"] = atol
    record["rtol"] = rtol
    record["event_tolerance"] = event_tolerance
    record["largest_step"] = largest_step
    record["step_cap"] = step_cap
    record["event_cap"] = event_cap
    record["event_window"] = event_window
    record["look_inside"] = look_inside
    return record
