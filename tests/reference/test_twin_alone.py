"""The reference twin against closed forms, so that it may itself be believed.

Every expected number is a formula derived in the test's docstring or a textbook result named there; nothing is taken
from the program or from an earlier run of the twin.
"""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import CoolProp.CoolProp as coolprop
import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq, minimize_scalar
from sleevelift.case.read import case_from_text, load_case, with_values
from twin import Run, run_twin
from twin_gas import Component, Orifice, RealGas, one_way, psi, series, stream_at
from twin_machine import DOWN, SEATED, STOP, STUCK, UP, Machine
from twin_parts import (
    Seat,
    coil_edges,
    cone_area,
    dead_time_edges,
    gamma_function,
    laminar_orifice,
    opening_line,
    row_area,
    throat_ratio,
)

CASES = Path(__file__).parents[2] / "cases"
AMBIENT = 101325.0
QUIET = {
    "gas.model": "perfect",
    "gas.gamma": 1.4,
    "gas.gas_constant": 296.8,
    "solenoid.on": (),
    "solenoid.off": (),
    "solenoid.exhaust_orifice": 1e-9,
    "seals.piston_leak_area": 0.0,
    "seals.friction_factor": 0.0,
    "seals.viscous": 0.0,
    "seals.stribeck_velocity": 0.0,
    "seals.breakaway_ratio": 1.0,
    "lift_chamber.wall_area": 0.0,
    "spring_side.vent_orifice": 0.0,
}
"""A dry case in which nothing happens unless a test makes it: no command, no friction, no leak, no heat."""


def dry(**changes: Any) -> Any:
    """The shipped dry case, quiet, with changes (dots written as two underscores)."""
    values = {name.replace("__", "."): value for name, value in changes.items()}
    return with_values(load_case(CASES / "dry_bench.toml"), {**QUIET, **values}, check=False)


# -------------------------------------------------------------------------------------------------------------- gas
def blow_down(p0: float, t: float, wall: float = 0.0, gamma: float = 1.4, R: float = 296.8) -> Any:
    """The spring side of 1 litre vented through Cd A = 1 mm2, sleeve held shut by it."""
    return dry(
        gas__gamma=gamma,
        gas__gas_constant=R,
        spring_side__volume=1e-3,
        spring_side__pressure=p0,
        spring_side__temperature=300.0,
        spring_side__wall_temperature=300.0,
        spring_side__wall_area=wall,
        spring_side__wall_coefficient=1e5,
        spring_side__vent_orifice=math.sqrt(4e-6 / math.pi),
        spring_side__vent_discharge_coefficient=1.0,
        run__end=t,
    )


def test_adiabatic_choked_blow_down() -> None:
    """t = 2/(g-1) V/(Cd A psi sqrt(R T0)) ((p0/p)^((g-1)/(2g)) - 1), helium 70 to 10 bar (Saad)."""
    g, R = 5 / 3, 2077.1
    t = 2 / (g - 1) * 1e-3 / (1e-6 * psi(g) * math.sqrt(R * 300)) * (7 ** ((g - 1) / (2 * g)) - 1)
    assert t == pytest.approx(2.48992, rel=1e-4)
    result = run_twin(blow_down(70e5, t, gamma=g, R=R))
    assert result.traces["spring_side_pressure"][-1] == pytest.approx(10e5, rel=1e-6)
    assert result.traces["spring_side_temperature"][-1] == pytest.approx(300 * 7 ** (-(g - 1) / g), rel=1e-6)


def test_isothermal_choked_blow_down() -> None:
    """p = p0 exp(-Cd A psi sqrt(R T) t/V); the wall of 10 MW/K holds the gas within 0.1 mK of 300 K."""
    t = 1e-3 / (1e-6 * psi(1.4) * math.sqrt(296.8 * 300)) * math.log(7)
    result = run_twin(blow_down(70e5, t, wall=100.0))
    assert result.traces["spring_side_pressure"][-1] == pytest.approx(10e5, rel=2e-6)


