"""Purge of the combustion chamber against closed forms: mixing, sweeping, what it adds to a lit chamber, going out."""

import re
from functools import lru_cache
from math import exp, sqrt

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from runs import CASES
from sleevelift import simulate
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text
from sleevelift.physics.combustion import gamma_squared, held_pressure, mixture, throat_flow
from sleevelift.plant.build import build
from sleevelift.plant.state import B_CHAMBER_PURGE, B_SWEPT_O, D_LIT, D_POOLING, S_CHAMBER_PURGE, S_FUEL, S_OXIDIZER
from stored_runs import every, plain_with, rates, run_of
from test_jacobian import compare

HOT = (CASES / "hot_start.toml").read_text(encoding="utf-8")
NITROGEN = 'gas = "nitrogen"\npressure = "40 bara"\neffective_area = "8 mm2"\n'
R_T = 8.314462618 / 28.0134e-3 * 293.15
"""J/kg, nitrogen at the case's ambient temperature."""


@lru_cache
def purged(times, share=0.0, unlit=False, keys=NITROGEN, run=""):
    """The hot case with a purge of its chamber."""
    text = HOT.replace("[chamber]\n", f"[chamber]\nswept_share = {share}\n", 1)
    if unlit:
        text = re.sub(r"\n\[igniter\]\n(?:[^\[\n][^\n]*\n|\n)*", "\n", text)
    return case_from_text(f"{text}\n[run]\n{run}\n[chamber.purge]\n{keys}{times}\n", "purged")


@lru_cache
def run_purged(times, share=0.0, unlit=False, run=""):
    return run_of(build(purged(times, share, unlit, run=run)))


def index_of(run, name):
    return int(run.plant.record[0]["index"][name])


BOTH = 'on = ["0.02 s", "0.7 s"]\noff = ["0.12 s"]'
FROM_START = 'on = ["0 s"]'
POOL = "count_pool_before_command = true"


def test_the_throat_lets_out_what_is_held():
    """`held_pressure` is the inverse of the throat's flow, subsonic and choked; nothing flows in: ambient."""
    for w in (1e-3, 0.05, 0.4, 3.0):
        p = held_pressure(w, 80e3, 1e-3, 1.3, 1e5)
        assert throat_flow(p, p / 80e3, 1e-3, 1.3, 1e5, 1.0 - 1e-12) == pytest.approx(w, rel=1e-9)
    assert held_pressure(0.0, 80e3, 1e-3, 1.3, 1e5) == 1e5


def test_purge_mixes_into_the_unlit_chamber():
    """m_g(t) = p V/(R T) + (m_0 - p V/(R T)) exp(-Q t/V): perfect mixing at constant pressure; choked flow by CoolProp's state."""
    run = run_purged(FROM_START, unlit=True)
    rho, sound = (PropsSI(what, "P", 40e5, "T", 293.15, "Nitrogen") for what in ("D", "A"))
    n = rho * sound**2 / 40e5
    w = 8e-6 * sqrt(n) * (2.0 / (n + 1.0)) ** ((n + 1.0) / (2.0 * (n - 1.0))) * sqrt(40e5 * rho)
    chamber = run.plant.record[0]["chamber"]
    p, volume, first = (float(chamber[name]) for name in ("back", "volume", "ambient_mass"))
    rate = w * R_T / p / volume
    last = p * volume / R_T
    for k in every(run, 50):
        t = run.raw.t[k]
        assert run.raw.y[k, index_of(run, "gas_mass")] == pytest.approx(last + (first - last) * exp(-rate * t), rel=2e-5)
        assert run.raw.y[k, index_of(run, "inflow") + B_CHAMBER_PURGE] == pytest.approx(w * t, rel=2e-5)
        assert run.raw.outputs[k, S_CHAMBER_PURGE] == pytest.approx(w, rel=2e-5)


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_what_is_swept_of_a_pool_that_nothing_adds_to(share):
    """A pool that stands in the chamber from the start until the command falls as exp(-share Q t/V)."""
    run = run_purged(FROM_START, share, True, POOL)
    volume, back = (float(run.plant.record[0]["chamber"][name]) for name in ("volume", "back"))
    for place in ("unburned_oxidizer", "unburned_fuel"):
        i = index_of(run, place)
        for k in every(run, 300):
            if run.raw.t[k] < 0.1:
                rate = run.raw.outputs[k, S_CHAMBER_PURGE] * R_T / back / volume
                expected = run.raw.y[0, i] * exp(-share * rate * run.raw.t[k])
                assert run.raw.discrete_state[k, D_POOLING] == 0
                assert run.raw.y[k, i] == pytest.approx(expected, rel=2e-4)


