"""What a run must say of itself: limits of the test, of the estimate and of the model that bear on this case.

Each remark is one sentence or two. They stand beside the results wherever results are shown: what bears on this case first, then
the two that hold for every case.
"""

from collections.abc import Mapping, Sequence
from functools import partial
from math import pi
from typing import Any

import numpy as np

from sleevelift.case.cautions import GENERAL
from sleevelift.case.schema import Case
from sleevelift.case.show import changed_values
from sleevelift.case.usual import outside
from sleevelift.glands import material_warnings
from sleevelift.manifold_gas_words import manifold_gas_remarks
from sleevelift.measures import Pulse
from sleevelift.orifice_error import orifice_remark
from sleevelift.physics.feed_line import sudden_stop_rise
from sleevelift.physics.solenoid import edges_in_order
from sleevelift.plant.build import Plant
from sleevelift.plant.params import BOTTLE_SUPPLY, REGULATED_SUPPLY
from sleevelift.plant.range_sections import counted_paths
from sleevelift.plant.state import (
    D_CAVITY_F,
    D_CAVITY_O,
    D_LIT,
    D_MODE,
    G_OUT,
    S_BOTTLE_P,
    S_BOTTLE_T,
    S_FUEL,
    S_FUEL_INJECTOR,
    S_FUEL_P,
    S_FUEL_SHARE,
    S_LIFT_P,
    S_LIFT_T,
    S_OXIDIZER,
    S_OXIDIZER_GAS_VOLUME,
    S_OXIDIZER_INJECTOR,
    S_OXIDIZER_P,
    S_OXIDIZER_SHARE,
    S_PLENUM_P,
    S_PLENUM_T,
    S_SUPERSATURATED,
    S_SUPPLY_P,
    S_TUBE_P,
    S_TUBE_T,
    SEATED,
)
from sleevelift.purge_words import purge_remarks
from sleevelift.ratings import absolute, spelled, unrated
from sleevelift.reader import Reader, in_unit
from sleevelift.rod_words import rod_remarks
from sleevelift.sizing.leakage import Gap, liquid_gap_flow
from sleevelift.slips import doubts, gas_hazard, slips

Measures = Mapping[str, float | None]

CRYOGENIC = 150.0
"""K. A propellant colder than this boils when locked between two closed valves (oxygen boils at 90 K)."""
SUPERSATURATION = 5.0
"""K. As far below saturation the gas tables go on."""
REVERSE_FLOW = 1e-3
"""-. Reverse injector flow above this share of the reference is reported."""
NODES = ("tube", "lift chamber", "spring side", "plenum", "bottle")
"""In the order of the bits of the supersaturation signal."""


def changed_from_file(case: Case) -> list[str]:
    """What was set after the file was read."""
    changed = changed_values(case)
    if not changed:
        return []
    return ["Not as the file has it: " + ", ".join(f"{path} = {text}" for path, text in changed) + "."]


def _interlock(outcome: str, case: Case) -> list[str]:
    if case.case.kind == "dry" and outcome == "never-broke-away":
        return [
            spelled(
                "A dry test at the hot gas pressure stays shut by design: without fuel pressure the gas alone does not lift the "
                "sleeve. Give [bench] fuel_side_pressure {fuel}, or raise the gas pressure for the bench {gas}.",
                case,
            )
        ]
    return []


def _cut_short(outcome: str, case: Case) -> list[str]:
    if outcome != "cut-short":
        return []
    return [
        f"The run was cut {case.run.horizon:g} s after the last instant given while gas or flows still moved: what it had not "
        "done by then it may yet do. A longer [run] horizon tells."
    ]


def _kind(case: Case) -> list[str]:
    if case.case.kind == "cold-flow" and case.bench.back_pressure <= 1.5 * case.ambient.pressure:
        return [
            "A cold-flow run is no timing test for the hot one: it opens later (more flow, no chamber pressure on the face) but "
            "closes earlier (chamber pressure holds a hot sleeve open), so it hides a slow shutdown, unless back pressure is set."
        ]
    return []


