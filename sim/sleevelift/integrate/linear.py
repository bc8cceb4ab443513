"""The linear systems of a Rosenbrock step: W u = b with W = shift I - J, eight right-hand sides for one W.

J is small (8 to 25 rows) and mostly zeros, and its pattern hardly changes during a run. So the work is planned once per
pattern: the order of elimination with little fill (Markowitz's count on diagonal pivots), a numbered place for every
nonzero of L and U, and the list of products of the elimination. Factor and solve then run down lists, without a test.
A pattern only grows: an entry that was nonzero once stays planned.

    W = L D U without row exchange, L and U with ones on their diagonals, D stored inverted

Eight right-hand sides are worth an inverse: with W^-1 at hand each solution is a product of matrix and vector, which runs
at the speed of the processor's vectors, where the two triangular solutions of so small a matrix wait for every entry. The
inverse is made from the factors, a row of vector operations for each entry of L and U, from W^T Z = I, Z = W^-T.

Leaving out row exchange is safe while no pivot is the small difference of large terms and none outgrows its diagonal
entry of W; both are ratios that do not change with the units of the states. Where a ratio passes `WORST_RATIO` the step
is solved by dense elimination with scaled partial pivoting instead, and counted.

Quadratures are states that nothing depends on; they have rows in J but no columns, and follow from the solved part,
which makes columns of the inverse too:

    shift u_q - J_q u = b_q

Names in the workspace `w`: `rank` the pivot of each row; `nodes[k]` of the k-th pivot: its row, and where its row of L, its
row of U and its products end; `lu` the entries of L by row, those of U by row from the last, then D by row; `row`, `column`
and `pivot` (the one of both eliminated first) of each entry; `program` the products, `lu[i] -= lu[j] lu[k]/pivot`; `pairs`
those that fall on the diagonal: row, j, k; `gather` row, column and place in `lu` of each planned entry of J, then those of
the quadratures (their place unused); `unplanned` (n, n_core) 1.0 where no entry is planned, else 0; `inverse`
(n_core, padded) holds in each row the solution for b = 1 in one core state and 0 in the others.
Source: Duff, Erisman and Reid, Direct Methods for Sparse Matrices (1986), chapters 5 and 7.
"""

from sleevelift.jit import generic
from sleevelift.jit.vectors import add_scaled_row, combine_rows, masked_size, scale_row

WORST_RATIO = 1e8
"""Largest ratio of cancelled to kept magnitude in a pivot, leaving some eight digits: far finer than any tolerance of a
step."""


@generic
def pattern_grew(w):
    """Whether J has a nonzero that is not planned; such entries are added to the pattern."""
    J, unplanned = w.J, w.unplanned
    if masked_size(J, unplanned, w.n) == 0.0:
        return False
    for i in range(w.n):
        for j in range(w.n_core):
            if J[i, j] != 0.0:
                unplanned[i, j] = 0.0
    return True


@generic
def elimination_order(w):
    """Put the rows into `nodes[:, 0]` in order of elimination, and mark the fill in `place` (0 = nonzero, -1 = zero).

    Markowitz: next the row with the smallest (entries of its row) x (entries of its column) among those left, the diagonal
    not counted; the counts are kept up as rows leave and fill comes.
    """
    place, rank, in_row, in_column, n = w.place, w.rank, w.in_row, w.in_column, w.n_core
    for i in range(n):
        rank[i] = -1
        in_row[i] = -1
        in_column[i] = -1
        for j in range(n):
            in_row[i] += 1 + place[i, j]
            in_column[i] += 1 + place[j, i]
    for k in range(n):
        best = -1
        best_cost = n * n + 1
        for i in range(n):
            if rank[i] < 0 and in_row[i] * in_column[i] < best_cost:
                best = i
                best_cost = in_row[i] * in_column[i]
        rank[best] = k
        w.nodes[k, 0] = best
        for j in range(n):
            if rank[j] < 0 and place[best, j] == 0:
                in_column[j] -= 1
        for i in range(n):
            if rank[i] >= 0 or place[i, best] != 0:
                continue
            in_row[i] -= 1
            for j in range(n):
                if rank[j] < 0 and place[best, j] == 0 and place[i, j] != 0:
                    place[i, j] = 0
                    in_row[i] += 1
                    in_column[j] += 1


