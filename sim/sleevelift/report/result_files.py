"""What a run leaves on disk: result.json, curves, pulses, sequence as CSV, pictures, page. All come into their folder, or none.

Imports stand inside functions where only a run with pictures needs them: page and plots load what `--no-pictures` spares.
"""

import math
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from sleevelift.barriers import barriers
from sleevelift.case.show import case_rows
from sleevelift.plots import DRAWINGS, pictures_in
from sleevelift.reader import METRIC, Reader
from sleevelift.report.files import (
    PAGE_FILE,
    PULSES_FILE,
    RESULT_FILE,
    TRACES_FILE,
    json_text,
    provenance,
    safe_name,
    staged,
    write_text_atomically,
)
from sleevelift.result import Said
from sleevelift.sequence.resolve import commanded
from sleevelift.sequence.table import SEQUENCE_FILE, sequence_csv, sequence_json
from sleevelift.shown import file_head, in_file
from sleevelift.trajectory import UNITS

if TYPE_CHECKING:
    from sleevelift.result import Result

NUMBERS_HERE = "SI, whatever units the case asks for: m, kg, s, K, N, Pa absolute; sentences name their units, which are metric"
"""What result.json says of its numbers."""
INSTANTS = "s, counted from the start of the run, here and in traces.csv; screen, page and pictures count from the first on command"
"""What result.json says of the instants in it."""


def result_table(result: "Result") -> dict[str, Any]:
    """The content of result.json."""
    table = result.case.case
    said = result.metric or Said(result.failure, result.checks, result.warnings)
    return {
        "case": {"name": result.case.name, "title": table.title, "kind": table.kind, "invented": table.invented},
        "inputs": case_rows(result.as_written.read_in("metric")),
        "numbers": NUMBERS_HERE,
        "outcome": result.outcome,
        "failure": said.failure,
        "instants": INSTANTS,
        "measures": result.measures,
        "units": result.units,
        "reasons": result.reasons,
        "pulses": [p._asdict() for p in result.pulses],
        "timeline": list(result.timeline),
        "sequence": sequence_json(result.sequence),
        "checks": list(said.checks),
        "warnings": list(said.warnings),
        "barriers": barriers(result.case),
        "balances": result.balances,
        "statistics": result.statistics,
        "provenance": provenance(result.case),
    }


def traces_csv(traces: Mapping[str, Any], units: Mapping[str, str], reader: Reader = METRIC) -> str:
    """Traces as CSV, SI for the metric reader: a header with units, then every digit of every sample; an undefined value is "
    "an empty field.

    Two rows at one instant are the two sides of a jump.
    """
    names = list(traces)
    if not names:
        return "time [s]\n"
    header = ",".join(file_head(name, units.get(name, ""), reader) for name in names)
    values = {name: in_file(name, units.get(name, ""), traces[name], reader) for name in names}
    columns = [_fields(values[name]) for name in names]
    return "\n".join([header, *map(",".join, zip(*columns))]) + "\n"


def _fields(values: Any) -> list[str]:
    """The numbers of a column as texts."""
    numbers = values.tolist()
    return list(map(repr, numbers)) if np.isfinite(values).all() else [_field(number) for number in numbers]


def _field(number: float | int) -> str:
    """Shortest text that reads back as the same number; empty for NaN and infinity."""
    return repr(number) if math.isfinite(number) else ""


def pulses_csv(result: "Result") -> str:
    """A row per pulse: its outcome, how it begins, and every measure it has of its own; what has no number is empty."""
    reader = result.case.reader
    names = list(result.pulses[0].measures) if result.pulses else []
    heads = [
        "pulse",
        "outcome",
        "begins lifted",
        "begins lit",
        *(file_head(name, result.units.get(name, ""), reader) for name in names),
    ]
    rows = [
        [str(p.number), p.outcome, str(int(p.begins_lifted)), str(int(p.begins_lit))]
        + [
            "" if p.measures[name] is None else _field(in_file(name, result.units.get(name, ""), p.measures[name], reader))
            for name in names
        ]
        for p in result.pulses
    ]
    return "\n".join(map(",".join, [heads, *rows])) + "\n"


class Written(NamedTuple):
    """What was put into a folder."""

    files: list[Path]
    removed: list[Path]
    """Pictures and page of an earlier run that would have stood beside this one's numbers."""
    picture_fault: str | None
    """Why there are neither pictures nor page, where they were asked for and could not be drawn."""


def write_results(result: "Result", folder: Path, *, pictures: bool = True, at_once: bool = False) -> Written:
    """Write result.json, traces.csv, pictures and page of a run into a folder. OSError where that cannot be.

    at_once: pictures on two cores, for a caller without threads at work.

    A folder shows one run: pictures and page of an earlier one that this one does not write anew are removed.
    """
    fault = None
    with staged(folder) as stage:
        write_text_atomically(stage / RESULT_FILE, json_text(result_table(result)))
        write_text_atomically(stage / TRACES_FILE, traces_csv(result.traces, UNITS, result.case.reader))
        if len(result.pulses) > 1:
            write_text_atomically(stage / PULSES_FILE, pulses_csv(result))
        told = commanded(result.case, result.sequence, result.broke_off)
        if told is not None:
            write_text_atomically(stage / SEQUENCE_FILE, sequence_csv(told))
        if pictures:
            fault = _draw(result, stage, at_once)
        names = sorted(path.name for path in stage.iterdir())
    earlier = dict.fromkeys((*pictures_in(folder), *DRAWINGS, PAGE_FILE, PULSES_FILE, SEQUENCE_FILE))
    removed = [folder / name for name in earlier if name not in names and (folder / name).is_file()]
    for path in removed:
        path.unlink()
    names.sort(key=lambda name: (name != RESULT_FILE, name != TRACES_FILE, name))
    return Written([folder / name for name in names], removed, fault)


def _draw(result: "Result", stage: Path, at_once: bool) -> str | None:
    """Draw pictures and page into the stage; the fault in words where that fails, and then neither is left.

    The numbers of a run are worth keeping when a picture cannot be drawn, so a fault here does not reach further.
    """
    with tempfile.TemporaryDirectory(prefix="pictures-", dir=stage) as drawing:
        try:
            from sleevelift.plots import write_pictures
            from sleevelift.report.page import write_page

            place = Path(drawing)
            drawn = [Path(path) for path in write_pictures(result, place, at_once=at_once)] if result.traces else []
            drawn.append(write_page(result, place))
        except OSError:
            raise
        except Exception as error:
            return f"{type(error).__name__}: {error}"
        for path in drawn:
            os.replace(path, stage / safe_name(path.name))
    return None
