"""The format of the case file as a JSON Schema (draft 2020-12), so that editors complete keys and show what they mean.

It speaks of the file, not of the program's SI numbers: values are texts with a unit, or tables with a range. What spans
several keys (order of diameters, tables that belong together) is not in it; the reader checks that.
"""

import math
from typing import Any

from sleevelift import units
from sleevelift.case.quantity import QUANTITY_MARK, file_form, note_of, quantity_of, usual_of, usual_text
from sleevelift.case.schema import Case
from sleevelift.case.walk import keys_of

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_PROGRAM_NOTES = ("because", "reason", "default", "usual")
_SI_BOUNDS = ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum", "ge", "gt", "le", "lt")


def case_json_schema() -> dict[str, Any]:
    """JSON Schema of the case file."""
    schema = Case.model_json_schema(mode="validation")
    definitions = schema["$defs"]
    tables = {model.__name__: model for model in _tables()}
    for name, definition in [("Case", schema), *definitions.items()]:
        model = Case if name == "Case" else tables[name]
        for key, entry in definition.get("properties", {}).items():
            definition["properties"][key] = _key_schema(entry, model.model_fields[key])
    _loosen_chamber(definitions["Chamber"]["properties"])
    _name_quantities(schema, definitions)
    schema["$schema"] = DIALECT
    schema["title"] = "Case of a gas-lifted sleeve valve"
    return schema


def _tables() -> list[Any]:
    """Every model of the case, the case itself included."""
    found: list[Any] = [Case]
    for model in found:
        found += [info.table for info in keys_of(model).values() if info.table and info.table not in found]
    return found


def _key_schema(entry: dict[str, Any], field: Any) -> dict[str, Any]:
    """The schema of one key: bounds in words (the numbers of the file carry units), default in the description."""
    quantity = quantity_of(field)
    clean = _without_si_bounds(entry) if quantity else dict(entry)
    for note in _PROGRAM_NOTES:
        clean.pop(note, None)
    if clean.get("anyOf") and {"type": "null"} in clean["anyOf"]:
        clean["anyOf"] = [choice for choice in clean["anyOf"] if choice != {"type": "null"}]
    clean["description"] = _description(field, quantity)
    return clean


def _without_si_bounds(entry: Any) -> Any:
    """The same schema without bounds in SI."""
    if isinstance(entry, dict):
        return {name: _without_si_bounds(part) for name, part in entry.items() if name not in _SI_BOUNDS}
    return [_without_si_bounds(part) for part in entry] if isinstance(entry, list) else entry


def _description(field: Any, quantity: Any) -> str:
    """Meaning, kind of quantity, default."""
    text = field.description or ""
    if quantity is not None and quantity.kind != "number":
        text += f" [{quantity.kind}, e.g. {units.KINDS[quantity.kind].examples}]"
    usual = usual_of(field)
    if usual is not None:
        text += f" (usually {usual_text(usual, quantity.kind)}: {usual.source})"
    reason = note_of(field, "reason")
    if not reason or field.is_required():
        return text
    default = field.default
    if isinstance(default, float) and not math.isnan(default):
        unit = quantity.si_unit if quantity is not None else "-"
        return f"{text} (default {units.written(default, unit, 'number')}: {reason})"
    if isinstance(default, str | bool):
        return f"{text} (default {str(default).lower() or 'empty'}: {reason})"
    return f"{text} (default: {reason})"


def _name_quantities(entry: Any, definitions: dict[str, Any]) -> None:
    """Puts a reference to the form of its kind wherever a quantity is marked."""
    if isinstance(entry, list):
        for part in entry:
            _name_quantities(part, definitions)
    elif isinstance(entry, dict):
        kind = entry.pop(QUANTITY_MARK, None)
        if kind is not None:
            name = f"quantity-{kind.replace(' ', '-')}"
            definitions.setdefault(name, file_form(kind))
            entry["$ref"] = f"#/$defs/{name}"
        for part in list(entry.values()):
            _name_quantities(part, definitions)


def _loosen_chamber(properties: dict[str, Any]) -> None:
    """Lists that the reader spells out first: c* as numbers with one unit, g as one number."""
    speeds = properties["c_star"]
    speeds["items"] = {"anyOf": [speeds["items"], {"type": "number"}]}
    exponent = properties["g"]
    properties["g"] = {"anyOf": [{"type": "number"}, exponent], "description": exponent.pop("description")}
