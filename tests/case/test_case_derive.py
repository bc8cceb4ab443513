"""Derived values: spring and tube by their closed forms, liquids and gases against CoolProp, computed live."""

import json
import math
import threading
from pathlib import Path

import CoolProp.CoolProp as coolprop
import numpy as np
import pytest
from case_texts import COLD, DRY, HOT, with_key
from sleevelift.cache_folder import keep, kept
from sleevelift.case import liquids
from sleevelift.case.derive import RULES
from sleevelift.case.gases import ADMITTED, HIGHEST_CRITICAL_TEMPERATURE, REFUSED
from sleevelift.case.liquids import LiquidError, liquid_state
from sleevelift.case.read import CaseError, case_from_text
from sleevelift.sizing.materials import contraction_between
from sleevelift.sizing.orifice_sizes import kv_of_cv, kv_to_component
from sleevelift.sizing.seal_gland import seal_friction_coefficients


def test_spring_of_the_demo() -> None:
    """G d^4/(8 D^3 n) = 75e9 x 0.0048^4/(8 x 0.0224^3 x 10), EN 13906-1; mass by section x length x density."""
    case = case_from_text(with_key(DRY, "spring", "mass", None))
    assert case.spring.rate == pytest.approx(75e9 * 0.0048**4 / (8 * 0.0224**3 * 10), rel=1e-12)
    wire = math.pi * 0.0224 * 12
    assert case.spring.mass == pytest.approx(7850 * math.pi / 4 * 0.0048**2 * wire, rel=1e-12)
    assert case.origin["spring.rate"] == "derived"


def test_tube() -> None:
    """C = 0.029 d^2/sqrt(L/d^1.25 + 510) = 1.284e-8 m3/(s Pa), b = 0.38 for 0.8 m of 4 mm (formula by hand)."""
    case = case_from_text(DRY)
    assert case.tube.conductance == pytest.approx(1.2843e-8, rel=1e-4)
    assert case.tube.critical_ratio == pytest.approx(0.3805, rel=1e-3)
    assert case_from_text(with_key(DRY, "tube", "conductance", '"2e-8 m3/(s Pa)"')).tube.conductance == 2e-8


def test_flow_coefficients() -> None:
    kv = case_from_text(with_key(DRY, "tube", "port_component", "{ kv = 0.3 }")).tube.port_component
    cv = case_from_text(with_key(DRY, "tube", "port_component", "{ cv = 0.3, terminal_pressure_ratio = 0.6 }")).tube.port_component
    assert kv is not None and cv is not None
    assert (kv.conductance, kv.critical_ratio) == pytest.approx(kv_to_component(0.3, 0.72)[:2])
    assert (cv.conductance, cv.critical_ratio) == pytest.approx(kv_to_component(kv_of_cv(0.3), 0.6)[:2])


def test_seal_from_its_gland() -> None:
    gland = '{ cord = "1.78 mm", groove_depth = "1.45 mm", hardness = 70 }'
    case = case_from_text(with_key(DRY, "seals", "rod", gland))
    expected = seal_friction_coefficients(1.78e-3, 1.45e-3, 70.0)
    assert (case.seals.rod.squeeze_friction, case.seals.rod.pressure_coefficient) == pytest.approx(expected)


def test_contraction_of_the_metals() -> None:
    text = HOT
    for key, value in [
        ("post_material", '"304"'),
        ("sleeve_material", '"6061"'),
        ("clearance_temperature", '"20 degC"'),
        ("running_temperature", '"90 K"'),
    ]:
        text = with_key(text, "slots", key, value)
    slots = case_from_text(text).slots
    assert slots is not None
    assert slots.post_contraction == contraction_between("304", 293.15, 90.0)
    assert slots.sleeve_contraction == contraction_between("6061", 293.15, 90.0)


LIQUID_STATES = [("Oxygen", 90.0, 27e5), ("Ethanol", 293.0, 27e5), ("Water", 293.15, 27e5), ("Methane", 110.0, 40e5)]


@pytest.mark.parametrize(("name", "temperature", "pressure"), LIQUID_STATES)
def test_liquids_are_coolprops(name: str, temperature: float, pressure: float) -> None:
    """Computed live: PropsSI of the installed CoolProp; B = rho a^2."""

    def value(output: str, *state: object) -> float:
        return float(coolprop.PropsSI(output, *(state or ("T", temperature, "P", pressure)), name))

    state = liquid_state(name, temperature, pressure)
    assert state.density == pytest.approx(value("D"), rel=1e-9)
    assert state.bulk_modulus == pytest.approx(value("D") * value("A") ** 2, rel=1e-9)
    assert state.vapour_pressure == pytest.approx(value("P", "T", temperature, "Q", 0), rel=1e-9)
    assert state.molar_mass == pytest.approx(value("M"), rel=1e-12)
    assert state.viscosity == pytest.approx(value("V"), rel=1e-9)


