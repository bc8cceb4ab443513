"""What checks between keys are made of."""

from collections.abc import Iterator
from typing import Any

from sleevelift.case.facts import Facts
from sleevelift.case.faults import Fault
from sleevelift.case.walk import split

Faults = Iterator[Fault]
MILLIMETRE = 1e-3


def refused(facts: Facts, path: str, rule: str) -> Fault:
    """The fault of a key that is given."""
    return Fault(split(path), rule, facts.written(path))


def missing(path: str, rule: str) -> Fault:
    """The fault of a key that is not given."""
    return Fault(split(path), rule)


def increases(values: Any) -> bool:
    """True where each value is larger than the one before."""
    return all(later > earlier for earlier, later in zip(values, values[1:]))
