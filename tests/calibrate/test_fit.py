"""Fits of invented traces whose truth is known; what is not explained; what is refused; the case that is written."""

import json
import math

import numpy as np
import pytest
from invented_stand import ROOT, TRUTH, bump, case, measured, synthetic, written
from sleevelift import load_case, with_values
from sleevelift.calibrate.answer import fit_answer, notes_of, sentence
from sleevelift.calibrate.data import Settings, experiment, measured_number
from sleevelift.calibrate.fit import fit
from sleevelift.calibrate.free import Free, free_of, within_schema
from sleevelift.calibrate.judge import groups_of, samples_together, stretches
from sleevelift.calibrate.write import none_if_not_all
from sleevelift.case.read import CaseError
from sleevelift.cli import app
from sleevelift.measured.trace import read_trace
from sleevelift.study.store import PARTS, Work
from typer.testing import CliRunner

DRY = ROOT / "cases" / "dry_bench.toml"
FREE = list(TRUTH)


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """A fit of two values to three channels."""
    test = measured(tmp_path_factory.mktemp("stand") / "stand.csv", TRUTH)
    return fit([test], [free_of(case(), path) for path in FREE], starts=1)


def test_values_come_back_inside_their_intervals(found):
    """Within two 90 % intervals: one would fail once in ten seeds."""
    for value in found.values:
        half = 0.5 * (value.high - value.low)
        assert abs(value.fitted - TRUTH[value.free.path]) < 2.0 * half < 0.02 * value.fitted
        assert not value.at_end and not value.open and not value.unusual


def test_the_model_explains_its_own_run(found):
    assert found.explained and all(0.8 < one.rms < 1.3 for one in found.verdict.channels)
    assert "explains what was measured" in sentence(found) and "NOT" not in sentence(found)


def test_clock_and_lags_come_back(found):
    """As the script makes them: 370 ms, 1.0, 0.6, 0.2 ms."""
    sensors = found.verdict.intervals[len(FREE) :]
    for k, (one, truth) in enumerate(zip(sensors, (370.0, 1.0, 0.6, 0.2))):
        assert abs(found.sensor(k) - truth) < 4.0 * one.sigma + 0.02, one


def test_what_the_model_lacks_is_said_with_where_in_time(tmp_path):
    """A plateau of 3 bar that no valve makes, 100 to 130 ms after the command (470 ms of the file)."""
    extra = {"lift_chamber_pressure [bara]": bump(570.0, 600.0, 3.0)}
    found = fit([measured(tmp_path / "stand.csv", TRUTH, add=extra)], [free_of(case(), p) for p in FREE], starts=1, let_go=False)
    channel = found.verdict.channels[1]
    assert not found.explained and not channel.explained and found.verdict.channels[2].explained
    worst = channel.stretches[0]
    assert (worst.begin, worst.end) == (pytest.approx(0.2, abs=5e-3), pytest.approx(0.23, abs=5e-3))
    assert worst.mean == pytest.approx(3e5, rel=0.15)
    answer = fit_answer(case(), found)
    assert "does NOT explain" in answer.sentence
    assert any("above the model from" in cell for sheet in answer.sheets for row in sheet.rows for cell in row)


def test_a_value_at_the_end_of_its_range_says_where_it_would_go(tmp_path):
    test = measured(tmp_path / "stand.csv", {"spring.preload": 790.0})
    found = fit([test], [free_of(case(), "spring.preload=700 N:775 N")], starts=1)
    (value,) = found.values
    assert value.at_end == "high" and value.beyond == pytest.approx(790.0, abs=2.0)


def test_a_single_number_leaves_two_values_open():
    number = measured_number(case(), "opening_time=75 ms +- 1 ms")
    test = experiment(case(), None, [number])
    free = [free_of(case(), "solenoid.fill_discharge_coefficient"), free_of(case(), "spring.preload")]
    found = fit([test], free, starts=1)
    assert abs(found.verdict.numbers[0][2]) < 0.1
    assert any(value.open for value in found.values)
    assert found.verdict.groups[0].names == tuple(one.path for one in free) and found.verdict.groups[0].wide


