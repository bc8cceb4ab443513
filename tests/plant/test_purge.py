"""Gas in the manifolds: limits, conservation, what a purge displaces, how gas and liquid share an injector, Jacobian, refusals."""

import re
from functools import lru_cache
from math import pi, sqrt

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from runs import CASES, changed
from scipy.optimize import brentq
from sleevelift import simulate
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text
from sleevelift.physics.combustion import mixture
from sleevelift.physics.restriction import orifice_flow
from sleevelift.plant.build import build
from sleevelift.plant.params import INTO_CHAMBER
from sleevelift.plant.state import (
    B_GAS_BACK_O,
    B_GAS_PASSED_O,
    B_PURGED_O,
    D_GAS_AHEAD_O,
    D_LIT,
    D_MODE,
    S_CHAMBER_P,
    S_FUEL_GAS,
    S_FUEL_GAS_VOLUME,
    S_OXIDIZER,
    S_OXIDIZER_GAS,
    S_OXIDIZER_GAS_VOLUME,
    S_OXIDIZER_INJECTOR,
    S_OXIDIZER_LINE,
    S_OXIDIZER_P,
    S_OXIDIZER_PURGE,
    S_OXIDIZER_VALVE,
    S_SLOT,
    SEATED,
)
from sleevelift.study.sequence_faults import sequence_faults
from stored_runs import every, rates, run_of
from test_jacobian import compare

HOT = (CASES / "fuel_rich_stop.toml").read_text(encoding="utf-8")
START = (CASES / "hot_start.toml").read_text(encoding="utf-8")
COLD = (CASES / "cold_flow.toml").read_text(encoding="utf-8")
WIDTH = 0.05
"""-. Of the manifold's volume, MODEL.md section 6."""
SIDES = ("oxidizer", "fuel")
MOUTH = 0.7 * pi * 16e-3 * 5e-6
"""m2. Of the clearance beside the slots: Cd pi d c, which no gap passes more than."""


def purge(side, gas, pressure, rest, orifice=1.5):
    return f'\n[{side}.purge]\ngas = "{gas}"\npressure = "{pressure} bara"\norifice = "{orifice} mm"\n{rest}\n'


def valve(side, rest):
    return f'\n[{side}.valve]\nkv = 2.4\nopening_time = "15 ms"\nclosing_time = "20 ms"\n{rest}\n'


HELIUM = purge("oxidizer", "helium", 15, 'on = ["0.70 s"]\noff = ["0.93 s"]')
NITROGEN = purge("fuel", "nitrogen", 25, 'on = ["0.72 s"]\noff = ["1.0 s"]', 2.5)
SHUT = {"oxidizer__valve__off": (0.70,), "fuel__valve__off": (0.72,)}
"""Both manifolds are purged before the off command, the sleeve held open by the fuel's purge."""
EMPTY = valve("oxidizer", 'on = ["0.02 s"]\nstart_gas = "helium"')
EMPTY += valve("fuel", 'on = ["0.025 s"]\nstart_gas = "nitrogen"\ncheck_valve = true')


@lru_cache
def stop_run(extra=HELIUM + NITROGEN, **values):
    """A hot run whose valves shut before the off command, with purges behind them."""
    return run_of(build(changed(case_from_text(HOT + extra, "purged"), **SHUT, **values)))


@lru_cache
def primed(**values):
    """A hot run whose manifolds are full of gas at the start and prime through their valves."""
    return run_of(build(changed(case_from_text(START + EMPTY, "empty"), **values)))


def gas_of(run, side):
    """(gas mass along the run, its record, index of its balances)."""
    gas = run.plant.record[0]["gases"][side]
    return run.raw.y[:, int(gas["place"])], gas, int(run.plant.record[0]["index"]["ledger"])


