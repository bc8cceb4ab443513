"""What a study hands over: one sentence, tables, notes, numbers for CSV and JSON, a picture.

deliver(answer, folder, console)   prints the sentence first; writes <name>.csv, <name>.json, <name>.png whole or not at all
"""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from rich.text import Text

from sleevelift.batch import Batch
from sleevelift.case.cautions import GENERAL
from sleevelift.case.schema import Case
from sleevelift.plant.names import NAMES, UNITS
from sleevelift.reader import Reader
from sleevelift.report.files import (
    NUMBERS,
    NotPrinted,
    json_text,
    made_folder,
    provenance,
    shown_path,
    staged,
    write_text_atomically,
)
from sleevelift.report.tables import Column, print_table
from sleevelift.report.tables import Sheet as Sheet
from sleevelift.shown import file_head, in_file, kind_of
from sleevelift.study.finished_run import FinishedRun
from sleevelift.study.values import inputs_text

if TYPE_CHECKING:
    from rich.console import Console

LISTED = 5
"""Failed lanes listed on screen; all are in the JSON."""


class Answer(NamedTuple):
    """The whole of what a study says."""

    name: str
    """stem of its files"""
    case: Case | FinishedRun
    sentence: str
    sheets: list[Sheet]
    notes: list[str]
    header: list[str]
    """CSV: names with units"""
    rows: list[list[Any]]
    data: dict[str, Any]
    """JSON, SI"""
    draw: Callable[[Path], Any] | None = None
    texts: dict[str, str] = {}
    """further files: name -> text"""
    warning: str | None = None
    """what must be read before the sentence"""


def csv_field(value: Any) -> str:
    """A value in a CSV: shortest text that reads back; empty where there is none; quoted where need be."""
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return ""
    text = repr(float(value)) if isinstance(value, float) else str(value)
    return '"' + text.replace('"', '""') + '"' if any(letter in text for letter in ',"\n\r') else text


def csv_text(header: Sequence[str], rows: Sequence[Sequence[Any]]) -> str:
    """A table as CSV."""
    return "\n".join(",".join(map(csv_field, row)) for row in [list(header), *rows]) + "\n"


HEAD = re.compile(r"(.*) \[([^\[\]]+)\]")
"""A heading with its SI unit."""


def table_in(reader: Reader, header: Sequence[str], rows: Sequence[Sequence[Any]]) -> tuple[list[str], list[list[Any]]]:
    """(header, rows) of a table in SI, its heads with their units, in the units of the reader's files."""
    found = [HEAD.fullmatch(head) for head in header]
    parts = [(head, "") if one is None or one[2] == "-" else (one[1], one[2]) for head, one in zip(header, found)]
    if not any(reader.file_unit(kind_of(name, unit), unit) != unit for name, unit in parts):
        return list(header), [list(row) for row in rows]
    heads = [head if not unit else file_head(name, unit, reader) for head, (name, unit) in zip(header, parts)]

    def field(value: Any, name: str, unit: str) -> Any:
        return float(in_file(name, unit, value, reader)) if unit and isinstance(value, float) else value

    return heads, [[field(value, *part) for value, part in zip(row, parts)] for row in rows]