def test_one_value_to_one_number_has_the_numbers_own_interval():
    """A single number y with one value x: the interval of x is that of y over dy/dx (first order)."""
    number = measured_number(case(), "opening_time=70 ms +- 0.5 ms")
    found = fit([experiment(case(), None, [number])], [free_of(case(), "solenoid.open_dead_time")], starts=1)
    (value,) = found.values
    assert value.fitted == pytest.approx(8e-3 + (70e-3 - 65.747e-3), abs=2e-5)  # a dead time adds itself
    assert 0.5 * (value.high - value.low) == pytest.approx(0.5e-3, rel=0.02)


def test_frictions_of_a_seal_are_a_straight_line(tmp_path):
    """Forces of equal uncertainty: ordinary least squares of a line, in closed form, and its own 90 % interval (t of large number):
    sigma_slope = sigma / sqrt(sum (p - mean)^2). Numbers: tests/published/test_f_seals.py (Zillen, Vallery and Smit, 2021)."""
    p, force, cord = np.array([0.99532, 2.99374, 4.98539, 6.96411]), np.array([58.0, 72.0, 87.6, 97.5]), 1.78e-3
    texts = [f"piston_seal_friction at {a} bar={b} N/m +- 6 N/m" for a, b in zip(p, force)]
    test = experiment(case(), None, [measured_number(case(), text) for text in texts])
    paths = ["seals.piston.squeeze_friction=20 N/m:100 N/m", "seals.piston.pressure_coefficient=0.005:0.1"]
    squeeze, slope = fit([test], [free_of(case(), path) for path in paths], starts=1).values
    line = np.polyfit(p * 1e5, force, 1)
    assert slope.fitted * cord == pytest.approx(line[0], rel=1e-3) and squeeze.fitted == pytest.approx(line[1], rel=1e-3)
    wide = 6.0 / np.sqrt(np.sum((p * 1e5 - np.mean(p * 1e5)) ** 2))
    assert 0.5 * (slope.high - slope.low) * cord == pytest.approx(wide, rel=0.05)  # the scale is by ratio, so the interval is bent


def test_several_traces_share_values_and_have_their_own(tmp_path):
    """Two traces of valves whose dead time differs, spring and orifice the same."""
    truths = [{**TRUTH, "solenoid.open_dead_time": dead} for dead in (7e-3, 11e-3)]
    tests = [measured(tmp_path / f"{k}.csv", truth, seed=k) for k, truth in enumerate(truths)]
    free = [free_of(case(), path) for path in FREE]
    free += [free_of(case(), "solenoid.open_dead_time", owner=k) for k in range(2)]
    found = fit(tests, free, starts=1, let_go=False)
    assert found.explained
    assert [v.fitted for v in found.values[2:]] == pytest.approx([7e-3, 11e-3], abs=2e-4)
    assert found.values[1].fitted == pytest.approx(790.0, abs=1.0)


def test_resume_reads_what_was_kept(tmp_path):
    test = experiment(case(), None, [measured_number(case(), "opening_time=70 ms")])
    free = [free_of(case(), "solenoid.open_dead_time")]
    work = Work(tmp_path)
    first = fit([test], free, work=work)
    kept = sorted((tmp_path / PARTS).rglob("start-*.npz"))
    times = [path.stat().st_mtime_ns for path in kept]
    second = fit([test], free, work=work)
    assert len(kept) == 3 and [path.stat().st_mtime_ns for path in kept] == times
    assert np.array_equal(first.p, second.p)
    kept[0].write_bytes(b"damaged")
    assert np.array_equal(fit([test], free, work=work).p, first.p)


@pytest.mark.parametrize("low, high", [(1.0, 2.0), (0.1, 5.0), (-3.0, 7.0)])
def test_scaling_and_its_inverse(low, high):
    one = Free("x", "number", "-", low, low, high, (low, high), "given")
    for u in (0.0, 0.3, 1.0):
        assert one.scaled(one.value(u)) == pytest.approx(u, abs=1e-12)
        assert one.slope(u) == pytest.approx((one.value(u + 1e-6) - one.value(u - 1e-6)) / 2e-6, rel=1e-5)
    assert (one.value(0.0), one.value(1.0)) == (pytest.approx(low), pytest.approx(high))


