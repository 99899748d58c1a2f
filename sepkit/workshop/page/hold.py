"""One page at a time in a working folder: a lock that ends with the process, however that ends."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

from sepkit.errors import WriteError
from sepkit.files.folders.stage import try_lock
from sepkit.workshop.page.keep import own_folder

LOCK, HOLDER = ".held", ".holder"


@contextlib.contextmanager
def held(folder: Path) -> Iterator[None]:
    """Hold a working folder for this process. Raises WriteError, with who holds it, where another does."""
    own = own_folder(folder)
    try:
        lock = os.open(own / LOCK, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise WriteError(
            f"cannot be written ({error.strerror})", where=str(own), hint="give a folder that you may write in"
        ) from error
    try:
        if try_lock(lock) is False:
            who = _holder(own)
            raise WriteError(
                f"another sepkit page works in this folder{who}",
                where=str(folder),
                hint="use the page that it opened, or end it with Ctrl-C and start again",
            )
        with contextlib.suppress(OSError):
            (own / HOLDER).write_text(str(os.getpid()), encoding="ascii")
        yield
    finally:
        os.close(lock)


def _holder(own: Path) -> str:
    try:
        return f" (process {int((own / HOLDER).read_text('ascii'))})"
    except (OSError, ValueError):
        return ""
