"""What the case is shown as: rows of values, JSON Schema, starter cases."""

import json
import re
import tomllib
from typing import Any

import pytest
from case_texts import CASES, DRY, HOT, with_key
from sleevelift.case.json_schema import case_json_schema
from sleevelift.case.read import CaseError, case_from_text, load_case, with_values
from sleevelift.case.show import case_rows
from sleevelift.case.starter import KINDS, starter_case
from sleevelift.case.walk import info_at, split, values
from sleevelift.units import read_quantity

ALL_CASES = sorted(CASES.glob("*.toml"))

# ---------------------------------------------------------------------------------------------------- show


@pytest.mark.parametrize("path", ALL_CASES, ids=lambda path: path.stem)
def test_every_value_is_shown_with_meaning_origin_and_reason(path: Any) -> None:
    case = load_case(path)
    rows = case_rows(case)
    assert [row.path for row in rows] == list(values(case))
    for row in rows:
        assert row.meaning, row.path
        assert row.origin in ("given", "default", "derived")
        if row.origin != "given" and row.si_value is not None:
            assert row.reason, f"{row.path} has a default or derived value without a reason"
        assert (row.range is not None) == (row.path in case.ranges)


def test_the_users_unit_means_the_same_value() -> None:
    """Every scalar's text, read again, is the SI value: given, default and derived alike."""
    case = case_from_text(HOT)
    for row in case_rows(case):
        info = info_at(split(row.path))
        assert info is not None
        if info.quantity is None or info.quantity.kind == "number" or not isinstance(row.si_value, float):
            continue
        text = row.user_value.split('"')[1] if '"' in row.user_value else row.user_value
        again = read_quantity(text, info.quantity.kind, case.ambient.pressure).si
        assert again == pytest.approx(row.si_value, rel=1e-5, abs=1e-12), row


def test_the_files_own_units_are_used_for_the_rest() -> None:
    text = with_key(DRY, "spring", "wire_diameter", '"0.189 in"')
    for key in ("post", "nose", "seat", "rod", "piston"):
        value = {"post": 0.63, "nose": 0.69, "seat": 0.75, "rod": 0.96, "piston": 1.15}[key]
        text = with_key(text, "sleeve", f"{key}_diameter", f'"{value} in"')
    for table, key, value in [
        ("tube", "bore", "0.157"),
        ("sleeve", "stroke", "0.079"),
        ("spring", "free_length", "3.13"),
    ]:
        text = with_key(text, table, key, f'"{value} in"')
    text = with_key(text, "tube", "length", '"31.5 in"')
    text = with_key(text, "spring", "mean_diameter", '"0.88 in"')
    rows = {row.path: row for row in case_rows(with_values(case_from_text(text), {"sleeve.stroke": 0.00254}))}
    assert rows["sleeve.stroke"].user_value == "0.1 in"
    assert rows["sleeve.stroke"].origin == "given"
    assert rows["run.pressurised_before_command"].user_value == "0 ms"


def test_a_changed_value_is_shown_as_it_is_now() -> None:
    rows = {row.path: row for row in case_rows(with_values(case_from_text(HOT), {"spring.preload": 700.0}))}
    assert rows["spring.preload"].user_value == "700 N"


# ---------------------------------------------------------------------------------------------------- JSON Schema

SCHEMA = case_json_schema()


def fits(value: Any, schema: dict[str, Any]) -> bool:
    """Whether a value fits a schema: the words of JSON Schema that ours uses, nothing else."""
    known = {
        "$ref", "$defs", "$schema", "title", "description", "type", "properties", "required", "additionalProperties",
        "anyOf", "enum", "items", "prefixItems", "minItems", "maxItems", "minLength", "maxLength", "pattern", "minimum",
        "maximum", "propertyNames", "minProperties", "maxProperties",
    }  # fmt: skip
    assert set(schema) <= known, set(schema) - known
    if "$ref" in schema and not fits(value, SCHEMA["$defs"][schema["$ref"].removeprefix("#/$defs/")]):
        return False
    if "anyOf" in schema and not any(fits(value, choice) for choice in schema["anyOf"]):
        return False
    if "enum" in schema and value not in schema["enum"]:
        return False
    return _type_fits(value, schema)


