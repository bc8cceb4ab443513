"""Invented traces of a test stand: a run of a case with other values, as sensors with noise, lag and steps show it.

    python scripts/synthetic_traces.py cases/dry_bench.toml stand.csv --set "spring.preload=790 N" --seed 3

For trying `sleevelift fit` and `sleevelift compare`, and for measuring how far they can be trusted. Labelled INVENTED.
"""

import argparse
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from sleevelift.calibrate.runs import signals
from sleevelift.calibrate.sensor import Bins, Grid, gridded, seen
from sleevelift.case.change import with_texts
from sleevelift.case.read import load_case
from sleevelift.case.schema import Case


class Sensor(NamedTuple):
    """What a sensor does to a signal; SI."""

    noise: float
    lag: float
    step: float
    """of its converter; 0: none"""


SENSORS = {
    "supply_pressure": Sensor(5e3, 0.5e-3, 2.0e3),
    "tube_pressure": Sensor(5e3, 1.0e-3, 2.0e3),
    "lift_chamber_pressure": Sensor(5e3, 0.6e-3, 2.0e3),
    "oxidizer_manifold_pressure": Sensor(5e3, 0.4e-3, 2.0e3),
    "fuel_manifold_pressure": Sensor(5e3, 0.4e-3, 2.0e3),
    "chamber_pressure": Sensor(5e3, 0.8e-3, 2.0e3),
    "lift": Sensor(10e-6, 0.2e-3, 2e-6),
}
"""Invented: of the size of common transmitters."""
USED = ("tube_pressure", "lift_chamber_pressure", "lift")
UNITS = {"p": ("bara", 1e-5), "l": ("mm", 1e3)}


def shown(
    grid: Grid, case: Case, names: Mapping[str, Sensor], rng: np.random.Generator, offset: float, rate: float, command: bool = True
) -> dict[str, np.ndarray]:
    """header -> samples, as written: the time first. offset: s, time of the file less time of the run; rate: 1/s."""
    last = grid.start + grid.step * (len(next(iter(grid.values.values()))) - 1)
    t = np.arange(offset, offset + last + 0.05, 1.0 / rate)
    bins = Bins(t, t)
    out = {"time [ms]": np.round(t * 1e3, 4)}
    for name, sensor in names.items():
        x = seen(grid, name, bins, offset, sensor.lag) + rng.normal(0.0, sensor.noise, len(t))
        if sensor.step:
            x = np.round(x / sensor.step) * sensor.step
        unit, factor = UNITS["l" if name == "lift" else "p"]
        out[f"{name} [{unit}]"] = x * factor
    if command:
        on = np.zeros(len(t))
        for begin in case.solenoid.on:
            end = min((o for o in case.solenoid.off if o > begin), default=np.inf)
            on[(t - offset >= begin) & (t - offset < end)] = 1.0
        out["command [-]"] = on
    return out


def trace_text(columns: Mapping[str, np.ndarray], what: str) -> str:
    """The file."""
    lines = [f"# INVENTED: no test. {what}", ",".join(columns)]
    return "\n".join([*lines, *[",".join(f"{v:.8g}" for v in row) for row in zip(*columns.values())]]) + "\n"


def synthetic(
    case: Case, changes: Mapping[str, Any], seed: int, *, names: tuple[str, ...] = USED, offset: float = 0.37, rate: float = 2000.0,
    command: bool = True,
) -> dict[str, np.ndarray]:  # fmt: skip
    """Samples of a run of the case with values changed (SI)."""
    run = signals(case, changes, names)
    if run is None:
        raise SystemExit("these values make no run")
    sensors = {name: SENSORS[name] for name in names if name in run.values}
    return shown(gridded(run.time, run.values), case, sensors, np.random.default_rng(seed), offset, rate, command)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("case", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--set", action="append", default=[], metavar="PATH=VALUE")
    parser.add_argument("--channels", default=",".join(USED))
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--offset", type=float, default=0.37, help="s")
    parser.add_argument("--rate", type=float, default=2000.0, help="samples a second")
    parser.add_argument("--no-command", action="store_true")
    given = parser.parse_args()
    case = load_case(given.case)
    changed = with_texts(case, given.set) if given.set else case
    names = tuple(given.channels.split(","))
    columns = synthetic(changed, {}, given.seed, names=names, offset=given.offset, rate=given.rate, command=not given.no_command)
    given.out.write_text(trace_text(columns, f"A run of {given.case.name} with {', '.join(given.set) or 'its own values'}."))
    print(f"Written: {given.out}, {len(columns['time [ms]'])} rows, invented")


if __name__ == "__main__":
    main()
