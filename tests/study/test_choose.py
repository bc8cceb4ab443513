"""The choice of a design on a dry bench case: what is claimed of the designs is held against fresh runs."""

import math
from pathlib import Path

import numpy as np
import pytest
from sleevelift import load_case, simulate, simulate_many, with_values
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text
from sleevelift.report.files import json_text
from sleevelift.report.screen import console
from sleevelift.sizing.spring_design import WIRE_DIAMETERS_MM, spring_state
from sleevelift.study.answer import deliver
from sleevelift.study.choose import choose_study, coil_axis, distinct, move_of
from sleevelift.study.judge import Design, Judge, counted_slack
from sleevelift.study.odds import holds, own_cases, scaled, unit_points
from sleevelift.study.scatter import scatter_study
from sleevelift.study.spring_moves import spring_followers, with_moves
from sleevelift.study.store import ALONE, Work
from sleevelift.study.targets import Target, kept_targets, target_of, target_slack
from sleevelift.study.values import axis_of

CASES = Path(__file__).resolve().parents[2] / "cases"
DRY = CASES / "dry_bench.toml"
FEASIBLE = "opening_time=50ms:80ms", "closing_time<=55ms", "stop_impact_speed<=0.6m/s"
INFEASIBLE = "opening_time<=50ms", "stop_impact_speed<=0.25m/s"
MOVES = "solenoid.fill_orifice=drills:0.9mm:1.2mm", "spring.preload=740N:790N"


@pytest.fixture(scope="module")
def case():
    return load_case(DRY)


def made(case, targets, moves, **kw):
    return choose_study(case, DRY.read_text(), [target_of(case, t) for t in targets], [move_of(case, m) for m in moves], **kw)


@pytest.fixture(scope="module")
def feasible(case):
    return made(case, FEASIBLE, MOVES, seed=2, points=64)


@pytest.fixture(scope="module")
def infeasible(case):
    return made(case, INFEASIBLE, MOVES[:1], seed=5, points=20)


def measured(case, point):
    return simulate(with_values(case, point), with_traces=False)


# --------------------------------------------------------------------------------------------- targets


def test_targets(case):
    target = target_of(case, "opening_time<=60ms")
    assert (target.low, target.high, target.scale) == (-math.inf, 0.06, 0.06)
    assert target_slack(target, np.array([0.03, 0.06, 0.12, np.nan])).tolist() == pytest.approx([0.5, 0.0, -1.0, -10.0])
    band = target_of(case, "opening_time=40ms:60ms")
    assert target_slack(band, np.array([0.05, 0.07])).tolist() == pytest.approx([0.5, -0.5])
    assert target_of(case, "full_lift_margin>=0.05").scale == 0.1
    for wrong in ("opening_time", "opening_time<60ms", "opening_tim<=1s", "opening_time<=60", "opening_time=60ms:40ms",
                  "full_lift_margin>=nan", "opening_time=1ms:2ms:3ms"):  # fmt: skip
        with pytest.raises(CaseError):
            target_of(case, wrong)


def test_checks_that_the_case_passes_are_kept(case):
    passed = {check.name: check.passed for check in simulate(case, with_traces=False).checks}
    kept = {target.measure: target for target in kept_targets(case, passed, [target_of(case, "full_lift_margin>=0.2")])}
    assert passed["opening_margin"] and kept["opening_margin"].low == case.limits.margin_at_least
    assert not passed["no_fuel_margin"] and "no_fuel_margin" not in kept  # a dry bench has no interlock to lose
    assert "full_lift_margin" not in kept  # the designer speaks of it
    assert kept["seat_impact_speed"].high == case.limits.seat_impact_speed_at_most


def test_to_spare_in_a_kept_check_counts_for_nothing():
    targets = [Target("a", 0.0, 1.0, 1.0, "a"), Target("b", 0.0, math.inf, 0.1, "b", kept=True)]
    assert counted_slack(targets, {"a": 0.4, "b": 0.1}) == 0.4
    assert counted_slack(targets, {"a": 0.4, "b": -0.1}) == -0.1


# ------------------------------------------------------------------------------------------ it can be done


