"""What is looked at along a run: signals and the quantities made of them, and when they count. Numbers, so that measures are rows.

A quantity below N_SIGNAL is that signal.
"""

from sleevelift.jit import bare_kernel
from sleevelift.physics.seat import in_series
from sleevelift.plant.margins import surge_margin
from sleevelift.plant.params import REGULATED_SUPPLY
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

LEAST = -1e300
"""Where a quantity does not count, or has no value."""
LEAST_SHARE = 0.1
"""-. The mixture ratio counts while both flows exceed this share of their reference."""

VENTED = 1.02
"""-. A lift chamber within this factor of ambient is vented."""

SURGE = N_SIGNAL
RATIO = N_SIGNAL + 1
COLDEST = N_SIGNAL + 2
LIFT = N_SIGNAL + 3
FUEL_AREA = N_SIGNAL + 4
"""Quantities beside the signals: surge margin -, O/F -, coldest node but the bottle K, lift m, Cd A of seat gap and annulus in
series m2."""

ALWAYS, ON_SEAT, BOTH_FLOW, WHILE_LIT = 0, 1, 2, 3
"""When a quantity counts: at all times; seated before the first command, or, with the command off, after contact with the seat, or
of a sleeve that has not left it once the lift chamber is vented; while both flows exceed LEAST_SHARE of their reference; while
the chamber is lit."""


@bare_kernel
def fuel_area(gap, annulus):
    """Cd A of the fuel's way, m2: seat gap, then annulus (0: none)."""
    return in_series(gap, annulus) if gap > 0.0 else 0.0


@bare_kernel
def quantity(which, y, outputs, plant):
    """A signal, or one of the quantities above, of one instant."""
    if which < N_SIGNAL:
        return outputs[which]
    if which == LIFT:
        return y[plant.index.lift_height]
    if which == RATIO:
        return outputs[S_OXIDIZER] / outputs[S_FUEL] if outputs[S_FUEL] > 0.0 else 0.0
    if which == COLDEST:
        coldest = min(outputs[S_TUBE_T], min(outputs[S_LIFT_T], outputs[S_SPRING_T]))
        return min(coldest, outputs[S_PLENUM_T]) if plant.supply.kind == REGULATED_SUPPLY else coldest
    if which == FUEL_AREA:
        return fuel_area(outputs[S_GAP], plant.seat.annulus)
    return surge_margin(outputs, plant)


@bare_kernel
def excess(condition, outputs, discrete_state, event_memory, plant):
    """How far a condition is met, -: it counts where this is >= 0."""
    if condition == BOTH_FLOW:
        return min(outputs[S_OXIDIZER] / event_memory[M_REFERENCE_O], outputs[S_FUEL] / event_memory[M_REFERENCE_F]) - LEAST_SHARE
    if condition == ON_SEAT:
        if discrete_state[D_COMMANDED] == 0:
            return 1.0 if discrete_state[D_MODE] == SEATED else -1.0
        if discrete_state[D_ON] != 0:
            return -1.0
        unmoved = discrete_state[D_LEFT] == 0 and outputs[S_LIFT_P] <= VENTED * plant.ambient_pressure
        return 1.0 if discrete_state[D_CONTACT] != 0 or unmoved else -1.0
    if condition == WHILE_LIT:
        return 1.0 if discrete_state[D_LIT] != 0 else -1.0
    return 1.0
