"""From water to propellant: what of a reduced cold flow carries over to a hot case, and what does not, in numbers.

    carried(cold, hot, side) -> [Carried, ...]      Reynolds, cavitation, vapour pressure, temperature, surface tension

    Re = rho u D_h/mu,  u = sqrt(2 dp/rho),  D_h = 4 A/P of the opening      K = (p_m - p_vapour)/(p_m - p_behind)
    We = rho u^2 D_h/sigma

Below K of about 2 a sharp-edged opening cavitates and its coefficient falls as C_c sqrt(K), C_c 0.62 (Nurick, J. Fluids Eng. 98,
1976, 681; the threshold, 1.7 to 2, from memory). A coefficient counts as free of Re above 1e4 (common practice, no source).
"""

import math
from typing import NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.case.schema_liquid import Propellant
from sleevelift.run import simulate
from sleevelift.stand.reduction import Point, Side

FREE_OF_REYNOLDS = 1e4
CAVITATES_BELOW = 2.0


class State(NamedTuple):
    """One side at full lift, SI."""

    manifold: float
    behind: float
    velocity: float
    reynolds: float
    cavitation: float
    weber: float | None
    """None: surface tension not known"""


class Carried(NamedTuple):
    """One thing that may not carry over."""

    what: str
    cold: str
    hot: str
    words: str


def hydraulic_diameter(case: Case, side: str) -> float:
    """D_h of one slot of the first row, or of the seat's gap at full lift, m."""
    assert case.slots is not None and case.seat is not None, "asked for a case with slots and seat"
    if side == "fuel":
        return 2.0 * case.sleeve.stroke * math.sin(case.seat.half_angle)
    if not case.slots.row:
        return 2.0 * case.sleeve.stroke
    row = case.slots.row[0]
    width = row.width or row.height
    return row.height if row.shape == "round" else 2.0 * row.height * width / (row.height + width)


def surface_tension(liquid: Propellant) -> float | None:
    """N/m of the liquid at its temperature; None where CoolProp has no model or the liquid is not named."""
    if liquid.liquid is None:
        return None
    from CoolProp.CoolProp import PropsSI

    try:
        value = float(PropsSI("I", "T", liquid.temperature, "Q", 0, liquid.liquid))
    except ValueError:
        return None
    return value if math.isfinite(value) and value > 0.0 else None


def state_of(case: Case, side: str, manifold: float, behind: float) -> State:
    """The numbers of a side, pressures Pa absolute."""
    liquid = case.oxidizer if side == "oxidizer" else case.fuel
    assert liquid is not None, "asked for a case with both sides"
    drop, size = max(manifold - behind, 1.0), hydraulic_diameter(case, side)
    velocity = math.sqrt(2.0 * drop / liquid.density)
    sigma = surface_tension(liquid)
    return State(
        manifold, behind, velocity, liquid.density * velocity * size / liquid.viscosity, (manifold - liquid.vapour_pressure) / drop,
        None if sigma is None else liquid.density * velocity**2 * size / sigma,
    )  # fmt: skip


def hot_state(hot: Case, side: str) -> State | None:
    """The same of a hot case in steady flow before its off command; None where its run has none."""
    run = simulate(hot)
    off = run.measures["deenergize_time"]
    if not run.traces or off is None or run.measures[f"steady_{side}_flow"] is None:
        return None
    at = int(np.searchsorted(run.traces["time"], off)) - 1
    return state_of(hot, side, float(run.traces[f"{side}_manifold_pressure"][at]), float(run.traces["chamber_pressure"][at]))


def _reynolds(cold: State, hot: State | None) -> str:
    least = min(cold.reynolds, hot.reynolds if hot is not None else math.inf)
    if least < FREE_OF_REYNOLDS:
        return "below 1e4 a discharge coefficient depends on it: the area does not carry over as it is"
    return "above 1e4: a coefficient hardly depends on it; at small lifts, where the gap is narrow, it does"


def _cavitation(cold: State, hot: State | None) -> str:
    if cold.cavitation < CAVITATES_BELOW and (hot is None or hot.cavitation >= CAVITATES_BELOW):
        return (
            "the cold flow cavitates, and its area with it: without cavitation the same opening passes MORE; count on more flow "
            "when hot, or repeat with back pressure"
        )
    if hot is not None and hot.cavitation < CAVITATES_BELOW:
        return "the hot flow may cavitate: it then passes less than the area says, and unsteadily"
    return "neither cavitates, by this number"


def carried(cold_case: Case, side: Side, hot_case: Case | None) -> list[Carried]:
    """What may not carry over, of one side at the highest lift that was measured."""
    top: Point = side.points[-1]
    cold = state_of(cold_case, side.name, top.manifold, top.back)
    hot = None if hot_case is None else hot_state(hot_case, side.name)
    water = getattr(cold_case, side.name)
    fuel = None if hot_case is None else getattr(hot_case, side.name)
    reader = cold_case.reader

    def pressure(liquid: Propellant | None) -> str:
        return "-" if liquid is None else reader.text("pressure", liquid.vapour_pressure, ".3g")

    def kelvin(liquid: Propellant | None) -> str:
        return "-" if liquid is None else reader.text("temperature", liquid.temperature, ".4g")

    def weber(state: State | None) -> str:
        return "-" if state is None else "not known" if state.weber is None else f"{state.weber:.2g}"

    def number(state: State | None, name: str, form: str) -> str:
        return "-" if state is None else f"{getattr(state, name):{form}}"

    flashes = fuel is not None and hot is not None and fuel.vapour_pressure > hot.behind
    vapour = (
        "the hot liquid FLASHES behind the opening: no liquid law holds, the flow is less"
        if flashes
        else "in the cavitation number; warmed on the way, a cryogenic liquid may flash all the same"
    )
    warm = "clearances and edges are those of warm parts: the lapped clearance, and with it the leak, does not carry over"
    spray = "jets, sheet and spray do not carry over; the area does, at such numbers"
    return [
        Carried("Reynolds number", number(cold, "reynolds", ".2g"), number(hot, "reynolds", ".2g"), _reynolds(cold, hot)),
        Carried("cavitation number", number(cold, "cavitation", ".3g"), number(hot, "cavitation", ".3g"), _cavitation(cold, hot)),
        Carried("vapour pressure", pressure(water), pressure(fuel), vapour),
        Carried("temperature", kelvin(water), kelvin(fuel), warm),
        Carried("Weber number (surface tension)", weber(cold), weber(hot), spray),
    ]
