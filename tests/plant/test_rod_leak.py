"""Fuel past the rod seal: what it settles at, how fast it floods, what a sleeve does that falls on it, what closes.

Areas are effective (discharge coefficient 1)."""

from functools import lru_cache
from math import sqrt

import numpy as np
import pytest
from runs import changed, shipped, shipped_case
from sleevelift import simulate
from sleevelift.plant.build import build
from sleevelift.plant.params import LIFT
from sleevelift.plant.state import (
    B_LIQUID_OUT,
    B_ROD_GAS,
    B_ROD_LIQUID,
    D_MODE,
    FUEL,
    M_PASSED,
    M_STOOD,
    N_ROD_BALANCE,
    S_FUEL_INJECTOR,
    S_FUEL_P,
    S_LIFT_P,
    S_ROD_LEAK,
    SLIDING_DOWN,
    SLIDING_UP,
)
from stored_runs import every, mutant, plain_with, rates, run_of
from test_balances_of_rates import leftovers

STIFF = {"spring__preload": 1000.0, "fuel__inlet_pressure": 38e5}
BACK = {"fuel__inlet_pressure": 12e5, "seals__rod_leak_area": 3e-7, "spring__preload": 500.0}
"""A feed below the actuation pressure: what is in the lift chamber goes back through the seal."""


def leaking(area, port="high", **changes):
    """The hot case with this leak."""
    values = {"seals__rod_leak_area": area, "seals__rod_leak_discharge_coefficient": 1.0, "lift_chamber__port": port}
    return changed(shipped_case("hot_start"), **{**values, **changes})


@lru_cache(maxsize=8)
def stored(area, port="high", stood=0.0):
    """Its run with everything kept."""
    return run_of(build(leaking(area, port, run__pressurised_before_command=stood)), 2e-4)


@lru_cache(maxsize=1)
def backflow():
    """Gas and liquid back into the fuel line."""
    return run_of(build(leaking(3e-7, "low", **BACK)), 1e-5)


def outlet(case):
    """Effective area of port and exhaust in series, m2, for liquid."""
    record = build(case).record[0]
    port, exhaust = (float(record["flows"][int(record["rod"][name])]["area"][way]) for name, way in (("port", 1), ("exhaust", 0)))
    return port * exhaust / sqrt(port * port + exhaust * exhaust)


@pytest.mark.parametrize("port", ["high", "low"])
@pytest.mark.parametrize("area", [1e-7, 5e-7])
def test_it_settles_where_both_openings_pass_the_same(area, port):
    """A_r sqrt(p_f - p_l) = A_x sqrt(p_l - p_amb): p_l = p_amb + (p_f - p_amb) A_r^2/(A_r^2 + A_x^2) (Bernoulli, one liquid)."""
    case = leaking(area, port)
    result = simulate(case)
    p_f, amb = result.traces["fuel_manifold_pressure"][-1], case.ambient.pressure
    a_x = outlet(case)
    expected = amb + (p_f - amb) * area**2 / (area**2 + a_x**2)
    assert result.outcome == "opened-and-closed"
    assert result.traces["lift_chamber_pressure"][-1] == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("stood", [5.0, 16.0])
def test_it_floods_at_the_rate_at_which_the_leak_fills_it(stood):
    """V_q = A_r sqrt(2 (p_f - p_amb)/rho) t while the gas goes out by the port (Bernoulli): 1e-9 m2 fills 1.5 cm3 in 18.5 s."""
    case = leaking(1e-9, run__pressurised_before_command=stood)
    rate = 1e-9 * sqrt(2.0 * (case.fuel.inlet_pressure - case.ambient.pressure) / case.fuel.density)
    run = stored(1e-9, "high", stood)
    assert rate * 18.5 == pytest.approx(1.5e-6, rel=2e-3)
    assert run.raw.y[0][int(run.plant.record[0]["index"]["lift_liquid"])] == pytest.approx(rate * stood, rel=1e-4)


def test_a_chamber_that_has_flooded_starts_where_the_leak_settles():
    """After a minute a high port passes all that comes: the liquid stands at 90 to 95 % and p_l at the limit above."""
    case = leaking(5e-7, run__pressurised_before_command=60.0)
    run = stored(5e-7, "high", 60.0)
    index = run.plant.record[0]["index"]
    amb, dead = case.ambient.pressure, case.lift_chamber.dead_volume
    share = 25e-14 / (25e-14 + outlet(case) ** 2)
    assert run.raw.outputs[0][S_LIFT_P] == pytest.approx(amb + (case.fuel.inlet_pressure - amb) * share, rel=1e-3)
    squeezed = 1.0 - (run.raw.outputs[0][S_LIFT_P] - amb) / case.fuel.bulk_modulus
    assert 0.9 < run.raw.y[0][int(index["lift_liquid"])] * squeezed / dead < 1.0
    flow = 5e-7 * sqrt(2.0 * case.fuel.density * (case.fuel.inlet_pressure - run.raw.outputs[0][S_LIFT_P]))
    filled = case.fuel.density * dead
    assert run.raw.event_memory[M_PASSED] == pytest.approx(60.0 * flow - filled, rel=0.02)


