"""Limits of the whole program that have closed forms: infinite orifice, massless sleeve, no friction, vanishing
volumes."""

import math

import numpy as np
import pytest
from runs import AMBIENT, GAMMA, LIFT_AREA, NITROGEN_R, bare_machine, changed, constant_forces, instants, shipped_case
from sleevelift import simulate
from sleevelift.case.read import with_values

PSI = math.sqrt(GAMMA) * (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))


def travel(result):
    """Time, s, from the first movement to the stop."""
    return instants(result, "hits its stop")[0] - instants(result, "leaves its seat")[0]


def filled(**more):
    """The bare machine filled from a constant supply through nothing but its valve; the spring side keeps its
    pressure."""
    values = {
        "tube__conductance": 1e-7,
        "tube__critical_ratio": 0.5,
        "tube__bore": 1e-3,
        "spring_side__volume": 1e4,
        "supply__pressure": 20e5,
        "run__end": 0.1,
        "run__tolerance": 1e-6,
    }
    return changed(bare_machine(), **{**values, **more})


def closed_form_travel(force, preload, rate, mass, stroke):
    """acos(1 - k s/(F - F0))/w: constant force against a spring from rest."""
    return math.acos(1.0 - rate * stroke / (force - preload)) / math.sqrt(rate / mass)


def test_infinite_orifice():
    """As valve and port widen the lift chamber keeps the supply's pressure, and travel tends to the constant-force
    closed form."""
    force = (20e5 - AMBIENT) * LIFT_AREA
    exact = closed_form_travel(force, 300.0, 2e4, 0.2, 5e-3)
    errors = []
    for bore in (4e-3, 8e-3, 30e-3):
        case = filled(
            solenoid__fill_orifice=bore, lift_chamber__dead_volume=2e-6, tube__bore=4e-3, tube__conductance=1e-4,
            run__end=0.02,
            spring__preload=300.0, spring__rate=2e4, sleeve__moving_mass=0.2,
        )  # fmt: skip
        errors.append(abs(travel(simulate(case)) / exact - 1.0))
    assert errors == sorted(errors, reverse=True)
    assert errors[-1] < 2e-3


def test_massless_sleeve():
    """A sleeve without mass follows p A = F0 + k x. Choked filling: w h_s t = (p1 V1 - p0 V0)/(g-1) + integral of p A
    dx."""
    preload, rate, stroke, volume, area = 300.0, 2e4, 5e-3, 2e-6, 5e-8
    supply = 200e5
    w = area * PSI * supply / math.sqrt(NITROGEN_R * 300.0)
    p0, p1 = AMBIENT + preload / LIFT_AREA, AMBIENT + (preload + rate * stroke) / LIFT_AREA
    tube = math.pi / 4.0 * 1e-6 * 1e-2
    stored = (p1 * (volume + LIFT_AREA * stroke + tube) - p0 * (volume + tube)) / (GAMMA - 1.0)
    work = 0.5 * (p0 + p1) * LIFT_AREA * stroke
    exact = (stored + work) / (w * GAMMA / (GAMMA - 1.0) * NITROGEN_R * 300.0)
    errors = []
    for mass in (1.0, 1e-2, 1e-4):
        case = filled(
            supply__pressure=supply, solenoid__fill_orifice=math.sqrt(4.0 / math.pi * area),
            lift_chamber__dead_volume=volume, spring__preload=preload, spring__rate=rate, sleeve__stroke=stroke,
            sleeve__moving_mass=mass, seals__viscous=0.02,
        )  # fmt: skip
        errors.append(abs(travel(simulate(case)) / exact - 1.0))
    assert errors[-1] < errors[0]
    assert errors[-1] < 2e-3


