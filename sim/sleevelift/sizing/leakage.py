"""What a leak passes, whether it is a hole or a gap, and what a pressure-decay check says about it.

    inlet p_1 ---[ orifice of effective area A, or annular gap: diameter d, radial height c, length L ]--- outlet p_2

Flow from p_1 to p_2 is positive; all pressures absolute. Two pictures of one leak: a short **orifice** (w grows with
A and p_1) and a long **gap** (laminar, w grows with c^3 and p_1^2 - p_2^2). One reading of a gas fits both, and the two
then differ several-fold in the liquid they let through; readings at two pressures decide between them.

Assumptions: isothermal, steady at each instant, perfect gas with a compressibility Z, gap of even height (an eccentric
one passes 1 + 1.5 e^2 times as much). Validity: gap Knudsen number to about 0.1 (first-order slip); no gap passes more than
the choked orifice of its own cross-section. Sources: White, Fluid Mechanics (flow between parallel plates, annulus
unrolled); Karniadakis, Beskok and Aluru, Microflows and Nanoflows (slip, 1 + 6 Kn); ANSI/FCI 70-2 and IEC 60534-4.

scipy is imported in the functions that need it: every run loads this module for its remarks, and scipy takes half as long to load
as a run takes.
"""

import math
from collections.abc import Callable
from typing import NamedTuple

GAS_CONSTANT = 8.31446261815324
"""J/(mol K). CODATA 2018, exact."""

LEAST_GAP, GREATEST_GAP = 1e-9, 1e-3
"""m. Gaps that are looked for when a reading is turned into one."""

BUBBLE = 0.15e-6
"""m3. One bubble of the tube that leak classes count with: 0.15 ml/min is one bubble a minute. ANSI/FCI 70-2, memory."""


class Gas(NamedTuple):
    """A gas of a leak check."""

    molar_mass: float
    """kg/mol"""
    exponent: float
    """-, isentropic"""
    viscosity: float
    """Pa s"""
    compressibility: float = 1.0
    """-, Z at the check's pressure"""

    @property
    def specific_constant(self) -> float:
        """Z R, J/(kg K)."""
        return self.compressibility * GAS_CONSTANT / self.molar_mass


class Gap(NamedTuple):
    """An annular gap."""

    diameter: float
    """m"""
    height: float
    """m, radial"""
    length: float
    """m, along the flow"""
    eccentricity: float = 0.0
    """-, 0 to 1"""
    discharge_coefficient: float = 0.7
    """-, of the gap taken as an orifice (short gap; common practice, no source)"""


class GapFlow(NamedTuple):
    """What a gap passes of a gas, and by which law."""

    flow: float
    """kg/s"""
    knudsen: float
    """-, mean free path at mean pressure over the gap's height"""
    reynolds: float
    """-, 2 c u rho/mu"""
    choked: bool
    """whether the choked orifice of the gap's cross-section limits it"""


def choked_factor(exponent: float) -> float:
    """Psi (-): sqrt(n) (2/(n+1))^((n+1)/(2(n-1))), w = A Psi p/sqrt(R T).

    >>> round(choked_factor(1.4), 4)
    0.6847
    """
    return math.sqrt(exponent) * (2.0 / (exponent + 1.0)) ** ((exponent + 1.0) / (2.0 * (exponent - 1.0)))


def orifice_flow(area: float, inlet: float, outlet: float, temperature: float, gas: Gas) -> float:
    """Flow (kg/s) of a gas from `inlet` to `outlet` (Pa absolute, inlet the higher) through an effective area (m2), isentropic."""
    n, rt = gas.exponent, gas.specific_constant * temperature
    ratio = outlet / inlet
    if ratio >= 1.0:
        return 0.0
    if ratio <= (2.0 / (n + 1.0)) ** (n / (n - 1.0)):
        return area * choked_factor(n) * inlet / math.sqrt(rt)
    return area * inlet * math.sqrt(2.0 * n / (n - 1.0) / rt * (ratio ** (2.0 / n) - ratio ** ((n + 1.0) / n)))


