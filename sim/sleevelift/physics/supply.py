"""Gas supply: constant or tabled pressure, a finite bottle, or a bottle behind a regulator.

    bottle --[ conductance x clip((p_set - p_plenum)/droop_band, 0, 1) ]--> plenum --> solenoid valve

The regulator is quasi-static (its own lag is left out). Piecewise tables are walked with an index kept in the discrete
state, so that a table is linear inside every integration step.
"""

from sleevelift.jit import bare_kernel


@bare_kernel
def regulator_opening(p_set, p_plenum, droop_band):
    """Opening fraction of the regulator, 0 to 1."""
    return min(max((p_set - p_plenum) / droop_band, 0.0), 1.0)


@bare_kernel
def regulator_slope(p_set, p_plenum, droop_band):
    """Derivative of `regulator_opening` by the plenum's pressure, 1/Pa."""
    return -1.0 / droop_band if 0.0 < p_set - p_plenum < droop_band else 0.0


@bare_kernel
def table_value(t, table, start, count, segment):
    """Value at t of the piecewise-linear table of `count` pairs (t, value) from `start`, on the given segment.

    Segment -1: before the first knot (constant); count - 1: past the last (constant).
    """
    if segment < 0:
        return table[start + 1]
    k = start + 2 * segment
    if segment >= count - 1:
        return table[k + 1]
    t0 = table[k]
    t1 = table[k + 2]
    return table[k + 1] + (t - t0) / (t1 - t0) * (table[k + 3] - table[k + 1])


@bare_kernel
def table_slope(table, start, count, segment):
    """Slope of the table on the segment, per s."""
    if segment < 0 or segment >= count - 1:
        return 0.0
    k = start + 2 * segment
    return (table[k + 3] - table[k + 1]) / (table[k + 2] - table[k])


@bare_kernel
def table_segment(t, table, start, count):
    """Segment that holds from t on: the last knot at or before t; -1 before the first."""
    segment = -1
    for i in range(count):
        if table[start + 2 * i] <= t:
            segment = i
    return segment
