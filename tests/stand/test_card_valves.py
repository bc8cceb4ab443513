"""A test card of a case that run valves stop: their commands are on it, and its limits end where they shut."""

from functools import lru_cache

import pytest
from runs import shipped, shipped_case
from sleevelift.run import in_short_form
from sleevelift.stand.abort import flow_aborts, stop_of
from sleevelift.stand.bands import bands_of
from sleevelift.stand.card_rows import open_instant
from sleevelift.stand.sequence import command_steps


@lru_cache(maxsize=1)
def bands():
    return bands_of(in_short_form(shipped_case("valve_lead")), n=50)


def test_limits_on_pressure_end_where_the_first_run_valve_shuts():
    """The oxidizer's valve shuts 65 ms before the off command: from there on pressures fall as they should."""
    shut = shipped("valve_lead").case.oxidizer.valve.off[0] - 0.1
    assert stop_of(bands()) == pytest.approx(shut) and open_instant(bands()) < shut
    limits = {one.name: one for one in flow_aborts(bands())}
    low = limits["chamber pressure low"]
    assert low.ends == pytest.approx(shut) and low.begins < low.ends
    inside = (bands().time >= low.begins) & (bands().time <= low.ends)
    assert float(bands().extremes("chamber_pressure")[0][inside].min()) > low.low, "no run without a fault trips it"


def test_run_valves_are_commands_of_the_card():
    words = [step.what for step in sorted(command_steps(bands()))]
    own = [word for word in words if "run valve" in word]
    assert own == ["oxidizer run valve opens", "fuel run valve opens", "oxidizer run valve shuts", "fuel run valve shuts"]
