"""Four numbers side by side, worked on by one instruction each: the nodes of the gas side, the flows between them.

What is written with the functions below means the same for one number and for four, so a formula stands once. Compiled, four
numbers are a register (`packed_code`); in plain Python they are a numpy array of four.

    total = root(a * a + b)                       each by itself
    w = choose(p1 > p2, forward, backward)        both are computed; where that is dear, ask `any_of` or `all_of` first
"""

from typing import Any

import numpy as np

WIDTH = 4
"""How many."""


def _as_given(value: Any) -> Any:
    """Four numbers as they are, one number as Python's own."""
    return value if np.ndim(value) else float(value)


def pack(a: Any, b: Any, c: Any, d: Any) -> Any:
    """The four numbers a, b, c, d side by side."""
    return np.array([a, b, c, d], dtype=np.float64)


def pack_row(row: Any) -> Any:
    """The first four numbers of an array."""
    return np.array(row[:WIDTH], dtype=np.float64)


def put_row(row: Any, numbers: Any) -> None:
    """Put four numbers into the first four places of an array."""
    row[:WIDTH] = numbers


def item(numbers: Any, place: Any) -> Any:
    """One of four numbers, `place` from 0 to 3."""
    return float(numbers[place])


def choose(condition: Any, yes: Any, no: Any) -> Any:
    """`yes` where the condition holds, else `no`."""
    return _as_given(np.where(condition, yes, no))


def any_of(condition: Any) -> Any:
    """Whether the condition holds somewhere."""
    return bool(np.any(condition))


def all_of(condition: Any) -> Any:
    """Whether the condition holds everywhere."""
    return bool(np.all(condition))


def first_without(condition: Any) -> Any:
    """The first place where a condition on four numbers does not hold; 4 if it holds everywhere."""
    return WIDTH if np.all(condition) else int(np.argmin(condition))


def least(a: Any, b: Any) -> Any:
    """The smaller of two numbers, a if they are equal."""
    return _as_given(np.where(b < a, b, a))


def most(a: Any, b: Any) -> Any:
    """The larger of two numbers, a if they are equal."""
    return _as_given(np.where(b > a, b, a))


def size(a: Any) -> Any:
    """Magnitude."""
    return _as_given(np.abs(a))


def root(a: Any) -> Any:
    """Square root."""
    return _as_given(np.sqrt(a))


def logarithm(a: Any) -> Any:
    """Natural logarithm."""
    return _as_given(np.log(a))


def exponential(a: Any) -> Any:
    """e to the power a."""
    return _as_given(np.exp(a))


def whole(a: Any) -> Any:
    """The whole part of numbers not below zero and below 2^31, still as numbers."""
    return _as_given(np.floor(a))
