"""Several pulses in one run, a chamber that goes out, an off command before first lift, and the end of a run."""

import numpy as np
import pytest
from runs import changed, instants, shipped, shipped_case
from sleevelift import simulate, simulate_many
from sleevelift.case.change import with_texts
from sleevelift.case.faults import CaseError
from sleevelift.plant.names import PULSE_NAMES
from sleevelift.plots.words import answer
from sleevelift.study.cycles import cycles, sentence

FIVE = (0.1, 0.6, 1.1, 1.6, 2.1)
SMALL_BOTTLE = {"supply__bottle_volume": 0.03e-3, "supply__bottle_pressure": 35e5}
SAME_TIME = 5e-6
"""s. What the step error of a run may move an instant by."""


def pulsed(case, starts, length=0.3, **values):
    """A case with pulses of one length."""
    return changed(case, solenoid__on=tuple(starts), solenoid__off=tuple(t + length for t in starts), **values)


@pytest.fixture(scope="module")
def draining():
    """Five pulses on a bottle that holds gas for three."""
    return simulate(pulsed(shipped_case("hot_start"), FIVE, **SMALL_BOTTLE))


def test_each_pulse_has_its_own_outcome_and_the_run_that_of_the_first_that_fails(draining):
    outcomes = [pulse.outcome for pulse in draining.pulses]
    assert outcomes == ["opened-and-closed"] * 3 + ["never-broke-away"] * 2
    assert draining.outcome == "never-broke-away"
    assert [pulse.measures["energize_time"] for pulse in draining.pulses] == list(FIVE)
    said = answer(draining)
    assert said.tone == "alarm"
    assert said.outcome.startswith("Pulse 4 of 5") and "DOES NOT OPEN" in said.outcome
    assert "No opening time" in said.opening


def test_every_check_takes_the_worst_pulse_and_names_it(draining):
    found = {check.name: check for check in draining.checks}
    assert not found["opens"].passed and found["opens"].advice.startswith("pulse 4 of 5")
    assert found["closes"].passed, "a sleeve that stays on its seat ends on its seat"
    margins = [pulse.measures["surge_margin"] for pulse in draining.pulses]
    assert found["surge_margin"].value == min(margins)
    assert not found["opening_margin"].advice.startswith("pulse"), "a run has it once"


def test_a_batch_says_the_same(draining):
    batch = simulate_many(draining.case, [{}, {"supply.bottle_volume": 10e-3}])
    assert list(batch.outcomes) == ["never-broke-away", "opened-and-closed"]
    assert list(batch.checks["opens"]) == [0.0, 1.0]
    assert batch.measures["opening_time"][0] == draining.measures["opening_time"]


def test_plain_names_are_the_first_pulse_and_totals_say_so(draining):
    first = draining.pulses[0].measures
    assert set(first) == set(PULSE_NAMES)
    for name in PULSE_NAMES:
        assert draining.measures[name] == first[name], name
    parts = [pulse.measures["gas_per_cycle"] for pulse in draining.pulses]
    assert draining.measures["gas_used"] == pytest.approx(sum(parts), rel=1e-9)
    assert draining.measures["gas_used"] > 3.0 * draining.measures["gas_per_cycle"]


def test_the_bottle_pressure_at_each_command_is_that_of_the_traces(draining):
    t, p = draining.traces["time"], draining.traces["bottle_pressure"]
    for pulse in draining.pulses:
        at = pulse.measures["energize_time"]
        assert pulse.measures["bottle_at_command"] == pytest.approx(float(np.interp(at, t, p)), rel=1e-6)


def test_the_first_of_many_pulses_is_the_only_one_of_one(draining):
    """Nothing of the later pulses reaches back: the first is that of a run that ends before the second."""
    alone = simulate(pulsed(shipped_case("hot_start"), FIVE[:1], run__end=0.6, **SMALL_BOTTLE)).measures
    for name, value in draining.pulses[0].measures.items():
        if value is None or alone[name] is None:
            assert value is None and alone[name] is None, name
        else:
            assert value == pytest.approx(alone[name], rel=1e-3, abs=SAME_TIME), name


