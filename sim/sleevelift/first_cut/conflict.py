"""Which wishes stand against each other where no case was found, and what would free them: numbers of the nearest case.

This is no proof (`exclusion` is one): it says what the rounds ran into.
"""

import math

from sleevelift.first_cut.finish import Finished
from sleevelift.first_cut.knobs import AT_LIGHT_OFF
from sleevelift.first_cut.napkin import Napkin

TO_SPARE = 1.05
"""-. Feed pressure over the highest chamber pressure that no gas runs back against."""
MARGINS = ("opening_margin", "full_lift_margin", "no_fuel_margin", "fuel_alone_margin", "fuel_loss_margin", "closing_margin",
           "closing_margin_unlit", "surge_margin")  # fmt: skip


def conflicts(napkin: Napkin, done: Finished) -> list[str]:
    """A sentence for each kind of check that failed in the nearest case; nothing where all hold."""
    out = []
    if any(name in done.failed for name in AT_LIGHT_OFF):
        out.append(_light_off(napkin, done))
    if any(name in done.failed for name in MARGINS):
        out.append(
            f"least_margin = {napkin.wishes.least_margin:g} stands against the narrow gap between gas and fuel "
            f"pressure, their ranges, "
            "and what lead and light-off ask of the stroke. What would free it: a smaller least_margin, tighter ranges "
            "of gas_pressure "
            "and fuel_pressure, a longer opening_time"
        )
    if "oxidizer_lead" in done.failed:
        out.append(
            f"oxidizer_lead = {napkin.wishes.oxidizer_lead * 1e3:g} ms stands against opening_time = "
            f"{napkin.wishes.opening_time * 1e3:g} ms: the sleeve passes lap and spigot in less. What would free it: a longer "
            "opening_time, or a shorter oxidizer_lead"
        )
    return out


def _light_off(napkin: Napkin, done: Finished) -> str:
    """Why the pool at light-off drives gas back, or is too much for the chamber."""
    found, wishes, case, r = done.measures, napkin.wishes, done.case, napkin.reader
    delay = 0.0 if case.igniter is None or case.igniter.delay is None else case.igniter.delay
    pool = sum(found[f"pooled_{side}"] for side in ("oxidizer", "fuel") if math.isfinite(found[f"pooled_{side}"]))
    frees = [
        f"an igniter or propellants that light sooner than the {delay * 1e3:g} ms guessed (measure them, then [pin] igniter.delay)",
        f"a longer opening_time than {wishes.opening_time * 1e3:g} ms",
        f"a shorter oxidizer_lead than {wishes.oxidizer_lead * 1e3:g} ms",
    ]
    peak = found["peak_chamber_pressure"]
    back = [side for side in ("oxidizer", "fuel") if f"reverse_{side}_flow" in done.failed]
    against = "allowable_pressure"
    if back:
        against = " and ".join(f"{side}_pressure" for side in back)
        enough = r.text("pressure", TO_SPARE * peak)
        frees.append(f"{against} of {enough} or more in this case (only within the ratings of feed, manifold and tank)")
    lie = r.text("mass", pool, ".3g")
    stand = "stand" if len(back) > 1 else "stands"
    return (
        f"{against} {stand} against oxidizer_lead and opening_time: {lie} lie in the chamber when it lights, "
        f"{delay * 1e3:g} ms after both are there, and burn to a peak of {r.text('pressure', peak)}. What would free it, one of: "
        f"{'; '.join(frees)}"
    )
