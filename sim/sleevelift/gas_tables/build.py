"""Fill the table of a gas from CoolProp's reference equation of state (layout in `layout`).

    edges:    T -> largest density, on the vapour line, then 5 K into the supersaturated vapour
    columns:  at each density of the grid solve u(T) for the energies of the grid, temperature by temperature
    spline:   collocation at the nodes, not-a-knot ends, in both directions

Every state is evaluated with the gas phase imposed and (rho, T) given: the equation itself, no flash, so it goes on
smoothly into supersaturated vapour. Deeper, in the unstable region, reference equations are wild and would ruin the
spline some cells away; there each column is continued by the cubic through its last four nodes. Only `build_table` is
for others to call.

Source of the method: de Boor, A Practical Guide to Splines (1978), ch. IV (not-a-knot), XVII (tensor products).
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.polynomial import polynomial
from numpy.typing import NDArray

from sleevelift.gas_tables import layout
from sleevelift.gas_tables.edges import (
    DENSE_EDGE,
    VANISHING,
    Equation,
    GasLimits,
    dilute_exponent,
    edge_densities,
    gas_limits,
    root_between,
)

Array = NDArray[np.float64]


GRID = (118, 111)
"""Nodes by density and by energy: with three quantities and the edges below 350 kB. This and the numbers down to
SMOOTH_HEAT were found by random trial, counting the largest error on 8000 random states of each of nitrogen, argon,
air and helium; the error of the result is a tenth of what is asked for and flat around it, but for the named
exceptions of helium and oxygen."""

DENSITY_SCALE = 4.0
"""rho_a in critical densities: nodes near enough to evenly spaced in density ..."""

X_0 = 0.001
"""-. ... and crowded towards zero density, where saturation at low temperature lies."""

NEAR_ENERGY, FAR_ENERGY, NEAR_SHARE = 0.5, 1.5, 0.5
"""u_a in R T_crit; u_b in the root of R T_crit and the greatest height above the lower edge; the share of u_a's term.

Nodes thin out with height about as those of a logarithm, at the price of a division: near the lower edge by u_a, where
helium's dense vapour wants it, further up by u_b."""

EDGE_DEGREE = 4
"""Of the polynomial along the lower edge: higher ones wriggle and spend the spline's accuracy on it."""

SPARE_DENSITY = 0.08
"""-. The grid goes this much beyond the highest density: the last cell of a spline is its worst."""

SPARE_EDGE = 0.03
"""T_crit. So far below the dense edge the grid begins, for the same reason."""

DENSE_DEEP = 0.05
"""T_crit below the dense edge to which the equation is evaluated where it stays smooth."""

DEEPEST = 0.15
"""T_crit below saturation to which the equation is evaluated where it stays smooth."""

BEYOND_VAPOUR = 1.2
"""Vapour densities up to which a column goes down to saturation and below, whether or not that is offered: a step
between neighbouring columns is kept away from the range."""

SMOOTH_COMPRESSIBILITY = -0.5
"""R T. The equation counts as smooth while dp/drho at constant T stays above this ..."""

SMOOTH_HEAT = 2.0
"""-. ... and c_v below this many times its value at saturation."""

SCAN_STEPS = 24
"""Steps of the search for the depth to which the equation is smooth."""

NEWTON_STEPS = 40
"""Cap on Newton's method in temperature; two steps are usual."""

NEWTON_CLOSE = 1e-8
"""-. Relative step in temperature that ends it; the step after it would be its square."""

GIBBS_NODES = 1200
"""Of the ideal gas's h - T s: the chord is at most 3 J/kg off."""

WET_NODES, WET_TOP, WET_LOWEST = 400, 0.9, 20e3
"""Saturated states; the highest in critical pressures; the lowest, Pa, unless the lowest temperature's is higher: far below any
ambient pressure, and air's equation has no boiling point below some kPa."""