NOT_STATIC = (
    "solenoid.", "igniter.", "sequence.", "run.", "tube.", "supply.temperature", "supply.regulator", "supply.plenum",
    "supply.bottle_v",
)  # fmt: skip
"""What the static margins do not depend on, by the beginning of its path."""


def ranges_not_counted(case: Case) -> list[str]:
    """Ranged values that the margins take as they are, though they depend on them."""
    counted = counted_paths(case)
    left = [
        path for path, ends in sorted(case.ranges.items())
        if ends[1] > ends[0] and path not in counted and not path.startswith(NOT_STATIC)
    ]  # fmt: skip
    if not left:
        return []
    return [
        "Not counted in the worst and best margins, which take gas and fuel pressure, friction and jet factor over their ranges: "
        f"the range of {', '.join(left)}. `scatter` runs them all."
    ]


def _pulses(case: Case, pulses: Sequence[Pulse]) -> list[str]:
    """What bears on a run of several pulses."""
    out = []
    commands = len(edges_in_order(case.solenoid.on, case.solenoid.off) + [(0.0, False)]) // 2
    if 0 < len(pulses) < commands:
        out.append(f"The run ended before pulse {len(pulses) + 1} of {commands}.")
    for name, where in (("begins_lifted", "with the sleeve lifted"), ("begins_lit", "with the chamber lit")):
        numbers = [str(p.number) for p in pulses if getattr(p, name)]
        if numbers:
            out.append(f"Pulse {', '.join(numbers)} begins {where}: what has no meaning then is left out.")
    return out


def _going_out(case: Case, plant: Plant, raw: Any) -> list[str]:
    """Where what still flows into a chamber that counts as out is ignitable."""
    if case.chamber is None:
        return []
    limits = plant.record[0]["ignition"]
    for t, which, (before, after) in zip(raw.event_time.tolist(), raw.event_which.tolist(), raw.event_discrete):
        if which == G_OUT and before[D_LIT] and not after[D_LIT]:
            # the point before the jump to ambient pressure, which makes liquid behind an open sleeve start out for an instant
            flows = raw.outputs[min(int(np.searchsorted(raw.t, t)), len(raw.t) - 1)]
            oxidizer, fuel = float(flows[S_OXIDIZER]), float(flows[S_FUEL])
            shares = (flows[S_OXIDIZER_SHARE], flows[S_FUEL_SHARE])
            if any(line["valve_area"] > 0.0 and share <= 0.0 for line, share in zip(plant.record[0]["lines"], shares)):
                continue  # a shut run valve: what still flows is locked liquid that expands, and is over at once
            if oxidizer > 0.0 and fuel > 0.0 and limits["mixture_low"] <= oxidizer / fuel <= limits["mixture_high"]:
                begin = min(case.solenoid.on, default=0.0)
                flow = partial(with_flow, case.reader)
                where = "after the first on command" if case.solenoid.on else "after the start of the run"
                return [
                    f"The chamber counts as out {1e3 * (t - begin):.3f} ms {where}, but what still flows then "
                    f"({flow(oxidizer)} of oxidizer, {flow(fuel)} of fuel) is ignitable: it may burn on."
                ]
    return []


def with_flow(reader: Reader, flow: float) -> str:
    """A flow in words, in the unit that fits it."""
    unit = reader.fitting("flow", flow)
    return f"{in_unit(unit, 'flow', flow):.3g} {unit}"


def _shutdown(found: Measures) -> list[str]:
    lag = found.get("shutdown_oxidizer_lag")
    if lag is not None and lag > 0.0:
        return [
            f"Oxidizer is the last in, by {1e3 * lag:.3g} ms: one sleeve that leads with oxidizer on the way up ends with oxidizer "
            "on the way down. Remedies: shut the oxidizer run valve first, but only where the liquid then locked between it "
            "and the "
            "sleeve has a relief valve of its own; purge the oxidizer side with an inert gas; or both."
        ]
    return []


