"""with_values: what follows a changed key, what does not, how quick it is, and what it refuses."""

import math

import numpy as np
import pytest
from case_texts import DRY, HOT, with_key
from hypothesis import given
from hypothesis import strategies as st
from sleevelift.case.change import fault_values, si_value, with_texts, without_ranges
from sleevelift.case.read import CaseError, case_from_text, with_values
from sleevelift.case.walk import value_at, values

CASE = case_from_text(HOT, "hot")


def test_only_what_was_asked_changes() -> None:
    new = with_values(CASE, {"spring.preload": 700.0, "solenoid.fill_orifice": 1.1e-3})
    old, now = values(CASE), values(new)
    assert {path for path in old if old[path] != now[path]} == {"spring.preload", "solenoid.fill_orifice"}
    assert CASE.spring.preload == 770.0, "the old case stays as it was"
    assert new.changes == {"spring.preload": 700.0, "solenoid.fill_orifice": 1.1e-3}
    assert new.sha256 == CASE.sha256 and CASE.changes == {}


def test_a_quick_copy_is_what_pydantic_makes() -> None:
    """`Table.with_key` against `model_copy(update=...)`: keys, which of them were set, private attributes; the source untouched."""
    case = case_from_text(HOT)
    for table, name, value in ((case.spring, "preload", 700.0), (case, "spring", case.spring.with_key("rate", 3e4))):
        before = table.model_dump()
        quick, theirs = table.with_key(name, value), table.model_copy(update={name: value})
        assert type(quick) is type(theirs) and quick == theirs
        assert quick.model_fields_set == theirs.model_fields_set
        assert quick.__pydantic_private__ == theirs.__pydantic_private__
        assert getattr(quick, name) == value and table.model_dump() == before
    changed = case.with_key("spring", case.spring)
    changed._origin = {}
    assert case.origin, "private attributes are not shared"


def test_rows_together_and_alone() -> None:
    text = HOT + '\n[[slots.row]]\ncount = 4\nshape = "round"\nheight = "1 mm"\nlap = "0.2 mm"\ndischarge_coefficient = 0.6\n'
    case = case_from_text(text)
    assert [row.lap for row in with_values(case, {"slots.row.lap": 3e-4}).slots.row] == [3e-4, 3e-4]  # type: ignore[union-attr]
    assert [row.lap for row in with_values(case, {"slots.row.1.lap": 3e-4}).slots.row] == [1e-4, 3e-4]  # type: ignore[union-attr]
    wider = with_values(case, {"slots.row.1.height": 1.5e-3})
    assert value_at(wider, "slots.row.1.width") == 1.5e-3, "a round hole is as wide as high"
    assert value_at(wider, "slots.row.0.width") == 1.46e-3


def test_derived_values_are_derived_again() -> None:
    """Rate over wire diameter to the fourth (EN 13906-1)."""
    new = with_values(CASE, {"spring.wire_diameter": 4.4e-3})
    assert new.spring.rate / CASE.spring.rate == pytest.approx((4.4 / 4.8) ** 4, rel=1e-12)
    given_rate = with_values(with_values(CASE, {"spring.rate": 4e4}), {"spring.wire_diameter": 4.4e-3})
    assert given_rate.spring.rate == 4e4, "a rate that was set is not derived any more"


def test_ambient_carries_defaults_and_gauges() -> None:
    text = with_key(HOT, "supply", "pressure", '{ value = "30 barg", plus_minus = "1 bar" }')
    case = case_from_text(text)
    new = with_values(case, {"ambient.pressure": 90000.0, "ambient.temperature": 300.0})
    assert new.supply.pressure == pytest.approx(30.9e5)
    assert new.ranges["supply.pressure"] == pytest.approx((29.9e5, 31.9e5))
    assert new.lift_chamber.pressure == 90000.0
    assert new.lift_chamber.temperature == 300.0
    assert new.lift_chamber.wall_temperature == 293.15, "given in the file"
    assert new.oxidizer is not None and new.oxidizer.inlet_pressure == 27e5, "absolute in the file"