# ------------------------------------------------------------------------------------------------------------ limits
def test_a_purge_that_is_off_changes_no_rate():
    """Without gas the machine with a purge has the rates of the one without, to the digit, at every state of its run."""
    bare = run_of(build(case_from_text(HOT, "bare")))
    off = build(case_from_text(HOT + purge("oxidizer", "helium", 15, "") + purge("fuel", "nitrogen", 12, ""), "off"))
    names = [name for name in bare.plant.record[0]["index"].dtype.names if name not in ("inflow", "ledger", "total")]
    places = [[int(plant.record[0]["index"][name]) for name in names] for plant in (bare.plant, off)]
    assert places[0] != places[1]
    core, behind = (int(plant.record[0]["index"]["core"]) for plant in (bare.plant, off))
    moved = {}
    for mine, theirs, name in zip(*places, names):
        if name == "core":
            moved |= {core + i: behind + i for i in range(len(bare.raw.y[0]) - core)}
        elif name not in ("oxidizer_gas", "fuel_gas"):
            wide = 2 if name in ("bottle", "plenum", "tube", "lift", "spring") else 1
            moved |= {mine + i: theirs + i for i in range(wide)}
    total = int(off.record[0]["index"]["total"])
    for k in every(bare, 40):
        y = np.zeros(total)
        for mine, theirs in moved.items():
            y[theirs] = bare.raw.y[k][mine]
        got = rates(bare, k).dy
        other = rates(bare._replace(plant=off), k, y=y).dy
        assert [other[theirs] for theirs in moved.values()] == [got[mine] for mine in moved]
        assert not other[[i for i in range(total) if i not in moved.values()]].any()


def test_a_purge_that_is_off_changes_no_measure():
    """Only the steps may differ, since more states count in the mean of their error."""
    bare = simulate(case_from_text(HOT, "bare")).measures
    off = simulate(case_from_text(HOT + purge("oxidizer", "helium", 15, ""), "off")).measures
    for name in ("opening_time", "closing_time", "last_oxidizer", "last_fuel", "light_off"):
        assert off[name] == pytest.approx(bare[name], abs=10e-6), name
    assert off["oxidizer_purge_gas"] == 0.0 and bare["oxidizer_purge_gas"] is None


def test_one_pressure_and_the_gas_law():
    """p V_g = m R T, and V_g is what the squeezed liquid leaves of the manifold."""
    for run in (stop_run(), primed()):
        record = run.plant.record[0]
        for side in range(2):
            mass, gas, _ = gas_of(run, side)
            p, volume = run.raw.outputs[:, S_OXIDIZER_P + side], run.raw.outputs[:, S_OXIDIZER_GAS_VOLUME + side]
            assert p * volume == pytest.approx(np.maximum(mass, 0.0) * float(gas["rt"]), rel=1e-12)
            line, z = record["lines"][side], run.raw.y[:, int(record["liquids"]["place"][side])]
            left = (p - float(line["vapour"])) / float(line["stiffness"]) - z
            assert left == pytest.approx(volume, rel=1e-9, abs=1e-9 * float(line["volume"]))
            there = volume > 0.2 * float(line["volume"])
            assert there.any()


def test_a_manifold_full_of_gas_at_the_start():
    """m(0) = p_0 V/(R T), R = R_u/M (CoolProp's constants), and next to no liquid."""
    run = primed()
    for side, name in enumerate(("Helium", "Nitrogen")):
        mass, _, _ = gas_of(run, side)
        rt = PropsSI("gas_constant", name) / PropsSI("molar_mass", name) * 293.15
        volume = (40e-6, 50e-6)[side]
        assert mass[0] == pytest.approx(1.01325e5 * volume / rt, rel=1e-9)
        assert run.raw.outputs[0, S_OXIDIZER_GAS_VOLUME + side] == pytest.approx(volume, rel=1e-9)
    assert run.raw.outputs[-1, S_FUEL_GAS_VOLUME] < 1e-6