def test_adiabatic_unchoked_discharge() -> None:
    """Dutton and Coverdill, Int. J. Engng Ed. 13 (1997), eqs. 3 to 5, from p/p_amb 1.5 to 1.1 (choking is at 1.893)."""

    def part(ratio: float) -> float:
        chi = math.sqrt(ratio ** (2 / 7) - 1)
        return (chi**3 / 4 + 5 * chi / 8) * math.sqrt(chi * chi + 1) + 3 / 8 * math.asinh(chi)

    R, g = 296.8, 1.4
    t = 1e-3 / (1e-6 * math.sqrt(g * R * 300)) * math.sqrt(2 / (g - 1)) * 1.5 ** (1 / 7) * (part(1.5) - part(1.1))
    result = run_twin(blow_down(1.5 * AMBIENT, t))
    assert result.traces["spring_side_pressure"][-1] == pytest.approx(1.1 * AMBIENT, rel=1e-6)


@pytest.mark.parametrize("gas", ["nitrogen", "helium", "argon"])
def test_filling_conserves_energy_in_real_gas(gas: str) -> None:
    """Rigid adiabatic tube and chamber filled from a constant supply: m u grows by the mass let in times h_supply."""
    case = dry(
        gas__name=gas,
        gas__model="real",
        supply__kind="constant",
        supply__pressure=150e5,
        supply__temperature=300.0,
        solenoid__on=(0.0,),
        spring__preload=1e6,
        lift_chamber__dead_volume=20e-6,
        run__end=0.5,
    )
    machine = Machine(case)
    run = Run(case, None, True, 1e-9, "LSODA")
    run.go()
    mass, energy = [0.0, 0.0], [0.0, 0.0]
    for k, y in enumerate((machine.start, run.y)):
        for i, volume in ((machine.i_tube, machine.tube_volume), (machine.i_lift, machine.lift_volume)):
            rho, T = y[i], y[i + 1]
            u = coolprop.PropsSI("UMASS", "D", rho, "T", T, gas)
            mass[k] += rho * volume
            energy[k] += rho * volume * u
    entered = run.y[machine.i_filled]
    # the exhaust port of 1 nm is open until the valve has shifted: its flow is 1e-12 of the fill flow
    assert mass[1] - mass[0] == pytest.approx(entered, rel=1e-7)
    h = coolprop.PropsSI("HMASS", "P", 150e5, "T", 300.0, gas)
    assert energy[1] - energy[0] == pytest.approx(entered * h, rel=1e-6)
    pressure = machine.gas.properties(run.y[machine.i_lift], run.y[machine.i_lift + 1])[0]
    assert pressure == pytest.approx(150e5, rel=1e-4)


def test_regulated_supply_gives_what_the_valve_lets_through() -> None:
    """Bottle and plenum lose the mass that went through the fill port (shipped dry case)."""
    case = load_case(CASES / "dry_bench.toml")
    run = Run(case, 0.5, True, 1e-8, "LSODA")
    run.go()
    m = run.machine
    start, end = m.start, run.y
    lost = m.plenum_volume * (start[m.i_plenum] - end[m.i_plenum]) + m.bottle_volume * (start[m.i_bottle] - end[m.i_bottle])
    assert lost == pytest.approx(end[m.i_filled], rel=1e-5)


def test_real_gas_rates_keep_entropy() -> None:
    """A closed adiabatic node whose volume changes follows an isentrope of CoolProp's equation (nitrogen, 30 bar)."""
    from twin_gas import node_rates

    gas = RealGas("Nitrogen")
    rho = gas.density(30e5, 290.0)

    def rate(t: float, y: np.ndarray) -> tuple[float, float]:
        state = gas.properties(y[0], y[1])
        return node_rates(state, y[0], y[1], 1 + t, 1.0, 0.0, 0.0, 0.0)

    y = solve_ivp(rate, (0, 1.5), (rho, 290.0), rtol=1e-10, atol=1e-10).y[:, -1]
    assert y[0] == pytest.approx(rho / 2.5, rel=1e-9)
    assert gas.entropy(y[0], y[1]) == pytest.approx(gas.entropy(rho, 290.0), rel=1e-8)


