"""The linear systems of a Rosenbrock step: W u = b with W = shift I - J, eight right-hand sides for one W.

J is small (8 to 20 rows) and mostly zeros, and its pattern hardly changes during a run. So the work is planned once per
pattern: the order of elimination with little fill (Markowitz's count on diagonal pivots), a numbered place for every
nonzero of L and U, and the list of places the elimination writes to. Factor and solve then walk over nonzeros only.
A pattern only grows: an entry that was nonzero once stays planned.

    W = L U without row exchange, L with ones on its diagonal, both stored by row, the diagonal of U inverted

Leaving out row exchange is safe while no pivot is the small difference of large terms and none outgrows its diagonal
entry of W; both are ratios that do not change with the units of the states. Where a ratio passes `WORST_RATIO`, `factor`
takes a dense factor with scaled partial pivoting instead and counts it.

Quadratures are states that nothing depends on; they have rows in J but no columns, and follow from the solved part:

    shift u_q - J_q u = b_q

Names in the workspace `w`: `planned` (n, n_core) the pattern; `nodes[k]` of the k-th pivot: its row, where its row of L begins
in `entries`, where its row of U begins, where that ends; `entries` the column of each entry; `rank` the pivot of each row;
`program` where each product of the elimination goes; `gather` row, column and place in `lu` of each planned entry of J, then
those of the quadratures; `lu` L and U entries first, then the inverted diagonal, one per row.
Source: Duff, Erisman and Reid, Direct Methods for Sparse Matrices (1986), chapters 5 and 7.
"""

from sim.jit import generic

WORST_RATIO = 1e8
"""Largest ratio of cancelled to kept magnitude in a pivot, leaving some eight digits: far finer than any tolerance of a
step."""


@generic
def pattern_grew(w):
    """Whether J has a nonzero that is not planned; such entries are added to the pattern."""
    new = 0
    for i in range(w.J.shape[0]):
        for j in range(w.J.shape[1]):
            new += (w.J[i, j] != 0.0) & (w.planned[i, j] == 0)
    if new == 0:
        return False
    for i in range(w.J.shape[0]):
        for j in range(w.J.shape[1]):
            w.planned[i, j] |= w.J[i, j] != 0.0
    return True


@generic
def elimination_order(w):
    """Put the rows into `nodes[:, 0]` in order of elimination, and mark the fill in `place` (0 = nonzero, -1 = zero).

    Markowitz: next the row with the smallest (entries of its row) x (entries of its column) among those left.
    """
    n_core = w.J.shape[1]
    for i in range(n_core):
        w.rank[i] = -1
    for k in range(n_core):
        best = -1
        best_cost = n_core * n_core + 1
        for i in range(n_core):
            if w.rank[i] < 0:
                in_row = 0
                in_column = 0
                for j in range(n_core):
                    if w.rank[j] < 0 and j != i:
                        in_row += 1 + w.place[i, j]
                        in_column += 1 + w.place[j, i]
                if in_row * in_column < best_cost:
                    best = i
                    best_cost = in_row * in_column
        w.rank[best] = k
        w.nodes[k, 0] = best
        for i in range(n_core):
            if w.rank[i] < 0 and w.place[i, best] == 0:
                for j in range(n_core):
                    if w.rank[j] < 0 and w.place[best, j] == 0:
                        w.place[i, j] = 0


@generic
def number_places(w):
    """Number the entries of L and U row by row in `place`, `nodes` and `entries`; the diagonal comes after them."""
    n_core = w.J.shape[1]
    e = 0
    for k in range(n_core):
        p = w.nodes[k, 0]
        w.nodes[k, 1] = e
        for j in range(n_core):
            if j == k:
                w.nodes[k, 2] = e
            column = w.nodes[j, 0]
            if j != k and w.place[p, column] >= 0:
                w.place[p, column] = e
                w.entries[e] = column
                e += 1
        w.nodes[k, 3] = e
    for i in range(n_core):
        w.place[i, i] = e + i
    w.entry_count = e


@generic
def make_plan(w):
    """Plan factor and solve for the pattern `planned`."""
    n_core = w.J.shape[1]
    for i in range(n_core):
        for j in range(n_core):
            w.place[i, j] = 0 if w.planned[i, j] != 0 or i == j else -1
    elimination_order(w)
    number_places(w)
    product = 0
    for k in range(n_core):
        for a in range(w.nodes[k, 1], w.nodes[k, 2]):
            above = w.rank[w.entries[a]]
            for b in range(w.nodes[above, 2], w.nodes[above, 3]):
                w.program[product] = w.place[w.nodes[k, 0], w.entries[b]]
                product += 1
    used = 0
    for i in range(w.J.shape[0]):
        if i == n_core:
            w.used = used
        for j in range(n_core):
            if w.planned[i, j] != 0:
                w.gather[used, 0] = i
                w.gather[used, 1] = j
                w.gather[used, 2] = w.place[i, j] if i < n_core else -1
                used += 1
    if w.J.shape[0] == n_core:
        w.used = used
    w.used_quadrature = used - w.used


