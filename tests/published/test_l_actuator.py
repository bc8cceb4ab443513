"""Area l: the actuator in motion, through the whole program, where its motion has a closed form."""

import math

import numpy as np
from _record import CLOSED_FORM, held
from runs import AMBIENT, GAMMA, LIFT_AREA, NITROGEN_R, bare_machine, changed, instants
from scipy.optimize import brentq
from sleevelift import simulate
from sleevelift.physics.gas import perfect_gas
from sleevelift.physics.gas_node import node_state


def test_piston_speed_at_constant_pressure_by_the_node():
    """The speed at which the program's gas node, fed at 5 g/s and pushing a piston, keeps its pressure."""
    source = CLOSED_FORM + "w cp Ts = d(p V cv/R)/dt + p dV/dt at constant p: dV/dt = w R Ts/p (no gamma)"
    gas = perfect_gas(GAMMA, NITROGEN_R)
    w, Ts, p, area, T = 0.005, 300.0, 20e5, 3e-4, 350.0
    volume = 1e-4
    mass = p * volume / (NITROGEN_R * T)
    energy = mass * NITROGEN_R * T / (GAMMA - 1.0)
    h = GAMMA / (GAMMA - 1.0) * NITROGEN_R * Ts
    dt = 1e-7

    def rise(v):
        after = node_state(mass + w * dt, energy + (w * h - p * area * v) * dt, volume + area * v * dt, gas)
        return after[0] - p

    held(
        "l-piston-v",
        "piston speed, cylinder filled adiabatically at constant pressure",
        source,
        0.742,
        brentq(rise, 0.1, 2.0),
        1e-4,
        "m/s",
    )


def test_piston_speed_by_a_whole_run():
    """The same through supply, valve, tube and lift chamber: a light sleeve against a constant load, damped until
    steady.

    The flow is choked at the valve, so it is constant; the gas arrives with the supply's enthalpy.
    """
    speed, load_pressure, supply = 0.5, 20e5, 70e5
    volume_rate = LIFT_AREA * speed
    w = volume_rate * load_pressure / (NITROGEN_R * 300.0)
    psi = math.sqrt(GAMMA) * (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))
    area = w * math.sqrt(NITROGEN_R * 300.0) / (psi * supply)
    damping = 200.0
    case = changed(
        bare_machine(),
        supply__pressure=supply,
        solenoid__fill_orifice=math.sqrt(4.0 / math.pi * area),
        tube__conductance=1e-4,  # no resistance to speak of
        tube__critical_ratio=0.5,
        tube__bore=1e-3,
        lift_chamber__dead_volume=1e-6,
        lift_chamber__pressure=load_pressure,
        spring_side__volume=1e4,
        sleeve__stroke=0.2,
        sleeve__moving_mass=0.01,
        spring__rate=0.0,
        spring__preload=(load_pressure - AMBIENT) * LIFT_AREA - damping * speed,
        seals__viscous=damping,
        run__end=0.3,
        run__tolerance=1e-7,
    )
    result = simulate(case)
    t, x = result.traces["time"], result.traces["lift"]
    late = (t > 0.2) & (t < 0.3)
    assert x[late].max() < 0.2, "the stop is not reached"
    got = np.polyfit(t[late], x[late], 1)[0]
    source = CLOSED_FORM + "dV/dt = w R Ts/p, choked flow w"
    held("l-piston-run", "steady speed of the sleeve against a constant load", source, speed, got, 1e-3, "m/s")


def test_massless_sleeve_waits_for_its_pressure():
    """Filled through a choked orifice at constant volume, the sleeve breaks away when p A = F0: t = V dp/(g R Ts w)."""
    source = CLOSED_FORM + "dp/dt = g R Ts w/V at constant volume, choked"
    supply, area, volume = 70e5, 1e-7, 1e-4
    preload = 10e5 * LIFT_AREA
    case = changed(
        bare_machine(),
        supply__pressure=supply,
        solenoid__fill_orifice=math.sqrt(4.0 / math.pi * area),
        tube__conductance=1e-4,
        tube__critical_ratio=0.5,
        tube__bore=1e-3,
        lift_chamber__dead_volume=volume,
        spring_side__volume=1e4,
        sleeve__moving_mass=1e-3,
        spring__preload=preload,
        run__end=0.5,
        run__tolerance=1e-7,
    )
    result = simulate(case)
    lifted = instants(result, "leaves its seat")[0] - instants(result, "fill port fully open")[0]
    psi = math.sqrt(GAMMA) * (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))
    w = area * psi * supply / math.sqrt(NITROGEN_R * 300.0)
    tube = math.pi / 4.0 * 1e-6 * 0.01  # filled along with it
    expected = 10e5 * (volume + tube) / (GAMMA * NITROGEN_R * 300.0 * w)
    held("l-breakaway", "time to breakaway, choked filling of a constant volume", source, expected, lifted, 1e-3, "s")
    held(
        "l-breakaway-p",
        "pressure at breakaway",
        CLOSED_FORM + "p = p_amb + F0/A",
        AMBIENT + 10e5,
        result.measures["breakaway_pressure"],
        1e-6,
        "Pa",
    )
