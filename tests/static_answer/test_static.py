"""The static answer against closed forms worked out here, against a run, and against itself turned round."""

from math import pi

import numpy as np
import pytest
from runs import shipped, shipped_case
from sleevelift.case.read import with_values
from sleevelift.case.starter import starter_case
from sleevelift.report.files import jsonable
from sleevelift.static_answer.answer import static_report


@pytest.fixture(scope="module")
def hot():
    return static_report(shipped_case("hot_start"))


def margin(report, name):
    return next(item for item in report.margins if item.name == name)


def finding(report, name):
    return next(item for item in report.findings if item.name == name)


def ring(outer, inner):
    return pi / 4.0 * (outer**2 - inner**2)


def test_areas_are_rings_and_add_up(hot):
    s = shipped_case("hot_start").sleeve
    areas = {area.name: area.value for area in hot.areas}
    # closed form: pi/4 (D^2 - d^2)
    assert areas["lift"] == pytest.approx(ring(s.piston_diameter, s.rod_diameter), rel=1e-12)
    assert areas["fuel_opening"] == pytest.approx(ring(s.rod_diameter, s.seat_diameter), rel=1e-12)
    assert areas["top"] == pytest.approx(sum(areas[name] for name in ("lift", "fuel_opening", "nose", "face")), rel=1e-12)


def breakaway_by_hand(case, factor, gas, fuel):
    """ratio * factor * sum of pi d (squeeze + coefficient * cord * |dp|); post seal: oxidizer inlet to ambient."""
    amb = case.ambient.pressure
    total = 0.0
    for seal, diameter, dp in (
        (case.seals.post, case.sleeve.post_diameter, case.oxidizer.inlet_pressure - amb),
        (case.seals.rod, case.sleeve.rod_diameter, fuel - gas),
        (case.seals.piston, case.sleeve.piston_diameter, gas - amb),
    ):
        total += pi * diameter * (seal.squeeze_friction + seal.pressure_coefficient * seal.cord * abs(dp))
    return case.seals.breakaway_ratio * factor * total


def test_margins_of_the_closed_valve_by_hand(hot):
    """MODEL.md, section 7, with every force worked out here (closed form)."""
    case = shipped_case("hot_start")
    amb, s = case.ambient.pressure, case.sleeve
    lift, fuel_opening = ring(s.piston_diameter, s.rod_diameter), ring(s.rod_diameter, s.seat_diameter)
    weight = (s.moving_mass + case.spring.mass / 3.0) * 9.80665
    gas_low, gas_high = case.ranges["supply.pressure"]
    fuel_low, fuel_high = case.ranges["fuel.inlet_pressure"]
    most = breakaway_by_hand(case, 1.5, gas_low, fuel_low)
    opening = ((gas_low - amb) * lift + (fuel_low - amb) * fuel_opening) / (case.spring.preload + most + weight) - 1.0
    assert margin(hot, "opening_margin").value == pytest.approx(opening, rel=1e-9)
    least = breakaway_by_hand(case, 0.5, gas_high, amb)
    no_fuel = (case.spring.preload + least + weight) / ((gas_high - amb) * lift) - 1.0
    assert margin(hot, "no_fuel_margin").value == pytest.approx(no_fuel, rel=1e-9)
    alone = (case.spring.preload + weight) / ((fuel_high - amb) * fuel_opening) - 1.0
    assert margin(hot, "fuel_alone_margin").value == pytest.approx(alone, rel=1e-9)


def test_worst_nominal_best_are_in_order(hot):
    for item in hot.margins:
        if item.value is not None:
            assert item.value <= item.nominal <= item.best, item.name


def test_without_ranges_worst_nominal_and_best_are_one():
    case = shipped_case("hot_start")
    bare = case.model_copy()
    bare._ranges = {}
    report = static_report(bare)
    for item in report.margins:
        if item.value is not None:
            assert item.value == item.best == item.nominal, item.name


def test_the_check_and_the_run_give_the_same_margins(hot):
    measures = shipped("hot_start").measures
    for item in hot.margins:
        if item.name != "surge_margin":
            assert item.value == measures[item.name], item.name
    assert finding(hot, "sealing_load").value == pytest.approx(measures["sealing_load"], rel=1e-9)
    assert finding(hot, "fuel_pressure_to_open").value == measures["fuel_pressure_to_open"]
    assert finding(hot, "required_lift_area").value == measures["required_lift_area"]
    assert sum(part.at_start for part in hot.stored_energy) == pytest.approx(measures["stored_gas_energy"], rel=1e-12)
    assert finding(hot, "closed_leak_oxidizer").value == measures["closed_leak_oxidizer"]


def test_full_lift_of_the_throttle_table_is_what_the_run_settles_to(hot):
    """The run's steady flow just before the off command; it has settled to some 1e-4 by then."""
    measures, row = shipped("hot_start").measures, hot.throttle_lit[-1]
    assert row.oxidizer_flow == pytest.approx(measures["steady_oxidizer_flow"], rel=1e-3)
    assert row.fuel_flow == pytest.approx(measures["steady_fuel_flow"], rel=1e-3)
    assert row.chamber_pressure == pytest.approx(measures["steady_chamber_pressure"], rel=1e-3)


def test_forces_add_up_to_the_net_force(hot):
    for state in hot.forces:
        parts = (state.gas, state.fuel, state.gap, state.chamber, state.spring_side, state.jet, state.spring, state.weight)
        assert state.net == pytest.approx(sum(parts), abs=1e-6), state.name


