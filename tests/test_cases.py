"""Every shipped case runs and holds its headline finding: which outcome, which check fails, what the run says. Not
its digits."""

import re
from math import pi, sqrt

import numpy as np
import pytest
from runs import CASES, changed, instants, shipped, shipped_case, shipped_with_supply, tabled
from sleevelift import simulate, simulate_many

SHIPPED = sorted(path.stem for path in CASES.glob("*.toml"))

# case: (outcome, checks that must fail, checks that must pass)
HEADLINES = {
    "dry_bench": ("opened-and-closed", {"no_fuel_margin"}, {"opens", "closes", "opening_margin", "full_lift_margin"}),
    "dry_interlock": ("never-broke-away", {"opens", "opening_margin"}, {"no_fuel_margin"}),
    "cold_flow": ("opened-and-closed", set(), {"opens", "closes", "oxidizer_lead", "surge_margin"}),
    "hot_start": (
        "opened-and-closed",
        set(),
        {"opens", "closes", "oxidizer_lead", "no_fuel_margin", "closing_margin", "hard_start_pressure"},
    ),
    "helium_lift": ("opened-and-closed", set(), {"opens", "closes", "oxidizer_lead"}),
    "bottle_blowdown": ("hung-part-way", {"opens", "full_lift_margin"}, {"closing_margin_unlit"}),
    "weak_battery": ("valve-never-shifted", {"opens"}, set()),
    "fuel_lost": ("never-broke-away", {"opens"}, {"no_fuel_margin", "fuel_loss_margin"}),
    "nose_trap": ("did-not-close", {"closes", "closing_margin"}, {"opens", "opening_margin", "no_fuel_margin"}),
    "priming_surge": ("lifted-without-command", {"surge_margin"}, {"no_fuel_margin"}),
    "bare_cone": ("opened-and-closed", {"oxidizer_lead"}, {"opens", "closes"}),
    "late_igniter": ("opened-and-closed", {"hard_start_pressure", "light_off"}, {"opens", "closes", "oxidizer_lead"}),
    "hammer": ("opened-and-closed", {"peak_oxidizer_manifold"}, {"opens", "closes"}),
    "sequenced_start": ("opened-and-closed", set(), {"opens", "closes", "oxidizer_lead", "sequence"}),
    "fuel_rich_stop": ("opened-and-closed", set(), {"opens", "closes", "oxidizer_lead", "shutdown_oxidizer_lag"}),
    "stuck_feed_valve": ("opened-and-closed", {"oxidizer_lead"}, {"opens", "closes"}),
    "purged_stop": ("opened-and-closed", set(), {"opens", "closes", "oxidizer_lead", "shutdown_oxidizer_lag", "surge_margin"}),
    "empty_manifold": ("opened-and-closed", set(), {"opens", "closes", "oxidizer_lead", "surge_margin", "hard_start_pressure"}),
    "valve_lead": (
        "opened-and-closed",
        {"no_fuel_margin", "fuel_loss_margin"},
        {"opens", "closes", "oxidizer_lead", "hard_start_pressure", "light_off", "shutdown_oxidizer_lag", "sequence"},
    ),
}


def verdicts(result):
    """(names of failed checks, names of passed checks)."""
    return (
        {check.name for check in result.checks if check.passed is False},
        {check.name for check in result.checks if check.passed},
    )


def test_every_shipped_case_has_its_headline():
    assert set(SHIPPED) == set(HEADLINES)


@pytest.mark.parametrize("name", SHIPPED)
def test_headline(name):
    outcome, must_fail, must_pass = HEADLINES[name]
    result = shipped(name)
    failed, passed = verdicts(result)
    assert result.failure is None
    assert result.outcome == outcome
    assert must_fail <= failed, must_fail - failed
    assert must_pass <= passed, must_pass - passed


@pytest.mark.parametrize("name", ["cold_flow", "hot_start", "helium_lift"])
def test_sound_cases_fail_nothing(name):
    assert verdicts(shipped(name))[0] == set()


@pytest.mark.parametrize("name", SHIPPED)
def test_every_failed_check_says_what_to_change(name):
    for check in shipped(name).checks:
        if check.passed is False:
            assert re.search(r"To change: \w+ \w+", check.advice), check


