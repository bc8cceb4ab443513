"""Checks: each measure held against its limit, with what to change in words; those that fail first.

A failed check is a finding about the design, not an error of the program. A check that a case of its kind must meet is always
made: where its value did not happen it is "not known", and that counts as failed.
"""

from collections.abc import Mapping, Sequence
from math import inf

from sleevelift.case.schema import Case
from sleevelift.case_checks import clearance_checks, gland_checks, input_checks, spring_checks
from sleevelift.check import NOT_KNOWN, Check
from sleevelift.margin_words import MARGINS, deciding_ends
from sleevelift.measures import BEGAN_LIFTED, BEGAN_LIT, FRICTION_ALONE, Pulse
from sleevelift.plant.names import PULSE_NAMES
from sleevelift.ratings import limit_of, parts, spelled
from sleevelift.seat_verdicts import seat_verdicts

Measures = Mapping[str, float | None]
REVERSE_ALLOWED = 1e-3
"""-. Flow back through a lit injector above this share of the rated (else of the steady) flow fails: below it is rounding."""
TIMES: dict[str, tuple[str, str]] = {
    "opening_time": (
        "opening_time_at_most",
        "larger fill orifice, shorter or wider tube, smaller dead volume, or more gas pressure {gas}",
    ),
    "closing_time": (
        "closing_time_at_most",
        "larger exhaust or a quick exhaust, shorter or wider tube, stiffer spring or more preload",
    ),
    "stop_impact_speed": ("stop_impact_speed_at_most", "smaller fill orifice, or a cushion at the stop"),
    "seat_impact_speed": ("seat_impact_speed_at_most", "smaller exhaust orifice, softer spring, less mass"),
}
"""Measure -> (key of [limits] that it must not exceed, what to change)."""

OF_A_PULSE = frozenset((*PULSE_NAMES, "opens", "closes"))
"""Checks of what each pulse has of its own."""
LAST_IN = "shutdown_oxidizer_lag"
"""Measure that says which propellant is the last in."""
CLOSED = ("opened-and-closed", "never-broke-away", "valve-never-shifted")
"""Outcomes that leave the sleeve seated."""


def _margin_checks(found: Measures, case: Case) -> list[Check]:
    out = []
    limit = case.limits.margin_at_least
    for name, (meaning, remedy) in MARGINS.items():
        value = found.get(name)
        if value is None:
            out += _margin_without_number(name, meaning, found, case)
            continue
        ok = value >= limit
        ends = deciding_ends(name, case)
        advice = f"{meaning}; {ends}" if ok else f"does not hold: {meaning}; {ends}. To change: {remedy}"
        out.append(Check(name, value, limit, ok, advice))
    return out


def _margin_without_number(name: str, meaning: str, found: Measures, case: Case) -> list[Check]:
    """A margin without a positive denominator holds whatever happens; one that was never looked at is not known."""
    if name == "closing_margin" and case.case.kind != "hot":
        return []
    limit = case.limits.margin_at_least
    if found.get("steps") is None:
        return [
            Check(
                name,
                None,
                limit,
                False,
                f"{NOT_KNOWN}: the run could not start. To change: see its failure. What it would say: {meaning}",
            )
        ]
    if name == "surge_margin":
        why = "the sleeve was never seated before the command nor after the off command"
        return [Check(name, None, limit, False, f"{NOT_KNOWN}: {why}. To change: see what lifts it. What it would say: {meaning}")]
    if name in OPENED_BY_NOTHING:
        # no force closes the valve: that it opens is no merit
        return [Check(name, None, limit, False, f"{NOT_KNOWN}: nothing holds the sleeve shut. To change: more preload")]
    why = FRICTION_ALONE if case.case.kind == "dry" and name == "closing_margin_unlit" else "nothing pushes the other way"
    return [Check(name, None, limit, True, f"{meaning}: {why}")]


OPENED_BY_NOTHING = ("opening_margin", "full_lift_margin")
"""Margins whose denominator is what keeps the sleeve shut."""


