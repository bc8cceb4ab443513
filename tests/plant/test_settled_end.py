"""The end of a run: two periods after closing the lines' ringing is damped, and the run is over when gas and flows have settled.

Nothing but the ringing itself may depend on it: the same case run on undamped to the same instant is the reference.
"""

import numpy as np
import pytest
from runs import changed, shipped_case
from sleevelift import simulate
from sleevelift.plant.build import build
from sleevelift.plant.modes import damp_artificially, mode_reset
from sleevelift.plant.state import (
    D_CAVITY_O,
    D_DAMPED,
    D_MODE,
    D_SETTLED,
    G_MODE_A,
    G_SETTLED,
    M_DAMPING,
    N_SIGNAL,
    OXIDIZER,
    S_FUEL_P,
    S_LIFT_P,
    S_OXIDIZER_INJECTOR,
    S_OXIDIZER_P,
    SEATED,
    SLIDING_UP,
)
from stored_runs import run_of, scratch

WET = ["cold_flow", "hot_start", "hammer", "helium_lift"]
FINE = 1e-6
"""Tolerance at which two runs of one design are compared."""
MAY_DIFFER = {"steps", "gas_mass_error", "energy_error"}
"""What says how a run was computed, not what it found."""


@pytest.mark.parametrize("name", WET)
def test_the_ringing_left_out_decides_no_measure(name):
    """Against the same run with its ringing, to the same instant: the sleeve's times to 1 ns, all else to 1e-5 of itself."""
    damped = simulate(shipped_case(name), tolerance=FINE)
    end = float(damped.traces["time"][-1])
    ringing = simulate(changed(shipped_case(name), run__end=end), tolerance=FINE)
    assert ringing.outcome == damped.outcome
    for measure, value in damped.measures.items():
        other = ringing.measures[measure]
        if measure in MAY_DIFFER:
            continue
        assert (value is None) == (other is None), measure
        if value is not None:
            near = 1e-9 if measure.endswith("_time") or measure.endswith("_delay") else 1e-5 * abs(value)
            assert abs(other - value) <= near, measure


@pytest.mark.parametrize("name", WET)
def test_the_lines_are_damped_two_periods_after_closing(name):
    """At the instant, and neither before nor without a return to rest: from then on both manifolds go to what the inlet and the
    leak leave without passing it again and again."""
    run = run_of(build(shipped_case(name)))
    record, raw = run.plant.record[0], run.raw
    damped = np.flatnonzero(raw.discrete_state[:, D_DAMPED])
    rest = np.flatnonzero(np.diff(raw.discrete_state[:, D_MODE]))[-1] + 1
    assert raw.discrete_state[rest, D_MODE] == SEATED
    periods = [float(line["period"]) for line in record["lines"]]
    assert raw.t[damped[0]] - raw.t[rest] == pytest.approx(max(5e-3, 2.0 * max(periods)), rel=1e-9)
    for signal in (S_OXIDIZER_P, S_FUEL_P):
        swing = raw.outputs[damped, signal] - raw.outputs[-1, signal]
        turns = np.count_nonzero(np.diff(np.sign(np.diff(swing[np.abs(swing) > 1e-4 * np.abs(swing).max()]))))
        assert turns <= 2, "it would ring"


def test_a_leak_goes_on_through_damped_lines():
    """The damping slows a flow towards what leaves the manifold, so a steady leak costs no pressure: p_m = p_inlet - K w^2."""
    run = run_of(build(shipped_case("hot_start")))
    line, raw = run.plant.record[0]["lines"][OXIDIZER], run.raw
    leak = float(raw.outputs[-1, S_OXIDIZER_INJECTOR])
    flow = float(raw.y[-1, int(run.plant.record[0]["index"]["oxidizer_flow"])])
    assert leak > 0.0
    assert flow == pytest.approx(leak, rel=1e-3)
    assert raw.outputs[-1, S_OXIDIZER_P] == pytest.approx(line["inlet"] - line["loss"] * leak**2, rel=1e-4)


@pytest.mark.parametrize("name", ["dry_bench", "hot_start", "fuel_lost"])
def test_the_end_does_not_depend_on_the_steps(name):
    """The end is located, not the first step beyond it: a hundredth of the tolerance moves it by less than 0.1 ms."""
    case = shipped_case(name)
    coarse, fine = (simulate(case, tolerance=tolerance) for tolerance in (2e-4, 2e-6))
    assert coarse.traces["time"][-1] == pytest.approx(fine.traces["time"][-1], abs=1e-4)


def test_the_run_ends_where_the_gas_has_vented():
    """Within 2 % of ambient in the lift chamber, to the millibar, at an event of its own."""
    run = run_of(build(shipped_case("dry_bench")))
    assert run.raw.event_which[-1] == G_SETTLED
    ambient = float(run.plant.record[0]["ambient_pressure"])
    assert run.raw.outputs[-1, S_LIFT_P] <= 1.02 * ambient * (1.0 + 1e-9)
    assert run.raw.outputs[-1, S_LIFT_P] == pytest.approx(1.02 * ambient, abs=100.0)


def test_a_given_end_keeps_the_ringing():
    """With [run] end nothing is damped, and the run goes on to it."""
    run = run_of(build(changed(shipped_case("cold_flow"), run__end=1.2)))
    assert run.raw.t[-1] == 1.2
    assert not run.raw.discrete_state[:, D_DAMPED].any()


def at_rest_after_closing():
    """A plant and the discrete state, remembered numbers and instant at which its lines are to be damped."""
    run = run_of(build(shipped_case("hot_start")))
    k = np.flatnonzero(run.raw.discrete_state[:, D_DAMPED])[0]
    discrete_state, event_memory = run.raw.discrete_state[k].copy(), run.raw.event_memory.copy()
    discrete_state[D_DAMPED] = 0
    return run, k, discrete_state, event_memory


def test_an_open_cavity_is_waited_for():
    """Where liquid and vapour have parted, the knock of their meeting is still to come: two periods more."""
    run, k, discrete_state, event_memory = at_rest_after_closing()
    now = float(run.raw.t[k])
    discrete_state[D_CAVITY_O] = 1
    damp_artificially(now, discrete_state, event_memory, run.plant.record[0])
    assert discrete_state[D_DAMPED] == 0 and event_memory[M_DAMPING] == now
    discrete_state[D_CAVITY_O] = 0
    damp_artificially(now, discrete_state, event_memory, run.plant.record[0])
    assert discrete_state[D_DAMPED] == 0, "watched again from now"
    damp_artificially(
        now + 2.0 * float(run.plant.record[0]["instants"]["settle_time"]), discrete_state, event_memory, run.plant.record[0]
    )
    assert discrete_state[D_DAMPED] == 1


def test_leaving_the_seat_ends_the_damping():
    run, k, discrete_state, event_memory = at_rest_after_closing()
    discrete_state[D_DAMPED] = discrete_state[D_SETTLED] = 1
    y = run.raw.y[k].copy()
    mode_reset(float(run.raw.t[k]), y, discrete_state, event_memory, scratch(len(y))[:N_SIGNAL], run.plant.record[0], G_MODE_A)
    assert discrete_state[D_MODE] == SLIDING_UP
    assert discrete_state[D_DAMPED] == 0 and discrete_state[D_SETTLED] == 0


def test_the_timeline_says_both():
    timeline = simulate(shipped_case("hot_start"), with_traces=False).timeline
    what = [event.what for event in timeline]
    assert "lines: rest of the ringing left out" in what
    assert what[-1] == "actuation gas vented, flows settled"
