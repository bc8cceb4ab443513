"""State of a gas from its density and internal energy: real (a spline table of CoolProp's equations) or perfect.

    m/V, U/m  ->  rho, u  ->  p, T, n = rho c^2/p        n, the real isentropic exponent: d ln p / d ln rho, constant s

`gas` is the flat array of `sleevelift.gas_tables.load_gas` or of `perfect_gas`; its first number says which. Nothing here
raises; the last result of each function is a status:

    0  inside the range          1  supersaturated: vapour at most 5 K below saturation, gas phase imposed
    2  outside: the other results are NaN (never an extrapolation)

Range of a real gas: from the saturated-vapour line (above the critical density from 1.05 T_crit) to 700 K, up to 350
bar, down to zero density; less where the reference equation ends earlier, and see `sleevelift.gas_tables.build` for helium
within 0.3 K of its critical point and oxygen below 80 K. Interpolation is twice continuously differentiable. Internal
energy counts from CoolProp's reference state in a real gas and from 0 K in a perfect one: only differences mean
anything.

Source: reference equations of state as implemented in CoolProp (Bell et al., Ind. Eng. Chem. Res. 53, 2014, 2498);
layout of the table in `sleevelift.gas_tables.layout`.
"""

import math

import numpy as np
from numpy.typing import NDArray

from sleevelift.gas_tables.layout import (
    COEFFICIENTS,
    EDGE_SCALE,
    EDGE_START,
    EDGES,
    EXPONENT,
    GAS_CONSTANT,
    KIND,
    N_EDGE,
    N_X,
    N_Y,
    NEAR,
    P_MAX,
    PERFECT,
    RHO_A,
    RHO_MAX,
    ROOT_X_0,
    T_MAX,
    U_0,
    U_1,
    U_2,
    U_3,
    U_4,
    U_A,
    U_B,
    X_0,
    X_SCALE,
    Y_SCALE,
    Y_TOP,
    Z_0,
)
from sleevelift.jit import bare_kernel, inline_kernel
from sleevelift.jit.packed import all_of, item, least, most, pack, root, whole
from sleevelift.jit.vectors import patch_slopes, patch_sum, patch_sums, patches_slopes

IN_RANGE = 0
SUPERSATURATED = 1
OUTSIDE = 2

MOST_ITERATIONS = 60
"""Newton steps of `gas_at`; five to eight are usual, the rest is for halved steps."""

MOST_HALVINGS = 60
"""Halvings of a bisection: the whole range to the last digit of a double."""

CLOSE = 1e-12
"""-. Relative residual at which Newton's method in `gas_at` stops: well above the rounding of a spline sum."""

MATCH = 1e-9
"""-. Relative residual that `gas_at` accepts (bisection ends at rounding, which p magnifies)."""


SIXTH, TWO_THIRDS = 1.0 / 6.0, 2.0 / 3.0

TWO, THREE = np.uint64(2), np.uint64(3)
"""Unsigned, as the places in the table are: no negative index to be checked for."""

SLACK = 1e-9
"""-. Relative slack on the upper limits of pressure and temperature, so that a state set at the limit is inside."""


def perfect_gas(gamma: float, gas_constant: float) -> NDArray[np.float64]:
    """The array of a perfect gas: p = rho R T, u = R T/(gamma - 1) (zero at 0 K), n = gamma. `gas_constant` in
    J/kg/K."""
    if not (gamma > 1.0 and gas_constant > 0.0):
        raise ValueError(f"a perfect gas needs gamma > 1 and a gas constant > 0, not {gamma} and {gas_constant}")
    return np.array([PERFECT, gas_constant, gamma], dtype=np.float64)


@inline_kernel
def _weights(t):
    """The four uniform cubic B-splines at t in 0..1 of a cell (de Boor, A Practical Guide to Splines, 1978)."""
    s = 1.0 - t
    return (
        SIXTH * (s * s * s),
        TWO_THIRDS + t * t * (0.5 * t - 1.0),
        TWO_THIRDS + s * s * (0.5 * s - 1.0),
        SIXTH * (t * t * t),
    )


