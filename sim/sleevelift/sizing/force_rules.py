"""Force margins by rule: how much an actuator must push against given resistances.

    required force F_min (N, >= 0, in the opening or closing direction asked for) from the resistances against that
    motion

Assumptions: every resistance is the worst case of its own kind, at the position where it is largest. Validity: the
rule of the standard is for spacecraft mechanisms and names launchers outside its scope: shown here as good practice,
not as a duty. Source: ECSS-E-ST-33-01C (6 March 2009), clause 4.7.5.3 and table 4-2.
"""

from typing import NamedTuple

MOTORIZATION_FACTOR = 2.0
"""-. On the sum of the factored resistances. Clause 4.7.5.3.1."""

DYNAMIC_FACTOR = 1.25
"""-. On the force that accelerates the load. Clause 4.7.5.3.1."""

SPRING_AS_ACTUATOR = 0.8
"""-. Share of a spring's force that counts when the spring is what drives. Clause 4.7.5.3."""


class Resistances(NamedTuple):
    """Forces against the motion, all in N and at least 0; 0 where there is none. Letters of the standard beside
    each."""

    inertia: float = 0.0
    """I: of the moving mass, from outside acceleration"""
    spring: float = 0.0
    """S: of a spring, and of pressure forces as certain as a spring's"""
    magnetic: float = 0.0
    """HM: magnetic losses of a motor"""
    friction: float = 0.0
    """FR"""
    hysteresis: float = 0.0
    """HY"""
    other: float = 0.0
    """HA: harness and the like"""
    adhesion: float = 0.0
    """HD"""


THEORETICAL = Resistances(1.1, 1.2, 1.5, 3.0, 3.0, 3.0, 3.0)
"""Factors on calculated resistances. ECSS-E-ST-33-01C table 4-2."""

MEASURED = Resistances(1.1, 1.2, 1.2, 1.5, 1.5, 1.5, 3.0)
"""Factors on resistances measured in test. Table 4-2; friction's 1.5 read in the text, the others from memory."""


def factored_resistance(resistances: Resistances, factors: Resistances = THEORETICAL) -> float:
    """Sum of each resistance times its factor (N). ECSS-E-ST-33-01C table 4-2."""
    return sum(factor * force for factor, force in zip(factors, resistances))


def required_force(
    resistances: Resistances, dynamic: float = 0.0, delivered: float = 0.0, factors: Resistances = THEORETICAL
) -> float:
    """Least actuation force (N): F_min = 2 (sum of factors times resistances) + 1.25 F_D + F_L.

    `dynamic` F_D: force that must accelerate the load; `delivered` F_L: force to be handed on at the output, both N.
    Source: ECSS-E-ST-33-01C clause 4.7.5.3.1.

    >>> required_force(Resistances(spring=150.0, friction=40.0), dynamic=10.0)
    612.5
    """
    return MOTORIZATION_FACTOR * factored_resistance(resistances, factors) + DYNAMIC_FACTOR * dynamic + delivered


def countable_force(gas_force: float, spring_force: float) -> float:
    """Force that counts as actuation (N): gas in full at its least pressure, a driving spring at 0.8 of its force."""
    return gas_force + SPRING_AS_ACTUATOR * spring_force


def rule_margin(actuation: float, required: float) -> float | None:
    """Actuation/required - 1 (-); at least 0 holds the rule. None where nothing is required."""
    return actuation / required - 1.0 if required > 0.0 else None


def opening_rule_margin(
    gas_force: float, fuel_opening_force: float, preload: float, weight: float, friction: float, measured: bool = False
) -> float | None:
    """Margin by the rule (-) of the opening from the seat: gas and assist against preload, weight and breakaway.

    All in N at their worst: least gas (relative to the spring side's pressure) and fuel opening force, greatest preload,
    weight along the axis and breakaway. A weight that helps (negative) counts with the gas. Source: see
    `required_force`.
    """
    resistances = Resistances(spring=preload + max(0.0, weight), friction=friction)
    required = required_force(resistances, factors=MEASURED if measured else THEORETICAL)
    return rule_margin(gas_force + fuel_opening_force + max(0.0, -weight), required)


def closing_rule_margin(
    spring_force: float, pressure_force: float, weight: float, friction: float, measured: bool = False
) -> float | None:
    """Margin by the rule (-) of the closing: 0.8 of the spring (and the weight) against pressure forces and breakaway.

    All in N at their worst, at the lift where the margin is least. Pressure forces are factored as a spring's.
    Source: see `required_force`.
    """
    resistances = Resistances(spring=pressure_force + max(0.0, -weight), friction=friction)
    required = required_force(resistances, factors=MEASURED if measured else THEORETICAL)
    return rule_margin(countable_force(max(0.0, weight), spring_force), required)
