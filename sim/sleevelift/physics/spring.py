"""Closing spring: preload and rate, F = F_0 + k x, closing. A third of its mass moves with the sleeve.

Source: EN 13906-1 (rate); the third is Rayleigh's, valid for a spring light against the sleeve.
"""

from sleevelift.jit import bare_kernel

MOVING_SHARE = 1.0 / 3.0
"""-. Share of the spring's mass that counts as moving (Rayleigh)."""


@bare_kernel
def spring_force(preload, rate, lift):
    """Closing force, N; preload N, rate N/m, lift m."""
    return preload + rate * lift


@bare_kernel
def spring_energy(preload, rate, lift):
    """Energy stored since the seat, J."""
    return (preload + 0.5 * rate * lift) * lift
