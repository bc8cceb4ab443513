"""The Jacobian by parts against differences of the whole right-hand side, on states along real runs."""

import numpy as np
import pytest
import runs
from runs import changed, shipped_case, shipped_with_supply, tabled
from sleevelift.case.read import case_from_text
from sleevelift.plant.build import build
from sleevelift.plant.jacobian import jacobian
from sleevelift.plant.params import REGULATED_SUPPLY
from sleevelift.plant.state import B_GAS_MASS, S_PLENUM_P
from stored_runs import every, rates, run_of, scratch, stored

STEP = 1e-6
"""-. Share of a state's size by which it is moved for the differences here."""
ALLOWED, SMALL = 5e-3, 2e-2
"""-. What an entry may be off by, of itself or of `SMALL` times the largest of its row where it is smaller (columns scaled by the
states' sizes): on the runs here differences are good to 8e-5 of a row's
largest entry."""


def by_parts(run, k):
    """(J, df/dt) of the program at stored point k."""
    plant, raw = run.plant, run.raw
    n, core = len(raw.y[k]), int(plant.record[0]["index"]["core"])
    J, dfdt = np.zeros((n, core)), np.zeros(n)
    par = (plant.record[0], plant.tables, plant.gas, scratch(n))
    assert jacobian(float(raw.t[k]), raw.y[k].copy(), raw.discrete_state[k], raw.event_memory, par, J, dfdt) == 0
    return J, dfdt


SIDES = ((-11, -10), (-1, 0), (-1, 1), (0, 0.1), (0, 1), (10, 11))
"""Pairs of multiples of the step that differences are taken between: around the point, clear of it on both sides, and as near
as the Jacobian itself looks (a regulator a few pascal from shut has its kink within a step)."""


def by_differences(run, k, sizes):
    """Differences of the right-hand side between the pairs of `SIDES`, (6, n, core), by multiples of the states'
    sizes."""
    y = run.raw.y[k]
    out = np.zeros((len(SIDES), len(y), len(sizes)))
    for j, size in enumerate(sizes):
        step = STEP * size
        rate = {}
        for multiple in {m for pair in SIDES for m in pair}:
            moved = y.copy()
            moved[j] += multiple * step
            got = rates(run, k, y=moved)
            rate[multiple] = got.dy if got.status == 0 else np.full(len(y), np.nan)
        for i, (low, high) in enumerate(SIDES):
            out[i, :, j] = (rate[high] - rate[low]) / ((high - low) * STEP)
    return out


CASES = [
    "dry_bench",
    "cold_flow",
    "hot_start",
    "priming_surge",
    "bottle_blowdown",
    "helium_lift",
    "nose_trap",
    "hammer",
]


@pytest.mark.parametrize("name", CASES)
def test_jacobian_against_differences(name):
    """At a kink (seals, valves and a shut regulator have some) J may lie anywhere between the differences of both
    sides.

    A state at rest for the moment (rate and row of J zero, such as chamber pressure before light-off) takes no part
    in a step, so its column does not count; that its true row is zero is part of what is compared."""
    compare(stored(name))


def test_jacobian_with_passages_and_a_pocket():
    """Parts that no shipped hot case has: passage volumes behind both injectors, gas trapped in the oxidizer
    manifold."""
    case = changed(
        shipped_case("hot_start"),
        oxidizer__dribble_volume=8e-6, oxidizer__dribble_time=2e-3, fuel__dribble_volume=6e-6, fuel__dribble_time=2e-3,
        oxidizer__trapped_gas_volume=2e-6, solenoid__off=(0.3,),
    )  # fmt: skip
    compare(run_of(build(case)))


ROD = {"seals__rod_leak_discharge_coefficient": 1.0, "seals__outside_leak_area": 2e-8}
QUICK = '[quick_exhaust]\ncracking_pressure = "0.3 bar"\nvent_orifice = "1 mm"\nvent_discharge_coefficient = 1.0\n'


@pytest.mark.parametrize(
    "leak",
    [
        {"seals__rod_leak_area": 1e-7},
        {"seals__rod_leak_area": 5e-7, "lift_chamber__port": "low", "run__pressurised_before_command": 60.0},
        {"seals__rod_leak_area": 5e-7, "run__pressurised_before_command": 60.0, "oxidizer__trapped_gas_volume": 2e-6},
        {"seals__rod_leak_area": 3e-7, "lift_chamber__port": "low", "fuel__inlet_pressure": 12e5, "spring__preload": 500.0},
    ],
    ids=["high port", "low port, flooded", "high port, flooded", "back into the fuel line"],
)
def test_jacobian_with_fuel_past_the_rod_seal(leak):
    compare(run_of(build(changed(shipped_case("hot_start"), **ROD, **leak))))


