"""Guards, jumps, time events: closed forms of hybrid toys, and the statuses of runs that cannot go on."""

import math

import numpy as np
import pytest
from sleevelift.integrate.status import Status
from sleevelift.integrate.workspace import LOOK_ALWAYS, LOOK_NEVER, TARGET
from toys import (
    BALL,
    BELT,
    CHATTER,
    DIP,
    EDGE,
    FRICTION,
    GROWTH,
    LINE,
    RATTLE,
    STROKE,
    SWITCHED,
    TWO_CLOCKS,
    VAN_DER_POL,
    solve,
)

INSTANT = 1e-9
"""Events of the model are located to this (s)."""
TIGHT = {"rtol": 1e-9, "atol": 1e-12}


def test_bouncing_ball_comes_to_rest():
    """Drop of 0.1 m, restitution 0.6: at rest after sqrt(2h/g)(1+e)/(1-e) = 0.571137 s (closed form).

    With a rest speed v_r the last bounce missing takes away less than 2 v_r/(g (1 - e)).
    """
    g, e, h, rest_speed = 9.81, 0.6, 0.1, 1e-6
    run = solve(BALL, [h, 0.0], [g, e, rest_speed], **TIGHT)
    assert run.status == Status.FINISHED
    assert run.t[-1] == pytest.approx(0.571137, rel=1e-5)
    assert abs(run.t[-1] - math.sqrt(2 * h / g) * (1 + e) / (1 - e)) < 2 * rest_speed / (g * (1 - e)) + INSTANT
    assert run.y[-1, 0] == 0.0 and run.y[-1, 1] == 0.0 and run.discrete_state[-1, 0] == 1


def test_every_bounce_at_its_instant():
    """Impact n at t_1 (1 + 2 (e + ... + e^(n-1))), t_1 = sqrt(2h/g)."""
    g, e, h = 9.81, 0.6, 0.1
    run = solve(BALL, [h, 0.0], [g, e, 1e-4], **TIGHT)
    first = math.sqrt(2 * h / g)
    expected = first * (1 + 2 * np.array([sum(e**k for k in range(1, n)) for n in range(1, len(run.event_time) + 1)]))
    np.testing.assert_allclose(run.event_time, expected, atol=INSTANT)


def test_path_of_the_ball():
    """Highest points add up to the path h (1 + e^2)/(1 - e^2) = 0.2125 m (closed form)."""
    run = solve(BALL, [0.1, 0.0], [9.81, 0.6, 1e-6], **TIGHT)
    flights = np.split(run.y[:, 0], np.flatnonzero(np.diff(run.t) == 0) + 1)
    speeds = run.y[np.flatnonzero(np.diff(run.t) == 0) + 1, 1]
    assert len(flights) == len(run.event_time) + 1
    path = 0.1 + 2 * np.sum(speeds**2) / (2 * 9.81)
    assert path == pytest.approx(0.2125, rel=1e-6)


def test_a_cascade_without_rest_speed_is_a_status():
    """Bounces closing up on an instant end the run; nothing hangs."""
    run = solve(BALL, [0.1, 0.0], [9.81, 0.6, 0.0], **TIGHT)
    assert run.status == Status.TOO_MANY_EVENTS
    assert run.t[-1] == pytest.approx(0.571137, rel=1e-5)


@pytest.mark.parametrize(("swing", "rate"), [(0.5, 50.0), (0.5, 300.0), (0.9, 100.0)])
@pytest.mark.parametrize("start", [1e-3, 1e-2])
@pytest.mark.parametrize("e", [0.6, 0.9])
def test_bounces_far_below_the_tolerance_die_out(e, start, swing, rate):
    """Bounces of at most 10 nm where 0.1 m is tolerated: n of them until start e^n is below the rest speed, in 2 start/g
    (1 - e^n)/(1 - e) (closed form; the weight hardly swings in so short a time, but much within a step).

    A dense output that is good enough for the step is none for the rebound in it: the ball was at rest after one bounce, or never.
    """
    g, rest_speed = 1e4, 1e-4
    run = solve(RATTLE, [0.0, start], [g, e, rest_speed, swing, rate], t_end=1.0, rtol=1e-2, atol=0.1)
    n = len(run.event_time)
    assert run.status == Status.FINISHED
    assert -1 < n - math.log(rest_speed / start) / math.log(e) < 2, "the last one may be a hair above the rest speed"
    assert run.t[-1] == pytest.approx(2 * start / g * (1 - e**n) / (1 - e), rel=0.01)