@inline_kernel
def _slopes(t):
    """Derivatives of `_weights` with respect to t."""
    s = 1.0 - t
    return -0.5 * s * s, 0.5 * t * (3.0 * t - 4.0), 0.5 * s * (4.0 - 3.0 * s), 0.5 * t * t


@inline_kernel
def _lower_edge(x, gas):
    """u_0 + u_1 x + ... + u_4 x^4 (J/kg), the lower edge of the table at x = rho/(rho + rho_a); two short chains."""
    square = x * x
    return (gas[U_0] + x * gas[U_1]) + square * ((gas[U_2] + x * gas[U_3]) + square * gas[U_4])


@inline_kernel
def _range_status(rho, p, T, gas):
    """0, 1 or 2 for a state read from the table: where it lies relative to saturation and to the upper limits."""
    if not (T <= gas[T_MAX] * (1.0 + SLACK) and p <= gas[P_MAX] * (1.0 + SLACK)):
        return OUTSIDE
    position = (T - gas[EDGE_START]) * gas[EDGE_SCALE]
    if position < 0.0:
        return OUTSIDE
    n_edge = int(gas[N_EDGE])
    if position >= n_edge - 1.0:
        return IN_RANGE
    k = int(position)
    t = position - k
    k += int(gas[EDGES])
    if rho <= gas[k] + t * (gas[k + 1] - gas[k]):
        return IN_RANGE
    k += n_edge
    if rho <= gas[k] + t * (gas[k + 1] - gas[k]):
        return SUPERSATURATED
    return OUTSIDE


@inline_kernel
def _height_place(y, gas):
    """Y_scale (y/(y + u_b) + k y/(y + u_a)), the place in the grid of the height y above the lower edge, in one division."""
    u_a, u_b, k = gas[U_A], gas[U_B], gas[NEAR]
    return gas[Y_SCALE] * y * ((1.0 + k) * y + (u_a + k * u_b)) / ((y + u_a) * (y + u_b))


@inline_kernel
def _table_place(rho, u, gas):
    """(X, Y, y, whether inside): the place of a state in the grid of the table's rectangle, and its y = u - lower edge."""
    return _place_at(rho / (rho + gas[RHO_A]), rho, u, gas)


@inline_kernel
def _place_at(x, rho, u, gas):
    """`_table_place` where x = rho/(rho + rho_a) is at hand."""
    y = u - _lower_edge(x, gas)
    X = (root(most(x + gas[X_0], 0.0)) - gas[ROOT_X_0]) * gas[X_SCALE]
    Y = _height_place(y, gas)
    inside = (rho >= 0.0) & (rho <= gas[RHO_MAX]) & (y >= 0.0) & (Y <= gas[N_Y] - 1.0) & (X <= gas[N_X] - 1.0)
    return X, Y, y, inside


@inline_kernel
def _table_read(rho, X, Y, y, gas):
    """p (Pa), T (K), n (-) and p/rho (J/kg) at a place of `_table_place` that is inside."""
    n_x = int(gas[N_X])
    n_y = int(gas[N_Y])
    i = min(int(X), n_x - 2)
    j = min(int(Y), n_y - 2)
    across = _weights(X - i)
    along = _weights(Y - j)
    strip = np.uint64(n_y + 2)
    k = np.uint64(int(gas[COEFFICIENTS]) + 3 * i * (n_y + 2) + j)
    A = patch_sum(gas, k, THREE * strip, across, along)
    B = patch_sum(gas, k + strip, THREE * strip, across, along)
    N = patch_sum(gas, k + TWO * strip, THREE * strip, across, along)
    z = y + gas[Z_0]
    ratio = B * z
    return rho * ratio, A * z, N, ratio


@inline_kernel
def _table_state(rho, u, gas):
    """p (Pa), T (K), n (-) read from the rectangle of the table, inside or not of the range; NaN off the rectangle."""
    X, Y, y, inside = _table_place(rho, u, gas)
    if not inside:
        return math.nan, math.nan, math.nan
    p, T, n, ratio = _table_read(rho, X, Y, y, gas)
    return p, T, n


