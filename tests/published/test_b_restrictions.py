"""Area b, the flow laws: orifice, ISO 6358 component, their constants, and what the constant exponent costs in real
gas."""

import math

import pytest
from _record import CLOSED_FORM, COMPUTED, EVALUATED, PUBLISHED, held
from sleevelift.constants import AIR_GAS_CONSTANT
from sleevelift.gas_tables import load_gas
from sleevelift.orifice_error import orifice_error
from sleevelift.physics.combustion import gamma_squared
from sleevelift.physics.gas import gas_at, gas_state
from sleevelift.physics.restriction import (
    area_of_conductance,
    choked_flux,
    component_flow,
    orifice_flow,
    psi,
    series_component,
    subsonic_fraction,
)

COMPANIONS = "in FOSSEE/Python-Textbook-Companions: "
"""Where the books' examples were read."""
STRAIGHT = 0.9999
"""Straight part moved out of the way: the published flows have none."""


def perfect_flow(area, p1, T1, p2, gamma, gas_constant):
    """Orifice flow of a perfect gas, kg/s, through the program's orifice."""
    return orifice_flow(area, p1, p1 / (gas_constant * T1), gamma, p2, STRAIGHT)


def test_unchoked_nozzle():
    source = PUBLISHED + COMPANIONS + "Fox and McDonald, Introduction to Fluid Mechanics, Example 12.2 (book: 2.20 kg/s)"
    got = perfect_flow(1e-3, 1e6, 333.0, 591e3, 1.4, 287.0)
    held("b-fox-12.2", "unchoked nozzle, air 10 bar to 5.91 bar, 10 cm2", source, 2.1956, got, 0.003, "kg/s")


def test_choked_leak_of_a_tyre():
    source = PUBLISHED + COMPANIONS + "Cengel and Cimbala, Fluid Mechanics, Example 12-5"
    got = perfect_flow(math.pi / 4.0 * 0.004**2, 314e3, 298.0, 94e3, 1.4, 287.0)
    held("b-cengel-tire", "choked air leak, 3.14 bar, 4 mm hole", source, 0.00924, got, 0.002, "kg/s")


def test_component_flow_choked():
    source = EVALUATED + "ISO 6358-1:2013, choked branch, C p1 rho_0 sqrt(T0/T1), C 2 dm3/(s bar), 7 bar, 300 K"
    area = area_of_conductance(2e-8)
    rho = 7e5 / (AIR_GAS_CONSTANT * 300.0)
    got = component_flow(area, 0.3, 0.5, 7e5, rho, 1.4, 1.4e5, 0.995)
    held("b-ISO6358-flow-choked", "choked flow of an ISO 6358 component", source, 0.0163995, got, 1e-4, "kg/s")


@pytest.mark.parametrize("r", [0.4, 0.6, 0.9])
def test_component_flow_subsonic(r):
    """Below choking the standard's ellipse, written here from the standard."""
    area = area_of_conductance(2e-8)
    rho = 7e5 / (AIR_GAS_CONSTANT * 300.0)
    expected = 0.0163995 * math.sqrt(1.0 - ((r - 0.3) / 0.7) ** 2)
    got = component_flow(area, 0.3, 0.5, 7e5, rho, 1.4, r * 7e5, 0.995)
    source = EVALUATED + "ISO 6358-1:2013, subsonic branch, m = 0.5"
    held(f"b-ISO6358-subsonic-{r}", f"subsonic flow at p2/p1 = {r}", source, expected, got, 1e-4, "kg/s")


def test_constants_of_the_flow_law_for_air():
    """C1 and C2 of mdot = Cf A C1 p/sqrt(T) and Cf A C2 p/sqrt(T) r^(1/g) sqrt(1 - r^((g-1)/g))."""
    source = PUBLISHED + "Richer and Hurmuzlu, J. Dyn. Syst. Meas. Control 122 (2000) 416"
    held("b-RichH-C1", "C1 of choked air flow", source, 0.040418, psi(1.4) / math.sqrt(287.0), 1e-4, "sqrt(K) s/m")
    r, p, T = 0.8, 5e5, 300.0
    flow = perfect_flow(1.0, p, T, r * p, 1.4, 287.0)
    got = flow * math.sqrt(T) / p / (r ** (1 / 1.4) * math.sqrt(1.0 - r ** (0.4 / 1.4)))
    held("b-RichH-C2", "C2 of subsonic air flow", source, 0.156174, got, 1e-4, "sqrt(K) s/m")


def test_free_jet_contraction_through_the_liquid_orifice():
    """The sharp slot's contraction, pi/(pi+2), enters as Cd; the jet then leaves with Bernoulli's speed."""
    from sleevelift.physics.liquid import orifice_liquid_flow

    width, rho, dp = 1e-4, 998.2, 1e6
    speed = math.sqrt(2.0 * dp / rho)
    jet_area = orifice_liquid_flow(math.pi / (math.pi + 2.0) * width, rho, dp) / (rho * speed)
    source = CLOSED_FORM + "Kirchhoff free streamline, pi/(pi+2) (Milne-Thomson; Merritt 1967 uses 0.611)"
    held(
        "b-vena",
        "jet area over slot area, sharp two-dimensional slot",
        source,
        0.6110154703516573,
        jet_area / width,
        1e-6,
    )