class Grid(NamedTuple):
    """The nodes of a table: densities, the lower edge of energy at each, and heights above it."""

    rho: Array
    """kg/m3 (n_x)."""
    edge: Array
    """J/kg (n_x): the polynomial in x."""
    height: Array
    """J/kg (n_y): u - edge."""
    header: Array
    """The table's header, complete but for the indices."""


def deepest_temperature(equation: Equation, limits: GasLimits, rho: float, saturation: float) -> float:
    """Lowest temperature (K) at `rho` down to which the equation stays smooth, at most DEEPEST below `saturation`
    (K)."""
    T_crit = limits.critical_temperature
    vapour = rho < BEYOND_VAPOUR * limits.vapour_density
    start = saturation if vapour else DENSE_EDGE * T_crit
    goal = start - DEEPEST * T_crit if vapour else (DENSE_EDGE - DENSE_DEEP) * T_crit
    heat = SMOOTH_HEAT * equation.energy(rho, start)[1]
    least = SMOOTH_COMPRESSIBILITY * limits.gas_constant
    deepest = start
    for T in np.linspace(start, goal, SCAN_STEPS + 1)[1:]:
        smooth = equation.compressibility(rho, T) > least * T
        c_v, c = equation.imposed.cvmass(), equation.imposed.speed_sound()
        if not (smooth and 0.0 < c_v < heat and c > 0.0):
            break
        deepest = float(T)
    return deepest


def polynomial_below(x: Array, y: Array) -> Array:
    """Coefficients (lowest power first) of a polynomial that lies below all the points and close to them."""
    weights = np.ones_like(x)
    for _ in range(60):
        cubic = polynomial.polyfit(x, y, EDGE_DEGREE, w=weights)
        weights = np.where(polynomial.polyval(x, cubic) > y, 1.5 * weights, weights)
    cubic[0] -= max(0.0, float(np.max(polynomial.polyval(x, cubic) - y)))
    return np.asarray(cubic)


def heights(Y: Array, u_a: float, u_b: float, near: float) -> Array:
    """y (J/kg) at which y/(y + u_b) + near y/(y + u_a) = Y: the positive root of a quadratic."""
    square = Y - 1.0 - near
    slope = Y * (u_a + u_b) - u_a - near * u_b
    level = Y * u_a * u_b
    root: Array = 2.0 * level / (np.sqrt(slope * slope - 4.0 * square * level) - slope)
    return root


