"""Liquid in the lift chamber: the room it takes from the gas, and which of the two leaves by what opening.

    port high: gas leaves first            port low: liquid leaves first
      ______________                         ______________
     |   gas        =>  port                |   gas        |
     |______________|                       |______________|
     |~~~ liquid ~~~|  <- rod seal          |~~~ liquid ~~~=>  port

V_q is the liquid's volume at ambient pressure. It yields to pressure by its own bulk modulus B, so that the last gas, a cushion
under a falling sleeve, shares the squeeze with it:

    V_gas = V - V_q (1 - (p - p_amb)/B)  with  p ~ m R T_q/V_gas   ->   V_gas = (d + sqrt(d^2 + 4 (V_q/B) m R T_q))/2,
    d = V - V_q (1 + p_amb/B);   stored in the liquid: (V_q/B) (p^2 - p_amb^2)/2

The compliance takes the gas at the liquid's temperature T_q (closed form; exact for a perfect gas that has it, which the last gas
nearly has: it is wetted). Overfull (d < 0) the pressure is the liquid's alone, B (V_q - V)/V_q. Shares are linear between two
fillings. Assumptions: liquid and gas apart, the chamber level, no foam. Source: volumes and compressibility as in any textbook of
hydraulics; the fillings, and the time in which the last gas takes the liquid's temperature, are guesses.
"""

from math import sqrt

from sleevelift.jit import bare_kernel

HIGH_FROM, SHARE_WIDTH = 0.90, 0.05
"""-. A high port, and what else sits high, begins to pass liquid at this filling; nothing else this much later (guess)."""
LOW_WIDTH = 0.05
"""-. A low port, and the rod seal, pass nothing but liquid from this share of the dead volume on (guess)."""
WETTED_TIME = 1e-4
"""s. Time in which gas squeezed against liquid takes its temperature: heat goes 15 um into nitrogen of 80 bar in it (guess)."""
HEAT_CAPACITY = 2.5
"""-. c_v of the gas over R, about, for the size of that heat flow."""


@bare_kernel
def share(value, start, width):
    """clip((value - start)/width, 0, 1)."""
    return min(max((value - start) / width, 0.0), 1.0)


@bare_kernel
def share_slope(value, start, width):
    """Derivative of `share` by the value."""
    return 1.0 / width if start < value < start + width else 0.0


@bare_kernel
def high_share(liquid, total):
    """Share of a high opening that passes liquid, - (m3 of liquid, m3 of the chamber)."""
    return share(liquid / total, HIGH_FROM, SHARE_WIDTH)


@bare_kernel
def high_share_slopes(liquid, total):
    """Derivatives of `high_share` by liquid and by total, 1/m3."""
    slope = share_slope(liquid / total, HIGH_FROM, SHARE_WIDTH)
    return slope / total, -slope * liquid / (total * total)


@bare_kernel
def low_share(liquid, dead_volume):
    """Share of a low opening that passes liquid, -."""
    return share(liquid, 0.0, LOW_WIDTH * dead_volume)


@bare_kernel
def low_share_slope(liquid, dead_volume):
    """Derivative of `low_share` by the liquid, 1/m3."""
    return share_slope(liquid, 0.0, LOW_WIDTH * dead_volume)


@bare_kernel
def gas_room(total, liquid, bulk, ambient, content):
    """(V_gas m3, pressure p Pa that the liquid yields to, energy stored in the liquid J).

    total, liquid m3; bulk modulus and ambient Pa; content m R T_q of the gas, J.
    """
    c = liquid / bulk
    d = total - liquid - c * ambient
    root = sqrt(d * d + 4.0 * c * content)
    room = 0.5 * (d + root) if d > 0.0 else 2.0 * c * content / (root - d)
    p = content / room
    return room, p, 0.5 * c * (p * p - ambient * ambient)


@bare_kernel
def gas_room_slopes(total, liquid, bulk, ambient, content):
    """Derivatives of `gas_room`'s volume by (total, liquid, content), then those of its energy."""
    room, p, stored = gas_room(total, liquid, bulk, ambient, content)
    c = liquid / bulk
    root = 2.0 * room - (total - liquid - c * ambient)
    by_total = room / root
    by_liquid = (content / bulk - room * (1.0 + ambient / bulk)) / root
    by_content = c / root
    squeeze = -c * p * p / room
    energy_by_liquid = 0.5 * (p * p - ambient * ambient) / bulk + squeeze * by_liquid
    return by_total, by_liquid, by_content, squeeze * by_total, energy_by_liquid, c * p / room + squeeze * by_content


@bare_kernel
def wetting(mass, gas_constant, wetted):
    """Heat the last gas takes from the liquid, W/K: m c_v/time x wetted share (that of a high opening)."""
    return wetted * mass * HEAT_CAPACITY * gas_constant / WETTED_TIME