@pytest.mark.parametrize(
    ("name", "temperature", "error"),
    [
        ("Oxygen", 90.0, 1e-9), ("Oxygen", 145.0, 1e-7), ("Ethanol", 293.15, 1e-9), ("Water", 274.0, 1e-9),
        ("Methane", 112.0, 1e-9), ("NitrousOxide", 293.15, 1e-7), ("Hydrogen", 20.0, 1e-8), ("Hydrogen", 30.0, 1e-7),
        ("n-Dodecane", 300.0, 1e-9),
    ],
)  # fmt: skip
def test_states_along_an_isotherm_are_coolprops(name: str, temperature: float, error: float) -> None:
    """Computed live: CoolProp's own state at each pressure, from just above boiling to beyond the series, and near the critical
    point, where no series follows it."""
    boiling = coolprop.PropsSI("P", "T", temperature, "Q", 0, name)
    rng = np.random.default_rng(3)
    fluid = coolprop.AbstractState("HEOS", name)
    for pressure in np.exp(rng.uniform(np.log(1.001 * boiling), np.log(450e5), 60)):
        state = liquid_state(name, temperature, float(pressure))
        fluid.update(coolprop.PT_INPUTS, pressure, temperature)
        assert state.density == pytest.approx(fluid.rhomass(), rel=error)
        assert state.bulk_modulus == pytest.approx(fluid.rhomass() * fluid.speed_sound() ** 2, rel=error)
        if name != "NitrousOxide":
            assert state.viscosity == pytest.approx(fluid.viscosity(), rel=error)
        else:
            assert state.viscosity == pytest.approx(0.0697e-3, rel=1e-3), "CoolProp has no model: the table's entry at 293 K"
        assert state.vapour_pressure == pytest.approx(boiling, rel=1e-12)
    with pytest.raises(LiquidError, match="no liquid at the inlet pressure"):
        liquid_state(name, temperature, 0.999 * boiling)


def test_a_fluid_is_made_once_and_remembers_no_state(monkeypatch: pytest.MonkeyPatch) -> None:
    """One fluid serves state after state, refused ones among them; each has the digits of a fluid made for it alone."""
    made: list[str] = []
    honest = coolprop.AbstractState
    monkeypatch.setattr(coolprop, "AbstractState", lambda backend, name: made.append(name) or honest(backend, name))
    monkeypatch.setattr(liquids, "_fluids", threading.local())
    states = [(name, T + dT, p * share) for dT, share in ((0.0, 1.0), (1.5, 0.7), (-1.5, 1.6)) for name, T, p in LIQUID_STATES]
    found = []
    for state in states:
        found.append(liquids._from_coolprop(*state))
        with pytest.raises(LiquidError):
            liquids._from_coolprop(state[0], state[1], 1.0)
    assert sorted(made) == sorted(name for name, _, _ in LIQUID_STATES)
    for state, value in zip(states, found):
        monkeypatch.setattr(liquids, "_fluids", threading.local())
        assert liquids._from_coolprop(*state) == value, state


def test_liquid_of_a_case() -> None:
    """A feed that names its liquid and nothing else."""
    text = COLD
    for key in ("density", "viscosity", "vapour_pressure", "bulk_modulus", "rated_density"):
        text = with_key(text, "fuel", key, None)
    fuel = case_from_text(text).fuel
    assert fuel is not None
    state = liquid_state("Water", 293.15, 27e5)
    assert (fuel.density, fuel.viscosity, fuel.vapour_pressure, fuel.bulk_modulus) == state[:4]
    assert fuel.molar_mass == state.molar_mass
    assert fuel.rated_density == fuel.density


@pytest.mark.parametrize(
    ("name", "temperature", "key", "words"),
    [
        ("Ethanole", 293.0, "liquid", "nearest: Ethanol"),
        ("Ethanol&Water", 293.0, "liquid", "must be the name of a pure fluid"),
        ("HEOS::Water", 293.0, "liquid", "must be the name of a pure fluid"),
        ("", 293.0, "liquid", "must be the name of a pure fluid"),
        ("Ethanol", 600.0, "temperature", "critical temperature"),
        ("Ethanol", 500.0, "temperature", "no liquid at the inlet pressure"),
        ("Water", 200.0, "temperature", "outside the range"),
    ],
)
def test_liquids_that_are_none(name: str, temperature: float, key: str, words: str) -> None:
    with pytest.raises(LiquidError, match=words) as caught:
        liquid_state(name, temperature, 27e5)
    assert caught.value.key == key