def test_chains_of_derived_values() -> None:
    """density from CoolProp, rated density from density."""
    case = case_from_text(with_key(HOT, "fuel", "density", None))
    new = with_values(case, {"fuel.temperature": 320.0})
    assert new.fuel is not None and case.fuel is not None
    assert new.fuel.density < case.fuel.density
    assert new.fuel.rated_density == new.fuel.density


def test_ranges_stay_or_move() -> None:
    text = with_key(HOT, "spring", "preload", '{ value = "770 N", plus_minus = "10 %" }')
    case = case_from_text(text)
    change = {"spring.preload": 700.0, "supply.pressure": 35e5}
    assert with_values(case, change).ranges == case.ranges
    moved = with_values(case, change, move_ranges=True).ranges
    assert moved["spring.preload"] == pytest.approx((630.0, 770.0))
    assert moved["supply.pressure"] == pytest.approx((33.5e5, 36.5e5))


def test_a_range_keeps_to_the_sign_of_its_value() -> None:
    case = case_from_text(HOT)
    low, high = case.ranges["supply.pressure"]
    down = with_values(case, {"supply.pressure": 1e5}, move_ranges=True).ranges["supply.pressure"]
    assert down == pytest.approx((0.0, high - case.supply.pressure + 1e5)) and low > 0.0


def test_ranges_move_with_values_of_the_command_line() -> None:
    case = with_texts(case_from_text(HOT), ["supply.pressure=20 bara", "seals.friction_factor=2"])
    assert case.ranges["supply.pressure"] == pytest.approx((18.5e5, 21.5e5))
    assert case.ranges["seals.friction_factor"] == pytest.approx((1.5, 2.5))


def test_without_ranges() -> None:
    case = case_from_text(HOT)
    bare = without_ranges(case)
    assert case.ranges and not bare.ranges and bare.spring == case.spring and bare.origin == case.origin


def test_a_changed_number_is_refused_in_the_user_s_unit() -> None:
    for text, words in (
        ("sleeve.seat_diameter=9 mm", 'seat_diameter = "9 mm": must be at least nose_diameter'),
        ("sleeve.stroke=9 mm", 'free_length = "79.5 mm": is too short: preload / rate (17.39 mm) and stroke (9 mm)'),
        ("spring.free_length=70 mm", 'free_length = "70 mm": is too short'),
    ):
        with pytest.raises(CaseError) as caught:
            with_texts(CASE, [text])
        assert words in str(caught.value)


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("spring.prelod", "nearest: preload"),
        ("sprung.preload", "is no key"),
        ("spring", "is a table, not a value"),
        ("slots.row.7.lap", "is not in this case"),
        ("quick_exhaust.cracking_pressure", "is not in this case (the table is absent)"),
    ],
)
def test_paths_that_are_none(path: str, words: str) -> None:
    with pytest.raises(CaseError) as caught:
        with_values(CASE, {path: 1.0})
    assert words in str(caught.value)


def test_rows_of_a_case_without_rows() -> None:
    with pytest.raises(CaseError, match="no rows"):
        with_values(case_from_text(DRY), {"slots.row.lap": 1e-4})


def test_checked_unless_told_not_to() -> None:
    with_values(CASE, {"spring.preload": -5.0}, check=False)  # a study answers for its ranges
    with pytest.raises(CaseError, match=r'hot \[spring\] preload = "-5 N": must be at least 0 N'):
        with_values(CASE, {"spring.preload": -5.0})
    with pytest.raises(CaseError, match="post < nose"):
        with_values(CASE, {"sleeve.rod_diameter": 0.018})
    with pytest.raises(CaseError, match="finite"):
        with_values(CASE, {"spring.preload": math.nan})
    assert with_values(CASE, {"spring.preload": 700.0}).spring.preload == 700.0