# ------------------------------------------------------------------------------------------------ shares and displacing
def test_gas_ahead_leaves_first_and_gas_behind_last():
    """Shares of gas and liquid at every stored point, in both orders and on both sides, of the formulas by hand."""
    seen = set()
    for run in (stop_run(), primed()):
        record = run.plant.record[0]
        x = run.raw.y[:, int(record["index"]["lift_height"])]
        for side in range(2):
            line, volume = record["lines"][side], float(record["lines"][side]["volume"])
            for k in range(len(run.raw.t)):
                out, disc = run.raw.outputs[k], run.raw.discrete_state[k]
                gone = min(max(out[S_OXIDIZER_GAS_VOLUME + side] / (WIDTH * volume), 0.0), 1.0)
                z = run.raw.y[k, int(record["liquids"]["place"][side])]
                left = min(max((volume + float(line["swept"]) * x[k] + z) / (WIDTH * volume), 0.0), 1.0)
                ahead = bool(disc[D_GAS_AHEAD_O + side])
                share = 1.0 - gone if ahead else left
                full = rates(run, k).outputs
                if side == 0 and 0.02 < share < 0.98 and out[S_SLOT] > 0.0:
                    # liquid by the orifice law through the slots, the clearance beside it being small
                    dp = out[S_OXIDIZER_P] - out[S_CHAMBER_P]
                    if dp > 1e5:
                        flux = share * sqrt(2.0 * float(line["rho"]) * dp)
                        assert 0.999 * out[S_SLOT] * flux <= out[S_OXIDIZER_INJECTOR] <= 1.001 * (out[S_SLOT] + MOUTH) * flux
                        gas = gas_of(run, 0)[1]
                        alone = [
                            orifice_flow(
                                out[S_SLOT] + more, out[S_OXIDIZER_P], out[S_OXIDIZER_P] / float(gas["rt"]), float(gas["exponent"]),
                                out[S_CHAMBER_P], 0.995,
                            ) for more in (0.0, MOUTH)
                        ]  # fmt: skip
                        free = gone if ahead else (1.0 - share) * gone
                        assert 0.9999 * free * alone[0] <= out[S_OXIDIZER_GAS] <= 1.0001 * free * alone[1]
                if 0.02 < share < 0.98:
                    seen.add((side, ahead))
                assert full[S_OXIDIZER_INJECTOR + side] == out[S_OXIDIZER_INJECTOR + side]
    assert seen == {(0, True), (1, True), (0, False), (1, False)}


def test_a_purge_displaces_the_manifold_in_volume_over_flow():
    """Behind the shut valve the gas comes in at the volume that the liquid leaves at: w_purge R T/p = Cd A sqrt(2 dp/rho).

    The purge and the slots at full lift give the pressure; the manifold's liquid from 70 to 15 % takes that share of its volume
    over that flow.
    """
    text = COLD.replace('off = ["0.4 s"]', 'off = ["2.0 s"]')
    text += valve("oxidizer", 'open_at_start = true\noff = ["0.3 s"]') + valve("fuel", "open_at_start = true")
    text += purge("oxidizer", "helium", 15, 'on = ["0.32 s"]')
    case = changed(case_from_text(text, "displaced"), run__end=1.5)
    run = run_of(build(case))
    mass, gas, _ = gas_of(run, 0)
    rho, amb, rt = case.oxidizer.density, case.ambient.pressure, float(gas["rt"])
    area = 0.7 * pi / 4.0 * 1.5e-3**2
    dense = PropsSI("D", "P", 15e5, "T", 293.15, "Helium")
    n = PropsSI("A", "P", 15e5, "T", 293.15, "Helium") ** 2 * dense / 15e5
    slots = run.raw.outputs[:, S_SLOT].max()

    def purged(p):  # Saint-Venant and Wantzel, below the critical ratio
        r = p / 15e5
        return area * sqrt(2.0 * n / (n - 1.0) * 15e5 * dense * (r ** (2.0 / n) - r ** ((n + 1.0) / n)))

    p = brentq(lambda p: purged(p) * rt / p - slots * sqrt(2.0 * (p - amb) / rho), 8e5, 14.9e5)
    flow = slots * sqrt(2.0 * (p - amb) / rho)
    z = run.raw.y[:, int(run.plant.record[0]["liquids"]["place"][0])]
    left = 1.0 + z / 40e-6
    after = run.raw.t > 0.32
    times = [float(np.interp(-level, -left[after], run.raw.t[after])) for level in (0.7, 0.15)]
    middle = (run.raw.t > times[0]) & (run.raw.t < times[1])
    assert run.raw.outputs[middle, S_OXIDIZER_P] == pytest.approx(p, rel=0.03)
    assert times[1] - times[0] == pytest.approx(0.55 * 40e-6 / flow, rel=0.03)
    assert left[-1] < 0.01 and run.raw.outputs[-1, S_OXIDIZER] < 1e-3


