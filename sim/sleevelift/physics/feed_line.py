"""Feed line and manifold: a rigid liquid column with one lumped compliance.

    p_inlet(t) ==[ L, A, K ]==> w ==( V, p_m )==> w_injector

    (L/A) dw/dt = p_inlet - p_m - K w|w|
    dz/dt = (w - w_injector)/rho - A_swept v        z the liquid's compressed volume

    no trapped gas: p_m = p_vapour + B z/V for z > 0, else p_vapour with a cavity of volume -z
    trapped gas:    z = V (p_m - p_0)/B + V_gas0 (1 - (p_0/p_m)^(1/n))

V is manifold plus line, so that a sudden stop gives at most rho a dv. Valid for closing times long against the line's wave
time; wave shape is left out. Source: rigid-column theory, Wylie and Streeter, Fluid Transients, 1978.
"""

from math import exp, log, sqrt

from sleevelift.jit import bare_kernel

NEWTON_LIMIT = 60
NEWTON_TOLERANCE = 1e-14
"""-. Relative change of pressure at which the trapped-gas inversion stops (near rounding, so that it is smooth)."""


@bare_kernel
def manifold_pressure(z, cavity, stiffness, vapour_pressure):
    """Manifold pressure, Pa, without trapped gas, of stiffness B/V Pa/m3.

    `cavity` (0 or 1) is the discrete state, so the law is smooth inside a step.
    """
    if cavity != 0:
        return vapour_pressure
    return vapour_pressure + stiffness * z


@bare_kernel
def trapped_gas_pressure(z, volume, bulk_modulus, gas_volume, exponent, p_0):
    """Manifold pressure, Pa, with a trapped pocket: the root of z(p_m), unique because z rises with p_m.

    Newton in log p from the better of the stiff (liquid) and soft (gas) guesses.
    """
    guess = p_0 + bulk_modulus * z / volume
    share = 1.0 - z / gas_volume
    if share > 0.0:
        soft = p_0 * exp(-exponent * log(share))
        guess = soft if guess < soft or guess <= 0.0 else min(guess, soft) if z > 0 else soft
    if not guess > 0.0:
        guess = p_0
    q = log(guess / p_0)
    for _ in range(NEWTON_LIMIT):
        p = p_0 * exp(q)
        pocket = gas_volume * exp(-q / exponent)
        f = volume * (p - p_0) / bulk_modulus + gas_volume - pocket - z
        slope = volume * p / bulk_modulus + pocket / exponent
        step = f / slope
        step = min(max(step, -2.0), 2.0)
        q -= step
        if abs(step) < NEWTON_TOLERANCE:
            break
    return p_0 * exp(q)


@bare_kernel
def trapped_gas_stiffness(p, volume, bulk_modulus, gas_volume, exponent, p_0):
    """Derivative of `trapped_gas_pressure` by z, Pa/m3, at the pressure it gives: 1/(V/B + V_gas0 (p_0/p)^(1/n)/(n p))."""
    return 1.0 / (volume / bulk_modulus + gas_volume * exp(-log(p / p_0) / exponent) / (exponent * p))


@bare_kernel
def compressed_volume(p, volume, bulk_modulus, vapour_pressure, gas_volume, exponent, p_0):
    """z, m3, at manifold pressure p, Pa (gas_volume 0: no trapped gas)."""
    if gas_volume > 0.0:
        return volume * (p - p_0) / bulk_modulus + gas_volume * (1.0 - exp(-log(p / p_0) / exponent))
    return volume * (p - vapour_pressure) / bulk_modulus


@bare_kernel
def compression_energy(z, p, volume, bulk_modulus, vapour_pressure, gas_volume, exponent, p_0):
    """Energy stored in the manifold from z = 0 (or from p_0 with trapped gas), J: integral of p_m dz.

    Liquid: p_v z + B z^2/(2 V) (a cavity: p_v z). Pocket: p_0 V_g0/(n-1) ((V_g0/V_g)^(n-1) - 1), n = 1 by its limit.
    """
    if gas_volume > 0.0:
        compressed = volume * (p - p_0) / bulk_modulus
        liquid = p_0 * compressed + 0.5 * bulk_modulus / volume * compressed * compressed
        q = log(p / p_0)
        if abs(exponent - 1.0) < 1e-9:
            return liquid + p_0 * gas_volume * q
        return liquid + p_0 * gas_volume / (exponent - 1.0) * (exp(q * (exponent - 1.0) / exponent) - 1.0)
    if z <= 0.0:
        return vapour_pressure * z
    return vapour_pressure * z + 0.5 * bulk_modulus / volume * z * z


@bare_kernel
def line_acceleration(p_inlet, p_m, loss, flow, area_per_length):
    """dw/dt, kg/s2: (p_inlet - p_m - K w|w|) A/L; K Pa s2/kg2, area_per_length m."""
    return (p_inlet - p_m - loss * flow * abs(flow)) * area_per_length


def sudden_stop_rise(rho: float, bulk_modulus: float, speed: float) -> float:
    """Pressure rise, Pa, of a liquid column of `speed`, m/s, stopped at once in a rigid pipe: rho a dv, a = sqrt(B/rho)
    (Joukowsky; Wylie and Streeter, Fluid Transients, 1978, ch. 1)."""
    return sqrt(rho * bulk_modulus) * speed


def critical_damping(period: float) -> float:
    """Rate, 1/s, at which a flow must be slowed (dw/dt = ... - rate w) for a line of this free period, s, to just not ring.

    Twice the angular frequency: z'' + rate z' + omega^2 z = 0 has a double root at rate = 2 omega.
    """
    return 4.0 * 3.141592653589793 / period


def ringing_period(inertance: float, volume: float, bulk_modulus: float, rho: float) -> float:
    """Period of the line's free oscillation against the manifold, s: 2 pi sqrt(I rho V/B)."""
    return 2.0 * 3.141592653589793 * sqrt(inertance * rho * volume / bulk_modulus)