def left_of_propellants(run, k, rhs=None):
    """Of each propellant what enters the unlit chamber less what pools and what is swept out, kg/s, over what enters and sweeps."""
    got = rates(run, k, rhs)
    ledger = index_of(run, "inflow")
    worst = 0.0
    for side, (place, signal) in enumerate((("unburned_oxidizer", S_OXIDIZER), ("unburned_fuel", S_FUEL))):
        enters = max(got.outputs[signal], 0.0) if run.raw.discrete_state[k, D_POOLING] else 0.0
        swept = got.dy[ledger + B_SWEPT_O + side]
        worst = max(worst, abs(enters - got.dy[index_of(run, place)] - swept) / (enters + abs(swept) + 1e-9))
    return worst


def test_propellants_are_conserved():
    """What is swept out has its ledger, at every instant and over the run; with a wrong sign it does not close."""
    run = run_purged(FROM_START, 0.6, True)
    points = [k for k in every(run, 200) if run.raw.t[k] > 0.2]
    assert max(left_of_propellants(run, k) for k in points) < 1e-12
    wrong = plain_with("sleevelift.plant.inflow", "dy[i] -= swept", "dy[i] += swept")
    assert max(left_of_propellants(run, k, wrong) for k in points[::20]) > 1e-2
    measures = simulate(purged(FROM_START, 0.6, True)).measures
    none = simulate(purged(FROM_START, 0.0, True)).measures
    kept = sum(measures[name] for name in ("pooled_oxidizer", "pooled_fuel", "pool_swept"))
    assert kept == pytest.approx(none["pooled_oxidizer"] + none["pooled_fuel"], rel=1e-3)
    assert measures["pool_swept"] > 0.1 * kept and none["pool_swept"] == 0.0


def test_what_a_purge_adds_to_a_lit_chamber():
    """dm_g/dt by w, dp/dt by (g - 1)/V w c_p T: the first law of the open chamber with U = p V/(g - 1); T after the orifice by its
    enthalpy."""
    run = run_purged('on = ["0.02 s"]')
    lit = [k for k in every(run, 300) if run.raw.discrete_state[k, D_LIT] and run.raw.t[k] > 0.4 and run.raw.t[k] < 0.8]
    record = run.plant.record[0]
    c_p = PropsSI("CP0MASS", "T", 293.15, "P", 40e5, "Nitrogen")
    throttled = PropsSI("H", "P", 40e5, "T", 293.15, "Nitrogen") - PropsSI("H", "P", 1.0, "T", 293.15, "Nitrogen")
    curve, o, f = record["chamber"]["curve"], index_of(run, "unburned_oxidizer"), index_of(run, "unburned_fuel")
    without = build(purged('on = ["0.9 s"]')).record[0]
    for k in lit[::10]:
        got = rates(run, k)
        w = got.outputs[S_CHAMBER_PURGE]
        record["purge"]["area"], area = 0.0, float(record["purge"]["area"])
        bare = rates(run, k)
        record["purge"]["area"] = area
        y = run.raw.y[k]
        g = mixture(y[o] / (y[o] + y[f]), run.plant.tables, int(curve["start"]), int(curve["count"]))[1]
        expected = (g - 1.0) / float(record["chamber"]["volume"]) * w * (c_p * 293.15 + throttled)
        place = index_of(run, "chamber")
        assert w > 0.0 and bare.outputs[S_CHAMBER_PURGE] == 0.0
        assert got.dy[index_of(run, "gas_mass")] - bare.dy[index_of(run, "gas_mass")] == pytest.approx(w, rel=1e-9)
        assert got.dy[place] - bare.dy[place] == pytest.approx(expected, rel=1e-4)
    assert float(without["purge"]["area"]) == area


