"""What a run left: traces against time, and the timeline of what happened.

Signals that are not states are those the right-hand side itself gives, at the stored points and between them on the dense
output. Two samples at one instant are the two sides of a jump.
"""

from typing import Any, NamedTuple

import numpy as np

from sleevelift.integrate.workspace import TARGET
from sleevelift.physics.sleeve import CAUSE, FORCES, OPENS, PRESSURES
from sleevelift.plant.build import Plant
from sleevelift.plant.gas_rows import GAS_FLOWS, slots
from sleevelift.plant.lane import refine, refined_points
from sleevelift.plant.liquid_rows import LIQUID_FLOWS, LIQUID_VOLUMES, flows_of, volumes_of
from sleevelift.plant.params import BOTTLE_SUPPLY, REGULATED_SUPPLY
from sleevelift.plant.state import (
    ARRIVED,
    AT_STOP,
    D_CAVITY_O,
    D_CHAMBER_PURGE,
    D_DAMPED,
    D_FIRST_F,
    D_FIRST_O,
    D_LIT,
    D_MODE,
    D_ON,
    G_ALLOWABLE,
    G_CAVITY_O,
    G_DRIBBLE_F,
    G_DRIBBLE_O,
    G_FIRST_F,
    G_FIRST_O,
    G_IGNITABLE,
    G_MODE_B,
    G_OUT,
    G_QUIET,
    G_SETTLED,
    M_REFERENCE_F,
    M_REFERENCE_O,
    MODE_NAMES,
    N_DISCRETE,
    N_SIGNAL,
    S_BOTTLE_P,
    S_BOTTLE_T,
    S_CHAMBER_P,
    S_CHAMBER_PURGE,
    S_FRICTION,
    S_FUEL,
    S_FUEL_P,
    S_FUEL_SHARE,
    S_GAP,
    S_GAP_P,
    S_JET,
    S_LIFT_P,
    S_LIFT_T,
    S_LIQUID_OUT,
    S_NET,
    S_OXIDIZER,
    S_OXIDIZER_GAS,
    S_OXIDIZER_GAS_VOLUME,
    S_OXIDIZER_PURGE,
    S_OXIDIZER_SHARE,
    S_PLENUM_P,
    S_PLENUM_T,
    S_ROD_LIQUID,
    S_RUN,
    S_SLOT,
    S_SPRING_P,
    S_SPRING_T,
    S_SUPPLY_P,
    S_TUBE_P,
    S_TUBE_T,
    S_VALVE,
    SEATED,
    SLIDING_DOWN,
    SLIDING_UP,
    STUCK,
)

INSIDE = 3
"""Points added to each longer step of the traces, so that curves are smooth."""

UNITS = {
    "time": "s", "command": "", "valve_opening": "", "supply_pressure": "Pa", "tube_pressure": "Pa",
    "lift_chamber_pressure": "Pa", "spring_side_pressure": "Pa", "tube_temperature": "K", "lift_chamber_temperature": "K",
    "spring_side_temperature": "K", "lift": "m", "speed": "m/s", "mode": "", "opening_force": "N", "closing_force": "N",
    "friction_force": "N", "breakaway_force": "N", "seat_reaction": "N", "gap_pressure": "Pa",
    **{flow.trace: "kg/s" for flow in GAS_FLOWS}, "slot_area": "m2", "seat_area": "m2", "jet_force": "N",
    **{volume.trace: "Pa" for volume in LIQUID_VOLUMES}, **{flow.trace: "kg/s" for flow in LIQUID_FLOWS},
    "oxidizer_valve_opening": "", "fuel_valve_opening": "", "chamber_purge_flow": "kg/s", "chamber_purge_on": "",
    **{f"{side}_{what}": unit for side in ("oxidizer", "fuel") for what, unit in (
        ("manifold_gas", "kg"), ("manifold_gas_volume", "m3"), ("injector_gas_flow", "kg/s"), ("purge_flow", "kg/s"),
    )},
    "oxidizer_flow": "kg/s", "fuel_flow": "kg/s", "mixture_ratio": "", "chamber_pressure": "Pa", "unburned_oxidizer": "kg",
    "unburned_fuel": "kg", "lit": "", "plenum_pressure": "Pa", "plenum_temperature": "K", "bottle_pressure": "Pa",
    "bottle_temperature": "K", "lift_chamber_liquid": "m3", "rod_leak_liquid_flow": "kg/s", "lift_chamber_liquid_outflow": "kg/s",
}  # fmt: skip
"""Unit of each trace. Areas are effective ones, Cd A."""

CAUSE_SIGNALS = (S_LIFT_P, S_FUEL_P, S_GAP_P, S_CHAMBER_P, S_SPRING_P, S_JET)
"""Where the causes of the forces (`sleeve.CAUSES`, but the lift) are traced."""

