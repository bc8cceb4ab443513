"""Flow coefficients Kv and Cv turned into the ISO 6358-1 values of the same choked flow.

IEC 60534-2-1, compressible fluid, no fittings:  w = N6 Kv Y sqrt(x p1 rho1),  Y = 1 - x/(3 F x_T),  choked at x = F x_T
with Y = 2/3; w in kg/h, p1 in kPa, rho1 in kg/m3, N6 = 3.16; F = gamma/1.4 = 1 for air, the gas of the ISO values. Put
equal to the ISO choked flow of air at the reference state, w = C p1 rho_0:

    C = (N6/3600) Kv (2/3) sqrt(x_T rho_0 p_0/1000) / (rho_0 p_0)        b = 1 - x_T

Validity: turbulent flow. b is the ratio at which IEC's flow stops rising; between there and no flow the two standards
draw slightly different curves. Kv is the flow of water in m3/h at 1 bar, Cv the same in US gallons a minute at 1 psi.
"""

import math

from sim.constants import ANR_DENSITY, ANR_PRESSURE

N6 = 3.16
"""kg/h per (m3/h sqrt(kPa kg/m3)). IEC 60534-2-1, table 1."""
EXPANSION_FACTOR_CHOKED = 2.0 / 3.0
"""-. IEC 60534-2-1: Y at choked flow."""
KV_PER_CV = 0.8649778
"""m3/h/sqrt(bar) per US gal/min/sqrt(psi): 3.785411784e-3 x 60/sqrt(0.0689475729)."""
SECONDS_PER_HOUR = 3600.0
PASCAL_PER_KILOPASCAL = 1000.0


def kv_from_cv(cv: float) -> float:
    """Kv of a valve with this Cv."""
    return KV_PER_CV * cv


def iso_values(kv: float, terminal_pressure_ratio: float) -> tuple[float, float]:
    """(C in m3/(s Pa), b) of a valve with this Kv.

    >>> conductance, ratio = iso_values(1.0, 0.72)
    >>> round(conductance * 1e8, 2), round(ratio, 2)
    (4.56, 0.28)
    """
    pressure_density = ANR_PRESSURE / PASCAL_PER_KILOPASCAL * ANR_DENSITY
    choked = N6 / SECONDS_PER_HOUR * kv * EXPANSION_FACTOR_CHOKED * math.sqrt(terminal_pressure_ratio * pressure_density)
    return choked / (ANR_DENSITY * ANR_PRESSURE), 1.0 - terminal_pressure_ratio