def test_both_points_of_a_jump_are_kept():
    run = solve(BALL, [0.1, 0.0], [9.81, 0.6, 1e-3], **TIGHT)
    k = int(np.searchsorted(run.t, run.event_time[0]))
    assert run.t[k] == run.t[k + 1] == run.event_time[0]
    assert run.y[k, 1] == pytest.approx(-math.sqrt(2 * 9.81 * 0.1), rel=1e-8)
    assert run.y[k + 1, 1] == pytest.approx(-0.6 * run.y[k, 1], rel=1e-15)
    assert not run.dense[k + 1].any() and run.dense[k].any()


def test_dry_friction_turns_and_stops():
    """k 5000 N/m, m 0.5 kg, F 10 N from 21.5 mm: turns at -17.5, 13.5, -9.5, 5.5 and stops at -1.5 mm (closed form)."""
    run = solve(FRICTION, [0.0215, 0.0], [0.5, 5000.0, 10.0, 10.0], discrete_state=(-1, 0), **TIGHT)
    assert run.status == Status.FINISHED
    turns = [run.y[np.searchsorted(run.t, t), 0] for t in run.event_time]
    np.testing.assert_allclose(turns, [-0.0175, 0.0135, -0.0095, 0.0055, -0.0015], atol=1e-10)
    half_period = math.pi * math.sqrt(0.5 / 5000.0)
    np.testing.assert_allclose(run.event_time, half_period * np.arange(1, 6), atol=INSTANT)
    assert run.discrete_state[-1, 0] == 0 and run.y[-1, 1] == 0.0


def test_friction_coefficient_from_a_decay():
    """10 cm to 1 cm in 5 cycles of 2 s together: mu = 0.09 w^2/(20 g) = 0.1132 (Rao, Mechanical Vibrations, section
    2.9, from memory; the loss 4 mu g/w^2 per cycle is closed form)."""
    mass, g, w = 1.0, 9.81, 5 * math.pi
    force = 0.1132 * mass * g
    run = solve(FRICTION, [0.1, 0.0], [mass, mass * w**2, force, force], t_end=2.5, discrete_state=(-1, 0), **TIGHT)
    tenth_turn = run.y[np.searchsorted(run.t, run.event_time[9]), 0]
    assert run.event_time[9] == pytest.approx(2.0, abs=INSTANT)
    assert tenth_turn == pytest.approx(0.01, rel=2e-3)


def test_block_on_a_belt():
    """Sticks until k x = F_s, slips for 2 (pi - atan((F_s - F_k) w/(k V)))/w, sticks for 2 (F_s - F_k)/(k V).

    Closed form: in the slip x - F_k/k swings at w = sqrt(k/m) from ((F_s - F_k)/k, V) back to speed V.
    """
    m, k, running, breakaway, belt = 1.0, 100.0, 3.0, 5.0, 0.1
    w = math.sqrt(k / m)
    slip = 2 * (math.pi - math.atan((breakaway - running) * w / (k * belt))) / w
    stick = 2 * (breakaway - running) / (k * belt)
    run = solve(BELT, [0.0, belt], [m, k, running, breakaway, belt], t_end=5.0, **TIGHT)
    first = breakaway / (k * belt)
    expected = [first]
    while len(expected) < len(run.event_time):
        expected.append(expected[-1] + (slip if len(expected) % 2 else stick))
    assert len(expected) >= 8
    np.testing.assert_allclose(run.event_time, expected, atol=10 * INSTANT)
    assert run.event_which.tolist() == [0] * len(expected)


def test_time_to_open_against_a_preloaded_spring():
    """0.05 kg, 5000 N/m, 100 N preload, 160 N, 5 mm: acos(1 - k s/(F - F0))/w = 2.99774 ms, 3.08221 m/s (closed
    form)."""
    run = solve(STROKE, [0.0, 0.0], [0.05, 5000.0, 100.0, 160.0, 0.005], t_end=1.0, rtol=1e-7, atol=1e-10)
    assert run.status == Status.FINISHED
    assert run.event_time[0] == pytest.approx(2.99774e-3, rel=1e-5)
    assert run.y[-1, 1] == pytest.approx(3.08221, rel=1e-5)


