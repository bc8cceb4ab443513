"""Area c: filling and blow-down of vessels through the program's own gas node, orifice and gas tables.

Blow-downs run the whole plant: the spring side, its initial pressure and its vent are the vessel and its orifice, the
sleeve stays on its seat (the pressure holds it there). Measured series have unknown inputs, which are said: the
discharge coefficient is fitted by the source or here on the first points, and wall heat is bracketed between none and
all of it."""

import math
from functools import lru_cache

import numpy as np
import pytest
from _record import CLOSED_FORM, COMPUTED, EVALUATED, MEASURED, between, held, pictured, stated
from runs import bare_machine, changed
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, root
from sleevelift import simulate
from sleevelift.gas_tables import load_gas
from sleevelift.physics.gas import gas_at, perfect_gas
from sleevelift.physics.gas_node import node_state
from sleevelift.physics.restriction import orifice_flow
from sleevelift.plant.reservoir_state import gas_table

BAR = 1e5
ISOTHERMAL = 1e7
"""W/K of wall: so much that the gas keeps the wall's temperature."""


def vessel(
    volume, area, p, T, p_back, end, *, wall=0.0, T_wall=None, gas="nitrogen", gamma=None, gas_constant=None, tolerance=1e-6
):
    """Result of a blow-down of `volume` m3 through Cd A = `area` m2; `wall` W/K, `T_wall` K (the gas's own T without)."""
    model = "real" if gamma is None else "perfect"
    case = changed(
        bare_machine(),
        gas__name=gas,
        gas__model=model,
        gas__gamma=gamma or 1.4,
        gas__gas_constant=gas_constant or 296.8,
        ambient__pressure=p_back,
        ambient__temperature=T,
        supply__pressure=p_back,
        supply__temperature=T,
        lift_chamber__pressure=p_back,
        spring_side__volume=volume,
        spring_side__pressure=p,
        spring_side__temperature=T,
        spring_side__wall_temperature=T_wall or T,
        spring_side__wall_area=1.0 if wall else 0.0,
        spring_side__wall_coefficient=wall,
        spring_side__vent_orifice=math.sqrt(4.0 / math.pi * area),
        spring_side__vent_discharge_coefficient=1.0,
        run__end=end,
        run__tolerance=tolerance,
        run__laminar_above=0.9999,
    )
    result = simulate(case)
    assert result.failure is None, result.failure
    assert set(np.unique(result.traces["mode"])) == {0}, "the sleeve stays on its seat"
    return result


def pressure_at(result, instants):
    """Vessel pressure, bar, at instants, s."""
    return np.interp(instants, result.traces["time"], result.traces["spring_side_pressure"]) / BAR


def temperature_at(result, instants):
    """Vessel temperature, K, at instants, s."""
    return np.interp(instants, result.traces["time"], result.traces["spring_side_temperature"])


def time_to(result, p):
    """Instant, s, at which the vessel's pressure has fallen to p, Pa."""
    trace = np.log(result.traces["spring_side_pressure"])  # nearly straight over time
    return float(np.interp(-math.log(p), -trace, result.traces["time"]))


def test_isothermal_blow_down():
    source = CLOSED_FORM + "dm/dt = -K Cd A p/sqrt(R T), p = m R T/V: t = tau ln(p0/p1), tau = V/(Cd A K sqrt(R T))"
    run = vessel(1e-3, 1e-6, 70 * BAR, 300.0, 1e5, 10.0, wall=ISOTHERMAL, gamma=1.4, gas_constant=296.8)
    held(
        "c-blow-iso-N2",
        "isothermal choked blow-down, 1 litre, 1 mm2, 70 to 10 bar",
        source,
        9.52379,
        time_to(run, 10 * BAR),
        0.001,
        "s",
    )