def test_a_shut_sleeve_lets_a_purge_only_press():
    """With the sleeve seated and no leak to speak of, the manifold comes to the purge's set pressure, its liquid stays."""
    text = COLD + valve("oxidizer", 'on = ["0.25 s"]\nmanifold_pressure = "2 bara"') + valve("fuel", "open_at_start = true")
    text += purge("oxidizer", "helium", 6, 'on = ["0.01 s"]\noff = ["0.2 s"]')
    run = run_of(build(changed(case_from_text(text, "pressed"), solenoid__on=(0.3,), slots__clearance=1e-7)))
    k = int(np.searchsorted(run.raw.t, 0.19))
    assert run.raw.discrete_state[k][D_MODE] == SEATED
    assert run.raw.outputs[k, S_OXIDIZER_P] == pytest.approx(6e5, rel=1e-3)
    z = run.raw.y[k, int(run.plant.record[0]["liquids"]["place"][0])]
    assert 40e-6 + z == pytest.approx(40e-6, rel=1e-3)


# ---------------------------------------------------------------------------------------------------------- conservation
def test_gas_is_conserved():
    """Mass of gas is what the purge brought less what passed the injector and what came back, to rounding, all along."""
    for run in (stop_run(), primed()):
        for side in range(2):
            mass, _, ledger = gas_of(run, side)
            y = run.raw.y
            came = y[:, ledger + B_PURGED_O + side] + y[:, ledger + B_GAS_BACK_O + side] - y[:, ledger + B_GAS_PASSED_O + side]
            moved = max(y[-1, ledger + B_PURGED_O + side], y[-1, ledger + B_GAS_PASSED_O + side])
            assert np.abs(mass - mass[0] - came).max() <= 1e-12 * moved


def test_liquid_is_conserved():
    """What the line brings is what line and manifold gain and the injector takes, at every instant, to rounding."""
    for run in (stop_run(), primed()):
        record = run.plant.record[0]
        index = record["index"]
        for side, name in enumerate(SIDES):
            rho, swept = float(record["lines"][side]["rho"]), float(record["lines"][side]["swept"])
            for k in every(run, 60):
                got = rates(run, k)
                grown = got.dy[int(index[f"{name}_volume"])] + got.dy[int(index[f"{name}_ahead"])]
                gained = rho * (grown + swept * got.dy[int(index["lift_height"])])
                w, out = got.outputs[S_OXIDIZER_LINE + side], got.outputs[S_OXIDIZER_INJECTOR + side]
                assert gained == pytest.approx(w - out, abs=1e-12 * max(abs(w), abs(out), 1e-3))


@pytest.mark.parametrize("text", [HOT + HELIUM + NITROGEN, START + EMPTY], ids=["stop", "start"])
def test_energy_is_conserved(text):
    assert simulate(case_from_text(text, "energy")).measures["energy_error"] < 1e-4


def test_the_purge_keeps_the_chamber_lit():
    """Between its valve's shutting and the sleeve's closing the purge drives oxidizer at the volume it comes in at; it burns."""
    case = changed(case_from_text(HOT + HELIUM, "lit"), oxidizer__valve__off=(0.70,))
    run = run_of(build(case))
    rt = float(gas_of(run, 0)[1]["rt"])
    plateau = [k for k in range(len(run.raw.t)) if 0.75 < run.raw.t[k] < 0.79]
    out = run.raw.outputs[plateau]
    assert len(plateau) > 3 and (run.raw.discrete_state[plateau, D_LIT] == 1).all()
    came = out[:, S_OXIDIZER_PURGE] * rt / out[:, S_OXIDIZER_P]
    assert out[:, S_OXIDIZER] / case.oxidizer.density == pytest.approx(came, rel=1e-3)
    assert np.ptp(out[:, S_CHAMBER_P]) < 1e3 and out[:, S_CHAMBER_P].min() > 10e5


