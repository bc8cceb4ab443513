"""Every test of this folder leaves a line for `scripts/evidence.py`: its name, what it says of itself, and whether it
passed."""

import inspect

import pytest
from _record import written


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item, call):
    outcome = yield
    report = outcome.get_result()
    if report.when == "call" or (report.when == "setup" and not report.passed):
        words = inspect.getdoc(getattr(item, "function", None)) or ""
        written({"kind": "test", "test": item.nodeid, "says": words, "outcome": report.outcome})