def test_component_in_air_is_the_standard() -> None:
    """ISO 6358-1: w = C p1 rho_0 sqrt(T_0/T1), choked: 0.0163995 kg/s; at r = 0.65, b = 0.3 it is sqrt(3)/2."""
    from twin_gas import AREA_OF_CONDUCTANCE, PerfectGas

    air = PerfectGas(1.4, 287.05)
    up = stream_at(air, 7e5, 300.0)
    element = Component(2e-8 * AREA_OF_CONDUCTANCE, 0.3, 0.5)
    assert one_way(element, up, 1.4e5, 0.995) == pytest.approx(2e-8 * 7e5 * 1.185 * math.sqrt(293.15 / 300), rel=1e-9)
    assert one_way(element, up, 1.4e5, 0.995) == pytest.approx(0.0163995, rel=1e-4)
    half = one_way(element, up, 0.65 * 7e5, 0.995) / one_way(element, up, 1.4e5, 0.995)
    assert half == pytest.approx(math.sqrt(1 - 0.25), rel=1e-12)


def test_orifice_joins_its_branches() -> None:
    """Continuous at the critical ratio and at laminar_above; zero at r = 1."""
    up = stream_at(RealGas("Helium"), 50e5, 300.0)
    element = Orifice(1e-6)
    critical = (2 / (up.n + 1)) ** (up.n / (up.n - 1))
    for r in (critical, 0.995):
        below, above = (one_way(element, up, (r + s) * up.p, 0.995) for s in (-1e-9, 1e-9))
        assert above == pytest.approx(below, rel=1e-6)
    assert one_way(element, up, up.p, 0.995) == 0.0


def test_series_of_choked_and_wide() -> None:
    """A component 100 times wider changes the other by little, wherever it stands; equal ones balance exactly."""
    small, wide = Component(1.0, 0.4, 0.5), Component(100.0, 0.4, 0.5)
    assert series(small, wide).area == pytest.approx(1.0, rel=1e-3)
    assert series(wide, small).area == pytest.approx(1.0, rel=1e-3)
    assert series(small, wide).b == pytest.approx(0.4, abs=2e-3)
    # both at the joint pressure p2 choke the second: exact mass balance C1 p1 f(p2/p1) = C2 p2 for the second choked
    pair = series(Component(1.0, 0.3, 0.5), Component(1.0, 0.3, 0.5))
    r = brentq(lambda q: math.sqrt(1 - ((q - 0.3) / 0.7) ** 2) - q, 0.3, 1)
    assert pair.area == pytest.approx(r, rel=1e-12)


# ----------------------------------------------------------------------------------------------------------- sleeve
def piston(lift_pressure: float, **changes: Any) -> Any:
    """Gas volumes so large that the pressures stand still; no command."""
    return dry(
        lift_chamber__dead_volume=1e4,
        lift_chamber__pressure=lift_pressure,
        spring_side__volume=1e4,
        spring_side__pressure=AMBIENT,
        **changes,
    )


def driving_force(machine: Machine, lift_pressure: float) -> float:
    """N at zero lift: the pressures differ on the lift area only."""
    return (lift_pressure - AMBIENT) * machine.A_l - machine.preload - machine.weight


def went(case: Any) -> Run:
    """A finished run."""
    run = Run(case, None, True, 1e-9, "LSODA")
    run.go()
    return run


