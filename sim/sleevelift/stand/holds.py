"""Hold points, cautions and blanks of a test card: what must be so before the next step, and who confirms it.

Nothing here is a procedure: it names what a procedure must have settled. Local codes and the site's own procedure, made by
people who are licensed to, come before every line. No step tells anyone to raise a pressure, or to go near.
"""

from collections.abc import Mapping
from typing import NamedTuple

from sleevelift.case.schema import Case
from sleevelift.ratings import absolute, least_rating, parts
from sleevelift.shown import practical, together


class Hold(NamedTuple):
    """One hold point."""

    when: str
    what: str
    blank: str
    """what is written in"""


BEFORE, PRESSURISED, AFTER = "before pressurising", "before T0", "before anyone approaches"


def _relief(case: Case) -> str:
    relief = case.supply.relief_pressure
    set_at = f"(the case: {absolute(relief, case.reader)}), " if relief is not None else "(the case gives none), "
    weakest = least_rating(case, ("supply line", "tube", "lift chamber"))
    return f"Relief valve of the actuation gas set {set_at}{weakest}; it passes what a regulator stuck open lets through"


def before(case: Case, energy: float | None) -> list[Hold]:
    """What must hold before there is any pressure."""
    unrated = [part.name for part in parts({}, case) if part.rating is None]
    kind = case.case.kind
    out = [
        Hold(BEFORE, "Procedure, site and this card reviewed by a qualified person; local codes and permits met", "name, date"),
        Hold(BEFORE, "Proof test passed, every pressurised part of the article and the rig", "record no."),
        Hold(BEFORE, "Leak test passed with inert gas (sleevelift leaks)", "record no."),
        Hold(BEFORE, _relief(case), "set at, tag no."),
    ]
    if kind != "dry":
        out.append(Hold(BEFORE, "Relief valve on every length of line that two shut valves can lock liquid into", "tag nos."))
    if unrated:
        names = ", ".join(unrated)
        out.append(
            Hold(BEFORE, f"Rated pressure found and written in; the case gives none for: {names}. Without it: no test", "ratings")
        )
    out.append(
        Hold(BEFORE, "Vent is remote, opens when power is lost, and its outlet is clear; tried without pressure", "initials")
    )
    out.append(Hold(BEFORE, "Instruments in calibration, recording all channels at their rates on one clock", "file name"))
    out.append(
        Hold(BEFORE, "Abort tried, without pressure: by hand, by a limit, and by pulling a channel (loss of data)", "initials")
    )
    if kind == "hot":
        out.append(
            Hold(
                BEFORE,
                "Oxidizer side cleaned for oxygen, purge gas on and inert, fire and medical services as the site asks",
                "record no.",
            )
        )
        out.append(Hold(BEFORE, "Igniter safe: its circuit open and its key with the test conductor", "initials"))
    stored = f" (up to {case.reader.text('energy', energy, '.3g')} of gas)" if energy is not None else ""
    out.append(
        Hold(
            BEFORE, f"Area clear, everyone behind the barrier and counted; distance by local code for the energy{stored}", "persons"
        )
    )
    return out


def pressurised(case: Case, highest: Mapping[str, float | None]) -> list[Hold]:
    """What must hold before the on command, read remotely; `highest`: measure -> its highest value in any run."""
    leaks = [(side, highest.get(f"closed_leak_{side}")) for side in ("oxidizer", "fuel")]
    told = " and ".join(
        f"up to {together(practical(f'closed_leak_{side}', leak, 'kg/s', reader=case.reader))} of {side}"
        for side, leak in leaks
        if leak
    )
    out = []
    if told:
        out.append(
            Hold(
                PRESSURISED,
                f"Feeds opened last: from then on {told} leak past the shut sleeve into the chamber; where that "
                "drains and gathers is settled",
                "s open",
            )
        )
    out += [Hold(PRESSURISED, "Lift reads seated, all channels live and within their P1 to P99 at T0", "initials")]
    if case.case.kind == "hot":
        out.append(Hold(PRESSURISED, "Igniter proven burning by its own instrument, or no on command", "seen on"))
    return out


def afterwards(case: Case) -> list[Hold]:
    """What must hold before anyone approaches."""
    ambient = absolute(case.ambient.pressure, case.reader)
    out = [
        Hold(AFTER, "Gas bottle isolated and run valves shut, remotely", "initials"),
        Hold(
            AFTER,
            f"Remote vent confirmed: every pressure reads ambient ({ambient} in the case) on two instruments or on a gauge seen by "
            "camera, and stays there with the vent shut and opened again",
            "pressures, time",
        ),
        Hold(AFTER, "A channel that is lost counts as pressurised", "initials"),
    ]
    if case.case.kind == "hot":
        out.append(
            Hold(
                AFTER,
                "Igniter safe; purge done; no propellant left in manifolds and chamber, no fire on the thermal camera; "
                "waiting time of the site over",
                "min waited",
            )
        )
    out.append(Hold(AFTER, "Test conductor releases the area", "name, time"))
    return out


FIRST = (
    "This card is no permission to test and no procedure. Local codes, the site's procedure and licensed practice come first; "
    "where they ask for more, or for less pressure, they hold.",
    "An abort acts a closing time after it is given. Surges and a hard start are over before: only the ratings and the relief "
    "valves stand against them.",
)
LIMITS = (
    "Bands and limits are a model's, over the ranges that the case states. No time of it has been checked "
    "against hardware. A good trace proves no margin.",
    "Limits hold no instrument error: take it off before they are set. Pressures are absolute: a gauge that reads above "
    "ambient needs them less ambient pressure.",
)


def cautions(case: Case) -> list[str]:
    """What must be read before the test."""
    unburned = (
        "An abort leaves unburned propellant in the chamber: it can light long after. Inhibit the igniter, purge with inert gas, "
        "stay away."
    )
    return [*FIRST, *([unburned] if case.case.kind == "hot" else [])]


def caveats(case: Case) -> list[str]:
    """What must be known before a number is used."""
    hot = "The hard-start pressure is an estimate and no bound: a detonation exceeds it."
    other = "A result with this medium is not carried over to the hot case by hand: timing, surges and leaks differ."
    return [*LIMITS, hot if case.case.kind == "hot" else other]
