"""The studies on a dry bench case: axes, map, scatter, faults, compare; small numbers of runs."""

import json
import math
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
from sleevelift import load_case, simulate, with_values
from sleevelift.case.change import without_ranges
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text
from sleevelift.plots.maps import chance_contour, chance_curve
from sleevelift.report.files import json_text
from sleevelift.report.screen import console
from sleevelift.study.answer import csv_text, deliver
from sleevelift.study.compare import compare_study, difference_text, input_sheet
from sleevelift.study.fault_list import FAULTS
from sleevelift.study.faults import fault_study
from sleevelift.study.map import map_study
from sleevelift.study.odds import chance, unit_points
from sleevelift.study.rewrite import rewritten
from sleevelift.study.scatter import correlations, scatter_study
from sleevelift.study.store import Work
from sleevelift.study.targets import target_of
from sleevelift.study.values import axis_of
from sleevelift.study.window import Timing, abort_words, setting, unlit
from sleevelift.study.window import sentence_of as window_sentence

CASES = Path(__file__).resolve().parents[2] / "cases"
DRY = CASES / "dry_bench.toml"


@pytest.fixture(scope="module")
def case():
    return load_case(DRY)


# ------------------------------------------------------------------------------------------------ axes


def test_a_range_in_the_units_of_its_text(case):
    axis = axis_of(case, "solenoid.fill_orifice=0.8mm:2.4mm:3")
    assert axis.values.tolist() == pytest.approx([0.8e-3, 1.6e-3, 2.4e-3])
    assert axis.shown(axis.values, 1e5).tolist() == pytest.approx([0.8, 1.6, 2.4])


def test_catalogues(case):
    drills = axis_of(case, "solenoid.fill_orifice=drills:1mm:1.1mm")
    assert drills.labels == (
        "1.00 mm", "#60 (0.04 in)", "#59 (0.041 in)", "1.05 mm", "#58 (0.042 in)", "#57 (0.043 in)", "1.10 mm"
    )  # fmt: skip  # ISO 235, ASME B94.11M
    wires = axis_of(case, "spring.wire_diameter=wires:4.5mm:5mm")
    assert wires.values.tolist() == pytest.approx([4.5e-3, 4.75e-3, 5e-3])  # EN 10270-1


@pytest.mark.parametrize(
    "text",
    [
        "solenoid.fill_orifice", "solenoid.fill_orifice=1mm", "solenoid.fill_orifice=2mm:1mm:3", "solenoid.fill_orifice=1mm:2mm:1",
        "solenoid.fill_orifice=1:2:3", "solenoid.fill_orifice=1bar:2bar", "solenoid.no=1mm:2mm", "solenoid.on=1s:2s", 
        "gas.name=a:b",
        "solenoid.fill_orifice=bolts:1mm:2mm", "solenoid.fill_orifice=drills:1mm", "solenoid=1mm:2mm", "=1:2", "",
    ],
)  # fmt: skip
def test_a_wrong_range_is_refused(case, text):
    with pytest.raises(CaseError):
        axis_of(case, text)


# ------------------------------------------------------------------------------------------------- map


def test_map_points_are_the_runs_of_those_cases(case, tmp_path):
    axes = [axis_of(case, "solenoid.fill_orifice=0.9mm:1.2mm:3"), axis_of(case, "spring.preload=700N:760N:2")]
    answer = map_study(case, axes, ["opening_time", "stop_impact_speed"])
    alone = simulate(with_values(case, {"solenoid.fill_orifice": 1.05e-3, "spring.preload": 760.0}), with_traces=False)
    assert answer.data["measures"]["opening_time"][1][1] == alone.measures["opening_time"]
    assert answer.data["case_itself"]["opening_time"] == simulate(case, with_traces=False).measures["opening_time"]
    assert [bool(where[1][1]) for where in answer.data["fails"].values()] == [
        any(c.name == name and not c.passed for c in alone.checks) for name in answer.data["fails"]
    ]
    files = deliver(answer, tmp_path, console())
    assert {path.name for path in files} == {"map.csv", "map.json", "map.png"}
    assert len((tmp_path / "map.csv").read_text().splitlines()) == 1 + 6 + 1
    assert json.loads((tmp_path / "map.json").read_text())["answer"] == answer.sentence
    assert (tmp_path / "map.png").read_bytes()[:4] == b"\x89PNG"