def test_designs_hold_what_is_claimed_when_run_anew(case, feasible):
    """Every target over fresh random points of the written case's own ranges, its ends included."""
    assert feasible.data["holds"] and "holds all targets" in feasible.sentence
    assert len(feasible.data["designs"]) >= 2 and len(feasible.texts) == len(feasible.data["designs"])
    rng = np.random.default_rng(11)
    for (name, text), design in zip(feasible.texts.items(), feasible.data["designs"]):
        chosen = case_from_text(text, name)
        assert set(chosen.ranges) == set(case.ranges)
        spots = [np.zeros(2), np.ones(2), *rng.random((8, 2))]
        points = [{}, *[{p: low + u * (high - low) for u, (p, (low, high)) in zip(x, chosen.ranges.items())} for x in spots]]
        for point in points:
            result = measured(chosen, point)
            assert result.outcome == "opened-and-closed"
            assert 0.050 <= result.measures["opening_time"] <= 0.080
            assert result.measures["closing_time"] <= 0.055
            assert result.measures["stop_impact_speed"] <= 0.6
        nominal = measured(chosen, {})
        for measure in ("opening_time", "closing_time", "opening_margin", "gas_per_cycle"):  # the file's digits: 12
            assert design.measures[measure] == pytest.approx(nominal.measures[measure], rel=1e-6)


def test_no_check_of_the_case_is_lost(case, feasible):
    passed = {check.name for check in simulate(case, with_traces=False).checks if check.passed}
    for text in feasible.texts.values():
        now = {check.name for check in simulate(case_from_text(text), with_traces=False).checks if check.passed}
        assert passed <= now


def test_designs_are_distinct_and_the_chances_told(feasible):
    values = [tuple(design.values.values()) for design in feasible.data["designs"]]
    assert len(set(values)) == len(values)
    for chance, design in zip(feasible.data["chances"], feasible.data["designs"]):
        share, low, high, hits, runs = chance["closing_time<=55ms"]
        assert share == high == 1.0 and hits == runs == 64
        # Wilson with no failure in n: n/(n + z^2), z = 1.959964
        assert low == pytest.approx(64 / (64 + 1.959963984540054**2))
        assert design.runs == 1 + 2 + 64  # nominal, both ends, points: none twice where every margin holds in the worst case


def test_chances_are_those_of_a_scatter(case):
    """The same points of the case as written: what holds is what scatter finds not failing, though it fails in the worst case."""
    scatter = scatter_study(case, 40, seed=4)
    place = scatter.header.index("opening_margin [-]")
    margins = np.array([row[place] for row in scatter.rows])
    limit = float(np.median(margins))
    text = f"opening_margin>={limit!r}"
    answer = made(case, [text, "closing_time<=55ms"], ["solenoid.fill_orifice=drills:1mm:1.05mm"], seed=3, points=40)
    own = answer.data["case_as_written"]
    assert own.odds[text].hits == int(np.sum(margins >= limit)) == 20
    assert own.slacks[text] < 0.0  # the worst case does not hold
    for row in scatter.data["checks"]:
        if f"check {row['name']}" in own.odds:
            assert own.odds[f"check {row['name']}"].hits == row["runs"] - row["fails"]
    sheet = next(sheet for sheet in answer.sheets if sheet.title.startswith("Chance"))
    cell = next(row for row in sheet.rows if row[0] == text)[-1]
    assert cell.startswith("50.0 %") and cell.endswith("; no")
    assert answer.data["worst_case"][0][text] is False


def test_the_files_are_written_and_load(feasible, tmp_path):
    names = {path.name for path in deliver(feasible, tmp_path, console())}
    assert {"choose.csv", "choose.json", "choose.png", "dry_bench-chosen.toml"} <= names
    again = load_case(tmp_path / "dry_bench-chosen.toml")
    assert again.spring.preload == pytest.approx(feasible.data["designs"][0].values["spring.preload"], rel=1e-9)
    assert "seed 2" in "".join(feasible.notes)


def test_the_same_seed_gives_the_same_answer(case, feasible):
    again = made(case, FEASIBLE, MOVES, seed=2, points=64, work=Work(workers=1))
    assert json_text(again.data) == json_text(feasible.data)
    assert json_text(again.rows) == json_text(feasible.rows) and again.texts == feasible.texts


