"""Values of a case that a study moves, and numbers as a person reads them.

    axis_of(case, "solenoid.fill_orifice=0.8mm:2.5mm:25")    evenly spaced values, units in the text
    axis_of(case, "solenoid.fill_orifice=drills:0.8mm:2.5mm")   the standard drills of that range

Inside everything is SI; the unit of the text is the unit of axis and table.
"""

import itertools
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from sleevelift import units
from sleevelift.case.change import by_number, si_value
from sleevelift.case.faults import CaseError, Fault
from sleevelift.case.parts import part_named
from sleevelift.case.read import with_values
from sleevelift.case.schema import Case
from sleevelift.case.walk import info_at, split
from sleevelift.plant.names import NAMES
from sleevelift.reader import METRIC, Reader
from sleevelift.sizing.inch_wires import inch_wires
from sleevelift.sizing.orifice_sizes import INCH_STANDARDS, STANDARDS, drill_label, drill_sizes
from sleevelift.sizing.spring_design import wire_diameters

DEFAULT_POINTS, MOST_POINTS = 25, 1000
"""Points of a range without a count, and the most."""


class Axis(NamedTuple):
    """One value of the case and what it takes."""

    path: str
    values: np.ndarray
    """SI"""
    labels: tuple[str, ...] | None
    """names of catalogue sizes; None for a range"""
    unit: str
    kind: str

    def shown(self, si: Any, ambient: float) -> Any:
        """SI values in the axis' unit."""
        return np.vectorize(lambda x: units.in_unit(x, self.unit, self.kind, ambient), otypes=[float])(si)


def size_name(axis: Axis, si: float, ambient: float) -> str:
    """ " = " and the name of a catalogue size where it says more than the number itself; else nothing."""
    if axis.labels is None:
        return ""
    near = int(np.argmin(np.abs(axis.values - si)))
    label = axis.labels[near]
    if not np.isclose(axis.values[near], si, rtol=1e-6, atol=0.0):
        return ""
    try:
        same = bool(np.isclose(float(label.split()[0]), float(axis.shown(si, ambient)), rtol=1e-4))
    except ValueError:
        same = False
    return "" if same else f" = {label}"


def refused(where: str, rule: str) -> CaseError:
    """A fault of an argument, as one line."""
    return CaseError([Fault((), rule)], where)


class Refusals(CaseError):
    """Several refusals, each with its own place, as one."""

    def __init__(self, errors: Sequence[CaseError]) -> None:
        self.errors = list(errors)
        super().__init__([fault for error in errors for fault in error.faults])

    def lines(self) -> list[str]:
        """One line per fault."""
        return list(dict.fromkeys(line for error in self.errors for line in error.lines()))


def together(calls: Sequence[Callable[[], Any]]) -> list[Any]:
    """What each call returns. `Refusals` tells the faults of all of them, not of the first alone."""
    found, errors = [], []
    for call in calls:
        try:
            found.append(call())
        except CaseError as error:
            errors.append(error)
    if errors:
        raise Refusals(errors)
    return found


def unit_text(text: str, kind: str = "length") -> str:
    """The unit of a quantity as written ("in" for a number drill); nothing where there is none."""
    try:
        return units.parts(text, kind)[1]
    except units.UnitError:
        return ""


def parts_of(text: str, option: str) -> tuple[str, list[str]]:
    """(path, fields) of "path=a:b:c"."""
    path, sign, rest = text.partition("=")
    fields = [field.strip() for field in rest.split(":")]
    if not sign or not path.strip() or len(fields) < 2 or "" in fields:
        raise refused(f"{option} {text}", "must be path=low:high, path=low:high:count, path=drills:low:high or path=wires:low:high")
    return path.strip(), fields


def kind_of(case: Case, path: str) -> str:
    """Kind of quantity at a path. CaseError where it is no number of this case."""
    info = info_at(split(path))
    if info is not None and info.is_list and info.quantity is not None:
        words = "is a list, so a study cannot move it"
        if path.rpartition(".")[2] in ("on", "off") and part_named(path.rpartition(".")[0]) is not None:
            words += ": write its instants as steps of [sequence], whose `delay` or `at` a study can move"
        raise refused(path, words)
    if info is None or info.quantity is None or info.is_list:
        si_value(case, path, "0")  # names the fault of an unknown key or a table
        raise refused(path, "is no single number, so a study cannot move it")
    return info.quantity.kind