def test_what_leaves_the_injector_flows_into_the_chamber():
    """Lit: the chamber's gas and pressure rise by it: w, and (g - 1)/V of its enthalpy c_p T (perfect gas from 0 K)."""
    run = stop_run()
    record = run.plant.record[0]
    points = [k for k in range(len(run.raw.t)) if run.raw.discrete_state[k][D_LIT] and run.raw.outputs[k, S_OXIDIZER_GAS] > 1e-4]
    assert points
    index, closed = record["index"], run.plant.record.copy()
    closed[0]["inflow"]["present"] = 0
    k = points[len(points) // 2]
    flows = np.maximum(run.raw.outputs[k, [S_OXIDIZER_GAS, S_FUEL_GAS]], 0.0)
    more = rates(run, k).dy - rates(run._replace(plant=run.plant._replace(record=closed)), k).dy
    assert more[int(index["gas_mass"])] == pytest.approx(flows.sum(), rel=1e-6)
    brought = 0.0  # c_p T of each, CoolProp's c_p at low pressure
    for w, name in zip(flows, ("Helium", "Nitrogen")):
        brought += w * PropsSI("CP0MASS", "P", 1e5, "T", 293.15, name) * 293.15
    rise = more[int(index["chamber"])] * float(record["chamber"]["volume"]) / brought
    o, fuel = (float(run.raw.y[k, int(index[f"unburned_{side}"])]) for side in SIDES)
    curve = record["chamber"]["curve"]
    g = mixture(o / (o + fuel), run.plant.tables, int(curve["start"]), int(curve["count"]))[1]
    assert rise == pytest.approx(g - 1.0, rel=5e-3)


def test_backward_what_the_chamber_holds_flows_in():
    """A lit chamber above a manifold of gas: an orifice flow of its density, which has a balance of its own."""
    run = stop_run()
    record = run.plant.record[0]
    mass, gas, ledger = gas_of(run, 0)
    out = run.raw.outputs
    there = (run.raw.discrete_state[:, D_LIT] != 0) & (out[:, S_SLOT] > 0.0) & (out[:, S_OXIDIZER_GAS_VOLUME] > 2e-6)
    assert there.any()
    k = int(np.argmax(there))
    y = run.raw.y[k].copy()
    y[int(record["liquids"]["place"][0])] = -39.8e-6
    y[int(gas["place"])] = 3e5 * 39.8e-6 / float(gas["rt"])
    y[int(record["index"]["chamber"])] = 12e5
    got = rates(run, k, y=y)
    assert got.outputs[S_OXIDIZER_P] == pytest.approx(3e5, rel=1e-3)
    density = y[int(record["index"]["gas_mass"])] / float(record["chamber"]["volume"])
    back = [orifice_flow(got.outputs[S_SLOT] + a, 12e5, density, 1.2, got.outputs[S_OXIDIZER_P], 0.995) for a in (0.0, MOUTH)]
    share = 1.0 - 0.2e-6 / (WIDTH * 40e-6)
    assert share * back[0] < -got.outputs[S_OXIDIZER_GAS] <= 1.001 * share * back[1]
    assert got.dy[ledger + B_GAS_BACK_O] == -got.outputs[S_OXIDIZER_GAS] and got.dy[ledger + B_GAS_PASSED_O] == 0.0
    assert int(record["liquid_flows"][0]["sink"]) == INTO_CHAMBER


def test_a_check_valve_keeps_the_purge_shut_above_its_pressure():
    run = stop_run(HELIUM.replace("0.70", "0.2") + NITROGEN)  # long before its valve shuts, the manifold at line pressure
    before = run.raw.t < 0.7
    assert (run.raw.outputs[before & (run.raw.outputs[:, S_OXIDIZER_P] > 15e5), S_OXIDIZER_PURGE] == 0.0).all()
    assert run.raw.outputs[:, S_OXIDIZER_PURGE].max() > 0.0


# -------------------------------------------------------------------------------------------------------------- Jacobian
def test_jacobian_of_a_purged_stop():
    """Gas behind the liquid, on both sides; gas into a chamber lit and unlit."""
    run = stop_run()
    assert run.raw.outputs[:, S_OXIDIZER_GAS].max() > 0.0 and run.raw.outputs[:, S_OXIDIZER_PURGE].max() > 0.0
    compare(run)


def test_jacobian_of_empty_manifolds_that_prime():
    """Gas ahead of the liquid, on both sides; liquid that gas pushes back through the oxidizer's valve."""
    run = primed()
    assert run.raw.outputs[:, S_OXIDIZER_GAS].max() > 0.0 and run.raw.outputs[0, S_FUEL_GAS_VOLUME] > 0.0
    assert run.raw.outputs[:, S_OXIDIZER_VALVE].min() < 0.0
    compare(run)


def test_jacobian_with_gas_and_fuel_past_the_rod_seal():
    compare(stop_run(seals__rod_leak_area=2e-7, seals__rod_leak_discharge_coefficient=1.0))


# ------------------------------------------------------------------------------------------------------ measures, refusals
def test_measures_and_traces():
    result = simulate(changed(case_from_text(HOT + HELIUM + NITROGEN, "measured"), **SHUT))
    m, traces = result.measures, result.traces
    for name, volume, rho in (("oxidizer", 40e-6, 1141.0), ("fuel", 50e-6, 789.0)):
        flow = np.trapezoid(traces[f"{name}_purge_flow"], traces["time"])
        assert m[f"{name}_purge_gas"] == pytest.approx(flow, rel=1e-3)
        full = rho * volume
        assert 0.0 <= m[f"residual_{name}_at_end"] <= 1.000001 * m[f"residual_{name}_at_seating"] <= 1.01 * full
        at_end = rho * (volume - traces[f"{name}_manifold_gas_volume"][-1])
        assert m[f"residual_{name}_at_end"] == pytest.approx(at_end, abs=4e-3 * full)
    assert m["residual_fuel_at_seating"] < 0.01 * 50e-6 * 789.0 and m["residual_oxidizer_at_seating"] < 0.05 * 40e-6 * 1141.0
    said = " ".join(result.warnings)
    assert "kept at one temperature" in said and "shortest purge" in said and "only presses" in said
    assert "burns: it may keep the chamber lit" in said
    bare = simulate(case_from_text(HOT, "bare"))
    assert "oxidizer_manifold_gas" not in bare.traces and "kept at one temperature" not in " ".join(bare.warnings)
    assert "full of liquid" in bare.reasons["residual_fuel_at_end"] and "no purge" in bare.reasons["fuel_purge_gas"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (COLD + purge("oxidizer", "helium", 15, ""), r"\[oxidizer\] purge: needs \[oxidizer.valve\]"),
        (HOT + purge("oxidizer", "nitrogen", 15, ""), r"condenses in a liquid of 90 K.*3.6.*15"),
        (HOT + purge("oxidizer", "oxygen", 15, ""), "an inert gas, one of nitrogen, helium"),
        (HOT + purge("oxidizer", "helium", 15, "").replace("orifice", "#"), "needs orifice or effective_area"),
        (HOT + purge("oxidizer", "helium", 15, 'effective_area = "1 mm2"'), "needs orifice or effective_area"),
        (HOT + purge("oxidizer", "helium", 15, 'off = ["0.1 s"]'), "on and off by turns"),
        (HOT + purge("oxidizer", "helium", 15, 'on = ["0.3 s", "0.2 s"]'), "must increase"),
        (COLD + valve("fuel", 'open_at_start = true\nstart_gas = "air"'), "needs the valve shut at the start"),
        (COLD + valve("fuel", 'start_gas = "air"') + purge("fuel", "helium", 5, ""), "must be the purge's gas, helium"),
        (COLD + valve("fuel", 'start_gas_temperature = "300 K"'), "belongs to start_gas"),
        (START + valve("oxidizer", 'start_gas = "nitrogen"'), r"condenses in a liquid of 90 K.*27"),
    ],
)
def test_refusals(text, words):
    with pytest.raises(CaseError) as error:
        case_from_text(text, "refused")
    lines = str(error.value).splitlines()
    assert len([line for line in lines if "purge" in line or "valve" in line]) >= 1
    assert re.search(words, str(error.value)), str(error.value)


