"""From thrust and chamber pressure to flows, throat and chamber.

    w = F/(C_F eta_n c* eta_c)        A_throat = w c* eta_c/p_c        V = L* A_throat
    C_F = sqrt(2 g^2/(g-1) (2/(g+1))^((g+1)/(g-1)) (1 - (p_e/p_c)^((g-1)/g))) + (p_e - p_a)/p_c A_e/A_t

c* and g from the combustion tables, one exponent from chamber to exit (the real expansion recombines: some per cent, inside the
nozzle's efficiency). Source: Sutton and Biblarz, Rocket Propulsion Elements, chapter 3.
"""

import math
from typing import NamedTuple

from sleevelift import combustion_tables
from sleevelift.case import liquids
from sleevelift.case.faults import CaseError, Fault
from sleevelift.first_cut.napkin import Napkin
from sleevelift.first_cut.sheet import PRACTICE, SUTTON, Sheet
from sleevelift.sizing.chamber import throat_area
from sleevelift.sizing.nozzle import exit_pressure_ratio, thrust_coefficient

LIQUIDS = {
    "oxygen": ("Oxygen", 90.0), "nitrous-oxide": ("NitrousOxide", 253.15), "peroxide-90": ("Peroxide-90", 293.15),
    "ethanol": ("Ethanol", 293.15), "isopropanol": ("Isopropanol", 293.15), "isopropanol-75": ("Isopropanol-75", 293.15),
    "methane": ("Methane", 111.0), "propane": ("Propane", 231.0), "rp-1": ("RP-1", 293.15), "hydrogen": ("Hydrogen", 20.3),
}  # fmt: skip
"""Half of a pair -> (name of the liquid, K): boiling point at ambient for cryogens, room for the rest, nitrous oxide chilled."""
CHARACTERISTIC_LENGTH = {"hydrogen": 0.9, "rp-1": 1.2, "peroxide-90": 1.6}
"""m. By fuel or oxidizer; Huzel and Huang, Modern Engineering for Design of Liquid-Propellant Rocket Engines, from memory."""
USUAL_LENGTH = 1.2
ABOVE_VAPOUR = 1.1
"""-. Manifold pressure over the liquid's vapour pressure, at least, where the feed pressure allows it: else it flashes there."""
FAR = 0.85
"""-. c* over the best of the pair below which a mixture ratio may be a slip (guess)."""
LEAST_LOSS = 0.05
"""-. Loss of a feed line (filter, run valve, line) over chamber pressure. Common practice, no source."""


class Side(NamedTuple):
    """One propellant at its feed, SI."""

    liquid: str
    temperature: float
    flow: float
    inlet_pressure: float
    """Pa, nominal"""
    inlet_low: float
    inlet_high: float
    loss: float
    """Pa, of the line at the rated flow"""
    drop: float
    """Pa, of the injector"""
    state: liquids.LiquidState


class Engine(NamedTuple):
    """What thrust and chamber pressure ask of the valve, SI."""

    oxidizer: Side
    fuel: Side
    chamber_pressure: float
    throat_area: float
    volume: float


