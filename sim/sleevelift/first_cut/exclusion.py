"""Whether wanted margins exclude each other: a linear programme of fewer and milder demands than the margins themselves.

    unknown  A_l, A_a, F_0 >= 0        P: above ambient; B: least friction that there can be (squeeze alone, smallest diameters)
    opening      P_gas,low A_l + P_fuel,low A_a                 >= (1 + m)(F_0 + B)
    fuel lost    F_0 + W                                        >= (1 + m)(P_gas,high A_l + B)
    gas lost     F_0 + W                                        >= (1 + m)(P_fuel,high A_a + p_c (A_n + A_c) + B)
    room         A_l + A_a                                      <= pi/4 (D_largest^2 - D_seat^2)

Every design that holds the margins of `plant/margins.py` holds these: line loss, jet, gap pressure and the spring's rate only make
them harder. So where these have no solution no sleeve in that room has the margins: that is the proof. The converse is not claimed.
"""

from typing import NamedTuple

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.reader import METRIC, Reader
from sleevelift.sizing.seal_gland import running_force

OPENING, FUEL_LOST, GAS_LOST, ROOM = range(4)
WORDS = (
    "it opens on the least gas and fuel pressure",
    "the spring shuts it when the fuel is lost with the gas at its highest",
    "the spring shuts it when the gas is lost, chamber lit",
    "the piston fits the room",
)
MOST_MARGIN = 3.0
"""-. Where the search for the largest margin begins."""


class Forces(NamedTuple):
    """What the demands are made of, SI."""

    gas_low: float
    """Pa above ambient"""
    gas_high: float
    fuel_low: float
    fuel_high: float
    fixed: float
    """N, of the chamber's pressure on nose and face"""
    friction: float
    """N, breakaway at most friction, least that it can be"""
    weight: float
    """N, where it helps to close"""
    room: float
    """m2"""


class Exclusion(NamedTuple):
    """What a proof says."""

    largest_margin: float
    """-, that any design in the room can have, at most"""
    pair: tuple[str, str]
    """the two demands that exclude each other"""
    frees: tuple[str, ...]
    """what would free them, in words"""


def forces_of(case: Case, largest: float) -> Forces:
    """Pressures over the case's ranges, friction's floor, room under a piston of `largest` (m)."""
    ambient = case.ambient.pressure
    sleeve, seals, fuel = case.sleeve, case.seals, case.fuel
    assert fuel is not None and case.chamber is not None
    gas = case.ranges.get("supply.pressure", (case.supply.pressure or ambient,) * 2)
    liquid = case.ranges.get("fuel.inlet_pressure", (fuel.inlet_pressure or ambient,) * 2)
    friction = 0.0
    for name, diameter in (("post", sleeve.post_diameter), ("rod", sleeve.seat_diameter), ("piston", sleeve.seat_diameter)):
        seal = getattr(seals, name)
        high = case.ranges.get("seals.friction_factor", (0.0, seals.friction_factor))[1]
        high *= case.ranges.get(f"seals.{name}.friction_factor", (0.0, seal.friction_factor))[1]
        friction += high * running_force(diameter, seal.cord, seal.squeeze_friction, seal.pressure_coefficient, 0.0)
    pressed = 0.25 * np.pi * (sleeve.seat_diameter**2 - sleeve.post_diameter**2)
    chamber = case.chamber.table_pressure or 0.0
    weight = max(0.0, sleeve.moving_mass * 9.80665 * float(np.cos(sleeve.axis_tilt)))
    return Forces(
        gas[0] - ambient, gas[1] - ambient, liquid[0] - ambient, liquid[1] - ambient, (chamber - ambient) * pressed,
        seals.breakaway_ratio * friction, weight, 0.25 * np.pi * (largest**2 - sleeve.seat_diameter**2),
    )  # fmt: skip


