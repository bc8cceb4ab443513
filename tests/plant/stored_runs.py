"""Stored points of real runs, to look at the compiled right-hand side from outside, and its source with one sign
turned.

`points` gives states along a shipped case's run. `rates` evaluates a right-hand side there. `mutant` is the text of
`sleevelift.plant.rhs` with one replacement, run by the interpreter: what a test sees fail in it, it sees in the shipped
source."""

import builtins
import importlib
import re
from functools import lru_cache
from pathlib import Path
from types import ModuleType
from typing import NamedTuple

import numpy as np
import sleevelift.plant.liquid_side
import sleevelift.plant.rhs
from runs import shipped_case
from sleevelift.plant.build import Plant, build
from sleevelift.plant.state import N_BALANCE, N_SIGNAL
from sleevelift.run import buffers_for, raw_of, solve
from sleevelift.trajectory import Raw


class Run(NamedTuple):
    """A plant and what its run left."""

    plant: Plant
    raw: Raw


@lru_cache(maxsize=32)
def stored(name, tolerance=1e-5):
    """Run of a shipped case."""
    plant = build(shipped_case(name))
    return run_of(plant, tolerance)


def run_of(plant, tolerance=1e-5):
    """Run of a plant."""
    bench = buffers_for(plant)
    lane = solve(plant, bench, tolerance)
    return Run(plant, raw_of(bench, lane))


def every(run, count):
    """Indices of about `count` points spread over the run's points, those that end in an event left out."""
    k = np.unique(np.linspace(1, len(run.raw.t) - 2, count).astype(int))
    t = run.raw.t
    return [int(i) for i in k if t[i] != t[i + 1] and t[i] != t[i - 1]]


def scratch(n):
    """The room in which the plant evaluates derivatives and signals."""
    return np.zeros(n + N_SIGNAL)


class Fields(np.record):
    """A record whose fields come before what numpy itself calls so (`T`)."""

    def __getattribute__(self, name):
        fields = np.record.__getattribute__(self, "dtype").fields
        if name not in fields:
            return np.record.__getattribute__(self, name)
        value = np.record.__getattribute__(self, "getfield")(*fields[name][:2])
        return value.view(dtype=(Fields, value.dtype)) if value.dtype.names else value


class Rates(NamedTuple):
    """Right-hand side at one point."""

    dy: np.ndarray
    outputs: np.ndarray
    status: int


def rates(run, k, rhs=None, y=None, t=None):
    """Right-hand side at stored point k (or at y, t in its discrete state), compiled unless another is given."""
    raw, plant = run.raw, run.plant
    y = raw.y[k] if y is None else y
    dy, outputs = np.zeros(len(y)), np.zeros(N_SIGNAL)
    record = plant.record.view(dtype=(Fields, plant.record.dtype))[0] if rhs is not None else plant.record[0]
    par = (record, plant.tables, plant.gas, scratch(len(y)))
    function = sleevelift.plant.rhs.rhs if rhs is None else rhs
    status = function(float(raw.t[k] if t is None else t), y, raw.discrete_state[k], raw.event_memory, par, dy, outputs)
    return Rates(dy, outputs, int(status))


SOURCE = Path(sleevelift.plant.rhs.__file__).read_text(encoding="utf-8")
LIQUID_SOURCE = Path(sleevelift.plant.liquid_side.__file__).read_text(encoding="utf-8")


PACKED_SOURCES = (
    "sleevelift.physics.restriction",
    "sleevelift.physics.gas",
    "sleevelift.physics.gas_node",
    "sleevelift.plant.gas_side",
)
"""Modules whose compiled functions take four numbers at a time, which only compiled code can hand them."""


def plain(text, name, others=()):
    """A module of kernels as plain Python: its text without the compiler, and those of `PACKED_SOURCES` that it imports.

    others: pairs (name, module) to be had instead of a module of that name."""

    def imported(wanted, *rest):
        if wanted in dict(others):
            return dict(others)[wanted]
        if wanted in PACKED_SOURCES:
            return plain_source(wanted)
        return builtins.__import__(wanted, *rest)

    found = re.sub(
        r"from sleevelift.jit import ([\w, ]+)\n",
        lambda m: "".join(f"def {kind}(function):\n    return function\n" for kind in m[1].split(", ")),
        text,
    )
    assert found != text
    module = ModuleType(name)
    module.__dict__["__builtins__"] = {**vars(builtins), "__import__": imported}
    exec(compile(found, name, "exec"), module.__dict__)
    return module


@lru_cache
def plain_source(name):
    """A module of the package, plain."""
    return plain(Path(importlib.import_module(name).__file__).read_text(encoding="utf-8"), f"plain {name}")


def mutant(before="", after=""):
    """`rhs` of sleevelift.plant.rhs with the one occurrence of `before`, there or in liquid_side, replaced, as plain Python."""
    if before:
        count = SOURCE.count(before) + LIQUID_SOURCE.count(before)
        assert count == 1, f"{before!r} occurs {count} times in sim/sleevelift/plant/rhs.py and liquid_side.py"
    module = plain(SOURCE.replace(before, after), "mutant_of_rhs")
    liquids = plain(LIQUID_SOURCE.replace(before, after), "mutant_of_liquid_side")
    for name in ("set_pressures", "set_flows", "liquid_rates"):
        setattr(module, name, getattr(liquids, name))
    return module.rhs


def plain_with(name, before, after):
    """`rhs` over a module of the package with the one occurrence of `before` replaced, as plain Python."""
    text = Path(importlib.import_module(name).__file__).read_text(encoding="utf-8")
    assert text.count(before) == 1, f"{before!r} occurs {text.count(before)} times in {name}"
    changed = plain(text.replace(before, after), f"mutant of {name}")
    return plain(SOURCE, "rhs over it", ((name, changed),)).rhs


def balance_of(dy, core):
    """The balances' rates."""
    return dy[core : core + N_BALANCE]
