"""A measured trace over its band: what is put in is found, at its time; what single runs do is no departure."""

import json
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from runs import CASES, shipped_case
from sleevelift.calibrate.data import experiment
from sleevelift.cli import app
from sleevelift.measured.trace import Channel, Trace
from sleevelift.stand.bands import bands_of
from sleevelift.stand.crossed import held
from sleevelift.stand.overlay import lost_data, overlaid, runs_of, stretches_of
from sleevelift.stand.overlay_answer import overlay_answer, sentence_of
from typer.testing import CliRunner

NOISE = {"tube_pressure": 3e3, "lift_chamber_pressure": 3e3, "lift": 5e-6}
KINDS = {"tube_pressure": ("bara", "pressure"), "lift_chamber_pressure": ("bara", "pressure"), "lift": ("mm", "length")}
STEP, OFFSET = 5e-4, 12.0
"""s between samples; the file's clock ahead of the run's."""


@lru_cache(maxsize=1)
def bands():
    return bands_of(shipped_case("dry_bench"), 80)


def trace_of(values, seed=0, without=()):
    """A trace, as a stand would leave it, of channels over the bands' time; `without`: (begin, end) s after T0 that are lost."""
    rng = np.random.default_rng(seed)
    own = bands().time
    t = np.arange(own[0], own[-1], STEP)
    keep = np.ones(len(t), dtype=bool)
    for begin, end in without:
        keep &= (t < begin) | (t > end)
    command = ((t >= 0.0) & (t < bands().case.solenoid.off[0] - bands().origin)).astype(float)
    channels = [Channel("command", "command [-]", "-", "number", t + OFFSET, command, 0)]
    for name, value in values.items():
        noisy = np.interp(t, own, value) + rng.normal(0.0, NOISE[name], len(t))
        channels.append(Channel(name, f"{name} [{KINDS[name][0]}]", *KINDS[name], t[keep] + OFFSET, noisy[keep], 0))
    return Trace("invented", Path("invented.csv"), tuple(channels), len(t), (), "0" * 64)


def median():
    return {name: bands().of(name)[1] for name in NOISE}


def overlay_of(trace):
    test = experiment(bands().case, trace)
    assert test.case is bands().case, "the commands are those of the case"
    return overlaid(bands(), test, dict.fromkeys(NOISE, 0.0))


def test_stretches_are_where_they_were_put():
    t = np.linspace(0.0, 1.0, 1001)
    value = np.zeros_like(t)
    value[200:301] = 5.0
    value[700:751] = -3.0
    value[[50, 51]] = 9.0  # two samples are a spike, no stretch
    found = stretches_of(t, value, np.full_like(t, -1.0), np.full_like(t, 1.0), 0.5)
    assert [(round(s.begins, 3), round(s.ends, 3), s.above, s.measured, s.band) for s in found] == [
        (0.2, 0.3, True, 5.0, 1.0),
        (0.7, 0.75, False, -3.0, -1.0),
    ]
    assert runs_of(np.zeros(5, dtype=bool)) == []


def test_a_run_of_the_case_departs_nowhere_in_most_draws():
    """The scatter's own runs, with noise: fewer than RARE depart in a channel, so of 10 runs no more than a few do."""
    odd = 0
    for k in range(10):
        values = {name: bands().channel_runs(name)[k] for name in NOISE}
        odd += bool(overlay_of(trace_of(values, seed=k)).departures)
    assert odd <= 2, f"{odd} of 10 runs of the case itself are called departures"


def test_a_late_lift_departs_when_the_band_has_opened_without_it():
    """Lift 20 ms late: it leaves the band where the lowest band edge rises past the noise, and is back when it has followed."""
    late, values = 0.020, median()
    own = bands().time
    values["lift"] = np.interp(own - late, own, values["lift"])
    found = overlay_of(trace_of(values))
    (one,) = found.departures
    assert one.series.quantity == "lift" and one.share_of_runs == 0.0
    low = bands().of("lift")[0]
    opens = own[np.flatnonzero((low > 3.0 * one.series.sigma) & (own > 0.0))[0]]
    arrives = own[np.flatnonzero((values["lift"] > 0.99 * low.max()) & (own > 0.0))[0]]
    assert one.stretches[0].begins == pytest.approx(opens, abs=2e-3) and not one.stretches[0].above
    assert one.stretches[0].ends == pytest.approx(arrives, abs=2e-3)
    assert sentence_of(found).startswith("invented: first lift leaves its band, below it from")


def test_the_first_departure_is_the_first_in_time():
    values = median()
    own = bands().time
    bump = np.where((own > 0.150) & (own < 0.170), 5e5, 0.0)
    values["tube_pressure"] = values["tube_pressure"] + bump
    values["lift"] = np.where(own > 0.180, 0.0, values["lift"])
    found = overlay_of(trace_of(values))
    assert [one.series.quantity for one in found.departures] == ["tube_pressure", "lift"]
    first = found.departures[0].stretches[0]
    assert (first.begins, first.ends) == pytest.approx((0.150, 0.170), abs=2e-3) and first.above