def vents(case: Case) -> list[str]:
    """What vents the spaces between the seals that part fuel from oxidizer, and in which state; nothing that is not there."""
    side = case.spring_side
    open_vent = side.vent_component is not None or (side.vent_orifice is not None and side.vent_orifice > 0.0)
    out = ["the lift chamber only while the solenoid valve is off (on, it is full of actuation gas and shut to the outside)"]
    if open_vent:
        out.append("the spring side at all times, through its vent")
    return out


def seals_between(case: Case) -> str:
    """Which seals stand between fuel and oxidizer, and which of the spaces between them is vented when."""
    seals = (
        "Between fuel and oxidizer stand the rod seal (fuel from the lift chamber), the piston seal (lift chamber from the spring "
        "side) and the post seal (oxidizer from the spring side)."
    )
    spaces = vents(case)
    if len(spaces) < 2:
        between = (
            f"Vented is {spaces[0]}; the spring side is NOT vented in any state: two leaking seals let the propellants meet there. "
            "Vent it."
        )
    else:
        between = f"Vented are {' and '.join(spaces)}."
    if case.seals.space_vented is not None and case.seals.space_vented != (len(spaces) == 2):
        told = "vented" if case.seals.space_vented else "not vented"
        between += f" [seals] space_vented says {told}, which is not what [spring_side] says: one of the two is wrong."
    return f"{seals} {between} A single seal fails sooner or later."


def _gas_and_doubts(found: Measures, case: Case) -> list[str]:
    """The actuation gas's own hazard, inputs that are or may be slips, parts without a rating."""
    hazard = gas_hazard(case)
    out = [f"Hazard: {hazard}."] if hazard is not None else []
    out += [f"Odd: {text}." for text in slips(case)] + doubts(found, case)
    bare = unrated(found, case)
    if bare:
        seen = ", ".join(
            f"{part.name} ({absolute(part.peak, case.reader)})" if part.peak is not None else part.name for part in bare
        )
        out.append(
            f"No rating given, so nothing is said of whether they hold: {seen}; highest pressure seen in brackets. Give "
            f"{', '.join(part.key for part in bare)}."
        )
    return out


def _locked_liquid(case: Case) -> list[str]:
    out = []
    for name, part in (("oxidizer", case.oxidizer), ("fuel", case.fuel)):
        if part is not None and part.temperature < CRYOGENIC:
            out.append(
                f"The {name} at {case.reader.text('temperature', part.temperature, '.0f')} boils when locked between a closed "
                "run valve and the closed sleeve: that "
                "volume needs a relief valve."
            )
    return out


def _flashing(found: Measures, case: Case) -> list[str]:
    out = []
    for name, part in (("oxidizer", case.oxidizer), ("fuel", case.fuel)):
        if part is None:
            continue
        say = case.reader.text
        back = case.bench.back_pressure if case.case.kind == "cold-flow" else case.ambient.pressure
        lit = found.get("steady_chamber_pressure") if found.get("light_off") is not None else None
        into = lit if lit is not None else back
        if part.vapour_pressure > into:
            out.append(
                f"The {name} flashes: its vapour pressure {say('pressure', part.vapour_pressure, '.3g')} exceeds the "
                f"{say('pressure', into, '.3g')} it discharges into, so the liquid formula overstates the flow."
            )
    return out


def _ignition(found: Measures, case: Case, plant: Plant) -> list[str]:
    if case.chamber is None:
        return []
    out = [
        "The hard-start pressure assumes that the whole pool burns at once at constant volume: an estimate, no bound; a "
        "detonation exceeds it locally."
    ]
    lag, igniter = found.get("light_off_lag"), case.igniter
    if lag is not None and igniter is not None and igniter.light_off is None and igniter.delay is not None:
        if abs(lag - igniter.delay) < 1e-6:
            out.append("The light-off lag is only the given ignition delay: the igniter was burning before the propellants came.")
    o, f = found.get("pooled_oxidizer"), found.get("pooled_fuel")
    c = plant.record[0]["chamber"]
    if o is not None and f is not None and o + f > 0.0 and found.get("both_in_chamber") is not None:
        share = o / (o + f)
        if not float(c["table_low"]) <= share <= float(c["table_high"]):
            out.append("The pool's mixture lies outside the combustion table: its hard-start pressure leans on cold vapour.")
    return out


