"""What a design must hold: targets of the designer, and the checks that the case as written passes.

    slack of a target = (distance to its limit) / scale;    0 just holds, 1 is a whole scale to spare

scale: the width of a band; of a one-sided target the limit itself, or 0.1 where it is below that (margins are ratios to 1).
A measure that did not happen has a slack of `MISSED`.
"""

import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from sleevelift import units
from sleevelift.case.schema import Case
from sleevelift.checks import TIMES
from sleevelift.margin_words import MARGINS
from sleevelift.plant.names import UNITS
from sleevelift.ratings import limit_of, parts
from sleevelift.study.values import known_measures, refused

MISSED = -10.0
"""-. Slack where the measure did not happen."""
LEAST_SCALE = 0.1
"""-. Scale of a one-sided dimensionless target near 0, such as a margin."""
KINDS = {
    "s": "time", "Pa": "pressure", "m/s": "speed", "kg/s": "flow", "kg": "mass", "N": "force", "N/m": "line force",
    "K": "temperature", "m2": "area",
}  # fmt: skip
"""SI unit of a measure -> kind of quantity of its limit."""
_TARGET = re.compile(r"\s*(\w+)\s*(<=|>=|=)\s*(.+?)\s*")


class Target(NamedTuple):
    """What a measure must be; SI, infinite where open."""

    measure: str
    low: float
    high: float
    scale: float
    text: str
    kept: bool = False
    """a check that the case as written passes: it must not be lost, and to spare in it is worth nothing"""


def _limit(case: Case, measure: str, text: str, option: str) -> float:
    """SI of a target's limit."""
    kind = KINDS.get(UNITS[measure])
    try:
        value = float(text) if kind is None else units.read_quantity(text, kind, case.ambient.pressure).si
    except ValueError as error:
        raise refused(f"{option} {measure} {text}", str(error)) from None
    if not np.isfinite(value):
        raise refused(f"{option} {measure} {text}", "must be finite")
    return value


def one_sided(measure: str, low: float, high: float, text: str, kept: bool = False) -> Target:
    """A target with one open end."""
    limit = low if np.isfinite(low) else high
    scale = max(abs(limit), 0.0 if UNITS[measure] else LEAST_SCALE) or 1.0
    return Target(measure, low, high, scale, text, kept)


def target_of(case: Case, text: str, option: str = "--for") -> Target:
    """A target such as "opening_time<=60ms", "full_lift_margin>=0.05", "oxidizer_lead=1ms:4ms"."""
    match = _TARGET.fullmatch(text)
    if match is None:
        raise refused(f"{option} {text}", "must be measure<=limit, measure>=limit or measure=low:high")
    name, sign, rest = match.groups()
    known_measures([name], option)
    if sign != "=":
        limit = _limit(case, name, rest, option)
        return one_sided(name, -np.inf if sign == "<=" else limit, limit if sign == "<=" else np.inf, text)
    ends = rest.split(":")
    if len(ends) != 2:
        raise refused(f"{option} {text}", "a band is low:high")
    low, high = (_limit(case, name, end, option) for end in ends)
    if not low < high:
        raise refused(f"{option} {text}", "the low end must be below the high end")
    return Target(name, low, high, high - low, text)


def target_slack(target: Target, values: np.ndarray) -> np.ndarray:
    """Slack of a target for measured values (SI); MISSED for what did not happen."""
    with np.errstate(invalid="ignore"):
        slack = np.minimum(values - target.low, target.high - values) / target.scale
    return np.where(np.isfinite(values), np.maximum(slack, MISSED), MISSED)


def kept_targets(case: Case, passed: Mapping[str, bool], targets: Sequence[Target]) -> list[Target]:
    """Checks with a number that `case` as written passes and that no target of the designer speaks of."""
    named = {target.measure for target in targets}
    limits = case.limits
    low: dict[str, float | None] = dict.fromkeys(MARGINS, limits.margin_at_least)
    low["oxidizer_lead"] = 0.0 if limits.oxidizer_lead_at_least is None else limits.oxidizer_lead_at_least
    low["sealing_load"] = limits.sealing_load_at_least
    high: dict[str, float | None] = {name: getattr(limits, key) for name, (key, _) in TIMES.items()}
    high |= {part.check: limit[0] for part in parts({}, case) if (limit := limit_of(part, case)) and part.check in UNITS}
    high["hard_start_pressure"] = case.chamber.allowable_pressure if case.chamber is not None else None
    out = [one_sided(name, limit, np.inf, f"check {name}", True) for name, limit in low.items() if limit is not None]
    out += [one_sided(name, -np.inf, limit, f"check {name}", True) for name, limit in high.items() if limit is not None]
    return [target for target in out if passed.get(target.measure, False) and target.measure not in named]
