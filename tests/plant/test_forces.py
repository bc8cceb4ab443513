"""Forces of the bound plant: equal pressures, static margins against their formulas, and the state at t = 0."""

import numpy as np
import pytest
from runs import bare_machine, changed, shipped, shipped_case
from sleevelift.constants import STANDARD_GRAVITY
from sleevelift.physics.sleeve import net_force
from sleevelift.plant.build import build
from sleevelift.plant.state import OXIDIZER, S_NET, S_RUN
from stored_runs import rates, run_of, stored


@pytest.mark.parametrize("name", ["dry_bench", "cold_flow", "hot_start"])
@pytest.mark.parametrize("p", [1e5, 27e5])
def test_equal_pressures_give_no_net_gas_force(name, p):
    """Same pressure everywhere: spring and weight alone are left."""
    record = build(shipped_case(name)).record[0]
    sleeve, forces = record["sleeve"], record["forces"]
    for lift in (0.0, 1e-3, 2e-3):
        force = net_force((p, p, p, p, p, 0.0, lift), forces)
        holding = -(float(sleeve["preload"]) + float(sleeve["rate"]) * lift + float(sleeve["weight"]))
        assert force == pytest.approx(holding, abs=1e-9 * p * abs(float(forces["slope"].min())) + 1e-9)


def test_dry_case_at_ambient_starts_with_spring_and_weight_alone():
    run = stored("dry_bench")
    got = rates(run, 0)
    case = shipped_case("dry_bench")
    mass = case.sleeve.moving_mass + case.spring.mass / 3.0
    assert got.outputs[S_NET] == pytest.approx(-(case.spring.preload + mass * STANDARD_GRAVITY), rel=1e-9)


@pytest.mark.parametrize("tilt, share", [(0.0, 1.0), (np.pi / 2.0, 0.0), (np.pi, -1.0), (np.pi / 3.0, 0.5)])
def test_weight_follows_the_tilt(tilt, share):
    case = changed(shipped_case("dry_bench"), sleeve__axis_tilt=float(tilt))
    sleeve = build(case).record[0]["sleeve"]
    assert float(sleeve["weight"]) == pytest.approx(share * float(sleeve["mass"]) * STANDARD_GRAVITY, abs=1e-12)


def test_seals_by_hand_at_the_start_of_the_dry_bench():
    """All at ambient: squeeze alone, pi (d_post + d_rod + d_piston) squeeze_friction."""
    case = shipped_case("dry_bench")
    s, d = case.seals, case.sleeve
    expected = np.pi * (
        d.post_diameter * s.post.squeeze_friction
        + d.rod_diameter * s.rod.squeeze_friction
        + d.piston_diameter * s.piston.squeeze_friction
    )
    assert rates(stored("dry_bench"), 0).outputs[S_RUN] == pytest.approx(expected, rel=1e-6)


# The invented engine's design sheet: margins worked out independently of this program for its ranges (gas 29.5 to
# 32.5 bar, fuel inlet 25.5 to 28.0 bar, friction 0.5 to 1.5 times), to three digits.
MARGINS = {
    "opening_margin": 0.216,
    "no_fuel_margin": 0.241,
    "fuel_alone_margin": 0.587,
    "full_lift_margin": 0.061,
    "fuel_loss_margin": 0.034,
    "closing_margin_unlit": 0.340,
}


@pytest.mark.parametrize("name, expected", MARGINS.items())
def test_margins_of_the_invented_engine(name, expected):
    """From its design sheet, not from this program; the sheet's digits are the tolerance."""
    assert shipped("hot_start").measures[name] == pytest.approx(expected, abs=1.5e-3)