def test_free_piston_against_spring() -> None:
    """x = F/k (1 - cos wt): time to the stop acos(1 - k s/F)/w, speed there sqrt((2 F s - k s^2)/M)."""
    run = went(piston(80e5, run__end=0.05, sleeve__restitution_stop=0.0))
    m = run.machine
    F, k, s = driving_force(m, 80e5), m.rate, m.stroke
    t = math.acos(1 - k * s / F) * math.sqrt(m.mass / k)
    assert run.stop_impacts[0][0] == pytest.approx(t, abs=2e-9)
    assert run.stop_impacts[0][1] == pytest.approx(math.sqrt((2 * F * s - k * s * s) / m.mass), rel=1e-6)
    assert [mode for _, mode in run.modes] == [SEATED, UP, STOP]


@pytest.mark.parametrize("e", [0.3, 0.6, 0.9])
def test_bounces_end_in_rest(e: float) -> None:
    """Constant force: rebounds last 2 e^k v/a each, and the last is the last not below the rest speed."""
    run = went(piston(80e5, run__end=0.5, sleeve__restitution_stop=e, spring__rate=1e-6))
    m = run.machine
    a = driving_force(m, 80e5) / m.mass
    v = math.sqrt(2 * a * m.stroke)
    count = math.floor(math.log(m.rest_speed / v) / math.log(e))
    total = sum(2 * v * e**k / a for k in range(1, count + 1))
    assert run.modes[-1][1] == STOP
    assert len(run.stop_impacts) == count + 1
    assert run.modes[-1][0] - run.stop_impacts[0][0] == pytest.approx(total, abs=1e-8)


def test_coulomb_oscillator_comes_to_rest() -> None:
    """Turning points at 2 (F -+ f)/k minus the one before; it sticks where |F - k x| < f (Den Hartog, Mech. Vib.)."""
    changes = {
        "sleeve__stroke": 0.1,
        "seals__friction_factor": 1.0,
        "seals__post.pressure_coefficient": 0.0,
        "seals__rod.pressure_coefficient": 0.0,
        "seals__piston.pressure_coefficient": 0.0,
        "spring__rate": 20000.0,
    }
    run = went(piston(80e5, run__end=1.0, **changes))
    m = run.machine
    F, k = driving_force(m, 80e5), m.rate
    f = m.post_seal[0] + m.rod_seal[0] + m.piston_seal[0]
    assert f == pytest.approx(math.pi * 70 * (16.0 + 24.3 + 29.2) * 1e-3, rel=1e-12)
    turning, x, direction = [], 0.0, 1.0
    while abs(F - k * x) > f:
        x = 2 * (F - direction * f) / k - x
        turning.append(x)
        direction = -direction
    half = math.pi * math.sqrt(m.mass / k)
    assert [mode for _, mode in run.modes] == [SEATED, *[UP, DOWN] * len(turning)][: len(turning) + 1] + [STUCK]
    assert run.y[0] == pytest.approx(turning[-1], abs=1e-9)
    assert run.modes[-1][0] == pytest.approx(half * len(turning), abs=1e-7)


def test_breakaway_needs_more_than_running() -> None:
    """With breakaway ratio 2 the sleeve stays down until the force beats twice the running friction."""
    changes = {"seals__friction_factor": 1.0, "seals__breakaway_ratio": 2.0, "run__end": 0.01}
    p = 60e5
    m = Machine(piston(p, **changes))
    m.set_pieces(0.0, 0.01)
    signals = m.evaluate(0.0, m.start)[1]
    assert signals["breakaway"] == pytest.approx(2 * signals["running"], rel=1e-15)
    for share, moves in ((0.999, False), (1.001, True)):
        # choose the preload so that the net force is just below and just above breakaway
        preload = m.preload + signals["net"] - share * signals["breakaway"]
        run = went(piston(p, spring__preload=preload, **changes))
        assert (len(run.modes) > 1) is moves


