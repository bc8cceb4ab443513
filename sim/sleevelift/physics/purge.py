"""Inert gas from a set pressure through an orifice and a check valve, while it is switched on.

    set pressure, temperature --)(--|>|-- p_c          flow positive into what is purged; nothing flows back

The orifice's law is that of `restriction`, from a state ahead of it that stays as it is: pipes, regulator and the valve that
switches it take nothing and act at once. The enthalpy of the gas counts from 0 K, as of a perfect gas of its heat capacity:

    h = c_p T + (h(p, T) - h(0, T)),   c_p = gamma R/(gamma - 1) at low pressure

which a throttled gas keeps. Source: first law; the tables of the gas.
"""

from sleevelift.jit import bare_kernel
from sleevelift.physics.restriction import ORIFICE_LAW, flow_slopes


@bare_kernel
def switched_on(t, instants, start, count):
    """1 where what is off at first and switched by turns at `count` instants from `start` in a row, s, is on from t on; else 0."""
    on = 0
    for i in range(start, start + count):
        if instants[i] <= t:
            on = 1 - on
    return on


@bare_kernel
def check_valve_flow(area, flux, r_star, p, rho, n, back, laminar_above):
    """(flow kg/s from a state ahead of an orifice with check valve against a pressure `back`, Pa; its derivative by that).

    area: Cd A m2; flux, r_star: of `restriction.choked_flux` ahead of it; p Pa, rho kg/m3, n -. Zeros where `back` is as high.
    """
    if back >= p or area <= 0.0:
        return 0.0, 0.0
    found = flow_slopes(area, ORIFICE_LAW, 0.5, flux, r_star, p, rho, n, back, laminar_above)
    return found[0], found[4]


def enthalpy_from_zero(gamma: float, rt: float, h: float, h_low: float) -> float:
    """Enthalpy, J/kg, counted from 0 K: of a gas of exponent gamma and R T = rt, J/kg, at low pressure; its tabled enthalpy at its
    pressure, h, and at low pressure, h_low, J/kg.

    >>> round(enthalpy_from_zero(1.4, 87000.0, 10.0, 10.0))
    304500
    """
    return gamma / (gamma - 1.0) * rt + (h - h_low)
