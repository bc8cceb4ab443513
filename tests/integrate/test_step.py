"""Order of convergence, stiff problems, quadratures: closed forms and an independent solver."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from sleevelift.integrate.status import Status
from toys import GROWTH, PROTHERO_ROBINSON, ROBERTSON, SPIRAL, VAN_DER_POL, solve

FIXED = {"rtol": 1e9, "atol": 1e9}
"""A tolerance nothing exceeds: every step is as long as `largest_step` allows."""


def order(errors, halvings=1):
    """Observed orders between step sizes that halve from one error to the next."""
    return np.log2(np.array(errors[:-1]) / np.array(errors[1:])) / halvings


def steps_of(count, length):
    """A largest step that gives `count` equal steps over `length`."""
    return {"largest_step": length / count, **FIXED}


def test_order_five_with_explicit_time():
    """y' = y cos t, y = exp(sin t): the time derivative enters each stage."""
    errors = []
    for count in (10, 20, 40, 80):
        run = solve(GROWTH, [1.0, 0.0, 0.0], t_end=3.0, n_core=1, **steps_of(count, 3.0))
        assert run.w["steps"] == count
        errors.append(abs(run.y[-1, 0] - math.exp(math.sin(3.0))))
    assert order(errors)[-1] == pytest.approx(5.0, abs=0.25)


def test_order_five_for_quadratures():
    """The integrals of y and of 2 t y keep the order of y; the reference is the same run at 640 steps (order, not
    value)."""
    reference = solve(GROWTH, [1.0, 0.0, 0.0], t_end=3.0, n_core=1, **steps_of(640, 3.0)).y[-1]
    errors = [
        np.abs(solve(GROWTH, [1.0, 0.0, 0.0], t_end=3.0, n_core=1, **steps_of(count, 3.0)).y[-1] - reference)[1:]
        for count in (20, 40, 80)
    ]
    assert np.all(order(errors)[-1] > 4.6)


def test_quadratures_against_adaptive_quadrature():
    """Integral of exp(sin t) and of 2 t exp(sin t) over 0..3, scipy.integrate.quad."""
    from scipy.integrate import quad

    run = solve(GROWTH, [1.0, 0.0, 0.0], t_end=3.0, n_core=1, rtol=1e-9, atol=1e-12)
    assert run.y[-1, 1] == pytest.approx(quad(lambda t: math.exp(math.sin(t)), 0, 3)[0], rel=1e-8)
    assert run.y[-1, 2] == pytest.approx(quad(lambda t: 2 * t * math.exp(math.sin(t)), 0, 3)[0], rel=1e-8)


def test_a_quadrature_gives_the_digits_of_a_state():
    """The same steps, the same numbers, whether an integral is solved for as a state or as a quadrature."""
    as_state = solve(GROWTH, [1.0, 0.0, 0.0], t_end=3.0, n_core=3, **steps_of(30, 3.0))
    as_quadrature = solve(GROWTH, [1.0, 0.0, 0.0], t_end=3.0, n_core=1, **steps_of(30, 3.0))
    np.testing.assert_allclose(as_quadrature.y[-1], as_state.y[-1], rtol=1e-13)


@pytest.mark.parametrize("stiffness", [1.0, 10.0, 1e4])
def test_no_order_reduction_below_four_on_a_stiff_problem(stiffness):
    """Prothero and Robinson with step x rate held fixed while both change: the error falls with h^4 or faster.

    Rodas5P was made to keep order 4 there (Steinebach 2023, section 2), where the older method of order 5 falls to 3 or
    2.
    """
    errors = []
    for count in (10, 20, 40):
        run = solve(PROTHERO_ROBINSON, [math.sin(0.3)], [stiffness * count], t=0.3, t_end=1.3, **steps_of(count, 1.0))
        assert run.w["steps"] == count
        errors.append(np.abs(run.y[1:, 0] - np.sin(run.t[1:])).max())
    assert order(errors)[-1] > 3.9


def test_a_stiff_step_forgets_the_start():
    """Stiffly accurate: one step at rate 1e9 lands on the solution from a start off it."""
    run = solve(PROTHERO_ROBINSON, [1.0], [1e9], t_end=0.1, **steps_of(1, 0.1))
    assert run.y[-1, 0] == pytest.approx(math.sin(0.1), abs=1e-6)


def test_dense_output_order_four():
    """Error inside one step falls with h^5, at several fractions."""
    start = 0.7
    for s in (0.2, 0.5, 0.8):
        errors = []
        for h in (0.2, 0.1, 0.05):
            y = [math.exp(math.sin(start)), 0.0, 0.0]
            run = solve(GROWTH, y, t=start, t_end=start + h, n_core=1, **steps_of(1, h))
            errors.append(abs(run.at(start + s * h)[0] - math.exp(math.sin(start + s * h))))
        assert order(errors)[-1] > 4.6


