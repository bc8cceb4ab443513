"""Bind plant and integrator: one run is one lane.

    Case -> Plant -> solve_lanes (compiled, releases the interpreter lock) -> Raw -> Result

A hot run carries a side run: from the instant of light-off the same run goes on unlit until the pool reaches the allowable
pressure, which gives the latest light-off. Arrays are kept per thread and reused.
"""

import contextlib
import threading
from collections.abc import Iterator, Sequence
from itertools import accumulate
from math import inf

import numpy as np

from sleevelift import measures as named_measures
from sleevelift import trajectory as traj
from sleevelift.case.parts import known_parts
from sleevelift.case.schema import Case
from sleevelift.case.walk import value_at
from sleevelift.integrate.phases import PREPARING
from sleevelift.integrate.status import Status
from sleevelift.integrate.workspace import CACHE_LINE, Trajectory, aligned, trajectory, workspace, workspace_dtype
from sleevelift.physics.gas import OUTSIDE, gas_at
from sleevelift.plant.build import Plant, build
from sleevelift.plant.gas_rows import GAS_NODES, nodes_of
from sleevelift.plant.lane import solve_lanes
from sleevelift.plant.layout import LARGEST, LARGEST_CORE
from sleevelift.plant.names import N_MEASURE
from sleevelift.plant.params import PLANT
from sleevelift.plant.scan import BEGINS_LIFTED, BEGINS_LIT, N_PULSE_STATE, PULSE_OUTCOME
from sleevelift.plant.state import D_MODE, MODE_NAMES, N_DISCRETE, N_GUARD, N_MEMO, N_SIGNAL, S_CHAMBER_P, S_SUPPLY_P
from sleevelift.reader import METRIC, Reader
from sleevelift.result import ENERGY_ALLOWED, LaneResult, PulseNumbers, Ran, Result
from sleevelift.sequence.resolve import Resolution, resolved
from sleevelift.sequence.view import View

FIRST_POINTS, FIRST_EVENTS = 4000, 1000
"""Room for stored points and events at first; doubled until a run fits."""
SIDE_POINTS = 500
"""Room for the side run at first."""
MOST_POINTS = 4_000_000
"""Beyond this a run is given up as failed (some gigabytes)."""
REFINEMENT = 0.1
"""-. Factor on the tolerance of such a repetition."""
FINEST = 1e-6
"""-. Tolerance below which nothing is repeated."""
LONE_PRESSURES = {"supply": S_SUPPLY_P, "combustion chamber": S_CHAMBER_P}
"""Places of which only the pressure is a signal."""
BYTES = np.dtype((np.void, PLANT.itemsize))
"""A lane as bytes: copied at once, field by field not."""
DOUBLES = CACHE_LINE // 8
"""Numbers in a cache line."""
OUT_OF_ROOM = (
    "The run took more steps or events than there is room for and was given up: something rings or rebounds nearly without end. "
    "Set an earlier end ([run] end, or --end) or a looser tolerance ([run] tolerance, or --tolerance)."
)
STEP_CAP = 2_000_000
"""Steps after which a run is given up."""


class Group:
    """Room for lanes that are run in one call, each beginning at a cache line; see `solve_lanes` for the arrays."""

    def __init__(self, lanes: int, doubles: int, core: int, pulses: int = 1) -> None:
        self.pulses = pulses
        self.lanes = aligned(PLANT, lanes)
        self.lane_bytes = self.lanes.view(BYTES)
        self.tables = aligned(np.dtype(np.float64), doubles)
        self.curves = np.zeros(lanes, dtype=np.int64)
        self.floors = np.zeros((lanes, core))
        self.answers = np.zeros((lanes, 5), dtype=np.int64)
        self.used = np.zeros(lanes)
        self.outs = np.zeros((lanes, N_MEASURE))
        self.mores = np.zeros((lanes, pulses - 1, N_MEASURE))
        self.states = np.zeros((lanes, pulses, N_PULSE_STATE), dtype=np.int64)