def test_vanishing_swept_volume():
    """Swept over dead volume -> 0: the gas force stays constant and travel tends to its closed form."""
    exact = closed_form_travel(400.0, 300.0, 1e4, 0.2, 5e-3)
    errors = []
    for dead in (1e-5, 1e-3, 1e-1):
        case = changed(
            constant_forces(400.0, mass=0.2, preload=300.0, rate=1e4, stroke=5e-3, run__end=0.1, run__tolerance=1e-7),
            lift_chamber__dead_volume=dead, supply__pressure=AMBIENT + 400.0 / LIFT_AREA,
        )  # fmt: skip
        result = simulate(case)
        arrived = instants(result, "hits its stop")
        errors.append(abs(travel(result) / exact - 1.0) if arrived else math.inf)
    assert errors == sorted(errors, reverse=True)
    assert errors[-1] < 1e-3


def test_no_friction_between_large_volumes_swings_for_ever():
    """Without friction or seals the sleeve on its spring keeps its amplitude and the period 2 pi sqrt(M/k)."""
    case = constant_forces(30.0, mass=0.2, preload=0.0, rate=1e4, stroke=0.02, run__end=0.3, run__tolerance=1e-8)
    result = simulate(case)
    t, x = result.traces["time"], result.traces["lift"]
    middle = 30.0 / 1e4
    assert x.max() == pytest.approx(2.0 * middle, rel=1e-4)
    late = t > 0.25
    assert x[late].max() == pytest.approx(2.0 * middle, rel=1e-3)
    crossings = t[1:][(x[:-1] < middle) & (x[1:] >= middle)]
    assert np.diff(crossings).mean() == pytest.approx(2.0 * math.pi * math.sqrt(0.2 / 1e4), rel=1e-3)


def test_friction_vanishes_smoothly():
    """Travel tends to the frictionless one as the seals' squeeze goes to nothing."""
    exact = closed_form_travel(400.0, 300.0, 1e4, 0.2, 5e-3)
    errors = []
    for friction in (30.0, 3.0, 0.3, 0.0):
        case = constant_forces(
            400.0, mass=0.2, preload=300.0, rate=1e4, stroke=5e-3, friction=friction, run__end=0.1, run__tolerance=1e-7
        )
        errors.append(travel(simulate(case)) / exact - 1.0)
    assert errors == sorted(errors, reverse=True)
    assert errors[-1] == pytest.approx(0.0, abs=1e-6)
    assert errors[0] > 0.1


@pytest.mark.parametrize("e", [0.3, 0.8, 0.95])
def test_bounce_cascade_ends_in_rest(e):
    """Total time sqrt(2 h/g) (1 + e)/(1 - e), cut short by the rest speed v_r by less than 2 v_r/(g (1 - e))."""
    from sleevelift.constants import STANDARD_GRAVITY as g

    case = constant_forces(
        0.0, mass=0.5, preload=0.0, rate=0.0, stroke=0.01, run__end=5.0, run__tolerance=1e-8,
        sleeve__axis_tilt=math.pi, sleeve__restitution_stop=e,
    )  # fmt: skip
    result = simulate(case)
    assert result.failure is None
    assert result.timeline[-1].mode_after == "at the stop"
    total = math.sqrt(2.0 * 0.01 / g) * (1.0 + e) / (1.0 - e)
    rest = instants(result, "stays there")[0]
    assert total - 2.0 * 1e-3 / (g * (1.0 - e)) * 1.01 < rest <= total * (1.0 + 1e-6)


def test_blocked_vent_is_a_gas_spring():
    """A closed spring side is compressed adiabatically by the rising sleeve: p V^g stays what it was (perfect gas)."""
    volume = 1.2e-5
    case = changed(
        constant_forces(900.0, mass=0.2, preload=100.0, rate=1e4, stroke=5e-3, run__end=0.05, run__tolerance=1e-8),
        spring_side__volume=volume,
    )  # fmt: skip
    result = simulate(case)
    area_top = math.pi / 4.0 * (0.030**2 - 0.010**2)
    p, x = result.traces["spring_side_pressure"], result.traces["lift"]
    assert x.max() > 4e-3
    assert p * (volume - area_top * x) ** GAMMA == pytest.approx(np.full(len(p), AMBIENT * volume**GAMMA), rel=1e-6)


