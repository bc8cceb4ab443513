"""Several cases, or runs finished before, side by side: measures with differences from the first, checks, traces over each other.

difference = value - value of the first case;   per cent of the first where that is not 0
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from sleevelift.case.schema import Case
from sleevelift.case.show import Row, case_rows
from sleevelift.plant.names import MEASURES, UNITS
from sleevelift.plots.studies import write_compare
from sleevelift.reader import METRIC, Reader
from sleevelift.report.files import distinct_names
from sleevelift.shown import in_column, kind_of, on_screen, screen_unit, with_unit
from sleevelift.study.answer import Answer, Sheet
from sleevelift.study.finished_run import FinishedRun
from sleevelift.study.run_store import Run, kept_runs
from sleevelift.study.store import ALONE, Work
from sleevelift.study.values import refused

EQUAL = 1e-9
"""-. Relative difference below which two measures count as equal."""
MOST_CASES = 6
"""Cases side by side: as many as there are line styles."""
QUALITY = ("gas_mass_error", "energy_error", "steps")


def differs(values: Sequence[float | None]) -> bool:
    """Whether a measure is not the same in all cases."""
    if any(value is None for value in values):
        return any(value is not None for value in values)
    known = [value for value in values if value is not None]
    return max(known) - min(known) > EQUAL * max(map(abs, known))


def difference_text(name: str, first: float | None, value: float | None, reader: Reader = METRIC) -> str:
    """The difference with sign, in the measure's unit on screen, and per cent."""
    if first is None or value is None:
        return "-"
    difference = float(on_screen(name, value, reader)) - float(on_screen(name, first, reader))
    share = f" ({100 * (value - first) / abs(first):+.1f} %)" if first != 0.0 else ""
    return f"{difference:+.3g}{share}"


def _sheet(names: Sequence[str], results: Sequence[Run | FinishedRun], reader: Reader) -> tuple[Sheet, int]:
    rows = []
    same = 0
    for measure in MEASURES:
        values = [result.measures[measure.name] for result in results]
        if measure.name in QUALITY or all(value is None for value in values):
            continue
        if not differs(values):
            same += 1
            continue
        cells = [in_column(measure.name, v, reader) for v in values]
        differences = [difference_text(measure.name, values[0], v, reader) for v in values[1:]]
        paired = [cells[0], *[cell for pair in zip(cells[1:], differences) for cell in pair]]
        rows.append((f"{measure.name} [{screen_unit(measure.name, reader) or '-'}]", *paired))
    columns = ("measure", names[0], *[column for name in names[1:] for column in (name, "difference")])
    return Sheet(f"Measures that differ ({same} are the same)", columns, rows), same


def _plain(written: str) -> str:
    """A value as written, without the quotation marks of a single text."""
    return written[1:-1] if written.count('"') == 2 and written[0] == written[-1] == '"' else written


def input_sheet(names: Sequence[str], entries: Sequence[Case | FinishedRun]) -> Sheet:
    """Inputs that are not the same in all cases, as written; "-" where a case has none, "not kept" where a folder has no inputs.

    Of a table that a case does not have only what the others give is listed, not their defaults.
    """
    rows = [{row.path: row for row in (case_rows(entry) if isinstance(entry, Case) else entry.inputs)} for entry in entries]
    paths = [path for path in dict.fromkeys(path for one in rows for path in one) if not path.startswith("case.")]
    known = [one for one in rows if one]

    def told(path: str) -> bool:
        return all(path in one for one in known) or any(path in one and one[path].origin == "given" for one in known)

    differing = [
        path for path in paths
        if told(path) and len({repr((one[path].si_value, one[path].range)) if path in one else "" for one in known}) > 1
    ]  # fmt: skip

    def cell(one: Mapping[str, Row], path: str) -> str:
        return _plain(one[path].user_value) if path in one else "-" if one else "not kept"

    table = [(path, *[cell(one, path) for one in rows]) for path in differing]
    return Sheet(f"Inputs that differ ({len(paths) - len(differing)} are the same)", ("input", *names), table)


def _check_sheet(names: Sequence[str], results: Sequence[Run | FinishedRun]) -> Sheet:
    by_case = [{check.name: check.passed for check in result.checks} for result in results]
    every = list(dict.fromkeys(name for checks in by_case for name in checks))
    words = {True: "holds", False: "FAILS", None: "-"}
    rows = [(name, *[words[checks.get(name)] for checks in by_case]) for name in every]
    outcomes = ("outcome", *[result.outcome for result in results])
    return Sheet("Outcome and checks", ("", *names), [outcomes, *rows])


def sentence_of(names: Sequence[str], results: Sequence[Run | FinishedRun]) -> str:
    """Opening times and failed checks of each case."""
    parts = []
    for name, result in zip(names, results):
        failed = sum(not check.passed for check in result.checks)
        time = result.measures["opening_time"]
        opening = f"opens in {with_unit('opening_time', time)}" if time is not None else result.outcome
        parts.append(f"{name} {opening}, {failed} check{'s' if failed != 1 else ''} failed")
    return "; ".join(parts) + "."


def csv_row(name: str, values: Sequence[float | None], reader: Reader) -> list[Any]:
    """A measure of all cases in the unit of the reader's files, and its differences from the first."""
    kind = kind_of(name, UNITS[name])
    shown = [None if value is None else float(reader.in_file(kind, value)) for value in values]
    differences = [None if value is None or shown[0] is None else value - shown[0] for value in shown[1:]]
    return [name, reader.file_unit(kind, UNITS[name]), *shown, *differences]


def compare_study(entries: Sequence[Case | FinishedRun], work: Work = ALONE) -> Answer:
    """Run each case, take each finished run as it is, and put them side by side; all are compared with the first.

    CaseError for fewer than two or more than MOST_CASES entries. The first one's title heads the page.
    """
    if not 2 <= len(entries) <= MOST_CASES:
        raise refused("compare", f"takes 2 to {MOST_CASES} cases")
    cases = [entry for entry in entries if isinstance(entry, Case)]
    names = distinct_names([entry.name for entry in entries])
    fresh = iter(kept_runs(cases, work))
    results: list[Run | FinishedRun] = [next(fresh) if isinstance(entry, Case) else entry for entry in entries]
    sheet, same = _sheet(names, results, entries[0].reader)
    notes = [f"{name}: {result.failure}" for name, result in zip(names, results) if result.failure]
    notes.append("Every run came to its end." if not notes else f"{len(notes)} of {len(results)} runs failed.")
    notes.append("Nominal values, no random points: no seed.")
    rows = [csv_row(m.name, [r.measures[m.name] for r in results], entries[0].reader) for m in MEASURES]
    data: dict[str, Any] = {"cases": {
        name: {
            "sha256": r.case.sha256 if isinstance(r, Run) else r.sha256,
            "finished_before": isinstance(r, FinishedRun),
            "outcome": r.outcome, "measures": r.measures, "checks": r.checks, "failure": r.failure,
        }
        for name, r in zip(names, results)
    }}  # fmt: skip

    def draw(path: Path) -> Any:
        return write_compare(
            entries[0], sentence_of(names, results), names, [r.measures for r in results], [r.traces for r in results], path
        )

    sheets = [input_sheet(names, entries), sheet, _check_sheet(names, results)]
    header = ["measure", "unit", *names, *[f"{name} minus {names[0]}" for name in names[1:]]]
    return Answer("compare", entries[0], sentence_of(names, results), sheets, notes, header, rows, data, draw)
