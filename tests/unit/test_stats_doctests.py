"""Every public function of the statistics has an example, and every example runs."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil

import pytest

import tepal.stats

MODULES = [m.name for m in pkgutil.iter_modules(tepal.stats.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_examples_of_docstrings_run(name):
    module = importlib.import_module(f"tepal.stats.{name}")

    result = doctest.testmod(module)

    assert result.failed == 0


@pytest.mark.parametrize("name", MODULES)
def test_public_functions_have_an_example(name):
    module = importlib.import_module(f"tepal.stats.{name}")
    functions = [
        f
        for key, f in vars(module).items()
        if inspect.isfunction(f) and not key.startswith("_") and f.__module__ == module.__name__
    ]

    without = [f.__name__ for f in functions if ">>>" not in (f.__doc__ or "")]

    # plumbing between the modules, not called by users: cells.py as a whole, and these
    inner = {"select_rows", "build_design", "deviance_of"}
    assert name == "cells" or set(without) <= inner


def test_names_exported_by_the_room_exist_and_are_sorted():
    exported = tepal.stats.__all__

    assert exported == sorted(exported)
    assert all(hasattr(tepal.stats, name) for name in exported)
