"""What `show --unsure` prints: the values of a case that are seldom known, with what is in use and between what they usually "
"lie."""

from rich.text import Text

from sleevelift.case.schema import Case
from sleevelift.case.usual import said_range, unsure, without_effect
from sleevelift.report.files import json_text
from sleevelift.report.screen import BAD, HEADING, QUIET, WIDE, console
from sleevelift.report.tables import Column, print_table

COLUMNS = [
    Column("key"), Column("in use"), Column("origin"), Column("usually"), Column("own range"),
    Column("source of the usual range", explains=True),
]  # fmt: skip


def print_unsure(case: Case, as_json: bool) -> None:
    """Every such value as a table, or as JSON in SI."""
    found = unsure(case)
    if as_json:
        print(json_text([{**one._asdict(), "outside": one.outside} for one in found]), end="")
        return
    out = console(plain_width=WIDE)
    out.print(Text(f"{case.name}: numbers that are seldom known before they are measured", style=HEADING))
    rows = []
    for one in found:
        own = "" if one.own is None else said_range(case, one.path, *one.own)
        usual = Text(said_range(case, one.path, one.low, one.high) + (" OUTSIDE" * one.outside), style=BAD if one.outside else "")
        source = one.source + ("; does nothing in this case" if without_effect(case, one.path) else "")
        rows.append([Text(one.path), Text(one.written), Text(one.origin), usual, Text(own), Text(source, style=QUIET)])
    print_table(out, COLUMNS, rows, indent=0)
    left = sum(one.origin != "given" for one in found)
    out.print()
    out.print(Text(
        f"{len(found)} values, {left} of them not in the file. scatter varies those that the file leaves out over their usual "
        "range, "
        "and says which to measure first; margins of check and run do not."
    ))  # fmt: skip
