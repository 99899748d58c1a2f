"""The file that a film is written to."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from sepkit.errors import WriteError


@contextmanager
def film_file(path: str | Path) -> Iterator[BinaryIO]:
    """Open a file to write a film to. Raises WriteError when the disk refuses, then or later."""
    try:
        with Path(path).open("wb") as file:
            yield file
    except OSError as error:
        raise WriteError(
            error.strerror or str(error), where=str(path), hint="free some space or choose another folder"
        ) from error