def grid_of(equation: Equation, limits: GasLimits, T_edge: Array, fresh: Array, deep: Array) -> tuple[Grid, Array]:
    """The grid of a gas, and at each of its densities the lowest temperature at which the equation is to be used."""
    R, T_crit, rho_crit = limits.gas_constant, limits.critical_temperature, limits.critical_density
    n_x, n_y = GRID
    rho_a = DENSITY_SCALE * rho_crit
    rho_top = (1.0 + SPARE_DENSITY) * limits.highest_density
    X_top = math.sqrt(rho_top / (rho_top + rho_a) + X_0) - math.sqrt(X_0)
    x = (np.linspace(0.0, X_top, n_x) + math.sqrt(X_0)) ** 2 - X_0
    x[0] = 0.0
    rho = rho_a * x / (1.0 - x)
    rho[0] = VANISHING * rho_crit

    vapour = T_edge <= T_crit
    known = vapour & (T_edge >= limits.lowest_temperature)
    saturation = np.interp(rho, fresh[known], T_edge[known])
    deepest = np.array([deepest_temperature(equation, limits, r, t) for r, t in zip(rho, saturation)])
    lowest = np.interp(rho, deep[vapour], T_edge[vapour])
    lowest = np.where(rho < limits.vapour_density, lowest, (DENSE_EDGE - SPARE_EDGE) * T_crit)
    # at a step of the edge the polynomial passes between two columns: let it pass below both
    lowest = np.minimum(lowest, np.minimum(np.append(lowest[1:], lowest[-1]), np.append(lowest[0], lowest[:-1])))
    lowest = np.maximum(lowest, deepest)
    lower = polynomial_below(x, np.array([equation.energy(r, t)[0] for r, t in zip(rho, lowest)]))
    edge: Array = np.asarray(polynomial.polyval(x, lower))

    hottest = np.array([highest_used_temperature(equation, limits, r) for r in rho])
    top = max(equation.energy(r, t)[0] - e for r, t, e in zip(rho, hottest, edge))
    y_top = 1.001 * top
    u_a, u_b = NEAR_ENERGY * R * T_crit, FAR_ENERGY * math.sqrt(R * T_crit * y_top)
    Y_top = y_top / (y_top + u_b) + NEAR_SHARE * y_top / (y_top + u_a)
    height = heights(np.linspace(0.0, Y_top, n_y), u_a, u_b, NEAR_SHARE)

    # z is c_v T in the dilute gas
    u_dilute, c_v = equation.energy(rho[0], T_crit)
    z_0 = max(c_v * T_crit - (u_dilute - edge[0]), 0.1 * R * T_crit)

    header = np.zeros(layout.HEADER)
    header[layout.KIND] = layout.REAL
    header[layout.GAS_CONSTANT] = R
    header[layout.EXPONENT] = dilute_exponent(equation, limits)
    header[[layout.N_X, layout.N_Y]] = n_x, n_y
    header[[layout.RHO_A, layout.X_0, layout.ROOT_X_0, layout.X_SCALE]] = rho_a, X_0, math.sqrt(X_0), (n_x - 1) / X_top
    header[[layout.U_A, layout.U_B, layout.NEAR]] = u_a, u_b, NEAR_SHARE
    header[[layout.Y_SCALE, layout.Y_TOP]] = (n_y - 1) / Y_top, y_top
    header[layout.U_0 : layout.U_0 + lower.size] = lower
    header[layout.Z_0] = z_0
    header[[layout.T_MAX, layout.P_MAX, layout.RHO_MAX]] = (
        limits.highest_temperature,
        limits.highest_pressure,
        limits.highest_density,
    )
    return Grid(rho, edge, height, header), deepest


def highest_used_temperature(equation: Equation, limits: GasLimits, rho: float) -> float:
    """Temperature (K) up to which density `rho` stays below the highest pressure, at most the table's."""
    if equation.pressure(rho, limits.highest_temperature) <= limits.highest_pressure:
        return limits.highest_temperature
    T_low = DENSE_EDGE * limits.critical_temperature
    return root_between(T_low, limits.highest_temperature, lambda T: equation.pressure(rho, T) < limits.highest_pressure, steps=20)


def column(equation: Equation, rho: float, energies: Array, z: Array, T_floor: float, T_top: float) -> Array:
    """A, B and N (n_y, 3) at density `rho` and the rising `energies`; NaN below the energy at `T_floor`."""
    values = np.full((energies.size, 3), np.nan)
    u, c_v = equation.energy(rho, T_floor)
    T = T_floor
    for j in np.flatnonzero(energies >= u):
        lower, upper = T_floor, 1.5 * T_top
        T += (energies[j] - u) / c_v
        for _ in range(NEWTON_STEPS):
            if not lower <= T <= upper:
                T = 0.5 * (lower + upper)
            u, c_v, p, c = equation.at(rho, T)
            if u < energies[j]:
                lower = T
            else:
                upper = T
            step = (energies[j] - u) / c_v if c_v > 0.0 else math.inf
            if abs(step) < NEWTON_CLOSE * T:
                break
            T += step
        values[j] = T / z[j], p / (rho * z[j]), rho * c * c / p
    return values


def continued_down(values: Array) -> Array:
    """`values` (n_y, 3) with the NaNs at its beginning replaced by the cubic through the four values that follow
    them."""
    first = int(np.argmax(np.isfinite(values[:, 0])))
    for j in range(first - 1, -1, -1):
        values[j] = 4.0 * values[j + 1] - 6.0 * values[j + 2] + 4.0 * values[j + 3] - values[j + 4]
    return values


