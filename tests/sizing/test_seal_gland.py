"""Glands: standard grooves and the sentences about what is outside common practice."""

import pytest
from sleevelift.sizing.gland_bounds import squeeze_bounds
from sleevelift.sizing.seal_gland import (
    GROOVE_WIDTH_MM,
    Gland,
    carrying_diameter,
    gland_fill,
    squeeze,
    standard_groove,
)


@pytest.mark.parametrize("duty", ["dynamic", "static"])
@pytest.mark.parametrize("cord", [section * 1e-3 for section, _ in GROOVE_WIDTH_MM])
def test_standard_grooves_squeeze_and_fill_as_common_practice_wants(cord, duty):
    """Consistency: the groove table lies inside the range of squeeze; fill between 60 and 90 %."""
    depth, width = standard_groove(cord, duty)
    low, high = squeeze_bounds(duty, cord)
    assert low <= squeeze(cord, depth) <= high
    assert 0.6 <= gland_fill(cord, depth, width) <= 0.9


def test_unknown_cord_or_duty():
    with pytest.raises(ValueError, match="standard sections"):
        standard_groove(2.0e-3)
    with pytest.raises(KeyError):
        standard_groove(1.78e-3, "rotary")


def test_ring_is_stretched_by_the_smaller_diameter():
    assert carrying_diameter(Gland(16e-3, 19e-3, 2.4e-3)) == 16e-3  # groove in a piston
    assert carrying_diameter(Gland(19e-3, 16e-3, 2.4e-3)) == 16e-3  # groove in a bore


def test_no_contact_gives_no_squeeze():
    assert squeeze(1.78e-3, 2.0e-3) == 0.0
