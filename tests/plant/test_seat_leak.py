"""A leak past the fuel seat: what it passes at rest, what pools of it, what it presses on, and its slopes."""

from math import cos, pi, sqrt

import numpy as np
import pytest
from runs import changed, shipped, shipped_case
from sleevelift import simulate
from sleevelift.plant.build import build
from sleevelift.plant.jacobian import jacobian
from sleevelift.plant.state import D_MODE, S_FUEL_INJECTOR, S_GAP_P, SEATED
from stored_runs import rates, run_of, scratch, stored

LEAK = 5e-8
"""m2, effective."""
GRAVITY = 9.80665
"""m/s2. ISO 80000-3."""
BARE_CONE = {"seat__spigot_length": 0.0, "seat__leak_area": LEAK}


def annulus(case):
    """Cd A of the annulus, m2."""
    return case.seat.annulus_area * case.seat.annulus_discharge_coefficient


def test_at_rest_it_is_the_orifice_law_through_leak_and_annulus_in_series():
    """w = A sqrt(2 rho dp), 1/A^2 = 1/A_k^2 + 1/A_annulus^2; between them (A_k^2 p_f + A_a^2 p_c)/(A_k^2 + A_a^2) (Bernoulli)."""
    case = changed(shipped_case("hot_start"), **BARE_CONE)
    result = simulate(case)
    p_f, p_c = result.traces["fuel_manifold_pressure"][0], case.ambient.pressure
    both = 1.0 / sqrt(1.0 / LEAK**2 + 1.0 / annulus(case) ** 2)
    expected = both * sqrt(2.0 * case.fuel.density * (p_f - p_c))
    assert result.measures["closed_leak_fuel"] == pytest.approx(expected, rel=1e-6)
    assert result.traces["fuel_flow"][0] == pytest.approx(expected, rel=1e-6)
    share = LEAK**2 / (LEAK**2 + annulus(case) ** 2)
    assert result.traces["gap_pressure"][0] == pytest.approx(p_c + share * (p_f - p_c), rel=1e-9)


def test_behind_a_spigot_it_is_held_back_by_the_whole_overlap():
    """12 mu L_p Q/(pi d c^3) + rho/2 Q^2 (1/A_k^2 + 1/A_annulus^2) = dp (White: laminar flow in an annulus, unrolled)."""
    case = changed(shipped_case("hot_start"), seat__leak_area=LEAK)
    result = simulate(case)
    p_f, seat, fuel = result.traces["fuel_manifold_pressure"][0], case.seat, case.fuel
    laminar = 12.0 * fuel.viscosity * seat.spigot_length / (pi * case.sleeve.seat_diameter * seat.spigot_clearance**3)
    quadratic = 0.5 * fuel.density * (1.0 / LEAK**2 + 1.0 / annulus(case) ** 2)
    q = result.measures["closed_leak_fuel"] / fuel.density
    assert laminar * q + quadratic * q * q == pytest.approx(p_f - case.ambient.pressure, rel=1e-6)


def test_a_tight_seat_leaks_nothing():
    assert shipped("hot_start").measures["closed_leak_fuel"] == 0.0
    assert shipped("dry_bench").measures["closed_leak_fuel"] is None


def test_both_leaks_pool_before_the_command_and_count_only_if_asked():
    """Apart: leak times waiting time, none of it in the chamber. Asked: the run starts its chamber with it."""
    case = changed(shipped_case("hot_start"), seat__leak_area=LEAK, run__pressurised_before_command=2.0)
    result = simulate(case)
    apart, waiting = result.measures, 2.0 + case.solenoid.on[0]
    fuel, oxidizer = apart["closed_leak_fuel"], apart["closed_leak_oxidizer"]
    assert apart["pooled_before_command"] == pytest.approx((fuel + oxidizer) * waiting, rel=1e-9)
    assert apart["unburned_fuel_at_command"] == 0.0
    counted = simulate(changed(case, run__count_pool_before_command=True))
    assert counted.traces["unburned_fuel"][0] == pytest.approx(fuel * waiting, rel=1e-9)
    assert counted.measures["unburned_oxidizer_at_command"] == pytest.approx(oxidizer * waiting, rel=1e-9)
    assert counted.measures["pooled_before_command"] == apart["pooled_before_command"]
    grown = counted.measures["pooled_fuel"] - apart["pooled_fuel"]
    assert grown == pytest.approx(fuel * waiting, rel=1e-3), "it is there at light-off"
    assert counted.measures["hard_start_pressure"] > apart["hard_start_pressure"]
    assert counted.measures["peak_chamber_pressure"] > apart["peak_chamber_pressure"], "and burns"