def _line(found: Measures, case: Case, plant: Plant, raw: Any) -> list[str]:
    """Surges, cavities and reverse flow of the feed lines."""
    out = []
    for side, (name, place, signal) in enumerate(
        (("oxidizer", D_CAVITY_O, S_OXIDIZER_INJECTOR), ("fuel", D_CAVITY_F, S_FUEL_INJECTOR))
    ):
        part = getattr(case, name)
        if part is None:
            continue
        line, say = plant.record[0]["lines"][side], case.reader.text
        peak, steady = found.get(f"peak_{name}_manifold"), found.get(f"steady_{name}_flow")
        if peak is not None and steady is not None and steady > 0.0:
            speed = steady / part.density / (0.25 * pi * part.line_bore**2)
            rise = sudden_stop_rise(part.density, part.bulk_modulus, speed)
            out.append(
                f"{name} manifold: peak {say('pressure', peak)}; a sudden stop of the {say('speed', speed, '.3g')} in the "
                f"line would add rho a dv = {say('pressure difference', rise, '.3g')}."
            )
        cavity = bool(np.any(raw.discrete_state[:, place] != 0)) if float(line["trapped_gas"]) <= 0.0 else False
        if float(line["trapped_gas"]) > 0.0:
            pressure = raw.outputs[:, S_OXIDIZER_P if name == "oxidizer" else S_FUEL_P]
            cavity = bool(np.any(pressure < part.vapour_pressure))
        if cavity:
            out.append(f"A cavity forms in the {name} manifold (column separation): later pressure peaks are not to be trusted.")
        reference = max(float(raw.outputs[:, signal].max(initial=0.0)), 1e-12)
        least = float(raw.outputs[:, signal].min(initial=0.0))
        if least < -REVERSE_FLOW * reference:
            out.append(f"Chamber gas or liquid flows back into the {name} manifold at up to {say('flow', -least, '.3g')}.")
    return out


def _run_valves(found: Measures, case: Case, plant: Plant, raw: Any) -> list[str]:
    """What stands ahead of run valves, and liquid that is locked between a shut one and the shut sleeve."""
    out: list[str] = []
    say = case.reader.text
    shut = np.asarray(raw.discrete_state[:, D_MODE]) == SEATED
    for side, name in enumerate(("oxidizer", "fuel")):
        part = getattr(case, name)
        if part is None or part.valve is None:
            continue
        peak, steady = found.get(f"peak_ahead_{name}_valve"), found.get(f"steady_{name}_flow")
        if peak is not None and steady is not None and steady > 0.0:
            speed = steady / part.density / (0.25 * pi * part.line_bore**2)
            rise = sudden_stop_rise(part.density, part.bulk_modulus, speed)
            out.append(
                f"Ahead of the {name} run valve: peak {say('pressure', peak)}; a sudden stop would add rho a dv = "
                f"{say('pressure difference', rise, '.3g')}."
            )
        locked = shut & (raw.outputs[:, S_OXIDIZER_SHARE + side] <= 0.0)
        locked &= raw.outputs[:, S_OXIDIZER_GAS_VOLUME + side] <= 0.0  # gas beside it gives way
        leaks = (found.get(f"closed_leak_{name}") or 0.0) > 0.0  # past the shut sleeve: what is locked runs out
        if not leaks and bool(np.any(locked[1:] & locked[:-1])):
            highest = float(raw.outputs[locked, S_OXIDIZER_P + side].max())
            out.append(
                f"Liquid stands locked between the shut {name} run valve and the shut sleeve, at up to {say('pressure', highest)}: "
                "warming by a few kelvin raises it by tens of bar, a cryogenic liquid boils. It needs a relief valve of its own, "
                "set below what the manifold is rated for. Heat is not looked at here."
            )
    return out


