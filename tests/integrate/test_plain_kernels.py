"""Kernels as plain functions: records are read and written as compiled code does."""

import numpy as np
from sleevelift.jit.plain import Fields, called, readable

INNER = np.dtype([("T", "f8"), ("flows", "i8")])
OUTER = np.dtype([("supply", INNER), ("lines", INNER, (2,)), ("p", "f8", (3,))])


def test_fields_are_attributes_and_are_written_where_they_stand():
    lanes = np.zeros(1, OUTER)
    for place in (readable(lanes)[0], readable(lanes[0])):
        place.supply.T += 1.0
        place.lines[1].flows += 2
        place.p[2] += 3.0
    assert lanes["supply"]["T"][0] == 2.0 and lanes["lines"]["flows"][0].tolist() == [0, 4] and lanes["p"][0].tolist() == [0, 0, 6]
    assert isinstance(readable(readable(lanes[0])), Fields)


def test_numbers_and_arrays_stay_what_they_are_and_nothing_is_said_of_a_division_by_zero(recwarn):
    row = np.zeros(3)
    assert readable(row) is row and readable(2.0) == 2.0 and readable((row, 1))[0] is row
    assert np.isnan(called(lambda a, b: a[0] / b, (row, np.float64(0.0)))) and not recwarn.list
