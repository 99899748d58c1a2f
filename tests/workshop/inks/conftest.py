from __future__ import annotations

from pathlib import Path

import pytest

from sepkit.files.shelf.shelf import Shelf


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in an empty folder, with sepkit's own recipes."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SEPKIT_RECIPES", raising=False)
    return tmp_path


@pytest.fixture
def shelf() -> Shelf:
    return Shelf()