def test_leaking_piston_seal_equalises():
    """A leak from lift chamber to a blocked spring side ends with the same pressure on both, mass conserved."""
    case = changed(
        bare_machine(),
        lift_chamber__dead_volume=1e-5, lift_chamber__pressure=3e5, spring_side__volume=3e-5, spring__preload=500.0,
        seals__piston_leak_area=1e-6, seals__piston_leak_discharge_coefficient=1.0, solenoid__fill_orifice=0.0,
        solenoid__exhaust_orifice=0.0, tube__length=1e-3, tube__bore=1e-3, run__end=1.0, run__tolerance=1e-7,
    )  # fmt: skip
    result = simulate(case)
    p_l, p_s = result.traces["lift_chamber_pressure"], result.traces["spring_side_pressure"]
    assert p_l[-1] == pytest.approx(p_s[-1], rel=1e-6)
    tube = math.pi / 4.0 * 1e-6 * 1e-3
    # adiabatic and no work: the energy p V/(g-1) of all volumes is conserved
    expected = (3e5 * 1e-5 + AMBIENT * (3e-5 + tube)) / (4e-5 + tube)
    assert p_s[-1] == pytest.approx(expected, rel=1e-6)


def test_the_node_that_left_the_gas_range_is_named():
    """Cold argon, throttled into the plenum, condenses there: at 28 bar below 137 K (CoolProp)."""
    case = changed(shipped_case("hot_start"), gas__name="argon", supply__temperature=170.0)
    result = simulate(case, with_traces=False)
    assert result.outcome == "left-gas-range"
    assert "Gas in the plenum left" in result.failure


def test_a_spring_side_that_only_combustion_gas_flows_into_stays_in_range():
    """It comes to that gas's enthalpy, counted to 695 K at p_c: 5 K below the table's end, 700 K."""
    result = simulate(with_values(shipped_case("nose_trap"), {"run.end": 12.0}))
    assert result.outcome != "left-gas-range"
    assert 690.0 < result.traces["spring_side_temperature"].max() < 699.0


def test_friction_that_falls_over_next_to_no_speed_falls_at_once():
    """As the falling speed vanishes times tend to those of friction that falls at once, and none so small misleads the steps."""
    case = shipped_case("dry_bench")

    def opening(speed):
        values = {"seals.breakaway_ratio": 3.0, "seals.stribeck_velocity": speed}
        return simulate(with_values(case, values), tolerance=1e-7).measures["opening_time"]

    at_once = opening(0.0)
    gaps = [abs(opening(speed) - at_once) for speed in (1e-2, 1e-3, 1e-4, 1e-5)]
    assert gaps == sorted(gaps, reverse=True)
    assert gaps[0] > 1e-4 and gaps[-1] < 5e-6
    assert {opening(speed) for speed in (9e-6, 1e-7, 1e-9, 2e-11, 1e-15)} == {at_once}


def test_a_starved_manifold_is_not_below_its_vapour_pressure():
    """A nearly empty inlet and a liquid of nearly no vapour pressure: where the column swings away a cavity opens, and no pressure
    is below that of its vapour, however short the swing."""
    case = shipped_case("cold_flow")
    values = {"fuel.line_bore": 0.0029351395181604757, "oxidizer.vapour_pressure": 76.8}
    for inlet in (14600.0, 14918.189302226903, 15200.0):
        result = simulate(with_values(case, values | {"oxidizer.inlet_pressure": inlet}))
        assert result.traces["oxidizer_manifold_pressure"].min() >= 76.8
        assert result.traces["fuel_manifold_pressure"].min() >= case.fuel.vapour_pressure
        assert abs(result.balances["machine_energy"]) < 1e-3 * result.balances["work_moved"]