def _programme(f: Forces, margin: float) -> tuple[float, np.ndarray]:
    """(least relative shortfall, multiplier of each demand): 0 where all can be held."""
    from scipy.optimize import linprog

    m = 1.0 + margin
    scale = max(f.gas_high * f.room, f.fixed + f.friction, 1e-9)  # N: rows in shares of it
    g = f.gas_low * f.room / scale, f.gas_high * f.room / scale, f.fuel_low * f.room / scale, f.fuel_high * f.room / scale
    # unknown: A_l/room, A_a/room, F_0/scale, shortfall
    rows = [
        [-g[0], -g[2], m, -1.0],
        [m * g[1], 0.0, -1.0, -1.0],
        [0.0, m * g[3], -1.0, -1.0],
        [1.0, 1.0, 0.0, -1.0],
    ]
    right = [
        -m * f.friction / scale,
        (f.weight - m * f.friction) / scale,
        (f.weight - m * (f.fixed + f.friction)) / scale,
        1.0,
    ]
    found = linprog([0.0, 0.0, 0.0, 1.0], A_ub=rows, b_ub=right, bounds=[(0.0, None)] * 4, method="highs")
    return float(found.fun), np.abs(found.ineqlin.marginals)


def largest_margin(forces: Forces) -> float:
    """Largest margin (-) that the demands leave room for; -1 where even no margin does."""
    low, high = -1.0, MOST_MARGIN
    for _ in range(40):
        middle = 0.5 * (low + high)
        if _programme(forces, middle)[0] <= 1e-12:
            low = middle
        else:
            high = middle
    return low


def _pressure_that_frees(forces: Forces, margin: float, name: str, toward: float) -> float | None:
    """The value of a pressure between its own and `toward` (Pa above ambient) from which on the margin can be had; None: never."""
    own = float(getattr(forces, name))
    if _programme(forces._replace(**{name: toward}), margin)[0] > 1e-12:
        return None
    good, bad = toward, own
    for _ in range(40):
        middle = 0.5 * (good + bad)
        if _programme(forces._replace(**{name: middle}), margin)[0] <= 1e-12:
            good = middle
        else:
            bad = middle
    return good


def excluded(case: Case, margin: float, largest: float, reader: Reader = METRIC) -> Exclusion | None:
    """The proof that no sleeve with a piston of at most `largest` (m) has the margin over the case's ranges; None: no proof."""
    forces = forces_of(case, largest)
    short, multipliers = _programme(forces, margin)
    if short <= 1e-9:
        return None
    order = [int(i) for i in np.argsort(-multipliers)]
    first = OPENING if multipliers[OPENING] > 0.0 else order[0]
    second = next(i for i in order if i != first)
    ambient, frees = case.ambient.pressure, []
    for name, toward, words in (
        ("gas_low", forces.gas_high, "least gas pressure at {} or more (its highest as it is)"),
        ("gas_high", forces.gas_low, "highest gas pressure at {} or less (its least as it is)"),
        ("fuel_low", forces.fuel_high, "least fuel pressure at {} or more (its highest as it is)"),
    ):
        value = _pressure_that_frees(forces, margin, name, toward)
        if value is not None:
            frees.append(words.format(reader.text("pressure", value + ambient)))
    gas = _gas_that_frees(forces, margin)
    if gas is not None:
        frees.append(f"all gas pressures {gas:.3g} times as high")
    room = _pressure_that_frees(forces, margin, "room", 100.0 * forces.room)
    if room is not None:
        diameter = float(np.sqrt(room * 4.0 / np.pi + case.sleeve.seat_diameter**2))
        frees.append(f"room for a piston of {reader.text('length', diameter, '.3g')}")
    frees.append(f"a least margin of {max(largest_margin(forces), -1.0):.3g} or less")
    return Exclusion(largest_margin(forces), (WORDS[first], WORDS[second]), tuple(frees))


def _gas_that_frees(forces: Forces, margin: float) -> float | None:
    """Factor on both ends of the gas pressure (above ambient), up to 10, that gives the margin; None: none does."""

    def holds(factor: float) -> bool:
        raised = forces._replace(gas_low=factor * forces.gas_low, gas_high=factor * forces.gas_high)
        return _programme(raised, margin)[0] <= 1e-12

    if not holds(10.0):
        return None
    low, high = 1.0, 10.0
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high
