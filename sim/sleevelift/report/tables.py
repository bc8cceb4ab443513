"""Tables on a screen of any width: no number is ever cut, whatever has no room moves below.

    wide      name   12.345   6.78   words that explain         one line a row
    narrower  name   12.345   6.78                              the words below their row
                  words that explain
    narrow    name   12.345                                     further columns below, each block with the first column
              name   6.78

A cell is broken at blanks only, never between a number and its unit; a heading may be broken too. The width is that of the
console (at least LEAST_WIDTH of `sleevelift.report.screen`).
"""

import re
from collections.abc import Sequence
from typing import NamedTuple

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

GAP = 2
"""columns between columns."""
LEAST_WORDS, LEAST_NAME = 26, 14
"""columns that words which explain, and other texts, are given at least before they move below (fewer where they are shorter)."""
BELOW = 4
"""columns by which what moved below a row is indented."""
QUIET = "dim"
_SPLIT = re.compile(r" +")
_NUMBER = re.compile(r"[+-]?[\d.]+(?:[eE][+-]?\d+)?[,;)]?")
_UNIT = re.compile(r"(?:%|[A-Za-z]{1,5}\d?(?:/[A-Za-z]{1,4}\d?)?|of|to)?[,;.)]*")
_JOINT = re.compile(r"(?<=[/_.=,-])(?=[A-Za-z])")
"""Where a word that is too long may be broken: before a letter, so that no number is cut."""


class Column(NamedTuple):
    """One column."""

    title: str
    justify: str = "left"
    """left or right: numbers end where numbers end"""
    explains: bool = False
    """words that may go below their row"""


class Sheet(NamedTuple):
    """A table of texts."""

    title: str
    columns: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]


def pieces(text: str) -> list[str]:
    """The words of a text; a number and its unit are one."""
    out: list[str] = []
    for word in _SPLIT.split(text.strip()):
        if out and _NUMBER.fullmatch(out[-1]) and out[-1][-1] not in ",;)" and word and len(word) <= 8 and _UNIT.fullmatch(word):
            out[-1] += f" {word}"
        elif out and out[-1][:1].isdigit() and out[-1].count("(") > out[-1].count(")"):  # a unit such as J/(kg K)
            out[-1] += f" {word}"
        else:
            out.append(word)
    return out


def wrapped(text: str, width: int) -> list[str]:
    """The text in lines of at most `width` columns, unless a number or a word without a joint is longer.

    >>> wrapped("at 12.5 mm of lift", 8)
    ['at', '12.5 mm', 'of lift']
    """
    lines: list[str] = [""]
    for line in text.split("\n"):
        if lines != [""]:
            lines.append("")
        for word in pieces(line):
            parts = [word] if cell_len(word) <= width else _JOINT.split(word)
            for place, part in enumerate(parts):
                joint = " " if lines[-1] and place == 0 else ""
                if not lines[-1] or cell_len(lines[-1]) + len(joint) + cell_len(part) <= width:
                    lines[-1] += joint + part
                else:
                    lines.append(part)
    return lines


def _widest(lines: Sequence[str]) -> int:
    return max((cell_len(line) for line in lines), default=0)


def _least(column: Column, cells: Sequence[str]) -> int:
    """The fewest columns of the screen that this column can do with."""
    longest_line = _widest([line for cell in cells for line in cell.split("\n")])
    title = _widest([word for word in column.title.split()])
    if column.justify == "right":
        return max(longest_line, title)
    floor = LEAST_WORDS if column.explains else LEAST_NAME
    longest_word = _widest([part for cell in cells for word in pieces(cell) for part in ([word] if cell_len(word) <= floor
                                                                                        else _JOINT.split(word))])  # fmt: skip
    return max(title, min(longest_line, max(longest_word, floor)))


def _shares(columns: Sequence[Column], texts: Sequence[Sequence[str]], width: int) -> list[int] | None:
    """Widths that sum to at most `width` with the gaps; None where there is no room."""
    least = [_least(column, cells) for column, cells in zip(columns, texts)]
    room = width - sum(least) - GAP * (len(columns) - 1)
    if room < 0:
        return None
    wanted = [
        max(low, _widest([line for cell in cells for line in cell.split("\n")]), _widest(column.title.split("\n")))
        for column, cells, low in zip(columns, texts, least)
    ]
    order = sorted(range(len(columns)), key=lambda i: (columns[i].explains, wanted[i] - least[i]))
    for i in order:
        more = min(room, wanted[i] - least[i])
        least[i] += more
        room -= more
    return least


