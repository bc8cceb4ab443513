"""The case's text from a sheet: every table in the order of the schema, every number with its comment."""

from sleevelift.case.schema import Case
from sleevelift.case.walk import keys_of
from sleevelift.first_cut.sheet import Sheet

HEAD = """\
# First cut by sleevelift size. NO DESIGN RELEASE: a place where a design may begin. Each number says which formula or practice
# it came from; a guess is a guess. Pressurised gas stores energy like an explosive charge; oxidizers make clean metal burn; operate
# remotely. Local codes and a qualified, independent review come before the first pressurisation.
# Replace guesses by measured values.
"""
COMMENT_COLUMN = 46
"""column at which comments begin."""
LISTS = ("slots.row",)
"""Tables that stand in a list."""


def case_text(sheet: Sheet) -> str:
    """The text of the case."""
    tables: dict[str, list[str]] = {}
    for path, (text, comment) in sheet.values.items():
        table, name = path.rsplit(".", 1)
        table = "slots.row" if table.startswith("slots.row") else table
        assignment = f"{name} = {text}"
        lines = tables.setdefault(table, [])
        if len(assignment) >= COMMENT_COLUMN:
            lines += [f"# {comment}", assignment]
        else:
            lines.append(f"{assignment:<{COMMENT_COLUMN}}# {comment}")
    order = [*keys_of(Case), *LISTS]
    parts = [HEAD]
    for table in sorted(tables, key=lambda name: (order.index(name.split(".")[0]), name)):
        heading = f"[[{table}]]" if table in LISTS else f"[{table}]"
        parts.append("\n".join([heading, *tables[table]]) + "\n")
    return "\n".join(parts)
