"""Area j: liquids, water hammer, rigid columns and trapped gas."""

import math

import numpy as np
import pytest
from _record import CLOSED_FORM, COMPUTED, PUBLISHED, held
from scipy.integrate import solve_ivp
from sleevelift.case.liquids import liquid_state
from sleevelift.physics.feed_line import line_acceleration, manifold_pressure, ringing_period, trapped_gas_pressure

FOOT, PSI, SLUG = 0.3048, 6894.757293168, 14.593902937


def sound_speed(name, T, p):
    """Speed of sound, m/s, that the program's bulk modulus and density mean."""
    state = liquid_state(name, T, p)
    return math.sqrt(state.bulk_modulus / state.density)


LIQUIDS = [
    ("j-c-water", "Water", 293.15, 101325.0, 1482.35, 0.002),
    ("j-c-ethanol60", "Ethanol", 293.15, 60e5, 1196.57, 0.002),
    ("j-c-n2o60", "NitrousOxide", 293.15, 60e5, 429.286, 0.002),
    ("j-lox-sat", "Oxygen", 90.188, 101400.0, 904.35, 0.003),
]


@pytest.mark.parametrize("key, name, T, p, expected, tolerance", LIQUIDS)
def test_speed_of_sound(key, name, T, p, expected, tolerance):
    """Saturated oxygen is taken at 1.014 bar, a hair above its vapour pressure, for the program refuses what may
    boil."""
    source = COMPUTED + "CoolProp 8.0.0"
    held(
        key,
        f"speed of sound of liquid {name}, {T} K, {p / 1e5:.4g} bar",
        source,
        expected,
        sound_speed(name, T, p),
        tolerance,
        "m/s",
    )


def test_check_value_of_water():
    """a-water-IAPWS: the state T = 300 K, rho = 996.556 kg/m3, whose pressure the table gives."""
    source = PUBLISHED + "IAPWS R6-95(2018), Table 7, row 1"
    state = liquid_state("Water", 300.0, 0.0992418352e6)
    held(
        "a-water-IAPWS",
        "speed of sound of water",
        source,
        1501.51914,
        math.sqrt(state.bulk_modulus / state.density),
        1e-6,
        "m/s",
    )
    held("a-water-IAPWS-rho", "density of water at that pressure", source, 996.556, state.density, 1e-7, "kg/m3")


def test_density_and_bulk_modulus_of_ethanol():
    source = COMPUTED + "CoolProp 8.0.0"
    state = liquid_state("Ethanol", 293.15, 60e5)
    held("j-rho-ethanol60", "density of ethanol, 60 bar", source, 794.49, state.density, 1e-4, "kg/m3")
    held("j-B-ethanol60", "isentropic bulk modulus of ethanol, 60 bar", source, 1.1375e9, state.bulk_modulus, 1e-3, "Pa")


def hammer(rho, a, dv, area, length=0.4):
    """Highest pressure rise, Pa, of a line (no manifold) whose flow is stopped at once, by the program's line and
    manifold."""
    bulk, inertance, volume = rho * a * a, length / area, area * length

    def rates(t, y):
        return [line_acceleration(0.0, manifold_pressure(y[1], 0, bulk / volume, 0.0), 0.0, y[0], 1.0 / inertance), y[0] / rho]

    w0 = rho * area * dv
    z_scale = w0 / rho * ringing_period(inertance, volume, bulk, rho)

    def stopped(t, y):
        return y[0]

    stopped.terminal = True
    run = solve_ivp(rates, (0.0, 1.0), [w0, 0.0], events=stopped, rtol=1e-10, atol=[1e-12 * w0, 1e-12 * z_scale])
    return float(manifold_pressure(run.y_events[0][0][1], 0, bulk / volume, 0.0))


def test_joukowsky_rise_of_water():
    """A lumped stop compresses line and liquid to rho a dv: sqrt(I rho B/V) = rho a/A with I = L/A and V = A L."""
    source = CLOSED_FORM + "rho c dV (Joukowsky)"
    held(
        "j-jouk-water",
        "pressure rise, 3 m/s of water stopped",
        source,
        44.38,
        hammer(998.2, 1482.0, 3.0, 6e-4) / 1e5,
        1e-4,
        "bar",
    )


def test_water_hammer_of_a_large_pipe():
    source = PUBLISHED + "Daugherty, Franzini and Finnemore, Fluid Mechanics, Example 13.4"
    area = math.pi / 4.0 * (4.0 * FOOT) ** 2
    rise = hammer(1.94 * SLUG / FOOT**3, 3200.0 * FOOT, 30.0 * FOOT**3 / area, area, 100.0)
    held("j-franzini-13.4", "water hammer, 30 cfs in a 4 ft pipe", source, 102.9, rise / PSI, 0.001, "psi")


