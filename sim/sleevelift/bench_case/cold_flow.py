"""The cold-flow bench case of a hot case: another liquid in place of both propellants, chamber at a constant back pressure.

    pressure drop kept:    dp_bench = dp_hot                                      over slots, and over seat and annulus, full lift
    Reynolds number kept:  dp_bench = dp_hot (rho_b/rho_h) (nu_b/nu_h)^2          since Re = v d/nu and dp = rho v^2/(2 Cd^2)
    inlet kept:            the feed pressures of the hot case as they are

Flow at that drop w = w_hot sqrt(rho_b dp_bench/(rho_h dp_hot)) (sharp-edged orifice, Bernoulli; Cd taken as the same), and the
inlet = back pressure + dp_bench + loss of line and run valve, rated_loss (w/rated_flow)^2 rated_density/rho_b.
"""

import math
from typing import NamedTuple

from sleevelift.bench_case import strip, words
from sleevelift.bench_case.answer import INLET, REYNOLDS, Answer, Wishes
from sleevelift.bench_case.document import Document, moved
from sleevelift.bench_case.feeds import inlet_of, line_loss
from sleevelift.bench_case.finish import PRESSURE_UNIT, finished
from sleevelift.case.liquids import LiquidState, liquid_state
from sleevelift.case.schema import Case
from sleevelift.case.schema_liquid import Propellant
from sleevelift.plant.build import build
from sleevelift.ratings import limit_of, parts
from sleevelift.static_answer import kernels
from sleevelift.static_answer.throttle import throttle_rows

SIDES = ("oxidizer", "fuel")
STATE_AT = 10e5
"""Pa absolute at which the bench liquid's viscosity and density are looked up: they hardly depend on it."""


class HotSide(NamedTuple):
    """One side of the hot case, steady, lit, at full lift."""

    flow: float
    """kg/s"""
    drop: float
    """Pa, manifold to chamber"""
    inlet: float
    """Pa absolute; of a table its highest"""


class BenchSide(NamedTuple):
    """One side of the bench case, steady at full lift."""

    name: str
    inlet: float
    """Pa absolute"""
    flow: float
    """kg/s"""
    drop: float
    """Pa, manifold to back pressure"""
    reynolds: float
    """Reynolds number over that of the hot case, same passage"""


def hot_sides(hot: Case) -> dict[str, HotSide]:
    """Both sides of the hot case at full lift, lit. The drop is what the line leaves of the inlet over the chamber."""
    row = throttle_rows(build(hot), [hot.sleeve.stroke], lit=True)[0]
    out = {}
    for name, place in zip(SIDES, (kernels.R_OXIDIZER, kernels.R_FUEL)):
        side, flow = getattr(hot, name), float(row[place])
        inlet = inlet_of(side)
        out[name] = HotSide(flow, inlet - line_loss(side, flow, side.density) - float(row[kernels.R_CHAMBER]), inlet)
    return out


def bench_side(name: str, side: Propellant, hot: HotSide, state: LiquidState, back: float, like: str) -> BenchSide:
    """The side with the bench liquid, pressures by what is kept."""
    viscous = (state.viscosity / state.density) / (side.viscosity / side.density)
    density = state.density / side.density

    def flow_at(drop: float) -> float:
        return hot.flow * math.sqrt(density * max(drop, 0.0) / hot.drop)

    if like == INLET:
        # flow^2 is proportional to the drop, and so is the loss: what is to be shared out is inlet - back
        share = line_loss(side, flow_at(hot.drop), state.density) / hot.drop
        drop, inlet = (hot.inlet - back) / (1.0 + share), hot.inlet
    else:
        drop = hot.drop * (density * viscous**2 if like == REYNOLDS else 1.0)
        inlet = back + drop + line_loss(side, flow_at(drop), state.density)
    flow = flow_at(drop)
    speed = flow / state.density / (hot.flow / side.density)
    return BenchSide(name, inlet, flow, drop, speed / viscous)


def cold_flow(text: str, hot: Case, wishes: Wishes) -> Answer:
    """The cold-flow case of a hot case's text. CaseError where the liquid is none at ambient temperature."""
    document = Document(text, hot.ambient.pressure)
    strip.title(document, "cold-flow", words.WET.title)
    strip.combustion_out(document)
    said = strip.at_ambient(document, hot)
    document.drop("bench.fuel_side_pressure", "the fuel side has its liquid")
    back = hot.ambient.pressure if wishes.back_pressure is None else wishes.back_pressure
    if wishes.back_pressure is None:
        document.put("bench.back_pressure", "0 barg", "both sides discharge into the open")
    else:
        document.move("bench.back_pressure", back, "pressure", "both sides discharge against this", PRESSURE_UNIT)
    state = liquid_state(wishes.fluid, hot.ambient.temperature, STATE_AT)
    hots = hot_sides(hot)
    missing = [
        f"The hot case has no steady flow of {name} at full lift: nothing to be like."
        for name in SIDES
        if not hots[name].drop > 0.0
    ]
    if missing:
        return Answer(
            None, None, document.changes, said, missing, words.WET.tells, words.WET.cannot, words.cautions(hot, True, False, False)
        )
    for name in SIDES:
        side = getattr(hot, name)
        bench = bench_side(name, side, hots[name], state, back, wishes.like)
        missing += _out_of_rating(hot, bench, hots[name], wishes)
        _set_side(document, hot, side, bench, wishes)
        said.append(_told(hot, bench, hots[name], wishes))
    said += _warm_slots(document, hot)
    return finished(document, hot, wishes, said, missing, words.WET)


