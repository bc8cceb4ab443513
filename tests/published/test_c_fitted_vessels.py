"""Area c: measured blow-downs through `sleevelift fit`: discharge coefficient and wall heat from the pressure alone.

Sources as in test_c_vessels. Both values are the fit's own; the coefficient that other authors took, with another wall heat, is
stated beside it, and so is what is left of each series (the noise of none is known: 1 bar is a guess)."""

import math

import numpy as np
import pytest
from _record import held, stated
from sleevelift.calibrate.data import Settings, experiment
from sleevelift.calibrate.fit import fit
from sleevelift.calibrate.free import free_of
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


@pytest.mark.parametrize("name", VESSELS)
def test_measured_blow_down_fitted(name, tmp_path):
    source, t, p, their_cd, allowed, places, vessel = VESSELS[name]
    t = np.array(t) - (t[0] if name == "haque" else 0.0)  # its first point is the pressure at the start
    case = load_case(vessel_case(tmp_path / f"{name}.toml", **vessel))
    measured = read_trace(trace(tmp_path / f"{name}.csv", t, p))
    known = Settings({"spring_side_pressure": 1e5}, {"spring_side_pressure": 0.0}, 0.0)
    free = [
        free_of(case, "spring_side.vent_discharge_coefficient"),
        free_of(case, "spring_side.wall_coefficient=5 W/(m2 K):2000 W/(m2 K)"),
    ]
    found = fit([experiment(case, measured, (), known)], free, known, starts=1, let_go=False)
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
