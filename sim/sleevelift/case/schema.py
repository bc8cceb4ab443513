"""The case: one model per table of the file, in SI once read.

    case.sleeve.moving_mass   kg        case.spring.rate   N/m        case.supply.pressure   Pa absolute

Tables that a case does not have are None (`oxidizer`, `fuel`, `slots`, `seat` of a dry case, `chamber` before the hot
test). Paths such as `spring.preload` or `slots.row.0.lap` name one value; `ranges`, `origin` and `written` are keyed by
them. The tables themselves stand in `schema_run`, `schema_gas`, `schema_machine`, `schema_liquid` and `schema_chamber`.
"""

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import PrivateAttr

from sleevelift.case.quantity import Table, key
from sleevelift.case.schema_chamber import Chamber, FaultEntry, Igniter, Limits
from sleevelift.case.schema_gas import Gas, LiftChamber, QuickExhaust, Solenoid, SpringSide, Supply, Tube
from sleevelift.case.schema_liquid import Bench, Propellant, Seat, Slots
from sleevelift.case.schema_machine import Seals, Sleeve, Spring
from sleevelift.case.schema_run import Ambient, CaseTable, Run
from sleevelift.case.schema_sequence import SequenceTable
from sleevelift.case.schema_trace import TraceTable
from sleevelift.reader import READERS, Reader, UnitsName

Origin = Literal["given", "default", "derived"]


class Case(Table):
    """A sleeve valve, its feeds and its test, as read from one file."""

    case: CaseTable = key("what the case is")
    ambient: Ambient = key("the surroundings", default=Ambient(), reason="standard atmosphere, room temperature")
    run: Run = key("how the run is computed", default=Run(), reason="each key has its own")
    gas: Gas = key("the actuation gas")
    supply: Supply = key("where the actuation gas comes from")
    solenoid: Solenoid = key("the solenoid valve and its commands")
    tube: Tube = key("the tube to the lift chamber")
    quick_exhaust: QuickExhaust | None = key("a quick exhaust valve at the lift chamber; absent: none", default=None)
    lift_chamber: LiftChamber = key("the gas volume that lifts")
    spring_side: SpringSide = key("the gas volume on the spring's side")
    sleeve: Sleeve = key("the moving sleeve")
    spring: Spring = key("the closing spring")
    seals: Seals = key("the sliding seals")
    bench: Bench = key("what the test bench holds constant", default=Bench(), reason="open to ambient")
    oxidizer: Propellant | None = key("the oxidizer feed (cold-flow and hot cases)", default=None)
    fuel: Propellant | None = key("the fuel feed (cold-flow and hot cases)", default=None)
    slots: Slots | None = key("the oxidizer slots (cold-flow and hot cases)", default=None)
    seat: Seat | None = key("the fuel seat (cold-flow and hot cases; optional in dry ones)", default=None)
    chamber: Chamber | None = key("the combustion chamber (hot cases)", default=None)
    igniter: Igniter | None = key("the igniter (hot cases); absent: never lit", default=None)
    sequence: SequenceTable | None = key("steps, holds and aborts beside each part's own on and off; absent: none", default=None)
    limits: Limits = key("limits of the checks", default=Limits(), reason="each key has its own")
    trace: TraceTable = key("how the stand writes its files", default=TraceTable(), reason="each key has its own")
    faults: tuple[FaultEntry, ...] = key("faults to try", default=(), reason="none", max_length=200)

    _name: str = PrivateAttr(default="case")
    _sha256: str = PrivateAttr(default="")
    _ranges: dict[str, tuple[float, float]] = PrivateAttr(default_factory=dict)
    _origin: dict[str, Origin] = PrivateAttr(default_factory=dict)
    _written: dict[str, str] = PrivateAttr(default_factory=dict)
    _changes: dict[str, Any] = PrivateAttr(default_factory=dict)
    _relative: frozenset[str] = PrivateAttr(default=frozenset())
    """paths whose range was given in per cent"""
    _gauge: frozenset[str] = PrivateAttr(default=frozenset())
    """paths whose pressure was given as gauge"""
    _reader: UnitsName | None = PrivateAttr(default=None)
    """units that were asked for on the command line; None: those of the file"""

    @property
    def name(self) -> str:
        """Stem of the file's name."""
        return self._name

    @property
    def sha256(self) -> str:
        """SHA-256 of the text that was read."""
        return self._sha256

    @property
    def reader(self) -> Reader:
        """In which units results of this case are shown."""
        return READERS[self._reader or self.case.units]

    def read_in(self, name: UnitsName | None) -> "Case":
        """The case for a reader of other units, whatever its file says; None: those of the file. Nothing else changes."""
        new = self.model_copy()
        book_of(new)["_reader"] = name
        return new

    @property
    def ranges(self) -> Mapping[str, tuple[float, float]]:
        """path -> (low, high), SI, of every value that was given with a range."""
        known: Mapping[str, tuple[float, float]] = book_of(self)["_ranges"]
        return known

    @property
    def origin(self) -> Mapping[str, Origin]:
        """path -> given in the file, default of the trade, or derived from other keys."""
        return self._origin

    @property
    def written(self) -> Mapping[str, str]:
        """path -> the text of the file."""
        return self._written

    @property
    def changes(self) -> Mapping[str, Any]:
        """path -> value that was set after reading."""
        return self._changes


def book_of(case: Case) -> dict[str, Any]:
    """What a case keeps beside its keys (`_origin`, `_ranges` ...): the same as its attributes, without pydantic's look-up, which
    takes as long as copying a table."""
    book = case.__pydantic_private__
    assert book is not None, "a case keeps something"
    return book
