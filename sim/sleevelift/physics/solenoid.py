"""3/2 normally closed solenoid valve: from the list of on and off instants to its opening fraction over time.

    command  on ______ off          opening y   0 ... 1
    after a dead time y moves at 1/stroke time from where it is; fill port Cd A y, exhaust port Cd A (1 - y)

An edge that would take effect before an earlier one cancels it. The dead time may come from the coil instead: the current
rises as V/R (1 - exp(-t R/L)) and falls, through a clamp V_c, toward -V_c/R; the valve lets go at the drop-out current. Too low
a voltage to reach the pull-in current means the valve never shifts. Coil heating and back-EMF are left out.
Source: RL circuit, e.g. Halliday and Resnick, Physics.
"""

from math import exp, inf, log
from typing import NamedTuple


class Coil(NamedTuple):
    """Electrical side of the valve."""

    inductance: float
    """H"""
    resistance: float
    """ohm"""
    voltage: float
    """V, supply at the coil."""
    pull_in: float
    """A, current at which the armature starts to move."""
    drop_out: float
    """A, current at which it lets go."""
    clamp: float
    """V, voltage of the clamp across the coil at release (0: a plain free-wheeling diode)."""


class ValveTimes(NamedTuple):
    """What the valve does with a command."""

    open_dead: float
    """s, unused with a coil."""
    open_stroke: float
    """s"""
    close_dead: float
    """s, unused with a coil."""
    close_stroke: float
    """s"""
    wave_delay: float
    """s, pressure wave through the tube, added to both dead times."""


class Schedule(NamedTuple):
    """What a list of commands does."""

    times: list[float]
    """s, knots of the opening fraction (piecewise linear, may repeat an instant for a step)."""
    openings: list[float]
    """-, opening fraction at each knot."""
    effects: list[tuple[float, bool, float]]
    """(instant of effect s, opens, instant of its command s) of every edge that took effect."""


def pull_in_time(coil: Coil, current: float = 0.0) -> float:
    """Time from switching on to the pull-in current, s; inf where the supply cannot reach it.

    t = -(L/R) ln((V/R - I_pull)/(V/R - I_0)), I_0 the current already flowing.

    >>> round(pull_in_time(Coil(0.02, 10.0, 24.0, 1.5, 0.5, 0.0)), 8)
    0.00196166
    """
    if current >= coil.pull_in:
        return 0.0
    final = coil.voltage / coil.resistance
    if final <= coil.pull_in:
        return inf
    return -coil.inductance / coil.resistance * log((final - coil.pull_in) / (final - current))


def drop_out_time(coil: Coil, current: float) -> float:
    """Time from switching off to the drop-out current, s: (L/R) ln((I R + V_c)/(I_drop R + V_c)); 0 if already below.

    With the full current flowing, I R = V. A drop-out current of 0 without a clamp is never reached: inf.
    """
    if current <= coil.drop_out:
        return 0.0
    low = coil.drop_out * coil.resistance + coil.clamp
    if low <= 0.0:
        return inf
    return coil.inductance / coil.resistance * log((current * coil.resistance + coil.clamp) / low)


def rising_current(coil: Coil, current: float, t: float) -> float:
    """Coil current, A, a time t, s, after switching on at `current`."""
    final = coil.voltage / coil.resistance
    return final + (current - final) * exp(-t * coil.resistance / coil.inductance)


def falling_current(coil: Coil, current: float, t: float) -> float:
    """Coil current, A, a time t, s, after switching off at `current`; never below 0."""
    end = -coil.clamp / coil.resistance
    return max(0.0, end + (current - end) * exp(-t * coil.resistance / coil.inductance))


def edges_in_order(on: tuple[float, ...], off: tuple[float, ...]) -> list[tuple[float, bool]]:
    """Commands as (instant, on) in time order; a repeated on or off changes nothing and is dropped."""
    merged = sorted([(t, True) for t in on] + [(t, False) for t in off])
    edges: list[tuple[float, bool]] = []
    state = False
    for t, turn_on in merged:
        if turn_on != state:
            edges.append((t, turn_on))
            state = turn_on
    return edges


def effect_times(edges: list[tuple[float, bool]], times: ValveTimes, coil: Coil | None) -> list[tuple[float, bool, float]]:
    """(instant of effect, opens, instant of command) of the edges that take effect, after cancelling.

    An edge cancels every earlier one whose effect would come later than its own; an off before pull-in cancels the on.
    """
    effects: list[tuple[float, bool, float]] = []
    current = 0.0
    last = 0.0
    powered = False
    for t, turn_on in edges:
        if coil is not None:
            current = rising_current(coil, current, t - last) if powered else falling_current(coil, current, t - last)
            dead = pull_in_time(coil, current) if turn_on else drop_out_time(coil, current)
            if not turn_on and current < coil.pull_in and effects and effects[-1][1] and effects[-1][0] > t + times.wave_delay:
                dead = 0.0  # the armature never moved: the off cancels the on
            if turn_on and effects and not effects[-1][1] and effects[-1][0] > t + times.wave_delay:
                dead = 0.0  # the armature has not let go yet: the on cancels the off
            last, powered = t, turn_on
        else:
            dead = times.open_dead if turn_on else times.close_dead
        effect = t + dead + times.wave_delay
        while effects and effects[-1][0] > effect:
            effects.pop()
        if effect < inf:
            effects.append((effect, turn_on, t))
    kept: list[tuple[float, bool, float]] = []
    state = False
    for effect, opens, t in effects:
        if opens != state:
            kept.append((effect, opens, t))
            state = opens
    return kept


def opening_schedule(on: tuple[float, ...], off: tuple[float, ...], times: ValveTimes, coil: Coil | None = None) -> Schedule:
    """Knots of the opening fraction y(t) for lists of on and off instants, s.

    >>> s = opening_schedule((0.1,), (0.3,), ValveTimes(0.008, 0.003, 0.010, 0.004, 0.0))
    >>> [round(t, 6) for t in s.times], s.openings
    ([0.108, 0.111, 0.31, 0.314], [0.0, 1.0, 1.0, 0.0])
    """
    effects = effect_times(edges_in_order(on, off), times, coil)
    knots: list[float] = []
    openings: list[float] = []
    y = 0.0
    target = 0.0
    since = -inf
    stroke = 0.0

    def opening_at(t: float) -> float:
        if since == -inf:
            return y
        if stroke <= 0.0:
            return target
        moved = (t - since) / stroke
        return min(target, y + moved) if target > y else max(target, y - moved)

    for i, (t, opens, _) in enumerate(effects):
        y = opening_at(t)
        target = 1.0 if opens else 0.0
        stroke = times.open_stroke if opens else times.close_stroke
        since = t
        knots.append(t)
        openings.append(y)
        end = t + stroke * abs(target - y)
        following = effects[i + 1][0] if i + 1 < len(effects) else inf
        if end <= following:
            knots.append(end)
            openings.append(target)
    return Schedule(knots, openings, effects)