@pytest.mark.parametrize("name", SHIPPED)
def test_invented_cases_say_so(name):
    assert shipped_case(name).case.invented
    assert any("nvented" in warning for warning in shipped(name).warnings)


def test_interlock_says_what_to_do():
    """A dry test at the hot gas pressure stays shut by design, and the run says so."""
    assert any("stays shut by design" in warning for warning in shipped("dry_interlock").warnings)


def test_cold_flow_hides_a_slow_shutdown():
    """Cold flow opens later and closes earlier than the hot start, and says that it is no timing test."""
    cold, hot = shipped("cold_flow").measures, shipped("hot_start").measures
    assert cold["opening_time"] > hot["opening_time"]
    assert cold["closing_time"] < hot["closing_time"]
    assert any("no timing test" in warning for warning in shipped("cold_flow").warnings)


def test_hot_start_in_order():
    """Oxidizer first, then fuel, then light; on the way down oxidizer is the last in, and the run says so."""
    m = shipped("hot_start").measures
    assert m["energize_time"] < m["first_oxidizer"] < m["first_fuel"] == m["both_in_chamber"] < m["light_off"]
    assert m["light_off"] < m["latest_light_off"]
    assert m["shutdown_oxidizer_lag"] > 0.0
    assert any("last in" in warning for warning in shipped("hot_start").warnings)


def test_fuel_rich_stop_ends_with_fuel():
    """The same engine with its oxidizer run valve shut in time: fuel is the last in, not oxidizer; the start is the same."""
    plain, rich = shipped("hot_start").measures, shipped("fuel_rich_stop").measures
    assert rich["shutdown_oxidizer_lag"] < 0.0 < plain["shutdown_oxidizer_lag"]
    assert rich["oxidizer_lead"] == pytest.approx(plain["oxidizer_lead"], rel=5e-3)
    assert rich["last_oxidizer"] < rich["last_fuel"]
    late = changed(shipped_case("fuel_rich_stop"), oxidizer__valve__off=(0.9,))
    check = next(check for check in simulate(late).checks if check.name == "shutdown_oxidizer_lag")
    assert not check.passed and "run valve so much earlier" in check.advice


def test_purged_stop_leaves_next_to_no_oxidizer():
    """Helium has driven out all but 1 % of the oxidizer when the sleeve seats, fuel is the last in; what is left of it stays."""
    m = shipped("purged_stop").measures
    assert m["residual_oxidizer_at_seating"] < 0.01 * 40e-6 * 1141.0 and m["shutdown_oxidizer_lag"] < 0.0
    assert m["residual_fuel_at_end"] > 0.5 * 50e-6 * 789.0
    assert any("it may keep the chamber lit" in warning for warning in shipped("purged_stop").warnings)


def test_stuck_feed_valve_waits_for_fuel():
    """The sleeve hangs on what the locked fuel gives until the valve opens; more oxidizer pools; the run says what is locked."""
    plain, stuck = shipped("hot_start").measures, shipped("stuck_feed_valve").measures
    assert stuck["opening_time"] > plain["opening_time"] + 0.03
    assert stuck["pooled_oxidizer"] > plain["pooled_oxidizer"]
    assert any("stands locked between the shut fuel run valve" in warning for warning in shipped("stuck_feed_valve").warnings)


def test_valve_lead_is_the_time_between_the_run_valves():
    """The sleeve is up by then, so that the lead is the wait of the second valve."""
    case, result = shipped_case("valve_lead"), shipped("valve_lead")
    valves = result.case.oxidizer.valve, result.case.fuel.valve
    assert valves[0].on[0] > result.measures["energize_time"] + result.measures["opening_time"]
    assert result.measures["oxidizer_lead"] == pytest.approx(valves[1].on[0] - valves[0].on[0], abs=0.5e-3)
    waits = simulate_many(case, [{"sequence.step.4.delay": wait} for wait in (0.0, 0.005, 0.02)]).measures["oxidizer_lead"]
    assert waits == pytest.approx([0.0, 0.005, 0.02], abs=0.5e-3)