def test_texts_and_numbers_of_any_kind() -> None:
    """What a file would say, and numbers in SI as numpy and whole ones come: all the same case."""
    plain = with_values(
        CASE, {"solenoid.fill_orifice": 1.2e-3, "spring.preload": 700.0, "slots.row.lap": 1e-4, "solenoid.on": (0.125,)}
    )
    texts = {"solenoid.fill_orifice": "1.2 mm", "spring.preload": "700 N", "slots.row.lap": "0.1 mm", "solenoid.on": ["125 ms"]}
    other = {
        "solenoid.fill_orifice": np.float32(1.2e-3),
        "spring.preload": 700,
        "slots.row.lap": np.float64(1e-4),
        "solenoid.on": [0.125],
    }
    for changes in (texts, other):
        found = values(with_values(CASE, changes))
        for path, value in values(plain).items():
            assert type(found[path]) is type(value), path
            assert found[path] == (pytest.approx(value, rel=1e-6) if isinstance(value, float) and value == value else value), path
    assert with_values(CASE, {"spring.preload": "x 0.5"}).spring.preload == 0.5 * CASE.spring.preload


def test_every_fault_of_a_change_has_its_line() -> None:
    with pytest.raises(CaseError) as caught:
        with_values(CASE, {"solenoid.fill_orifice": "-1 mm", "spring.prelode": 1.0, "tube.bore": "4 N", "gas.name.x": 2})
    lines = caught.value.lines()
    assert len(lines) == 4 and lines[0].startswith('hot [solenoid] fill_orifice = "-1 mm": must be above 0 mm')
    with pytest.raises(CaseError) as caught:
        with_values(CASE, {"solenoid.fill_orifice": -1.0, "tube.bore": -2.0, "spring.preload": True})
    assert len(caught.value.lines()) == 3


def test_any_number_of_the_command_line_scaled_is_read_or_refused() -> None:
    """A value out of its bounds is told as such, and checks that need it keep silent: nothing is divided by it."""
    for text in (HOT, DRY):
        case = case_from_text(text)
        for path, value in values(case).items():
            for factor in ("0", "-1", "1e-12", "1e12") if isinstance(value, float) else ():
                try:
                    with_texts(case, [f"{path}=x {factor}"])
                except CaseError as refusal:
                    assert all(": " in line for line in refusal.lines())
    with pytest.raises(CaseError, match=r"rated_flow = .*must be above 0 kg/s"):
        with_texts(case_from_text(HOT), ["fuel.rated_flow=x 0"])


def test_a_finished_case_passes_its_own_check() -> None:
    for text in (HOT, DRY):
        case = case_from_text(text)
        assert values(with_values(case, {}, check=True)) == values(case)


@given(st.floats(0.3e-3, 10e-3), st.floats(0.02, 5.0), st.floats(0.5, 1.5))
def test_there_and_back(orifice: float, mass: float, factor: float) -> None:
    """Setting the old values again gives the old case."""
    paths = ("solenoid.fill_orifice", "sleeve.moving_mass", "seals.friction_factor")
    new = with_values(CASE, dict(zip(paths, (orifice, mass, factor), strict=True)))
    back = with_values(new, {path: value_at(CASE, path) for path in paths})
    assert values(back) == values(CASE)


# ---------------------------------------------------------------------------------------------------- texts and faults


def test_values_as_text() -> None:
    assert si_value(CASE, "spring.preload", "160 lbf") == pytest.approx(160 * 4.4482216152605)
    assert si_value(CASE, "supply.pressure", "30 barg") == 30e5 + 101325.0
    assert si_value(CASE, "seat.jet_factor", "0.5") == 0.5
    assert si_value(CASE, "gas.name", "helium") == "helium"
    assert si_value(CASE, "igniter.ignitable_mixture", "0.5, 3") == (0.5, 3.0)
    for path, text, words in [
        ("spring.preload", "7", "needs a unit"),
        ("spring.preload", "-7 N", "must be at least 0 N"),
        ("spring.prelode", "7 N", "nearest: preload"),
        ("seat.jet_factor", "high", "plain number"),
        ("solenoid.on", "1 s, 2", "needs a unit"),
    ]:
        with pytest.raises(CaseError, match=words):
            si_value(CASE, path, text)


FAULTS = '\n[[faults]]\nname = "sticky"\nchange = { "seals.friction_factor" = "x 3", "spring.preload" = "160 lbf" }\n'


