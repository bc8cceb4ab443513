"""What a run must say of the chamber's purge: what it does to the pool, what it would hold in the chamber, what it does not do."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from sleevelift.case.gases import plain_name
from sleevelift.case.schema import Case
from sleevelift.physics.combustion import held_pressure
from sleevelift.physics.purge import check_valve_flow
from sleevelift.plant.build import Plant
from sleevelift.plant.state import D_LIT, S_CHAMBER_PURGE

Measures = Mapping[str, float | None]
HELD = 0.02
"""-. Above ambient by more than this share, what the purge alone would hold in the unlit chamber is worth saying."""


def purge_remarks(found: Measures, case: Case, plant: Plant, raw: Any) -> list[str]:
    """Remarks on a run with a purge of the chamber; none without one."""
    purge = None if case.chamber is None else case.chamber.purge
    if purge is None:
        return []
    out = [*_pool(found, case), *_held(case, plant)]
    lit = np.asarray(raw.discrete_state[:, D_LIT]) != 0 if len(raw.t) else np.zeros(0, dtype=bool)
    if len(raw.t) and bool(np.any(lit & (raw.outputs[:, S_CHAMBER_PURGE] > 0.0))):
        out.append(
            "The chamber's purge flows while the chamber is lit: the mixture keeps the combustion gas's exponent, so what the "
            "purge adds to the chamber's pressure is low (nitrogen: by up to a third of it, helium: by three quarters). `check` "
            "does without it."
        )
    out.append(
        "Taken of the chamber's purge: its check valve holds, its supply stays at pressure, its valve acts at once. "
        f"{plain_name(purge.gas).capitalize()} displaces air: where it vents, oxygen is measured before anyone goes near."
    )
    return out


def _pool(found: Measures, case: Case) -> list[str]:
    """What becomes of the unburned pool, and of whom a purge is no protection."""
    chamber = case.chamber
    assert chamber is not None and chamber.purge is not None, "a purge is a chamber's"
    share = chamber.swept_share
    used, swept = found.get("chamber_purge_used"), found.get("pool_swept")
    text = case.reader.text
    said = "The chamber's purge"
    if used is not None:
        said += f" lets in {text('mass', used, '.3g')} of {plain_name(chamber.purge.gas)} and"
    said += " displaces the gas in the unlit chamber"
    if share > 0.0:
        said += f"; of the unburned pool it is counted to carry away {text('mass', swept or 0.0, '.3g')} (swept_share {share:.3g}: "
        said += "1, as if the pool were gas and mixed at once, is a lower bound of what is left; 0, the default, errs high)."
    else:
        said += "; none of the unburned pool, mostly liquid, counts as carried away (swept_share 0: what is left errs high)."
    said += " A purge does not make a chamber safe by itself: liquid stays on walls, in pockets and passages, and comes out later."
    return [said]


def _held(case: Case, plant: Plant) -> list[str]:
    """A purge that the throat does not let out at ambient pressure."""
    record = plant.record[0]
    purge, ambient = record["purge"], float(record["ambient_pressure"])
    names = ("area", "flux", "r_star", "pressure", "density", "exponent")
    w, _ = check_valve_flow(*(float(purge[name]) for name in names), ambient, float(record["gas"]["laminar_above"]))
    held = held_pressure(w, float(purge["rt"]), float(record["chamber"]["throat"]), float(purge["exponent"]), ambient)
    if held <= ambient * (1.0 + HELD):
        return []
    text = case.reader.text
    return [
        f"The purge's {text('flow', w, '.3g')} alone would hold the chamber at about {text('pressure', held, '.3g')}; unlit the "
        "run keeps it at ambient: flows into it before light-off and after it goes out are a little high, and it lights from less "
        "gas than there is."
    ]
