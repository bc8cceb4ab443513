"""The static answer: what areas, springs and pressures alone say about a case, without running it.

    Case -> Plant -> margins over their ranges, throttle table, forces, findings -> StaticReport

Opening forces are positive. Pressures that push are above ambient, all others absolute. Three numbers per margin: worst
case (what counts), nominal, and best case of the stated ranges: the best is the worst with every range turned round.
Formulas live in `sleevelift.plant.margins`, `sleevelift.sizing` and `sleevelift.physics`; here they are called and put in order.
"""

from typing import Any, NamedTuple

import numpy as np

from sleevelift import remarks as remarks_of_a_run
from sleevelift.barriers import Barriers, barriers
from sleevelift.case.schema import Case
from sleevelift.checks import NOT_KNOWN, clearance_unknown
from sleevelift.glands import gland_verdicts
from sleevelift.margin_words import MARGINS, deciding_ends
from sleevelift.measures import no_opening_pressure, reason
from sleevelift.physics.gas_node import expansion_energy
from sleevelift.physics.sleeve import FORCES
from sleevelift.plant.build import Plant, build
from sleevelift.plant.gas_rows import nodes_of
from sleevelift.plant.liquid_sections import clearance_at_running
from sleevelift.plant.names import N_MEASURE, NAMES, UNITS
from sleevelift.plant.state import M_LEAK_O, N_DISCRETE, N_MEMO, N_SIGNAL
from sleevelift.ratings import spelled
from sleevelift.report import static_kernels as kernels
from sleevelift.report.leak_limits import LeakLimit, leak_limits, told_of
from sleevelift.seat_verdicts import load_verdict, seat_verdicts
from sleevelift.sizing import force_rules, spring_design

THROTTLE_STEPS = 10
"""Equal steps of lift in the throttle table."""
SAME_PRESSURE = 1e-9
"""-. A volume whose pressure exceeds ambient by no more than this share holds no energy."""
FILLED = "tube", "lift"
"""Gas nodes that are at actuation pressure while the valve is open; the others keep what they hold."""
SAME_LIFT = 1e-9
"""m. Lifts nearer than this are one row."""
STROKE_MARGINS = ("full_lift_margin", "fuel_loss_margin", "closing_margin", "closing_margin_unlit")
"""Measure of each row of `least`, in the order of `static_kernels.ORDER`."""
RUN_ONLY = "follows from a run: see the run command"


class Area(NamedTuple):
    """One axial area of the sleeve."""

    name: str
    value: float
    """m2"""
    meaning: str


class ForceState(NamedTuple):
    """Axial forces on the sleeve in one state, N, opening positive."""

    name: str
    lift: float
    """m"""
    gas: float
    fuel: float
    gap: float
    chamber: float
    spring_side: float
    jet: float
    spring: float
    weight: float
    net: float
    """sum of the above: without friction"""
    breakaway: float
    """nominal; holds the sleeve either way"""


class StaticMargin(NamedTuple):
    """One static margin; `value` is the worst case over the stated ranges."""

    name: str
    value: float | None
    nominal: float | None
    best: float | None
    lift: float | None
    """m, where the worst case is least; None for margins of the closed valve"""
    limit: float
    passed: bool | None
    """None: no number to judge"""
    meaning: str
    advice: str
    """what to change, where it fails; why there is no number, where there is none"""


class Finding(NamedTuple):
    """One number with what it is held against."""

    name: str
    value: float | None
    unit: str
    low: float | None
    high: float | None
    limit: float | None
    passed: bool | None
    """None: stated, not judged"""
    advice: str


class Throttle(NamedTuple):
    """Steady flow and forces at one lift."""

    lift: float
    slot_area: float
    """Cd A, m2"""
    seat_area: float
    """Cd A, m2"""
    oxidizer_flow: float
    """kg/s"""
    fuel_flow: float
    """kg/s"""
    mixture_ratio: float | None
    chamber_pressure: float
    """Pa absolute"""
    net_force: float
    """N, without friction, gas at actuation pressure"""
    breakaway: float
    """N, nominal"""


class StoredEnergy(NamedTuple):
    """Energy an isentropic expansion to ambient sets free from one gas volume."""

    name: str
    volume: float
    """m3"""
    at_start: float
    """J"""
    valve_open: float
    """J, sleeve at full lift and gas at actuation pressure"""


class RuleMargin(NamedTuple):
    """Force margin by the rule of a standard."""

    name: str
    friction: str
    """calculated or measured: which factors"""
    value: float | None


