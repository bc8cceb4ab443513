"""Run valves of the feed lines against closed forms: schedule, loss, locked liquid, surge ahead of a fast valve, conservation."""

import re
from functools import lru_cache
from math import pi, sqrt

import numpy as np
import pytest
from runs import CASES, changed, shipped_case
from sleevelift import simulate
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text
from sleevelift.physics.liquid import orifice_liquid_drop, orifice_liquid_flow
from sleevelift.physics.run_valve import open_time, share_over_time, shuts_after, travel_over_time
from sleevelift.plant.build import build
from sleevelift.plant.state import S_FUEL, S_FUEL_AHEAD_P, S_FUEL_LINE, S_FUEL_P, S_FUEL_VALVE, S_OXIDIZER
from sleevelift.run import in_short_form
from stored_runs import every, rates, run_of
from test_jacobian import compare

COLD = (CASES / "cold_flow.toml").read_text(encoding="utf-8")
HOT = (CASES / "hot_start.toml").read_text(encoding="utf-8")


def valve(side, rest):
    return f'\n[{side}.valve]\neffective_area = "80 mm2"\nopening_time = "20 ms"\nclosing_time = "20 ms"\n{rest}\n'


@lru_cache
def cold(fuel="", oxidizer="open_at_start = true"):
    """A cold-flow case with a valve in each line."""
    return case_from_text(COLD + valve("oxidizer", oxidizer) + valve("fuel", fuel), "valves")


@lru_cache
def cold_run(fuel="", oxidizer="open_at_start = true"):
    return run_of(build(cold(fuel, oxidizer)))


def test_travel_and_share_over_time():
    """From where it is at its own speed; the area follows the table of its travel."""
    knots = travel_over_time((1.0,), (1.01,), 0.02, 0.04, False)
    assert [t for t, _ in knots] == pytest.approx([1.0, 1.01, 1.03])
    assert [y for _, y in knots] == pytest.approx([0.0, 0.5, 0.0])
    table = [(0.0, 0.0), (0.25, 0.1), (1.0, 1.0)]
    shares = share_over_time(knots, table)
    assert [t for t, _ in shares] == pytest.approx([1.0, 1.005, 1.01, 1.02, 1.03])
    assert [s for _, s in shares] == pytest.approx([0.0, 0.1, 0.4, 0.1, 0.0])
    flat = np.array(shares).ravel()
    assert open_time(0.0, 5.0, flat, 0, len(shares)) == pytest.approx(0.03)
    assert open_time(1.02, 5.0, flat, 0, len(shares)) == pytest.approx(0.01)
    assert shuts_after(0.0, flat, 0, len(shares)) == pytest.approx(1.01)
    always = np.array(travel_over_time((), (), 0.02, 0.04, True)).ravel()
    assert open_time(-3.0, 2.0, always, 0, 1) == 5.0


def test_the_loss_is_the_flows_inverse():
    for flow in (-0.3, 1e-6, 0.8):
        assert orifice_liquid_flow(8e-5, 790.0, orifice_liquid_drop(8e-5, 790.0, flow)) == pytest.approx(flow, rel=1e-12)


def test_valve_loss():
    """Steady, the open valve takes w^2/(2 rho (Cd A)^2) (Bernoulli) more than the line."""
    run = cold_run("open_at_start = true")
    record = run.plant.record[0]["lines"][1]
    k = int(np.searchsorted(run.raw.t, cold().solenoid.off[0])) - 1
    out = run.raw.outputs[k]
    loss = out[S_FUEL_LINE] ** 2 / (2.0 * float(record["rho"]) * 80e-6**2)
    assert out[S_FUEL_AHEAD_P] - out[S_FUEL_P] == pytest.approx(loss, rel=2e-3)
    assert out[S_FUEL_VALVE] == pytest.approx(out[S_FUEL], rel=1e-3)