def test_a_catalogue_is_judged_whole(case, infeasible):
    axis = move_of(case, MOVES[0])
    assert sorted(row[0] for row in infeasible.rows) == axis.values.tolist()


# ------------------------------------------------------------------------------------------- it cannot be done


def test_what_binds_where_nothing_holds(infeasible):
    assert not infeasible.data["holds"] and infeasible.sentence.startswith("No design holds")
    assert set(infeasible.data["binding"]) == set(INFEASIBLE)
    assert all(f"{target}" in infeasible.sentence for target in INFEASIBLE)
    assert list(infeasible.texts) == ["dry_bench-nearest.toml"]


def test_what_the_nearest_design_gives_up_is_said(case):
    """A time out of reach pulls the orifice up until the sleeve hits its stop harder than the case lets it."""
    own = simulate(case, with_traces=False).measures
    hits = f"stop_impact_speed<={1.2 * own['stop_impact_speed']:.4g}m/s"
    answer = made(case, ["opening_time<=20ms", hits], ["solenoid.fill_orifice=drills:0.9mm:1.4mm"], seed=5, points=16)
    assert not answer.data["holds"]
    nearest, keeper = answer.data["designs"]
    assert nearest.slacks[hits] < 0.0 <= answer.data["case_as_written"].slacks[hits]
    assert answer.data["given_up"] == [[hits], []]
    assert f"It gives up {hits}, which the case as written holds; the nearest that gives up nothing" in answer.sentence
    assert keeper.slacks[hits] >= 0.0 and keeper.slack <= nearest.slack
    assert len(answer.texts) == 2


def test_slacks_are_those_of_fresh_runs(case, infeasible):
    """(limit - value)/limit by hand, least over nominal, both corners and the Latin hypercube of the told seed."""
    design = infeasible.data["designs"][0]
    moved = with_values(case, design.values, move_ranges=True)
    ranges = dict(sorted(moved.ranges.items()))
    spots = np.concatenate([np.zeros((1, 2)), np.ones((1, 2)), unit_points(2, 20, 5 + 1, "lhs")])
    runs = [measured(moved, point).measures for point in [{}, *scaled(spots, ranges)]]
    assert design.slacks["opening_time<=50ms"] == min((0.050 - run["opening_time"]) / 0.050 for run in runs)
    assert design.slacks["stop_impact_speed<=0.25m/s"] == min((0.25 - run["stop_impact_speed"]) / 0.25 for run in runs)
    assert design.slack == min(design.slacks[name] for name in INFEASIBLE) < 0.0
    # no other drill of the list does better in the search
    assert max(row[1] for row in infeasible.rows) == infeasible.rows[0][1]


# -------------------------------------------------------------------------------------------------- spring


def test_a_spring_wound_anew_can_be_made(case):
    answer = made(
        case, ["opening_time=50ms:90ms", "closing_time<=60ms"],
        ["spring.wire_diameter=wires:4.5mm:5mm", "spring.active_coils=7:10", "spring.preload=700N:800N"], points=16,
    )  # fmt: skip
    assert answer.data["holds"]
    for text in answer.texts.values():
        chosen = case_from_text(text)
        s = chosen.spring
        assert any(s.wire_diameter == pytest.approx(d * 1e-3) for d in WIRE_DIAMETERS_MM)
        assert (4.0 * s.active_coils) % 1.0 == 0.0 and s.total_coils - s.active_coils == pytest.approx(2.0)
        state = spring_state(
            wire_diameter=s.wire_diameter, mean_diameter=s.mean_diameter, active_coils=s.active_coils,
            total_coils=s.total_coils, free_length=s.free_length, preload=s.preload, stroke=chosen.sleeve.stroke,
            shear_modulus=s.shear_modulus, elastic_modulus=s.elastic_modulus, density=s.density,
        )  # fmt: skip
        seated = case.spring.free_length - case.spring.preload / case.spring.rate
        assert state.length_seated == pytest.approx(seated, abs=1e-5)  # the housing stays; free length to 0.01 mm
        assert state.gap_left >= state.gap_needed
        assert state.stress_solid <= 0.56 * 1450e6  # 1.4310 up to 5 mm, the weaker wire beside 75 GPa
        assert chosen.spring.mass == pytest.approx(0.066 * (s.wire_diameter / 4.8e-3) ** 2 * s.total_coils / 12.0, abs=1e-4)


