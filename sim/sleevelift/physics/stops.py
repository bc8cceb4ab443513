"""Impact at the stop and at the seat: Newton restitution, ended by rest below a small rebound speed.

v -> -e v; the energy M v^2 (1 - e^2)/2 is lost. A rebound slower than the rest speed is no rebound: the sleeve rests. That
ends the cascade of ever smaller bounces, whose closed-form total time stays finite.
"""

from sleevelift.jit import bare_kernel


@bare_kernel
def rebound_speed(speed, restitution, rest_speed):
    """Speed after an impact, m/s, with sign; exactly 0 where the sleeve comes to rest."""
    after = -restitution * speed
    if abs(after) < rest_speed:
        return 0.0
    return after


@bare_kernel
def impact_loss(mass, before, after):
    """Kinetic energy lost in the impact, J."""
    return 0.5 * mass * (before * before - after * after)
