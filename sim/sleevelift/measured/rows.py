"""The numbers of a measured trace, read in pieces of some megabytes; a line per fault, with its row and column.

Pieces without a fault go through numpy's reader (2 s for a million rows of nine columns, measured). A piece that it refuses is
read line by line, and every cell that is no number is named. An empty cell, `nan` and the other words of `GAP_WORDS` are gaps.
"""

import csv
import io
import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from typing import BinaryIO, NamedTuple

import numpy as np

from sleevelift.units import shown

PIECE = 1 << 22
"""bytes read at a time"""
SMALL_PIECE = 1 << 14
"""bytes; a piece with a fault is halved until it is as small as this, then read line by line"""
GAP_WORDS = frozenset({"", "nan", "na", "n/a", "#n/a", "-", "--", "null", "none"})
"""Cells, in small letters, that say: nothing was measured here."""
MOST_FAULTS = 40
"""faults that are told in full; the rest are counted"""
Progress = Callable[[int, int], None]


class Form(NamedTuple):
    """How the lines of a file are to be read."""

    delimiter: str
    decimal_comma: bool
    encoding: str
    fields: int
    """columns of the header"""
    names: tuple[str, ...]
    """headers, for faults"""
    places: tuple[int, ...]
    """columns that are read"""
    forgiving: bool
    """cells that are no number count as gaps"""


class Faults:
    """Faults in the order of the rows: the first ones in words, the others counted by column."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.more: Counter[str] = Counter()
        self.count = 0

    def add(self, row: int, place: int | None, form: Form, rule: str) -> None:
        """One fault; place: its column, None of the whole row."""
        column = "" if place is None else f"column {place + 1} {shown(form.names[place], 40)}"
        self.count += 1
        if len(self.lines) < MOST_FAULTS:
            self.lines.append(f"row {row}{', ' if column else ''}{column}: {rule}")
        else:
            self.more[column or "the whole row"] += 1

    def told(self) -> list[str]:
        """All lines, the count of the rest last."""
        if not self.more:
            return self.lines
        counts = ", ".join(f"{number} in {column}" for column, number in self.more.most_common(5))
        return [*self.lines, f"and {sum(self.more.values())} more faults: {counts}"]


def cell_number(cell: str, decimal_comma: bool) -> float | None:
    """The number of a cell, NaN of a gap, None where it is no number.

    >>> cell_number(" 1,5 ", True), cell_number("OVER", False)
    (1.5, None)
    """
    text = cell.strip()
    if text.lower() in GAP_WORDS:
        return math.nan
    if decimal_comma:
        text = text.replace(",", ".")
    if "_" in text:
        return None
    try:
        return float(text)
    except ValueError:
        return None


def pieces(file: BinaryIO, row: int, progress: Progress | None, total: int) -> Iterator[tuple[int, bytes]]:
    """(row of its first line, whole lines) until the file ends."""
    rest = b""
    done = file.tell()
    while True:
        block = file.read(PIECE)
        done += len(block)
        if not block:
            if rest.strip():
                yield row, rest
            return
        cut = block.rfind(b"\n") + 1
        if cut == 0:
            rest += block
            continue
        piece, rest = rest + block[:cut], block[cut:]
        yield row, piece
        row += piece.count(b"\n")
        if progress is not None:
            progress(done, total)


def _filled(piece: bytes, mark: bytes) -> bytes:
    """Empty cells as nan, for numpy's reader."""
    double = mark + mark
    while double in piece:
        piece = piece.replace(double, mark + b"nan" + mark)
    piece = piece.replace(b"\n" + mark, b"\nnan" + mark).replace(mark + b"\n", mark + b"nan\n")
    if piece.startswith(mark):
        piece = b"nan" + piece
    return piece + b"nan" if piece.endswith(mark) else piece