def _side(napkin: Napkin, name: str, flow: float, to_injector: bool) -> Side:
    """Feed of `oxidizer` or `fuel`. CaseError where the pressure is not enough or nothing is liquid.

    to_injector: the injector takes the whole excess of the feed pressure, else the wished share of the chamber's.
    """
    wishes = napkin.wishes
    half = wishes.propellants.split("/")[0 if name == "oxidizer" else 1]
    liquid, usual = LIQUIDS[half]
    given = getattr(wishes, f"{name}_temperature")
    temperature = usual if given is None else given
    p_c = wishes.chamber_pressure
    least_loss = LEAST_LOSS * p_c if wishes.rated_loss is None else wishes.rated_loss
    drop = wishes.injector_drop * p_c
    pressure = getattr(wishes, f"{name}_pressure")
    if pressure is None:
        pressure = p_c + drop + 2.0 * least_loss
    try:
        state = liquids.liquid_state(liquid, temperature, pressure)
    except liquids.LiquidError as error:
        raise CaseError([Fault(("napkin", f"{name}_{error.key}"), error.rule.said(napkin.reader))], f"{napkin.name}.toml") from None
    # a loss ahead of the fuel manifold takes from the push on the sleeve, most of all unlit: the fuel's excess goes to the injector
    most = pressure - p_c - least_loss
    boiling = ABOVE_VAPOUR * state.vapour_pressure - p_c  # the manifold must stay liquid behind that drop
    drop = most if to_injector else min(max(drop, boiling), most)
    if drop < 0.5 * wishes.injector_drop * p_c:
        least = napkin.reader.text("pressure", p_c * (1.0 + 0.5 * wishes.injector_drop) + least_loss)
        rule = f"must be at least {least}: chamber, half the drop, line"
        raise CaseError(
            [Fault(("napkin", f"{name}_pressure"), rule, napkin.reader.text("pressure", pressure))], f"{napkin.name}.toml"
        )
    low = high = pressure
    if name == "fuel":
        ends = napkin.fuel_pressure
        width = 0.05 * (pressure - wishes.ambient_pressure)
        low, high = (pressure - width, pressure + width) if ends is None else (ends.low, ends.high)
    return Side(liquid, temperature, flow, pressure, low, high, pressure - p_c - drop, drop, state)


def engine(napkin: Napkin, sheet: Sheet, line_speed: float, stiff: bool = False) -> Engine:
    """Flows, throat, chamber, lines at `line_speed` (m/s). CaseError where a feed cannot do it.

    stiff: the oxidizer's injector takes the excess of its feed pressure too, not an orifice in its line.
    """
    wishes, r = napkin.wishes, napkin.reader
    p_c, p_a, pair = wishes.chamber_pressure, wishes.ambient_pressure, wishes.propellants
    table = combustion_tables.table_at(pair, p_c)
    c_star, g = table.c_star_at(wishes.mixture_ratio), table.g_at(wishes.mixture_ratio)
    real = c_star * wishes.c_star_efficiency
    best_at = max(combustion_tables.mixture_ratios(pair), key=table.c_star_at)
    best = table.c_star_at(best_at)
    slip = (
        f"; far from the pair's best, {r.text('speed', best, '.0f')} at {best_at:g}: is that meant?" if c_star < FAR * best else ""
    )
    sheet.step(
        "c*",
        r.text("speed", c_star, ".0f"),
        f"shipped table of {pair} at {r.text('pressure', p_c)}, O/F {wishes.mixture_ratio:g}; g {g:.3f}{slip}",
        "Cantera",
    )
    flow = wishes.flow
    if flow is None:
        ratio = p_a / p_c if wishes.area_ratio is None else exit_pressure_ratio(wishes.area_ratio, g)
        coefficient, area_ratio = thrust_coefficient(g, ratio, p_a / p_c)
        thrust = wishes.thrust or 0.0
        flow = thrust / (coefficient * wishes.nozzle_efficiency * real)
        how = f"ideal, exit pressure {r.text('pressure', ratio * p_c)}, area ratio {area_ratio:.2f}"
        sheet.step("thrust coefficient", f"{coefficient:.3f}", how, SUTTON)
        how = f"F/(C_F eta_n c* eta_c), efficiencies {wishes.nozzle_efficiency:g} and {wishes.c_star_efficiency:g}"
        sheet.step("flow", r.text("flow", flow), how, SUTTON)
    throat = throat_area(flow, real, p_c)
    sheet.step("throat", r.text("area", throat), "A = w c* eta/p_c", SUTTON)
    oxidizer_name, fuel_name = pair.split("/")
    length = wishes.characteristic_length or CHARACTERISTIC_LENGTH.get(
        oxidizer_name, CHARACTERISTIC_LENGTH.get(fuel_name, USUAL_LENGTH)
    )
    source = "napkin" if wishes.characteristic_length else "Huzel and Huang, from memory"
    sheet.step("chamber", r.text("volume", length * throat), f"V = L* A, L* {r.text('length', length)}", source)
    share = wishes.mixture_ratio / (1.0 + wishes.mixture_ratio)
    oxidizer, fuel = _side(napkin, "oxidizer", share * flow, stiff), _side(napkin, "fuel", (1.0 - share) * flow, True)
    for name, side in (("oxidizer", oxidizer), ("fuel", fuel)):
        had, line = r.text("pressure", side.inlet_pressure), r.text("pressure difference", side.loss, ".3g")
        how = f"{had} less line {line} less chamber: {side.drop / p_c:.0%} of p_c"
        how += "; the excess here, ahead of the manifold it would take from the push on the sleeve" if name == "fuel" else ""
        how += "; the excess here, against gas that runs back at light-off" if stiff and name == "oxidizer" else ""
        sheet.step(f"{name} injector drop", r.text("pressure difference", side.drop, ".3g"), how, "15 to 25 %: " + PRACTICE)
    _put(sheet, napkin, oxidizer, fuel, throat, length, line_speed)
    return Engine(oxidizer, fuel, p_c, throat, length * throat)


