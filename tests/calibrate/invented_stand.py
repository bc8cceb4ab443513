"""Invented traces for tests, by the script that makes them."""

import sys
from functools import lru_cache
from pathlib import Path

import numpy as np
from sleevelift import load_case
from sleevelift.calibrate.data import experiment
from sleevelift.measured.trace import read_trace

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "scripts"))
from synthetic_traces import synthetic, trace_text  # noqa: E402

TRUTH = {"solenoid.fill_discharge_coefficient": 0.62, "spring.preload": 790.0}


@lru_cache(maxsize=4)
def case(name="dry_bench"):
    """A shipped case."""
    return load_case(ROOT / "cases" / f"{name}.toml")


def written(path, columns):
    """A file of these columns."""
    path.write_text(trace_text(columns, "for a test"))
    return path


def measured(path, changes, seed=1, add=None, **more):
    """Experiment of an invented trace of the dry case; add: header -> what is added to a column, as written."""
    columns = synthetic(case(), changes, seed, **more)
    for header, extra in (add or {}).items():
        columns[header] = columns[header] + extra(columns["time [ms]"])
    return experiment(case(), read_trace(written(path, columns)))


def bump(begin, end, height):
    """A step up and down again, ms of the file."""
    return lambda t: np.where((t > begin) & (t < end), height, 0.0)
