"""A measured trace, read from a CSV file.

    read_trace(Path("dry_07.csv"), ["PT-3 [psig]=lift_chamber_pressure"], barometer=98000.0)  ->  Trace

First line that is no comment (#) is the header; its columns, separated by comma, semicolon or tab, are named with their units
(`sleevelift.measured.header`). Sample rates, gaps and time columns may differ between channels. A file with faults is refused
with one line for each (`TraceError`), and is never changed.
"""

import csv
import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import BinaryIO, NamedTuple

import numpy as np

from sleevelift.case.faults import CaseError, Fault
from sleevelift.columns import COIL_CURRENT, COMMAND, TIME, Given, given_in, parted
from sleevelift.measured.header import Layout, layout
from sleevelift.measured.rows import GAP_WORDS, Faults, Form, Progress, cell_number, numbers
from sleevelift.units import shown

LONGEST_LINE = 1 << 20
"""bytes; a header that is longer is none"""
MOST_COLUMNS = 1000
LOST = 5e-3
"""s without a sample (and five times the usual step) that count as lost data."""
HYSTERESIS = 0.1
"""-. Of the span between off and on: a command has changed when it has passed the middle by this much."""


class TraceError(CaseError):
    """A measured file that cannot be used; one line per fault."""

    def __init__(self, file: str, told: Sequence[str]) -> None:
        self.told = list(told)
        super().__init__([Fault((), line) for line in told], file)

    def lines(self) -> list[str]:
        """The file's name before each fault."""
        return [f"{self.file} {line}" if line.startswith("row ") else f"{self.file}: {line}" for line in self.told]


class Channel(NamedTuple):
    """One column of a trace: what was measured, without its gaps."""

    quantity: str
    """name of the measurand, as of the simulator's trace"""
    header: str
    """the column's header"""
    unit: str
    """as written"""
    kind: str
    time: np.ndarray
    """(n,) s, as the file counts it, never going back"""
    value: np.ndarray
    """(n,) SI; pressures absolute"""
    gaps: int
    """rows without a value or without a time"""
    factor: float = 1.0
    """SI per unit, as written"""
    place: int = 0
    """of its column, from 0"""
    offset: float = 0.0
    """SI of the number 0, as written"""


class Trace(NamedTuple):
    """A measured file."""

    name: str
    path: Path
    channels: tuple[Channel, ...]
    """time columns are not among them"""
    rows: int
    notes: tuple[str, ...]
    """what a person should know of how it was read"""
    sha256: str

    def of(self, quantity: str) -> tuple[Channel, ...]:
        """The channels that hold a quantity: more than one where several sensors did."""
        return tuple(channel for channel in self.channels if channel.quantity == quantity)

    @property
    def quantities(self) -> tuple[str, ...]:
        """What was measured, in the order of the columns."""
        return tuple(dict.fromkeys(channel.quantity for channel in self.channels))


class Head(NamedTuple):
    """The lines before the numbers."""

    headers: list[str]
    below: list[str] | None
    """the row of units, if there is one"""
    row: int
    """row of the header"""
    first_row: int
    """row of the first numbers"""
    start: int
    """byte at which they begin"""
    delimiter: str
    decimal_comma: bool
    encoding: str


def _decoded(line: bytes) -> tuple[str, str]:
    """(text, encoding) of a header line."""
    try:
        return line.decode("utf-8-sig"), "utf-8"
    except UnicodeDecodeError:
        return line.decode("latin-1"), "latin-1"


def _lines(file: BinaryIO) -> "list[tuple[int, int, bytes]]":
    """(row, byte where it ends, line) of the header and the two lines that follow, comments and empty lines passed over."""
    found: list[tuple[int, int, bytes]] = []
    row = 0
    while len(found) < 3:
        line = file.readline(LONGEST_LINE)
        if not line:
            break
        row += 1
        if line.strip() and not line.lstrip(b"\xef\xbb\xbf \t").startswith(b"#"):
            found.append((row, file.tell(), line))
    return found


def _cells(text: str, delimiter: str) -> list[str]:
    return next(csv.reader([text.rstrip("\r\n")], delimiter=delimiter), [])


