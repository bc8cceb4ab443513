"""Area k, the chamber's own law: throat, steady pressure, decay, the hard-start estimate, and the mixture curve."""

import math

import numpy as np
import pytest
from _record import CLOSED_FORM, COMPUTED, PUBLISHED, held
from runs import shipped, shipped_case
from scipy.integrate import solve_ivp
from sleevelift.physics.combustion import gamma_squared, hard_start_pressure, mixture, throat_flow
from sleevelift.plant.build import build
from sleevelift.plant.mixture_table import mixture_curve
from sleevelift.plant.rhs import chamber_rates

AMBIENT = 101325.0


def test_throat_of_a_published_chamber():
    """c* of gamma 1.3, R 287, 3500 K, and the flow through 197.65 cm2 at 38 bar."""
    source = PUBLISHED + "Murugaperumal, Gas Dynamics and Jet Propulsion, Example 7.2"
    g, rt, p, area = 1.3, 287.0 * 3500.0, 38e5, 197.65e-4
    held("k-murug", "c* of gamma 1.3, R 287, 3500 K", source, 1502.0, math.sqrt(rt / gamma_squared(g)), 0.001, "m/s")
    w = throat_flow(p, p / rt, area, g, AMBIENT, 0.995)
    held("k-murug-flow", "flow through its throat at 38 bar", source, 50.004, w, 0.001, "kg/s")


def flat_curve(c_star, g):
    """Mixture curve of one c* and g over O/F, as the plant holds it."""
    return np.array(mixture_curve((0.3, 1.0, 3.0, 20.0), (c_star,) * 4, (g,) * 4, 1.0, c_star, c_star))


