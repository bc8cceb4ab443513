"""Vector instructions for what the compiler does not find by itself: rows of a workspace, patches of a table.

A row is read whole before anything is written, so that no check for overlap is needed. Its length is that of the array's
type (nested in a record), a multiple of four. Compiled, these functions are what `vector_code` says; in plain Python they
run on numpy arrays.
"""

from typing import Any

import numpy as np


def add_scaled_row(matrix: Any, i: Any, j: Any, weight: Any) -> None:
    """Add `weight` times row j of a matrix to row i."""
    matrix[i] += weight * matrix[j]


def scale_row(matrix: Any, i: Any, weight: Any) -> None:
    """Multiply row i of a matrix by `weight`."""
    matrix[i] *= weight


def combine_rows(out: Any, weights: Any, matrix: Any, count: Any) -> None:
    """Fill `out`, as long as a row, with the sum of the first `count` rows of a matrix, each times its weight."""
    out[:] = weights[:count] @ matrix[:count]


def masked_size(matrix: Any, mask: Any, count: Any) -> Any:
    """Sum of |entry| x mask over the first `count` rows of two matrices of one shape."""
    return float(np.sum(np.abs(matrix[:count]) * mask[:count]))


def patch_sum(table: Any, k: Any, step: Any, v: Any, w: Any) -> Any:
    """Sum of v_m w_n table[k + m step + n], m and n from 0 to 3; k, step unsigned, v, w four numbers each."""
    return sum(v[m] * w[n] * table[int(k) + m * int(step) + n] for m in range(4) for n in range(4))


def patch_slopes(table: Any, k: Any, step: Any, v: Any, v_slope: Any, w: Any, w_slope: Any) -> Any:
    """(`patch_sum`, the same with v_slope for v, the same with w_slope for w)."""
    return patch_sum(table, k, step, v, w), patch_sum(table, k, step, v_slope, w), patch_sum(table, k, step, v, w_slope)


def patch_sums(table: Any, k: Any, step: Any, v: Any, w: Any) -> Any:
    """`patch_sum` at four places k, packed: v and w four times four numbers, w[n] those of each place."""
    return np.array([patch_sum(table, k[i], step, [a[i] for a in v], [b[i] for b in w]) for i in range(4)])


def patches_slopes(table: Any, k: Any, step: Any, v: Any, v_slope: Any, w: Any, w_slope: Any) -> Any:
    """`patch_slopes` at four places, as `patch_sums` has them: three times four numbers."""
    return patch_sums(table, k, step, v, w), patch_sums(table, k, step, v_slope, w), patch_sums(table, k, step, v, w_slope)
