"""Dry friction of the three sliding seals: set-valued, never smoothed.

    running force of one seal   F_run = pi d (squeeze_friction + f_pressure * cord * |dp across it|)
    breakaway                   F_b = ratio * sum F_run
    sliding                     F = sum F_run (1 + (ratio - 1) exp(-(v/v_s)^2)) + c |v|, opposing the motion

At rest friction is whatever keeps the sleeve at rest, up to breakaway. v_s = 0: running force from the first movement.
Source: falling curve, Armstrong-Helouvry, Dupont and Canudas de Wit, Automatica 30 (1994) 1083; the running force's form is
the seal trade's (a part from squeeze, a part from pressure).
"""

from math import exp, pi

from sleevelift.jit import bare_kernel


@bare_kernel
def running_force(diameter, squeeze, pressure_coefficient, cord, dp):
    """Running friction of one seal, N: diameter m, squeeze N/m, cord m, dp Pa (either sign)."""
    return pi * diameter * (squeeze + pressure_coefficient * cord * abs(dp))


@bare_kernel
def running_slope(diameter, pressure_coefficient, cord, dp):
    """Derivative of `running_force` by dp, N/Pa."""
    slope = pi * diameter * pressure_coefficient * cord
    return slope if dp >= 0.0 else -slope


@bare_kernel
def sliding_force(run, ratio, stribeck_velocity, viscous, speed):
    """Friction of a moving sleeve, N, >= 0, opposing the motion; run N, speed m/s."""
    v = abs(speed)
    if stribeck_velocity > 0.0:
        s = v / stribeck_velocity
        return run * (1.0 + (ratio - 1.0) * exp(-s * s)) + viscous * v
    return run + viscous * v


@bare_kernel
def breakaway_force(run, ratio):
    """Force that sets a resting sleeve in motion, N."""
    return ratio * run


@bare_kernel
def sticks(net_force, breakaway):
    """Whether a sleeve whose speed has just reached zero stays there."""
    return abs(net_force) <= breakaway
