"""Speed, measured: this solver against general-purpose integrators on the same compiled right-hand side, in one run.

    python scripts/bench.py [--quick]

Peers: scipy LSODA, Radau and BDF, scipy LSODA with the right-hand side in plain Python, and CVODE through scikit-sundae with
root finding, each at the loosest tolerance (of the list below) that holds first stop contact and final seating within 10
microseconds of a converged run. Also: batch runs/s on 1 and 2 threads and in LSODA processes, cost against simulated time,
lanes and slot rows, accuracy over scattered designs, cold and warm start, table errors. Prints medians and ratios; writes
scripts/bench.json with date and machine.
"""

import argparse
import json
import os
import platform
import re
import statistics
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "sim"))

import numpy as np  # noqa: E402
from sleevelift import gas_tables  # noqa: E402
from sleevelift.batch import simulate_many  # noqa: E402
from sleevelift.case.read import case_from_text, load_case, with_values  # noqa: E402
from sleevelift.case.schema import Case  # noqa: E402
from sleevelift.gas_tables.build import build_table  # noqa: E402
from sleevelift.jit import kernel  # noqa: E402
from sleevelift.physics.gas import gas_state  # noqa: E402
from sleevelift.plant import modes  # noqa: E402
from sleevelift.plant import rhs as rhs_room  # noqa: E402
from sleevelift.plant.build import Plant, build  # noqa: E402
from sleevelift.plant.lane import meet_first_events  # noqa: E402
from sleevelift.plant.state import (  # noqa: E402
    D_MODE,
    G_MODE_B,
    N_DISCRETE,
    N_GUARD,
    N_MEMO,
    N_SIGNAL,
    SEATED,
    SLIDING_UP,
)
from sleevelift.plant.static import initial_state  # noqa: E402
from sleevelift.run import buffers_for, solve  # noqa: E402
from sleevelift.study.odds import ranged, scaled, unit_points  # noqa: E402

TOLERANCES = (1e-2, 5e-3, 2e-3, 1e-3, 5e-4, 2e-4, 1e-4, 5e-5, 2e-5, 1e-5, 1e-6, 1e-7, 1e-8)
ALLOWED = 10e-6
"""s. How near first stop contact and final seating must be to the converged ones."""
CONVERGED = 1e-7
BESIDE = 20
"""Runs of this solver before and after each run of a peer."""
INTERPRETED = os.environ.get("NUMBA_DISABLE_JIT") == "1"
"""Whether every kernel is run by the Python interpreter."""
PEER_LIMIT = 60.0
"""s. A peer run longer than this is given up at that tolerance."""


def for_peers(function: Callable[..., Any]) -> Any:
    """A kernel as the compiler made it, called with nothing in between: peers call it for every right-hand side."""
    made = kernel(function)
    return getattr(made, "dispatcher", made)


@for_peers
def rhs_call(t, y, discrete_state, event_memory, lanes, tables, gas, scratch, dy, outputs):
    return rhs_room.rhs(t, y, discrete_state, event_memory, (lanes[0], tables, gas, scratch), dy, outputs)


@for_peers
def guards_call(t, y, discrete_state, event_memory, lanes, tables, gas, scratch, dy, outputs, g):
    par = (lanes[0], tables, gas, scratch)
    status = rhs_room.rhs(t, y, discrete_state, event_memory, par, dy, outputs)
    modes.guards(t, y, discrete_state, event_memory, par, outputs, g)
    return status


@for_peers
def start_call(y, discrete_state, event_memory, lanes, tables, gas, scratch):
    par = (lanes[0], tables, gas, scratch)
    status = initial_state(y, discrete_state, event_memory, par)
    meet_first_events(y, discrete_state, event_memory, par)
    return status


@for_peers
def reset_call(t, y, discrete_state, event_memory, lanes, tables, gas, scratch, which):
    return modes.reset(t, y, discrete_state, event_memory, (lanes[0], tables, gas, scratch), which)


@for_peers
def target_call(t, discrete_state, event_memory, lanes, tables, gas, scratch):
    return modes.next_target(t, discrete_state, event_memory, (lanes[0], tables, gas, scratch))


@for_peers
def at_target_call(t, y, discrete_state, event_memory, lanes, tables, gas, scratch):
    return modes.at_target(t, y, discrete_state, event_memory, (lanes[0], tables, gas, scratch))


