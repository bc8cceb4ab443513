"""Supply, solenoid valve, tube, volumes and vents: first guesses from the wanted opening time; the simulator has the last word.

tube + dead volume V filled through a choked orifice, adiabatic:  dp/dt = gamma R T w/V,   w = Cd A Psi(gamma) p_0/sqrt(R T)
A = V (p_breakaway - p_a)/(gamma sqrt(R T) Cd Psi p_0 t),   t: what dead time, wave and travel leave of the opening time
"""

import math
from typing import NamedTuple

from sleevelift.case.gases import ADMITTED, plain_name
from sleevelift.case.schema import Case
from sleevelift.first_cut.injector import TRAVEL_SHARE
from sleevelift.first_cut.napkin import Napkin
from sleevelift.first_cut.sheet import PRACTICE, Sheet, drilled
from sleevelift.reader import METRIC, Reader
from sleevelift.sizing.chamber import choked_flow_factor
from sleevelift.sizing.orifice_sizes import drill_sizes

DISCHARGE = 0.70
"""-. Short drilled hole: common practice, no source."""
USUAL_DEAD_TIME = 8e-3
"""s. Of a small solenoid valve, opening; closing takes a quarter more, the strokes 3/8 and 1/2 of it. Common practice."""
DEAD_TIME_SHARE = 0.2
"""-. Of the opening time, at most: a faster valve is asked for where that is less."""
TUBE_LENGTH = 0.5
"""m. Guess: keeps the valve away from the flame."""
TUBE_OVER_ORIFICE = 3.0
"""-. Tube bore over orifice: a ninth of the loss. Common practice, no source."""
TUBE_BORES = (
    1.0e-3, 1.5e-3, 2e-3, 2.5e-3, 3e-3, 4e-3, 6e-3, 8e-3, 10e-3, 12e-3, 16e-3, 20e-3, 25e-3, 32e-3, 40e-3, 50e-3, 65e-3, 80e-3, 0.1,
)  # fmt: skip
"""m. Bores one can buy."""
DEAD_VOLUME = 3.0
"""-. Dead volume of the lift chamber over what the stroke sweeps."""
LEAST_DEAD_VOLUME = 0.05e-6
"""m3. A passage and a groove."""
VENT_SPEED, VENT_DROP = 1.5, 0.1e5
"""m/s, Pa: the spring side's vent passes the sleeve's sweep at that speed with that pressure. A guess that leaves no cushion."""
AIR_DENSITY = 1.2
"""kg/m3."""


class Path(NamedTuple):
    """The gas path, SI."""

    fill: float
    exhaust: float
    tube: float
    dead_time: float
    dead_volume: float | None = None
    """of the lift chamber (m3), where it is larger than a passage: a pocket that slows the sleeve"""


def drill_at_least(diameter: float, reader: Reader = METRIC) -> tuple[str, float]:
    """(name, m) of the reader's drill next above a diameter (m): metric from 0.2 to 14 mm, or number, letter and fraction."""
    inch = reader.name == "inch"
    sizes = drill_sizes(0.2e-3, 12.7e-3 if inch else 14e-3, ("number", "letter", "fractional") if inch else ("metric",))
    return next((size for size in sizes if size[1] >= diameter - 1e-9), sizes[-1])


def dead_time(napkin: Napkin) -> float:
    """Dead time of the solenoid valve (s), rounded to 0.1 ms."""
    return max(1e-4, round(min(USUAL_DEAD_TIME, DEAD_TIME_SHARE * napkin.wishes.opening_time), 4))