def test_adiabatic_blow_down():
    source = CLOSED_FORM + "T = T0 (p/p0)^((g-1)/g): t = tau 2/(g-1) ((p0/p1)^((g-1)/(2g)) - 1)"
    run = vessel(1e-3, 1e-6, 70 * BAR, 300.0, 1e5, 2.6, gas="helium", gamma=1.66667, gas_constant=2077.1)
    instant = time_to(run, 10 * BAR)
    held("c-blow-ad-He", "adiabatic choked blow-down, perfect helium, 70 to 10 bar", source, 2.48992, instant, 0.001, "s")
    held("c-blow-ad-He-T", "its end temperature", source, 137.75, temperature_at(run, instant), 0.001, "K")


def test_adiabatic_unchoked_discharge():
    """Time from p/pb = 1.5 to where equal pressures are all but reached; the root's last part is straight (0.9999)."""
    source = EVALUATED + "Dutton and Coverdill, Int. J. Engng Ed. 13 (1997) 123-134, eqs (3)-(5)"
    back, start = 1e5, 1.5

    def dimensionless(ratio):
        chi = math.sqrt(ratio ** (2.0 / 7.0) - 1.0)
        return (chi**3 / 4.0 + 5.0 * chi / 8.0) * math.sqrt(chi**2 + 1.0) + 0.375 * math.asinh(chi)

    scale = 1e-3 / (1e-6 * math.sqrt(1.4 * 287.0 * 300.0)) * math.sqrt(2.0 / 0.4) * start ** (0.2 / 1.4)
    run = vessel(1e-3, 1e-6, start * back, 300.0, back, 3.0, gamma=1.4, gas_constant=287.0, tolerance=1e-8)
    near = 1.001
    got = time_to(run, near * back) + scale * dimensionless(near)  # the rest of the way by the formula: 2 % of the time
    held("c-DC-ad", "adiabatic unchoked discharge, p/pb from 1.5 to 1, perfect air", source, 2.54131, got, 1e-4, "s")


def filling(gas, p_supply, T_supply, volume, area, p_end, p_start=1e3):
    """(time s, T K) of an adiabatic vessel filled to p_end, Pa, from a constant supply, by the program's node and
    orifice."""
    rho_s, u_s, _ = gas_at(p_supply, T_supply, gas)
    supply = node_state(rho_s, rho_s * u_s, 1.0, gas)
    rho_0, u_0, _ = gas_at(p_start, T_supply, gas)

    def rates(t, y):
        node = node_state(y[0], y[1], volume, gas)
        w = orifice_flow(area, p_supply, rho_s, supply[3], node[0], 0.9999)
        return [w, w * supply[4]]

    def full(t, y):
        return node_state(y[0], y[1], volume, gas)[0] - p_end

    full.terminal = True
    start = [rho_0 * volume, rho_0 * volume * u_0]
    longest = 30.0 * volume / (area * 200.0)
    run = solve_ivp(rates, (0.0, longest), start, events=full, rtol=1e-9, atol=1e-12, max_step=longest / 50.0)
    assert run.t_events[0].size == 1, "the vessel fills"
    return float(run.t_events[0][0]), node_state(*run.y_events[0][0], volume, gas)[1]


def test_final_temperature_of_filling_perfect_gas():
    source = CLOSED_FORM + "m2 u2 = m2 h_s: T2 = gamma T_s"
    for name, gamma, gas_constant, expected in (("nitrogen", 1.4, 296.8, 420.0), ("helium", 5 / 3, 2077.1, 500.0)):
        _, T = filling(perfect_gas(gamma, gas_constant), 70 * BAR, 300.0, 1e-3, 1e-6, 0.9999 * 70 * BAR, p_start=1.0)
        key = "c-fill-T-ideal" if name == "nitrogen" else "c-fill-T-ideal-He"
        held(key, f"evacuated vessel filled with perfect {name}", source, expected, T, 1e-6, "K")


@pytest.mark.parametrize("p, expected", [(200 * BAR, 517.602), (70 * BAR, 506.241)])
def test_final_temperature_of_filling_real_helium(p, expected):
    """Above the perfect gas's 500 K. The vessel starts at 1 kPa, the tables' lower end, which is as good as empty."""
    _, T = filling(load_gas("helium"), p, 300.0, 1e-3, 1e-6, 0.9999 * p)
    source = COMPUTED + "CoolProp 8.0.0, u(T2, p) = h(300 K, p)"
    held(
        "c-fill-T-real-He" if p == 200 * BAR else "c-fill-T-real-He-70",
        f"evacuated vessel filled with real helium to {p / BAR:.0f} bar",
        source,
        expected,
        T,
        0.001,
        "K",
    )


