"""Area i: dry friction, impacts and motion between stops, through the whole program: a sleeve on a spring in constant
pressures."""

import math

import numpy as np
from _record import CLOSED_FORM, held
from runs import constant_forces, instants, turning_points
from sleevelift import simulate
from sleevelift.constants import STANDARD_GRAVITY

TIGHT = {"run__tolerance": 1e-9, "sleeve__rest_speed": 1e-6}


def test_time_to_open_against_a_preloaded_spring():
    source = CLOSED_FORM + "x = (F - F0)/k (1 - cos w t): t = acos(1 - k s/(F - F0))/w"
    case = constant_forces(160.0, mass=0.05, preload=100.0, rate=5000.0, stroke=0.005, run__end=0.01, **TIGHT)
    result = simulate(case)
    (lifted,), (arrived,) = instants(result, "leaves its seat"), instants(result, "hits its stop")
    held("i-open-time", "time to open 5 mm against a preloaded spring", source, 0.00299774, arrived - lifted, 1e-5, "s")
    held("i-open-speed", "its impact speed", source, 3.08221, result.measures["stop_impact_speed"], 1e-5, "m/s")


def test_bouncing_ball():
    """The valve opens downward: the sleeve falls 0.1 m onto its stop and bounces till it rests."""
    source = CLOSED_FORM + "sqrt(2 h/g) (1 + e)/(1 - e), path h (1 + e^2)/(1 - e^2) = 0.2125 m"
    case = constant_forces(
        0.0, mass=0.5, preload=0.0, rate=0.0, stroke=0.1, run__end=2.0,
        sleeve__axis_tilt=math.pi, sleeve__restitution_stop=0.6, **TIGHT,
    )  # fmt: skip
    result = simulate(case)
    total = instants(result, "hits its stop and stays there")[0]
    scaled = total * math.sqrt(STANDARD_GRAVITY / 9.81)
    held("i-bounce", "bouncing ball, drop 0.1 m, e = 0.6, to rest", source, 0.571137, scaled, 1e-5, "s")
    path = float(np.sum(np.abs(np.diff(result.traces["lift"]))))
    held("i-bounce-path", "its path", source, 0.1 * (1 + 0.36) / (1 - 0.36), path, 0.01, "m")


def test_rest_position_of_a_coulomb_oscillator():
    """Released 21.5 mm from equilibrium, 2 F_c/k = 4 mm are lost per half cycle: rests 1.5 mm on the other side."""
    source = CLOSED_FORM + "turning points 21.5, -17.5, 13.5, -9.5, 5.5, -1.5 mm; stops where |x| < F_c/k"
    case = constant_forces(107.5, mass=0.5, preload=0.0, rate=5000.0, stroke=0.06, friction=10.0, run__end=0.5, **TIGHT)
    result = simulate(case)
    points = [x - 0.0215 for _, x in turning_points(result)]
    # the sleeve starts at -21.5 mm, so every sign is the mirror of the source's
    assert np.allclose(points, [0.0175, -0.0135, 0.0095, -0.0055, 0.0015], atol=1e-7)
    held("i-coulomb-stop", "rest position of a Coulomb oscillator", source, -0.0015, -float(points[-1]), 1e-5, "m")
    assert result.timeline[-1].mode_after == "stuck"


def test_friction_coefficient_from_a_decay():
    """A block whose swing falls from 10 cm to 1 cm in 5 cycles and 2 s has mu = 0.1132: that friction is put in, the
    decay comes out. Rao, Mechanical Vibrations, section 2.9, from memory; the value here is the closed form's."""
    source = CLOSED_FORM + "loss 4 mu g/w^2 per cycle, w = 5 pi: mu = 0.09 w^2/(20 g) (Rao, section 2.9: 0.1132, from memory)"
    mass, w, mu = 0.5, 5.0 * math.pi, 0.11318
    rate = mass * w * w
    case = constant_forces(
        0.1 * rate, mass=mass, preload=0.0, rate=rate, stroke=0.3, friction=mu * mass * 9.81, run__end=3.0, **TIGHT
    )
    points = turning_points(simulate(case))
    t, x = points[9]
    held("i-rao-time", "time of five cycles", source, 2.0, t, 1e-5, "s")
    loss = (0.1 - abs(x - 0.1)) / 5.0
    held(
        "i-rao",
        "friction coefficient from the decay of the program's sleeve",
        source,
        0.1132,
        loss * w * w / (4.0 * 9.81),
        0.001,
    )


def test_sticking_takes_the_breakaway_force():
    """Running friction 2 N, breakaway 6 N: 4 mm lost per half cycle, rest at the first turn inside 6 mm."""
    source = CLOSED_FORM + "turning points -21.5, 17.5, -13.5, 9.5, -5.5 mm; k |x| = 5.5 N is the first below 6 N"
    case = constant_forces(
        21.5,
        mass=0.5,
        preload=0.0,
        rate=1000.0,
        stroke=0.06,
        friction=2.0,
        run__end=2.0,
        seals__breakaway_ratio=3.0,
        **TIGHT,
    )
    points = [x - 0.0215 for _, x in turning_points(simulate(case))]
    held("i-breakaway-rest", "rest with breakaway three times running friction", source, -0.0055, points[-1], 1e-5, "m")
    assert len(points) == 4