def _type_fits(value: Any, schema: dict[str, Any]) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    kind = schema.get("type")
    if kind == "object":
        return isinstance(value, dict) and _object_fits(value, schema)
    if kind == "array":
        entries = [*schema.get("prefixItems", [])] + [schema.get("items", {})] * 10000
        return (
            isinstance(value, list)
            and schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", 10**9)
            and all(fits(entry, part) for entry, part in zip(value, entries, strict=False))
        )
    if kind == "string":
        return (
            isinstance(value, str)
            and schema.get("minLength", 0) <= len(value) <= schema.get("maxLength", 10**9)
            and re.search(schema.get("pattern", ""), value) is not None
        )
    if kind in ("number", "integer"):
        whole = kind == "number" or isinstance(value, int)
        return number and whole and schema.get("minimum", -1e999) <= value <= schema.get("maximum", 1e999)
    return kind is None or (kind == "boolean" and isinstance(value, bool))


def _object_fits(value: dict[str, Any], schema: dict[str, Any]) -> bool:
    properties = schema.get("properties", {})
    if not set(schema.get("required", ())) <= set(value):
        return False
    for name, part in value.items():
        rule = properties.get(name, schema.get("additionalProperties", {}))
        if rule is False or not fits(part, rule):
            return False
    return True


@pytest.mark.parametrize("path", ALL_CASES, ids=lambda path: path.stem)
def test_shipped_cases_fit_the_schema(path: Any) -> None:
    assert fits(tomllib.loads(path.read_text(encoding="utf-8")), SCHEMA)


@pytest.mark.parametrize(
    "change",
    [
        ("spring", "preload", "770"),
        ("spring", "preload", '"N"'),
        ("spring", "prelod", '"770 N"'),
        ("spring", "preload", None),
        ("spring", "preload", '{ value = "770 N", plus = "3 N" }'),
        ("chamber", "efficiency", '"0.9"'),
        ("case", "kind", '"warm"'),
        ("solenoid", "on", '"1 s"'),
        ("chamber", "o_f", "[1]"),
    ],
    ids=str,
)
def test_what_the_reader_refuses_the_schema_refuses(change: tuple[str, str, str]) -> None:
    text = with_key(HOT, *change)
    with pytest.raises(CaseError):
        case_from_text(text)
    assert not fits(tomllib.loads(text), SCHEMA)


def test_the_schema_is_plain_json_and_describes_every_key() -> None:
    again = json.loads(json.dumps(SCHEMA, allow_nan=False))
    assert again == SCHEMA
    assert SCHEMA["$schema"].startswith("https://json-schema.org/")
    tables = [SCHEMA, *(part for part in SCHEMA["$defs"].values() if "properties" in part)]
    assert len(tables) > 20
    for table in tables:
        for name, entry in table["properties"].items():
            assert entry.get("description"), name
    spring = SCHEMA["$defs"]["Spring"]["properties"]
    assert "default 81500000000 Pa".replace("81500000000", "8.15e+10") in spring["shear_modulus"]["description"]


# ---------------------------------------------------------------------------------------------------- starters


@pytest.mark.parametrize("kind", KINDS)
def test_a_starter_loads_and_names_every_key(kind: str) -> None:
    text = starter_case(kind)
    case = case_from_text(text, kind)
    assert case.case.kind == kind and case.case.invented
    assert fits(tomllib.loads(text), SCHEMA)
    for path in values(case):
        if kind == "hot" and path.startswith("bench."):
            continue  # neither of its keys belongs to a hot case
        last = path.split(".")[-1]
        assert re.search(rf"(^|[\s{{,]){last}( =|,|\b)", text), f"{path} is not in the starter"
    for line in text.splitlines():
        if " = " in line and not line.startswith("#") and "[" not in line[:1]:
            previous = text.splitlines()[text.splitlines().index(line) - 1]
            assert "#" in line or previous.startswith("#"), f"no comment: {line}"


def test_other_kinds_have_no_starter() -> None:
    with pytest.raises(KeyError):
        starter_case("warm")


OPTIONS = ("oxidizer.valve", "fuel.valve", "oxidizer.purge", "fuel.purge", "chamber.purge", "[sequence.step]")


@pytest.mark.parametrize("path", OPTIONS)
def test_the_hot_starter_names_the_tables_that_may_be_added(path: str) -> None:
    assert f"# option: [{path}]" in starter_case("hot")