@inline_kernel
def _chained(rho, part, x, y, surfaces, gas):
    """p, T, n and their derivatives by rho at constant u and by u at constant rho from the table's surfaces.

    surfaces: A, B, N, each with its slopes in the grid; part = 1/(rho + rho_a), x = rho part, y above the lower edge.
    """
    A, A_x, A_y, B, B_x, B_y, N, N_x, N_y_ = surfaces
    # chain rule: (X, Y) by (rho, u)
    x_rho = gas[RHO_A] * part * part
    X_rho = 0.5 * gas[X_SCALE] / root(x + gas[X_0]) * x_rho
    part = 1.0 / ((y + gas[U_A]) * (y + gas[U_B]))
    by_a, by_b = (y + gas[U_B]) * part, (y + gas[U_A]) * part
    Y_u = gas[Y_SCALE] * (gas[U_B] * (by_b * by_b) + gas[NEAR] * gas[U_A] * (by_a * by_a))
    z_rho = -x_rho * (gas[U_1] + x * (2.0 * gas[U_2] + x * (3.0 * gas[U_3] + x * 4.0 * gas[U_4])))
    Y_rho = Y_u * z_rho
    z = y + gas[Z_0]
    p = rho * B * z
    return (
        p,
        A * z,
        N,
        B * z + rho * (B * z_rho + z * (B_x * X_rho + B_y * Y_rho)),
        rho * (B + z * B_y * Y_u),
        A * z_rho + z * (A_x * X_rho + A_y * Y_rho),
        A + z * A_y * Y_u,
        N_x * X_rho + N_y_ * Y_rho,
        N_y_ * Y_u,
    )


@bare_kernel
def _table_gradient(rho, u, gas):
    """p, T, n and their derivatives by rho at constant u and by u at constant rho, from the rectangle of the table."""
    part = 1.0 / (rho + gas[RHO_A])
    x = rho * part
    X, Y, y, inside = _place_at(x, rho, u, gas)
    if not inside:
        return math.nan, math.nan, math.nan, math.nan, math.nan, math.nan, math.nan, math.nan, math.nan
    n_y = int(gas[N_Y])
    i = min(int(X), int(gas[N_X]) - 2)
    j = min(int(Y), n_y - 2)
    across = _weights(X - i)
    across_slope = _slopes(X - i)
    along = _weights(Y - j)
    along_slope = _slopes(Y - j)
    strip = np.uint64(n_y + 2)
    k = np.uint64(int(gas[COEFFICIENTS]) + 3 * i * (n_y + 2) + j)
    A, A_x, A_y = patch_slopes(gas, k, THREE * strip, across, across_slope, along, along_slope)
    B, B_x, B_y = patch_slopes(gas, k + strip, THREE * strip, across, across_slope, along, along_slope)
    N, N_x, N_y_ = patch_slopes(gas, k + TWO * strip, THREE * strip, across, across_slope, along, along_slope)
    return _chained(rho, part, x, y, (A, A_x, A_y, B, B_x, B_y, N, N_x, N_y_), gas)


@inline_kernel
def gas_place(rho, u, gas):
    """Where `gas_state_at` finds the state at `rho` (kg/m3) and `u` (J/kg): opaque; its last item says whether at all."""
    if gas[KIND] == PERFECT:
        return u, u, u, (rho >= 0.0) & (u >= 0.0) & (rho < math.inf) & (u < math.inf)
    return _table_place(rho, u, gas)


@inline_kernel
def content_place(mass, energy, volume, gas):
    """(rho, u, `gas_place`) of `mass` (kg) with `energy` (J) in `volume` (m3), mass and volume above zero.

    Three quotients in one division: m/V, U/m and m/(m + rho_a V).
    """
    if gas[KIND] == PERFECT:
        rho = mass / volume
        u = energy / mass
        return rho, u, gas_place(rho, u, gas)
    spread = mass + gas[RHO_A] * volume
    part = 1.0 / (volume * mass * spread)
    rho = mass * mass * (spread * part)
    u = energy * volume * (spread * part)
    return rho, u, _place_at(mass * mass * (volume * part), rho, u, gas)