@for_peers
def finished_call(t, y, discrete_state, event_memory, lanes, tables, gas, scratch, outputs):
    return modes.finished(t, y, discrete_state, event_memory, (lanes[0], tables, gas, scratch), outputs)


def as_objects(record: Any) -> Any:
    """A record as plain objects with the same attributes, for the interpreter."""
    if record.dtype.names is None:
        return record.item() if record.ndim == 0 else record
    if record.ndim == 1:
        return [as_objects(one) for one in record]
    return SimpleNamespace(**{name: as_objects(record[name]) for name in record.dtype.names})


class Machine:
    """The plant as a peer integrator sees it: right-hand side, guards, jumps."""

    def __init__(self, plant: "Plant | Numbers") -> None:
        index = plant.record[0]["index"]
        self.n, self.core = int(index["total"]), int(index["core"])
        self.plant = plant
        self.end = float(plant.record[0]["instants"]["end"])
        lanes = [as_objects(plant.record[0])] if INTERPRETED else plant.record
        self.par = (lanes, plant.tables, plant.gas, np.zeros(self.n + N_SIGNAL))
        self.discrete_state = np.zeros(N_DISCRETE, dtype=np.int64)
        self.event_memory = np.zeros(N_MEMO)
        self.dy, self.outputs, self.g = np.zeros(self.n), np.zeros(N_SIGNAL), np.zeros(N_GUARD)
        self.calls = 0

    def rhs(self, t: float, y: np.ndarray) -> np.ndarray:
        self.calls += 1
        status = rhs_call(t, y, self.discrete_state, self.event_memory, *self.par, self.dy, self.outputs)
        return self.dy.copy() if status == 0 else np.full(self.n, np.nan)

    def guard(self, t: float, y: np.ndarray) -> float:
        """The least guard: it reaches zero where the first one fires."""
        guards_call(t, y, self.discrete_state, self.event_memory, *self.par, self.dy, self.outputs, self.g)
        return float(self.g.min())


Advance = Callable[[Machine, float, float, np.ndarray, float], tuple[float, np.ndarray, bool]]


def hybrid_run(machine: Machine, advance: Advance, rtol: float) -> tuple[float, float]:
    """(first stop contact, final seating), s, of a peer integrator on the whole run; nan where it did not come about."""
    y = np.zeros(machine.n)
    start_call(y, machine.discrete_state, machine.event_memory, *machine.par)
    t, contact, seated = 0.0, np.nan, np.nan
    machine.calls = 0
    began = time.perf_counter()
    while t < machine.end:
        if time.perf_counter() - began > PEER_LIMIT:
            return np.nan, np.nan
        target = min(target_call(t, machine.discrete_state, machine.event_memory, *machine.par), machine.end)
        t, y, fired = advance(machine, t, target, y, rtol)
        if not fired:
            at_target_call(t, y, machine.discrete_state, machine.event_memory, *machine.par)
        for _ in range(20):
            machine.guard(t, y)
            tiny = 1e-9
            which = next((i for i in range(N_GUARD) if machine.g[i] <= (tiny if fired else 0.0)), -1)
            if which < 0:
                break
            before = int(machine.discrete_state[D_MODE])
            reset_call(t, y, machine.discrete_state, machine.event_memory, *machine.par, which)
            after = int(machine.discrete_state[D_MODE])
            if before == SLIDING_UP and which == G_MODE_B and np.isnan(contact):
                contact = t
            if after == SEATED and before != SEATED:
                seated = t
            fired = False
        rhs_call(t, y, machine.discrete_state, machine.event_memory, *machine.par, machine.dy, machine.outputs)
        if finished_call(t, y, machine.discrete_state, machine.event_memory, *machine.par, machine.outputs):
            break
    return contact, seated


def scipy_advance(method: str) -> Advance:
    """Advance with `scipy.integrate.solve_ivp`."""
    from scipy.integrate import solve_ivp

    def advance(machine: Machine, t: float, target: float, y: np.ndarray, rtol: float) -> tuple[float, np.ndarray, bool]:
        atol = np.full(machine.n, 1e30)
        atol[: machine.core] = rtol * machine.plant.floors
        s = solve_ivp(machine.rhs, (t, target), y, method=method, rtol=rtol, atol=atol, events=guard_event(machine))
        return float(s.t[-1]), s.y[:, -1].copy(), s.status == 1

    return advance