def test_a_map_has_the_same_numbers_from_any_number_of_workers(case):
    axes = [axis_of(case, "solenoid.fill_orifice=0.9mm:1.3mm:40"), axis_of(case, "spring.preload=700N:760N:4")]
    one, three = (map_study(case, axes, ["opening_time", "closing_time"], Work(workers=n)) for n in (1, 3))
    assert json_text(one.data) == json_text(three.data) and json_text(one.rows) == json_text(three.rows)
    assert len(one.rows) == 40 * 4 + 1 and "no random points" in one.notes[0]


def test_worst_margins_of_a_map_move_with_its_axis(case):
    axes = [axis_of(case, "supply.pressure=60bara:70bara:3")]
    answer = map_study(case, axes, ["opening_margin"])
    found = np.ravel(answer.data["measures"]["opening_margin"])
    assert found[0] < found[1] < found[2]
    moved = with_values(case, {"supply.pressure": 70e5}, move_ranges=True)
    assert found[2] == simulate(moved, with_traces=False).measures["opening_margin"]


def test_a_map_tells_the_chance_of_a_target_at_each_point(case, tmp_path):
    """What is nearly sure at one orifice and hopeless at the other, and between them counted as a scatter of that design counts."""
    axes = [axis_of(case, "solenoid.fill_orifice=0.9mm:1.3mm:3")]
    limit = simulate(with_values(case, {"solenoid.fill_orifice": 1.1e-3}), with_traces=False).measures["opening_time"]
    text = f"opening_time<={1e3 * limit:.6g} ms"
    target = target_of(case, text, "--target")
    answer = map_study(case, axes, ["opening_time"], targets=[target], scattered=48, seed=7)
    shares = answer.data["chances"][text]["share"]
    assert shares[0] == 0.0 and shares[2] == 1.0 and 0.2 < shares[1] < 0.8
    moved = with_values(case, {"solenoid.fill_orifice": 1.1e-3})
    rows = scatter_study(moved, 48, seed=7)
    place = rows.header.index("opening_time [s]")
    assert shares[1] == np.mean([row[place] <= target.high for row in rows.rows])
    assert answer.sentence.startswith(f"{text} holds in 100.0 % of cases at fill_orifice 1.3 mm")
    assert f"{text} holds" in answer.sheets[0].columns
    files = deliver(answer, tmp_path, console())
    head = (tmp_path / "map.csv").read_text().splitlines()[0]
    assert files and f"{text} holds [-]" in head and f"{text} holds, high [-]" in head
    assert json.loads((tmp_path / "map.json").read_text())["chances"][text]["share"] == [0.0, shares[1], 1.0]


def test_the_picture_of_a_map_shows_the_chance_of_each_target(case):
    """What is drawn is what is counted: share and interval at each point, the case itself as a star; over two values in figures."""
    from matplotlib.figure import Figure

    odds = np.array([[0.0, 0.0, 0.1], [0.5, 0.3, 0.7], [1.0, 0.9, 1.0], [0.75, 0.6, 0.85]])
    one = [axis_of(case, "solenoid.fill_orifice=0.9mm:1.1mm:3", "--vary")]
    panel = Figure().subplots()
    chance_curve(panel, case, one, "opening_time<=70ms", odds)
    curve, star = panel.lines
    assert curve.get_ydata().tolist() == [0.0, 50.0, 100.0] and star.get_ydata().tolist() == [75.0]
    (band,) = panel.collections
    edges = {(round(x, 3), round(y, 3)) for x, y in band.get_paths()[0].vertices}
    assert {(0.9, 10.0), (1.0, 30.0), (1.0, 70.0), (1.1, 90.0)} <= edges
    two = [*one, axis_of(case, "spring.preload=760N:780N:2", "--vary")]
    panel = Figure().subplots()
    chance_contour(panel, case, two, "opening_time<=70ms", np.vstack([odds[:3], odds[:3], odds[3:]]))
    assert [text.get_text() for text in panel.texts if text.get_text() == "75 %"]


def test_a_map_counts_margins_of_each_point(case):
    """A margin between its worst over the ranges and its own at nominal holds at some of the points, not at none."""
    result = simulate(case, with_traces=False)
    own = simulate(without_ranges(case), with_traces=False)
    limit = 0.5 * (result.measures["opening_margin"] + own.measures["opening_margin"])
    target = target_of(case, f"opening_margin>={limit:.6g}", "--target")
    axes = [axis_of(case, "solenoid.fill_orifice=1mm:1.1mm:2")]
    answer = map_study(case, axes, ["opening_margin"], targets=[target], scattered=32, seed=1)
    assert 0.5 < answer.data["chances"][target.text]["share"][0] < 1.0
    assert result.measures["opening_margin"] < limit


