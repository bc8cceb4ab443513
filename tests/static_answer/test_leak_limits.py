"""The largest leaks of the static answer: against closed forms, runs, and where there is none."""

from math import pi, sqrt

import pytest
from runs import AMBIENT, bare_machine, changed, shipped_case
from sleevelift import simulate
from sleevelift.plant.build import build
from sleevelift.static_answer.answer import static_report
from sleevelift.static_answer.leak_limits import Chamber, leak_limits, warmest_vapour
from sleevelift.static_answer.margins import margin_numbers

SUPPLY, FILL = 70e5, pi / 4.0 * 1e-6
"""Pa, m2 of the bare machine."""
WIDE_TUBE = {"tube__conductance": 1e-3, "tube__critical_ratio": 0.5}
LIFT, TOP = pi / 4.0 * (0.030**2 - 0.020**2), pi / 4.0 * (0.030**2 - 0.010**2)
CLOSING_FORCE = 100.0 + 5.0
"""N: preload, and 1 N/mm over 5 mm."""


def limits(case):
    """The largest leaks of a case, by name."""
    plant = build(case)
    return {leak.name: leak for leak in leak_limits(case, plant, margin_numbers(plant.record, plant.tables).event_memory)}


def vented(**values):
    """The bare machine with a vent on its spring side and nothing lost in the tube."""
    return changed(bare_machine(), **WIDE_TUBE, **values)


def test_outside_leak_is_two_choked_orifices_in_series():
    """p_l A_leak = p_supply A_fill (one gas, one temperature), and (p_l - p_amb) A_l = preload + rate x stroke."""
    found = limits(vented(spring_side__vent_orifice=0.02))["largest_lift_leak"]
    p_l = AMBIENT + CLOSING_FORCE / LIFT
    assert AMBIENT / p_l < 0.528
    assert found.area == pytest.approx(FILL * SUPPLY / p_l, rel=2e-3)
    assert found.gap is None


def test_piston_leak_counts_the_spring_side_that_it_fills():
    """The vent, 35 times the fill port and choked, holds the spring side at 2 bar, which closes with p_s A_t."""
    vent = sqrt(35.0) * 1e-3
    found = limits(vented(spring_side__vent_orifice=vent, spring_side__vent_discharge_coefficient=1.0))["largest_piston_leak"]
    p_s = SUPPLY / 35.0
    p_l = AMBIENT + (CLOSING_FORCE + (p_s - AMBIENT) * TOP) / LIFT
    assert p_s / p_l < 0.528
    assert found.area == pytest.approx(FILL * SUPPLY / p_l, rel=2e-3)
    assert found.gap == pytest.approx(found.area / (0.7 * pi * 0.030))


def test_a_run_just_inside_the_largest_outside_leak_opens_fully():
    case = vented(spring_side__vent_orifice=0.02, lift_chamber__dead_volume=1e-5, solenoid__off=(2.0,), run__end=2.0)
    area = limits(case)["largest_lift_leak"].area
    inside = changed(case, seals__outside_leak_area=0.98 * area, seals__outside_leak_discharge_coefficient=1.0)
    outside = changed(case, seals__outside_leak_area=1.02 * area, seals__outside_leak_discharge_coefficient=1.0)
    assert simulate(inside).measures["opening_time"] is not None
    assert simulate(outside).measures["opening_time"] is None, "a spring so soft that the moving sleeve does not get past it"


def test_rod_leak_of_the_seated_sleeve_in_closed_form():
    """No friction, p over ambient: p_f A_a + p_l A_l = preload + weight; A_r^2/(A_r^2 + A_x^2) = p_l/p_f."""
    case = changed(shipped_case("hot_start"), seals__friction_factor=0.0)
    plant, s = build(case), case.sleeve
    r, amb = plant.record[0]["ranges"], case.ambient.pressure
    p_f = float(r["fuel_high"])
    lift = pi / 4.0 * (s.piston_diameter**2 - s.rod_diameter**2)
    fuel = pi / 4.0 * (s.rod_diameter**2 - s.seat_diameter**2)
    weight = float(plant.record[0]["sleeve"]["weight"])
    p_l = amb + (case.spring.preload + weight - (p_f - amb) * fuel) / lift
    d, length = case.tube.bore, case.tube.length
    tube = 0.029 * d**2 / sqrt(length / d**1.25 + 510.0) * 1.185 * sqrt(287.05 * 293.15) / 0.6847314563772704
    exhaust = 0.70 * pi / 4.0 * case.solenoid.exhaust_orifice**2
    share = (p_l - amb) / (p_f - amb)
    expected = sqrt(share / (1.0 - share)) / sqrt(1.0 / tube**2 + 1.0 / exhaust**2)
    assert limits(case)["largest_rod_leak_seated"].area == pytest.approx(expected, rel=1e-4)


def test_the_worst_closing_margin_is_nothing_at_the_largest_rod_leak():
    """The chamber's pressure by the steady balance of both orifices, put back into the margin."""
    case = shipped_case("hot_start")
    plant, found = build(case), limits(case)
    memory = margin_numbers(plant.record, plant.tables).event_memory
    chamber = Chamber(case, plant, memory)
    p_f, amb, outlet = chamber.fuel_high, chamber.ambient, chamber.vented(5e5)
    for name, which in (("largest_rod_leak_lit", 2), ("largest_rod_leak_unlit", 3)):
        area = found[name].area
        p_l = amb + (p_f - amb) * area**2 / (area**2 + outlet**2)
        assert chamber.margin(which, p_l) == pytest.approx(0.0, abs=1e-6)
        assert found[name].gap is not None and 1e-6 < found[name].gap < 1e-4
    assert found["largest_rod_leak_lit"].area < found["largest_rod_leak_unlit"].area
    assert "pessimistic" in found["largest_rod_leak_lit"].words


def test_any_and_none_are_said():
    strong = limits(changed(shipped_case("hot_start"), spring__preload=5000.0))
    assert strong["largest_rod_leak_seated"].area is None and strong["largest_rod_leak_seated"].words.startswith("any:")
    assert strong["largest_lift_leak"].area is None and strong["largest_lift_leak"].words.startswith("none:")
    weak = limits(changed(shipped_case("hot_start"), spring__preload=50.0))
    assert weak["largest_rod_leak_unlit"].area is None and weak["largest_rod_leak_unlit"].words.startswith("none:")


def test_a_boiling_fuel_counts_as_vapour():
    """A fuel whose vapour pressure at the wall is above ambient: far less of it holds the chamber up, and it is said."""
    hot = shipped_case("hot_start")
    liquid = limits(hot)["largest_rod_leak_unlit"]
    boiling = changed(hot, lift_chamber__wall_temperature=360.0)
    T, p = warmest_vapour(boiling)
    assert T == 360.0 and p > 1.013e5, "ethanol boils at 351 K (NIST)"
    vapour = limits(boiling)["largest_rod_leak_unlit"]
    assert vapour.area < 0.2 * liquid.area
    assert "not conservative" in vapour.words and "not conservative" not in liquid.words


def test_check_holds_the_given_leak_against_the_largest():
    report = static_report(changed(shipped_case("hot_start"), seals__outside_leak_area=2e-6))
    row = next(item for item in report.findings if item.name == "largest_lift_leak")
    assert row.passed is False and row.limit == pytest.approx(1.4e-6)
    assert "cm3/min of nitrogen" in row.advice
    dry = static_report(bare_machine())
    assert not [item for item in dry.findings if item.name.startswith("largest_rod")]