def test_final_temperature_of_filling_with_coolprop():
    """The same for nitrogen at 150 bar, CoolProp run live."""
    coolprop = pytest.importorskip("CoolProp.CoolProp")
    h = coolprop.PropsSI("H", "T", 300.0, "P", 150e5, "Nitrogen")
    expected = brentq(lambda T: coolprop.PropsSI("U", "T", T, "P", 150e5, "Nitrogen") - h, 310.0, 500.0)
    _, T = filling(load_gas("nitrogen"), 150 * BAR, 300.0, 1e-3, 1e-6, 0.9999 * 150 * BAR)
    held(
        "c-fill-T-real-N2",
        "evacuated vessel filled with real nitrogen to 150 bar",
        COMPUTED + "CoolProp, run live",
        expected,
        T,
        0.001,
        "K",
    )


def test_choked_filling_rate():
    source = CLOSED_FORM + "dp/dt = g R T_s w/V, a straight line up to p = 0.5283 p_s"
    gas = perfect_gas(1.4, 296.8)
    t, _ = filling(gas, 70 * BAR, 300.0, 1e-3, 1e-6, 0.5283 * 70 * BAR, p_start=1.0)
    held("c-fill-rate-time", "choked filling from vacuum to 0.5283 of 70 bar", source, 1.84682, t, 0.001, "s")
    held(
        "c-fill-rate",
        "pressure rise, choked nitrogen into 1 litre through 1 mm2",
        source,
        2002350.0,
        0.5283 * 70 * BAR / t,
        0.001,
        "Pa/s",
    )


def free_convection(gas_name, T_gas, T_wall, p, wall_area):
    """h A, W/K, of turbulent free convection inside a vessel: Nu = 0.13 Ra^(1/3) (McAdams, Heat Transmission, 1954).

    The length cancels. Properties at the film temperature from CoolProp.
    """
    coolprop = pytest.importorskip("CoolProp.CoolProp")
    film = 0.5 * (T_gas + T_wall)
    rho, cp, k, mu, beta = (
        coolprop.PropsSI(key, "T", film, "P", p, gas_name) for key in ("D", "C", "L", "V", "isobaric_expansion_coefficient")
    )
    rayleigh_per_cube = 9.81 * beta * abs(T_wall - T_gas) * rho**2 * cp / (mu * k)
    return 0.13 * k * rayleigh_per_cube ** (1.0 / 3.0) * wall_area


HAQUE_T = [0.28869, 5.2776, 10.214, 15.131, 19.77, 24.674, 29.847, 34.747, 39.644, 44.541, 49.436]
HAQUE_P = [150.02, 92.559, 65.72, 50.581, 39.226, 31.656, 25.806, 20.989, 17.548, 14.108, 12.043]
HAQUE_GAS_HIGH = ([0.05, 5.08, 10.09, 20.01, 30.12], [288.93, 261.4, 238.25, 213.58, 206.68])
HAQUE_GAS_LOW = ([0.32, 5.4, 10.41, 20.33, 30.19], [288.67, 251.87, 228.21, 203.8, 192.0])
HAQUE = MEASURED + (
    "Haque, Richardson, Saville, Chamberlain and Shirvill, Trans IChemE B 70 (1992) 10-17, "
    "experiment I1, digitised in andr1976/HydDown (MIT), validation/N2_Exp_I1.yml; Cd 0.8 is that repository's fit, not data"
)


