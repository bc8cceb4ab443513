"""Checks: each measure held against its limit, with what to change in words.

A failed check is a finding about the design, not an error of the program. A check whose value did not happen says so.
"""

from collections.abc import Mapping
from typing import NamedTuple

from sleevelift.case.schema import Case
from sleevelift.plant.liquid_sections import clearance_at_running

Measures = Mapping[str, float | None]


class Check(NamedTuple):
    """One finding."""

    name: str
    value: float | None
    limit: float | None
    passed: bool
    advice: str
    """What it means and, where it failed, what to change."""


MARGINS: dict[str, tuple[str, str]] = {
    "opening_margin": (
        "gas and fuel pressure together break the sleeve away in the worst case",
        "raise the gas pressure or the lift area, lower the preload or the seal friction",
    ),
    "full_lift_margin": (
        "gas and fuel pressure hold the sleeve at full lift in the worst case, unlit",
        "raise the gas pressure or the lift area, take a softer spring, cut the fuel line's loss",
    ),
    "no_fuel_margin": (
        "the interlock: gas alone does not open it, so it cannot start dry of fuel",
        "raise the preload, make the lift area smaller and the fuel opening area larger, limit the gas pressure",
    ),
    "fuel_alone_margin": (
        "fuel pressure alone does not open it",
        "raise the preload or make the fuel opening area smaller",
    ),
    "fuel_loss_margin": (
        "the spring shuts it when fuel is lost while the gas is on",
        "raise the preload, make the lift area smaller, cut the seal friction",
    ),
    "closing_margin": (
        "the spring shuts it when the gas is lost, chamber lit",
        "make nose and face ring narrower, raise the preload, make the fuel opening area smaller, cut the seal friction; a sleeve "
        "that shuts only because chamber pressure decays must be seen to shut on the fuel run valve",
    ),
    "closing_margin_unlit": (
        "the spring shuts it when the gas is lost, chamber unlit",
        "make the nose narrower (the gap pressure pushes it open), raise the preload, make the fuel opening area smaller",
    ),
    "surge_margin": (
        "pressure surges do not unseat it before the command and after closing",
        "prime slowly, widen and shorten the fuel line, close more slowly (smaller exhaust), raise the preload",
    ),
}
"""Margin -> (what it says, what to change)."""

TIMES: dict[str, tuple[str, str]] = {
    "opening_time": (
        "opening_time_at_most",
        "larger fill orifice, shorter or wider tube, smaller dead volume, more gas pressure",
    ),
    "closing_time": (
        "closing_time_at_most",
        "larger exhaust or a quick exhaust, shorter or wider tube, stiffer spring or more preload",
    ),
    "stop_impact_speed": ("stop_impact_speed_at_most", "smaller fill orifice, or a cushion at the stop"),
    "seat_impact_speed": ("seat_impact_speed_at_most", "smaller exhaust orifice, softer spring, less mass"),
    "peak_oxidizer_manifold": ("manifold_pressure_at_most", "close more slowly, shorten and widen the line"),
    "peak_fuel_manifold": ("manifold_pressure_at_most", "close more slowly, shorten and widen the line"),
}
"""Measure -> (key of [limits] that it must not exceed, what to change)."""

CLOSED = ("opened-and-closed", "never-broke-away", "valve-never-shifted")
"""Outcomes that leave the sleeve seated."""


def _margin_checks(found: Measures, case: Case) -> list[Check]:
    out = []
    limit = case.limits.margin_at_least
    for name, (meaning, remedy) in MARGINS.items():
        value = found.get(name)
        if value is None:
            continue
        ok = value >= limit
        out.append(Check(name, value, limit, ok, meaning if ok else f"does not hold: {meaning}. To change: {remedy}"))
    return out


def _limit_checks(found: Measures, case: Case) -> list[Check]:
    out = []
    for name, (key, remedy) in TIMES.items():
        limit = getattr(case.limits, key)
        if limit is None:
            continue
        value = found.get(name)
        ok = value is not None and value <= limit
        if value is None:
            advice = "did not happen, so the limit cannot be held"
            ok = name.startswith("peak_") and case.oxidizer is None
        else:
            advice = "within its limit" if ok else f"above its limit. To change: {remedy}"
        out.append(Check(name, value, limit, ok, advice))
    load_limit = case.limits.sealing_load_at_least
    load = found.get("sealing_load")
    if load_limit is not None and load is not None:
        ok = load >= load_limit
        advice = "enough load on the seat line" if ok else "too little load to seal. To change: more preload, narrower rod"
        out.append(Check("sealing_load", load, load_limit, ok, advice))
    return out


def _lead_check(found: Measures, case: Case) -> list[Check]:
    """Oxidizer must lead by at least the given lead (0 where none is given)."""
    lead = found.get("oxidizer_lead")
    if lead is None:
        return []
    limit = case.limits.oxidizer_lead_at_least
    limit = 0.0 if limit is None else limit
    ok = lead >= limit
    advice = (
        "oxidizer reaches the chamber first by the lead asked for"
        if ok
        else "fuel comes first, or the lead is too short. To change: a longer spigot on the nose (a bare cone passes fuel from the "
        "first micrometre), less lap on the slots"
    )
    return [Check("oxidizer_lead", lead, limit, ok, advice)]


