"""Gas in a manifold beside its liquid: one pressure for both, which of the two leaves first, and how gas passes the injector.

    gas ahead (valve opened)                   gas behind (valve shut)
    valve =>|~ liquid ~|   gas   |=> sleeve    valve |   gas   |~ liquid ~|=> sleeve

V_g = (p - p_vapour)/a - z of gas, z the liquid's compressed volume, a = B/V its stiffness, p V_g = m R T at a constant temperature:

    p = (b + sqrt(b^2 + 4 a m R T))/2,  b = p_vapour + a z;   m = 0: p_vapour + a z    (p_vapour at least: a cavity beside gas)

Isothermal: a gas squeezed fast is warmer and stiffer than this, which hides its heating. Gas and liquid stay apart, as a piston:
the shortest purge there can be. The work that gas brings where it enters, and takes where it leaves, at constant temperature is its
chemical potential R T ln(p/p_0). Gap: laminar flow of a perfect gas between parallel walls with slip (White, Viscous Fluid Flow;
Karniadakis, Beskok and Aluru, Microflows and Nanoflows), never more than an orifice of its cross-section passes. The fillings at
which one follows the other are guesses.
"""

from math import log, pi, sqrt

from sleevelift.jit import bare_kernel, inline_kernel
from sleevelift.physics.restriction import choked_flux, flow_slopes

WIDTH = 0.05
"""-. Share of the manifold's volume over which one follows the other through the injector (guess)."""
LEAST_PRESSURE = 1.0
"""Pa. Gas counts at least this pressure (its logarithm)."""
LEAST_LENGTH = 1e-9
"""m. A gap that ends is at least this long: there its mouth is what holds gas back."""
CHAMBER_EXPONENT = 1.2
"""-. Of what flows back out of the chamber: combustion gases have 1.1 to 1.25, which moves the flow by 2 %."""


@inline_kernel
def pressure_root(z, content, stiffness, vapour):
    """(pressure Pa, root sqrt(b^2 + 4 a m R T) Pa) of gas and liquid; z m3, content m R T J, a Pa/m3. Without cancellation."""
    b = vapour + stiffness * z
    root = sqrt(max(b * b + 4.0 * stiffness * content, 0.0))
    if b >= 0.0:
        return 0.5 * (b + root), root
    return 2.0 * stiffness * content / (root - b), root


@bare_kernel
def pressure_beside_gas(z, content, cavity, stiffness, vapour):
    """(pressure Pa, its derivatives by z Pa/m3 and by the content 1/m3); cavity (0 or 1): at the vapour pressure."""
    if cavity != 0:
        return vapour, 0.0, 0.0
    p, root = pressure_root(z, content, stiffness, vapour)
    part = stiffness / max(root, LEAST_PRESSURE)
    return p, part * p, part


@bare_kernel
def rest_of_cavity(content, vapour):
    """z, m3, at which a cavity opens beside gas of this content, J: the gas alone has the vapour pressure there."""
    return -content / vapour


@bare_kernel
def potential(p, gas_rt, reference):
    """R T ln(p/p_0), J/kg: what a kilogram of gas brings at constant temperature."""
    return gas_rt * log(max(p, LEAST_PRESSURE) / reference)


@bare_kernel
def energy_beside_gas(z, content, p, cavity, stiffness, vapour, reference):
    """Energy of liquid and gas, J, whose change is p dz + potential dm: (p^2 - p_vapour^2)/(2 a) + m R T (ln(p/p_0) - 1)."""
    if cavity != 0:
        return vapour * z + content * log(vapour / reference)
    squeezed = 0.5 * (p * p - vapour * vapour) / stiffness
    return squeezed + content * (log(max(p, LEAST_PRESSURE) / reference) - 1.0)


@bare_kernel
def clipped(value):
    """clip(value, 0, 1)."""
    return min(max(value, 0.0), 1.0)


@bare_kernel
def inside(value):
    """1 where `clipped` follows its value, else 0."""
    return 1.0 if 0.0 < value < 1.0 else 0.0


@bare_kernel
def orifice_and_gap(area, widening, gap, slip, length, shortening, mouth, in_turn, p_1, p_2, density, exponent, laminar_above):
    """(gas flow kg/s of an orifice and a gap, derivatives by p_1, p_2, lift and density upstream), p_1 >= p_2 Pa.

    area m2 with its derivative by lift, m; gap kg m/(s Pa2), slip Pa, length m with its derivative by lift, mouth m2 (gap 0: none).
    in_turn 0: beside one another; else the gap lies in the orifice's way, and the smaller flow counts.
    """
    flux, star = choked_flux(p_1, density, exponent)
    unit, u_1, u_rho, _, u_2 = flow_slopes(1.0, -1.0, 0.5, flux, star, p_1, density, exponent, p_2, laminar_above)
    whole = area * unit, area * u_1, area * u_2, widening * unit, area * u_rho
    if gap <= 0.0:
        return whole
    part = gap / max(length, LEAST_LENGTH)
    laminar = part * (p_1 - p_2) * (p_1 + p_2 + slip)
    limit = area if in_turn != 0 else mouth
    if laminar < limit * unit:
        narrow = laminar, part * (2.0 * p_1 + slip), -part * (2.0 * p_2 + slip), 0.0, 0.0
        if length > LEAST_LENGTH:
            narrow = laminar, narrow[1], narrow[2], -laminar * shortening / length, 0.0
    else:
        narrow = limit * unit, limit * u_1, limit * u_2, widening * unit if in_turn != 0 else 0.0, limit * u_rho
    if in_turn != 0:
        return narrow
    return whole[0] + narrow[0], whole[1] + narrow[1], whole[2] + narrow[2], whole[3] + narrow[3], whole[4] + narrow[4]


def gap_numbers(
    diameter: float, clearance: float, eccentricity: float, viscosity: float, gas_rt: float
) -> tuple[float, float]:
    """(gap kg m/(s Pa2), slip Pa) of a clearance: w = gap/L ((p_1^2 - p_2^2) + slip (p_1 - p_2)).

    gap = pi d c^3 (1 + 1.5 e^2)/(24 mu R T); slip = 12 mu sqrt(pi R T/2)/c, which is 1 + 6 Kn at the mean pressure.
    """
    if clearance <= 0.0:
        return 0.0, 0.0
    gap = pi * diameter * clearance**3 * (1.0 + 1.5 * eccentricity**2) / (24.0 * viscosity * gas_rt)
    return gap, 12.0 * viscosity * sqrt(pi * gas_rt / 2.0) / clearance
