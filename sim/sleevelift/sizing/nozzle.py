"""Thrust coefficient and area ratio of an ideal nozzle.

    F = C_F p_c A_t;   C_F and areas are ratios to the throat, pressures ratios to the chamber's

Assumptions: perfect gas of one exponent, isentropic, no friction, axial exit, full flow (no separation). Validity: real nozzles
reach 0.92 to 0.98 of it. Source: Sutton and Biblarz, Rocket Propulsion Elements, chapter 3; NACA Report 1135 (1953).
"""

import math

from sleevelift.sizing.chamber import choked_flow_factor


def area_ratio(pressure_ratio: float, exponent: float) -> float:
    """A_e/A_t (-) of the supersonic exit at p_e/p_c = `pressure_ratio` (-, below critical), isentropic exponent g (-).

    Gamma/((p_e/p_c)^(1/g) sqrt(2 g/(g-1) (1 - (p_e/p_c)^((g-1)/g)))).

    >>> round(area_ratio(0.1278, 1.4), 3)
    1.688
    """
    speed = math.sqrt(2.0 * exponent / (exponent - 1.0) * (1.0 - pressure_ratio ** ((exponent - 1.0) / exponent)))
    return choked_flow_factor(exponent) / (pressure_ratio ** (1.0 / exponent) * speed)


def exit_pressure_ratio(ratio: float, exponent: float) -> float:
    """p_e/p_c (-) of the supersonic branch at A_e/A_t = `ratio` (-, at least 1): the inverse of `area_ratio`."""
    critical = (2.0 / (exponent + 1.0)) ** (exponent / (exponent - 1.0))
    low, high = math.log(1e-9), math.log(critical)
    for _ in range(100):
        middle = 0.5 * (low + high)
        if area_ratio(math.exp(middle), exponent) > ratio:
            low = middle
        else:
            high = middle
    return math.exp(0.5 * (low + high))


def thrust_coefficient(exponent: float, exit_ratio: float, ambient_ratio: float) -> tuple[float, float]:
    """(C_F, A_e/A_t), both -, of an exit at p_e/p_c = `exit_ratio` against p_a/p_c = `ambient_ratio`.

    C_F = Gamma sqrt(2 g/(g-1) (1 - (p_e/p_c)^((g-1)/g))) + (p_e - p_a)/p_c A_e/A_t.
    """
    opened = area_ratio(exit_ratio, exponent)
    speed = math.sqrt(2.0 * exponent / (exponent - 1.0) * (1.0 - exit_ratio ** ((exponent - 1.0) / exponent)))
    return choked_flow_factor(exponent) * speed + (exit_ratio - ambient_ratio) * opened, opened