def _hard_start_checks(found: Measures, case: Case) -> list[Check]:
    """The hard-start estimate against the chamber's allowable pressure, and the light-off against the latest allowable."""
    if case.chamber is None or case.chamber.allowable_pressure is None:
        return []
    allowable = case.chamber.allowable_pressure
    out = []
    estimate = found.get("hard_start_pressure")
    caution = "an estimate, no bound: a detonation exceeds it locally"
    if estimate is not None:
        ok = estimate <= allowable
        advice = (
            f"the pool at light-off stays below the allowable pressure ({caution})"
            if ok
            else f"the pool at light-off could burst the chamber ({caution}). To change: igniter burning before the command, "
            "shorter ignition delay, slower ramp, smaller flows until lit"
        )
        out.append(Check("hard_start_pressure", estimate, allowable, ok, advice))
    latest, light = found.get("latest_light_off"), found.get("light_off")
    if latest is not None:
        ok = light is not None and light <= latest
        advice = (
            "it lights before the pool reaches the allowable pressure"
            if ok
            else "it does not light before the pool reaches the allowable pressure. To change: inhibit the igniter after this "
            f"instant, shut down on no light before it, and purge ({caution})"
        )
        out.append(Check("light_off", light, latest, ok, advice))
    return out


def _outcome_checks(outcome: str, case: Case) -> list[Check]:
    """Whether it opened on command and ended shut."""
    out = []
    if case.solenoid.on:
        opened = outcome in ("opened-and-closed", "opened-no-off-command", "did-not-close")
        advice = {
            "never-broke-away": "it did not open. To change: more gas or fuel pressure, less preload or friction; if fuel was "
            "missing, this is the interlock at work",
            "valve-never-shifted": "the solenoid valve never shifted. To change: more voltage at the coil, thicker wiring, a "
            "lower pull-in current",
            "hung-part-way": "it hung part-way. To change: more gas (pressure, bottle, regulator flow), softer spring, less "
            "friction",
            "lifted-without-command": "it lifted without a command. To change: prime slowly, raise the preload",
            "left-gas-range": "the run ended when the gas left its range",
        }.get(outcome, "the run did not get that far")
        out.append(Check("opens", None, None, opened, "it opens on command" if opened else advice))
    if case.solenoid.off:
        shut = outcome in CLOSED
        advice = (
            "it ends on its seat"
            if shut
            else "it is not on its seat at the end. To change: what the failed closing margins ask for, a freer vent path"
        )
        if outcome == "hung-part-way":
            return out
        out.append(Check("closes", None, None, shut, advice))
    return out


def _clearance_checks(case: Case) -> list[Check]:
    """The clearance between post and sleeve must stay open at running temperature."""
    if case.slots is None:
        return []
    clearance = clearance_at_running(case)
    ok = clearance > 0.0
    advice = (
        "the clearance between post and sleeve stays open at running temperature"
        if ok
        else "the clearance between post and sleeve closes up when cold: the sleeve seizes. To change: more clearance, "
        "metals that shrink alike"
    )
    return [Check("running_clearance", clearance, 0.0, ok, advice)]


def _spring_checks(case: Case) -> list[Check]:
    """Solid length, stress and buckling of a spring given by its wire (EN 13906-1)."""
    s = case.spring
    if s.wire_diameter is None or s.mean_diameter is None or s.active_coils is None:
        return []
    if s.total_coils is None or s.free_length is None:
        return []
    from sleevelift.sizing.spring_design import spring_state

    state = spring_state(
        wire_diameter=s.wire_diameter,
        mean_diameter=s.mean_diameter,
        active_coils=s.active_coils,
        total_coils=s.total_coils,
        free_length=s.free_length,
        preload=s.preload,
        stroke=case.sleeve.stroke,
        shear_modulus=s.shear_modulus,
        elastic_modulus=s.elastic_modulus,
        density=s.density,
    )
    out = []
    gap = state.gap_left
    ok = gap > 0.0
    advice = "travel left to solid at full lift" if ok else "the spring goes solid before full lift. To change: fewer coils, longer"
    out.append(Check("spring_travel_to_solid", gap, 0.0, ok, advice))
    stress = state.stress_lifted
    if s.allowable_stress is not None:
        ok = stress <= s.allowable_stress
        advice = "stress at full lift, curvature included" if ok else "overstressed at full lift. To change: thicker wire"
        out.append(Check("spring_stress", stress, s.allowable_stress, ok, advice))
    return out


def checks(found: Measures, outcome: str, case: Case) -> list[Check]:
    """Every check of a run."""
    return [
        *_outcome_checks(outcome, case),
        *_margin_checks(found, case),
        *_limit_checks(found, case),
        *_lead_check(found, case),
        *_hard_start_checks(found, case),
        *_clearance_checks(case),
        *_spring_checks(case),
    ]