def guard_event(machine: Machine) -> Any:
    """The least guard as an event function with scipy's attributes."""

    def of(t: float, y: np.ndarray) -> float:
        return machine.guard(t, y)

    of.terminal = True  # type: ignore[attr-defined]
    of.direction = -1.0  # type: ignore[attr-defined]
    return of


def cvode_advance(machine: Machine, t: float, target: float, y: np.ndarray, rtol: float) -> tuple[float, np.ndarray, bool]:
    """Advance with CVODE (BDF) and its own root finding, right-hand side compiled, called through Python."""
    from sksundae.cvode import CVODE

    def rhsfn(t: float, y: np.ndarray, yp: np.ndarray) -> None:
        machine.calls += 1
        rhs_call(t, np.ascontiguousarray(y), machine.discrete_state, machine.event_memory, *machine.par, yp, machine.outputs)

    def eventsfn(t: float, y: np.ndarray, events: np.ndarray) -> None:
        events[0] = machine.guard(t, np.ascontiguousarray(y))

    eventsfn.terminal = [True]  # type: ignore[attr-defined]
    eventsfn.direction = [-1]  # type: ignore[attr-defined]
    atol = np.full(machine.n, 1e30)
    atol[: machine.core] = rtol * machine.plant.floors
    solver = CVODE(rhsfn, rtol=rtol, atol=atol, eventsfn=eventsfn, num_events=1, max_num_steps=100000)
    s = solver.solve(np.array([t, target]), y)
    return float(s.t[-1]), np.array(s.y[-1]), bool(s.status == 2)


class Line(NamedTuple):
    """One line of the table."""

    method: str
    rtol: float
    milliseconds: float
    """median"""
    best_milliseconds: float
    """what an undisturbed core does"""
    right_hand_sides: int
    ratio: float


def own_time(plant: Plant, rtol: float, repeats: int) -> float:
    """Median time of one run, ms."""
    buffers = buffers_for(plant)
    solve(plant, buffers, rtol)
    times = []
    for _ in range(repeats):
        t = time.perf_counter()
        solve(plant, buffers, rtol)
        times.append(time.perf_counter() - t)
    return 1e3 * statistics.median(times)


def own_instants(plant: Plant, rtol: float) -> tuple[float, float]:
    """(first stop contact, final seating), s, of this solver."""
    buffers = buffers_for(plant)
    lane = solve(plant, buffers, rtol)
    a, contact, seated = buffers.arrays, np.nan, np.nan
    for i in range(lane.events):
        before, after = int(a.event_discrete[i, 0, D_MODE]), int(a.event_discrete[i, 1, D_MODE])
        if before == SLIDING_UP and a.event_which[i] == G_MODE_B and np.isnan(contact):
            contact = a.event_time[i]
        if after == SEATED and before != SEATED:
            seated = a.event_time[i]
    return float(contact), float(seated)


def compare(name: str, plant: Plant, quick: bool) -> list[Line]:
    """This solver and the peers on one plant."""
    true = own_instants(plant, CONVERGED)

    def near(found: tuple[float, float]) -> bool:
        return all(abs(a - b) <= ALLOWED for a, b in zip(found, true))

    rtol = next(r for r in TOLERANCES if near(own_instants(plant, r)) or r == TOLERANCES[-1])
    mine = [own_time(plant, rtol, BESIDE)]
    calls = int(buffers_for(plant).main["rhs_calls"])

    def own() -> float:
        mine.append(own_time(plant, rtol, BESIDE))
        return mine[-1]

    lines = []
    peers: list[tuple[str, Advance]] = [
        ("scipy LSODA, compiled right-hand side", scipy_advance("LSODA")),
        ("CVODE through scikit-sundae, compiled right-hand side", cvode_advance),
    ]
    if not quick:
        peers += [
            ("scipy Radau, compiled right-hand side", scipy_advance("Radau")),
            ("scipy BDF, compiled right-hand side", scipy_advance("BDF")),
        ]
    for method, advance in peers:
        lines.append(peer_line(method, advance, plant, near, own, 2 if quick else 5))
        print_line(lines[-1])
    return [Line("this solver, Rodas5P", rtol, statistics.median(mine), min(mine), calls, 1.0), *lines]


