"""Area f: O-ring sizes, glands and the measured friction of a sliding ring."""

import math
from functools import lru_cache

import pytest
from _record import CLOSED_FORM, EVALUATED, FROM_MEMORY, MEASURED, PUBLISHED, held, pictured
from runs import shipped_case
from sleevelift.calibrate.data import experiment, measured_number
from sleevelift.calibrate.fit import fit
from sleevelift.calibrate.free import free_of
from sleevelift.case.read import with_values
from sleevelift.sizing.seal_gland import (
    INCH,
    POUND_PER_INCH,
    POUND_PER_SQUARE_INCH,
    Gland,
    Ring,
    cord_tolerance,
    diameter_tolerance,
    gland_fill,
    gland_state,
    groove_depth,
    pressure_friction,
    running_force,
    seal_friction_coefficients,
    squeeze,
    squeeze_friction,
    standard_ring,
    stretch,
    stretched_cord,
)

# Measured running friction of one O-ring per length of rubbing line, slow sliding (7-15 mm/s), 10 % squeeze, bore
# 25.7 mm, ring
# 18.64 x 3.53 mm. Published: Zillen, Vallery and Smit (Delft University of Technology, 2021), open data of
# 3D-printed pneumatic
# actuators with O-rings, repository EvaZillen/3D-printed-pneumatic-actuator, CC0,
# results_pneumatic-actuator/data/friction; half the difference of the median (force - pressure x bore area) between
# extending
# and retracting.
MEASUREMENT = MEASURED + "Zillen, Vallery and Smit (Delft, 2021), open data of pneumatic actuators with O-rings"
CORD, BORE = 3.53e-3, 25.7e-3
PRESSURES = [99532.0, 299374.0, 498539.0, 696411.0]  # Pa across the ring
FORCES = [58.0, 72.0, 87.6, 97.5]  # N/m


@lru_cache(maxsize=4)
def fitted_law(points):
    """(squeeze friction in N/m, pressure coefficient) that `sleevelift fit` gives for these points of the measurement."""
    case = with_values(shipped_case("dry_bench"), {"seals.piston.cord": CORD})
    texts = [f"piston_seal_friction at {PRESSURES[k]} Pa={FORCES[k]} N/m +- 5 N/m" for k in points]
    paths = ("seals.piston.squeeze_friction=10 N/m:200 N/m", "seals.piston.pressure_coefficient=0.002:0.2")
    test = experiment(case, None, [measured_number(case, text) for text in texts])
    return tuple(value.fitted for value in fit([test], [free_of(case, path) for path in paths], starts=1).values)


@pytest.mark.parametrize("point", range(4), ids=["f-oring-257-1", "f-oring-257-3", "f-oring-257-5", "f-oring-257-7"])
def test_measured_friction_of_a_sliding_ring(point):
    """The law fitted on the lowest and highest pressure gives the two between (within 10 %; 1 and 4 % low)."""
    f_squeeze, f_pressure = fitted_law((0, 3))
    force = running_force(BORE, CORD, f_squeeze, f_pressure, PRESSURES[point])
    key = f"f-oring-257-{2 * point + 1}"
    quantity = f"running friction of a sliding O-ring at {PRESSURES[point] / 1e5:.2f} bar"
    held(key, quantity, MEASUREMENT, FORCES[point], force / (math.pi * BORE), 0.1, "N/m")


def test_picture_of_the_measured_friction():
    """The law fitted on the outer two points, and the handbook charts, beside the measurement; both rise with
    pressure."""
    f_squeeze, f_pressure = fitted_law((0, 3))
    pressures = [k * 1e4 for k in range(1, 81)]
    law = [running_force(BORE, CORD, f_squeeze, f_pressure, p) / (math.pi * BORE) for p in pressures]
    charts = [squeeze_friction(0.10, 70.0) + pressure_friction(p) * 0.9 * CORD for p in pressures]
    bar = [p / 1e5 for p in pressures]
    pictured(
        "f-oring", "Running friction of one O-ring, bore 25.7 mm, cord 3.53 mm", "pressure across, bar", "friction, N/m",
        {"measured": ([p / 1e5 for p in PRESSURES], FORCES)},
        {"law fitted on the outer two points": (bar, law), "handbook charts, 70 Shore A": (bar, charts)},
    )  # fmt: skip
    assert law == sorted(law) and charts == sorted(charts)