def test_steady_pressure_of_a_lit_chamber_with_its_purge():
    """p = c/A sqrt((w + w_p)(w + (g - 1) h_p/(g Gamma^2 c^2))): mass and energy of the choked chamber, in closed form."""
    run = run_purged('on = ["0.3 s"]')
    record = run.plant.record[0]
    k = int(np.searchsorted(run.raw.t, 0.8)) - 1
    y, out = run.raw.y[k], run.raw.outputs[k]
    o, f = y[index_of(run, "unburned_oxidizer")], y[index_of(run, "unburned_fuel")]
    curve = record["chamber"]["curve"]
    c2, g = mixture(o / (o + f), run.plant.tables, int(curve["start"]), int(curve["count"]))
    w, w_p = out[S_OXIDIZER] + out[S_FUEL], out[S_CHAMBER_PURGE]
    h_p = w_p * float(record["purge"]["enthalpy"])
    throat = float(record["chamber"]["throat"])
    expected = sqrt(c2) / throat * sqrt((w + w_p) * (w + (g - 1.0) * h_p / (g * gamma_squared(g) * c2)))
    assert w_p > 0.01 * w
    assert y[index_of(run, "chamber")] == pytest.approx(expected, rel=2e-4)
    assert expected > 1.004 * w * sqrt(c2) / throat


def test_its_check_valve_holds_against_a_higher_chamber():
    """A purge of 15 bar into a chamber of 18: nothing flows while that burns, and nothing back."""
    run = run_of(build(purged(FROM_START, keys=NITROGEN.replace("40 bara", "15 bara"))))
    high = run.raw.y[:, index_of(run, "chamber")] > 15e5
    assert high.any() and run.raw.outputs[high, S_CHAMBER_PURGE].max() == 0.0
    assert run.raw.outputs[~high, S_CHAMBER_PURGE].min() >= 0.0 and run.raw.outputs[0, S_CHAMBER_PURGE] > 0.0


def test_slopes_with_a_purge():
    compare(run_purged(BOTH, 0.4))
    compare(run_purged(FROM_START, 0.4, True))


def test_a_purge_that_is_never_on_changes_nothing():
    bare, off = simulate(case_from_text(HOT, "bare")), simulate(purged(""))
    for name, value in bare.measures.items():
        assert off.measures[name] == value or name in ("chamber_purge_used", "pool_swept")
    assert off.measures["chamber_purge_used"] == off.measures["pool_swept"] == 0.0
    assert bare.measures["chamber_purge_used"] is None and "no purge" in bare.reasons["chamber_purge_used"]


def test_a_chamber_goes_out_with_its_purge_on():
    """The purge alone holds more than the 2 % above ambient that count as out: what it holds is no flame."""
    case = purged('on = ["0.75 s"]', keys=NITROGEN.replace("8 mm2", "48 mm2"))
    plant = build(case)
    purge, chamber = plant.record[0]["purge"], plant.record[0]["chamber"]
    w = float(purge["area"]) * float(purge["flux"])
    assert held_pressure(w, R_T, float(chamber["throat"]), 1.4, 101325.0) > 1.03 * 101325.0
    result = simulate(case)
    assert result.outcome == "opened-and-closed"
    assert "chamber goes out" in [event.what for event in result.timeline]
    assert any("alone would hold the chamber" in line for line in result.warnings)


def test_a_sequence_commands_it():
    text = f"{HOT}\n[chamber.purge]\n{NITROGEN}"
    steps = '\n[sequence]\n[[sequence.step]]\npart = "chamber.purge"\ndo = "on"\nat = "0.85 s"\n'
    steps += '[[sequence.step]]\npart = "chamber.purge"\ndo = "off"\ndelay = "0.1 s"\nafter = "chamber.purge on"\n'
    result = simulate(case_from_text(text + steps, "sequence"))
    on = [event.instant for event in result.timeline if event.what.startswith("chamber purge")]
    assert on == pytest.approx([0.85, 0.95])


@pytest.mark.parametrize(
    "keys, words",
    [
        (NITROGEN.replace("nitrogen", "air"), "inert gas"),
        (NITROGEN.replace('effective_area = "8 mm2"', ""), "one of the two"),
        (NITROGEN + 'orifice = "2 mm"\n', "one of the two"),
        (NITROGEN + "discharge_coefficient = 0.8\n", "belongs to orifice"),
        (NITROGEN.replace("40 bara", "0.9 bara"), "above ambient"),
        (NITROGEN + 'temperature = "100 K"\n', "critical temperature"),
        (NITROGEN + 'on = ["0.2 s"]\noff = ["0.1 s"]\n', "by turns"),
        (NITROGEN + 'on = ["0.2 s", "0.1 s"]\n', "increase"),
    ],
)  # fmt: skip
def test_refusals(keys, words):
    with pytest.raises(CaseError, match=words) as error:
        case_from_text(f"{HOT}\n[chamber.purge]\n{keys}", "refused")
    assert len(error.value.faults) == 1 and re.search(r"\[chamber(\.purge)?\] ", str(error.value))