MIXTURE_SHARE = 0.1
"""-. The mixture ratio is traced while both flows exceed this share of their reference; elsewhere nan."""


class Event(NamedTuple):
    """One thing that happened."""

    instant: float
    """s"""
    what: str
    mode_before: str
    mode_after: str


class Raw(NamedTuple):
    """Arrays a run left, cut to length."""

    t: np.ndarray
    y: np.ndarray
    discrete_state: np.ndarray
    outputs: np.ndarray
    dense: np.ndarray
    event_time: np.ndarray
    event_which: np.ndarray
    event_discrete: np.ndarray
    event_memory: np.ndarray


def traces(raw: Raw, plant: Plant) -> dict[str, np.ndarray]:
    """Name -> array over time, SI; units in `UNITS`."""
    record = plant.record[0]
    points = len(raw.t)
    total = refined_points(raw.t, points, INSIDE)
    t = np.empty(total)
    y = np.empty((total, raw.y.shape[1]))
    discrete_state = np.empty((total, N_DISCRETE), dtype=np.int64)
    outputs = np.zeros((total, N_SIGNAL))
    refine(
        plant.record, plant.tables, plant.gas, np.zeros(raw.y.shape[1]), raw.event_memory,
        raw.t, raw.y, raw.discrete_state, raw.outputs, raw.dense, points, INSIDE, t, y, discrete_state, outputs,
    )  # fmt: skip
    _floor_at_vapour(outputs, record)
    out = {"time": t, "command": discrete_state[:, D_ON].astype(float)}
    for name, place in _COMMON:
        out[name] = outputs[:, place]
    index = record["index"]
    out["lift"] = y[:, int(index["lift_height"])]
    out["speed"] = y[:, int(index["speed"])]
    out["mode"] = discrete_state[:, D_MODE]
    out |= _forces(out, outputs, record)
    out |= _gas_flows(outputs, record)
    kind = int(record["supply"]["kind"])
    if kind == REGULATED_SUPPLY:
        out["plenum_pressure"], out["plenum_temperature"] = outputs[:, S_PLENUM_P], outputs[:, S_PLENUM_T]
    if kind in (REGULATED_SUPPLY, BOTTLE_SUPPLY):
        out["bottle_pressure"], out["bottle_temperature"] = outputs[:, S_BOTTLE_P], outputs[:, S_BOTTLE_T]
    if record["liquids"]["lines"]:
        out |= _liquids(outputs, record, raw.event_memory)
    if record["gas_manifolds"]:
        out |= _manifold_gas(y, outputs, record)
    if record["rod"]["present"]:
        out["lift_chamber_liquid"] = y[:, int(index["lift_liquid"])]
        out["rod_leak_liquid_flow"], out["lift_chamber_liquid_outflow"] = outputs[:, S_ROD_LIQUID], outputs[:, S_LIQUID_OUT]
    if record["chamber"]["hot"]:
        out["unburned_oxidizer"] = y[:, int(index["unburned_oxidizer"])]
        out["unburned_fuel"] = y[:, int(index["unburned_fuel"])]
        out["lit"] = discrete_state[:, D_LIT].astype(float)
    if record["purge"]["area"] > 0.0:
        out["chamber_purge_flow"] = outputs[:, S_CHAMBER_PURGE]
        out["chamber_purge_on"] = discrete_state[:, D_CHAMBER_PURGE].astype(float)
    return out


_COMMON = (
    ("valve_opening", S_VALVE),
    ("supply_pressure", S_SUPPLY_P),
    ("tube_pressure", S_TUBE_P),
    ("lift_chamber_pressure", S_LIFT_P),
    ("spring_side_pressure", S_SPRING_P),
    ("tube_temperature", S_TUBE_T),
    ("lift_chamber_temperature", S_LIFT_T),
    ("spring_side_temperature", S_SPRING_T),
    ("friction_force", S_FRICTION),
    ("gap_pressure", S_GAP_P),
    ("slot_area", S_SLOT),
    ("seat_area", S_GAP),
    ("jet_force", S_JET),
    ("fuel_manifold_pressure", S_FUEL_P),
    ("chamber_pressure", S_CHAMBER_P),
)


def _gas_flows(outputs: np.ndarray, record: Any) -> dict[str, np.ndarray]:
    """Every gas flow between what the plant has, those of one trace added up; 0 where it is blocked."""
    place = slots(int(record["supply"]["kind"]))
    out: dict[str, np.ndarray] = {}
    for flow in GAS_FLOWS:
        if flow.source in place and flow.sink in place:
            out[flow.trace] = out.get(flow.trace, 0.0) + outputs[:, flow.signal]
    return out


