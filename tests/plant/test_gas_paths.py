"""Parts of the bound plant one at a time, each against its closed form: regulator, quick exhaust, wave, passages,
post leak."""

import math

import numpy as np
import pytest
from runs import AMBIENT, BARE, GAMMA, NITROGEN_R, bare_machine, changed, instants, shipped_case
from sleevelift import simulate
from sleevelift.case.read import case_from_text
from sleevelift.plant.gas_side import HOT_GAS_LIMIT

PSI = math.sqrt(GAMMA) * (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))
SOUND = math.sqrt(GAMMA * NITROGEN_R * 300.0)


def choked(area, p, T=300.0):
    """Choked flow of the perfect gas, kg/s."""
    return area * PSI * p / math.sqrt(NITROGEN_R * T)


def test_regulator_droops_in_proportion_to_its_flow():
    """Steady flow bottle -> regulator -> fill port -> piston leak -> vent: the plenum stands below p_set by
    droop_band times the share of the regulator's choked flow that passes."""
    regulated = BARE.replace(
        'kind = "constant"',
        'kind = "regulator"\nbottle_volume = "10 m3"\nbottle_pressure = "200 bara"\ndroop_band = "4 bar"\n'
        'regulator_orifice = "2 mm"\nregulator_discharge_coefficient = 1.0\nplenum_volume = "100 cm3"',
    )
    leak = 2e-7
    case = changed(
        case_from_text(regulated, "regulated"), supply__pressure=40e5, spring__preload=5000.0, run__end=3.0,
        seals__piston_leak_area=leak, seals__piston_leak_discharge_coefficient=1.0, spring_side__vent_orifice=0.01,
        lift_chamber__dead_volume=1e-6, spring_side__volume=1e-5, run__tolerance=1e-6,
    )  # fmt: skip
    traces = simulate(case).traces
    plenum, T = traces["plenum_pressure"][-1], traces["lift_chamber_temperature"][-1]
    flow = choked(leak, traces["lift_chamber_pressure"][-1], T)
    bottle = traces["bottle_pressure"][-1]
    opening = flow / choked(math.pi / 4.0 * 4e-6, bottle, traces["bottle_temperature"][-1])
    assert traces["fill_flow"][-1] == pytest.approx(flow, rel=1e-4)
    assert 40e5 - plenum == pytest.approx(4e5 * opening, rel=1e-3)
    assert T == pytest.approx(300.0, abs=0.5)  # throttling leaves a perfect gas its temperature


def test_finite_bottle_gives_what_the_cylinder_gets():
    """No regulator: bottle and everything it fills end at one pressure, energy p V/(g - 1) conserved (adiabatic,
    perfect gas)."""
    bottled = BARE.replace(
        'kind = "constant"\npressure = "70 bara"',
        'kind = "bottle"\nbottle_volume = "2 litre"\nbottle_pressure = "70 bara"',
    )
    case = changed(
        case_from_text(bottled, "bottled"),
        spring__preload=5000.0,
        solenoid__fill_orifice=5e-3,
        tube__conductance=1e-7,
        tube__critical_ratio=0.5,
        run__end=4.0,
        run__tolerance=1e-6,
    )
    traces = simulate(case).traces
    tube = math.pi / 4.0 * 4e-6 * 1e-2
    expected = (70e5 * 2e-3 + AMBIENT * (1e-3 + tube)) / (3e-3 + tube)
    assert traces["bottle_pressure"][-1] == pytest.approx(expected, rel=1e-5)
    assert traces["lift_chamber_pressure"][-1] == pytest.approx(expected, rel=1e-5)


def test_quick_exhaust_empties_the_chamber_past_the_tube():
    """Tube at ambient, chamber at 20 bar: the shuttle vents it through its own hole, the adiabatic choked blow-down."""
    quick = BARE + '[quick_exhaust]\ncracking_pressure = "0.01 bar"\nvent_orifice = "2 mm"\nvent_discharge_coefficient = 1.0\n'
    area, volume = math.pi / 4.0 * 4e-6, 1e-4
    case = changed(
        case_from_text(quick, "quick"), lift_chamber__pressure=20e5, lift_chamber__dead_volume=volume, spring__preload=5000.0,
        solenoid__fill_orifice=1e-9, run__end=0.3, run__tolerance=1e-7,
    )  # fmt: skip
    traces = simulate(case).traces
    tau = volume / (area * PSI * math.sqrt(NITROGEN_R * 300.0))
    expected = tau * 2.0 / (GAMMA - 1.0) * ((20.0 / 4.0) ** ((GAMMA - 1.0) / (2.0 * GAMMA)) - 1.0)
    got = np.interp(-math.log(4e5), -np.log(traces["lift_chamber_pressure"]), traces["time"])
    assert got == pytest.approx(expected, rel=1e-3)
    assert traces["tube_pressure"].max() == pytest.approx(AMBIENT, rel=1e-6)