@pytest.mark.parametrize("gamma", [1.1, 1.3, 1.4, 5.0 / 3.0])
def test_choked_constant_with_fluids(gamma):
    """API 520's C is 0.03948 sqrt(k (2/(k+1))^((k+1)/(k-1))), the same group as Psi; critical ratio by fluids too."""
    fluids = pytest.importorskip("fluids")
    source = COMPUTED + f"fluids {fluids.__version__}, API520_C and P_critical_flow, run live"
    expected = fluids.safety_valve.API520_C(gamma) / 0.03948
    held(f"b-psi-{gamma:.2f}", f"Psi({gamma:.3f})", source, expected, psi(gamma), 1e-4)
    _, r_star = choked_flux(1e5, 1.0, gamma)
    held(
        f"b-rstar-{gamma:.2f}",
        f"critical ratio at {gamma:.3f}",
        source,
        fluids.P_critical_flow(1.0, gamma),
        r_star,
        1e-9,
    )
    assert gamma_squared(gamma) == pytest.approx(psi(gamma) ** 2, rel=1e-12)


@pytest.mark.parametrize("r", [0.55, 0.8, 0.95])
def test_subsonic_fraction_with_fluids(r):
    """API 520's subcritical F2 is the nozzle's expansion factor: flow = F2 sqrt(2 p1 rho1 (1 - r)), here over choked
    flow."""
    fluids = pytest.importorskip("fluids")
    f2 = fluids.safety_valve.API520_F2(1.4, 1.0, r)
    expected = f2 * math.sqrt(2.0 * (1.0 - r)) / psi(1.4)
    got = subsonic_fraction(r, 1.4, choked_flux(1e5, 1.0, 1.4)[1])
    source = COMPUTED + f"fluids {fluids.__version__}, API520_F2, run live"
    held(f"b-subsonic-{r}", f"subsonic over choked flow at p2/p1 = {r}", source, expected, got, 1e-9)


CRITICAL = [
    # gas, K, Pa, exact critical flux kg/(s m2), what the constant exponent overstates by (MODEL.md, section 3)
    ("nitrogen", 293.15, 31e5, 7280.59, 0.0034),
    ("nitrogen", 300.0, 10e5, 2302.60, 0.0010),
    ("air", 300.0, 100e5, 24189.17, 0.0120),
    ("nitrogen", 300.0, 200e5, 48370.07, 0.0258),
    ("helium", 293.15, 300e5, 26903.64, 0.0056),
    ("argon", 293.15, 200e5, 66068.71, 0.0212),
    ("argon", 180.0, 60e5, 27634.69, 0.0209),
    ("nitrogen", 250.0, 350e5, 99108.44, 0.0394),
    ("nitrogen", 200.0, 200e5, 72080.52, 0.0458),
    ("air", 200.0, 200e5, 76009.39, 0.0479),
    ("nitrogen", 130.0, 30e5, 13174.51, 0.0195),
    ("nitrogen", 150.0, 100e5, 58390.48, 0.0676),
]
"""The flux: greatest rho sqrt(2 (h0 - h)) on the isentrope, CoolProp 8.0.0, gas phase imposed (nothing condenses)."""


@pytest.mark.parametrize("name, T, p, flux, over", CRITICAL)
def test_constant_exponent_against_exact_critical_flow(name, T, p, flux, over):
    """The orifice law overstates real critical flow by what MODEL.md says, no more and no less."""
    gas = load_gas(name)
    rho, u, _ = gas_at(p, T, gas)
    _, _, n, _ = gas_state(rho, u, gas)
    got = orifice_flow(1.0, p, rho, n, 1e5, 0.995)
    source = COMPUTED + f"greatest rho sqrt(2 (h0 - h)), CoolProp 8.0.0, times the {over:+.2%} the law is known to be off"
    quantity = f"choked flux of {name} at {T:.0f} K, {p / 1e5:.0f} bar"
    held(f"b-real-{name}-{p / 1e5:.0f}-{T:.0f}", quantity, source, flux * (1.0 + over), got, 2e-4, "kg/(s m2)")


@pytest.mark.parametrize("name, T, p, flux, over", CRITICAL)
def test_the_size_of_the_orifice_law_s_error_is_known(name, T, p, flux, over):
    """What a run says of its own error, against the same exact flux; 1 % where the throat lies deep in the wet region."""
    assert orifice_error(p, T, load_gas(name)) == pytest.approx(over, abs=10e-3 if T < 160.0 else 1e-4)


@pytest.mark.parametrize("second", [0.6, 1.0, 3.0])
def test_series_of_two_components_against_its_definition(second):
    """C of two components in series is exact: solved here for the pressure between them, both flows by the ellipse."""
    from scipy.optimize import brentq

    c1, b1, c2, b2 = 2e-8, 0.35, second * 2e-8, 0.25
    c, _ = series_component(c1, b1, c2, b2)

    def ellipse(r, b):
        return 1.0 if r <= b else math.sqrt(1.0 - ((r - b) / (1.0 - b)) ** 2)

    middle = brentq(lambda p: c1 * ellipse(p, b1) - c2 * p, 1e-9, 1.0 - 1e-12)
    source = CLOSED_FORM + "flow of both equal, second choked; pressure between by scipy brentq"
    held(
        f"b-series-{second}",
        f"sonic conductance in series, C2/C1 = {second}",
        source,
        c2 * middle,
        c,
        1e-6,
        "m3/(s Pa)",
    )