def _line(cells: Sequence[tuple[str, str]], columns: Sequence[Column], widths: Sequence[int]) -> list[Text]:
    """The lines of one row; (text, style) per cell."""
    parts = [wrapped(text, width) for (text, _), width in zip(cells, widths)]
    out = []
    for k in range(max(len(part) for part in parts)):
        line = Text()
        for (_, style), part, column, width in zip(cells, parts, columns, widths):
            words = part[k] if k < len(part) else ""
            blank = " " * max(width - cell_len(words), 0)
            if column.justify == "right":
                line.append(blank)
            line.append(words, style=style)
            if column.justify != "right":
                line.append(blank)
            line.append(" " * GAP)
        line.rstrip()
        out.append(line)
    return out


class _Block(NamedTuple):
    """Columns that stand side by side, and their widths."""

    places: list[int]
    widths: list[int]


def _blocks(columns: Sequence[Column], texts: Sequence[Sequence[str]], places: Sequence[int], width: int) -> list[_Block]:
    """As many columns side by side as there is room for, the first in every block; at least one beside it."""
    first, rest = places[0], list(places[1:])
    blocks: list[_Block] = []
    while rest or not blocks:
        taken, widths = [first], None
        for place in rest:
            fits = _shares([columns[i] for i in (*taken, place)], [texts[i] for i in (*taken, place)], width)
            if fits is None:
                break
            taken, widths = [*taken, place], fits
        if widths is None and rest:  # not even two: the first column gives way
            taken = [first, rest[0]]
            one = _least(columns[rest[0]], texts[rest[0]])
            widths = [max(width - one - GAP, 1), one]
        if widths is None:
            widths = _shares([columns[first]], [texts[first]], width) or [width]
        rest = [place for place in rest if place not in taken]
        blocks.append(_Block(taken, widths))
    return blocks


Cells = Sequence[str | Text]


def _plain(cell: str | Text) -> str:
    return cell.plain if isinstance(cell, Text) else cell


def lines_of(columns: Sequence[Column], rows: Sequence[Cells], width: int, alike: Sequence[Cells] = ()) -> list[Text]:
    """The lines of a table that is at most `width` columns wide.

    alike: the rows of all tables that are to have the same columns as this one.
    """
    cells = [[(_plain(cell), str(cell.style) if isinstance(cell, Text) else "") for cell in row] for row in rows]
    texts = [[_plain(row[i]) for row in alike or rows] for i in range(len(columns))]
    places = list(range(len(columns)))
    widths = _shares(columns, texts, width)
    if widths is not None:
        return _grid(columns, cells, [_Block(places, widths)], [], width)
    below = [i for i in places[1:] if columns[i].explains]
    kept = [i for i in places if i not in below]
    return _grid(columns, cells, _blocks(columns, texts, kept, width), below, width)


def _grid(
    columns: Sequence[Column],
    cells: Sequence[Sequence[tuple[str, str]]],
    blocks: Sequence[_Block],
    below: Sequence[int],
    width: int,
) -> list[Text]:
    """Blocks one below the other; what moved below its row stands in the last of them."""
    out: list[Text] = []
    for block in blocks:
        heads = [columns[i] for i in block.places]
        if out:
            out.append(Text())
        if any(column.title for column in heads):
            out += _line([(column.title, QUIET) for column in heads], heads, block.widths)
        for row in cells:
            out += _line([row[i] for i in block.places], heads, block.widths)
            if block is not blocks[-1]:
                continue
            for i in below:
                words, style = row[i]
                told = f"{columns[i].title}: {words}" if columns[i].title and len(below) > 1 else words
                out += [Text(" " * BELOW + line, style=style) for line in wrapped(told, width - BELOW) if line]
    return out


def print_table(
    out: Console, columns: Sequence[Column], rows: Sequence[Cells], indent: int = 2, alike: Sequence[Cells] = ()
) -> None:
    """A table under its heading; see `lines_of`."""
    for line in lines_of(columns, rows, out.width - indent, alike):
        out.print(Text(" " * indent).append_text(line), no_wrap=True, overflow="ignore", crop=False)
