"""Tables of the case file for its title, the surroundings and how it is run."""

from typing import Annotated, Literal

from annotated_types import Ge, Le
from pydantic import StrictBool

from sleevelift.case.quantity import (
    DERIVED,
    Number,
    Pressure,
    Table,
    Temperature,
    Time,
    key,
)
from sleevelift.constants import STANDARD_ATMOSPHERE

LOWEST_GAS_PRESSURE = 1e3
"""Pa absolute. The gas tables begin there."""
LONGEST_RUN = 1000.0
"""s. A start and stop takes seconds."""


Instant = Annotated[Time, Ge(0.0), Le(LONGEST_RUN)]
"""s from the start of the run."""


class CaseTable(Table):
    """What the case is."""

    title: str = key("one line that says what is tested", max_length=200)
    kind: Literal["dry", "cold-flow", "hot"] = key(
        "dry: bench test of the actuation without propellants; cold-flow: liquids, no combustion; hot: everything"
    )
    invented: StrictBool = key(
        "true where the numbers are invented and describe no hardware; shown with every result",
        default=False,
        reason="a case is taken to describe hardware unless it says otherwise",
    )
    units: Literal["metric", "inch"] = key(
        "units in which results are shown: metric (mm, bar, N, K) or inch (in, psi, lbf, degF); values are read in any unit, and "
        "result.json stays in SI",
        default="metric",
        reason="the units of the files that come with the program",
    )
    note: str = key("free text, carried into the report", default="", reason="none given", max_length=5000)


class Ambient(Table):
    """The surroundings: what gauge pressures count from, and where vents lead."""

    pressure: Pressure = key(
        "ambient pressure, absolute",
        default=STANDARD_ATMOSPHERE,
        reason="standard atmosphere",
        ge=LOWEST_GAS_PRESSURE,
        le=10e5,
        because="vents lead there, and the gas tables begin there",
    )
    temperature: Temperature = key("ambient temperature", default=293.15, reason="reference of ISO 8778", ge=200.0, le=400.0)


class Run(Table):
    """How the run is computed."""

    end: Time | None = key(
        "end of the run, the liquids' ringing computed to it; absent: when the valve has closed and everything has settled",
        default=None,
        gt=0.0,
        le=LONGEST_RUN,
    )
    horizon: Time = key(
        "without a given end: how long after the last instant given a run that neither settles nor stands still is cut",
        default=30.0,
        reason="a lift chamber that fills through a pinhole takes some seconds",
        gt=0.0,
        le=LONGEST_RUN,
    )
    tolerance: Number = key(
        "relative error allowed per step of the integrator",
        default=DERIVED,
        reason="2e-4, with run valves 5e-5: opening and closing times then lie within some microseconds of the converged ones",
        ge=1e-10,
        le=1e-2,
        because="tighter is lost in rounding, looser moves the closing time",
    )
    pressurised_before_command: Time = key(
        "how long the propellants stood at the closed valve before the run begins",
        default=0.0,
        reason="the run valves open as the run begins",
        ge=0.0,
        le=86400.0,
    )
    count_pool_before_command: StrictBool = key(
        "start the chamber with what the closed valve leaked of both propellants before the command, to be burned",
        default=False,
        reason="it is stated apart: much of it drains or boils off",
    )
    laminar_above: Number = key(
        "pressure ratio above which the root of the flow formulas is replaced by a straight line to zero",
        default=0.995,
        reason="keeps the slope finite where the flow reverses; moves flows below 0.5 % pressure drop only",
        ge=0.9,
        le=0.99999,
    )