@lru_cache(maxsize=1)
def haque():
    """Runs of experiment I1 (0.0892 m3 of steel vessel, 6.35 mm orifice) by their wall heat: name -> (result, W/K).

    `correlation`: free convection at 92 bar, nothing fitted. `by temperature`: fitted so that the gas is at 233.2 K
    after 10.25 s, the mean of the highest and lowest measured; no pressure is fitted but through the source's Cd."""
    area = 0.8 * math.pi / 4.0 * 0.00635**2

    def run(wall):
        return vessel(0.089207, area, 150 * BAR, 288.7, 101300.0, 50.0, wall=wall, tolerance=1e-5)

    surface = math.pi * 0.273 * 1.524 + 2.0 * math.pi / 4.0 * 0.273**2
    correlation = free_convection("Nitrogen", 255.0, 288.7, 92 * BAR, surface)
    fitted = brentq(lambda wall: temperature_at(run(wall), 10.25) - 233.2, 50.0, 1000.0, xtol=1.0)
    walls = {"adiabatic": 0.0, "isothermal": ISOTHERMAL, "correlation": correlation, "by temperature": fitted}
    return {name: (run(wall), wall) for name, wall in walls.items()}


def test_measured_nitrogen_blow_down():
    """The points at 5.28 and 19.77 s lie between no wall heat and all of it, and within 6 % of the run whose wall
    heat follows from the measured gas temperature. With wall heat from a correlation alone the error is stated as it
    is."""
    runs = haque()
    for key, t, p in (("c-haque-5", 5.2776, 92.559), ("c-haque-19", 19.77, 39.226)):
        got = {name: float(pressure_at(run, t)) for name, (run, _) in runs.items()}
        quantity = f"measured pressure at {t} s between adiabatic and isothermal"
        between(f"{key}-bracket", quantity, HAQUE, got["adiabatic"], p, got["isothermal"], "bar")
        quantity = f"pressure at {t} s, {runs['by temperature'][1]:.0f} W/K fitted to the gas temperature at 10 s"
        held(key, quantity, HAQUE, p, got["by temperature"], 0.06, "bar")
        quantity = f"pressure at {t} s, free convection {runs['correlation'][1]:.0f} W/K, nothing fitted"
        stated(f"{key}-correlation", quantity, HAQUE, p, got["correlation"], "bar")
    pictured(
        "haque", "Nitrogen blow-down from 150 bar, 0.0892 m3, 6.35 mm orifice", "time, s", "pressure, bar absolute",
        {"measured": (HAQUE_T, HAQUE_P)},
        {name: (run.traces["time"], run.traces["spring_side_pressure"] / BAR) for name, (run, _) in runs.items()},
    )  # fmt: skip
    pictured(
        "haque-T", "Its gas temperature", "time, s", "temperature, K",
        {"measured, highest": HAQUE_GAS_HIGH, "measured, lowest": HAQUE_GAS_LOW},
        {name: (run.traces["time"], run.traces["spring_side_temperature"]) for name, (run, _) in runs.items()},
    )  # fmt: skip


def test_measured_nitrogen_blow_down_whole_series():
    """The worst error of the series, stated. After 30 s the lumped runs fall below the points whatever the wall heat:
    the cold gas lies at the bottom of the real vessel, and one coefficient holds for all pressures here."""
    for name in ("by temperature", "correlation"):
        got = pressure_at(haque()[name][0], HAQUE_T[1:])
        p = np.array(HAQUE_P[1:])
        worst = int(np.argmax(np.abs(got / p - 1.0)))
        quantity = f"worst point of the series, wall heat {name}, at {HAQUE_T[1 + worst]} s"
        stated(f"c-haque-worst-{name.replace(' ', '-')}", quantity, HAQUE, p[worst], got[worst], "bar")
        assert HAQUE_T[1 + worst] > 30.0 and got[worst] < p[worst]  # what is said above


WOODFIELD_T = [0.168, 2.525, 4.819, 7.183, 9.48, 11.85]
WOODFIELD_P = [96.55, 64.81, 44.66, 32.51, 24.22, 18.14]
WOODFIELD = MEASURED + (
    "Woodfield, Monde et al., J. Thermal Sci. Technol. 2/3 (2007-2008), digitised in andr1976/HydDown (MIT), "
    "validation/dischargeH2_woodfield.yml, whose fit Cd 0.84 is"
)


