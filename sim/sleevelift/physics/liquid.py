"""Liquid flow through a sharp restriction, either direction, with a root that stays finite at zero.

    w = Cd A sqrt(2 rho) dp/(dp^2 + dp_0^2)^(1/4)

dp_0 = 1 kPa joins the root with a straight line near zero (relative error (dp_0/dp)^2/4 elsewhere). Source: sharp-edged
orifice, Bernoulli; the joint is a numerical convenience.
"""

from math import sqrt

from sleevelift.jit import bare_kernel

JOINT_PRESSURE = 1e3
"""Pa. dp_0: below it the orifice law turns straight."""


@bare_kernel
def orifice_liquid_flow(effective_area, rho, dp):
    """Mass flow, kg/s, signed with dp; effective_area = Cd A m2, rho kg/m3, dp Pa."""
    return effective_area * dp * sqrt(2.0 * rho / sqrt(dp * dp + JOINT_PRESSURE * JOINT_PRESSURE))


@bare_kernel
def orifice_liquid_drop(effective_area, rho, flow):
    """The dp, Pa, signed, at which `orifice_liquid_flow` passes this flow, kg/s.

    dp^2 = q (q + sqrt(q^2 + 4 dp_0^2))/2 with q = w^2/(2 rho A^2), the loss without the joint.
    """
    q = flow * flow / (2.0 * rho * effective_area * effective_area)
    square = 0.5 * q * (q + sqrt(q * q + 4.0 * JOINT_PRESSURE * JOINT_PRESSURE))
    return sqrt(square) if flow >= 0.0 else -sqrt(square)


@bare_kernel
def orifice_liquid_slope(effective_area, rho, dp):
    """Derivative of `orifice_liquid_flow` by dp, kg/s/Pa: Cd A sqrt(2 rho) (dp^2/2 + dp_0^2)/(dp^2 + dp_0^2)^(5/4)."""
    joint = JOINT_PRESSURE * JOINT_PRESSURE
    square = dp * dp + joint
    return effective_area * sqrt(2.0 * rho / sqrt(square)) * (0.5 * dp * dp + joint) / square