def _out_of_rating(hot: Case, bench: BenchSide, was: HotSide, wishes: Wishes) -> list[str]:
    """Why an inlet pressure above the hot one does not do, and what would."""
    if bench.inlet <= was.inlet * (1.0 + 1e-9):
        return []
    part = next(part for part in parts({}, hot) if part.name == f"{bench.name} manifold")
    given = limit_of(part, hot)
    what = "Reynolds number" if wishes.like == REYNOLDS else "pressure drop"
    text = hot.reader.text
    keeps = f"Keeping the {what} on the {bench.name} side takes {text('pressure', bench.inlet)}"
    if given is None:
        usual = text("pressure", was.inlet)
        return [f"{keeps}, more than the hot case's {usual}, and the {part.name} has no rated pressure in [limits]."]
    if bench.inlet <= given[0]:
        return []
    return [
        f"{keeps} at its inlet, above the {given[1]} of the {part.name}, {text('pressure', given[0])}. A less viscous liquid "
        "(--fluid), or --like pressure-drop, which says what Reynolds number it reaches."
    ]


def _set_side(document: Document, hot: Case, side: Propellant, bench: BenchSide, wishes: Wishes) -> None:
    """Liquid, its properties and the inlet of one side."""
    name, where = bench.name, f"{wishes.fluid} in place of the {bench.name}"
    document.put(f"{name}.liquid", wishes.fluid, f"in place of {side.liquid or 'the hot liquid'}")
    document.put(f"{name}.temperature", f"{hot.ambient.temperature:g} K", f"{where}, at ambient temperature")
    for key in ("density", "viscosity", "vapour_pressure", "bulk_modulus", "molar_mass"):
        document.drop(f"{name}.{key}", f"{where}: from its name")
    if side.rated_flow is not None and side.rated_loss > 0.0 and document.get(f"{name}.rated_density") is None:
        document.move(f"{name}.rated_density", side.rated_density, "density", "the loss was rated with the hot liquid", "kg/m3")
    if wishes.like == INLET:
        return
    why = f"keeps the {'Reynolds number' if wishes.like == REYNOLDS else 'pressure drop'} over the {name} injector at full lift"
    if side.inlet_table is None:
        document.move(f"{name}.inlet_pressure", bench.inlet, "pressure", why, PRESSURE_UNIT)
        return
    amb, old = hot.ambient.pressure, inlet_of(side)
    raw = document.get(f"{name}.inlet_table.pressure")
    entries = [amb + (entry - amb) * (bench.inlet - amb) / (old - amb) for entry in side.inlet_table.pressure]
    document.put(
        f"{name}.inlet_table.pressure", [moved(was, si, "pressure", amb, PRESSURE_UNIT) for was, si in zip(raw, entries)], why
    )


def _told(hot: Case, bench: BenchSide, was: HotSide, wishes: Wishes) -> str:
    """Flow, drop and Reynolds number of one side against the hot case."""
    kept = {INLET: "inlet pressure kept", REYNOLDS: "Reynolds number kept"}.get(wishes.like, "pressure drop kept")
    text = hot.reader.text
    return (
        f"{bench.name.capitalize()} side, {kept}: inlet {text('pressure', bench.inlet)} (hot {text('pressure', was.inlet)}), "
        f"{text('flow', bench.flow, '.3g')} (hot {text('flow', was.flow, '.3g')}), drop over the injector "
        f"{text('pressure difference', bench.drop, '.3g')} (hot {text('pressure difference', was.drop, '.3g')}), Reynolds number "
        f"{bench.reynolds:.2g} times the hot one; steady at full lift, discharge coefficients as in the case."
    )


def _warm_slots(document: Document, hot: Case) -> list[str]:
    """Slots at ambient temperature: their clearance follows where the case gives metals and the temperature it was "
    "measured at."""
    slots, ambient = hot.slots, hot.ambient.temperature
    assert slots is not None, "a hot case has slots"
    strains = [key for key in ("post_contraction", "sleeve_contraction") if document.get(f"slots.{key}") is not None]
    cold = slots.running_temperature is not None and abs(slots.running_temperature - ambient) > strip.NEAR_AMBIENT
    if not strains and not cold:
        return []
    for key in strains:
        document.drop(f"slots.{key}", "of cooling down to the hot case's running temperature")
    if slots.post_material is not None and slots.sleeve_material is not None:
        document.put("slots.running_temperature", f"{ambient:g} K", "post and sleeve at ambient on the bench")
        return ["Clearance between post and sleeve as it is at ambient, not as it runs."]
    for key in ("clearance_temperature", "running_temperature"):
        document.drop(f"slots.{key}", "without both metals the clearance stays as it was measured")
    return ["Clearance between post and sleeve as it was measured: without their metals nothing is said of ambient temperature."]
