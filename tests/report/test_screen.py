"""What stands on screen: units of the bench, verdicts as words, text of a case as mere text."""

import io
import re

import pytest
from rich.console import Console
from runs import shipped, shipped_case
from sleevelift.barriers import warning
from sleevelift.case.show import case_rows
from sleevelift.plant.names import MEASURES, UNITS
from sleevelift.plots.instants import start_window, stop_window
from sleevelift.plots.words import shown
from sleevelift.report import screen, static_screen
from sleevelift.report.result_files import result_table
from sleevelift.shown import in_column, origin_of, screen_unit, with_unit
from sleevelift.static_answer.answer import static_report


def printed(action, *arguments, width=120, **more):
    out = Console(file=io.StringIO(), width=width, highlight=False, emoji=False)
    action(out, *arguments, **more)
    return out.file.getvalue()


@pytest.mark.parametrize(
    ("name", "value", "unit", "text"),
    [
        ("opening_time", 0.0629871, "s", "62.987 ms"),
        ("breakaway_pressure", 17.92e5, "Pa", "17.92 bara"),
        ("fuel_pressure_to_open", 11.77e5, "Pa", "11.77 barg"),
        ("spring_stress", 584.16e6, "Pa", "584.2 MPa"),
        ("steady_fuel_flow", 0.508, "kg/s", "0.5080 kg/s"),
        ("closed_leak_oxidizer", 0.012444, "kg/s", "12.44 g/s"),
        ("pooled_fuel", 1.279e-3, "kg", "1.279 g"),
        ("required_lift_area", 1.509e-4, "m2", "150.9 mm2"),
        ("sealing_load", 5083.7, "N/m", "5.084 N/mm"),
        ("closing_margin", -0.031, "", "-3.1 %"),
        ("stored_gas_energy", 53620.0, "J", "53.62 kJ"),
        ("running_clearance", 5e-6, "m", "5.000 um"),
        ("gas_mass_error", 1.7e-12, "", "1.7e-12"),
        ("steps", 538, "", "538"),
        ("mixture_ratio_max", 0.0, "", "0"),
    ],
)
def test_numbers_stand_in_units_of_the_bench(name, value, unit, text):
    assert screen.together(screen.practical(name, value, unit)) == text


def test_a_limit_stands_in_the_unit_of_its_value():
    assert screen.practical("running_clearance", 0.0, "m", like=5e-6).unit == "um"
    assert screen.practical("spring_travel_to_solid", 2e-5, "m", like=2e-3).unit == "mm"


@pytest.mark.parametrize("name", ["hot_start", "dry_bench"])
def test_a_run_shows_every_measure_and_every_reason(name):
    result = shipped(name)
    text = printed(screen.print_result, result, timeline=True)
    for measure in MEASURES:
        assert measure.name in text
    joined = " ".join(text.split())
    for why in set(result.reasons.values()):
        assert why in joined
    for check in result.checks:
        assert check.name in text
    assert "Pressurised gas, oxidizer and fuel can kill" in joined
    assert text.count("FAILS") == sum(not check.passed for check in result.checks)
    assert "sleeve leaves its seat" in text and result.outcome in text


def test_failed_checks_come_first_with_what_to_change():
    text = printed(screen.print_result, shipped("dry_bench"))
    checks = text[text.index("Checks:") :]
    assert checks.index("FAILS") < checks.index("holds") and "To change:" in checks


@pytest.mark.parametrize("name", ["hot_start", "cold_flow", "dry_bench"])
def test_a_static_check_shows_every_margin_and_finding(name):
    report = static_report(shipped_case(name))
    text = printed(static_screen.print_static, report)
    for item in (*report.margins, *report.findings):
        assert item.name in text
    assert "nan" not in text and "inf " not in text


def test_joined_propellants_are_the_top_line_of_a_static_check():
    report = static_report(shipped_case("hot_start"))
    joined = " ".join(printed(static_screen.print_static, report).split())
    assert joined.index(warning(shipped_case("hot_start"))) < joined.index("Cautions")
    assert "Where vents end" in joined and joined.count("not given") >= 2
    dry = " ".join(printed(static_screen.print_static, static_report(shipped_case("dry_bench"))).split())
    assert "joined by" not in dry


