"""Faults as data: name, why it matters, and what it makes of a case. A case adds its own with [[faults]].

    Fault(name, why, change)   change(case, nominal measures) -> a case, or a sentence why it does not apply

Sizes of the faults (factors, leak areas, times) are guesses that bound a bench's experience, each named below.
"""

import math
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from sleevelift.case.change import fault_values
from sleevelift.case.read import with_values
from sleevelift.case.schema import Case
from sleevelift.case.schema_gas import HIGHEST_GAS_PRESSURE, PressureTable
from sleevelift.plant.manifold_gas_sections import has_gas
from sleevelift.study.leak_faults import (
    TORN_FACTOR,
    TORN_SEAL,
    both_ports_blocked,
    flooded,
    leaking,
    port_at,
    rod_and_exhaust,
    seat_and_slots,
)
from sleevelift.study.sequence_faults import sequence_faults

Measures = Mapping[str, float | None]
Change = Callable[[Case, Measures], Case | str]

LOSS_TIME = 10e-3
"""s. In which a lost pressure falls to ambient (a burst hose; guess)."""
SLOW = 3.0
"""-. Factor on dead and stroke times of a slow solenoid valve (guess)."""
LOW_VOLTAGE = 0.7
"""-. Voltage of a weak battery over the nominal one (common practice, no source)."""
LATE = 20e-3
"""s. Light-off after the nominal one (guess)."""
HIGH_SUPPLY = 1.1
"""-. Highest supply over the nominal one where the case gives no range (relief valve setting; common practice, no source)."""
SEIZING = 3.0
"""-. Factor on the friction of the rod seal (guess)."""
WEAK_SPRING = 0.7
"""-. Preload left (guess)."""
SEIZED_AT = (0.25, 0.5, 0.75, 1.0)
"""-. Shares of the stroke at which the sleeve seizes."""
TRAPPED_SHARE = 0.1
"""-. Trapped gas over the volume of a manifold (guess)."""


class Fault(NamedTuple):
    """One fault, or a pair that one cause brings about."""

    name: str
    why: str
    change: Change
    must_stay_shut: bool = False
    """whether the sleeve may not leave its seat at all with this fault"""
    endless: bool = False
    """whether the off command cannot act"""
    caveat: str = ""
    """what its run leaves out, said beside its verdict"""


def _middle(case: Case, nominal: Measures) -> float | None:
    """Half way between the first on and the next off command, s; None where there is no such pair."""
    if case.sequence is not None:
        begin, end = nominal.get("energize_time"), nominal.get("deenergize_time")
        return None if begin is None or end is None else 0.5 * (begin + end)
    on = case.solenoid.on
    later = [t for t in case.solenoid.off if on and t > on[0]]
    return 0.5 * (on[0] + later[0]) if later else None


def _table(case: Case, name: str, **values: Any) -> Case:
    """The case with keys of one table set (None allowed), nothing derived again."""
    new = case.model_copy(update={name: getattr(case, name).model_copy(update=values)})
    new._changes = {**case.changes, **{f"{name}.{key}": str(value) for key, value in values.items()}}
    return new


def _falling(pressure: float, instant: float, to: float) -> PressureTable:
    """A pressure that is lost at an instant."""
    return PressureTable.model_construct(time=(0.0, instant, instant + LOSS_TIME), pressure=(pressure, pressure, to))


def power_lost(case: Case, nominal: Measures) -> Case | str:
    """No electrical power from the middle of the run."""
    middle = _middle(case, nominal)
    if middle is not None and case.sequence is not None:
        return _table(case, "sequence", power_lost=middle)
    return "no on and off command" if middle is None else _table(case, "solenoid", on=case.solenoid.on[:1], off=(middle,))


def supply_lost(case: Case, nominal: Measures) -> Case | str:
    """Supply gas falls to ambient in the middle of the run, the valve still on."""
    middle, pressure = _middle(case, nominal), case.supply.pressure or case.supply.bottle_pressure
    if middle is None or pressure is None:
        return "no on and off command, or a supply over time already"
    table = _falling(pressure, middle, case.ambient.pressure)
    return _table(case, "supply", kind="table", pressure=None, table=table)


def supply_high(case: Case, nominal: Measures) -> Case | str:
    """Supply at the top of its range, or 10 % above nominal where there is none."""
    for path, own in (("supply.pressure", case.supply.pressure), ("supply.bottle_pressure", case.supply.bottle_pressure)):
        if own is not None and (path != "supply.bottle_pressure" or case.supply.pressure is None):
            return with_values(case, {path: case.ranges[path][1] if path in case.ranges else own * HIGH_SUPPLY}, check=False)
    return "the supply is given over time"