def test_time_to_establish_flow():
    """v = v0 tanh(t/tau): 99 % of steady flow in a 1 m ethanol line after 0.0470181 s (closed form)."""
    density, length, drop, loss = 789.0, 1.0, 2e6, 1.5
    steady = math.sqrt(2 * drop / (density * (1 + loss)))
    run = solve(LINE, [0.0], [density, length, drop, loss, 0.99 * steady], t_end=1.0, rtol=1e-10)
    assert run.event_time[0] == pytest.approx(0.0470181, rel=1e-5)
    assert run.event_time[0] == pytest.approx(2 * length / (steady * (1 + loss)) * math.atanh(0.99), abs=INSTANT)


@pytest.mark.parametrize("rtol", [1e-3, 1e-9])
def test_an_event_is_bracketed_to_its_tolerance(rtol):
    """y' = 1 is exact in every step: what is left is the location, above the crossing and within 1e-10 s of it."""
    run = solve(TWO_CLOCKS, [0.123456789, 5.0], t_end=1.0, rtol=rtol)
    assert -1e-14 <= run.event_time[0] - 0.123456789 <= 1e-10 + 1e-14


def test_few_evaluations_per_event():
    """Locating a friction turn costs under ten right-hand sides on average: the search is not bisection (which takes
    25)."""
    run = solve(FRICTION, [0.0215, 0.0], [0.5, 5000.0, 10.0, 10.0], discrete_state=(-1, 0), look_inside=LOOK_NEVER)
    stages = 8 * (run.w["steps"] + run.w["rejected"])
    assert (run.w["rhs_calls"] - stages) / len(run.event_time) < 10


def test_simultaneous_events_run_in_order():
    """Two guards at zero at one instant: the lower index first, the other at once, both logged at that instant."""
    run = solve(TWO_CLOCKS, [0.5, 0.5], t_end=1.0)
    assert run.event_which.tolist() == [0, 1]
    assert run.event_time[0] == run.event_time[1] == pytest.approx(0.5, abs=INSTANT)
    assert run.event_discrete.tolist() == [[[0, 0], [1, 0]], [[1, 0], [1, 1]]]
    assert run.status == Status.REACHED_END and run.y[-1].tolist() == [0.0, 0.0]


def test_two_events_in_one_step_come_in_order_of_time():
    """0.2 ms apart, index 1 first; no step falls between them."""
    run = solve(TWO_CLOCKS, [0.5002, 0.5], t_end=1.0, rtol=1e-2)
    assert run.event_which.tolist() == [1, 0]
    np.testing.assert_allclose(run.event_time, [0.5, 0.5002], atol=INSTANT)


def test_a_jump_that_leads_below_zero_is_a_status():
    run = solve(CHATTER, [0.5], t_end=1.0)
    assert run.status == Status.TOO_MANY_EVENTS
    assert run.t[-1] == pytest.approx(0.5, abs=INSTANT)


def test_a_guard_that_dips_inside_a_step_is_seen():
    """(t - 0.5)^2 - w^2 is below zero for 2 w only; the states are straight lines, so steps are as long as they can
    be."""
    middle, half = 0.4, 0.03
    steps = {"t_end": 1.0, "largest_step": 0.25, "atol": 1.0}
    seen = solve(DIP, [0.0], [middle, half], look_inside=LOOK_ALWAYS, **steps)
    near = solve(DIP, [0.0], [middle, half], **steps)
    unseen = solve(DIP, [0.0], [middle, half], look_inside=LOOK_NEVER, **steps)
    assert {0.25, 0.5} < set(unseen.t) and len(unseen.event_time) == 0
    assert seen.event_time[0] == pytest.approx(middle - half, abs=INSTANT)
    assert near.event_time[0] == pytest.approx(middle - half, abs=INSTANT)


@pytest.mark.parametrize("middle", [0.4, 0.45, 0.6])
def test_a_guard_that_dips_in_the_middle_of_a_first_step_is_seen(middle):
    """The same after a start or a jump, when the guard is known at the two ends of one long step only."""
    half = 0.15
    steps = {"t_end": 1.0, "atol": 1.0}
    near = solve(DIP, [0.0], [middle, half], **steps)
    unseen = solve(DIP, [0.0], [middle, half], look_inside=LOOK_NEVER, **steps)
    assert list(unseen.t) == [0.0, 1.0]
    assert near.event_time[0] == pytest.approx(middle - half, abs=INSTANT)