def _gas(raw: Any, reader: Reader) -> list[str]:
    flags = int(np.bitwise_or.reduce(raw.outputs[:, S_SUPERSATURATED].astype(np.int64))) if len(raw.outputs) else 0
    wet = [name for bit, name in enumerate(NODES) if flags >> bit & 1]
    if wet:
        below = reader.text("temperature difference", SUPERSATURATION, ".2g")
        return [f"Supersaturated vapour (up to {below} below saturation) in: {', '.join(wet)}. Real gas may condense there."]
    return []


def _leaks(case: Case) -> list[str]:
    """Oxidizer past the post seal while the slots cover it, where its gap is given: reported, not simulated."""
    side, seal = case.oxidizer, case.seals.post
    if side is None or seal.leak_clearance is None or seal.leak_length is None:
        return []
    inlet = side.inlet_pressure or (max(side.inlet_table.pressure) if side.inlet_table is not None else 0.0)
    gap = Gap(case.sleeve.post_diameter, seal.leak_clearance, seal.leak_length, eccentricity=1.0)
    flow = liquid_gap_flow(gap, inlet - case.ambient.pressure, side.density, side.viscosity)
    return [
        f"Past the post seal leak up to {case.reader.text('small flow', flow, '.3g')} of liquid (gap all on one side, which is "
        "worst); reported, not simulated."
    ]


def _orifices(plant: Plant, raw: Any, reader: Reader) -> list[str]:
    """The orifice law's error where the run's gas is dense enough for one."""
    supply = plant.record[0]["supply"]
    signals = {"tube": (S_TUBE_P, S_TUBE_T), "lift chamber": (S_LIFT_P, S_LIFT_T)}
    if supply["kind"] == REGULATED_SUPPLY:
        signals["plenum"] = S_PLENUM_P, S_PLENUM_T
    if supply["kind"] in (REGULATED_SUPPLY, BOTTLE_SUPPLY):
        signals["bottle"] = S_BOTTLE_P, S_BOTTLE_T
    nodes = {name: (raw.outputs[:, p], raw.outputs[:, T]) for name, (p, T) in signals.items()}
    if supply["kind"] not in (REGULATED_SUPPLY, BOTTLE_SUPPLY):
        pressures = raw.outputs[:, S_SUPPLY_P]
        nodes["supply"] = pressures, np.full(len(pressures), float(supply["temperature"]))
    return orifice_remark(nodes, float(plant.record[0]["ambient_pressure"]), plant.gas, reader)


def remarks(found: Measures, outcome: str, case: Case, plant: Plant, raw: Any, pulses: Sequence[Pulse] = ()) -> list[str]:
    """Every remark on a run: what bears on this case, then what holds for every case."""
    invented = ["Invented numbers: nobody's hardware, no tested values."] if case.case.invented else []
    return [
        *invented,
        *changed_from_file(case),
        *_gas_and_doubts(found, case),
        *_interlock(outcome, case),
        *_kind(case),
        *_pulses(case, pulses),
        *_going_out(case, plant, raw),
        *_cut_short(outcome, case),
        *ranges_not_counted(case),
        *outside(case),
        *_shutdown(found),
        *([seals_between(case)] if case.case.kind != "dry" else []),
        *material_warnings(case),
        *_locked_liquid(case),
        *_flashing(found, case),
        *_ignition(found, case, plant),
        *_line(found, case, plant, raw),
        *_run_valves(found, case, plant, raw),
        *purge_remarks(found, case, plant, raw),
        *_gas(raw, case.reader),
        *_orifices(plant, raw, case.reader),
        *rod_remarks(found, case, plant, raw),
        *manifold_gas_remarks(found, case, plant, raw),
        *_leaks(case),
        *GENERAL,
    ]