def test_lost_data_is_said_and_is_no_agreement():
    found = overlay_of(trace_of(median(), without=[(0.03, 0.08)]))
    assert not found.departures
    for one in found.channels:
        ((begins, ends),) = one.lost
        assert (begins, ends) == pytest.approx((0.03, 0.08), abs=1e-3)
    assert "LOST DATA" in sentence_of(found)
    assert any("no proof" in note for note in overlay_answer(found).notes)
    assert lost_data(np.arange(0.0, 1.0, 0.01)) == (), "slow is not lost"


def test_what_was_not_measured_is_named():
    values = {"lift": median()["lift"]}
    found = overlay_of(trace_of(values))
    assert "tube pressure" in found.not_measured and "lift" not in found.not_measured


def written(path, value):
    """A file of one measured channel."""
    t = np.arange(-0.05, 0.4, 1e-3)
    rows = [f"{1e3 * (x + 0.1):.1f},{value(x):.3f},{int(0.0 <= x < 0.2)}" for x in t]
    path.write_text("time [ms],lift [mm],command [-]\n" + "\n".join(rows) + "\n")
    return path


def test_the_command_lays_a_trace_over_its_band(tmp_path):
    never = written(tmp_path / "stuck.csv", lambda x: 0.001 * (round(1e4 * x) % 3))
    call = ["compare", str(CASES / "dry_bench.toml"), str(never), "--n", "20", "--out", str(tmp_path / "out")]
    result = CliRunner().invoke(app, call)
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("stuck: first lift leaves its band, below it")
    content = json.loads((tmp_path / "out" / "compare.json").read_text())
    assert content["channels"]["lift"]["departs"] and content["seed"] == 0
    assert (tmp_path / "out" / "compare.png").read_bytes()[:4] == b"\x89PNG"
    assert "begins [s after T0]" in (tmp_path / "out" / "compare.csv").read_text().splitlines()[0]


def test_wrong_files_get_a_line_each(tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_text("time [ms],lift [mm]\n0,0\n1,x\n")
    case = str(CASES / "dry_bench.toml")
    for words, said in (
        ([case, str(bad)], "row 3"),
        ([case, case, str(bad)], "one case and one measured trace"),
        ([str(bad)], "one case and one measured trace"),
        ([case, str(bad), "--lag", "lift"], "--lag"),
    ):
        result = CliRunner().invoke(app, ["compare", *words, "--out", str(tmp_path / "out")])
        assert result.exit_code == 2, words
        assert said in result.output, result.output


def limits_of(trace):
    test = experiment(bands().case, trace)
    return {one.abort.name: one for one in held(bands(), test)}


def test_a_good_trace_crosses_no_limit_and_is_not_called_safe():
    found = limits_of(trace_of(median()))
    assert not any(one.crossings for one in found.values())
    assert not found["supply pressure high"].watched, "it was not measured"
    answer = overlay_answer(overlay_of(trace_of(median())))
    assert "does not make the rig safe" in answer.sentence and "could not be held" in answer.sentence
    assert {one["limit"] for one in answer.data["abort_limits"]} == set(found)


def test_one_sample_above_a_pressure_limit_is_found_where_it_is():
    trace = trace_of(median())
    limit = limits_of(trace)["lift-chamber pressure high"].abort.high
    k = 432
    channel = next(one for one in trace.channels if one.quantity == "lift_chamber_pressure")
    assert channel.value.max() < limit
    channel.value[k] = limit + 1e4
    (one,) = limits_of(trace)["lift-chamber pressure high"].crossings
    assert (one.sample, one.samples, one.value) == (k + 1, 1, pytest.approx(limit + 1e4))
    assert one.file_time == pytest.approx(channel.time[k]) and one.after == pytest.approx(channel.time[k] - OFFSET, abs=STEP)
    said = overlay_answer(overlay_of(trace))
    assert "ABORT LIMITS of the card crossed: lift-chamber pressure high" in said.sentence
    assert any(f"sample {k + 1}," in cell for sheet in said.sheets for row in sheet.rows for cell in row)


def test_limits_are_held_only_while_armed():
    """Full lift is asked for from the latest opening on: a sleeve that never lifts crosses it then, and closes well; one that
    stays open crosses the other."""
    never = limits_of(trace_of(median() | {"lift": np.zeros_like(bands().time)}))
    (one,) = never["not at full lift, or falls back"].crossings
    assert one.after == pytest.approx(never["not at full lift, or falls back"].abort.begins, abs=2 * STEP)
    assert not never["does not close"].crossings and not never["lifts without a command"].crossings
    stroke = bands().case.sleeve.stroke
    stays = limits_of(trace_of(median() | {"lift": np.where(bands().time > 0.06, stroke, median()["lift"])}))
    (one,) = stays["does not close"].crossings
    assert one.after == pytest.approx(stays["does not close"].abort.begins, abs=2 * STEP)


def test_lost_data_crosses_its_limit():
    found = limits_of(trace_of(median(), without=[(0.03, 0.08)]))["loss of data"]
    assert len(found.crossings) == len(NOISE)
    assert found.crossings[0].value == pytest.approx(0.05, abs=2e-3) and found.crossings[0].after == pytest.approx(0.08, abs=1e-3)


def test_without_a_command_limits_with_instants_are_not_held():
    trace = trace_of(median())
    trace = trace._replace(channels=tuple(one for one in trace.channels if one.quantity != "command"))
    found = limits_of(trace)
    assert "no command was measured" in found["does not close"].not_held and found["lift-chamber pressure high"].watched