def test_ends_stay_inside_what_a_key_allows():
    low, high = within_schema("solenoid.fill_discharge_coefficient", -1.0, 4.0)
    assert 0.0 < low < 1e-4 and high == 1.0


def test_where_ends_come_from():
    assert free_of(case(), "seals.friction_factor").whence == "range of the case"
    assert free_of(case(), "spring.preload=700 N:800 N")[4:6] == (700.0, 800.0)
    assert free_of(case(), "lift_chamber.dead_volume").whence == "usual range"


def test_values_in_one_direction_are_one_group():
    """Three values that are least known along (1, 1, 1): no pair's correlation is beyond 0.6, the direction says it."""
    n = np.ones(3) / math.sqrt(3.0)
    cov = 0.1**2 * np.outer(n, n) + 0.05**2 * np.eye(3)
    (group,) = groups_of(["a", "b", "c"], cov, 3)
    assert group.names == ("a", "b", "c") and group.wide and abs(group.correlation) < 0.6
    assert groups_of(["a", "b"], np.diag([1e-4, 1e-4]), 2) == []


def test_without_a_command_dead_times_are_left_open(tmp_path):
    """A clock that is not known and both dead times: the same shift of everything. The data must not seem to tell them apart."""
    test = measured(tmp_path / "stand.csv", {"solenoid.open_dead_time": 9.5e-3}, command=False)
    free = [free_of(case(), path) for path in ("solenoid.open_dead_time", "solenoid.close_dead_time", "spring.preload")]
    found = fit([test], free, starts=1, let_go=False)
    assert found.explained and [value.open or bool(value.at_end) for value in found.values] == [True, True, False]
    assert {"solenoid.open_dead_time", "solenoid.close_dead_time"} <= set(found.verdict.groups[0].names)
    assert found.values[2].fitted == pytest.approx(770.0, abs=2.0)


def test_samples_that_hang_together():
    """AR(1) noise with coefficient r: (1 + r) / (1 - r) samples count as one."""
    rng = np.random.default_rng(5)
    x = np.zeros(20000)
    for k in range(1, len(x)):
        x[k] = 0.8 * x[k - 1] + rng.normal()
    assert samples_together(x) == pytest.approx(9.0, rel=0.2)
    assert samples_together(rng.normal(size=5000)) < 1.2


def test_white_noise_has_no_stretches():
    rng = np.random.default_rng(6)
    t = np.arange(1200.0)
    assert not any(stretches(rng.normal(size=1200), 1.0, 1.0, t) for _ in range(50))


@pytest.mark.parametrize(
    "options, words",
    [
        (["--free", "spring.prelod"], "nearest: preload"),
        (["--free", "case.title"], "no single number"),
        (["--free", "spring.preload=800 N:700 N"], "low end must be below"),
        (["--free", "spring.preload=800 N"], "PATH=LOW:HIGH"),
        (["--free", "spring.preload", "--free", "spring.preload"], "twice"),
        (["--measured", "opening_tim=80 ms"], "near it: opening_time"),
        (["--measured", "opening_time=80 bar"], "must be a time"),
        (["--measured", "opening_time=80 ms +- 0 ms"], "uncertainty above 0"),
        (["--column", "nose"], "must be like"),
        (["--barometer", "1 bar"], "bara"),
        (["--lag", "lift=1 mm"], "must be a time"),
        (["--clock", "1 bar"], "must be a time"),
        (["--measured", "rod_seal_friction=5 N/m"], "at a pressure across the seal"),
        (["--measured", "opening_time at 5 bar=50 ms"], "has no pressure across it"),
        (["--noise", "lift"], "must be QUANTITY=NUMBER UNIT"),
        (["--noise", "PT-9=0.1 bar"], "--noise PT-9: no channel is called so; there are lift"),
        (["--zero", "PT-9"], "--zero PT-9: no channel is called so"),
        (["--zero", "lift=1 V"], "length"),
    ],
)
def test_refusals(tmp_path, options, words):
    trace = tmp_path / "stand.csv"
    trace.write_text("time [ms],lift [mm]\n" + "".join(f"{k},0\n" for k in range(700)))
    said = CliRunner().invoke(app, ["fit", str(DRY), str(trace), *options, "--out", str(tmp_path / "out")])
    assert said.exit_code == 2 and words in said.output, said.output
    assert not (tmp_path / "out").exists()


