"""Gas flow through a restriction, from an upstream state to a downstream pressure.

    upstream (p1, rho1, n1)  ---)(---  p2        flow positive from 1 to 2, one direction per function

Every restriction is held as an effective area `Cd A` (m2): an orifice directly, a component measured by ISO 6358-1 through
the orifice of the same choked flow in air. Then any gas at any pressure follows from Psi(n) sqrt(p1 rho1), with n = rho c^2/p
the real isentropic exponent of the upstream state.

Assumptions: isentropic to the throat with a constant exponent n. In real gas this is an approximation: against the exact
critical flow +0.1 % for nitrogen at 10 bar, +1.2 % for air at 100 bar, +2.6 % for nitrogen at 200 bar.
Near equal pressures the infinite slope of the root is replaced by a straight line from the ratio `laminar_above` to 1.

Sources: isentropic nozzle, any gas-dynamics text (Saint-Venant and Wantzel); ISO 6358-1:2013 for C, b, m and for series
(annex); reference atmosphere ISO 8778.
"""

from functools import cache
from math import sqrt

from sleevelift.constants import AIR_EXPONENT, AIR_GAS_CONSTANT, ANR_DENSITY, ANR_TEMPERATURE
from sleevelift.jit import bare_kernel, inline_kernel
from sleevelift.jit.packed import all_of, any_of, choose, exponential, least, logarithm, most, root, size

ORIFICE_LAW = -1.0
"""Value of `critical_ratio` that selects the isentropic orifice instead of the ISO 6358 ellipse."""

LEAST_DISTANCE_FROM_ONE = 1e-4
"""-. The exponent n is kept this far from 1, where the formulas have a removable singularity (error below 1e-4 of the flow)."""

RATIO_0, RATIO_1, RATIO_2, RATIO_3 = 0.6495190528384011, 0.04895044800943623, 0.007020694042472156, 0.0012743588552869957
RATIO_4, RATIO_5, RATIO_6, RATIO_7 = 0.00026376575882799166, 5.943409446834424e-05, 1.4215873569022868e-05, 3.5589274013003826e-06
RATIO_8, RATIO_9, RATIO_10, RATIO_11 = 9.212356583179003e-07, 2.3678653604044805e-07, 6.374979134672057e-08, 2.4063320425098947e-08
RATIO_12 = 6.950795797585967e-09
"""-. The polynomial of `critical_density_ratio` in k = 4 s - 1, from `scripts/questions/critical_density.py`."""

LOG_0, LOG_1, LOG_2, LOG_3 = 1.0000000000000007, 0.33333333333272275, 0.20000000013397556, 0.14285713155900348
LOG_4, LOG_5, LOG_6, LOG_7 = 0.1111115964728926, 0.09089699546556611, 0.07710969818448787, 0.06483620396892786
LOG_8, LOG_9, LOG_10 = 0.07016099247456269, 0.010477930166142228, 0.12882449930320336
"""-. atanh(t)/t by powers of t^2, t = (1-r)/(1+r), for r from 0.4 to 1, from `scripts/questions/density_ratio.py`."""

EXP_0, EXP_1, EXP_2, EXP_3 = 0.6065306597126332, 0.6065306597126332, 0.3032653298563641, 0.10108844328546347
EXP_4, EXP_5, EXP_6, EXP_7 = 0.02527211081934411, 0.005054422164468519, 0.0008424037281201893, 0.00012034337864861302
EXP_8, EXP_9, EXP_10, EXP_11 = 1.5042658196762214e-05, 1.6714657249394815e-06, 1.6809208318591124e-07, 1.5180557966232304e-08
"""-. exp(v) by powers of v + 1/2, for v from -1 to 0, from the same script."""

LEAST_RATIO, LEAST_EXPONENT = 0.4, 0.95
"""-. Pressure ratio and exponent from which `isentropic_density_ratio` takes these polynomials."""

SLOPE_STEP = 1e-7
"""-. Step of the differences in `flow_slopes`, relative, of the exponent: near the root of the rounding error."""


