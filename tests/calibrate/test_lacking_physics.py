"""Traces of machines that have physics which the program lacks: no fit may call them explained with usual values.

Made by the reference twin, a second formulation, with a tube of one node (which the program has, as a control) and of two; and by
runs whose friction has grown while the seals stood still before opening, and is the usual one at closing."""

import sys
from pathlib import Path

import numpy as np
import pytest
from invented_stand import written
from runs import changed, shipped_case
from sleevelift.calibrate.answer import sentence
from sleevelift.calibrate.data import experiment
from sleevelift.calibrate.fit import fit
from sleevelift.calibrate.free import by_default, free_of
from sleevelift.calibrate.runs import signals
from sleevelift.calibrate.sensor import gridded
from sleevelift.measured.trace import read_trace
from synthetic_traces import SENSORS, USED, shown

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "reference"))
END = 1.4
"""s of the run: the gas has vented"""


def measured(path, case, time, values):
    """A test of these signals, with noise, lag, steps and a clock."""
    columns = shown(
        gridded(time, {name: values[name] for name in USED}), case, {name: SENSORS[name] for name in USED},
        np.random.default_rng(3), 0.37, 2000.0,
    )  # fmt: skip
    return experiment(case, read_trace(written(path, columns)))


def perfect_gas_case():
    """The dry bench with a long tube and a perfect gas, which the twin computes in seconds."""
    return changed(shipped_case("dry_bench"), gas__model="perfect", gas__gamma=1.4, gas__gas_constant=296.8, tube__length=2.5)


@pytest.mark.slow
@pytest.mark.parametrize("nodes", [1, 2])
def test_a_tube_of_two_nodes_is_not_explained_and_one_of_one_is(nodes, tmp_path):
    from twin_machine import Machine
    from two_node_tube import TwoNodeTube, traces

    case = perfect_gas_case()
    run = traces(case, END, Machine if nodes == 1 else TwoNodeTube)
    found = fit([measured(tmp_path / "stand.csv", case, run["time"], run)], by_default(case), starts=2)
    if nodes == 1:
        assert found.explained, sentence(found)
        for value in found.values:  # within two of its intervals: the values of the case
            assert abs(value.fitted - value.before) <= value.high - value.low, value
        return
    assert not found.explained and not found.verdict.explained
    assert any(one.stretches for one in found.verdict.channels)
    assert "lift_chamber.dead_volume" in sentence(found)  # the volume that absorbs it leaves what is usual


def test_friction_that_grows_at_rest_is_not_explained(tmp_path):
    """Breakaway at opening is twice that at closing: preload and friction share it, and the lift says that they fail."""
    case = shipped_case("dry_bench")
    opening, closing = signals(case, {"seals.breakaway_ratio": 2.6}, USED), signals(case, {}, USED)
    off = case.solenoid.off[0]
    before, after = opening.time < off, closing.time >= off
    time = np.concatenate([opening.time[before], closing.time[after]])
    values = {name: np.concatenate([opening.values[name][before], closing.values[name][after]]) for name in USED}
    free = [free_of(case, path) for path in ("lift_chamber.dead_volume", "spring.preload", "seals.friction_factor")]
    found = fit([measured(tmp_path / "stand.csv", case, time, values)], free, starts=1, let_go=False)
    lift = found.verdict.channels[2]
    assert not found.explained and not lift.explained and "NOT explain" in sentence(found)
    assert lift.stretches[0].begin < off and abs(lift.stretches[0].mean) > 0.1e-3
