"""Leaks as holes and as gaps: closed forms, limits, and readings turned back into what made them."""

import math

import pytest
from sleevelift.sizing.leakage import (
    Gap,
    Gas,
    Reading,
    bubbles_per_minute,
    choked_factor,
    decay_time,
    fall_error,
    gap_flow,
    gap_of_reading,
    liquid_area_of_gap,
    liquid_gap_flow,
    orifice_flow,
    orifice_of_reading,
    pressure_after,
    waiting_time,
)

NITROGEN = Gas(28.0134e-3, 1.4, 1.78e-5)
AMBIENT = 101325.0
T = 293.15


def choked_decay(area, volume, start, time):
    """Pa, closed form: p_0 exp(-t Psi A sqrt(R T)/V) while the outlet stays choked."""
    root = math.sqrt(NITROGEN.specific_constant * T)
    return start * math.exp(-time * choked_factor(NITROGEN.exponent) * area * root / volume)


def laminar_decay(rate, start, time):
    """Pa, closed form of dp/dt = -K (p^2 - a^2): (p - a)/(p + a) = (p_0 - a)/(p_0 + a) exp(-2 a K t), a ambient, K in 1/(Pa s)."""
    share = (start - AMBIENT) / (start + AMBIENT) * math.exp(-2.0 * AMBIENT * rate * time)
    return AMBIENT * (1.0 + share) / (1.0 - share)


def test_laminar_gap_without_slip_is_the_textbook_annulus():
    """h-annular-gas, closed form: pi D c^3 (p1^2 - p2^2)/(24 mu R T L) = 1.49065e-4 kg/s, D 20 mm, c 3 um, L 15 mm."""
    gas = Gas(8.31446261815324 / 296.8, 1.4, 1.78e-5)
    gap = Gap(0.02, 3e-6, 0.015)
    found = gap_flow(gap, 70e5, 1e5, T, gas)
    assert found.flow / (1.0 + 6.0 * found.knudsen) == pytest.approx(1.49065e-4, rel=1e-3)
    assert not found.choked
    assert found.reynolds == pytest.approx(267.0, rel=0.05)
    assert 0.0 < 6.0 * found.knudsen < 0.01  # mean free path of nitrogen at 35 bar: 2 nm


def test_mean_free_path_is_that_of_air():
    """68 nm in air at 101.3 kPa, 296 K (Jennings, J. Aerosol Sci. 19, 1988: 67.3 nm): Kn of a 6.8 um gap is 0.01."""
    air = Gas(28.9647e-3, 1.4, 1.83e-5)
    found = gap_flow(Gap(0.02, 6.73e-6, 0.01), AMBIENT * 1.0001, AMBIENT * 0.9999, 296.15, air)
    assert found.knudsen == pytest.approx(0.01, rel=0.02)


def test_a_wide_gap_passes_no_more_than_its_own_orifice():
    """The laminar law alone gives 54 % of choked at 10 um, 70 bar; at 30 um it would give 9 times choked."""
    gap = Gap(0.02, 30e-6, 0.015)
    found = gap_flow(gap, 70e5, AMBIENT, T, NITROGEN)
    assert found.choked
    assert found.flow == pytest.approx(orifice_flow(0.7 * math.pi * 0.02 * 30e-6, 70e5, AMBIENT, T, NITROGEN), rel=1e-12)


def test_liquid_gap_is_the_textbook_annulus_where_it_is_narrow():
    """h-annular, closed form: Q = pi D c^3 dp/(12 mu L) = 5.81776e-7 m3/s; the orifice loss takes 0.2 % here."""
    found = liquid_gap_flow(Gap(0.02, 1e-5, 0.015), 20e5, 1000.0, 0.0012)
    assert found / 1000.0 == pytest.approx(5.81776e-7, rel=0.005)
    assert found / 1000.0 < 5.81776e-7


def test_liquid_gap_is_an_orifice_where_it_is_short_and_wide():
    gap = Gap(0.02, 2e-4, 1e-5)
    assert liquid_area_of_gap(gap, 20e5, 800.0, 1e-3) == pytest.approx(0.7 * math.pi * 0.02 * 2e-4, rel=0.01)