@inline_kernel
def critical_density_ratio(n, z):
    """Density at the throat over density upstream of choked flow, -: z^(1/(n-1)) with z = 2/(n+1).

    For n from 0.995 to 3 its Chebyshev polynomial of degree 12 in s = 1 - z = (n-1)/(n+1), within 1e-12 (below n = 1, where it is
    extrapolated, 3e-12): a third of the time of a logarithm and an exponential, and smooth at n = 1.
    """
    k = 3.0 - 4.0 * z
    k2 = k * k
    k4 = k2 * k2
    low = (RATIO_0 + k * RATIO_1) + k2 * (RATIO_2 + k * RATIO_3)
    middle = (RATIO_4 + k * RATIO_5) + k2 * (RATIO_6 + k * RATIO_7)
    high = (RATIO_8 + k * RATIO_9) + k2 * (RATIO_10 + k * RATIO_11)
    ratio = low + k4 * (middle + k4 * (high + k4 * RATIO_12))
    inside = (k >= -1.01) & (k <= 1.0)
    if all_of(inside):
        return ratio
    return choose(inside, ratio, exponential(logarithm(z) / choose(inside, 1.0, n - 1.0)))


@inline_kernel
def choked_flux(p, rho, n):
    """Choked mass flux Psi(n) sqrt(p rho), kg/(s m2), and the critical pressure ratio r*, -.

    Psi(n) = sqrt(n) (2/(n+1))^((n+1)/(2(n-1))), r* = (2/(n+1))^(n/(n-1)); p Pa, rho kg/m3, n - (> 0). With z = 2/(n+1) and
    e = z^(1/(n-1)) these are Psi = e sqrt(n z) and r* = e z.
    """
    z = 2.0 / (n + 1.0)
    e = critical_density_ratio(n, z)
    return e * root(n * z * p * rho), e * z


@inline_kernel
def isentropic_density_ratio(r, n):
    """(r^(1/n), ln r): density over density upstream at pressure ratio r, -.

    By ln r = -2 atanh((1-r)/(1+r)) and two polynomials where subsonic flows lie (to 1e-14), which calls no library.
    """
    near = (r >= LEAST_RATIO) & (n > LEAST_EXPONENT)
    if not any_of(near):
        log_r = logarithm(r)
        return exponential(log_r / n), log_r
    part = 1.0 / ((1.0 + r) * n)
    t = (1.0 - r) * (n * part)
    q = t * t
    q2 = q * q
    q4 = q2 * q2
    low = (LOG_0 + q * LOG_1) + q2 * (LOG_2 + q * LOG_3)
    middle = (LOG_4 + q * LOG_5) + q2 * (LOG_6 + q * LOG_7)
    log_r = -2.0 * t * (low + q4 * (middle + q4 * ((LOG_8 + q * LOG_9) + q2 * LOG_10)))
    d = log_r * ((1.0 + r) * part) + 0.5
    d2 = d * d
    d4 = d2 * d2
    low = (EXP_0 + d * EXP_1) + d2 * (EXP_2 + d * EXP_3)
    middle = (EXP_4 + d * EXP_5) + d2 * (EXP_6 + d * EXP_7)
    high = (EXP_8 + d * EXP_9) + d2 * (EXP_10 + d * EXP_11)
    ratio = low + d4 * (middle + d4 * high)
    if not all_of(near):
        general = logarithm(r)
        ratio = choose(near, ratio, exponential(general / n))
        log_r = choose(near, log_r, general)
    return ratio, log_r


@inline_kernel
def subsonic_fraction(r, n, r_star):
    """Flow over choked flow of the isentropic orifice at pressure ratio r, - (1 for r <= r*).

    sqrt(2/(n-1) (r^(2/n) - r^((n+1)/n))) / (2/(n+1))^((n+1)/(2(n-1))). With a = r^(1/n) and, at r*, e = r* (n+1)/2, this
    is sqrt((a^2 - a r)/(e^2 (n-1)/(n+1))).
    """
    choked = r <= r_star
    if all_of(choked):
        return r * 0.0 + 1.0
    n = choose(size(n - 1.0) < LEAST_DISTANCE_FROM_ONE, 1.0 + LEAST_DISTANCE_FROM_ONE, n)
    at = most(r, r_star)
    a, log_r = isentropic_density_ratio(at, n)
    e = 0.5 * (n + 1.0) * r_star
    return choose(choked, 1.0, root((a * a - a * at) * (n + 1.0) / (e * e * (n - 1.0))))


@inline_kernel
def ellipse_fraction(r, b, m):
    """Flow over choked flow of an ISO 6358-1 component at pressure ratio r, -: (1 - ((r-b)/(1-b))^2)^m."""
    s = most((r - b) / (1.0 - b), 0.0)
    left = most(1.0 - s * s, 0.0)
    fraction = root(left)
    other = (m < 0.5) | (m > 0.5)
    if any_of(other):
        fraction = choose(other & (left > 0.0), exponential(m * logarithm(choose(left > 0.0, left, 1.0))), fraction)
    return fraction