@inline_kernel
def gas_state_at(rho, place, gas):
    """`gas_state` at density `rho` (kg/m3) and its `gas_place`, with p/rho (J/kg) before the status.

    Apart, so that a caller with several states can place them all first: the processor then works on one's divisions and
    root while it waits for another's.
    """
    X, Y, y, inside = place
    if not inside:
        return math.nan, math.nan, math.nan, math.nan, OUTSIDE
    if gas[KIND] == PERFECT:
        ratio = (gas[EXPONENT] - 1.0) * y
        return rho * ratio, ratio / gas[GAS_CONSTANT], gas[EXPONENT], ratio, IN_RANGE
    p, T, n, ratio = _table_read(rho, X, Y, y, gas)
    status = _range_status(rho, p, T, gas)
    if status == OUTSIDE:
        return math.nan, math.nan, math.nan, math.nan, OUTSIDE
    return p, T, n, ratio, status


@inline_kernel
def _range_statuses(rho, p, T, gas):
    """`_range_status` of four states."""
    highest, most_p = gas[T_MAX] * (1.0 + SLACK), gas[P_MAX] * (1.0 + SLACK)
    hot = (T - gas[EDGE_START]) * gas[EDGE_SCALE] >= gas[N_EDGE] - 1.0
    if all_of(hot & (T <= highest) & (p <= most_p)):
        return 0.0 * T
    return pack(
        float(_range_status(item(rho, 0), item(p, 0), item(T, 0), gas)),
        float(_range_status(item(rho, 1), item(p, 1), item(T, 1), gas)),
        float(_range_status(item(rho, 2), item(p, 2), item(T, 2), gas)),
        float(_range_status(item(rho, 3), item(p, 3), item(T, 3), gas)),
    )


@inline_kernel
def _cells(X, Y, gas):
    """Of four places in the grid: (position in the cell across, along, the cells' starts in the table, its row's length)."""
    i = least(whole(X), gas[N_X] - 2.0)
    j = least(whole(Y), gas[N_Y] - 2.0)
    length = gas[N_Y] + 2.0
    k = (gas[COEFFICIENTS] + 3.0 * length * i) + j
    starts = np.uint64(int(item(k, 0))), np.uint64(int(item(k, 1))), np.uint64(int(item(k, 2))), np.uint64(int(item(k, 3)))
    return X - i, Y - j, starts, np.uint64(int(length))


@inline_kernel
def _further(starts, places):
    """Four starts, so many places on."""
    return starts[0] + places, starts[1] + places, starts[2] + places, starts[3] + places


@inline_kernel
def gas_states_at(rho, place, gas):
    """`gas_state_at` of four states, packed; all of them must have a place inside."""
    X, Y, y, inside = place
    if gas[KIND] == PERFECT:
        ratio = (gas[EXPONENT] - 1.0) * y
        return rho * ratio, ratio / gas[GAS_CONSTANT], 0.0 * y + gas[EXPONENT], ratio, 0.0 * y
    s, t, starts, strip = _cells(X, Y, gas)
    across = _weights(s)
    along = _weights(t)
    A = patch_sums(gas, starts, THREE * strip, across, along)
    B = patch_sums(gas, _further(starts, strip), THREE * strip, across, along)
    N = patch_sums(gas, _further(starts, TWO * strip), THREE * strip, across, along)
    z = y + gas[Z_0]
    ratio = B * z
    p = rho * ratio
    T = A * z
    return p, T, N, ratio, _range_statuses(rho, p, T, gas)


