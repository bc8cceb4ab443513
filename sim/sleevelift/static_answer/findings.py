"""Numbers of the parts with what each is held against: opening pressure, lift area, seat, spring, clearance, glands, leaks."""

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.case.wound_spring import wound_state
from sleevelift.case_checks import clearance_unknown
from sleevelift.check import NOT_KNOWN
from sleevelift.glands import gland_verdicts
from sleevelift.measures import no_opening_pressure
from sleevelift.plant.build import Plant
from sleevelift.plant.liquid_sections import clearance_at_running
from sleevelift.plant.names import UNITS
from sleevelift.plant.state import M_LEAK_O
from sleevelift.ratings import spelled
from sleevelift.seat_verdicts import load_verdict, seat_verdicts
from sleevelift.sizing import spring_design
from sleevelift.static_answer.leak_limits import LeakLimit, told_of
from sleevelift.static_answer.margins import MarginNumbers, area_of, number
from sleevelift.static_answer.records import Finding, ForceState, judged, stated


def pressure_findings(case: Case, plant: Plant, worst: MarginNumbers) -> list[Finding]:
    """Fuel pressure that opens it, and the first cut of the lift area."""
    low, nominal, high = (number(p) for p in worst.pressures)
    opens = Finding(
        "fuel_pressure_to_open", nominal, UNITS["fuel_pressure_to_open"], low, high, None, None,
        "above ambient, gas at actuation pressure; range: least friction and most gas to most friction and least gas"
        if nominal is not None
        else no_opening_pressure({name: number(value) for name, value in worst.by_name.items()}),
    )  # fmt: skip
    installed = area_of(plant, "lift")
    required = number(worst.by_name["required_lift_area"])
    if required is None:
        return [opens, stated("required_lift_area", None, "m2", "the gas pressure is not above ambient", installed)]
    area = judged(
        "required_lift_area", required, "m2", installed, required <= installed,
        "first cut, factor x (preload - fuel opening force)/actuation pressure, against the installed lift area",
        spelled("the installed lift area is below the first cut. To change: larger piston, less preload, or more gas {gas}", case),
    )  # fmt: skip
    return [opens, area]


def seat_findings(case: Case, shut: ForceState) -> list[Finding]:
    """Load on the seat line, shut with the gas vented, and what the seat's metal, angles and preload say."""
    load = -shut.net / (np.pi * case.sleeve.seat_diameter)
    limit = case.limits.sealing_load_at_least
    note = f"axial closing force per length of seat line, {load_verdict(load, case.reader).advice}"
    if limit is None:
        out = [judged("sealing_load", load, "N/m", 0.0, load > 0.0, note, "nothing presses the nose on its seat")]
    else:
        low = "too little load to seal. To change: more preload, narrower rod"
        out = [judged("sealing_load", load, "N/m", limit, load >= limit, note, low)]
    rows = seat_verdicts(case, load, None, ran=False)
    return out + [Finding(v.name, v.value, v.unit, None, None, v.limit, v.passed, v.advice) for v in rows if v.name != "seat_load"]


def spring_findings(case: Case, plant: Plant) -> list[Finding]:
    """Rate and forces; for a spring given by its wire also lengths, stress, buckling and surge (EN 13906-1)."""
    s, stroke = case.spring, case.sleeve.stroke
    out = [
        stated("spring_rate", s.rate, "N/m", "force per travel"),
        stated("spring_force_shut", s.preload, "N", "preload"),
        stated("spring_force_full_lift", s.preload + s.rate * stroke, "N", "preload + rate x stroke"),
    ]
    if s.wire_diameter is None or s.mean_diameter is None or s.active_coils is None:
        out.append(stated("spring_stress", None, "Pa", "needs the wire: wire_diameter, mean_diameter, active_coils"))
        return out
    active = spring_design.wire_mass(s.wire_diameter, s.mean_diameter, s.active_coils, s.density)
    surge = spring_design.surge_frequency(s.wire_diameter, s.mean_diameter, s.active_coils, s.shear_modulus, s.density)
    out.append(stated("spring_surge_frequency", surge, "Hz", "lowest natural frequency of the coils, both ends held"))
    natural = spring_design.loaded_frequency(s.rate, case.sleeve.moving_mass, active)
    moving = "sleeve on its spring: should lie well below the surge frequency"
    out.append(stated("sleeve_on_spring_frequency", natural, "Hz", moving))
    if s.total_coils is None or s.free_length is None:
        out.append(stated("spring_travel_to_solid", None, "m", "needs total_coils and free_length"))
        return out
    return out + wound_findings(case)


