"""The linear systems of a Rosenbrock step: W u = b with W = shift I - J, eight right-hand sides for one W.

J is small (8 to 20 rows) and mostly zeros, and its pattern hardly changes during a run. So the work is planned once per
pattern: the order of elimination with little fill (Markowitz's count on diagonal pivots), a numbered place for every
nonzero of L and U, and the list of places the elimination writes to. Factor and solve then walk over nonzeros only.
A pattern only grows: an entry that was nonzero once stays planned.

    W = L U without row exchange, L with ones on its diagonal, both stored by row, the diagonal of U inverted

Leaving out row exchange is safe while no pivot is the small difference of large terms and none outgrows its diagonal
entry of W; both are ratios that do not change with the units of the states. Where a ratio passes `WORST_RATIO` the step
is solved by dense elimination with scaled partial pivoting instead, and counted.

Quadratures are states that nothing depends on; they have rows in J but no columns, and follow from the solved part:

    shift u_q - J_q u = b_q

Names in the workspace `w`: `planned` (n, n_core) the pattern; `nodes[k]` of the k-th pivot: its row, where its row of L
begins in `entries`, where its row of U begins, where that ends; `entries` the column of each entry; `rank` the pivot of
each row; `program` where each product of the elimination goes; `gather` row, column and place in `lu` of each planned
entry of J, then those of the quadratures (their place unused); `lu` L and U entries first, then the inverted diagonal,
one per row.
Source: Duff, Erisman and Reid, Direct Methods for Sparse Matrices (1986), chapters 5 and 7.
"""

from sim.jit import generic

WORST_RATIO = 1e8
"""Largest ratio of cancelled to kept magnitude in a pivot, leaving some eight digits: far finer than any tolerance of a
step."""


@generic
def pattern_grew(w):
    """Whether J has a nonzero that is not planned; such entries are added to the pattern."""
    J = w.J
    planned = w.planned
    new = 0
    for i in range(w.n):
        for j in range(w.n_core):
            new += (J[i, j] != 0.0) & (planned[i, j] == 0)
    if new == 0:
        return False
    for i in range(w.n):
        for j in range(w.n_core):
            if J[i, j] != 0.0:
                planned[i, j] = 1
    return True


@generic
def elimination_order(w):
    """Put the rows into `nodes[:, 0]` in order of elimination, and mark the fill in `place` (0 = nonzero, -1 = zero).

    Markowitz: next the row with the smallest (entries of its row) x (entries of its column) among those left.
    """
    place, rank, n = w.place, w.rank, w.n_core
    for i in range(n):
        rank[i] = -1
    for k in range(n):
        best = -1
        best_cost = n * n + 1
        for i in range(n):
            in_row = 0
            in_column = 0
            for j in range(n):
                if rank[j] < 0 and j != i:
                    in_row += 1 + place[i, j]
                    in_column += 1 + place[j, i]
            if rank[i] < 0 and in_row * in_column < best_cost:
                best = i
                best_cost = in_row * in_column
        rank[best] = k
        w.nodes[k, 0] = best
        for i in range(n):
            for j in range(n):
                if rank[i] < 0 and rank[j] < 0 and place[i, best] == 0 and place[best, j] == 0:
                    place[i, j] = 0


@generic
def number_places(w):
    """Number the entries of L and U row by row in `place`, `nodes` and `entries`; the diagonal comes after them."""
    place, nodes, n = w.place, w.nodes, w.n_core
    e = 0
    for k in range(n):
        p = nodes[k, 0]
        nodes[k, 1] = e
        for j in range(n):
            if j == k:
                nodes[k, 2] = e
            column = nodes[j, 0]
            if j != k and place[p, column] >= 0:
                place[p, column] = e
                w.entries[e] = column
                e += 1
        nodes[k, 3] = e
    for i in range(n):
        place[i, i] = e + i
    w.entry_count = e


@generic
def make_plan(w):
    """Plan factor and solve for the pattern `planned`."""
    planned, place, nodes, entries, gather, n = w.planned, w.place, w.nodes, w.entries, w.gather, w.n_core
    for i in range(n):
        for j in range(n):
            place[i, j] = 0 if planned[i, j] != 0 or i == j else -1
    elimination_order(w)
    number_places(w)
    product = 0
    for k in range(n):
        for a in range(nodes[k, 1], nodes[k, 2]):
            above = w.rank[entries[a]]
            for b in range(nodes[above, 2], nodes[above, 3]):
                w.program[product] = place[nodes[k, 0], entries[b]]
                product += 1
    count = 0
    for i in range(w.n):
        if i <= n:
            w.used = count
        for j in range(n):
            if planned[i, j] != 0:
                gather[count, 0] = i
                gather[count, 1] = j
                gather[count, 2] = place[min(i, n - 1), j]
                count += 1
    if w.n == n:
        w.used = count
    w.used_quadrature = count - w.used


@generic
def factor(w, shift):
    """Factor W = shift I - J along the plan into `lu`; `row_exchange` is set where that would cost accuracy."""
    J, lu, gather, nodes, entries, program, rank = w.J, w.lu, w.gather, w.nodes, w.entries, w.program, w.rank
    diagonal = w.entry_count
    for e in range(diagonal):
        lu[e] = 0.0
    for i in range(w.n_core):
        lu[diagonal + i] = shift
    for e in range(w.used):
        lu[gather[e, 2]] -= J[gather[e, 0], gather[e, 1]]
    product = 0
    exchange = False
    for k in range(w.n_core):
        own = diagonal + nodes[k, 0]
        original = abs(lu[own])
        largest = original
        for a in range(nodes[k, 1], nodes[k, 2]):
            column = entries[a]
            multiplier = lu[a] * lu[diagonal + column]
            lu[a] = multiplier
            before = lu[own]
            for b in range(nodes[rank[column], 2], nodes[rank[column], 3]):
                lu[program[product]] -= multiplier * lu[b]
                product += 1
            largest = max(largest, abs(lu[own] - before))
        size = abs(lu[own])
        exchange |= not (size * WORST_RATIO > largest and size < WORST_RATIO * original)
        lu[own] = 1.0 / lu[own]
    w.row_exchange = 1 if exchange else 0
    w.pivoted += w.row_exchange


@generic
def solve(w, stage, shift):
    """Solve W u = b in place: `u[stage]` holds b and then u; quadratures last, u_q = (b_q + J_q u)/shift."""
    if w.row_exchange != 0:
        dense_solution(w, stage, shift)
    else:
        diagonal = w.entry_count
        for k in range(w.n_core):
            p = w.nodes[k, 0]
            value = w.u[stage, p]
            for a in range(w.nodes[k, 1], w.nodes[k, 2]):
                value -= w.lu[a] * w.u[stage, w.entries[a]]
            w.u[stage, p] = value
        for k in range(w.n_core - 1, -1, -1):
            p = w.nodes[k, 0]
            value = w.u[stage, p]
            for b in range(w.nodes[k, 2], w.nodes[k, 3]):
                value -= w.lu[b] * w.u[stage, w.entries[b]]
            w.u[stage, p] = value * w.lu[diagonal + p]
    for e in range(w.used, w.used + w.used_quadrature):
        w.u[stage, w.gather[e, 0]] += w.J[w.gather[e, 0], w.gather[e, 1]] * w.u[stage, w.gather[e, 1]]
    for i in range(w.n_core, w.n):
        w.u[stage, i] /= shift


@generic
def dense_solution(w, stage, shift):
    """The core rows of the solution by dense elimination, rows compared relative to their largest entry.

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
