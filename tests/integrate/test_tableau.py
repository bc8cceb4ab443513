"""Rodas5P: the digits satisfy the order conditions, stiff accuracy and the dense output's conditions."""

import numpy as np
import pytest
from sleevelift.integrate.tableau import ALPHA, GAMMA, STAGES, A, C, D, H

ROUNDING = 2e-13
"""The digits are given to 16 places, the largest C above 100."""


@pytest.fixture(scope="module")
def method():
    """alpha, beta = alpha + gamma, b and the transform, from the tableau of the transformed unknowns.

    Hairer and Wanner, Solving Ordinary Differential Equations II, (IV.7.25): u = Gamma k, C = diag(1/gamma) - Gamma^-1,
    A = alpha Gamma^-1, m = b Gamma^-1.
    """
    square = np.zeros((STAGES, STAGES))
    square[:, :7] = C
    transform = np.linalg.inv(np.eye(STAGES) / GAMMA - square)
    arguments = np.zeros((STAGES, STAGES))
    arguments[:, :7] = A
    alpha = arguments @ transform
    return alpha, alpha + transform, np.append(A[7], 1.0) @ transform, transform


def rosenbrock_conditions(alpha, beta, b, order_limit=5):
    """(name, left side - right side) for every tree up to order 5; Hairer and Wanner, table IV.7.1, plus its order
    5."""
    a, s = alpha.sum(1), beta.sum(1)
    rows = [
        ("1", b.sum(), 1),
        ("2", b @ s, 1 / 2),
        ("3a", b @ a**2, 1 / 3),
        ("3b", b @ (beta @ s), 1 / 6),
        ("4a", b @ a**3, 1 / 4),
        ("4b", b @ (a * (alpha @ s)), 1 / 8),
        ("4c", b @ (beta @ a**2), 1 / 12),
        ("4d", b @ (beta @ (beta @ s)), 1 / 24),
        ("5a", b @ a**4, 1 / 5),
        ("5b", b @ (a**2 * (alpha @ s)), 1 / 10),
        ("5c", b @ (alpha @ s) ** 2, 1 / 20),
        ("5d", b @ (a * (alpha @ a**2)), 1 / 15),
        ("5e", b @ (a * (alpha @ (beta @ s))), 1 / 30),
        ("5f", b @ (beta @ a**3), 1 / 20),
        ("5g", b @ (beta @ (a * (alpha @ s))), 1 / 40),
        ("5h", b @ (beta @ (beta @ a**2)), 1 / 60),
        ("5i", b @ (beta @ (beta @ (beta @ s))), 1 / 120),
    ]
    return [(name, left - right) for name, left, right in rows if int(name[0]) <= order_limit]


def test_order_five(method):
    alpha, beta, b, _ = method
    for name, defect in rosenbrock_conditions(alpha, beta, b):
        assert abs(defect) < ROUNDING, name


def test_embedded_is_of_order_four_and_not_five(method):
    alpha, beta, _, transform = method
    embedded = np.append(A[7], 0.0) @ transform
    defects = dict(rosenbrock_conditions(alpha, beta, embedded))
    assert all(abs(defect) < ROUNDING for name, defect in defects.items() if name[0] < "5")
    assert max(abs(defect) for name, defect in defects.items() if name[0] == "5") > 1e-4


def test_row_sums_are_the_instants_and_the_weights_of_the_time_derivative(method):
    alpha, _, _, transform = method
    assert np.abs(alpha.sum(1) - ALPHA).max() < ROUNDING
    assert np.abs(transform.sum(1) - D).max() < ROUNDING


def test_stiffly_accurate(method):
    """The end of the step is the last stage, and the last stage stands at the end: b = last row of beta, alpha_8 =
    1."""
    _, beta, b, _ = method
    assert np.abs(beta[7] - b).max() < ROUNDING
    assert ALPHA[7] == 1.0


def test_dense_output_is_of_order_four(method):
    """At each fraction s the conditions up to order 4 hold with right sides s^order (Hairer, Norsett, Wanner I,
    II.6)."""
    alpha, beta, _, transform = method
    m = np.append(A[7], 1.0)
    for s in (0.1, 0.25, 0.5, 0.75, 0.9):
        weights = (s * m + s * (1 - s) * (H[0] + s * (H[1] + s * H[2]))) @ transform
        scaled = rosenbrock_conditions(alpha, beta, weights, order_limit=4)
        full = rosenbrock_conditions(alpha, beta, np.zeros(STAGES), order_limit=4)
        for (name, left), (_, minus_right) in zip(scaled, full):
            defect = (left - minus_right) + minus_right * s ** int(name[0])
            assert abs(defect) < 1e-9, (s, name)