def first_path(napkin: Napkin, case: Case, sheet: Sheet) -> Path:
    """Orifices and tube for a sized sleeve; `case` gives its areas and preload."""
    wishes, sleeve, r = napkin.wishes, case.sleeve, napkin.reader
    ambient, p_0 = wishes.ambient_pressure, napkin.gas_pressure.value
    lift = 0.25 * math.pi * (sleeve.piston_diameter**2 - sleeve.rod_diameter**2)
    opened = 0.25 * math.pi * (sleeve.rod_diameter**2 - sleeve.seat_diameter**2)
    fuel = case.fuel.inlet_pressure if case.fuel is not None and case.fuel.inlet_pressure is not None else ambient
    breakaway = ambient + min(
        max((case.spring.preload - (fuel - ambient) * opened) / lift, 0.1 * (p_0 - ambient)), 0.9 * (p_0 - ambient)
    )
    gas = ADMITTED[plain_name(wishes.gas)]
    root = math.sqrt(gas.gas_constant * case.ambient.temperature)
    waiting = dead_time(napkin)
    left = max((1.0 - TRAVEL_SHARE) * wishes.opening_time - 1.2 * waiting, 0.1 * wishes.opening_time)
    dead = dead_volume(lift, sleeve.stroke)
    bore, fill = TUBE_BORES[0], 0.2e-3
    for bore in TUBE_BORES:
        volume = 0.25 * math.pi * bore**2 * TUBE_LENGTH + dead
        area = volume * (breakaway - ambient) / (gas.gamma * root * DISCHARGE * choked_flow_factor(gas.gamma) * p_0 * left)
        fill = math.sqrt(4.0 * area / math.pi)
        if bore >= TUBE_OVER_ORIFICE * fill:
            break
    fill = min(max(fill, 0.2e-3), 14e-3)
    how = f"choked filling of {r.text('volume', volume, '.3g')} to {r.text('pressure', breakaway)} in {left * 1e3:.3g} ms"
    source = "closed form above; then a root find on the simulator"
    sheet.step("fill orifice, first guess", r.text("length", fill, ".3g"), how, source)
    return Path(fill, drill_at_least(1.2 * fill)[1], bore, waiting)


def dead_volume(lift_area: float, stroke: float) -> float:
    """Dead volume of the lift chamber (m3)."""
    return max(LEAST_DEAD_VOLUME, DEAD_VOLUME * lift_area * stroke)


def put_path(napkin: Napkin, path: Path, sheet: Sheet) -> None:
    """Gas, solenoid valve and tube into the sheet."""
    wishes = napkin.wishes
    sheet.put("gas.name", f'"{wishes.gas}"', "napkin")
    on = 0.1
    off = on + round(max(0.5, 5.0 * wishes.opening_time), 2)
    sheet.put("solenoid.on", f'["{on:g} s"]', "test sequence, a guess")
    sheet.put("solenoid.off", f'["{off:g} s"]', "test sequence, a guess")
    sheet.put(
        "solenoid.fill_orifice",
        drilled(path.fill),
        "sets the opening time: root find on the simulator, then the next drill",
    )
    sheet.put("solenoid.fill_discharge_coefficient", f"{DISCHARGE}", PRACTICE)
    sheet.put("solenoid.exhaust_orifice", drilled(path.exhaust), "spares seat and fuel line; a drill")
    sheet.put("solenoid.exhaust_discharge_coefficient", f"{DISCHARGE}", PRACTICE)
    usual = "usual" if path.dead_time >= USUAL_DEAD_TIME else "ask for a valve this fast"
    for name, share in (
        ("open_dead_time", 1.0),
        ("open_stroke_time", 0.375),
        ("close_dead_time", 1.25),
        ("close_stroke_time", 0.5),
    ):
        sheet.put(f"solenoid.{name}", f'"{share * path.dead_time * 1e3:.3g} ms"', f"{usual}: {PRACTICE}; measure it")
    sheet.put("tube.length", f'"{TUBE_LENGTH:g} m"', "guess: keeps the valve away from the flame")
    sheet.put("tube.bore", f'"{path.tube * 1e3:g} mm"', "three times the fill orifice or more: " + PRACTICE)


def vent_orifice(top_area: float, reader: Reader) -> float:
    """Vent of the spring side (m), a drill of the reader's: passes the sweep of `top_area` (m2) at VENT_SPEED with VENT_DROP."""
    area = top_area * VENT_SPEED / (DISCHARGE * math.sqrt(2.0 * VENT_DROP / AIR_DENSITY))
    return drill_at_least(max(math.sqrt(4.0 * area / math.pi), 1e-3), reader)[1]
