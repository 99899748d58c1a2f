"""The person's own folder of recipes, and the shelf that reads it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str, str | bytes], Path]:
    """Write a file into the person's own folder; return its path."""
    monkeypatch.setenv("SEPKIT_RECIPES", str(tmp_path))

    def write(name: str, text: str | bytes) -> Path:
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write