@inline_kernel
def flow_fraction(r, n, r_star, b, m, laminar_above):
    """Flow over choked flow, -, by the orifice law (b < 0) or the ellipse, straight from `laminar_above` to 0 at r = 1."""
    at = least(r, laminar_above)
    orifice = b < 0.0
    fraction = at
    if any_of(orifice):
        fraction = subsonic_fraction(at, n, r_star)
    if not all_of(orifice):
        fraction = choose(orifice, fraction, ellipse_fraction(at, b, m))
    straight = r > laminar_above
    if any_of(straight):
        fraction = choose(straight, fraction * ((1.0 - least(r, 1.0)) / (1.0 - laminar_above)), fraction)
    return fraction


@bare_kernel
def restriction_flow(area, b, m, flux, r_star, p1, n1, p2, laminar_above):
    """Mass flow, kg/s, from an upstream state with `choked_flux` (flux, r_star) to p2 <= p1; 0 for p2 >= p1."""
    if p2 >= p1 or area <= 0.0:
        return 0.0
    return area * flux * flow_fraction(p2 / p1, n1, r_star, b, m, laminar_above)


@inline_kernel
def _orifice_slopes(r, n, r_star, n_later, star_later):
    """(`subsonic_fraction` F, dF/dr, dF/dn) at r > r*; the factor of n alone is differenced towards n_later.

    F^2 = K (a^2 - a r), a = r^(1/n), K = (n+1)/(e^2 (n-1)), e = r* (n+1)/2.
    """
    kept = choose(size(n - 1.0) < LEAST_DISTANCE_FROM_ONE, 1.0 + LEAST_DISTANCE_FROM_ONE, n)
    n_later = n_later + (kept - n)
    n = kept
    a, log_r = isentropic_density_ratio(r, n)
    e = 0.5 * (n + 1.0) * r_star
    e_later = 0.5 * (n_later + 1.0) * star_later
    K = (n + 1.0) / (e * e * (n - 1.0))
    K_later = (n_later + 1.0) / (e_later * e_later * (n_later - 1.0))
    fraction = root(K * a * (a - r))
    by_r = K * a * ((2.0 * a - r) / (n * r) - 1.0) / (2.0 * fraction)
    by_n = 0.5 * fraction * ((K_later - K) / (K * (n_later - n)) - (2.0 * a - r) * log_r / (n * n * (a - r)))
    return fraction, by_r, by_n


@inline_kernel
def fraction_slopes(r, n, r_star, n_later, star_later, b, m, laminar_above):
    """(`flow_fraction` F, dF/dr, dF/dn) for r <= 1; r* at n_later a little above n comes as star_later."""
    at = least(r, laminar_above)
    orifice = b < 0.0
    limit = choose(orifice, r_star, b)
    choked = at <= limit
    none = 0.0 * r
    if all_of(choked):
        return none + 1.0, none, none
    at = most(at, limit)
    fraction, by_r, by_n = at, at, none
    if any_of(orifice):
        fraction, by_r, by_n = _orifice_slopes(at, n, r_star, n_later, star_later)
    if not all_of(orifice):
        ellipse = ellipse_fraction(at, b, m)
        s = (at - b) / (1.0 - b)
        fraction = choose(orifice, fraction, ellipse)
        by_r = choose(orifice, by_r, -2.0 * m * s / (1.0 - b) * ellipse / (1.0 - s * s))
        by_n = choose(orifice, by_n, 0.0)
    straight = r > laminar_above
    if any_of(straight):
        per = 1.0 / (1.0 - laminar_above)
        share = (1.0 - r) * per
        by_r = choose(straight, -fraction * per, by_r)
        by_n = choose(straight, by_n * share, by_n)
        fraction = choose(straight, fraction * share, fraction)
    return choose(choked, 1.0, fraction), choose(choked, 0.0, by_r), choose(choked, 0.0, by_n)


@inline_kernel
def slopes_of_flow(area, b, m, flux, r_star, p1, rho1, n1, p2, laminar_above):
    """`flow_slopes` where p2 <= p1."""
    r = p2 / p1
    step = SLOPE_STEP * n1
    flux_later, star_later = choked_flux(p1, rho1, n1 + step)
    fraction, by_r, by_n = fraction_slopes(r, n1, r_star, n1 + step, star_later, b, m, laminar_above)
    by_n = (flux_later - flux) / step * fraction + flux * by_n
    by_p2 = area * flux * by_r / p1
    half = 0.5 * area * flux * fraction
    return 2.0 * half, half / p1 - by_p2 * r, half / rho1, area * by_n, by_p2


