"""One check: a value against its limit, whether it holds, what it means and what to change."""

from typing import NamedTuple

NOT_KNOWN = "not known"
"""How the words of a check begin that could not be answered; it counts as failed."""


class Check(NamedTuple):
    """One finding."""

    name: str
    value: float | None
    limit: float | None
    passed: bool
    advice: str
    """What it means and, where it failed, what to change."""

    @property
    def answered(self) -> bool:
        """Whether it could be answered; one that could not is "not known" by its own word, and counts as failed."""
        return not self.advice.startswith(NOT_KNOWN)
