"""Area h: passage at the seat, slots, and the lapped clearance."""

import math

import numpy as np
import pytest
from _record import CLOSED_FORM, COMPUTED, held
from sleevelift.physics.seat import EDGE_ON_SEAT, EDGE_ON_SLEEVE, cone_area, gap_area, in_series
from sleevelift.physics.slots import OBROUND, ROUND, clearance_flow, segment_area, slot_area

MM = 1e-3
FORTY_FIVE = math.radians(45.0)
NO_ORIFICE_LOSS = 1e9
"""A discharge coefficient so large that only the laminar loss is left."""


def test_cone_on_a_sharp_seat():
    source = CLOSED_FORM + "frustum of slant x sin b: A = pi x sin b (D - x sin b cos b)"
    got = cone_area(1 * MM, EDGE_ON_SEAT, 10 * MM, 8 * MM, FORTY_FIVE)
    held(
        "h-cone-exact",
        "passage, 45 degree cone on a sharp 10 mm seat, lift 1 mm",
        source,
        21.1037,
        got * 1e6,
        1e-4,
        "mm2",
    )


def test_sharp_edge_on_the_sleeve():
    source = CLOSED_FORM + "frustum whose foot moves outward: pi x sin b (d + x sin b cos b)"
    got = cone_area(1 * MM, EDGE_ON_SLEEVE, 10 * MM, 8 * MM, FORTY_FIVE)
    held(
        "h-cone-sleeve-edge",
        "passage, sharp edge on the sleeve, 45 degree seat, lift 1 mm",
        source,
        23.325,
        got * 1e6,
        1e-4,
        "mm2",
    )


@pytest.mark.parametrize("lift", [0.3, 0.9, 1.4, 1.9, 3.0])
def test_cone_passage_is_the_least_frustum(lift):
    """Brute force: the least frustum between the seat's edge and any point of the cone that still exists (edge at
    d_nose)."""
    d_seat, d_nose, b = 19.0 * MM, 17.6 * MM, math.radians(40.0)
    x = lift * MM
    r = np.linspace(0.5 * d_nose, 0.5 * d_seat, 200001)  # radius on the cone's flank
    # at radius r the flank stands x - (d_seat/2 - r)/tan(b) above the seat's edge
    height = x - (0.5 * d_seat - r) / math.tan(b)
    area = math.pi * (0.5 * d_seat + r) * np.hypot(0.5 * d_seat - r, height)
    nearest = np.argmin(np.hypot(0.5 * d_seat - r, height))
    got = cone_area(x, EDGE_ON_SEAT, d_seat, d_nose, b)
    source = COMPUTED + "numpy, frustum to the nearest point of the flank by search"
    held(f"h-cone-search-{lift}", f"cone passage at lift {lift} mm", source, area[nearest], got, 1e-5, "m2")


def test_passage_continues_beyond_the_spigot():
    """At the end of the spigot the area is the spigot's ring, and it grows from there without a jump."""
    arguments = (EDGE_ON_SEAT, 19.0 * MM, 17.6 * MM, FORTY_FIVE, 0.7 * MM, 7e-6)
    ring = math.pi * 19.0 * MM * 7e-6
    source = CLOSED_FORM + "ring pi d c"
    held("h-spigot-ring", "passage inside the spigot", source, ring, gap_area(0.5 * MM, *arguments), 1e-12, "m2")
    held("h-spigot-end", "passage just past the spigot", source, ring, gap_area(0.7 * MM + 1e-12, *arguments), 1e-6, "m2")


def test_concentric_annular_leak():
    source = CLOSED_FORM + "Q = pi D c^3 dp/(12 mu L)"
    got = clearance_flow(0.0, 0.015, 1e-4, 0.02, 1e-5, 0.0, NO_ORIFICE_LOSS, 1000.0, 1.2e-3, 2e6)
    held("h-annular", "concentric annular liquid leak", source, 5.81776e-7, got, 1e-4, "m3/s")


def test_concentric_annular_gas_leak():
    """The isothermal gas law is the liquid's at the mean density: (p1^2 - p2^2)/(2 R T) = (p1 + p2)/(2 R T) (p1 -
    p2)."""
    p1, p2, RT = 70e5, 1e5, 296.8 * 293.15
    mean_density = 0.5 * (p1 + p2) / RT
    got = mean_density * clearance_flow(0.0, 0.015, 1e-4, 0.02, 3e-6, 0.0, NO_ORIFICE_LOSS, mean_density, 1.78e-5, p1 - p2)
    source = CLOSED_FORM + "isothermal: pi D c^3 (p1^2 - p2^2)/(24 mu R T L)"
    held("h-annular-gas", "concentric annular nitrogen leak, 70 to 1 bar, 3 um", source, 0.000149065, got, 0.001, "kg/s")