def test_measured_hydrogen_discharge():
    """0.937 litre, 0.5 mm orifice, 100 bar; between adiabatic and isothermal through the hydrogen table."""
    area = 0.84 * math.pi / 4.0 * 0.0005**2
    arguments = (0.00093659, area, 100 * BAR, 306.0, 101300.0, 12.0)
    adiabatic = vessel(*arguments, gas="hydrogen")
    isothermal = vessel(*arguments, wall=ISOTHERMAL, gas="hydrogen")
    t, p = np.array(WOODFIELD_T), np.array(WOODFIELD_P)
    low, high = pressure_at(adiabatic, t), pressure_at(isothermal, t)
    between(
        "c-woodfield-H2-bracket",
        "measured pressure at 4.819 s between adiabatic and isothermal",
        WOODFIELD,
        low[2],
        p[2],
        high[2],
        "bar",
    )
    held(
        "c-woodfield-H2",
        "pressure at 4.819 s, middle of the bracket",
        WOODFIELD,
        p[2],
        0.5 * (low[2] + high[2]),
        0.08,
        "bar",
    )
    middle = 0.5 * (low + high)
    worst = int(np.argmax(np.abs(middle / p - 1.0)))
    stated(
        "c-woodfield-worst",
        f"worst point of the series, middle of the bracket, at {t[worst]} s",
        WOODFIELD,
        p[worst],
        middle[worst],
        "bar",
    )
    pictured(
        "woodfield", "Hydrogen discharge, 100 bar, 0.937 litre, 0.5 mm orifice", "time, s", "pressure, bar absolute",
        {"measured": (t, p)},
        {name: (run.traces["time"], run.traces["spring_side_pressure"] / BAR) for name, run in
         (("adiabatic", adiabatic), ("isothermal", isothermal))},
    )  # fmt: skip


BYRNES_T = [3.41, 6.71, 9.96, 13.3, 16.6, 23.2]
BYRNES_P = [104.0, 77.4, 57.3, 42.8, 32.9, 21.5]
BYRNES_TEMPERATURE = ([3.6, 10.1, 20.0], [275.7, 241.3, 222.5])
BYRNES = MEASURED + (
    "Byrnes, Reid and Ruccia, rapid depressurization of gas storage cylinder (1964), run 7, digitised in andr1976/HydDown (MIT), "
    "validation/Byrnes_run7.yml"
)


def byrnes(area, wall, p=138.0, T=300.0):
    """Run 7 from pressure p, bar, and T, K: 0.0499 m3 of hydrogen through Cd A = area."""
    return vessel(0.0499, area, p * BAR, T, 101300.0, 24.0, wall=wall, gas="hydrogen", tolerance=1e-5)


def byrnes_area(wall, first, to_reach, **start):
    """Cd A, m2, that brings run 7 to `to_reach` bar after `first` s."""
    return brentq(lambda a: pressure_at(byrnes(a, wall, **start), first) - to_reach, 1e-6, 2e-5, xtol=1e-10)


def test_measured_hydrogen_blow_down_with_the_area_of_its_first_seconds():
    """Cd A fitted to 104 bar at 3.41 s, the rest predicted: 10 % too high at 9.96 s, stated as it is.

    No wall heat mends it (isothermal: 8 %). d ln p/dt of the points is 0.083, 0.089, 0.093 per s over the first three
    intervals, while with a constant opening it must fall with the gas's temperature: the valve was still opening in
    the first interval."""
    adiabatic = byrnes(byrnes_area(0.0, 3.41, 104.0), 0.0)
    isothermal = byrnes(byrnes_area(ISOTHERMAL, 3.41, 104.0), ISOTHERMAL)
    for name, run in (("adiabatic", adiabatic), ("isothermal", isothermal)):
        quantity = f"pressure at 9.96 s, {name}, Cd A fitted to 3.41 s while the valve was still opening"
        got = float(pressure_at(run, 9.96))
        stated(f"l-byrnes7-first-{name}", quantity, BYRNES, 57.3, got, "bar")
        assert got > 57.3  # too high, as a valve that was still opening makes it