def test_the_store_is_used_and_never_trusted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))

    def forget() -> None:
        for remembered in (liquids._state, liquids._isotherm, liquids._stored):
            remembered.cache_clear()

    try:
        forget()
        first, compressed = liquid_state("Water", 300.0, 10e5), liquid_state("Water", 300.0, 900e5)
        store = tmp_path / "sleevelift" / liquids.STORE
        content = json.loads(kept(store))
        assert len(content) == 2, "a stretch of pressures, and a state beyond them"
        series = next(value for value in content.values() if len(value) == 7)
        with monkeypatch.context() as without:
            without.setattr(liquids, "_fluid", None)
            forget()
            assert liquid_state("Water", 300.0, 10e5) == first, "from the store, without CoolProp"
            assert liquid_state("Water", 300.0, 900e5) == compressed
            assert liquid_state("Water", 300.0, 11e5).density > first.density, "another pressure needs no CoolProp either"
        for rubbish in (
            "",
            "[1, 2]",
            "{",
            '{"a": 3}',
            "[" * 100000,
            json.dumps({entry: [-1.0] * 5 for entry in content}),
            json.dumps({entry: ["1"] * 5 for entry in content}),
            json.dumps({entry: [1.0, 1.0, 1.0, 1.0] for entry in content}),
            json.dumps({entry: [*series[:4], [], series[5], series[6]] for entry in content}),
            json.dumps({entry: [*series[:4], series[4][:-1], series[5], series[6]] for entry in content}),
            json.dumps({entry: [*series[:2], series[3], series[2], *series[4:]] for entry in content}),
            json.dumps({entry: [*series[:4], [-number for number in series[4]], *series[5:]] for entry in content}),
            json.dumps({entry: [*series[:4], [float("nan")] * len(series[4]), *series[5:]] for entry in content}),
        ):
            assert keep(store, rubbish.encode())
            forget()
            assert liquid_state("Water", 300.0, 10e5) == first, rubbish[:30]
        store.unlink()
        store.mkdir()
        forget()
        assert liquid_state("Water", 300.0, 10e5) == first, "a folder that cannot be written is no reason to stop"
    finally:
        forget()


@pytest.mark.parametrize("name", sorted(ADMITTED))
def test_admitted_gases_are_coolprops(name: str) -> None:
    """Computed live: critical temperature, gas constant, cp/cv at 293.15 K and 1 kPa."""
    fluid = name.title().replace(" ", "")
    known = ADMITTED[name]
    assert known.critical_temperature == pytest.approx(coolprop.PropsSI("Tcrit", fluid), rel=1e-5)
    gas_constant = coolprop.PropsSI("gas_constant", fluid) / coolprop.PropsSI("molar_mass", fluid)
    assert known.gas_constant == pytest.approx(gas_constant, rel=1e-6)
    ratio = coolprop.PropsSI("C", "T", 293.15, "P", 1e3, fluid) / coolprop.PropsSI("O", "T", 293.15, "P", 1e3, fluid)
    assert known.gamma == pytest.approx(ratio, rel=1e-6)
    assert known.critical_temperature < HIGHEST_CRITICAL_TEMPERATURE


@pytest.mark.parametrize("name", sorted(set(REFUSED) - {"steam"}))
def test_refused_gases_would_condense(name: str) -> None:
    fluid = {"sulfur hexafluoride": "SulfurHexafluoride", "propane": "n-Propane"}.get(name, name.title().replace(" ", ""))
    assert REFUSED[name] == pytest.approx(coolprop.PropsSI("Tcrit", fluid), rel=2e-4)
    assert REFUSED[name] >= HIGHEST_CRITICAL_TEMPERATURE


def test_perfect_gas() -> None:
    text = with_key(DRY, "gas", "model", '"perfect"')
    assert case_from_text(text).gas.gamma == ADMITTED["nitrogen"].gamma
    own = with_key(with_key(text, "gas", "gamma", "1.3"), "gas", "gas_constant", '"189 J/(kg K)"')
    own = with_key(own, "gas", "name", '"carbon dioxide"')
    gas = case_from_text(own).gas
    assert (gas.gamma, gas.gas_constant) == (1.3, 189.0)
    with pytest.raises(CaseError, match="critical point"):
        case_from_text(with_key(text, "gas", "name", '"carbon dioxide"'))


def test_rules_stand_in_order() -> None:
    """Every rule comes after the rules that fill its sources."""
    position = {rule.target: number for number, rule in enumerate(RULES)}
    for number, rule in enumerate(RULES):
        for source in rule.sources:
            assert position.get(source, -1) < number