def test_locked_liquid_gives_by_its_own_volume():
    """Behind a shut valve the manifold alone is the spring: the sleeve lowers it by B A_a x/V, V without the line."""
    case = cold('manifold_pressure = "27 bara"\non = ["0.3 s"]')
    run = cold_run('manifold_pressure = "27 bara"\non = ["0.3 s"]')
    index, line = run.plant.record[0]["index"], run.plant.record[0]["lines"][1]
    assert float(line["volume"]) == case.fuel.manifold_volume
    z, x, v = (int(index[name]) for name in ("fuel_volume", "lift_height", "speed"))
    start = run.raw.outputs[0, S_FUEL_P]
    assert start == pytest.approx(27e5, rel=1e-12)
    stiffness = case.fuel.bulk_modulus / case.fuel.manifold_volume
    shut = [k for k in every(run, 200) if run.raw.t[k] < 0.3]
    for k in shut:
        assert run.raw.outputs[k, S_FUEL_VALVE] == 0.0
        dy = rates(run, k).dy
        # dp/dt = B/V (-w_injector/rho - A_a v)
        injector = run.raw.outputs[k, S_FUEL] / case.fuel.density
        expected = -injector - float(line["swept"]) * run.raw.y[k, v] * (dy[x] != 0.0)
        assert dy[z] == pytest.approx(expected, rel=1e-9, abs=1e-15)
        if run.raw.y[k, z] > 0.0:
            assert run.raw.outputs[k, S_FUEL_P] == pytest.approx(case.fuel.vapour_pressure + stiffness * run.raw.y[k, z], rel=1e-9)


def test_surge_ahead_of_a_fast_valve():
    """A valve that shuts at once before a line without loss: rho a dv (Joukowsky; Wylie and Streeter, Fluid Transients, 1978)."""
    text = COLD + valve("oxidizer", "open_at_start = true")
    text += valve("fuel", 'open_at_start = true\noff = ["0.3 s"]').replace('closing_time = "20 ms"', 'closing_time = "1 us"')
    case = changed(case_from_text(text, "fast"), fuel__rated_loss=0.0)
    run = run_of(build(case))
    k = int(np.argmax(run.raw.t >= 0.3))
    fuel = case.fuel
    speed = run.raw.outputs[k, S_FUEL_LINE] / fuel.density / (pi / 4.0 * fuel.line_bore**2)
    rise = fuel.density * sqrt(fuel.bulk_modulus / fuel.density) * speed
    peak = run.raw.outputs[run.raw.t >= 0.3, S_FUEL_AHEAD_P].max()
    assert peak == pytest.approx(fuel.inlet_pressure + rise, rel=5e-3)
    assert simulate(case).measures["peak_ahead_fuel_valve"] == pytest.approx(fuel.inlet_pressure + rise, rel=1e-3)


def test_liquid_is_conserved():
    """What the line brings is what the volumes gain and the injector takes, at every instant, to rounding."""
    run = cold_run('on = ["0.02 s"]\noff = ["0.3 s"]')
    record = run.plant.record[0]
    index, rho, swept = record["index"], float(record["lines"][1]["rho"]), float(record["lines"][1]["swept"])
    for k in every(run, 100):
        got = rates(run, k)
        gained = rho * (
            got.dy[int(index["fuel_volume"])] + got.dy[int(index["fuel_ahead"])] + swept * got.dy[int(index["lift_height"])]
        )
        w, out = got.outputs[S_FUEL_LINE], got.outputs[S_FUEL]
        assert gained == pytest.approx(w - out, rel=1e-12, abs=1e-12 * max(abs(w), abs(out), 1e-3))


def test_energy_and_jacobian_with_valves():
    run = cold_run('on = ["0.02 s"]\noff = ["0.3 s"]\ncheck_valve = true')
    compare(run)
    assert simulate(cold('on = ["0.02 s"]\noff = ["0.3 s"]\ncheck_valve = true')).measures["energy_error"] < 1e-4


def test_a_check_valve_holds_back():
    run = cold_run('on = ["0.02 s"]\noff = ["0.3 s"]\ncheck_valve = true\nmanifold_pressure = "60 bara"')
    assert run.raw.outputs[:, S_FUEL_VALVE].min() == 0.0
    without = cold_run('on = ["0.02 s"]\noff = ["0.3 s"]\nmanifold_pressure = "60 bara"')
    assert without.raw.outputs[:, S_FUEL_VALVE].min() < -1e-3