def test_measured_hydrogen_blow_down_once_the_valve_is_open():
    """From the point at 3.41 s (104 bar, 275.7 K measured) on: Cd A from the next point, wall heat from the gas
    temperature at 10.1 s; every later pressure is predicted."""
    start = {"p": 104.0, "T": 275.7}
    since = np.array(BYRNES_T) - 3.41

    def misses_temperature(wall):
        run = byrnes(byrnes_area(wall, since[1], 77.4, **start), wall, **start)
        return temperature_at(run, 10.1 - 3.41) - 241.3

    wall = brentq(misses_temperature, 0.0, 600.0, xtol=1.0)
    best = byrnes(byrnes_area(wall, since[1], 77.4, **start), wall, **start)
    adiabatic = byrnes(byrnes_area(0.0, since[1], 77.4, **start), 0.0, **start)
    got = pressure_at(best, since)
    held(
        "l-byrnes7",
        f"pressure at 9.96 s, Cd A from 6.71 s, {wall:.0f} W/K from 241.3 K",
        BYRNES,
        57.3,
        got[2],
        0.06,
        "bar",
    )
    held("l-byrnes7-adiabatic", "the same, adiabatic", BYRNES, 57.3, float(pressure_at(adiabatic, since[2])), 0.06, "bar")
    cold = pressure_at(adiabatic, since)
    for t, p, with_heat, without in zip(BYRNES_T[3:], BYRNES_P[3:], got[3:], cold[3:]):
        stated(f"l-byrnes7-{t}", f"pressure at {t} s, the same with wall heat", BYRNES, p, with_heat, "bar")
        stated(f"l-byrnes7-adiabatic-{t}", f"pressure at {t} s, the same, adiabatic", BYRNES, p, without, "bar")
    pictured(
        "byrnes", "Hydrogen blow-down, 0.0499 m3, from 104 bar, 275.7 K", "time, s", "pressure, bar absolute",
        {"measured": (BYRNES_T, BYRNES_P)},
        {name: (run.traces["time"] + 3.41, run.traces["spring_side_pressure"] / BAR) for name, run in
         (("adiabatic", adiabatic), ("wall heat fitted to 241.3 K at 10.1 s", best))},
    )  # fmt: skip


KIT_T = [24.543, 49.952, 75.072, 99.904, 125.02, 149.86, 175.26, 199.81]
KIT_P = [275.79, 145.79, 91.788, 60.977, 43.049, 28.985, 20.076, 11.164]
KIT_GAS = [246.99, 202.36, 183.85, 177.51, 178.82, 183.29, 188.66, 194.47]
KIT = MEASURED + (
    "blow-down of helium at the HyJet facility, Karlsruhe Institute of Technology, in Molkov, Dadashzadeh, Makarov et al. on "
    "non-adiabatic blow-down through a pressure relief device; digitised in andr1976/HydDown (MIT), validation/kit.yml, whose Cd "
    "of 0.9 it is; gauge or absolute is not said"
)
KIT_WALL = 293.15
"""K. Of the vessel, before and after."""


def kit(discharge_coefficient, wall, T_wall=KIT_WALL):
    """Run from the second measured point (275.79 bar, 246.99 K: the first, 698 bar, is beyond the gas table), 101 s long."""
    area = discharge_coefficient * math.pi / 4.0 * 0.001**2
    return vessel(0.019, area, KIT_P[0] * BAR, KIT_GAS[0], 101300.0, 101.0, wall=wall, T_wall=T_wall, gas="helium",
                  tolerance=1e-4)  # fmt: skip