def spline_coefficients(values: Array) -> Array:
    """Coefficients (n + 2, ...) of the uniform cubic B-spline through `values` (n, ...), not-a-knot at both ends."""
    n = values.shape[0]
    matrix = np.zeros((n + 2, n + 2))
    inner = np.arange(n)
    for offset, weight in enumerate((1.0 / 6.0, 4.0 / 6.0, 1.0 / 6.0)):
        matrix[inner + 1, inner + offset] = weight
    matrix[0, :5] = matrix[-1, -5:] = (1.0, -4.0, 6.0, -4.0, 1.0)
    right = np.zeros((n + 2, values[0].size))
    right[1:-1] = values.reshape(n, -1)
    return np.linalg.solve(matrix, right).reshape((n + 2,) + values.shape[1:])


def ideal_gibbs(equation: Equation, limits: GasLimits, T_low: float) -> Array:
    """h - T s (J/kg) of the ideal gas at GIBBS_PRESSURE, at GIBBS_NODES temperatures from `T_low` up."""
    state, R = equation.imposed, limits.gas_constant
    rho = VANISHING * limits.critical_density
    out = np.empty(GIBBS_NODES)
    for i, T in enumerate(np.linspace(T_low, limits.highest_temperature, GIBBS_NODES)):
        state.update(equation.given, rho, T)
        out[i] = state.hmass() - T * state.smass() + R * T * math.log(layout.GIBBS_PRESSURE / (rho * R * T))
    return out


def saturated_states(equation: Equation, limits: GasLimits) -> tuple[Array, float, float]:
    """(`wet` of the layout, logarithm of its lowest pressure, intervals per unit of it)."""
    flash, library = equation.flash, equation.library
    flash.update(library.QT_INPUTS, 1.0, limits.lowest_temperature * (1.0 + 1e-6))
    ends = np.log([max(WET_LOWEST, float(flash.p())), WET_TOP * float(flash.p_critical())])
    rows = []
    for p in np.exp(np.linspace(ends[0], ends[1], WET_NODES)):
        flash.update(library.PQ_INPUTS, p, 0.0)
        s_boiling, u_boiling = flash.smass(), flash.umass()
        flash.update(library.PQ_INPUTS, p, 1.0)
        rows.append((s_boiling, flash.smass(), u_boiling, flash.umass(), flash.T()))
    return np.array(rows), float(ends[0]), float((WET_NODES - 1) / (ends[1] - ends[0]))


def build_table(fluid: str) -> Array:
    """The flat table (float64) of a gas known to CoolProp as `fluid`; takes about half a second."""
    equation = Equation(fluid)
    limits = gas_limits(equation)
    T_edge, fresh, deep = edge_densities(equation, limits)
    grid, deepest = grid_of(equation, limits, T_edge, fresh, deep)
    z = grid.height + grid.header[layout.Z_0]
    columns = []
    for rho, edge, T_floor in zip(grid.rho, grid.edge, deepest):
        energies = edge + grid.height
        columns.append(continued_down(column(equation, rho, energies, z, T_floor, limits.highest_temperature)))
    nodes = np.array(columns)
    by_energy = np.swapaxes(spline_coefficients(np.swapaxes(nodes, 0, 1)), 0, 1)
    coefficients = spline_coefficients(by_energy).transpose(0, 2, 1)
    header = grid.header
    header[[layout.N_EDGE, layout.EDGE_START]] = T_edge.size, T_edge[0]
    header[layout.EDGE_SCALE] = (T_edge.size - 1) / (T_edge[-1] - T_edge[0])
    header[[layout.EDGES, layout.COEFFICIENTS]] = layout.HEADER, layout.HEADER + 2 * T_edge.size
    gibbs = ideal_gibbs(equation, limits, float(T_edge[0]))
    wet, header[layout.WET_START], header[layout.WET_SCALE] = saturated_states(equation, limits)
    header[[layout.GIBBS, layout.N_GIBBS]] = layout.HEADER + 2 * T_edge.size + coefficients.size, gibbs.size
    return np.ascontiguousarray(np.concatenate([header, fresh, deep, coefficients.ravel(), gibbs, wet.ravel()]))
