"""What a bench case is made with, and what comes of it."""

from typing import NamedTuple

from sleevelift.bench_case.document import Change
from sleevelift.case.schema import Case

PRESSURE_DROP, REYNOLDS, INLET = "pressure-drop", "reynolds", "inlet"
DRY, COLD_FLOW = "dry", "cold-flow"
KINDS = (DRY, COLD_FLOW)
LIKE = (PRESSURE_DROP, REYNOLDS, INLET)
"""What a cold flow keeps of the hot case."""


class Wishes(NamedTuple):
    """What the bench is to be."""

    kind: str
    """dry or cold-flow"""
    margin: float
    """-, least opening and full-lift margin that is looked for"""
    least: float
    """-, what does where the ratings allow no more"""
    like: str
    """of LIKE"""
    fluid: str
    """liquid or gas in place of the propellants (cold flow)"""
    fuel_side: float | None
    """Pa absolute, of inert gas on the fuel side of a dry bench; None: open"""
    back_pressure: float | None
    """Pa absolute, that a cold flow is discharged into; None: ambient"""


class Answer(NamedTuple):
    """A bench case, or why there is none."""

    text: str | None
    """the case file; None: see `missing`"""
    case: Case | None
    changes: list[Change]
    said: list[str]
    """what was kept, what pressures follow from what"""
    missing: list[str]
    """what stands in the way, and what would free it"""
    tells: tuple[str, ...]
    cannot: tuple[str, ...]
    cautions: tuple[str, ...]
