"""Where the actuation gas comes from: a large source, a bottle behind a regulator, or a bottle alone.

    gas of a cycle  m = p V/(R T), V the filled tube and lift chamber          (perfect gas)
    bottle          V_b (p_full - p_end)/(gamma R T) = n m, p_end what still works; then the next size one can buy
    regulator seat  passes PASSES times the fill orifice's flow from a bottle at its end: A_r p_end = PASSES A_fill p_set
    relief valve    passes what the regulator, fully open on a full bottle, lets through: A_v p_v = Cd A_r p_full

The bottle is taken as adiabatic (gamma), which errs large. Its cold, the regulator's droop and the rest are the simulator's.
"""

import math

from sleevelift.case.gases import ADMITTED, plain_name
from sleevelift.first_cut.gas_path import Path, drill_at_least
from sleevelift.first_cut.napkin import Napkin
from sleevelift.first_cut.sheet import GUESS, PRACTICE, Sheet

BOTTLES = (0.05, 0.1, 0.2, 0.3, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
"""litre. Common practice, no source."""
LITRE = 1e-3
END_OVER_SET = 1.5
"""-. Bottle over set pressure at which a regulator still passes what it must."""
PASSES = 2.0
"""-. Flow of the regulator's open seat over the fill orifice's."""
SEAT_DISCHARGE = 0.8
DROOP = 0.05
"""-. Droop band over the set pressure above ambient."""
PLENUM = 3.0
"""-. Volume between regulator and solenoid valve over what is filled in a cycle."""
LEAST_PLENUM = 5e-6
"""m3. A fitting and a short line."""
RELIEF_OVER_HIGH, RELIEF_TO_SPARE = 1.1, 1.2
"""-. Set pressure of the relief valve over the highest supply; its area over what it must pass."""


def put_supply(napkin: Napkin, path: Path, filled: float, sheet: Sheet) -> None:
    """The supply into the sheet. `filled`: volume (m3) of tube and lift chamber at full lift."""
    wishes, gas = napkin.wishes, napkin.gas_pressure
    for name in SUPPLY_KEYS:
        sheet.values.pop(f"supply.{name}", None)
    value, low, high = (f"{p * 1e-5:.5g} bara" for p in (gas.value, gas.low, gas.high))
    pressure = f'{{ value = "{value}", low = "{low}", high = "{high}" }}'
    if wishes.supply == "constant":
        sheet.put("supply.kind", '"constant"', "a large source: supply = regulator or bottle sizes one")
        sheet.put("supply.pressure", pressure, "napkin, or 5 % either way")
        return
    known = ADMITTED[plain_name(wishes.gas)]
    cycle = gas.value * filled  # p V of one cycle: R T cancels
    if wishes.supply == "bottle":
        size = bottle(known.gamma * wishes.cycles * cycle / (gas.value - gas.low)) if gas.value > gas.low else BOTTLES[-1] * LITRE
        sheet.put("supply.kind", '"bottle"', "napkin")
        sheet.put("supply.bottle_pressure", pressure, "napkin: fresh at the middle, its range what filling and use leave")
        sheet.put(
            "supply.bottle_volume", f'"{size / LITRE:g} litre"', f"{wishes.cycles:g} cycles within its range, next size: {PRACTICE}"
        )
        return
    end = END_OVER_SET * gas.high
    size = bottle(known.gamma * wishes.cycles * cycle / (wishes.bottle_pressure - end))
    _, seat = drill_at_least(path.fill * math.sqrt(PASSES / END_OVER_SET))
    relief = RELIEF_OVER_HIGH * gas.high
    area = RELIEF_TO_SPARE * SEAT_DISCHARGE * 0.25 * math.pi * seat**2 * wishes.bottle_pressure / relief
    sheet.put("supply.kind", '"regulator"', "napkin")
    sheet.put("supply.pressure", pressure, "napkin, or 5 % either way: setting")
    sheet.put("supply.bottle_pressure", f'"{wishes.bottle_pressure * 1e-5:.5g} bara"', "napkin, or a usual filling")
    sheet.put(
        "supply.bottle_volume", f'"{size / LITRE:g} litre"', f"{wishes.cycles:g} cycles to {END_OVER_SET:g} times the set pressure"
    )
    sheet.put(
        "supply.droop_band", f'"{DROOP * (gas.value - wishes.ambient_pressure) * 1e-5:.3g} bar"', f"{DROOP:.0%} of it; {GUESS}"
    )
    sheet.put("supply.regulator_orifice", f'"{seat * 1e3:.2f} mm"', f"passes {PASSES:g} times the fill orifice at the bottle's end")
    sheet.put("supply.regulator_discharge_coefficient", f"{SEAT_DISCHARGE}", GUESS)
    plenum = max(LEAST_PLENUM, PLENUM * filled)
    sheet.put("supply.plenum_volume", f'"{plenum * 1e6:.3g} cm3"', f"{PLENUM:g} times what a cycle fills, a guess")
    sheet.put(
        "supply.relief_pressure",
        f'"{relief * 1e-5:.4g} bara"',
        f"{RELIEF_OVER_HIGH:g} times the highest; below every rating: " + PRACTICE,
    )
    sheet.put("supply.relief_area", f'"{area * 1e6:.3g} mm2"', "passes the regulator stuck open on a full bottle, and a fifth more")


SUPPLY_KEYS = (
    "pressure", "bottle_pressure", "bottle_volume", "droop_band", "regulator_orifice", "regulator_discharge_coefficient",
    "plenum_volume", "relief_pressure", "relief_area",
)  # fmt: skip


def bottle(volume: float) -> float:
    """Next bottle (m3) at or above a volume (m3); the largest where there is none."""
    return next((size * LITRE for size in BOTTLES if size * LITRE >= volume), BOTTLES[-1] * LITRE)
