"""Solenoid valve: dead time, stroke, cancelling edges, coil, clamp."""

import math

import pytest
from sleevelift.physics.solenoid import (
    Coil,
    ValveTimes,
    drop_out_time,
    edges_in_order,
    effect_times,
    falling_current,
    opening_schedule,
    pull_in_time,
    rising_current,
)

TIMES = ValveTimes(open_dead=8e-3, open_stroke=3e-3, close_dead=10e-3, close_stroke=4e-3, wave_delay=0.0)
COIL = Coil(inductance=0.02, resistance=10.0, voltage=24.0, pull_in=1.5, drop_out=0.5, clamp=0.0)


def knots(schedule):
    return [(round(t, 9), round(y, 9)) for t, y in zip(schedule.times, schedule.openings)]


def test_one_pulse():
    assert knots(opening_schedule((0.1,), (0.3,), TIMES)) == [(0.108, 0.0), (0.111, 1.0), (0.31, 1.0), (0.314, 0.0)]


def test_wave_delay_is_added_to_both_dead_times():
    delayed = opening_schedule((0.1,), (0.3,), TIMES._replace(wave_delay=2e-3))
    assert [t for t, _ in knots(delayed)] == [0.11, 0.113, 0.312, 0.316]


def test_off_takes_effect_mid_stroke():
    """On takes effect at 0.108; off at 0.1005 + 0.009 = 0.1095, half-way up: from there down at 1/4 ms."""
    schedule = opening_schedule((0.1,), (0.1005,), TIMES._replace(close_dead=9e-3))
    assert knots(schedule) == [(0.108, 0.0), (0.1095, 0.5), (0.1115, 0.0)]


def test_off_while_off_is_nothing():
    assert opening_schedule((0.1,), (0.05,), TIMES).effects == [(pytest.approx(0.108), True, 0.1)]


def test_short_pulse_is_cancelled():
    """An off that takes effect before the on cancels it: nothing happens."""
    schedule = opening_schedule((0.1,), (0.105,), TIMES._replace(close_dead=1e-3))
    assert schedule.times == [] and schedule.effects == []


def test_short_gap_is_cancelled():
    """On again before the off takes effect: the valve stays open."""
    schedule = opening_schedule((0.1, 0.305), (0.3, 0.6), TIMES._replace(open_dead=1e-3))
    assert [opens for _, opens, _ in schedule.effects] == [True, False]
    assert schedule.effects[1][0] == pytest.approx(0.61)


def test_opening_stays_between_0_and_1_and_moves_no_faster_than_its_stroke():
    on, off = (0.1, 0.115, 0.140, 0.2), (0.106, 0.124, 0.1415, 0.3)
    schedule = opening_schedule(on, off, TIMES)
    pairs = list(zip(schedule.times, schedule.openings))
    assert all(0.0 <= y <= 1.0 for _, y in pairs)
    for (t0, y0), (t1, y1) in zip(pairs, pairs[1:]):
        assert t1 >= t0
        rate = 1.0 / (TIMES.open_stroke if y1 > y0 else TIMES.close_stroke)
        assert abs(y1 - y0) <= rate * (t1 - t0) + 1e-9


def test_repeated_commands_are_dropped_and_sorted():
    assert edges_in_order((0.2, 0.1), (0.3, 0.4)) == [(0.1, True), (0.3, False)]
    assert edges_in_order((), (0.3,)) == []


def test_coil_gives_the_dead_times():
    schedule = opening_schedule((0.1,), (0.3,), TIMES, COIL)
    assert schedule.times[0] == pytest.approx(0.1 + pull_in_time(COIL), rel=1e-12)
    full = COIL.voltage / COIL.resistance
    assert schedule.times[2] == pytest.approx(0.3 + drop_out_time(COIL, full), rel=1e-9)


def test_sagging_battery_is_slower_and_then_never_shifts():
    delays = [pull_in_time(COIL._replace(voltage=v)) for v in (24.0, 20.0, 16.0, 15.1)]
    assert delays == sorted(delays)
    assert pull_in_time(COIL._replace(voltage=15.0)) == math.inf
    assert opening_schedule((0.1,), (0.3,), TIMES, COIL._replace(voltage=14.0)).times == []


def test_clamp_releases_sooner():
    full = 2.4
    plain, clamped = drop_out_time(COIL, full), drop_out_time(COIL._replace(clamp=36.0), full)
    assert clamped < 0.3 * plain
    assert plain == pytest.approx(0.002 * math.log(2.4 / 0.5), rel=1e-12)
    assert clamped == pytest.approx(0.002 * math.log((24.0 + 36.0) / (5.0 + 36.0)), rel=1e-12)


def test_release_starts_from_the_current_then_flowing():
    """A pulse just past pull-in leaves less than the full current, so the valve lets go sooner."""
    off = 0.1 + pull_in_time(COIL) + 1e-4
    current = rising_current(COIL, 0.0, off - 0.1)
    effects = effect_times([(0.1, True), (off, False)], TIMES, COIL)
    assert effects[1][0] - off == pytest.approx(drop_out_time(COIL, current), rel=1e-12)
    assert current < 2.4


def test_off_before_pull_in_cancels_the_on():
    assert effect_times([(0.1, True), (0.101, False)], TIMES, COIL) == []


def test_on_again_before_drop_out_cancels_the_off():
    """Current has not fallen to drop-out yet: the armature never let go."""
    effects = effect_times([(0.1, True), (0.3, False), (0.301, True), (0.5, False)], TIMES, COIL)
    assert [(opens, command) for _, opens, command in effects] == [(True, 0.1), (False, 0.5)]


def test_currents_are_each_others_limits():
    assert rising_current(COIL, 0.7, 0.0) == pytest.approx(0.7)
    assert rising_current(COIL, 0.7, 10.0) == pytest.approx(2.4)
    assert falling_current(COIL, 2.4, 0.0) == pytest.approx(2.4)
    assert falling_current(COIL, 2.4, 10.0) == pytest.approx(0.0, abs=1e-12)
    assert falling_current(COIL._replace(clamp=36.0), 2.4, 10.0) == 0.0
    assert pull_in_time(COIL, 1.5) == 0.0 and drop_out_time(COIL, 0.5) == 0.0
    assert drop_out_time(COIL._replace(drop_out=0.0), 1.0) == math.inf