def test_the_fuel_pressure_to_open_balances_the_closed_valve(hot):
    """At that pressure gas and fuel force equal preload, weight and the breakaway at that pressure (closed form)."""
    case, p = shipped_case("hot_start"), finding(hot, "fuel_pressure_to_open")
    amb, s = case.ambient.pressure, case.sleeve
    fuel = p.value + amb
    up = (case.supply.pressure - amb) * ring(s.piston_diameter, s.rod_diameter)
    up += p.value * ring(s.rod_diameter, s.seat_diameter)
    weight = (s.moving_mass + case.spring.mass / 3.0) * 9.80665
    down = case.spring.preload + weight + breakaway_by_hand(case, 1.0, case.supply.pressure, fuel)
    assert up == pytest.approx(down, rel=1e-9)
    assert p.low < p.value < p.high


def test_stored_energy_of_a_perfect_gas_volume():
    """Isentropic expansion (closed form): E = p V/(g - 1) (1 - (p_amb/p)^((g-1)/g))."""
    from sleevelift import case_from_text

    text = starter_case("dry").replace('name = "nitrogen"', 'name = "nitrogen"\nmodel = "perfect"\ngamma = 1.4')
    case = case_from_text("\n".join(line for line in text.splitlines() if not line.startswith("# model")))
    bottle = next(part for part in static_report(case).stored_energy if part.name == "bottle")
    p, amb = case.supply.bottle_pressure, case.ambient.pressure
    expected = p * case.supply.bottle_volume / 0.4 * (1.0 - (amb / p) ** (0.4 / 1.4))
    assert bottle.at_start == pytest.approx(expected, rel=1e-4)


def test_a_regulator_gives_no_more_than_its_bottle_holds():
    """Neither worst nor best margin is made with more gas pressure than there is in the bottle."""
    case = with_values(shipped_case("hot_start"), {"supply.bottle_pressure": 8e5})
    found, pressure = margin(static_report(case), "opening_margin"), finding(static_report(case), "fuel_pressure_to_open")
    assert found.value < found.nominal < found.best < 0.0 and found.passed is False
    assert pressure.low < pressure.value < pressure.high


def test_a_failing_margin_names_the_remedy():
    case = with_values(shipped_case("hot_start"), {"spring.preload": 400.0})
    report = static_report(case)
    failing = margin(report, "no_fuel_margin")
    assert failing.passed is False and "preload" in failing.advice and "no_fuel_margin" in report.failed


def test_lifts_of_the_throttle_table_hold_the_edges_of_slots_and_spigot(hot):
    lifts = [row.lift for row in hot.throttle_unlit]
    case = shipped_case("hot_start")
    row = case.slots.row[0]
    for lift in (0.0, row.lap, row.lap + row.height, case.seat.spigot_length, case.sleeve.stroke):
        assert min(abs(np.array(lifts) - lift)) < 1e-12
    assert lifts == sorted(lifts)


@pytest.mark.parametrize("kind", ["dry", "cold-flow", "hot"])
def test_every_kind_has_a_static_answer_without_nan(kind):
    from sleevelift import case_from_text

    report = static_report(case_from_text(starter_case(kind)))
    numbers = [value for value in _leaves(report._asdict()) if isinstance(value, float)]
    assert numbers and all(np.isfinite(numbers))
    assert (report.seals_between is None) == (kind == "dry")
    assert bool(report.throttle_lit) == (kind == "hot")
    assert any("Pressurised gas" in line for line in report.cautions)


def test_the_motorization_rule_is_shown_when_asked_for():
    """ECSS-E-ST-33-01C 4.7.5.3: F_min = 2 (1.2 spring + 3 or 1.5 friction); gas and assist against it (closed form)."""
    case = with_values(shipped_case("hot_start"), {"limits.motorization_rule": True})
    report = static_report(case)
    rule = {(item.name, item.friction): item.value for item in report.motorization_rule}
    amb, s = case.ambient.pressure, case.sleeve
    gas, fuel = case.ranges["supply.pressure"][0], case.ranges["fuel.inlet_pressure"][0]
    up = (gas - amb) * ring(s.piston_diameter, s.rod_diameter) + (fuel - amb) * ring(s.rod_diameter, s.seat_diameter)
    weight = (s.moving_mass + case.spring.mass / 3.0) * 9.80665
    friction = breakaway_by_hand(case, 1.5, gas, fuel)
    for words, factor in (("calculated", 3.0), ("measured", 1.5)):
        required = 2.0 * (1.2 * (case.spring.preload + weight) + factor * friction)
        assert rule["opening", words] == pytest.approx(up / required - 1.0, rel=1e-9)
    assert static_report(shipped_case("hot_start")).motorization_rule == []


def _leaves(value):
    value = jsonable_keeping_nan(value)
    if isinstance(value, dict):
        return [leaf for part in value.values() for leaf in _leaves(part)]
    if isinstance(value, list | tuple):
        return [leaf for part in value for leaf in _leaves(part)]
    return [value]


def jsonable_keeping_nan(value):
    """Named tuples as tables; numbers untouched, so that a NaN shows."""
    return value._asdict() if hasattr(value, "_asdict") else value


def test_the_report_is_json(hot):
    import json

    written = jsonable(hot)
    assert json.loads(json.dumps(written, allow_nan=False)) == written
