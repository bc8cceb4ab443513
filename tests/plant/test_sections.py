"""A plant made from the last one is the plant made from nothing, bit for bit."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from sleevelift.case.read import load_case, with_values
from sleevelift.plant import sections
from sleevelift.plant.build import build
from sleevelift.study.odds import ranged, scaled, unit_points

CASES = sorted((Path(__file__).parents[2] / "cases").glob("*.toml"))
WHOLE_TABLES = {"solenoid.on": (0.05, 0.4), "solenoid.off": (0.3, 0.7), "ambient.pressure": 9e4, "run.end": 0.9}
"""Values that move curves, commands and the end: what comes after them in the row stands elsewhere."""


def numbers_of(case):
    """All that a plant holds."""
    plant = build(case)
    return plant.record.tobytes(), plant.tables.tobytes(), plant.floors.tobytes(), plant.gas.tobytes(), plant.schedule


def forget():
    """Make the next plant from nothing."""
    sections._local.made = None


def lanes_of(case, rng):
    """Cases as studies make them: one value changed, all ranged ones, a command more; each twice in a row."""
    ranges = ranged(case)
    lanes = [case]
    for values in scaled(unit_points(len(ranges), 6, 5, "lhs"), ranges) if ranges else []:
        lanes += [
            with_values(case, values, check=False),
            *(with_values(case, {path: value}, check=False) for path, value in values.items()),
        ]
    for path, value in WHOLE_TABLES.items():
        lanes.append(with_values(case, {path: value}, check=False))
    rng.shuffle(lanes)
    return [lane for lane in lanes for _ in range(2)]


def test_takes_over_nothing_that_changed():
    rng = random.Random(3)
    lanes = [lane for path in CASES for lane in lanes_of(load_case(path), rng)]
    expected = []
    for lane in lanes:
        forget()
        expected.append(numbers_of(lane))
    forget()
    assert [numbers_of(lane) for lane in lanes] == expected
    mixed = list(zip(lanes, expected))
    rng.shuffle(mixed)
    assert all(numbers_of(lane) == numbers for lane, numbers in mixed)
    assert len({numbers[0] for numbers in expected}) > len(lanes) / 3, "the lanes differ"


def test_takes_over_what_did_not_change(monkeypatch):
    """Another spring leaves the lines, the slots and the chamber as they are: they are not made again."""
    from sleevelift.plant import build as module

    case = load_case(next(path for path in CASES if path.stem == "hot_start"))
    build(case)
    for name in ("fill_oxidizer", "fill_fuel", "fill_slots", "fill_seat", "fill_chamber", "fill_supply"):
        monkeypatch.setattr(module, name, None)
    build(with_values(case, {"spring.preload": 700.0}))
    with pytest.raises(TypeError):
        build(with_values(case, {"fuel.line_length": 0.9}))


def test_a_plant_that_cannot_be_made_leaves_no_trace(monkeypatch):
    from sleevelift.plant import build as module

    case = load_case(next(path for path in CASES if path.stem == "hot_start"))
    other = with_values(case, {"spring.preload": 700.0, "seals.friction_factor": 1.1})
    forget()
    expected = numbers_of(other)
    build(case)
    with monkeypatch.context() as patch:
        patch.setattr(module, "fill_ranges", None)
        with pytest.raises(TypeError):
            build(other)
    assert numbers_of(other) == expected


def test_changing_a_made_plant_changes_no_other():
    case = load_case(next(path for path in CASES if path.stem == "hot_start"))
    forget()
    expected = numbers_of(case)
    plant = build(case)
    plant.record["sleeve"]["mass"] = 9.0
    plant.tables[:] = 0.0
    plant.floors[:] = 0.0
    assert numbers_of(case) == expected