def _limit_checks(found: Measures, case: Case) -> list[Check]:
    out = []
    for name, (key, remedy) in TIMES.items():
        limit = getattr(case.limits, key)
        if limit is None:
            continue
        value = found.get(name)
        ok = value is not None and value <= limit
        if value is None:
            advice = f"{NOT_KNOWN}: it did not happen, so the limit cannot be held. To change: see why it did not"
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
    if case.case.kind == "dry" or not case.solenoid.on:
        return []
    limit = case.limits.oxidizer_lead_at_least
    limit = 0.0 if limit is None else limit
    if lead is None:
        why = "the two propellants were never both in the chamber. To change: see why it did not open, or what starves a side"
        return [Check("oxidizer_lead", None, limit, False, f"{NOT_KNOWN}: {why}")]
    ok = lead >= limit
    advice = (
        "oxidizer reaches the chamber first by the lead asked for"
        if ok
        else "fuel comes first, or the lead is too short. To change: a longer spigot on the nose (a bare cone passes fuel from the "
        "first micrometre), less lap on the slots"
    )
    return [Check("oxidizer_lead", lead, limit, ok, advice)]


def _hard_start_check(found: Measures, case: Case) -> Check:
    """The hard-start estimate against the chamber's allowable pressure."""
    assert case.chamber is not None, "asked for a hot case"
    allowable, estimate = case.chamber.allowable_pressure, found.get("hard_start_pressure")
    caution = "an estimate, no bound: a detonation exceeds it locally"
    name = "hard_start_pressure"
    if allowable is None:
        return Check(name, estimate, None, False, f"{NOT_KNOWN} ({caution}). To change: give [chamber] allowable_pressure")
    if estimate is not None:
        if estimate <= allowable:
            return Check(name, estimate, allowable, True, f"the pool at light-off stays below the allowable pressure ({caution})")
        advice = (
            f"the pool at light-off could burst the chamber ({caution}). To change: igniter burning before the command, "
            "shorter ignition delay, slower ramp, smaller flows until lit"
        )
        return Check(name, estimate, allowable, False, advice)
    if found.get("light_off") is not None:
        return Check(name, None, allowable, True, "it was lit before both propellants were there: nothing had pooled")
    pool = sum(found.get(f"pooled_{side}") or 0.0 for side in ("oxidizer", "fuel"))
    left = f"{case.reader.text('mass', pool, '.3g')} lie unburned in the chamber, which any spark may light"
    advice = f"{NOT_KNOWN}: it never lit, and {left}. To change: see light_off"
    return Check(name, None, allowable, False, advice)


def _light_off_check(found: Measures, case: Case) -> Check:
    """That it lights, and before the unlit pool reaches the allowable pressure."""
    latest, light = found.get("latest_light_off"), found.get("light_off")
    if light is not None and (latest is None or light <= latest):
        words = "it lights" if latest is None else "it lights before the pool reaches the allowable pressure"
        return Check("light_off", light, latest, True, words)
    if latest is None:
        why = (
            "the case has no igniter" if case.igniter is None else "igniter, both propellants and mixture were never there together"
        )
        advice = f"it never lights: {why}. To change: see the flows, the igniter's instants and the ignitable mixture"
        return Check("light_off", None, None, False, advice)
    advice = (
        "it does not light before the pool reaches the allowable pressure. To change: inhibit the igniter after this "
        "instant, shut down on no light before it, and purge with an inert gas (an estimate, no bound: a detonation exceeds "
        "it locally)"
    )
    return Check("light_off", light, latest, False, advice)


def _ignition_checks(found: Measures, case: Case) -> list[Check]:
    """What every hot start must meet."""
    if case.chamber is None or not case.solenoid.on:
        return []
    return [_hard_start_check(found, case), _light_off_check(found, case)]


