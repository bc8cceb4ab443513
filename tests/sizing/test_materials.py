"""Thermal contraction and the clearance at temperature, against tables independent of the fits."""

import pytest
from sleevelift.physics.slots import hot_clearance
from sleevelift.sizing.materials import (
    COLDEST,
    HOTTEST,
    METALS,
    contraction,
    contraction_between,
)

# Contraction from 293 K in 1e-5, by Ekin, Experimental Techniques for Low-Temperature Measurements (2006), appendix
# A6.4, from
# memory: 77, 100, 150, 200 K.
TABLE = {
    "304": (281.0, 261.0, 206.0, 139.0),
    "316": (279.0, 261.0, 201.0, 136.0),
    "6061": (389.0, 365.0, 295.0, 203.0),
    "718": (224.0, 211.0, 167.0, 114.0),
    "ti-6al-4v": (163.0, 154.0, 118.0, 78.0),
    "copper": (302.0, 282.0, 221.0, 148.0),
}


@pytest.mark.parametrize("material", TABLE)
def test_contraction_against_another_compilation(material):
    """Within the uncertainty each metal states (2 to 5 %)."""
    for temperature, expected in zip((77.0, 100.0, 150.0, 200.0), TABLE[material]):
        assert contraction(material, temperature) * 1e5 == pytest.approx(expected, rel=METALS[material].uncertainty)


def test_copper_against_the_fit_it_was_integrated_from():
    """Computed: NIST's fit of OFHC copper's expansion coefficient (trc.nist.gov/cryogenics; the copy's address was not kept),
    integrated here with scipy."""
    import numpy as np
    from scipy.integrate import quad

    coefficients = [-17.9081289, 67.131914, -118.809316, 109.9845997, -53.8696089, 13.30247491, -1.30843441]

    def expansion(temperature):
        return 10.0 ** np.polynomial.polynomial.polyval(np.log10(temperature), coefficients) * 1e-6

    for temperature in (50.0, 90.0, 137.0, 212.0, 280.0):
        integral = quad(expansion, temperature, 293.0)[0]
        assert contraction("copper", temperature) == pytest.approx(integral, rel=2e-3, abs=1e-7)


@pytest.mark.parametrize("material", METALS)
def test_colder_is_shorter(material):
    """Monotone over the whole range but for the flat bottom, zero at 293 K, continuous there."""
    steps = [COLDEST + (HOTTEST - COLDEST) * place / 400 for place in range(401)]
    values = [contraction(material, temperature) for temperature in steps]
    # below 30 K the fits are flat within 0.5e-5
    assert all(colder >= warmer - 5e-6 for colder, warmer in zip(values, values[1:]))
    assert contraction(material, 293.0) == pytest.approx(0.0, abs=1e-12)
    assert contraction(material, 293.01) == pytest.approx(0.0, abs=5e-7)


@pytest.mark.parametrize("material", METALS)
def test_expansion_near_room_temperature(material):
    """The slope below 293 K joins the handbook mean above it within 15 % (two sources per metal)."""
    below = contraction(material, 273.0) / 20.0
    assert below == pytest.approx(METALS[material].expansion_373, rel=0.15)


def test_monel_at_high_temperature():
    """Published: btimetals.com/aerospace_metal/nickel_monel-400_tubes: mean 14.2e-6 to 93 C, 15.2e-6 to 204 C from 20 C."""
    assert -contraction("monel", 366.15) / 73.15 == pytest.approx(14.2e-6, rel=0.01)
    assert -contraction("monel", 477.15) / 184.15 == pytest.approx(15.2e-6, rel=0.03)


def test_there_and_back():
    """Symmetry: the length comes back: (1 - e(a to b)) (1 - e(b to a)) = 1."""
    there, back = contraction_between("6061", 300.0, 90.0), contraction_between("6061", 90.0, 300.0)
    assert (1.0 - there) * (1.0 - back) == pytest.approx(1.0, rel=1e-14)
    assert contraction_between("brass", 150.0, 150.0) == 0.0


def test_clearance_of_like_and_unlike_metals():
    """Same metal: unchanged. Aluminium sleeve on a steel post closes; brass post in a steel sleeve opens."""
    steel, aluminium, brass = (contraction(name, 90.0) for name in ("304", "6061", "brass"))
    assert hot_clearance(5e-6, 16e-3, steel, steel) == 5e-6
    assert hot_clearance(5e-6, 16e-3, steel, aluminium) < 0.0
    assert hot_clearance(5e-6, 16e-3, brass, steel) > 5e-6
    assert hot_clearance(10e-6, 16e-3, 0.002, 0.003) == pytest.approx(2e-6, rel=1e-9)  # 8 mm x 0.001 less


def test_unknown_or_out_of_range():
    with pytest.raises(KeyError):
        contraction("unobtainium", 90.0)
    with pytest.raises(ValueError, match="covers"):
        contraction("304", 900.0)
