"""How many cycles a bottle holds: the case's first pulse, repeated until one does not open and close.

    cycles(case, period=0.5) -> Cycles (how many did, and every pulse with the bottle's pressure at its command)

Every pulse is simulated, none extrapolated: the gas that is left is colder, the regulator falls off, the sleeve breaks away later.
"""

from typing import NamedTuple

from sleevelift.case.change import with_values
from sleevelift.case.faults import CaseError, Fault
from sleevelift.case.schema import Case
from sleevelift.measures import OPENED, Pulse
from sleevelift.ratings import absolute
from sleevelift.reader import METRIC, Reader
from sleevelift.run import in_short_form, simulate

FIRST = 8
"""Pulses that are tried at first; twice as many as long as all open and close."""
MOST = 1000
"""Pulses after which it is left at "at least so many"."""


class Cycles(NamedTuple):
    """What a bottle holds."""

    held: int
    """pulses that opened and closed before the first that did not"""
    ended_by: str | None
    """outcome of the first that did not; None where all that were tried did"""
    period: float
    """s, from on to on"""
    pulses: tuple[Pulse, ...]


def repeated(case: Case, period: float, count: int) -> Case:
    """The case with its first pulse, igniter included, given `count` times, `period` s apart."""
    on = min(case.solenoid.on)
    off = min(t for t in case.solenoid.off if t > on)
    shifts = [k * period for k in range(count)]
    values: dict[str, object] = {
        "solenoid.on": tuple(on + shift for shift in shifts),
        "solenoid.off": tuple(off + shift for shift in shifts),
        "run.end": None,
    }
    if case.igniter is not None and case.igniter.on:
        burn = min(case.igniter.on)
        ends = [t for t in case.igniter.off if t > burn]
        values["igniter.on"] = tuple(burn + shift for shift in shifts)
        values["igniter.off"] = tuple(min(ends) + shift for shift in shifts) if ends else ()
    return with_values(case, values, check=False)


def faults_of(case: Case, period: float | None) -> list[Fault]:
    """Why the first pulse of a case cannot be repeated."""
    out = []
    if case.supply.kind not in ("bottle", "regulator"):
        out.append(Fault(("supply", "kind"), "has no bottle: it holds any number of cycles"))
    if not case.solenoid.on or not any(t > min(case.solenoid.on) for t in case.solenoid.off):
        out.append(Fault(("solenoid",), "gives no pulse to repeat: an on command and an off command after it"))
    if case.igniter is not None and case.igniter.light_off is not None:
        out.append(Fault(("igniter", "light_off"), "lights once: give on, off and delay for a pulse that is repeated"))
    if not out and period is not None:
        length = min(t for t in case.solenoid.off if t > min(case.solenoid.on)) - min(case.solenoid.on)
        if not period > length:
            out.append(Fault(("period",), f"must exceed the pulse, {length:g} s"))
    return out


def cycles(case: Case, *, period: float | None = None, most: int = MOST) -> Cycles:
    """Cycles a case's bottle holds. period: from on to on, s (default: twice the pulse). CaseError where it has none to repeat."""
    case = in_short_form(case)
    faults = faults_of(case, period)
    if faults:
        raise CaseError(faults, case.name)
    on = min(case.solenoid.on)
    gap = 2.0 * (min(t for t in case.solenoid.off if t > on) - on) if period is None else period
    count = min(FIRST, most)
    while True:
        pulses = simulate(repeated(case, gap, count), with_traces=False).pulses
        bad = next((k for k, pulse in enumerate(pulses) if pulse.outcome != OPENED), None)
        if bad is not None:
            return Cycles(bad, pulses[bad].outcome, gap, pulses[: bad + 1])
        if count >= most:
            return Cycles(len(pulses), None, gap, pulses)
        count = min(2 * count, most)


def sentence(found: Cycles, reader: Reader = METRIC) -> str:
    """The answer in one sentence."""
    each = f"one every {found.period:g} s"
    if found.ended_by is None:
        return f"At least {found.held} cycles, {each}: all that were tried open and close."
    pressure = found.pulses[-1].measures["bottle_at_command"]
    at = "" if pressure is None else f", with {absolute(pressure, reader)} in the bottle"
    return f"{found.held} cycles, {each}; the next one{at}: {found.ended_by}."