def test_margin_formulas_by_hand():
    """opening_margin, no_fuel_margin and fuel_alone_margin of a machine without friction or weight, by their
    formulas."""
    case = changed(bare_machine(), supply__pressure=36e5, bench__fuel_side_pressure=11e5, spring__preload=1500.0, run__end=1e-3)
    area_lift = np.pi / 4.0 * (0.030**2 - 0.020**2)
    area_fuel_opening = np.pi / 4.0 * (0.020**2 - 0.014**2)
    from sleevelift import simulate

    m = simulate(case).measures
    gas, fuel = 35e5 * area_lift, 10e5 * area_fuel_opening
    assert m["opening_margin"] == pytest.approx((gas + fuel) / 1500.0 - 1.0, rel=1e-12)
    assert m["no_fuel_margin"] == pytest.approx(1500.0 / gas - 1.0, rel=1e-12)
    assert m["fuel_alone_margin"] == pytest.approx(1500.0 / fuel - 1.0, rel=1e-12)
    assert m["fuel_loss_margin"] == pytest.approx(1500.0 / gas - 1.0, rel=1e-12)
    assert m["fuel_pressure_to_open"] == pytest.approx((1500.0 - gas) / area_fuel_opening, rel=1e-10)
    assert m["required_lift_area"] == pytest.approx(1.5 * (1500.0 - fuel) / 35e5, rel=1e-12)
    assert m["sealing_load"] == pytest.approx((1500.0 - fuel) / (np.pi * 0.014), rel=1e-9)


def seal_margins(factor, **values):
    """The bare machine with friction of the rod seal, and its measures."""
    from sleevelift import simulate

    start = {"supply__pressure": 31e5, "spring__preload": 2500.0, "seals__breakaway_ratio": 1.5, "run__end": 1e-3}
    seal = {"seals__rod__squeeze_friction": 100.0 * factor, "seals__rod__pressure_coefficient": 0.05 * factor}
    return simulate(changed(bare_machine(), **{**start, **seal, **values}))


@pytest.mark.parametrize("preload", [2500.0, 1350.0])
def test_fuel_pressure_to_open_balances_the_sleeve(preload):
    """Put back into p_l A_l + p_f A_a = F_0 + ratio pi d (squeeze + f cord |p_f - p_l|), below and above the gas's pressure."""
    p = seal_margins(1.0, spring__preload=preload).measures["fuel_pressure_to_open"]  # both from ambient
    area_lift = np.pi / 4.0 * (0.030**2 - 0.020**2)
    area_fuel_opening = np.pi / 4.0 * (0.020**2 - 0.014**2)
    friction = 1.5 * np.pi * 0.020 * (100.0 + 0.05 * 1.78e-3 * abs(p - 30e5))
    assert (p > 30e5) == (preload > 2000.0)
    assert 30e5 * area_lift + p * area_fuel_opening == pytest.approx(preload + friction, rel=1e-10)


def test_no_fuel_pressure_to_open_says_why():
    """Friction that rises faster than the force: none. Gas that opens it alone: none needed."""
    stiff = seal_margins(1000.0)
    assert stiff.measures["fuel_pressure_to_open"] is None
    assert "no fuel pressure opens it" in stiff.reasons["fuel_pressure_to_open"]
    alone = seal_margins(1.0, spring__preload=10.0)
    assert alone.measures["fuel_pressure_to_open"] is None
    assert "gas alone opens it" in alone.reasons["fuel_pressure_to_open"]


def test_lines_start_in_steady_leak_flow():
    """At t = 0 nothing in the feed lines moves: dw/dt = dz/dt = 0 to rounding, the leak is the closed clearance's."""
    run = run_of(build(shipped_case("hot_start")))
    index = run.plant.record[0]["index"]
    dy = rates(run, 0).dy
    rhs_size = 27e5 / float(run.plant.record[0]["lines"][OXIDIZER]["inertance"])
    for name in ("oxidizer_flow", "fuel_flow"):
        assert abs(dy[int(index[name])]) < 1e-9 * rhs_size
    for name in ("oxidizer_volume", "fuel_volume"):
        assert abs(dy[int(index[name])]) < 1e-12
    leak = run.raw.y[0][int(index["oxidizer_flow"])]
    assert leak == pytest.approx(shipped("hot_start").measures["closed_leak_oxidizer"], rel=1e-9)