def test_outside_leak_empties_the_lift_chamber():
    """Valve and tube shut, chamber at 20 bar: the adiabatic choked blow-down through the leak to ambient alone."""
    area, volume = 2e-6, 1e-4
    case = changed(
        bare_machine(), lift_chamber__pressure=20e5, lift_chamber__dead_volume=volume, spring__preload=5000.0,
        solenoid__fill_orifice=1e-9, solenoid__exhaust_orifice=1e-9, tube__conductance=1e-15, tube__critical_ratio=0.5,
        seals__outside_leak_area=area, seals__outside_leak_discharge_coefficient=0.8, run__end=0.6, run__tolerance=1e-7,
    )  # fmt: skip
    result = simulate(case)
    tau = volume / (0.8 * area * PSI * math.sqrt(NITROGEN_R * 300.0))
    expected = tau * 2.0 / (GAMMA - 1.0) * ((20.0 / 4.0) ** ((GAMMA - 1.0) / (2.0 * GAMMA)) - 1.0)
    got = np.interp(-math.log(4e5), -np.log(result.traces["lift_chamber_pressure"]), result.traces["time"])
    assert got == pytest.approx(expected, rel=1e-3)
    start = choked(0.8 * area, 20e5)
    assert result.traces["outside_leak_flow"][0] == pytest.approx(start, rel=1e-9)
    assert result.measures["gas_mass_error"] < 1e-10


@pytest.mark.parametrize("length", [0.01, 2.0])
def test_pressure_wave_delays_both_edges(length):
    """Dead time plus L/a at ambient state, both ways."""
    case = changed(bare_machine(), tube__length=length, solenoid__open_dead_time=8e-3, solenoid__close_dead_time=10e-3,
                   solenoid__on=(0.1,), solenoid__off=(0.2,), spring__preload=5000.0, run__end=0.4)  # fmt: skip
    result = simulate(case)
    assert instants(result, "fill port starts to open")[0] == pytest.approx(0.108 + length / SOUND, abs=1e-9)
    assert instants(result, "exhaust port starts to open")[0] == pytest.approx(0.21 + length / SOUND, abs=1e-9)


def test_passage_holds_the_flow_back_until_it_is_full_and_drains_after():
    """Lifted: nothing arrives before the injector has passed rho V less what was there; seated for good:
    exp(-t/tau)."""
    case = changed(shipped_case("cold_flow"), fuel__dribble_volume=6e-6, fuel__dribble_time=3e-3, run__end=0.6, run__tolerance=1e-6)
    result = simulate(case)
    t, into, injector = (result.traces[name] for name in ("time", "fuel_flow", "fuel_injector_flow"))
    arrives = result.measures["first_fuel"]
    early = (t > case.solenoid.on[0]) & (t < arrives - 1e-6)
    assert np.all(into[early] == 0.0)
    passed = np.trapezoid(injector[t <= arrives], t[t <= arrives])
    assert passed == pytest.approx(case.fuel.density * 6e-6, rel=2e-3)
    shut = instants(result, "hits its seat and stays there")[-1]
    late = (t > shut + 1e-3) & (t < shut + 8e-3)
    slope = np.polyfit(t[late], np.log(into[late]), 1)[0]
    assert slope == pytest.approx(-1.0 / 3e-3, rel=1e-3)


def test_hot_leak_enters_the_spring_side_as_warm_gas():
    """Past the post seal comes p_c A Psi/sqrt(R T) of combustion gas, R T = p V/m_g, with at most 695 K of enthalpy."""
    from sleevelift.physics.combustion import gamma_squared, mixture
    from sleevelift.plant.build import build
    from sleevelift.plant.state import S_CHAMBER_P, S_POST_LEAK, S_SPRING_T
    from stored_runs import rates, run_of

    case = shipped_case("hot_start")
    run = run_of(build(case))
    k = int(np.searchsorted(run.raw.t, 0.5 * (case.solenoid.on[0] + case.solenoid.off[0])))
    got = rates(run, k)
    record, y = run.plant.record[0], run.raw.y[k]
    index, chamber = record["index"], record["chamber"]
    rt = got.outputs[S_CHAMBER_P] * float(chamber["volume"]) / y[int(index["gas_mass"])]
    o, f = y[int(index["unburned_oxidizer"])], y[int(index["unburned_fuel"])]
    curve = chamber["curve"]
    g = mixture(o / (o + f), run.plant.tables, int(curve["start"]), int(curve["count"]))[1]
    area = case.seals.post_leak_area * case.seals.post_leak_discharge_coefficient
    expected = area * got.outputs[S_CHAMBER_P] * math.sqrt(gamma_squared(g)) / math.sqrt(rt)
    assert got.outputs[S_POST_LEAK] == pytest.approx(expected, rel=1e-9)
    assert rt / case.chamber.gas_constant > HOT_GAS_LIMIT
    assert case.ambient.temperature < got.outputs[S_SPRING_T] < HOT_GAS_LIMIT


def test_seat_reaction_and_sealing_load():
    """`sealing_load` is the net closing force per length without friction; the trace's reaction leaves out what
    friction may carry."""
    result = simulate(shipped_case("hot_start"))
    traces, diameter = result.traces, shipped_case("hot_start").sleeve.seat_diameter
    net = traces["closing_force"][0] - traces["opening_force"][0]
    assert net / (math.pi * diameter) == pytest.approx(result.measures["sealing_load"], rel=1e-9)
    assert traces["seat_reaction"][0] == pytest.approx(net - traces["breakaway_force"][0], rel=1e-9)
    sliding = (traces["mode"] == 2) | (traces["mode"] == 3)
    assert np.all(traces["seat_reaction"][sliding] == 0.0)
