"""What a reduced cold flow says: areas over lift with intervals, coefficients, what does not carry over; CSV, JSON, picture."""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

from sleevelift.case.schema import Case
from sleevelift.stand.card_rows import cell
from sleevelift.stand.carry import Carried, carried
from sleevelift.stand.coefficients import LEAST_POINTS, Fit, Table, fits_of, table_of, with_annulus
from sleevelift.stand.pictures import write_areas
from sleevelift.stand.reduction import Errors, Side, reopened
from sleevelift.study.answer import Answer, Sheet

PASSAGES = {"oxidizer": "slots and clearance", "fuel": "seat gap and annulus"}
OPENINGS = {"oxidizer": "slots alone", "fuel": "seat gap alone"}


class Reduction(NamedTuple):
    """Everything that one cold flow gives."""

    case: Case
    hot: Case | None
    trace: str
    errors: Errors
    sides: tuple[Side, ...]
    tables: dict[str, Table]
    fits: tuple[Fit, ...]
    carried: dict[str, list[Carried]]
    notes: tuple[str, ...]


def reduction_of(
    case: Case, hot: Case | None, trace: str, errors: Errors, sides: Sequence[Side], notes: Sequence[str]
) -> Reduction:
    """Tables, coefficients and what does not carry over."""
    there = [side for side in sides if side.points]
    fits = [fit for side in there for fit in fits_of(case, side)]
    beside, annulus = with_annulus(case, fits)
    there = [reopened(beside, side) for side in there]
    tables = {side.name: table for side in there if (table := table_of(beside, side)) is not None}
    if "fuel" in tables:
        tables["fuel"] = tables["fuel"]._replace(annulus=annulus)
    over = {side.name: carried(case, side, hot) for side in there}
    return Reduction(case, hot, trace, errors, tuple(there), tables, tuple(fits), over, tuple(notes))


def _area(value: float, reader: Any) -> str:
    if math.isnan(value) or math.isinf(value):
        return "not known"
    return f"{reader.number('area', value):.4g}"


def point_rows(found: Reduction, side: Side) -> list[tuple[str, ...]]:
    """Lift, flow, drop, effective area and interval, of the opening alone."""
    reader = found.case.reader
    rows: list[tuple[str, ...]] = []
    for p in side.points:
        least = _area(p.opening_low, reader)
        most = _area(p.opening_high, reader) if math.isfinite(p.opening_high) else "..."
        rows.append((cell(p.lift, "m", reader), f"{reader.in_column('flow', p.flow):.4g}",
                     f"{reader.number('pressure difference', p.drop):.3g}", _area(p.area, reader),
                     f"{_area(p.low, reader)} .. {_area(p.high, reader)}", _area(p.opening, reader), f"{least} .. {most}",
                     str(p.windows)))  # fmt: skip
    return rows


def fit_rows(found: Reduction) -> list[tuple[str, ...]]:
    """Key, before, fitted, interval, whether the case's shape fits."""
    reader = found.case.reader
    rows: list[tuple[str, ...]] = []
    for fit in found.fits:
        at = reader.text("length", fit.worst_lift)
        shape = f"fits at all {fit.points} lifts"
        if fit.points == 1:
            shape = "one lift: says nothing of the shape"
        elif not fit.fits:
            shape = f"does NOT fit: off by {fit.worst:.1f} intervals at {at}: use the table"
        above = "; above 1: area or lap of the case is another than the part's" if fit.value > 1.0 else ""
        rows.append((fit.key, f"{fit.before:.3g}", f"{fit.value:.3f}", f"{fit.low:.3f} .. {fit.high:.3f}", shape + above))
    return rows


def sentence_of(found: Reduction) -> str:
    """The areas at the highest lift, and what the case takes."""
    reader = found.case.reader
    parts = []
    for side in found.sides:
        top = side.points[-1]
        half = 0.5 * (top.high - top.low) / top.area
        at = f"{reader.text('area', top.area)} +- {100.0 * half:.1f} % at {reader.text('length', top.lift)}"
        parts.append(f"{side.name} ({PASSAGES[side.name]}) {at}, {len(side.points)} lift{'s' if len(side.points) > 1 else ''}")
    takes = f"tables for {' and '.join(found.tables)}" if found.tables else f"no table (fewer than {LEAST_POINTS} lifts)"
    warned = [side for side, rows in found.carried.items() for row in rows if "cavitates, and" in row.words]
    caution = f"; the cold flow of {' and '.join(warned)} cavitates: without cavitation MORE passes" if warned else ""
    return f"{found.trace}: effective area {'; '.join(parts)}; {takes}, {len(found.fits)} coefficients{caution}."


