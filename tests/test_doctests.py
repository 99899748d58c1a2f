"""The examples in the docstrings of sepkit are true."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import sepkit

PURE = ("coverage", "plates", "units", "colorimetry", "inks", "separation", "film", "press", "sheets")
"""Rooms that teach what they compute: each has examples."""


def modules_with_examples() -> list[str]:
    finder = doctest.DocTestFinder(exclude_empty=True)
    found = []
    for module in pkgutil.walk_packages(sepkit.__path__, "sepkit."):
        if module.name == "sepkit.__main__":
            continue  # runs the command
        tests = finder.find(importlib.import_module(module.name))
        if any(test.examples for test in tests):
            found.append(module.name)
    return found


MODULES = modules_with_examples()


@pytest.mark.parametrize("name", MODULES)
def test_examples_are_true(name: str) -> None:
    failed, tried = doctest.testmod(importlib.import_module(name))
    assert tried > 0
    assert failed == 0


@pytest.mark.parametrize("room", PURE)
def test_each_pure_room_has_examples(room: str) -> None:
    assert any(name.split(".")[1] == room for name in MODULES)
