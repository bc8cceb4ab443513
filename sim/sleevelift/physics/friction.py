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
def running_forces(drops, factors, seals):
    """Running friction of all seals, N: `drops` the pressures across post, rod and piston seal Pa, each times its factor, -."""
    total = 0.0
    for i in range(3):
        seal = seals[i]
        total += factors[i] * running_force(seal.diameter, seal.squeeze_friction, seal.pressure_coefficient, seal.cord, drops[i])
    return total


@bare_kernel
def running_slopes(drops, seals):
    """Derivatives of `running_forces` by the pressures across post, rod and piston seal, N/Pa, factors 1."""
    post, rod, piston = seals[0], seals[1], seals[2]
    return (
        running_slope(post.diameter, post.pressure_coefficient, post.cord, drops[0]),
        running_slope(rod.diameter, rod.pressure_coefficient, rod.cord, drops[1]),
        running_slope(piston.diameter, piston.pressure_coefficient, piston.cord, drops[2]),
    )


@bare_kernel
def sliding_force(run, ratio, stribeck_velocity, viscous, speed):
    """Friction of a moving sleeve, N, >= 0, opposing the motion; run N, speed m/s."""
    v = abs(speed)
    if stribeck_velocity > 0.0:
        s = v / stribeck_velocity
        return run * (1.0 + (ratio - 1.0) * exp(-s * s)) + viscous * v
    return run + viscous * v


@bare_kernel
def sliding_slope(run, ratio, stribeck_velocity, viscous, speed):
    """Derivative of `sliding_force` by the magnitude of the speed, N s/m."""
    v = abs(speed)
    if stribeck_velocity > 0.0:
        s = v / stribeck_velocity
        return viscous - run * (ratio - 1.0) * 2.0 * s / stribeck_velocity * exp(-s * s)
    return viscous


@bare_kernel
def breakaway_force(run, ratio):
    """Force that sets a resting sleeve in motion, N."""
    return ratio * run


@bare_kernel
def sticks(net_force, breakaway):
    """Whether a sleeve whose speed has just reached zero stays there."""
    return abs(net_force) <= breakaway
