"""How far a fit can be trusted: 90 % intervals against known truths, on invented traces.

    python scripts/trust_fits.py --n 200 --seed 1 --out results/trust.json

Each draw takes a case, values anywhere in the inner four fifths of their ranges, a clock offset, sensor lags, noise of half to
twice the usual size, steps of the converter, a rate; a third of the draws have no command. The fit is told none of it. Counted is
how often an interval holds the truth. Traces are made by the program itself: this tests the statistics of the fit, not the model.
"""

import argparse
import json
import tempfile
import time
from pathlib import Path

import numpy as np
from sleevelift.calibrate.data import experiment
from sleevelift.calibrate.fit import fit
from sleevelift.calibrate.free import Free, free_of
from sleevelift.calibrate.runs import signals
from sleevelift.calibrate.sensor import gridded
from sleevelift.case.read import load_case
from sleevelift.case.schema import Case
from sleevelift.measured.trace import read_trace
from synthetic_traces import SENSORS, USED, shown, trace_text

FREE = (
    "solenoid.open_dead_time=4 ms:16 ms",
    "solenoid.fill_discharge_coefficient=0.5:0.9",
    "lift_chamber.dead_volume=1 cm3:3.5 cm3",
    "spring.preload=720 N:820 N",
    "seals.friction_factor=0.5:1.8",
)
INNER = 0.1
"""-. Share of a range at each end from which no truth is drawn."""


def draw(case: Case, free: list[Free], rng: np.random.Generator, folder: Path, number: int) -> dict[str, object] | None:
    """One draw; None where its values make no run that opens."""
    truth = {one.path: one.value(float(rng.uniform(INNER, 1.0 - INNER))) for one in free}
    names = USED if case.case.kind == "dry" else (*USED, "fuel_manifold_pressure")
    run = signals(case, truth, names)
    if run is None or not np.isfinite(run.measures["opening_time"]):
        return None
    sensors = {
        name: SENSORS[name]._replace(noise=SENSORS[name].noise * rng.uniform(0.5, 2.0), lag=float(rng.uniform(0.1e-3, 2e-3)))
        for name in names
    }
    offset, rate, command = float(rng.uniform(-0.5, 2.0)), float(rng.choice([1000.0, 2000.0, 5000.0])), number % 3 > 0
    columns = shown(gridded(run.time, run.values), case, sensors, rng, offset, rate, command)
    path = folder / f"draw_{number}.csv"
    path.write_text(trace_text(columns, "trust study"))
    began = time.perf_counter()
    found = fit([experiment(case, read_trace(path))], free, starts=1, let_go=False)
    if not found.explained:
        found = fit([experiment(case, read_trace(path))], free, starts=4, let_go=False)
    path.unlink()
    row: dict[str, object] = {"seconds": time.perf_counter() - began, "explained": found.explained, "command": command}
    for value in found.values:
        row[value.free.path] = {
            "truth": truth[value.free.path], "fitted": value.fitted, "low": value.low, "high": value.high,
            "held": bool(value.low <= truth[value.free.path] <= value.high),
        }  # fmt: skip
    lags = found.verdict.intervals[len(free) :]
    told = [offset * 1e3, *[sensors[name].lag * 1e3 for name in names]]
    row["sensors_held"] = [bool(abs(found.sensor(k) - t) <= 1.6449 * one.sigma) for k, (one, t) in enumerate(zip(lags, told))]
    return row


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--case", type=Path, default=Path(__file__).resolve().parents[1] / "cases" / "dry_bench.toml")
    parser.add_argument("--n", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, default=Path("results/trust.json"))
    given = parser.parse_args()
    case = load_case(given.case)
    free = [free_of(case, text) for text in FREE]
    rows: list[dict[str, object]] = []
    given.out.parent.mkdir(parents=True, exist_ok=True)
    number = 0
    with tempfile.TemporaryDirectory() as folder:
        while len(rows) < given.n:
            row = draw(case, free, np.random.default_rng([given.seed, number]), Path(folder), number)
            number += 1
            if row is None:
                continue
            rows.append(row)
            if len(rows) % 10 == 0 or len(rows) == given.n:
                given.out.write_text(json.dumps(rows, indent=1))
                held = {one.path: sum(bool(r[one.path]["held"]) for r in rows) for one in free}  # type: ignore[index]
                explained = sum(bool(row["explained"]) for row in rows)
                sensors = np.mean([h for r in rows for h in r["sensors_held"]])  # type: ignore[attr-defined]
                every = 100.0 * sum(held.values()) / (len(rows) * len(free))
                print(f"{len(rows)} draws: {every:.1f} % of intervals hold; {held}; sensors {100 * sensors:.0f} %; "
                      f"explained {explained}; without a run that opens {number - len(rows)}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
