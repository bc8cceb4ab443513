"""Rod, piston and preload: the smallest lift area whose static margins reach the wanted one over the ranges.

    unknown  u = (ln A_l, ln A_a, ln F_0)     lift area, fuel opening area, preload
    least A_l  with  m_i(u) >= m              m_i the static margins of the case (`plant/margins.py`), worst over the ranges

The margins are ratios, so bigger parts always look better: the smallest area that reaches the wanted margin is the answer. It is
found by linear programming on slopes of the margins themselves (differences), step by step within a trust region. The margins are
ratios of forces that are linear in areas and preload, but for friction: such a search ends at the least area or at the least
shortfall.
"""

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from sleevelift.case.faults import CaseError
from sleevelift.case.read import with_values
from sleevelift.case.schema import Case
from sleevelift.plant.build import build
from sleevelift.static_answer.margins import margin_numbers

MARGINS = (
    "opening_margin", "full_lift_margin", "no_fuel_margin", "fuel_alone_margin", "fuel_loss_margin", "closing_margin",
    "closing_margin_unlit",
)  # fmt: skip
"""Static margins that are held; the surge margin follows from a run."""
STEP = 1e-4
"""-. Relative step of the differences."""
TRUST, LEAST_TRUST = 0.5, 1e-4
"""-. Largest change of a logarithm in a round, and where the search ends."""
ROUNDS = 40
SHORT = 1e3
"""-. Weight of missing margin beside ln A_l."""
NOT_A_MARGIN = 5.0
"""-. A margin without number (its denominator is not positive) is held by far."""


class Actuation(NamedTuple):
    """Rod, piston and preload, SI, and the margins they leave."""

    rod: float
    piston: float
    preload: float
    margins: dict[str, float]
    short: float
    """-, what the worst margin misses; 0: none"""

    @property
    def binding(self) -> list[str]:
        """Margins of least value, the least first."""
        return sorted(self.margins, key=self.margins.__getitem__)


class Problem:
    """Margins of a case as a function of the three unknowns."""

    def __init__(self, case: Case, rate_share: float, wanted: dict[str, float], largest: float) -> None:
        """`rate_share`: k x stroke over preload; `wanted`: margin -> least value; `largest`: piston diameter (m) at most."""
        self.case, self.rate_share, self.wanted, self.largest = case, rate_share, wanted, largest
        self.seat = case.sleeve.seat_diameter
        self.evaluations = 0

    def diameters(self, u: np.ndarray) -> tuple[float, float]:
        """(rod, piston) in m."""
        lift, fuel = np.exp(u[:2])
        rod = float(np.sqrt(self.seat**2 + 4.0 * fuel / np.pi))
        return rod, float(np.sqrt(rod**2 + 4.0 * lift / np.pi))

    def design(self, u: np.ndarray) -> Case:
        """The case with these areas and this preload."""
        rod, piston = self.diameters(u)
        preload = float(np.exp(u[2]))
        changes: dict[str, Any] = {
            "sleeve.rod_diameter": rod, "sleeve.piston_diameter": piston, "spring.preload": preload,
            "spring.rate": self.rate_share * preload / self.case.sleeve.stroke,
        }  # fmt: skip
        return with_values(self.case, changes, check=False)

    def slack(self, u: np.ndarray) -> np.ndarray:
        """Each margin less what is wanted of it, in the order of MARGINS."""
        self.evaluations += 1
        found = margins_of(self.design(u))
        return np.array([min(found[name] - self.wanted[name], NOT_A_MARGIN) for name in MARGINS])


def margins_of(case: Case) -> dict[str, float]:
    """The static margins of a case, worst over its ranges; one without number counts as held."""
    plant = build(case)
    found = margin_numbers(plant.record, plant.tables).by_name
    return {name: value if np.isfinite(value := float(found[name])) else NOT_A_MARGIN for name in MARGINS}


def solved(problem: Problem, start: np.ndarray) -> Actuation:
    """The least lift area that holds the margins, or the least shortfall within the room."""
    from scipy.optimize import linprog

    u, trust = start, TRUST
    slack = problem.slack(u)
    for _ in range(ROUNDS):
        slopes = np.empty((len(MARGINS), 3))
        for i in range(3):
            moved = u.copy()
            moved[i] += STEP
            slopes[:, i] = (problem.slack(moved) - slack) / STEP
        # unknown: the three changes and what is still missing
        room = _room_row(problem, u)
        upper = np.vstack([np.hstack([-slopes, -np.ones((len(MARGINS), 1))]), room[0]])
        found = linprog(
            [1.0, 0.0, 0.0, SHORT], A_ub=upper, b_ub=np.append(slack, room[1]),
            bounds=[(-trust, trust)] * 3 + [(0.0, None)], method="highs",
        )  # fmt: skip
        if not found.success:
            trust *= 0.5
            if trust < LEAST_TRUST:
                break
            continue
        tried = u + found.x[:3]
        new = problem.slack(tried)
        if _merit(problem, tried, new) < _merit(problem, u, slack) - 1e-9:
            small = float(np.max(np.abs(found.x[:3]))) < LEAST_TRUST
            u, slack = tried, new
            if small:
                break
        else:
            trust *= 0.3
            if trust < LEAST_TRUST:
                break
    rod, piston = problem.diameters(u)
    margins = {name: float(value + problem.wanted[name]) for name, value in zip(MARGINS, slack)}
    return Actuation(rod, piston, float(np.exp(u[2])), margins, float(max(0.0, -slack.min())))


def _merit(problem: Problem, u: np.ndarray, slack: np.ndarray) -> float:
    """What is made small: ln A_l and, far heavier, the worst missing margin and the room."""
    over = max(0.0, float(np.log(problem.diameters(u)[1] / problem.largest)))
    return float(u[0] + SHORT * (max(0.0, -float(slack.min())) + over))


def _room_row(problem: Problem, u: np.ndarray) -> tuple[np.ndarray, float]:
    """Linear form of ln(piston diameter) <= ln(largest): (row over the four unknowns, right side)."""

    def size(at: np.ndarray) -> float:
        return float(np.log(problem.diameters(at)[1]))

    slope = _slope(size, u)
    return np.append(slope, 0.0), float(np.log(problem.largest)) - size(u) + 1e-12


def _slope(of: Callable[[np.ndarray], float], u: np.ndarray) -> np.ndarray:
    """Slopes of a function of the three unknowns."""
    here = of(u)
    out = np.empty(3)
    for i in range(3):
        moved = u.copy()
        moved[i] += STEP
        out[i] = (of(moved) - here) / STEP
    return out


def start_of(case: Case, margin: float) -> np.ndarray:
    """A first guess: what presses on the open nose and face, held by twice the preload, lifted by gas and fuel in equal parts."""
    sleeve, ambient = case.sleeve, case.ambient.pressure
    fixed = 0.25 * np.pi * (sleeve.seat_diameter**2 - sleeve.post_diameter**2)
    fuel = case.fuel.inlet_pressure if case.fuel is not None and case.fuel.inlet_pressure is not None else 2.0 * ambient
    gas = case.supply.pressure or 2.0 * ambient
    preload = 2.5 * (1.0 + margin) * fixed * (fuel - ambient)
    return np.log([preload / (gas - ambient) * 0.8, 0.55 * preload / (fuel - ambient), preload])


__all__ = ["MARGINS", "Actuation", "CaseError", "Problem", "margins_of", "solved", "start_of"]