class RunBuffers:
    """The arrays one thread works in for one layout of states."""

    def __init__(self, n: int, core: int) -> None:
        self.size = (n, core)
        layout = workspace_dtype(LARGEST, LARGEST_CORE, N_DISCRETE, N_MEMO, N_SIGNAL, N_GUARD)
        self.core = core
        self.main = workspace(layout, 1.0, step_cap=STEP_CAP, n=n, n_core=core)
        self.side = workspace(layout, 1.0, step_cap=STEP_CAP, n=n, n_core=core)
        self.y = np.zeros(n)
        self.discrete_state = np.zeros(N_DISCRETE, dtype=np.int64)
        self.event_memory = np.zeros(N_MEMO)
        self.out = np.zeros(N_MEASURE)
        self.scratch = np.zeros(n + N_SIGNAL)
        self.inside = np.zeros(n)
        self.side_y = np.zeros(n)
        self.side_discrete_state = np.zeros(N_DISCRETE, dtype=np.int64)
        self.side_event_memory = np.zeros(N_MEMO)
        self.arrays: Trajectory = trajectory(n, N_DISCRETE, N_SIGNAL, FIRST_POINTS, FIRST_EVENTS)
        self.side_arrays: Trajectory = trajectory(n, N_DISCRETE, N_SIGNAL, SIDE_POINTS, FIRST_EVENTS, dense=False)
        self.group = Group(1, 0, core)

    def enlarge(self) -> None:
        """Double the room for points and events."""
        n = self.size[0]
        points, events = 2 * len(self.arrays.t_out), 2 * len(self.arrays.event_time)
        self.arrays = trajectory(n, N_DISCRETE, N_SIGNAL, points, events)
        self.side_arrays = trajectory(n, N_DISCRETE, N_SIGNAL, points, events, dense=False)

    def take(self, plants: Sequence[Plant]) -> None:
        """Copy plants of this layout into `group`."""
        starts = [0, *accumulate(-(-len(plant.tables) // DOUBLES) * DOUBLES for plant in plants)]
        group = self.group
        pulses = max(int(plant.record[0]["instants"]["pulses"]["count"]) for plant in plants)
        if len(plants) > len(group.lanes) or starts[-1] > len(group.tables) or pulses > group.pulses:
            lanes, doubles = max(len(plants), len(group.lanes)), max(starts[-1], len(group.tables))
            group = self.group = Group(lanes, doubles, self.core, pulses)
        for lane, (plant, start) in enumerate(zip(plants, starts)):
            group.lane_bytes[lane] = plant.record.view(BYTES)
            group.tables[start : start + len(plant.tables)] = plant.tables
            group.floors[lane] = plant.floors
        group.curves[: len(plants)] = starts[:-1]


_local = threading.local()
_spare: dict[tuple[int, int], list[RunBuffers]] = {}
_lock = threading.Lock()


def _size_for(plant: Plant) -> tuple[int, int]:
    """(states, core states) of the plant's layout."""
    return int(plant.record["index"]["total"][0]), len(plant.floors)


def buffers_for(plant: Plant) -> RunBuffers:
    """This thread's own arrays for the plant's layout."""
    size = _size_for(plant)
    kept: dict[tuple[int, int], RunBuffers] = getattr(_local, "kept", {})
    _local.kept = kept
    if size not in kept:
        kept[size] = RunBuffers(*size)
    return kept[size]


@contextlib.contextmanager
def lent_buffers(plant: Plant) -> Iterator[RunBuffers]:
    """Arrays for the plant's layout while inside: those of a thread that needs them no more, or new ones.

    A batch has new threads each time; making and first filling arrays takes them as long as some runs.
    """
    size = _size_for(plant)
    with _lock:
        spare = _spare.setdefault(size, [])
        buffers = spare.pop() if spare else None
    if buffers is None:
        buffers = RunBuffers(*size)
    try:
        yield buffers
    finally:
        with _lock:
            spare.append(buffers)


def solve(plant: Plant, buffers: RunBuffers, tolerance: float | None = None) -> LaneResult:
    """Run one plant in a buffers as `solved` does; the measures stand in `buffers.out`."""
    (answer,) = solved([plant], buffers, tolerance)
    buffers.out[:] = answer[1]
    return answer[0]


def solved(plants: Sequence[Plant], buffers: RunBuffers, tolerance: float | None = None) -> Iterator[tuple[LaneResult, np.ndarray]]:
    """Run plants of the buffers's layout and one gas table: what each left, and its measures, (N_MEASURE,), its own array.

    With the case's own tolerance a run whose energy balance stays open (long rebounds, hard knocks) is repeated more
    finely; a tolerance given here is kept. What the buffers holds is of the lane given last if that did not come to its end,
    or if it is the last of all.
    """
    count = len(plants)
    buffers.take(plants)
    group = buffers.group
    rtol, energy_allowed = (np.nan, ENERGY_ALLOWED) if tolerance is None else (float(tolerance), np.inf)
    done = 0
    while done < count:
        reached, full = solve_lanes(
            done, count, rtol, energy_allowed, REFINEMENT, FINEST, group.lanes, group.curves, group.tables, plants[0].gas,
            group.floors, group.answers, group.used, group.outs, group.mores, group.states,
            buffers.scratch, buffers.y, buffers.discrete_state, buffers.event_memory, buffers.inside,
            buffers.side_y, buffers.side_discrete_state, buffers.side_event_memory,
            buffers.main, buffers.side, *buffers.arrays, *buffers.side_arrays,
        )  # fmt: skip
        given_up = full and len(buffers.arrays.t_out) >= MOST_POINTS
        for lane in range(done, reached + given_up):
            status, outcome, points, events, pulses = group.answers[lane].tolist()
            values = group.outs[lane].copy()
            named_measures.drop_empty_margins(values, plants[lane].record[0])
            numbers = tuple(pulse_numbers(k, lane, values, group) for k in range(pulses))
            yield LaneResult(status, outcome, points, events, float(group.used[lane]), numbers), values
        done = reached + given_up
        if full and not given_up:
            buffers.enlarge()


def pulse_numbers(k: int, lane: int, first: np.ndarray, group: Group) -> PulseNumbers:
    """What a lane left of its pulse k; `first` are the measures of the first."""
    state = group.states[lane, k]
    values = first if k == 0 else group.mores[lane, k - 1].copy()
    return PulseNumbers(int(state[PULSE_OUTCOME]), bool(state[BEGINS_LIFTED]), bool(state[BEGINS_LIT]), values)


def raw_of(buffers: RunBuffers, lane: LaneResult) -> traj.Raw:
    """Copies of a lane's arrays, cut to length."""
    a, k, e = buffers.arrays, lane.points, lane.events
    return traj.Raw(
        a.t_out[:k].copy(), a.y_out[:k].copy(), a.discrete_out[:k].copy(), a.outputs_out[:k].copy(), a.dense_out[:k].copy(),
        a.event_time[:e].copy(), a.event_which[:e].copy(), a.event_discrete[:e].copy(), buffers.event_memory.copy(),
    )  # fmt: skip


CRUSHED_CUSHION = "cushion-crushed"
"""Outcome of a run that ended in a lift chamber full of liquid."""
PLACES = ("", *(node.title for node in GAS_NODES), "supply", "combustion chamber")
"""Place codes of `sleevelift.plant.rhs`: whose gas left its range."""


def failure_of(lane: LaneResult, plant: Plant, buffers: RunBuffers, reader: Reader = METRIC) -> str | None:
    """Why a run stopped before its end: which node, when, in which state; None for a good run."""
    status = Status(lane.status)
    if status.good:
        return None
    place, detail = out_of_range_node(plant, buffers, lane, reader)
    if lane.points == 0:
        return f"The run cannot start: gas in the {place} is outside the range of its table at t = 0 of the run ({detail})."
    t = float(buffers.arrays.t_out[lane.points - 1])
    mode = MODE_NAMES[int(buffers.arrays.discrete_out[lane.points - 1][D_MODE])]
    if named_measures.outcome_name(lane.outcome) == CRUSHED_CUSHION:
        speed = float(buffers.arrays.y_out[lane.points - 1][int(plant.record[0]["index"]["speed"])])
        return (
            f"The falling sleeve crushed the last gas of a lift chamber full of fuel after t = {t:.6g} s of the run, at "
            f"{reader.text('speed', abs(speed), '.3g')} ({detail})."
        )
    if status == Status.OUT_OF_RANGE:
        return f"Gas in the {place} left the range of its table after t = {t:.6g} s of the run ({detail}; sleeve {mode})."
    sentence = OUT_OF_ROOM if status in (Status.BUFFER_FULL, Status.TOO_MANY_STEPS) else status.sentence
    return f"{sentence} It happened at t = {t:.6g} s of the run (sleeve {mode})."


def state_words(pressure: float, temperature: float, reader: Reader) -> str:
    """A state of gas in words."""
    return f"{reader.text('pressure', pressure)}, {reader.text('temperature', temperature)}"


def out_of_range_node(plant: Plant, buffers: RunBuffers, lane: LaneResult, reader: Reader) -> tuple[str, str]:
    """(node that left the gas range, else the coldest, its state in words) at the last stored point or at the start."""
    if lane.points == 0:
        for node in nodes_of(plant):
            if gas_at(node.pressure, node.temperature, plant.gas)[2] == OUTSIDE:
                return node.title, state_words(node.pressure, node.temperature, reader)
        return "supply", "see the supply's pressure and temperature"
    outputs = buffers.arrays.outputs_out[lane.points - 1]
    nodes = [(node.title, outputs[node.signal], outputs[node.signal + 1]) for node in nodes_of(plant)]
    # the place code that the right-hand side gave last; the Jacobian does not say which node it was
    known = lane.status == Status.OUT_OF_RANGE and int(buffers.main["phase"]) != PREPARING
    place = PLACES[int(buffers.main["answer"]) or int(buffers.main["outside"])] if known else ""
    if place in LONE_PRESSURES:
        return place, f"last {reader.text('pressure', float(outputs[LONE_PRESSURES[place]]))}"
    name, p, T = min(nodes, key=lambda node: (node[0] != place, node[2]))
    return name, f"last {state_words(float(p), float(T), reader)}"


def with_instants(case: Case, tolerance: float | None = None) -> Resolution:
    """The instants of a case's sequence, found by running it."""

    ends = []

    def run(fixed: Case) -> View:
        plant = build(fixed)
        with lent_buffers(plant) as buffers:
            lane = solve(plant, buffers, tolerance)
            view = View(fixed, raw_of(buffers, lane), plant)
        ends.append(inf if Status(lane.status).good else view.end)
        return view

    found = resolved(case, run)
    return found.until(ends[-1])


def in_short_form(case: Case) -> Case:
    """The case with the instants that its sequence has without a fault in its parts' own tables; itself where it has none."""
    if case.sequence is None:
        return case
    new = with_instants(case).fixed
    paths = [f"{part.name}.{name}" for part in known_parts() for name in ("on", "off") if value_at(new, part.name) is not None]
    given = [path for path in paths if value_at(new, path) or path.startswith("solenoid.")]
    new._origin = {**case.origin, **dict.fromkeys(given, "given")}
    new._ranges = {path: ends for path, ends in case.ranges.items() if not path.startswith("sequence.")}
    return new


def simulate(case: Case, *, tolerance: float | None = None, with_traces: bool = True) -> Result:
    """Run one case to its end, the instants of its sequence found first.

    tolerance: relative tolerance of a step instead of the case's. Never raises for what a valid case does: a run that could
    not go on has outcome `left-gas-range`, `cushion-crushed` or `failed`, and says so in `failure`.
    """
    sequence = None if case.sequence is None else with_instants(case, tolerance)
    case = case if sequence is None else sequence.fixed
    plant = build(case)
    buffers = buffers_for(plant)
    lane = solve(plant, buffers, tolerance)
    w = buffers.main
    statistics = {
        "steps": int(w["steps"]),
        "rejected": int(w["rejected"]),
        "right_hand_sides": int(w["rhs_calls"]),
        "jacobians": int(w["jacobian_calls"]),
        "points": lane.points,
        "events": lane.events,
    }
    failure = failure_of(lane, plant, buffers, case.reader)
    metric = failure if case.reader == METRIC else failure_of(lane, plant, buffers, METRIC)
    ran = Ran(lane, raw_of(buffers, lane), failure, metric, tolerance, with_traces)
    return Result(case, plant, ran, named_measures.named(buffers.out), statistics, sequence)
