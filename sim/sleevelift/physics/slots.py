"""Oxidizer slots through the post's wall: uncovered area against lift, and the lapped clearance beside it.

A row of `count` slots starts to uncover at lift = lap and is open at lap + height. The sleeve's edge is straight, so a round
hole uncovers as a circular segment and an obround one as a segment plus a rectangle (either way round). A lapped slot is no
shut-off: the clearance between post and sleeve leaks,

    12 mu L Q/(pi d c^3 (1 + 1.5 e^2)) + rho/2 (Q/(Cd pi d c))^2 = dp,  L = max(lap - x, L_min)

laminar and orifice loss in series (the laminar law alone diverges as the lap closes). Valid for c << d. Source: laminar flow
in an eccentric annulus, e.g. Merritt, Hydraulic Control Systems, 1967.
"""

from math import acos, inf, pi, sqrt

from sleevelift.jit import bare_kernel

RECTANGULAR = 0.0
ROUND = 1.0
OBROUND = 2.0

ROW_FIELDS = 6
"""Numbers per row in the flat table: count, shape, height, width, lap, Cd."""


@bare_kernel
def segment_area(depth, diameter):
    """Area of a circular segment of the given depth (0 to diameter), m2."""
    if depth <= 0.0:
        return 0.0
    r = 0.5 * diameter
    if depth >= diameter:
        return pi * r * r
    a = r - depth
    return r * r * acos(a / r) - a * sqrt(depth * (diameter - depth))


@bare_kernel
def segment_width(depth, diameter):
    """Derivative of `segment_area` by the depth, m: the chord."""
    return 2.0 * sqrt(depth * (diameter - depth)) if 0.0 < depth < diameter else 0.0


@bare_kernel
def slot_area(shape, height, width, uncovered):
    """Uncovered area of one slot, m2; height along the axis, width around, `uncovered` length along the axis, m."""
    s = min(max(uncovered, 0.0), height)
    if shape == RECTANGULAR:
        return width * s
    if shape == ROUND:
        return segment_area(s, height)
    if width >= height:
        return (width - height) * s + segment_area(s, height)
    straight = height - width
    r = 0.5 * width
    first = segment_area(min(s, r), width)
    middle = width * min(max(s - r, 0.0), straight)
    beyond = max(s - r - straight, 0.0)
    last = segment_area(r + beyond, width) - segment_area(r, width) if beyond > 0.0 else 0.0
    return first + middle + last


@bare_kernel
def slot_width(shape, height, width, uncovered):
    """Derivative of `slot_area` by the uncovered length, m: the width of the slot at the sleeve's edge."""
    if not 0.0 < uncovered < height:
        return 0.0
    if shape == RECTANGULAR:
        return width
    if shape == ROUND:
        return segment_width(uncovered, height)
    if width >= height:
        return width - height + segment_width(uncovered, height)
    r = 0.5 * width
    if uncovered < r:
        return segment_width(uncovered, width)
    if uncovered > height - r:
        return segment_width(height - uncovered, width)
    return width


@bare_kernel
def rows_effective_area(lift, rows, start, count):
    """Sum of Cd A over the rows, m2; rows is the flat table, `start` its first index, `count` the number of rows."""
    total = 0.0
    for i in range(count):
        k = start + ROW_FIELDS * i
        total += rows[k] * rows[k + 5] * slot_area(rows[k + 1], rows[k + 2], rows[k + 3], lift - rows[k + 4])
    return total


@bare_kernel
def rows_effective_width(lift, rows, start, count):
    """Derivative of `rows_effective_area` by the lift, m."""
    total = 0.0
    for i in range(count):
        k = start + ROW_FIELDS * i
        total += rows[k] * rows[k + 5] * slot_width(rows[k + 1], rows[k + 2], rows[k + 3], lift - rows[k + 4])
    return total


@bare_kernel
def two_loss_flow(laminar, quadratic, dp):
    """Volume flow Q, m3/s, signed, from laminar*Q + quadratic*Q|Q| = dp (Pa s/m3, Pa s2/m6, Pa); 0 where both vanish."""
    a = abs(dp)
    root = laminar + sqrt(laminar * laminar + 4.0 * quadratic * a)
    if not root > 0.0:
        return 0.0
    q = 2.0 * a / root
    return q if dp >= 0.0 else -q


@bare_kernel
def two_loss_slopes(laminar, quadratic, dp):
    """Derivatives of `two_loss_flow` by dp, laminar and quadratic: 1, -Q and -Q|Q| over laminar + 2 quadratic |Q|.

    0 where that vanishes.
    """
    q = two_loss_flow(laminar, quadratic, dp)
    rise = sqrt(laminar * laminar + 4.0 * quadratic * abs(dp))
    if not rise > 0.0:
        return 0.0, 0.0, 0.0
    return 1.0 / rise, -q / rise, -q * abs(q) / rise


def clearance_losses(diameter, clearance, eccentricity, cd, rho, mu):
    """(laminar loss per length Pa s/m4, orifice loss Pa s2/m6) of the lapped clearance; both inf where there is none.

    diameter, clearance m; eccentricity 0 to 1; cd -, rho kg/m3, mu Pa s. In plain Python, for coefficients made once;
    `clearance_flow` has it compiled.
    """
    if clearance <= 0.0:
        return inf, inf
    opening = cd * pi * diameter * clearance
    laminar = 12.0 * mu / (pi * diameter * clearance**3 * (1.0 + 1.5 * eccentricity * eccentricity))
    return laminar, 0.5 * rho / (opening * opening)


_clearance_losses = bare_kernel(clearance_losses)


@bare_kernel
def lapped_flow(lift, lap, least_length, laminar, quadratic, dp):
    """`clearance_flow` from its `clearance_losses`."""
    if laminar == inf:
        return 0.0
    return two_loss_flow(laminar * max(lap - lift, least_length), quadratic, dp)


@bare_kernel
def lapped_slopes(lift, lap, least_length, laminar, quadratic, dp):
    """Derivatives of `lapped_flow` by dp, m3/s/Pa, and by the lift, m2/s."""
    if laminar == inf:
        return 0.0, 0.0
    length = lap - lift
    by_dp, by_laminar, _ = two_loss_slopes(laminar * max(length, least_length), quadratic, dp)
    return by_dp, -laminar * by_laminar if length > least_length else 0.0


@bare_kernel
def clearance_flow(lift, lap, least_length, diameter, clearance, eccentricity, cd, rho, mu, dp):
    """Volume flow through the lapped clearance, m3/s, signed with dp.

    lift, lap, lengths, clearance m; eccentricity 0 to 1; cd -, rho kg/m3, mu Pa s, dp Pa. No clearance: 0.
    """
    laminar, quadratic = _clearance_losses(diameter, clearance, eccentricity, cd, rho, mu)
    return lapped_flow(lift, lap, least_length, laminar, quadratic, dp)


@bare_kernel
def uncovered_share(lift, lap, over):
    """0 while the slots are covered, passing linearly to 1 over the first `over` m of uncovering."""
    return min(max((lift - lap) / over, 0.0), 1.0)


@bare_kernel
def uncovered_slope(lift, lap, over):
    """Derivative of `uncovered_share` by the lift, 1/m."""
    return 1.0 / over if 0.0 < lift - lap < over else 0.0


def hot_clearance(cold: float, diameter: float, post_contraction: float, sleeve_contraction: float) -> float:
    """Clearance at running temperature, m: c_0 + d/2 (contraction of post - contraction of sleeve), strains positive.

    Zero or less: the clearance has closed up.
    """
    return cold + 0.5 * diameter * (post_contraction - sleeve_contraction)
