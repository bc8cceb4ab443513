"""A case file with measured tables of area over lift in place of rows of slots, or of cone and spigot; all else stays as it is.

    with_tables(text, name, {"oxidizer": Table, "fuel": Table}, why) -> text

The new text is read again: a file whose tables are written in a way that cannot be replaced is refused and never wrong.
"""

from collections.abc import Mapping, Sequence

from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text
from sleevelift.stand.coefficients import Table
from sleevelift.study.rewrite import HEADER, KEY
from sleevelift.study.values import refused

SECTION = {"oxidizer": "slots", "fuel": "seat"}
GIVES_WAY = {"slots": ("discharge_coefficient",), "seat": ("discharge_coefficient", "spigot_length", "spigot_clearance")}
"""Keys that a table replaces, or that are written anew beside it."""
DIGITS = 6
A_LINE = 6
"""Values on a line."""


def _header(line: str) -> str | None:
    match = HEADER.match(line)
    return match.group(2) if match else None


def _blocks(text: str) -> list[tuple[str, list[str]]]:
    """(name of the table, lines with its header and the comments above it) in order; "" before the first."""
    blocks: list[tuple[str, list[str]]] = [("", [])]
    for line in text.splitlines():
        name = _header(line)
        if name is None:
            blocks[-1][1].append(line)
            continue
        above: list[str] = []
        while blocks[-1][1] and blocks[-1][1][-1].lstrip().startswith("#"):
            above.insert(0, blocks[-1][1].pop())
        blocks.append((name, [*above, line]))
    return blocks


def _list(key: str, values: Sequence[str]) -> list[str]:
    quoted = [f'"{value}"' for value in values]
    return [f"{key} = [", *(f"    {', '.join(quoted[i : i + A_LINE])}," for i in range(0, len(quoted), A_LINE)), "]"]


def table_lines(section: str, table: Table, why: str) -> list[str]:
    """The lines of one table, its intervals as comments."""
    spans = [
        f"# {1e3 * x:.4g} mm: {1e6 * a:.4g} mm2 ({1e6 * low:.4g} to {1e6 * high:.4g})"
        for x, a, low, high in zip(table.lift, table.area, table.low, table.high)
    ]
    return [
        f"[{section}.table]            # {why}; geometric: effective area over {table.discharge_coefficient:.4g}",
        "# in brackets: 95 %, instruments' errors as given",
        *spans,
        *_list("lift", [f"{1e3 * x:.{DIGITS}g} mm" for x in table.lift]),
        *_list("area", [f"{1e6 * a:.{DIGITS}g} mm2" for a in table.area]),
        "",
    ]


def _kept(section: str, lines: list[str], table: Table, why: str) -> list[str]:
    """The lines of [slots] or [seat] without what gives way, its coefficient as the table has it."""
    gone = (*GIVES_WAY[section], *(("annulus_discharge_coefficient",) if table.annulus is not None else ()))
    keep = [line for line in lines if (key := KEY.match(line)) is None or key.group(2) not in gone]
    place = next(i for i, line in enumerate(keep) if _header(line) == section) + 1
    keep.insert(place, f"discharge_coefficient = {table.discharge_coefficient!r}     # of the table: {why}")
    if table.annulus is not None:
        keep.insert(place + 1, f"annulus_discharge_coefficient = {table.annulus:.5g}     # {why}, together with the table")
    return keep


def with_tables(text: str, name: str, tables: Mapping[str, Table], why: str) -> str:
    """The text with these tables (side -> Table). CaseError where the file cannot hold them."""
    new: list[str] = []
    for section, lines in _blocks(text):
        side = next((s for s in tables if section.split(".")[0] == SECTION[s]), None)
        if side is None:
            new += lines
        elif section == SECTION[side]:
            new += _kept(section, lines, tables[side], why)
            if new and new[-1].strip():
                new.append("")
            new += table_lines(section, tables[side], why)
    out = "\n".join(new) + "\n"
    try:
        case = case_from_text(out, name)
    except CaseError as error:
        raise refused(name, f"cannot hold the tables: {error}") from None
    for side, table in tables.items():
        held = getattr(case, SECTION[side]).table
        if held is None or len(held.lift) != len(table.lift):
            raise refused(name, f"cannot hold the tables: [{SECTION[side]}] is not written as a table of its own")
    return out