def _is_number(cell: str) -> bool:
    return cell_number(cell, "," in cell) is not None and cell.strip().lower() not in GAP_WORDS


def read_head(file: BinaryIO, name: str) -> Head:
    """Header, separator and decimal sign of a file. TraceError where there is none."""
    found = _lines(file)
    if not found:
        raise TraceError(name, ["has no header: it is empty"])
    row, end, line = found[0]
    if b"\0" in line or len(line) >= LONGEST_LINE:
        raise TraceError(name, [f"row {row}: is no line of a CSV file"])
    text, encoding = _decoded(line)
    delimiter = max("\t;,", key=text.count)
    headers = _cells(text, delimiter)
    if len(headers) > MOST_COLUMNS:
        raise TraceError(name, [f"row {row}: has {len(headers)} columns; at most {MOST_COLUMNS} are read"])
    if all(_is_number(cell) for cell in headers):
        raise TraceError(name, [f'row {row}: is a row of numbers; the first row must name the columns, such as "time [ms]"'])
    below, start, first_row = None, end, row + 1
    if len(found) > 1 and not any(parted(header)[1] for header in headers):
        cells = _cells(_decoded(found[1][2])[0], delimiter)
        if len(cells) == len(headers) and not any(_is_number(cell) for cell in cells):
            below, start, first_row = cells, found[1][1], found[1][0] + 1
    samples = [_cells(_decoded(line)[0], delimiter) for _, _, line in found[1 if below is None else 2 :]]
    if samples and len(samples[0]) == len(headers) + 1 and not samples[0][-1].strip():
        headers, below = [*headers, ""], None if below is None else [*below, ""]  # every row ends with the separator
    comma = delimiter != "," and any("," in cell and _is_number(cell) for cells in samples for cell in cells)
    return Head(headers, below, row, first_row, start, delimiter, comma, encoding)


def mappings_of(texts: Sequence[str], option: str = "--column") -> list[Given]:
    """The mappings of a command line. CaseError with a line for each that is none."""
    found, faults = [], []
    for text in texts:
        try:
            found.append(given_in(text, option))
        except ValueError as error:
            faults.append(f"{option} {shown(text)}: {error}")
    if faults:
        raise CaseError([Fault((), fault) for fault in faults])
    return found


def read_trace(
    path: Path, columns: Sequence[str | Given] = (), *, barometer: float = 101325.0, forgiving: bool = False,
    progress: Progress | None = None,
) -> Trace:  # fmt: skip
    """A measured trace. TraceError with one line per fault; OSError where the file cannot be read.

    columns: mappings such as "PT-3 [psig]=lift_chamber_pressure" of columns whose headers do not say what they hold. barometer:
    Pa absolute, what gauge pressures are above. forgiving: cells that are no number, and rows that are cut short, are gaps
    instead of faults. progress(bytes read, bytes in all) is called now and then.
    """
    mappings = [*mappings_of([one for one in columns if isinstance(one, str)]), *[c for c in columns if not isinstance(c, str)]]
    total = path.stat().st_size
    with path.open("rb") as file:
        head = read_head(file, path.name)
        plan = layout(head.headers, head.below, mappings, barometer, head.row)
        if plan.faults:
            raise TraceError(path.name, plan.faults)
        places = tuple(column.place for column in plan.columns)
        form = Form(head.delimiter, head.decimal_comma, head.encoding, len(head.headers), tuple(head.headers), places, forgiving)
        times = [k for k, column in enumerate(plan.columns) if column.measurand.name == TIME]
        faults = Faults()
        file.seek(head.start)
        values, infinite = numbers(file, head.first_row, form, times, faults, progress, total)
        file.seek(0)
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    if not faults.count and not len(values):
        raise TraceError(path.name, [f"row {head.row}: nothing follows the header"])
    channels = _channels(values, plan)
    told = faults.told() + [
        f"row {head.row}, column {channel.place + 1} {shown(channel.header, 40)}: holds no number at all"
        for channel in channels
        if not len(channel.time) and not faults.count
    ]
    if told:
        raise TraceError(path.name, told)
    return Trace(path.stem, path, channels, len(values), _notes(head, plan, channels, infinite, forgiving), digest)


