"""Drill catalogues: order, limits, published sizes."""

import math

import pytest
from sleevelift.sizing.orifice_sizes import INCH, STANDARDS, drill_sizes


def named(standards):
    return dict(drill_sizes(0.0, 1.0, standards))


def test_inch_drills():
    """Published: ASME B94.11M (numbers at circuitousroot.com/artifice/measurement/data, letters from memory):
    #80 0.0135, #60 0.040, #1 0.228, A 0.234, Z 0.413, 1/64,
    1/2 in."""
    number, letter, fraction = named(("number",)), named(("letter",)), named(("fractional",))
    assert len(number) == 80 and len(letter) == 26 and len(fraction) == 32
    for name, inches in (
        ("#80", 0.0135),
        ("#69", 0.0292),
        ("#60", 0.040),
        ("#30", 0.1285),
        ("#7", 0.201),
        ("#1", 0.228),
    ):
        assert number[name] == pytest.approx(inches * INCH, rel=1e-12)
    for name, inches in (("A", 0.234), ("E", 0.250), ("M", 0.295), ("Z", 0.413)):
        assert letter[name] == pytest.approx(inches * INCH, rel=1e-12)
    for name, value in (("1/64 in", 1 / 64), ("1/16 in", 1 / 16), ("7/32 in", 7 / 32), ("1/2 in", 0.5)):
        assert fraction[name] == pytest.approx(value * INCH, rel=1e-12)


def test_number_drills_fall():
    """Order: #1 is the largest of its series, each next one smaller; letters grow."""
    numbers = [size for _, size in sorted(named(("number",)).items(), key=lambda item: int(item[0][1:]))]
    assert all(larger > smaller for larger, smaller in zip(numbers, numbers[1:]))
    letters = [size for _, size in sorted(named(("letter",)).items())]
    assert all(smaller < larger for smaller, larger in zip(letters, letters[1:]))


def test_metric_steps():
    """ISO 235 / DIN 338 (from memory): 0.05 mm steps from 1 to 3 mm, 0.1 to 14 mm."""
    from_one = [round(size * 1e3, 2) for _, size in drill_sizes(1.0e-3, 3.0e-3, ("metric",))]
    assert from_one == [round(1.0 + 0.05 * step, 2) for step in range(41)]
    upwards = [round(size * 1e3, 2) for _, size in drill_sizes(3.0e-3, 14.0e-3, ("metric",))]
    assert upwards == [round(3.0 + 0.1 * step, 2) for step in range(111)]
    small = [round(size * 1e3, 2) for _, size in drill_sizes(0.5e-3, 0.6e-3, ("metric",))]
    assert small == [0.5, 0.52, 0.55, 0.58, 0.6]


def test_catalogue_is_sorted_and_bounded():
    """Limits included, nothing outside; all series together in order of diameter; names unique."""
    drills = drill_sizes(0.8e-3, 2.5e-3)
    sizes = [size for _, size in drills]
    assert sizes == sorted(sizes) and sizes[0] == pytest.approx(0.8e-3) and sizes[-1] == pytest.approx(2.5e-3)
    assert len({name for name, _ in drills}) == len(drills)
    assert drill_sizes(2e-3, 1e-3) == []
    assert len(drill_sizes(0.0, math.inf)) == sum(len(drill_sizes(0.0, math.inf, (one,))) for one in STANDARDS)


def test_unknown_series_is_named():
    with pytest.raises(ValueError, match="unknown drill series whitworth"):
        drill_sizes(1e-3, 2e-3, ("metric", "whitworth"))
