"""Sensors in closed form; noise of numbers whose noise is known."""

import numpy as np
import pytest
from sleevelift.calibrate.data import thinned
from sleevelift.calibrate.sensor import Bins, gridded, lagged, seen
from sleevelift.measured.noise import lone, noise, quantum, robust_span
from sleevelift.measured.trace import Channel


def points(t):
    return Bins(t, t)


def test_lag_of_a_step_and_of_a_ramp():
    """First-order lag: a step is 1 - exp(-t/tau); a ramp of slope 1 is t - tau (1 - exp(-t/tau))."""
    t = np.arange(0.0, 0.05, 1e-4)
    for lag in (0.5e-3, 3e-3):
        step = lagged(np.where(t >= 1e-4, 1.0, 0.0), 1e-4, lag)
        exact = 1.0 - np.exp(-np.maximum(t - 0.5e-4, 0.0) / lag)  # the grid's step rises over one cell: half a cell late
        assert np.abs(step - exact)[2:].max() < 2e-3
        assert lagged(t, 1e-4, lag) == pytest.approx(t - lag * (1.0 - np.exp(-t / lag)), abs=1e-12)


def test_no_lag_passes_the_signal_on():
    x = np.sin(np.linspace(0.0, 9.0, 500))
    assert np.array_equal(lagged(x, 1e-4, 0.0), x)


def test_averages_are_those_of_the_signal_and_hold_its_ends():
    t = np.linspace(0.0, 0.1, 2001)
    grid = gridded(t, {"lift": np.sin(40.0 * t)})
    starts = np.arange(-0.02, 0.15, 0.004)
    got = seen(grid, "lift", Bins(starts + 0.3, starts + 0.303), 0.3, 0.0)
    fine = np.linspace(0.0, 0.003, 4001)
    held = np.array([np.mean(np.sin(40.0 * np.clip(s + fine, 0.0, 0.1))) for s in starts])
    assert got == pytest.approx(held, abs=3e-5)


def test_clock_and_lag_shift_what_is_seen():
    t = np.linspace(0.0, 0.1, 1001)
    grid = gridded(t, {"lift": t})
    late = seen(grid, "lift", points(np.array([1.05])), 1.0, 2e-3)
    assert late[0] == pytest.approx(0.05 - 2e-3, abs=1e-9)


@pytest.mark.parametrize("quiet", [0, 500])
def test_noise_of_known_numbers(quiet):
    """Standard normal noise of 0.3 on a signal that rests, moves and rests."""
    rng = np.random.default_rng(3)
    signal = np.concatenate([np.zeros(600), np.linspace(0.0, 50.0, 300), np.full(600, 50.0)])
    found = [noise(signal + rng.normal(0.0, 0.3, len(signal)), quiet) for _ in range(40)]
    assert np.mean(found) == pytest.approx(0.3, rel=0.12) and np.std(found) < 0.05


def test_a_coarse_converter_is_not_taken_as_noiseless():
    """Rounded to steps q a value is off by q / sqrt(12) (uniform distribution)."""
    rng = np.random.default_rng(4)
    values = np.round(np.linspace(0.0, 3.0, 2000) / 0.5) * 0.5
    assert quantum(values) == 0.5 and noise(values) == pytest.approx(0.5 / np.sqrt(12.0))
    assert quantum(rng.normal(size=100)) == 0.0
    assert np.isnan(noise(np.zeros(10)))


def test_a_wrong_digit_is_found_and_does_not_widen_the_span():
    """One number of 2000, put where it is by hand; a step that is as steep, and a spike of two samples, are none."""
    rng = np.random.default_rng(7)
    values = np.where(np.arange(2000) > 900, 30.0, 0.0) + rng.normal(0.0, 0.1, 2000)
    assert len(lone(values)) == 0
    values[1200], values[1500:1502] = 943.0, 35.0
    assert lone(values).tolist() == [1200]
    assert robust_span(values) == pytest.approx(35.0, abs=1.0)
    assert len(lone(np.array([1.0, 9.0, 1.0]))) == 0


@pytest.mark.parametrize("count, each", [(2300, 2), (3500, 3), (4700, 4)])
def test_no_average_reaches_over_a_gap(count, each):
    """Samples at 2 kHz, 30 ms lost in the middle of a bin, a slower half behind: what is left is averaged over its own steps."""
    t = np.delete(np.arange(count) / 2000.0, slice(12 * 40 + 1, 12 * 40 + 61))
    t = np.concatenate([t, t[-1] + np.arange(1, 61) * 0.01])
    channel = Channel("lift", "lift [mm]", "mm", "length", t, np.ones(len(t)), 0)
    bins, value, found = thinned(channel, -1.0, 9.0)
    assert found == each and len(value) >= len(t) // each - 2
    wide = np.round((bins.end - bins.start) / each, 6)
    assert set(wide[:-60]) == {5e-4} and wide[-1] == 0.01
