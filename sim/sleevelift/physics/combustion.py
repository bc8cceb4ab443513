"""Combustion chamber: unburned masses, one well-mixed gas, a choked throat.

    each propellant burns with time constant tau_b;   w_burn = (m_ox + m_fuel)/tau_b
    dm_g/dt = w_burn - w_out,   w_out = p A_throat psi Gamma/sqrt(R T),   R T = p V/m_g
    dp/dt = g/V ((Gamma c)^2 w_burn - R T w_out),   Gamma^2 = g (2/(g+1))^((g+1)/(g-1))

c*^2 and g are interpolated over the oxidizer fraction f = O/(O+F) of the unburned masses (monotone piecewise cubic of Fritsch
and Carlson, SIAM J. Numer. Anal. 17, 1980); the ends f = 0 and 1 are cold vapour. At steady state p = w c/A_throat exactly.
The constant-volume hard-start pressure g m (Gamma c*)^2/V + p_amb is an estimate, no bound: a detonation exceeds it locally.
Sources: Sutton and Biblarz, Rocket Propulsion Elements (c*, Gamma); first law of the open chamber.
"""

from math import sqrt

from sleevelift.jit import bare_kernel, inline_kernel
from sleevelift.physics.restriction import critical_density_ratio, isentropic_density_ratio

CURVE_FIELDS = 9
"""Numbers per interval in the flat mixture curve: f_left, four coefficients of c*^2, four of g (highest power first)."""


@inline_kernel
def throat_factors(g):
    """(Gamma^2 = g (2/(g+1))^((g+1)/(g-1)), critical pressure ratio (2/(g+1))^(g/(g-1))), -."""
    z = 2.0 / (g + 1.0)
    e = critical_density_ratio(g, z)
    return g * z * e * e, z * e


@bare_kernel
def gamma_squared(g):
    """Gamma^2 = g (2/(g+1))^((g+1)/(g-1)), -."""
    return throat_factors(g)[0]


@bare_kernel
def mixture(f, curve, start, count):
    """(c*^2 m2/s2, g -) at oxidizer fraction f (clipped to 0..1) from the flat curve of `count` intervals."""
    x = min(max(f, 0.0), 1.0)
    low = 0
    high = count
    while high - low > 1:
        middle = (low + high) // 2
        if curve[start + CURVE_FIELDS * middle] <= x:
            low = middle
        else:
            high = middle
    k = start + CURVE_FIELDS * low
    s = x - curve[k]
    c2 = ((curve[k + 1] * s + curve[k + 2]) * s + curve[k + 3]) * s + curve[k + 4]
    g = ((curve[k + 5] * s + curve[k + 6]) * s + curve[k + 7]) * s + curve[k + 8]
    return c2, g


@bare_kernel
def oxidizer_fraction(oxidizer, fuel, best):
    """f = O/(O+F) of two masses, kg, each counted at least 0; `best` (the fraction of highest c*) where both are 0."""
    o = max(oxidizer, 0.0)
    total = o + max(fuel, 0.0)
    if total <= 0.0:
        return best
    return o / total


@inline_kernel
def throat_flow(p, rho, throat, g, p_amb, laminar_above):
    """Outflow through the throat, kg/s: p A psi Gamma/sqrt(R T) with R T = p/rho; straight to 0 at p = p_amb.

    p Pa, rho kg/m3, throat m2.
    """
    r = p_amb / p
    at = min(r, laminar_above)
    factor, critical = throat_factors(g)
    if at > critical:
        a, log_r = isentropic_density_ratio(at, g)
        factor = 2.0 * g / (g - 1.0) * (a * a - a * at)
    flow = throat * sqrt(factor * p * rho)
    if r > laminar_above:
        flow *= (1.0 - r) / (1.0 - laminar_above)
    return flow


@bare_kernel
def held_pressure(w, rt, throat, g, p_amb):
    """Chamber pressure, Pa, at which the throat passes w, kg/s, of gas of R T = rt, J/kg (isentropic to ambient, or choked).

    With M^2 at the throat, p_amb A M sqrt(g/(R T)) sqrt(1 + (g-1)/2 M^2) = w, a quadratic; p = p_amb (1 + (g-1)/2 M^2)^(g/(g-1)).
    Choked p = w sqrt(R T)/(A Gamma). Sutton and Biblarz, chapter 3.
    """
    if w <= 0.0:
        return p_amb
    s = w * w * rt / (g * p_amb * p_amb * throat * throat)
    mach_squared = 2.0 * s / (1.0 + sqrt(1.0 + 2.0 * (g - 1.0) * s))
    if mach_squared >= 1.0:
        return w * sqrt(rt / throat_factors(g)[0]) / throat
    return p_amb * (1.0 + 0.5 * (g - 1.0) * mach_squared) ** (g / (g - 1.0))


@bare_kernel
def throat_choked(p, g, p_amb):
    """Whether the throat is choked at chamber pressure p, Pa."""
    return p_amb <= throat_factors(g)[1] * p


SUPPRESSION, SUPPRESSED_ABOVE = 0.03, 5e5
"""-, Pa. Pressure suppresses dissociation: what burns in a closed chamber ends up to (p/p_table)^0.03 higher than c* and g of a
table made at p_table say. From twice SUPPRESSED_ABOVE up the tables count as made at that pressure, so the estimate errs high."""


@bare_kernel
def hard_start_pressure(oxidizer, fuel, volume, p_amb, curve, start, count):
    """Pressure if all of the pool burned at once in the closed chamber, Pa, or up to 10 % more. An estimate, no bound.

        p = g m (Gamma c*)^2/V, times (p/SUPPRESSED_ABOVE)^SUPPRESSION where that is above 1; + p_amb

    `curve` is the mixture curve without efficiency (constant-volume burning is hotter by the factor g).
    """
    m = max(oxidizer, 0.0) + max(fuel, 0.0)
    if m <= 0.0:
        return p_amb
    c2, g = mixture(max(oxidizer, 0.0) / m, curve, start, count)
    p = g * m * gamma_squared(g) * c2 / volume
    return p * max(p / SUPPRESSED_ABOVE, 1.0) ** SUPPRESSION + p_amb