@generic
def number_places(w):
    """Number the entries of L, of U and the diagonal in `place`."""
    place, nodes, row, column, pivot, rank, n = w.place, w.nodes, w.row, w.column, w.pivot, w.rank, w.n_core
    e = 0
    for k in range(n):
        p = nodes[k, 0]
        for j in range(n):
            if rank[j] < k and place[p, j] >= 0:
                place[p, j] = e
                row[e] = p
                column[e] = j
                pivot[e] = j
                e += 1
        nodes[k, 1] = e
    for k in range(n - 1, -1, -1):
        p = nodes[k, 0]
        for j in range(n):
            if rank[j] > k and place[p, j] >= 0:
                place[p, j] = e
                row[e] = p
                column[e] = j
                pivot[e] = p
                e += 1
        nodes[k, 2] = e
    w.entry_count = e
    for i in range(n):
        place[i, i] = e + i


@generic
def list_products(w):
    """List the products of the elimination, and those of them that fall on the diagonal, pivot by pivot."""
    place, nodes, rank, program, pairs, n = w.place, w.nodes, w.rank, w.program, w.pairs, w.n_core
    product = 0
    pair = 0
    for k in range(n):
        p = nodes[k, 0]
        for i in range(n):
            if rank[i] <= k or place[i, p] < 0:
                continue
            for j in range(n):
                if rank[j] > k and place[p, j] >= 0:
                    program[product, 0] = place[i, j]
                    program[product, 1] = place[i, p]
                    program[product, 2] = place[p, j]
                    product += 1
                    if i == j:
                        pairs[pair, 0] = i
                        pairs[pair, 1] = place[i, p]
                        pairs[pair, 2] = place[p, j]
                        pair += 1
        nodes[k, 3] = product
    w.pair_count = pair


@generic
def make_plan(w):
    """Plan factor and solve for the pattern that `unplanned` leaves."""
    unplanned, place, gather, n = w.unplanned, w.place, w.gather, w.n_core
    for i in range(n):
        for j in range(n):
            place[i, j] = 0 if unplanned[i, j] == 0.0 or i == j else -1
    elimination_order(w)
    number_places(w)
    list_products(w)
    count = 0
    w.used = 0
    for i in range(w.n):
        for j in range(n):
            if unplanned[i, j] == 0.0:
                gather[count, 0] = i
                gather[count, 1] = j
                gather[count, 2] = place[min(i, n - 1), j]
                count += 1
        if i < n:
            w.used = count
    w.used_quadrature = count - w.used


@generic
def factor(w, shift):
    """Factor W = shift I - J along the plan into `lu`; `row_exchange` is set where that would cost accuracy."""
    J, lu, gather, nodes, program, pairs = w.J, w.lu, w.gather, w.nodes, w.program, w.pairs
    original, size = w.original, w.size
    diagonal = w.entry_count
    for e in range(diagonal):
        lu[e] = 0.0
    for i in range(w.n_core):
        lu[diagonal + i] = shift
    for e in range(w.used):
        lu[gather[e, 2]] -= J[gather[e, 0], gather[e, 1]]
    for i in range(w.n_core):
        original[i] = abs(lu[diagonal + i])
        size[i] = original[i]
    product = 0
    for k in range(w.n_core):
        inverse = 1.0 / lu[diagonal + nodes[k, 0]]
        lu[diagonal + nodes[k, 0]] = inverse
        for e in range(product, nodes[k, 3]):
            lu[program[e, 0]] -= lu[program[e, 1]] * inverse * lu[program[e, 2]]
        product = nodes[k, 3]
    for e in range(w.pair_count):
        size[pairs[e, 0]] += abs(lu[pairs[e, 1]] * lu[pairs[e, 2]] * lu[diagonal + w.column[pairs[e, 1]]])
    exchange = False
    for i in range(w.n_core):
        inverse = abs(lu[diagonal + i])
        exchange |= not (size[i] * inverse < WORST_RATIO and original[i] * inverse * WORST_RATIO > 1.0)
    for e in range(diagonal):
        lu[e] *= lu[diagonal + w.pivot[e]]
    w.row_exchange = 1 if exchange else 0
    w.pivoted += w.row_exchange


