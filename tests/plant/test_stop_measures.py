"""What enters, burns and is left in a stop: the mass balance of the chamber, the traces themselves, closed forms."""

import numpy as np
import pytest
from runs import changed, shipped, shipped_case
from sleevelift import simulate
from sleevelift.plant.stop_measures import counted

NAMES = ("oxidizer_in_stop", "fuel_in_stop", "oxidizer_alone_in_stop", "burned_in_stop")

LEVEL, DRAINED = 0.05, 5e-3
"""-, s. A flow below this share of the rated one counts as over; what the liquids' stiffness still lets out takes no longer."""


def begins(result):
    """Instant, s, at which the stop begins: the off command, or a run valve's shutting."""
    valves = [side.valve for side in (result.case.oxidizer, result.case.fuel) if side.valve is not None]
    return min(instant for off in (result.case.solenoid.off, *(valve.off for valve in valves)) for instant in off)


def area_under(time, flow, begin, end):
    """Integral of a trace between two instants, on straight lines, its ends included."""
    t = np.unique(np.concatenate([time[(time > begin) & (time < end)], [begin, end]]))
    return float(np.trapezoid(np.interp(t, time, flow), t))


@pytest.mark.parametrize("name", ["hot_start", "fuel_rich_stop"])
def test_what_enters_the_tight_chamber_burns_or_is_left(name):
    """Unburned before + entered = burned + left, a tight sleeve passing nothing after the last instants but 5 % of the flow."""
    result = simulate(changed(shipped_case(name), slots__clearance=0.0, slots__post_contraction=0.0, slots__sleeve_contraction=0.0))
    m, t = result.measures, result.traces
    before = sum(np.interp(begins(result), t["time"], t[f"unburned_{side}"]) for side in ("oxidizer", "fuel"))
    entered = m["oxidizer_in_stop"] + m["fuel_in_stop"]
    tail = sum(
        np.trapezoid(np.where(t["time"] >= m[f"last_{side}"], np.maximum(t[f"{side}_flow"], 0.0), 0.0), t["time"])
        for side in ("oxidizer", "fuel")
    )
    left = m["unburned_oxidizer_at_end"] + m["unburned_fuel_at_end"]
    assert before + entered + tail == pytest.approx(m["burned_in_stop"] + left, rel=2e-4)
    assert tail < LEVEL * (result.case.oxidizer.rated_flow + result.case.fuel.rated_flow) * DRAINED


@pytest.mark.parametrize("name", ["hot_start", "fuel_rich_stop"])
def test_amounts_are_the_areas_under_the_traces(name):
    result = shipped(name)
    m, t = result.measures, result.traces
    time, begin = t["time"], begins(result)
    for side in ("oxidizer", "fuel"):
        area = area_under(time, np.maximum(t[f"{side}_flow"], 0.0), begin, m[f"last_{side}"])
        assert m[f"{side}_in_stop"] == pytest.approx(area, rel=5e-4), side
    after = area_under(time, t["oxidizer_flow"], m["last_fuel"], max(m["last_fuel"], m["last_oxidizer"]))
    assert m["oxidizer_alone_in_stop"] == pytest.approx(after, rel=5e-3, abs=1e-9)
    assert (m["oxidizer_alone_in_stop"] > 0.0) == (m["shutdown_oxidizer_lag"] > 0.0)


def test_a_stop_that_does_not_come_or_does_not_end_has_no_amounts():
    never = simulate(changed(shipped_case("hot_start"), solenoid__off=(), run__end=0.3))
    assert all(never.measures[name] is None and "no off command" in never.reasons[name] for name in NAMES)
    assert never.measures["unburned_oxidizer_at_end"] > 0.0
    hung = shipped("nose_trap")
    assert hung.measures["oxidizer_in_stop"] is None and "goes on" in hung.reasons["oxidizer_in_stop"]
    cold = shipped("cold_flow")
    assert cold.measures["oxidizer_in_stop"] > 0.0 and cold.measures["burned_in_stop"] is None
    dry = shipped("dry_bench")
    assert all(dry.measures[name] is None for name in NAMES)


@pytest.mark.parametrize(
    ("ends", "amount"), [((1.0, 1.0), 6.0), ((-1.0, -1.0), 0.0), ((1.0, -1.0), 2.5), ((-1.0, 1.0), 3.5), ((1.0, -3.0), 1.125)]
)
def test_the_part_that_counts_ends_on_a_straight_line(ends, amount):
    """A flow from 2 to 4 kg/s in 2 s: up to its middle 2.5 kg, from there 3.5 kg, its first quarter 1.125 kg."""
    assert counted(2.0, 2.0, 4.0, *ends) == pytest.approx(amount, rel=1e-12)
