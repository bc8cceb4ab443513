"""Waits of a stop chosen for the least oxidizer: against every combination of a grid."""

import numpy as np
import pytest
from runs import CASES
from sleevelift import simulate_many
from sleevelift.batch import run_lane
from sleevelift.case.faults import CaseError
from sleevelift.study.choose import choose_study, move_of
from sleevelift.study.judge import Judge
from sleevelift.study.store import ALONE
from sleevelift.study.targets import kept_targets, target_of
from sleevelift.study.values import axis_of
from test_sequence_valves import STOP, stopped

TARGET = "oxidizer_in_stop<=20g"
MOVES = "sequence.step.oxidizer shut.delay=0s:60ms", "sequence.step.fuel shut.delay=0s:60ms"
GRID = 7
"""Waits of each valve."""


def text():
    """The case file of `stopped`."""
    written = (CASES / "fuel_rich_stop.toml").read_text(encoding="utf-8")
    return "\n".join(line for line in written.splitlines() if not line.startswith("off = ")) + "\n" + STOP


@pytest.mark.slow
def test_the_choice_is_no_worse_than_any_of_a_grid_and_keeps_fuel_last():
    """Of what keeps every check that the case holds: the least mass at the worst of nominal, both ends of ranges, some points."""
    case, target = stopped(), target_of(stopped(), TARGET)
    axes = [move_of(case, move) for move in MOVES]
    answer = choose_study(case, text(), [target], axes, seed=1, points=8)
    held = run_lane(case, {}).checks
    judge = Judge(case, [target, *kept_targets(case, held, [target])], held, 8, 2, ALONE)
    waits = np.linspace(0.0, 0.06, GRID)
    judge.judged([{axes[0].path: float(o), axes[1].path: float(f)} for o in waits for f in waits])
    best = max((design for design in judge.seen.values() if design.slack >= 0.0), key=lambda design: design.slacks[TARGET])
    chosen = answer.data["designs"][0]
    (again,) = judge.judged([chosen.values])
    assert answer.data["holds"] and again.slack >= 0.0
    assert again.slacks[TARGET] >= best.slacks[TARGET] - 0.01, "0.2 g of the target's 20 g"
    assert simulate_many(case, [chosen.values]).checks["shutdown_oxidizer_lag"][0] == 1.0


def test_instants_of_a_part_are_moved_as_steps():
    with pytest.raises(CaseError, match=r"steps of \[sequence\]"):
        axis_of(stopped(), "oxidizer.valve.off=0.8s:0.9s")
    assert axis_of(stopped(), MOVES[0]).path == "sequence.step.1.delay"
