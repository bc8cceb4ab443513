"""Spring: force and the energy it stores."""

import pytest
from sleevelift.physics.spring import MOVING_SHARE, spring_energy, spring_force


def test_force():
    assert spring_force(770.0, 44e3, 0.0) == 770.0
    assert spring_force(770.0, 44e3, 2e-3) == pytest.approx(858.0)


def test_energy_is_the_integral_of_the_force():
    from scipy.integrate import quad

    work = quad(lambda x: spring_force(770.0, 44e3, x), 0.0, 2e-3)[0]
    assert spring_energy(770.0, 44e3, 2e-3) == pytest.approx(work, rel=1e-12)


def test_a_third_of_the_mass_moves():
    """Rayleigh: a coil at s of the length moves with s times the end's speed; the mean of s^2 is 1/3."""
    from scipy.integrate import quad

    assert MOVING_SHARE == pytest.approx(quad(lambda s: s * s, 0.0, 1.0)[0], rel=1e-12)
