"""What a next round changes where a check of the last one failed, in the order of what it costs.

gas runs back, hard start, late light-off     the pool at light-off is w t^2/(2 T): whole opening time, stiffer injector, then
                                              taller slots (a slower ramp in lift), each round more
lead longer than wanted                       more lap: the slots open later against the fuel
lead too short                                longer spigot and stroke
surges lift the sleeve                        slower liquid in its line; more margin with fuel alone
margins, hanging                              more of that static margin
"""

import math
from typing import NamedTuple

from sleevelift.first_cut.finish import IN_TIME, LEAD_TO_SPARE, Finished
from sleevelift.first_cut.injector import Injector
from sleevelift.first_cut.napkin import Napkin

LINE_SPEEDS = (1.0, 0.6, 0.35, 0.2)
"""m/s. Of the liquid in its feed line: the next where surges lift the sleeve. The first: common practice, no source."""
AT_LIGHT_OFF = ("reverse_oxidizer_flow", "reverse_fuel_flow", "hard_start_pressure", "light_off", "peak_chamber_pressure")
"""Checks that a smaller pool at light-off holds."""
TALLER, TALLEST = 1.6, 11.0
"""-. Factor on the slots' height from round to round, and the largest."""
LARGEST_POCKET, LEAST_POCKET = 32.0, 1.0
"""-. Dead volume of the lift chamber over a passage's."""
LONG_LEAD = 1.25
"""-. Lead over the wanted one above which a shorter one is worth a round."""
LEAST_AIM, AIM_STEP = 0.8, 0.04
"""-. Of the wanted opening time, aimed at where the last round just missed it."""
MOST_SPARE, SPARE_STEP = 1.3, 0.06
"""-. Of the wanted lead, looked for where the last round just missed it."""
LESS_LAP = 0.6
"""-. Of the lap that was added, where the lead has become too short."""
ROUNDS = 12


class Knobs(NamedTuple):
    """What rounds differ in."""

    line_speed: float = LINE_SPEEDS[0]
    spigot: float | None = None
    """m"""
    stiff: bool = False
    """the oxidizer's injector takes the excess of its feed pressure"""
    pocket: float = 0.0
    """-, dead volume of the lift chamber over a passage's, at most, to use the whole opening time; 0: a passage"""
    taller: float = 1.0
    """-, slots over the height that the wished share of the rim gives"""
    more_lap: float = 0.0
    """m, over the usual lap"""
    aim: float = IN_TIME
    """-, share of the wanted opening time"""
    spare: float = LEAD_TO_SPARE
    """-, lead that is looked for over the wanted one"""
    round: int = 1


def turned(knobs: Knobs, done: Finished, inj: Injector, napkin: Napkin, wanted: dict[str, float]) -> Knobs | None:
    """Knobs of the next round, the static margins that it wants raised in `wanted`; None where nothing is left to try."""
    if knobs.round >= ROUNDS:
        return None
    assert done.case.seat is not None, "a first cut has a seat"
    new = knobs._replace(round=knobs.round + 1, spigot=done.case.seat.spigot_length)
    changed = False
    if "opening_time" in done.failed and math.isfinite(done.measures["opening_time"]) and knobs.aim > LEAST_AIM:
        new, changed = new._replace(aim=knobs.aim - AIM_STEP), True
    if done.wanted_spigot is not None:
        new, changed = new._replace(spigot=done.wanted_spigot), True
    elif "oxidizer_lead" in done.failed and done.measures["oxidizer_lead"] > 0.0 and knobs.spare < MOST_SPARE:
        new, changed = new._replace(spare=knobs.spare + SPARE_STEP, more_lap=LESS_LAP * knobs.more_lap), True
    slower = [speed for speed in LINE_SPEEDS if speed < knobs.line_speed]
    if "surge_margin" in done.failed and slower:
        return new._replace(line_speed=slower[0])
    if "surge_margin" in done.failed and knobs.pocket > LEAST_POCKET:  # gas that leaves slowly holds the sleeve when a surge comes
        new, changed = new._replace(pocket=knobs.pocket / 2.0), True
    softer = softened(new, done, inj, napkin) if any(name in done.failed for name in AT_LIGHT_OFF) else None
    if softer is not None:
        new, changed = softer, True
    for name, value in done.raise_margins.items():
        changed = changed or value > wanted[name]
        wanted[name] = max(wanted[name], value)
    return new if changed else None


def softened(knobs: Knobs, done: Finished, inj: Injector, napkin: Napkin) -> Knobs | None:
    """Knobs for less unburned propellant at light-off; None where all are turned."""
    lead, wish = done.measures["oxidizer_lead"], napkin.wishes.oxidizer_lead
    if math.isfinite(lead) and lead > LONG_LEAD * wish and done.measures["travel_time"] > 0.0:
        speed = inj.stroke / done.measures["travel_time"]
        knobs = knobs._replace(more_lap=knobs.more_lap + 0.5 * (lead - wish) * speed)
    if knobs.pocket == 0.0:
        return knobs._replace(pocket=LARGEST_POCKET, stiff="reverse_oxidizer_flow" in done.failed)
    if not knobs.stiff and "reverse_oxidizer_flow" in done.failed:
        return knobs._replace(stiff=True)
    if knobs.taller * TALLER <= TALLEST:
        return knobs._replace(taller=knobs.taller * TALLER)
    return None