def test_standing_before_the_run_is_a_run_without_command():
    """Two seconds before the run begins, or two seconds longer until the command: the same valve."""
    before = simulate(leaking(1e-8, run__pressurised_before_command=2.0), tolerance=1e-6).measures
    late = leaking(1e-8, solenoid__on=(2.1,), solenoid__off=(2.8,), igniter__on=(2.05,))
    within = simulate(late, tolerance=1e-6).measures
    assert before["liquid_at_command"] == pytest.approx(within["liquid_at_command"], rel=1e-4)
    for name in ("opening_time", "closing_time"):
        assert before[name] == pytest.approx(within[name], abs=2e-5)


def test_where_it_lifts_while_standing_the_run_begins_there():
    run = stored(2e-6, "high", 60.0)
    assert 0.0 < run.raw.event_memory[M_STOOD] < 0.1
    assert simulate(leaking(2e-6, run__pressurised_before_command=60.0)).outcome == "lifted-without-command"


def test_a_sleeve_falling_on_a_full_chamber_drives_the_liquid_through_the_port():
    """V_q/V A_l way = int s A_x sqrt(2 (p_l - p_amb)/rho) - A_r sqrt(2 (p_f - p_l)/rho) dt: it goes out (Bernoulli).

    Fuel above the gas fills the chamber while it is open, and a stiff spring closes it before it has emptied."""
    case = leaking(3e-7, run__pressurised_before_command=60.0, **STIFF)
    run = run_of(build(case), 2e-4)
    index, swept = run.plant.record[0]["index"], float(run.plant.record[0]["nodes"]["swept"][LIFT])
    a_x, amb, rho = outlet(case), case.ambient.pressure, case.fuel.density
    t, x, p_l, p_f = run.raw.t, run.raw.y[:, int(index["lift_height"])], run.raw.outputs[:, S_LIFT_P], run.raw.outputs[:, S_FUEL_P]
    filled = run.raw.y[:, int(index["lift_liquid"])] / (case.lift_chamber.dead_volume + swept * x)
    down = run.raw.discrete_state[:, D_MODE] == SLIDING_DOWN
    falls = np.flatnonzero(down & (filled > 0.945) & (t > case.solenoid.off[0] + 0.03))
    part = slice(falls[0], falls[-1] + 1)
    share = np.clip((filled[part] - 0.9) / 0.05, 0.0, 1.0)
    passed = share * a_x * np.sqrt(2.0 * (p_l[part] - amb) / rho) - 3e-7 * np.sqrt(2.0 * (p_f[part] - p_l[part]) / rho)
    way = x[falls[0]] - x[falls[-1]]
    assert way > 0.6 * case.sleeve.stroke
    assert filled[part].mean() * swept * way == pytest.approx(np.trapezoid(passed, t[part]), rel=0.03)
    dry, flooded = simulate(changed(shipped_case("hot_start"), **STIFF)).measures, simulate(case).measures
    assert flooded["return_time"] > 1.5 * dry["return_time"]
    assert flooded["seat_impact_speed"] < 0.7 * dry["seat_impact_speed"]


@pytest.mark.parametrize(("area", "port", "stood"), [(1e-7, "high", 0.0), (5e-7, "low", 60.0), (5e-7, "high", 60.0)])
def test_what_comes_in_is_there_or_has_gone(area, port, stood):
    """rho (V_q(t) - V_q(0)) = in - out, gas and energy likewise: mass and energy are kept to rounding."""
    run = stored(area, port, stood)
    index, rho = run.plant.record[0]["index"], float(run.plant.record[0]["lines"][FUEL]["rho"])
    rod, y = int(index["rod"]), run.raw.y
    kept = rho * (y[:, int(index["lift_liquid"])] - y[0, int(index["lift_liquid"])])
    moved = y[:, rod + B_ROD_LIQUID] - y[:, rod + B_LIQUID_OUT]
    assert np.abs(kept - moved).max() < 1e-12 * np.abs(y[:, rod + B_ROD_LIQUID]).max()
    result = simulate(leaking(area, port, run__pressurised_before_command=stood))
    assert result.measures["gas_mass_error"] < 1e-11
    assert result.measures["energy_error"] < 1e-4
    assert abs(result.balances["gas_energy"]) < 1e-9 * result.balances["gas_energy_moved"]
    assert result.measures["rod_leaked"] == pytest.approx(y[-1, rod + B_ROD_LIQUID], rel=1e-9)