def test_while_unlit_what_leaks_after_the_command_pools():
    """From the command to first lift the fuel in the chamber grows at the leak's rate."""
    result = simulate(changed(shipped_case("hot_start"), seat__leak_area=LEAK))
    measures, t, fuel = result.measures, result.traces["time"], result.traces["unburned_fuel"]
    on = measures["energize_time"]
    lift = on + measures["valve_delay"] + measures["fill_delay"]
    a, b = np.interp([on + 0.2 * (lift - on), on + 0.9 * (lift - on)], t, fuel)
    assert (b - a) / (0.7 * (lift - on)) == pytest.approx(measures["closed_leak_fuel"], rel=1e-3)


def test_margins_gain_what_presses_on_the_nose():
    """Through a leak as wide as the annulus half of p_f - p_ambient is behind the seat: (p_f A_a + p_f/2 A_n) opens."""
    case = changed(shipped_case("hot_start"), seat__spigot_length=0.0)
    wide = changed(case, seat__leak_area=annulus(case))
    s = case.sleeve
    nose = pi / 4.0 * (s.seat_diameter**2 - s.nose_diameter**2)
    opening = pi / 4.0 * (s.rod_diameter**2 - s.seat_diameter**2)
    tight, leaking = (simulate(c).measures["fuel_alone_margin"] for c in (case, wide))
    assert (tight + 1.0) / (leaking + 1.0) == pytest.approx(1.0 + 0.5 * nose / opening, rel=1e-9)


def test_fuel_pressure_to_open_is_where_the_forces_meet():
    """Without friction, leak as wide as the annulus: F_0 + weight = p_l A_l + p_f (A_a + A_n/2), pressures above ambient."""
    case = changed(shipped_case("hot_start"), seat__spigot_length=0.0, seals__friction_factor=0.0)
    case = changed(case, seat__leak_area=annulus(case))
    s, found = case.sleeve, simulate(case).measures
    lift, fuel, nose = (
        pi / 4.0 * (outer**2 - inner**2)
        for outer, inner in (
            (s.piston_diameter, s.rod_diameter), (s.rod_diameter, s.seat_diameter), (s.seat_diameter, s.nose_diameter),
        )
    )  # fmt: skip
    weight = (s.moving_mass + case.spring.mass / 3.0) * GRAVITY * cos(s.axis_tilt)
    gas = float(build(case).record[0]["ranges"]["gas_work"]) - case.ambient.pressure
    assert found["fuel_pressure_to_open"] == pytest.approx((case.spring.preload + weight - gas * lift) / (fuel + 0.5 * nose))


def test_slopes_of_the_leak_of_a_seated_sleeve():
    """Column of the fuel's compressed volume: Jacobian against a difference of the right-hand side."""
    run = run_of(build(changed(shipped_case("hot_start"), seat__leak_area=1e-6)))
    plant, raw = run.plant, run.raw
    index = plant.record[0]["index"]
    column, row = int(index["fuel_volume"]), int(index["fuel_volume"])
    seated = [
        k for k in range(1, len(raw.t) - 1) if raw.discrete_state[k, D_MODE] == SEATED and raw.outputs[k, S_FUEL_INJECTOR] > 0.0
    ]
    for k in seated[:: max(len(seated) // 5, 1)]:
        n, core = len(raw.y[k]), int(index["core"])
        J, dfdt = np.zeros((n, core)), np.zeros(n)
        par = (plant.record[0], plant.tables, plant.gas, scratch(n))
        assert jacobian(float(raw.t[k]), raw.y[k].copy(), raw.discrete_state[k], raw.event_memory, par, J, dfdt) == 0
        step = 1e-6 * raw.y[k][column]
        up, down = raw.y[k].copy(), raw.y[k].copy()
        up[column] += step
        down[column] -= step
        slope = (rates(run, k, y=up).dy - rates(run, k, y=down).dy) / (2.0 * step)
        assert slope[row] < 0.0
        assert J[row, column] == pytest.approx(slope[row], rel=1e-4)


def test_a_run_without_the_leak_has_none_of_it():
    """The leak is the only difference: at the same states a tight seat passes nothing and sees the chamber."""
    run = stored("hot_start")
    k = next(k for k in range(len(run.raw.t)) if run.raw.discrete_state[k, D_MODE] == SEATED)
    outputs = rates(run, k).outputs
    assert outputs[S_FUEL_INJECTOR] == 0.0
    assert outputs[S_GAP_P] == run.raw.y[k][int(run.plant.record[0]["index"]["chamber"])]
