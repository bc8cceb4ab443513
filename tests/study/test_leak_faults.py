"""Leaks as faults: what each changes, what is not in the model, and pairs of one cause."""

import pytest
from runs import shipped_case
from sleevelift.case.walk import info_at, split
from sleevelift.study import leak_faults
from sleevelift.study.fault_list import FAULTS
from sleevelift.study.faults import CANNOT_HOLD, changed_case
from sleevelift.study.run_store import kept_runs
from sleevelift.study.store import ALONE


@pytest.fixture(scope="module")
def hot():
    return shipped_case("hot_start")


@pytest.fixture(scope="module")
def nominal():
    return kept_runs([shipped_case("dry_bench")], ALONE)[0]


def fault(name):
    return next(one for one in FAULTS if one.name == name)


def test_a_torn_seal_is_ten_times_the_own_leak_or_a_square_millimetre(hot):
    assert leak_faults.torn(hot, "piston") == {"seals.piston_leak_area": 1e-6}
    wide = hot.model_copy(update={"seals": hot.seals.model_copy(update={"piston_leak_area": 0.5e-6})})
    assert leak_faults.torn(wide, "piston") == {"seals.piston_leak_area": pytest.approx(5e-6)}


def test_a_pair_of_one_cause_changes_both(hot, nominal):
    made = changed_case(fault("piston and post seal leak (the same cold)"), hot, nominal)
    assert made.seals.piston_leak_area == made.seals.post_leak_area == 1e-6
    made = changed_case(fault("fill and exhaust half blocked (the same debris)"), hot, nominal)
    for name in ("fill_orifice", "exhaust_orifice"):  # half the area
        assert (getattr(made.solenoid, name) / getattr(hot.solenoid, name)) ** 2 == pytest.approx(0.5, rel=0.03)


def test_a_leak_without_a_key_is_not_in_the_model_and_never_safe(hot, nominal, monkeypatch):
    """Said in place of a verdict, also of a pair that has one such leak."""
    monkeypatch.setitem(leak_faults.AREAS, "rod", "seals.no_such_leak_area")
    for name in ("rod seal leaks", "rod, piston and post seal leak (the same cold)", "rod seal leaks, gas chamber flooded"):
        said = changed_case(fault(name), hot, nominal)
        assert isinstance(said, str) and "not in this model" in said and "rod seal" in said
    assert "say so" in CANNOT_HOLD


@pytest.mark.parametrize("name", leak_faults.AREAS)
def test_every_leak_of_the_schema_is_torn(hot, name):
    """A key that the case file has is changed; none is left at its value by a slip of its path."""
    path = leak_faults.AREAS[name]
    made = leak_faults.torn(hot, name)
    assert isinstance(made, str) is (info_at(split(path)) is None)
    if not isinstance(made, str):
        assert set(made) == {path} and made[path] >= 1e-6


def test_propellant_seals_do_not_leak_in_a_dry_case(nominal):
    dry = shipped_case("dry_bench")
    for name in ("rod seal leaks", "fuel seat leaks", "piston and post seal leak (the same cold)"):
        assert "dry case" in changed_case(fault(name), dry, nominal)
    assert not isinstance(changed_case(fault("piston seal leaks"), dry, nominal), str)
