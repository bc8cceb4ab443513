"""From the compiled numbers of a run to named measures, each a number or null with its reason.

    raw vector (nan: did not happen) -> measures, reasons, units

Definitions and thresholds stand in `sleevelift.plant.scan` and `sleevelift.plant.names`.
"""

from collections.abc import Sequence
from difflib import get_close_matches
from math import isnan, nan
from typing import Any, NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.plant.names import MEASURES, NAMES, PLACE, PULSE_NAMES, UNITS
from sleevelift.plant.scan import OUTCOMES

COUNTS = ("seat_bounces", "steps")
"""Measures that are whole numbers."""

WET_ONLY = {
    "first_oxidizer", "first_fuel", "oxidizer_lead", "full_oxidizer", "full_fuel", "ramp_time_oxidizer", "ramp_time_fuel",
    "flow_ramp_time_oxidizer", "flow_ramp_time_fuel",
    "mixture_ratio_min", "mixture_ratio_max", "steady_oxidizer_flow", "steady_fuel_flow", "last_oxidizer", "last_fuel",
    "shutdown_oxidizer_lag", "peak_oxidizer_manifold", "peak_fuel_manifold", "closed_leak_oxidizer", "both_in_chamber",
    "closed_leak_fuel", "peak_ahead_oxidizer_valve", "peak_ahead_fuel_valve",
    "oxidizer_in_stop", "fuel_in_stop", "oxidizer_alone_in_stop",
    "pooled_before_command", "unburned_oxidizer_at_command", "unburned_fuel_at_command",
    "residual_oxidizer_at_seating", "residual_fuel_at_seating", "residual_oxidizer_at_end", "residual_fuel_at_end",
    "oxidizer_purge_gas", "fuel_purge_gas",
}  # fmt: skip
HOT_ONLY = {
    "light_off", "light_off_lag", "pooled_oxidizer", "pooled_fuel", "pooled_before_command", "hard_start_pressure",
    "latest_light_off", "peak_chamber_pressure", "steady_chamber_pressure", "closing_margin", "reverse_oxidizer_flow",
    "reverse_fuel_flow", "unburned_oxidizer_at_command", "unburned_fuel_at_command", "burned_in_stop",
    "unburned_oxidizer_at_end", "unburned_fuel_at_end", "chamber_purge_used", "pool_swept",
}  # fmt: skip
PURGE_ONLY = {"chamber_purge_used": "the chamber has no purge", "pool_swept": "nothing purges the chamber"}
ROD_ONLY = {"liquid_at_command", "rod_leaked", "gas_into_fuel_line"}
NO_ROD_LEAK = "the case gives no leak of fuel past the rod seal"
OPENED = "opened-and-closed"
UNFINISHED = ("failed", "left-gas-range", "cushion-crushed")
"""Outcomes of runs that could not go on; the last two where gas left its range."""
ABOVE_AMBIENT = ("fuel_pressure_to_open",)
"""Pressures that count from ambient."""
ARRIVAL = {"first_oxidizer": "oxidizer", "first_fuel": "fuel"}
NO_LIFT = "the sleeve never left its seat after the command"
NOT_FULL = "full lift was not reached and held up to the off command"
NO_OFF = "no off command follows the last on"
NO_STOP = "no off command follows the last on, and no run valve shuts"
BEGAN_LIFTED = "the pulse began with the sleeve lifted"
BEGAN_LIT = "the chamber was lit when the pulse began"
CUT = "the run was cut at its horizon before that was decided"
UNLIT = PLACE["closing_margin_unlit"]
NOT_POSITIVE = "nothing pushes the other way: the ratio has no positive denominator"


class Pulse(NamedTuple):
    """One pulse of a run: from an on command to the next, or to the run's end."""

    number: int
    """from 1"""
    begins_lifted: bool
    begins_lit: bool
    outcome: str
    measures: dict[str, float | None]
    """what a pulse has of its own, `plant.names.PULSE_NAMES`"""
    reasons: dict[str, str]


class Measures(dict[str, float | None]):
    """Name -> number in SI, or None; a name that is no measure raises KeyError with the nearest ones."""

    def __missing__(self, name: object) -> float | None:
        near = get_close_matches(str(name)[:80], self, 3)
        raise KeyError(f"no measure is called {name!r}; nearest: {', '.join(near) or 'none (all: ' + ', '.join(self) + ')'}")


