"""How a test stand writes its files: a table of the case, for the commands that read a measured trace."""

from typing import Any

from sleevelift.case.faults import Fault
from sleevelift.case.quantity import Pressure, Table, key
from sleevelift.columns import BY_NAME, UNUSED, Given, given, unit_fault


class TraceTable(Table):
    """How the stand writes its files."""

    columns: dict[str, str] = key(
        f'what a column holds whose header does not say it: "PT-3 [psig]" = "lift_chamber_pressure", or "{UNUSED}"',
        default={},
        reason="headers say what columns hold",
        max_length=200,
    )
    barometer: Pressure | None = key(
        "absolute pressure that gauge pressures of the stand count from", default=None, reason="the ambient pressure", gt=0.0
    )


def columns_of(columns: dict[str, str]) -> list[Given]:
    """The mappings of the table. ValueError where one is none, which `column_faults` finds before."""
    return [given(left, quantity, f'[trace.columns] "{left}" = "{quantity}"', asked=False) for left, quantity in columns.items()]


def column_faults(raw: dict[str, Any], barometer: float) -> list[Fault]:
    """A fault for each line of [trace.columns] that is no mapping, or whose unit does not measure what it holds."""
    table = raw.get("trace")
    columns = table.get("columns") if isinstance(table, dict) else None
    found = []
    for left, quantity in columns.items() if isinstance(columns, dict) else ():
        if not isinstance(quantity, str):
            continue  # the schema says so
        rule: str | None = None
        try:
            one = given(left, quantity, "")
            if one.unit is not None and one.quantity != UNUSED:
                rule = unit_fault(one.unit, BY_NAME[one.quantity], barometer)
        except ValueError as error:
            rule = str(error)
        if rule is not None:
            found.append(Fault(("trace", "columns", left), rule, quantity))
    return found
