"""Area b, conversions only: Kv, Cv, sonic conductance and critical ratio, series, tubes; against published and
computed."""

import math

import pytest
from _record import CLOSED_FORM, held
from scipy.optimize import brentq
from sleevelift.constants import AIR_EXPONENT, AIR_GAS_CONSTANT, ANR_DENSITY, ANR_TEMPERATURE
from sleevelift.physics.restriction import area_of_conductance, conductance_of_area, series_component
from sleevelift.physics.tube import tube_component
from sleevelift.sizing.chamber import choked_flow_factor
from sleevelift.sizing.orifice_sizes import kv_of_cv, kv_to_component


def iso_flow(pressure_ratio, critical_ratio):
    """Share of the choked flow, ISO 6358-1, m = 0.5: written here from the standard, independent of sim/."""
    if pressure_ratio <= critical_ratio:
        return 1.0
    return math.sqrt(max(0.0, 1.0 - ((pressure_ratio - critical_ratio) / (1.0 - critical_ratio)) ** 2))


def test_kv_per_cv():
    """b-Kv-Cv. Closed form: sqrt(psi/bar)/(US gallon per minute in m3/h), exact units; fluids 1.3.1 the same:
    1.156099."""
    source = CLOSED_FORM + "exact units, sqrt(psi/bar)/(gal/min)"
    held("b-Kv-Cv", "Cv per Kv", source, 1.156099, 1.0 / kv_of_cv(1.0), 1e-5)


def test_kv_per_cv_with_fluids():
    """Computed: fluids.control_valve.convert_flow_coefficient, run live."""
    fluids = pytest.importorskip("fluids")
    assert kv_of_cv(2.5) == pytest.approx(fluids.control_valve.convert_flow_coefficient(2.5, "Cv", "Kv"), rel=1e-6)


def test_conductance_per_effective_area():
    """b-ISO6358-C-A. Closed form from ISO 6358-1 and ISO 8778: C = Cd A 0.68473/(rho_0 sqrt(R T_0)); R 287.06 there."""
    source = CLOSED_FORM + "ISO 6358-1 and ISO 8778: C = Cd A 0.68473/(rho_0 sqrt(R T_0))"
    held(
        "b-ISO6358-C-A",
        "sonic conductance of 1 mm2",
        source,
        0.19919,
        conductance_of_area(1e-6) * 1e8,
        0.002,
        "dm3/(s bar)",
    )
    assert area_of_conductance(conductance_of_area(1e-6)) == pytest.approx(1e-6, rel=1e-14)


def test_component_flow_of_kv_when_choked():
    """C of a Kv passes, in choked air at the reference temperature, what IEC 60534-2-1 says (fluids, run live)."""
    fluids = pytest.importorskip("fluids")
    conductance, critical_ratio, exponent = kv_to_component(1.0, xt=0.72)
    flow = conductance * 7e5 * ANR_DENSITY  # kg/s at 293.15 K
    molar_mass = 8.314462618 / AIR_GAS_CONSTANT
    normal = flow / molar_mass * 22.413969e-3  # m3/s at 0 C and 1 atm
    kv = fluids.size_control_valve_g(
        T=ANR_TEMPERATURE, MW=molar_mass * 1e3, mu=1.8e-5, gamma=1.4, Z=1.0, P1=7e5, P2=1e5, Q=normal, xT=0.72
    )
    assert kv == pytest.approx(1.0, rel=1.5e-3)
    assert (critical_ratio, exponent) == (pytest.approx(0.28), 0.5)


@pytest.mark.parametrize("xt", [0.4, 0.72])
def test_component_flow_of_kv_below_choking(xt):
    """The ellipse of (b, m) follows IEC's 1.5 (1 - z/3) sqrt(z), z = x/x_T, between 0 and -5.8 % (closed form
    sqrt(8)/3 - 1)."""
    _, critical_ratio, _ = kv_to_component(1.0, xt)
    for z in (0.01, 0.1, 0.3, 0.6, 0.9, 1.0):
        iec = 1.5 * (1.0 - z / 3.0) * math.sqrt(z)
        assert -0.058 <= iso_flow(1.0 - z * xt, critical_ratio) / iec - 1.0 <= 1e-12
    assert math.sqrt(8.0) / 3.0 - 1.0 == pytest.approx(-0.0572, abs=1e-4)


PAIRS = [(2e-8, 0.3, 1e-8, 0.4), (1e-8, 0.4, 2e-8, 0.3), (1e-8, 0.5, 1e-8, 0.5), (3e-8, 0.2, 5e-9, 0.528)]
WORST_PAIRS = [(1e-8, 0.1, 1e-8, 0.528), (6.3e-9, 0.528, 1e-8, 0.1)]  # of a scan over C1/C2 and both b