def test_dense_output_meets_the_points():
    run = solve(GROWTH, [1.0, 0.0, 0.0], t_end=2.0, n_core=1, rtol=1e-5)
    for k in range(1, len(run.t)):
        np.testing.assert_allclose(run.at(run.t[k] - 1e-12)[0], run.y[k, 0], rtol=1e-9)


def test_robertson_against_radau():
    """Robertson to t = 1e4: scipy Radau at rtol 1e-10, atol 1e-14 (scipy.integrate.solve_ivp)."""

    def f(t, y):
        fast, slow = 1e4 * y[1] * y[2], 3e7 * y[1] ** 2
        return [-0.04 * y[0] + fast, 0.04 * y[0] - fast - slow, slow]

    reference = solve_ivp(f, (0, 1e4), [1.0, 0.0, 0.0], method="Radau", rtol=1e-10, atol=1e-14).y[:, -1]
    run = solve(ROBERTSON, [1.0, 0.0, 0.0, 0.0], t_end=1e4, n_core=3, rtol=1e-6, atol=1e-10)
    assert run.status == Status.REACHED_END
    np.testing.assert_allclose(run.y[-1, :3], reference, rtol=2e-5)
    assert run.y[-1, :3].sum() == pytest.approx(1.0, rel=1e-12), "mass is conserved by a linear invariant"
    assert run.w["steps"] < 120  # a cap, 26 November 2026: 108 steps


def test_van_der_pol_against_radau():
    """mu = 1000 over most of a period: scipy Radau at rtol 1e-11, atol 1e-12 (scipy.integrate.solve_ivp)."""
    mu, end = 1000.0, 1200.0

    def f(t, y):
        return [y[1], mu * (1 - y[0] ** 2) * y[1] - y[0]]

    def df(t, y):
        return [[0, 1], [-2 * mu * y[0] * y[1] - 1, mu * (1 - y[0] ** 2)]]

    reference = solve_ivp(f, (0, end), [2.0, 0.0], method="Radau", jac=df, rtol=1e-11, atol=1e-12).y[:, -1]
    run = solve(VAN_DER_POL, [2.0, 0.0], [mu], t_end=end, rtol=1e-7, atol=1e-9)
    np.testing.assert_allclose(run.y[-1], reference, rtol=1e-5)
    assert run.w["steps"] + run.w["rejected"] < 900


def test_error_follows_the_tolerance():
    """A circle: the error stays within a hundred tolerances over a turn, and falls with the tolerance."""
    errors = []
    for rtol in (1e-4, 1e-6, 1e-8):
        run = solve(SPIRAL, [1.0, 0.0], [2 * math.pi], t_end=1.0, rtol=rtol, atol=rtol)
        errors.append(np.abs(run.y[-1] - [1.0, 0.0]).max())
        assert errors[-1] < 100 * rtol
    assert errors[0] > errors[1] > errors[2]


def test_the_same_digits_twice():
    first, second = (solve(VAN_DER_POL, [2.0, 0.0], [30.0], t_end=100.0) for _ in range(2))
    assert np.array_equal(first.t, second.t) and np.array_equal(first.y, second.y)


def test_threads_do_not_disturb_each_other():
    """Runs in four threads at once, each with its own workspace, give the digits of a run alone."""
    from concurrent.futures import ThreadPoolExecutor

    mus = [5.0, 10.0, 20.0, 40.0] * 4
    alone = [solve(VAN_DER_POL, [2.0, 0.0], [mu], t_end=50.0) for mu in mus]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda mu: solve(VAN_DER_POL, [2.0, 0.0], [mu], t_end=50.0), mus))
    for one, other in zip(alone, together):
        assert np.array_equal(one.t, other.t) and np.array_equal(one.y, other.y)


def test_a_workspace_remembers_nothing():
    """A workspace used for another run before gives the digits of a fresh one."""
    from sleevelift.integrate.workspace import trajectory, workspace
    from toys import LAYOUT, MODES, SIGNALS
    from toys import run as entry

    w = workspace(LAYOUT, 1e-9, n=3, n_core=3)
    arrays = trajectory(4, MODES, SIGNALS, 2000, 100)

    def points(kind, y, parameters, t_end):
        w["n"] = w["n_core"] = len(y)
        par = np.array([kind, *parameters, 0.0])
        discrete_state, event_memory = np.zeros(2, dtype=np.int64), np.zeros(2)
        entry(0.0, t_end, np.array(y), discrete_state, event_memory, par, w, *arrays)
        return arrays.y_out[: int(w["points"]), : len(y)].copy()

    points(ROBERTSON, [1.0, 0.0, 0.0], [], 1e3)
    again = points(VAN_DER_POL, [2.0, 0.0], [10.0], 30.0)
    assert np.array_equal(again, solve(VAN_DER_POL, [2.0, 0.0], [10.0], t_end=30.0).y)