def test_handbook_charts_are_on_the_high_side_of_the_measurement():
    """What `seal_friction_coefficients` says of itself: 2.3 times in squeeze, 4 to 9 times in pressure (70 Shore
    A assumed)."""
    f_squeeze, f_pressure = fitted_law((0, 3))
    assert squeeze_friction(0.10, 70.0) / f_squeeze == pytest.approx(2.3, abs=0.1)
    ratios = [pressure_friction(p) * 0.9 * CORD / (f_pressure * CORD * p) for p in (PRESSURES[0], PRESSURES[3])]
    assert ratios == [pytest.approx(9.2, abs=0.2), pytest.approx(4.3, abs=0.2)]


def test_least_squares_over_all_points():
    """All four points: the straight line misses none by more than 3 % (the law's own error on this data)."""
    f_squeeze, f_pressure = fitted_law((0, 1, 2, 3))
    for pressure, force in zip(PRESSURES, FORCES):
        assert f_squeeze + f_pressure * CORD * pressure == pytest.approx(force, rel=0.03)


def test_cross_section_tolerances():
    """f-iso3601-tol. Published: cross sections of ISO 3601-1, as rtdygert.com/tolerances-for-metric-o-rings.html prints them."""
    for section, tolerance in ((1.78, 0.08), (2.62, 0.09), (3.53, 0.10), (5.33, 0.13), (6.99, 0.15)):
        source = PUBLISHED + "ISO 3601-1, cross sections, at rtdygert.com/tolerances-for-metric-o-rings.html"
        got = cord_tolerance(section * 1e-3) * 1e3
        key = "f-iso3601-tol" if section == 2.62 else f"f-iso3601-tol-{section}"
        held(key, f"tolerance of a {section} mm section", source, tolerance, got, 1e-6, "mm")
    with pytest.raises(ValueError, match="sections end"):
        cord_tolerance(9e-3)


# dash, inside diameter mm, section mm: SAE AS568
SIZES = [
    (4, 1.78, 1.78), (5, 2.57, 1.78), (6, 2.90, 1.78), (7, 3.68, 1.78), (10, 6.07, 1.78), (11, 7.65, 1.78), (12,
    9.25, 1.78), (13, 10.82, 1.78), (14, 12.42, 1.78), (15, 14.00, 1.78), (16, 15.60, 1.78), (17, 17.17, 1.78), (18,
    18.77, 1.78), (110, 9.19, 2.62), (111, 10.77, 2.62), (112, 12.37, 2.62), (114, 15.54, 2.62),
    (115, 17.12, 2.62), (116, 18.72, 2.62), (210, 18.64, 3.53), (211, 20.22, 3.53), (212, 21.82, 3.53),
    (222, 37.69, 3.53), (226, 50.39, 3.53), (230, 63.09, 3.53), (240, 94.84, 3.53),
]  # fmt: skip


LISTED = "SAE AS568, at unitcheatsheet.com/cheatsheets/o-ring-sizes.html"
LISTED_DASHES = (4, 10, 12, 14, 16, 110, 210, 222, 226, 230, 240)


@pytest.mark.parametrize(("dash", "inside", "section"), SIZES)
def test_as568_sizes(dash, inside, section):
    """f-as568-116 and 25 more: to the hundredth of a millimetre they are printed in."""
    ring = standard_ring(dash)
    source = (PUBLISHED + LISTED) if dash in LISTED_DASHES else FROM_MEMORY + "SAE AS568, list of sizes"
    got = ring.inside_diameter * 1e3
    held(f"f-as568-{dash:03d}", f"inside diameter of ring -{dash:03d}", source, inside, got, 0.0, "mm", abs_tol=0.0051)
    assert ring.cord * 1e3 == pytest.approx(section, abs=0.0051)


def test_as568_113():
    """The same list prints 13.95 mm; 0.549 in is 13.9446 mm, so the list rounds up by 0.005 (of a tolerance of
    0.2 mm)."""
    assert standard_ring(113).inside_diameter * 1e3 == pytest.approx(13.95, abs=0.01)


def test_as4716_gland_339():
    """f-as4716-339. Published: SAE AS4716 row -339: A 3.618, F 3.246 in, 0.210 in ring: 11.43 %
    squeeze.

    With 0.205 and 0.215 in (its tolerance): 9.3 and 13.5 %. Unstretched cord, as the table's squeeze is.
    """
    gland = Gland(groove_diameter=3.246 * INCH, facing_diameter=3.618 * INCH, width=0.281 * INCH)
    for section, expected in ((0.210, 0.1143), (0.205, 0.093), (0.215, 0.135)):
        got = squeeze(section * INCH, groove_depth(gland))
        key = "f-as4716-339" if section == 0.210 else f"f-as4716-339-{section}"
        source = (
            EVALUATED + "(W - (A - F)/2)/W of SAE AS4716 row -339, in PvdB-ElysianAircraft/LandingGear, data/AS4716_seal_db.csv"
        )
        held(key, f"squeeze of a {section} in ring in gland -339", source, expected, got, 0.02)
    ring = standard_ring(339)
    state = gland_state(ring._replace(diameter_tolerance=0.0), gland)
    assert state.stretch.nominal == pytest.approx(3.246 / 3.225 - 1.0, rel=1e-9)
    assert 0.08 < state.squeeze.least < state.squeeze.nominal < 0.1143 < state.squeeze.greatest < 0.14


