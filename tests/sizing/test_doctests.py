"""The printed examples in the docstrings of sim/sizing are run."""

import doctest
import importlib
import pkgutil

import pytest

import sim.sizing

MODULES = [f"sim.sizing.{module.name}" for module in pkgutil.iter_modules(sim.sizing.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_examples(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0