def test_the_last_flow_counts_from_the_earlier_end():
    """A fuel valve that shuts before the off command ends the fuel's flow: `last_fuel` is when it falls, not after the off."""
    case = cold('open_at_start = true\noff = ["0.37 s"]')
    result = simulate(case)
    assert result.outcome == "opened-and-closed"
    assert 0.37 < result.measures["last_fuel"] < 0.37 + 0.025 < case.solenoid.off[0] < result.measures["last_oxidizer"]
    assert result.measures["steady_fuel_flow"] == pytest.approx(
        simulate(cold("open_at_start = true")).measures["steady_fuel_flow"], rel=1e-3
    )


def test_what_leaks_before_the_command_leaks_through_an_open_valve():
    """Shut valves let nothing pool before the command; one opened at 20 ms, what its closed leak passes from there on."""
    both = 'on = ["0.02 s"]'
    text = HOT + valve("oxidizer", both) + valve("fuel", both)
    result = simulate(case_from_text(text, "pool"))
    m = result.measures
    leak = m["closed_leak_oxidizer"] + m["closed_leak_fuel"]
    assert m["pooled_before_command"] == pytest.approx(leak * (m["energize_time"] - 0.02), rel=1e-9)


@pytest.mark.parametrize(
    "rest, words",
    [
        ('on = ["0.3 s"]\noff = ["0.2 s"]', "by turns"),
        ('open_at_start = true\non = ["0.3 s"]', "by turns"),
        ('kv = 3.0', "one of the three"),
        ('on = ["0.2 s", "0.1 s"]', "increase"),
        ('[fuel.valve.travel]\ntravel = [0.0, 0.5]\nshare = [0.0, 1.0]', "from 0 to 1"),
        ('[fuel.valve.travel]\ntravel = [0.0, 0.5, 1.0]\nshare = [0.0, 0.9, 0.8]', "never fall"),
    ],
)  # fmt: skip
def test_refusals(rest, words):
    with pytest.raises(CaseError, match=words) as error:
        case_from_text(COLD + valve("fuel", rest), "refused")
    assert re.search(r"\[fuel(\.valve.*)?\] ", str(error.value))


def test_a_valve_wide_open_is_nearly_no_valve():
    """The compliance sits elsewhere (line and manifold apart), the loss is nothing: steady flows agree, opening to 1 %."""
    wide = valve("fuel", "open_at_start = true").replace("80 mm2", "1000 mm2")
    bare, open_wide = simulate(case_from_text(COLD, "bare")).measures, simulate(case_from_text(COLD + wide, "wide")).measures
    assert open_wide["steady_fuel_flow"] == pytest.approx(bare["steady_fuel_flow"], rel=1e-3)
    assert open_wide["opening_time"] == pytest.approx(bare["opening_time"], rel=1e-2)
    assert (S_OXIDIZER, bare["peak_ahead_fuel_valve"]) == (S_OXIDIZER, None)


def test_going_out_brings_nothing_in():
    """A chamber that goes out steps to ambient, which lets locked liquid expand behind a lifted sleeve: that is no arrival, sets no
    light-off although the igniter burns, and ends no flow. The level is MODEL.md's: 5 % of the reference above the leak."""
    case = changed(in_short_form(shipped_case("valve_lead")), igniter__off=())
    result = simulate(case)
    sequence = [event.what for event in result.timeline]
    (out,) = (event.instant for event in result.timeline if event.what == "chamber goes out")
    assert not any("enters" in event.what for event in result.timeline if out <= event.instant < out + 1e-3)
    assert sequence.count("chamber lights") == 1
    time, flow = result.traces["time"], result.traces["oxidizer_flow"]
    leak = result.measures["closed_leak_oxidizer"]
    level = leak + 0.05 * (case.oxidizer.rated_flow - leak)
    assert flow[time >= out].max() > level  # the step lifts it
    last = result.measures["last_oxidizer"]
    near = np.flatnonzero((time < out) & (flow >= level))[-1]
    assert time[near] <= last <= time[near + 1]