def _read_quickly(piece: bytes, form: Form) -> np.ndarray | None:
    """(rows, places) by numpy; None where the piece has anything but rows of numbers and empty cells."""
    mark = form.delimiter.encode()
    piece = piece.replace(b"\r\n", b"\n").rstrip(b"\n")
    lines = piece.count(b"\n") + 1
    if b'"' in piece or b"#" in piece or b"\n\n" in piece or b"_" in piece or piece.startswith(b"\n"):
        return None
    if piece.count(mark) != lines * (form.fields - 1):
        return None
    piece = _filled(piece, mark)
    if form.decimal_comma:
        piece = piece.replace(b",", b".")
    try:
        found = np.loadtxt(
            io.BytesIO(piece), delimiter=form.delimiter, comments=None, usecols=form.places, ndmin=2, encoding="latin-1"
        )
    except ValueError:
        return None
    return found if len(found) == lines else None


def _read_line_by_line(row: int, piece: bytes, form: Form, faults: Faults) -> tuple[np.ndarray, np.ndarray]:
    """(numbers (rows, places), their rows in the file) of a piece with faults, comments, quotes or empty lines."""
    text = piece.decode(form.encoding, errors="replace")
    values: list[list[float]] = []
    rows: list[int] = []
    for number, line in enumerate(text.splitlines(), start=row):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        cells = next(csv.reader([line], delimiter=form.delimiter))
        if len(cells) != form.fields and not form.forgiving:
            faults.add(number, None, form, f"has {len(cells)} cell{'s' if len(cells) != 1 else ''}; the header has {form.fields}")
            continue
        cells += [""] * (form.fields - len(cells))
        found = []
        for place in form.places:
            value = cell_number(cells[place], form.decimal_comma)
            if value is None and not form.forgiving:
                faults.add(number, place, form, f"{shown(cells[place].strip(), 30)} is no number")
            found.append(math.nan if value is None else value)
        values.append(found)
        rows.append(number)
    return np.array(values, dtype=float).reshape(len(values), len(form.places)), np.array(rows, dtype=np.int64)


def _blocks(row: int, piece: bytes, form: Form, faults: Faults) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """(numbers, their rows) of a piece: quickly where that goes, in smaller pieces where it does not, line by line at last."""
    block = _read_quickly(piece, form)
    if block is not None:
        yield block, np.arange(row, row + len(block))
    elif len(piece) <= SMALL_PIECE:
        yield _read_line_by_line(row, piece, form, faults)
    else:
        middle = piece.find(b"\n", len(piece) // 2) + 1
        if middle in (0, len(piece)):
            yield _read_line_by_line(row, piece, form, faults)
            return
        yield from _blocks(row, piece[:middle], form, faults)
        yield from _blocks(row + piece[:middle].count(b"\n"), piece[middle:], form, faults)


def numbers(
    file: BinaryIO, first_row: int, form: Form, times: Sequence[int], faults: Faults, progress: Progress | None, total: int
) -> tuple[np.ndarray, int]:
    """(numbers (rows, places) as written, cells that were infinite and are now gaps).

    times: indices into `places` of the time columns: a time before the one above it is a fault.
    """
    found = []
    latest = np.full(len(form.places), -np.inf)
    infinite = 0
    blocks = (one for row, piece in pieces(file, first_row, progress, total) for one in _blocks(row, piece, form, faults))
    for block, rows in blocks:
        odd = np.isinf(block)
        infinite += int(odd.sum())
        block[odd] = np.nan
        for k in times:
            latest[k] = _check_order(block[:, k], rows, latest[k], form.places[k], form, faults)
        found.append(block)
    return (np.concatenate(found) if found else np.zeros((0, len(form.places)))), infinite


def _check_order(t: np.ndarray, rows: np.ndarray, latest: float, place: int, form: Form, faults: Faults) -> float:
    """The last time of a block; times that go back are faults."""
    known = np.isfinite(t)
    times, rows = t[known], rows[known]
    if not len(times):
        return latest
    before = np.concatenate([[latest], times[:-1]])
    for k in np.flatnonzero(times < before):
        faults.add(int(rows[k]), place, form, f"time goes back, from {before[k]:.10g} to {times[k]:.10g}")
    return float(times[-1])