@generic
def invert(w, shift):
    """Fill `inverse` from the factors in `lu`; `factor` comes first."""
    inverse, lu, row, column, nodes, gather, n = w.inverse, w.lu, w.row, w.column, w.nodes, w.gather, w.n_core
    diagonal = w.entry_count
    for p in range(n):
        for i in range(inverse.shape[1]):
            inverse[p, i] = 0.0
        inverse[p, p] = 1.0
    for e in range(w.used, w.used + w.used_quadrature):
        inverse[gather[e, 1], gather[e, 0]] = w.J[gather[e, 0], gather[e, 1]] / shift
    # U^T, then D, then L^T, each entry at (p, c) acting on row c; both lists backward, which is the order of elimination for
    # U and its reverse for L
    for e in range(diagonal - 1, nodes[n - 1, 1] - 1, -1):
        add_scaled_row(inverse, column[e], row[e], -lu[e])
    for p in range(n):
        scale_row(inverse, p, lu[diagonal + p])
    for e in range(nodes[n - 1, 1] - 1, -1, -1):
        add_scaled_row(inverse, column[e], row[e], -lu[e])


@generic
def solve(w, stage, shift):
    """Solve W u = b, quadratures included, u_q = (b_q + J_q u)/shift: `b` of the workspace into `u[stage]`."""
    x, b, inverse = w.u[stage], w.b, w.inverse
    if w.row_exchange != 0:
        for i in range(b.shape[0]):
            x[i] = b[i]
        dense_solution(w, stage, shift)
        return
    combine_rows(x, b, inverse, w.n_core)
    for i in range(w.n_core, w.n):
        x[i] += b[i] / shift


@generic
def dense_solution(w, stage, shift):
    """The solution by dense elimination, rows compared relative to their largest entry.

    Rare, so it factors afresh for each right-hand side. A singular W leaves numbers that are not, and the step is
    rejected.
    """
    J, dense, u, n = w.J, w.dense, w.u, w.n_core
    for i in range(n):
        for j in range(n):
            dense[i, j] = shift - J[i, j] if i == j else -J[i, j]
    for k in range(n):
        best = k
        best_size = -1.0
        for i in range(k, n):
            largest = 0.0
            for j in range(k, n):
                largest = max(largest, abs(dense[i, j]))
            if abs(dense[i, k]) > best_size * largest:
                best = i
                best_size = abs(dense[i, k]) / largest
        u[stage, k], u[stage, best] = u[stage, best], u[stage, k]
        for j in range(n):
            dense[k, j], dense[best, j] = dense[best, j], dense[k, j]
        for i in range(k + 1, n):
            multiplier = dense[i, k] / dense[k, k]
            u[stage, i] -= multiplier * u[stage, k]
            for j in range(k + 1, n):
                dense[i, j] -= multiplier * dense[k, j]
    for i in range(n - 1, -1, -1):
        for j in range(i + 1, n):
            u[stage, i] -= dense[i, j] * u[stage, j]
        u[stage, i] /= dense[i, i]
    for e in range(w.used, w.used + w.used_quadrature):
        row, j = w.gather[e, 0], w.gather[e, 1]
        u[stage, row] += J[row, j] * u[stage, j]
    for i in range(n, w.n):
        u[stage, i] /= shift