# --------------------------------------------------------------------------------------------------------- liquids
def fuel_line_of(low: str, high: str, extra: dict[str, Any]) -> Any:
    """A case whose fuel inlet steps, the loss removed."""
    text = (CASES / "cold_flow.toml").read_text(encoding="utf-8")
    head, fuel = text.split("\n[fuel]", 1)
    lines = []
    for line in fuel.splitlines():
        if line.startswith("inlet_pressure"):
            times = '["0 s", "0.01 s", "0.010000000001 s"]'
            line = f'inlet_table = {{ time = {times}, pressure = ["{low}", "{low}", "{high}"] }}'
        lines.append(line)
    case = case_from_text(head + "\n[fuel]" + "\n".join(lines), "stepped")
    changes = {"solenoid.on": (), "solenoid.off": (), "spring.preload": 1e5, "fuel.rated_loss": 0.0}
    return with_values(case, {**changes, **extra}, check=False)


def test_closed_line_rings() -> None:
    """p = p1 + (p0 - p1) cos w t with w^2 = (A/L)(B/(rho V)), V manifold plus line."""
    case = fuel_line_of("10 bara", "20 bara", {"run.end": 0.05})
    result = run_twin(case)
    fuel = case.fuel
    area = math.pi / 4 * fuel.line_bore**2
    volume = fuel.manifold_volume + area * fuel.line_length
    w = math.sqrt(area / fuel.line_length * fuel.bulk_modulus / (fuel.density * volume))
    t = result.traces["time"]
    expected = np.where(t < 0.01, 10e5, 20e5 - 10e5 * np.cos(w * np.maximum(t - 0.01, 0)))
    assert np.abs(result.traces["fuel_manifold_pressure"] - expected).max() < 10e5 * 1e-5


def test_cavity_closes_again() -> None:
    """Inlet stepped from 20 to 8 bar: the column would swing to -4 bar, so a cavity opens at the vapour pressure.

    Column, liquid spring and constant inlet are conservative, the cavity too (p is a function of z): from rest at
    20 bar it comes back to rest at 20 bar, and nothing falls below the vapour pressure.
    """
    case = fuel_line_of("20 bara", "8 bara", {"run.end": 0.05})
    result = run_twin(case)
    p = result.traces["fuel_manifold_pressure"]
    vapour = case.fuel.vapour_pressure
    assert p.min() == pytest.approx(vapour, abs=1e-6)
    assert p[result.traces["time"] > 0.012].max() == pytest.approx(20e5, rel=1e-4)


@pytest.mark.parametrize("n, ratio", [(1.4, 39.309), (5 / 3, 30.050)])
def test_trapped_gas_peak(n: float, ratio: float) -> None:
    """5 (1 - v) = (v^(1-n) - 1)/(n-1), peak = v^-n (limit of Martin 1976): 39.309 and 30.050 for a rigid column."""
    extra = {
        "run.end": 0.2,
        "fuel.trapped_gas_volume": 20e-6,
        "fuel.trapped_gas_exponent": n,
        "fuel.bulk_modulus": 1e16,
    }
    result = run_twin(fuel_line_of("1.01325 bara", "5.06625 bara", extra))
    v = brentq(lambda v: 5 * (1 - v) - (v ** (1 - n) - 1) / (n - 1), 1e-3, 0.5)
    assert v**-n == pytest.approx(ratio, rel=1e-4)
    assert result.measures["peak_fuel_manifold"] / AMBIENT == pytest.approx(v**-n, rel=1e-4)


def test_laminar_and_orifice_in_series() -> None:
    """R Q + k Q^2 = dp both ways; the laminar limit is Q = pi d c^3 dp/(12 mu L): 5.81776e-7 m3/s."""
    R, k = 1e12, 3e15
    for dp in (1e3, 1e6, -1e6):
        Q = laminar_orifice(R, k, dp)
        assert R * Q + k * Q * abs(Q) == pytest.approx(dp, rel=1e-12)
    R = 12 * 1.2e-3 * 0.015 / (math.pi * 0.02 * 1e-5**3)
    assert laminar_orifice(R, 0.0, 2e6) == pytest.approx(5.81776e-7, rel=1e-4)