def failed_lanes(batch: Batch, overrides: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Lanes that did not come to their end: number, inputs in SI, sentence."""
    return [{"lane": lane, "inputs": dict(overrides[lane]), "sentence": text} for lane, text in sorted(batch.failures.items())]


def failure_notes(failed: Sequence[Mapping[str, Any]], total: int) -> list[str]:
    """How many lanes failed, and the first few of them."""
    if not failed:
        return [f"All {total} runs came to their end."]
    lines = [f"{len(failed)} of {total} runs failed and are kept as nulls (all are listed in the JSON):"]
    return lines + [f"  run {one['lane']}: {one['sentence']} [{inputs_text(one['inputs'])}]" for one in failed[:LISTED]]


def lane_header(paths: Sequence[str], checks: Sequence[str], si_units: Mapping[str, str]) -> list[str]:
    """CSV header of a table with one row per lane."""
    inputs = [f"{path} [{si_units.get(path) or '-'}]" for path in paths]
    return ["lane", *inputs, *[f"{name} [{UNITS[name] or '-'}]" for name in NAMES], "outcome",
            *[f"check {name}" for name in checks], "failure"]  # fmt: skip


def lane_rows(batch: Batch, overrides: Sequence[Mapping[str, Any]], paths: Sequence[str]) -> list[list[Any]]:
    """CSV rows, one per lane, SI; a check is 1 passed, 0 failed, empty not made."""
    checks = sorted(batch.checks)
    return [
        [
            lane, *[overrides[lane].get(path) for path in paths], *[float(batch.measures[name][lane]) for name in NAMES],
            str(batch.outcomes[lane]), *[float(batch.checks[name][lane]) for name in checks], batch.failures.get(lane, ""),
        ]
        for lane in range(len(batch))
    ]  # fmt: skip


LONG_CELL = 24
"""columns. Texts longer than that may go below their row where there is no room."""


def _column(sheet: Sheet, place: int) -> Column:
    """How a column of a sheet is laid out: numbers to the right, long texts where there is room."""
    cells = [row[place] for row in sheet.rows]
    numeric = place > 0 and all(not cell or cell.lstrip("+-")[:1].isdigit() or cell == "-" for cell in cells)
    if numeric and max(map(len, cells), default=0) <= LONG_CELL:
        return Column(sheet.columns[place], "right")
    return Column(sheet.columns[place], explains=place > 0 and max(map(len, cells), default=0) > LONG_CELL)


def print_answer(answer: Answer, out: "Console") -> None:
    """A warning where there is one, the sentence, then tables, then notes."""
    if answer.warning:
        out.print(Text(answer.warning, style="bold red"), soft_wrap=not out.is_terminal)
    # one line where a program reads it, broken at words on a screen
    out.print(Text(answer.sentence, style="bold"), soft_wrap=not out.is_terminal)
    for sheet in answer.sheets:
        out.print()
        out.print(Text(sheet.title, style="bold"))
        print_table(out, [_column(sheet, place) for place in range(len(sheet.columns))], sheet.rows, indent=0)
    if answer.notes:
        out.print()
    for note in answer.notes:
        out.print(Text(note))
    out.print()
    for caution in GENERAL:
        out.print(Text(caution))


def deliver(answer: Answer, folder: Path | None, out: "Console") -> list[Path]:
    """With a folder, write CSV, JSON and picture; then print the answer. The files; OSError where they cannot be written,
    NotPrinted where the answer cannot be printed.

    Written first: a reader that closes the pipe early loses nothing. What cannot be written is still printed.
    """
    files: list[Path] = []
    fault = unwritten = None
    try:
        if folder is not None:
            files, fault = written(answer, folder)
    except OSError as error:
        unwritten = error
    try:
        print_answer(answer, out)
        if fault is not None:
            out.print(f"The picture could not be drawn: {fault}", markup=False)
        if folder is not None and unwritten is None:
            out.print(f"Written to {shown_path(folder)}: {', '.join(path.name for path in files)}", markup=False)
    except OSError as error:
        if unwritten is None:
            raise NotPrinted(error, folder, files) from None
    if unwritten is not None:
        raise unwritten
    return files


def written(answer: Answer, folder: Path) -> tuple[list[Path], str | None]:
    """Write CSV, JSON, texts and picture, all or nothing: (files, why the picture could not be drawn)."""
    fault = None
    made_folder(folder)
    with staged(folder) as stage:
        reader = answer.case.reader
        write_text_atomically(stage / f"{answer.name}.csv", csv_text(*table_in(reader, answer.header, answer.rows)))
        warned = {} if answer.warning is None else {"warning": answer.warning}
        said = {"answer": answer.sentence, **warned, **answer.data, "notes": answer.notes}
        content = {"study": answer.name, "numbers": NUMBERS, **said, "cautions": list(GENERAL)}
        write_text_atomically(stage / f"{answer.name}.json", json_text({**content, "provenance": provenance(answer.case)}))
        for name, text in answer.texts.items():
            write_text_atomically(stage / name, text)
        if answer.draw is not None:
            try:
                answer.draw(stage / f"{answer.name}.png")
            except OSError:
                raise
            except Exception as error:  # the numbers are worth keeping when a picture cannot be drawn
                fault = f"{type(error).__name__}: {error}"
        return [folder / path.name for path in sorted(stage.iterdir())], fault