def test_measured_helium_blow_down():
    """With the source's Cd of 0.9 the points lie above every run from 75 s on: even kept at its own 247 K the real gas is 4 % too
    low at 75 s and 14 % at 100 s (CoolProp integrated by itself: 87.8 and 52.2 bar), only a perfect gas would hold them. So Cd is
    fitted to the point at 50 s and wall heat to the coldest gas; the rest is predicted, and stated as it is.
    """
    since = np.array(KIT_T) - KIT_T[0]
    loose, kept = kit(0.9, 0.0), kit(0.9, ISOTHERMAL, KIT_GAS[0])
    for k in (1, 2, 3):
        for name, run in (("adiabatic", loose), ("gas kept at 247 K", kept)):
            quantity = f"helium pressure at {KIT_T[k]} s, Cd 0.9, {name}"
            stated(f"c-he-kit-{name.split()[0]}-{k}", quantity, KIT, KIT_P[k], float(pressure_at(run, since[k])), "bar")
    assert pressure_at(kept, since[2]) < KIT_P[2] and pressure_at(kept, since[3]) < KIT_P[3]  # what is said above

    def misses(x):
        run = kit(x[0], 10.0 * x[1])
        coldest = float(run.traces["spring_side_temperature"].min())
        return [float(pressure_at(run, since[1])) / KIT_P[1] - 1.0, coldest / min(KIT_GAS) - 1.0]

    found = root(misses, [0.8, 1.0], tol=1e-4, options={"eps": 1e-3})
    assert found.success, found.message
    coefficient, wall = float(found.x[0]), 10.0 * float(found.x[1])
    run = kit(coefficient, wall)
    for k in range(2, len(KIT_T)):
        got = float(pressure_at(run, since[k]))
        quantity = f"helium pressure at {KIT_T[k]} s, Cd {coefficient:.3f} from 50 s, {wall:.1f} W/K from 177.5 K"
        if k < 4:
            held(f"c-he-kit-{k}", quantity, KIT, KIT_P[k], got, 0.08, "bar")
        elif since[k] <= run.traces["time"][-1]:
            stated(f"c-he-kit-{k}", quantity, KIT, KIT_P[k], got, "bar")
    pictured(
        "kit", "Helium blow-down, 19 litre, 1 mm nozzle", "time, s", "pressure, bar",
        {"measured": (KIT_T, KIT_P)},
        {name: (run.traces["time"] + KIT_T[0], run.traces["spring_side_pressure"] / BAR) for name, run in
         (("adiabatic, Cd 0.9", loose), ("kept at 247 K, Cd 0.9", kept), (f"Cd {coefficient:.3f}, {wall:.1f} W/K", run))},
    )  # fmt: skip


FILL_T = [0.3882, 2.3087, 5.0182, 6.9438, 9.4554, 12.369, 13.319, 16.254, 19.198, 25.705, 41.089]
FILL_P = [0.019082, 0.17692, 0.33477, 0.477, 0.63658, 0.77362, 0.88289, 0.95577, 1.0009, 1.0062, 1.0082]
FILL_GAS_T = [0.0383, 0.473, 0.308, 1.12, 2.73, 6.91, 12.5, 17.0, 21.8, 27.3, 35.4, 46.3, 64.2]
FILL_GAS = [295.8, 301.5, 306.6, 309.9, 312.1, 314.1, 313.7, 312.3, 311.4, 310.0, 306.0, 303.3, 300.2]
FILL = MEASURED + (
    "air into an evacuated vessel, digitised in andr1976/HydDown (MIT), validation/Air_3-7kPa_271mm.yml, which names no source: "
    "probably Thorncroft, Patton and Gordon, ASEE Annual Conference 2007, AC 2007-2695; where Cd 0.84 and the clock's zero come "
    "from is not known"
)


def filled(wall, end=64.2):
    """(t s, p Pa, T K) of 16.18 litre filled with air through 2.71 mm from 3.7 kPa; `wall` W/K at 295 K."""
    gas, volume, p_supply, T = load_gas("air"), 0.016179, 100500.0, 295.0
    area = 0.84 * math.pi / 4.0 * 0.00271**2
    rho_s, u_s, _ = gas_at(p_supply, T, gas)
    supply = node_state(rho_s, rho_s * u_s, 1.0, gas)
    rho_0, u_0, _ = gas_at(3700.0, T, gas)

    def rates(t, y):
        node = node_state(y[0], y[1], volume, gas)
        w = orifice_flow(area, p_supply, rho_s, supply[3], node[0], 0.9999)
        return [w, w * supply[4] + wall * (T - node[1])]

    t = np.linspace(0.0, end, 401)
    run = solve_ivp(rates, (0.0, end), [rho_0 * volume, rho_0 * volume * u_0], t_eval=t, method="LSODA", rtol=1e-7, atol=1e-10)
    nodes = np.array([node_state(*y, volume, gas)[:2] for y in run.y.T])
    return run.t, nodes[:, 0], nodes[:, 1]


