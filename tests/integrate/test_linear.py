"""The linear systems of a step against numpy.linalg.solve: sparse, pivoted, with quadratures."""

import numpy as np
import pytest
from sleevelift.integrate.linear import factor, invert, make_plan, pattern_grew, solve
from sleevelift.integrate.workspace import workspace, workspace_dtype
from sleevelift.jit import kernel

N, CORE = 17, 15
LAYOUT = workspace_dtype(N, CORE, 1, 1, 1, 1)


@kernel
def solution(w, shift):
    """Plan if need be, factor, invert, solve for b; whether the plan was made anew."""
    grew = pattern_grew(w)
    if grew:
        make_plan(w)
    factor(w, shift)
    if w.row_exchange == 0:
        invert(w, shift)
    solve(w, 0, shift)
    return grew


def solved(J, b, shift, w=None):
    """(u, workspace, whether planned anew) of (shift I - J) u = b for a J of n rows and n_core columns."""
    n, n_core = J.shape
    w = workspace(LAYOUT, 1.0, n=n, n_core=n_core) if w is None else w
    w["J"][:n, :n_core] = J
    w["b"][:n] = b
    grew = solution(w, shift)
    return w["u"][0, :n].copy(), w, grew


def full_matrix(J, shift):
    """W with the quadratures' columns, which are zero in J."""
    n, n_core = J.shape
    W = shift * np.eye(n)
    W[:, :n_core] -= J
    return W


def backward_error(W, u, b):
    """Componentwise backward error (Oettli and Prager): the relative change of W and b that makes u exact."""
    return np.max(np.abs(W @ u - b) / (np.abs(W) @ np.abs(u) + np.abs(b)))


def sparse(rng, n, n_core, density=0.15):
    """A random Jacobian with this share of nonzeros."""
    return np.where(rng.random((n, n_core)) < density, rng.normal(size=(n, n_core)), 0.0)


@pytest.mark.parametrize("seed", range(20))
def test_sparse_systems_with_quadratures(seed):
    rng = np.random.default_rng(seed)
    n_core = int(rng.integers(1, CORE + 1))
    J = sparse(rng, n_core + 2, n_core) * 10 ** rng.uniform(-3, 3)
    b = rng.normal(size=n_core + 2)
    shift = 10 ** rng.uniform(-1, 4)
    u, w, _ = solved(J, b, shift)
    W = full_matrix(J, shift)
    np.testing.assert_allclose(u, np.linalg.solve(W, b), rtol=1e-7 if w["row_exchange"] == 0 else 1e-9)
    assert backward_error(W, u, b) < 1e-8


def test_units_of_the_states_do_not_matter():
    """Rescaling states (pascals, micrometres) changes neither the way of elimination nor the digits much."""
    rng = np.random.default_rng(7)
    J, b, shift = sparse(rng, 12, 12, 0.3), rng.normal(size=12), 3.0
    scale = 10.0 ** rng.integers(-9, 9, size=12)
    plain, w, _ = solved(J, b, shift)
    scaled, w_scaled, _ = solved(J * scale[:, None] / scale[None, :], b * scale, shift)
    assert w["row_exchange"] == w_scaled["row_exchange"] == 0
    np.testing.assert_allclose(scaled / scale, plain, rtol=1e-12)


@pytest.mark.parametrize("first", [0.0, 1e-20, 1e-12])
def test_a_vanishing_pivot_is_exchanged(first):
    """[[first, 1], [1, 1]]: without exchange the second equation is lost below first ~ 1e-9."""
    shift = 2.0
    W = np.array([[first, 1.0], [1.0, 1.0]])
    u, w, _ = solved(shift * np.eye(2) - W, np.array([1.0, 2.0]), shift)
    assert w["row_exchange"] == 1 and w["pivoted"] == 1
    np.testing.assert_allclose(u, np.linalg.solve(W, [1.0, 2.0]), rtol=1e-14)


def test_a_pivot_that_cancels_is_exchanged():
    """A diagonal entry that elimination reduces to rounding, while the matrix is well conditioned."""
    W = np.array([[1.0, 1.0, 0.0], [1.0, 1.0 + 1e-15, 1.0], [0.0, 1.0, 1.0]])
    u, w, _ = solved(5.0 * np.eye(3) - W, np.array([1.0, 2.0, 3.0]), 5.0)
    assert backward_error(W, u, np.array([1.0, 2.0, 3.0])) < 1e-13


def test_a_singular_matrix_gives_no_number():
    W = np.array([[1.0, 1.0], [1.0, 1.0]])
    u, _, _ = solved(5.0 * np.eye(2) - W, np.array([1.0, 2.0]), 5.0)
    assert not np.all(np.isfinite(u))


def test_frozen_states_keep_their_zero_rows():
    """A zero row of J gives u = b/shift there, to the digit, whatever the rest."""
    rng = np.random.default_rng(3)
    J = sparse(rng, 10, 10, 0.4)
    J[[2, 5]] = 0.0
    b = rng.normal(size=10)
    u, _, _ = solved(J, b, 4.0)
    assert u[2] == b[2] / 4.0 and u[5] == b[5] / 4.0


def test_a_pattern_only_grows():
    """New nonzeros are planned, old ones stay planned at zero: the answer is right each time."""
    rng = np.random.default_rng(5)
    first, second = sparse(rng, 10, 10), sparse(rng, 10, 10)
    b = rng.normal(size=10)
    _, w, grew = solved(first, b, 2.0)
    assert grew
    u, w, grew = solved(second, b, 2.0, w)
    assert grew
    np.testing.assert_allclose(u, np.linalg.solve(full_matrix(second, 2.0), b), rtol=1e-9)
    u, w, grew = solved(first, b, 2.0, w)
    assert not grew
    np.testing.assert_allclose(u, np.linalg.solve(full_matrix(first, 2.0), b), rtol=1e-9)


def test_a_chain_fills_nothing_in():
    """An arrow with its head first fills in completely in the given order, and not at all in the order chosen."""
    n = 12
    J = np.zeros((n, n))
    J[0, :] = J[:, 0] = 1.0
    _, w, _ = solved(J, np.ones(n), 100.0)
    assert w["entry_count"] == 2 * (n - 1)