def named(values: np.ndarray) -> Measures:
    """Measures by name; nan becomes None, counts whole numbers."""
    out = Measures()
    for name, value in zip(NAMES, values.tolist()):
        out[name] = None if isnan(value) else (int(value) if name in COUNTS else value)
    return out


def units() -> dict[str, str]:
    """Unit of each measure (SI; empty for a ratio or a count)."""
    return dict(UNITS)


def _opening_reason(name: str, outcome: str, found: dict[str, float | None], begins: tuple[bool, bool]) -> str:
    if found["energize_time"] is None:
        return "the case gives no on command"
    if begins[0] and name != "stop_impact_speed":
        return BEGAN_LIFTED
    if found["valve_delay"] is None:
        return "the solenoid valve never shifted"
    if found["fill_delay"] is None and not begins[0]:
        return CUT if outcome == "cut-short" else NO_LIFT
    if name == "stop_impact_speed":
        return "the sleeve never reached the stop"
    return NOT_FULL


def _closing_reason(name: str, outcome: str, found: dict[str, float | None], begins: tuple[bool, bool]) -> str:
    if found["deenergize_time"] is None:
        return NO_OFF
    if found["valve_delay"] is None and not begins[0]:
        return "the solenoid valve never shifted"
    if found["release_delay"] is None:
        return "the off command never took effect"
    if found["fill_delay"] is None and not begins[0] and outcome != "lifted-without-command":
        return CUT if outcome == "cut-short" else NO_LIFT
    if found["vent_delay"] is None:
        return "the sleeve did not move down after the off command"
    return CUT if outcome == "cut-short" else "the sleeve is not back on its seat at the end of the pulse or run"


def _flow_reason(name: str, outcome: str, found: dict[str, float | None]) -> str:
    if name in ARRIVAL:
        return f"the {ARRIVAL[name]} flow never rose 5 % of its reference above the closed leak after the command"
    if name in ("oxidizer_lead", "both_in_chamber"):
        return "the two propellants were never both in the chamber"
    if name.endswith("_in_stop"):
        return NO_STOP if found["deenergize_time"] is None else "the flow goes on to the end of the pulse or run"
    if name.startswith("last_"):
        return NO_OFF if found["deenergize_time"] is None else "the flow did not cross its first level downward after the off"
    if name.startswith("peak_ahead_"):
        return "the line has no run valve"
    if name.endswith("_purge_gas"):
        return "the manifold has no purge"
    if name.startswith("residual_"):
        if found[name.replace("seating", "end")] is None:
            return "the manifold is full of liquid: it has no purge, nor gas at the start"
        return "the sleeve did not come to rest on its seat"
    if name.startswith("reverse_"):
        return "the chamber never lit"
    if name == "shutdown_oxidizer_lag":
        return "one of the two flows has no last instant"
    if name.startswith("ramp_time"):
        return "the flow area never rose through 90 % of that at full lift between the on and the off command"
    if name.startswith("mixture_ratio"):
        return "the two flows never exceeded 10 % of reference together"
    return "the steady flow before the off command never rose above the level that counts as arrived"


def _ignition_reason(name: str, outcome: str, found: dict[str, float | None], case: Case, begins: tuple[bool, bool]) -> str:
    if name == "burned_in_stop":
        return NO_STOP
    if begins[1] and found["light_off"] is None:
        return BEGAN_LIT
    if name in ("light_off", "light_off_lag"):
        if found["light_off"] is not None:
            return "the two propellants were never both in the chamber"
        if case.igniter is None:
            return "the case has no igniter"
        return "igniter, both propellants and mixture were never there together"
    if name == "hard_start_pressure":
        if found["light_off"] is None:
            return "the chamber never lit: see the pooled masses"
        return "the chamber lit before both propellants were in it: nothing had pooled"
    if name == "latest_light_off":
        if case.chamber is not None and case.chamber.allowable_pressure is None:
            return "the case gives no allowable chamber pressure"
        if found["both_in_chamber"] is None:
            return "the two propellants were never both in the chamber"
        return "the unlit pool never reaches the allowable pressure"
    return "the case gives no on command"


NOT_ASKED = (False, False)
SAYS_NOTHING = 10.0
"""-. A margin of a dry case against friction alone above this, the most that [limits] margin_at_least may ask, is no number to
compare."""
FRICTION_ALONE = "nothing pushes it open but friction, which the spring exceeds more than tenfold"