def _channels(values: np.ndarray, plan: Layout) -> tuple[Channel, ...]:
    """The channels in SI, gaps left out."""
    index = {column.place: k for k, column in enumerate(plan.columns)}
    found = []
    for column in plan.columns:
        if column.measurand.name == TIME:
            continue
        clock = plan.columns[index[column.time_place]]
        t, x = values[:, index[clock.place]], values[:, index[column.place]]
        known = np.isfinite(t) & np.isfinite(x)
        found.append(
            Channel(
                column.measurand.name,
                column.header,
                column.unit,
                column.measurand.kind,
                t[known] * clock.factor + clock.offset,
                x[known] * column.factor + column.offset,
                int(len(known) - known.sum()),
                column.factor,
                column.place,
                column.offset,
            )  # fmt: skip
        )
    return tuple(found)


def _notes(head: Head, plan: Layout, channels: Sequence[Channel], infinite: int, forgiving: bool) -> tuple[str, ...]:
    notes = list(plan.notes)
    if head.decimal_comma:
        notes.append("Decimal commas were read as points.")
    if plan.unread:
        names = ", ".join(shown(name, 30) for name in plan.unread[:10])
        more = f" and {len(plan.unread) - 10} more" if len(plan.unread) > 10 else ""
        notes.append(f"Columns not read: {names}{more}; --column NAME=QUANTITY reads them.")
    gaps = [f"{shown(channel.header, 30)} {channel.gaps}" for channel in channels if channel.gaps]
    if gaps:
        words = " (cells that are no number among them)" if forgiving else ""
        notes.append(f"Rows without a value{words}: {', '.join(gaps)}.")
    if infinite:
        notes.append(f"{infinite} infinite values were left out.")
    return tuple(notes)


class Edge(NamedTuple):
    """One change of the command."""

    instant: float
    """s, as the file counts: midway between the samples before and after"""
    on: bool
    uncertainty: float
    """s, half the time between those samples"""


def command_edges(trace: Trace) -> list[Edge]:
    """When the valve was switched on and off: of the command, else of the coil current; empty where neither was measured.

    A command changes where it passes the middle of its span. A coil's current rises and falls slowly: it is on from where it
    leaves a tenth of its span, off from where it last held nine tenths of what it had held.
    """
    for name, rises, falls in ((COMMAND, 0.5 + HYSTERESIS, 0.5 - HYSTERESIS), (COIL_CURRENT, HYSTERESIS, HYSTERESIS)):
        for channel in trace.of(name):
            low, high = float(channel.value.min()), float(channel.value.max())
            if high > low:
                return _edges(channel.time, (channel.value - low) / (high - low), rises, falls, name == COIL_CURRENT)
    return []


def _edges(t: np.ndarray, share: np.ndarray, rises: float, falls: float, current: bool) -> list[Edge]:
    """Edges of a signal from 0 to 1: on above `rises`, off below `falls`."""
    state = np.where(share > rises, 1, np.where(share < falls, 0, -1))
    known = np.flatnonzero(state >= 0)
    changes = known[1:][np.diff(state[known]) != 0]
    found: list[Edge] = []
    began = 0
    for k in changes.tolist():
        on = bool(state[k])
        if current and not on:
            held = 0.9 * float(np.median(share[began:k]))
            k = began + int(np.flatnonzero(share[began:k] >= held)[-1]) + 1
        found.append(Edge(float(t[k] + t[k - 1]) / 2.0, on, float(t[k] - t[k - 1]) / 2.0))
        began = k
    return found


def lost_data(time: np.ndarray) -> tuple[tuple[float, float], ...]:
    """Times without a sample, s: longer than LOST and than five usual steps."""
    if len(time) < 2:
        return ()
    steps = np.diff(time)
    usual = float(np.median(steps))
    return tuple((float(time[k]), float(time[k + 1])) for k in np.flatnonzero(steps > max(LOST, 5.0 * usual)))