@inline_kernel
def gas_state_gradients_at(rho, place, gas):
    """`gas_state_gradient` of four states at their `gas_place`s, packed; all of them must have a place inside."""
    X, Y, y, inside = place
    none = 0.0 * y
    if gas[KIND] == PERFECT:
        surplus = gas[EXPONENT] - 1.0
        slope = surplus / gas[GAS_CONSTANT]
        return rho * surplus * y, slope * y, none + gas[EXPONENT], surplus * y, surplus * rho, none, none + slope, none, none, none
    s, t, starts, strip = _cells(X, Y, gas)
    across = _weights(s)
    across_slope = _slopes(s)
    along = _weights(t)
    along_slope = _slopes(t)
    A, A_x, A_y = patches_slopes(gas, starts, THREE * strip, across, across_slope, along, along_slope)
    B, B_x, B_y = patches_slopes(gas, _further(starts, strip), THREE * strip, across, across_slope, along, along_slope)
    N, N_x, N_y_ = patches_slopes(gas, _further(starts, TWO * strip), THREE * strip, across, across_slope, along, along_slope)
    part = 1.0 / (rho + gas[RHO_A])
    p, T, n, p_rho, p_u, T_rho, T_u, n_rho, n_u = _chained(rho, part, rho * part, y, (A, A_x, A_y, B, B_x, B_y, N, N_x, N_y_), gas)
    return p, T, n, p_rho, p_u, T_rho, T_u, n_rho, n_u, _range_statuses(rho, p, T, gas)


@inline_kernel
def gas_state(rho, u, gas):
    """Pressure (Pa), temperature (K), isentropic exponent rho c^2/p (-) and status of gas at `rho` (kg/m3) and `u`
    (J/kg).

    Zero density is inside (p = 0, the exponent of the dilute gas); a negative one, NaN, or a state off the range
    gives NaN and status 2.
    """
    p, T, n, ratio, status = gas_state_at(rho, gas_place(rho, u, gas), gas)
    return p, T, n, status


@bare_kernel
def gas_state_gradient(rho, u, gas):
    """`gas_state` with its derivatives: (p, T, n, dp/drho, dp/du, dT/drho, dT/du, dn/drho, dn/du, status).

    By rho at constant u and by u at constant rho, exact derivatives of the same spline; SI.
    """
    if gas[KIND] == PERFECT:
        p, T, n, status = gas_state(rho, u, gas)
        surplus = gas[EXPONENT] - 1.0
        blank = 0.0 * p
        slope = surplus / gas[GAS_CONSTANT] + blank
        return p, T, n, surplus * u + blank, surplus * rho + blank, blank, slope, blank, blank, status
    p, T, n, p_rho, p_u, T_rho, T_u, n_rho, n_u = _table_gradient(rho, u, gas)
    status = _range_status(rho, p, T, gas)
    if status == OUTSIDE:
        nan = math.nan
        return nan, nan, nan, nan, nan, nan, nan, nan, nan, OUTSIDE
    return p, T, n, p_rho, p_u, T_rho, T_u, n_rho, n_u, status


@bare_kernel
def _densest(T, gas):
    """Largest density (kg/m3) of the range at `T` (K), supersaturated vapour included; NaN below the lowest
    temperature."""
    position = (T - gas[EDGE_START]) * gas[EDGE_SCALE]
    n_edge = int(gas[N_EDGE])
    if not (position >= 0.0):
        return math.nan
    if position >= n_edge - 1.0:
        return gas[RHO_MAX]
    k = int(position)
    t = position - k
    k += int(gas[EDGES]) + n_edge
    return min(gas[k] + t * (gas[k + 1] - gas[k]), gas[RHO_MAX])


@bare_kernel
def _energy_at(rho, T, gas):
    """Internal energy (J/kg) at `rho` (kg/m3) and `T` (K), within the table: bisection, since T rises with u."""
    lower = _lower_edge(rho / (rho + gas[RHO_A]), gas)
    upper = lower + gas[Y_TOP]
    for _ in range(MOST_HALVINGS):
        middle = 0.5 * (lower + upper)
        if _table_state(rho, middle, gas)[1] < T:
            lower = middle
        else:
            upper = middle
    return upper