def test_fast_run_valves_hammer_on_closing_and_pool_on_opening():
    """Shut in 2 ms the line stops almost at once: the rise ahead of the valve comes near rho a dv and stays below it, from where
    the line's loss has gone. Opened in 10 ms instead of 40 the flow is there before the ignition delay is over."""
    case, plain = shipped_case("valve_lead"), shipped("valve_lead")
    keys = [f"{side}.valve.{what}_time" for side in ("oxidizer", "fuel") for what in ("closing", "opening")]
    fast = simulate_many(case, [dict.fromkeys(keys[::2], 2e-3), dict.fromkeys(keys[1::2], 10e-3)]).measures
    for side in ("oxidizer", "fuel"):
        feed, flow = getattr(case, side), plain.measures[f"steady_{side}_flow"]
        hammer = flow / (feed.line_bore**2 * pi / 4.0) * sqrt(feed.bulk_modulus / feed.density)
        assert 0.6 * hammer < fast[f"peak_ahead_{side}_valve"][0] - feed.inlet_pressure < hammer, side
        assert plain.measures[f"peak_ahead_{side}_valve"] - feed.inlet_pressure < 0.2 * hammer, side
    assert fast["hard_start_pressure"][1] > case.chamber.allowable_pressure > plain.measures["hard_start_pressure"]


def test_helium_is_faster_than_nitrogen():
    light, heavy = shipped("helium_lift").measures, shipped("hot_start").measures
    assert light["opening_time"] < heavy["opening_time"]
    assert light["closing_time"] < heavy["closing_time"]


def test_starving_bottle_hangs_between_seat_and_stop():
    lift = shipped("bottle_blowdown").traces["lift"]
    stroke = shipped_case("bottle_blowdown").sleeve.stroke
    assert 0.1 * stroke < lift.max() < 0.98 * stroke


def test_weak_battery_moves_nothing():
    result = shipped("weak_battery")
    assert result.traces["valve_opening"].max() == 0.0
    assert result.traces["lift"].max() == 0.0


def test_fuel_lost_pools_only_its_closed_leak():
    """The interlock holds the oxidizer back: less than the closed leak over the whole run gets in."""
    result = shipped("fuel_lost")
    whole = result.measures["closed_leak_oxidizer"] * result.traces["time"][-1]
    assert result.measures["pooled_oxidizer"] <= whole * (1.0 + 1e-9)


def test_nose_trap_stays_up_without_gas():
    """Gas vented, command off: still open at the end, and the closing margin says it is the fuel on the nose."""
    result = shipped("nose_trap")
    stroke = shipped_case("nose_trap").sleeve.stroke
    assert result.traces["lift_chamber_pressure"][-1] < 1.1e5
    assert result.traces["lift"][-1] > 0.9 * stroke
    assert result.measures["closing_margin"] < 0.0 < result.measures["opening_margin"]


def test_priming_surge_lifts_before_its_command():
    result = shipped("priming_surge")
    assert instants(result, "leaves its seat")[0] < result.measures["energize_time"]
    assert result.measures["surge_margin"] < 0.0
    assert result.measures["peak_fuel_manifold"] > shipped_case("priming_surge").fuel.inlet_table.pressure[-1]


def test_bare_cone_leads_with_fuel():
    assert shipped("bare_cone").measures["oxidizer_lead"] < 0.0 < shipped("hot_start").measures["oxidizer_lead"]


def test_late_igniter_exceeds_the_allowable():
    result = shipped("late_igniter")
    assert result.measures["hard_start_pressure"] > shipped_case("late_igniter").chamber.allowable_pressure
    assert result.measures["light_off"] > result.measures["latest_light_off"]


def test_latest_light_off_is_where_the_pool_reaches_the_allowable():
    """Lit just before or just after that instant, the estimate lies just below or above the allowable pressure."""
    from sleevelift import with_values

    case = shipped_case("late_igniter")
    latest = shipped("late_igniter").measures["latest_light_off"]
    allowable = case.chamber.allowable_pressure
    for shift, above in ((-2e-5, False), (2e-5, True)):
        changed = with_values(case, {"igniter.light_off": latest + shift, "igniter.on": (), "igniter.delay": None}, check=False)
        pressure = simulate(changed).measures["hard_start_pressure"]
        assert (pressure > allowable) == above
        assert pressure == pytest.approx(allowable, rel=0.02)


def test_hammer_tears_the_column():
    """Closing far inside the line's period: near rho a dv at the valve, and a cavity when the wave returns."""
    result = shipped("hammer")
    assert result.measures["peak_oxidizer_manifold"] > 1.5 * shipped_case("hammer").oxidizer.inlet_pressure
    assert any("cavity" in event.what for event in result.timeline)
    assert any("cavity" in warning or "column" in warning for warning in result.warnings)