def test_an_empty_manifold_may_unseat_the_sleeve():
    """A long line without loss rushes through a wide, fast valve onto the gas; primed slowly, through a small one, it does not."""
    fast = valve("fuel", 'on = ["0.02 s"]\nstart_gas = "nitrogen"').replace("2.4", "60").replace("15 ms", "2 ms")
    slow = fast.replace("kv = 60", "kv = 1")
    machine = {"fuel__line_length": 3.0, "fuel__rated_loss": 0.0, "solenoid__on": (0.3,)}
    found = [simulate(changed(case_from_text(START + text, "primes"), **machine)) for text in (fast, slow)]
    peaks = [result.measures["peak_fuel_manifold"] for result in found]
    assert found[0].outcome == "lifted-without-command" and peaks[0] > 40e5
    assert found[1].outcome == "opened-and-closed" and found[1].measures["surge_margin"] > 0.0


def test_a_pocket_beside_gas_is_refused():
    with pytest.raises(CaseError, match="has no place where gas in the manifold is followed"):
        case_from_text(HOT.replace("[oxidizer.valve]", 'trapped_gas_volume = "1 cm3"\n[oxidizer.valve]') + HELIUM, "pocket")


def test_a_purge_is_commanded_by_a_sequence():
    """Steps that switch it are as good as its own instants; faults know a purge that does not come."""
    steps = '[[sequence.step]]\nname = "purge"\npart = "oxidizer.purge"\ndo = "on"\nat = "0.70 s"\n'
    steps += '[[sequence.step]]\nname = "purged"\npart = "oxidizer.purge"\ndo = "off"\nafter = "purge"\ndelay = "230 ms"\n'
    shut = {"oxidizer__valve__off": (0.70,)}
    told = changed(case_from_text(HOT + purge("oxidizer", "helium", 15, "") + steps, "told"), **shut)
    result, own = simulate(told), simulate(changed(case_from_text(HOT + HELIUM, "own"), **shut))
    assert result.case.oxidizer.purge.on == (0.70,) and result.case.oxidizer.purge.off == (pytest.approx(0.93),)
    for name in ("last_oxidizer", "oxidizer_purge_gas", "closing_time"):
        assert result.measures[name] == pytest.approx(own.measures[name], rel=1e-9), name
    assert any("purge on" in event.what for event in result.timeline)
    assert "oxidizer purge does not come" in [row[0] for row in sequence_faults(told)]