class StaticReport(NamedTuple):
    """Everything the static check says."""

    case: dict[str, Any]
    ranges: dict[str, tuple[float, float]]
    """what the margins are taken over: gas and fuel pressure Pa absolute, friction factor, jet factor"""
    areas: list[Area]
    forces: list[ForceState]
    margins: list[StaticMargin]
    findings: list[Finding]
    throttle_unlit: list[Throttle]
    throttle_lit: list[Throttle]
    """empty unless the case is hot"""
    stored_energy: list[StoredEnergy]
    seals_between: str | None
    barriers: Barriers
    motorization_rule: list[RuleMargin]
    cautions: list[str]

    @property
    def failed(self) -> list[str]:
        """Names of what does not hold."""
        margins = [margin.name for margin in self.margins if margin.passed is False]
        return margins + [finding.name for finding in self.findings if finding.passed is False]


class MarginNumbers(NamedTuple):
    """What the compiled margins left."""

    by_name: dict[str, float]
    least: np.ndarray
    pressures: np.ndarray
    event_memory: np.ndarray


def margin_numbers(lanes: Any, tables: np.ndarray) -> MarginNumbers:
    """Margins of one set of ranges; nan where there is none."""
    event_memory, margins = np.zeros(N_MEMO), np.full(N_MEASURE, np.nan)
    least, pressures = np.full((kernels.N_LEAST, 2), np.nan), np.full(3, np.nan)
    kernels.margin_numbers(lanes, tables, event_memory, margins, least, pressures)
    return MarginNumbers(dict(zip(NAMES, margins.tolist())), least, pressures, event_memory)


def nominal_lanes(plant: Plant, case: Case) -> Any:
    """The plant with every range shrunk to its nominal value."""
    lanes = plant.record.copy()
    r = lanes[0]["ranges"]
    fuel = lanes[0]["fuel_side_pressure"] if case.fuel is None else lanes[0]["fuel"]["inlet_high"]
    r["gas_low"] = r["gas_high"] = r["gas_work"]
    r["fuel_low"] = r["fuel_high"] = fuel
    for seal in ("post", "rod", "piston"):
        r[f"{seal}_low"] = r[f"{seal}_high"] = 1.0
    r["jet_low"] = r["jet_high"] = 1.0 if case.seat is None else case.seat.jet_factor
    return lanes


def turned_lanes(plant: Plant) -> Any:
    """The plant with every range turned round, so that the worst case becomes the best."""
    lanes = plant.record.copy()
    r = lanes[0]["ranges"]
    for name in ("gas", "fuel", "post", "rod", "piston", "jet"):
        r[f"{name}_low"], r[f"{name}_high"] = float(r[f"{name}_high"]), float(r[f"{name}_low"])
    return lanes


def number(value: float) -> float | None:
    """The number, or None where it is not finite."""
    return float(value) if np.isfinite(value) else None


def static_margins(case: Case, plant: Plant, worst: MarginNumbers) -> list[StaticMargin]:
    """Every margin of the static check."""
    nominal = margin_numbers(nominal_lanes(plant, case), plant.tables)
    best = margin_numbers(turned_lanes(plant), plant.tables)
    limit = case.limits.margin_at_least
    found: dict[str, float | None] = {name: number(value) for name, value in worst.by_name.items()}
    out = []
    for name, (meaning, remedy) in MARGINS.items():
        value = found[name]
        lift = None
        if name in STROKE_MARGINS:
            lift = number(worst.least[STROKE_MARGINS.index(name), 1]) if value is not None else None
        passed = None if value is None else value >= limit
        if name == "surge_margin":
            advice = RUN_ONLY
        elif value is None:
            advice = reason(name, "", {**found, "steps": 0}, case)
        else:
            advice = "" if passed else spelled(remedy, case)
        if value is not None:
            meaning = f"{meaning}; {deciding_ends(name, case)}"
        row = StaticMargin(
            name, value, number(nominal.by_name[name]), number(best.by_name[name]), lift, limit, passed, meaning, advice
        )
        out.append(row)
    return out


def throttle_lifts(case: Case) -> list[float]:
    """Lifts of the throttle table, m: equal steps, and where slots or spigot begin and end."""
    stroke = case.sleeve.stroke
    wanted = [stroke * i / THROTTLE_STEPS for i in range(THROTTLE_STEPS + 1)]
    if case.slots is not None:
        for row in case.slots.row:
            wanted += [row.lap, row.lap + row.height]
    if case.seat is not None:
        wanted.append(case.seat.spigot_length)
    out: list[float] = []
    for lift in sorted(wanted):
        if lift <= stroke and (not out or lift - out[-1] > SAME_LIFT):
            out.append(lift)
    return out


