"""The static answer: what areas, springs and pressures alone say about a case, without running it.

    Case -> Plant -> margins over their ranges, throttle table, forces, findings -> StaticReport

Formulas live in `sleevelift.plant.margins`, `sleevelift.sizing` and `sleevelift.physics`; here they are called and put in order.
"""

from typing import NamedTuple

import numpy as np

from sleevelift import remarks as remarks_of_a_run
from sleevelift.barriers import barriers
from sleevelift.case.schema import Case
from sleevelift.physics.sleeve import FORCES
from sleevelift.plant.build import Plant, build
from sleevelift.plant.state import N_DISCRETE, N_SIGNAL
from sleevelift.static_answer.findings import (
    clearance_findings,
    gland_findings,
    leak_finding,
    pressure_findings,
    seat_findings,
    spring_findings,
)
from sleevelift.static_answer.leak_limits import leak_limits
from sleevelift.static_answer.margins import area_of, margin_numbers, motorization_rule, stated_ranges, static_margins
from sleevelift.static_answer.records import Area, StaticMargin, StaticReport
from sleevelift.static_answer.throttle import force_states, stored_energies, throttle_lifts, throttle_rows, throttle_table


class NoRun(NamedTuple):
    """Stands for the arrays of a run that has not been made: no points."""

    outputs: np.ndarray
    discrete_state: np.ndarray


def cautions(case: Case, plant: Plant, margins: list[StaticMargin]) -> list[str]:
    """What the static answer must say of itself: the remarks of a run that hold without one."""
    opening = next(margin for margin in margins if margin.name == "opening_margin")
    shut = opening.nominal is not None and opening.nominal < 0.0
    without_pool = case.model_copy(update={"chamber": None})
    no_run = NoRun(np.zeros((0, N_SIGNAL)), np.zeros((0, N_DISCRETE), dtype=np.int64))
    return remarks_of_a_run.remarks({}, "never-broke-away" if shut else "", without_pool, plant, no_run)


def static_report(case: Case) -> StaticReport:
    """The static answer of a case."""
    plant = build(case)
    hot = case.case.kind == "hot"
    worst = margin_numbers(plant.record, plant.tables)
    margins = static_margins(case, plant, worst)
    lifts = throttle_lifts(case)
    unlit = throttle_rows(plant, lifts, lit=False)
    lit = throttle_rows(plant, lifts, lit=True) if hot else None
    forces = force_states(plant, unlit, lit)
    table = case.case
    return StaticReport(
        case={"name": case.name, "title": table.title, "kind": table.kind, "invented": table.invented},
        ranges=stated_ranges(plant),
        areas=[Area(force.area, area_of(plant, force.area), force.meaning) for force in FORCES if force.area],
        forces=forces,
        margins=margins,
        findings=[
            *pressure_findings(case, plant, worst),
            *seat_findings(case, forces[0]),
            *spring_findings(case, plant),
            *clearance_findings(case, worst),
            *gland_findings(case),
            *(leak_finding(case, leak) for leak in leak_limits(case, plant, worst.event_memory)),
        ],
        throttle_unlit=throttle_table(unlit),
        throttle_lit=throttle_table(lit) if lit is not None else [],
        stored_energy=stored_energies(case, plant),
        seals_between=remarks_of_a_run.seals_between(case) if table.kind != "dry" else None,
        barriers=barriers(case),
        motorization_rule=motorization_rule(case, plant, worst) if case.limits.motorization_rule else [],
        cautions=cautions(case, plant, margins),
    )
