"""Where each number of a gas's flat table stands: the one description shared by the builder and the look-up.

    table = [ header (32) | edge_fresh (n_edge) | edge_supersaturated (n_edge) | coefficients (n_x + 2, 3, n_y + 2)
              | gibbs (n_gibbs) | wet (n_wet, 5) ]

The table of a real gas is a bicubic B-spline on a uniform grid (X, Y), two continuous derivatives, over

    x = rho/(rho + rho_a)                                 X = (sqrt(x + x_0) - sqrt(x_0)) X_scale    0 .. n_x - 1
    y = u - (u_0 + u_1 x + u_2 x^2 + u_3 x^3 + u_4 x^4)   Y = (y/(y + u_b) + k y/(y + u_a)) Y_scale  0 .. n_y - 1

The polynomial in x runs along the lower edge of the range (the saturated vapour, then 1.05 T_crit), so the range is
almost a rectangle; it is the shear u + a rho of van der Waals carried some powers further. x = 0 is a row of the
grid, filled with the limit of vanishing density, so there is no low-pressure end. Tabulated, with z = y + z_0, which
at low density is c_v T:

    A = T/z        B = p/(rho z)        N = n = rho c^2/p

which vary little, so an error of a part in a million in them is one in p and T.

The edges are densities on a uniform grid of temperature: up to edge_fresh(T) the gas is not supersaturated, up to
edge_supersaturated(T) it is at most 5 K below saturation; above the last temperature every density of the table counts.
"""

REAL = 1.0
"""Kind of a tabulated gas."""

PERFECT = 0.0
"""Kind of a perfect gas: only the first three numbers follow."""

KIND = 0
GAS_CONSTANT = 1
"""J/kg/K."""
EXPONENT = 2
"""-. c_p/c_v: of the perfect gas, or of the real one at vanishing density and 293.15 K (for reference only)."""

N_X = 3
N_Y = 4
RHO_A = 5
"""kg/m3."""
X_0 = 6
ROOT_X_0 = 7
X_SCALE = 8
U_A = 9
"""J/kg."""
Y_SCALE = 10
U_0 = 11
"""J/kg, as the next three."""
U_1 = 12
U_2 = 13
U_3 = 14
U_4 = 15
Z_0 = 16
"""J/kg."""
T_MAX = 17
"""K."""
P_MAX = 18
"""Pa."""
RHO_MAX = 19
"""kg/m3."""
N_EDGE = 20
EDGE_START = 21
"""K."""
EDGE_SCALE = 22
"""Intervals of the edges per K."""
EDGES = 23
"""Index of edge_fresh; edge_supersaturated follows it."""
COEFFICIENTS = 24
"""Index of the first coefficient."""
U_B = 25
"""J/kg."""
NEAR = 26
"""-. k, the share of nodes that u_a places."""
Y_TOP = 27
"""J/kg. y at the upper edge of the grid."""
GIBBS = 28
"""Index of `gibbs`; `wet` is the rest of the table."""
N_GIBBS = 29
WET_START = 30
"""Natural logarithm of the lowest pressure of `wet`, Pa."""
WET_SCALE = 31
"""Intervals of `wet` per unit of that logarithm."""

GIBBS_PRESSURE = 1e5
"""Pa. `gibbs` holds h - T s, J/kg, of the ideal gas at this pressure, at temperatures spaced evenly from EDGE_START to T_MAX."""

SATURATED = 5
"""`wet` holds, at pressures spaced evenly in the logarithm, entropy of boiling liquid and dew J/kg/K, their energy J/kg, and the
dew's temperature K."""

HEADER = 32
"""Numbers before the edges."""
