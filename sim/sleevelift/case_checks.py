"""Checks of the case itself, which need no run: slips, actuation gas, clearance when cold, spring, glands."""

from sleevelift.case.schema import Case
from sleevelift.case.wound_spring import wound_state
from sleevelift.check import NOT_KNOWN, Check
from sleevelift.glands import gland_verdicts
from sleevelift.plant.liquid_sections import clearance_at_running
from sleevelift.slips import gas_hazard, slips

SAME_TEMPERATURE = 20.0
"""K. A clearance given without temperatures is taken to have been measured at ambient temperature; a propellant this near to it
moves it by less than a micrometre or two (5e-6 1/K between two steels, 16 mm; common practice, no source)."""


def clearance_unknown(case: Case) -> str | None:
    """Why the clearance at running temperature is not known; None where it is."""
    slots = case.slots
    if slots is None:
        return None
    temperatures = slots.clearance_temperature is not None and slots.running_temperature is not None
    missing = [
        f"{part}_material"
        for part in ("post", "sleeve")
        if case.origin.get(f"slots.{part}_contraction") != "given"
        and not (temperatures and getattr(slots, f"{part}_material") is not None)
    ]
    feeds = [side for side in (case.oxidizer, case.fuel) if side is not None]
    near = all(abs(side.temperature - case.ambient.temperature) <= SAME_TEMPERATURE for side in feeds)
    if not missing or (near and slots.running_temperature is None and slots.clearance_temperature is None):
        return None
    needed = [*missing, *[name for name in ("clearance_temperature", "running_temperature") if getattr(slots, name) is None]]
    return f"[slots] gives neither the strains nor {', '.join(needed)}"


def clearance_checks(case: Case) -> list[Check]:
    """The clearance between post and sleeve must stay open at running temperature."""
    if case.slots is None:
        return []
    unknown = clearance_unknown(case)
    if unknown is not None:
        advice = f"{NOT_KNOWN}: {unknown}; a post and a sleeve that shrink differently seize. To change: give these keys"
        return [Check("running_clearance", None, 0.0, False, advice)]
    clearance = clearance_at_running(case)
    ok = clearance > 0.0
    advice = (
        "the clearance between post and sleeve stays open at running temperature"
        if ok
        else "the clearance between post and sleeve closes up when cold: the sleeve seizes. To change: more clearance, "
        "metals that shrink alike"
    )
    return [Check("running_clearance", clearance, 0.0, ok, advice)]


def spring_checks(case: Case) -> list[Check]:
    """Solid length, stress and buckling of a spring given by its wire (EN 13906-1)."""
    state = wound_state(case)
    if state is None:
        return []
    allowable = case.spring.allowable_stress
    out = []
    gap = state.gap_left
    ok = gap > 0.0
    advice = "travel left to solid at full lift" if ok else "the spring goes solid before full lift. To change: fewer coils, longer"
    out.append(Check("spring_travel_to_solid", gap, 0.0, ok, advice))
    stress = state.stress_lifted
    if allowable is not None:
        ok = stress <= allowable
        advice = "stress at full lift, curvature included" if ok else "overstressed at full lift. To change: thicker wire"
        out.append(Check("spring_stress", stress, allowable, ok, advice))
    return out


def input_checks(case: Case) -> list[Check]:
    """Inputs that cannot well be meant, and an actuation gas that burns or feeds a fire."""
    odd = slips(case)
    words = (
        f"{'; '.join(odd)}. To change: correct the key in question"
        if odd
        else "no slip of the kinds that are looked for: propellants, orifices, clearances, cold seals"
    )
    hazard = gas_hazard(case)
    gas = "inert next to fuel and oxidizer" if hazard is None else f"{hazard}"
    return [Check("plausible_inputs", None, None, not odd, words), Check("actuation_gas", None, None, hazard is None, gas)]


def gland_checks(case: Case) -> list[Check]:
    """Each gland that the case gives against its bounds; one that is not given is not judged."""
    return [Check(v.name, None, None, v.passed, v.advice) for v in gland_verdicts(case) if v.passed is not None]