# Regression caps, 2026-11-26: right-hand sides and steps of the shipped cases at their own tolerance, a fifth above what they took
# once a sleeve's speed was weighed by what the spring gives it. `hammer` took 3789 before: its energy balance now misses 1e-4 at
# the default tolerance (1.2e-4, before 1.7e-5), so it is run again at a tenth of it.
# `fuel_lost` took 8772: a second of ringing in steps that aim lower (0.8 instead of 0.84 of the tolerance).
# `fuel_rich_stop` and `purged_stop` were capped at 5000 and 9000 at 2e-4, one run again for its energy: with run valves now 5e-5.
# More work means that the integrator, the events or the Jacobian got worse; raise a cap only with its reason.
CAPS = {
    "bare_cone": (1880, 200),
    "bottle_blowdown": (1070, 110),
    "cold_flow": (2290, 240),
    "dry_bench": (1300, 135),
    "dry_interlock": (600, 65),
    "empty_manifold": (5510, 615),
    "fuel_lost": (11920, 1485),
    "fuel_rich_stop": (6460, 730),
    "hammer": (6660, 760),
    "helium_lift": (2000, 215),
    "hot_start": (2200, 225),
    "late_igniter": (2800, 285),
    "nose_trap": (1430, 155),
    "priming_surge": (11990, 1365),
    "purged_stop": (11260, 1345),
    "sequenced_start": (2200, 225),
    "stuck_feed_valve": (4080, 450),
    "valve_lead": (6300, 690),
    "weak_battery": (30, 5),
}


@pytest.mark.parametrize("name", SHIPPED)
def test_work_stays_under_its_cap(name):
    right_hand_sides, steps = CAPS[name]
    assert shipped(name).statistics["right_hand_sides"] <= right_hand_sides
    assert shipped(name).statistics["steps"] <= steps


def test_a_table_of_slots_is_the_row_it_was_taken_from():
    """A rectangular row opens linearly from its lap to lap + height: two straight pieces, the same machine."""
    row = shipped_case("hot_start").slots.row[0]
    flat = row.count * row.width * row.height
    case = tabled("hot_start", slots=([0.0, row.lap, row.lap + row.height, 2e-3], [0.0, 0.0, flat, flat]),
                  discharge_coefficient=row.discharge_coefficient)  # fmt: skip
    got, expected = simulate(case), shipped("hot_start")
    assert got.outcome == expected.outcome
    for name in ("opening_time", "closing_time", "oxidizer_lead", "steady_oxidizer_flow", "pooled_oxidizer"):
        assert got.measures[name] == pytest.approx(expected.measures[name], rel=2e-3), name


def test_tables_are_read_between_their_entries():
    """Effective areas of the run are those of numpy's straight lines over its lifts, and the run closes its balances."""
    case = tabled("hot_start")
    result = simulate(case)
    assert result.outcome == "opened-and-closed" and result.failure is None
    lift = result.traces["lift"]
    slots = np.interp(lift, case.slots.table.lift, case.slots.table.area)
    assert result.traces["slot_area"] == pytest.approx(case.slots.discharge_coefficient * slots, abs=1e-12)
    assert np.ptp(slots) > 4e-5
    free = np.interp(lift, case.seat.table.lift, case.seat.table.area)
    assert result.traces["seat_area"] == pytest.approx(case.seat.discharge_coefficient * free, abs=1e-12)
    for left, moved in (("gas_mass", "gas_moved"), ("gas_energy", "gas_energy_moved")):
        assert abs(result.balances[left]) <= 1e-6 * result.balances[moved]
    assert abs(result.measures["energy_error"]) <= 1e-4


def test_a_pressure_over_time_is_followed():
    """The supply's pressure at the valve is the table's at every instant, and the sleeve opens on it."""
    case = shipped_with_supply("hot_start", "table")
    result = simulate(case)
    assert result.outcome == "opened-and-closed"
    table = case.supply.table
    expected = np.interp(result.traces["time"], table.time, table.pressure)
    assert result.traces["supply_pressure"] == pytest.approx(expected, rel=1e-9)
    assert np.ptp(expected) == pytest.approx(6e5)
    assert abs(result.measures["energy_error"]) <= 1e-4