@bare_kernel
def flow_slopes(area, b, m, flux, r_star, p1, rho1, n1, p2, laminar_above):
    """(`restriction_flow` kg/s, its derivatives by p1, rho1, n1 and p2), SI; zeros for p2 > p1.

    What depends on the exponent alone is differenced over SLOPE_STEP. At equal pressures, where nothing flows, the slopes
    are those of a flow about to begin.
    """
    if p2 > p1 or area <= 0.0:
        return 0.0, 0.0, 0.0, 0.0, 0.0
    return slopes_of_flow(area, b, m, flux, r_star, p1, rho1, n1, p2, laminar_above)


@bare_kernel
def orifice_flow(area, p1, rho1, n1, p2, laminar_above):
    """Mass flow of the isentropic orifice, kg/s: area = Cd A m2, p Pa, rho1 kg/m3, n1 -."""
    flux, r_star = choked_flux(p1, rho1, n1)
    return restriction_flow(area, -1.0, 0.5, flux, r_star, p1, n1, p2, laminar_above)


@bare_kernel
def component_flow(area, b, m, p1, rho1, n1, p2, laminar_above):
    """Mass flow of an ISO 6358-1 component, kg/s: area = `area_of_conductance(C)` m2, critical ratio b, index m."""
    flux, r_star = choked_flux(p1, rho1, n1)
    return restriction_flow(area, b, m, flux, r_star, p1, n1, p2, laminar_above)


@bare_kernel
def psi(n):
    """Psi(n) = sqrt(n) (2/(n+1))^((n+1)/(2(n-1))), -: choked flux over sqrt(p rho)."""
    return choked_flux(1.0, 1.0, n)[0]


@cache
def _psi_of_air() -> float:
    """Psi of air, -: what a conductance is compared with."""
    return float(psi(AIR_EXPONENT))


def area_of_conductance(conductance: float) -> float:
    """Effective area Cd A, m2, of the orifice with the choked flow of sonic conductance C, m3/(s Pa).

    Cd A = C rho_0 sqrt(R_air T_0)/Psi(1.4): C is measured with air (ISO 6358-1, reference ISO 8778).

    >>> round(area_of_conductance(1.9919e-9) * 1e6, 3)
    1.0
    """
    return conductance * ANR_DENSITY * sqrt(AIR_GAS_CONSTANT * ANR_TEMPERATURE) / _psi_of_air()


def conductance_of_area(area: float) -> float:
    """Sonic conductance C, m3/(s Pa), of an effective area Cd A, m2; inverse of `area_of_conductance`."""
    return area * _psi_of_air() / (ANR_DENSITY * sqrt(AIR_GAS_CONSTANT * ANR_TEMPERATURE))


ORIFICE_CRITICAL_RATIO = 0.528
"""-. b of an isentropic orifice in air, used where one stands in a series."""

LEAST_CRITICAL_RATIO = 0.01
"""-. b = 0 counts as this in a series (the formula divides by b)."""


def series_component(c1: float, b1: float, c2: float, b2: float) -> tuple[float, float]:
    """Conductance C, m3/(s Pa), and critical ratio b, -, of component 1 (upstream) in series with 2.

    a = C1/(b1 C2), q = ((1-b1)/b1)^2; C = C1 if a <= 1, else C2 a (a b1 + (1-b1) sqrt(a^2 + q - 1))/(a^2 + q);
    b = 1 - C^2 ((1-b1)/C1^2 + (1-b2)/C2^2). C is exact for the ellipse law, the flow within 2.1 % (a scan over
    both components and all pressure ratios).
    """
    b1 = max(b1, LEAST_CRITICAL_RATIO)
    b2 = max(b2, LEAST_CRITICAL_RATIO)
    a = c1 / (b1 * c2)
    q = ((1.0 - b1) / b1) ** 2
    c = c1 if a <= 1.0 else c2 * a * (a * b1 + (1.0 - b1) * sqrt(a * a + q - 1.0)) / (a * a + q)
    return c, 1.0 - c * c * ((1.0 - b1) / c1**2 + (1.0 - b2) / c2**2)