def wound_findings(case: Case) -> list[Finding]:
    """Lengths, stress and buckling of a spring whose wire and free length are given."""
    s = case.spring
    state = wound_state(case)
    assert state is not None, "asked for above"
    travel = state.free_length - state.length_lifted
    gap_note = (
        f"travel left from full lift to solid; EN 13906-1 asks for {case.reader.text('length', state.gap_needed, '.3g')} of gaps"
    )
    out = [
        stated("spring_solid_length", state.solid_length, "m", "coils touching, ground ends"),
        judged(
            "spring_travel_to_solid", state.gap_left, "m", 0.0, state.gap_left > 0.0,
            gap_note + ("" if state.gap_left >= state.gap_needed else ": nearer than that the coils touch one by one"),
            "goes solid before full lift. To change: fewer coils, longer spring",
        ),
        stress_finding(state, s.allowable_stress),
        stated("spring_stress_solid", state.stress_solid, "Pa", "coils touching, without curvature"),
    ]  # fmt: skip
    if np.isinf(state.buckling_travel):
        out.append(stated("spring_buckling_travel", None, "m", "never buckles between parallel guided ends"))
    else:
        out.append(
            judged(
                "spring_buckling_travel",
                state.buckling_travel,
                "m",
                travel,
                state.buckling_travel > travel,
                "travel at which it buckles unguided, against the travel at full lift",
                "buckles unguided before full lift. To change: guide it, shorter spring, larger coil",
            )  # fmt: skip
        )
    return out


def stress_finding(state: spring_design.SpringState, allowable: float | None) -> Finding:
    """Shear stress at full lift, curvature included."""
    note = "shear stress at full lift, curvature included"
    if allowable is None:
        return stated("spring_stress", state.stress_lifted, "Pa", note + "; no allowable_stress is given")
    fails = "overstressed at full lift. To change: thicker wire, larger coil"
    return judged("spring_stress", state.stress_lifted, "Pa", allowable, state.stress_lifted <= allowable, note, fails)


def clearance_findings(case: Case, worst: MarginNumbers) -> list[Finding]:
    """Clearance between post and sleeve as measured and at running temperature, and what leaks through it shut."""
    if case.slots is None:
        return []
    running, unknown = clearance_at_running(case), clearance_unknown(case)
    held = judged(
        "running_clearance", running, "m", 0.0, running > 0.0,
        "the same at running temperature",
        "closes up at running temperature: the sleeve seizes. To change: more clearance, metals that shrink alike",
    )  # fmt: skip
    if unknown is not None:
        words = f"{NOT_KNOWN}: {unknown}; a post and a sleeve that shrink differently seize"
        held = Finding("running_clearance", None, "m", None, None, 0.0, False, words)
    return [
        stated("clearance", case.slots.clearance, "m", "radial, between post and sleeve, as given"),
        held,
        stated(
            "closed_leak_oxidizer", number(worst.event_memory[M_LEAK_O]), "kg/s",
            "oxidizer past the closed sleeve: a lapped slot is no shut-off",
        ),
    ]  # fmt: skip


def gland_findings(case: Case) -> list[Finding]:
    """Each seal's gland against its bounds; stated where the case gives none."""
    return [Finding(v.name, None, "", None, None, None, v.passed, v.advice) for v in gland_verdicts(case)]


def leak_finding(case: Case, leak: LeakLimit) -> Finding:
    """A largest leak, held against the one that the case has, with the gap and the leak check that it stands for."""
    return Finding(leak.name, leak.area, "m2", None, None, leak.given, leak.held, told_of(leak, case.gas.name, case.reader))