def says_nothing(closing_unlit: float, plant: Any) -> bool:
    """Whether a closing margin of the unlit chamber is that of a dry case with its fuel side open, where friction alone stands
    against the spring, and is far below it. plant: one lane of the record."""
    if plant["liquids"]["lines"] or plant["ranges"]["fuel_high"] > plant["ambient_pressure"]:
        return False
    return bool(closing_unlit > SAYS_NOTHING)


def drop_empty_margins(values: np.ndarray, plant: Any) -> None:
    """Measures (N_MEASURE,) with a margin that says nothing made nan. plant: one lane of the record."""
    if says_nothing(values[UNLIT], plant):
        values[UNLIT] = nan


def no_opening_pressure(found: dict[str, float | None]) -> str:
    """Why no fuel pressure is the one that opens the valve (`margins.opening_fuel_pressure`)."""
    lift, preload = found["lift_force"], found["preload"]
    if lift is not None and preload is not None and lift > preload:
        return "the actuation gas alone opens it, without any fuel pressure"
    return "no fuel pressure opens it: the rod seal's friction rises faster with it than the force on the fuel opening area"


def reason(name: str, outcome: str, found: dict[str, float | None], case: Case, begins: tuple[bool, bool] = NOT_ASKED) -> str:
    """Why a measure is null, in words; begins: whether the pulse began with the sleeve lifted, with the chamber lit."""
    kind = case.case.kind
    if name == "bottle_at_command" and case.supply.kind not in ("bottle", "regulator"):
        return "the case has no bottle"
    if name in ROD_ONLY and (kind == "dry" or not case.seals.rod_leak_area > 0.0):
        return NO_ROD_LEAK
    if name in ("supply_at_command", "bottle_at_command", "liquid_at_command"):
        return "the case gives no on command"
    if found.get("steps", 0) is None:
        return "the run could not start: the gas is outside its range at the start"
    if name in HOT_ONLY and kind != "hot":
        return f"a {kind} case has no combustion chamber"
    if name in WET_ONLY and kind == "dry":
        return "a dry case has no propellants"
    if name in PURGE_ONLY:
        return PURGE_ONLY[name]
    if outcome in UNFINISHED[1:] and name not in ("closing_margin",):
        suffix = " (the run ended when the gas left its range)"
    else:
        suffix = ""
    if name in ("surge_margin", "surge_time"):
        return "the sleeve was never seated before the command nor after the off command" + suffix
    if name == "closing_margin_unlit" and kind == "dry":
        return FRICTION_ALONE
    if name.endswith("_margin") or name.endswith("_margin_unlit"):
        return NOT_POSITIVE
    if name == "fuel_pressure_to_open":
        return no_opening_pressure(found)
    if name in ("required_lift_area",):
        return "the gas pressure is not above ambient"
    group = next(m.group for m in MEASURES if m.name == name)
    if group == "opening":
        return _opening_reason(name, outcome, found, begins) + suffix
    if group == "closing":
        return _closing_reason(name, outcome, found, begins) + suffix
    if group == "ignition" and name != "both_in_chamber":
        return _ignition_reason(name, outcome, found, case, begins) + suffix
    return _flow_reason(name, outcome, found) + suffix


def reasons(outcome: str, found: dict[str, float | None], case: Case, begins: tuple[bool, bool] = NOT_ASKED) -> dict[str, str]:
    """Name -> reason of every null."""
    return {name: reason(name, outcome, found, case, begins) for name, value in found.items() if value is None}


def pulse(number: int, outcome: str, begins: tuple[bool, bool], values: np.ndarray, case: Case) -> Pulse:
    """A pulse of its numbers, (N_MEASURE,)."""
    found = {name: value for name, value in named(values).items() if name in PULSE_NAMES}
    return Pulse(number, *begins, outcome, found, reasons(outcome, found, case, begins))


def judged(pulses: Sequence[Pulse]) -> Pulse | None:
    """The pulse whose outcome is the run's: the first that does not open and close, else the first; None without any."""
    return next((p for p in pulses if p.outcome != OPENED), pulses[0] if pulses else None)


def outcome_name(index: int) -> str:
    """Outcome of its index in `sleevelift.plant.scan.OUTCOMES`."""
    return OUTCOMES[index]