def test_another_preload_alone_is_the_same_spring(case):
    assert spring_followers(case, {"spring.preload": 700.0}) == {}
    assert with_moves(case, {"spring.preload": 700.0}).spring.free_length == case.spring.free_length
    wound = spring_followers(case, {"spring.active_coils": 9.0})
    assert wound["spring.total_coils"] == 11.0
    # F/k with k = G d^4/(8 D^3 n): nine tenths of the deflection of ten coils
    stays = case.spring.free_length - 770.0 / case.spring.rate
    assert wound["spring.free_length"] == pytest.approx(stays + 0.9 * 770.0 / case.spring.rate, abs=0.5e-5)


def test_a_spring_without_its_wire_cannot_be_wound():
    text = DRY.read_text().replace('free_length = "79.5 mm"', "")
    case = case_from_text(text)
    with pytest.raises(CaseError, match="free_length"):
        choose_study(case, text, [target_of(case, "closing_time<=60ms")], [move_of(case, "spring.active_coils=8:10")])


def test_coils_go_in_quarter_turns(case):
    axis = coil_axis(axis_of(case, "spring.active_coils=8.1:9"))
    assert axis.values.tolist() == [8.25, 8.5, 8.75, 9.0]
    with pytest.raises(CaseError):
        coil_axis(axis_of(case, "spring.active_coils=8.1:8.2"))


# ------------------------------------------------------------------------------------------------ the rest


def test_distinct_designs_differ_as_far_as_they_can(case):
    axes = [move_of(case, "spring.preload=700N:800N")]
    designs = [
        Design({"spring.preload": f}, {}, s, {}, {}, 1, {}, [], None)
        for f, s in ((750.0, 0.3), (751.0, 0.29), (795.0, 0.2), (704.0, 0.1))
    ]
    assert [d.values["spring.preload"] for d in distinct(designs, axes)] == [750.0, 795.0, 704.0]
    assert [d.values["spring.preload"] for d in distinct(designs[:2], axes)] == [750.0]


@pytest.mark.parametrize(
    "targets, moves",
    [
        ((), MOVES), (FEASIBLE, ()), (FEASIBLE, ("spring.preload=700N:800N",) * 2),
        (FEASIBLE, ("seals.rod.squeeze_friction=60N/m:80N/m",)),
        (FEASIBLE, ("slots.row.lap=0.1mm:0.2mm",)),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_is_refused(case, targets, moves):
    with pytest.raises(CaseError):
        made(case, targets, moves)


def test_chances_are_those_of_running_every_point_with_its_own_margins(case):
    """Points at which a margin misses in the worst case are run again, no others; what is counted is what all of them run twice
    give, margins, surges and checks."""
    targets = [target_of(case, text) for text in ("opening_margin>=0.18", "surge_margin>=0.5", "closing_time<=55ms")]
    passed = {check.name: check.passed for check in simulate(case, with_traces=False).checks}
    judge = Judge(case, targets, passed, 24, 5, ALONE, odds=True)
    (design,) = judge.judged([{"spring.preload": 772.0}])
    cases = own_cases(with_moves(case, {"spring.preload": 772.0}), judge.scattered, judge.wide)
    every = simulate_many(case, cases)
    again = design.runs - (1 + 2 + 24)
    assert 0 < again <= 24
    for target in targets:
        assert design.odds[target.text].hits == int(holds(target, every, slice(0, 24)).sum()), target.text
    for name, values in every.checks.items():
        if f"check {name}" in design.odds:
            assert design.odds[f"check {name}"].hits == int((values == 1.0).sum()), name
    low = Judge(case, [target_of(case, "opening_margin<=0.3")], passed, 24, 5, ALONE, odds=True)
    assert low.judged([{"spring.preload": 772.0}])[0].runs == 1 + 2 + 24 + 24, "a margin wanted low is run with its own everywhere"
