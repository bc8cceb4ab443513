"""Area c: measured blow-downs through `sleevelift fit`: discharge coefficient and wall heat from the pressure alone.

Sources as in test_c_vessels. Both values are the fit's own; the coefficient that other authors took, with another wall heat, is
stated beside it, and so is what is left of each series (the noise of none is known: 1 bar is a guess). Held against the points
it was fitted to, a fit only shows that the model can follow them. A fit to the first half of each series, which then must give the
second, is held against points that it never saw: the next one, by the tolerance of the other test; the rest is stated as it is."""

import math

import numpy as np
import pytest
from _record import held, stated
from sleevelift.calibrate.data import Settings, experiment
from sleevelift.calibrate.fit import fit
from sleevelift.calibrate.free import free_of
from sleevelift.calibrate.problem import Problem
from sleevelift.case.read import load_case
from sleevelift.measured.trace import read_trace
from test_c_vessels import HAQUE, HAQUE_P, HAQUE_T, KIT, KIT_P, KIT_T, WOODFIELD, WOODFIELD_P, WOODFIELD_T
from vessels import trace, vessel_case


def cylinder(diameter, length):
    """Inner surface, m2."""
    return math.pi * diameter * (length + diameter / 2.0)


VESSELS = {
    "haque": (
        HAQUE, HAQUE_T, HAQUE_P, 0.8, 0.06, (1, 4),
        {"gas": "nitrogen", "volume": 0.089207, "bore": 6.35, "cd": 0.7, "p": 150, "T": 288.7, "T_wall": 288.7,
         "wall_area": cylinder(0.273, 1.524), "wall_coefficient": 200, "end": 52},
    ),
    "woodfield": (
        WOODFIELD, WOODFIELD_T, WOODFIELD_P, 0.84, 0.08, (2,),
        {"gas": "hydrogen", "volume": 0.00093659, "bore": 0.5, "cd": 0.7, "p": 100, "T": 306, "T_wall": 306,
         "wall_area": 0.06, "wall_coefficient": 100, "end": 13},
    ),
    "kit": (
        KIT, [t - KIT_T[0] for t in KIT_T], KIT_P, 0.9, 0.08, (1, 2, 3),
        {"gas": "helium", "volume": 0.019, "bore": 1.0, "cd": 0.7, "p": 275.79, "T": 246.99, "T_wall": 293.15,
         "wall_area": cylinder(0.18, 0.7466), "wall_coefficient": 100, "end": 180},
    ),
}  # fmt: skip
"""source, instants s, pressures bar, Cd of other authors, tolerance of the points, which points, vessel. Woodfield's inner
surface is not known: 0.06 m2 is that of a cylinder thrice as long as wide, so its wall coefficient means nothing by itself."""


def fitted(name, count, tmp_path):
    """(fit of Cd and wall heat to the first points of a series, its trial with all points, instants s, pressures bar)."""
    _, t, p, _, _, _, vessel = VESSELS[name]
    t = np.array(t) - (t[0] if name == "haque" else 0.0)  # its first point is the pressure at the start
    case = load_case(vessel_case(tmp_path / f"{name}.toml", **vessel))
    known = Settings({"spring_side_pressure": 1e5}, {"spring_side_pressure": 0.0}, 0.0)
    free = [
        free_of(case, "spring_side.vent_discharge_coefficient"),
        free_of(case, "spring_side.wall_coefficient=5 W/(m2 K):2000 W/(m2 K)"),
    ]

    def test(points):
        return experiment(case, read_trace(trace(tmp_path / f"{name}-{points}.csv", t[:points], p[:points])), (), known)

    found = fit([test(count or len(t))], free, known, starts=1, let_go=False)
    return found, Problem([test(len(t))], free, known), t, p


@pytest.mark.parametrize("name", VESSELS)
def test_measured_blow_down_fitted(name, tmp_path):
    source, _, _, their_cd, allowed, places, _ = VESSELS[name]
    found, _, t, p = fitted(name, None, tmp_path)
    model = found.problem.model(found.p, 0, 0) / 1e5
    for k in places:
        quantity = f"pressure at {t[k]:.4g} s of a fit of Cd and wall heat to the whole series"
        held(f"c-{name}-fitted-{k}", quantity, source, p[k], model[k], allowed, "bar")
    (channel,) = found.verdict.channels
    quantity = (
        "rms left by that fit (beside a noise of 1 bar); explained"
        if channel.explained
        else "rms left by that fit (beside a noise of 1 bar); NOT explained"
    )
    stated(f"c-{name}-fitted-rms", quantity, source, 1.0, channel.rms, "bar")
    cd = found.values[0]
    stated(
        f"c-{name}-fitted-cd",
        f"Cd fitted, {cd.low:.3f} to {cd.high:.3f}; beside it that of other authors",
        source,
        their_cd,
        cd.fitted,
    )


@pytest.mark.parametrize("name", VESSELS)
def test_the_second_half_of_a_blow_down_from_a_fit_of_the_first(name, tmp_path):
    """The next point holds. The end does not: one wall coefficient for a whole vessel is no wall heat that may be carried on."""
    source, *_, allowed, _, _ = VESSELS[name]
    half = (len(VESSELS[name][1]) + 1) // 2
    found, whole, t, p = fitted(name, half, tmp_path)
    model = whole.model(found.p, 0, 0) / 1e5
    quantity = f"pressure at {t[half]:.4g} s, the first that a fit of Cd and wall heat to the {half} points before it never saw"
    held(f"c-{name}-half-next", quantity, source, p[half], model[half], allowed, "bar")
    last = len(t) - 1
    quantity = f"pressure at {t[last]:.4g} s, the last, from the same fit to the first half"
    stated(f"c-{name}-half-last", quantity, source, p[last], model[last], "bar")