def throttle_rows(plant: Plant, lifts: list[float], lit: bool, gas_on: bool = True) -> np.ndarray:
    """Compiled rows of the throttle table, with the gas at actuation pressure or vented."""
    rows = np.zeros((len(lifts), kernels.N_ROW))
    gas = plant.record[0]["ranges"]["gas_work"] if gas_on else plant.record[0]["ambient_pressure"]
    kernels.throttle_rows(plant.record, plant.tables, np.array(lifts), 1 if lit else 0, float(gas), rows)
    return rows


def throttle_table(rows: np.ndarray) -> list[Throttle]:
    """Rows with their names."""
    out = []
    for row in rows.tolist():
        w_o, w_f = row[kernels.R_OXIDIZER], row[kernels.R_FUEL]
        out.append(
            Throttle(
                lift=row[kernels.R_LIFT],
                slot_area=row[kernels.R_SLOT],
                seat_area=row[kernels.R_GAP],
                oxidizer_flow=w_o,
                fuel_flow=w_f,
                mixture_ratio=w_o / w_f if w_f > 0.0 else None,
                chamber_pressure=row[kernels.R_CHAMBER],
                net_force=row[kernels.R_NET],
                breakaway=row[kernels.R_BREAKAWAY],
            )
        )
    return out


def force_state(name: str, row: np.ndarray) -> ForceState:
    """Forces of one row of the throttle table."""
    forces = {force.name: float(row[kernels.R_FORCES + i]) + 0.0 for i, force in enumerate(FORCES)}
    net, breakaway = float(row[kernels.R_NET]), float(row[kernels.R_BREAKAWAY])
    return ForceState(name=name, lift=float(row[kernels.R_LIFT]), **forces, net=net, breakaway=breakaway)


def force_states(plant: Plant, unlit: np.ndarray, lit: np.ndarray | None) -> list[ForceState]:
    """Forces shut and at full lift."""
    stroke = float(plant.record[0]["sleeve"]["stroke"])
    vented = throttle_rows(plant, [0.0, stroke], lit=False, gas_on=False)
    out = [
        force_state("shut, gas vented", vented[0]),
        force_state("shut, gas on", unlit[0]),
        force_state("full lift, gas on" + (", unlit" if lit is not None else ""), unlit[-1]),
    ]
    if lit is not None:
        out.append(force_state("full lift, gas on, lit", lit[-1]))
        out.append(force_state("full lift, gas vented, lit", throttle_rows(plant, [stroke], lit=True, gas_on=False)[0]))
    else:
        out.append(force_state("full lift, gas vented", vented[-1]))
    return out


def area_of(plant: Plant, name: str) -> float:
    """An axial area of the sleeve, m2, by its name in `AxialAreas`."""
    row = next(i for i, force in enumerate(FORCES) if force.area == name)
    return abs(float(plant.record[0]["forces"]["slope"][row]))


def stored_energies(case: Case, plant: Plant) -> list[StoredEnergy]:
    """Stored gas energy of each gas volume, J."""
    record, gas = plant.record[0], plant.gas
    amb, work = float(record["ambient_pressure"]), float(record["ranges"]["gas_work"])

    def energy(pressure: float, temperature: float, volume: float) -> float:
        if pressure <= amb * (1.0 + SAME_PRESSURE):
            return 0.0
        return volume * float(expansion_energy(pressure, temperature, amb, gas))

    out = []
    T = case.supply.temperature
    for node in nodes_of(plant):
        held = energy(node.pressure, node.temperature, node.volume)
        filled = held
        if node.name in FILLED:
            filled = energy(work, T, node.volume + max(node.swept, 0.0) * case.sleeve.stroke)
        out.append(StoredEnergy(node.title, node.volume, held, filled))
    return out


def stated(name: str, value: float | None, unit: str, advice: str, limit: float | None = None) -> Finding:
    """A number that is stated without a verdict."""
    return Finding(name, value, unit, None, None, limit, None, advice)