def test_gas_goes_back_into_the_fuel_line_and_is_counted():
    """Behind p_l > p_f what leaves is gas once the chamber is dry: with what the chamber lost of it the gas mass closes."""
    run = backflow()
    index = run.plant.record[0]["index"]
    back = run.raw.y[-1, int(index["rod"]) + B_ROD_GAS]
    assert back > 1e-6
    assert run.raw.outputs[:, S_ROD_LEAK].min() < 0.0
    result = simulate(leaking(3e-7, "low", **BACK))
    assert result.measures["gas_into_fuel_line"] == pytest.approx(back, rel=1e-3)
    assert result.measures["gas_mass_error"] < 1e-11
    assert run.raw.y[:, int(index["lift_liquid"])].min() > -1e-10


def runs():
    """One of each kind."""
    return stored(5e-7, "high", 60.0), stored(5e-7, "low", 60.0), backflow()


def test_rates_close_all_balances():
    for run in runs():
        worst = np.max(np.abs([leftovers(run, k) for k in every(run, 60)]), axis=0)
        assert np.all(worst < 1e-10), worst


MASS, GAS, _, LIQUID = range(4)
FLIPS = [
    # text in sim/sleevelift/plant/rod_leak.py, the same with one sign turned, the balance that must fail
    ("dy[i] -= back", "dy[i] += back", MASS),
    ("dy[outside] += back", "dy[outside] -= back", MASS),
    ("dy[i + 1] += gained", "dy[i + 1] -= gained", GAS),
    ("dy[outside + 1] -= gained", "dy[outside + 1] += gained", GAS),
    ("    rod.w = w\n", "    rod.w = -w\n", LIQUID),
    ("grows = (w - out)", "grows = (w + out)", LIQUID),
    ("dy[index.rod + B_LIQUID_OUT] = out", "dy[index.rod + B_LIQUID_OUT] = -out", LIQUID),
]


def liquid_left(run, k, rhs=None):
    """Liquid left over by the rates at point k, over what passes."""
    index, rho = run.plant.record[0]["index"], float(run.plant.record[0]["lines"][FUEL]["rho"])
    rod = int(index["rod"])
    got = rates(run, k, rhs)
    dy, line = got.dy, run.plant.record[0]["lines"][FUEL]
    balance = dy[rod : rod + N_ROD_BALANCE]
    v = run.raw.y[k, int(index["speed"])] if run.raw.discrete_state[k][D_MODE] in (SLIDING_UP, SLIDING_DOWN) else 0.0
    kept = rho * (dy[int(index["fuel_volume"])] + float(line["swept"]) * v)
    lost = run.raw.y[k, int(index["fuel_flow"])] - got.outputs[S_FUEL_INJECTOR] - kept  # what the manifold does not keep
    left = abs(rho * dy[int(index["lift_liquid"])] - lost + balance[B_LIQUID_OUT]) + abs(lost - balance[B_ROD_LIQUID])
    return left / (abs(lost) + abs(balance[B_LIQUID_OUT]) + abs(run.raw.y[k, int(index["fuel_flow"])]) + 1e-6)


@pytest.mark.parametrize(("before", "after", "fails"), FLIPS)
def test_a_turned_sign_is_seen(before, after, fails):
    rhs = plain_with("sleevelift.plant.rod_leak", before, after)
    worst = np.zeros(4)
    for run in runs():
        for k in every(run, 12):
            found = [*np.abs(leftovers(run, k, rhs)), abs(liquid_left(run, k, rhs))]
            worst = np.maximum(worst, found)
    assert worst[fails] > 1e-6, worst


def test_the_unturned_source_closes():
    rhs = mutant()
    for run in runs():
        for k in every(run, 12):
            assert max(*np.abs(leftovers(run, k, rhs)), abs(liquid_left(run, k, rhs))) < 1e-9


def test_a_tight_seal_leaves_nothing_and_says_so():
    result = shipped("hot_start")
    assert result.measures["rod_leaked"] is None
    assert "rod seal" in result.reasons["rod_leaked"]
    assert "lift_chamber_liquid" not in result.traces


def test_a_dry_case_has_gas_on_both_sides():
    """From a fuel side at 20 bar gas fills the lift chamber until it goes out as fast by the exhaust."""
    case = changed(shipped_case("dry_bench"), bench__fuel_side_pressure=20e5, seals__rod_leak_area=2e-7)
    result = simulate(case)
    assert result.traces["rod_leak_flow"].max() > 0.0
    assert result.measures["gas_mass_error"] < 1e-11
    assert result.measures["rod_leaked"] is None