def test_a_map_with_targets_needs_ranges_and_stays_bearable(case):
    target = target_of(case, "opening_time<=60 ms", "--target")
    axes = [axis_of(case, "solenoid.fill_orifice=1mm:1.1mm:100")]
    with pytest.raises(CaseError, match="--points"):
        map_study(case, axes, ["opening_time"], targets=[target], scattered=1000)
    with pytest.raises(CaseError, match="at least 2"):
        map_study(case, axes, ["opening_time"], targets=[target], scattered=1)
    with pytest.raises(CaseError, match="no value carries a range"):
        map_study(without_ranges(case), axes[:1], ["opening_time"], targets=[target], scattered=4)
    with pytest.raises(CaseError, match="--target"):
        target_of(case, "opening_time<60 ms", "--target")


def test_a_map_beyond_what_a_case_may_be_is_refused(case):
    with pytest.raises(CaseError):
        map_study(case, [axis_of(case, "spring.preload=700N:900N:3")], ["opening_time"])  # the coils touch


# --------------------------------------------------------------------------------------------- scatter


def test_wilson_interval():
    """Closed form: (p + z2/2n -+ z sqrt(p q/n + z2/4n2))/(1 + z2/n), z = 1.959964 (normal quantile of 0.975)."""
    k, n, z = 3, 50, 1.959963984540054
    p = k / n
    middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    found = chance([True] * k + [False] * (n - k))
    assert found[:3] == pytest.approx((p, (middle - half) / (1 + z * z / n), (middle + half) / (1 + z * z / n)))
    assert (found.hits, found.runs) == (k, n)


def test_rank_correlation_sees_monotone_not_linear():
    x = np.random.default_rng(1).random((60, 2))
    rho = correlations(x, np.exp(20.0 * x[:, 0]))
    assert rho[0] == pytest.approx(1.0) and abs(rho[1]) < 0.5
    y = np.where(x[:, 0] > 0.5, np.nan, -x[:, 0])
    assert correlations(x, y)[0] == pytest.approx(-1.0)
    assert correlations(x, np.ones(60)).tolist() == [0.0, 0.0]


def test_points_depend_on_the_seed_alone():
    assert np.array_equal(unit_points(3, 10, 4, "lhs"), unit_points(3, 10, 4, "lhs"))
    assert not np.array_equal(unit_points(3, 10, 4, "lhs"), unit_points(3, 10, 5, "lhs"))
    assert len(unit_points(3, 10, 0, "sobol")) == 16
    strata = np.sort((unit_points(2, 10, 0, "lhs") * 10).astype(int), axis=0)
    assert np.array_equal(strata, np.tile(np.arange(10)[:, None], 2))  # one point in each tenth of each range
    with pytest.raises(CaseError):
        unit_points(2, 10, 0, "dice")


def test_scatter_names_the_driver(case, tmp_path):
    answer = scatter_study(case, 48, seed=3, work=Work(tmp_path, workers=2))
    again = scatter_study(case, 48, seed=3, work=Work(None, workers=1))
    assert json_text(answer.data) == json_text(again.data) and json_text(answer.rows) == json_text(again.rows)
    rows = {row["name"]: row for row in answer.data["measures"]}
    assert rows["opening_time"]["p1"] <= rows["opening_time"]["p50"] <= rows["opening_time"]["p99"]
    # lift force is (supply - ambient) x area: the supply's pressure drives it alone
    assert rows["lift_force"]["rank_correlations"]["supply.pressure"] == pytest.approx(1.0)
    low, high = case.ranges["supply.pressure"]
    inputs = [row[answer.header.index("supply.pressure [Pa]")] for row in answer.rows]
    assert low <= min(inputs) and max(inputs) <= high and np.ptp(inputs) > 0.9 * (high - low)
    assert "seed 3" in answer.notes[0]
    assert tmp_path / "scatter.png" in deliver(answer, tmp_path, console())


