"""The lowest releases that CI tests are those that pyproject.toml promises, and every promise is tested."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
LINTERS = {"ruff", "mypy", "import-linter"}
"""Their releases change what they find, not what sepkit does."""


def pinned() -> dict[str, str]:
    lines = (ROOT / "tests" / "lowest.txt").read_text("utf-8").splitlines()
    return dict(line.split("==") for line in lines if line and not line.startswith("#"))


def promised() -> dict[str, str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    return dict(line.split(">=") for line in [*project["dependencies"], *extras["tiff"], *extras["test"]])


def release(version: str) -> tuple[int, ...]:
    """Return a release without its trailing zeros: 8.2 and 8.2.0 are the same."""
    return tuple(int(part) for part in re.sub(r"(\.0)+$", "", version).split("."))


def test_each_floor_is_the_lowest_release_tested() -> None:
    lowest, floors = pinned(), promised()
    assert set(lowest) == set(floors) - LINTERS
    for name, version in lowest.items():
        assert release(version) == release(floors[name]), name


def test_the_wheel_is_built_by_the_release_that_the_tests_ask_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    (backend,) = project["build-system"]["requires"]
    assert backend in project["project"]["optional-dependencies"]["test"]