# ----------------------------------------------------------------------------------------------------------- areas
def chord(shape: str, height: float, width: float, s: float) -> float:
    """Width of one slot at s from its edge, from the picture."""
    r = min(height, width) / 2
    if shape == "rectangular":
        return width
    if shape == "round" or height <= width:
        r = height / 2
        return 2 * math.sqrt(max(r * r - (s - r) ** 2, 0.0)) + (0.0 if shape == "round" else width - height)
    off = max(r - s, s - (height - r), 0.0)
    return 2 * math.sqrt(max(r * r - off * off, 0.0))


@pytest.mark.parametrize(
    "shape, height, width",
    [
        ("rectangular", 2.0, 1.0),
        ("round", 2.0, 2.0),
        ("obround", 3.0, 1.0),
        ("obround", 1.0, 3.0),
        ("obround", 2.0, 2.0),
    ],
)
def test_slot_area_is_its_chords(shape: str, height: float, width: float) -> None:
    """Uncovered area = integral of the chord."""
    for u in (0.0, 0.1, 0.5, 0.9, 1.3, height, height + 1):
        end = min(u, height)
        breaks = [b for b in (width / 2, height - width / 2, height / 2) if 0 < b < end]
        expected = quad(lambda s: chord(shape, height, width, s), 0, end, points=breaks or None, epsabs=1e-10)[0]
        assert row_area(shape, 3, height, width, u) == pytest.approx(3 * expected, abs=1e-7)


@pytest.mark.parametrize("edge", ["seat", "sleeve"])
@pytest.mark.parametrize("x", [0.05, 0.3, 0.8, 1.5, 3.0])
def test_cone_area_is_the_shortest_frustum(edge: str, x: float) -> None:
    """Frustum of the shortest line between the sharp edge and the other part's cone, found by minimising its length."""
    angle, seat, nose = math.radians(35), 19.0, 17.6
    # generator of the cone through the seat's edge at zero lift; r = seat/2 + s sin, z = s cos, s < 0 inward and down
    limit = -(seat - nose) / 2 / math.sin(angle)

    def point(s: float) -> tuple[float, float]:
        if edge == "seat":  # the cone is on the nose, lifted by x, and ends at the nose's lower edge
            return seat / 2 + s * math.sin(angle), x + s * math.cos(angle)
        return seat / 2 + s * math.sin(angle), s * math.cos(angle)  # the cone is on the seat, opening upward

    edge_z = 0.0 if edge == "seat" else x
    span = (limit, 5.0) if edge == "seat" else (-5.0, 5.0)
    best = minimize_scalar(
        lambda s: math.hypot(point(s)[0] - seat / 2, point(s)[1] - edge_z),
        bounds=span,
        method="bounded",
        options={"xatol": 1e-10},
    )
    s = min((best.x, limit), key=lambda q: math.hypot(point(q)[0] - seat / 2, point(q)[1] - edge_z)) if edge == "seat" else best.x
    r, z = point(s)
    expected = math.pi * (seat / 2 + r) * math.hypot(r - seat / 2, z - edge_z)
    assert cone_area(x, edge, angle, seat, nose) == pytest.approx(expected, rel=1e-6)


def test_cone_check_value() -> None:
    """45 deg cone, 10 mm seat, lift 1 mm: 21.1037 mm2 (frustum)."""
    assert cone_area(1.0, "seat", math.pi / 4, 10.0, 5.0) == pytest.approx(21.1037, rel=1e-5)


def test_gap_pressure_follows_bernoulli() -> None:
    """Without smoothing, w = S sqrt(2 rho (p_f - p_i)) = N sqrt(2 rho (p_i - p_c)), the latter on the spigot too."""
    seat = Seat(load_case(CASES / "hot_start.toml"))
    for x in (0.2e-3, 0.75e-3, 1.9e-3):
        w, p_i = seat.flow(x, 27e5, 5e5)
        assert w == pytest.approx(seat.annulus * math.sqrt(2 * seat.rho * (p_i - 5e5)), rel=1e-6)
        if x > seat.spigot:
            assert w == pytest.approx(seat.cd * seat.area(x) * math.sqrt(2 * seat.rho * (27e5 - p_i)), rel=1e-6)
    assert seat.flow(0.0, 27e5, 5e5) == (0.0, 5e5)