def gap_flow(gap: Gap, inlet: float, outlet: float, temperature: float, gas: Gas) -> GapFlow:
    """Isothermal laminar flow of a gas through a gap with slip, at most the choked orifice of the same cross-section.

    w = pi d c^3 (1 + 1.5 e^2) (p_1^2 - p_2^2)/(24 mu L R T) (1 + 6 Kn), Kn = lambda/c at the mean pressure p_m,
    lambda = mu/p_m sqrt(pi R T/2). Pressures absolute in Pa, inlet the higher.
    """
    rt = gas.specific_constant * temperature
    mean = 0.5 * (inlet + outlet)
    knudsen = gas.viscosity / mean * math.sqrt(0.5 * math.pi * rt) / gap.height
    laminar = math.pi * gap.diameter * gap.height**3 * (1.0 + 1.5 * gap.eccentricity**2) * (inlet**2 - outlet**2)
    laminar *= (1.0 + 6.0 * knudsen) / (24.0 * gas.viscosity * gap.length * rt)
    section = math.pi * gap.diameter * gap.height
    most = gap.discharge_coefficient * section * choked_factor(gas.exponent) * inlet / math.sqrt(rt)
    flow = min(laminar, most)
    return GapFlow(flow, knudsen, 2.0 * flow / (math.pi * gap.diameter * gas.viscosity), laminar > most)


def liquid_gap_flow(gap: Gap, difference: float, density: float, viscosity: float) -> float:
    """Flow (kg/s) of a liquid through a gap, laminar and orifice loss in series, `difference` in Pa.

    12 mu L Q/(pi d c^3 (1 + 1.5 e^2)) + rho/2 (Q/(Cd pi d c))^2 = dp, the law of the lapped clearance of the slots.
    """
    if difference <= 0.0:
        return 0.0
    laminar = 12.0 * viscosity * gap.length / (math.pi * gap.diameter * gap.height**3 * (1.0 + 1.5 * gap.eccentricity**2))
    quadratic = 0.5 * density / (gap.discharge_coefficient * math.pi * gap.diameter * gap.height) ** 2
    return density * 2.0 * difference / (laminar + math.sqrt(laminar * laminar + 4.0 * quadratic * difference))


def liquid_area_of_gap(gap: Gap, difference: float, density: float, viscosity: float) -> float:
    """Effective area (m2) that passes the same liquid at this difference (Pa): w/sqrt(2 rho dp)."""
    return liquid_gap_flow(gap, difference, density, viscosity) / math.sqrt(2.0 * density * difference)


def decay_time(volume: float, start: float, end: float, flow: Callable[[float], float], temperature: float, gas: Gas) -> float:
    """Time (s) in which a volume (m3) falls from `start` to `end` (Pa absolute), isothermal: V/(Z R T) int dp/w(p).

    flow(p): kg/s out of the volume at p. inf where the flow vanishes on the way.
    """
    if flow(end) <= 0.0:
        return math.inf
    from scipy.integrate import quad

    integral = quad(lambda p: 1.0 / flow(p), end, start, limit=200)[0]
    return volume / (gas.specific_constant * temperature) * float(integral)


def pressure_after(
    volume: float, start: float, time: float, flow: Callable[[float], float], ambient: float, temperature: float, gas: Gas
) -> float:
    """Pressure (Pa absolute) a time (s) after `start`; the inverse of `decay_time`."""
    low = ambient * (1.0 + 1e-9)
    if start <= low or flow(start) <= 0.0 or decay_time(volume, start, low, flow, temperature, gas) <= time:
        return min(start, low) if start <= low or flow(start) > 0.0 else start
    from scipy.optimize import brentq

    return float(brentq(lambda p: decay_time(volume, start, p, flow, temperature, gas) - time, low, start, xtol=start * 1e-12))