def test_a_second_start_pools_and_lights_again():
    """Long after the first, on an endless supply, the start is as it was: the same pool, the same hard start, the same times. (It
    closes a millisecond later: the gas that was left is colder.)"""
    case = pulsed(
        shipped_case("hot_start"), (0.1, 3.1), supply__bottle_volume=100.0, igniter__on=(0.0, 3.0), igniter__off=(0.9, 3.9)
    )
    result = simulate(case)
    first, second = (pulse.measures for pulse in result.pulses)
    assert result.outcome == "opened-and-closed"
    assert len(instants(result, "chamber lights")) == len(instants(result, "chamber goes out")) == 2
    for name in ("opening_time", "oxidizer_lead", "light_off_lag"):
        assert second[name] == pytest.approx(first[name], abs=20e-6), name
    for name in ("light_off", "latest_light_off", "first_fuel", "full_fuel"):
        assert second[name] - 3.0 == pytest.approx(first[name], abs=40e-6), name
    assert second["pooled_oxidizer"] == pytest.approx(first["pooled_oxidizer"], rel=0.02)
    assert second["hard_start_pressure"] == pytest.approx(first["hard_start_pressure"], rel=0.02)


def test_what_leaks_between_pulses_is_kept_apart():
    """From the chamber's going out, or the end of the flows, to the command: closed leak times pause, none of it in the pool."""
    case = pulsed(shipped_case("hot_start"), (0.1, 5.1), igniter__on=(0.0, 5.0), igniter__off=(0.9, 5.9))
    result = simulate(case)
    out = instants(result, "chamber goes out")[0]
    leak, second = result.measures["closed_leak_oxidizer"], result.pulses[1].measures
    assert second["pooled_before_command"] == pytest.approx(leak * (5.1 - out), rel=1e-6)
    assert second["unburned_oxidizer_at_command"] < 1e-3 * second["pooled_before_command"]
    counted = simulate(changed(case, run__count_pool_before_command=True)).pulses[1].measures
    assert counted["hard_start_pressure"] > 2.0 * second["hard_start_pressure"]


def test_an_unlit_pool_stays_for_the_next_pulse():
    """The first pulse finds no igniter: what it leaves is what the second begins with, and burns with it."""
    case = pulsed(shipped_case("hot_start"), (0.1, 0.6), 0.08, igniter__on=(0.61,), igniter__off=(1.5,))
    first, second = simulate(case).pulses
    assert first.measures["light_off"] is None and first.measures["pooled_fuel"] > 0.0
    assert second.measures["unburned_fuel_at_command"] == pytest.approx(first.measures["pooled_fuel"], rel=1e-9)
    assert second.measures["light_off"] < second.measures["both_in_chamber"], "the igniter finds the pool of the pulse before"
    assert second.measures["pooled_fuel"] == pytest.approx(second.measures["unburned_fuel_at_command"], rel=1e-9)
    assert second.measures["hard_start_pressure"] > 2e5


def test_a_cancelled_command_is_a_pulse_that_never_shifted():
    """Off 1 ms after on, and it acts 4 ms quicker: it takes effect first and cancels the on. Its neighbours do as they do."""
    case = changed(
        shipped_case("hot_start"), solenoid__on=(0.1, 0.6, 1.0), solenoid__off=(0.4, 0.601, 1.3),
        solenoid__open_dead_time=0.012, solenoid__close_dead_time=0.008,
    )  # fmt: skip
    result = simulate(case)
    assert [pulse.outcome for pulse in result.pulses] == ["opened-and-closed", "valve-never-shifted", "opened-and-closed"]
    assert result.outcome == "valve-never-shifted"
    assert result.pulses[1].reasons["opening_time"] == "the solenoid valve never shifted"
    assert result.pulses[2].measures["opening_time"] == pytest.approx(result.pulses[0].measures["opening_time"], abs=2e-3)


def test_a_pulse_that_begins_lifted_and_lit_says_so():
    """The on command comes before the sleeve has closed: no opening of its own, and the pulse before did not close."""
    case = changed(shipped_case("hot_start"), solenoid__on=(0.1, 0.42), solenoid__off=(0.4, 0.8))
    result = simulate(case)
    first, second = result.pulses
    assert first.outcome == result.outcome == "did-not-close"
    assert second.begins_lifted and second.begins_lit
    assert second.measures["opening_time"] is None
    assert second.reasons["opening_time"] == "the pulse began with the sleeve lifted"
    assert second.reasons["light_off"] == "the chamber was lit when the pulse began"
    assert second.outcome == "opened-and-closed" and second.measures["closing_time"] is not None