def _reverse_checks(found: Measures, case: Case) -> list[Check]:
    """Chamber gas that runs back through an injector while lit, in a transient or for good."""
    out = []
    for side, opening in (("oxidizer", "slots"), ("fuel", "seat gap")):
        part, back = getattr(case, side), found.get(f"reverse_{side}_flow")
        if part is None or case.chamber is None or back is None:
            continue
        allowed = REVERSE_ALLOWED * (part.rated_flow or abs(found.get(f"steady_{side}_flow") or 0.0))
        ok = back <= allowed
        advice = (
            f"no chamber gas runs back through the {opening} while lit"
            if ok
            else f"chamber gas runs back through the {opening} into the {side} manifold: gas with the other propellant in it meets "
            f"{side} there, which can burn or detonate in manifold and line. To change: more pressure drop over the "
            "injector beside "
            "that over line and valve, a throat large enough for the flow, a softer start or stop; check throat_area for a slip"
        )
        out.append(Check(f"reverse_{side}_flow", back, allowed, ok, advice))
    return out


def _last_in_check(found: Measures, case: Case) -> list[Check]:
    """Which propellant is the last in at the stop."""
    wanted = case.limits.last_in
    if wanted is None or case.case.kind == "dry" or not case.solenoid.off:
        return []
    lag, other = found.get("shutdown_oxidizer_lag"), "oxidizer" if wanted == "fuel" else "fuel"
    if lag is None:
        return [Check(LAST_IN, None, 0.0, False, f"{NOT_KNOWN}: one of the two flows has no last instant")]
    ok = lag <= 0.0 if wanted == "fuel" else lag >= 0.0
    advice = f"{wanted} is the last in, by {1e3 * abs(lag):.3g} ms ([limits] last_in)"
    if not ok:
        advice = (
            f"{other} is the last in, by {1e3 * abs(lag):.3g} ms, not {wanted} ([limits] last_in). To change: shut the {other}'s "
            "run valve so much earlier, where the liquid then locked in has a relief valve of its own; an inert purge; or both"
        )
    return [Check(LAST_IN, lag, 0.0, ok, advice)]


def _rated_flow_checks(found: Measures, case: Case) -> list[Check]:
    """Steady flows of a hot case against the flows they are rated for."""
    out = []
    if case.case.kind != "hot" or not case.solenoid.on:
        return []
    band = case.limits.steady_flow_band
    for side in ("oxidizer", "fuel"):
        part, flow = getattr(case, side), found.get(f"steady_{side}_flow")
        if part is None or part.rated_flow is None:
            continue
        rated, name = part.rated_flow, f"steady_{side}_flow"
        if flow is None:
            out.append(
                Check(
                    name,
                    None,
                    rated,
                    False,
                    f"{NOT_KNOWN}: there was no steady flow before the off command. To change: see why it did not open",
                )
            )
            continue
        off = flow / rated - 1.0
        ok = abs(off) <= band
        words = f"{100.0 * off:+.3g} % of the rated flow, allowed are {100.0 * band:.3g} % ([limits] steady_flow_band)"
        advice = (
            words if ok else f"{words}. To change: areas of slots, seat and annulus, losses, throat; or the rated flow is a slip"
        )
        out.append(Check(name, flow, rated, ok, advice))
    return out


REMEDIES = {
    "bottle_pressure": "fill to less, or a bottle with a higher rating",
    "peak_supply_pressure": "a relief valve, a lower set pressure, or a higher rating",
    "peak_tube_pressure": "a relief valve ahead of the solenoid valve, a lower set pressure, or a higher rating",
    "peak_lift_chamber_pressure": "a relief valve ahead of the solenoid valve, a lower set pressure, or a higher rating",
    "peak_spring_side_pressure": "a larger vent, less leak past the seals, or a higher rating",
    "peak_oxidizer_manifold": "close more slowly, shorten and widen the line",
    "peak_fuel_manifold": "close more slowly, shorten and widen the line",
    "peak_chamber_pressure": "a smaller pool at light-off, smaller flows or a larger throat",
}
"""Check of a pressure -> what to change."""


