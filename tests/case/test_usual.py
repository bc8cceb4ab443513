"""The numbers nobody knows: usual ranges, values that a file may leave out, and what scatter makes of both."""

import re

import pytest
from case_texts import CASES, DRY, HOT, with_key
from sleevelift.case.json_schema import case_json_schema
from sleevelift.case.left_out import LEFT_OUT
from sleevelift.case.read import case_from_text, load_case
from sleevelift.case.starter import starter_case
from sleevelift.case.usual import outside, said_range, unsure, usual_range, with_usual_ranges, without_effect


def test_some_thirty_keys_have_a_usual_range_with_its_source():
    """Dead times, dead volume, friction, discharge coefficients, restitution, burning, ignition, bulk modulus, losses, heat."""
    found = {one.path: one for one in unsure(load_case(CASES / "hot_start.toml"))}
    assert len(found) >= 35
    for path in (
        "solenoid.open_dead_time", "lift_chamber.dead_volume", "seals.friction_factor", "solenoid.fill_discharge_coefficient",
        "sleeve.restitution_seat", "chamber.combustion_time_constant", "igniter.delay", "oxidizer.bulk_modulus",
        "fuel.rated_loss", "lift_chamber.wall_coefficient", "seals.breakaway_ratio", "chamber.efficiency",
    ):  # fmt: skip
        assert found[path].low < found[path].high and found[path].source, path
        assert not found[path].outside, path


def test_a_range_by_factors_needs_the_value():
    assert usual_range("tube.conductance") is None
    assert usual_range("tube.conductance", 1e-8)[:2] == pytest.approx((0.7e-8, 1.15e-8))
    assert usual_range("solenoid.open_dead_time")[:2] == (2e-3, 30e-3)
    assert usual_range("spring.preload", 700.0) is None


def test_gas_holes_lie_where_they_were_measured():
    """Published: Weisbach's coefficients for air, sharp-edged 0.563 to 0.788, short cylindrical mouthpieces 0.81 to 0.84
    (Encyclopaedia Britannica, 11th ed., Hydraulics, section 63)."""
    low, high, _ = usual_range("solenoid.fill_discharge_coefficient")
    assert low <= 0.563 and high >= 0.84 - 1e-9


def test_a_value_outside_is_remarked_with_range_and_source():
    text = with_key(HOT, "solenoid", "open_dead_time", '"80 ms"')
    (line,) = outside(case_from_text(text))
    assert "solenoid.open_dead_time is 80 ms" in line and "2 to 30 ms" in line and "common practice, no source" in line
    assert outside(load_case(CASES / "hot_start.toml")) == []


@pytest.mark.parametrize("one", LEFT_OUT, ids=lambda one: f"{one.table}.{one.key}")
def test_what_a_file_leaves_out_takes_the_stated_default(one):
    """The default is no value of the file, and its reason says the number."""
    text = re.sub(rf"(?ms)^(\[{one.table}\]\n(?:(?!^\[).)*?)^{one.key} = [^\n]*\n", r"\1", (CASES / "hot_start.toml").read_text())
    case = case_from_text(text)
    path = f"{one.table}.{one.key}"
    if case.origin.get(path) in (None, "given") or (one.where and one.where not in text):
        pytest.skip("the case has no such part")
    found = {one.path: one for one in unsure(case)}
    if path in found:
        assert found[path].origin == "default" and not found[path].outside


def test_what_is_left_out_is_scattered_and_what_is_given_is_not():
    text = with_key(DRY, "solenoid", "open_dead_time", None)
    case = case_from_text(text)
    assert case.origin["solenoid.open_dead_time"] == "default" and case.solenoid.open_dead_time == 8e-3
    spread = with_usual_ranges(case)
    assert spread.ranges["solenoid.open_dead_time"] == (2e-3, 30e-3)
    assert "solenoid.close_dead_time" not in spread.ranges and "solenoid.open_dead_time" not in case.ranges
    assert set(case.ranges) <= set(spread.ranges)
    every = with_usual_ranges(case, every=True)
    assert "solenoid.close_dead_time" in every.ranges
    assert not any(without_effect(case, path) for path in every.ranges if path not in case.ranges)


def test_no_dimension_is_guessed():
    for path in (
        "sleeve.stroke",
        "lift_chamber.dead_volume",
        "spring.preload",
        "sleeve.rod_diameter",
        "seals.breakaway_ratio",
        "igniter.delay",
    ):
        table, key = path.split(".")
        with pytest.raises(Exception, match="is missing"):
            case_from_text(with_key(HOT, table, key, None))


def test_schema_starter_and_units_say_it():
    assert "usually 2 to 30 ms: common practice, no source" in str(case_json_schema())
    assert "usually 0.56 to 0.84" in starter_case("hot")
    inch = load_case(CASES / "hot_start.toml", "inch")
    assert said_range(inch, "supply.droop_band", 1e5, 2e5) == "14.5 to 29 psi"