def failed_open_pressure(case: Case) -> float | None:
    """Pressure of the supply line, Pa, behind a regulator that stands fully open and passes no flow on; None without regulator.

    Without a relief valve the bottle's. With one, its set pressure, or more where the regulator passes more than it: both
    choked at one temperature, p = p_bottle C_d A_regulator/A_relief, the gas taken as perfect.
    """
    s = case.supply
    bottle = case.ranges.get("supply.bottle_pressure", (0.0, s.bottle_pressure))[1]
    if s.kind != "regulator" or bottle is None or s.regulator_orifice is None or s.regulator_discharge_coefficient is None:
        return None
    if s.relief_pressure is None or s.relief_area is None:
        return bottle
    seat = s.regulator_discharge_coefficient * 0.25 * math.pi * s.regulator_orifice**2
    return min(max(s.relief_pressure, bottle * seat / s.relief_area), bottle)


def regulator_open(case: Case, nominal: Measures) -> Case | str:
    """The regulator has failed open before the run: the line stands at what bottle and relief valve let it come to."""
    pressure = failed_open_pressure(case)
    if pressure is None:
        return "the supply has no regulator"
    return _table(case, "supply", pressure=min(pressure, HIGHEST_GAS_PRESSURE), bottle_pressure=_bottle_top(case))


def _bottle_top(case: Case) -> float | None:
    """The bottle's highest pressure at the start, Pa."""
    return case.ranges.get("supply.bottle_pressure", (0.0, case.supply.bottle_pressure))[1]


def _seized(share: float) -> Change:
    def change(case: Case, nominal: Measures) -> Case | str:
        stuck = stuck_open(case, nominal)
        return stuck if isinstance(stuck, str) else _table(stuck, "sleeve", stroke=share * case.sleeve.stroke)

    return change


def stuck_open(case: Case, nominal: Measures) -> Case | str:
    """The off command does nothing."""
    if case.sequence is not None:
        return _table(case, "sequence", failed_part="solenoid stuck on")
    return _table(case, "solenoid", on=case.solenoid.on[:1], off=()) if case.solenoid.on else "no on command"


def open_from_start(case: Case, nominal: Measures) -> Case | str:
    """The valve is open before the command."""
    if case.sequence is not None and (nominal.get("energize_time") or 0.0) > 0.0:
        return _table(_table(case, "solenoid", on=(0.0,)), "sequence", failed_part="solenoid stuck on")
    return _table(case, "solenoid", on=(0.0,), off=()) if case.solenoid.on and case.solenoid.on[0] > 0.0 else "on from the start"


def stuck_closed(case: Case, nominal: Measures) -> Case | str:
    """The on command does nothing."""
    if case.sequence is not None:
        return _table(case, "sequence", failed_part="solenoid stuck off")
    return _table(case, "solenoid", on=(), off=())


def slow_valve(case: Case, nominal: Measures) -> Case | str:
    """Dead and stroke times three times as long."""
    keys = ("open_dead_time", "open_stroke_time", "close_dead_time", "close_stroke_time")
    values = {key: getattr(case.solenoid, key) for key in keys}
    return _table(case, "solenoid", **{key: SLOW * value for key, value in values.items() if value is not None})


def low_battery(case: Case, nominal: Measures) -> Case | str:
    """The coil's voltage is low."""
    if case.solenoid.coil is None:
        return "the case gives dead times, no coil"
    return with_values(case, {"solenoid.coil.supply_voltage": LOW_VOLTAGE * case.solenoid.coil.supply_voltage}, check=False)


def _feed_lost(side: str, during: bool) -> Change:
    def change(case: Case, nominal: Measures) -> Case | str:
        part, ambient = getattr(case, side), case.ambient.pressure
        if part is None:
            if side == "fuel" and not during and case.bench.fuel_side_pressure > ambient:
                return with_values(case, {"bench.fuel_side_pressure": ambient}, check=False)
            return "a dry case without that feed"
        if part.inlet_pressure is None:
            return "the inlet pressure is given over time already"
        if not during:
            return with_values(case, {f"{side}.inlet_pressure": ambient}, check=False)
        middle = _middle(case, nominal)
        if middle is None:
            return "no on and off command"
        return _table(case, side, inlet_pressure=None, inlet_table=_falling(part.inlet_pressure, middle, ambient))

    return change


def no_light(case: Case, nominal: Measures) -> Case | str:
    """The igniter never lights."""
    return "no igniter" if case.igniter is None else case.model_copy(update={"igniter": None})


def late_light(case: Case, nominal: Measures) -> Case | str:
    """Light-off 20 ms after the nominal one."""
    lit = nominal.get("light_off")
    return "it never lights" if case.igniter is None or lit is None else _table(case, "igniter", light_off=lit + LATE)


def post_seal_leaks(case: Case, nominal: Measures) -> Case | str:
    """A torn post seal that lets combustion gas to the spring side."""
    area = max(TORN_FACTOR * case.seals.post_leak_area, TORN_SEAL)
    return with_values(case, {"seals.post_leak_area": area, "seals.post_seal_faces": "chamber"}, check=False)


def rod_friction(case: Case, nominal: Measures) -> Case | str:
    """The rod seal rubs three times as hard."""
    return with_values(case, {"seals.rod.friction_factor": SEIZING * case.seals.rod.friction_factor}, check=False)


def vent_blocked(case: Case, nominal: Measures) -> Case | str:
    """The spring side cannot breathe."""
    return _table(case, "spring_side", vent_orifice=0.0, vent_component=None)