def _pressure_checks(found: Measures, case: Case) -> list[Check]:
    """Highest pressures against ratings and limits; a part without either is not checked, and a remark names it."""
    out = []
    for part in parts(found, case):
        given = limit_of(part, case)
        if given is None:
            continue
        limit, word = given
        if part.peak is None:
            out.append(
                Check(
                    part.check,
                    None,
                    limit,
                    False,
                    f"{NOT_KNOWN}: the run gave no peak of the {part.name}. To change: see its failure",
                )
            )
            continue
        ok = part.peak <= limit
        advice = f"the {part.name} stays within its {word}"
        if not ok:
            advice = f"the {part.name} sees more than its {word}. To change: {REMEDIES[part.check]}"
        out.append(Check(part.check, part.peak, limit, ok, advice))
    return out


def _outcome_checks(outcome: str, case: Case) -> list[Check]:
    """Whether it opened on command and ended shut."""
    out = []
    if case.solenoid.on:
        opened = outcome in ("opened-and-closed", "opened-no-off-command", "did-not-close")
        advice = {
            "never-broke-away": "it did not open. To change: larger lift area, less preload or friction, more gas pressure {gas} or"
            " more fuel pressure {fuel}; if fuel was missing, this is the interlock at work",
            "valve-never-shifted": "the solenoid valve never shifted. To change: more voltage at the coil, thicker wiring, a "
            "lower pull-in current",
            "hung-part-way": "it hung part-way. To change: a larger bottle, more regulator flow, softer spring, less friction, "
            "or more gas pressure {gas}",
            "lifted-without-command": "it lifted without a command. To change: prime slowly, raise the preload",
            "left-gas-range": "the run ended when the gas left its range",
            "cushion-crushed": "the run ended when the falling sleeve crushed the last gas of a lift chamber full of fuel. To "
            "change: a tighter rod seal, a low port",
            "cut-short": "the run was cut at its horizon before that was decided. To change: a longer [run] horizon",
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


def _seat_checks(found: Measures, case: Case) -> list[Check]:
    """Stresses, preload and energy of the seat, where the case gives what they are held against."""
    rows = seat_verdicts(case, found.get("sealing_load"), found.get("seat_impact_speed"), ran=True)
    return [Check(v.name, v.value, v.limit, v.passed, v.advice) for v in rows if v.passed is not None]


def checks(found: Measures, outcome: str, case: Case) -> list[Check]:
    """Every check of a run, those that fail first."""
    made = [
        *_outcome_checks(outcome, case),
        *input_checks(case),
        *_reverse_checks(found, case),
        *_pressure_checks(found, case),
        *_ignition_checks(found, case),
        *_lead_check(found, case),
        *_last_in_check(found, case),
        *_rated_flow_checks(found, case),
        *_margin_checks(found, case),
        *_limit_checks(found, case),
        *clearance_checks(case),
        *spring_checks(case),
        *_seat_checks(found, case),
        *gland_checks(case),
    ]
    return sorted((check._replace(advice=spelled(check.advice, case)) for check in made), key=lambda check: check.passed)


def _slack(check: Check) -> tuple[bool, float]:
    """How well a check is held, to be compared between pulses: the least is the worst."""
    if check.value is None or check.limit is None:
        return check.passed, inf if check.passed else -inf
    above = check.value - check.limit
    return check.passed, abs(above) if check.passed else -abs(above)


def checks_of_pulses(found: Measures, outcome: str, pulses: Sequence[Pulse], case: Case) -> list[Check]:
    """Every check of a run; of several pulses each check takes the worst and names it."""
    if len(pulses) < 2:
        return checks(found, outcome, case)
    worst: dict[str, tuple[Check, int]] = {}
    for pulse in pulses:
        for check in checks({**found, **pulse.measures}, pulse.outcome, case):
            if pulse.reasons.get(check.name) in (BEGAN_LIFTED, BEGAN_LIT):
                continue
            known = worst.get(check.name)
            if known is None or _slack(check) < _slack(known[0]):
                worst[check.name] = check, pulse.number
    named = (
        check._replace(advice=f"pulse {number} of {len(pulses)}: {check.advice}") if check.name in OF_A_PULSE else check
        for check, number in worst.values()
    )
    return sorted(named, key=lambda check: check.passed)
