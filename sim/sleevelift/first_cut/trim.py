"""Annulus and line loss set so that both steady flows at full lift, lit, are the rated ones."""

from sleevelift.case.schema import Case
from sleevelift.first_cut.assemble import Moving, assembled
from sleevelift.first_cut.engine import LEAST_LOSS, Engine
from sleevelift.first_cut.gas_path import Path
from sleevelift.first_cut.injector import ANNULUS_DISCHARGE, Injector
from sleevelift.first_cut.napkin import Napkin
from sleevelift.first_cut.sheet import Sheet
from sleevelift.plant.build import build
from sleevelift.static_answer.throttle import throttle_rows, throttle_table

TRIMS = 3
"""Rounds: each leaves a tenth or less of the error before it."""
SAME_FLOW = 1e-3
"""-. Of the rated flow: nearer no gauge tells."""


def trimmed(
    napkin: Napkin, eng: Engine, inj: Injector, moving: Moving, path: Path, case: Case, text: str, sheet: Sheet
) -> tuple[Case, str]:
    """Annulus and the oxidizer line's loss so that both flows at full lift, lit, are the rated ones."""
    for done in range(TRIMS):
        (row,) = throttle_table(throttle_rows(build(case), [case.sleeve.stroke], lit=True))
        if done and _near(row.oxidizer_flow, eng.oxidizer.flow) and _near(row.fuel_flow, eng.fuel.flow):
            break
        seat, fuel = case.seat, eng.fuel
        assert seat is not None and seat.annulus_area is not None
        annulus = seat.annulus_area * ANNULUS_DISCHARGE
        through = (annulus**-2 + row.seat_area**-2) ** -0.5 if row.seat_area > 0.0 else annulus
        target = min(through * fuel.flow / row.fuel_flow, 0.98 * row.seat_area)
        area = (target**-2 - row.seat_area**-2) ** -0.5 / ANNULUS_DISCHARGE
        sheet.put("seat.annulus_area", f'"{area * 1e6:.4g} mm2"', "rated fuel flow at full lift, lit, by the static solution")
        loss = oxidizer_loss(eng, case, row.oxidizer_flow, row.chamber_pressure)
        sheet.put("oxidizer.rated_loss", f'"{loss * 1e-5:.4g} bar"', "line, filter, run valve, and an orifice that trims the flow")
        sheet.put("fuel.rated_loss", f'"{fuel.loss * 1e-5:.4g} bar"', "line, filter, run valve: what pressure and drop leave")
        case, text = assembled(napkin, eng, inj, moving, path, sheet)
    return case, text


def _near(flow: float, rated: float) -> bool:
    return abs(flow - rated) <= SAME_FLOW * rated


def oxidizer_loss(eng: Engine, case: Case, flow: float, chamber: float) -> float:
    """Loss of the oxidizer's line at rated flow (Pa) that leaves the slots the drop they need for it.

    The case passes `flow` (kg/s) at `chamber` (Pa): (loss + drop of the slots at rated flow) (w/w_rated)^2 = inlet - chamber.
    """
    side, given = eng.oxidizer, case.oxidizer
    assert given is not None, "a first cut has an oxidizer"
    if not flow > 0.0:
        return side.loss
    slots = (side.inlet_pressure - chamber) * (side.flow / flow) ** 2 - given.rated_loss
    return max(side.inlet_pressure - eng.chamber_pressure - slots, LEAST_LOSS * eng.chamber_pressure * LEAST_SHARE)


LEAST_SHARE = 0.2
"""-. Of the least loss of a line (`engine.LEAST_LOSS`): a line without any is none."""