@pytest.mark.parametrize("port", ["high", "low"])
def test_jacobian_with_fuel_past_the_rod_seal_and_a_quick_exhaust(port):
    text = (runs.CASES / "hot_start.toml").read_text(encoding="utf-8") + QUICK
    case = changed(
        case_from_text(text, "quick"),
        **ROD,
        seals__rod_leak_area=4e-7,
        lift_chamber__port=port,
        run__pressurised_before_command=60.0,
    )
    compare(run_of(build(case)))


@pytest.mark.parametrize("kind", ["constant", "table", "bottle"])
@pytest.mark.parametrize("name", ["dry_bench", "hot_start"])
def test_jacobian_with_every_kind_of_supply(name, kind):
    """The regulated one is that of the shipped cases."""
    run = run_of(build(shipped_with_supply(name, kind)))
    assert run.plant.record[0]["supply"]["kind"] == {"constant": 0, "table": 1, "bottle": 2}[kind]
    compare(run)


def test_jacobian_with_tables_of_slots_and_seat():
    run = run_of(build(tabled("hot_start")))
    assert run.raw.y[:, 0].max() > 0.0
    compare(run)


KINK = 10.0
"""Pa. The Jacobian moves a plenum at 31 bar by 0.3 Pa: so near to shut its differences mix both sides of the regulator's kink."""


def regulator_on_its_kink(run, k):
    """Whether the plenum is so near to the set pressure that no derivative exists on the scale of the steps."""
    supply = run.plant.record[0]["supply"]
    return supply["kind"] == REGULATED_SUPPLY and abs(run.raw.outputs[k, S_PLENUM_P] - supply["set_pressure"]) < KINK


OF_THE_ROW = 3e-4
"""-. Of the largest entry of its row: what an entry may come to that the Jacobian leaves out (2.02e-4 was seen, `helium_lift` as
the post seal is uncovered)."""


def left_out(run):
    """Entries the Jacobian leaves out: how the exponent of the gas that leaks past the post seal changes with the mixture."""
    index = run.plant.record[0]["index"]
    if not run.plant.record[0]["chamber"]["hot"]:
        return []
    outside, spring = int(index["core"]) + B_GAS_MASS, int(index["spring"])
    columns = int(index["unburned_oxidizer"]), int(index["unburned_fuel"])
    return [(i, j) for i in (spring, spring + 1, outside, outside + 1) for j in columns]


def compare(run):
    """Every entry of J and df/dt at points along the run."""
    for k in every(run, 40):
        if regulator_on_its_kink(run, k):
            continue
        y = run.raw.y[k]
        J, dfdt = by_parts(run, k)
        sizes = np.maximum(np.abs(y[: J.shape[1]]), run.plant.floors)
        differences = by_differences(run, k, sizes)
        scaled = J * sizes
        row = np.maximum(np.abs(scaled).max(axis=1, keepdims=True), 1e-9)
        outside = np.maximum(np.nanmin(differences, axis=0) - scaled, scaled - np.nanmax(differences, axis=0))
        off = np.maximum(outside, 0.0) / np.maximum(np.abs(scaled), SMALL * row)
        core = J.shape[1]
        for i, j in left_out(run):
            off[i, j] = outside[i, j] / row[i, 0] / OF_THE_ROW * ALLOWED
        resting = ~J[:core].any(axis=1) & (rates(run, k).dy[:core] == 0.0)
        off[:, resting] = 0.0
        worst = np.unravel_index(np.argmax(off), off.shape)
        assert off[worst] < ALLOWED, f"t = {run.raw.t[k]:.6f} s, row {worst[0]}, column {worst[1]}: {off[worst]:.3g}"
        after = rates(run, k, t=float(run.raw.t[k]) + 1e-6).dy
        slope = (after - rates(run, k).dy) / 1e-6
        assert dfdt == pytest.approx(slope, rel=1e-3, abs=1e-6 * np.abs(slope).max() + 1e-9)


def test_nothing_depends_on_the_balances():
    """Moving a balance moves no rate: their columns are rightly absent."""
    run = stored("hot_start")
    core = int(run.plant.record[0]["index"]["core"])
    for k in every(run, 10):
        y = run.raw.y[k].copy()
        y[core:] += 1.0
        assert np.array_equal(rates(run, k, y=y).dy, rates(run, k).dy)