# -------------------------------------------------------------------------------------------------------- solenoid
COIL = SimpleNamespace(
    inductance=0.02, resistance=10.0, supply_voltage=24.0, pull_in_current=1.5, drop_out_current=0.3, clamp_voltage=0.0
)


def test_coil_times() -> None:
    """t = -(L/R) ln(1 - I R/V) = 1.96166 ms; release L/R ln((V + V_c)/(I R + V_c))."""
    edges = coil_edges([0.1], [0.5], COIL, 0.0)
    assert edges[0].effect - 0.1 == pytest.approx(1.96166e-3, rel=1e-5)
    assert edges[1].effect - 0.5 == pytest.approx(2e-3 * math.log(24 / 3), rel=1e-9)
    clamped = SimpleNamespace(**{**vars(COIL), "clamp_voltage": 48.0})
    assert coil_edges([0.1], [0.5], clamped, 0.0)[1].effect - 0.5 == pytest.approx(2e-3 * math.log(72 / 51), rel=1e-9)


def test_short_pulse_and_low_voltage() -> None:
    """An off before pull-in cancels the on; a short pulse releases from the current then; 14 V never pulls 1.5 A."""
    assert coil_edges([0.1], [0.1019], COIL, 0.0) == []
    edges = coil_edges([0.1], [0.102], COIL, 0.0)
    current = 2.4 * (1 - math.exp(-1.0))
    assert edges[1].effect - 0.102 == pytest.approx(2e-3 * math.log(current / 0.3), rel=1e-9)
    weak = SimpleNamespace(**{**vars(COIL), "supply_voltage": 14.0})
    assert coil_edges([0.1], [0.5], weak, 0.0) == []


def test_dead_time_edges_and_stroke() -> None:
    """An edge that would take effect before an earlier one cancels it; the opening moves from where it is."""
    edges = dead_time_edges([0.0], [0.001], 10e-3, 5e-3, 0.0)
    assert [(e.effect, e.opens) for e in edges] == [(0.006, False)]
    line = opening_line(dead_time_edges([0.0], [0.002], 1e-3, 1e-3, 1e-3), 4e-3, 8e-3)
    # opens from 2 ms at 1/4 per ms; closes from 4 ms, at 0.5, at 1/8 per ms
    assert [line.at(t) for t in (0.002, 0.003, 0.004, 0.006, 0.008, 0.1)] == pytest.approx([0, 0.25, 0.5, 0.25, 0, 0])


# -------------------------------------------------------------------------------------------------------- chamber
def test_chamber_at_steady_state() -> None:
    """p = w c/A_throat, c* from the case's table by scipy's PCHIP of c*^2 over O/(O+F), efficiency on the entries."""
    case = load_case(CASES / "hot_start.toml")
    result = run_twin(case, 0.79)
    o, f, p = (result.traces[name][-1] for name in ("oxidizer_flow", "fuel_flow", "chamber_pressure"))
    fractions = np.array(case.chamber.o_f) / (1 + np.array(case.chamber.o_f))
    squares = (np.array(case.chamber.c_star) * case.chamber.efficiency) ** 2
    ends = (case.chamber.cold_c_star_fuel**2, case.chamber.cold_c_star_oxidizer**2)
    table = PchipInterpolator([0, *fractions, 1], [ends[0], *squares, ends[1]])
    assert p == pytest.approx((o + f) * math.sqrt(table(o / (o + f))) / case.chamber.throat_area, rel=1e-6)
    # and both lines balance: inlet minus loss is the manifold pressure
    for side, w in (("oxidizer", o), ("fuel", f)):
        feed = getattr(case, side)
        loss = feed.rated_loss * (w / feed.rated_flow) ** 2 * feed.rated_density / feed.density
        assert result.traces[f"{side}_manifold_pressure"][-1] == pytest.approx(feed.inlet_pressure - loss, rel=1e-6)


