"""What `bench-case` prints, for eighty columns."""

import textwrap
from collections.abc import Iterator
from typing import Any

from sleevelift.bench_case.answer import Answer
from sleevelift.plant.names import UNITS
from sleevelift.reader import Reader
from sleevelift.shown import practical, together

WIDTH = 79
"""columns, also of a plain terminal"""


def wrapped(text: str, first: str = "", later: str = "") -> Iterator[str]:
    """A paragraph in lines."""
    yield from textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=later, break_long_words=False)


def listed(title: str, texts: Any, sign: str = "-") -> Iterator[str]:
    """A heading with its points."""
    if texts:
        yield title
    for text in texts:
        yield from wrapped(text, f"  {sign} ", "    ")


def lines(answer: Answer, name: str, title: str) -> Iterator[str]:
    """Cautions, what is set and why, what the test tells and what it does not."""
    yield f"{name}: {title}"
    yield from listed("Cautions", answer.cautions, "!")
    yield ""
    yield from listed("Set so", answer.said)
    if answer.missing:
        yield ""
        yield from listed("No case was written. What stands in the way", answer.missing)
        return
    changed = [change.path for change in answer.changes if change.after]
    gone = [change.path for change in answer.changes if not change.after]
    yield from wrapped(f"Changed (marked BENCH in the file): {', '.join(changed)}", "  - ", "    ")
    yield from wrapped(f"Taken out: {', '.join(gone)}", "  - ", "    ")
    yield ""
    yield from listed("Such a test can tell", answer.tells)
    yield from listed("It cannot tell", answer.cannot)


def compared(rows: list[tuple[str, Any, Any]], outcomes: tuple[str, str], reader: Reader) -> Iterator[str]:
    """Measures of hot and bench run side by side."""
    yield f"{'What the model expects':<26} {'hot case':>20} {'bench case':>20}"
    yield f"  {'outcome':<24} {outcomes[0]:>20} {outcomes[1]:>20}"
    for name, hot, bench in rows:
        if hot is None and bench is None:
            continue
        yield f"  {name:<24} {_cell(name, hot, reader):>20} {_cell(name, bench, reader):>20}"


def _cell(name: str, value: Any, reader: Reader) -> str:
    return "-" if value is None else together(practical(name, value, UNITS[name], None, reader))
