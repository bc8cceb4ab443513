"""What the pictures of studies need to know of what they draw: any object with these attributes."""

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

import numpy as np

from sleevelift.reader import Reader


class TitleTable(Protocol):
    """The [case] table, as far as a page's head needs it."""

    @property
    def title(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def invented(self) -> bool: ...


class GasTable(Protocol):
    """The [gas] table, likewise."""

    @property
    def name(self) -> str: ...


class Titled(Protocol):
    """What heads the page of a study: a case, or a run that was finished before."""

    @property
    def name(self) -> str: ...
    @property
    def case(self) -> TitleTable: ...
    @property
    def gas(self) -> GasTable: ...
    @property
    def reader(self) -> Reader: ...


class Axis(Protocol):
    """One value of the case and what it takes."""

    @property
    def path(self) -> str: ...
    @property
    def values(self) -> np.ndarray: ...  # SI
    @property
    def unit(self) -> str: ...
    def shown(self, si: Any, ambient: float) -> Any:
        """SI values in the axis' unit."""


class Design(Protocol):
    """A design that was judged: its moved values (SI), its slacks by target, the least of them."""

    @property
    def values(self) -> Mapping[str, float]: ...
    @property
    def slacks(self) -> Mapping[str, float]: ...
    @property
    def slack(self) -> float: ...


class Found(Protocol):
    """What a search found: the designs shown, the case as written, every design that was searched."""

    @property
    def shown(self) -> Sequence[Design]: ...
    @property
    def own(self) -> Design: ...
    @property
    def screened(self) -> Sequence[Design]: ...
