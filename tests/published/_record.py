"""One row of evidence: asserted in the test, and written down where `scripts/evidence.py` asks for it.

    held("c-blow-iso-N2", "isothermal blow-down, 70 to 10 bar", CLOSED_FORM + "t = tau ln(p0/p1)", 9.52379, got, 1e-3,
    "s")

A row says what was expected, by whom, what the program gave and how far it may be off. It is recorded before it is
asserted, so that a table shows the rows that fail. The environment variable names a file of JSON lines; without it
nothing is written."""

import json
import math
import os
from pathlib import Path

VARIABLE = "SLEEVELIFT_EVIDENCE"
"""Environment variable that names the file rows are added to."""
PUBLISHED = "published: "
COMPUTED = "computed: "
CLOSED_FORM = "closed form: "
EVALUATED = CLOSED_FORM + "formula as published, evaluated here: "
"""A number that only evaluates a published formula is not a published number."""
MEASURED = "measured: "
FROM_MEMORY = "from memory: "
MOST_POINTS = 400
"""Points kept of a curve."""


def written(row):
    name = os.environ.get(VARIABLE)
    if name:
        with Path(name).open("a", encoding="utf-8") as file:
            file.write(json.dumps(row) + "\n")


def _test_name():
    return os.environ.get("PYTEST_CURRENT_TEST", "").split(" ")[0]


def held(key, quantity, source, expected, got, rel_tol, unit="-", *, abs_tol=0.0):
    """Record and assert |got - expected| <= max(rel_tol |expected|, abs_tol)."""
    expected, got = float(expected), float(got)
    error = got - expected
    allowed = max(rel_tol * abs(expected), abs_tol)
    good = math.isfinite(got) and abs(error) <= allowed
    size = abs(expected) or 1.0
    written(
        {
            "kind": "value", "id": key, "quantity": quantity, "source": source, "expected": expected, "got": got,
            "error": error / size, "allowed": allowed / size,
            "relative": expected != 0.0, "unit": unit, "passed": good, "test": _test_name(),
        }
    )  # fmt: skip
    assert good, f"{key}: {quantity}: expected {expected:.9g} {unit}, got {got:.9g}, off by {error:.3g}, allowed {allowed:.3g}"


def between(key, quantity, source, low, got, high, unit="-"):
    """Record and assert low < got < high: an outside value inside the bracket the program gives (or the reverse)."""
    low, got, high = float(low), float(got), float(high)
    good = low < got < high
    written(
        {
            "kind": "bracket", "id": key, "quantity": quantity, "source": source, "low": low, "high": high, "got": got,
            "unit": unit, "passed": good, "test": _test_name(),
        }
    )  # fmt: skip
    assert good, f"{key}: {quantity}: {got:.6g} {unit} is not between {low:.6g} and {high:.6g}"


def stated(key, quantity, source, expected, got, unit="-"):
    """Record, without asserting, a comparison whose error is stated as it is (measured data with unknown inputs)."""
    expected, got = float(expected), float(got)
    assert math.isfinite(got), f"{key}: {quantity} is not a number"
    written(
        {
            "kind": "stated", "id": key, "quantity": quantity, "source": source, "expected": expected, "got": got,
            "error": (got - expected) / abs(expected), "unit": unit, "passed": True, "test": _test_name(),
        }
    )  # fmt: skip


def pictured(key, title, x_label, y_label, points, curves):
    """Record a comparison plot: `points` and each of `curves` are name -> (x, y)."""

    def thinned(pair):
        x, y = (list(map(float, axis)) for axis in pair)
        step = max(1, len(x) // MOST_POINTS)
        return [x[::step], y[::step]]

    written(
        {
            "kind": "plot", "test": _test_name(), "id": key, "title": title, "x_label": x_label, "y_label": y_label,
            "points": {name: thinned(pair) for name, pair in points.items()},
            "curves": {name: thinned(pair) for name, pair in curves.items()},
        }
    )  # fmt: skip