def weak_spring(case: Case, nominal: Measures) -> Case | str:
    """The spring has lost 30 % of its preload."""
    return with_values(case, {"spring.preload": WEAK_SPRING * case.spring.preload}, check=False)


def _trapped(side: str) -> Change:
    def change(case: Case, nominal: Measures) -> Case | str:
        part = getattr(case, side)
        if part is None:
            return "a dry case without that feed"
        if has_gas(part):
            return "gas in that manifold is followed already (purge, or start_gas)"
        gas = part.trapped_gas_volume + TRAPPED_SHARE * part.manifold_volume
        return with_values(case, {f"{side}.trapped_gas_volume": gas}, check=False)

    return change


FAULTS = (
    Fault("no electrical power mid-run", "the valve must fall shut by itself", power_lost),
    Fault("supply gas lost mid-run", "the spring must shut it without the exhaust path", supply_lost),
    Fault("supply at its maximum", "the interlock must hold against the highest gas pressure", supply_high),
    Fault(
        "regulator fails open",
        "bottle pressure reaches whatever the relief valve does not take",
        regulator_open,
        caveat="as run, the line stands at that pressure from the start; neither the relief valve's flow nor the rise is",
    ),
    Fault("solenoid stuck open after opening", "only run valves or venting the supply stop it", stuck_open, endless=True),
    Fault("solenoid open before the command", "propellant must not flow before the igniter burns", open_from_start, endless=True),
    Fault("solenoid stuck closed", "it must stay shut", stuck_closed, must_stay_shut=True),
    Fault("solenoid slow", "late opening and long shutdown", slow_valve),
    Fault("low battery", "pull-in late or never", low_battery),
    Fault("fuel supply lost before the run", "it must not start dry of fuel", _feed_lost("fuel", False), must_stay_shut=True),
    Fault("fuel supply lost during the run", "it must shut, else oxidizer burns the chamber", _feed_lost("fuel", True)),
    Fault("oxidizer lost during the run", "fuel alone pools in the chamber", _feed_lost("oxidizer", True)),
    Fault("no light-off", "the pool grows until shutdown", no_light),
    Fault("late light-off", "hard start", late_light),
    Fault("post seal leaks hot gas into the spring side", "back pressure and heat on the spring", post_seal_leaks),
    Fault("piston seal leaks", "slow or hanging opening", leaking("piston")),
    Fault("lift chamber leaks to the outside", "slow or hanging opening, gas where nobody expects it", leaking("outside")),
    Fault("rod seal leaks", "fuel in the gas chamber may hold it open", leaking("rod")),
    Fault("rod seal leaks, port high", "gas leaves first: the chamber fills", port_at("high")),
    Fault("rod seal leaks, port low", "liquid leaves first, into the solenoid valve", port_at("low")),
    Fault("rod seal leaks, gas chamber flooded", "a full chamber must be pushed out before it can close", flooded),
    Fault("fuel seat leaks", "fuel pools in the chamber beside what the slots leak", leaking("seat")),
    Fault("piston and post seal leak (the same cold)", "two failures of one cause", leaking("piston", "post")),
    Fault(
        "rod, piston and post seal leak (the same cold)",
        "fuel meets oxidizer in the spring side",
        leaking("rod", "piston", "post"),
        caveat="that propellants meet is not in the run: see the barriers",
    ),
    Fault("fuel seat leaks, slots scored (the same debris)", "both propellants pool before the command", seat_and_slots),
    Fault("rod seal and fuel seat leak (the same debris)", "fuel in both chambers", leaking("rod", "seat")),
    Fault("fill and exhaust half blocked (the same debris)", "slow both ways", both_ports_blocked),
    Fault("rod seal leaks, exhaust half blocked (the same debris)", "the worst for closing", rod_and_exhaust),
    Fault("rod seal friction x 3", "hangs on the way up or down", rod_friction),
    Fault("vent hole blocked", "gas spring above the piston", vent_blocked),
    *[
        Fault(
            f"sleeve seized at {100.0 * share:.0f} % of its stroke",
            "only run valves stop what flows past it",
            _seized(share),
            endless=True,
            caveat="as run, a stop at that lift and no off command: it goes up as usual and stays there",
        )
        for share in SEIZED_AT
    ],
    Fault("spring loses 30 % of its preload", "opens early, shuts late", weak_spring),
    Fault("trapped gas in the oxidizer manifold", "soft column, late flow", _trapped("oxidizer")),
    Fault("trapped gas in the fuel manifold", "soft column, late flow", _trapped("fuel")),
)


def faults_of_case(case: Case) -> list[Fault]:
    """The list, and what the case adds with [[faults]]."""

    def user(entry: Any) -> Change:
        return lambda case, nominal: with_values(case, fault_values(case, entry), check=False)

    own = [Fault(*row) for row in sequence_faults(case)]
    return [*FAULTS, *own, *[Fault(entry.name, entry.note or "from the case file", user(entry)) for entry in case.faults]]
