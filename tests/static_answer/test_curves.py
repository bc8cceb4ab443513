"""Curves against lift: closed forms, and what the run itself measured."""

import numpy as np
import pytest
from runs import shipped
from sleevelift.static_answer import curves


def test_slots_are_their_drawing():
    """10 rectangular slots, 1.80 mm x 1.46 mm, lap 0.10 mm, Cd 0.65: area = Cd n w clip(x - lap, 0, h)."""
    t = curves.throttle(shipped("hot_start").plant)
    expected = 0.65 * 10 * 1.46e-3 * np.clip(t.lift - 0.10e-3, 0.0, 1.80e-3)
    assert t.slots == pytest.approx(expected, abs=1e-12)
    assert t.annulus == pytest.approx(0.75 * 22.0e-6)


def test_fuel_passage_is_gap_and_annulus_in_series():
    """1/(Cd A)^2 adds, beyond the spigot (the pressure drop's smoothing of 1 kPa is below 1e-5 of the flow)."""
    t = curves.throttle(shipped("hot_start").plant)
    beyond = t.lift > 0.75e-3
    series = 1.0 / np.sqrt(1.0 / t.gap[beyond] ** 2 + 1.0 / t.annulus**2)
    assert t.fuel_passage[beyond] == pytest.approx(series, rel=1e-5)


@pytest.mark.parametrize(("name", "state"), [("hot_start", "lit"), ("cold_flow", "unlit")])
def test_steady_flow_at_full_lift_is_what_the_run_settles_to(name, state):
    """The run has 0.3 to 0.6 s at full lift: its flows have settled to 1e-4."""
    result = shipped(name)
    t = curves.throttle(result.plant)
    assert t.oxidizer[state][-1] == pytest.approx(result.measures["steady_oxidizer_flow"], rel=1e-4)
    assert t.fuel[state][-1] == pytest.approx(result.measures["steady_fuel_flow"], rel=1e-4)
    if state == "lit":
        assert t.chamber[state][-1] == pytest.approx(result.measures["steady_chamber_pressure"], rel=1e-4)


def test_forces_of_a_dry_case_are_gas_times_area_against_spring_and_weight():
    """(p - p_amb) A_l; 770 N + k x + 0.187 kg g, axis vertical."""
    result = shipped("dry_bench")
    b = curves.balance(result.plant, 65e5, lit=False)
    s = result.case.sleeve
    area = np.pi / 4.0 * (s.piston_diameter**2 - s.rod_diameter**2)
    assert b.opens == pytest.approx(np.full_like(b.lift, (65e5 - 101325.0) * area), rel=1e-12)
    mass = s.moving_mass + result.case.spring.mass / 3.0
    assert b.holds == pytest.approx(770.0 + result.case.spring.rate * b.lift + mass * 9.80665, rel=1e-12)
    assert np.all(b.breakaway > 0.0)


@pytest.mark.parametrize("name", ["hot_start", "nose_trap", "dry_bench"])
def test_margins_on_the_page_are_the_measures_of_the_run(name):
    result = shipped(name)
    found = {m.name: m for m in curves.stroke_margins(result.plant)}
    for word, measure in (
        ("full lift", "full_lift_margin"),
        ("fuel lost", "fuel_loss_margin"),
        ("closing, unlit", "closing_margin_unlit"),
        ("closing, lit", "closing_margin"),
    ):
        value = result.measures[measure]
        if value is None:
            assert word not in found or np.isnan(found[word].least)
            continue
        assert found[word].least == pytest.approx(value, rel=1e-9)
        assert found[word].value.min() >= value - 1e-9
        nearest = found[word].value[np.argmin(np.abs(found[word].lift - found[word].least_at))]
        assert nearest == pytest.approx(value, abs=2e-3)


def test_a_sleeve_hangs_where_the_excess_runs_out():
    """Opening force 100 N against 80 N + 40 N/mm x and 10 N of friction: short from x = 0.25 mm; at 2 mm by 70 N."""
    x = np.linspace(0.0, 2e-3, 161)
    b = curves.Balance(x, np.full_like(x, 100.0), 80.0 + 40e3 * x, np.full_like(x, 10.0))
    lift, missing = curves.first_hang_up(b)
    assert lift == pytest.approx(0.25e-3, abs=2e-5) and missing == pytest.approx(70.0)
    lift, missing = curves.first_hang_down(b)
    assert lift == pytest.approx(0.75e-3, abs=2e-5) and missing == pytest.approx(30.0)


def test_the_nose_trap_is_found_at_rest_as_in_the_run():
    result = shipped("nose_trap")
    ambient = result.case.ambient.pressure
    lit = curves.balance(result.plant, ambient, lit=True)
    assert curves.first_hang_down(lit) is not None
    assert curves.first_hang_down(curves.balance(shipped("hot_start").plant, ambient, lit=True)) is None