def _put(sheet: Sheet, napkin: Napkin, oxidizer: Side, fuel: Side, throat: float, length: float, line_speed: float) -> None:
    """Feeds and chamber into the sheet."""
    wishes = napkin.wishes
    for name, side in (("oxidizer", oxidizer), ("fuel", fuel)):
        sheet.put(f"{name}.liquid", f'"{side.liquid}"', "properties by CoolProp, or by the shipped table of liquids")
        sheet.put(f"{name}.temperature", f'"{side.temperature:g} K"', "boiling point at ambient, or storage: " + PRACTICE)
        value = f"{side.inlet_pressure * 1e-5:.5g} bara"
        text = f'"{value}"'
        if side.inlet_high > side.inlet_low:
            text = f'{{ value = "{value}", low = "{side.inlet_low * 1e-5:.5g} bara", high = "{side.inlet_high * 1e-5:.5g} bara" }}'
        sheet.put(f"{name}.inlet_pressure", text, "napkin, or chamber pressure and drops")
        sheet.put(f"{name}.rated_flow", f'"{side.flow:.5g} kg/s"', "thrust and mixture ratio")
        bore = line_bore(side.flow, side.state.density, line_speed)
        sheet.put(f"{name}.line_length", '"0.5 m"', "guess: a light column surges less")
        sheet.put(f"{name}.line_bore", f'"{bore * 1e3:.1f} mm"', f"flow at {line_speed:.2g} m/s, against surges: " + PRACTICE)
        volume = MANIFOLD_TIME * side.flow / side.state.density
        sheet.put(f"{name}.manifold_volume", f'"{volume * 1e6:.3g} cm3"', f"{MANIFOLD_TIME * 1e3:g} ms of the flow, a guess")
    sheet.put("chamber.propellants", f'"{wishes.propellants}"', "shipped table of c* and g")
    sheet.put("chamber.volume", f'"{length * throat * 1e6:.5g} cm3"', f"L* {length:g} m")
    sheet.put("chamber.throat_area", f'"{throat * 1e6:.5g} mm2"', "A = w c* eta/p_c")
    sheet.put("chamber.efficiency", f"{wishes.c_star_efficiency:g}", "napkin, or 0.90 to 0.97: " + PRACTICE)
    sheet.put("chamber.combustion_time_constant", '"1 ms"', "guess")
    sheet.put("chamber.allowable_pressure", f'"{wishes.allowable_pressure * 1e-5:.5g} bara"', "napkin")


MANIFOLD_TIME = 0.07
"""s. Manifold volume over volume flow."""


def line_bore(flow: float, density: float, speed: float) -> float:
    """Bore (m) of a line that passes `flow` (kg/s) at `speed` (m/s), at least 3 mm."""
    return max(3e-3, math.sqrt(4.0 * flow / (density * speed * math.pi)))
