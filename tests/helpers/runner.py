"""The one way in which tests run a command in their own process."""

from __future__ import annotations

import pytest

from sepkit.cli.main import main


def run(*words: object) -> int:
    """Run ``sepkit`` with these words; return its exit code."""
    with pytest.raises(SystemExit) as stop:
        main([str(word) for word in words])
    return int(stop.value.code or 0)