class Reading(NamedTuple):
    """One pressure-decay reading of a closed volume."""

    start: float
    """Pa absolute"""
    end: float
    """Pa absolute"""
    time: float
    """s"""
    volume: float
    """m3, gauge and hoses included"""
    temperature: float = 293.15
    """K"""
    gauge_error: float = 0.0
    """Pa, repeatability of the gauge, +-"""
    temperature_error: float = 0.0
    """K, change of the gas's temperature between the readings that cannot be excluded, +- (1 K is 0.34 % of the pressure)"""


class Found(NamedTuple):
    """A value with the interval a reading leaves."""

    low: float
    value: float
    high: float


def fall_error(reading: Reading) -> float:
    """Error (Pa) of the fall: both gauge readings off in opposite ways, and the temperature's share p dT/T. Worst case."""
    return 2.0 * reading.gauge_error + reading.start * reading.temperature_error / reading.temperature


def orifice_of_reading(reading: Reading, outlet: float, gas: Gas) -> Found:
    """Effective area (m2) as an orifice that explains a reading, into `outlet` (Pa absolute), with its interval.

    The lower end is 0 where the fall is within its error; the area is linear in 1/time, so it needs no search.
    """

    def area(end: float) -> float:
        if end >= reading.start:
            return 0.0
        unit = decay_time(
            reading.volume,
            reading.start,
            end,
            lambda p: orifice_flow(1.0, p, outlet, reading.temperature, gas),
            reading.temperature,
            gas,
        )
        return unit / reading.time

    return _interval(reading, outlet, area)


def gap_of_reading(reading: Reading, outlet: float, gas: Gas, gap: Gap) -> Found:
    """Height (m) of a gap (diameter, length, eccentricity as in `gap`) that explains a reading, with its interval."""

    from scipy.optimize import brentq

    def height(end: float) -> float:
        if end >= reading.start:
            return 0.0

        def late(logarithm: float) -> float:
            trial = gap._replace(height=math.exp(logarithm))
            time = decay_time(
                reading.volume,
                reading.start,
                end,
                lambda p: gap_flow(trial, p, outlet, reading.temperature, gas).flow,
                reading.temperature,
                gas,
            )
            return math.log(time / reading.time)

        low, high = math.log(LEAST_GAP), math.log(GREATEST_GAP)
        if late(low) <= 0.0:
            return LEAST_GAP
        return math.exp(brentq(late, low, high, xtol=1e-9)) if late(high) < 0.0 else math.inf

    return _interval(reading, outlet, height)


def _interval(reading: Reading, outlet: float, value: Callable[[float], float]) -> Found:
    """A value at the reading's fall, and at the fall less and more its error (never below the outlet's pressure)."""
    error = fall_error(reading)
    lowest = outlet + 1e-6 * (reading.start - outlet)
    ends = (min(reading.end + error, reading.start), max(reading.end, lowest), max(reading.end - error, lowest))
    return Found(*[value(end) for end in ends])


def waiting_time(
    volume: float,
    start: float,
    flow: Callable[[float], float],
    outlet: float,
    temperature: float,
    gas: Gas,
    error: float,
    ratio: float = 3.0,
) -> float:
    """Time (s) after which a leak of `flow` has let the pressure fall by `ratio` times the fall's error (Pa).

    Before that a reading cannot tell the leak from the gauge. inf where the pressure cannot fall that far. Ratio 3: common
    practice, no source.
    """
    end = start - ratio * error
    if end <= outlet:
        return math.inf
    return decay_time(volume, start, end, flow, temperature, gas)


def bubbles_per_minute(flow: float, ambient: float, temperature: float, gas: Gas) -> float:
    """Bubbles a minute (0.15 ml each) of a leak (kg/s) collected at ambient pressure (Pa) and temperature (K)."""
    return flow * gas.specific_constant * temperature / ambient / BUBBLE * 60.0
