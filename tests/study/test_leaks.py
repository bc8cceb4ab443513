"""Leak checks: pressures that do not lift the sleeve, falls in closed form, readings of known leaks, and the way into a case."""

import math
from html.parser import HTMLParser
from pathlib import Path

import pytest
from sleevelift.case.faults import CaseError
from sleevelift.case.leaks import gas_of_check
from sleevelift.case.read import load_case, with_values
from sleevelift.cli import app
from sleevelift.constants import STANDARD_GRAVITY
from sleevelift.sizing.leakage import choked_factor, decay_time, gap_flow, orifice_flow
from sleevelift.study import leak_sheet
from sleevelift.study.leak_command import write_case
from sleevelift.study.leak_points import no_lift_pressure, points, pressure_to_use
from sleevelift.study.leak_readings import answered, area_to_use, gap_form, measured_of
from sleevelift.study.leak_sheet import Rig, row_of, sheet_rows
from typer.testing import CliRunner

CASES = Path(__file__).resolve().parents[2] / "cases"
HOT = CASES / "hot_start.toml"
AMBIENT, ROOM = 101325.0, 293.15
RIG = Rig(7e5, 10e-6, 2e3, 1.0, 120.0, 0.5, "nitrogen")
EXACT = RIG._replace(gauge_error=50.0, temperature_error=0.01)


@pytest.fixture(scope="module")
def hot():
    return load_case(HOT)


def point(case, seal):
    return next(one for one in points(case) if one.seal == seal)


def test_the_sleeve_stays_shut_without_friction_and_with_the_margin(hot):
    """By hand: 770 N + (165 g + 66 g/3) g over 1.5 x pi/4 (29.2^2 - 24.3^2) mm2 above ambient."""
    hold = 770.0 + 0.187 * STANDARD_GRAVITY
    area = math.pi / 4 * (29.2e-3**2 - 24.3e-3**2)
    assert no_lift_pressure(hot, point(hot, "piston").push, 0.5) == pytest.approx(AMBIENT + hold / (1.5 * area), rel=1e-12)
    assert point(hot, "rod").push == pytest.approx(math.pi / 4 * (24.3e-3**2 - 19.0e-3**2))
    weak = with_values(hot, {"spring.preload": 100.0})
    held = pressure_to_use(weak, point(weak, "piston"), 7e5, 0.5)
    assert held.value < 7e5 and "lift" in held.because
    assert (held.value - AMBIENT) * area * 1.5 == pytest.approx(100.0 + 0.187 * STANDARD_GRAVITY, rel=1e-9)
    hung = with_values(weak, {"sleeve.axis_tilt": math.pi})  # opens downward: the weight pulls it open
    assert pressure_to_use(hung, point(hung, "piston"), 7e5, 0.5).value < held.value


def test_no_pressure_above_a_rating(hot):
    rated = with_values(hot, {"limits.lift_chamber_rated_pressure": 3e5})
    found = pressure_to_use(rated, point(rated, "piston"), 7e5, 0.5)
    assert found.value == 3e5 and found.rated and "rating" in found.because
    none = hot.model_copy(update={"limits": hot.limits.model_copy(update={"lift_chamber_rated_pressure": None})})
    assert not pressure_to_use(none, point(none, "piston"), 7e5, 0.5).rated


def test_the_fall_is_the_choked_decay(hot):
    """Closed form: p_0 exp(-t Psi A sqrt(Z R T)/V) while the outlet stays choked."""
    row = row_of(hot, point(hot, "outside"), RIG, {})
    gas = gas_of_check("nitrogen", ROOM, 7e5)
    root = math.sqrt(gas.specific_constant * ROOM)
    area = row.reject_flow * root / (choked_factor(gas.exponent) * 7e5)
    expected = 7e5 * (1.0 - math.exp(-row.wait * choked_factor(gas.exponent) * area * root / (1.5e-6 + 10e-6)))
    assert row.reject_fall == pytest.approx(expected - row.error, rel=1e-3)  # it never reads less
    assert row.accept_fall > row.error  # a tight seal's reading is accepted, whatever its error
    assert row.reject_fall - row.accept_fall > row.error
    assert row.error == pytest.approx(2.0 * 2e3 + 7e5 / ROOM)  # both gauge readings, 1 K


def test_what_the_static_answer_bounds_is_what_is_rejected(hot):
    """A largest leak of the static answer decides; a case that counts with more than that is told so."""
    area = 0.5e-8
    row = row_of(hot, point(hot, "piston"), RIG, {"largest_piston_leak": area})
    gas = gas_of_check("nitrogen", ROOM, 7e5)
    assert row.reject_flow == pytest.approx(orifice_flow(area, 7e5, AMBIENT, ROOM, gas)) and "largest" in row.reject_of
    assert row.accept_flow < row.reject_flow and "more than it bears" in row.accept_of


def test_every_leak_has_its_port_and_its_own_place_of_collection(hot, monkeypatch):
    monkeypatch.setattr(leak_sheet, "largest_areas", lambda case: {})
    rows = sheet_rows(hot, RIG)
    assert [row.seal for row in rows] == ["piston", "outside", "rod", "seat", "post", "slots"]
    for side in {row.side for row in rows}:
        places = [row.collect for row in rows if row.side == side]
        assert len(set(places)) == len(places)
    assert all(row.accept_flow < row.reject_flow for row in rows)


def reading(law, seal, start, end, volume=20e-6):
    """The text of what a known leak (kg/s of p) does to a volume."""
    time = decay_time(volume, start, end, law, ROOM, gas_of_check("nitrogen", ROOM, start))
    return f"{seal}: {start / 1e5:.9g} bara to {end / 1e5:.9g} bara in {time:.9g} s, {volume * 1e6:g} cm3"


