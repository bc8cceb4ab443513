"""The printed examples in the docstrings of sim/sleevelift/sizing are run."""

import doctest
import importlib
import pkgutil

import pytest
import sleevelift.sizing

MODULES = [f"sleevelift.sizing.{module.name}" for module in pkgutil.iter_modules(sleevelift.sizing.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_examples(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0
