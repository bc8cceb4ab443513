"""What all tests share: slow ones run only when asked for, by --slow or by an own -m expression."""

import pytest
from hypothesis import settings

settings.register_profile("untimed", deadline=None)  # a busy machine is no fault: speed is measured by scripts/bench.py
settings.load_profile("untimed")


def pytest_addoption(parser):
    parser.addoption("--slow", action="store_true", help="run also the tests that take minutes")


def pytest_collection_modifyitems(config, items):
    if config.getoption("--slow") or config.getoption("markexpr", ""):
        return
    skip = pytest.mark.skip(reason="takes minutes: --slow runs it")
    for item in items:
        if "slow" in item.keywords:
            item.add_marker(skip)