def test_nothing_to_fit_to_and_no_case(tmp_path):
    call = CliRunner().invoke
    assert "nothing to fit it to" in call(app, ["fit", str(DRY), "--out", str(tmp_path / "o")]).output
    assert "the first file must be a case" in call(app, ["fit", str(tmp_path / "a.csv"), str(DRY)]).output


def test_the_command_writes_the_case_and_says_so(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    trace = written(tmp_path / "stand.csv", synthetic(case(), TRUTH, 1))
    out = tmp_path / "fitted.toml"
    arguments = ["fit", str(DRY), str(trace), "--free", ",".join(FREE), "--starts", "1", "--out", str(out)]
    said = CliRunner().invoke(app, arguments)
    assert said.exit_code == 0, said.output
    read = load_case(out)
    assert read.spring.preload == pytest.approx(790.0, abs=1.0)
    low, high = read.ranges["spring.preload"]
    assert low < read.spring.preload < high and high - low < 5.0
    assert 'before: "770 N"' in out.read_text()
    data = json.loads((tmp_path / "results" / "dry_bench-fit" / "fit.json").read_text())
    assert data["explained"] and data["traces"][0]["rows"] > 1000
    assert (tmp_path / "results" / "dry_bench-fit" / "fit.png").stat().st_size > 20000
    again = CliRunner().invoke(app, arguments)
    assert again.exit_code == 2 and "file exists" in again.output
    with pytest.raises(CaseError):
        load_case(tmp_path / "stand.csv")


def two_cases(tmp_path, monkeypatch):
    """Two cases of one valve at two gas pressures, a trace of each, and the command that fits both."""
    monkeypatch.chdir(tmp_path)
    text = DRY.read_text()
    assert '"65 bara"' in text
    for name, pressure in (("dry_65", "65 bara"), ("dry_66", "66 bara")):
        (tmp_path / f"{name}.toml").write_text(text.replace('"65 bara"', f'"{pressure}"', 1))
        columns = synthetic(load_case(tmp_path / f"{name}.toml"), {"spring.preload": 790.0}, 2)
        written(tmp_path / f"{name}.csv", columns)
    files = [f"{name}{end}" for name in ("dry_65", "dry_66") for end in (".toml", ".csv")]
    return ["fit", *files, "--free", "spring.preload", "--starts", "1", "--out", "fitted.toml"]


def test_each_of_several_cases_is_written_or_none(tmp_path, monkeypatch):
    arguments = two_cases(tmp_path, monkeypatch)
    said = CliRunner().invoke(app, arguments)
    assert said.exit_code == 0, said.output
    cases = [load_case(tmp_path / f"fitted-dry_{name}.toml") for name in ("65", "66")]
    assert [case.spring.preload for case in cases] == pytest.approx([790.0, 790.0], abs=1.0)
    assert cases[0].supply.pressure != cases[1].supply.pressure and not (tmp_path / "fitted.toml").exists()
    (tmp_path / "fitted-dry_65.toml").unlink()
    kept = (tmp_path / "fitted-dry_66.toml").read_bytes()
    again = CliRunner().invoke(app, arguments)
    assert again.exit_code == 2 and "file exists: fitted-dry_66.toml" in again.output
    assert not (tmp_path / "fitted-dry_65.toml").exists() and (tmp_path / "fitted-dry_66.toml").read_bytes() == kept


def test_what_was_written_is_taken_away_where_the_next_cannot_be(tmp_path):
    first, second = tmp_path / "a.toml", tmp_path / "b.toml"
    with pytest.raises(OSError), none_if_not_all([first, second]) as done:
        first.write_text("x")
        done.append(first)
        raise OSError("disk full")
    assert not first.exists()


LIFT_CHAMBER = "lift_chamber_pressure [bara]"


def with_zero(tmp_path, shift, settings, free=("spring.preload",)):
    """A fit of a trace whose lift-chamber gauge shows 0.3 bar too much where `shift` says."""
    columns = synthetic(case(), {"spring.preload": 790.0}, 1)
    columns[LIFT_CHAMBER] = columns[LIFT_CHAMBER] + shift(columns["time [ms]"])
    test = experiment(case(), read_trace(written(tmp_path / "stand.csv", columns)), settings=settings)
    return fit([test], [free_of(case(), path) for path in free], settings, starts=1, let_go=False)


def test_a_gauge_whose_zero_is_off_is_found_with_its_interval(tmp_path):
    """0.3 bar: without --zero the channel is not explained; with it zero, spring and what it shows at rest come back."""
    always = lambda t: np.full_like(t, 0.3)  # noqa: E731
    assert not with_zero(tmp_path, always, Settings()).explained
    found = with_zero(tmp_path, always, Settings(zero={"lift_chamber_pressure": 0.0}))
    assert found.explained and found.values[0].fitted == pytest.approx(790.0, abs=1.0)
    k = next(k for k, one in enumerate(found.problem.nuisances) if one.what == "zero")
    sigma = found.verdict.intervals[1 + k].sigma * found.sensor_size(k)
    assert abs(found.sensor(k) - 0.3e5) < 4.0 * sigma < 0.02e5
    (rest,) = found.verdict.rests
    assert rest.off == pytest.approx(0.3e5, abs=4.0 * rest.sigma)
    text = " ".join(notes_of(found))
    assert "hides something else" not in text and "Zeros are not written" in text


def test_a_zero_that_is_not_there_at_rest_is_called_something_else(tmp_path):
    """0.3 bar from 10 ms after the command on (480 ms of the file), none before."""
    found = with_zero(tmp_path, lambda t: np.where(t > 480.0, 0.3, 0.0), Settings(zero={"lift_chamber_pressure": 0.0}))
    assert "hides something else" in " ".join(notes_of(found))


def test_a_zero_that_takes_over_what_a_pressure_should_explain_is_said(tmp_path):
    """Only the supply is seen: its pressure and the gauge's zero are one number."""
    columns = synthetic(case(), {}, 1, names=("supply_pressure",))
    settings = Settings(zero={"supply_pressure": 2e5})
    test = experiment(case(), read_trace(written(tmp_path / "stand.csv", columns)), settings=settings)
    found = fit([test], [free_of(case(), "supply.pressure")], settings, starts=1, let_go=False)
    (taken,) = found.verdict.taken
    assert taken.value == "supply.pressure" and taken.times > 5.0
    assert any("takes over what supply.pressure should explain" in note for note in notes_of(found))


def test_a_command_that_fell_in_a_gap_is_the_case_s_own_and_is_said(tmp_path):
    """Three pulses; 30 ms of the record are lost about the second on command, which the case has at 0.5 s of the run."""
    pulses = with_values(case(), {"solenoid.on": (0.1, 0.5), "solenoid.off": (0.3, 0.7)})
    columns = synthetic(pulses, {}, 3)
    t = columns["time [ms]"]
    lost = (t > 870.0 - 12.0) & (t < 870.0 + 18.0)  # the file's clock is 370 ms ahead
    trace = read_trace(written(tmp_path / "gap.csv", {name: values[~lost] for name, values in columns.items()}))
    test = experiment(pulses, trace)
    assert test.case is pulses and test.clock.offset == pytest.approx(0.37, abs=5e-4)
    (said,) = [note for note in test.notes if "fell in a gap" in note]
    assert "taken at 0.5 s of the run, as the case has it" in said
    late = with_values(pulses, {"solenoid.on": (0.1, 0.55)})
    moved = experiment(late, trace)
    assert moved.case.solenoid.on == pytest.approx((0.1, 0.5), abs=4e-3), "not between the samples that saw it: as measured"


def test_a_fit_has_the_same_numbers_from_any_number_of_workers(tmp_path):
    """Runs of a Jacobian are made at once, each by itself: no digit depends on how many threads there are."""
    test = measured(tmp_path / "stand.csv", TRUTH)
    free = [free_of(case(), path) for path in FREE]
    one, three = (fit([test], free, work=Work(workers=n), starts=1, let_go=False) for n in (1, 3))
    assert np.array_equal(one.p, three.p) and one.runs == three.runs
    assert [value.low for value in one.values] == [value.low for value in three.values]