def _forces(out: dict[str, np.ndarray], outputs: np.ndarray, record: Any) -> dict[str, np.ndarray]:
    """Opening and closing forces above ambient pressure, breakaway, and the reaction of seat (positive) or stop (negative)."""
    amb, rows = float(record["ambient_pressure"]), record["forces"]
    causes = [outputs[:, place] - (amb if k < PRESSURES else 0.0) for k, place in enumerate(CAUSE_SIGNALS)] + [out["lift"]]
    opening = sum(
        rows["constant"][i] + rows["slope"][i] * causes[CAUSE[i]] for i, force in enumerate(FORCES) if force.side == OPENS
    )
    closing = opening - outputs[:, S_NET]
    mode = out["mode"]
    rest = -(outputs[:, S_NET] + outputs[:, S_FRICTION])
    reaction = np.where(mode == SEATED, np.maximum(rest, 0.0), np.where(mode == AT_STOP, np.minimum(rest, 0.0), 0.0))
    return {
        "opening_force": opening,
        "closing_force": closing,
        "breakaway_force": outputs[:, S_RUN] * float(record["friction"]["ratio"]),
        "seat_reaction": reaction,
    }


def _floor_at_vapour(outputs: np.ndarray, record: Any) -> None:
    """Manifolds without trapped gas at their vapour pressure at least, in place: the law of a cavity, also where one came and went
    inside a step, too shallow and too short for the steps to see it."""
    for volume in volumes_of(record).values():
        line = record["lines"][volume.side]
        if volume.ahead or line["trapped_gas"] <= 0.0:
            np.maximum(outputs[:, volume.pressure], line["vapour"], out=outputs[:, volume.pressure])


def _liquids(outputs: np.ndarray, record: Any, event_memory: np.ndarray) -> dict[str, np.ndarray]:
    """Manifolds, flows and mixture ratio."""
    ox, fuel = outputs[:, S_OXIDIZER], outputs[:, S_FUEL]
    both = (ox > MIXTURE_SHARE * event_memory[M_REFERENCE_O]) & (fuel > MIXTURE_SHARE * event_memory[M_REFERENCE_F])
    ratio = np.full(len(ox), np.nan)
    ratio[both] = ox[both] / fuel[both]
    return {
        **{volume.trace: outputs[:, volume.pressure] for volume in volumes_of(record).values()},
        **{flow.trace: outputs[:, flow.signal] for flow in flows_of(record)},
        **{f"{side}_valve_opening": outputs[:, place] for side, place in _valve_signals(record)},
        "oxidizer_flow": ox,
        "fuel_flow": fuel,
        "mixture_ratio": ratio,
    }


def _manifold_gas(y: np.ndarray, outputs: np.ndarray, record: Any) -> dict[str, np.ndarray]:
    """Gas in the manifolds that may have any: its mass and volume, what passes the injector, what the purge brings."""
    out: dict[str, np.ndarray] = {}
    for side, name in enumerate(("oxidizer", "fuel")):
        gas = record["gases"][side]
        if gas["present"]:
            out[f"{name}_manifold_gas"] = y[:, int(gas["place"])]
            out[f"{name}_manifold_gas_volume"] = outputs[:, S_OXIDIZER_GAS_VOLUME + side]
            out[f"{name}_injector_gas_flow"] = outputs[:, S_OXIDIZER_GAS + side]
            out[f"{name}_purge_flow"] = outputs[:, S_OXIDIZER_PURGE + side]
    return out


def _purge_sentences(t: float, plant: Plant) -> list[str]:
    """What purges do at a time event, in words."""
    out = []
    for side, gas in zip(("oxidizer", "fuel"), plant.record[0]["gases"]):
        start, count = int(gas["windows"]["start"]), int(gas["windows"]["count"])
        for on, off in plant.tables[start : start + 2 * count].reshape(-1, 2):
            out += [f"{side} purge {word}" for word, instant in (("on", on), ("off", off)) if instant == t]
    return out


def _valve_signals(record: Any) -> list[tuple[str, int]]:
    """(side, signal of how far its run valve is open) of each run valve."""
    sides = (("oxidizer", S_OXIDIZER_SHARE), ("fuel", S_FUEL_SHARE))
    return [each for each, line in zip(sides, record["lines"]) if line["valve_area"] > 0.0]


def _valve_sentences(t: float, plant: Plant) -> list[str]:
    """What run valves do at a time event, in words."""
    out = []
    for side, line in zip(("oxidizer", "fuel"), plant.record[0]["lines"]):
        start, count = int(line["valve"]["start"]), int(line["valve"]["count"])
        knots = plant.tables[start : start + 2 * count].reshape(-1, 2)
        for i in range(count):
            if knots[i, 0] == t and count > 1:
                before = knots[i, 1] - knots[i - 1, 1] if i > 0 else 0.0
                after = knots[i + 1, 1] - knots[i, 1] if i + 1 < count else 0.0
                if before != 0.0 and after == 0.0:
                    out.append(f"{side} run valve is {'open' if before > 0.0 else 'shut'}")
                elif after * before <= 0.0 and after != 0.0:
                    out.append(f"{side} run valve starts to {'open' if after > 0.0 else 'shut'}")
    return out