@pytest.mark.parametrize(("c1", "b1", "c2", "b2"), PAIRS + WORST_PAIRS)
def test_series_against_the_pressure_between(c1, b1, c2, b2):
    """Closed form by a root find: same flow through both at the pressure between; C exact, flow within 2.1 %.

    That bound is the scan's (docstring of `series_component`), reached by the first of the worst pairs. Stagnation
    temperature constant (perfect gas). C: the second choked, C1 iso(r, b1) = C2 r.
    """
    combined, critical = series_component(c1, b1, c2, b2)

    def flow(pressure_ratio):
        def difference(middle):
            return c1 * iso_flow(middle, b1) - c2 * middle * iso_flow(pressure_ratio / middle, b2)

        if difference(1.0 - 1e-12) >= 0.0:
            return c1 * iso_flow(1.0 - 1e-12, b1)
        return c1 * iso_flow(brentq(difference, max(pressure_ratio, 1e-9), 1.0 - 1e-12), b1)

    assert combined == pytest.approx(flow(1e-6), rel=1e-9)
    largest = max(abs(combined * iso_flow(r, critical) - flow(r)) / combined for r in (0.05, 0.2, 0.4, 0.6, 0.8, 0.9, 0.98))
    assert largest < 0.021


def test_series_limits():
    """A second component much larger changes nothing in C; equal flow area twice in liquid-like low drop adds 1/C^2."""
    assert series_component(1e-8, 0.4, 1.0, 0.5) == (pytest.approx(1e-8), pytest.approx(0.4, abs=1e-9))
    assert series_component(1.0, 0.5, 1e-8, 0.4)[0] == pytest.approx(1e-8, rel=1e-6)
    c1, b1, c2, b2 = 2e-8, 0.3, 1e-8, 0.4  # dp -> 0: w^2 = 2 C^2/(1-b) p dp, so (1-b)/C^2 adds
    combined, critical = series_component(c1, b1, c2, b2)
    assert (1.0 - critical) / combined**2 == pytest.approx((1.0 - b1) / c1**2 + (1.0 - b2) / c2**2, rel=1e-12)


def fanno_conductance(bore, length, pressure):
    """C of a smooth adiabatic tube, sonic at its end, sharp entrance (loss 0.5), from Fanno flow; friction from
    fluids."""
    fluids = pytest.importorskip("fluids")
    gamma, area = AIR_EXPONENT, math.pi / 4.0 * bore**2

    def length_to_sonic(mach):
        square = mach * mach
        inside = (gamma + 1.0) * square / (2.0 + (gamma - 1.0) * square)
        return (1.0 - square) / (gamma * square) + (gamma + 1.0) / (2.0 * gamma) * math.log(inside)

    flow = area * pressure * choked_flow_factor(gamma) / math.sqrt(AIR_GAS_CONSTANT * ANR_TEMPERATURE)
    for _ in range(30):
        friction = fluids.friction_factor(Re=4.0 * flow / (math.pi * bore * 1.82e-5), eD=0.0)
        mach = brentq(lambda m, friction=friction: length_to_sonic(m) - friction * length / bore, 1e-4, 1.0 - 1e-9)
        heat = 1.0 + 0.5 * (gamma - 1.0) * mach**2
        inlet = pressure / (1.0 + 0.5 * 0.5 * gamma * mach**2 * heat ** (-gamma / (gamma - 1.0)))
        shape = mach * heat ** (-(gamma + 1.0) / (2.0 * (gamma - 1.0)))
        flow = inlet * area * shape * math.sqrt(gamma / (AIR_GAS_CONSTANT * ANR_TEMPERATURE))
    return flow / (pressure * ANR_DENSITY)


@pytest.mark.parametrize(("pressure", "low", "high"), [(3e5, 0.98, 1.05), (7e5, 1.03, 1.13), (30e5, 1.05, 1.30)])
def test_tube_formula_against_adiabatic_pipe_flow(pressure, low, high):
    """Computed: Fanno flow with fluids' smooth-pipe friction. The formula is low by what its docstring says, no
    more."""
    for bore in (2e-3, 4e-3, 8e-3):
        for length in (0.1, 0.8, 5.0):
            ratio = fanno_conductance(bore, length, pressure) / tube_component(bore, length)[0]
            assert low <= ratio <= high


def test_tube_limits():
    """C grows with the bore, falls with the length, stays below the bare bore; b falls along with C."""
    values = [tube_component(4e-3, length) for length in (0.0, 0.1, 1.0, 10.0)]
    assert all(a[0] > b[0] and a[1] > b[1] for a, b in zip(values, values[1:]))
    assert values[0][0] < conductance_of_area(math.pi / 4.0 * 4e-3**2)
    assert tube_component(5e-3, 1.0)[0] > tube_component(4e-3, 1.0)[0]
