"""The sentences and numbers that pictures and page show."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from runs import shipped
from sleevelift.plots.words import answer, number, plain_text, shown


def test_numbers_keep_four_digits():
    assert [number(v) for v in (62.98719, 0.1, 2034.4, 0.0, -0.033521)] == ["62.99", "0.1000", "2034", "0", "-0.03352"]


@given(st.text(max_size=600))
def test_plain_text_is_one_printable_line(text):
    line = plain_text(text, 100)
    assert len(line) <= 100
    assert all(c.isprintable() for c in line)


def test_plain_text_drops_what_turns_or_hides_text():
    assert plain_text("a\x1b[31mb\x00c\u202ed\u200be\nf") == "a[31mbcde f"


def test_units_on_the_page_are_customary_ones():
    assert shown("opening_time", 0.0629871, "s") == ("62.987", "ms")
    assert shown("breakaway_pressure", 1.7916e6, "Pa") == ("17.92", "bara")
    assert shown("fuel_pressure_to_open", 1.1769e6, "Pa") == ("11.77", "barg")
    assert shown("closed_leak_oxidizer", 0.012444, "kg/s") == ("12.44", "g/s")
    assert shown("stored_gas_energy", 53623.6, "J") == ("53.62", "kJ")
    assert shown("seat_bounces", 3, "") == ("3", "")
    assert shown("closing_margin", 0.0613, "") == ("+6.1", "%")
    assert shown("opening_time", None, "s") == ("-", "")


def test_the_answer_of_a_good_run_adds_up():
    result = shipped("hot_start")
    said = answer(result)
    assert said.tone == "good" and said.failed == ()
    total, *parts = [float(w.rstrip(".")) for w in said.opening.replace(":", "").split() if w[0].isdigit()]
    assert sum(parts) == pytest.approx(total, abs=0.01)
    assert "estimate, no bound" in said.ignition and "Oxidizer leads" in said.flows


@pytest.mark.parametrize(
    ("name", "tone", "word"),
    [
        ("weak_battery", "alarm", "never shifts"),
        ("dry_interlock", "alarm", "never breaks away"),
        ("bottle_blowdown", "alarm", "HANGS PART-WAY"),
        ("nose_trap", "alarm", "DOES NOT CLOSE"),
        ("late_igniter", "plain", "opens on command"),
    ],
)
def test_the_outcome_comes_first(name, tone, word):
    said = answer(shipped(name))
    assert said.tone == tone and word in said.outcome and said.failed
    assert "None" not in said.opening + said.closing + said.flows + said.ignition


def test_a_leading_fuel_is_said_loudly():
    assert answer(shipped("bare_cone")).flows.startswith("FUEL leads")