def test_a_bottle_holds_the_cycles_that_open_and_close():
    """The same small bottle, three pulses then none; twice the gas holds more; without a bottle the question has no answer."""
    case = pulsed(shipped_case("hot_start"), (0.1,), igniter__on=(0.0,), igniter__off=(0.3,), **SMALL_BOTTLE)
    found = cycles(case, period=0.5)
    assert found.held == 3 and found.ended_by == "never-broke-away" and len(found.pulses) == 4
    assert "3 cycles" in sentence(found)
    assert cycles(changed(case, supply__bottle_volume=0.06e-3), period=0.5).held > found.held
    few = cycles(changed(case, supply__bottle_volume=10e-3), period=0.5, most=5)
    assert few.held == 5 and few.ended_by is None and "At least 5" in sentence(few)
    with pytest.raises(CaseError, match="must exceed the pulse"):
        cycles(case, period=0.2)


# ------------------------------------------------------------------------ off before first lift


@pytest.mark.parametrize("volumes", [(), ("oxidizer.dribble_volume=1.0 cm3", "fuel.dribble_volume=1.5 cm3")])
def test_an_off_command_before_first_lift_moves_nothing_that_it_cannot_reach(volumes):
    """Off at 150 ms, before the sleeve lifts, at 153.2, just before, and at 153.4, just after: the valve lets go 12 ms later, so
    the start is the same; the surge margin counts from the seat contact, not from the command."""
    runs = [
        simulate(with_texts(shipped_case("hot_start"), [f"solenoid.off={off} ms", *volumes]), tolerance=1e-5).measures
        for off in (150, 153.2, 153.4)
    ]
    lifts = [m["energize_time"] + m["valve_delay"] + m["fill_delay"] for m in runs]
    assert 0.1532 < min(lifts) and max(lifts) < 0.1534
    for m in runs[:2]:
        assert m["hard_start_pressure"] == pytest.approx(runs[2]["hard_start_pressure"], rel=0.01)
        assert m["surge_margin"] == pytest.approx(runs[2]["surge_margin"], abs=0.005)
        assert m["surge_margin"] > 0.0


def test_a_pulse_without_lift_counts_surges_once_vented():
    """Off so early that the sleeve stays on its seat: the gas still in the lift chamber is no surge."""
    m = simulate(with_texts(shipped_case("hot_start"), ["solenoid.off=130 ms"]), tolerance=1e-5)
    assert m.outcome == "never-broke-away"
    assert m.measures["surge_margin"] > 0.1


# ------------------------------------------------------------------------------ end of a run


def slow(**values):
    """The dry bench filling through 0.2 mm, no off command."""
    return changed(shipped_case("dry_bench"), solenoid__fill_orifice=0.2e-3, solenoid__off=(), **values)


def test_a_run_goes_on_while_the_pressure_rises():
    result = simulate(slow())
    assert result.outcome == "opened-no-off-command"
    assert result.measures["valve_delay"] + result.measures["fill_delay"] == pytest.approx(1.66, abs=0.02)


def test_a_horizon_cuts_and_claims_nothing():
    result = simulate(slow(run__horizon=0.5))
    assert result.outcome == "cut-short"
    assert not any("stays shut by design" in warning for warning in result.warnings)
    assert any("horizon" in warning for warning in result.warnings)
    assert "horizon" in result.reasons["opening_time"]
    assert "never" not in answer(result).outcome


def test_a_run_ends_when_nothing_can_happen_any_more():
    """A constant supply, no leak: once everything stands still the run is over, long before its horizon."""
    case = changed(
        shipped_case("dry_bench"), solenoid__off=(), run__horizon=1000.0, seals__piston_leak_area=0.0, supply__bottle_volume=100.0
    )
    result = simulate(case)
    assert result.outcome == "opened-no-off-command"
    assert instants(result, "everything stands still")
    assert float(result.traces["time"][-1]) < 100.0


def test_a_run_with_nothing_to_wait_for_ends_as_before():
    assert float(shipped("hot_start").traces["time"][-1]) == pytest.approx(1.043, abs=0.002)
    assert float(shipped("weak_battery").traces["time"][-1]) == pytest.approx(0.3, abs=0.02)
