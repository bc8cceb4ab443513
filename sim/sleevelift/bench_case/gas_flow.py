"""An inert gas through the propellant passages: the dry case with that gas on the fuel side, and the flows a meter should show.

The model's feeds carry liquids, so a gas is not run through them. What a flow bench needs is stated instead: steady choked flow at
full lift per bar ahead of the passage, w/p = Cd A Gamma/sqrt(R T) (perfect gas, Saint-Venant and Wantzel; Gamma of
`sizing.chamber.choked_flow_factor`), of the narrowest place alone, so an upper bound where two lie in series.
"""

import math

from sleevelift import units
from sleevelift.bench_case import words
from sleevelift.bench_case.answer import Answer, Wishes
from sleevelift.bench_case.document import Document
from sleevelift.bench_case.dry import fuel_side, to_dry
from sleevelift.bench_case.feeds import inlet_of
from sleevelift.bench_case.finish import finished
from sleevelift.case.gases import ADMITTED, plain_name
from sleevelift.case.schema import Case
from sleevelift.plant.build import build
from sleevelift.sizing.chamber import choked_flow_factor
from sleevelift.static_answer import kernels
from sleevelift.static_answer.throttle import throttle_rows

INERT = ("nitrogen", "helium", "argon", "neon")
"""Gases that may go through passages that hold propellants at other times."""
ABSOLUTE_RATIO = 2.1
"""-. Below this ratio of pressures the flow is not choked for the gases above (2.05 for a monatomic gas, 1.89 for nitrogen)."""


def choked_per_pressure(area: float, gas: str, temperature: float) -> float:
    """Choked mass flow over the pressure ahead, kg/(s Pa), of a gas of `ADMITTED` through Cd A, m2, at a temperature, K."""
    known = ADMITTED[gas]
    return area * choked_flow_factor(known.gamma) / math.sqrt(known.gas_constant * temperature)


def gas_flow(text: str, hot: Case, wishes: Wishes) -> Answer:
    """The dry case of a hot case with an inert gas on the fuel side at the hot feed's pressure."""
    assert hot.fuel is not None and hot.seat is not None, "a hot case has fuel and seat"
    gas = plain_name(wishes.fluid)
    document = Document(text, hot.ambient.pressure)
    said = to_dry(document, hot, words.GAS.title)
    pressure = inlet_of(hot.fuel) if wishes.fuel_side is None else wishes.fuel_side
    missing = fuel_side(document, hot, pressure)
    row = throttle_rows(build(hot), [hot.sleeve.stroke], lit=False)[0]
    say = hot.reader.text
    said.append(
        f"A {gas} flow is not run: the model's feeds carry liquids. This is the dry case with {gas} at "
        f"{say('pressure', pressure)} "
        "on the fuel side, as the hot feed, which helps to open as fuel does; a pressure that sags while it flows is not in it."
    )
    unit = hot.reader.unit("pressure difference")
    per_unit, T = units.unit(unit).factor, hot.ambient.temperature
    for name, area, place in _passages(hot, float(row[kernels.R_SLOT]), float(row[kernels.R_GAP])):
        flow = choked_per_pressure(area, gas, T) * per_unit
        said.append(
            f"{name} at full lift: Cd A {say('area', area, '.3g')} ({place}); choked, {say('flow', flow, '.3g')} of "
            f"{gas} for each "
            f"{unit} absolute ahead of it, at most, at {say('temperature', T)}, while the pressure ahead is more than "
            f"{ABSOLUTE_RATIO:g} times that behind."
        )
    return finished(document, hot, wishes, said, missing, words.GAS)


def _passages(hot: Case, slots: float, gap: float) -> list[tuple[str, float, str]]:
    """(passage, Cd A m2 of its narrowest place, which that is)."""
    fuel, where = gap, "the seat gap"
    assert hot.seat is not None, "a hot case has a seat"
    if hot.seat.annulus_area is not None and hot.seat.annulus_discharge_coefficient is not None:
        annulus = hot.seat.annulus_area * hot.seat.annulus_discharge_coefficient
        fuel, where = (annulus, "the annulus") if annulus < gap else (gap, where)
    return [("Oxidizer slots", slots, "all slots"), ("Fuel passage", fuel, where)]