def peer_line(
    method: str,
    advance: Advance,
    plant: Plant,
    near: Callable[[tuple[float, float]], bool],
    own: Callable[[], float],
    repeats: int,
) -> Line:
    """A peer at its loosest good tolerance; nan where none of the list holds.

    This solver is timed anew beside each of its runs: the machine's speed changes within a minute.
    """
    machine = Machine(plant)
    for rtol in TOLERANCES:
        times = []
        try:
            found = hybrid_run(machine, advance, rtol)
        except (ValueError, RuntimeError, ArithmeticError) as problem:
            print(f"  {method} at {rtol:g}: {problem}")
            continue
        if not near(found):
            continue
        ratios = []
        for _ in range(repeats):
            before = own()
            t = time.perf_counter()
            hybrid_run(machine, advance, rtol)
            times.append(time.perf_counter() - t)
            ratios.append(2e3 * times[-1] / (before + own()))
        milliseconds = 1e3 * statistics.median(times), 1e3 * min(times)
        return Line(method, rtol, *milliseconds, machine.calls, statistics.median(ratios))
    return Line(method, float("nan"), float("nan"), float("nan"), machine.calls, float("nan"))


class Numbers(NamedTuple):
    """What `Machine` needs of a plant, from the file that `interpreted_line` writes."""

    record: np.ndarray
    tables: np.ndarray
    gas: np.ndarray
    floors: np.ndarray