def test_hot_gas_leaves_isentropically() -> None:
    """No propellant: p = p0 (1 + (g-1)/2 A Gamma sqrt(R T0) t/V)^(-2g/(g-1)) while choked (Saad)."""
    machine = Machine(load_case(CASES / "hot_start.toml"))
    machine.lit = True
    i = machine.i_chamber
    y0 = machine.start.copy()
    RT, p0 = 900e3, 18e5
    y0[i + 2], y0[i + 3] = p0 * machine.volume / RT, p0

    def rate(t: float, y: np.ndarray) -> np.ndarray:
        dy = np.zeros(len(y))
        machine._chamber(y.tolist(), 0.0, 0.0, dy, {})
        return dy

    _, g = machine.burning.at(machine.burning.best)
    t = 2e-3
    end = solve_ivp(rate, (0, t), y0, rtol=1e-10, atol=1e-9).y[:, -1]
    growth = 1 + (g - 1) / 2 * machine.throat * gamma_function(g) * math.sqrt(RT) * t / machine.volume
    assert end[i + 3] == pytest.approx(p0 * growth ** (-2 * g / (g - 1)), rel=1e-7)
    assert end[i + 3] > 2 * AMBIENT


def test_throat_ratio_ends() -> None:
    """1 while choked, continuous at the critical ratio, 0 at ambient and below."""
    g = 1.2
    critical = (2 / (g + 1)) ** (g / (g - 1))
    assert throat_ratio(10e5, 1e5, g, 0.995) == 1.0
    assert throat_ratio(1e5 / (critical + 1e-9), 1e5, g, 0.995) == pytest.approx(1.0, abs=1e-6)
    assert throat_ratio(1e5, 1e5, g, 0.995) == 0.0
    assert throat_ratio(0.9e5, 1e5, g, 0.995) == 0.0


def test_hard_start_by_hand() -> None:
    """g m (Gamma c*)^2/V, raised for suppressed dissociation, + p_amb, with the pooled mixture, no efficiency."""
    case = load_case(CASES / "hot_start.toml")
    M = run_twin(case, 0.165).measures
    o, f = M["pooled_oxidizer"], M["pooled_fuel"]
    fractions = np.array(case.chamber.o_f) / (1 + np.array(case.chamber.o_f))
    x = o / (o + f)
    g = PchipInterpolator(fractions, case.chamber.g)(x)
    square = PchipInterpolator(fractions, np.array(case.chamber.c_star) ** 2)(x)
    plain = g * (o + f) * gamma_function(g) ** 2 * square / case.chamber.volume
    expected = plain * (plain / 5e5) ** 0.03 + AMBIENT
    assert M["hard_start_pressure"] == pytest.approx(expected, rel=1e-9)
    assert M["light_off"] == pytest.approx(M["both_in_chamber"] + case.igniter.delay, abs=1e-12)


# ------------------------------------------------------------------------------------------------- the twin itself
@pytest.mark.parametrize("name, end", [("dry_bench", 0.5), ("hot_start", 0.2)])
def test_two_integrators_agree(name: str, end: float) -> None:
    """LSODA at 1e-8 and Radau at 1e-7 find every change of mode within 0.1 microseconds of each other."""
    case = load_case(CASES / f"{name}.toml")
    one, two = run_twin(case, end), run_twin(case, end, method="Radau", rtol=1e-7)
    assert [m for _, m in one.modes] == [m for _, m in two.modes]
    assert max(abs(a - b) for (a, _), (b, _) in zip(one.modes, two.modes)) < 1e-7


def test_down_is_a_mode() -> None:
    """The shipped dry case opens to the stop, and closes: the sequence holds each mode."""
    modes = [m for _, m in run_twin(load_case(CASES / "dry_bench.toml"), 0.5).modes]
    assert {SEATED, UP, DOWN, STOP} <= set(modes)
    assert modes[0] == modes[-1] == SEATED