def test_margins_of_a_scatter_are_those_of_each_point(case):
    answer = scatter_study(case, 8, seed=3)
    place = {name: i for i, name in enumerate(column.split(" ")[0] for column in answer.header)}
    row = answer.rows[0]
    inputs = {path: row[place[path]] for path in case.ranges}
    point = without_ranges(with_values(case, inputs))
    assert row[place["opening_margin"]] == simulate(point, with_traces=False).measures["opening_margin"]
    assert len({row[place["opening_margin"]] for row in answer.rows}) == len(answer.rows)


def test_indices_of_a_measure_with_one_input(case):
    answer = scatter_study(case, 8, work=Work(workers=2), indices=True)
    table = answer.data["indices"]
    assert table["runs"] == 8 * (len(case.ranges) + 2)
    first, total = table["table"]["lift_force"]["supply.pressure"]
    assert total > 0.5 and abs(table["table"]["lift_force"]["seals.friction_factor"][1]) < 1e-9
    assert math.isfinite(first)


def test_no_range_no_scatter():
    text = DRY.read_text().replace('low = "63.5 bara", high = "66.5 bara"', 'plus_minus = "0 bar"')
    text = text.replace("low = 0.5, high = 1.5", "plus_minus = 0.0")
    with pytest.raises(CaseError, match="no value carries a range"):
        scatter_study(case_from_text(text), 8)


# ---------------------------------------------------------------------------------------------- faults


def test_faults_of_a_dry_case(case, tmp_path):
    answer = fault_study(case)
    rows = {row.name: row for row in answer.data["faults"]}
    assert set(rows) >= {fault.name for fault in FAULTS}
    assert rows["solenoid stuck closed"].verdict == "safe" and rows["solenoid stuck closed"].ends_closed
    assert not rows["solenoid stuck closed"].opens_when_it_must_not
    stuck = rows["solenoid stuck open after opening"]
    assert stuck.verdict == "unsafe" and not stuck.ends_closed
    early = rows["solenoid open before the command"]
    assert early.opens_when_it_must_not and early.verdict == "unsafe"
    assert rows["no light-off"].verdict == "-"  # a dry case has no chamber
    assert rows["no electrical power mid-run"].ends_closed
    assert not any(row.failure for row in rows.values())
    deliver(answer, tmp_path, console())
    assert (tmp_path / "faults.png").exists()


def test_a_fault_of_the_case_is_added():
    text = DRY.read_text() + '\n[[faults]]\nname = "limp spring"\nchange = { "spring.preload" = "x 0.5" }\nnote = "worn"\n'
    from sleevelift.study.fault_list import faults_of_case

    case = case_from_text(text)
    added = [fault for fault in faults_of_case(case) if fault.name == "limp spring"]
    assert len(added) == 1 and added[0].why == "worn"
    assert added[0].change(case, {}).spring.preload == pytest.approx(0.5 * case.spring.preload)


# ---------------------------------------------------------------------------------------------- window


def test_igniter_setting():
    both, latest, room = {"p1": 0.100, "p99": 0.104}, {"p1": 0.130}, {"p1": 0.0041}
    found = setting(both, latest, room, Timing(rise=0.02, delay=0.003, scatter=0.001, detection=0.0))
    assert found["on_before_both"] == pytest.approx(0.100 - 0.02 - 0.001)
    assert found["latest_expected_light_off"] == pytest.approx(0.104 + 0.003 + 0.001)
    assert found["last_on"] == pytest.approx(0.130 - 0.02 - 0.003 - 0.001) and found["holds"] is True
    # run by run, light-off follows both by delay and scatter: 4 ms, more than the 3.9 ms that the pool leaves
    assert setting(both, latest, {"p1": 0.0039}, Timing(0.02, 0.003, 0.001, 0.0))["holds"] is False
    none = {"p1": None, "p99": None}
    assert setting(none, {"p1": None}, {"p1": None}, Timing(0.0, 0.0, 0.0, 0.0))["holds"] is None


def test_an_abort_before_light_can_be_missed_is_no_abort():
    assert abort_words(0.2, 0.15).startswith("shut down on no light by 200.000 ms")
    assert abort_words(0.2, None).startswith("shut down on no light by 200.000 ms")
    words = abort_words(0.1427, 0.1665)
    assert "TOO LATE" in words and "142.700 ms" in words and "166.500 ms" in words