def test_faults_of_the_case() -> None:
    case = case_from_text(HOT + FAULTS)
    assert fault_values(case, case.faults[1]) == {
        "seals.friction_factor": 3.0,
        "spring.preload": pytest.approx(160 * 4.4482216152605),
    }
    assert with_values(case, fault_values(case, case.faults[0])).solenoid.fill_orifice == pytest.approx(0.7e-3)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ('{ "spring.preloa" = "x 3" }', "nearest: preload"),
        ('{ "spring.preload" = "-3 N" }', "must be at least 0 N"),
        ('{ "spring.preload" = "x -3" }', "must be at least 0 N"),
        ('{ "ambient.pressure" = "1 bar" }', "bara (absolute) or barg"),
        ('{ "gas.name" = "xenon" }', "critical point"),
        ('{ "gas.name" = 3 }', "must be a text"),
        ('{ "supply.kind" = "x 3" }', "has no number in this case"),
        ('{ "quick_exhaust.cracking_pressure" = "1 bar" }', "is not in this case"),
        ('{ "sleeve.stroke" = "9 mm" }', "is too short"),
        ("{ }", "at least 1"),
    ],
)
def test_faults_that_would_not_do(change: str, words: str) -> None:
    with pytest.raises(CaseError) as caught:
        case_from_text(HOT + f'\n[[faults]]\nname = "x"\nchange = {change}\n')
    assert words in str(caught.value)
    assert "[faults.1]" in str(caught.value)


def test_values_of_the_command_line() -> None:
    texts = ["spring.preload = 160 lbf", "tube.bore=x 1.1", "run.count_pool_before_command=true", "slots.row.0.count=9"]
    case = with_texts(CASE, [*texts, "gas.name=argon"])
    assert case.spring.preload == pytest.approx(160 * 4.4482216152605)
    assert case.tube.bore == pytest.approx(1.1 * CASE.tube.bore)
    assert case.run.count_pool_before_command is True
    assert case.slots is not None and case.slots.row[0].count == 9
    assert case.gas.name == "argon" and case.gas.gas_constant == pytest.approx(8.314462618 / 39.948e-3, rel=1e-4)
    assert with_texts(CASE, ["solenoid.on=50 ms, 0.9 s", "solenoid.off=0.8 s"]).solenoid.on == (0.05, 0.9)
    assert with_texts(CASE, ["solenoid.on=0.3 s"]).solenoid.on == (0.3,)
    assert with_texts(CASE, ["slots.row.lap=0.2 mm"]).changes == {"slots.row.0.lap": 2e-4}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("spring.preload", "must be path=value"),
        ("=3 N", "must be path=value"),
        ("spring.preload=", "must be path=value"),
        ("spring.preloa=700 N", "nearest: preload"),
        ("spring.preload=700", "needs a unit"),
        ("spring.preload=-3 N", "must be at least 0 N"),
        ("spring=3", "is a table"),
        ("solenoid.on=0.1 s, 0.9", "needs a unit"),
        ("solenoid.on=0.9 s, 0.1 s", "must increase"),
        ("solenoid.on=-0.1 s", "must be at least 0 s"),
        ("solenoid.on=x 1.1", "has no number in this case"),
        ("solenoid.on=0.1 s,", "a number and a unit"),
        ("slots.row.0.count=8.5", "count"),
        ("run.count_pool_before_command=perhaps", "count_pool_before_command"),
        ("quick_exhaust.cracking_pressure=1 bar", "is not in this case"),
        ("sleeve.stroke=9 mm", "is too short"),
    ],
)
def test_values_of_the_command_line_that_would_not_do(text: str, words: str) -> None:
    with pytest.raises(CaseError) as caught:
        with_texts(CASE, [text])
    assert words in str(caught.value) and "\n" not in str(caught.value)


def test_every_fault_of_the_command_line_is_told() -> None:
    with pytest.raises(CaseError) as caught:
        with_texts(CASE, ["spring.preload=-3 N", "nix", "tube.bor=2 mm", "tube.bore=2 mm", "tube.bore=3 mm"])
    assert len(str(caught.value).splitlines()) == 4 and "is set twice" in str(caught.value)
