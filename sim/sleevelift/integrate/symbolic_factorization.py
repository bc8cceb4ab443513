"""Plans of elimination kept from run to run in a workspace.

A plan follows from the pattern of J alone (`linear.make_plan`), and the runs of a batch meet the same few patterns, so each is
planned once per workspace. Since a plan looked up is the plan that would be made, results do not depend on what a workspace has
run before.

Names in the workspace: `kept` plans kept so far; `kept_pattern[slot]` (n, n_core) 1 where an entry is planned, `kept_size[slot]`
(n, n_core) of its system; `slot` the one in use, the one after it is looked at first, since runs meet their patterns in much the
same order; `kept_plan[slot]` the plan: four counts, then the used parts of `nodes`, `row`, `column`, `pivot`,
`program`, `pairs` and `gather`, one after the other.
"""

from sleevelift.integrate.linear import make_plan
from sleevelift.jit import generic


@generic
def write_list(plan, at, numbers, count):
    """Append the first `count` numbers; the place behind them."""
    for e in range(count):
        plan[at + e] = numbers[e]
    return at + count


@generic
def read_list(plan, at, numbers, count):
    """Read what `write_list` wrote."""
    for e in range(count):
        numbers[e] = plan[at + e]
    return at + count


@generic
def write_rows(plan, at, rows, count):
    """Append the first `count` rows; the place behind them."""
    for e in range(count):
        for j in range(rows.shape[1]):
            plan[at] = rows[e, j]
            at += 1
    return at


@generic
def read_rows(plan, at, rows, count):
    """Read what `write_rows` wrote."""
    for e in range(count):
        for j in range(rows.shape[1]):
            rows[e, j] = plan[at]
            at += 1
    return at


@generic
def same_pattern(w, slot):
    """Whether the plan kept there is of the pattern that `unplanned` leaves."""
    if w.kept_size[slot, 0] != w.n or w.kept_size[slot, 1] != w.n_core:
        return False
    for i in range(w.n):
        for j in range(w.n_core):
            if (w.unplanned[i, j] == 0.0) != (w.kept_pattern[slot, i, j] != 0):
                return False
    return True


@generic
def keep_plan(w, slot):
    """Keep the present plan and its pattern."""
    w.kept_size[slot, 0] = w.n
    w.kept_size[slot, 1] = w.n_core
    for i in range(w.n):
        for j in range(w.n_core):
            w.kept_pattern[slot, i, j] = 1 if w.unplanned[i, j] == 0.0 else 0
    plan = w.kept_plan[slot]
    plan[0] = w.used
    plan[1] = w.used_quadrature
    plan[2] = w.entry_count
    plan[3] = w.pair_count
    at = write_rows(plan, 4, w.nodes, w.n_core)
    at = write_list(plan, at, w.row, w.entry_count)
    at = write_list(plan, at, w.column, w.entry_count)
    at = write_list(plan, at, w.pivot, w.entry_count)
    at = write_rows(plan, at, w.program, w.nodes[w.n_core - 1, 3])
    at = write_rows(plan, at, w.pairs, w.pair_count)
    write_rows(plan, at, w.gather, w.used + w.used_quadrature)


@generic
def recall_plan(w, slot):
    """Take up a plan that was kept."""
    plan = w.kept_plan[slot]
    w.used = plan[0]
    w.used_quadrature = plan[1]
    w.entry_count = plan[2]
    w.pair_count = plan[3]
    at = read_rows(plan, 4, w.nodes, w.n_core)
    at = read_list(plan, at, w.row, w.entry_count)
    at = read_list(plan, at, w.column, w.entry_count)
    at = read_list(plan, at, w.pivot, w.entry_count)
    at = read_rows(plan, at, w.program, w.nodes[w.n_core - 1, 3])
    at = read_rows(plan, at, w.pairs, w.pair_count)
    read_rows(plan, at, w.gather, w.used + w.used_quadrature)


@generic
def plan_elimination(w):
    """Plan factor and solve for the pattern that `unplanned` leaves: a plan kept, or a new one, which is kept then."""
    slots = w.kept_plan.shape[0]
    count = min(w.kept, slots)
    for tried in range(count):
        slot = (w.slot + 1 + tried) % count
        if same_pattern(w, slot):
            recall_plan(w, slot)
            w.slot = slot
            return
    make_plan(w)
    w.slot = w.kept % slots
    keep_plan(w, w.slot)
    w.kept += 1