def test_constant_volume_pressure_of_a_pool():
    """The program's own compiled estimate (with ambient gas, which is taken off) against equilibrium: high, by 10 % at most."""
    source = COMPUTED + "Cantera 3.2.0, UV equilibrium with U = H of the liquids, nasa_gas.yaml CHON, 5 kg/m3, O/F 1.4"
    curve = flat_curve(1714.9, 1.1457)
    o = 5e-3 * 1.4 / 2.4
    got = hard_start_pressure(o, 5e-3 - o, 1e-3, AMBIENT, curve, 0, len(curve) // 9) - AMBIENT
    quantity = "pool of LOX/ethanol burned at once, 5 kg/m3: equilibrium and up to 10 % more"
    held("k-hard-LOXet-5.0-program", quantity, source, 1.05 * 68.782, got / 1e5, 0.05, "bar")


@pytest.fixture(scope="module")
def chamber():
    """Chamber record and curves of the shipped hot start."""
    plant = build(shipped_case("hot_start"))
    return plant.record[0]["chamber"], plant.tables, plant.record


def lit_rates(chamber, tables, feed_o, feed_f):
    """Right-hand side of the lit chamber alone, constant feed."""

    def rates(t, y):
        burn_o, burn_f, dm, dp, _ = chamber_rates(y[0], y[1], y[2], y[3], chamber, AMBIENT, 0.995, tables)
        return [feed_o - burn_o, feed_f - burn_f, dm, dp]

    return rates


def test_steady_chamber_pressure():
    """p = w c*/A_throat exactly, c* with the case's efficiency, of the flows in the shipped hot start's steady
    state."""
    case = shipped_case("hot_start")
    result = shipped("hot_start")
    w_o, w_f = result.measures["steady_oxidizer_flow"], result.measures["steady_fuel_flow"]
    c_star = np.interp(w_o / w_f, case.chamber.o_f, case.chamber.c_star) * case.chamber.efficiency
    expected = (w_o + w_f) * c_star / case.chamber.throat_area
    source = CLOSED_FORM + "p = w c*/A (definition of c*), c* interpolated linearly in the case's table"
    held(
        "k-steady",
        "steady chamber pressure of the shipped hot start",
        source,
        expected,
        result.measures["steady_chamber_pressure"],
        2e-3,
        "Pa",
    )


def test_decay_of_the_choked_chamber(chamber):
    """Feed cut off, unburned gone: the isentropic choked blow-down of a perfect gas of the table's best mixture.

    t = tau 2/(g-1) ((p0/p1)^((g-1)/(2g)) - 1), tau = V/(A Gamma sqrt(R T0)).
    """
    record, tables, _ = chamber
    g = mixture(float(record["best"]), tables, int(record["curve"]["start"]), int(record["curve"]["count"]))[1]
    rt, p0, p1 = 355.0 * 3000.0, 18e5, 4e5
    V, A = float(record["volume"]), float(record["throat"])
    tau = V / (A * math.sqrt(gamma_squared(g)) * math.sqrt(rt))
    expected = tau * 2.0 / (g - 1.0) * ((p0 / p1) ** ((g - 1.0) / (2.0 * g)) - 1.0)

    def rates(t, y):
        _, _, dm, dp, _ = chamber_rates(0.0, 0.0, y[0], y[1], record, AMBIENT, 0.995, tables)
        return [dm, dp]

    def low(t, y):
        return y[1] - p1

    low.terminal = True
    run = solve_ivp(rates, (0.0, 0.1), [p0 * V / rt, p0], events=low, rtol=1e-10, atol=[1e-12, 1e-3])
    source = CLOSED_FORM + "adiabatic choked blow-down, perfect gas"
    held(
        "k-decay",
        "chamber pressure from 18 to 4 bar after cut-off",
        source,
        expected,
        float(run.t_events[0][0]),
        1e-6,
        "s",
    )


def test_filling_of_the_lit_chamber(chamber):
    """Constant feed from cold: dp/dt = g/V ((Gamma c)^2 w - R T w_out) ends at p = w c*/A, and R T at (Gamma c*)^2."""
    record, tables, _ = chamber
    feed_o, feed_f = 0.60, 0.45
    f = feed_o / (feed_o + feed_f)
    c2, g = mixture(f, tables, int(record["curve"]["start"]), int(record["curve"]["count"]))
    start = [0.0, 0.0, float(record["ambient_mass"]), AMBIENT]
    run = solve_ivp(lit_rates(record, tables, feed_o, feed_f), (0.0, 0.2), start, rtol=1e-9, atol=1e-9, method="LSODA")
    p, m = float(run.y[3, -1]), float(run.y[2, -1])
    source = CLOSED_FORM + "energy balance at steady state"
    held(
        "k-fill-p",
        "end pressure of the lit chamber at constant feed",
        source,
        (feed_o + feed_f) * math.sqrt(c2) / float(record["throat"]),
        p,
        1e-6,
        "Pa",
    )
    held("k-fill-RT", "its gas, R T", source, gamma_squared(g) * c2, p * float(record["volume"]) / m, 1e-6, "J/kg")
    held(
        "k-burning",
        "unburned mass at constant feed: w tau",
        CLOSED_FORM + "dm/dt = w - m/tau",
        feed_o * float(record["combustion_time_constant"]),
        float(run.y[0, -1]),
        1e-6,
        "kg",
    )


@pytest.mark.parametrize("f", [0.02, 0.2, 0.45, 0.583, 0.62, 0.9, 0.99])
def test_mixture_curve_with_scipy(f):
    """c*^2 and g over the oxidizer fraction, against scipy's PchipInterpolator on the same knots."""
    from scipy import __version__ as version
    from scipy.interpolate import PchipInterpolator

    case = shipped_case("hot_start")
    of, c = np.array(case.chamber.o_f), np.array(case.chamber.c_star)
    g = np.array(case.chamber.g)
    knots = np.concatenate([[0.0], of / (1.0 + of), [1.0]])
    squares = np.concatenate([[390.0**2], (0.93 * c) ** 2, [250.0**2]])
    exponents = np.concatenate([g[:1], g, g[-1:]])
    curve = np.array(mixture_curve(case.chamber.o_f, case.chamber.c_star, case.chamber.g, 0.93, 390.0, 250.0))
    got_c2, got_g = mixture(f, curve, 0, len(curve) // 9)
    source = COMPUTED + f"scipy {version} PchipInterpolator, run live"
    held(
        f"k-pchip-c2-{f}",
        f"c*^2 at oxidizer fraction {f}",
        source,
        float(PchipInterpolator(knots, squares)(f)),
        got_c2,
        1e-11,
        "m2/s2",
    )
    held(
        f"k-pchip-g-{f}",
        f"exponent at oxidizer fraction {f}",
        source,
        float(PchipInterpolator(knots, exponents)(f)),
        got_g,
        1e-11,
    )


def test_subsonic_throat_is_the_isentropic_nozzle():
    """Below 1.8 ambient the throat is not choked: the exit Mach number follows from the pressure ratio, its flow from
    that."""
    g, rt, area, p = 1.2, 355.0 * 2500.0, 1e-3, 1.3 * AMBIENT
    mach = math.sqrt(2.0 / (g - 1.0) * (1.3 ** ((g - 1.0) / g) - 1.0))
    temperature_ratio = 1.0 + 0.5 * (g - 1.0) * mach**2
    expected = area * AMBIENT / (rt / temperature_ratio) * mach * math.sqrt(g * rt / temperature_ratio)
    got = throat_flow(p, p / rt, area, g, AMBIENT, 0.995)
    source = CLOSED_FORM + "exit Mach number from the pressure ratio, rho v A"
    held("k-subsonic", "unchoked throat flow at 1.3 ambient", source, expected, got, 1e-10, "kg/s")