def _mode_sentence(which: int, before: int, after: int) -> str:
    """What a change of the sleeve's mode is, in words."""
    if before == SEATED:
        return "sleeve leaves its seat"
    if which == G_MODE_B and before == SLIDING_UP:
        return "sleeve hits its stop" + ("" if after == SLIDING_DOWN else " and stays there")
    if which == G_MODE_B and before == SLIDING_DOWN:
        return "sleeve hits its seat" + (" and stays there" if after == SEATED else "")
    if after == STUCK:
        return "sleeve stops part-way, held by friction"
    if before in (STUCK, AT_STOP):
        return "sleeve breaks away " + ("upward" if after == SLIDING_UP else "downward")
    return "sleeve turns " + ("upward" if after == SLIDING_UP else "downward")


_GUARD_SENTENCES = {
    G_SETTLED: "actuation gas vented, flows settled",
    G_QUIET: "everything stands still",
    G_FIRST_O: "oxidizer enters the chamber",
    G_FIRST_F: "fuel enters the chamber",
    G_IGNITABLE: "mixture of the flows becomes ignitable",
    G_ALLOWABLE: "the unlit pool reaches the allowable pressure (estimate)",
    G_DRIBBLE_O: "oxidizer passage is full",
    G_DRIBBLE_F: "fuel passage is full",
}


ARRIVALS = {G_FIRST_O: D_FIRST_O, G_FIRST_F: D_FIRST_F}
"""Guards of a propellant's arrival, and the flag that it has come."""


def _known_sentences(t: float, before: np.ndarray, after: np.ndarray, plant: Plant) -> list[str]:
    """What happens at a time event, in words."""
    out = []
    if after[D_ON] != before[D_ON]:
        out.append("command on" if after[D_ON] else "command off")
    for effect, opens, _ in plant.schedule.effects:
        if effect == t:
            out.append("fill port starts to open" if opens else "exhaust port starts to open")
    ends = [
        (knot, opening)
        for i, (knot, opening) in enumerate(zip(plant.schedule.times, plant.schedule.openings))
        if i > 0 and opening in (0.0, 1.0) and plant.schedule.openings[i - 1] != opening
    ]
    for knot, opening in ends:
        if knot == t:
            out.append("fill port fully open" if opening == 1.0 else "exhaust port fully open")
    if after[D_LIT] and not before[D_LIT]:
        out.append("chamber lights")
    windows = plant.record[0]["ignition"]["windows"]
    for i in range(int(windows["count"])):
        k = int(windows["start"]) + 2 * i
        if plant.tables[k] == t:
            out.append("igniter burns")
        if plant.tables[k + 1] == t:
            out.append("igniter off")
    out += _valve_sentences(t, plant) + _purge_sentences(t, plant)
    if after[D_CHAMBER_PURGE] != before[D_CHAMBER_PURGE]:
        out.append("chamber purge on" if after[D_CHAMBER_PURGE] else "chamber purge off")
    if after[D_DAMPED] and not before[D_DAMPED]:
        out.append("lines: rest of the ringing left out")
    return out


def timeline(raw: Raw, plant: Plant) -> list[Event]:
    """Everything that happened, in order."""
    out: list[Event] = []
    for t, which, (before, after) in zip(raw.event_time.tolist(), raw.event_which.tolist(), raw.event_discrete):
        modes = MODE_NAMES[int(before[D_MODE])], MODE_NAMES[int(after[D_MODE])]
        if which == TARGET:
            out += [Event(t, what, *modes) for what in _known_sentences(t, before, after, plant)]
        elif which <= G_MODE_B:
            what = _mode_sentence(which, int(before[D_MODE]), int(after[D_MODE]))
            out.append(Event(t, what, *modes))
        elif which == G_OUT:
            if before[D_LIT] and not after[D_LIT]:
                out.append(Event(t, "chamber goes out", *modes))
        elif G_CAVITY_O <= which < G_DRIBBLE_O:
            slot = which - G_CAVITY_O
            volume = list(volumes_of(plant.record[0]).values())[slot]
            verb = "opens" if after[D_CAVITY_O + slot] else "closes"
            out.append(Event(t, f"cavity {verb} in the {volume.name}", *modes))
        elif which not in ARRIVALS or after[ARRIVALS[which]] == ARRIVED:
            out.append(Event(t, _GUARD_SENTENCES[which], *modes))
        if which != TARGET and after[D_LIT] and not before[D_LIT]:
            out.append(Event(t, "chamber lights", *modes))
    return out