def test_looking_inside_costs_nothing_where_nothing_is_near():
    plain = solve(VAN_DER_POL, [2.0, 0.0], [5.0], t_end=20.0, look_inside=LOOK_NEVER)
    careful = solve(VAN_DER_POL, [2.0, 0.0], [5.0], t_end=20.0)
    assert careful.w["rhs_calls"] == plain.w["rhs_calls"]


def test_known_instants_are_met_exactly():
    """y' = mode - y toggled at 0.3 and 0.8 s: y = 1 - exp(-(t - 0.3)), then it decays (closed form)."""
    run = solve(SWITCHED, [0.0], [2, 0.3, 0.8], t_end=2.0, **TIGHT)
    assert run.event_which.tolist() == [TARGET, TARGET]
    assert run.event_time.tolist() == [0.3, 0.8]
    assert run.y[-1, 0] == pytest.approx((1 - math.exp(-0.5)) * math.exp(-1.2), rel=1e-8)
    assert run.t[-1] == 2.0


def test_a_known_instant_that_changes_nothing_leaves_no_trace():
    with_it = solve(SWITCHED, [1.0], [1, 1.0], t_end=2.0)
    assert len(with_it.event_time) == 0 and 1.0 in with_it.t
    assert np.all(np.diff(with_it.t) > 0)


def test_no_crumb_of_a_step_before_a_known_instant():
    run = solve(SWITCHED, [0.0], [2, 0.3, 0.8], t_end=2.0, rtol=1e-8)
    ends = [int(np.searchsorted(run.t, t)) for t in (0.3, 0.8, 2.0)]
    for k in ends:
        assert run.t[k] - run.t[k - 1] > 0.4 * (run.t[k - 1] - run.t[k - 2])


def test_leaving_the_range_is_a_status_with_its_time():
    run = solve(EDGE, [1.0], [0.25], t_end=2.0)
    assert run.status == Status.OUT_OF_RANGE
    assert run.t[-1] == pytest.approx(0.75, abs=1e-6)
    assert solve(EDGE, [0.1], [0.25], t_end=2.0).status == Status.OUT_OF_RANGE


def test_a_state_a_rounding_away_from_the_range_s_edge_has_left_it():
    """Steps below 7e-12 s do not move a state of 1e5 by a rounding, longer ones lead outside: the run ends, it does not creep."""
    run = solve(EDGE, [1e5], [1e5], t_end=2.0, atol=1.0, step_cap=5000)
    assert run.status == Status.OUT_OF_RANGE
    assert run.t[-1] < 1e-9 and run.w["steps"] + run.w["rejected"] < 100


def test_full_arrays_and_too_many_steps_are_statuses():
    assert solve(VAN_DER_POL, [2.0, 0.0], [5.0], t_end=20.0, room=10).status == Status.BUFFER_FULL
    run = solve(VAN_DER_POL, [2.0, 0.0], [5.0], t_end=20.0, step_cap=10)
    assert run.status == Status.TOO_MANY_STEPS
    assert run.w["steps"] + run.w["rejected"] == 10


def test_not_a_number_is_a_status():
    run = solve(GROWTH, [math.nan, 0.0, 0.0], t_end=1.0, n_core=1)
    assert run.status == Status.STEP_TOO_SMALL


def test_without_dense_output_the_points_are_the_same():
    from sleevelift.integrate.workspace import trajectory, workspace
    from toys import LAYOUT, MODES, SIGNALS
    from toys import run as entry

    kept = solve(BALL, [0.1, 0.0], [9.81, 0.6, 1e-3])
    w = workspace(LAYOUT, 1e-9, n=2, n_core=2)
    arrays = trajectory(2, MODES, SIGNALS, 1000, 100, dense=False)
    par = np.array([BALL, 9.81, 0.6, 1e-3, 0.0])
    entry(0.0, 10.0, np.array([0.1, 0.0]), np.zeros(2, dtype=np.int64), np.zeros(2), par, w, *arrays)
    assert np.array_equal(arrays.y_out[: int(w["points"])], kept.y)


def test_every_status_has_its_sentence():
    for status in Status:
        assert status.sentence.endswith(".")
    assert [s for s in Status if s.good] == [Status.FINISHED, Status.REACHED_END]