def ends_of(case: Case, path: str, low: str, high: str) -> tuple[float, float]:
    """SI ends of a range given as text; CaseError where they do not fit the case."""
    ends = float(si_value(case, path, low)), float(si_value(case, path, high))
    if not ends[0] < ends[1]:
        raise refused(f"{path}={low}:{high}", "the low end must be below the high end")
    return ends


def catalogue(path: str, name: str, low: float, high: float, reader: Reader = METRIC) -> list[tuple[str, float]]:
    """(name, SI size) of the standard sizes between two ends: drills, or wires of springs; the inch reader's are inch sizes "
    "alone."""
    found: dict[float, str] = {}
    if name == "drills":
        for label, size in drill_sizes(low, high, INCH_STANDARDS if reader.name == "inch" else STANDARDS):
            found.setdefault(round(size, 9), drill_label(label, size))
    elif name == "wires" and reader.name == "inch":
        found = {round(size, 9): label for label, size in inch_wires(low, high)}
    elif name == "wires":
        found = {round(size, 9): f"{size * 1e3:.3g} mm wire" for size in wire_diameters(low, high)}
    else:
        raise refused(path, f"knows no list of sizes called {units.shown(name)}: drills and wires are known")
    if not found:
        raise refused(path, f"no standard size ({name}) lies in that range")
    return [(label, size) for size, label in found.items()]


def axis_of(case: Case, text: str, option: str = "--vary") -> Axis:
    """The axis that a text describes. CaseError where it cannot be."""
    path, fields = parts_of(text, option)
    path = by_number(case, path)
    kind = kind_of(case, path)
    if not fields[0][0].isdigit() and fields[0][0] not in "+-.#":
        if len(fields) != 3:
            raise refused(f"{option} {text}", "must be path=drills:low:high")
        low, high = ends_of(case, path, fields[1], fields[2])
        sizes = catalogue(path, fields[0], low, high, case.reader)
        labels = tuple(label for label, _ in sizes)
        return Axis(path, np.array([size for _, size in sizes]), labels, unit_text(fields[1], kind), kind)
    if len(fields) > 3:
        raise refused(f"{option} {text}", "must be path=low:high or path=low:high:count")
    low, high = ends_of(case, path, fields[0], fields[1])
    count = DEFAULT_POINTS
    if len(fields) == 3:
        if not fields[2].isdigit() or not 2 <= int(fields[2]) <= MOST_POINTS:
            raise refused(f"{option} {text}", f"the count must be a whole number from 2 to {MOST_POINTS}")
        count = int(fields[2])
    return Axis(path, np.linspace(low, high, count), None, unit_text(fields[0], kind), kind)


def check_corners(case: Case, axes: Sequence[Axis]) -> None:
    """CaseError where the ends of the ranges leave no valid case (each corner is checked once, lanes are not)."""
    for corner in itertools.product(*[(float(axis.values[0]), float(axis.values[-1])) for axis in axes]):
        with_values(case, {axis.path: end for axis, end in zip(axes, corner)}, check=True)


def known_measures(names: Sequence[str], option: str) -> list[str]:
    """The names if each is a measure. CaseError names the nearest ones."""
    from difflib import get_close_matches

    errors = []
    for name in names:
        if name not in NAMES:
            near = ", ".join(get_close_matches(name, NAMES, 3)) or ", ".join(NAMES)
            errors.append(refused(f"{option} {name}", f"is no measure; near it: {near}"))
    if errors:
        raise Refusals(errors)
    return list(dict.fromkeys(names))


def number(value: float | None, digits: int = 4) -> str:
    """A number for a table; a dash where it did not happen."""
    return "-" if value is None or not np.isfinite(value) else f"{value:.{digits}g}"


def inputs_text(override: Mapping[str, Any], most: int = 8) -> str:
    """Inputs of a lane in SI, for a list of failures."""
    pairs = [f"{path} = {value:.6g}" if isinstance(value, float) else f"{path} = {value}" for path, value in override.items()]
    return ", ".join(pairs[:most]) + (", ..." if len(pairs) > most else "")