def test_measured_filling_of_an_evacuated_vessel():
    """The time to 0.80 bar lies between no wall heat and all of it; with one wall coefficient, fitted to the highest gas
    temperature alone, it is within 5 %."""
    measured = float(np.interp(0.80, FILL_P, FILL_T))

    def time_to_08(run):
        return float(np.interp(0.80 * BAR, run[1], run[0]))

    wall = brentq(lambda wall: filled(wall)[2].max() - max(FILL_GAS), 2.0, 8.0, xtol=1e-2)
    runs = {"adiabatic": filled(0.0), "isothermal": filled(1e4), f"{wall:.2f} W/K": filled(wall)}
    adiabatic, isothermal, fitted = (time_to_08(run) for run in runs.values())
    between("c-air-fill-bracket", "measured time to 0.80 bar between adiabatic and isothermal", FILL, adiabatic, measured,
            isothermal, "s")  # fmt: skip
    quantity = f"time to 0.80 bar, {wall:.2f} W/K fitted to the highest gas temperature, {max(FILL_GAS)} K"
    held("c-air-fill", quantity, FILL, measured, fitted, 0.05, "s")
    t, p, T = runs[f"{wall:.2f} W/K"]
    for instant, expected in zip(FILL_T, FILL_P):
        quantity = f"pressure at {instant} s, the same"
        stated(f"c-air-fill-{instant}", quantity, FILL, expected, float(np.interp(instant, t, p)) / BAR, "bar")
    for instant, expected in zip(FILL_GAS_T[3:], FILL_GAS[3:]):
        quantity = f"gas temperature at {instant} s, the same"
        stated(f"c-air-fill-T-{instant}", quantity, FILL, expected, float(np.interp(instant, t, T)), "K")
    pictured(
        "air-fill", "Filling of an evacuated vessel with air, 16.18 litre, 2.71 mm", "time, s", "pressure, bar absolute",
        {"measured": (FILL_T, FILL_P)}, {name: (run[0], run[1] / BAR) for name, run in runs.items()},
    )  # fmt: skip


def test_stored_energy_of_a_bottle_with_coolprop():
    """Isentropic expansion to 1 bar, per volume: rho (u1 - u2s), CoolProp run live; nitrogen condenses, helium does
    not."""
    coolprop = pytest.importorskip("CoolProp.CoolProp")
    from sleevelift.physics.gas_node import expansion_energy

    s = coolprop.PropsSI("S", "T", 300.0, "P", 200e5, "Helium")
    rho, u1 = (coolprop.PropsSI(key, "T", 300.0, "P", 200e5, "Helium") for key in "DU")
    expected = rho * (u1 - coolprop.PropsSI("U", "S", s, "P", 1e5, "Helium"))
    got = expansion_energy(200e5, 300.0, 1e5, gas_table("helium", "real", 0.0, 0.0))
    held(
        "c-stored-He",
        "energy of helium at 200 bar set free by expansion to 1 bar",
        COMPUTED + "CoolProp, run live",
        expected,
        got,
        1e-4,
        "J/m3",
    )
    closed = 70e5 / 0.4 * (1.0 - (1.0 / 70.0) ** (0.4 / 1.4))
    source = CLOSED_FORM + "p1/(g-1) (1 - (p2/p1)^((g-1)/g))"
    got = expansion_energy(70e5, 300.0, 1e5, perfect_gas(1.4, 296.8))
    held("c-stored-perfect", "the same of a perfect gas, 70 to 1 bar", source, closed, got, 1e-4, "J/m3")