def interpreted_line(plant: Plant, rtol: float, mine: float) -> Line:
    """scipy LSODA with every kernel left to the interpreter, one run in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "plant.npz"
        np.savez(file, **{name: getattr(plant, name) for name in Numbers._fields})
        command = [sys.executable, __file__, "--interpreted", str(file), str(rtol)]
        done = subprocess.run(command, env={**os.environ, "NUMBA_DISABLE_JIT": "1"}, check=True, capture_output=True, text=True)
    ms, calls = done.stdout.split()
    return Line("scipy LSODA, right-hand side in plain Python", rtol, float(ms), float(ms), int(calls), float(ms) / mine)


def interpreted_run(file: str, rtol: str) -> None:
    """What that process does: print milliseconds and right-hand sides."""
    with np.load(file) as arrays:
        machine = Machine(Numbers(**{name: arrays[name] for name in Numbers._fields}))
    t = time.perf_counter()
    hybrid_run(machine, scipy_advance("LSODA"), float(rtol))
    print(1e3 * (time.perf_counter() - t), machine.calls)


def print_line(line: Line) -> None:
    times = f"{line.milliseconds:10.2f} ms (best {line.best_milliseconds:8.2f})"
    print(f"  {line.method:56s} rtol {line.rtol:8.1e}  {times}  {line.right_hand_sides:8d} x{line.ratio:8.1f}")


def scattered(n: int, seed: int = 1) -> list[dict[str, float]]:
    """Overrides of n scattered designs: fill orifice, preload, friction, set pressure within 5 %."""
    rng = np.random.default_rng(seed)
    return [
        {
            "solenoid.fill_orifice": 1e-3 * (1 + 0.05 * a),
            "spring.preload": 770.0 * (1 + 0.05 * b),
            "seals.friction_factor": 1 + 0.3 * c,
        }
        for a, b, c in rng.uniform(-1, 1, (n, 3))
    ]


def batch_rate(case: Any, lanes: int, workers: int) -> float:
    """Runs per second of a batch."""
    overrides = scattered(lanes)
    simulate_many(case, overrides[:32], workers=workers, with_checks=False)
    t = time.perf_counter()
    simulate_many(case, overrides, workers=workers, with_checks=False)
    return lanes / (time.perf_counter() - t)


def batch_rates(case: Any, lanes: int, repeats: int) -> dict[str, float]:
    """Runs per second on one and on two threads, taken in turns: medians, and the best of each, which is what an undisturbed core
    does."""
    rates: dict[int, list[float]] = {1: [], 2: []}
    for _ in range(repeats):
        for workers, found in rates.items():
            found.append(batch_rate(case, lanes, workers))
    out = {f"{workers} threads": statistics.median(found) for workers, found in rates.items()}
    return out | {f"{workers} threads, best": max(found) for workers, found in rates.items()}


def _lsoda_lane(args: tuple[str, dict[str, float]]) -> float:
    path, override = args
    machine = Machine(build(with_values(load_case(path), override)))
    return hybrid_run(machine, scipy_advance("LSODA"), 1e-4)[1]


def lsoda_rate(path: Path, lanes: int) -> float:
    """Runs per second of LSODA in two processes."""
    jobs = [(str(path), override) for override in scattered(lanes + 2)]
    with ProcessPoolExecutor(2) as pool:
        list(pool.map(_lsoda_lane, jobs[:2]))
        t = time.perf_counter()
        list(pool.map(_lsoda_lane, jobs[2:]))
        return lanes / (time.perf_counter() - t)


def with_slot_rows(path: Path, n: int) -> Case:
    """The case with its one row of slots split into n rows at the same place, each of 1/n of the width."""
    before, mark, rest = path.read_text().partition("[[slots.row]]")
    row, seat, after = rest.partition("[seat]")
    width = re.search(r'width *= *"([0-9.]+) mm"', row)
    assert width is not None, "hot_start.toml states the slots' width in mm"
    narrow = row.replace(width.group(0), f'width = "{float(width.group(1)) / n:.9f} mm"')
    return case_from_text(before + (mark + narrow) * n + seat + after, path.stem)


def accuracy(case: Case, n: int) -> dict[str, Any]:
    """Errors of opening and closing, microseconds, at the default tolerance against 1e-7, over n designs.

    The designs are a Latin hypercube over every value of the case that carries a range. A branch change is a run in which
    a time exists in one and not in the other, or the rebounds from the seat differ in number; it is counted apart.
    """
    ranges = ranged(case)
    overrides = scaled(unit_points(len(ranges), n, 5, "lhs"), ranges)
    found = simulate_many(case, overrides, with_checks=False).measures
    true = simulate_many(case, overrides, tolerance=CONVERGED, with_checks=False).measures
    out: dict[str, Any] = {"designs": n, "ranged values": len(ranges)}
    same = found["seat_bounces"] == true["seat_bounces"]
    for name in ("opening_time", "closing_time"):
        same &= np.isnan(found[name]) == np.isnan(true[name])
    out["branch changes"] = int((~same).sum())
    for name in ("opening_time", "closing_time"):
        error = 1e6 * np.abs(found[name] - true[name])[same]
        error = error[~np.isnan(error)]
        out[f"{name} p50, p99, worst"] = [round(float(v), 2) for v in (*np.percentile(error, [50, 99]), error.max())]
    return out


@kernel
def many_look_ups(rho: float, u: float, gas: np.ndarray, count: int) -> float:
    total = 0.0
    for k in range(count):
        total += gas_state(rho + 1e-6 * k, u, gas)[0]
    return total


def small_things(case: Case) -> dict[str, float]:
    """Medians: one look-up in a gas table, a table read and built, a changed case, a plant built from it."""

    def median(action: Callable[[], Any], repeats: int) -> float:
        times = []
        for _ in range(repeats):
            t = time.perf_counter()
            action()
            times.append(time.perf_counter() - t)
        return statistics.median(times)

    gas = gas_tables.load_gas("nitrogen")
    many_look_ups(10.0, 2.1e5, gas, 10)

    def read() -> None:
        gas_tables._kept.cache_clear()
        gas_tables.load_gas("nitrogen")

    change = {"spring.preload": 700.0, "solenoid.fill_orifice": 1e-3, "seals.friction_factor": 1.1}
    return {
        "look_up_ns": 1e4 * median(lambda: many_look_ups(10.0, 2.1e5, gas, 100_000), 9),
        "table_read_ms": 1e3 * median(read, 9),
        "table_build_s": median(lambda: build_table("Nitrogen"), 3),
        "table_kB": gas.nbytes / 1e3,
        "changed_case_us": 1e6 * median(lambda: with_values(case, change), 200),
        "plant_us": 1e6 * median(lambda: build(case), 100),
    }


def start_times() -> dict[str, float]:
    """Seconds of `--help`, of a warm run without pictures, and of a first run with an empty kernel cache; the sources as byte code,
    which an installed package has."""
    out = {}
    run = [sys.executable, "-m", "sleevelift.cli"]
    case = str(ROOT / "cases" / "hot_start.toml")
    with tempfile.TemporaryDirectory() as folder:
        surroundings = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        surroundings["PYTHONPYCACHEPREFIX"] = folder

        def timed(arguments: list[str], **more: str) -> float:
            t = time.perf_counter()
            env, quiet = surroundings | more, subprocess.DEVNULL
            subprocess.run(run + arguments, cwd=ROOT, env=env, check=True, stdout=quiet, stderr=quiet)
            return time.perf_counter() - t

        arguments = ["run", case, "--out", f"{folder}/out", "--no-pictures"]
        timed(arguments)
        out["help_s"] = statistics.median(timed(["--help"]) for _ in range(5))
        out["warm_run_s"] = statistics.median(timed(arguments) for _ in range(5))
        with tempfile.TemporaryDirectory() as cache:
            out["cold_run_s"] = timed(arguments, XDG_CACHE_HOME=cache)
    return out


def table_errors(n: int = 20000) -> dict[str, list[float]]:
    """Greatest relative error of p, T, n against CoolProp at random states, nitrogen and helium."""
    import CoolProp

    out = {}
    rng = np.random.default_rng(3)
    for name, coolprop in (("nitrogen", "Nitrogen"), ("helium", "Helium")):
        gas = gas_tables.load_gas(name)
        state = CoolProp.AbstractState("HEOS", coolprop)
        worst = [0.0, 0.0, 0.0]
        for T, log_p in zip(rng.uniform(150.0, 690.0, n), rng.uniform(np.log(1e4), np.log(340e5), n)):
            state.update(CoolProp.PT_INPUTS, float(np.exp(log_p)), float(T))
            rho, u = state.rhomass(), state.umass()
            p, temperature, exponent, status = gas_state(rho, u, gas)
            true = (state.p(), T, rho * state.speed_sound() ** 2 / state.p())
            worst = [max(w, abs(a / b - 1.0)) for w, a, b in zip(worst, (p, temperature, exponent), true)]
        out[name] = worst
    return out


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="fewer peers and repeats")
    parser.add_argument("--interpreted", nargs=2, metavar=("PLANT", "RTOL"), help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.interpreted:
        interpreted_run(*arguments.interpreted)
        return
    quick = arguments.quick
    warnings.simplefilter("ignore")
    cases = ROOT / "cases"
    result: dict[str, Any] = {
        "date": date.today().isoformat(),
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}",
    }
    for name, end in (("hot_start", 1.0), ("dry_bench", 0.5)):
        plant = build(with_values(load_case(cases / f"{name}.toml"), {"run.end": end}))
        print(f"{name}, {end} s simulated, no settled end")
        lines = compare(name, plant, quick)
        print_line(lines[0])
        if not quick and name == "hot_start":
            lsoda = next(line for line in lines if "LSODA" in line.method)
            lines.append(interpreted_line(plant, lsoda.rtol, lines[0].milliseconds))
            print_line(lines[-1])
        result[name] = [line._asdict() for line in lines]
    hot = load_case(cases / "hot_start.toml")
    result["batch_runs_per_s"] = batch_rates(hot, 200 if quick else 400, 3 if quick else 15)
    result["batch_runs_per_s"]["LSODA, 2 processes"] = lsoda_rate(cases / "hot_start.toml", 8 if quick else 24)
    result["runs_per_s_by_lanes"] = {str(n): batch_rate(hot, n, 2) for n in ((64, 400) if quick else (64, 1000, 10000))}
    result["ms_by_simulated_time"] = {
        str(end): own_time(build(with_values(hot, {"run.end": end})), hot.run.tolerance, 20) for end in (1.0, 2.0, 4.0)
    }
    result["ms_by_slot_rows"] = {
        str(n): own_time(build(with_slot_rows(cases / "hot_start.toml", n)), hot.run.tolerance, 20) for n in (1, 4, 8)
    }
    result["accuracy"] = {
        name: accuracy(load_case(cases / f"{name}.toml"), 60 if quick else 600) for name in ("hot_start", "dry_bench")
    }
    result["small_things"] = small_things(hot)
    result["start"] = start_times()
    result["table_errors_p_T_n"] = table_errors(2000 if quick else 20000)
    clean = json.loads(json.dumps(result), parse_constant=lambda _: None)
    (ROOT / "scripts" / "bench.json").write_text(json.dumps(clean, indent=1) + "\n")
    print(json.dumps({k: v for k, v in clean.items() if not isinstance(v, list)}, indent=1))


if __name__ == "__main__":
    main()