@pytest.mark.parametrize("width", [60, 80, 200])
def test_it_can_be_read_at_any_width(width):
    text = printed(screen.print_result, shipped("dry_bench"), width=width)
    assert max(len(line) for line in text.splitlines()) <= width
    assert "opening_time" in text


def test_markup_and_control_characters_of_a_title_mean_nothing():
    text = printed(screen.title_lines, "[bold]x\x1b[31m", "[red]alarm[/red] \x1b]0;owned\x07 \u202e tail", "dry", True)
    assert "[red]alarm[/red]" in text and "\x1b" not in text and "\x07" not in text and "\u202e" not in text


def test_a_case_is_shown_with_origin_and_both_units():
    text = printed(screen.print_rows, "hot_start", case_rows(shipped_case("hot_start")), shipped_case("hot_start"), width=150)
    for word in ("given", "default", "derived", "preload", "770 N", "[slots.row.0]"):
        assert word in text


def test_instants_count_from_the_first_on_command_and_files_say_what_they_do():
    """On screen, on the page and in pictures one origin; JSON keeps the run's own time and says so."""
    result = shipped("hot_start")
    on = result.case.solenoid.on[0]
    assert on > 0.05
    text = printed(screen.print_result, result, timeline=True)
    lead = result.measures["first_oxidizer"]
    assert re.search(rf"first_oxidizer +{1e3 * (lead - on):.3f} +ms", text) and f"{1e3 * lead:.3f}" not in text
    assert text.count("from the first on command") >= 3
    leaves = next(event.instant for event in result.timeline if "leaves its seat" in event.what)
    assert re.search(rf"{1e3 * (leaves - on):.3f} +sleeve leaves its seat", text)
    assert start_window(result).origin.instant == stop_window(result).origin.instant == on
    table = result_table(result)
    assert table["measures"]["first_oxidizer"] == lead and "from the start of the run" in table["instants"]


def test_without_a_command_instants_count_from_the_start():
    assert origin_of(()).instant == 0.0 and "start of the run" in origin_of(()).words
    assert origin_of((0.4, 0.1)).instant == 0.1


def test_one_form_of_a_number_everywhere():
    """Screen, page and studies: the same digits and unit for a time, a pressure and a margin."""
    for name, value, text in (
        ("opening_time", 0.0629871, "62.987 ms"),
        ("breakaway_pressure", 17.92e5, "17.92 bara"),
        ("fuel_pressure_to_open", 11.77e5, "11.77 barg"),
        ("full_lift_margin", 0.0613, "+6.1 %"),
    ):
        assert with_unit(name, value) == " ".join(shown(name, value, UNITS[name])) == text
        assert f"{in_column(name, value)} {screen_unit(name)}" == text


def test_every_measure_that_is_an_instant_counts_from_the_first_command():
    """Whatever `names` calls an instant is shown from the origin: none is left in run time beside the others."""
    from sleevelift.plant.names import MEASURES
    from sleevelift.shown import Origin, counted

    origin = Origin(0.1, "the first on command")
    for measure in MEASURES:
        moved = counted(measure.name, 1.0, origin) != 1.0
        assert moved == (measure.unit == "s" and "instant" in measure.meaning), measure.name


def test_a_value_of_nothing_stands_in_the_unit_of_its_limit():
    """0 against 507 g/s: both in kg/s, not 507000 mg/s."""
    import io

    from rich.console import Console
    from sleevelift.check import Check
    from sleevelift.report.screen import _print_checks
    from sleevelift.shown import Origin

    out = Console(file=io.StringIO(), width=140)
    _print_checks(out, [Check("steady_fuel_flow", 0.0, 0.507, False, "too little")], Origin(0.0, "the start"))
    text = out.file.getvalue()
    assert "kg/s" in text and "mg/s" not in text