def test_readings_at_two_pressures_tell_a_hole_from_a_gap(hot):
    """Round trip: readings made from a known hole, and from a known gap, give them back and decide."""
    gas = gas_of_check("nitrogen", ROOM, 8e5)
    area = 3e-9

    def hole(p):
        return orifice_flow(area, p, AMBIENT, ROOM, gas)

    form = gap_form(hot, point(hot, "rod"))._replace(height=1.5e-6)

    def gap(p):
        return gap_flow(form, p, AMBIENT, ROOM, gas).flow

    for law, word in ((hole, "orifice"), (gap, "gap")):
        texts = [reading(law, "rod", 8e5, 7e5), reading(law, "rod", 2.5e5, 2.2e5)]
        found = answered(hot, [measured_of(hot, text, EXACT) for text in texts])
        assert found.decided == word, found.words
        if word == "orifice":
            assert all(one.low <= area * 1.001 and one.high >= area * 0.999 for one in found.areas)
        else:
            assert all(one.value == pytest.approx(1.5e-6, rel=2e-3) for one in found.gaps)
    one = answered(hot, [measured_of(hot, reading(hole, "rod", 8e5, 7e5), EXACT)])
    assert one.decided == "" and area_to_use(one)[0] == max(one.service)


def test_liquid_of_a_hole_is_the_orifice_law(hot):
    """Closed form: A sqrt(2 rho dp) at the fuel's highest inlet pressure, upper end of the reading."""
    found = answered(hot, [measured_of(hot, "rod: 6.9 bara to 6.7 bara in 300 s, 20 cm3", RIG)])
    dp = 28e5 - AMBIENT
    assert found.liquid[0] == pytest.approx(found.areas[0].high * math.sqrt(2.0 * 789.0 * dp), rel=1e-12)
    assert found.areas[0].low < found.areas[0].value < found.areas[0].high


@pytest.mark.parametrize(
    "text, words",
    [
        ("rod 6.9 bara to 6.7 bara", "must be like"),
        ("nose: 6.9 bara to 6.7 bara in 300 s, 20 cm3", "must be one of piston"),
        ("rod: 6.9 bar to 6.7 bara in 300 s, 20 cm3", "bar"),
        ("rod: 6.7 bara to 6.9 bara in 300 s, 20 cm3", "must end between"),
        ("rod: 6.9 bara to 0.5 bara in 300 s, 20 cm3", "must end between"),
        ("rod: 6.9 bara to 6.7 bara in 0 s, 20 cm3", "above 0"),
        ("rod: 6.9 bara to 6.7 bara in 300 s, 20 cm3, smoke", "must be one of helium"),
    ],
)
def test_a_reading_that_cannot_be_used_is_told_with_its_rule(hot, text, words):
    with pytest.raises(CaseError) as refusal:
        measured_of(hot, text, RIG)
    assert len(refusal.value.lines()) == 1 and words in str(refusal.value)


def test_a_case_is_written_with_what_was_found(hot, tmp_path):
    found = answered(hot, [measured_of(hot, "piston: 6.9 bara to 6.0 bara in 3 s, 20 cm3", RIG)])
    write_case(tmp_path / "new.toml", hot, HOT, [found])
    new = load_case(tmp_path / "new.toml")
    effective = new.seals.piston_leak_area * new.seals.piston_leak_discharge_coefficient
    assert effective == pytest.approx(area_to_use(found)[0], rel=1e-9)
    assert (tmp_path / "new.toml").read_text().count("#") == HOT.read_text().count("#")  # comments stay


class Nested(HTMLParser):
    """Counts what is opened and closed."""

    depth = 0

    def handle_starttag(self, tag, attrs):
        self.depth += tag not in ("meta", "img", "br")

    def handle_endtag(self, tag):
        self.depth -= 1


def test_the_command_writes_a_sheet_to_print(tmp_path):
    result = CliRunner().invoke(app, ["leaks", str(HOT), "--out", str(tmp_path / "out")])
    assert result.exit_code == 0, result.output
    words = " ".join(result.stdout.split())
    for said in ("rig alone, outlet blanked off", "upstream of the isolation valve", "sum of its leaks", "FCI 70-2", "joined by"):
        assert said in words
    page = (tmp_path / "out" / "leaks.html").read_text()
    reader = Nested()
    reader.feed(page)
    assert reader.depth == 0 and "stored energy" in page and "<script" not in page
    assert (tmp_path / "out" / "leaks.csv").read_text().startswith("seal,side,port")


def test_the_command_runs_the_case_with_what_was_measured(tmp_path):
    reading_text = "piston: 6.9 bara to 2 bara in 0.3 s, 20 cm3"
    result = CliRunner().invoke(app, ["leaks", str(CASES / "dry_bench.toml"), "--measured", reading_text, "--out", str(tmp_path)])
    assert result.exit_code == 0, result.output
    assert "What each does to opening and closing" in result.stdout and "as the case has it" in result.stdout
    assert "a second reading at another pressure decides" in " ".join(result.stdout.split())


def test_faults_of_the_rig_are_told_at_once():
    result = CliRunner().invoke(
        app, ["leaks", str(HOT), "--gas", "oxygen", "--rig-volume", "0 cm3", "--temperature-error", "1 degC"]
    )
    assert result.exit_code == 2
    assert "inert gas" in result.output and "must be above 0" in result.output and "give it in K" in result.output