@pytest.mark.parametrize("time", [1.0, 60.0, 300.0])
def test_choked_decay_is_the_integral(time):
    """Both laws of fall against their closed forms."""
    area, volume = 1e-9, 20e-6
    closed = choked_decay(area, volume, 6.9e5, time)
    if closed > AMBIENT / 0.528:
        found = pressure_after(volume, 6.9e5, time, lambda p: orifice_flow(area, p, AMBIENT, T, NITROGEN), AMBIENT, T, NITROGEN)
        assert found == pytest.approx(closed, rel=1e-8)
    gap = Gap(0.024, 1.0e-6, 2e-3)
    rt = NITROGEN.specific_constant * T
    rate = math.pi * gap.diameter * gap.height**3 / (24.0 * NITROGEN.viscosity * gap.length * volume)
    without_slip = laminar_decay(rate, 6.9e5, time)

    def flow(p):
        full = gap_flow(gap, p, AMBIENT, T, NITROGEN)
        return full.flow / (1.0 + 6.0 * full.knudsen)

    assert pressure_after(volume, 6.9e5, time, flow, AMBIENT, T, NITROGEN) == pytest.approx(without_slip, rel=1e-8)
    assert rt > 0.0


def test_a_reading_gives_back_what_made_it():
    area, volume = 2.3e-12, 20e-6
    end = pressure_after(volume, 6.9e5, 300.0, lambda p: orifice_flow(area, p, AMBIENT, T, NITROGEN), AMBIENT, T, NITROGEN)
    found = orifice_of_reading(Reading(6.9e5, end, 300.0, volume, T), AMBIENT, NITROGEN)
    assert found.low == found.value == found.high == pytest.approx(area, rel=1e-6)
    gap = Gap(0.0243, 0.2e-6, 1.8e-3)
    end = pressure_after(volume, 6.9e5, 300.0, lambda p: gap_flow(gap, p, AMBIENT, T, NITROGEN).flow, AMBIENT, T, NITROGEN)
    found = gap_of_reading(Reading(6.9e5, end, 300.0, volume, T), AMBIENT, NITROGEN, gap._replace(height=1.0))
    assert found.value == pytest.approx(gap.height, rel=1e-5)


def test_one_reading_as_hole_and_as_gap_differs_several_fold_in_liquid():
    """6.9 to 6.7 bar(a) in 300 s out of 20 cm3: which of the two it is decides how much fuel it lets through."""
    reading = Reading(6.9e5, 6.7e5, 300.0, 20e-6, T)
    hole = orifice_of_reading(reading, AMBIENT, NITROGEN).value
    gap = Gap(0.0243, 1.0, 1.8e-3)
    height = gap_of_reading(reading, AMBIENT, NITROGEN, gap).value
    as_gap = liquid_area_of_gap(gap._replace(height=height), 26e5, 789.0, 1.2e-3)
    assert max(hole / as_gap, as_gap / hole) > 2.0


def test_gauge_and_temperature_widen_the_interval():
    """1 K is 0.34 % of the pressure at 293 K: a fall of 0.3 % is then no leak at all, and the lower end is 0."""
    reading = Reading(6.9e5, 6.9e5 * 0.997, 300.0, 20e-6, T, gauge_error=0.0, temperature_error=1.0)
    assert fall_error(reading) / reading.start == pytest.approx(0.0034, abs=2e-5)
    found = orifice_of_reading(reading, AMBIENT, NITROGEN)
    assert found.low == 0.0 and found.value > 0.0 and found.high == pytest.approx(2.14 * found.value, rel=0.01)


def test_waiting_until_the_fall_is_three_times_its_error():
    area, volume, error = 1e-9, 20e-6, 1e3

    def flow(p):
        return orifice_flow(area, p, AMBIENT, T, NITROGEN)

    time = waiting_time(volume, 6.9e5, flow, AMBIENT, T, NITROGEN, error)
    assert choked_decay(area, volume, 6.9e5, time) == pytest.approx(6.9e5 - 3e3, rel=1e-9)
    assert waiting_time(volume, 1.02e5, flow, AMBIENT, T, NITROGEN, error) == math.inf
    assert decay_time(volume, 6.9e5, 6.9e5 - 3e3, flow, T, NITROGEN) == time


def test_bubbles_of_the_leak_class():
    """ANSI/FCI 70-2 class VI, 25 mm port: 0.15 ml/min is 1 bubble a minute, 0.60 ml/min 4 (memory)."""
    for millilitres, bubbles in ((0.15, 1.0), (0.60, 4.0)):
        flow = millilitres * 1e-6 / 60.0 * AMBIENT / (NITROGEN.specific_constant * T)
        assert bubbles_per_minute(flow, AMBIENT, T, NITROGEN) == pytest.approx(bubbles, rel=1e-9)
