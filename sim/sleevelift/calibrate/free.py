"""The values that a fit may move: where they begin, between what they lie, and how they are scaled.

    free_of(case, "lift_chamber.dead_volume=1 cm3:5 cm3")   given ends
    free_of(case, "spring.preload")                         the range that the case states, else a usual one

A fit sees each as a number u: 0 at its low end, 1 at its high end, by ratio where the ends are more than threefold apart.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from sleevelift import units
from sleevelift.calibrate.usual import usual_range
from sleevelift.case.schema import Case
from sleevelift.case.walk import bound_fault, info_at, own_value, split
from sleevelift.study.values import ends_of, kind_of, refused, unit_text

RATIO_FROM = 3.0
"""-. High over low end from which a value moves by ratio."""
OPTION = "--free"
BY_DEFAULT = (
    "solenoid.open_dead_time",
    "solenoid.close_dead_time",
    "solenoid.fill_discharge_coefficient",
    "solenoid.exhaust_discharge_coefficient",
    "lift_chamber.dead_volume",
    "spring.preload",
    "seals.friction_factor",
)
"""What a first dry test has to tell: dead times, effective areas, dead volume, preload, friction."""


class Free(NamedTuple):
    """A value that a fit moves; SI."""

    path: str
    kind: str
    unit: str
    """in which it is shown"""
    start: float
    low: float
    high: float
    usual: tuple[float, float]
    """range beyond which it is called unusual"""
    whence: str
    """where its ends come from, in words"""
    owner: int | None = None
    """number of the trace whose own value it is; None: shared by all"""

    @property
    def by_ratio(self) -> bool:
        """Whether it is scaled by its logarithm."""
        return self.low > 0.0 and self.high > RATIO_FROM * self.low

    def scaled(self, value: float) -> float:
        """u of a value, SI."""
        if self.by_ratio:
            return math.log(value / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)

    def value(self, u: float) -> float:
        """Value, SI, of u."""
        if self.by_ratio:
            return self.low * math.exp(u * math.log(self.high / self.low))
        return self.low + u * (self.high - self.low)

    def slope(self, u: float) -> float:
        """d value / d u at u, SI."""
        return self.value(u) * math.log(self.high / self.low) if self.by_ratio else self.high - self.low

    def shown(self, si: float, ambient: float, digits: int = 4) -> str:
        """A value with its unit."""
        number = units.in_unit(si, self.unit, self.kind, ambient)
        return f"{number:.{digits}g} {self.unit}".strip().removesuffix(" -")


def own_unit(case: Case, path: str, kind: str, value: float) -> str:
    """Unit of the case's reader for a value of about this size, SI; the unit of the file where that is one of them."""
    fitting = case.reader.fitting(kind, value)
    written = case.written.get(path, "")
    unit = unit_text(written.split('"')[1], kind) if written.count('"') >= 2 else ""
    own = unit in {step.unit for steps in case.reader.sentences.values() for step in steps}
    return unit if own else fitting


def within_schema(path: str, low: float, high: float) -> tuple[float, float]:
    """The ends, cut to what the key allows."""
    info = info_at(split(path))
    assert info is not None, "the path was looked up before"
    for value, is_low in ((low, True), (high, False)):
        broken = bound_fault(value, info.field)
        if broken is not None:
            inside = broken[1]
            if "above" in broken[0] or "below" in broken[0]:
                other = high if is_low else low
                inside += 1e-6 * (other - inside)
            low, high = (inside, high) if is_low else (low, inside)
    return low, high


def free_of(case: Case, text: str, option: str = OPTION, owner: int | None = None) -> Free:
    """A free value from the command line. CaseError with its rule where it cannot be one."""
    path, sign, ends = text.partition("=")
    path = path.strip()
    kind = kind_of(case, path)
    own = own_value(case, path)
    if own is None:
        raise refused(f"{option} {text}", "this case has no such value to begin from")
    own = float(own)
    usual = usual_range(path, own)
    first = path if path in case.ranges else next((p for p in case.ranges if _every_row(p) == path), path)
    if sign:
        low_text, _, high_text = ends.partition(":")
        if not high_text:
            raise refused(f"{option} {text}", "must be PATH or PATH=LOW:HIGH")
        low, high = ends_of(case, path, low_text, high_text)
        whence = "given"
    elif first in case.ranges:
        low, high = case.ranges[first]
        whence = "range of the case"
    else:
        low, high = within_schema(path, usual.low, usual.high)
        whence = "usual range" if usual.known else "half to twice its value"
    if not low < high:
        raise refused(f"{option} {text}", "has no room to move: give its ends as PATH=LOW:HIGH")
    unusual = (low, high) if whence != "given" else (usual.low, usual.high)
    return Free(path, kind, own_unit(case, path, kind, own), min(max(own, low), high), low, high, unusual, whence, owner)


def _every_row(path: str) -> str:
    """slots.row.0.lap as slots.row.lap."""
    return ".".join(part for part in path.split(".") if not part.isdigit())


def by_default(case: Case) -> list[Free]:
    """What is free where nothing is said: those of `BY_DEFAULT` that the case has."""
    return [free_of(case, path) for path in BY_DEFAULT if own_value(case, path) is not None]


def wider(free: Free, factor: float = 4.0) -> Free:
    """The same value with ends far beyond: where it would go if it might."""
    width = free.high - free.low
    if free.low > 0.0:
        ends = free.low / factor, free.high * factor
    else:
        ends = free.low - factor * width, free.high + factor * width
    low, high = within_schema(free.path, *ends)
    return free._replace(low=low, high=high)


def titles(free: Sequence[Free], names: Sequence[str]) -> list[str]:
    """Name of each value, with its trace where it is one trace's own."""
    return [one.path if one.owner is None else f"{one.path} ({names[one.owner]})" for one in free]