@generic
def factor(w, shift):
    """Factor W = shift I - J, with row exchange where it is needed; 0, or 1 where W is singular."""
    w.row_exchange = 0
    if sparse_factor(w, shift) == 0:
        return 0
    w.row_exchange = 1
    w.pivoted += 1
    return dense_factor(w, shift)


@generic
def solve(w, stage, inverse_shift):
    """Solve W u = b in place: `w.u[stage]` holds b and then u, quadratures included."""
    if w.row_exchange == 0:
        sparse_solve(w, stage)
    else:
        dense_solve(w, stage)
    quadratures(w, stage, inverse_shift)


@generic
def sparse_factor(w, shift):
    """Factor W along the plan into `lu`; 0, or 1 where leaving out row exchange would cost accuracy."""
    n_core = w.J.shape[1]
    diagonal = w.entry_count
    for e in range(diagonal):
        w.lu[e] = 0.0
    for i in range(n_core):
        w.lu[diagonal + i] = shift
    for e in range(w.used):
        w.lu[w.gather[e, 2]] -= w.J[w.gather[e, 0], w.gather[e, 1]]
    product = 0
    for k in range(n_core):
        own = diagonal + w.nodes[k, 0]
        original = abs(w.lu[own])
        largest = original
        for a in range(w.nodes[k, 1], w.nodes[k, 2]):
            column = w.entries[a]
            above = w.rank[column]
            multiplier = w.lu[a] * w.lu[diagonal + column]
            w.lu[a] = multiplier
            before = w.lu[own]
            for b in range(w.nodes[above, 2], w.nodes[above, 3]):
                w.lu[w.program[product]] -= multiplier * w.lu[b]
                product += 1
            largest = max(largest, abs(w.lu[own] - before))
        pivot = w.lu[own]
        if not (abs(pivot) * WORST_RATIO > largest and abs(pivot) < WORST_RATIO * original):
            return 1
        w.lu[own] = 1.0 / pivot
    return 0


@generic
def sparse_solve(w, stage):
    """The core rows of the solution in place, from `sparse_factor`."""
    n_core = w.J.shape[1]
    diagonal = w.entry_count
    for k in range(n_core):
        p = w.nodes[k, 0]
        value = w.u[stage, p]
        for a in range(w.nodes[k, 1], w.nodes[k, 2]):
            value -= w.lu[a] * w.u[stage, w.entries[a]]
        w.u[stage, p] = value
    for k in range(n_core - 1, -1, -1):
        p = w.nodes[k, 0]
        value = w.u[stage, p]
        for b in range(w.nodes[k, 2], w.nodes[k, 3]):
            value -= w.lu[b] * w.u[stage, w.entries[b]]
        w.u[stage, p] = value * w.lu[diagonal + p]


@generic
def quadratures(w, stage, inverse_shift):
    """The quadrature rows of the solution in place, once its core rows are solved: u_q = (b_q + J_q u)/shift."""
    for e in range(w.used, w.used + w.used_quadrature):
        w.u[stage, w.gather[e, 0]] += w.J[w.gather[e, 0], w.gather[e, 1]] * w.u[stage, w.gather[e, 1]]
    for i in range(w.J.shape[1], w.J.shape[0]):
        w.u[stage, i] *= inverse_shift


@generic
def dense_factor(w, shift):
    """Factor W in `dense` with partial pivoting, rows compared relative to their largest entry; 0, or 1: singular.

    `exchange` is the row swapped with each pivot row.
    """
    n_core = w.J.shape[1]
    for i in range(n_core):
        for j in range(n_core):
            w.dense[i, j] = -w.J[i, j]
        w.dense[i, i] += shift
    for k in range(n_core):
        best = k
        best_size = 0.0
        for i in range(k, n_core):
            largest = 0.0
            for j in range(k, n_core):
                largest = max(largest, abs(w.dense[i, j]))
            if largest > 0.0 and abs(w.dense[i, k]) / largest > best_size:
                best = i
                best_size = abs(w.dense[i, k]) / largest
        w.exchange[k] = best
        if not best_size > 0.0:
            return 1
        for j in range(n_core):
            held = w.dense[k, j]
            w.dense[k, j] = w.dense[best, j]
            w.dense[best, j] = held
        for i in range(k + 1, n_core):
            multiplier = w.dense[i, k] / w.dense[k, k]
            w.dense[i, k] = multiplier
            for j in range(k + 1, n_core):
                w.dense[i, j] -= multiplier * w.dense[k, j]
    return 0


@generic
def dense_solve(w, stage):
    """The core rows of the solution in place, from `dense_factor`."""
    n_core = w.J.shape[1]
    for k in range(n_core):
        held = w.u[stage, k]
        w.u[stage, k] = w.u[stage, w.exchange[k]]
        w.u[stage, w.exchange[k]] = held
    for i in range(n_core):
        for j in range(i):
            w.u[stage, i] -= w.dense[i, j] * w.u[stage, j]
    for i in range(n_core - 1, -1, -1):
        for j in range(i + 1, n_core):
            w.u[stage, i] -= w.dense[i, j] * w.u[stage, j]
        w.u[stage, i] /= w.dense[i, i]