def judged(name: str, value: float, unit: str, limit: float, passed: bool, holds: str, fails: str) -> Finding:
    """A number with its verdict."""
    return Finding(name, value, unit, None, None, limit, passed, holds if passed else fails)


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
    note = f"axial closing force per length of seat line, {load_verdict(load).advice}"
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
    assert s.wire_diameter and s.mean_diameter and s.active_coils and s.total_coils and s.free_length, "asked for above"
    state = spring_design.spring_state(
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
    travel = s.free_length - state.length_lifted
    gap_note = f"travel left from full lift to solid; EN 13906-1 asks for {1e3 * state.gap_needed:.3g} mm of gaps"
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
    return Finding(leak.name, leak.area, "m2", None, None, leak.given, leak.held, told_of(leak, case.gas.name))


def motorization_rule(case: Case, plant: Plant, worst: MarginNumbers) -> list[RuleMargin]:
    """Margins by ECSS-E-ST-33-01C clause 4.7.5.3, opening from the seat and closing where its margin is least."""
    record = plant.record[0]
    s, r, amb = record["sleeve"], record["ranges"], float(record["ambient_pressure"])
    lit = case.case.kind == "hot"
    row = STROKE_MARGINS.index("closing_margin" if lit else "closing_margin_unlit")
    lift = float(worst.least[row, 1])
    closing = np.zeros(3)
    kernels.worst_closing(plant.record, plant.tables, worst.event_memory, lift, 1 if lit else 0, closing)
    weight = float(s["weight"])
    gas = (float(r["gas_low"]) - amb) * area_of(plant, "lift")
    fuel_opening = (float(r["fuel_low"]) - amb) * area_of(plant, "fuel_opening")
    friction = float(kernels.opening_breakaway(plant.record))
    out = []
    for measured, factors in ((False, "calculated"), (True, "measured")):
        opening = force_rules.opening_rule_margin(gas, fuel_opening, float(s["preload"]), weight, friction, measured)
        out.append(RuleMargin("opening", factors, opening))
        spring = float(closing[0]) - weight
        shut = force_rules.closing_rule_margin(spring, max(float(closing[1]), 0.0), weight, float(closing[2]), measured)
        out.append(RuleMargin("closing, lit" if lit else "closing", factors, shut))
    return out


class NoRun(NamedTuple):
    """Stands for the arrays of a run that has not been made: no points."""

    outputs: np.ndarray
    discrete_state: np.ndarray


def cautions(case: Case, plant: Plant, margins: list[StaticMargin]) -> list[str]:
    """What the static answer must say of itself: the remarks of a run that hold without one."""
    opening = next(margin for margin in margins if margin.name == "opening_margin")
    shut = opening.nominal is not None and opening.nominal < 0.0
    without_pool = case.model_copy(update={"chamber": None})
    no_run = NoRun(np.zeros((0, N_SIGNAL)), np.zeros((0, N_DISCRETE), dtype=np.int64))
    return remarks_of_a_run.remarks({}, "never-broke-away" if shut else "", without_pool, plant, no_run)


def stated_ranges(plant: Plant) -> dict[str, tuple[float, float]]:
    """The ranges that the margins are taken over."""
    r = plant.record[0]["ranges"]
    factors = [(float(r[f"{seal}_low"]), float(r[f"{seal}_high"])) for seal in ("post", "rod", "piston")]
    return {
        "gas_pressure": (float(r["gas_low"]), float(r["gas_high"])),
        "fuel_pressure": (float(r["fuel_low"]), float(r["fuel_high"])),
        "friction_factor": (min(low for low, _ in factors), max(high for _, high in factors)),
        "jet_factor": (float(r["jet_low"]), float(r["jet_high"])),
    }


def static_report(case: Case) -> StaticReport:
    """The static answer of a case."""
    plant = build(case)
    hot = case.case.kind == "hot"
    worst = margin_numbers(plant.record, plant.tables)
    margins = static_margins(case, plant, worst)
    lifts = throttle_lifts(case)
    unlit = throttle_rows(plant, lifts, lit=False)
    lit = throttle_rows(plant, lifts, lit=True) if hot else None
    forces = force_states(plant, unlit, lit)
    table = case.case
    return StaticReport(
        case={"name": case.name, "title": table.title, "kind": table.kind, "invented": table.invented},
        ranges=stated_ranges(plant),
        areas=[Area(force.area, area_of(plant, force.area), force.meaning) for force in FORCES if force.area],
        forces=forces,
        margins=margins,
        findings=[
            *pressure_findings(case, plant, worst),
            *seat_findings(case, forces[0]),
            *spring_findings(case, plant),
            *clearance_findings(case, worst),
            *gland_findings(case),
            *(leak_finding(case, leak) for leak in leak_limits(case, plant, worst.event_memory)),
        ],
        throttle_unlit=throttle_table(unlit),
        throttle_lit=throttle_table(lit) if lit is not None else [],
        stored_energy=stored_energies(case, plant),
        seals_between=remarks_of_a_run.seals_between(case) if table.kind != "dry" else None,
        barriers=barriers(case),
        motorization_rule=motorization_rule(case, plant, worst) if case.limits.motorization_rule else [],
        cautions=cautions(case, plant, margins),
    )
