"""Springs: catalogue and limits (published values: tests/published/test_e_springs.py)."""

import math

import pytest
from sleevelift.sizing.spring_design import (
    WIRE_DIAMETERS_MM,
    WIRES,
    buckling_travel,
    solid_length,
    spring_rate,
    tensile_strength,
    wire_diameters,
)


def test_wire_sizes_grow_and_have_a_strength():
    """Order; thicker wire is weaker (all three standards)."""
    assert list(WIRE_DIAMETERS_MM) == sorted(set(WIRE_DIAMETERS_MM))
    for wire in WIRES:
        strengths = [tensile_strength(wire, size) for size in wire_diameters(0.3e-3, 6.3e-3)]
        assert all(thin >= thick for thin, thick in zip(strengths, strengths[1:]))
        assert all(1.0e9 < strength < 3.0e9 for strength in strengths)


def test_wire_range_includes_its_ends():
    assert [round(size * 1e3, 2) for size in wire_diameters(1e-3, 1.25e-3)] == [1.0, 1.05, 1.1, 1.2, 1.25]
    assert wire_diameters(2e-3, 1e-3) == []


def test_rate_scales():
    """Similarity: all lengths doubled at the same coils, the rate doubles; twice the coils, half the rate."""
    base = spring_rate(2e-3, 16e-3, 8.0, 80e9)
    assert spring_rate(4e-3, 32e-3, 8.0, 80e9) == pytest.approx(2.0 * base, rel=1e-12)
    assert spring_rate(2e-3, 16e-3, 16.0, 80e9) == pytest.approx(0.5 * base, rel=1e-12)


def test_solid_lengths():
    assert solid_length(12.0, 4.8e-3) == pytest.approx(57.6e-3)
    assert solid_length(12.0, 4.8e-3, "closed") == pytest.approx(62.4e-3)
    assert solid_length(12.0, 4.8e-3, "closed, upper limit") == pytest.approx(64.8e-3)
    with pytest.raises(KeyError):
        solid_length(12.0, 4.8e-3, "open")


def test_slender_springs_buckle_sooner():
    """Monotone: the share of the length at which it buckles falls with slenderness; free ends are worse than
    clamped."""
    shares = [buckling_travel(length, 0.02, 80e9, 206e9) / length for length in (0.12, 0.2, 0.4)]
    assert shares[0] > shares[1] > shares[2]
    assert buckling_travel(0.2, 0.02, 80e9, 206e9, 1.0) < buckling_travel(0.2, 0.02, 80e9, 206e9, 0.5)
    assert buckling_travel(0.05, 0.02, 80e9, 206e9) == math.inf
