"""A spring that a study moves stays one that can be wound.

    as built:   same spring, other preload        -> spacer; nothing else changes
    wound anew: wire, mean diameter or coils move -> length seated L_1 stays (the housing), free length L_0 = L_1 + F_1/k,
                end coils stay (n_t - n), mass goes with d^2 D n_t

A spring wound anew keeps the rules of EN 13906-1: index 4 to 20, at least two active coils, the least gaps between coils at full
lift, uncorrected shear stress at solid length at most 0.56 R_m, R_m of the weaker of the wires of this shear modulus or next to it.
"""

import math
from collections.abc import Iterable, Mapping

from sleevelift.case.read import with_values
from sleevelift.case.schema import Case
from sleevelift.case.wound_spring import wound_state
from sleevelift.sizing.spring_design import (
    MAXIMUM_INDEX,
    MINIMUM_INDEX,
    WIRES,
    permissible_solid_stress,
    spring_index,
    spring_rate,
    tensile_strength,
)
from sleevelift.study.values import refused

WINDING = ("spring.wire_diameter", "spring.mean_diameter", "spring.active_coils", "spring.total_coils")
"""Values that make another spring."""
COIL_STEP = 0.25
"""-. Coils are wound in quarters of a turn."""
LENGTH_DIGITS, MASS_DIGITS = 5, 4
"""Decimals of m and kg that follow: a drawing carries 0.01 mm and 0.1 g."""
LEAST_COILS = 2.0
"""-. Active coils of EN 13906-1, at least."""
GAPS, STRESS, INDEX = "spring gaps at full lift", "spring stress at solid length", "spring index and coils"


def wound_anew(paths: Iterable[str]) -> bool:
    """Whether these values make another spring."""
    return any(path in WINDING for path in paths)


def check_spring(case: Case, paths: Iterable[str]) -> None:
    """CaseError where the case does not say enough of its spring to wind another."""
    if not wound_anew(paths):
        return
    spring = case.spring
    for name in ("wire_diameter", "mean_diameter", "active_coils", "total_coils", "free_length"):
        if getattr(spring, name) is None:
            raise refused(f"spring.{name}", "must be in the case where a study winds the spring anew")
    if case.origin.get("spring.rate") == "given":
        raise refused("spring.rate", "is given in the case, so wire and coils cannot change it: leave it out there")


def spring_followers(case: Case, moves: Mapping[str, float]) -> dict[str, float]:
    """What follows from the moves, path -> SI value; empty where the spring is not wound anew. `case` as written."""
    if not wound_anew(moves):
        return {}
    old = case.spring
    wire, mean, coils, total, free = old.wire_diameter, old.mean_diameter, old.active_coils, old.total_coils, old.free_length
    assert wire and mean and coils and total and free, "check_spring has refused a case without them"
    new_wire = moves.get("spring.wire_diameter", wire)
    new_mean = moves.get("spring.mean_diameter", mean)
    new_coils = moves.get("spring.active_coils", coils)
    new_total = moves.get("spring.total_coils", new_coils + total - coils)
    seated = free - old.preload / spring_rate(wire, mean, coils, old.shear_modulus)
    rate = spring_rate(new_wire, new_mean, new_coils, old.shear_modulus)
    found = {
        "spring.total_coils": new_total,
        "spring.free_length": round(seated + moves.get("spring.preload", old.preload) / rate, LENGTH_DIGITS),
    }
    if case.origin.get("spring.mass") == "given":
        mass = old.mass * (new_wire / wire) ** 2 * (new_mean / mean) * (new_total / total)
        found["spring.mass"] = round(mass, MASS_DIGITS)
    return {path: value for path, value in found.items() if path not in moves}


def weaker_strength(shear_modulus: float, wire_diameter: float) -> float:
    """Tensile strength (Pa) of the weaker of the wires whose shear moduli enclose this one (or of the nearest); nan outside
    the tables' diameters."""
    below = [w for w in WIRES if WIRES[w].shear_modulus <= shear_modulus]
    above = [w for w in WIRES if WIRES[w].shear_modulus >= shear_modulus]
    near = [max(below, key=lambda w: WIRES[w].shear_modulus)] if below else []
    near += [min(above, key=lambda w: WIRES[w].shear_modulus)] if above else []
    try:
        return min(tensile_strength(wire, wire_diameter) for wire in near)
    except ValueError:
        return math.nan


def spring_slacks(design: Case) -> dict[str, float]:
    """Slack of each rule of EN 13906-1 for a spring wound anew: relative distance to the limit, negative where it is broken."""
    s = design.spring
    state = wound_state(design)
    assert state is not None and s.wire_diameter and s.mean_diameter and s.active_coils, "wound anew from its wire"
    permissible = permissible_solid_stress(weaker_strength(s.shear_modulus, s.wire_diameter))
    index = spring_index(s.wire_diameter, s.mean_diameter)
    slacks = {
        GAPS: state.gap_left / state.gap_needed - 1.0,
        STRESS: 1.0 - state.stress_solid / permissible,
        INDEX: min(index / MINIMUM_INDEX - 1.0, 1.0 - index / MAXIMUM_INDEX, s.active_coils / LEAST_COILS - 1.0),
    }
    # no tensile strength is known outside the tables: such a wire is refused
    return {name: -1.0 if math.isnan(value) else value for name, value in slacks.items()}


def with_moves(case: Case, moves: Mapping[str, float]) -> Case:
    """The case with moved values and what follows from them, checked as a file is. CaseError where they make no case."""
    return with_values(case, {**moves, **spring_followers(case, moves)}, check=True, move_ranges=True)
