"""Folders and shelves that tests work with."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from sepkit.files.shelf.shelf import Shelf


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str, str | bytes], Path]:
    """Write a file into the person's own folder of recipes; return its path."""
    monkeypatch.setenv("SEPKIT_RECIPES", str(tmp_path))

    def write(name: str, text: str | bytes) -> Path:
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


@pytest.fixture
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in an empty folder, with sepkit's own recipes."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SEPKIT_RECIPES", raising=False)
    return tmp_path


@pytest.fixture
def shelf() -> Shelf:
    """Return the shelf as it stands."""
    return Shelf()