def test_gland_fill():
    """f-fill. Closed form: (pi/4) 2.62^2/(3.60 x 2.05) = 0.73053; free squeeze 0.21756."""
    source = CLOSED_FORM + "(pi/4) 2.62^2/(3.60 x 2.05)"
    held("f-fill", "fill of a gland", source, 0.73053, gland_fill(2.62e-3, 2.05e-3, 3.60e-3), 1e-4)
    assert squeeze(2.62e-3, 2.05e-3) == pytest.approx(0.21756, rel=1e-4)


# --- beyond the list -----------------------------------------------------------------------------------------------


def test_stretch_keeps_the_volume():
    """Closed form: (pi/4) cord^2 pi D constant (mean diameter ~ inside diameter): 5 % stretch thins the cord by
    2.4 %."""
    thin = stretched_cord(2.62e-3, 0.05)
    assert thin**2 * 1.05 == pytest.approx(2.62e-3**2, rel=1e-12)
    assert stretched_cord(2.62e-3, -0.05) == 2.62e-3
    assert stretch(10e-3, 10.5e-3) == pytest.approx(0.05, rel=1e-12)


def test_tolerances_spread_to_both_sides():
    """Symmetry: no tolerances, no spread; rod glands (groove in the bore) stretch on the rod."""
    ring = Ring(15.6e-3, 1.78e-3, 0.0, 0.0)
    gland = Gland(groove_diameter=18.9e-3, facing_diameter=16.0e-3, width=2.4e-3)
    state = gland_state(ring, gland)
    assert state.squeeze.least == state.squeeze.greatest == state.squeeze.nominal
    assert state.stretch.nominal == pytest.approx(16.0 / 15.6 - 1.0, rel=1e-12)
    spread = gland_state(ring._replace(cord_tolerance=0.08e-3), gland._replace(diameter_tolerance=0.02e-3))
    assert spread.squeeze.least < state.squeeze.nominal < spread.squeeze.greatest
    assert spread.fill.least < state.fill.nominal < spread.fill.greatest


def test_friction_charts():
    """From memory, readings of the printed charts: 0.7 lb/in at 10 % and 70 Shore A; 48 lb/in2 at 1500 psi,
    within 5 %."""
    assert squeeze_friction(0.10, 70.0) / POUND_PER_INCH == pytest.approx(0.7, rel=0.05)
    assert pressure_friction(1500.0 * POUND_PER_SQUARE_INCH) / POUND_PER_SQUARE_INCH == pytest.approx(48.0, rel=0.05)
    assert squeeze_friction(0.0, 70.0) == 0.0
    assert squeeze_friction(0.1, 90.0) > squeeze_friction(0.1, 80.0) > squeeze_friction(0.1, 70.0)
    with pytest.raises(ValueError, match="Shore A"):
        squeeze_friction(0.1, 50.0)


def test_law_meets_the_charts_at_the_reference_pressure():
    """Consistency: pi d (f_squeeze + f_pressure cord dp) = chart line + chart area (pi d depth) at the reference."""
    cord, depth, hardness, pressure, diameter = 1.78e-3, 1.45e-3, 75.0, 2.0e6, 24e-3
    f_squeeze, f_pressure = seal_friction_coefficients(cord, depth, hardness, pressure)
    charts = math.pi * diameter * (squeeze_friction(1 - depth / cord, hardness) + pressure_friction(pressure) * depth)
    assert running_force(diameter, cord, f_squeeze, f_pressure, pressure) == pytest.approx(charts, rel=1e-12)
    assert running_force(diameter, cord, f_squeeze, f_pressure, -pressure) == pytest.approx(charts, rel=1e-12)


def test_diameter_tolerance_grows_with_size():
    """From memory, ISO 3601-1 class B: +-(0.009 d^0.95 + 0.11) mm: 10 mm 0.19 (so at rtdygert.com), 50 mm 0.48."""
    assert diameter_tolerance(10e-3) * 1e3 == pytest.approx(0.19, abs=0.005)
    assert diameter_tolerance(50e-3) * 1e3 == pytest.approx(0.48, abs=0.005)