def window_facts(both, latest, after, room):
    """Facts of a window: instants of the run, s; the first on command comes at 0.1 s."""
    there = {"p1": both - 1e-3, "p50": both, "p99": both + 1e-3}
    last = {"p1": latest, "p50": latest + 1e-3, "p99": latest + 2e-3}
    on = {"on_before_both": both - 2e-3, "light_off_after_both": after, "latest_expected_light_off": both + after,
          "holds": after <= room}  # fmt: skip
    return {"both_in_chamber": there, "latest_light_off": last, "setting": on, "origin": 0.1, "room": {"p1": room},
            "abort": {"last_decision": None}, "no_light": None}  # fmt: skip


@pytest.mark.parametrize("latest", [0.1327, 0.1329, 0.1345])
@pytest.mark.parametrize("after, room", [(4e-3, 3.351e-3), (3e-3, 3.351e-3)])
def test_the_window_has_one_sentence_and_one_verdict(latest, after, room):
    words = window_sentence(window_facts(0.1318, latest, after, room))
    assert words.count(".") - words.count(" ms") <= 1 and words.endswith(".")
    assert words.startswith("The setting holds" if after <= room else "The setting does NOT hold")
    assert f"{1e3 * after:.3f} ms" in words and f"{1e3 * room:.3f} ms" in words
    assert "within" not in words, "no more than is allowed is not within"
    span = re.search(r"from ([\d.]+) ms to ([\d.]+) ms", words)
    assert (span is not None) == (after <= room and latest > 0.1328) and (span is None or float(span[1]) < float(span[2]))


def test_instants_of_the_window_count_from_the_first_on_command():
    words = window_sentence(window_facts(0.1318, 0.1345, 3e-3, 3.351e-3))
    assert "igniter on by 29.800 ms after the first on command" in words and "from 32.800 ms to 34.500 ms" in words


def test_a_dry_case_has_no_window(case):
    with pytest.raises(CaseError, match="no combustion chamber"):
        unlit(case)


# --------------------------------------------------------------------------------------------- compare


def test_compare(case, tmp_path):
    other = with_values(case, {"solenoid.fill_orifice": 1.2e-3})
    other._name = "wider"
    answer = compare_study([case, other])
    row = next(row for row in answer.rows if row[0] == "opening_time")
    assert row[4] == row[3] - row[2] < 0.0
    assert "stop_impact_speed [m/s]" in {row[0] for sheet in answer.sheets for row in sheet.rows}
    deliver(answer, tmp_path, console())
    assert (tmp_path / "compare.png").exists()
    assert difference_text("opening_time", 0.050, 0.060) == "+10 (+20.0 %)"
    with pytest.raises(CaseError):
        compare_study([case])


def test_inputs_of_a_table_that_one_case_does_not_have_are_those_given():
    sequenced, plain = (load_case(CASES / f"{name}.toml") for name in ("sequenced_start", "hot_start"))
    rows = {row[0]: row[1:] for row in input_sheet(["sequenced", "plain"], [sequenced, plain]).rows}
    assert rows["sequence.step.1.delay"] == ("50 ms", "-") and rows["solenoid.on"] == ("[]", '["0.1 s"]')
    assert not any("absent" in row for row in rows.values()) and "sequence.step.1.detection_delay" not in rows


# --------------------------------------------------------------------------------------------- rewrite


def test_rewriting_keeps_everything_else():
    text = (CASES / "hot_start.toml").read_text()
    case = case_from_text(text, "hot_start")
    new = rewritten(text, case, {"slots.row.0.lap": 2e-4, "supply.pressure": 31.5e5, "spring.active_coils": 9.5})
    again = case_from_text(new, "hot_start")
    assert (again.slots.row[0].lap, again.supply.pressure, again.spring.active_coils) == pytest.approx((2e-4, 31.5e5, 9.5))
    low, high = case.ranges["supply.pressure"]
    assert again.ranges["supply.pressure"] == pytest.approx((low + 0.5e5, high + 0.5e5))
    changed = [(a, b) for a, b in zip(text.splitlines(), new.splitlines()) if a != b]
    assert len(changed) == 3 and len(text.splitlines()) == len(new.splitlines())
    assert all(a.partition("#")[2] == b.partition("#")[2] for a, b in changed)
    assert tomllib.loads(new)["chamber"] == tomllib.loads(text)["chamber"]
    with pytest.raises(CaseError):
        rewritten(text, case, {"seals.rod.squeeze_friction": 60.0})  # stands in a line with others


def test_csv_fields():
    assert csv_text(["a"], [[None], [float("nan")], [0.1], ['x, "y"']]) == 'a\n\n\n0.1\n"x, ""y"""\n'