@bare_kernel
def _newton_at(p, T, densest, gas):
    """(rho, u) at `p`, `T` by Newton's method in both, from the dilute gas of that p and T; NaN if it does not
    settle."""
    rho = min(p / (gas[GAS_CONSTANT] * T), 0.9 * densest)
    y = gas[GAS_CONSTANT] * T / (gas[EXPONENT] - 1.0) - gas[Z_0]
    y_top = gas[Y_TOP]
    u = _lower_edge(rho / (rho + gas[RHO_A]), gas) + max(0.01 * y_top, min(y, 0.98 * y_top))
    d_rho = d_u = 0.0
    for _ in range(MOST_ITERATIONS):
        p_, T_, n_, p_rho, p_u, T_rho, T_u, n_rho, n_u = _table_gradient(rho, u, gas)
        if not (T_ > 0.0):
            # off the table: halve the step that led there
            d_rho *= 0.5
            d_u *= 0.5
            rho -= d_rho
            u -= d_u
            continue
        off_p, off_T = p_ - p, T_ - T
        if abs(off_p) <= CLOSE * p and abs(off_T) <= CLOSE * T:
            return rho, u
        determinant = p_rho * T_u - p_u * T_rho
        d_rho = -(off_p * T_u - off_T * p_u) / determinant
        d_u = -(off_T * p_rho - off_p * T_rho) / determinant
        # stay on the gas's side: half way at most to zero or to the edge
        shorter = 1.0
        if rho + d_rho < 0.5 * rho:
            shorter = -0.5 * rho / d_rho
        elif rho + d_rho > densest * (1.0 + SLACK):
            shorter = 0.5 * max(densest - rho, 0.0) / d_rho
        d_rho *= shorter
        d_u *= shorter
        rho += d_rho
        u += d_u
    return math.nan, math.nan


@bare_kernel
def _bisection_at(p, T, densest, gas):
    """(rho, u) at `p`, `T` by bisection on the density: for the flat isotherms near the critical point."""
    lower, upper = 0.0, densest
    for _ in range(MOST_HALVINGS):
        middle = 0.5 * (lower + upper)
        if _table_state(middle, _energy_at(middle, T, gas), gas)[0] < p:
            lower = middle
        else:
            upper = middle
    return upper, _energy_at(upper, T, gas)


@bare_kernel
def gas_at(p, T, gas):
    """Density (kg/m3), internal energy (J/kg) and status of gas at pressure `p` (Pa) and temperature `T` (K).

    The inverse of `gas_state` on the same table, to 1e-9 in p and T; below T_crit always the vapour. Outside the
    range, or p or T not positive: NaN and status 2. About a microsecond; a tenth of a millisecond on the flat
    isotherms near T_crit.
    """
    if not (p > 0.0 and T > 0.0 and p < math.inf and T < math.inf):
        return math.nan, math.nan, OUTSIDE
    if gas[KIND] == PERFECT:
        return p / (gas[GAS_CONSTANT] * T), gas[GAS_CONSTANT] * T / (gas[EXPONENT] - 1.0), IN_RANGE
    if p > gas[P_MAX] * (1.0 + SLACK) or T > gas[T_MAX] * (1.0 + SLACK):
        return math.nan, math.nan, OUTSIDE
    densest = _densest(T, gas)
    if not (densest > 0.0):
        return math.nan, math.nan, OUTSIDE
    rho, u = _newton_at(p, T, densest, gas)
    if not (rho > 0.0):
        rho, u = _bisection_at(p, T, densest, gas)
    p_, T_, n_, status = gas_state(rho, u, gas)
    if status == OUTSIDE or abs(p_ - p) > MATCH * p or abs(T_ - T) > MATCH * T:
        return math.nan, math.nan, OUTSIDE
    return rho, u, status


@bare_kernel
def gas_enthalpy(rho, u, gas):
    """Specific enthalpy u + p/rho (J/kg) and status at `rho` (kg/m3, above zero) and `u` (J/kg)."""
    p, T, n, status = gas_state(rho, u, gas)
    return u + p / rho, status


@bare_kernel
def speed_of_sound(rho, u, gas):
    """Speed of sound sqrt(n p/rho) (m/s) and status at `rho` (kg/m3, above zero) and `u` (J/kg)."""
    p, T, n, status = gas_state(rho, u, gas)
    return math.sqrt(n * p / rho), status
