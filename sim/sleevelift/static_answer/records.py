"""What the static answer is made of: margins, findings, forces, throttle table, each a record with its units.

Opening forces are positive. Pressures that push are above ambient, all others absolute. Three numbers per margin: worst
case (what counts), nominal, and best case of the stated ranges: the best is the worst with every range turned round.
"""

from typing import Any, NamedTuple

from sleevelift.barriers import Barriers


class Area(NamedTuple):
    """One axial area of the sleeve."""

    name: str
    value: float
    """m2"""
    meaning: str


class ForceState(NamedTuple):
    """Axial forces on the sleeve in one state, N, opening positive."""

    name: str
    lift: float
    """m"""
    gas: float
    fuel: float
    gap: float
    chamber: float
    spring_side: float
    jet: float
    spring: float
    weight: float
    net: float
    """sum of the above: without friction"""
    breakaway: float
    """nominal; holds the sleeve either way"""


class StaticMargin(NamedTuple):
    """One static margin; `value` is the worst case over the stated ranges."""

    name: str
    value: float | None
    nominal: float | None
    best: float | None
    lift: float | None
    """m, where the worst case is least; None for margins of the closed valve"""
    limit: float
    passed: bool | None
    """None: no number to judge"""
    meaning: str
    advice: str
    """what to change, where it fails; why there is no number, where there is none"""


class Finding(NamedTuple):
    """One number with what it is held against."""

    name: str
    value: float | None
    unit: str
    low: float | None
    high: float | None
    limit: float | None
    passed: bool | None
    """None: stated, not judged"""
    advice: str


class Throttle(NamedTuple):
    """Steady flow and forces at one lift."""

    lift: float
    slot_area: float
    """Cd A, m2"""
    seat_area: float
    """Cd A, m2"""
    oxidizer_flow: float
    """kg/s"""
    fuel_flow: float
    """kg/s"""
    mixture_ratio: float | None
    chamber_pressure: float
    """Pa absolute"""
    net_force: float
    """N, without friction, gas at actuation pressure"""
    breakaway: float
    """N, nominal"""


class StoredEnergy(NamedTuple):
    """Energy an isentropic expansion to ambient sets free from one gas volume."""

    name: str
    volume: float
    """m3"""
    at_start: float
    """J"""
    valve_open: float
    """J, sleeve at full lift and gas at actuation pressure"""


class RuleMargin(NamedTuple):
    """Force margin by the rule of a standard."""

    name: str
    friction: str
    """calculated or measured: which factors"""
    value: float | None


class StaticReport(NamedTuple):
    """Everything the static check says."""

    case: dict[str, Any]
    ranges: dict[str, tuple[float, float]]
    """what the margins are taken over: gas and fuel pressure Pa absolute, friction factor, jet factor"""
    areas: list[Area]
    forces: list[ForceState]
    margins: list[StaticMargin]
    findings: list[Finding]
    throttle_unlit: list[Throttle]
    throttle_lit: list[Throttle]
    """empty unless the case is hot"""
    stored_energy: list[StoredEnergy]
    seals_between: str | None
    barriers: Barriers
    motorization_rule: list[RuleMargin]
    cautions: list[str]

    @property
    def failed(self) -> list[str]:
        """Names of what does not hold."""
        margins = [margin.name for margin in self.margins if margin.passed is False]
        return margins + [finding.name for finding in self.findings if finding.passed is False]


def stated(name: str, value: float | None, unit: str, advice: str, limit: float | None = None) -> Finding:
    """A number that is stated without a verdict."""
    return Finding(name, value, unit, None, None, limit, None, advice)


def judged(name: str, value: float, unit: str, limit: float, passed: bool, holds: str, fails: str) -> Finding:
    """A number with its verdict."""
    return Finding(name, value, unit, None, None, limit, passed, holds if passed else fails)