def notes_of(found: Reduction) -> list[str]:
    """How it was reduced, what limits it."""
    reader, errors, case = found.case.reader, found.errors, found.case
    out = [
        f"A = w/sqrt(2 rho dp), density as the case has it. Intervals of 95 %: flow +- {100 * errors.flow:.3g} %, drop "
        f"+- {reader.text('pressure difference', errors.pressure, '.2g')}, lift +- {reader.text('length', errors.lift, '.2g')}, "
        f"and spread; windows of {1e3 * errors.settle:.3g} ms that stand still after one that did.",
    ]
    for side in found.sides:
        top = side.points[-1]
        if top.lift < 0.98 * case.sleeve.stroke:
            out.append(
                f"{side.name}: nothing above {reader.text('length', top.lift)} was measured: a run holds the last area there."
            )
        unknown = sum(math.isnan(p.opening) for p in side.points)
        if unknown:
            out.append(f"{side.name}: at {unknown} lifts more passed than the case's annulus alone lets: its Cd is too small.")
    shared = "slots.row.*.discharge_coefficient is one factor on all rows."
    out.append(f"{shared} A coefficient and the area beside it cannot be told apart: only their product is measured.")
    if (fuel := found.tables.get("fuel")) is not None and fuel.annulus is not None:
        out.append(
            f"The seat gap is what is left beside an annulus of coefficient {fuel.annulus:.3f}, as fitted: both go together."
        )
    if found.hot is None:
        out.append("Without --for HOT.toml nothing is said of how far the propellant differs.")
    out.append("No verdict here speaks for the hot test: its flows are measured there, within the limits of its card.")
    return [*out, *found.notes]


def reduce_answer(found: Reduction) -> Answer:
    """The reduction as an answer."""
    reader = found.case.reader
    length, area = reader.column("length"), reader.unit("area")
    sheets = []
    for side in found.sides:
        drop = f"drop, {reader.unit('pressure difference')}"
        heads = (f"lift, {length}", f"flow, {reader.column('flow')}", drop, f"area, {area}", "95 %", OPENINGS[side.name], "95 %",
                 "windows")  # fmt: skip
        title = f"{side.name}: effective area of {PASSAGES[side.name]} ({side.windows} of {side.looked_at} windows stood still)"
        sheets.append(Sheet(title, heads, point_rows(found, side)))
    if found.fits:
        sheets.append(Sheet("Coefficients that best fit", ("key", "case", "fitted", "95 %", "shape"), fit_rows(found)))
    for name, rows in found.carried.items():
        hot = "hot" if found.hot is None else found.hot.name
        sheets.append(
            Sheet(f"{name}: from cold flow to propellant", ("", found.case.name, hot, "carries over"), [tuple(r) for r in rows])
        )
    header = ["side", "lift [m]", "effective_area [m2]", "area_low [m2]", "area_high [m2]", "opening_area [m2]", "opening_low [m2]",
              "opening_high [m2]", "flow [kg/s]", "drop [Pa difference]", "windows [-]"]  # fmt: skip
    table = [[side.name, p.lift, p.area, p.low, p.high, p.opening, p.opening_low, p.opening_high, p.flow, p.drop, p.windows]
             for side in found.sides for p in side.points]  # fmt: skip
    data: dict[str, Any] = {
        "trace": found.trace, "errors": found.errors, "tables": found.tables, "fits": found.fits,
        "carried": {name: [row._asdict() for row in rows] for name, rows in found.carried.items()},
        "points": {side.name: list(side.points) for side in found.sides},
    }  # fmt: skip

    def draw(path: Path) -> Any:
        return write_areas(found.case, found.sides, sentence_of(found), path)

    return Answer("reduce", found.case, sentence_of(found), sheets, notes_of(found), header, table, data, draw)
