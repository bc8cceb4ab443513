"""Area d: current in the solenoid's coil."""

import math

import numpy as np
from _record import CLOSED_FORM, COMPUTED, EVALUATED, held
from sleevelift.physics.solenoid import Coil, drop_out_time, falling_current, pull_in_time, rising_current

VALVE = Coil(inductance=0.02, resistance=10.0, voltage=24.0, pull_in=1.5, drop_out=0.5, clamp=0.0)


def test_time_to_half_the_final_current():
    source = EVALUATED + "Halliday and Resnick, Physics, Part 2, Example 36.2: t = (L/R) ln 2"
    coil = Coil(inductance=50.0, resistance=30.0, voltage=12.0, pull_in=0.5 * 12.0 / 30.0, drop_out=0.0, clamp=0.0)
    held(
        "d-halliday-36.2",
        "time of an RL current to half its final value",
        source,
        1.15525,
        pull_in_time(coil),
        1e-4,
        "s",
    )


def test_time_to_pull_in():
    source = CLOSED_FORM + "t = -(L/R) ln(1 - I R/V)"
    held("d-pullin", "time to a pull-in current of 1.5 A", source, 0.00196166, pull_in_time(VALVE), 1e-4, "s")


def test_energy_that_the_falling_current_dissipates():
    """R times the integral of i^2 over the decay is what the coil held, L I^2/2."""
    t = np.linspace(0.0, 40e-3, 40001)
    current = np.array([falling_current(VALVE, 2.4, float(at)) for at in t])
    source = CLOSED_FORM + "L I^2/2"
    held(
        "d-energy",
        "energy in the coil at 2.4 A",
        source,
        0.0576,
        np.trapezoid(VALVE.resistance * current**2, t),
        1e-6,
        "J",
    )


def test_rise_and_fall_against_an_integration_of_the_circuit():
    """L di/dt = V - R i, and -V_c - R i through a clamp, by scipy."""
    from scipy import __version__ as version
    from scipy.integrate import solve_ivp

    clamped = VALVE._replace(clamp=36.0)
    source = COMPUTED + f"scipy {version} solve_ivp of L di/dt = V - R i, run live"

    def crossing(volts, start, level):
        def reached(t, i):
            return i[0] - level

        reached.terminal = True
        rhs = lambda t, i: [(volts - clamped.resistance * i[0]) / clamped.inductance]  # noqa: E731
        run = solve_ivp(rhs, (0.0, 1.0), [start], events=reached, rtol=1e-11, atol=1e-13)
        return float(run.t_events[0][0])

    held(
        "d-rise",
        "time from 0.4 A to the pull-in current",
        source,
        crossing(24.0, 0.4, 1.5),
        pull_in_time(clamped, 0.4),
        1e-8,
        "s",
    )
    held(
        "d-fall",
        "time from 2.4 A to the drop-out current through a clamp of 36 V",
        source,
        crossing(-36.0, 2.4, 0.5),
        drop_out_time(clamped, 2.4),
        1e-8,
        "s",
    )
    assert math.isclose(rising_current(clamped, 0.4, pull_in_time(clamped, 0.4)), 1.5, rel_tol=1e-12)