def test_column_stopped_by_friction_and_head():
    """8 m of head against 90 m of pipe, Fanning factor 0.007."""
    source = (
        PUBLISHED + "Massey and Ward-Smith, Mechanics of Fluids, Example 12.1 (2.6 s); closed form atan(u1 sqrt(b/a))/sqrt(a b)"
    )
    rho, area, length = 1000.0, math.pi / 4.0 * 0.15**2, 90.0
    loss = 4.0 * 0.007 * length / 0.15 / (2.0 * rho * area**2)

    def rates(t, y):
        return [line_acceleration(0.0, rho * 9.81 * 8.0, loss, y[0], area / length)]

    def stopped(t, y):
        return y[0]

    stopped.terminal = True
    run = solve_ivp(rates, (0.0, 10.0), [rho * 0.05], events=stopped, rtol=1e-10, atol=1e-10)
    held("j-massey-12.1", "time for a liquid column to stop", source, 2.618, float(run.t_events[0][0]), 0.01, "s")


@pytest.mark.parametrize("n, expected", [(1.4, 39.309), (1.0, 143.32), (5.0 / 3.0, 30.050)])
def test_gas_trapped_before_a_driven_column(n, expected):
    """A rigid column driven by 5 p0 into a pocket at p0; no friction, liquid made stiff, column short of filling the
    pocket."""
    p0, pocket, rho = 1e5, 1e-5, 1000.0
    stiff, volume = 1e16, 1e-3

    def rates(t, y):
        p = trapped_gas_pressure(y[1], volume, stiff, pocket, n, p0)
        return [line_acceleration(5.0 * p0, p, 0.0, y[0], 1e-4), y[0] / rho]

    def turned(t, y):
        return y[0] if t > 0 else 1.0

    turned.terminal, turned.direction = True, -1
    run = solve_ivp(rates, (0.0, 1.0), [0.0, 0.0], events=turned, rtol=1e-10, atol=[1e-9, 1e-16], method="LSODA")
    got = trapped_gas_pressure(float(run.y_events[0][0][1]), volume, stiff, pocket, n, p0) / p0
    source = CLOSED_FORM + "energy: ps (1 - v) = p0 (v^(1-n) - 1)/(n - 1) (limit case of Martin 1976)"
    held(f"j-trapped-{n:.3g}", f"peak over start pressure, trapped gas, n = {n:.3f}", source, expected, got, 0.001)


def test_establishment_of_flow():
    source = CLOSED_FORM + "v = v0 tanh(t/tau), v0 = sqrt(2 dp/(rho (1 + k))), tau = 2 L/(v0 (1 + k))"
    rho, length, dp, k, area = 789.0, 1.0, 20e5, 1.5, 6e-4
    loss = (1.0 + k) / (2.0 * rho * area**2)
    steady = math.sqrt(dp / loss)

    def near(t, y):
        return y[0] - 0.99 * steady

    near.terminal = True
    rates = lambda t, y: [line_acceleration(dp, 0.0, loss, y[0], area / length)]  # noqa: E731
    run = solve_ivp(rates, (0.0, 1.0), [0.0], events=near, rtol=1e-10, atol=1e-12)
    held(
        "j-flow-estab",
        "time to 99 % of steady flow, 1 m of ethanol line",
        source,
        0.0470181,
        float(run.t_events[0][0]),
        1e-4,
        "s",
    )
    held("j-flow-steady", "its steady speed", source, 45.032, steady / (rho * area), 1e-4, "m/s")


def test_ringing_period_of_a_line_on_its_own_volume():
    """A lumped line without manifold rings at 2 pi L/a; the real pipe, closed at one end, at 4 L/a."""
    source = CLOSED_FORM + "2 pi sqrt(I rho V/B) = 2 pi L/a for V = A L"
    L, A, rho, a = 0.4, 6.16e-4, 1141.0, 904.35
    held(
        "j-ringing",
        "free period of a line without manifold",
        source,
        2.0 * math.pi * L / a,
        ringing_period(L / A, A * L, rho * a * a, rho),
        1e-12,
        "s",
    )


def test_trapped_gas_pressure_is_the_inverse_of_its_law():
    """z = V (p - p0)/B + V_g (1 - (p0/p)^(1/n)) written here; the program inverts it."""
    V, B, pocket, n, p0 = 3e-4, 1e9, 1e-6, 1.3, 1e5
    for p in np.array([0.2, 0.9, 1.0, 3.0, 40.0, 200.0]) * 1e5:
        z = V * (p - p0) / B + pocket * (1.0 - (p0 / p) ** (1.0 / n))
        held(
            f"j-trapped-inverse-{p / 1e5:g}",
            f"manifold pressure with a pocket at {p / 1e5:.1f} bar",
            CLOSED_FORM + "law put in",
            p,
            trapped_gas_pressure(z, V, B, pocket, n, p0),
            1e-10,
            "Pa",
        )