def test_margins_count_a_fuel_purge_above_the_inlet():
    """Behind the shut valve it presses on the fuel opening area: the margins are those of an inlet at that pressure."""
    high = simulate(case_from_text(HOT + purge("fuel", "nitrogen", 35, ""), "high")).measures
    inlet = HOT.replace('high = "28.0 bara"', 'high = "35.0 bara"')
    expected = simulate(case_from_text(inlet, "inlet")).measures
    assert 'high = "35.0 bara"' in inlet
    for name in ("fuel_alone_margin", "closing_margin_unlit", "opening_margin"):
        assert high[name] == pytest.approx(expected[name], rel=1e-12), name


def test_less_gas_than_none_is_none():
    """What the steps' errors leave below nothing presses on nothing and opens no cavity (a cone once chattered on it)."""
    text = (CASES / "bare_cone.toml").read_text(encoding="utf-8")
    text += '\n[fuel.valve]\nkv = 0.67\nopening_time = "2.9 ms"\nclosing_time = "51 ms"\nopen_at_start = true\noff = ["0.575 s"]\n'
    text += "check_valve = true\n"
    text += purge("fuel", "helium", 20.52, 'gas_temperature = "199 K"\non = ["0.077 s"]\noff = ["0.497 s"]', 3.68)
    case = case_from_text(text, "none")
    assert simulate(case).failure is None
    run = run_of(build(case))
    mass, gas, _ = gas_of(run, 1)
    k = len(run.raw.t) // 2
    less, none = run.raw.y[k].copy(), run.raw.y[k].copy()
    less[int(gas["place"])], none[int(gas["place"])] = -1e-9, 0.0
    assert rates(run, k, y=less).outputs[S_OXIDIZER_P + 1] == rates(run, k, y=none).outputs[S_OXIDIZER_P + 1]