@pytest.mark.parametrize("eccentricity", [0.3, 0.7, 1.0])
def test_eccentric_annular_leak(eccentricity):
    """The gap c (1 + e cos phi) around the circumference, its cube averaged by quadrature: 1 + 1.5 e^2."""
    from scipy import __version__ as version
    from scipy.integrate import quad

    cube = quad(lambda phi: (1.0 + eccentricity * math.cos(phi)) ** 3, 0.0, 2.0 * math.pi)[0] / (2.0 * math.pi)
    common = (0.0, 0.015, 1e-4, 0.02, 1e-5)
    rest = (NO_ORIFICE_LOSS, 1000.0, 1.2e-3, 2e6)
    got = clearance_flow(*common, eccentricity, *rest) / clearance_flow(*common, 0.0, *rest)
    source = COMPUTED + f"scipy {version}, mean of (1 + e cos phi)^3"
    held(f"h-eccentric-{eccentricity}", f"eccentric over concentric leak, e = {eccentricity}", source, cube, got, 1e-9)


def test_clearance_flow_satisfies_both_losses():
    """At the shortest overlap both losses count; the flow is put back into 12 mu L Q/(pi d c^3) + rho/2 (Q/(Cd pi d
    c))^2."""
    d, c, L, cd, rho, mu, dp = 0.016, 5e-6, 1e-4, 0.7, 1141.0, 0.195e-3, 26e5
    q = clearance_flow(0.0, 1e-4, L, d, c, 0.0, cd, rho, mu, dp)
    back = 12.0 * mu * L * q / (math.pi * d * c**3) + 0.5 * rho * (q / (cd * math.pi * d * c)) ** 2
    held(
        "h-two-losses",
        "pressure drop of laminar and orifice loss at the flow found",
        CLOSED_FORM + "quadratic put back",
        dp,
        back,
        1e-10,
        "Pa",
    )


@pytest.mark.parametrize("share", [0.1, 0.5, 0.8])
def test_circular_segment_with_fluids(share):
    """A round slot uncovered to a depth: the wetted part of a lying tank of the same diameter (volume over length)."""
    fluids = pytest.importorskip("fluids")
    d = 2.0 * MM
    expected = (
        fluids.geometry.V_partial(D=d, L=1.0, horizontal=True, sideA=None, sideB=None, h=share * d)
        if hasattr(fluids.geometry, "V_partial")
        else fluids.geometry.V_from_h(h=share * d, D=d, L=1.0, horizontal=True)
    )
    source = COMPUTED + f"fluids {fluids.__version__}, volume of a lying cylinder at a level, run live"
    held(
        f"h-segment-{share}",
        f"circular segment, depth {share} of the diameter",
        source,
        expected,
        segment_area(share * d, d),
        1e-9,
        "m2",
    )
    assert slot_area(ROUND, d, d, share * d) == segment_area(share * d, d)


@pytest.mark.parametrize("height, width", [(3.0, 1.0), (1.0, 3.0)])
def test_obround_by_quadrature(height, width):
    """Width of the slot integrated over the uncovered height, both ways round."""
    from scipy import __version__ as version
    from scipy.integrate import quad

    h, w = height * MM, width * MM
    r = 0.5 * min(h, w)

    def chord(s):
        if w >= h:
            return (w - h) + 2.0 * math.sqrt(max(r * r - (s - r) ** 2, 0.0))
        inset = max(r - s, s - (h - r), 0.0)
        return 2.0 * math.sqrt(max(r * r - inset * inset, 0.0))

    for share in (0.15, 0.5, 0.9, 1.0):
        edges = [e for e in (r, h - r) if e < share * h]
        expected = quad(chord, 0.0, share * h, points=edges or None, epsabs=1e-16)[0]
        got = slot_area(OBROUND, h, w, share * h)
        source = COMPUTED + f"scipy {version} quad of the chord"
        held(
            f"h-obround-{height}-{share}",
            f"obround {height} x {width} mm uncovered to {share}",
            source,
            expected,
            got,
            1e-8,
            "m2",
        )


def test_series_of_gap_and_annulus():
    source = CLOSED_FORM + "1/(Cd A)^2 adds: 3 and 4 in series pass 2.4"
    held("h-series", "two liquid restrictions in series", source, 2.4, in_series(3.0, 4.0), 1e-12)
